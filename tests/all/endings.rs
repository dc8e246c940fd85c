//! How pieces end: every part knows that the last bar is the last.

use fivefold::chart::{BassLine, Ending, Part, Piece, Times};
use fivefold::event::{Body, Event, Message, PartMessage, Source};
use fivefold::theory::Chord;
use fivefold::time::{Region, Tick};
use fivefold::{Arrangement, Excerpt};

use crate::drawn::jams;
use crate::ready_charts;

/// A note with its part.
#[derive(Clone, Copy, Debug)]
struct Note {
    part: Part,
    key: u8,
    start: Tick,
    end: Tick,
}

/// All notes of a piece, and the last bar: where it begins and ends, and its last chord.
struct Whole {
    notes: Vec<Note>,
    start: Tick,
    length: u64,
    chord: Chord,
}

fn whole(piece: &Piece) -> Option<Whole> {
    let form = piece.unfold().unwrap();
    let last = form.ending.last().cloned()?;
    let mut source = Arrangement::new(piece, form, Excerpt::default()).unwrap();
    let parts: Vec<Part> = source
        .header()
        .parts
        .iter()
        .filter_map(|p| Part::of(p.name))
        .collect();
    let (mut notes, mut events): (Vec<Note>, Vec<Event>) = (Vec::new(), Vec::new());
    let mut start = Tick::ZERO;
    while let Some(bar) = source.next_bar(&mut events) {
        if matches!(bar.region, Region::Ending { .. }) {
            start = bar.start;
        }
    }
    for event in events {
        let Body::Channel(PartMessage { part, message, .. }) = event.body else {
            continue;
        };
        let part = parts[usize::from(part.0)];
        match message {
            Message::NoteOn { key, .. } => notes.push(Note {
                part,
                key: key.get(),
                start: event.tick,
                end: Tick::new(u64::MAX),
            }),
            Message::NoteOff { key } => {
                let open = notes
                    .iter_mut()
                    .find(|n| n.part == part && n.key == key.get() && n.end.get() == u64::MAX);
                if let Some(note) = open {
                    note.end = event.tick;
                }
            }
            _ => {}
        }
    }
    let chord = last
        .chords
        .iter()
        .rev()
        .find_map(|c| c.harmony.chord().map(|h| (c, *h)));
    let (placed, chord) = chord?;
    Some(Whole {
        notes,
        start: start + placed.offset_ticks,
        length: placed.length_ticks,
        chord,
    })
}

/// What is wrong with the last bar.
fn judge(piece: &Piece, name: &str) -> Vec<String> {
    let Some(Whole {
        notes,
        start,
        length,
        chord,
    }) = whole(piece)
    else {
        return Vec::new();
    };
    let of = |part: Part| {
        let notes = notes
            .iter()
            .filter(move |n| n.part == part && n.start >= start);
        notes.copied().collect::<Vec<Note>>()
    };
    let mut wrong = Vec::new();
    let mut say = |what: String| wrong.push(format!("{name}: {what}"));
    let held = |note: &Note| note.end.saturating_since(note.start) * 10 >= length * 6;
    let bass = of(Part::Bass);
    let deepest = chord.bass().pitch_class().value();
    match bass.as_slice() {
        [note] if note.key % 12 == deepest && held(note) => {}
        other => say(format!("the bass ends with {other:?} under {chord}")),
    }
    let strokes = of(Part::Kit);
    if strokes.is_empty() || strokes.iter().any(|n| n.start != start) {
        say(format!("the kit ends with {strokes:?}"));
    }
    let strum = of(Part::Strum);
    let spread = strum.iter().map(|n| n.start.saturating_since(start)).max();
    if strum.is_empty() || !strum.iter().all(held) || spread.is_some_and(|s| s > 480) {
        say(format!("the strum ends with {strum:?}"));
    }
    if let Some(set) = piece.set {
        let set = piece.key_interval().map_or(set, |by| set.moved(by));
        let root = chord.root().pitch_class();
        let tones: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
        match of(Part::Guide).as_slice() {
            [note] if held(note) && set.contains(root) && note.key % 12 == root.value() => {}
            [note] if held(note) && !set.contains(root) && tones.contains(&(note.key % 12)) => {}
            other => say(format!("the guide ends with {other:?} over {chord}")),
        }
    }
    wrong
}

/// How a walking line comes to the last root.
fn judge_walk(piece: &Piece, name: &str) -> Vec<String> {
    let Some(Whole { notes, start, .. }) = whole(piece) else {
        return Vec::new();
    };
    let bass: Vec<Note> = notes.into_iter().filter(|n| n.part == Part::Bass).collect();
    let at = bass.iter().position(|n| n.start >= start).unwrap_or(0);
    let [.., before, last] = bass[..=at] else {
        return vec![format!("{name}: no walk")];
    };
    let step = before.key.abs_diff(last.key);
    let from_the_fifth = (before.key + 12 - last.key % 12) % 12 == 7;
    if (1..=2).contains(&step) || from_the_fifth {
        return Vec::new();
    }
    vec![format!("{name}: from {} to {}", before.key, last.key)]
}

/// The same piece with all parts, played once.
fn with_all_parts(mut piece: Piece) -> Piece {
    piece.times = Times::Count(1);
    piece.keys = None;
    for part in [Part::Bass, Part::Kit, Part::Strum] {
        piece.parts.common_mut(part).on = true;
    }
    piece.parts.guide.common.on = piece.set.is_some() && piece.asks.is_empty();
    piece.parts.strum.strings = false;
    piece
}

fn pieces() -> Vec<(String, Piece)> {
    let charts = ready_charts().into_iter().map(|path| {
        let text = std::fs::read_to_string(&path).unwrap();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        (name, Piece::read(&text).unwrap().0)
    });
    charts.chain(jams(10)).collect()
}

/// Whether `judge` finds nothing wrong with any piece that has an ending, all parts playing; the bass walks, or has its own line.
fn nothing_is_wrong(line: Option<BassLine>, judge: fn(&Piece, &str) -> Vec<String>) {
    let (mut wrong, mut judged) = (Vec::new(), 0);
    for (name, piece) in pieces() {
        if piece.ending == Ending::None {
            continue;
        }
        let mut piece = with_all_parts(piece);
        piece.parts.bass.line = line.unwrap_or(piece.parts.bass.line);
        judged += 1;
        wrong.extend(judge(&piece, &name));
    }
    assert!(judged > 250, "{judged}");
    assert!(
        wrong.is_empty(),
        "{} of {judged}\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn every_part_ends_with_the_piece() {
    nothing_is_wrong(None, judge);
}

#[test]
fn a_walk_comes_to_the_last_root_by_a_step_or_from_the_fifth() {
    nothing_is_wrong(Some(BassLine::Walking), judge_walk);
}
