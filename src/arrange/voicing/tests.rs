use std::collections::HashSet;

use super::*;
use crate::theory::symbol;

fn chord(text: &str) -> Chord {
    *symbol::read(text).unwrap().chord().unwrap()
}

fn register(voices: usize) -> Register {
    Register {
        low: KeyNumber::clamped(52),
        high: KeyNumber::clamped(76),
        voices,
    }
}

fn solved(symbols: &[&str], register: &Register, ends: &Ends) -> Vec<Voicing> {
    let distinct: Vec<Chord> = symbols.iter().map(|s| chord(s)).collect();
    let distinct: Vec<&Chord> = distinct.iter().collect();
    let candidates: Vec<Vec<Voicing>> = distinct.iter().map(|c| voicings(c, register)).collect();
    let chords: Vec<usize> = (0..symbols.len()).collect();
    let taken = Row::new(&distinct, &candidates, &chords, register).solve(ends);
    taken
        .iter()
        .enumerate()
        .map(|(i, at)| candidates[i][*at])
        .collect()
}

/// What a row costs, without the tie-breaker.
fn total(symbols: &[&str], voicings: &[Voicing], register: &Register, seam: bool) -> u32 {
    let own = symbols.iter().zip(voicings);
    let own: u32 = own.map(|(s, v)| strain(&chord(s), v, register)).sum();
    let steps: u32 = voicings.windows(2).map(|w| change(&w[0], &w[1])).sum();
    let back = if seam {
        change(&voicings[voicings.len() - 1], &voicings[0])
    } else {
        0
    };
    own + steps + back
}

#[test]
fn tones_that_make_the_chord_are_kept() {
    // (symbol, voices, degrees that must sound): thirds and sevenths, and what the symbol is about.
    for (text, voices, must) in [
        ("C", 3, &[0, 4, 7][..]),
        ("Am7", 4, &[9, 0, 4, 7]),
        ("G7", 3, &[11, 5]),
        ("C9", 4, &[4, 10, 2]),
        ("C13", 4, &[4, 10, 9]),
        ("C7b9", 4, &[4, 10, 1]),
        ("C7#5", 3, &[4, 10, 8]),
        ("Cmaj7#11", 4, &[4, 11, 6]),
        ("C7alt", 4, &[4, 10]),
        ("C6/9", 4, &[4, 9, 2]),
        ("Csus4", 3, &[0, 5, 7]),
        ("C9sus4", 4, &[5, 10, 2]),
        ("Bm7b5", 4, &[2, 9, 5]),
        ("C5", 4, &[0, 7]),
    ] {
        for voicing in voicings(&chord(text), &register(voices)) {
            let classes: Vec<u8> = voicing.iter().map(|k| k % 12).collect();
            assert!(
                must.iter().all(|class| classes.contains(class)),
                "{text}: {voicing:?}"
            );
            assert_eq!(voicing.len(), voices, "{text}: {voicing:?}");
        }
    }
}

#[test]
fn no_minor_ninth_and_no_foreign_tone_in_any_voicing() {
    for root in ["C", "Db", "E", "F#", "Ab", "Bb"] {
        for suffix in [
            "", "m", "dim", "aug", "7", "maj7", "m7", "dim7", "m7b5", "mMaj7", "6", "m6", "9",
            "maj9", "m9", "11", "m11", "13", "maj13", "sus2", "sus4", "7sus4", "add9", "6/9",
            "7b9", "7#9", "7#11", "7b13", "7alt", "maj7#11", "5", "13b9", "m7add11",
        ] {
            let text = format!("{root}{suffix}");
            let chord = chord(&text);
            let classes: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
            for voices in 2..=6 {
                let all = voicings(&chord, &register(voices));
                assert!(!all.is_empty(), "{text}");
                for voicing in all {
                    assert!(!has_minor_ninth(&voicing), "{text}: {voicing:?}");
                    assert!(
                        voicing.iter().all(|k| classes.contains(&(k % 12))),
                        "{text}: {voicing:?}"
                    );
                    assert!(
                        voicing.windows(2).all(|w| w[0] < w[1]),
                        "{text}: {voicing:?}"
                    );
                    assert!(
                        voicing.iter().all(|k| (52..=76).contains(k)),
                        "{text}: {voicing:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_narrow_register_still_has_a_voicing() {
    let narrow = Register {
        low: KeyNumber::clamped(60),
        high: KeyNumber::clamped(76),
        voices: 6,
    };
    for text in ["C", "F#13", "Bb7alt", "E5", "Gdim7", "Aaug"] {
        assert!(!voicings(&chord(text), &narrow).is_empty(), "{text}");
    }
}

#[test]
fn the_row_costs_as_little_as_brute_force_finds() {
    // Few candidates, so that every row can be tried.
    let small = Register {
        low: KeyNumber::clamped(55),
        high: KeyNumber::clamped(72),
        voices: 3,
    };
    for symbols in [
        &["C", "Am", "F", "G"][..],
        &["Am7", "D9", "Gmaj7", "C6"],
        &["Em", "B7", "Em", "Am"],
        &["C", "Ab", "E"],
        &["Dm7b5", "G7b9"],
        &["F"],
    ] {
        let candidates: Vec<Vec<Voicing>> = symbols
            .iter()
            .map(|s| voicings(&chord(s), &small))
            .collect();
        for (ends, seam) in [
            (Ends::Loop, true),
            (
                Ends::Open {
                    before: None,
                    after: None,
                },
                false,
            ),
        ] {
            let mut least = u32::MAX;
            let mut at = vec![0; symbols.len()];
            'all: loop {
                let row: Vec<Voicing> = at
                    .iter()
                    .enumerate()
                    .map(|(i, a)| candidates[i][*a])
                    .collect();
                least = least.min(total(symbols, &row, &small, seam));
                for i in 0.. {
                    if i == at.len() {
                        break 'all;
                    }
                    at[i] += 1;
                    if at[i] < candidates[i].len() {
                        break;
                    }
                    at[i] = 0;
                }
            }
            assert_eq!(
                total(symbols, &solved(symbols, &small, &ends), &small, seam),
                least,
                "{symbols:?} {ends:?}"
            );
        }
    }
}

#[test]
fn a_row_follows_and_leads() {
    // Down to G2, so that the voicings lie well above the bass.
    let r = Register {
        low: KeyNumber::clamped(43),
        ..register(4)
    };
    let before = Voicing::of(&[45, 52, 55, 60]);
    let row = solved(
        &["Am7", "D7"],
        &r,
        &Ends::Open {
            before: Some(before),
            after: None,
        },
    );
    assert_eq!(row[0], before);
    let after = Voicing::of(&[43, 53, 59, 62]);
    let row = solved(
        &["Dm7", "G7"],
        &r,
        &Ends::Open {
            before: None,
            after: Some(after),
        },
    );
    assert_eq!(row[1], after);
}

#[test]
fn the_movement_of_triads_is_the_published_measure() {
    // tests/reference/triads_voice_leading.tsv: least sum over one-to-one pairings, by scipy's assignment solver.
    let table = include_str!("../../../tests/reference/triads_voice_leading.tsv");
    let wide = Register {
        low: KeyNumber::clamped(48),
        high: KeyNumber::clamped(84),
        voices: 3,
    };
    let name = |text: &str| -> Chord { chord(text) };
    let mut rows = 0;
    let mut cache: HashMap<String, Vec<Voicing>> = HashMap::new();
    for line in table
        .lines()
        .filter(|l| !l.starts_with('#') && !l.is_empty())
    {
        let cells: Vec<&str> = line.split('\t').collect();
        let mut of = |text: &str| -> Vec<Voicing> {
            cache
                .entry(text.to_owned())
                .or_insert_with(|| {
                    let mut all = Vec::new();
                    for set in tone_sets(&name(text), 3) {
                        place(&set, &wide, &mut Vec::new(), &mut all);
                    }
                    all
                })
                .clone()
        };
        let (from, to) = (of(cells[0]), of(cells[1]));
        let least = from
            .iter()
            .flat_map(|a| to.iter().map(move |b| movement(a, b)))
            .min()
            .unwrap();
        assert_eq!(least.to_string(), cells[2], "{line}");
        rows += 1;
    }
    assert_eq!(rows, 1600);
}

/// Distances beyond the cache are computed anew, with the same result.
#[test]
fn a_row_of_many_pairs_is_solved_like_one_of_few() {
    let wide = Register {
        low: KeyNumber::clamped(36),
        high: KeyNumber::clamped(96),
        voices: 4,
    };
    let roots = [
        "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
    ];
    let kinds = ["m7", "7", "maj7", "m7b5"];
    let symbols: Vec<String> = kinds
        .iter()
        .flat_map(|kind| roots.map(|root| format!("{root}{kind}")))
        .collect();
    let candidates: Vec<Vec<Voicing>> =
        symbols.iter().map(|s| voicings(&chord(s), &wide)).collect();
    // Every pair of two chords comes once or more: steps of 1 to 47 through the list.
    let chords: Vec<usize> = (1..=47)
        .flat_map(|step| (0..48).map(move |i| i * step % 48))
        .collect();
    let distinct: Vec<Chord> = symbols.iter().map(|s| chord(s)).collect();
    let distinct: Vec<&Chord> = distinct.iter().collect();
    let row = Row::new(&distinct, &candidates, &chords, &wide);
    let pairs: HashSet<(usize, usize)> = chords.windows(2).map(|w| (w[0], w[1])).collect();
    assert!(!row.moves.is_empty() && row.moves.len() < pairs.len());
    let none = Row {
        moves: HashMap::new(),
        ..Row::new(&distinct, &candidates, &chords, &wide)
    };
    assert_eq!(row.solve(&Ends::Loop), none.solve(&Ends::Loop));
}
