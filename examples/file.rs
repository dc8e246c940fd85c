//! Writes a chart to a MIDI file: `cargo run --example file -- '| Am7 | D9 |' vamp.mid`.

#![allow(clippy::print_stdout, reason = "it talks to the person who runs it")]

use std::error::Error;
use std::path::Path;

use fivefold::chart::Times;
use fivefold::midi::write_smf_file;
use fivefold::{Arrangement, Excerpt, Piece, SmfFormat};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let chart = arguments.next();
    let chart = chart.as_deref().unwrap_or("| Am7 | D9 | Am7 | E7#9 |");
    let file = arguments.next();
    let file = file.as_deref().unwrap_or("chart.mid");
    let (mut piece, _warnings) = Piece::read_inline(chart)?;
    piece.times = Times::Count(4);
    let mut arrangement = Arrangement::new(&piece, piece.unfold()?, Excerpt::default())?;
    let written = write_smf_file(&mut arrangement, SmfFormat::Parallel, Path::new(file))?;
    println!("{file}: {} bars, {} notes", written.bars, written.notes);
    Ok(())
}
