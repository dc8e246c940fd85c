//! How long the search for chord shapes takes: `cargo bench --bench neck`.

use divan::{Bencher, black_box};
use fivefold::neck::{HandModel, Neck, chord_shapes, linked_shapes};
use fivefold::theory::{Chord, Scale, symbol};

fn main() {
    divan::main();
}

fn chord(text: &str) -> Chord {
    match symbol::read(text) {
        Ok(harmony) => *harmony
            .chord()
            .unwrap_or_else(|| unreachable!("{text} is a chord")),
        Err(error) => unreachable!("{text}: {error}"),
    }
}

/// One chord, the five easiest shapes.
#[divan::bench(args = ["C", "F", "Bbm7", "E5", "Em11", "C13", "C:(1,3,5,b7,9,11,13)", "C7alt", "Am/F#"])]
fn shapes_of_a_chord(bencher: Bencher<'_, '_>, text: &str) {
    let (chord, neck, hand) = (chord(text), Neck::standard(), HandModel::default());
    bencher.bench(|| chord_shapes(black_box(&chord), &neck, &hand, 5));
}

/// One chord on the most strings with the widest hand.
#[divan::bench(args = ["C", "C13"])]
fn eight_strings_and_a_wide_hand(bencher: Bencher<'_, '_>, text: &str) {
    let tuning = fivefold::neck::Tuning::read("eight strings");
    let neck = Neck::of(tuning.unwrap_or_else(|error| unreachable!("{error}")));
    let hand = HandModel::default().with_span(6);
    let hand = hand.unwrap_or_else(|error| unreachable!("{error}"));
    let chord = chord(text);
    bencher.bench(|| chord_shapes(black_box(&chord), &neck, &hand, 5));
}

/// The five linked shapes of a five-note set.
#[divan::bench]
fn linked_shapes_of_a_set(bencher: Bencher<'_, '_>) {
    let neck = Neck::standard();
    let set = Scale::read("A minor pentatonic").unwrap_or_else(|error| unreachable!("{error}"));
    bencher.bench(|| linked_shapes(black_box(&set), &neck, false));
}
