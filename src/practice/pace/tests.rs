use super::*;

/// 60 lists of takes by numpy and scipy on a grid five times as fine; the columns are named in its head.
const TABLE: &str = include_str!("../../../tests/reference/pace.tsv");

fn bpm(value: f64) -> Bpm {
    Bpm::new(value).unwrap()
}

fn take(day: i64, tempo: f64, outcome: Outcome) -> Take {
    Take {
        day: Day::new(day),
        tempo: bpm(tempo),
        outcome,
    }
}

fn fresh(tempo: f64) -> Pace {
    Pace::new(FirstGuess::new(bpm(tempo)), Aim::default())
}

/// What is proposed take after take, each with the same outcome.
fn proposals(pace: &mut Pace, outcome: Outcome, count: u32) -> Vec<f64> {
    let mut tempos = Vec::new();
    for _ in 0..count {
        let tempo = pace.next(Wish::Test);
        tempos.push(tempo.value());
        pace.record(Take {
            day: Day::new(0),
            tempo,
            outcome,
        });
    }
    tempos
}

fn in_order(estimate: Estimate) -> bool {
    Bpm::SLOWEST <= estimate.low && estimate.low <= estimate.high && estimate.high <= Bpm::FASTEST
}

#[test]
fn estimates_are_those_of_scipy() {
    let number = |text: &str| -> f64 { text.parse().unwrap() };
    let (mut rows, mut worst): (u32, f64) = (0, 0.0);
    for line in TABLE.lines().filter(|l| !l.starts_with('#')) {
        let cells: Vec<&str> = line.split('\t').collect();
        let first = FirstGuess::new(bpm(number(cells[0])));
        let share = |text| CleanShare::new(number(text)).unwrap();
        let aim = Aim {
            can: share(cells[2]),
            practice: share(cells[3]),
        };
        let takes = cells[4].split(' ').filter(|t| !t.is_empty()).map(|text| {
            let parts: Vec<&str> = text.split(':').collect();
            let outcome = match parts[2] {
                "c" => Outcome::Clean,
                "n" => Outcome::Nearly,
                _ => Outcome::Missed,
            };
            take(parts[0].parse().unwrap(), number(parts[1]), outcome)
        });
        let pace = Pace::replay(first.with_doubt(number(cells[1])).unwrap(), aim, takes);
        let (can, practice) = (pace.can(), pace.practice());
        let found = [can, practice].map(|e| [e.tempo, e.low, e.high]);
        for (found, expected) in found.as_flattened().iter().zip(&cells[5..]) {
            let off = (found.value() / number(expected) - 1.0).abs();
            worst = worst.max(off);
        }
        rows += 1;
    }
    assert_eq!(rows, 60);
    // 0.005 % on average; where much of the weight lies at an end of the grid, up to 0.16 %.
    assert!(worst < 0.003, "{worst}");
}

#[test]
fn before_the_first_take_it_is_the_guess() {
    let pace = fresh(80.0);
    assert_eq!(pace.next(Wish::Test), bpm(80.0));
    assert_eq!(pace.next(Wish::Hold), bpm(80.0));
    assert_eq!(pace.next(Wish::Faster), bpm(80.0 * 1.04));
    assert_eq!(pace.next(Wish::Slower), bpm(80.0 / 1.04));
    assert_eq!(pace.last(), None);
    // A normal distribution: a tenth lies 1.2816 standard deviations below the mean, a tenth above (tables).
    let can = pace.can();
    let off = |tempo: Bpm, expected: f64| (tempo.value() / expected - 1.0).abs();
    assert!(off(can.tempo, 80.0) < 0.001, "{can:?}");
    assert!(
        off(can.low, 80.0 * libm::exp(-1.2816 * 0.35)) < 0.003,
        "{can:?}"
    );
    assert!(
        off(can.high, 80.0 * libm::exp(1.2816 * 0.35)) < 0.003,
        "{can:?}"
    );
    let mut later = pace.clone();
    later.turn_to(Day::new(9));
    assert_eq!(later, pace);
}

#[test]
fn takes_at_the_limits_stay_within_them() {
    for first in [20.0, 400.0] {
        for outcome in [Outcome::Clean, Outcome::Nearly, Outcome::Missed] {
            let mut pace = fresh(first);
            assert_eq!(pace.next(Wish::Test), bpm(first));
            proposals(&mut pace, outcome, 120);
            for wish in [Wish::Test, Wish::Hold, Wish::Faster, Wish::Slower] {
                let next = pace.next(wish);
                assert!(Bpm::SLOWEST <= next && next <= Bpm::FASTEST, "{next:?}");
            }
            assert!(
                in_order(pace.can()) && in_order(pace.practice()),
                "{pace:?}"
            );
        }
    }
}

#[test]
fn clean_takes_lead_up_by_no_more_than_four_percent() {
    let mut pace = fresh(60.0);
    let tempos = proposals(&mut pace, Outcome::Clean, 80);
    for pair in tempos.windows(2) {
        let rise = pair[1] / pair[0];
        assert!((1.0..=1.04 + 1e-12).contains(&rise), "{rise}");
    }
    assert!(tempos[79] > 380.0, "{tempos:?}");
}

#[test]
fn missed_takes_lead_down_and_clean_ones_up_again() {
    let mut pace = fresh(200.0);
    let tempos = proposals(&mut pace, Outcome::Missed, 300);
    assert!(
        tempos
            .windows(2)
            .all(|pair| pair[1] < pair[0] || pair[0] < 21.0)
    );
    // Down without limit: one miss is worth far more than one step up.
    assert!(tempos[1] < 0.9 * tempos[0], "{tempos:?}");
    assert!(tempos[299] < 22.0, "{tempos:?}");
    // However long it went badly, a good stretch is believed.
    let tempos = proposals(&mut pace, Outcome::Clean, 60);
    assert!(tempos[59] > 40.0, "{tempos:?}");
}

#[test]
fn the_tempo_never_rises_after_a_take_that_was_not_clean() {
    for outcome in [Outcome::Missed, Outcome::Nearly] {
        let mut pace = fresh(120.0);
        proposals(&mut pace, Outcome::Clean, 5);
        // Far below what the hands can do, by the player's own wish.
        pace.record(take(0, 70.0, outcome));
        assert!(pace.can().tempo > bpm(75.0));
        assert_eq!(pace.next(Wish::Test), bpm(70.0));
        pace.record(take(0, 70.0, Outcome::Clean));
        assert_eq!(pace.next(Wish::Test), bpm(70.0 * 1.04));
    }
}

#[test]
fn nearly_lies_between_clean_and_missed() {
    let after = |outcome| {
        let mut pace = fresh(100.0);
        pace.record(take(0, 100.0, outcome));
        pace.can().tempo
    };
    let found = [Outcome::Missed, Outcome::Nearly, Outcome::Clean].map(after);
    assert!(found[0] < found[1] && found[1] < found[2], "{found:?}");
}

#[test]
fn a_wish_overrides_the_proposal() {
    let mut pace = fresh(100.0);
    pace.record(take(0, 100.0, Outcome::Missed));
    let proposed = pace.next(Wish::Test);
    assert!(proposed < bpm(100.0 / 1.04));
    assert_eq!(pace.next(Wish::Hold), bpm(100.0));
    assert_eq!(pace.next(Wish::Faster), bpm(104.0));
    assert_eq!(pace.next(Wish::Slower), proposed);
    pace.record(take(0, 100.0, Outcome::Clean));
    assert_eq!(pace.next(Wish::Slower), bpm(100.0 / 1.04));
}

#[test]
fn the_higher_the_share_the_slower_the_tempo() {
    let mut pace = fresh(100.0);
    proposals(&mut pace, Outcome::Clean, 3);
    pace.record(take(0, 112.0, Outcome::Missed));
    let shares = [0.5, 0.6, 0.75, 0.9, 0.95].map(|s| CleanShare::new(s).unwrap());
    let tempos = shares.map(|share| pace.estimate(share).tempo);
    assert!(
        tempos.windows(2).all(|pair| pair[1] < pair[0]),
        "{tempos:?}"
    );
}

#[test]
fn doubt_grows_from_day_to_day_and_the_mean_stays() {
    let mut pace = fresh(100.0);
    proposals(&mut pace, Outcome::Clean, 4);
    proposals(&mut pace, Outcome::Missed, 2);
    proposals(&mut pace, Outcome::Clean, 6);
    let on = |day: i64| {
        let mut later = pace.clone();
        later.turn_to(Day::new(day));
        later.can()
    };
    let width = |e: Estimate| libm::log(e.high.value() / e.low.value());
    let days = [0, 1, 5, 20, 50].map(on);
    for pair in days.windows(2) {
        assert!(width(pair[1]) > width(pair[0]), "{days:?}");
        assert!((pair[1].tempo.value() / pair[0].tempo.value() - 1.0).abs() < 0.002);
    }
    // No further than in 50 days, and not at all for a clock that was set back.
    assert_eq!(on(50), on(4000));
    assert_eq!(on(-3), on(0));
    assert_eq!(on(i64::MIN), on(0));
    let mut by_days = pace.clone();
    for day in 1..=5 {
        by_days.turn_to(Day::new(day));
    }
    let off = by_days.can().high.value() / on(5).high.value() - 1.0;
    assert!(off.abs() < 0.002, "{off}");
}

#[test]
fn a_state_is_made_again_from_its_takes() {
    let mut pace = fresh(90.0);
    let mut takes = Vec::new();
    for (day, outcome) in [
        (3, Outcome::Clean),
        (3, Outcome::Missed),
        (2, Outcome::Nearly),
        (9, Outcome::Clean),
    ] {
        let tempo = pace.next(Wish::Test);
        takes.push(take(day, tempo.value(), outcome));
        pace.record(*takes.last().unwrap());
    }
    let again = Pace::replay(FirstGuess::new(bpm(90.0)), Aim::default(), takes);
    assert_eq!(again, pace);
}

#[test]
fn unreasonable_numbers_are_refused() {
    for wrong in [f64::NAN, f64::INFINITY, -80.0, 0.0, 19.99, 400.01] {
        assert!(Bpm::new(wrong).is_err(), "{wrong}");
        let near = Bpm::clamped(wrong);
        assert!(Bpm::SLOWEST <= near && near <= Bpm::FASTEST, "{near:?}");
    }
    for wrong in [f64::NAN, 0.49, 0.951, 1.0, 75.0] {
        assert!(CleanShare::new(wrong).is_err(), "{wrong}");
    }
    for wrong in [f64::NAN, -0.1, 0.0, 0.019, 1.01] {
        let guess = FirstGuess::new(bpm(80.0)).with_doubt(wrong);
        assert!(matches!(guess, Err(PracticeError::Doubt { .. })), "{wrong}");
    }
}
