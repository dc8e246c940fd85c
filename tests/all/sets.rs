//! What fits over five-note sets, against enumerations that do not go through our own code.

use std::collections::BTreeSet;

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::{FitRule, Piece};
use fivefold::generate::{Generator, Request, Table, all_chords, fit};
use fivefold::theory::ScaleKind;
use fivefold::theory::{Chord, PitchName, Scale, symbol};
use fivefold::view::{CheckReport, write_check_json};

const ROOTS: [&str; 12] = [
    "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
];

/// Names of the twelve semitones above a tonic, as the lists below write them.
const DEGREES: [&str; 12] = [
    "1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7",
];

/// Qualities by their semitones above the root (general knowledge, not our tables).
const QUALITIES: [(&str, &[u8]); 27] = [
    ("5", &[0, 7]),
    ("", &[0, 4, 7]),
    ("m", &[0, 3, 7]),
    ("dim", &[0, 3, 6]),
    ("aug", &[0, 4, 8]),
    ("sus2", &[0, 2, 7]),
    ("sus4", &[0, 5, 7]),
    ("sus2sus4", &[0, 2, 5, 7]),
    ("6", &[0, 4, 7, 9]),
    ("m6", &[0, 3, 7, 9]),
    ("6/9", &[0, 4, 7, 9, 2]),
    ("m6/9", &[0, 3, 7, 9, 2]),
    ("add9", &[0, 4, 7, 2]),
    ("m(add9)", &[0, 3, 7, 2]),
    ("m(add11)", &[0, 3, 7, 5]),
    ("7", &[0, 4, 7, 10]),
    ("m7", &[0, 3, 7, 10]),
    ("maj7", &[0, 4, 7, 11]),
    ("mMaj7", &[0, 3, 7, 11]),
    ("m7b5", &[0, 3, 6, 10]),
    ("dim7", &[0, 3, 6, 9]),
    ("9", &[0, 4, 7, 10, 2]),
    ("m9", &[0, 3, 7, 10, 2]),
    ("m7(add11)", &[0, 3, 7, 10, 5]),
    ("7sus2", &[0, 2, 7, 10]),
    ("7sus4", &[0, 5, 7, 10]),
    ("9sus4", &[0, 2, 5, 7, 10]),
];

/// A set by name and semitones, with qualities and the degrees they stand on.
type Listed = (
    &'static str,
    &'static [u8],
    &'static [(&'static str, &'static str)],
);

/// Chords wholly inside a set. Source: an independent enumeration of twelve roots by 38 qualities; each row names a
/// quality and all the degrees of the tonic it stands on.
const INSIDE: [Listed; 7] = [
    ("minor pentatonic", &[0, 3, 5, 7, 10], &MINOR),
    (
        "major pentatonic",
        &[0, 2, 4, 7, 9],
        &[
            ("", "1"),
            ("6", "1"),
            ("add9", "1"),
            ("6/9", "1"),
            ("m", "6"),
            ("m7", "6"),
            ("sus2", "1 2 5"),
            ("sus4", "2 5 6"),
            ("7sus4", "2 6"),
            ("9sus4", "2"),
            ("5", "1 2 5 6"),
            ("7", ""),
            ("maj7", ""),
            ("dim", ""),
            ("aug", ""),
        ],
    ),
    (
        "minor blues",
        &[0, 3, 5, 6, 7, 10],
        &[
            ("m", "1 b3"),
            ("m6", "b3"),
            ("m(add9)", "b3"),
            ("m6/9", "b3"),
            ("dim", "1"),
            ("m7b5", "1"),
            ("", "b3"),
            ("m7", "1"),
        ],
    ),
    (
        "hirajoshi",
        &[0, 2, 3, 7, 8],
        &[
            ("m", "1"),
            ("m(add9)", "1"),
            ("", "b6"),
            ("maj7", "b6"),
            ("sus2", "1"),
            ("sus4", "5"),
        ],
    ),
    (
        "kumoi",
        &[0, 2, 3, 7, 9],
        &[
            ("m", "1"),
            ("m6", "1"),
            ("m(add9)", "1"),
            ("m6/9", "1"),
            ("sus2", "1 5"),
            ("sus4", "2 5"),
            ("dim", "6"),
            ("m7b5", "6"),
            ("7sus4", "2"),
        ],
    ),
    (
        "in-sen",
        &[0, 1, 5, 7, 10],
        &[
            ("7sus4", "1"),
            ("sus4", "1 4"),
            ("sus2", "4 b7"),
            ("m", "b7"),
            ("m6", "b7"),
            ("m(add9)", "b7"),
            ("m6/9", "b7"),
            ("dim", "5"),
            ("m7b5", "5"),
        ],
    ),
    (
        "dominant pentatonic",
        &[0, 2, 4, 7, 10],
        &[
            ("7", "1"),
            ("9", "1"),
            ("", "1"),
            ("add9", "1"),
            ("7sus2", "1"),
            ("m", "5"),
            ("m6", "5"),
            ("dim", "3"),
            ("m7b5", "3"),
        ],
    ),
];

const MINOR: [(&str, &str); 19] = [
    ("5", "1 b3 4 b7"),
    ("", "b3"),
    ("m", "1"),
    ("sus2", "b3 4 b7"),
    ("sus4", "1 4 b7"),
    ("6", "b3"),
    ("add9", "b3"),
    ("6/9", "b3"),
    ("m7", "1"),
    ("m(add11)", "1"),
    ("m7(add11)", "1"),
    ("7sus4", "1 4"),
    ("7sus2", "4"),
    ("9sus4", "4"),
    ("sus2sus4", "4 b7"),
    ("7", ""),
    ("maj7", ""),
    ("dim", ""),
    ("aug", ""),
];

fn semitones(quality: &str) -> &'static [u8] {
    QUALITIES.iter().find(|q| q.0 == quality).unwrap().1
}

/// Whether every tone of a quality on a degree is among the notes of a set, by arithmetic alone.
fn within(set: &[u8], up: u8, tones: &[u8]) -> bool {
    tones.iter().all(|t| set.contains(&((up + t) % 12)))
}

fn inside(chord: &str, set: &Scale) -> bool {
    fit(&symbol::read(chord).unwrap(), set, &set.home().unwrap()).inside()
}

#[test]
fn the_published_lists_are_what_arithmetic_finds() {
    for (name, set, rows) in INSIDE {
        for (quality, degrees) in rows {
            let found: Vec<&str> = (0..12u8)
                .filter(|up| within(set, *up, semitones(quality)))
                .map(|up| DEGREES[usize::from(up)])
                .collect();
            assert_eq!(found.join(" "), *degrees, "{name}: {quality:?}");
        }
    }
}

#[test]
fn inside_is_what_the_lists_say_on_all_twelve_roots() {
    for (name, set, rows) in INSIDE {
        for (at, root) in (0u8..).zip(ROOTS) {
            let scale = Scale::read(&format!("{root} {name}")).unwrap();
            for (quality, degrees) in rows {
                let listed: Vec<&str> = degrees.split(' ').collect();
                for up in 0..12u8 {
                    let chord = format!("{}{quality}", ROOTS[usize::from((at + up) % 12)]);
                    let expected = listed.contains(&DEGREES[usize::from(up)]);
                    assert_eq!(inside(&chord, &scale), expected, "{chord} over {scale}");
                }
            }
            // And every other quality by arithmetic.
            for (quality, tones) in QUALITIES {
                for up in 0..12u8 {
                    let chord = format!("{}{quality}", ROOTS[usize::from((at + up) % 12)]);
                    let expected = within(set, up, tones);
                    assert_eq!(inside(&chord, &scale), expected, "{chord} over {scale}");
                }
            }
        }
    }
}

#[test]
fn the_table_holds_every_sound_of_the_lists_once() {
    for (name, set, _) in INSIDE {
        for (at, root) in (0u8..).zip(ROOTS) {
            let scale = Scale::read(&format!("{root} {name}")).unwrap();
            let table = Table::new(&scale, &scale.home().unwrap(), FitRule::Inside);
            let sounds: Vec<BTreeSet<u8>> =
                table.candidates.iter().map(|c| classes(&c.chord)).collect();
            let different: BTreeSet<&BTreeSet<u8>> = sounds.iter().collect();
            assert_eq!(different.len(), sounds.len(), "{scale}");
            for (quality, tones) in QUALITIES {
                for up in 0..12u8 {
                    let sound: BTreeSet<u8> = tones.iter().map(|t| (at + up + t) % 12).collect();
                    let expected = within(set, up, tones);
                    assert_eq!(
                        sounds.contains(&sound),
                        expected,
                        "{quality} on {up}: {scale}"
                    );
                }
            }
        }
    }
}

/// Which notes of the set lie a semitone above a chord tone, without being one. Source: Nettles and Graf's test of
/// avoid notes, applied by definition.
const OVER_MINOR: [(&str, &str); 21] = [
    ("i", ""),
    ("i7", ""),
    ("bIII", ""),
    ("bIIImaj7", ""),
    ("bVI", ""),
    ("bVImaj7", ""),
    ("iv", ""),
    ("iv7", ""),
    ("I5", ""),
    ("bIII5", ""),
    ("IV5", ""),
    ("bVI5", ""),
    ("bVII5", ""),
    ("v", "b3"),
    ("v7", "b3"),
    ("V5", "b3"),
    ("bVII", "b3"),
    ("bVII7", "b3"),
    ("IV7", "b7"),
    ("V7", "1 b3"),
    ("I7", "4"),
];

const OVER_MAJOR: [(&str, &str); 16] = [
    ("I", ""),
    ("Imaj7", ""),
    ("ii", ""),
    ("ii7", ""),
    ("IV", ""),
    ("IVmaj7", ""),
    ("vi", ""),
    ("vi7", ""),
    ("V", "1"),
    ("V7", "1"),
    ("iii", "1"),
    ("iii7", "1"),
    ("viiø7", "1"),
    ("IV7", "3"),
    ("I7", ""),
    ("bVII", ""),
];

fn checked(document: &str) -> serde_json::Value {
    let (piece, _) = Piece::read(document).unwrap();
    let arrangement =
        Arrangement::new(&piece, piece.unfold().unwrap(), Excerpt::default()).unwrap();
    let report = CheckReport {
        piece: &piece,
        arrangement: &arrangement,
    };
    let mut out = Vec::new();
    write_check_json(&report, &mut out).unwrap();
    serde_json::from_slice(&out).unwrap()
}

fn class(name: &str) -> u8 {
    PitchName::read(name).unwrap().pitch_class().value()
}

#[test]
fn rubs_in_every_key_are_the_avoid_notes_of_the_definition() {
    for (mode, table) in [("minor", &OVER_MINOR[..]), ("major", &OVER_MAJOR[..])] {
        for root in ROOTS {
            let chart: Vec<&str> = table.iter().map(|row| row.0).collect();
            let document = format!(
                "key = \"{root} {mode}\"\nset = \"{root} {mode} pentatonic\"\nending = \"none\"\n[sections]\nA = \"| {} |\"\n",
                chart.join(" | ")
            );
            let report = checked(&document);
            let bars: Vec<&serde_json::Value> = report["bars"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|bar| bar["index"].as_i64().unwrap() > 0)
                .collect();
            assert_eq!(bars.len(), table.len());
            for ((chord, avoid), bar) in table.iter().zip(bars) {
                let rubs = bar["chords"][0]["fit"]["rubs"].as_array().unwrap();
                let mut found: Vec<usize> = rubs
                    .iter()
                    .map(|rub| {
                        let note = class(rub["note"].as_str().unwrap());
                        let against = class(rub["against"].as_str().unwrap());
                        assert_eq!((note + 11) % 12, against, "{chord}");
                        usize::from((note + 12 - class(root)) % 12)
                    })
                    .collect();
                found.sort_unstable();
                let found: Vec<&str> = found.into_iter().map(|up| DEGREES[up]).collect();
                assert_eq!(found.join(" "), *avoid, "{chord} in {root} {mode}");
            }
        }
    }
}

fn classes(chord: &Chord) -> BTreeSet<u8> {
    chord.pitch_classes().iter().map(|c| c.value()).collect()
}

/// Whether a rule admits a chord, worked out again from the notes alone.
fn keeps(rule: FitRule, chord: &Chord, set: &Scale, home: &Scale) -> bool {
    let tones = classes(chord);
    let notes = |scale: &Scale| -> BTreeSet<u8> {
        scale.pitch_classes().iter().map(|c| c.value()).collect()
    };
    let rubs = notes(set)
        .into_iter()
        .any(|n| !tones.contains(&n) && tones.contains(&((n + 11) % 12)));
    let up = (chord.root().pitch_class().value() + 12 - set.root().pitch_class().value()) % 12;
    let shape: BTreeSet<u8> = tones
        .iter()
        .map(|t| (t + 12 - chord.root().pitch_class().value()) % 12)
        .collect();
    let is = |list: &[u8]| shape == list.iter().copied().collect();
    let dominant = is(&[0, 4, 7])
        || is(&[0, 4, 7, 9])
        || is(&[0, 4, 7, 10])
        || is(&[0, 2, 4, 7, 10])
        || is(&[0, 2, 4, 7, 9, 10]);
    let minor = notes(set).contains(&((set.root().pitch_class().value() + 3) % 12))
        && set.name().contains("minor");
    match rule {
        FitRule::Inside => tones.is_subset(&notes(set)),
        FitRule::Home => tones.is_subset(&notes(home)),
        FitRule::HomeWithFive => {
            let scale = notes(home);
            let tonic = set.root().pitch_class().value();
            let has = |up: u8| scale.contains(&((tonic + up) % 12));
            let five = has(3) && !has(4) && has(7) && up == 7;
            let major = is(&[0, 4, 7]) || is(&[0, 4, 7, 10]);
            let strange = tones.difference(&scale).count();
            strange == 0 || five && major && strange == 1
        }
        FitRule::Clear => tones.is_subset(&notes(home)) && !rubs,
        FitRule::Blues => {
            tones.is_subset(&notes(home))
                || dominant && [0, 5, 7].contains(&up)
                || minor && is(&[0, 3, 4, 7, 10]) && [0, 7].contains(&up)
                || minor && is(&[0, 4, 7, 10]) && up == 8
        }
    }
}

/// Every named five-note set and the blues hexatonics.
fn named_sets() -> Vec<&'static str> {
    let kinds = ScaleKind::all().iter();
    let named: Vec<&str> = kinds
        .filter(|k| k.is_five_note() || k.is_blues())
        .map(|k| k.name())
        .collect();
    assert!(named.len() >= 14, "{named:?}");
    named
}

const RULES: [FitRule; 5] = [
    FitRule::Inside,
    FitRule::Clear,
    FitRule::Home,
    FitRule::HomeWithFive,
    FitRule::Blues,
];

#[test]
fn every_chord_of_every_table_keeps_its_rule_and_no_other_is_left_out() {
    for name in named_sets() {
        for root in ROOTS {
            let set = Scale::read(&format!("{root} {name}")).unwrap();
            let home = set.home().unwrap();
            let all = all_chords(&set, &home);
            for rule in RULES {
                if rule == FitRule::Blues && !set.kind().unwrap().is_blues() {
                    assert!(Table::new(&set, &home, rule).candidates.is_empty());
                    continue;
                }
                let table = Table::new(&set, &home, rule);
                let sounds: BTreeSet<BTreeSet<u8>> =
                    table.candidates.iter().map(|c| classes(&c.chord)).collect();
                for candidate in &all {
                    let kept = keeps(rule, &candidate.chord, &set, &home);
                    let admitted = candidate.fit.admits(rule) == Some(true);
                    assert_eq!(admitted, kept, "{} {rule:?} {set}", candidate.chord);
                    if kept {
                        assert!(sounds.contains(&classes(&candidate.chord)));
                    }
                }
            }
        }
    }
}

#[test]
fn a_thousand_progressions_for_every_set_and_rule_fit() {
    for name in named_sets() {
        for rule in RULES {
            let mut drawn = 0;
            for (at, root) in (0u64..).zip(ROOTS) {
                let set = Scale::read(&format!("{root} {name}")).unwrap();
                let home = set.home().unwrap();
                if rule == FitRule::Blues && !set.kind().unwrap().is_blues() {
                    continue;
                }
                let table = Table::new(&set, &home, rule);
                let generator = Generator::new(&table, &Request::default()).unwrap();
                for seed in (0..84).map(|i| at * 1000 + i) {
                    let progression = generator.draw(seed, seed % 3).unwrap();
                    let bars = progression.chords_by_bar();
                    let chords = bars.concat();
                    let about = || format!("seed {seed} {rule:?} over {set}: {chords:?}");
                    assert_eq!(bars.len(), 8, "{}", about());
                    assert!(
                        bars.iter().all(|b| (1..=2).contains(&b.len())),
                        "{}",
                        about()
                    );
                    // What the blues rule admits in a jazz form alone is tested with the forms.
                    let jazz = generator.plan(&progression).unwrap().form == "jazz blues";
                    assert!(!jazz || rule == FitRule::Blues);
                    let palette = &progression.palette;
                    assert!((1..=6).contains(&palette.len()), "{}", about());
                    for (i, chord) in palette.iter().enumerate() {
                        let kept = jazz || keeps(rule, chord, &set, &home);
                        assert!(kept, "{chord}: {}", about());
                        assert!(chords.contains(chord), "{chord} unused: {}", about());
                        for other in &palette[i + 1..] {
                            assert_ne!(classes(chord), classes(other), "{}", about());
                        }
                    }
                    assert!(chords.iter().all(|c| palette.contains(c)), "{}", about());
                    assert_eq!(chords[0], palette[0], "{}", about());
                    drawn += 1;
                }
            }
            assert!(
                drawn == 0 && rule == FitRule::Blues || drawn >= 1000,
                "{name}"
            );
        }
    }
}

#[test]
fn wishes_are_met_over_every_set() {
    for name in named_sets() {
        for (at, root) in (0u64..).zip(ROOTS) {
            let set = Scale::read(&format!("{root} {name}")).unwrap();
            let home = set.home().unwrap();
            let table = Table::new(&set, &home, FitRule::Home);
            let pick = |i: u64| {
                let count = table.candidates.len() as u64;
                table.candidates[(i % count) as usize].chord
            };
            let [start, end, with, without] = [at, at + 5, at + 9, at + 14].map(pick);
            let kept = [start, end, with];
            if kept.iter().any(|c| classes(c) == classes(&without)) {
                continue;
            }
            let request = Request {
                start: Some(start),
                end: Some(end),
                with: vec![with],
                without: vec![without],
                different: Some(4),
                ..Request::default()
            };
            let generator = Generator::new(&table, &request).unwrap();
            for seed in 0..20 {
                let chords = generator.chords(&generator.draw(seed, 0).unwrap());
                let sounds: BTreeSet<BTreeSet<u8>> = chords.iter().map(classes).collect();
                assert_eq!(chords[0], start, "{set}");
                assert_eq!(chords.last(), Some(&end), "{set}");
                assert!(chords.contains(&with), "{with} over {set}: {chords:?}");
                assert!(!sounds.contains(&classes(&without)), "{set}");
                assert_eq!(sounds.len(), 4, "{set}: {chords:?}");
            }
        }
    }
}
