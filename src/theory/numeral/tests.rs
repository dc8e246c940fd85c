#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::diagnostic::Diagnostic;

fn key(text: &str) -> Key {
    Key::read(text).unwrap()
}

fn read(text: &str) -> Numeral {
    let read = if text
        .trim_start_matches(['b', '#'])
        .starts_with(|next: char| next.is_ascii_digit())
    {
        read_number(text)
    } else {
        read_roman(text)
    };
    read.unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help()))
}

#[test]
fn numerals_count_from_the_major_scale() {
    for (in_key, text, chord) in [
        ("C", "I", "C"),
        ("C", "ii7", "Dm7"),
        ("C", "iii", "Em"),
        ("C", "IVmaj7", "Fmaj7"),
        ("C", "V7", "G7"),
        ("C", "vi", "Am"),
        ("C", "vii\u{f8}7", "Bm7b5"),
        ("C", "viio", "Bdim"),
        ("C", "viio7", "Bdim7"),
        ("C", "I7", "C7"),
        ("C", "I6", "C6"),
        ("C", "V6", "G6"),
        ("C", "I6/9", "C6/9"),
        ("C", "III+", "Eaug"),
        ("C", "bVII", "Bb"),
        ("C", "bIII7", "Eb7"),
        ("C", "#ivo7", "F#dim7"),
        ("C", "#IVo7", "F#dim7"),
        ("C", "Vsus4", "Gsus4"),
        ("C", "V7sus4", "G7sus4"),
        ("C", "V7alt", "G7alt"),
        ("C", "V9#5", "G9#5"),
        ("C", "V5", "G5"),
        ("C", "iv6", "Fm6"),
        ("C", "ii9", "Dm9"),
        ("C", "ii11", "Dm11"),
        ("C", "imaj7", "CmMaj7"),
        ("C", "i\u{394}", "CmMaj7"),
        ("C", "i(maj7)", "CmMaj7"),
        ("C", "i(add9)", "Cm(add9)"),
        ("C", "i6/9", "Cm6/9"),
        ("C", "IIm7", "Dm7"),
        ("C", "iim7", "Dm7"),
        ("C", "II-7", "Dm7"),
        ("C", "iim7b5", "Dm7b5"),
        ("C", "ii7b5", "Dm7b5"),
        ("A minor", "i", "Am"),
        ("A minor", "bVII", "G"),
        ("A minor", "bVI", "F"),
        ("A minor", "bIII", "C"),
        ("A minor", "VII", "G#"),
        ("A minor", "viio7", "G#dim7"),
        ("A minor", "V7b9", "E7b9"),
        ("F# dorian", "bVII", "E"),
        ("Db", "bIII", "Fb"),
        ("Gb", "bVI", "D"),
        ("Gb", "bIII7", "A7"),
    ] {
        assert_eq!(
            read(text).resolve(&key(in_key)).unwrap().to_string(),
            chord,
            "{text} in {in_key}"
        );
    }
}

#[test]
fn applied_chords_count_from_their_target() {
    for (in_key, text, chord) in [
        ("C", "V7/V", "D7"),
        ("C", "V/vi", "E"),
        ("C", "V7/ii", "A7"),
        ("C", "viio7/V", "F#dim7"),
        ("C", "ii\u{f8}7/ii", "Em7b5"),
        ("C", "V7/bVII", "F7"),
        ("C", "V7/V/V", "A7"),
        ("C", "V7/V/V/V", "E7"),
        ("C", "IV/IV", "Bb"),
        ("C", "V6/9/V", "D6/9"),
        ("A minor", "V7/iv", "A7"),
    ] {
        assert_eq!(
            read(text).resolve(&key(in_key)).unwrap().to_string(),
            chord,
            "{text} in {in_key}"
        );
    }
}

#[test]
fn numbers_take_suffix_and_bass() {
    for (in_key, text, chord) in [
        ("C", "1", "C"),
        ("C", "57", "G7"),
        ("C", "4", "F"),
        ("C", "6-", "Am"),
        ("C", "6-7", "Am7"),
        ("C", "6m7", "Am7"),
        ("C", "2-", "Dm"),
        ("C", "b7", "Bb"),
        ("C", "b77", "Bb7"),
        ("C", "#4o7", "F#dim7"),
        ("C", "1/3", "C/E"),
        ("C", "5/7", "G/B"),
        ("C", "4/5", "F/G"),
        ("C", "1/b7", "C/Bb"),
        ("C", "15", "C5"),
        ("C", "1maj7", "Cmaj7"),
        ("C", "16/9", "C6/9"),
        ("C", "16/5", "C6/G"),
        ("C", "169", "C6/9"),
        ("C", "5sus4", "Gsus4"),
        ("C", "1sus2/4", "Csus2/F"),
        ("C", "513", "G13"),
        ("C", "7\u{f8}", "Bm7b5"),
        ("A minor", "1-", "Am"),
        ("A minor", "b3", "C"),
        ("Eb", "6-7/5", "Cm7/Bb"),
    ] {
        assert_eq!(
            read(text).resolve(&key(in_key)).unwrap().to_string(),
            chord,
            "{text} in {in_key}"
        );
        assert_eq!(read(text).as_str(), text);
    }
}

#[test]
fn cautions_where_the_flat_is_likely_meant() {
    let caution = |text: &str, in_key: &str| read(text).caution(&key(in_key));
    let said = |text: &str, in_key: &str| caution(text, in_key).unwrap_or_default();
    assert_eq!(
        said("VII", "A minor"),
        "`VII` in A minor is G#; for G write `bVII`"
    );
    assert_eq!(
        said("VI7", "C minor"),
        "`VI7` in C minor is A7; for Ab7 write `bVI7`"
    );
    assert_eq!(
        said("IIImaj7", "D dorian"),
        "`IIImaj7` in D dorian is F#maj7; for Fmaj7 write `bIIImaj7`"
    );
    assert_eq!(
        said("V7/III", "A minor"),
        "`III` in A minor is C#; for C write `bIII`"
    );
    for (text, in_key) in [
        ("VII", "C"),
        ("bVII", "A minor"),
        ("vii", "A minor"),
        ("VIIo7", "A minor"),
        ("V", "A minor"),
        ("IV", "A minor"),
        ("3", "A minor"),
        ("V7/V", "A minor"),
    ] {
        assert_eq!(caution(text, in_key), None, "{text} in {in_key}");
    }
}
