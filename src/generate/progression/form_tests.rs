use std::collections::HashMap;

use super::tests::{assert_good, bound, chi_squared, chord, table};
use super::*;
use crate::diagnostic::Diagnostic;
use crate::generate::blues::{Blues, SKELETONS};
use crate::generate::numerals::read_bars;
use crate::generate::{BluesWish, Flavor, Level, Rhythm};

const SETS: [&str; 4] = [
    "A minor pentatonic",
    "A minor blues",
    "A major pentatonic",
    "A major blues",
];

fn blues(blues: Blues, bars: u32) -> Request {
    Request {
        bars,
        blues: BluesWish::Form(blues),
        ..Request::default()
    }
}

/// Semitones of a root above A.
fn above(chord: &Chord) -> u8 {
    (12 + chord.root().pitch_class().value() - 9) % 12
}

/// Every sequence of roots of a form with its weight, by multiplying out its table; without those that share a bar, where
/// these are not wanted.
fn multiplied(blues: Blues, bars: u32, shared: bool) -> Vec<(Vec<Vec<u8>>, u128)> {
    let skeleton = SKELETONS
        .iter()
        .find(|s| s.blues == blues && s.bars == bars);
    let mut found: Vec<(Vec<Vec<u8>>, u128)> = vec![(Vec::new(), 1)];
    for ways in skeleton.unwrap().parts {
        let mut longer = Vec::new();
        for (known, weight) in &found {
            for (own, text) in *ways {
                let more: Vec<Vec<u8>> = read_bars(text)
                    .iter()
                    .map(|bar| bar.iter().map(|role| role.up).collect())
                    .collect();
                if shared || more.iter().all(|bar| bar.len() == 1) {
                    longer.push(([known.clone(), more].concat(), weight * u128::from(*own)));
                }
            }
        }
        found = longer;
    }
    found
}

/// The roots of a drawn progression, bar by bar.
fn roots(drawn: &Progression) -> Vec<Vec<u8>> {
    let bars = drawn.chords_by_bar();
    bars.iter()
        .map(|bar| bar.iter().map(above).collect())
        .collect()
}

/// The different roots of bars, rising.
fn used(bars: &[Vec<u8>]) -> Vec<u8> {
    let mut all = bars.concat();
    all.sort_unstable();
    all.dedup();
    all
}

#[test]
fn the_sums_of_forms_are_those_of_their_tables_multiplied_out() {
    let mut compared = 0;
    for set in SETS {
        let table = table(set, FitRule::Blues);
        for skeleton in &SKELETONS {
            for rhythm in [Rhythm::Mixed, Rhythm::Bar] {
                let request = Request {
                    rhythm,
                    ..blues(skeleton.blues, skeleton.bars)
                };
                let Ok(generator) = Generator::new(&table, &request) else {
                    continue;
                };
                let all = multiplied(skeleton.blues, skeleton.bars, rhythm == Rhythm::Mixed);
                let mut count = 0u128;
                for (bars, _) in &all {
                    // Each role has the chords of its root.
                    let fills = used(bars).into_iter().map(|root| {
                        let mut known: Vec<u16> = Vec::new();
                        for c in generator.forms[0]
                            .chords()
                            .filter(|c| c.chordal.root == root)
                        {
                            if !known.contains(&c.chordal.classes) {
                                known.push(c.chordal.classes);
                            }
                        }
                        known.len() as u128
                    });
                    count += fills.product::<u128>();
                }
                assert_eq!(generator.count(), count, "{set} {:?}", skeleton.blues);
                for seed in 0..40 {
                    let drawn = generator.draw(seed, 0).unwrap();
                    let own = roots(&drawn);
                    let like = all.iter().filter(|(bars, _)| used(bars) == used(&own));
                    let mut weights: Vec<u128> = like.map(|(_, weight)| *weight).collect();
                    let total: u128 = weights.iter().sum();
                    assert_eq!(drawn.sequence_odds.total, total);
                    let share = all.iter().find(|(bars, _)| *bars == own).unwrap().1;
                    assert_eq!(drawn.sequence_odds.share, share);
                    weights.sort_unstable_by(|a, b| b.cmp(a));
                    let best = generator.likeliest(&drawn, 3);
                    let best: Vec<u128> = best.iter().map(|b| b.1.share).collect();
                    assert_eq!(best, weights[..best.len()]);
                    assert_eq!(best.len(), weights.len().min(3));
                    compared += 1;
                }
            }
        }
    }
    assert!(compared > 2000, "{compared}");
}

#[test]
fn forms_come_as_often_as_printed() {
    let table = table("A minor pentatonic", FitRule::Blues);
    for (wanted, level) in [(Blues::Plain, Level::Plain), (Blues::Jazz, Level::Bold)] {
        let request = Request {
            level,
            ..blues(wanted, 12)
        };
        let generator = Generator::new(&table, &request).unwrap();
        let draws = 20_000u32;
        let mut found: HashMap<String, (u32, f64)> = HashMap::new();
        let mut sequences: HashMap<Vec<Vec<u8>>, u32> = HashMap::new();
        for seed in 0..draws {
            let p = generator.draw(u64::from(seed), 7).unwrap();
            let odds = p.size_odds.probability() * p.palette_odds.probability();
            found
                .entry(format!("{:?}", p.palette))
                .or_insert((0, odds))
                .0 += 1;
            *sequences.entry(roots(&p)).or_default() += 1;
        }
        let all = multiplied(wanted, 12, true);
        let total = all.iter().map(|(_, weight)| *weight).sum::<u128>() as f64;
        assert!(
            sequences
                .keys()
                .all(|own| all.iter().any(|(bars, _)| bars == own))
        );
        let expected = all.iter().map(|(bars, weight)| {
            let count = sequences.get(bars).copied().unwrap_or(0);
            (count, *weight as f64 / total)
        });
        for table in [found.into_values().collect::<Vec<_>>(), expected.collect()] {
            let (chi, cells) = chi_squared(&table, draws);
            assert!(cells > 5);
            assert!(chi < bound(cells - 1), "{wanted:?}: {chi} of {cells}");
        }
    }
}

#[test]
fn wishes_fill_a_form_or_are_named() {
    let names = ["A7", "D7", "E7", "Am", "Dm7", "F7", "F#7", "A9", "C", "D"];
    let (mut met, mut refused) = (0, 0);
    for set in SETS {
        let table = table(set, FitRule::Blues);
        for a in names {
            for b in names {
                for different in [None, Some(1), Some(3), Some(4), Some(6)] {
                    let request = Request {
                        bars: 12,
                        start: (different != Some(3)).then(|| chord(a)),
                        end: (different == Some(3)).then(|| chord(a)),
                        with: vec![chord(b)],
                        different,
                        ..Request::default()
                    };
                    match Generator::new(&table, &request) {
                        Ok(generator) => {
                            assert!(generator.count() > 0);
                            for seed in 0..4 {
                                let drawn = generator.draw(seed, 0).unwrap();
                                let what = format!("{set} {a} {b} {different:?}");
                                assert_good(&generator, &request, &table, &drawn, &what);
                                assert!(drawn.plan_odds.share > 0);
                                met += 1;
                            }
                        }
                        Err(e) => {
                            let kinds = [
                                WishKind::Start,
                                WishKind::End,
                                WishKind::With,
                                WishKind::Different,
                            ];
                            assert!(kinds.contains(&e.wish), "{e}");
                            refused += 1;
                        }
                    }
                }
            }
        }
    }
    assert!(met > 300 && refused > 300, "{met} {refused}");
}

#[test]
fn kinds_and_levels_fill_the_forms() {
    for set in SETS {
        let table = table(set, FitRule::Blues);
        for bars in [8, 12, 16] {
            for (_, level) in Level::NAMES {
                for (_, flavor) in Flavor::NAMES {
                    let request = Request {
                        bars,
                        level,
                        flavor,
                        ..Request::default()
                    };
                    let generator = Generator::new(&table, &request).unwrap();
                    for seed in 0..20 {
                        let drawn = generator.draw(seed, 0).unwrap();
                        let what = format!("{set} {bars} {level:?} {flavor:?}");
                        assert_good(&generator, &request, &table, &drawn, &what);
                        for chord in &drawn.palette {
                            let sevenths = chord.seventh().is_some();
                            match flavor {
                                Flavor::Any => {}
                                Flavor::Triads => assert!(!sevenths, "{what}: {chord}"),
                                Flavor::Sevenths => assert!(sevenths, "{what}: {chord}"),
                            }
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn a_form_that_cannot_be_is_named() {
    let wrong = |set: &str, rule, request: Request| {
        let e = Generator::new(&table(set, rule), &request).err().unwrap();
        format!("{:?}: {e}; {}", e.wish, e.help())
    };
    let minor = "A minor pentatonic";
    insta::assert_snapshot!(wrong("A major pentatonic", FitRule::Blues, blues(Blues::Minor, 12)), @"Blues: the minor blues needs Am, which the rule blues refuses: C not in the home scale; choose another form, or another rule");
    insta::assert_snapshot!(wrong(minor, FitRule::Inside, blues(Blues::Plain, 12)), @"Blues: the plain blues needs A7, which the rule inside refuses: C# not in the set; choose another form, or another rule");
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, blues(Blues::Jazz, 16)), @"Bars: a jazz blues has 8 or 12 bars, found 16; ask for 8 or 12 bars");
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, Request { rhythm: Rhythm::HalfBar, ..blues(Blues::Jazz, 12) }), @"Rhythm: a blues changes its chord by the bar; leave the rhythm out");
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, Request { flavor: Flavor::Triads, ..blues(Blues::Jazz, 12) }), @"Flavor: the jazz blues needs A7 or a chord like it, which is not of the kind; ask for any kind of chord");
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, Request { without: vec![chord("E7"), chord("E")], ..blues(Blues::Plain, 12) }), @"Without: the plain blues needs E7 or a chord like it, and none is left; leave out fewer chords, or wish for no form");
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, Request { end: Some(chord("C")), ..blues(Blues::Plain, 12) }), @"End: no plain blues of 12 bars ends on C; wish for other chords, or for no form");
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, Request { different: Some(2), ..blues(Blues::Plain, 12) }), @"Different: no plain blues of 12 bars has 2 different chords with the other wishes; choose another number of different chords, or wish for no form");
    // Outside a jazz form its chords are refused.
    let loops = Request {
        blues: BluesWish::None,
        bars: 12,
        with: vec![chord("F#7")],
        ..Request::default()
    };
    insta::assert_snapshot!(wrong(minor, FitRule::Blues, loops), @"With: F#7 does not fit: F# A# C# not in the home scale; choose one that fits, such as A, Am, C, D, or another rule");
}
