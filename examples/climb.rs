//! Shows how a tempo plan climbs, bar by bar: `cargo run --example climb -- '60 to 76 by 8 back 4 every 2 bars' 14`.

#![allow(clippy::print_stdout, reason = "it talks to the person who runs it")]

use std::error::Error;
use std::sync::Arc;

use fivefold::time::{Grid, PlanRepeat, TempoCursor, TempoMap};
use fivefold::view::clock_time;
use fivefold::{Meter, TempoPlan};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let text = arguments.next();
    let text = text
        .as_deref()
        .unwrap_or("60 to 76 by 8 back 4 every 2 bars");
    let bars: u64 = arguments.next().map_or(Ok(14), |n| n.parse())?;
    let meter = Meter::COMMON;
    let plan = TempoPlan::read(text)?;
    plan.check(&meter)?;
    let grid = Grid::new(0, vec![], vec![meter], Some(bars), vec![]);
    let map = Arc::new(TempoMap::new(&plan, PlanRepeat::Once, &grid));
    let mut cursor = TempoCursor::new(&map);
    for bar in (1..).map_while(|number| grid.bar(number)) {
        let tempo = cursor.tempo_at(bar.start).quarters_per_minute();
        let time = clock_time(cursor.at(bar.start));
        println!("bar {:>4}  {time:>8}  {tempo:>6.1}", bar.number);
    }
    Ok(())
}
