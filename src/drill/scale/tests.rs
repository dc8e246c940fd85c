use super::*;
use crate::neck::{Fret, Tuning};
use crate::theory::{PitchClass, PitchName, ScaleFormula, ScaleKind};

fn drill(set: &str) -> Scales {
    Scales {
        neck: Neck::standard(),
        set: Scale::read(set).unwrap(),
        string: StringNumber::new(6).unwrap(),
        run: Run::Both,
        notes: USUAL_NOTES,
        keys: None,
        times: 2,
        over: Over::Backing,
        line: ScaleLine::Played,
        seed: 1,
    }
}

fn exercise(drill: &Scales) -> Exercise {
    drill.exercise(TempoPlan::steady(60), &|_| 0).unwrap()
}

#[test]
fn names_are_stable_and_tell_what_the_hands_do() {
    let one = drill("A minor pentatonic");
    assert_eq!(one.name(), "scale A minor pentatonic from string 6, both");
    let other = Scales {
        times: 9,
        over: Over::Click,
        seed: 7,
        ..one.clone()
    };
    assert_eq!(other.name(), one.name());
    let several = Scales {
        string: StringNumber::new(5).unwrap(),
        run: Run::Thirds,
        notes: 3,
        keys: Some(KeyOrder::Fourths),
        line: ScaleLine::Hidden,
        ..one.clone()
    };
    assert_eq!(
        several.name(),
        "scale minor pentatonic from string 5, thirds, 3 a beat, by heart, keys fourths"
    );
    let chosen = Scales {
        keys: Some(KeyOrder::read("A minor, D minor").unwrap()),
        ..one.clone()
    };
    assert_eq!(
        chosen.name(),
        "scale minor pentatonic from string 6, both, keys A D"
    );
    let least = Scales {
        keys: Some(KeyOrder::LeastPracticed),
        ..one
    };
    assert_eq!(
        least.name(),
        "scale minor pentatonic from string 6, both, keys least practised"
    );
    assert_eq!(exercise(&least).name, least.name());
}

#[test]
fn a_pass_has_room_for_the_run_and_its_last_note() {
    // Twelve notes up and back: 22 and the root again, at two a beat three bars.
    let one = drill("A minor pentatonic");
    assert_eq!(one.bars().unwrap(), 4);
    // At one a beat six bars, so a phrase of eight.
    let slow = Scales {
        notes: 1,
        ..one.clone()
    };
    assert_eq!(slow.bars().unwrap(), 8);
    // Groups of four: 9 up and 9 down, 73 notes with the last, at one a beat 19 bars.
    let fours = Scales {
        notes: 1,
        run: Run::Fours,
        ..one
    };
    assert_eq!(fours.bars().unwrap(), 24);
    let piece = exercise(&fours).piece;
    assert_eq!(piece.form, ["A", "A", "A"]);
    assert_eq!(piece.unfold().unwrap().pass.len(), 24);
}

#[test]
fn the_least_practiced_key_comes_first_and_is_written_by_name() {
    let drill = Scales {
        keys: Some(KeyOrder::LeastPracticed),
        ..drill("A minor pentatonic")
    };
    let practiced = |key: &Key| match key.tonic().to_string().as_str() {
        "Eb" => 0,
        "F" => 1,
        _ => 5,
    };
    let exercise = drill.exercise(TempoPlan::steady(60), &practiced).unwrap();
    let keys = exercise.piece.keys.as_ref().unwrap().to_string();
    assert_eq!(
        keys,
        "Eb minor, F minor, A minor, D minor, G minor, C minor, Bb minor, G# minor, C# minor, F# minor, B minor, E minor"
    );
    // The document does not change with what is practiced afterward.
    let text = exercise.piece.to_document();
    let (again, _) = Piece::read(&text).unwrap();
    assert_eq!(again.to_document(), text);
    assert!(text.contains(&format!("keys = \"{keys}\"")), "{text}");
}

/// Every named set in every key from both root strings on several necks, over chords and over the click: the document reads
/// back as the same piece and the same seed gives the same bytes.
#[test]
fn every_exercise_is_a_document_that_reads_back() {
    let tunings = ["standard", "D A D G B E", "D G D G B D", "B E A D G B E"];
    let (mut made, mut bare) = (0, 0);
    for (at, kind) in ScaleKind::all().iter().enumerate() {
        for class in 0..12u8 {
            let name =
                PitchName::simplest(PitchClass::new(class).unwrap(), class.is_multiple_of(2));
            let tuning = tunings[(at + usize::from(class)) % tunings.len()];
            let neck = Neck::of(Tuning::read(tuning).unwrap());
            let (_, run) = Run::NAMES[usize::from(class) % Run::NAMES.len()];
            for string in [6, 5] {
                let drill = Scales {
                    neck,
                    set: ScaleFormula::named(*kind).on(name),
                    string: StringNumber::new(string).unwrap(),
                    run,
                    notes: u32::from(class % 4) + 1,
                    over: Over::NAMES[usize::from(string) % 2].1,
                    line: ScaleLine::Played,
                    seed: u64::from(class),
                    ..drill("A minor pentatonic")
                };
                let exercise = exercise(&drill);
                assert_eq!(exercise.judging, Judging::Word);
                assert!(exercise.piece.asks.is_empty());
                let text = exercise.piece.to_document();
                let (again, reading) = Piece::read(&text).unwrap();
                assert!(reading.warnings.is_empty(), "{:?}", reading.warnings);
                assert_eq!(again.to_document(), text);
                assert_eq!(again.unfold().unwrap(), exercise.piece.unfold().unwrap());
                let bars = usize::try_from(drill.bars().unwrap()).unwrap();
                assert_eq!(again.unfold().unwrap().pass.len(), bars);
                made += 1;
                bare += usize::from(
                    drill.over == Over::Backing && exercise.piece.parts.drone.common.on,
                );
            }
        }
    }
    assert_eq!(made, ScaleKind::all().len() * 24);
    // Chords lie inside every set that has a name.
    assert_eq!(bare, 0);
}

#[test]
fn the_root_is_held_where_no_chord_fits() {
    let piece = exercise(&drill("A 1 #4")).piece;
    assert!(piece.parts.drone.common.on && !piece.parts.pads.common.on);
    let (again, _) = Piece::read(&piece.to_document()).unwrap();
    assert_eq!(again.to_document(), piece.to_document());
}

#[test]
fn the_same_seed_draws_the_same_and_another_other_chords() {
    let text = |seed| {
        let drill = Scales {
            seed,
            ..drill("A minor pentatonic")
        };
        exercise(&drill).piece.to_document()
    };
    assert_eq!(text(3), text(3));
    let charts = |seed| {
        let (piece, _) = Piece::read(&text(seed)).unwrap();
        piece.sections[0].1.clone()
    };
    let mut drawn: Vec<String> = (0..20).map(charts).collect();
    drawn.sort_unstable();
    drawn.dedup();
    assert!(drawn.len() > 5, "{drawn:?}");
}

#[test]
fn by_heart_the_line_is_off() {
    let hidden = Scales {
        line: ScaleLine::Hidden,
        ..drill("A minor pentatonic")
    };
    assert!(!exercise(&hidden).piece.parts.guide.common.on);
    assert!(
        exercise(&drill("A minor pentatonic"))
            .piece
            .parts
            .guide
            .common
            .on
    );
}

#[test]
fn what_is_no_drill() {
    let error = |drill: &Scales| {
        let error = drill.exercise(TempoPlan::steady(60), &|_| 0).unwrap_err();
        format!(
            "[{}] {error} / {}",
            crate::Diagnostic::code(&error),
            crate::Diagnostic::help(&error)
        )
    };
    let one = drill("A minor pentatonic");
    let mut wrong = [
        one.clone(),
        one.clone(),
        one.clone(),
        drill("C## minor pentatonic"),
    ];
    wrong[0].string = StringNumber::new(7).unwrap();
    wrong[1].neck = Neck::new(Tuning::standard(), Fret::new(7).unwrap(), Fret::OPEN).unwrap();
    wrong[2].keys = Some(KeyOrder::read("D").unwrap());
    let errors: Vec<String> = wrong.iter().map(error).collect();
    insta::assert_snapshot!(errors.join("\n"), @r"
    [no-such-string] expected a string from 1 to 6, found 7 / write a string from 1, the highest, to 6, the lowest
    [shape-off-neck] expected a neck of at least 8 frets for A minor pentatonic from string 6, found 7 / begin from another string, or give the neck 8 frets
    [keys-mode] a piece in A minor moves to keys of the same mode, found D major / write `D minor`
    [tonic-range] expected a tonic with at most one sharp or flat, found C## / write `D`
    ");
}
