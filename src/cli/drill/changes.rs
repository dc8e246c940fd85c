//! `drill changes`: chords string by string, strummed, and changed.

use clap::Args;

use super::common::DrillArguments;
use super::pace::PaceArguments;
use crate::chart::Problem;
use crate::cli::Context;
use crate::cli::failure::{Failure, read_value};
use crate::cli::live::How;
use crate::cli::options::{NEEDS_KEY, choice, number};
use crate::cli::record::{Record, tell};
use crate::diagnostic::Diagnostic;
use crate::drill::{ChangeOrder, ChangeStep, Changes, MOST_CHANGED, pair_weight};
use crate::neck::Neck;
use crate::theory::{Chord, FigureProblem, Key, figure};

/// The setting of a player that holds the chords.
const SETTING: &str = "changes";

/// Strum chords and change between them, in time or freely
#[derive(Args)]
#[command(after_help = "\
The chords, unless you name others: C A Am G E Em D Dm,
the five open major forms, each followed by its open minor
where there is one. Chords you name are kept for the next
time; `--order usual` takes that back.

The steps of a take:
  strings  each string of a chord alone, to hear it ring
  strum    a bar of each chord, a strum a beat
  changes  from chord to chord in time, each pair at least
           once, those more often that failed before
After it, say how it went; --strokes judges it instead.

With --free there is no click after the count-in: change
as fast as both chords ring, and mark each change by space,
or by m where it did not ring; as a line, `stroke` and
`missed`; or play into the MIDI input of --answers. Each
two neighbors of the list have a minute.

Examples:
  fivefold drill changes
  fivefold drill changes Am C G --step changes --tempo 60
  fivefold drill changes --add 'F Bm'
  fivefold drill changes Am C --free

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// Chords such as Am C G; kept for the next time
    #[arg(value_name = "CHORDS")]
    chords: Vec<String>,
    /// A ready order: usual, or easy for small changes first
    #[arg(long, value_name = "ORDER", conflicts_with = "chords")]
    order: Option<String>,
    /// Add chords for good, such as 'F Bm'
    #[arg(long, value_name = "CHORDS")]
    add: Option<String>,
    /// Key in which numerals and numbers are read
    #[arg(long, value_name = "KEY")]
    key: Option<String>,
    /// What to practice: strings, strum, changes or all
    #[arg(
        long,
        value_name = "STEP",
        default_value = "all",
        hide_default_value = true
    )]
    step: String,
    /// Beats a chord, 1 to 16; 4 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "4",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    beats: String,
    /// Change freely for a minute a pair, and mark each change
    #[arg(long, conflicts_with_all = ["tempo", "pace", "ladder", "beats", "step"])]
    free: bool,
    #[command(flatten)]
    pace: PaceArguments,
    #[command(flatten)]
    drill: DrillArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let neck = arguments.drill.neck()?;
    let step = choice("step", &arguments.step, &ChangeStep::NAMES)?;
    let beats = u32::try_from(number("beats", &arguments.beats, 1, 16)?).unwrap_or(4);
    let seed = arguments.drill.seed()?;
    let pacing = arguments.pace.read()?;
    let mut record = arguments.drill.record(context)?;
    let chords = chords(arguments, &neck, record.as_mut(), context)?;
    let drill = Changes {
        neck,
        chords,
        step,
        beats,
        seed,
    };
    tell_shapes(&drill, context)?;
    if arguments.free {
        return free(arguments, &drill, &mut record, context);
    }
    let name = drill.name();
    arguments
        .drill
        .takes(&mut record, Some(&pacing), context, |turn, context| {
            let drill = Changes {
                seed: turn.seed(drill.seed),
                ..drill.clone()
            };
            let tempo = pacing.plan(&turn, &name, context)?;
            let fitting = |left| drill.fitting(left, &tempo);
            let most = turn.left.map_or(usize::MAX, fitting);
            let known = known_pairs(turn.record, context);
            let walk = drill.walk(most, |pair| {
                let at = known.binary_search_by(|(name, _)| name.as_str().cmp(pair));
                at.map_or(pair_weight(0, 0), |at| known[at].1)
            });
            Ok(drill.exercise(&walk, tempo)?)
        })
}

/// The weights of the pairs that were played before, and of all else that is known, by name.
fn known_pairs(record: Option<&Record>, context: &mut Context<'_, '_>) -> Vec<(String, u64)> {
    let Some(record) = record else {
        return Vec::new();
    };
    match record.log.facts(&record.player) {
        Ok(facts) => facts
            .into_iter()
            .map(|(name, fact)| (name, pair_weight(fact.failed, fact.reviews)))
            .collect(),
        Err(e) => {
            tell(&e, "all pairs come as often", context);
            Vec::new()
        }
    }
}

/// A minute for each two neighbors of the list, one after the other; with a time, as long as that lasts.
fn free(
    arguments: &Arguments,
    drill: &Changes,
    record: &mut Option<Record>,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let pairs: Vec<Changes> = drill
        .chords
        .windows(2)
        .map(|pair| Changes {
            chords: pair.to_vec(),
            ..drill.clone()
        })
        .collect();
    let takes = if arguments.drill.is_timed() {
        1
    } else {
        pairs.len()
    };
    let mut turn = pairs.iter().cycle();
    for _ in 0..takes {
        arguments.drill.takes(record, None, context, |_, context| {
            let exercise = turn.next().unwrap_or(drill).free()?;
            if !context.json {
                let pair = exercise.facts.first().map_or("", String::as_str);
                context.say_rendered(&format!(
                    "{pair}: a minute after the count-in; space: changed, m: did not ring\n"
                ));
            }
            Ok(exercise)
        })?;
        if context.how == Some(How::Stopped) {
            break;
        }
    }
    Ok(())
}

/// The chords to play: those named, else those that were kept, else the usual ones; with those to be added. What was named or
/// added is kept where it is played, once all of it is known to be playable.
fn chords(
    arguments: &Arguments,
    neck: &Neck,
    record: Option<&mut Record>,
    context: &mut Context<'_, '_>,
) -> Result<Vec<Chord>, Failure> {
    let order = arguments.order.as_ref();
    let order = order
        .map(|text| choice("order", text, &ChangeOrder::NAMES))
        .transpose()?;
    let key = arguments.key.as_ref();
    let key = key
        .map(|text| read_value("--key", text, Key::read))
        .transpose()?;
    let named = arguments.chords.join(" ");
    let named = read("CHORDS", &named, key.as_ref())?;
    let added = arguments.add.as_deref().unwrap_or("");
    let added = read("--add", added, key.as_ref())?;
    let (mut chords, source) = match order {
        _ if !arguments.chords.is_empty() => (named, "as you named them"),
        Some(ChangeOrder::Easy) => (ready(ChangeOrder::Easy)?, "small changes first"),
        Some(ChangeOrder::Usual) => (ready(ChangeOrder::Usual)?, USUAL),
        None => match kept(record.as_deref(), context) {
            Some(chords) => (
                chords,
                "as you named them before; `--order usual` takes that back",
            ),
            None => (ready(ChangeOrder::Usual)?, USUAL),
        },
    };
    chords.extend(added);
    let mut once: Vec<Chord> = Vec::new();
    for chord in chords {
        if !once.contains(&chord) {
            once.push(chord);
        }
    }
    let drill = Changes {
        neck: *neck,
        chords: once,
        step: ChangeStep::All,
        beats: 4,
        seed: 0,
    };
    drill.check()?;
    let list = drill.list();
    if let Some(record) = record.filter(|_| !arguments.drill.is_written()) {
        let keep = if !arguments.chords.is_empty() || arguments.add.is_some() {
            Some(Some(&*list))
        } else {
            (order == Some(ChangeOrder::Usual)).then_some(None)
        };
        let done = keep.map(|value| record.log.set(&record.player, SETTING, value));
        if let Some(Err(e)) = done {
            tell(&e, "these chords are not kept", context);
        }
    }
    if !context.json {
        context.say_rendered(&format!("{list}: {source}\n"));
    }
    Ok(drill.chords)
}

/// What is said of the usual order.
const USUAL: &str = "open major forms, each followed by its open minor";

fn ready(order: ChangeOrder) -> Result<Vec<Chord>, Failure> {
    order
        .chords()
        .map_err(|e| Failure::new(e.code(), e.to_string(), e.help()))
}

/// The chords that were kept; those that are not read any more are told of.
fn kept(record: Option<&Record>, context: &mut Context<'_, '_>) -> Option<Vec<Chord>> {
    let record = record?;
    let text = match record.log.setting(&record.player, SETTING) {
        Ok(text) => text?,
        Err(e) => {
            tell(&e, "the usual chords are played", context);
            return None;
        }
    };
    read("CHORDS", &text, None)
        .ok()
        .filter(|chords| chords.len() > 1)
}

/// Chords with spaces or commas between.
fn read(option: &str, text: &str, key: Option<&Key>) -> Result<Vec<Chord>, Failure> {
    let mut chords = Vec::new();
    let words = text.split([' ', ',', '\t']).filter(|word| !word.is_empty());
    for (count, word) in (1..).zip(words) {
        if count > MOST_CHANGED {
            return Err(crate::drill::ChangesError::Many {
                found: text.split_whitespace().count(),
            }
            .into());
        }
        let harmony = figure::read(word)
            .and_then(|figure| figure.resolve(key))
            .map_err(|e| {
                let help = match (e.problem(), parted(word)) {
                    (FigureProblem::NeedsKey { .. }, _) => NEEDS_KEY.to_owned(),
                    (_, Some(chords)) => {
                        let help = format!("write `{chords}`");
                        let problem = Problem::of(&e, 0..word.len()).advising(help);
                        return Failure::option(option, word, problem.placed(|_| 0..word.len()));
                    }
                    _ => e.help(),
                };
                let problem = Problem::of(&e, 0..word.len()).advising(help);
                Failure::option(option, word, problem)
            })?;
        match harmony.chord() {
            Some(chord) => chords.push(*chord),
            None => {
                return Err(Failure::new(
                    "drill-chords",
                    format!("`{word}` is no chord to hold"),
                    "name chords, such as Am C G",
                ));
            }
        }
    }
    Ok(chords)
}

/// Chords that are joined by a sign, `Am-C` or `Am>C`, with spaces between.
fn parted(word: &str) -> Option<String> {
    let parts = word.split(['-', '>', '+', '\u{2013}', '\u{2192}']);
    let chords: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
    let read = chords.iter().all(|chord| figure::read(chord).is_ok());
    (chords.len() > 1 && read).then(|| chords.join(" "))
}

/// Shows how each chord is held.
fn tell_shapes(drill: &Changes, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let shapes = drill.shapes()?;
    if context.json {
        return Ok(());
    }
    let words: Vec<String> = drill
        .chords
        .iter()
        .zip(&shapes)
        .map(|(chord, shape)| format!("{chord} {}", shape.frets_text()))
        .collect();
    context.say_rendered(&format!(
        "frets from the lowest string: {}\n",
        words.join("   ")
    ));
    Ok(())
}
