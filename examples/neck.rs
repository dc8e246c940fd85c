//! Draws the easiest shapes of a chord: `cargo run --example neck -- Bb7 'drop D'`.

#![allow(clippy::print_stdout, reason = "it talks to the person who runs it")]

use std::error::Error;

use fivefold::neck::{Fret, HandModel, Neck, Tuning, chord_shapes};
use fivefold::theory::symbol;
use fivefold::view::{NeckStyle, chord_on_neck};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let harmony = symbol::read(arguments.next().as_deref().unwrap_or("Am7"))?;
    let chord = harmony.chord().ok_or("no chord has no place on the neck")?;
    let tuning = Tuning::read(arguments.next().as_deref().unwrap_or("standard"))?;
    let neck = Neck::new(tuning, Fret::new(22)?, Fret::OPEN)?;
    let shapes = chord_shapes(chord, &neck, &HandModel::default(), 3);
    print!(
        "{}",
        chord_on_neck(chord, &neck, &shapes, NeckStyle::default())
    );
    Ok(())
}
