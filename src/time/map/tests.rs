use super::*;
use crate::diagnostic::Diagnostic;
use crate::time::Meter;

fn grid(meter: &str, bars: usize, count_in: u64) -> Grid {
    Grid::new(
        count_in,
        vec![],
        vec![Meter::read(meter).unwrap(); bars],
        Some(1),
        vec![],
    )
}

fn map(plan: &str, grid: &Grid) -> Arc<TempoMap> {
    let plan = TempoPlan::read(plan).unwrap();
    plan.check(&grid.first_meter()).unwrap();
    Arc::new(TempoMap::new(&plan, PlanRepeat::Once, grid))
}

fn pairs(plan: &str, grid: &Grid) -> Vec<(u64, u32)> {
    map(plan, grid)
        .pairs()
        .map(|(t, tempo)| (t.get(), tempo.us_per_quarter()))
        .collect()
}

/// The nearest whole tempo in quarters a minute.
fn bpm(us_per_quarter: u32) -> u32 {
    (60_000_000 + us_per_quarter / 2) / us_per_quarter
}

#[test]
fn a_plateau_is_one_pair_the_nearest_integer() {
    // 60 000 000 over the tempo, rounded: 60e6 / 126 = 476 190.48, and so on.
    for (bpm, us) in [
        ("60", 1_000_000),
        ("90", 666_667),
        ("126", 476_190),
        ("130", 461_538),
        ("140", 428_571),
    ] {
        assert_eq!(pairs(bpm, &grid("4/4", 100, 1)), [(0, us)], "{bpm}");
    }
}

#[test]
fn the_tempo_counts_the_note_of_the_meter_or_the_written_one() {
    // 6/8 at 60 dotted quarters is 90 quarters a minute: 666 667 us.
    assert_eq!(pairs("60", &grid("6/8", 4, 0)), [(0, 666_667)]);
    assert_eq!(pairs("quarter = 90", &grid("6/8", 4, 0)), [(0, 666_667)]);
    assert_eq!(
        pairs("dotted quarter = 60", &grid("4/4", 4, 0)),
        [(0, 666_667)]
    );
    assert_eq!(pairs("60", &grid("2/2", 4, 0)), [(0, 500_000)]);
    assert_eq!(pairs("180", &grid("7/8 = 2+2+3", 4, 0)), [(0, 666_667)]);
}

#[test]
fn a_ladder_has_both_end_plateaus_and_holds_the_target() {
    let grid = grid("4/4", 40, 1);
    let bars: Vec<(u64, u32)> = pairs("60 to 76 by 8 back 4 every 4 bars", &grid)
        .into_iter()
        .map(|(tick, us)| (tick.saturating_sub(3840) / 3840, bpm(us)))
        .collect();
    assert_eq!(
        bars,
        [(0, 60), (4, 68), (8, 64), (12, 72), (16, 68), (20, 76)]
    );
    let tempi: Vec<u32> = pairs("96 to 72 by 10 every 1 bar", &grid)
        .iter()
        .map(|p| bpm(p.1))
        .collect();
    assert_eq!(tempi, [96, 86, 76, 72]);
}

#[test]
fn stretches_follow_one_another() {
    let g = grid("4/4", 40, 0);
    assert_eq!(
        pairs("60 for 2 bars, 120 for 6 beats, 60 for 3 s, 90", &g),
        [
            (0, 1_000_000),
            (7680, 500_000),
            (7680 + 5760, 1_000_000),
            (7680 + 5760 + 2880, 666_667)
        ]
    );
    // Beats of a grouped meter are its groups; of a compound one, dotted quarters.
    assert_eq!(
        pairs("60 for 4 beats, 120", &grid("7/8 = 2+2+3", 9, 0))[1].0,
        3360 + 960
    );
    assert_eq!(
        pairs("60 for 3 beats, 120", &grid("6/8", 9, 0))[1].0,
        2880 + 1440
    );
}

#[test]
fn each_pass_starts_the_plan_again() {
    let m = Meter::COMMON;
    let grid = Grid::new(1, vec![m], vec![m; 4], Some(3), vec![m]);
    let plan = TempoPlan::read("60 for 2 bars, 120").unwrap();
    let map = Arc::new(TempoMap::new(&plan, PlanRepeat::EachPass, &grid));
    let bars: Vec<(u64, u32)> = map
        .pairs()
        .map(|(t, tempo)| (t.get() / 3840, tempo.us_per_quarter()))
        .collect();
    // Count-in, intro, three passes of four bars: the plan begins at bar 1, then at each pass.
    assert_eq!(
        bars,
        [
            (0, 1_000_000),
            (2, 1_000_000),
            (4, 500_000),
            (6, 1_000_000),
            (8, 500_000),
            (10, 1_000_000),
            (12, 500_000)
        ]
    );
}

#[test]
fn an_endless_plan_of_one_tempo_still_gives_its_pairs() {
    let grid = Grid::new(0, vec![], vec![Meter::COMMON; 2], None, vec![]);
    let plan = TempoPlan::read("60 for 8 bars, 90").unwrap();
    let map = Arc::new(TempoMap::new(&plan, PlanRepeat::EachPass, &grid));
    assert_eq!(
        map.pairs().take(3).map(|p| p.0.get()).collect::<Vec<_>>(),
        [0, 7680, 15360]
    );
}

#[test]
fn a_plan_longer_than_the_piece_rises_as_if_the_passes_went_on() {
    let (a, b) = (Meter::read("3/4").unwrap(), Meter::read("4/4").unwrap());
    let short = Grid::new(0, vec![], vec![a, b], Some(2), vec![]);
    let long = Grid::new(0, vec![], vec![a, b], Some(50), vec![]);
    let end = short.end().unwrap();
    let of = |grid| -> Vec<_> {
        map("60 to 120 over 64 bars", grid)
            .pairs()
            .take_while(|p| p.0 < end)
            .collect()
    };
    assert_eq!(of(&short), of(&long));
}

#[test]
fn the_cursor_agrees_with_the_sum_in_any_order() {
    let grid = grid("4/4", 64, 1);
    let map = map(
        "60 to 120 over 20 bars, 90 for 10 s, 70 to 50 by 5 every 2 bars",
        &grid,
    );
    let mut cursor = TempoCursor::new(&map);
    let ticks: Vec<u64> = (0..2000).map(|i| i * 7919 % 240_000).collect();
    for tick in ticks {
        let mut clock = Clockwork::new(Tempo::DEFAULT);
        for (at, tempo) in map.pairs().take_while(|p| p.0.get() <= tick) {
            clock.change(at, tempo);
        }
        let tick = Tick::new(tick);
        assert_eq!(cursor.at(tick), clock.at(tick));
        assert_eq!(cursor.tempo_at(tick), clock.tempo());
        let ns = clock.at(tick);
        assert_eq!(cursor.tick_at(ns), tick);
        assert_eq!(cursor.tick_at(Nanos::new(ns.get() + 1)), tick);
    }
}

mod plan_text {
    use super::super::super::{PlanError, read_length};
    use super::*;

    fn refused(error: PlanError, text: &str) -> (String, String, String) {
        (
            text[error.span.clone()].to_owned(),
            error.to_string(),
            error.help(),
        )
    }

    #[test]
    fn plans_are_printed_as_they_are_read() {
        for text in [
            "72",
            "72.5",
            "72 for 8 bars, 96",
            "72 to 96",
            "72 to 96 over 16 bars",
            "72 to 96 over 90 s",
            "72 to 96 over 1.5 min, 60 for 1 bar, 50",
            "72 to 96 by 4 every 8 bars",
            "60 to 76 by 8 back 4 every 4 bars",
            "quarter = 90",
            "dotted quarter = 60 to 80 over 12 beats",
            "half = 40 for 1 beat, eighth = 180",
        ] {
            assert_eq!(TempoPlan::read(text).unwrap().to_string(), text);
        }
        assert_eq!(
            TempoPlan::read("72 for 8bars,96").unwrap().to_string(),
            "72 for 8 bars, 96"
        );
        assert_eq!(read_length("10min").unwrap().to_string(), "10 min");
        assert_eq!(read_length("16666h").unwrap().to_string(), "999960 min");
        assert_eq!(read_length("90s").unwrap().count(), 90_000);
    }

    #[test]
    fn malformed_plans_say_where_and_what() {
        for (text, at, message) in [
            ("", "", "a tempo plan is empty"),
            (
                "fast",
                "fast",
                "expected a tempo in beats a minute, found `fast`",
            ),
            (
                "72 for",
                "for",
                "expected a length such as 8 bars, found the end",
            ),
            (
                "72 for 8",
                "8",
                "expected a length such as 8 bars, found `8` alone",
            ),
            (
                "72 for 8 miles",
                "8 miles",
                "expected a length such as 8 bars, found `8 miles`",
            ),
            (
                "72 for 1.5 bars",
                "1.5 bars",
                "expected a length such as 8 bars, found a part of one: 1.5",
            ),
            (
                "72 for 0 bars",
                "0 bars",
                "a length is above 0 and at most 1000000 bars, beats, s or min, found 0",
            ),
            (
                "72 for 2000000 s",
                "2000000 s",
                "a length is above 0 and at most 1000000 bars, beats, s or min, found 2000000",
            ),
            (
                "72 for 20000h",
                "20000h",
                "a length is above 0 and at most 1000000 bars, beats, s or min, found 1200000 min",
            ),
            (
                "72 to",
                "to",
                "expected a tempo in beats a minute, found the end",
            ),
            (
                "60, 72 to 96",
                "60",
                "only the last stretch of a plan may lack its length",
            ),
            (
                "60 for 2 bars, 72 to 96",
                "96",
                "expected `over` or `by`, found the end",
            ),
            (
                "72.0001",
                "72.0001",
                "a tempo has at most three decimals, found `72.0001`",
            ),
            (
                "72 to 96 in 8 bars",
                "in",
                "expected `over` or `by`, found `in`",
            ),
            (
                "72 to 96 by 4",
                "4",
                "expected `every` or `back`, found the end",
            ),
            (
                "72 to 96 by 0 every 1 bar",
                "0",
                "a ladder has steps above 0 and at most 10000 plateaus, found by 0",
            ),
            (
                "60 to 76 by 4 back 4 every 4 bars",
                "4 back 4",
                "a ladder steps forward by more than it steps back, found by 4 back 4",
            ),
            (
                "72, 96",
                "72",
                "only the last stretch of a plan may lack its length",
            ),
            (
                "72 for 8 bars,",
                ",",
                "expected a tempo in beats a minute, found the end",
            ),
            (
                "72 fro 8 bars",
                "fro",
                "expected `for`, `to`, `,` or the end, found `fro`",
            ),
            (
                "72 for 8 bars 96",
                "96",
                "expected `,` or the end, found `96`",
            ),
            (
                "minim = 60",
                "minim",
                "`minim` is not a note value that a tempo can count",
            ),
            ("-72", "-", "expected a tempo in beats a minute, found `-`"),
            (
                "72\u{266D}",
                "\u{266D}",
                "expected `for`, `to`, `,` or the end, found `\u{266D}`",
            ),
        ] {
            let (span, found, _) = refused(TempoPlan::read(text).unwrap_err(), text);
            assert_eq!((span.as_str(), found.as_str()), (at, message), "{text}");
        }
    }

    #[test]
    fn limits_are_named() {
        for (text, meter, message) in [
            (
                "3.5",
                "4/4",
                "a tempo is 3.6 to 960 quarter notes a minute, found 3.5",
            ),
            (
                "72 for 8 bars, 961",
                "4/4",
                "a tempo is 3.6 to 960 quarter notes a minute, found 961",
            ),
            (
                "650",
                "6/8",
                "a tempo is 3.6 to 960 quarter notes a minute, found 975",
            ),
            (
                "0",
                "4/4",
                "a tempo is 3.6 to 960 quarter notes a minute, found 0",
            ),
            (
                "60 to 2000 by 100 every 1 bar",
                "4/4",
                "a tempo is 3.6 to 960 quarter notes a minute, found 1060",
            ),
        ] {
            let plan = TempoPlan::read(text).unwrap();
            let meter = Meter::read(meter).unwrap();
            assert_eq!(
                plan.check(&meter).unwrap_err().to_string(),
                message,
                "{text}"
            );
        }
        for text in ["3.6", "960", "3.6 to 960 over 1 beat"] {
            TempoPlan::read(text)
                .unwrap()
                .check(&Meter::COMMON)
                .unwrap();
        }
    }

    #[test]
    fn scaling_keeps_the_shape() {
        let scaled = |text| TempoPlan::read(text).unwrap().scaled(80_000).to_string();
        assert_eq!(
            scaled("100 to 120 by 5 every 8 bars"),
            "80 to 96 by 4 every 8 bars"
        );
        assert_eq!(scaled("72 for 4 bars, 90"), "57.6 for 4 bars, 72");
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[0-9a-z .,=]{0,40}|.{0,40}") {
            match TempoPlan::read(&text) {
                Ok(plan) => proptest::prop_assert_eq!(
                    TempoPlan::read(&plan.to_string()).unwrap().to_string(), plan.to_string()),
                Err(error) => proptest::prop_assert!(text.get(error.span.clone()).is_some()),
            }
        }

        #[test]
        fn words_of_plans_are_read_or_refused(words in proptest::collection::vec(
            proptest::sample::select(vec!["72", "96", "4", "to", "by", "for", "over", "every", "back", ",", "bars",
                "beats", "s", "min", "quarter", "dotted", "=", "0", "0.5"]), 0..14)) {
            let text = words.join(" ");
            if let Ok(plan) = TempoPlan::read(&text)
                && plan.check(&Meter::COMMON).is_ok()
            {
                let grid = Grid::new(1, vec![], vec![Meter::COMMON; 3], Some(4), vec![Meter::COMMON]);
                let map = Arc::new(TempoMap::new(&plan, PlanRepeat::EachPass, &grid));
                let mut last = None;
                for (tick, _) in map.pairs().take(5000) {
                    proptest::prop_assert!(last < Some(tick));
                    last = Some(tick);
                }
            }
        }
    }
}

#[test]
fn a_ritardando_takes_the_last_bars_before_the_last_one() {
    let grid = grid("4/4", 8, 1);
    let whole = |text: &str, repeat| {
        let plan = TempoPlan::read(text).unwrap();
        let map = TempoMap::new(&plan, repeat, &grid);
        (Arc::new(map.clone()), map)
    };
    let ritardando = Ritardando::read("2 bars to 50%").unwrap();
    for text in [
        "120",
        "60 to 120 over 32 bars",
        "90 for 7 bars, 200",
        "60 for 1 bar, 80 to 120 by 10 every 1 bar",
    ] {
        for repeat in [PlanRepeat::Once, PlanRepeat::EachPass] {
            let (plain, map) = whole(text, repeat);
            let slowed = Arc::new(map.slowing(ritardando, &grid));
            let bar = |number: i64| grid.bar(number).unwrap().start;
            let (start, end) = (bar(6), bar(8));
            let (mut a, mut b) = (TempoCursor::new(&plain), TempoCursor::new(&slowed));
            for tick in (0..=start.get()).step_by(120).map(Tick::new) {
                assert_eq!(a.at(tick), b.at(tick), "{text}");
            }
            let before = a.tempo_at(start).us_per_quarter();
            assert_eq!(b.tempo_at(end).us_per_quarter(), 2 * before, "{text}");
            assert_eq!(b.tempo_at(grid.end().unwrap()).us_per_quarter(), 2 * before);
            // The closed form: 8 quarters, k = -7/8: 1.5 (1 - (1/8)^(2/3)) / (7/8) quarters of the first tempo.
            let share = 1.5 * (1.0 - 0.25) / 0.875;
            let due = 8.0 * f64::from(before) * 1000.0 * share;
            let took = (b.at(end).get() - b.at(start).get()) as f64;
            assert!((took - due).abs() < 2_000.0, "{text}: {took} ns, not {due}");
            let tempi: Vec<u32> = (start.get()..=end.get())
                .step_by(60)
                .map(|tick| b.tempo_at(Tick::new(tick)).us_per_quarter())
                .collect();
            assert!(tempi.windows(2).all(|two| two[0] <= two[1]), "{text}");
        }
    }
    // No more bars than there are; none before a single bar, none without end.
    let short = Grid::new(0, vec![], vec![Meter::COMMON; 2], Some(1), vec![]);
    let plan = TempoPlan::read("100").unwrap();
    let map = |grid: &Grid| TempoMap::new(&plan, PlanRepeat::Once, grid);
    let slowed = Arc::new(map(&short).slowing(ritardando, &short));
    let mut cursor = TempoCursor::new(&slowed);
    assert!(cursor.tempo_at(Tick::new(2 * 960)).us_per_quarter() > 600_000);
    assert_eq!(
        cursor.tempo_at(Tick::new(4 * 960)).us_per_quarter(),
        1_200_000
    );
    for (bars, passes) in [(1, Some(1)), (4, None)] {
        let grid = Grid::new(1, vec![], vec![Meter::COMMON; bars], passes, vec![]);
        assert_eq!(map(&grid).slowing(ritardando, &grid), map(&grid));
    }
}
