//! `drill roots`: notes to find on a string.

use clap::Args;

use super::common::{DrillArguments, due_today};
use crate::cli::Context;
use crate::cli::failure::{Failure, read_value};
use crate::cli::options::{choice, number, read_plan};
use crate::drill::{RootNotes, Roots};
use crate::neck::{Neck, StringNumber};
use crate::theory::{Letter, PitchName, Scale, ScaleFormula};
use crate::time::Meter;

/// The most notes asked for in a take.
const MOST_ASKS: i64 = 500;

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
    /// How many notes to ask for, 1 to 500; 12 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "12",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    asks: String,
    /// Beats to find one, 2 to 64; 4 unless said
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
    /// Ask for the next note of the shape of this set, too, which begins at the root that was found
    #[arg(long, value_name = "SET")]
    shape: Option<String>,
    #[command(flatten)]
    drill: DrillArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let neck = arguments.drill.neck()?;
    let count = |option, text: &str, min, max| {
        number(option, text, min, max).map(|n| u32::try_from(n).unwrap_or(1))
    };
    let drill = Roots {
        neck,
        strings: strings(&arguments.strings, &neck)?,
        notes: choice("notes", &arguments.notes, &RootNotes::NAMES)?,
        beats: count("beats", &arguments.beats, 2, 64)?,
        tempo: read_plan("--tempo", &arguments.tempo, &Meter::COMMON)?,
        shape: arguments.shape.as_deref().map(shape).transpose()?,
        seed: arguments.drill.seed()?,
    };
    let asks = usize::try_from(count("asks", &arguments.asks, 1, MOST_ASKS)?).unwrap_or(1);
    let all = drill.all()?;
    let drill = &drill;
    arguments.drill.takes(context, |record, left, context| {
        let asks = left.map_or(asks, |left| drill.fitting(left));
        let named = all.iter().map(|root| (root.fact(&drill.neck), *root));
        let today = due_today(record, named.collect(), asks, context)?;
        Ok(drill.exercise(&drill.drawn(&today, asks))?)
    })
}

/// A set whose root is of no account: it is read with and without one.
fn shape(text: &str) -> Result<Scale, Failure> {
    let (root, set) = read_value("--shape", text, ScaleFormula::read_rooted)?;
    Ok(set.on(root.unwrap_or(PitchName::natural(Letter::A))))
}

/// Strings as they are typed: numbers with commas or spaces between.
fn strings(text: &str, neck: &Neck) -> Result<Vec<StringNumber>, Failure> {
    let most = neck.string_count();
    let wrong = |found: &str| {
        Failure::new(
            "drill-strings",
            format!("a string is a number from 1, the highest, to {most}, found `{found}`"),
            format!("write them with commas: `--strings {most},{}`", most - 1),
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
