//! What came of changes, free or by the strokes to a click.

use std::collections::BTreeMap;

use crate::cli::Context;
use crate::cli::asking::Asking;
use crate::cli::failure::Failure;
use crate::cli::record::ask_of;
use crate::diagnostic::counted;
use crate::drill::{Exercise, FreeCount};
use crate::log::TakeAsk;

/// Tells how many changes there were, and what is remembered of the pair; nothing where none was marked.
pub(super) fn told(
    asking: &Asking,
    exercise: &Exercise,
    context: &mut Context<'_, '_>,
) -> Result<Option<TakeAsk>, Failure> {
    let count = asking.free_count();
    let FreeCount { changes, clean } = count;
    let fact = exercise.facts.first().map_or("", String::as_str);
    if context.json {
        let line = serde_json::json!({
            "pair": fact,
            "changes_a_minute": changes,
            "clean": clean,
            "tempo_of_four_beats": count.tempo(4),
        });
        writeln!(context.streams.out, "{line}")?;
    } else {
        context.show(&words(fact, count))?;
    }
    Ok((changes > 0).then(|| remembered(fact, count)))
}

/// Tells which pairs did not come in time by the player's strokes, and what is remembered of each.
pub(super) fn told_pairs(
    pairs: &BTreeMap<String, FreeCount>,
    context: &mut Context<'_, '_>,
) -> Result<Vec<TakeAsk>, Failure> {
    if context.json {
        let pairs: Vec<_> = pairs
            .iter()
            .map(|(pair, count)| {
                serde_json::json!({"pair": pair, "changes": count.changes, "in_time": count.clean})
            })
            .collect();
        let line = serde_json::json!({ "changes": pairs });
        writeln!(context.streams.out, "{line}")?;
    } else {
        let late = pairs
            .iter()
            .filter(|(_, count)| count.clean < count.changes);
        let late: Vec<String> = late
            .map(|(pair, count)| format!("{pair} ({} of {})", count.clean, count.changes))
            .collect();
        let text = if late.is_empty() {
            "every change was in time\n".to_owned()
        } else {
            format!("in time, of all: {}\n", late.join("; "))
        };
        context.show(&text)?;
    }
    Ok(pairs
        .iter()
        .map(|(pair, count)| remembered(pair, *count))
        .collect())
}

fn remembered(pair: &str, count: FreeCount) -> TakeAsk {
    let FreeCount { changes, clean } = count;
    let came = format!("{changes} changes, {clean} clean");
    ask_of(pair, count.word(), Some(came))
}

/// The count in words, and the tempo at which as many changes come to a click.
fn words(fact: &str, count: FreeCount) -> String {
    let FreeCount { changes, clean } = count;
    let changed = counted(u64::from(changes), "change");
    let mut text = format!("{fact}: {changed} a minute, {clean} clean\n");
    if let Some((tempo, beats)) = [4, 2, 1]
        .iter()
        .find_map(|beats| Some((count.tempo(*beats).filter(|t| *t <= 160)?, *beats)))
    {
        let long = counted(u64::from(beats), "beat");
        text += &format!("as many to a click: `--tempo {tempo} --beats {beats}`, {long} a chord\n");
    }
    text
}
