//! How fast the main job is: `cargo bench --bench spine`.
//!
//! The file writer is measured beside midly writing the same events when they are ready in memory.

use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::{Piece, Times};
use fivefold::event::Source;
use fivefold::midi::{SmfFormat, write_smf};
use fivefold::theory::symbol;
use fivefold::time::Length;

fn main() {
    divan::main();
}

#[divan::bench]
fn read_a_chord_symbol(bencher: Bencher<'_, '_>) {
    let symbols = [
        "C",
        "Am7",
        "F#maj7",
        "Bb7(b9,#11)",
        "Dm7b5",
        "G13",
        "C/E",
        "Ebsus4",
    ];
    bencher.counter(ItemsCount::new(symbols.len())).bench(|| {
        for symbol in symbols {
            let _ = black_box(symbol::read(black_box(symbol)));
        }
    });
}

/// A chart of 10 000 bars in lead-sheet notation.
fn long_chart() -> String {
    let line = "| Am7 | D9 / G7 / | Cmaj7 | % | Fm6 Bb7 | Eb6/9 | Dm7b5 G7b9 | Cm(maj7) | N.C. | C/E Ebdim7 |\n";
    line.repeat(1000)
}

#[divan::bench(sample_count = 20)]
fn read_a_chart_of_10_000_bars(bencher: Bencher<'_, '_>) {
    let chart = long_chart();
    bencher
        .counter(ItemsCount::new(10_000u32))
        .counter(BytesCount::of_str(&chart))
        .bench(|| {
            let read = Piece::read_inline(black_box(&chart)).map(|(piece, _)| piece);
            black_box(read.ok().and_then(|piece| piece.unfold().ok()))
        });
}

#[divan::bench(sample_count = 10)]
fn voice_a_chart_of_10_000_bars(bencher: Bencher<'_, '_>) {
    let piece = Piece::read_inline(&long_chart())
        .map(|(piece, _)| piece)
        .unwrap_or_default();
    bencher
        .counter(ItemsCount::new(10_000u32))
        .bench(|| arranged(&piece));
}

/// An hour of four parts with a climbing tempo.
fn hour() -> Piece {
    let text = "key = \"A minor\"\ntempo = \"72 to 144 over 600 bars\"\nfeel = \"swing 2:1\"\n[sections]\nA = \"| Am7 | Fmaj7 | Dm7 | C / E7 / |\"\n[parts.click]\nsubdivide = 2\n[parts.kit]\n";
    let piece = Piece::read(text)
        .map(|(piece, _)| piece)
        .unwrap_or_default();
    Piece {
        times: Times::Endless,
        ending: fivefold::chart::Ending::None,
        ..piece
    }
}

fn arranged(piece: &Piece) -> Option<Arrangement> {
    let length = (piece.times == Times::Endless).then(|| Length::millis(3_600_000));
    Arrangement::new(
        piece,
        piece.unfold().ok()?,
        Excerpt {
            length,
            ..Excerpt::default()
        },
    )
    .ok()
}

fn events_of_the_hour() -> usize {
    let mut count = 0;
    let mut events = Vec::new();
    if let Some(mut source) = arranged(&hour()) {
        while source.next_bar(&mut events).is_some() {
            count += events.len();
            events.clear();
        }
    }
    count
}

#[divan::bench(sample_count = 20)]
fn arrange_an_hour(bencher: Bencher<'_, '_>) {
    let piece = hour();
    bencher
        .counter(ItemsCount::new(events_of_the_hour()))
        .bench(|| {
            let mut events = Vec::new();
            let mut source = arranged(&piece);
            while source
                .as_mut()
                .and_then(|source| source.next_bar(&mut events))
                .is_some()
            {
                black_box(&events);
                events.clear();
            }
        });
}

#[divan::bench(sample_count = 20)]
fn arrange_and_write_an_hour(bencher: Bencher<'_, '_>) {
    let piece = hour();
    bencher
        .counter(ItemsCount::new(events_of_the_hour()))
        .bench(|| {
            let mut file = Vec::new();
            arranged(&piece)
                .and_then(|mut source| write_smf(&mut source, SmfFormat::Parallel, &mut file).ok())
        });
}

/// The yardstick: midly writes the same hour from events that are ready.
#[divan::bench(sample_count = 20)]
fn midly_writes_the_ready_events_of_the_hour(bencher: Bencher<'_, '_>) {
    let mut file = Vec::new();
    if let Some(mut source) = arranged(&hour()) {
        let _ = write_smf(&mut source, SmfFormat::Parallel, &mut file);
    }
    let smf = midly::Smf::parse(&file).unwrap_or_else(|_| {
        midly::Smf::new(midly::Header::new(
            midly::Format::Parallel,
            midly::Timing::Metrical(960.into()),
        ))
    });
    bencher
        .counter(ItemsCount::new(events_of_the_hour()))
        .bench(|| {
            let mut out = Vec::new();
            let _ = black_box(&smf).write(&mut out);
            out
        });
}
