//! The neck against common practice, its laws, and its command.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod command;
mod facts;
mod laws;
mod taught;

use fivefold::neck::{ChordShape, Fret, HandModel, Neck, ScaleShape, StringNumber, chord_shapes};
use fivefold::theory::{Chord, Scale, symbol};

fn chord(text: &str) -> Chord {
    *symbol::read(text).unwrap().chord().unwrap()
}

fn scale(text: &str) -> Scale {
    Scale::read(text).unwrap()
}

fn string(number: u8) -> StringNumber {
    StringNumber::new(number).unwrap()
}

fn fret(number: u8) -> Fret {
    Fret::new(number).unwrap()
}

/// Shapes on a neck in standard tuning under the usual hand.
fn shapes(text: &str, most: usize) -> Vec<ChordShape> {
    chord_shapes(&chord(text), &Neck::standard(), &HandModel::default(), most)
}

/// The frets of a scale shape, string by string from the lowest that has any.
fn frets_of(shape: &ScaleShape, neck: &Neck) -> String {
    let lists = neck.strings().map(|string| shape.frets_on(string));
    let words = lists.filter(|frets| !frets.is_empty()).map(|frets| {
        let frets: Vec<String> = frets.iter().map(ToString::to_string).collect();
        frets.join("-")
    });
    words.collect::<Vec<_>>().join(" ")
}
