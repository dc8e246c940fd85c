//! Renders a chart to a sound file, as loud as every other: `cargo run --example sound -- '| Am7 | D9 |'`.

#![allow(clippy::print_stdout, reason = "it talks to the person who runs it")]

use std::error::Error;
use std::fs::File;

use fivefold::event::Source;
use fivefold::sound::{Container, Desk, Peaks, Rendering, SampleFormat, SoundFormat};
use fivefold::sound::{measure, write_sound};
use fivefold::{Arrangement, Excerpt, Piece};

fn main() -> Result<(), Box<dyn Error>> {
    let chart = std::env::args().nth(1);
    let chart = chart.as_deref().unwrap_or("| Am7 | D9 | Am7 | E7#9 |");
    let mut file = File::create("chart.wav")?;
    let (piece, _warnings) = Piece::read_inline(chart)?;
    let form = piece.unfold()?;
    // One to measure, one to write: a source is read once.
    let mut measured = Arrangement::new(&piece, form.clone(), Excerpt::default())?;
    let mut source = Arrangement::new(&piece, form, Excerpt::default())?;
    let gain = measure(&mut measured, None, &mut |_| {})?.gain;
    let rate_hz = 44_100;
    let desk = Desk::new(source.header(), rate_hz, gain, Peaks::Limited);
    let mut rendering = Rendering::new(&mut source, desk, rate_hz);
    let format = SoundFormat {
        container: Container::Wav,
        samples: SampleFormat::Int16,
        rate_hz,
    };
    let frames = write_sound(&mut file, format, &mut rendering, &mut |_| {})?;
    println!("chart.wav: {frames} frames");
    Ok(())
}
