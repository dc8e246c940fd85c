//! `drill scale`: the shape of a set, run through in one key or several.

use clap::Args;

use super::common::DrillArguments;
use super::pace::PaceArguments;
use crate::chart::Run;
use crate::cli::Context;
use crate::cli::failure::Failure;
use crate::cli::jam::{drawn_root, order};
use crate::cli::options::{choice, number};
use crate::cli::record::Record;
use crate::cli::scale::not_a_set;
use crate::drill::{Over, ScaleLine, Scales, key_of_set};
use crate::neck::StringNumber;
use crate::theory::{Key, KeyOrder, PitchName, Scale, ScaleFormula};

/// How often the keys are gone through unless it is said: one key alone, and several.
const TIMES: (u32, u32) = (4, 1);

/// Run through the shape of a set of notes, in one key or several
#[derive(Args)]
#[command(after_help = "\
The line of the run plays with you, and its degrees are
shown; --hide leaves both to you. After the take you say
how it went: y clean, space nearly, m missed. The next one
is as fast as your hands can do.

Runs: up, down, both, thirds, threes, fours (groups).

Keys: fourths, fifths, semitones, shuffle, a list such as
'A, D, G', or 'least practiced', by the log. Without --keys
it is the root of the set; where it has none, one that is
drawn by the seed.

Examples:
  fivefold drill scale 'A minor pentatonic'
  fivefold drill scale 'minor pentatonic' --keys fourths
  fivefold drill scale 'minor pentatonic' --keys 'A, D, G'
  fivefold drill scale 'C major' --string 5 --run thirds
  fivefold drill scale 'E minor' --hide --over click

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// A set by name or degrees
    #[arg(value_name = "SET")]
    set: String,
    /// Root string: 6 or 5; 6 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "6",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    string: String,
    /// A pass, once through, in each key: an order or a list, see below
    #[arg(long, value_name = "KEYS")]
    keys: Option<String>,
    /// How to run through it, see below; both unless said
    #[arg(
        long,
        value_name = "RUN",
        default_value = "both",
        hide_default_value = true
    )]
    run: String,
    /// Notes to a beat, 1 to 8; 2 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "2",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    notes: String,
    /// Under it: backing (chords), or click
    #[arg(
        long,
        value_name = "WHAT",
        default_value = "backing",
        hide_default_value = true
    )]
    over: String,
    /// Leave line and degrees out, to be played by heart
    #[arg(long)]
    hide: bool,
    /// Passes in each key, 1 to 99; 4 unless said, 1 with several keys
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    times: Option<String>,
    #[command(flatten)]
    pace: PaceArguments,
    #[command(flatten)]
    drill: DrillArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let drill = drill(arguments)?;
    let name = drill.name();
    drill.keys(&|_| 0)?;
    let pacing = arguments.pace.read()?;
    let mut told = String::new();
    let mut record = arguments.drill.record(context)?;
    arguments
        .drill
        .takes(&mut record, Some(&pacing), context, |turn, context| {
            let drill = Scales {
                seed: turn.seed(drill.seed),
                ..drill.clone()
            };
            let practiced = practiced(&drill, turn.record)?;
            let by = |key: &Key| {
                let same = practiced.iter().filter(|(known, _)| sounds_as(known, key));
                same.map(|(_, time)| *time).sum()
            };
            // Later takes can be in other keys.
            let words = shape_words(&drill, &drill.keys(&by)?)?;
            if words != told && !context.json {
                context.say_rendered(&words);
                told = words;
            }
            let tempo = pacing.plan(&turn, &name, context)?;
            Ok(drill.exercise(tempo, &by)?)
        })
}

/// What is asked for.
fn drill(arguments: &Arguments) -> Result<Scales, Failure> {
    let small = |option, text: &str, max| {
        number(option, text, 1, max).map(|n| u32::try_from(n).unwrap_or(1))
    };
    let seed = arguments.drill.seed()?;
    let (mut set, mode_key) = set(&arguments.set, seed)?;
    let mut keys = match &arguments.keys {
        Some(text) => Some(key_order(text, &mode_key)?),
        None => None,
    };
    if let Some(KeyOrder::Chosen(chosen)) = &keys
        && let Some(first) = chosen.first()
    {
        // The keys that are listed are played, whatever root the set has.
        set = set.with_root(first.tonic());
        if chosen.len() == 1 {
            keys = None;
        }
    }
    let (alone, several) = TIMES;
    let times = match &arguments.times {
        Some(text) => small("times", text, 99)?,
        None if keys.is_some() => several,
        None => alone,
    };
    Ok(Scales {
        neck: arguments.drill.neck()?,
        set,
        string: root_string(&arguments.string, 5, 6)?,
        run: choice("run", &arguments.run, &Run::NAMES)?,
        notes: small("notes", &arguments.notes, 8)?,
        keys,
        times,
        over: choice("over", &arguments.over, &Over::NAMES)?,
        line: if arguments.hide {
            ScaleLine::Hidden
        } else {
            ScaleLine::Played
        },
        seed,
    })
}

/// The set, on the root it names or on one that is drawn, and the key it is heard in.
pub(super) fn set(text: &str, seed: u64) -> Result<(Scale, Key), Failure> {
    let read = ScaleFormula::read_rooted(text);
    let (root, formula) = read.map_err(|e| not_a_set("SET", text, &e))?;
    let set = formula.on(root.unwrap_or_else(|| drawn_root(&formula, seed)));
    match key_of_set(&set) {
        Ok(key) => Ok((set, key)),
        Err(e) => Err(Failure::value("SET", text, &e)),
    }
}

/// The string on which a shape begins.
pub(super) fn root_string(text: &str, first: i64, last: i64) -> Result<StringNumber, Failure> {
    let string = number("string", text, first, last)?;
    Ok(StringNumber::new(u8::try_from(string).unwrap_or(6))?)
}

/// The order of `--keys`. A note alone keeps the mode of the set.
fn key_order(text: &str, key: &Key) -> Result<KeyOrder, Failure> {
    if ["least practiced", "least practised"].contains(&text.trim()) {
        return Ok(KeyOrder::LeastPracticed);
    }
    let notes: Option<Vec<Key>> = text
        .split(',')
        .map(|part| Key::new(PitchName::read(part.trim()).ok()?, key.mode()).ok())
        .collect();
    match notes {
        Some(keys) => Ok(KeyOrder::Chosen(keys)),
        None => order(text, Some(key)),
    }
}

/// How long each key was practiced over the set, where that counts.
fn practiced(drill: &Scales, record: Option<&Record>) -> Result<Vec<(Key, u64)>, Failure> {
    if drill.keys != Some(KeyOrder::LeastPracticed) {
        return Ok(Vec::new());
    }
    match record {
        Some(record) => Ok(record.practiced(drill.set.formula())?),
        None => Err(Failure::new(
            "drill-keys-log",
            "which key is the least practiced is not known without a log",
            "leave `--no-log` out, or write `--keys fourths`",
        )),
    }
}

/// Whether two keys sound alike.
fn sounds_as(a: &Key, b: &Key) -> bool {
    a.tonic().pitch_class() == b.tonic().pitch_class() && a.mode() == b.mode()
}

/// The shape, its degrees and the keys, a line each.
fn shape_words(drill: &Scales, keys: &[Key]) -> Result<String, Failure> {
    let shape = drill.shape()?;
    let mut text = format!("{} {}\n", drill.set.name(), shape.name());
    if drill.line == ScaleLine::Played {
        let degrees: Vec<String> = shape
            .positions()
            .iter()
            .map(|p| p.degree.to_string())
            .collect();
        let frets = drill.neck.strings().rev().filter_map(|string| {
            let frets = shape.frets_on(string);
            let frets: Vec<String> = frets.iter().map(ToString::to_string).collect();
            (!frets.is_empty()).then(|| frets.join("-"))
        });
        text += &format!("degrees {}\n", degrees.join(" "));
        text += &format!("frets   {}\n", frets.collect::<Vec<_>>().join(" "));
    }
    if let Some(order) = &drill.keys {
        let tonics: Vec<String> = keys.iter().map(|key| key.tonic().to_string()).collect();
        if *order == KeyOrder::LeastPracticed {
            text += "the least practiced key first\n";
        }
        text += &format!("keys    {}\n", tonics.join(" "));
    }
    Ok(text)
}
