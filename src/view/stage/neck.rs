//! The set on the neck, with the tones of the chord that is heard.

use serde::Serialize;

use crate::neck::{Neck, scale_positions};
use crate::theory::{Chord, Degree, Harmony, Scale};

/// The last fret shown: from there on the neck repeats what begins at the nut.
const LAST: u8 = 12;

/// The frets from the nut, or the capo, to the twelfth, with the notes of a set.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageNeck {
    /// The name of the set, such as `A minor pentatonic`.
    pub set: String,
    /// The last fret, counted from the capo.
    pub last: u8,
    /// The strings, the highest first.
    pub strings: Vec<StageString>,
}

/// A string with what is marked on it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageString {
    /// The note the string is tuned to, without its octave; a capo does not change it.
    pub name: String,
    /// The notes of the set, from the nut on.
    pub marks: Vec<StageMark>,
}

/// A note of the set on a string.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct StageMark {
    /// Counted from the capo; 0 is the open string.
    pub fret: u8,
    /// Whether it is the root of the set.
    pub root: bool,
    /// Whether it is a tone of the chord that is heard.
    pub sounds: bool,
}

impl StageNeck {
    /// A set on a neck while a chord is heard.
    pub(in crate::view) fn of(set: &Scale, chord: Option<Harmony>, neck: &Neck) -> StageNeck {
        let last = neck.last_fret().value().min(LAST);
        let chord = chord.as_ref().and_then(Harmony::chord);
        let tones = chord.map_or(Vec::new(), Chord::pitch_classes);
        let positions = scale_positions(set, neck);
        let strings = neck.strings().rev().map(|string| {
            let pitch = neck.tuning().pitch(string);
            let here = positions.iter();
            let here = here.filter(|at| at.string == string && at.fret.value() <= last);
            StageString {
                name: pitch.map_or(String::new(), |pitch| pitch.name().to_string()),
                marks: here
                    .map(|at| StageMark {
                        fret: at.fret.value(),
                        root: at.degree == Degree::ROOT,
                        sounds: tones.contains(&at.note.pitch_class()),
                    })
                    .collect(),
            }
        });
        StageNeck {
            set: set.to_string(),
            last,
            strings: strings.collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::figure;

    #[test]
    fn the_notes_of_the_set_with_those_of_the_chord() {
        let set = Scale::read("A minor pentatonic").unwrap();
        let chord = figure::read("Am").and_then(|f| f.resolve(None)).unwrap();
        let neck = Neck::standard();
        let shown = StageNeck::of(&set, Some(chord), &neck);
        assert_eq!((&*shown.set, shown.last), ("A minor pentatonic", 12));
        let names: Vec<&str> = shown.strings.iter().map(|s| &*s.name).collect();
        assert_eq!(names, ["E", "B", "G", "D", "A", "E"]);
        let told = |at: &StageMark| (at.fret, at.root, at.sounds);
        // E and G open and at 3; A, C and E of the chord at 5, 8 and 12 of the lowest string.
        let lowest: Vec<_> = shown.strings[5].marks.iter().map(told).collect();
        assert_eq!(
            lowest,
            [
                (0, false, true),
                (3, false, false),
                (5, true, true),
                (8, false, true),
                (10, false, false),
                (12, false, true)
            ]
        );
        // Without a chord nothing of it sounds.
        let silent = StageNeck::of(&set, None, &neck);
        let marks = silent.strings.iter().flat_map(|s| &s.marks);
        assert!(marks.clone().count() > 30 && marks.clone().all(|mark| !mark.sounds));
    }
}
