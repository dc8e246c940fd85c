#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::diagnostic::Diagnostic;

fn notes(text: &str) -> String {
    let scale =
        Scale::read(text).unwrap_or_else(|error| panic!("{text}: {error}; {}", error.help()));
    scale
        .notes()
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn spells_by_degrees_in_every_root() {
    for (text, expected) in [
        ("A minor pentatonic", "A C D E G"),
        ("C# minor pentatonic", "C# E F# G# B"),
        ("Db minor pentatonic", "Db Fb Gb Ab Cb"),
        ("G# minor pentatonic", "G# B C# D# F#"),
        ("Bb major pentatonic", "Bb C D F G"),
        ("E minor blues", "E G A Bb B D"),
        ("E blues", "E G A Bb B D"),
        ("C major blues", "C D Eb E G A"),
        ("D dorian", "D E F G A B C"),
        ("A harmonic minor", "A B C D E F G#"),
        ("D# harmonic minor", "D# E# F# G# A# B C##"),
        ("A hirajoshi", "A B C E F"),
        ("D in", "D Eb G A Bb"),
        ("D in-sen", "D Eb G A C"),
        ("B iwato", "B C E F A"),
        ("G dominant pentatonic", "G A B D F"),
        ("A minor-six pentatonic", "A C D E F#"),
        ("C suspended pentatonic", "C D F G Bb"),
        ("A malkauns", "A C D F G"),
        ("C ritusen", "C D F G A"),
    ] {
        assert_eq!(notes(text), expected, "{text}");
    }
}

#[test]
fn reads_names_in_other_spellings() {
    for (text, name) in [
        ("Am pentatonic", "A minor pentatonic"),
        ("Am", "A minor"),
        ("  A   Minor  Pentatonic  scale ", "A minor pentatonic"),
        ("A minor-pentatonic", "A minor pentatonic"),
        ("A pentatonic minor", "A minor pentatonic"),
        ("C ionian", "C major"),
        ("A aeolian", "A minor"),
        ("A natural minor", "A minor"),
        ("D insen", "D in-sen"),
        ("D in (kumoijoshi)", "D in"),
        ("A minor six", "A minor-six pentatonic"),
        ("C# 1 b3 4 5 b7", "C# minor pentatonic"),
        ("C#, 1, b3, 4, 5, b7", "C# minor pentatonic"),
        ("C 1 5 4 b3 b7", "C minor pentatonic"),
        ("B\u{266d} 1 2 \u{266d}3 5 6", "Bb kumoi"),
        ("C 1 2 3 5 b6", "C 1 2 3 5 b6"),
        ("A aeolian with b5", "A aeolian with b5"),
    ] {
        let scale = Scale::read(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        assert_eq!(scale.name(), name, "{text}");
        assert_eq!(Scale::read(name), Ok(scale));
    }
}

#[test]
fn names_the_home() {
    for (text, home) in [
        ("A minor pentatonic", "A minor"),
        ("C major pentatonic", "C major"),
        ("A hirajoshi", "A minor"),
        ("A kumoi", "A dorian"),
        ("A minor six", "A dorian"),
        ("A in", "A phrygian"),
        ("A in-sen", "A phrygian"),
        ("A iwato", "A locrian"),
        ("A dominant", "A mixolydian"),
        ("A minor blues", "A aeolian with b5"),
        ("A major blues", "A mixolydian with b3"),
        ("A harmonic minor", "A harmonic minor"),
        ("A 1 3 4 5 b7", "A mixolydian"),
        ("A 1 b3 4 5 7", "A harmonic minor"),
        ("A 1 2 3 #4 6", "A lydian"),
    ] {
        assert_eq!(
            Scale::read(text).unwrap().home().unwrap().name(),
            home,
            "{text}"
        );
    }
    assert_eq!(Scale::read("A 1 b2 3 #4 5").unwrap().home(), None);
}

#[test]
fn the_table_is_sound() {
    let kinds: Vec<_> = kinds::readable().collect();
    assert!(kinds.is_sorted_by(|a, b| a < b));
    assert_eq!(kinds.len(), ScaleKind::MixolydianFlatThree as usize + 1);
    for mode in Mode::ALL {
        let kind = ScaleKind::of_mode(mode);
        assert_eq!((kind.name(), kind.mode()), (mode.as_str(), Some(mode)));
        assert_eq!(kind.home(), kind);
    }
    let mut names = std::collections::BTreeSet::new();
    for kind in kinds.iter().copied() {
        assert!(
            kind.degrees()
                .is_sorted_by(|a, b| a.semitones() < b.semitones()),
            "{}",
            kind.name()
        );
        assert_eq!(kind.degrees()[0], Degree::ROOT);
        for name in std::iter::once(&kind.name()).chain(kind.aliases()) {
            assert!(names.insert(*name), "{name} stands twice");
            assert_eq!(
                Scale::read(&format!("C {name}")).unwrap().kind(),
                Some(kind),
                "{name}"
            );
        }
        let home = kind.home();
        assert!(
            kind.degrees()
                .iter()
                .all(|degree| home.degrees().contains(degree)),
            "{}",
            kind.name()
        );
        assert!(home.degrees().len() >= 7);
        let same = kinds
            .iter()
            .filter(|other| other.degrees() == kind.degrees())
            .count();
        assert_eq!(same, 1, "{}", kind.name());
    }
    let rotations = ["major", "suspended", "minor"].map(|name| format!("C {name} pentatonic"));
    for name in rotations
        .iter()
        .map(String::as_str)
        .chain(["C malkauns", "C ritusen"])
    {
        let mut steps: Vec<_> = Scale::read(name)
            .unwrap()
            .degrees()
            .iter()
            .map(|d| d.semitones())
            .collect();
        steps.push(12);
        let mut gaps: Vec<_> = steps.windows(2).map(|pair| pair[1] - pair[0]).collect();
        gaps.sort_unstable();
        assert_eq!(gaps, [2, 2, 2, 3, 3], "{name}");
    }
    let blues: Vec<_> = ScaleKind::all()
        .iter()
        .filter(|kind| kind.is_blues())
        .map(|kind| kind.name())
        .collect();
    assert_eq!(
        blues,
        [
            "minor pentatonic",
            "major pentatonic",
            "minor blues",
            "major blues"
        ]
    );
    assert_eq!(
        ScaleKind::all()
            .iter()
            .filter(|kind| kind.is_five_note())
            .count(),
        12
    );
    assert!(
        Scale::read("A minor blues")
            .unwrap()
            .kind()
            .unwrap()
            .is_minor()
    );
    assert!(
        !Scale::read("A major blues")
            .unwrap()
            .kind()
            .unwrap()
            .is_minor()
    );
}

#[test]
fn moves_and_answers() {
    let set = Scale::read("A minor pentatonic").unwrap();
    assert_eq!(
        set.transposed(Interval::new(0, 1)).notes()[1].to_string(),
        "C#"
    );
    assert_eq!(
        set.transposed(Interval::new(1, 1)).name(),
        "Bb minor pentatonic"
    );
    assert!(set.contains(PitchName::read("G").unwrap().pitch_class()));
    assert!(!set.contains(PitchName::read("G#").unwrap().pitch_class()));
    assert_eq!(
        set.pitch_classes()
            .iter()
            .map(|class| class.value())
            .collect::<Vec<_>>(),
        [9, 0, 2, 4, 7]
    );
}

#[test]
fn refuses_what_is_no_scale() {
    for (text, code, span, message, help) in [
        (
            "",
            "empty-scale",
            0..0,
            "expected a root and a scale, found nothing",
            "write a root and a name, such as `A minor pentatonic`",
        ),
        (
            "a minor pentatonic",
            "no-scale-root",
            0..18,
            "expected a root A to G in upper case, found `a`",
            "write `A minor pentatonic`",
        ),
        // Text before the root or after the name is not part of the mistake.
        (
            "\n(b(dorian ",
            "no-scale-root",
            2..10,
            "expected a root A to G in upper case, found `b`",
            "write `B(dorian`",
        ),
        (
            " H minor",
            "no-scale-root",
            1..8,
            "expected a root A to G in upper case, found `H`",
            "write `B minor`",
        ),
        (
            "minor pentatonic",
            "no-scale-root",
            0..16,
            "expected a root before `minor pentatonic`, found none",
            "write a root A to G before it, as in `A minor pentatonic`",
        ),
        (
            "H minor",
            "no-scale-root",
            0..7,
            "expected a root A to G in upper case, found `H`",
            "write `B minor`",
        ),
        (
            "Cbbb minor",
            "no-scale-root",
            0..4,
            "expected a root A to G in upper case, found `Cbbb`",
            "write a root and a name, such as `A minor pentatonic`",
        ),
        (
            "Apple pie",
            "no-scale-root",
            0..5,
            "expected a root A to G in upper case, found `Apple`",
            "write a root and a name, such as `A minor pentatonic`",
        ),
        (
            "A",
            "no-scale-name",
            0..1,
            "expected a scale after A, found nothing",
            "write a name, as in `A minor pentatonic`, or degrees, as in `A 1 b3 4 5 b7`",
        ),
        (
            "A minor pentatnic",
            "unknown-scale",
            0..17,
            "expected a known scale, found `minor pentatnic`",
            "write `A minor pentatonic`",
        ),
        (
            "A hirojoshi",
            "unknown-scale",
            0..11,
            "expected a known scale, found `hirojoshi`",
            "write `A hirajoshi`",
        ),
        (
            "A dorain",
            "unknown-scale",
            0..8,
            "expected a known scale, found `dorain`",
            "write `A dorian`",
        ),
        (
            "A bebop",
            "unknown-scale",
            0..7,
            "expected a known scale, found `bebop`",
            "write a name, as in `A minor pentatonic`, or degrees, as in `A 1 b3 4 5 b7`",
        ),
        (
            "A pentatonic",
            "which-pentatonic",
            0..12,
            "`pentatonic` may be the major or the minor one",
            "write `A major pentatonic` or `A minor pentatonic`",
        ),
        (
            "A 1 b3 4 5 x",
            "bad-degree",
            11..12,
            "expected a degree such as b3, found `x`",
            "write degrees with their sharps or flats before them, such as `b3` or `#4`",
        ),
        (
            "A 1 b3 4 5 b3",
            "degree-twice",
            11..13,
            "the degree b3 stands twice",
            "write b3 once",
        ),
        (
            "A 1 #4 b5",
            "same-sound",
            7..9,
            "the degrees #4 and b5 are the same sound",
            "leave out #4 or b5",
        ),
        (
            "A b3 4 5",
            "no-first-degree",
            2..4,
            "expected the root, degree 1, first",
            "begin the degrees with 1, as in `1 b3 4 5 b7`",
        ),
        (
            "A 1",
            "too-few-degrees",
            2..3,
            "expected at least 2 degrees, found 1",
            "write more degrees, as in `1 b3 4 5 b7`",
        ),
        (
            "A 1 3 5 9",
            "degree-range",
            8..9,
            "expected degrees from 1 to 7, found 9",
            "write 2, the same note an octave lower",
        ),
        (
            "A 1 3 5 22",
            "bad-degree",
            8..10,
            "expected a degree such as b3, found `22`",
            "write degrees with their sharps or flats before them, such as `b3` or `#4`",
        ),
    ] {
        let error = Scale::read(text).unwrap_err();
        let found = (
            error.code(),
            error.span().unwrap(),
            error.to_string(),
            error.help(),
        );
        assert_eq!(
            found,
            (code, span, message.to_owned(), help.to_owned()),
            "{text}"
        );
    }
}

/// A flat first degree is sorted before the first, and what is printed is read.
#[test]
fn a_set_with_a_degree_below_its_root_comes_back() {
    let set = Scale::read("A 1 b1 #4").unwrap();
    assert_eq!(set.name(), "A b1 1 #4");
    assert_eq!(Scale::read(&set.name()), Ok(set));
}

/// Every name and every list of degrees is read alike with a root and without.
#[test]
fn a_set_without_a_root_is_the_set_that_it_is_on_a_root() {
    let eb = PitchName::read("Eb").unwrap();
    let degrees = ["1 b3 4 5 b7", "1 2 #4 5", "b1 1 #4", "1 2 3"];
    let names = kinds::readable().flat_map(|kind| {
        let names = std::iter::once(kind.name()).chain(kind.aliases().iter().copied());
        names.map(str::to_owned).collect::<Vec<_>>()
    });
    for text in names.chain(degrees.map(str::to_owned)) {
        let formula = ScaleFormula::read(&text).unwrap();
        let scale = Scale::read(&format!("Eb {text}")).unwrap();
        assert_eq!(scale, formula.on(eb), "{text}");
        assert_eq!(scale.formula(), formula, "{text}");
        assert_eq!(
            scale.home(),
            formula.home().map(|home| home.on(eb)),
            "{text}"
        );
        assert_eq!(
            ScaleFormula::read(&formula.to_string()),
            Ok(formula),
            "{text}"
        );
        assert_eq!(
            ScaleFormula::read_rooted(&format!("Eb {text}")),
            Ok((Some(eb), formula)),
            "{text}"
        );
    }
    assert_eq!(
        ScaleFormula::read_rooted(" Minor-Pentatonic scale"),
        Ok((None, ScaleFormula::named(ScaleKind::MinorPentatonic)))
    );
}

#[test]
fn a_set_without_a_root_is_refused_at_its_own_place() {
    let mut all = String::new();
    for text in [
        "",
        "minor pentatonics",
        " hirajosi",
        "Hirajosi",
        "pentatonic",
        "1 b3 x",
        "1 b3 10",
        "b3 4",
        "1",
        "foo",
        // What is left behind a note name is no name of a set: this is not Ab minor.
        "flat minor",
        "A minr",
        "A",
        "b minor pentatonic",
        "H minor pentatonic",
        "sol minor pentatonic",
        "X",
    ] {
        let error = ScaleFormula::read_rooted(text).unwrap_err();
        let help = error.help();
        let found = &text[error.span().unwrap()];
        all.push_str(&format!("{text:?} {found:?} {error} / {help}\n"));
    }
    insta::assert_snapshot!(all, @r#"
    "" "" expected a root and a scale, found nothing / write a root and a name, such as `A minor pentatonic`
    "minor pentatonics" "minor pentatonics" expected a known scale, found `minor pentatonics` / write `minor pentatonic`
    " hirajosi" "hirajosi" expected a known scale, found `hirajosi` / write `hirajoshi`
    "Hirajosi" "Hirajosi" expected a known scale, found `Hirajosi` / write `hirajoshi`
    "pentatonic" "pentatonic" `pentatonic` may be the major or the minor one / write `major pentatonic` or `minor pentatonic`
    "1 b3 x" "x" expected a degree such as b3, found `x` / write degrees with their sharps or flats before them, such as `b3` or `#4`
    "1 b3 10" "10" expected degrees from 1 to 7, found 10 / write 3, the same note an octave lower
    "b3 4" "b3" expected the root, degree 1, first / begin the degrees with 1, as in `1 b3 4 5 b7`
    "1" "1" expected at least 2 degrees, found 1 / write more degrees, as in `1 b3 4 5 b7`
    "foo" "foo" expected a known scale, found `foo` / write a name, as in `minor pentatonic`, or degrees, as in `1 b3 4 5 b7`
    "flat minor" "flat minor" expected a known scale, found `flat minor` / write a name, as in `minor pentatonic`, or degrees, as in `1 b3 4 5 b7`
    "A minr" "A minr" expected a known scale, found `minr` / write `A minor`
    "A" "A" expected a scale after A, found nothing / write a name, as in `A minor pentatonic`, or degrees, as in `A 1 b3 4 5 b7`
    "b minor pentatonic" "b minor pentatonic" expected a root A to G in upper case, found `b` / write `B minor pentatonic`
    "H minor pentatonic" "H minor pentatonic" expected a root A to G in upper case, found `H` / write `B minor pentatonic`
    "sol minor pentatonic" "sol minor pentatonic" expected a root A to G in upper case, found `sol` / write `G minor pentatonic`
    "X" "X" expected a root A to G in upper case, found `X` / write a root and a name, such as `A minor pentatonic`
    "#);
}
