//! Chords: a root, the degrees above it and the note in the bass.
//!
//! A chord is its root, its set of degrees and its bass, whatever symbol it was written as: `Cm7b5` and `C\u{f8}7` are
//! one chord. Printing gives one symbol for each chord, in ASCII, and reading that symbol gives the chord back.

mod kind;
pub(crate) mod mask;
mod print;

use std::fmt;

pub use kind::ChordKind;

use super::degree::{Degree, DegreeList, MAX_DEGREES};
use super::interval::Interval;
use super::pitch::{PitchClass, PitchName};
use mask::Mask;

/// A root, a set of degrees that always holds the root, and perhaps another note in the bass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Chord {
    root: PitchName,
    slash: Option<PitchName>,
    degrees: DegreeList,
}

impl Chord {
    /// A chord of the given degrees; the root is always one of them, and a bass on the root is not a slash bass.
    ///
    /// ```
    /// use fivefold::theory::{Chord, Degree, PitchName};
    /// let degrees = [Degree::read("b3")?, Degree::read("5")?];
    /// let chord = Chord::new(PitchName::read("A")?, degrees, None)?;
    /// assert_eq!(chord.to_string(), "Am");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`ChordError::TooMany`] when there are more than [`MAX_DEGREES`] different degrees.
    pub fn new(
        root: PitchName,
        degrees: impl IntoIterator<Item = Degree>,
        bass: Option<PitchName>,
    ) -> Result<Chord, ChordError> {
        let degrees = DegreeList::new(std::iter::once(Degree::ROOT).chain(degrees))
            .ok_or(ChordError::TooMany)?;
        Ok(Chord {
            root,
            slash: None,
            degrees,
        }
        .with_bass(bass))
    }

    /// A chord of the degrees in a mask.
    pub(crate) fn from_mask(root: PitchName, mask: Mask) -> Result<Chord, ChordError> {
        Chord::new(root, mask.degrees(), None)
    }

    /// The root, as spelled.
    #[must_use]
    pub const fn root(&self) -> PitchName {
        self.root
    }

    /// The lowest note: the slash bass, or else the root.
    #[must_use]
    pub fn bass(&self) -> PitchName {
        self.slash.unwrap_or(self.root)
    }

    /// The slash bass, if it is not the root.
    #[must_use]
    pub const fn slash(&self) -> Option<PitchName> {
        self.slash
    }

    /// The same chord over another bass; none, or the root, puts it in root position.
    #[must_use]
    pub fn with_bass(mut self, bass: Option<PitchName>) -> Chord {
        self.slash = bass.filter(|bass| *bass != self.root);
        self
    }

    /// The kind the canonical symbol starts from; degrees beyond its members are alterations of it.
    ///
    /// This is how MusicXML 4.0 writes a chord: `C7b9` is of the kind dominant with an altered ninth. Two kinds are
    /// counted as players do rather than as that schema words them: an eleventh with a major third leaves the third
    /// out, and a thirteenth the eleventh.
    #[must_use]
    pub fn kind(&self) -> ChordKind {
        Mask::from_degrees(self.degrees())
            .and_then(print::kind)
            .unwrap_or(ChordKind::Other)
    }

    /// The degrees in rising order, the root first.
    #[must_use]
    pub fn degrees(&self) -> &[Degree] {
        self.degrees.as_slice()
    }

    /// The major or minor triad on a root; none if no chord has that root.
    #[must_use]
    pub fn triad(root: PitchName, minor: bool) -> Option<Chord> {
        let third = Degree::at(3, if minor { -1 } else { 0 });
        Chord::new(root, [third, Degree::at(5, 0)], None).ok()
    }

    /// The notes in order of their degrees, root first, each spelled by its degree; a foreign bass is not among them.
    ///
    /// ```
    /// use fivefold::theory::symbol;
    /// let chord = symbol::read("Cdim7")?;
    /// let tones: Vec<_> = chord.chord().unwrap().tones().iter().map(|t| t.to_string()).collect();
    /// assert_eq!(tones, ["C", "Eb", "Gb", "Bbb"]);
    /// # Ok::<(), fivefold::theory::FigureError>(())
    /// ```
    #[must_use]
    pub fn tones(&self) -> Vec<PitchName> {
        self.degrees()
            .iter()
            .map(|degree| degree.above(self.root))
            .collect()
    }

    /// The pitch classes of the chord tones, rising from C, each once; a foreign bass is not among them.
    #[must_use]
    pub fn pitch_classes(&self) -> Vec<PitchClass> {
        let mut classes: Vec<_> = self
            .degrees()
            .iter()
            .map(|degree| self.root.pitch_class().up(degree.semitones()))
            .collect();
        classes.sort_unstable();
        classes.dedup();
        classes
    }

    /// Whether a pitch class is a chord tone; a foreign bass is none.
    #[must_use]
    pub fn contains(&self, class: PitchClass) -> bool {
        let root = self.root.pitch_class();
        self.degrees()
            .iter()
            .any(|degree| root.up(degree.semitones()) == class)
    }

    /// The degree of this number, the lowest when there are several.
    fn numbered(&self, number: u8) -> Option<Degree> {
        self.degrees()
            .iter()
            .copied()
            .find(|degree| degree.number() == number)
    }

    /// Whether the chord has a third, major or minor.
    #[must_use]
    pub fn has_third(&self) -> bool {
        self.third().is_some()
    }

    /// The third; the minor one where a chord has both.
    #[must_use]
    pub fn third(&self) -> Option<Degree> {
        self.numbered(3)
    }

    /// The fifth; the lowest where a chord has several.
    #[must_use]
    pub fn fifth(&self) -> Option<Degree> {
        self.numbered(5)
    }

    /// The seventh; the lowest where a chord has several.
    #[must_use]
    pub fn seventh(&self) -> Option<Degree> {
        self.numbered(7)
    }

    /// The chord moved by an interval, its notes spelled by the interval's steps.
    ///
    /// A root that would need a double accidental is respelled as simply as can be, and a slash bass with it.
    ///
    /// ```
    /// use fivefold::theory::{Interval, symbol};
    /// let up_a_tone = symbol::read("Bb7/D")?.transposed(Interval::new(1, 2));
    /// assert_eq!(up_a_tone.to_string(), "C7/E");
    /// # Ok::<(), fivefold::theory::FigureError>(())
    /// ```
    #[must_use]
    pub fn transposed(&self, interval: Interval) -> Chord {
        let exact = self.root.up(interval);
        let root = exact.simplified();
        let slash = self.slash.map(|bass| {
            if root == exact {
                bass.up(interval)
            } else {
                root.up(Interval::between(self.root, bass)).simplified()
            }
        });
        Chord {
            root,
            slash: None,
            degrees: self.degrees,
        }
        .with_bass(slash)
    }
}

impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.root.fmt(f)?;
        print::write_suffix(f, self.root, self.degrees())?;
        match self.slash {
            Some(bass) => write!(f, "/{bass}"),
            None => Ok(()),
        }
    }
}

/// Why a chord could not be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ChordError {
    /// More degrees than a chord holds.
    #[error("expected at most {MAX_DEGREES} degrees in a chord, found more")]
    TooMany,
}

/// What sounds for a stretch of time: a chord, or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Harmony {
    /// No chord, written `N.C.`.
    NoChord,
    /// A chord that sounds.
    Chord(Chord),
}

impl Harmony {
    /// The chord, unless there is none.
    #[must_use]
    pub const fn chord(&self) -> Option<&Chord> {
        match self {
            Harmony::NoChord => None,
            Harmony::Chord(chord) => Some(chord),
        }
    }

    /// The harmony moved by an interval; no chord stays no chord.
    #[must_use]
    pub fn transposed(&self, interval: Interval) -> Harmony {
        match self {
            Harmony::NoChord => Harmony::NoChord,
            Harmony::Chord(chord) => Harmony::Chord(chord.transposed(interval)),
        }
    }
}

impl From<Chord> for Harmony {
    fn from(chord: Chord) -> Harmony {
        Harmony::Chord(chord)
    }
}

impl fmt::Display for Harmony {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Harmony::NoChord => f.write_str("N.C."),
            Harmony::Chord(chord) => chord.fmt(f),
        }
    }
}

#[cfg(test)]
mod tests;
