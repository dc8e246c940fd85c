//! Positions: a note at one string and fret.

use super::board::{Neck, class_of};
use super::units::{Fret, StringNumber};
use crate::theory::{Chord, Degree, PitchClass, PitchName, Scale};

/// A spelled note at one string and fret.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Position {
    /// The string, 1 the highest.
    pub string: StringNumber,
    /// The fret, counted from the capo; 0 is the open string.
    pub fret: Fret,
    /// The note as the scale or chord spells it.
    pub note: PitchName,
    /// Its degree in the scale or chord.
    pub degree: Degree,
    /// The MIDI key number that sounds, 12 to 127.
    pub midi: u8,
}

/// Every position of a scale on a neck, string by string from the lowest, each rising from the open string.
///
/// ```
/// use fivefold::neck::{Neck, scale_positions};
/// use fivefold::theory::Scale;
/// let set = Scale::read("A minor pentatonic").unwrap();
/// let positions = scale_positions(&set, &Neck::standard());
/// let lowest: Vec<_> = positions.iter().take(3).map(|p| (p.fret.value(), p.note.to_string())).collect();
/// assert_eq!(lowest, [(0, "E".to_owned()), (3, "G".to_owned()), (5, "A".to_owned())]);
/// ```
#[must_use]
pub fn scale_positions(scale: &Scale, neck: &Neck) -> Vec<Position> {
    every(scale.root(), scale.degrees(), neck)
}

/// Every position of a chord's tones on a neck, string by string from the lowest, each rising from the open string.
///
/// A slash bass that is not a chord tone is left out, as it may sound only in the bass.
#[must_use]
pub fn chord_positions(chord: &Chord, neck: &Neck) -> Vec<Position> {
    every(chord.root(), chord.degrees(), neck)
}

fn every(root: PitchName, degrees: &[Degree], neck: &Neck) -> Vec<Position> {
    let spelling = Spelling::new(root, degrees);
    let count = neck.string_count();
    let mut found = Vec::new();
    for index in 0..count {
        for fret in 0..=neck.last_fret().value() {
            let fret = Fret::clamped(fret);
            let midi = neck.key(index, fret);
            if let Some((note, degree)) = spelling.of(class_of(midi)) {
                found.push(Position {
                    string: StringNumber::at(index, count),
                    fret,
                    note,
                    degree,
                    midi,
                });
            }
        }
    }
    found
}

/// The name and degree of each pitch class of a scale or chord.
pub(super) struct Spelling([Option<(PitchName, Degree)>; 12]);

impl Spelling {
    /// If two degrees have the same sound, the first wins.
    pub(super) fn new(root: PitchName, degrees: &[Degree]) -> Spelling {
        let mut table = [None; 12];
        for degree in degrees {
            let class = root.pitch_class().up(degree.semitones());
            table[usize::from(class.value())].get_or_insert((degree.above(root), *degree));
        }
        Spelling(table)
    }

    /// The name and degree of a pitch class, when it belongs to the scale or chord.
    pub(super) fn of(&self, class: PitchClass) -> Option<(PitchName, Degree)> {
        self.0[usize::from(class.value())]
    }
}
