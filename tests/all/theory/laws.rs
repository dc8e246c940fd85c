//! Laws that hold for every input.

use fivefold::Diagnostic;
use fivefold::theory::{
    Chord, Degree, Harmony, Interval, Key, Letter, Mode, PitchClass, PitchName, Scale, figure,
    numeral, symbol,
};
use proptest::prelude::*;

fn any_name(most: i8) -> impl Strategy<Value = PitchName> {
    (0..7_usize, -most..=most)
        .prop_map(|(letter, alter)| PitchName::new(Letter::ALL[letter], alter).unwrap())
}

fn any_degree() -> impl Strategy<Value = Degree> {
    (1..=13_u8, -2..=2_i8).prop_map(|(number, alter)| Degree::new(number, alter).unwrap())
}

/// Degrees as chord symbols use them, so that most sets have a symbol and not only a list.
fn usual_degree() -> impl Strategy<Value = Degree> {
    let usual = [
        "2", "b3", "3", "4", "#4", "b5", "5", "#5", "b6", "6", "bb7", "b7", "7", "b9", "9", "#9",
        "11", "#11", "b13", "13",
    ];
    (0..usual.len()).prop_map(move |at| Degree::read(usual[at]).unwrap())
}

fn any_key() -> impl Strategy<Value = Key> {
    (any_name(1), 0..7_usize).prop_map(|(tonic, mode)| Key::new(tonic, Mode::ALL[mode]).unwrap())
}

fn reads_back(chord: Chord) {
    let printed = chord.to_string();
    assert!(printed.is_ascii());
    assert_eq!(
        symbol::read(&printed),
        Ok(Harmony::Chord(chord)),
        "{printed}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_degrees_print_and_read_back(
        root in any_name(4),
        degrees in prop::collection::vec(any_degree(), 0..10),
        bass in prop::option::of(any_name(4)),
    ) {
        reads_back(Chord::new(root, degrees, bass).unwrap());
    }

    #[test]
    fn usual_degrees_print_and_read_back(
        root in any_name(2),
        degrees in prop::collection::vec(usual_degree(), 0..9),
        bass in prop::option::of(any_name(1)),
    ) {
        reads_back(Chord::new(root, degrees, bass).unwrap());
    }

    #[test]
    fn no_text_breaks_a_reader(text in any::<String>()) {
        every_reader(&text);
    }

    #[test]
    fn no_near_chord_breaks_a_reader(
        text in "[A-HN]?[b#\u{266d}\u{1d12a}]{0,2}(m|M|maj|min|dim|aug|sus|add|no|omit|alt|o|\u{f8}|\u{394}|[0-9]|[-+b#/(),: ^*]|i|v|I|V){0,7}",
    ) {
        every_reader(&text);
    }

    #[test]
    fn no_near_scale_breaks_the_reader(text in "[A-Hab][b#]{0,2} ([a-z\u{e9}-]{1,12} ){0,3}([b#]{0,2}[0-9]{1,2} ){0,7}") {
        every_reader(&text);
    }

    #[test]
    fn chords_move_there_and_back(
        root in any_name(1),
        degrees in prop::collection::vec(usual_degree(), 0..6),
        bass in prop::option::of(any_name(1)),
        to in any_name(1),
    ) {
        let chord = Chord::new(root, degrees, bass).unwrap();
        let interval = Interval::between(root, to);
        let there = chord.transposed(interval);
        prop_assert_eq!(there.transposed(-interval), chord);
        let up = |class: &PitchClass| class.up(interval.semitones());
        let mut moved: Vec<_> = chord.pitch_classes().iter().map(up).collect();
        moved.sort_unstable();
        prop_assert_eq!(moved, there.pitch_classes());
        reads_back(there);
    }

    #[test]
    fn no_root_needs_a_double_accidental(root in any_name(1), steps in -20..20_i32, off in -3..=3_i32) {
        let semitones = Interval::between(PitchName::natural(Letter::C), PitchName::natural(Letter::C.up(steps)));
        let interval = Interval::new(steps, semitones.semitones() + 12 * steps.div_euclid(7) + off);
        let chord = Chord::new(root, [], Some(PitchName::natural(Letter::E))).unwrap().transposed(interval);
        prop_assert!(chord.root().alter().abs() <= 1);
        prop_assert_eq!(chord.root().pitch_class(), root.pitch_class().up(interval.semitones()));
    }

    #[test]
    fn keys_read_back_and_move_round(key in any_key(), by in -40..40_i32) {
        prop_assert_eq!(Key::read(&key.to_string()).unwrap(), key);
        let moved = key.transposed(by);
        prop_assert_eq!(moved.tonic().pitch_class(), key.tonic().pitch_class().up(by));
        let back = moved.transposed(-by);
        prop_assert_eq!(back.tonic().pitch_class(), key.tonic().pitch_class());
        let interval = key.interval_to(&moved);
        prop_assert_eq!(key.tonic().up(interval), moved.tonic());
        prop_assert!(interval.semitones().abs() <= 6);
        let (fifths, minor) = key.signature();
        prop_assert!((-7..=7).contains(&fifths));
        prop_assert_eq!(minor, key.is_minor());
    }

    #[test]
    fn scales_move_with_their_root(root in any_name(1), to in any_name(1), at in 0..23_usize) {
        let set = Scale::named(root, fivefold::theory::ScaleKind::all()[at]);
        prop_assert_eq!(Scale::read(&set.name()).unwrap(), set);
        let there = set.transposed(Interval::between(root, to));
        prop_assert_eq!(there, Scale::named(to, fivefold::theory::ScaleKind::all()[at]));
        let home = there.home().unwrap();
        prop_assert!(there.pitch_classes().iter().all(|class| home.contains(*class)));
        let letters = |scale: &Scale| scale.notes().iter().map(|note| note.letter()).collect::<Vec<_>>();
        let steps = i32::from(to.letter().step()) - i32::from(root.letter().step());
        let moved: Vec<_> = letters(&set).iter().map(|letter| letter.up(steps)).collect();
        prop_assert_eq!(moved, letters(&there));
    }
}

/// No reader panics, and what each says about a wrong text points into it.
fn every_reader(text: &str) {
    let key = Key::read("A minor").unwrap();
    for read in [
        figure::read(text).map(Some),
        symbol::read(text).map(|_| None),
    ] {
        match read {
            Ok(Some(figure)) => {
                let harmony = figure.resolve(Some(&key)).unwrap();
                assert_eq!(
                    symbol::read(&harmony.to_string()),
                    Ok(harmony),
                    "{text} {harmony}"
                );
            }
            Ok(None) => {}
            Err(error) => {
                check_span(text, error.span().unwrap());
                assert!(!error.help().is_empty(), "{text}: {error}");
                assert!(!error.to_string().ends_with('.'));
            }
        }
    }
    for read in [numeral::read_roman(text), numeral::read_number(text)] {
        match read {
            Ok(numeral) => {
                let _ = numeral.caution(&key);
            }
            Err(error) => check_span(text, error.span().unwrap()),
        }
    }
    if let Err(error) = Key::read(text) {
        check_span(text, error.span().unwrap());
        assert!(!error.help().is_empty());
    }
    match Scale::read(text) {
        Ok(scale) => assert_eq!(Scale::read(&scale.name()), Ok(scale)),
        Err(error) => {
            check_span(text, error.span().unwrap());
            assert!(!error.help().is_empty());
        }
    }
    let _ = PitchName::read(text).map_err(|error| (error.to_string(), error.help()));
    let _ = Degree::read(text).map_err(|error| (error.to_string(), error.help()));
}

fn check_span(text: &str, span: std::ops::Range<usize>) {
    assert!(
        text.get(span.clone())
            .is_some_and(|part| text.is_empty() || !part.is_empty()),
        "{text:?} {span:?}"
    );
}
