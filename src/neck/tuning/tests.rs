#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::diagnostic::Diagnostic;

fn keys(text: &str) -> Vec<u8> {
    Tuning::read(text).unwrap().keys().collect()
}

#[test]
fn the_table_is_unique_and_every_row_reads() {
    let mut spellings = Vec::new();
    let mut tunings = Vec::new();
    for (name, aliases, strings) in &TABLE {
        let tuning = read::notes(strings).unwrap();
        assert_eq!(Tuning::read(name).unwrap(), tuning);
        assert_eq!(tuning.to_string(), *strings);
        assert_eq!(tuning.name(), Some(*name));
        spellings.push(*name);
        spellings.extend(aliases.iter().copied());
        tunings.push(tuning.keys().collect::<Vec<_>>());
    }
    let count = spellings.len();
    spellings.sort_unstable();
    spellings.dedup();
    assert_eq!(spellings.len(), count);
    tunings.sort();
    tunings.dedup();
    assert_eq!(tunings.len(), TABLE.len());
    assert_eq!(Tuning::standard(), Tuning::read("standard").unwrap());
}

#[test]
fn names_and_notes_are_read() {
    for (text, expected) in [
        ("standard", [40, 45, 50, 55, 59, 64]),
        ("Drop-D", [38, 45, 50, 55, 59, 64]),
        ("open G", [38, 43, 50, 55, 59, 62]),
        ("open d tuning", [38, 45, 50, 54, 57, 62]),
        ("D A D G A D", [38, 45, 50, 55, 57, 62]),
        ("DADGAD", [38, 45, 50, 55, 57, 62]),
        ("drop C", [36, 43, 48, 53, 57, 62]),
        ("half step down", [39, 44, 49, 54, 58, 63]),
        ("EbAbDbGbBbEb", [39, 44, 49, 54, 58, 63]),
        (
            "E\u{266d} A\u{266d} D\u{266d} G\u{266d} B\u{266d} E\u{266d}",
            [39, 44, 49, 54, 58, 63],
        ),
        ("E2 A2 D3 G3 B3 E4", [40, 45, 50, 55, 59, 64]),
        ("E2A2D3G3B3E4", [40, 45, 50, 55, 59, 64]),
        ("DADGBE", [38, 45, 50, 55, 59, 64]),
        ("DADF#AD", [38, 45, 50, 54, 57, 62]),
        ("D,G,D,G,B,D", [38, 43, 50, 55, 59, 62]),
        ("CGCFAD", [36, 43, 48, 53, 57, 62]),
        ("ADGCEA", [33, 38, 43, 48, 52, 57]),
        ("BEADF#B", [35, 40, 45, 50, 54, 59]),
        ("FBbEbAbCF", [41, 46, 51, 56, 60, 65]),
    ] {
        assert_eq!(keys(text), expected, "{text}");
    }
    assert_eq!(keys("EADG"), [28, 33, 38, 43]);
    assert_eq!(keys("BEADG"), [23, 28, 33, 38, 43]);
    assert_eq!(keys("BEADGBE"), [35, 40, 45, 50, 55, 59, 64]);
    assert_eq!(keys("F#BEADGBE"), [30, 35, 40, 45, 50, 55, 59, 64]);
    assert_eq!(keys("D3 G3 B3 E4"), [50, 55, 59, 64]);
}

#[test]
fn what_is_no_tuning_is_answered() {
    let mut shown = String::new();
    for text in [
        "",
        " - ",
        "dorp d",
        "opne g",
        "standart",
        "half step",
        "banjo",
        "xyzzy",
        "EADGBe",
        "e a d g b e",
        "E A D G B H",
        "EADHBE",
        "E2 A2 D3 G3 B3 X4",
        "EAD",
        "E A",
        "EADGBEADG",
        "E2 A2 D3 G3 B3 E",
        "E A D3 G B E",
        "E2 A2 D3 G3 B3 E3",
        "G4 C4 E4 A4",
        "E2 A2 D3 G3 B3 E8",
        "C-1 A2 D3 G3 B3 E4",
        "E2 A2 D3 G3 B3 E99",
        "Ebbbbb A D G B E",
        "\u{e9}\u{e9}\u{e9}",
    ] {
        let error = Tuning::read(text).unwrap_err();
        shown += &format!(
            "{text:?} {:?} [{}] {error} / {}\n",
            text.get(error.span().unwrap()).unwrap(),
            error.code(),
            error.help()
        );
    }
    let long = Tuning::read(&"E ".repeat(50)).unwrap_err();
    shown += &format!(
        "{:?} [{}] {long} / {}\n",
        long.span().unwrap(),
        long.code(),
        long.help()
    );
    insta::assert_snapshot!(shown, @r#"
    "" "" [empty-tuning] expected a tuning, found nothing / write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    " - " " - " [empty-tuning] expected a tuning, found nothing / write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    "dorp d" "dorp d" [unknown-tuning] expected a known tuning or the notes of the open strings, found `dorp d` / write `drop d`
    "opne g" "opne g" [unknown-tuning] expected a known tuning or the notes of the open strings, found `opne g` / write `open g`
    "standart" "standart" [unknown-tuning] expected a known tuning or the notes of the open strings, found `standart` / write `standard`
    "half step" "half step" [unknown-tuning] expected a known tuning or the notes of the open strings, found `half step` / write `half step down`
    "banjo" "banjo" [unknown-tuning] expected a known tuning or the notes of the open strings, found `banjo` / write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    "xyzzy" "xyzzy" [unknown-tuning] expected a known tuning or the notes of the open strings, found `xyzzy` / write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    "EADGBe" "e" [tuning-note] expected a note A to G in upper case, found `e` / write `EADGBE`
    "e a d g b e" "e" [tuning-note] expected a note A to G in upper case, found `e` / write `E A D G B E`
    "E A D G B H" "H" [tuning-note] expected a note A to G in upper case, found `H` / write each string as a letter with its flats or sharps, such as `D` or `F#`
    "EADHBE" "H" [tuning-note] expected a note A to G in upper case, found `H` / write each string as a letter with its flats or sharps, such as `D` or `F#`
    "E2 A2 D3 G3 B3 X4" "X" [tuning-note] expected a note A to G in upper case, found `X` / write each string as a letter with its flats or sharps, such as `D` or `F#`
    "EAD" "EAD" [string-count] expected 4 to 8 strings, found 3 / write one note for each string from the lowest up, such as `D A D G B E`
    "E A" "E A" [string-count] expected 4 to 8 strings, found 2 / write one note for each string from the lowest up, such as `D A D G B E`
    "EADGBEADG" "EADGBEADG" [string-count] expected 4 to 8 strings, found 9 / write one note for each string from the lowest up, such as `D A D G B E`
    "E2 A2 D3 G3 B3 E" "E" [some-octaves] expected an octave on every string or on none, found it on 5 of 6 / write `E2 A2 D3 G3 B3 E4` with octaves or `E A D G B E` without
    "E A D3 G B E" "D3" [some-octaves] expected an octave on every string or on none, found it on 1 of 6 / write `E2 A2 D3 G3 B3 E4` with octaves or `E A D G B E` without
    "E2 A2 D3 G3 B3 E3" "E3" [falling-strings] expected a string no lower than B3, found E3 / write the strings from the lowest to the highest, here perhaps `E4`
    "G4 C4 E4 A4" "C4" [falling-strings] expected a string no lower than G4, found C4 / write the strings from the lowest to the highest, here perhaps `C5`
    "E2 A2 D3 G3 B3 E8" "E8" [string-pitch] expected open strings from C0 to C6, found E8 / write the octave behind the note: a low guitar string is `E2`
    "C-1 A2 D3 G3 B3 E4" "1" [tuning-note] expected a note A to G in upper case, found `1` / write each string as a letter with its flats or sharps, such as `D` or `F#`
    "E2 A2 D3 G3 B3 E99" "99" [string-octave] expected an octave from 0 to 9 behind the note, found `99` / write the octave behind the note: a low guitar string is `E2`
    "Ebbbbb A D G B E" "Ebbbbb" [tuning-note] expected a note A to G in upper case, found `Ebbbbb` / write each string as a letter with its flats or sharps, such as `D` or `F#`
    "ééé" "ééé" [unknown-tuning] expected a known tuning or the notes of the open strings, found `ééé` / write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    0..100 [tuning-too-long] expected a tuning of at most 80 bytes, found 100 / write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    "#);
}

#[test]
fn a_string_whose_octave_could_not_be_written_is_refused() {
    // Found by fuzzing: its notes are heard, and `B####-1` would not be read again.
    let error = Tuning::read("B####B###B#\u{b}BB##").unwrap_err();
    assert_eq!(error.span(), Some(0..5));
    assert_eq!(
        error.to_string(),
        "expected open strings from C0 to C6, found B####-1"
    );
    // The lowest strings there are can be written.
    let tuning = Tuning::read("C0 C1 C2 C3").unwrap();
    assert_eq!(Tuning::read(&tuning.to_string()), Ok(tuning));
}
