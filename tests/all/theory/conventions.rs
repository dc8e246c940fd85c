//! Conventions of our own where the trade disagrees: what we read, and why.

use fivefold::theory::{Harmony, symbol};

/// Symbol, degrees, and the symbol printed. The comments before each group give the reason.
const CONVENTIONS: &[(&str, &str, &str)] = &[
    // A major third and the eleventh above it rub by a semitone, so players leave the third out: C11 is C9sus4 with the
    // fourth on top. MusicXML and most libraries keep the third; `C9(add11)` says that.
    ("C11", "1 5 b7 9 11", "C11"),
    ("Cdom11", "1 5 b7 9 11", "C11"),
    ("Cmaj11", "1 5 7 9 11", "Cmaj11"),
    ("CM11", "1 5 7 9 11", "Cmaj11"),
    ("C11b9", "1 5 b7 b9 11", "C11b9"),
    ("C11(add3)", "1 3 5 b7 9 11", "C9(add11)"),
    ("C9(add11)", "1 3 5 b7 9 11", "C9(add11)"),
    ("C+11", "1 #5 b7 9 11", "C11#5"),
    // The fourth of a suspended eleventh chord is its eleventh.
    ("C11sus4", "1 4 5 b7 9", "C9sus4"),
    // With a minor third there is no rub, so the eleventh chord is whole.
    ("Cm11", "1 b3 5 b7 9 11", "Cm11"),
    ("C-11", "1 b3 5 b7 9 11", "Cm11"),
    ("CmMaj11", "1 b3 5 7 9 11", "CmMaj11"),
    // A thirteenth leaves the eleventh out for the same reason, and in minor by custom.
    ("C13", "1 3 5 b7 9 13", "C13"),
    ("Cmaj13", "1 3 5 7 9 13", "Cmaj13"),
    ("CM13", "1 3 5 7 9 13", "Cmaj13"),
    ("Cm13", "1 b3 5 b7 9 13", "Cm13"),
    ("C13#11", "1 3 5 b7 9 #11 13", "C13#11"),
    ("C13b9", "1 3 5 b7 b9 13", "C13b9"),
    ("C13(add11)", "1 3 5 b7 9 11 13", "C13(add11)"),
    // After the colon Harte's own meanings hold: nothing is left out.
    ("C:11", "1 3 5 b7 9 11", "C9(add11)"),
    ("C:13", "1 3 5 b7 9 11 13", "C13(add11)"),
    ("C:maj13", "1 3 5 7 9 11 13", "Cmaj13(add11)"),
    ("C:min13", "1 b3 5 b7 9 11 13", "Cm13(add11)"),
    // 69 is six-nine to players, not an added degree 69.
    ("C69", "1 3 5 6 9", "C6/9"),
    ("C6/9", "1 3 5 6 9", "C6/9"),
    ("C6/9/E", "1 3 5 6 9", "C6/9/E"),
    ("Cm69", "1 b3 5 6 9", "Cm6/9"),
    // Everything that can be altered is, and no natural fifth stays beside it: the commonest reading in play.
    ("C7alt", "1 3 b7 b9 #9 #11 b13", "C7alt"),
    ("Calt", "1 3 b7 b9 #9 #11 b13", "C7alt"),
    // Alone it is the fourth.
    ("Csus", "1 4 5", "Csus4"),
    ("C7sus", "1 4 5 b7", "C7sus4"),
    ("Csus7", "1 4 5 b7", "C7sus4"),
    ("C9sus", "1 4 5 b7 9", "C9sus4"),
    ("C13sus4", "1 4 5 b7 9 13", "C13sus4"),
    ("C7susb9", "1 4 5 b7 b9", "C7sus4b9"),
    ("Csus24", "1 2 4 5", "Csus2sus4"),
    // Directly after the root a dash is minor in every chart, never a flat.
    ("C-", "1 b3 5", "Cm"),
    ("C-7", "1 b3 5 b7", "Cm7"),
    ("C-9", "1 b3 5 b7 9", "Cm9"),
    ("C-6", "1 b3 5 6", "Cm6"),
    ("C-7b5", "1 b3 b5 b7", "Cm7b5"),
    ("C-7-5", "1 b3 b5 b7", "Cm7b5"),
    ("C-\u{394}7", "1 b3 5 7", "CmMaj7"),
    // Directly after the root a plus is augmented; the figure behind it is the chord's own.
    ("C+", "1 3 #5", "Caug"),
    ("C+7", "1 3 #5 b7", "C7#5"),
    ("C+9", "1 3 #5 b7 9", "C9#5"),
    ("C+M7", "1 3 #5 7", "Cmaj7#5"),
    ("C+5", "1 3 #5", "Caug"),
    // After a figure the signs alter the number that follows.
    ("C7-9", "1 3 5 b7 b9", "C7b9"),
    ("C7+9", "1 3 5 b7 #9", "C7#9"),
    ("C7(-9)", "1 3 5 b7 b9", "C7b9"),
    ("Cm7-5", "1 b3 b5 b7", "Cm7b5"),
    ("Cmaj7+11", "1 3 5 7 #11", "Cmaj7#11"),
    ("C7-13", "1 3 5 b7 b13", "C7b13"),
    ("C7+", "1 3 #5 b7", "C7#5"),
    ("C9+", "1 3 #5 b7 9", "C9#5"),
    // A minor chord cannot become minor again, so here the dash is a flat without any figure.
    ("Cm-5", "1 b3 b5", "Cdim"),
    // The circle is the triad; a seventh is written.
    ("Co", "1 b3 b5", "Cdim"),
    ("Co7", "1 b3 b5 bb7", "Cdim7"),
    // The slashed circle and the triangle mean seventh chords by themselves.
    ("C\u{f8}", "1 b3 b5 b7", "Cm7b5"),
    ("C\u{f8}9", "1 b3 b5 b7 9", "Cm9b5"),
    ("C\u{394}", "1 3 5 7", "Cmaj7"),
    // A triangle in front of a figure is the major seventh; `maj` alone is a triad, `maj6` a sixth.
    ("C\u{394}9", "1 3 5 7 9", "Cmaj9"),
    ("Cmaj", "1 3 5", "C"),
    ("Cmaj6", "1 3 5 6", "C6"),
    // Beside a third the second is the ninth; beside a seventh fourth and sixth are eleventh and thirteenth.
    ("Cadd2", "1 3 5 9", "Cadd9"),
    ("Cm7add4", "1 b3 5 b7 11", "Cm7(add11)"),
    ("C7add6", "1 3 5 b7 13", "C7(add13)"),
    ("C9#4", "1 3 5 b7 9 #11", "C9#11"),
    // Both altered fifths stand together; the natural one gives way to either.
    ("C7b5#5", "1 3 b5 #5 b7", "C7b5#5"),
    ("C7b5#9", "1 3 b5 b7 #9", "C7b5#9"),
    // A #11 or b13 leaves the natural fifth where it is.
    ("C7#11", "1 3 5 b7 #11", "C7#11"),
    ("C9b13", "1 3 5 b7 9 b13", "C9b13"),
    // An omission that holds anyway is accepted.
    ("C11(no3)", "1 5 b7 9 11", "C11"),
    ("C13(no11)", "1 3 5 b7 9 13", "C13"),
    // Accidentals that touch the letter belong to the root.
    ("Cb9", "1 3 5 b7 9", "Cb9"),
    ("C(b9)", "1 3 5 b9", "C(b9)"),
    ("C#5", "1 5", "C#5"),
];

#[test]
fn conventions_hold() {
    assert!(CONVENTIONS.len() >= 60);
    for (text, meant, printed) in CONVENTIONS {
        let harmony = symbol::read(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        let Harmony::Chord(chord) = harmony else {
            panic!("{text}")
        };
        let degrees = chord
            .degrees()
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(" ");
        assert_eq!(
            (degrees.as_str(), chord.to_string().as_str()),
            (*meant, *printed),
            "{text}"
        );
        assert_eq!(symbol::read(printed), Ok(harmony));
    }
}
