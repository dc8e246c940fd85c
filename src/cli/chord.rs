//! `chord`: what a chord symbol means.

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::options::NEEDS_KEY;
use crate::chart::Problem;
use crate::theory::{Key, figure};
use crate::view::ChordView;

/// Show what a chord symbol means.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold chord Am7
  fivefold chord 'C7(b9,#11)/E' --json
  fivefold chord V7/V --key 'A major'")]
pub(super) struct Arguments {
    /// A chord symbol, or a numeral or number with --key
    #[arg(value_name = "SYMBOL")]
    symbol: String,
    /// Key in which a numeral or number is read
    #[arg(long, value_name = "KEY")]
    key: Option<String>,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let key = match &arguments.key {
        None => None,
        Some(text) => Some(Key::read(text).map_err(|e| {
            Failure::option(
                "--key",
                text,
                Problem::error(e.code(), e.span(), e.to_string(), e.help()),
            )
        })?),
    };
    let text = &arguments.symbol;
    let harmony = figure::read(text)
        .and_then(|figure| figure.resolve(key.as_ref()))
        .map_err(|e| {
            let help = match e.code() {
                "needs-key" => NEEDS_KEY.to_owned(),
                _ => e.help(),
            };
            let problem = Problem::error(e.code(), e.span(), e.to_string(), help);
            Failure::option("SYMBOL", text, problem)
        })?;
    let view = ChordView::new(&harmony);
    if context.json {
        serde_json::to_writer(&mut *context.streams.out, &view).map_err(std::io::Error::from)?;
        writeln!(context.streams.out)?;
    } else {
        write!(context.streams.out, "{}", view.text())?;
    }
    Ok(())
}
