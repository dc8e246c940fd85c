//! Shows how a tempo plan climbs, bar by bar: `cargo run --example climb -- '60 to 76 by 8 back 4 every 2 bars' 14`.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "it talks to the person who runs it"
)]

use fivefold::Diagnostic;
use std::process::ExitCode;
use std::sync::Arc;

use fivefold::time::{Grid, Meter, PlanRepeat, TempoCursor, TempoMap, TempoPlan};
use fivefold::view::clock_time;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let text = arguments
        .next()
        .unwrap_or_else(|| "60 to 76 by 8 back 4 every 2 bars".to_owned());
    let bars: u64 = arguments.next().and_then(|n| n.parse().ok()).unwrap_or(14);
    let meter = Meter::COMMON;
    let plan = match TempoPlan::read(&text).and_then(|plan| plan.check(&meter).map(|()| plan)) {
        Ok(plan) => plan,
        Err(e) => {
            eprintln!("{e}; {}", e.help());
            return ExitCode::from(2);
        }
    };
    let grid = Grid::new(0, vec![], vec![meter], Some(bars), vec![]);
    let map = Arc::new(TempoMap::new(&plan, PlanRepeat::Once, &grid));
    let mut cursor = TempoCursor::new(&map);
    for bar in (1..).map_while(|number| grid.bar(number)) {
        let tempo = cursor.tempo_at(bar.start).quarters_per_minute();
        println!(
            "bar {:>4}  {:>8}  {tempo:>6.1}",
            bar.number,
            clock_time(cursor.at(bar.start))
        );
    }
    ExitCode::SUCCESS
}
