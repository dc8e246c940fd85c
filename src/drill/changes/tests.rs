use std::collections::HashMap;

use super::*;
use crate::neck::Tuning;
use crate::theory::symbol;
use crate::time::{TICKS_PER_QUARTER, Tick};

fn chords(text: &str) -> Vec<Chord> {
    let read = |word: &str| *symbol::read(word).unwrap().chord().unwrap();
    text.split(' ').map(read).collect()
}

fn drill(text: &str, step: ChangeStep) -> Changes {
    Changes {
        neck: Neck::standard(),
        chords: chords(text),
        step,
        beats: 4,
        seed: 1,
    }
}

const USUAL: &str = "C A Am G E Em D Dm";

fn all_alike(_: &str) -> u64 {
    100
}

#[test]
fn ready_orders_hold_the_same_chords() {
    let list = |order: ChangeOrder| order.chords().unwrap();
    assert_eq!(list(ChangeOrder::Usual), chords(USUAL));
    let easy = list(ChangeOrder::Easy);
    assert_eq!(easy[..5], chords("Em E Am A D"));
    for chord in list(ChangeOrder::Usual) {
        assert_eq!(easy.iter().filter(|c| **c == chord).count(), 1);
    }
}

#[test]
fn the_usual_chords_have_the_open_shapes_that_are_taught() {
    // Common practice; G is taught with its second string open, and stopped at fret 3.
    let taught: [&[&str]; 8] = [
        &["x32010"],
        &["x02220"],
        &["x02210"],
        &["320003", "320033"],
        &["022100"],
        &["022000"],
        &["xx0232"],
        &["xx0231"],
    ];
    let shapes = drill(USUAL, ChangeStep::All).shapes().unwrap();
    for (shape, taught) in shapes.iter().zip(taught) {
        assert!(taught.contains(&&*shape.frets_text()), "{shape:?}");
        let frets: Vec<u8> = shape.frets().iter().flatten().map(|f| f.value()).collect();
        assert!(frets.contains(&0) && frets.iter().all(|f| *f <= 4));
    }
}

#[test]
fn each_pair_comes_and_no_chord_follows_itself() {
    for (list, seed) in [(USUAL, 1), (USUAL, 2), ("Am C", 3), ("F Bm Am", 4)] {
        let drill = Changes {
            seed,
            ..drill(list, ChangeStep::Changes)
        };
        let walk = drill.walk(usize::MAX, all_alike);
        let mut met = vec![vec![false; drill.chords.len()]; drill.chords.len()];
        for step in walk.windows(2) {
            assert_ne!(step[0], step[1]);
            met[step[0].min(step[1])][step[0].max(step[1])] = true;
        }
        let count = met.iter().flatten().filter(|met| **met).count();
        assert_eq!(count, drill.pair_count());
        assert!(walk.len() > LEAST_CHANGES.max(count * 3 / 2));
        // No list needs more than one way round for each new pair.
        assert!(walk.len() <= 1 + 2 * count + LEAST_CHANGES.max(count.div_ceil(2)));
        assert_eq!(walk, drill.walk(usize::MAX, all_alike));
        assert_eq!(drill.walk(5, all_alike).len(), 6);
    }
}

#[test]
fn a_pair_that_failed_comes_more_often() {
    let failed = |pair: &str| pair_weight(if pair == "Am to C" { 4 } else { 0 }, 4);
    let count = |weight: &dyn Fn(&str) -> u64| {
        let mut counts: HashMap<String, u32> = HashMap::new();
        for seed in 0..200 {
            let drill = Changes {
                seed,
                ..drill(USUAL, ChangeStep::Changes)
            };
            for step in drill.walk(usize::MAX, weight).windows(2) {
                let (one, other) = (&drill.chords[step[0]], &drill.chords[step[1]]);
                *counts
                    .entry(pair_name(one, other, &drill.neck))
                    .or_default() += 1;
            }
        }
        counts["Am to C"]
    };
    let (often, else_) = (count(&failed), count(&all_alike));
    assert!(often * 2 > else_ * 3, "{often} and {else_} times");
}

#[test]
fn weights_of_pairs() {
    assert_eq!(pair_weight(0, 0), 100);
    assert_eq!(pair_weight(0, 9), 100);
    assert_eq!(pair_weight(3, 6), 250);
    assert_eq!(pair_weight(6, 6), 400);
}

#[test]
fn names_stay_the_same() {
    let neck = Neck::standard();
    let (am, c) = (chords("Am")[0], chords("C")[0]);
    assert_eq!(pair_name(&am, &c, &neck), "Am to C");
    assert_eq!(pair_name(&c, &am, &neck), "Am to C");
    let all = drill("C A", ChangeStep::All);
    assert_eq!(all.name(), "changes C A, led, 4 beats");
    let one = Changes {
        beats: 1,
        ..drill("C A", ChangeStep::Changes)
    };
    assert_eq!(one.name(), "changes C A, led, 1 beat, changes alone");
    assert_eq!(
        drill("C Am", ChangeStep::All).free().unwrap().name,
        "changes Am to C, free"
    );
}

#[test]
fn the_document_reads_back() {
    for (list, step) in [
        (USUAL, ChangeStep::All),
        ("Am C", ChangeStep::Strings),
        ("F#m7b5 Ebmaj7", ChangeStep::Changes),
    ] {
        for beats in [1, 3, 4, 16] {
            let drill = Changes {
                beats,
                ..drill(list, step)
            };
            let walk = drill.walk(usize::MAX, all_alike);
            let exercise = drill.exercise(&walk, TempoPlan::steady(60)).unwrap();
            let text = exercise.piece.to_document();
            let (read, reading) = Piece::read(&text).unwrap();
            assert!(reading.warnings.is_empty(), "{:?}", reading.warnings);
            assert_eq!(read.to_document(), text);
            assert_eq!(read.parts, exercise.piece.parts);
        }
    }
}

#[test]
fn the_changes_are_so_many_beats_apart() {
    let drill = Changes {
        beats: 3,
        ..drill("C G", ChangeStep::Changes)
    };
    let exercise = drill.exercise(&[0, 1, 0], TempoPlan::steady(60)).unwrap();
    assert_eq!(
        exercise.piece.sections[0].1,
        "| C / / G |\n| / / C / |\n| / / / / |"
    );
    assert_eq!(exercise.facts, ["C to G"]);
}

#[test]
fn what_cannot_be_played_is_refused() {
    let few = drill("C", ChangeStep::All).check().unwrap_err();
    assert_eq!(
        few.to_string(),
        "changes are from chord to chord, found 1 chord"
    );
    let many = Changes {
        chords: vec![chords("C")[0]; 41],
        ..drill(USUAL, ChangeStep::All)
    };
    let many = many.check().unwrap_err();
    assert_eq!(
        many.to_string(),
        "at most 40 chords are changed in a take, found 41"
    );
    // Four strings on one pitch: E and G lie three frets apart, the C eight above the open strings.
    let none = Changes {
        neck: Neck::of(Tuning::read("E2 E2 E2 E2").unwrap()),
        ..drill("C Am", ChangeStep::All)
    };
    let none = none.check().unwrap_err();
    assert_eq!(none.to_string(), "C has no shape on this neck");
    for error in [few, many, none] {
        assert!(!error.help().is_empty());
    }
}

#[test]
fn a_long_list_fits_into_a_piece() {
    let roots = ["C", "D", "E", "F", "G", "A", "B"];
    let kinds = ["", "m", "7", "m7", "maj7", "sus4"];
    let all: Vec<String> = roots
        .iter()
        .flat_map(|root| kinds.iter().map(move |kind| format!("{root}{kind}")))
        .collect();
    let drill = Changes {
        beats: 16,
        ..drill(&all[..40].join(" "), ChangeStep::All)
    };
    let walk = drill.walk(usize::MAX, all_alike);
    let exercise = drill.exercise(&walk, TempoPlan::steady(60)).unwrap();
    assert!(exercise.piece.unfold().is_ok());
}

#[test]
fn a_time_to_fill_takes_so_many_changes() {
    let minute = Duration::from_secs(60);
    let tempo = TempoPlan::steady(120);
    // 120 beats, four a change; before them 2 x 4 beats of strings and 4 of strums for each of two chords.
    assert_eq!(
        drill("C A", ChangeStep::Changes).fitting(minute, &tempo),
        30
    );
    assert_eq!(drill("C A", ChangeStep::All).fitting(minute, &tempo), 24);
    assert_eq!(
        drill("C A", ChangeStep::All).fitting(Duration::ZERO, &tempo),
        1
    );
}

#[test]
fn a_free_minute_is_one_and_has_no_click() {
    let exercise = drill("C Am", ChangeStep::All).free().unwrap();
    let form = exercise.piece.unfold().unwrap();
    let ticks: u64 = form.pass.iter().map(|bar| bar.meter.bar_ticks()).sum();
    assert_eq!(ticks, 60 * TICKS_PER_QUARTER);
    assert_eq!(
        exercise.piece.parts.click.beats,
        ClickBeats::Only(vec![NO_BEAT])
    );
    assert_eq!(exercise.facts, ["Am to C"]);
    assert!(drill(USUAL, ChangeStep::All).free().is_err());
}

#[test]
fn marks_of_the_minute_are_counted() {
    use Mark::{Clean, Heard, Missed};
    let count = |marks: &[(u64, Mark)]| {
        let marks: Vec<(Tick, Mark)> = marks.iter().map(|(t, m)| (Tick::new(*t), *m)).collect();
        FreeCount::of(&marks, 2)
    };
    let (first, end) = (2 * 3840, 2 * 3840 + 60 * 960);
    // Neither the count-in nor what comes after the minute.
    let marks = [
        (first - 1, Clean),
        (first, Clean),
        (end - 1, Missed),
        (end, Clean),
    ];
    assert_eq!(
        count(&marks),
        FreeCount {
            changes: 2,
            clean: 1
        }
    );
    // Six strings of a strum are one change; the next begins 200 ms later.
    let strum: Vec<(u64, Mark)> = (0..6).map(|i| (first + 20 * i, Heard)).collect();
    assert_eq!(
        count(&strum),
        FreeCount {
            changes: 1,
            clean: 1
        }
    );
    let two = [(first, Heard), (first + 191, Heard), (first + 192, Heard)];
    assert_eq!(
        count(&two),
        FreeCount {
            changes: 2,
            clean: 2
        }
    );
}

#[test]
fn what_a_count_says() {
    let of = |changes, clean| FreeCount { changes, clean };
    assert_eq!(of(0, 0).word(), "unsure");
    assert_eq!(of(20, 19).word(), "right");
    assert_eq!(of(20, 17).word(), "late");
    assert_eq!(of(20, 16).word(), "missed");
    // 30 changes a minute, four beats each, are 120 beats a minute.
    assert_eq!(of(30, 30).tempo(4), Some(120));
    assert_eq!(of(2, 0).tempo(4), Some(20));
    assert_eq!(of(0, 0).tempo(4), None);
}

#[test]
fn each_change_is_where_its_chord_begins() {
    for beats in [1, 2, 3, 4, 6] {
        for step in [ChangeStep::Changes, ChangeStep::All, ChangeStep::Strum] {
            let drill = Changes {
                beats,
                ..drill("C A Am G", step)
            };
            let walk = drill.walk(usize::MAX, all_alike);
            let exercise = drill.exercise(&walk, TempoPlan::steady(60)).unwrap();
            let form = exercise.piece.unfold().unwrap();
            let wanted = if step == ChangeStep::Strum {
                0
            } else {
                walk.len() - 1
            };
            assert_eq!(exercise.changes.len(), wanted);
            for (change, pair) in exercise.changes.iter().zip(walk.windows(2)) {
                let (from, to) = (&drill.chords[pair[0]], &drill.chords[pair[1]]);
                assert_eq!(change.fact, pair_name(from, to, &drill.neck));
                let bar = usize::try_from(change.bar).unwrap() - 1;
                let chords = &form.bars().nth(bar).unwrap().chords;
                let begins = chords.iter().find(|c| c.beat + 1 == change.beat && !c.held);
                assert_eq!(begins.unwrap().harmony.chord(), Some(to), "{change:?}");
            }
        }
    }
}

#[test]
fn pairs_are_told_from_all_other_facts_by_their_names() {
    use crate::drill::{RootNotes, Roots};
    let neck = Neck::standard();
    let one = chords("Am C");
    assert!(is_pair(&pair_name(&one[0], &one[1], &neck)));
    let roots = Roots {
        neck,
        strings: neck.strings().collect(),
        notes: RootNotes::All,
        beats: 4,
        tempo: TempoPlan::steady(60),
        shape: None,
        seed: 1,
    };
    for root in roots.all().unwrap() {
        assert!(!is_pair(&root.fact(&neck)));
    }
}
