//! `drill roots`: notes to find on a string.

use clap::Args;

use super::asks::{AskArguments, Things};
use super::common::DrillArguments;
use crate::cli::Context;
use crate::cli::failure::{Failure, read_value};
use crate::cli::options::choice;
use crate::drill::{RootNotes, Roots};
use crate::neck::{Neck, StringNumber};
use crate::theory::ScaleFormula;

/// Find notes on the low strings, on the beat
#[derive(Args)]
#[command(next_help_heading = "What is asked")]
#[command(after_help = "\
A note is asked for on the first beat of a bar; type its
fret (digits; Enter ends 1, 2 or 3), or play it on the
input of --answers. Right is before the last beat, late is
in it. Then the answer is shown and sounds.

Which notes:
  marked   those at the markers: 3, 5, 7, 9 and 12
  beside   those one fret beside a marker
  natural  the seven letters
  all      all twelve

Examples:
  fivefold drill roots
  fivefold drill roots --strings 5 --notes natural
  fivefold drill roots --notes beside --beats 8 --tempo 80
  fivefold drill roots --shape 'minor pentatonic'
  fivefold drill roots --asks 20 --seed 7 -o roots.mid

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// Which notes: marked, beside, natural or all
    #[arg(
        long,
        value_name = "NOTES",
        default_value = "marked",
        hide_default_value = true
    )]
    notes: String,
    /// Strings, 1 the highest: 6,5
    #[arg(
        long,
        value_name = "STRINGS",
        default_value = "6,5",
        hide_default_value = true
    )]
    strings: String,
    #[command(flatten)]
    ask_for: AskArguments,
    /// Ask for the next note of the shape of this set of notes, too, which begins at the root that was found
    #[arg(long, value_name = "SET")]
    shape: Option<String>,
    #[command(flatten)]
    drill: DrillArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let neck = arguments.drill.neck()?;
    let drill = Roots {
        neck,
        strings: strings(&arguments.strings, &neck)?,
        notes: choice("notes", &arguments.notes, &RootNotes::NAMES)?,
        beats: arguments.ask_for.beats()?,
        tempo: arguments.ask_for.tempo()?,
        shape: arguments.shape.as_deref().map(shape).transpose()?,
        seed: arguments.drill.seed()?,
    };
    let all = drill
        .all()?
        .into_iter()
        .map(|root| (root.fact(&drill.neck), root))
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
            let drill = Roots {
                seed,
                ..drill.clone()
            };
            Ok(drill.exercise(&drill.drawn(known, asks))?)
        },
        context,
    )
}

/// A set, with a root or without one: the shape is placed from the roots that are asked for.
fn shape(text: &str) -> Result<ScaleFormula, Failure> {
    read_value("--shape", text, ScaleFormula::read_rooted).map(|(_, set)| set)
}

/// Strings as they are typed: numbers with commas or spaces between.
fn strings(text: &str, neck: &Neck) -> Result<Vec<StringNumber>, Failure> {
    let most = neck.string_count();
    let wrong = |found: &str| {
        Failure::new(
            "drill-strings",
            format!("a string is a number from 1, the highest, to {most}, found `{found}`"),
            format!("write `--strings {most},{}` for the two lowest", most - 1),
        )
    };
    let mut found = Vec::new();
    for word in text
        .split([',', ' '])
        .map(str::trim)
        .filter(|w| !w.is_empty())
    {
        let string = word.parse::<u8>().ok();
        let string = string.filter(|s| usize::from(*s) <= most && *s > 0);
        let string = StringNumber::new(string.ok_or_else(|| wrong(word))?)?;
        if !found.contains(&string) {
            found.push(string);
        }
    }
    if found.is_empty() {
        return Err(wrong(text));
    }
    Ok(found)
}
