//! The statistics against formulas over the whole list, and against numpy and scipy.

use insta::assert_snapshot;
use proptest::prelude::*;

use super::*;

const MS: i64 = 1_000_000;
const GAP_NS: u64 = 300_000_000;

fn stroke(number: u64, offset_ns: i64) -> Stroke {
    let at = i64::try_from(number * GAP_NS).unwrap() + 1_000_000_000 + offset_ns;
    Stroke {
        offset_ns,
        bar: i64::try_from(number / 4).unwrap() + 1,
        beat: u32::try_from(number % 4).unwrap() + 1,
        part: 1,
        parts: 1,
        gap_ns: GAP_NS,
        at: Nanos::new(u64::try_from(at).unwrap()),
    }
}

fn timing(offsets: &[i64]) -> PlayerTiming {
    let mut strokes = Strokes::new(0);
    for (number, offset) in (0..).zip(offsets) {
        strokes.passed(1);
        strokes.note(&stroke(number, *offset));
    }
    strokes.timing()
}

#[test]
fn the_delay_of_the_input_is_taken_off() {
    let mut strokes = Strokes::new(15 * MS);
    for number in 0..10 {
        strokes.note(&stroke(number, 5 * MS));
    }
    let found = strokes.timing();
    assert_eq!(
        (found.mean_ns, found.median_ns),
        (Some(-10 * MS), Some(-10 * MS))
    );
    assert_eq!((found.early, found.latency_ns), (10, 15 * MS));
    assert_eq!(found.bias, Some(Bias::Early));
}

#[test]
fn what_is_beyond_a_third_of_the_gap_is_astray() {
    let found = timing(&[100 * MS, 100 * MS + 1, -100 * MS, -100 * MS - 1]);
    assert_eq!((found.strokes, found.outliers, found.missed), (2, 2, 2));
    assert_eq!((found.mean_ns, found.early), (Some(0), 1));
    // After the delay was taken off, not before.
    let mut strokes = Strokes::new(-MS);
    strokes.note(&stroke(0, 100 * MS));
    assert_eq!(strokes.timing().outliers, 1);
}

#[test]
fn the_first_of_several_at_a_place_counts() {
    let mut strokes = Strokes::new(0);
    strokes.passed(3);
    // A chord of three strings, each within 30 ms of the one before.
    for offset in [-10, 15, 45] {
        strokes.note(&stroke(0, offset * MS));
    }
    // Three at the next place that are not a chord, and the second is nearer.
    strokes.note(&stroke(1, -50 * MS));
    strokes.note(&stroke(1, 2 * MS));
    strokes.note(&stroke(1, 60 * MS));
    // One that is an outlier, and then one that is not.
    strokes.note(&stroke(2, -110 * MS));
    strokes.note(&stroke(2, 6 * MS));
    let found = strokes.timing();
    assert_eq!((found.strokes, found.doubled, found.outliers), (3, 2, 3));
    assert_eq!(found.missed, 0);
    // (-10 - 50 + 6) / 3
    assert_eq!(found.mean_ns, Some(-18 * MS));
    // The same beat a bar later is another place, however soon.
    let mut strokes = Strokes::new(0);
    for bar in [1, 2] {
        strokes.note(&Stroke {
            bar,
            ..stroke(0, 0)
        });
    }
    assert_eq!((strokes.timing().strokes, strokes.timing().doubled), (2, 0));
}

#[test]
fn a_lean_is_judged_by_two_standard_errors_and_of_eight_strokes() {
    // Four at m - d and four at m + d: standard deviation d sqrt(8 / 7), twice the error of the mean 0.756 d.
    let bias = |m: i64| {
        timing(
            &[
                m - 10,
                m + 10,
                m - 10,
                m + 10,
                m - 10,
                m + 10,
                m - 10,
                m + 10,
            ]
            .map(|ms| ms * MS),
        )
        .bias
    };
    assert_eq!(bias(7), Some(Bias::On));
    assert_eq!(bias(8), Some(Bias::Late));
    assert_eq!(bias(-7), Some(Bias::On));
    assert_eq!(bias(-8), Some(Bias::Early));
    assert_eq!(timing(&[-20 * MS; 7]).bias, None);
    assert_eq!(timing(&[-20 * MS; 8]).bias, Some(Bias::Early));
    assert_eq!(timing(&[0; 8]).bias, Some(Bias::On));
}

#[test]
fn a_trend_is_claimed_where_it_is_beyond_two_standard_errors() {
    // A place takes 0.3 s: 0.1 ms a place are 20 ms a minute, but for the time that the strokes themselves are late.
    let rising: Vec<i64> = (0..100).map(|i| i * MS / 10).collect();
    let trend = timing(&rising).trend.unwrap();
    assert!(trend.certain);
    assert!(
        (trend.ns_per_minute - 20 * MS).abs() < MS / 100,
        "{trend:?}"
    );
    assert!(trend.error_ns_per_minute < 100, "{trend:?}");
    // Up and down by 40 ms, with hardly a slope.
    let even: Vec<i64> = (0..100).map(|i| 40 * MS * (2 * (i % 2) - 1)).collect();
    let trend = timing(&even).trend.unwrap();
    assert!(
        !trend.certain && trend.error_ns_per_minute > 5_000_000,
        "{trend:?}"
    );
    assert_eq!(timing(&rising[..7]).trend, None);
    // All at one instant.
    let mut strokes = Strokes::new(0);
    for bar in 0..10 {
        strokes.note(&Stroke {
            bar,
            ..stroke(0, bar)
        });
        let at = Nanos::new(5);
        strokes.note(&Stroke {
            bar: bar + 100,
            at,
            ..stroke(0, bar)
        });
    }
    assert!(strokes.timing().trend.is_some());
    let mut strokes = Strokes::new(0);
    (0..10).for_each(|bar| {
        strokes.note(&Stroke {
            bar,
            at: Nanos::new(5),
            ..stroke(0, bar)
        })
    });
    assert_eq!(strokes.timing().trend, None);
}

#[test]
fn places_of_the_bar_are_told_apart_and_in_order() {
    let mut strokes = Strokes::new(0);
    for bar in 0..10 {
        for (beat, part, parts, offset) in [
            (2, 2, 2, 9),
            (1, 1, 2, -4),
            (1, 2, 3, 3),
            (1, 2, 2, 5),
            (2, 1, 2, 0),
            (1, 3, 3, 1),
        ] {
            let offset_ns = (offset + bar % 2) * MS;
            strokes.note(&Stroke {
                bar,
                beat,
                part,
                parts,
                offset_ns,
                ..stroke(0, 0)
            });
        }
    }
    let found = strokes.timing().at_places;
    let told: Vec<_> = found
        .iter()
        .map(|p| (p.beat, p.part, p.parts, p.count, p.mean_ns))
        .collect();
    assert_eq!(
        told,
        [
            (1, 1, 2, 10, -4 * MS + MS / 2),
            (1, 2, 3, 10, 3 * MS + MS / 2),
            (1, 2, 2, 10, 5 * MS + MS / 2),
            (1, 3, 3, 10, MS + MS / 2),
            (2, 1, 2, 10, MS / 2),
            (2, 2, 2, 10, 9 * MS + MS / 2),
        ]
    );
    let biases: Vec<_> = found.iter().filter_map(|p| p.bias).collect();
    // All are beyond two standard errors of 0.17 ms; a 40th of the gap of 300 ms is 7.5 ms.
    assert_eq!(biases[..5], [Bias::On; 5]);
    assert_eq!(biases[5], Bias::Late);
    // sqrt(10 x 0.25 / 9) ms.
    assert_eq!(found[0].spread_ns, Some(527_046));
}

#[test]
fn of_more_places_than_there_is_room_for_the_first_are_told() {
    let mut strokes = Strokes::new(0);
    for beat in 1..=100 {
        strokes.note(&Stroke {
            beat,
            ..stroke(0, 0)
        });
    }
    let found = strokes.timing();
    assert_eq!((found.strokes, found.at_places.len()), (100, 64));
}

#[test]
fn nothing_is_known_of_nothing_and_names_are_kept() {
    let nothing = serde_json::to_string_pretty(&Strokes::new(0).timing()).unwrap();
    assert_snapshot!(nothing, @r#"
    {
      "strokes": 0,
      "outliers": 0,
      "doubled": 0,
      "interruptions": 0,
      "withheld": 0,
      "not_judged_ns": 0,
      "places": 0,
      "missed": 0,
      "latency_ns": 0,
      "coarse": false,
      "gap_ns": null,
      "mean_ns": null,
      "bias": null,
      "spread_ns": null,
      "median_ns": null,
      "low_ns": null,
      "high_ns": null,
      "early": 0,
      "trend": null,
      "at_places": []
    }
    "#);
    let mut strokes = Strokes::new(MS).coarse();
    (0..9).for_each(|bar| {
        strokes.note(&Stroke {
            bar,
            ..stroke(4, 3 * MS)
        })
    });
    assert_snapshot!(serde_json::to_string(&strokes.timing()).unwrap(), @r#"{"strokes":9,"outliers":0,"doubled":0,"interruptions":0,"withheld":0,"not_judged_ns":0,"places":0,"missed":0,"latency_ns":1000000,"coarse":true,"gap_ns":300000000,"mean_ns":2000000,"bias":"on","spread_ns":0,"median_ns":2000000,"low_ns":2000000,"high_ns":2000000,"early":0,"trend":null,"at_places":[{"beat":1,"part":1,"parts":1,"count":9,"mean_ns":2000000,"spread_ns":0,"bias":"on"}]}"#);
}

#[allow(clippy::cast_precision_loss)]
fn close(found: i64, exact: f64, tolerance: f64) -> bool {
    (found as f64 - exact).abs() <= tolerance
}

#[allow(clippy::cast_precision_loss)]
fn ratio(over: i128, under: i128) -> f64 {
    over as f64 / under as f64
}

#[test]
fn what_nobody_notices_is_neither_early_nor_late() {
    assert_eq!(noticed_ns(100_000_000), 6_000_000);
    assert_eq!(noticed_ns(240_000_000), 6_000_000);
    assert_eq!(noticed_ns(500_000_000), 12_500_000);
    // Certain to the last nanosecond, and 0.1 ms: it was called late.
    let biases = |offset| {
        let mut strokes = Strokes::new(0);
        for bar in 0..100 {
            strokes.note(&stroke(bar, offset));
        }
        strokes.timing().bias
    };
    assert_eq!(biases(MS / 10), Some(Bias::On));
    assert_eq!(biases(-7 * MS), Some(Bias::On));
    assert_eq!(biases(8 * MS), Some(Bias::Late));
    assert_eq!(biases(-8 * MS), Some(Bias::Early));
}

/// Whether a timing has the figures of a row.
#[allow(clippy::cast_precision_loss)]
fn hold_to_row(found: &PlayerTiming, cells: [&str; 13]) {
    let [
        name,
        gap,
        _,
        _,
        mean,
        sd,
        error,
        low,
        median,
        high,
        early,
        slope,
        slope_error,
    ] = cells;
    let number = |text: &str| text.parse::<f64>().unwrap();
    assert_eq!((found.outliers, found.doubled), (0, 0), "{name}");
    assert!(close(found.mean_ns.unwrap(), number(mean), 0.51), "{name}");
    let spread = i64::try_from(found.spread_ns.unwrap()).unwrap();
    assert!(close(spread, number(sd), 0.51), "{name}");
    for (found, exact) in [
        (found.low_ns, low),
        (found.median_ns, median),
        (found.high_ns, high),
    ] {
        let exact = number(exact);
        assert!(
            close(found.unwrap(), exact, exact.abs() / 1000.0),
            "{name}: {found:?} {exact}"
        );
    }
    assert_eq!(found.early, early.parse::<u64>().unwrap(), "{name}");
    let least = (2.0 * number(error)).max(noticed_ns(gap.parse().unwrap()) as f64);
    let certainly = number(mean).abs() > least;
    assert_eq!(
        found.bias.is_some_and(|bias| bias != Bias::On),
        certainly && found.strokes >= 8,
        "{name}"
    );
    if slope != "-" {
        let trend = found.trend.unwrap();
        assert!(
            close(trend.ns_per_minute, number(slope), 1.0),
            "{name}: {trend:?}"
        );
        let trend_error = i64::try_from(trend.error_ns_per_minute).unwrap();
        assert!(
            close(trend_error, number(slope_error), 1.0),
            "{name}: {trend:?}"
        );
        assert_eq!(
            trend.certain,
            number(slope).abs() > 2.0 * number(slope_error),
            "{name}"
        );
    }
}

#[test]
fn the_statistics_are_those_of_numpy_and_scipy() {
    let table = include_str!("../../../../tests/reference/strokes.tsv");
    let mut sets = 0;
    for line in table.lines().filter(|line| !line.starts_with('#')) {
        let cells: Vec<&str> = line.split('\t').collect();
        let cells: [&str; 13] = cells.try_into().unwrap();
        let [_, gap, at, offsets, ..] = cells;
        let mut strokes = Strokes::new(0);
        for ((bar, at), offset) in (0..).zip(at.split(' ')).zip(offsets.split(' ')) {
            let (at, offset_ns) = (Nanos::new(at.parse().unwrap()), offset.parse().unwrap());
            let gap_ns = gap.parse().unwrap();
            strokes.note(&Stroke {
                bar,
                at,
                offset_ns,
                gap_ns,
                ..stroke(0, 0)
            });
        }
        hold_to_row(&strokes.timing(), cells);
        sets += 1;
    }
    assert_eq!(sets, 7);
}

proptest! {
    #[test]
    fn the_statistics_are_those_of_the_whole_list(offsets in prop::collection::vec(-99_000_000i64..=99_000_000, 1..300)) {
        let found = timing(&offsets);
        let n = i128::try_from(offsets.len()).unwrap();
        prop_assert_eq!(i128::from(found.strokes), n);
        // Exact sums of whole numbers: mean, and variance in two passes.
        let x: Vec<i128> = offsets.iter().map(|x| i128::from(*x)).collect();
        let t: Vec<i128> = (0..).zip(&offsets).map(|(i, x)| i128::from(stroke(i, *x).at.get())).collect();
        let sum: i128 = x.iter().sum();
        prop_assert!(close(found.mean_ns.unwrap(), ratio(sum, n), 0.51));
        let squares: i128 = x.iter().map(|x| (n * x - sum) * (n * x - sum)).sum();
        if n > 1 {
            let sd = (ratio(squares, n * n * (n - 1))).sqrt();
            prop_assert!(close(i64::try_from(found.spread_ns.unwrap()).unwrap(), sd, 0.51));
        } else {
            prop_assert_eq!(found.spread_ns, None);
        }
        // The normal equations.
        if n >= 8 {
            let (st, stt) = (t.iter().sum::<i128>(), t.iter().map(|t| t * t).sum::<i128>());
            let stx: i128 = t.iter().zip(&x).map(|(t, x)| t * x).sum();
            let slope = ratio(n * stx - st * sum, n * stt - st * st);
            #[allow(clippy::cast_precision_loss)]
            let left = |t: i128, x: i128| {
                (x as f64 - ratio(sum, n) - slope * (t as f64 - ratio(st, n))).powi(2)
            };
            let left: f64 = t.iter().zip(&x).map(|(t, x)| left(*t, *x)).sum();
            let error = (left / ratio(n - 2, 1) / ratio(n * stt - st * st, n)).sqrt();
            let trend = found.trend.unwrap();
            prop_assert!(close(trend.ns_per_minute, slope * 60e9, 1.0 + slope.abs() * 600.0), "{:?} {}", trend, slope);
            let trend_error = i64::try_from(trend.error_ns_per_minute).unwrap();
            prop_assert!(close(trend_error, error * 60e9, 1.0 + error * 600.0), "{:?} {}", trend, error);
        } else {
            prop_assert_eq!(found.trend, None);
        }
        // Sorting.
        let mut sorted = offsets.clone();
        sorted.sort_unstable();
        let rank = |tenths: usize| sorted[(sorted.len() * tenths).div_ceil(10) - 1];
        for (found, exact) in [(found.low_ns, rank(1)), (found.median_ns, rank(5)), (found.high_ns, rank(9))] {
            let found = found.unwrap();
            prop_assert!((found - exact).abs() <= exact.abs() / 1000, "{} for {}", found, exact);
        }
        prop_assert_eq!(found.early, u64::try_from(sorted.partition_point(|x| *x < 0)).unwrap());
    }

    #[test]
    fn every_stroke_is_told_once_whatever_comes(
        strokes in prop::collection::vec(
            (any::<i64>(), 0i64..3, 1u32..4, 1u32..3, prop_oneof![0u64..400_000_000, any::<u64>()], any::<u64>()), 0..100,
        ),
        latency: i64, places in 0u64..200,
    ) {
        let mut all = Strokes::new(latency);
        all.passed(places);
        for (offset_ns, bar, beat, part, gap_ns, at) in &strokes {
            let (at, parts) = (Nanos::new(*at), 2);
            all.note(&Stroke { offset_ns: *offset_ns, bar: *bar, beat: *beat, part: *part, parts, gap_ns: *gap_ns, at });
        }
        let found = all.timing();
        let told = found.strokes + found.outliers + found.doubled;
        prop_assert_eq!(told, u64::try_from(strokes.len()).unwrap());
        prop_assert_eq!(found.at_places.iter().map(|p| p.count).sum::<u64>(), found.strokes);
        prop_assert!(found.low_ns <= found.median_ns && found.median_ns <= found.high_ns);
    }
}

#[test]
fn the_mean_of_many_strokes_far_from_the_start_is_not_lost_to_rounding() {
    // A day at four strokes a second, 250 ms late by one in a hundred million.
    let mut strokes = Strokes::new(0);
    for bar in 0..345_600_u32 {
        let (bar, ns) = (i64::from(bar), i64::from(bar % 2));
        let at = Nanos::new(u64::try_from(bar).unwrap() * 250_000_000);
        strokes.note(&Stroke {
            bar,
            at,
            offset_ns: 90 * MS + 10 * ns,
            ..stroke(0, 0)
        });
    }
    let found = strokes.timing();
    assert_eq!(
        (found.mean_ns, found.spread_ns),
        (Some(90 * MS + 5), Some(5))
    );
}

#[test]
#[cfg(debug_assertions)]
fn noting_takes_no_memory() {
    let mut strokes = Strokes::new(0);
    let before = assert_no_alloc::violation_count();
    assert_no_alloc::assert_no_alloc(|| {
        for number in 0..2000_u32 {
            let (bar, beat) = (i64::from(number), number % 70);
            strokes.note(&Stroke {
                bar,
                beat,
                ..stroke(0, i64::from(number) * 10_000)
            });
            strokes.passed(1);
        }
    });
    assert_eq!(assert_no_alloc::violation_count(), before);
    assert_eq!(strokes.timing().strokes, 2000);
}
