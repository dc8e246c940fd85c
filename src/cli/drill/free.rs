//! What came of a minute of free changes.

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
    let came = format!("{changes} changes, {clean} clean");
    Ok((changes > 0).then(|| ask_of(fact, count.word(), Some(came))))
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
