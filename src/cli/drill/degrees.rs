//! `drill degrees`: degrees of a set to find in its shape, or to name when they sound.

use clap::Args;

use super::asks::{AskArguments, Things};
use super::common::DrillArguments;
use super::scale::{root_string, set};
use crate::cli::Context;
use crate::cli::failure::Failure;
use crate::cli::options::choice;
use crate::drill::{Degrees, DegreesAsk};

/// Find degrees in the shape of a set of notes, or name them
#[derive(Args)]
#[command(after_help = "\
The root is held. Something is asked on the first beat of
a bar; right is before the last beat of the time for it,
late is in that beat. Then the answer is given.

What is asked:
  find  where a degree lies on a string, in the shape that
        begins at the root: type the fret, or play it on
        the input of --answers
  name  which degree sounds: type it, such as b3; the
        number alone will do where the set has no other
        degree of that number

A set without a root gets one that is drawn by the seed.

Examples:
  fivefold drill degrees 'A minor pentatonic'
  fivefold drill degrees 'minor pentatonic' --ask name
  fivefold drill degrees 'D kumoi' --string 5 --beats 8

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// A set by name or degrees
    #[arg(value_name = "SET")]
    set: String,
    /// What is asked: find or name
    #[arg(
        long,
        value_name = "WHAT",
        default_value = "find",
        hide_default_value = true
    )]
    ask: String,
    /// String the shape begins on; 6 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "6",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    string: String,
    #[command(flatten)]
    ask_for: AskArguments,
    #[command(flatten)]
    drill: DrillArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let neck = arguments.drill.neck()?;
    let seed = arguments.drill.seed()?;
    let most = i64::try_from(neck.string_count()).unwrap_or(8);
    let drill = Degrees {
        neck,
        set: set(&arguments.set, seed)?.0,
        string: root_string(&arguments.string, 1, most)?,
        ask: choice("ask", &arguments.ask, &DegreesAsk::NAMES)?,
        beats: arguments.ask_for.beats()?,
        tempo: arguments.ask_for.tempo()?,
        seed,
    };
    let all = drill
        .all()?
        .into_iter()
        .map(|place| (drill.fact(&place), place))
        .collect();
    let things = Things {
        all,
        seed: drill.seed,
    };
    arguments.ask_for.play(
        &arguments.drill,
        &things,
        |time| drill.fitting(time),
        |known, asks, seed| {
            let drill = Degrees {
                seed,
                ..drill.clone()
            };
            Ok(drill.exercise(&drill.drawn(known, asks))?)
        },
        context,
    )
}
