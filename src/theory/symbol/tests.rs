#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::diagnostic::Diagnostic;

fn degrees(text: &str) -> String {
    let harmony = read(text).unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help()));
    let chord = harmony.chord().unwrap();
    chord
        .degrees()
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(" ")
}

/// Each line is one chord in all its spellings; the first is the one that is printed.
#[test]
fn spellings_of_one_chord() {
    for (meant, spellings) in [
        (
            "1 3 5",
            "C CM Cmaj Cma CMaj CMA Cmajor C:maj C:(3,5) C:(1,3,5)",
        ),
        (
            "1 b3 5",
            "Cm Cmi Cmin C- C\u{2212} CMI Cminor C:min C:(b3,5)",
        ),
        (
            "1 b3 b5",
            "Cdim Co C\u{b0} C\u{ba} CDim C:dim Cmb5 Cm(b5) Cm-5 C-b5",
        ),
        ("1 3 #5", "Caug C+ C+5 C(#5) C(+5) C:aug CAug CM#5"),
        ("1 3 5 b7", "C7 Cdom7 Cdom C:7"),
        (
            "1 3 5 7",
            "Cmaj7 CM7 Cma7 CMaj7 CMA7 C\u{394} C\u{394}7 C\u{2206}7 C\u{25b3}7 C^ C^7 C7M C(maj7) C:maj7",
        ),
        ("1 b3 5 b7", "Cm7 Cmi7 Cmin7 C-7 CMI7 C:min7"),
        (
            "1 b3 5 7",
            "CmMaj7 CmM7 Cm(maj7) Cm(M7) Cmmaj7 CminMaj7 C-\u{394}7 C-\u{394} Cm\u{394}7 C-M7 Cm/maj7 Cm/M7 Cm#7 Cm(#7) Cm^7 Cm7M C:minmaj7 Cm(addM7)",
        ),
        ("1 b3 b5 bb7", "Cdim7 Co7 C\u{b0}7 C:dim7"),
        (
            "1 b3 b5 b7",
            "Cm7b5 C\u{f8} C\u{f8}7 C\u{d8}7 C\u{2205}7 C-7b5 Cm7(b5) Cm7-5 C-7-5 Chdim7 Ch7 Chalf-dim7 C:hdim7 Cmin7\u{266d}5",
        ),
        ("1 b3 b5 7", "CdimMaj7 CoM7 Cdim(maj7) C\u{b0}\u{394}7"),
        (
            "1 3 #5 b7",
            "C7#5 C7+ C+7 Caug7 C7(#5) C7+5 C7(+5) C7aug C7\u{266f}5",
        ),
        (
            "1 3 #5 7",
            "Cmaj7#5 C+maj7 C+M7 CaugMaj7 Cmaj7+5 Cmaj7+ C+\u{394}7 C+(maj7) C\u{394}#5",
        ),
        ("1 3 5 6", "C6 CM6 Cmaj6 Cadd6 C(add6) C:maj6 C:6"),
        ("1 b3 5 6", "Cm6 C-6 Cmin6 Cm(add6) C:min6"),
        (
            "1 3 5 6 9",
            "C6/9 C69 C6add9 C6(9) C6(add9) CM69 Cmaj6/9 C(add6,add9) C:maj(6,9)",
        ),
        ("1 b3 5 6 9", "Cm6/9 Cm69 C-69 Cm6add9"),
        (
            "1 3 5 9",
            "Cadd9 C(add9) C(9) Cadd2 CMadd9 Cmajadd9 C:maj(9)",
        ),
        ("1 b3 5 9", "Cm(add9) Cmadd9 Cminadd9 C-add9 Cmadd2"),
        ("1 3 5 11", "Cadd11 C(add11) C:maj(11)"),
        ("1 3 4 5", "Cadd4 C(add4) C:maj(4)"),
        ("1 3 5 b7 9", "C9 C7(9) Cdom9 C7add9 C:9"),
        (
            "1 3 5 7 9",
            "Cmaj9 CM9 C\u{394}9 C^9 Cmaj7(9) C(maj9) Cmaj7add9 C:maj9",
        ),
        ("1 b3 5 b7 9", "Cm9 C-9 Cmin9 Cm7(9) C:min9"),
        ("1 b3 5 7 9", "CmMaj9 Cm(maj9) Cm9(maj7) C-\u{394}9 CmM9"),
        ("1 5 b7 9 11", "C11 C11(no3) C9(11,no3) C11no3rd"),
        ("1 b3 5 b7 9 11", "Cm11 C-11 Cmin11 Cm9(11) Cm9add11"),
        ("1 b3 5 b7 11", "Cm7(add11) Cm7add11 Cm7(11) Cm7add4"),
        ("1 3 5 b7 9 13", "C13 C9(13) C13no11 C7(9,13)"),
        ("1 3 5 b7 9 11 13", "C13(add11) C:13"),
        ("1 3 5 b7 13", "C7(add13) C7(13) C7add6"),
        ("1 3 5 b7 b9", "C7b9 C7(b9) C7-9 C7(-9) C7\u{266d}9"),
        ("1 3 5 b7 #9", "C7#9 C7(#9) C7+9 C7(+9) C:7(#9)"),
        (
            "1 3 5 b7 b9 #9",
            "C7b9#9 C7#9b9 C7(b9,#9) C7(b9)(#9) C7(b9/#9)",
        ),
        ("1 3 #5 b7 #9", "C7#5#9 C7#9#5 C+7#9 C7(#5,#9) C7+#9 C+7+9"),
        ("1 3 b5 b7 b9", "C7b5b9 C7-5-9 C7(b9,b5)"),
        ("1 3 b5 #5 b7", "C7b5#5 C7(b5,#5)"),
        ("1 3 5 b7 9 #11", "C9#11 C9+11 C9(#11) C9#4"),
        ("1 3 5 b7 9 #11 13", "C13#11 C13(#11) C13+11"),
        ("1 3 5 b7 b9 13", "C13b9 C13-9 C13(b9)"),
        ("1 3 5 b7 b13", "C7b13 C7(b13) C7-13"),
        ("1 3 #5 b7 9", "C9#5 C+9 C9+5 Caug9 C9+"),
        ("1 3 b7 b9 #9 #11 b13", "C7alt Calt C7(alt)"),
        ("1 4 5", "Csus4 Csus C(sus4) C:sus4 CMsus4"),
        ("1 2 5", "Csus2 C(sus2) C:sus2"),
        (
            "1 2 4 5",
            "Csus2sus4 Csus4sus2 Csus24 Csus42 Csus2/4 Csus4add2 Csus2add4",
        ),
        ("1 4 5 9", "Csus4(add9) Csus4add9"),
        ("1 4 5 b7", "C7sus4 C7sus Csus7 C7(sus4) C:sus4(b7)"),
        ("1 2 5 b7", "C7sus2 C7(sus2)"),
        ("1 4 5 b7 9", "C9sus4 C9sus C11sus4 C11sus C7sus4(9)"),
        ("1 4 5 b7 b9", "C7sus4b9 C7b9sus4 C7susb9 C7sus(b9)"),
        ("1 4 5 b7 9 13", "C13sus4 C13sus"),
        ("1 4 5 7", "Cmaj7sus4 CM7sus4"),
        (
            "1 5",
            "C5 C(no3) Cno3 Comit3 C(no3rd) C(omit3) Cm(no3) C:5 C:(1,5)",
        ),
        ("1 3", "C(no5) Cno5 Comit5 C:maj(*5)"),
        ("1 3 b7", "C7(no5) C7no5 C:7(*5)"),
        ("1 b3 5 b6", "Cm(b6) Cmb6 Cm(addb6)"),
    ] {
        let first = spellings.split(' ').next().unwrap();
        for spelling in spellings.split(' ') {
            assert_eq!(degrees(spelling), meant, "{spelling}");
            assert_eq!(read(spelling).unwrap().to_string(), first, "{spelling}");
        }
    }
}

#[test]
fn brackets_may_hold_spaces() {
    assert_eq!(degrees("C7(9 13)"), "1 3 5 b7 9 13");
    assert_eq!(degrees("C7( b9, #9 )"), "1 3 5 b7 b9 #9");
    assert_eq!(degrees("C(no 5th)"), "1 3");
    assert_eq!(degrees("C:7(b9, #9)"), "1 3 5 b7 b9 #9");
}

#[test]
fn roots_and_basses() {
    for (text, root, bass, printed) in [
        ("Bb7", "Bb", "Bb", "Bb7"),
        ("B\u{266d}\u{394}7/D", "Bb", "D", "Bbmaj7/D"),
        ("F\u{1d12a}m", "F##", "F##", "F##m"),
        ("Bbb", "Bbb", "Bbb", "Bbb"),
        ("Cb9", "Cb", "Cb", "Cb9"),
        ("C#5", "C#", "C#", "C#5"),
        ("C6/9/G", "C", "G", "C6/9/G"),
        ("C6/E", "C", "E", "C6/E"),
        ("C7(b9)/Db", "C", "Db", "C7b9/Db"),
        ("Am7/G", "A", "G", "Am7/G"),
        ("C/C", "C", "C", "C"),
        ("C/B#", "C", "B#", "C/B#"),
        ("A:min7/b3", "A", "C", "Am7/C"),
        ("A:min/C", "A", "C", "Am/C"),
        ("C:maj/2", "C", "D", "C/D"),
        ("C:maj/1", "C", "C", "C"),
        ("Gb:min/b3", "Gb", "Bbb", "Gbm/Bbb"),
        ("C:(1,b3,3)/5", "C", "G", "C:(1,b3,3)/G"),
    ] {
        let harmony = read(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        let chord = harmony.chord().unwrap();
        let found = [
            chord.root().to_string(),
            chord.bass().to_string(),
            chord.to_string(),
        ];
        assert_eq!(found, [root, bass, printed], "{text}");
    }
}

#[test]
fn no_chord() {
    for text in ["N.C.", "NC", "N", "N.C", "n.c."] {
        assert_eq!(read(text), Ok(Harmony::NoChord));
    }
    assert_eq!(Harmony::NoChord.to_string(), "N.C.");
    assert_eq!(Harmony::NoChord.chord(), None);
}
