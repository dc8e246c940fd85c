//! What holds for every tuning, set, chord and hand.

use fivefold::Diagnostic;
use std::collections::BTreeSet;

use fivefold::neck::{
    ChordShape, Fret, HandModel, Neck, StringNumber, Tuning, chord_shape_near, chord_shapes,
    linked_shapes, root_shape, scale_positions,
};
use fivefold::theory::ScaleKind;
use fivefold::theory::{Chord, ChordKind, Interval, Pitch, PitchName, Scale, symbol};
use proptest::prelude::*;

use super::{chord, fret, shapes, string};

const ROOTS: [&str; 17] = [
    "C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B",
];

/// Suffixes beyond the named kinds: alterations, additions, omissions, sixths with ninths.
const SUFFIXES: [&str; 36] = [
    "7b5", "7b9", "7#9", "7#11", "7b13", "7b5b9", "7b5#9", "7#5b9", "7#5#9", "7b9#11", "7b9b13",
    "7#9#11", "7alt", "9#5", "9b5", "9#11", "13b9", "13#11", "13sus4", "9sus4", "7sus4", "7sus2",
    "maj7#11", "maj7#5", "maj9#11", "m9b5", "m11b5", "mMaj9", "add9", "madd9", "add11", "6/9",
    "m6/9", "sus2sus4", "7b9sus4", "(no3)",
];

/// Every chord of the vocabulary: all roots, all kinds, the alterations.
fn vocabulary() -> Vec<Chord> {
    let mut chords = Vec::new();
    for root in ROOTS {
        let name = PitchName::read(root).unwrap();
        for kind in ChordKind::all() {
            chords.push(Chord::new(name, kind.members().iter().copied(), None).unwrap());
            // As players count it.
            chords.push(chord(&format!("{root}{}", kind.suffix())));
        }
        for suffix in SUFFIXES {
            let text = format!("{root}{suffix}");
            match symbol::read(&text) {
                Ok(harmony) => chords.push(*harmony.chord().unwrap()),
                Err(error) => panic!("{text}: {error}"),
            }
        }
    }
    chords
}

/// Checks a shape against the hand without the code that found it.
fn fits_the_hand(shape: &ChordShape, hand: &HandModel) {
    let text = format!(
        "{} {} {}",
        shape.chord(),
        shape.frets_text(),
        shape.fingers_text()
    );
    let frets: Vec<Option<u8>> = shape.frets().iter().map(|f| f.map(Fret::value)).collect();
    let pressed: Vec<u8> = frets.iter().flatten().copied().filter(|f| *f > 0).collect();
    if let (Some(low), Some(high)) = (pressed.iter().min(), pressed.iter().max()) {
        assert!(high - low < hand.span(), "{text}");
    }
    let sounds = |at: &usize| frets[*at].is_some();
    let first = (0..frets.len()).find(sounds).unwrap();
    let last = (0..frets.len()).rfind(sounds).unwrap();
    let inner = (first..last).filter(|at| frets[*at].is_none()).count();
    assert!(inner <= usize::from(hand.inner_mutes()), "{text}");
    let mut places: Vec<BTreeSet<(u8, usize)>> = vec![BTreeSet::new(); 5];
    for (at, (fret, finger)) in frets.iter().zip(shape.fingers()).enumerate() {
        match (fret, finger) {
            (Some(fret @ 1..), Some(finger)) => {
                assert!(finger.value() <= hand.fingers(), "{text}");
                places[usize::from(finger.value())].insert((*fret, at));
            }
            (Some(0) | None, None) => {
                assert!(*fret != Some(0) || hand.open(), "{text}");
            }
            other => panic!("{text}: {other:?}"),
        }
    }
    let mut last = 0;
    for (number, places) in places.iter().enumerate().filter(|(_, p)| !p.is_empty()) {
        let frets: BTreeSet<u8> = places.iter().map(|place| place.0).collect();
        assert_eq!(frets.len(), 1, "{text}: finger {number} on two frets");
        let fret = *frets.first().unwrap();
        assert!(fret >= last, "{text}: finger {number} crosses");
        last = fret;
        if places.len() > 1 {
            let barre = shape
                .barres()
                .iter()
                .find(|b| usize::from(b.finger.value()) == number);
            let barre = barre.unwrap_or_else(|| panic!("{text}: finger {number} is not flat"));
            assert!(hand.barre());
            assert_eq!(barre.fret.value(), fret);
        }
    }
    for barre in shape.barres() {
        let count = shape.frets().len();
        let from = count - usize::from(barre.from.value());
        let to = count - usize::from(barre.to.value());
        assert!(from < to, "{text}");
        // Nothing rings open or lower under a finger that lies flat.
        let under = frets[from..=to].iter().flatten();
        assert!(
            under.clone().all(|fret| *fret >= barre.fret.value()),
            "{text}"
        );
    }
}

/// Checks what sounds.
fn fits_the_chord(shape: &ChordShape) {
    let chord = shape.chord();
    let text = format!("{chord} {}", shape.frets_text());
    let keys: Vec<u8> = shape.positions().iter().map(|p| p.midi).collect();
    let mut sounding = BTreeSet::new();
    for (at, position) in shape.positions().iter().enumerate() {
        let class = position.note.pitch_class();
        assert_eq!(class.value(), position.midi % 12, "{text}");
        let is_bass = at == 0 && chord.slash().is_some();
        assert!(
            chord.contains(class) || is_bass,
            "{text}: {}",
            position.note
        );
        assert_eq!(
            position.degree.above(chord.root()).pitch_class(),
            class,
            "{text}"
        );
        sounding.insert(class);
    }
    if let Some(bass) = chord.slash() {
        assert_eq!(keys[0] % 12, bass.pitch_class().value(), "{text}");
    }
    let has = |degree: fivefold::theory::Degree| {
        sounding.contains(&chord.root().pitch_class().up(degree.semitones()))
    };
    for degree in chord.degrees() {
        assert_eq!(!has(*degree), shape.left_out().contains(degree), "{text}");
    }
    for degree in [chord.third(), chord.seventh()].into_iter().flatten() {
        assert!(has(degree), "{text} without {degree}");
    }
    if !chord.has_third() {
        let instead: Vec<_> = chord
            .degrees()
            .iter()
            .filter(|d| [2, 4].contains(&d.number()))
            .collect();
        assert!(instead.iter().all(|degree| has(**degree)), "{text}");
    }
    if chord.degrees().len() <= 3 {
        assert!(shape.left_out().is_empty(), "{text}");
    }
    let root_missing = shape.left_out().iter().any(|d| d.number() == 1);
    let fifth_sounds = chord
        .degrees()
        .iter()
        .any(|d| d.number() == 5 && d.alter() == 0 && has(*d));
    assert!(
        !(root_missing && fifth_sounds),
        "{text}: the fifth goes before the root"
    );
}

#[test]
fn every_chord_of_the_vocabulary_has_shapes_and_none_has_a_foreign_tone() {
    let (neck, hand) = (Neck::standard(), HandModel::default());
    let chords = vocabulary();
    assert!(chords.len() > 1400, "{}", chords.len());
    for chord in &chords {
        let found = chord_shapes(chord, &neck, &hand, 12);
        assert!(found.len() >= 3, "{chord}: {}", found.len());
        for shape in &found {
            fits_the_hand(shape, &hand);
            fits_the_chord(shape);
        }
        let ranked = found
            .windows(2)
            .all(|p| p[0].effort_hundredths() <= p[1].effort_hundredths());
        assert!(ranked, "{chord}");
    }
}

#[test]
fn alterations_stay_where_the_hand_can_hold_them() {
    for text in [
        "C7b9", "C7#9", "C7b5", "C7#5", "C7#11", "C7b13", "C13b9", "Cmaj7#11", "Cm7b5",
    ] {
        for shape in shapes(text, 12) {
            let left: Vec<String> = shape.left_out().iter().map(ToString::to_string).collect();
            let allowed = ["1", "5", "9", "11"];
            assert!(
                left.iter().all(|d| allowed.contains(&d.as_str())),
                "{text} {left:?}"
            );
        }
    }
}

#[test]
fn fewer_shapes_are_the_first_of_more() {
    for text in ["C", "F#m7", "Bb13", "E5", "D7alt", "Am/F#"] {
        let many = shapes(text, 40);
        for most in [0, 1, 3, 9] {
            let few = shapes(text, most);
            assert_eq!(few, many[..most.min(many.len())], "{text} {most}");
        }
        let all = shapes(text, usize::MAX);
        assert_eq!(all[..many.len()], many, "{text}");
    }
}

#[test]
fn a_near_shape_is_near() {
    let (neck, hand) = (Neck::standard(), HandModel::default());
    let high = &chord_shapes(&chord("C"), &neck, &hand.with_open(false), 9);
    let high = high
        .iter()
        .find(|shape| shape.frets_text() == "8-10-10-9-8-8")
        .unwrap();
    let next = chord_shape_near(&chord("F"), &neck, &hand, high).unwrap();
    assert_eq!(next.frets_text(), "x-8-10-10-10-8");
    let open = &shapes("C", 1)[0];
    let next = chord_shape_near(&chord("Am"), &neck, &hand, open).unwrap();
    assert_eq!(next.frets_text(), "x02210");
    // From C to Am the index and the middle finger stay.
    assert_eq!(open.change_to(open), 0);
    assert_eq!(open.change_to(&next), 30 + 40 + 2 * 15);
    let none = Neck::new(Tuning::standard(), fret(1), fret(0)).unwrap();
    let error = chord_shape_near(&chord("C"), &none, &hand, open).unwrap_err();
    assert_eq!(error.code(), "no-chord-shape");
}

fn any_chord() -> impl Strategy<Value = Chord> {
    let all = vocabulary();
    (0..all.len()).prop_map(move |at| all[at])
}

fn any_scale() -> impl Strategy<Value = Scale> {
    (0..ROOTS.len(), 0..ScaleKind::all().len()).prop_map(|(root, kind)| {
        Scale::named(
            PitchName::read(ROOTS[root]).unwrap(),
            ScaleKind::all()[kind],
        )
    })
}

/// Tunings of four to eight strings, each up to nine semitones above the one below.
fn any_tuning() -> impl Strategy<Value = Tuning> {
    (28_i32..45, prop::collection::vec(0_i32..10, 3..8)).prop_map(|(lowest, steps)| {
        let mut key = lowest;
        let mut strings = vec![Pitch::of_key(key)];
        for step in steps {
            key = (key + step).min(84);
            strings.push(Pitch::of_key(key));
        }
        Tuning::new(&strings).unwrap()
    })
}

fn any_hand() -> impl Strategy<Value = HandModel> {
    (1_u8..=6, 1_u8..=4, any::<bool>(), 0_u8..3, any::<bool>()).prop_map(
        |(span, fingers, barre, mutes, open)| {
            let hand = HandModel::default().with_span(span).unwrap();
            let hand = hand.with_fingers(fingers).unwrap();
            hand.with_barre(barre)
                .with_inner_mutes(mutes)
                .with_open(open)
        },
    )
}

proptest! {
    // The whole list is long.
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    /// A search for few leaves branches that one for all follows.
    #[test]
    fn the_easiest_few_are_the_easiest_of_all(
        chord in any_chord(), tuning in any_tuning(), hand in any_hand(), most in 1_usize..6,
    ) {
        let neck = Neck::of(tuning);
        let all = chord_shapes(&chord, &neck, &hand, usize::MAX);
        let few = chord_shapes(&chord, &neck, &hand, most);
        prop_assert_eq!(&few[..], &all[..most.min(all.len())]);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn shapes_fit_any_hand_on_any_neck(
        chord in any_chord(), tuning in any_tuning(), hand in any_hand(), frets in 1_u8..=36,
    ) {
        let neck = Neck::new(tuning, fret(frets), fret(0)).unwrap();
        for shape in chord_shapes(&chord, &neck, &hand, 6) {
            fits_the_hand(&shape, &hand);
            prop_assert!(shape.frets().iter().flatten().all(|f| *f <= neck.last_fret()));
            for position in shape.positions() {
                let midi = neck.midi(position.string, position.fret).unwrap();
                prop_assert_eq!(midi, position.midi);
                prop_assert_eq!(position.note.pitch_class().value(), midi % 12);
            }
            let order = shape.positions().windows(2).all(|p| p[0].string > p[1].string);
            prop_assert!(order);
        }
    }

    #[test]
    fn a_shape_without_open_strings_moves_with_its_chord(chord in any_chord(), by in 1_u8..12) {
        let hand = HandModel::default().with_open(false);
        let neck = Neck::standard();
        let up = PitchName::simplest(chord.root().pitch_class().up(i32::from(by)), true);
        let moved = chord.transposed(Interval::between(chord.root(), up));
        let there: BTreeSet<Vec<Option<u8>>> = chord_shapes(&moved, &neck, &hand, usize::MAX)
            .iter()
            .map(|shape| shape.frets().iter().map(|f| f.map(Fret::value)).collect())
            .collect();
        for shape in chord_shapes(&chord, &neck, &hand, 20) {
            // Hands are laid down up to the twelfth fret.
            let low = shape.lowest_fret().unwrap().value() + by;
            let down = if low > 12 { 12 } else { 0 };
            let frets: Vec<Option<u8>> = shape
                .frets()
                .iter()
                .map(|f| f.map(|f| f.value() + by - down))
                .collect();
            // A shape that is part of a better one is not named, and the better one may need room below.
            let holds = |other: &Vec<Option<u8>>| {
                other.iter().zip(&frets).all(|(o, f)| o == f || f.is_none())
            };
            prop_assert!(there.iter().any(holds), "{} {} {:?}", chord, moved, frets);
        }
    }

    #[test]
    fn a_capo_transposes(chord in any_chord(), scale in any_scale(), capo in 1_u8..8) {
        let bare = Neck::standard();
        let held = Neck::new(Tuning::standard(), fret(22 + capo), fret(capo)).unwrap();
        let hand = HandModel::default();
        let up = |note: PitchName| {
            PitchName::simplest(note.pitch_class().up(i32::from(capo)), true)
        };
        let sounding = chord.transposed(Interval::between(chord.root(), up(chord.root())));
        let own = chord_shapes(&chord, &bare, &hand, 8);
        let other = chord_shapes(&sounding, &held, &hand, 8);
        prop_assert_eq!(own.len(), other.len());
        for (own, other) in own.iter().zip(&other) {
            prop_assert_eq!(own.frets(), other.frets());
            prop_assert_eq!(own.fingers(), other.fingers());
            let keys = |shape: &ChordShape, up: u8| -> Vec<u8> {
                shape.positions().iter().map(|p| p.midi + up).collect()
            };
            prop_assert_eq!(keys(own, capo), keys(other, 0));
        }
        let own = root_shape(&scale, &bare, string(6), true).unwrap();
        let sounding = scale.with_root(up(scale.root()));
        let other = root_shape(&sounding, &held, string(6), true).unwrap();
        let frets = |shape: &fivefold::neck::ScaleShape| -> Vec<(StringNumber, Fret)> {
            shape.positions().iter().map(|p| (p.string, p.fret)).collect()
        };
        prop_assert_eq!(frets(&own), frets(&other));
    }

    #[test]
    fn a_slackened_tuning_sounds_lower(chord in any_chord(), down in 1_i32..6) {
        let keys: Vec<Pitch> = Tuning::standard()
            .keys()
            .map(|key| Pitch::of_key(i32::from(key) - down))
            .collect();
        let low = Neck::of(Tuning::new(&keys).unwrap());
        let name = PitchName::simplest(chord.root().pitch_class().up(-down), true);
        let lower = chord.transposed(Interval::between(chord.root(), name));
        let hand = HandModel::default();
        let own = chord_shapes(&chord, &Neck::standard(), &hand, 6);
        let other = chord_shapes(&lower, &low, &hand, 6);
        let frets = |shapes: &[ChordShape]| -> Vec<String> {
            shapes.iter().map(ChordShape::frets_text).collect()
        };
        prop_assert_eq!(frets(&own), frets(&other));
    }

    #[test]
    fn scale_shapes_climb_their_scale_without_a_gap(
        scale in any_scale(), tuning in any_tuning(), open in any::<bool>(),
    ) {
        let neck = Neck::new(tuning, fret(36), fret(0)).unwrap();
        let every: BTreeSet<_> = scale_positions(&scale, &neck)
            .iter()
            .map(|p| (p.string, p.fret, p.midi))
            .collect();
        let classes: BTreeSet<u8> = scale.pitch_classes().iter().map(|c| c.value()).collect();
        for shape in linked_shapes(&scale, &neck, open).unwrap_or_default() {
            let positions = shape.positions();
            prop_assert_eq!(positions.len(), shape.fingers().len());
            for (position, finger) in positions.iter().zip(shape.fingers()) {
                prop_assert!(every.contains(&(position.string, position.fret, position.midi)));
                prop_assert_eq!(position.fret.is_open(), finger.is_none());
                prop_assert!(open || !position.fret.is_open());
            }
            for pair in positions.windows(2) {
                let between = (pair[0].midi + 1..pair[1].midi).any(|key| classes.contains(&(key % 12)));
                prop_assert!(pair[0].midi < pair[1].midi && !between);
                prop_assert!(pair[0].string >= pair[1].string);
            }
        }
    }

    #[test]
    fn a_root_shape_is_the_same_in_every_key(scale in any_scale(), by in 1_u8..12, low in any::<bool>()) {
        let neck = Neck::new(Tuning::standard(), fret(36), fret(0)).unwrap();
        let from = string(if low { 6 } else { 5 });
        let up = PitchName::simplest(scale.root().pitch_class().up(i32::from(by)), true);
        let relative = |scale: &Scale| -> Vec<(StringNumber, i16)> {
            let shape = root_shape(scale, &neck, from, false).unwrap();
            let first = i16::from(shape.positions()[0].fret.value());
            let away = |fret: Fret| i16::from(fret.value()) - first;
            shape.positions().iter().map(|p| (p.string, away(p.fret))).collect()
        };
        prop_assert_eq!(relative(&scale), relative(&scale.with_root(up)));
    }

    #[test]
    fn a_tuning_is_read_as_it_is_printed(tuning in any_tuning()) {
        prop_assert_eq!(Tuning::read(&tuning.to_string()).unwrap(), tuning);
    }

    #[test]
    fn no_text_stops_the_reader(text in "\\PC{0,90}", notes in "[A-Ha-h0-9#b ,-]{0,24}") {
        for text in [text, notes] {
            match Tuning::read(&text) {
                Ok(tuning) => prop_assert!((4..=8).contains(&tuning.string_count())),
                Err(error) => {
                    prop_assert!(text.get(error.span().unwrap()).is_some());
                    prop_assert!(!error.to_string().is_empty() && !error.help().is_empty());
                }
            }
        }
    }
}
