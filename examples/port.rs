//! Plays a chart to a MIDI port: `cargo run --example port -- synth '| Am7 | D9 |'`; without a name, lists the ports.

#![allow(clippy::print_stdout, reason = "it talks to the person who runs it")]

use std::error::Error;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use fivefold::live::{MonotonicClock, play};
use fivefold::midi::{list_outputs, open_output};
use fivefold::{Arrangement, Excerpt, Piece};

/// What the first message waits for, so that the thread that sends is ready.
const LEAD: std::time::Duration = std::time::Duration::from_millis(100);

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let Some(name) = arguments.next() else {
        for port in list_outputs()? {
            println!("{port}");
        }
        return Ok(());
    };
    let chart = arguments.next();
    let chart = chart.as_deref().unwrap_or("| Am7 | D9 | Am7 | E7#9 |");
    let (piece, _warnings) = Piece::read_inline(chart)?;
    let mut arrangement = Arrangement::new(&piece, piece.unfold()?, Excerpt::default())?;
    let port = open_output(Some(&name))?;
    // Another thread may set it to end the music; all notes are ended then.
    let stop = Arc::new(AtomicBool::new(false));
    let played = play(
        &mut arrangement,
        port,
        MonotonicClock::starting_in(LEAD),
        &stop,
    )?;
    println!("{} bars", played.bars);
    Ok(())
}
