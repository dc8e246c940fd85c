//! `scale`: the notes of a scale or a five-note set.

use clap::Args;
use serde::Serialize;

use super::Context;
use super::failure::Failure;
use super::neck::draw_scale;
use super::picture::PictureArguments;
use crate::chart::Problem;
use crate::diagnostic::Diagnostic;
use crate::theory::{Scale, ScaleError};
use crate::view::{ScaleChordView, ScaleView, scale_chords, scale_chords_text};

/// Show the notes of a scale, or of a set of five notes
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold scale 'A minor pentatonic'
  fivefold scale 'C# 1 b3 4 5 b7' --json
  fivefold scale 'A minor pentatonic' --chords
  fivefold scale 'A minor pentatonic' -o neck.svg")]
pub(super) struct Arguments {
    /// Root and name, or root and degrees
    #[arg(value_name = "SET")]
    set: String,
    /// List the chords that fit over it by the rules of fit, those of equal sound side by side; in brackets the notes that rub, a semitone above a chord tone: [C on B]
    #[arg(long)]
    chords: bool,
    /// Home, the scale it is heard in
    #[arg(long, value_name = "SCALE")]
    home: Option<String>,
    #[command(flatten)]
    picture: PictureArguments,
}

/// The scale, and its chords where they were asked for.
#[derive(Serialize)]
struct Answer {
    #[serde(flatten)]
    view: ScaleView,
    #[serde(skip_serializing_if = "Option::is_none")]
    chords: Option<Vec<ScaleChordView>>,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let scale = read("SET", &arguments.set)?;
    if arguments.picture.wanted() {
        return draw_scale(&scale, &arguments.picture, context);
    }
    let home = match &arguments.home {
        Some(text) => read("--home", text)?,
        None => scale.home().unwrap_or(scale),
    };
    let view = ScaleView::new(&scale, arguments.home.as_ref().map(|_| &home));
    let chords = arguments.chords.then(|| scale_chords(&scale, &home));
    if context.json {
        let json = Answer { view, chords };
        let json = serde_json::to_string(&json).map_err(std::io::Error::from)?;
        writeln!(context.streams.out, "{json}")?;
    } else {
        context.show(&view.text())?;
        if let Some(chords) = chords {
            context.show(&format!("\n{}", scale_chords_text(&chords)))?;
        }
    }
    Ok(())
}

/// A scale given as an argument.
pub(super) fn read(option: &str, text: &str) -> Result<Scale, Failure> {
    Scale::read(text).map_err(|e| not_a_set(option, text, &e))
}

/// What is wrong with the set of an option, with the command that lists all names where a name is in question.
pub(super) fn not_a_set(option: &str, text: &str, error: &ScaleError) -> Failure {
    let mut help = error.help();
    if ["unknown-scale", "no-scale-name"].contains(&error.code()) {
        help += "; `fivefold list sets` shows all names";
    }
    let problem = Problem::of(error, 0..text.len()).advising(help);
    Failure::option(option, text, problem)
}
