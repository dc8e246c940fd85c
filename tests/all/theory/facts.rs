//! Facts published elsewhere: MusicXML 4.0, Harte et al. 2005, common practice.

use fivefold::theory::{ChordKind, Degree, Harmony, Key, Scale, numeral, symbol};

fn degrees(symbol: &str) -> String {
    let harmony = symbol::read(symbol).unwrap_or_else(|error| panic!("{symbol}: {error}"));
    joined(harmony.chord().unwrap().degrees())
}

fn joined(degrees: &[Degree]) -> String {
    degrees
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(" ")
}

fn tones(harmony: Harmony) -> String {
    harmony
        .chord()
        .unwrap()
        .tones()
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(" ")
}

/// The kinds of the MusicXML 4.0 schema that have members there, in its words.
#[test]
fn musicxml_kinds_have_their_members() {
    let published = [
        ("major", "1 3 5"),
        ("minor", "1 b3 5"),
        ("augmented", "1 3 #5"),
        ("diminished", "1 b3 b5"),
        ("dominant", "1 3 5 b7"),
        ("major-seventh", "1 3 5 7"),
        ("minor-seventh", "1 b3 5 b7"),
        ("diminished-seventh", "1 b3 b5 bb7"),
        ("augmented-seventh", "1 3 #5 b7"),
        ("half-diminished", "1 b3 b5 b7"),
        ("major-minor", "1 b3 5 7"),
        ("major-sixth", "1 3 5 6"),
        ("minor-sixth", "1 b3 5 6"),
        ("dominant-ninth", "1 3 5 b7 9"),
        ("major-ninth", "1 3 5 7 9"),
        ("minor-ninth", "1 b3 5 b7 9"),
        ("dominant-11th", "1 3 5 b7 9 11"),
        ("major-11th", "1 3 5 7 9 11"),
        ("minor-11th", "1 b3 5 b7 9 11"),
        ("dominant-13th", "1 3 5 b7 9 11 13"),
        ("major-13th", "1 3 5 7 9 11 13"),
        ("minor-13th", "1 b3 5 b7 9 11 13"),
        ("suspended-second", "1 2 5"),
        ("suspended-fourth", "1 4 5"),
        ("power", "1 5"),
    ];
    let ours: Vec<_> = ChordKind::all()
        .map(|kind| (kind.as_str(), joined(kind.members())))
        .collect();
    assert_eq!(
        ours,
        published.map(|(name, members)| (name, members.to_owned()))
    );
    // The suffix means the same, but for the chords whose third or eleventh players leave out.
    let played_otherwise = [
        "dominant-11th",
        "major-11th",
        "dominant-13th",
        "major-13th",
        "minor-13th",
    ];
    for kind in ChordKind::all() {
        let same = degrees(&format!("C{}", kind.suffix())) == joined(kind.members());
        assert_eq!(same, !played_otherwise.contains(&kind.as_str()), "{kind}");
    }
}

/// The sixteen shorthands of the paper, and its other syntax.
#[test]
fn harte_shorthands_have_their_degrees() {
    for (text, published) in [
        ("C:maj", "1 3 5"),
        ("C:min", "1 b3 5"),
        ("C:dim", "1 b3 b5"),
        ("C:aug", "1 3 #5"),
        ("C:maj7", "1 3 5 7"),
        ("C:min7", "1 b3 5 b7"),
        ("C:7", "1 3 5 b7"),
        ("C:dim7", "1 b3 b5 bb7"),
        ("C:hdim7", "1 b3 b5 b7"),
        ("C:minmaj7", "1 b3 5 7"),
        ("C:maj6", "1 3 5 6"),
        ("C:min6", "1 b3 5 6"),
        ("C:9", "1 3 5 b7 9"),
        ("C:maj9", "1 3 5 7 9"),
        ("C:min9", "1 b3 5 b7 9"),
        ("C:sus4", "1 4 5"),
        ("C:min(*3)", ""),
        ("C:min(*b3)", "1 5"),
        ("C:maj(*3,9)", "1 5 9"),
        ("C:11", "1 3 5 b7 9 11"),
        ("C:13", "1 3 5 b7 9 11 13"),
        ("C", "1 3 5"),
    ] {
        if published.is_empty() {
            assert!(symbol::read(text).is_err(), "{text}");
        } else {
            assert_eq!(degrees(text), published, "{text}");
        }
    }
    assert_eq!(symbol::read("N"), Ok(Harmony::NoChord));
}

/// A chord tone's letter follows its degree.
#[test]
fn chord_tones_are_spelled_by_degree() {
    for (text, spelled) in [
        ("Cdim7", "C Eb Gb Bbb"),
        ("F#maj7", "F# A# C# E#"),
        ("Dbm7", "Db Fb Ab Cb"),
        ("Gbm", "Gb Bbb Db"),
        ("F\u{f8}7", "F Ab Cb Eb"),
        ("G#7", "G# B# D# F#"),
        ("C7#9", "C E G Bb D#"),
        ("Ebm9", "Eb Gb Bb Db F"),
    ] {
        assert_eq!(tones(symbol::read(text).unwrap()), spelled, "{text}");
    }
}

/// Applied and borrowed chords of the textbooks, and the three traps: flats in minor, VII in minor, I7.
#[test]
fn numerals_name_the_textbook_chords() {
    for (key, text, spelled) in [
        ("C", "V7/V", "D F# A C"),
        ("C", "V/vi", "E G# B"),
        ("C", "viio7/V", "F# A C Eb"),
        ("C", "V7/ii", "A C# E G"),
        ("C", "bIII", "Eb G Bb"),
        ("C", "bVI", "Ab C Eb"),
        ("C", "bVII", "Bb D F"),
        ("C minor", "viio", "B D F"),
        ("C minor", "bVII", "Bb D F"),
        ("A minor", "i", "A C E"),
        ("A minor", "bVI", "F A C"),
        ("C", "I7", "C E G Bb"),
        ("C", "IV7", "F A C Eb"),
    ] {
        let key = Key::read(key).unwrap();
        let harmony = numeral::read_roman(text).unwrap().resolve(&key).unwrap();
        assert_eq!(tones(harmony), spelled, "{text} in {key}");
    }
}

/// Signature bytes of the MIDI file standard's key signature event: Eb, C minor, F#, Eb minor.
#[test]
fn key_signatures_are_those_of_midi_files() {
    for (text, signature) in [
        ("Eb", (-3, false)),
        ("C minor", (-3, true)),
        ("F#", (6, false)),
        ("Eb minor", (-6, true)),
        ("D dorian", (0, true)),
    ] {
        assert_eq!(Key::read(text).unwrap().signature(), signature, "{text}");
    }
}

/// The set classes of the five-note sets: same sounds under other roots.
#[test]
fn sets_are_modes_of_one_another() {
    let sounds = |text: &str| {
        let mut classes = Scale::read(text).unwrap().pitch_classes();
        classes.sort_unstable();
        classes
    };
    for (one, other) in [
        ("A minor pentatonic", "C major pentatonic"),
        ("A minor blues", "C major blues"),
        ("D suspended pentatonic", "C major pentatonic"),
        ("E malkauns", "C major pentatonic"),
        ("G ritusen", "C major pentatonic"),
        ("A hirajoshi", "E in"),
        ("A hirajoshi", "B iwato"),
        ("A kumoi", "B in-sen"),
        ("A minor-six pentatonic", "D dominant pentatonic"),
    ] {
        assert_eq!(sounds(one), sounds(other), "{one}, {other}");
    }
}
