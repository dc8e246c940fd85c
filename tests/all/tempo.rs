//! Tempo maps against closed forms, numerical integration, and the bounds the crate promises.

use std::sync::Arc;

use fivefold::time::{Grid, Meter, PlanRepeat, TempoCursor, TempoMap, TempoPlan, Tick};

use crate::reference;

fn grid(meters: &[&str], bars: usize) -> Grid {
    let meters: Vec<Meter> = meters.iter().map(|m| Meter::read(m).unwrap()).collect();
    let bars = meters.iter().copied().cycle().take(bars).collect();
    Grid::new(0, vec![], bars, Some(1), vec![])
}

fn map(plan: &str, grid: &Grid) -> Arc<TempoMap> {
    let plan = TempoPlan::read(plan).unwrap();
    plan.check(&grid.first_meter()).unwrap();
    Arc::new(TempoMap::new(&plan, PlanRepeat::Once, grid))
}

/// Seconds of a tick.
fn seconds(cursor: &mut TempoCursor, tick: u64) -> f64 {
    cursor.at(Tick::new(tick)).as_secs_f64()
}

#[test]
fn ramps_against_numerical_integration() {
    // tests/reference/ramps.tsv: scipy's quad over 60/tempo, and its root finder for ramps in time.
    let rows = reference("ramps.tsv");
    assert!(rows.len() >= 480, "{}", rows.len());
    let mut compared = 0;
    for row in &rows {
        let number = |i: usize| row[i].parse::<f64>().unwrap();
        let (kind, from, to, length) = (&row[0], &row[1], &row[2], &row[3]);
        // Plans count at most thousandths.
        let fits = |text: &str| text.split_once('.').is_none_or(|(_, rest)| rest.len() <= 3);
        let whole_beats = kind == "beats" && !fits(length);
        if !fits(from) || !fits(to) || whole_beats || number(3).fract() != 0.0 && kind == "beats" {
            continue;
        }
        let unit = if kind == "beats" { "beats" } else { "s" };
        let Ok(plan) = TempoPlan::read(&format!("{from} to {to} over {length} {unit}")) else {
            continue;
        };
        let bars = (number(4) / 4.0) as usize + 4000;
        let grid = grid(&["4/4"], bars);
        plan.check(&Meter::COMMON).unwrap();
        let map = Arc::new(TempoMap::new(&plan, PlanRepeat::Once, &grid));
        let mut cursor = TempoCursor::new(&map);
        // Between two ticks, in a straight line.
        let ticks = number(4) * 960.0;
        let (below, part) = (ticks.floor() as u64, ticks.fract());
        let (a, b) = (seconds(&mut cursor, below), seconds(&mut cursor, below + 1));
        let found = a + (b - a) * part;
        assert!((found - number(5)).abs() < 1e-3, "{row:?}: {found}");
        compared += 1;
    }
    assert!(compared >= 480, "{compared} of {}", rows.len());
}

/// Seconds from the ramp's start, straight from the definition: linear per quarter, or linear in time.
fn closed(in_time: bool, b0: f64, b1: f64, length: f64, quarters: f64) -> f64 {
    let rise = b1 - b0;
    if in_time {
        length * (-b0 + (b0 * b0 + 120.0 * rise * quarters / length).sqrt()) / rise
    } else {
        60.0 * length / rise * (1.0 + rise * quarters / (length * b0)).ln()
    }
}

#[test]
fn bar_lines_of_ramps_lie_within_a_microsecond_over_ten_thousand_bars() {
    for (meters, plan, in_time, b0, b1, length) in [
        (
            &["4/4"][..],
            "40 to 200 over 10000 bars",
            false,
            40.0,
            200.0,
            40_000.0,
        ),
        (
            &["4/4"],
            "200 to 40 over 10000 bars",
            false,
            200.0,
            40.0,
            40_000.0,
        ),
        (
            &["3/4", "4/4", "7/8"],
            "60 to 61 over 10000 bars",
            false,
            60.0,
            61.0,
            10_500.0 * 10_000.0 / 3000.0 - 0.5,
        ),
        (
            &["6/8"],
            "52 to 96 over 10000 bars",
            false,
            78.0,
            144.0,
            30_000.0,
        ),
        (
            &["7/8 = 2+2+3"],
            "quarter = 90 to 91.5 over 10000 bars",
            false,
            90.0,
            91.5,
            35_000.0,
        ),
        (
            &["5/16"],
            "quarter = 70 to 140 over 10000 bars",
            false,
            70.0,
            140.0,
            12_500.0,
        ),
        (
            &["4/4"],
            "60 to 180 over 20000 s",
            true,
            60.0,
            180.0,
            20_000.0,
        ),
        (
            &["9/8"],
            "dotted quarter = 120 to 60 over 18000 s",
            true,
            180.0,
            90.0,
            18_000.0,
        ),
    ] {
        let grid = grid(meters, 10_001);
        // The exact length in quarters of so many bars, from the grid itself where meters are mixed.
        let ramp_end = grid.bar(10_001).unwrap().start.get() as f64 / 960.0;
        let length = if in_time { length } else { ramp_end };
        let mut cursor = TempoCursor::new(&map(plan, &grid));
        let mut worst: f64 = 0.0;
        for number in 1..=10_001 {
            let tick = grid.bar(number).unwrap().start.get();
            let quarters = tick as f64 / 960.0;
            if in_time && closed(true, b0, b1, length, quarters) > length {
                break;
            }
            let off = seconds(&mut cursor, tick) - closed(in_time, b0, b1, length, quarters);
            worst = worst.max(off.abs());
        }
        // A microsecond, and what a double of some hours can tell apart.
        assert!(worst <= 1.0e-6 + 2e-9, "{plan}: {worst:e}");
    }
}

#[test]
fn every_tick_of_a_ramp_lies_within_a_millisecond() {
    for (plan, b0, b1, beats) in [
        ("60 to 120 over 4 beats", 60.0, 120.0, 4.0),
        ("120 to 60 over 2 beats", 120.0, 60.0, 2.0),
        ("3.6 to 960 over 1 beat", 3.6, 960.0, 1.0),
        ("960 to 3.6 over 3 beats", 960.0, 3.6, 3.0),
        ("20 to 300 over 64 beats", 20.0, 300.0, 64.0),
        ("72 to 96 over 16 beats", 72.0, 96.0, 16.0),
    ] {
        let grid = grid(&["4/4"], 64);
        let mut cursor = TempoCursor::new(&map(plan, &grid));
        let mut worst: f64 = 0.0;
        for tick in 0..=(beats as u64 * 960) {
            let off =
                seconds(&mut cursor, tick) - closed(false, b0, b1, beats, tick as f64 / 960.0);
            worst = worst.max(off.abs());
        }
        assert!(worst <= 1e-3, "{plan}: {worst:e}");
    }
}

#[test]
fn plateaus_and_ladders_sum_exactly_over_ten_thousand_bars() {
    for (plan, step) in [
        ("97", None),
        ("60 to 110 by 1 every 200 bars", Some(200)),
        ("110 to 60 by 0.5 every 100 bars", Some(100)),
    ] {
        let grid = grid(&["4/4"], 10_000);
        let mut cursor = TempoCursor::new(&map(plan, &grid));
        // The same sum in whole numbers: bars of 3840 ticks at the nearest number of microseconds.
        let mut units: u128 = 0;
        for bar in 0..10_000u64 {
            assert_eq!(
                u128::from(cursor.at(Tick::new(bar * 3840)).get()),
                (units + 12) / 24,
                "{plan} bar {bar}"
            );
            let bpm = match (plan, step) {
                ("97", _) => 97.0,
                (p, Some(n)) if p.starts_with("60") => (60 + bar / n).min(110) as f64,
                (_, Some(n)) => (110.0 - 0.5 * (bar / n) as f64).max(60.0),
                _ => unreachable!(),
            };
            units += (60e6 / bpm).round() as u128 * 3840 * 25;
        }
    }
}

#[test]
fn ticks_and_times_go_there_and_back_on_every_kind_of_map() {
    for plan in [
        "97",
        "60 to 120 over 30 bars, 90 for 45 s, 70 to 50 by 5 back 2 every 2 bars",
        "960 to 3.6 over 20 s",
    ] {
        let grid = grid(&["4/4", "7/8"], 200);
        let mut cursor = TempoCursor::new(&map(plan, &grid));
        for tick in (0..grid.end().unwrap().get()).step_by(37) {
            let ns = cursor.at(Tick::new(tick));
            assert_eq!(cursor.tick_at(ns), Tick::new(tick), "{plan}");
        }
    }
}
