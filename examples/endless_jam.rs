//! Writes eight passes of a jam without end, each with a new progression, to `jam.mid`: `cargo run --example endless_jam`.

use std::error::Error;
use std::sync::Arc;

use fivefold::arrange::{PassMaker, PassScore};
use fivefold::chart::{FitRule, Times};
use fivefold::generate::{Generator, Request, Table, chart_text};
use fivefold::{Arrangement, Excerpt, Meter, Piece, Scale, SmfFormat, write_smf};

/// Draws the passes.
struct Jam(Generator);

impl PassMaker for Jam {
    fn pass(&self, index: u64) -> PassScore {
        let drawn = self.0.draw(7, index);
        let bars = drawn.map(|drawn| self.0.form_bars(&drawn, Meter::COMMON, "jam"));
        PassScore {
            bars: Arc::new(bars.unwrap_or_default()),
            key: None,
            set: None,
        }
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let set = Scale::read("A minor pentatonic")?;
    let table = Table::new(&set, &set.home().unwrap_or(set), FitRule::Inside);
    let generator = Generator::new(&table, &Request::default())?;
    let first = generator.draw(7, 0).ok_or("there is nothing to draw")?;
    let chart = chart_text(&generator.chords(&first), generator.rhythm());
    let (mut piece, _) = Piece::read_inline(&chart)?;
    // For a port it could be `Times::Endless`; a file has an end.
    piece.times = Times::Count(8);
    let (form, jam) = (piece.unfold()?, Box::new(Jam(generator)));
    let mut jam = Arrangement::made(&piece, form, jam, Excerpt::default())?;
    let mut file = std::fs::File::create("jam.mid")?;
    write_smf(&mut jam, SmfFormat::Parallel, &mut file)?;
    Ok(())
}
