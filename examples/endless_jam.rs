//! Writes the first two minutes of a jam without end, each pass a new progression, to `jam.mid`:
//! `cargo run --example endless_jam`.

use std::error::Error;
use std::fs::File;
use std::sync::Arc;

use fivefold::arrange::JamPasses;
use fivefold::chart::Times;
use fivefold::generate::{Ground, Jam, Request};
use fivefold::{Arrangement, Excerpt, Scale, SmfFormat, write_smf};

fn main() -> Result<(), Box<dyn Error>> {
    let ground = Ground::new(Scale::read("A minor pentatonic")?, 7);
    let jam = Arc::new(Jam::new(ground, &Request::default())?);
    let first = jam.draw(0).ok_or("there is nothing to draw")?;
    let piece = jam.piece(&first, Times::Endless);
    let passes = Box::new(JamPasses::new(jam, &piece));
    // A port plays it without end; a file wants a length.
    let length = Excerpt {
        length: Some(fivefold::time::read_length("2min")?),
        ..Excerpt::default()
    };
    let mut endless = Arrangement::made(&piece, piece.unfold()?, passes, length)?;
    write_smf(
        &mut endless,
        SmfFormat::Parallel,
        &mut File::create("jam.mid")?,
    )?;
    Ok(())
}
