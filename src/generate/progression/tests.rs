use crate::diagnostic::Diagnostic;
use std::collections::HashMap;

use super::*;
use crate::chart::FitRule;
use crate::generate::table::classes;
use crate::generate::{Flavor, Level, Rhythm, fit_bars};
use crate::theory::{Harmony, Scale, symbol};

pub(super) fn table(set: &str, rule: FitRule) -> Table {
    let set = Scale::read(set).unwrap();
    Table::new(&set, &set.home().unwrap_or(set), rule)
}

pub(super) fn chord(text: &str) -> Chord {
    *symbol::read(text).unwrap().chord().unwrap()
}

/// Chi-squared bound that chance passes once in a thousand, by Wilson and Hilferty's approximation (handbook formula).
pub(super) fn bound(freedom: usize) -> f64 {
    let n = freedom as f64;
    n * (1.0 - 2.0 / (9.0 * n) + 3.09 * (2.0 / (9.0 * n)).sqrt()).powi(3)
}

/// Chi-squared of counts beside the chances they should have had in so many draws, and of how many cells.
pub(super) fn chi_squared(table: &[(u32, f64)], draws: u32) -> (f64, usize) {
    // Rare ones are counted together.
    let (mut chi, mut cells, mut rest) = (0.0, 0, (f64::from(draws), f64::from(draws)));
    for (count, p) in table {
        let expected = p * f64::from(draws);
        if expected >= 10.0 {
            chi += (f64::from(*count) - expected).powi(2) / expected;
            cells += 1;
            rest = (rest.0 - f64::from(*count), rest.1 - expected);
        }
    }
    if rest.1 > 5.0 {
        chi += (rest.0 - rest.1).powi(2) / rest.1;
        cells += 1;
    }
    (chi, cells)
}

#[test]
fn the_sums_are_those_of_brute_force() {
    for (set, rule, bars, rhythm) in [
        ("A minor pentatonic", FitRule::Inside, 8, Rhythm::Bar),
        ("C major pentatonic", FitRule::Home, 4, Rhythm::Bar),
        ("E hirajoshi", FitRule::Inside, 4, Rhythm::HalfBar),
        ("A minor blues", FitRule::Blues, 12, Rhythm::TwoBars),
        ("G dominant pentatonic", FitRule::Clear, 6, Rhythm::Bar),
    ] {
        let table = table(set, rule);
        for end in [None, Some(table.candidates.last().unwrap().chord)] {
            let request = Request {
                bars,
                rhythm,
                end,
                ..Request::default()
            };
            let generator = Generator::new(&table, &request).unwrap();
            for seed in 0..60 {
                let drawn = generator.draw(seed, 0).unwrap();
                let Some(places) = generator.plans.get(drawn.plan).map(|p| p.place_count) else {
                    // A loop is one sequence, and its odds say so.
                    assert_eq!(drawn.sequence_odds, Odds { share: 1, total: 1 });
                    continue;
                };
                if drawn.palette.len().pow(u32::try_from(places).unwrap()) > 20_000 {
                    continue;
                }
                let all = generator.brute_force(&drawn);
                let total: u128 = all.iter().map(|a| a.1).sum();
                assert_eq!(total, drawn.sequence_odds.total, "{set} {seed}");
                let own = all.iter().find(|a| a.0 == drawn.places).unwrap();
                assert_eq!(own.1, drawn.sequence_odds.share, "{set} {seed}");
                let best = generator.likeliest(&drawn, 3);
                let mut weights: Vec<u128> = all.iter().map(|a| a.1).collect();
                weights.sort_unstable_by(|a, b| b.cmp(a));
                let found: Vec<u128> = best.iter().map(|b| b.1.share).collect();
                assert_eq!(found, weights[..best.len()], "{set} {seed}");
            }
        }
    }
}

#[test]
fn ways_are_counted_and_not_weighed() {
    let table = table("A minor blues", FitRule::Blues);
    let request = Request {
        bars: 4,
        different: Some(3),
        ..Request::default()
    };
    let generator = Generator::new(&table, &request).unwrap();
    for seed in 0..20 {
        let drawn = generator.draw(seed, 0).unwrap();
        if drawn.plan >= generator.plans.len() {
            continue;
        }
        let all = generator.brute_force(&drawn).len() as u128;
        let end = generator.start_of(&drawn).unwrap().end;
        assert!(generator.nets[drawn.plan].can(&generator.possible(3), 3, end));
        assert_eq!(
            generator.ways(&generator.nets[drawn.plan], 3, end),
            all,
            "{seed}"
        );
    }
}

#[test]
fn sequences_come_as_often_as_printed() {
    let table = table("A minor pentatonic", FitRule::Inside);
    let request = Request {
        bars: 8,
        different: Some(3),
        ..Request::default()
    };
    let generator = Generator::new(&table, &request).unwrap();
    // One plan and palette: what is left to chance is the sequence.
    let first = (0..)
        .filter_map(|seed| generator.draw(seed, 0))
        .find(|p| {
            generator
                .plans
                .get(p.plan)
                .is_some_and(|plan| plan.place_count == 5)
        })
        .unwrap();
    let all = generator.brute_force(&first);
    let find = |chord: &Chord| generator.all().find(|c| c.chord == *chord).unwrap();
    let palette: Vec<&Candidate> = first.palette.iter().map(find).collect();
    let steps = generator.steps(&palette);
    let net = &generator.nets[first.plan];
    let end = generator.start_of(&first).unwrap().end;
    let sums = net.sums(&steps, palette.len(), end);
    let mut counts: HashMap<Vec<usize>, u32> = HashMap::new();
    let draws = 20_000u32;
    for seed in 0..draws {
        let mut chance = Chance::new(u64::from(seed), "sequence", "test", 0, 0);
        *counts
            .entry(net.draw(&sums, &steps, end, &mut chance).unwrap().0)
            .or_default() += 1;
    }
    let total = sums.total() as f64;
    let chi: f64 = all
        .iter()
        .map(|(places, weight)| {
            let expected = *weight as f64 / total * f64::from(draws);
            (f64::from(counts.get(places).copied().unwrap_or(0)) - expected).powi(2) / expected
        })
        .sum();
    assert!(
        counts
            .keys()
            .all(|places| all.iter().any(|a| a.0 == *places))
    );
    assert!(all.len() > 3);
    assert!(chi < bound(all.len() - 1), "{chi} of {}", all.len());
}

#[test]
fn palettes_and_plans_come_as_often_as_printed() {
    let table = table("A minor pentatonic", FitRule::Inside);
    let request = Request {
        different: Some(2),
        ..Request::default()
    };
    let generator = Generator::new(&table, &request).unwrap();
    let draws = 20_000u32;
    let mut palettes: HashMap<String, (u32, f64)> = HashMap::new();
    let mut plans: HashMap<usize, (u32, f64)> = HashMap::new();
    for seed in 0..draws {
        let p = generator.draw(u64::from(seed), 7).unwrap();
        // The last chord is drawn with the palette of a plan of phrases.
        let last = p.bars.last().and_then(|bar| bar.last());
        let last = last.filter(|_| p.plan < generator.plans.len());
        let name = format!("{} {} {} {last:?}", p.plan, p.palette[0], p.palette[1]);
        let odds = [p.plan_odds, p.size_odds, p.palette_odds];
        let odds = odds.iter().map(Odds::probability).product();
        palettes.entry(name).or_insert((0, odds)).0 += 1;
        plans
            .entry(p.plan)
            .or_insert((0, p.plan_odds.probability()))
            .0 += 1;
    }
    for table in [
        palettes.into_values().collect::<Vec<_>>(),
        plans.into_values().collect(),
    ] {
        let sum: f64 = table.iter().map(|t| t.1).sum();
        assert!(sum <= 1.0 + 1e-9);
        let (chi, cells) = chi_squared(&table, draws);
        assert!(cells > 2);
        assert!(chi < bound(cells - 1), "{chi} of {cells}");
    }
}

const SETS: [&str; 16] = [
    "minor pentatonic",
    "major pentatonic",
    "suspended pentatonic",
    "malkauns",
    "ritusen",
    "minor-six pentatonic",
    "dominant pentatonic",
    "hirajoshi",
    "in",
    "kumoi",
    "in-sen",
    "iwato",
    "minor blues",
    "major blues",
    "1 2 3 5 b6",
    "1 b3 4 5 7",
];

/// Whether a drawn progression meets everything it should.
pub(super) fn assert_good(
    generator: &Generator,
    request: &Request,
    table: &Table,
    drawn: &Progression,
    what: &str,
) {
    let chords = generator.chords(drawn);
    let bars = drawn.chords_by_bar();
    assert_eq!(bars.len(), request.bars as usize, "{what}");
    let most = if request.rhythm == Rhythm::HalfBar {
        2
    } else {
        1
    };
    let split = request.rhythm == Rhythm::Mixed;
    for bar in &bars {
        let all = bar.len() == most || split && bar.len() == 2;
        assert!(all, "{what}: {bars:?}");
    }
    if !split {
        let slots = request.rhythm.slots(request.bars);
        assert_eq!(Some(chords.len()), slots, "{what}");
    }
    let mut sounds: Vec<u16> = drawn.palette.iter().map(classes).collect();
    let harmonies: Vec<Vec<Harmony>> = bars
        .iter()
        .map(|bar| bar.iter().copied().map(Harmony::Chord).collect())
        .collect();
    let fits = fit_bars(&harmonies, &table.set, &table.home);
    for (chord, fit) in bars.iter().flatten().zip(fits.iter().flatten()) {
        assert_eq!(fit.admits(table.rule), Some(true), "{what}: {chord}");
        assert!(drawn.palette.contains(chord));
        assert!(
            request.without.iter().all(|w| classes(w) != classes(chord)),
            "{what}"
        );
    }
    for chord in &drawn.palette {
        assert!(chords.contains(chord), "{what}: {chord} is not used");
    }
    sounds.sort_unstable();
    sounds.dedup();
    assert_eq!(sounds.len(), drawn.palette.len(), "{what}");
    assert!(drawn.palette.len() <= 6);
    // Of two chords on one root neither holds all tones of the other, unless one is asked for by name.
    let named = |c: &Chord| {
        let mut all = request
            .start
            .iter()
            .chain(&request.end)
            .chain(&request.with);
        all.any(|w| classes(w) == classes(c))
    };
    for (i, a) in drawn.palette.iter().enumerate() {
        for b in &drawn.palette[i + 1..] {
            let both = classes(a) & classes(b);
            let color = both == classes(a) || both == classes(b);
            let same = a.root().pitch_class() == b.root().pitch_class();
            let asked = named(a) && named(b);
            assert!(!(same && color) || asked, "{what}: {a} and {b}");
        }
    }
    if let Some(n) = request.different {
        assert_eq!(drawn.palette.len(), usize::from(n), "{what}");
    }
    if let Some(start) = &request.start {
        assert_eq!(chords.first(), Some(start), "{what}");
    }
    if let Some(end) = &request.end {
        assert_eq!(chords.last(), Some(end), "{what}");
    }
    for with in &request.with {
        assert!(chords.iter().any(|c| classes(c) == classes(with)), "{what}");
    }
    assert!(
        drawn.sequence_odds.share > 0 && drawn.sequence_odds.share <= drawn.sequence_odds.total
    );
    assert!(
        drawn.palette_odds.share > 0 && drawn.palette_odds.share <= drawn.palette_odds.total,
        "{what}: {drawn:?}"
    );
}

#[test]
fn every_set_root_and_rule_gives_progressions_that_fit() {
    // Ten seeds for each of the twelve roots and three lengths; the thousand seeds of each are drawn by the benchmark's
    // longer sibling, `tests/all/progressions.rs`.
    let roots = [
        "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
    ];
    let rhythms = [Rhythm::Mixed, Rhythm::HalfBar, Rhythm::TwoBars, Rhythm::Bar];
    let mut made = 0;
    for kind in SETS {
        for (_, rule) in FitRule::NAMES {
            for (at, root) in roots.iter().enumerate() {
                let set = Scale::read(&format!("{root} {kind}")).unwrap();
                let home = set.home().unwrap_or(set);
                let table = Table::new(&set, &home, rule);
                for round in 0..3u8 {
                    let request = Request {
                        bars: [4, 8, 16][usize::from(round)],
                        rhythm: rhythms[(3 * at + usize::from(round)) % 4],
                        level: Level::NAMES[(usize::from(round) + at) % 4].1,
                        ..Request::default()
                    };
                    let generator = match Generator::new(&table, &request) {
                        Ok(generator) => generator,
                        Err(e) => {
                            // Only where no chord fits.
                            assert!(table.candidates.is_empty(), "{root} {kind} {rule:?}: {e}");
                            continue;
                        }
                    };
                    assert!(generator.count() > 0);
                    for seed in 0..10 {
                        let drawn = generator.draw(seed, 0);
                        let what = format!("{root} {kind} {rule:?} {seed}");
                        assert_good(&generator, &request, &table, &drawn.unwrap(), &what);
                        made += 1;
                    }
                }
            }
        }
    }
    assert!(made > 15_000, "{made}");
}

#[test]
fn wishes_are_met_wherever_the_count_says_one_exists() {
    let table = table("A minor pentatonic", FitRule::Clear);
    let names = ["Am7", "C", "Dm7", "Fmaj7", "F", "Am"];
    let mut met = 0;
    for (i, a) in names.iter().enumerate() {
        for b in &names[i..] {
            for different in [None, Some(1), Some(2), Some(3), Some(5)] {
                for bars in [1, 2, 3, 4, 8, 12] {
                    let request = Request {
                        bars,
                        start: Some(chord(a)),
                        end: Some(chord(b)),
                        with: vec![chord("C")],
                        without: vec![chord("Cmaj7")],
                        different,
                        ..Request::default()
                    };
                    match Generator::new(&table, &request) {
                        Ok(generator) => {
                            assert!(generator.count() > 0);
                            for seed in 0..5 {
                                let drawn = generator.draw(seed, 0).unwrap();
                                let what = format!("{a} {b} {different:?} {bars}");
                                assert_good(&generator, &request, &table, &drawn, &what);
                                met += 1;
                            }
                        }
                        Err(e) => assert!(
                            [WishKind::With, WishKind::Different].contains(&e.wish),
                            "{e}"
                        ),
                    }
                }
            }
        }
    }
    assert!(met > 1200, "{met}");
}

#[test]
fn the_wish_that_empties_the_space_is_named() {
    let wrong = |set: &str, rule, request: Request| {
        let e = Generator::new(&table(set, rule), &request).err().unwrap();
        format!("{:?}: {e}", e.wish)
    };
    let base = Request::default;
    let inside = FitRule::Inside;
    let minor = "A minor pentatonic";
    assert_eq!(
        wrong(minor, inside, Request { bars: 0, ..base() }),
        "Bars: a progression has 1 to 64 bars, found 0"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                bars: 7,
                rhythm: Rhythm::TwoBars,
                ..base()
            }
        ),
        "Bars: 7 bars have no chord every two bars"
    );
    assert_eq!(
        wrong("C hirajoshi", FitRule::Blues, base()),
        "Rule: no chord of the vocabulary fits over C hirajoshi by the rule blues"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                start: Some(chord("E7")),
                ..base()
            }
        ),
        "Start: E7 does not fit: G# B not in the set"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                end: Some(chord("G")),
                ..base()
            }
        ),
        "End: G does not fit: B not in the set"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                with: vec![chord("F")],
                ..base()
            }
        ),
        "With: F does not fit: F not in the set"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                with: vec![chord("C")],
                without: vec![chord("C")],
                ..base()
            }
        ),
        "With: C is wished for, and left out as well"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                bars: 2,
                different: Some(5),
                ..base()
            }
        ),
        "Different: no progression of 2 bars has 5 different chords with the other wishes"
    );
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                bars: 2,
                rhythm: Rhythm::Bar,
                with: ["C", "D5", "Gsus4", "Am7"].map(chord).to_vec(),
                ..base()
            }
        ),
        "With: no progression of 2 bars holds all the chords wished for"
    );
    let every = table(minor, inside)
        .candidates
        .iter()
        .map(|c| c.chord)
        .collect();
    assert_eq!(
        wrong(
            minor,
            inside,
            Request {
                without: every,
                ..base()
            }
        ),
        "Without: no chord is left"
    );
}

#[test]
fn the_same_seed_gives_the_same_progression() {
    let table = table("A minor pentatonic", FitRule::Inside);
    let generator = Generator::new(&table, &Request::default()).unwrap();
    let shown = |seed, number| -> String {
        let p = generator.draw(seed, number).unwrap();
        generator
            .chords(&p)
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert_eq!(shown(1, 0), shown(1, 0));
    let different: std::collections::HashSet<String> = (0..50).map(|n| shown(1, n)).collect();
    assert!(different.len() > 40);
}

#[test]
fn chords_of_a_kind_are_that_and_nothing_else() {
    // Which degrees above the root a chord may have: stated here independently of the vocabulary.
    let numbers = |chord: &Chord| -> Vec<u8> {
        let above = chord.degrees().iter().skip(1);
        above.map(|d| d.number()).collect()
    };
    let (mut drawn, mut refused, mut stand_ins) = (0, 0, 0);
    for kind in SETS {
        for (_, rule) in FitRule::NAMES {
            let table = table(&format!("A {kind}"), rule);
            for (flavor, exactly) in [
                (Flavor::Triads, &[3, 5][..]),
                (Flavor::Sevenths, &[3, 5, 7]),
            ] {
                for (_, level) in Level::NAMES {
                    let request = Request {
                        flavor,
                        level,
                        ..Request::default()
                    };
                    let generator = match Generator::new(&table, &request) {
                        Ok(generator) => generator,
                        Err(e) => {
                            let none = table.candidates.is_empty();
                            assert!(none || e.wish == WishKind::Flavor, "{kind} {rule:?}: {e}");
                            refused += usize::from(!none);
                            continue;
                        }
                    };
                    for seed in 0..10 {
                        let palette = generator.draw(seed, 0).unwrap().palette;
                        assert!(palette.len() >= 2, "{kind} {rule:?}: {palette:?}");
                        for chord in palette {
                            let stands_in = flavor == Flavor::Sevenths
                                && numbers(&chord) == [4, 5, 7]
                                && chord.to_string().ends_with("7sus4");
                            assert!(
                                stands_in || numbers(&chord) == exactly,
                                "{kind} {rule:?}: {chord}"
                            );
                            stand_ins += usize::from(stands_in);
                            drawn += 1;
                        }
                    }
                }
            }
        }
    }
    assert!(
        drawn > 5000 && refused > 0 && stand_ins > 0,
        "{drawn} {refused} {stand_ins}"
    );
}

#[test]
fn a_kind_of_which_too_few_fit_is_refused_with_the_reason() {
    let asked = |set: &str, rule, flavor, different| {
        let request = Request {
            flavor,
            different,
            ..Request::default()
        };
        Generator::new(&table(set, rule), &request)
    };
    let refused = |set: &str, flavor| {
        let e = asked(set, FitRule::Inside, flavor, None).err().unwrap();
        assert_eq!(e.wish, WishKind::Flavor);
        format!("{e}; {}", e.help())
    };
    insta::assert_snapshot!(refused("A hirajoshi", Flavor::Sevenths), @"Fmaj7 is the only seventh chord or 7sus4 that fits over A hirajoshi by the rule inside, and a progression needs two; ask for any kind of chord, or admit more by the rule home");
    insta::assert_snapshot!(refused("A 1 2 3 #4 5", Flavor::Triads), @"A is the only triad that fits over A 1 2 3 #4 5 by the rule inside, and a progression needs two; ask for any kind of chord, or admit more by the rule home");
    insta::assert_snapshot!(refused("A 1 b2 2 4 5", Flavor::Triads), @"no triad fits over A 1 b2 2 4 5 by the rule inside; ask for any kind of chord, or admit more by the rule home");
    // One chord is enough where one is asked for.
    let one = asked("A hirajoshi", FitRule::Inside, Flavor::Sevenths, Some(1)).unwrap();
    assert_eq!(one.draw(1, 0).unwrap().palette, [chord("Fmaj7")]);
}

#[test]
fn two_triads_are_drawn_without_a_third_root() {
    let request = Request {
        flavor: Flavor::Triads,
        ..Request::default()
    };
    let generator =
        Generator::new(&table("A minor pentatonic", FitRule::Inside), &request).unwrap();
    for seed in 0..100 {
        let mut palette = generator.draw(seed, 0).unwrap().palette;
        palette.sort_by_key(ToString::to_string);
        assert_eq!(palette, [chord("Am"), chord("C")], "{seed}");
    }
}

#[test]
fn the_last_chord_comes_as_often_as_its_weights_say() {
    // Over two leading chords: IV5 and bVII5 of A minor, chi-squared with one degree of freedom.
    let request = Request {
        with: ["Am", "D5", "G5"].map(chord).to_vec(),
        different: Some(3),
        ..Request::default()
    };
    let generator =
        Generator::new(&table("A minor pentatonic", FitRule::Inside), &request).unwrap();
    let weight = |last: &str| -> u128 {
        let starts = generator.starts.iter();
        let own = starts.filter(|s| s.end == Some(1) && s.needed[0].candidate.chord == chord(last));
        own.map(|s| s.palettes(3)).sum()
    };
    let (d, g) = (weight("D5"), weight("G5"));
    assert!(d > 0 && g > d, "{d} {g}");
    // Loops end as they stand, and some progressions on the first chord again.
    let ends = |seed: u32| {
        let p = generator.draw(u64::from(seed), 0).unwrap();
        let last = generator.chords(&p).pop();
        last.filter(|c| p.plan < generator.plans.len() && *c != chord("Am"))
    };
    let ends: Vec<Chord> = (0..6000).filter_map(ends).collect();
    let draws = ends.len() as f64;
    assert!(draws > 3000.0 && draws < 5900.0, "{draws}");
    let found = ends.iter().filter(|c| **c == chord("G5")).count() as f64;
    let expected = g as f64 / (d + g) as f64 * draws;
    let other = draws - expected;
    let chi = (found - expected).powi(2) * (1.0 / expected + 1.0 / other);
    assert!(chi < 10.83, "{found} {expected}");
}

#[test]
fn a_seventh_without_a_third_stands_in_where_sevenths_are_few() {
    let request = Request {
        flavor: Flavor::Sevenths,
        ..Request::default()
    };
    let generator =
        Generator::new(&table("A minor pentatonic", FitRule::Inside), &request).unwrap();
    let mut names: Vec<String> = (0..40)
        .flat_map(|seed| generator.draw(seed, 0).unwrap().palette)
        .map(|chord| chord.to_string())
        .collect();
    names.sort();
    names.dedup();
    // Am7 alone would be no progression. It begins, and D7sus4 leads back to it.
    assert_eq!(names, ["A7sus4", "Am7", "D7sus4"]);
}

#[test]
fn a_bar_that_two_chords_share_has_two() {
    let table = table("C major pentatonic", FitRule::Home);
    for bars in [2, 3, 4, 8, 12, 16] {
        for rhythm in [Rhythm::Mixed, Rhythm::HalfBar] {
            let request = Request {
                bars,
                rhythm,
                ..Request::default()
            };
            let generator = Generator::new(&table, &request).unwrap();
            let mut shared = 0;
            for seed in 0..200 {
                let drawn = generator.draw(seed, 0).unwrap();
                for bar in drawn.bars.iter().filter(|bar| bar.len() > 1) {
                    assert_ne!(bar[0], bar[1], "{drawn:?}");
                    shared += 1;
                }
            }
            assert!(shared > 50, "{bars} {rhythm:?} {shared}");
        }
    }
}

#[test]
fn what_can_be_is_what_has_a_way() {
    let table = table("A minor pentatonic", FitRule::Home);
    let mut none = 0;
    for bars in [1, 2, 3, 4, 8, 12] {
        for rhythm in [Rhythm::Mixed, Rhythm::Bar, Rhythm::HalfBar] {
            let request = Request {
                bars,
                rhythm,
                ..Request::default()
            };
            let generator = Generator::new(&table, &request).unwrap();
            for net in &generator.nets {
                for size in 1..=MOST_CHORDS {
                    for end in [None, Some(0), Some(1)].into_iter().take(1 + size.min(2)) {
                        let ways = generator.ways(net, size, end);
                        let can = net.can(&generator.possible(size), size, end);
                        assert_eq!(can, ways > 0, "{bars} {rhythm:?} {size} {end:?}");
                        none += usize::from(ways == 0);
                    }
                }
            }
        }
    }
    assert!(none > 20, "{none}");
}
