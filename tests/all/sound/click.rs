//! The click is heard through the band: it has room in the band of frequencies where it is strongest.

use std::collections::BTreeMap;
use std::path::Path;

use fivefold::event::{Body, Message, PartMessage, Source, Stopwatch};
use fivefold::sound::nearest_frame;

use super::measure::{Band, Frame, decibels, side, strongest};
use super::{SOME, document, excerpt, held_to_every, of_ready_charts, part, rendered};

const RATE_HZ: u32 = 44_100;
const RATE: f64 = 44_100.0;

/// Bars of each chart that are looked at, from its first bar on.
const BARS: u64 = 16;

/// A stroke is compared with the band for so many frames, 50 ms: about as long as it rings.
const WINDOW: usize = 2205;

/// Frames in which the filters settle before a stroke.
const BEFORE: usize = 1102;

/// The key of a stroke between beats.
const BETWEEN: u8 = 37;

#[test]
fn the_click_stands_out_in_ready_charts() {
    stands_out(SOME);
}

#[test]
#[ignore = "some of them above; all in `.ci/run slow`"]
fn the_click_stands_out_in_every_ready_chart() {
    stands_out(1);
}

/// Looks at the first ready chart, and at each that is `every` charts further.
fn stands_out(every: usize) {
    let rows = of_ready_charts(every, row);
    let hidden: Vec<&str> = rows
        .iter()
        .filter(|row| row.beats < 6.0 || row.between < 0.0)
        .map(|row| row.text.as_str())
        .collect();
    assert!(hidden.is_empty(), "{hidden:#?}");
    let rows: Vec<String> = rows.into_iter().map(|row| row.text).collect();
    held_to_every(every, "| chart | on a beat, dB | between, dB |", &rows);
}

/// The strokes of a chart that stand out least, in decibels above all else in their band.
struct Row {
    text: String,
    beats: f64,
    between: f64,
}

fn row(path: &Path) -> Row {
    let mut piece = document(&std::fs::read_to_string(path).unwrap());
    // Strokes between beats in every chart; what else is played does not depend on them.
    piece.parts.click.subdivide = piece.parts.click.subdivide.max(2);
    let click = rendered(&piece, BARS, RATE_HZ, &|part| part == "click");
    let rest = rendered(&piece, BARS, RATE_HZ, &|part| part != "click");
    let mut bands = BTreeMap::new();
    let (mut beats, mut between) = (f64::MAX, f64::MAX);
    let mut source = excerpt(&piece, BARS);
    let pulse = part(source.header(), "click");
    let mut watch = Stopwatch::default();
    let mut events = Vec::new();
    while let Some(bar) = source.next_bar(&mut events) {
        for event in events.drain(..) {
            let at = nearest_frame(watch.read(&event), RATE_HZ) as usize;
            let Body::Channel(PartMessage { part, message, .. }) = event.body else {
                continue;
            };
            let Message::NoteOn { key, .. } = message else {
                continue;
            };
            if part != pulse {
                continue;
            }
            let band = bands.entry(key.get()).or_insert_with(|| {
                let stroke = side(&click[at..at + WINDOW], 0);
                Band::third(strongest(&stroke, RATE), RATE)
            });
            // The count-in has nothing beside it.
            if bar.number < 1 {
                continue;
            }
            let above = power(band, &click, at) - power(band, &rest, at);
            let least = if key.get() == BETWEEN {
                &mut between
            } else {
                &mut beats
            };
            *least = least.min(above);
        }
    }
    assert!(beats < 200.0 && between < 200.0, "{}", path.display());
    let name = path.file_stem().unwrap().to_string_lossy();
    Row {
        text: format!("| {name} | {beats:.0} | {between:.0} |"),
        beats,
        between,
    }
}

/// Decibels of what lies in the band from `at` on.
fn power(band: &Band, frames: &[Frame], at: usize) -> f64 {
    let from = at.saturating_sub(BEFORE);
    let stretch = &frames[from..(at + WINDOW).min(frames.len())];
    decibels(band.power(stretch)[at - from..].iter().sum())
}
