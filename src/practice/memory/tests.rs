//! Held to the Python package `fsrs`; see `tests/reference/make_memory.py`.

use super::*;

/// 500 rows of reviews by fsrs 6.3.2; the columns are named in its head.
const TABLE: &str = include_str!("../../../tests/reference/memory.tsv");

fn off(found: f64, expected: f64) -> f64 {
    (found - expected).abs() / expected.abs()
}

fn replayed(reviews: &str) -> Memory {
    let mut memory = None;
    for review in reviews.split(' ') {
        let (gap, grade) = review.split_once(':').unwrap();
        let grade = match grade {
            "1" => Grade::Again,
            "2" => Grade::Hard,
            "3" => Grade::Good,
            _ => Grade::Easy,
        };
        memory = Some(match memory {
            None => Memory::first(grade),
            Some(before) => Memory::reviewed(before, gap.parse().unwrap(), grade),
        });
    }
    memory.unwrap()
}

#[test]
fn parameters_are_the_published_defaults() {
    let head = TABLE.lines().nth(2).unwrap();
    let numbers: Vec<f64> = head[2..].split(' ').map(|n| n.parse().unwrap()).collect();
    assert_eq!(numbers, W);
}

#[test]
fn memory_is_that_of_the_package() {
    let retention = Retention::default();
    let mut worst: f64 = 0.0;
    let (mut rows, mut lapses, mut same_day) = (0, 0, 0);
    for line in TABLE.lines().filter(|l| !l.starts_with('#')) {
        let cells: Vec<&str> = line.split('\t').collect();
        let memory = replayed(cells[0]);
        let number = |text: &str| -> f64 { text.parse().unwrap() };
        worst = worst.max(off(memory.stability_days(), number(cells[1])));
        worst = worst.max(off(memory.difficulty(), number(cells[2])));
        let interval = memory.interval_days(retention).round().clamp(1.0, 36_500.0);
        assert_eq!(interval, number(cells[3]), "{line}");
        for (days, expected) in [0.0, 1.0, 7.0, 30.0, 365.0].iter().zip(cells[4].split(' ')) {
            worst = worst.max(off(memory.retrievability(*days), number(expected)));
        }
        lapses += usize::from(cells[0].contains(":1"));
        same_day += usize::from(cells[0].contains(" 0."));
        rows += 1;
    }
    // Reached: 6e-15.
    assert!(worst < 1e-12, "{worst}");
    assert_eq!(rows, 500);
    assert!(lapses > 100 && same_day > 100, "{lapses} {same_day}");
}

#[test]
fn stability_is_the_time_until_nine_in_ten_are_known() {
    let memory = Memory::first(Grade::Good).reviewed(3.0, Grade::Hard);
    assert!(off(memory.retrievability(memory.stability_days()), 0.9) < 1e-12);
    for retention in [0.5, 0.7, 0.9, 0.95, 0.99] {
        let wanted = Retention::new(retention).unwrap();
        let days = memory.interval_days(wanted);
        assert!(off(memory.retrievability(days), retention) < 1e-12);
    }
}

#[test]
fn strange_times_neither_panic_nor_leave_the_limits() {
    for elapsed in [f64::NAN, f64::NEG_INFINITY, -3.0, 0.0, 1e300, f64::INFINITY] {
        for grade in [Grade::Again, Grade::Hard, Grade::Good, Grade::Easy] {
            let mut memory = Memory::first(grade);
            for _ in 0..50 {
                memory = memory.reviewed(elapsed, grade);
                assert!(memory.stability_days().is_finite() && memory.stability_days() >= 0.001);
                assert!((1.0..=10.0).contains(&memory.difficulty()), "{memory:?}");
                let left = memory.retrievability(elapsed);
                assert!((0.0..=1.0).contains(&left), "{left}");
            }
        }
    }
    let memory = Memory::first(Grade::Hard);
    let now = memory.reviewed(0.0, Grade::Good);
    assert_eq!(memory.reviewed(-9.0, Grade::Good), now);
    assert_eq!(memory.reviewed(f64::NAN, Grade::Good), now);
    assert_eq!(memory.retrievability(-1.0), 1.0);
}

#[test]
fn retentions_have_limits() {
    for wrong in [f64::NAN, 0.0, 0.49, 0.991, 1.0, 90.0] {
        assert!(Retention::new(wrong).is_err(), "{wrong}");
    }
}
