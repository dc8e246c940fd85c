//! What every method for the guitar agrees on.

use fivefold::neck::{Neck, NeckError, Tuning, root_shape};
use fivefold::theory::PitchName;

use super::{chord, frets_of, scale, shapes, string};

/// Natural notes on the two lowest strings of standard tuning by fret, and the frets with a marker (common practice).
const NATURALS: [(u8, &[(u8, &str)]); 2] = [
    (
        6,
        &[
            (0, "E"),
            (1, "F"),
            (3, "G"),
            (5, "A"),
            (7, "B"),
            (8, "C"),
            (10, "D"),
            (12, "E"),
        ],
    ),
    (
        5,
        &[
            (0, "A"),
            (2, "B"),
            (3, "C"),
            (5, "D"),
            (7, "E"),
            (8, "F"),
            (10, "G"),
            (12, "A"),
        ],
    ),
];

#[test]
fn natural_notes_and_markers_lie_where_they_are_taught() {
    let neck = Neck::standard();
    for (number, naturals) in NATURALS {
        let notes = neck.notes_on(string(number)).unwrap();
        assert_eq!(notes.len(), 23);
        let found: Vec<(u8, String)> = notes
            .iter()
            .filter(|note| note.is_natural() && note.fret.value() <= 12)
            .map(|note| (note.fret.value(), note.flat.to_string()))
            .collect();
        let expected: Vec<(u8, String)> = naturals
            .iter()
            .map(|(fret, name)| (*fret, (*name).to_owned()))
            .collect();
        assert_eq!(found, expected);
        let marked: Vec<(u8, u8)> = notes
            .iter()
            .filter(|note| note.markers > 0)
            .map(|note| (note.fret.value(), note.markers))
            .collect();
        assert_eq!(
            marked,
            [
                (3, 1),
                (5, 1),
                (7, 1),
                (9, 1),
                (12, 2),
                (15, 1),
                (17, 1),
                (19, 1),
                (21, 1)
            ]
        );
    }
}

#[test]
fn every_root_lies_at_its_fret_on_both_strings() {
    // MIDI 40 and 45 plus the fret; flats and sharps as they are usually written.
    const SIXTH: [&str; 13] = [
        "E", "F", "F#", "G", "Ab", "A", "Bb", "B", "C", "C#", "D", "Eb", "E",
    ];
    const FIFTH: [&str; 13] = [
        "A", "Bb", "B", "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A",
    ];
    let neck = Neck::standard();
    for (number, open, names) in [(6, 40, SIXTH), (5, 45, FIFTH)] {
        for (at, name) in names.iter().enumerate() {
            let at = u8::try_from(at).unwrap();
            let class = PitchName::read(name).unwrap().pitch_class();
            let frets = neck.frets_of(string(number), class).unwrap();
            assert!(
                frets.iter().any(|fret| fret.value() == at),
                "{name} {number}"
            );
            assert_eq!(
                neck.midi(string(number), super::fret(at)).unwrap(),
                open + at
            );
        }
    }
}

#[test]
fn the_two_root_shapes_are_the_same_in_every_key() {
    // String by string from the root up, counted from the root's fret.
    const SIXTH: &str = "0-3 0-2 0-2 0-2 0-3 0-3";
    const FIFTH: &str = "0-3 0-2 0-2 1-3 0-3";
    let neck = Neck::standard();
    let roots = [
        ("E", 12, 7),
        ("F", 1, 8),
        ("F#", 2, 9),
        ("Gb", 2, 9),
        ("G", 3, 10),
        ("G#", 4, 11),
        ("Ab", 4, 11),
        ("A", 5, 12),
        ("Bb", 6, 1),
        ("B", 7, 2),
        ("C", 8, 3),
        ("C#", 9, 4),
        ("Db", 9, 4),
        ("D", 10, 5),
        ("D#", 11, 6),
        ("Eb", 11, 6),
    ];
    for (root, sixth, fifth) in roots {
        let set = scale(&format!("{root} minor pentatonic"));
        for (number, at, relative) in [(6, sixth, SIXTH), (5, fifth, FIFTH)] {
            let shape = root_shape(&set, &neck, string(number), false).unwrap();
            let expected: Vec<String> = relative
                .split(' ')
                .map(|pair| {
                    let frets = pair.split('-').map(|f| f.parse::<u8>().unwrap() + at);
                    frets.map(|f| f.to_string()).collect::<Vec<_>>().join("-")
                })
                .collect();
            assert_eq!(
                frets_of(&shape, &neck),
                expected.join(" "),
                "{root} {number}"
            );
            let notes = shape.positions().iter().map(|p| p.note);
            assert!(notes.clone().all(|note| set.notes().contains(&note)));
            assert_eq!(notes.clone().next(), Some(set.root()));
        }
    }
}

#[test]
fn a_minor_as_it_is_taught() {
    let neck = Neck::standard();
    let set = scale("A minor pentatonic");
    let sixth = root_shape(&set, &neck, string(6), false).unwrap();
    assert_eq!(frets_of(&sixth, &neck), "5-8 5-7 5-7 5-7 5-8 5-8");
    let fifth = root_shape(&set, &neck, string(5), false).unwrap();
    assert_eq!(frets_of(&fifth, &neck), "12-15 12-14 12-14 13-15 12-15");
    let keys: Vec<u8> = fifth.positions().iter().map(|p| p.midi).collect();
    assert_eq!(keys, [57, 60, 62, 64, 67, 69, 72, 74, 76, 79]);
    let short = Neck::new(Tuning::standard(), super::fret(14), super::fret(0)).unwrap();
    assert!(matches!(
        root_shape(&set, &short, string(5), false),
        Err(NeckError::ShapeOffNeck { needs: 15, .. })
    ));
}

/// The open chords: symbol, frets and fingers from the lowest string up, pitch classes (common practice; frets and most
/// fingers agree with LilyPond 2.24's predefined diagrams).
const OPEN_CHORDS: [(&str, &str, &str, &[u8]); 8] = [
    ("C", "x32010", "-32-1-", &[0, 4, 7]),
    ("A", "x02220", "--123-", &[1, 4, 9]),
    ("Am", "x02210", "--231-", &[0, 4, 9]),
    ("G", "320003", "21---3", &[2, 7, 11]),
    ("E", "022100", "-231--", &[4, 8, 11]),
    ("Em", "022000", "-23---", &[4, 7, 11]),
    ("D", "xx0232", "---132", &[2, 6, 9]),
    ("Dm", "xx0231", "---231", &[2, 5, 9]),
];

#[test]
fn the_open_chords_are_found_first() {
    for (symbol, frets, fingers, classes) in OPEN_CHORDS {
        let first = &shapes(symbol, 1)[0];
        assert_eq!(
            (first.frets_text().as_str(), first.fingers_text().as_str()),
            (frets, fingers)
        );
        let mut found: Vec<u8> = first.positions().iter().map(|p| p.midi % 12).collect();
        found.sort_unstable();
        found.dedup();
        assert_eq!(found, classes, "{symbol}");
        let degree = first.positions()[0].degree;
        assert_eq!(degree.to_string(), "1", "{symbol}");
    }
}

#[test]
fn the_open_sevenths_are_found_first() {
    for (symbol, frets, fingers) in [
        ("C7", "x32310", "-3241-"),
        ("G7", "320001", "32---1"),
        ("D7", "xx0212", "---213"),
        ("E7", "020100", "-2-1--"),
        // One finger and the next; 1 and 3 are taught as well.
        ("A7", "x02020", "--2-3-"),
        ("Am7", "x02010", "--2-1-"),
        ("Cmaj7", "x32000", "-32---"),
    ] {
        let first = &shapes(symbol, 1)[0];
        assert_eq!(
            (first.frets_text().as_str(), first.fingers_text().as_str()),
            (frets, fingers)
        );
    }
}

#[test]
fn the_barre_forms_are_among_the_first() {
    for (symbol, frets, fingers, place) in [
        ("F", "133211", "134211", 1),
        ("Fm", "133111", "134111", 1),
        ("F7", "131211", "131211", 1),
        ("Fm7", "131111", "131111", 1),
        ("Bb", "x13331", "-12341", 2),
        ("Bbm", "x13321", "-13421", 2),
        ("Bb7", "x13131", "-12131", 2),
        ("Bbm7", "x13121", "-13121", 2),
    ] {
        let found = shapes(symbol, place);
        let shape = found.iter().find(|shape| shape.frets_text() == frets);
        let shape = shape.unwrap_or_else(|| panic!("{symbol} {frets}"));
        assert_eq!(shape.fingers_text(), fingers, "{symbol}");
        let barre = shape.barres()[0];
        assert_eq!((barre.finger.value(), barre.fret.value()), (1, 1));
        assert_eq!(barre.from, shape.positions()[0].string);
        assert_eq!(barre.to.value(), 1);
    }
}

#[test]
fn the_five_places_of_a_chord_are_found() {
    // The forms C, A, G, E and D along the neck, all C E G; their roots lie on strings 5, 5, 6, 6 and 4.
    let found = shapes("C", 24);
    for (frets, root) in [
        ("x32010", 5),
        ("x35553", 5),
        ("875558", 6),
        ("8-10-10-9-8-8", 6),
        ("x-x-10-12-13-12", 4),
    ] {
        let shape = found.iter().find(|shape| shape.frets_text() == frets);
        let shape = shape.unwrap_or_else(|| panic!("{frets}"));
        assert_eq!(shape.positions()[0].string.value(), root);
        assert!(
            shape
                .positions()
                .iter()
                .all(|p| chord("C").tones().contains(&p.note))
        );
    }
}

#[test]
fn a_slash_bass_is_the_lowest_note() {
    for (symbol, frets) in [
        ("C/G", "332010"),
        ("Am/G", "302210"),
        ("D/F#", "200232"),
        ("G/B", "x20003"),
        ("C/Bb", "x12010"),
    ] {
        assert_eq!(shapes(symbol, 1)[0].frets_text(), frets, "{symbol}");
    }
    // A bass that is no chord tone has the degree it would have.
    let degree = shapes("Am/G", 1)[0].positions()[0].degree;
    assert_eq!(degree.to_string(), "b7");
}

#[test]
fn a_capo_moves_the_names_and_not_the_shapes() {
    let neck = Neck::new(Tuning::standard(), super::fret(22), super::fret(2)).unwrap();
    let hand = fivefold::neck::HandModel::default();
    let shape = &fivefold::neck::chord_shapes(&chord("A"), &neck, &hand, 1)[0];
    assert_eq!(shape.frets_text(), "320003");
    let notes: Vec<String> = shape
        .positions()
        .iter()
        .map(|p| p.note.to_string())
        .collect();
    assert_eq!(notes, ["A", "C#", "E", "A", "C#", "A"]);
    let keys: Vec<u8> = shape.positions().iter().map(|p| p.midi).collect();
    assert_eq!(keys, [45, 49, 52, 57, 61, 69]);
}
