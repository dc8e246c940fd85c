use super::*;
use crate::drill::{Deed, Happening, Judge, Outcome};
use crate::neck::{Fret, Tuning};
use crate::theory::{Degree, PitchClass, PitchName, ScaleFormula, ScaleKind};
use crate::time::Tick;

fn drill(set: &str, string: u8, ask: DegreesAsk) -> Degrees {
    Degrees {
        neck: Neck::standard(),
        set: Scale::read(set).unwrap(),
        string: StringNumber::new(string).unwrap(),
        ask,
        beats: 4,
        tempo: TempoPlan::steady(60),
        seed: 1,
    }
}

fn asks(exercise: &Exercise) -> Vec<(&str, String, Option<String>)> {
    let asks = exercise.piece.asks.iter();
    asks.map(|ask| {
        let note = ask.note.map(|note| note.to_string());
        (ask.text.as_str(), ask.answer.to_string(), note)
    })
    .collect()
}

#[test]
fn the_places_of_the_first_shape() {
    // Common practice: the minor pentatonic from the root on string 6 has two notes a string, 1 b3 4 5 b7 and on, in A at
    // frets 5 8 5 7 5 7 5 7 5 8 5 8.
    let drill = drill("A minor pentatonic", 6, DegreesAsk::Find);
    let all = drill.all().unwrap();
    let degrees: Vec<String> = all.iter().map(|p| p.degree.to_string()).collect();
    assert_eq!(degrees.join(" "), "1 b3 4 5 b7 1 b3 4 5 b7 1 b3");
    let frets: Vec<u8> = all.iter().map(|p| p.fret.value()).collect();
    assert_eq!(frets, [5, 8, 5, 7, 5, 7, 5, 7, 5, 8, 5, 8]);
    let strings: Vec<u8> = all.iter().map(|p| p.string.value()).collect();
    assert_eq!(strings, [6, 6, 5, 5, 4, 4, 3, 3, 2, 2, 1, 1]);
    let exercise = drill.exercise(&all[6..8]).unwrap();
    assert_eq!(
        asks(&exercise),
        [
            (
                "b3 of A minor pentatonic on string 3",
                "string 3 fret 5".to_owned(),
                None
            ),
            (
                "4 of A minor pentatonic on string 3",
                "string 3 fret 7".to_owned(),
                None
            ),
        ]
    );
    assert_eq!(
        exercise.facts,
        [
            "b3 on string 3, minor pentatonic from 1 on string 6",
            "4 on string 3, minor pentatonic from 1 on string 6"
        ]
    );
    assert_eq!(
        exercise.name,
        "degrees of minor pentatonic from string 6, find"
    );
}

#[test]
fn a_place_has_the_same_fact_in_every_key_and_in_the_drill_of_roots() {
    let facts = |set: &str| {
        let drill = drill(set, 6, DegreesAsk::Find);
        let all = drill.all().unwrap();
        all.iter().map(|p| drill.fact(p)).collect::<Vec<_>>()
    };
    assert_eq!(facts("A minor pentatonic"), facts("F# minor pentatonic"));
    // What the drill of roots asks after a root is the second note of the shape.
    assert_eq!(
        facts("A minor pentatonic")[1],
        "b3 on string 6, minor pentatonic from 1 on string 6"
    );
}

#[test]
fn a_note_to_name_sounds_over_the_held_root() {
    let drill = drill("Bb minor pentatonic", 6, DegreesAsk::Name);
    let all = drill.all().unwrap();
    let exercise = drill.exercise(&all).unwrap();
    let heard: Vec<String> = asks(&exercise)
        .into_iter()
        .map(|(text, answer, note)| {
            assert_eq!(text, "which degree of Bb minor pentatonic");
            let note = note.unwrap();
            format!("{answer} {}", note.trim_end_matches(char::is_numeric))
        })
        .collect();
    // Spelled as the set spells it: a minor third above Bb is Db.
    assert_eq!(heard, ["1 Bb", "b3 Db", "4 Eb", "5 F", "b7 Ab"]);
    assert_eq!(exercise.facts[1], "hear b3 of minor pentatonic");
    let parts = &exercise.piece.parts;
    assert!(parts.drone.common.on && !parts.drone.fifth);
    assert_eq!(exercise.piece.key.unwrap().to_string(), "Bb minor");
}

#[test]
fn a_note_sounds_in_every_octave_of_the_shape() {
    let mut heard = Vec::new();
    for seed in 0..40 {
        let drill = Degrees {
            seed,
            ..drill("A minor pentatonic", 6, DegreesAsk::Name)
        };
        let all = drill.all().unwrap();
        for ask in drill.exercise(&all[..1]).unwrap().piece.asks {
            heard.push(ask.note.unwrap().to_string());
        }
    }
    heard.sort_unstable();
    heard.dedup();
    // Frets 5, 7 and 5 of strings 6, 4 and 1.
    assert_eq!(heard, ["A2", "A3", "A4"]);
}

/// The sets with a name, and some without.
fn sets() -> Vec<ScaleFormula> {
    let named = ScaleKind::all()
        .iter()
        .map(|kind| ScaleFormula::named(*kind));
    let free = [
        "1 2 4 5 b7",
        "1 b2 2 b3 3 4 b5 5 b6 6 b7 7",
        "1 #4",
        "1 bb3 b3 3 5 bb7",
    ];
    let free = free.iter().map(|text| ScaleFormula::read(text).unwrap());
    named.chain(free).collect()
}

/// Every exercise of both kinds over every set, key, root string and several necks: each answer is at a fret of the neck,
/// and the judge takes that fret or word and no other.
#[test]
fn every_ask_can_be_answered_and_its_answer_is_right() {
    let necks = [
        ("standard", 0),
        ("D A D G B E", 0),
        ("D A D G B E", 3),
        ("D A D G A D", 0),
        ("B E A D G B E", 2),
        ("E A D G", 0),
    ];
    let (mut asks, mut off) = (0, 0);
    for (tuning, capo) in necks {
        let tuning = Tuning::read(tuning).unwrap();
        let neck = Neck::new(tuning, Fret::new(22).unwrap(), Fret::new(capo).unwrap()).unwrap();
        for formula in sets() {
            // Every key in standard tuning, every third elsewhere.
            let step = if neck == Neck::standard() { 1 } else { 3 };
            for class in (0..12).step_by(step) {
                let class = PitchClass::new(class).unwrap();
                let root = PitchName::simplest(class, class.value().is_multiple_of(2));
                for string in neck.strings() {
                    for (_, ask) in DegreesAsk::NAMES {
                        let drill = Degrees {
                            neck,
                            set: formula.on(root),
                            string,
                            ask,
                            ..drill("A minor pentatonic", 6, ask)
                        };
                        match drill.all() {
                            Ok(all) => asks += answers_are_right(&drill, &all),
                            // With a capo the neck can be too short for a shape.
                            Err(NeckError::ShapeOffNeck { .. }) => off += 1,
                            Err(e) => panic!("{e}"),
                        }
                    }
                }
            }
        }
    }
    assert!(asks > 40_000, "{asks}");
    assert!(off < asks / 100, "{off} of {asks}");
}

fn answers_are_right(drill: &Degrees, all: &[Position]) -> usize {
    let exercise = drill.exercise(all).unwrap();
    let piece = &exercise.piece;
    let form = piece.unfold().unwrap();
    assert_eq!(piece.asks.len(), exercise.facts.len());
    let judge = Judge::new(piece, &form, &drill.neck).unwrap();
    let root = drill.set.root().pitch_class();
    for (i, (ask, place)) in piece.asks.iter().zip(all).enumerate() {
        let outcome = |deed: Deed| {
            let mut judge = judge.clone();
            let at = Tick::ZERO;
            judge.take(Happening::Asked { ask: i, at });
            let judged = judge.take(Happening::Responded { deed, at });
            judged.unwrap().outcome.clone()
        };
        let right = Outcome::Right { at_once: true };
        assert!(ask.text.chars().count() <= 60, "{}", ask.text);
        match &ask.answer {
            Answer::Place { string, fret } => {
                let key = drill.neck.midi(*string, *fret).unwrap();
                let asked = Degree::read(ask.text.split(' ').next().unwrap()).unwrap();
                assert_eq!(key % 12, root.up(asked.semitones()).value(), "{}", ask.text);
                assert!(ask.text.ends_with(&format!("on string {string}")));
                assert_eq!(outcome(Deed::Fret(fret.value())), right);
                assert_eq!(outcome(Deed::Pitch(key)), right);
                for other in 1..12 {
                    let other = (fret.value() + other) % 12;
                    assert_ne!(outcome(Deed::Fret(other)), right, "{} {other}", ask.text);
                }
            }
            Answer::Word(word) => {
                let note = ask.note.unwrap();
                let degree = Degree::read(word).unwrap();
                assert_eq!(degree, place.degree);
                assert_eq!(note.name(), degree.above(drill.set.root()));
                let class = note.midi().rem_euclid(12);
                assert_eq!(class, i32::from(root.up(degree.semitones()).value()));
                for said in drill.set.degrees() {
                    let right_one = *said == degree;
                    let outcome = outcome(Deed::Word(said.to_string()));
                    assert_eq!(outcome == right, right_one, "{said} for {word}");
                }
            }
        }
    }
    piece.asks.len()
}

#[test]
fn the_exercise_is_a_document_that_reads_back() {
    for (_, ask) in DegreesAsk::NAMES {
        let drill = drill("Eb minor pentatonic", 5, ask);
        let all = drill.all().unwrap();
        let drawn = drill.drawn(&all, 20);
        let exercise = drill.exercise(&drawn).unwrap();
        assert_eq!(drill.exercise(&drill.drawn(&all, 20)).unwrap(), exercise);
        let text = exercise.piece.to_document();
        let (again, reading) = Piece::read(&text).unwrap();
        assert!(reading.warnings.is_empty(), "{:?}", reading.warnings);
        assert_eq!(again.asks, exercise.piece.asks);
        assert_eq!(again.to_document(), text);
    }
}

#[test]
fn every_place_is_asked_before_one_is_asked_again() {
    let drill = drill("A minor pentatonic", 6, DegreesAsk::Find);
    let all = drill.all().unwrap();
    let drawn = drill.drawn(&all, 24);
    for round in drawn.chunks(12) {
        let mut facts: Vec<String> = round.iter().map(|p| drill.fact(p)).collect();
        facts.sort_unstable();
        facts.dedup();
        assert_eq!(facts.len(), 12);
    }
    assert!(drawn.windows(2).all(|pair| pair[0] != pair[1]));
    // Eight beats an ask: seven and a half of them in a minute at 60.
    assert_eq!(drill.fitting(Duration::from_secs(60)), 7);
}

#[test]
fn what_is_no_drill() {
    let error = |set, string| {
        let drill = drill(set, string, DegreesAsk::Find);
        drill.exercise(&[]).unwrap_err().to_string()
    };
    assert_eq!(
        drill("A minor pentatonic", 7, DegreesAsk::Find)
            .all()
            .unwrap_err()
            .to_string(),
        error("A minor pentatonic", 7)
    );
    let mut short = drill("A minor pentatonic", 6, DegreesAsk::Find);
    short.neck = Neck::new(Tuning::standard(), Fret::new(7).unwrap(), Fret::OPEN).unwrap();
    assert!(matches!(short.all(), Err(NeckError::ShapeOffNeck { .. })));
    insta::assert_snapshot!(error("C## minor pentatonic", 6), @"expected a tonic with at most one sharp or flat, found C##");
}
