//! `scale`: the notes of a scale or a five-note set.

use clap::Args;

use super::Context;
use super::failure::Failure;
use crate::chart::Problem;
use crate::theory::Scale;
use crate::view::ScaleView;

/// Show the notes of a scale or a five-note set.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold scale 'A minor pentatonic'
  fivefold scale 'C# 1 b3 4 5 b7' --json")]
pub(super) struct Arguments {
    /// Root and name, or root and degrees
    #[arg(value_name = "SET")]
    set: String,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let text = &arguments.set;
    let scale = Scale::read(text).map_err(|e| {
        Failure::option(
            "SET",
            text,
            Problem::error(e.code(), e.span(), e.to_string(), e.help()),
        )
    })?;
    let view = ScaleView::new(&scale);
    if context.json {
        serde_json::to_writer(&mut *context.streams.out, &view).map_err(std::io::Error::from)?;
        writeln!(context.streams.out)?;
    } else {
        write!(context.streams.out, "{}", view.text())?;
    }
    Ok(())
}
