use super::*;
use crate::drill::{Deed, Happening, Judge, Outcome};
use crate::neck::Tuning;
use crate::theory::ScaleKind;
use crate::time::Tick;

fn drill(strings: &[u8], notes: RootNotes) -> Roots {
    let strings = strings.iter().map(|s| StringNumber::new(*s).unwrap());
    Roots {
        neck: Neck::standard(),
        strings: strings.collect(),
        notes,
        beats: 4,
        tempo: TempoPlan::steady(60),
        shape: None,
        seed: 1,
    }
}

fn names(drill: &Roots) -> Vec<String> {
    let all = drill.all().unwrap();
    all.iter()
        .map(|root| format!("{} {}", root.name, root.fret))
        .collect()
}

#[test]
fn notes_that_are_taught_first() {
    // Common practice: the notes at the markers of the two lowest strings, and the letters on them.
    assert_eq!(
        names(&drill(&[6], RootNotes::Marked)),
        ["G 3", "A 5", "B 7", "C# 9", "E 12"]
    );
    assert_eq!(
        names(&drill(&[5], RootNotes::Marked)),
        ["C 3", "D 5", "E 7", "F# 9", "A 12"]
    );
    assert_eq!(
        names(&drill(&[6], RootNotes::Natural)),
        ["E 0", "F 1", "G 3", "A 5", "B 7", "C 8", "D 10"]
    );
    assert_eq!(
        names(&drill(&[5], RootNotes::Natural)),
        ["A 0", "B 2", "C 3", "D 5", "E 7", "F 8", "G 10"]
    );
    assert_eq!(names(&drill(&[6, 5], RootNotes::All)).len(), 24);
    // A# one fret above A.
    let beside = drill(&[6], RootNotes::Beside).all().unwrap();
    let sharp = beside.iter().find(|r| r.name.to_string() == "A#").unwrap();
    assert_eq!(sharp.fret.value(), 6);
    assert_eq!(sharp.beside.unwrap().to_string(), "A");
}

#[test]
fn marked_and_beside_together_are_all_twelve() {
    for string in 1..=6 {
        let mut both = names(&drill(&[string], RootNotes::Marked));
        both.extend(names(&drill(&[string], RootNotes::Beside)));
        let mut letters: Vec<&str> = both.iter().map(|n| n.split(' ').next().unwrap()).collect();
        letters.sort_unstable();
        letters.dedup();
        // Frets 3, 5, 7, 9 and 12 and the frets beside them leave none out.
        assert_eq!(letters.len(), 12, "string {string}: {both:?}");
        assert_eq!(both.len(), 12);
    }
}

/// Every exercise over every string, choice of notes, tuning and capo: each answer is at a fret of the neck, the pitch
/// there bears the name that is asked for, and the judge takes that fret and that pitch, and no other fret of the octave.
#[test]
fn every_ask_can_be_answered_and_its_answer_is_right() {
    let tunings = [
        "standard",
        "D A D G B E",
        "D G D G B D",
        "B E A D F# B",
        "B E A D G B E",
    ];
    let mut asks = 0;
    for tuning in tunings {
        let tuning = Tuning::read(tuning).unwrap();
        for capo in [0, 1, 5] {
            let neck = Neck::new(tuning, Fret::new(22).unwrap(), Fret::new(capo).unwrap()).unwrap();
            for string in neck.strings() {
                for (_, notes) in RootNotes::NAMES {
                    let drill = Roots {
                        neck,
                        strings: vec![string],
                        notes,
                        seed: u64::from(capo),
                        ..drill(&[6], notes)
                    };
                    let all = drill.all().unwrap();
                    asks += answers_are_right(&drill, &drill.exercise(&all).unwrap());
                }
            }
        }
    }
    assert!(asks > 1_500, "{asks}");
}

fn answers_are_right(drill: &Roots, exercise: &Exercise) -> usize {
    let piece = &exercise.piece;
    let form = piece.unfold().unwrap();
    assert_eq!(piece.asks.len(), exercise.facts.len());
    for (i, ask) in piece.asks.iter().enumerate() {
        let Answer::Place { string, fret } = ask.answer else {
            panic!("{ask:?}");
        };
        let asked = ask.text.split(' ').next().unwrap();
        let class = PitchName::read(asked).unwrap().pitch_class();
        let key = drill.neck.midi(string, fret).unwrap();
        assert_eq!(key % 12, class.value(), "{}", ask.text);
        assert!(
            ask.text.contains(&format!("on string {string}")),
            "{}",
            ask.text
        );
        let outcome = |deed: Deed| {
            let mut judge = Judge::new(piece, &form, &drill.neck).unwrap();
            let at = Tick::ZERO;
            judge.take(Happening::Asked { ask: i, at });
            let judged = judge.take(Happening::Responded { deed, at });
            judged.unwrap().outcome.clone()
        };
        let right = Outcome::Right { at_once: true };
        assert_eq!(outcome(Deed::Fret(fret.value())), right);
        assert_eq!(outcome(Deed::Pitch(key)), right);
        for other in 1..12 {
            let other = (fret.value() + other) % 12;
            assert_ne!(outcome(Deed::Fret(other)), right, "{} {other}", ask.text);
        }
    }
    piece.asks.len()
}

#[test]
fn drawn_in_rounds_and_none_twice_in_a_row() {
    for seed in 0..50 {
        let drill = Roots {
            seed,
            ..drill(&[6, 5], RootNotes::Marked)
        };
        let drawn = drill.drawn(&drill.all().unwrap(), 30);
        assert_eq!(drawn.len(), 30);
        for round in drawn.chunks(10) {
            let mut facts: Vec<_> = round.iter().map(|r| r.fact(&drill.neck)).collect();
            facts.sort_unstable();
            facts.dedup();
            assert_eq!(facts.len(), 10);
        }
        assert!(drawn.windows(2).all(|pair| pair[0] != pair[1]));
        assert_eq!(drill.drawn(&drill.all().unwrap(), 30), drawn);
    }
    // One note alone is asked again and again.
    let mut one = drill(&[6], RootNotes::Marked);
    one.neck = Neck::new(Tuning::standard(), Fret::new(4).unwrap(), Fret::OPEN).unwrap();
    assert_eq!(one.drawn(&one.all().unwrap(), 3).len(), 3);
}

#[test]
fn the_exercise_is_a_document_that_reads_back() {
    let drill = Roots {
        shape: Some(ScaleFormula::named(ScaleKind::MinorPentatonic)),
        ..drill(&[6, 5], RootNotes::Natural)
    };
    let exercise = drill
        .exercise(&drill.drawn(&drill.all().unwrap(), 5))
        .unwrap();
    let text = exercise.piece.to_document();
    let (again, reading) = Piece::read(&text).unwrap();
    assert!(reading.warnings.is_empty(), "{:?}", reading.warnings);
    assert_eq!(again.asks, exercise.piece.asks);
    assert_eq!(again.to_document(), text);
    assert_eq!(
        exercise.name,
        "roots on 6 5, natural, with minor pentatonic"
    );
}

#[test]
fn the_shape_is_placed_from_the_root_that_was_found() {
    let drill = Roots {
        shape: Some(ScaleFormula::named(ScaleKind::MinorPentatonic)),
        ..drill(&[6], RootNotes::Marked)
    };
    let all = drill.all().unwrap();
    let exercise = drill.exercise(&all[1..2]).unwrap();
    // A at fret 5 of string 6; the shape goes on with b3 at fret 8 (common practice).
    let asks: Vec<_> = exercise
        .piece
        .asks
        .iter()
        .map(|a| (a.text.as_str(), a.answer.to_string()))
        .collect();
    assert_eq!(
        asks,
        [
            ("A on string 6", "string 6 fret 5".to_owned()),
            (
                "b3 of A minor pentatonic on string 6",
                "string 6 fret 8".to_owned()
            ),
        ]
    );
    assert_eq!(
        exercise.facts[1],
        "b3 on string 6, minor pentatonic from 1 on string 6"
    );
}

#[test]
fn strings_that_are_not_there() {
    assert_eq!(drill(&[], RootNotes::All).all(), Err(RootsError::NoString));
    let error = drill(&[7], RootNotes::All).all().unwrap_err();
    assert_eq!(error.code(), "no-such-string");
}
