//! `drill degrees`: degrees of a set to find in its shape, or to name when they sound.

use clap::Args;

use super::common::{DrillArguments, due_today};
use super::scale::{root_string, set};
use crate::cli::Context;
use crate::cli::failure::Failure;
use crate::cli::options::{choice, number, read_plan};
use crate::drill::{Degrees, DegreesAsk};
use crate::time::Meter;

/// The most degrees asked for in a take.
const MOST_ASKS: i64 = 500;

/// Find degrees in the shape of a set, or name them
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
    /// How many to ask for, 1 to 500; 12 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "12",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    asks: String,
    /// Beats for an answer, 2 to 64; 4 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "4",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    beats: String,
    /// Tempo plan, such as 60 or '60 to 80'; 60 unless said
    #[arg(
        long,
        value_name = "PLAN",
        default_value = "60",
        hide_default_value = true
    )]
    tempo: String,
    #[command(flatten)]
    drill: DrillArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let neck = arguments.drill.neck()?;
    let seed = arguments.drill.seed()?;
    let count = |option, text: &str, min, max| {
        number(option, text, min, max).map(|n| u32::try_from(n).unwrap_or(1))
    };
    let most = i64::try_from(neck.string_count()).unwrap_or(8);
    let drill = Degrees {
        neck,
        set: set(&arguments.set, seed)?.0,
        string: root_string(&arguments.string, 1, most)?,
        ask: choice("ask", &arguments.ask, &DegreesAsk::NAMES)?,
        beats: count("beats", &arguments.beats, 2, 64)?,
        tempo: read_plan("--tempo", &arguments.tempo, &Meter::COMMON)?,
        seed,
    };
    let asks = usize::try_from(count("asks", &arguments.asks, 1, MOST_ASKS)?).unwrap_or(1);
    let all = drill.all()?;
    let drill = &drill;
    arguments.drill.takes(context, |record, left, context| {
        let asks = left.map_or(asks, |left| drill.fitting(left));
        let named = all.iter().map(|place| (drill.fact(place), *place));
        let today = due_today(record, named.collect(), asks, context)?;
        Ok(drill.exercise(&drill.drawn(&today, asks))?)
    })
}
