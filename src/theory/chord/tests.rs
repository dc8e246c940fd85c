#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::theory::symbol;

fn chord(root: &str, degrees: &str) -> Chord {
    let degrees = degrees
        .split_whitespace()
        .map(|text| Degree::read(text).unwrap());
    Chord::new(PitchName::read(root).unwrap(), degrees, None).unwrap()
}

/// Degrees and the symbol printed for them on C, with the kind it starts from.
#[test]
fn prints_the_canonical_symbol() {
    for (degrees, symbol, kind) in [
        ("1 3 5", "C", "major"),
        ("1 b3 5", "Cm", "minor"),
        ("1 b3 b5", "Cdim", "diminished"),
        ("1 3 #5", "Caug", "augmented"),
        ("1 3 5 b7", "C7", "dominant"),
        ("1 3 5 7", "Cmaj7", "major-seventh"),
        ("1 b3 5 b7", "Cm7", "minor-seventh"),
        ("1 b3 b5 bb7", "Cdim7", "diminished-seventh"),
        ("1 b3 b5 b7", "Cm7b5", "half-diminished"),
        ("1 b3 b5 7", "CdimMaj7", "diminished"),
        ("1 b3 5 7", "CmMaj7", "major-minor"),
        ("1 3 #5 b7", "C7#5", "augmented-seventh"),
        ("1 3 #5 7", "Cmaj7#5", "major-seventh"),
        ("1 3 b5 b7", "C7b5", "dominant"),
        ("1 3 b5 #5 b7", "C7b5#5", "dominant"),
        ("1 3 b5", "C(b5)", "major"),
        ("1 b3 #5", "Cm(#5)", "minor"),
        ("1 3 5 6", "C6", "major-sixth"),
        ("1 b3 5 6", "Cm6", "minor-sixth"),
        ("1 3 5 6 9", "C6/9", "major-sixth"),
        ("1 b3 5 6 9", "Cm6/9", "minor-sixth"),
        ("1 3 5 6 9 #11", "C6/9#11", "major-sixth"),
        ("1 3 5 b7 9", "C9", "dominant-ninth"),
        ("1 3 5 7 9", "Cmaj9", "major-ninth"),
        ("1 b3 5 b7 9", "Cm9", "minor-ninth"),
        ("1 b3 5 7 9", "CmMaj9", "major-minor"),
        ("1 b3 b5 b7 9", "Cm9b5", "minor-ninth"),
        ("1 3 #5 b7 9", "C9#5", "dominant-ninth"),
        ("1 3 5 b7 b9", "C7b9", "dominant"),
        ("1 3 #5 b7 #9", "C7#5#9", "augmented-seventh"),
        ("1 3 5 b7 b9 #9", "C7b9#9", "dominant"),
        ("1 3 5 b7 9 #11", "C9#11", "dominant-ninth"),
        ("1 5 b7 9 11", "C11", "dominant-11th"),
        ("1 5 b7 b9 11", "C11b9", "dominant-11th"),
        ("1 3 5 b7 9 11", "C9(add11)", "dominant-ninth"),
        ("1 5 7 9 11", "Cmaj11", "major-11th"),
        ("1 b3 5 b7 9 11", "Cm11", "minor-11th"),
        ("1 3 5 b7 9 13", "C13", "dominant-13th"),
        ("1 3 5 b7 b9 13", "C13b9", "dominant-13th"),
        ("1 3 5 b7 9 #11 13", "C13#11", "dominant-13th"),
        ("1 3 5 b7 9 11 13", "C13(add11)", "dominant-13th"),
        ("1 3 5 b7 13", "C7(add13)", "dominant"),
        ("1 b3 5 b7 9 13", "Cm13", "minor-13th"),
        ("1 b3 5 b7 11", "Cm7(add11)", "minor-seventh"),
        ("1 3 b7 b9 #9 #11 b13", "C7alt", "dominant"),
        ("1 2 5", "Csus2", "suspended-second"),
        ("1 4 5", "Csus4", "suspended-fourth"),
        ("1 2 4 5", "Csus2sus4", "suspended-fourth"),
        ("1 4 5 b7", "C7sus4", "suspended-fourth"),
        ("1 4 5 b7 9", "C9sus4", "suspended-fourth"),
        ("1 4 5 b7 b9", "C7sus4b9", "suspended-fourth"),
        ("1 4 5 b7 9 13", "C13sus4", "suspended-fourth"),
        ("1 2 4 5 b7", "C7sus4(add2)", "suspended-fourth"),
        ("1 5", "C5", "power"),
        ("1 5 9", "C5(add9)", "power"),
        ("1 3 5 9", "Cadd9", "major"),
        ("1 b3 5 9", "Cm(add9)", "minor"),
        ("1 3 5 #11", "C(#11)", "major"),
        ("1 3 4 5", "Cadd4", "major"),
        ("1 b3 5 b6", "Cm(b6)", "minor"),
        ("1 3 5 b9 9", "C(addb9,add9)", "major"),
        ("1 3", "C(no5)", "major"),
        ("1 b3", "Cm(no5)", "minor"),
        ("1", "C(no3,no5)", "major"),
        ("1 5 b7", "C7(no3)", "dominant"),
        // No symbol names these, so the degrees are listed.
        ("1 b3 3 5", "C:(1,b3,3,5)", "other"),
        ("1 3 b5 5", "C:(1,3,b5,5)", "other"),
        ("1 3 5 b7 7", "C:(1,3,5,b7,7)", "other"),
        ("1 2 3 5", "C:(1,2,3,5)", "other"),
        ("1 8", "C:(1,8)", "other"),
    ] {
        let chord = chord("C", degrees);
        assert_eq!(chord.to_string(), symbol, "{degrees}");
        assert_eq!(chord.kind().as_str(), kind, "{symbol}");
        assert_eq!(symbol::read(symbol), Ok(Harmony::Chord(chord)));
    }
}

/// All sets of degrees that symbols can be made of, one of each number or a pair of alterations.
#[test]
fn every_usual_set_reads_back() {
    let groups: [&[&str]; 7] = [
        &["", "3", "b3", "2", "4", "2 4"],
        &["", "5", "b5", "#5", "b5 #5"],
        &["", "6", "b6"],
        &["", "b7", "7", "bb7"],
        &["", "9", "b9", "#9", "b9 #9", "b9 9"],
        &["", "11", "#11", "11 #11"],
        &["", "13", "b13"],
    ];
    let mut sets = vec![String::from("1")];
    for group in groups {
        sets = sets
            .iter()
            .flat_map(|set| group.iter().map(move |more| format!("{set} {more}")))
            .collect();
    }
    for set in &sets {
        let chord = chord("F#", set);
        let printed = chord.to_string();
        assert_eq!(
            symbol::read(&printed),
            Ok(Harmony::Chord(chord)),
            "{set}: {printed}"
        );
        // A list of degrees is the last resort: a sixth beside a seventh, or a diminished seventh in another chord.
        let no_symbol = set.contains(" 6") && set.contains('7') || set.contains("bb7");
        assert!(no_symbol || !printed.contains(':'), "{printed}");
    }
}

#[test]
fn a_power_chord_on_a_double_flat_is_listed() {
    assert_eq!(chord("Bbb", "5").to_string(), "Bbb:(1,5)");
    assert_eq!(chord("Bbb", "3 5 b7 9").to_string(), "Bbb9");
}

#[test]
fn answers_about_its_tones() {
    let chord = chord("A", "b3 5 b7").with_bass(Some(PitchName::read("D").unwrap()));
    assert_eq!(chord.to_string(), "Am7/D");
    assert_eq!(chord.bass().to_string(), "D");
    assert_eq!(
        chord
            .pitch_classes()
            .iter()
            .map(|class| class.value())
            .collect::<Vec<_>>(),
        [0, 4, 7, 9]
    );
    assert_eq!(chord.third().unwrap().to_string(), "b3");
    assert_eq!(chord.fifth().unwrap().to_string(), "5");
    assert_eq!(chord.seventh().unwrap().to_string(), "b7");
    assert!(chord.contains(PitchName::read("G").unwrap().pitch_class()));
    assert!(!chord.contains(PitchName::read("D").unwrap().pitch_class()));
    assert_eq!(chord.with_bass(Some(chord.root())).slash(), None);
    assert!(!self::chord("C", "4 5").has_third());
}

#[test]
fn respells_a_root_that_needs_a_double_accidental() {
    let moved = |symbol: &str, steps, semitones| {
        symbol::read(symbol)
            .unwrap()
            .transposed(Interval::new(steps, semitones))
            .to_string()
    };
    assert_eq!(moved("Gb7/Db", 5, 8), "D7/A");
    assert_eq!(moved("G#m/D#", 1, 2), "A#m/E#");
    assert_eq!(moved("B#m/F##", 1, 2), "Dm/A");
    assert_eq!(moved("N.C.", 1, 2), "N.C.");
    // A chord tone in the bass keeps its spelling where the root does.
    assert_eq!(moved("Abm/Cb", -1, -2), "Gbm/Bbb");
}

#[test]
fn holds_no_more_than_a_chord_can() {
    let many = (1..=13).flat_map(|number| [0, 1].map(|alter| Degree::new(number, alter).unwrap()));
    assert_eq!(
        Chord::new(PitchName::read("C").unwrap(), many, None),
        Err(ChordError::TooMany)
    );
    assert_eq!(
        ChordError::TooMany.to_string(),
        "expected at most 16 degrees in a chord, found more"
    );
}

#[test]
fn kinds_are_25_and_unique() {
    let names: std::collections::BTreeSet<_> = ChordKind::all().map(ChordKind::as_str).collect();
    let suffixes: std::collections::BTreeSet<_> = ChordKind::all().map(ChordKind::suffix).collect();
    assert_eq!(
        (names.len(), suffixes.len(), ChordKind::all().count()),
        (25, 25, 25)
    );
    for kind in ChordKind::all() {
        assert!(kind.members().is_sorted(), "{kind}");
        assert_eq!(kind.members()[0], Degree::ROOT);
        // The suffix of a kind is the symbol of a chord of that kind.
        let read = symbol::read(&format!("C{}", kind.suffix())).unwrap();
        assert_eq!(read.chord().unwrap().kind(), kind);
        assert_eq!(read.to_string(), format!("C{}", kind.suffix()));
    }
    assert_eq!(ChordKind::Other.members(), []);
}
