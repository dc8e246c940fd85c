//! What a sheet says in words.

use crate::arrange::{Arrangement, Timer};
use crate::chart::{Answer, Form, Piece, Times};
use crate::diagnostic::counted;
use crate::event::Source;
use crate::picture::signs;
use crate::theory::Scale;
use crate::time::Feel;
use crate::view::{ChordFit, clock_time};

/// What is known of a piece: a word and what it is.
pub(super) fn facts(
    piece: &Piece,
    form: &Form,
    arrangement: &Arrangement,
) -> Vec<(&'static str, String)> {
    let mut found = Vec::new();
    if let Some(key) = piece.sounding_key() {
        found.push(("Key", signs(&key.to_string())));
    }
    found.push(("Meter", piece.meter.to_string()));
    let groove = piece.groove_in(&piece.meter);
    let groove = &groove.parts().name;
    if piece.groove.is_some() && !groove.is_empty() {
        found.push(("Groove", groove.clone()));
    }
    let feel = piece.sounding_feel();
    if feel != Feel::Straight {
        found.push(("Feel", feel.to_string()));
    }
    found.push(("Tempo", piece.tempo.to_string()));
    if let Some(slowing) = &piece.ritardando {
        found.push(("At the end", format!("slower over {slowing}")));
    }
    found.push(("Form", road(piece, form)));
    if let Some(order) = &piece.keys {
        found.push(("Keys", format!("a pass in each: {order}")));
    }
    if let Some(tuning) = piece.tuning.filter(|t| t.name() != Some("standard")) {
        found.push(("Tuning", signs(&tuning.to_string())));
    }
    if piece.capo > 0 {
        found.push(("Capo", format!("fret {}", piece.capo)));
    }
    if let Some(end) = arrangement.end() {
        let journey = arrangement.journey();
        let time = Timer::of(journey).at(end);
        found.push(("Time", clock_time(time)));
    }
    found
}

/// The order of the sections in words: `A A B A, 3 times, then a held chord`.
fn road(piece: &Piece, form: &Form) -> String {
    let mut out = String::new();
    if !form.intro.is_empty() {
        out += "intro, then ";
    }
    out += &piece.form.join(" ");
    match piece.times {
        Times::Count(1) => {}
        Times::Count(times) => out += &format!(", {times} times"),
        Times::Endless => out += ", over and over",
    }
    if piece.sections.iter().any(|(name, ..)| name == "ending") {
        out += ", then ending";
    } else if !form.ending.is_empty() {
        out += ", then the last chord for a bar";
    }
    out
}

/// How the set lies over the chords: those it is safe over, and what rubs where.
pub(super) fn fit_notes(fits: &[ChordFit]) -> Vec<String> {
    let mut safe: Vec<String> = Vec::new();
    let mut care: Vec<String> = Vec::new();
    for one in fits.iter().filter(|one| one.symbol != "N.C.") {
        let symbol = signs(&one.symbol);
        if one.fit.rubs.is_empty() {
            if !safe.contains(&symbol) {
                safe.push(symbol);
            }
            continue;
        }
        let rubs: Vec<String> = one
            .fit
            .rubs
            .iter()
            .map(|rub| signs(&format!("{} rubs on {}", rub.note, rub.against)))
            .collect();
        let line = format!("Over {symbol}: {}.", rubs.join(", "));
        if !care.contains(&line) {
            care.push(line);
        }
    }
    let mut found = Vec::new();
    if !safe.is_empty() {
        found.push(format!("No note of the set rubs over {}.", safe.join(", ")));
    }
    found.extend(care);
    found
}

/// What to do, from what the piece asks and holds.
pub(super) fn tasks(piece: &Piece, form: &Form) -> Vec<String> {
    let mut found = Vec::new();
    let mut asked: Vec<&str> = Vec::new();
    for ask in &piece.asks {
        if !asked.contains(&ask.text.as_str()) {
            asked.push(&ask.text);
        }
    }
    if let Some(first) = piece.asks.first() {
        let place = matches!(first.answer, Answer::Place { .. });
        let how = if place {
            "find it and play it"
        } else {
            "say it"
        };
        found.push(format!(
            "Asked {}: {how} within {}, then it is given away.",
            counted(piece.asks.len() as u64, "time"),
            counted(u64::from(first.beats), "beat"),
        ));
        let shown: Vec<&str> = asked.iter().take(8).copied().collect();
        let more = asked.len().saturating_sub(shown.len());
        let more = if more > 0 {
            format!(", and {more} more")
        } else {
            String::new()
        };
        found.push(signs(&format!(
            "What is asked: {}{more}.",
            shown.join("; ")
        )));
    }
    if let Some(set) = piece.set.map(|set| moved(piece, set)) {
        found.push(signs(&format!(
            "Play the notes of {} over the chords. The squares are the root: begin and end on one.",
            set.name()
        )));
    }
    let chords = form.bars().flat_map(|bar| &bar.chords);
    if chords.filter_map(|c| c.harmony.chord()).next().is_some() {
        found.push(
            "Play each chord string by string first; then strum it; then change in time."
                .to_owned(),
        );
    }
    let (first, goal) = (piece.tempo.first_milli(), piece.tempo.goal_milli());
    if goal > first {
        found.push(format!(
            "Start at {}; the goal is {}. Stay where it is clean.",
            first / 1000,
            goal / 1000
        ));
    }
    found
}

/// What is counted at a place of a bar: `1 & 2 &`, with `e` and `a` for quarters of a beat.
pub(super) fn count_at(at: usize, places: usize, beats: usize) -> String {
    if beats == 0 || !places.is_multiple_of(beats) {
        return String::new();
    }
    let each = places / beats;
    let (beat, within) = (at / each, at % each);
    match (within, each) {
        (0, _) => (beat + 1).to_string(),
        (1, 2) | (2, 4) => "&".to_owned(),
        (1, 4) => "e".to_owned(),
        (3, 4) => "a".to_owned(),
        _ => String::new(),
    }
}

/// A set in the key the piece sounds in.
pub(super) fn moved(piece: &Piece, set: Scale) -> Scale {
    piece.key_interval().map_or(set, |by| set.moved(by))
}
