//! Tunings: the open strings.

mod read;

use std::fmt;

pub use read::{TuningError, TuningProblem};

use super::limits::{MAX_STRINGS, MIN_STRINGS};
use super::units::StringNumber;
use crate::theory::{Letter, Pitch, PitchName};

/// The lowest key an open string may sound, C0: the lowest string of any bass is above it.
pub(super) const LOWEST_KEY: u8 = 12;

/// The highest key an open string may sound, C6: with 36 frets above it every position is still a MIDI key.
pub(super) const HIGHEST_KEY: u8 = 84;

/// Four to eight open strings, each at least as high as the one below it.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Tuning {
    // From the lowest up. Unused places hold C4, so that equal tunings are equal byte for byte.
    strings: [Pitch; MAX_STRINGS],
    count: u8,
}

/// Filler for places without a string.
const NO_STRING: Pitch = Pitch::new(PitchName::natural(Letter::C), 4);

/// A named tuning: the name, other spellings that are read, and the open strings from the lowest up.
type Row = (&'static str, &'static [&'static str], &'static str);

/// The named tunings, all common practice; standard, drop D, open G, open D, D A D G A D and drop C agree with the
/// table of LilyPond 2.24. Names are in lower case with single spaces.
const TABLE: [Row; 18] = [
    ("standard", &["e standard", "normal"], "E2 A2 D3 G3 B3 E4"),
    ("drop d", &["dropped d"], "D2 A2 D3 G3 B3 E4"),
    ("double drop d", &[], "D2 A2 D3 G3 B3 D4"),
    ("dadgad", &["celtic"], "D2 A2 D3 G3 A3 D4"),
    ("open d", &[], "D2 A2 D3 F#3 A3 D4"),
    ("open e", &[], "E2 B2 E3 G#3 B3 E4"),
    ("open g", &[], "D2 G2 D3 G3 B3 D4"),
    ("open a", &[], "E2 A2 E3 A3 C#4 E4"),
    ("open c", &[], "C2 G2 C3 G3 C4 E4"),
    (
        "half step down",
        &["eb standard", "semitone down"],
        "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
    ),
    (
        "whole step down",
        &["d standard", "tone down"],
        "D2 G2 C3 F3 A3 D4",
    ),
    ("drop c#", &["drop db"], "C#2 G#2 C#3 F#3 A#3 D#4"),
    ("drop c", &["dropped c"], "C2 G2 C3 F3 A3 D4"),
    ("drop b", &["dropped b"], "B1 F#2 B2 E3 G#3 C#4"),
    (
        "seven strings",
        &["seven string", "7 string", "7 strings"],
        "B1 E2 A2 D3 G3 B3 E4",
    ),
    (
        "eight strings",
        &["eight string", "8 string", "8 strings"],
        "F#1 B1 E2 A2 D3 G3 B3 E4",
    ),
    (
        "bass",
        &["four string bass", "4 string bass"],
        "E1 A1 D2 G2",
    ),
    ("five string bass", &["5 string bass"], "B0 E1 A1 D2 G2"),
];

impl Tuning {
    /// The open strings from the lowest to the highest.
    ///
    /// # Errors
    /// [`TuningError`], without a span, when there are fewer than four or more than eight, when one is lower than the
    /// string below it, or when one sounds outside C0 to C6, or is written with an octave below 0.
    pub fn new(strings: &[Pitch]) -> Result<Tuning, TuningError> {
        let fail = |problem| Err(TuningError::new(0..0, problem));
        let found = strings.len();
        if !(MIN_STRINGS..=MAX_STRINGS).contains(&found) {
            return fail(TuningProblem::StringCount { found });
        }
        for pitch in strings {
            let heard = (i32::from(LOWEST_KEY)..=i32::from(HIGHEST_KEY)).contains(&pitch.midi());
            // A hyphen stands between strings, so no octave below 0 can be read: B with four sharps in octave -1 is D#0.
            if !heard || pitch.octave() < 0 {
                return fail(TuningProblem::PitchRange { found: *pitch });
            }
        }
        for pair in strings.windows(2) {
            if pair[1].midi() < pair[0].midi() {
                let mut pairs = strings.windows(2);
                return fail(TuningProblem::Falling {
                    below: pair[0],
                    found: pair[1],
                    reversed: pairs.all(|pair| pair[1].midi() <= pair[0].midi()),
                });
            }
        }
        let mut held = [NO_STRING; MAX_STRINGS];
        held[..found].copy_from_slice(strings);
        Ok(Tuning {
            strings: held,
            count: u8::try_from(found).unwrap_or(0),
        })
    }

    /// E2 A2 D3 G3 B3 E4.
    #[must_use]
    pub fn standard() -> Tuning {
        use Letter::{A, B, D, E, G};
        let string = |letter, octave| Pitch::new(PitchName::natural(letter), octave);
        let mut strings = [NO_STRING; MAX_STRINGS];
        strings[..6].copy_from_slice(&[
            string(E, 2),
            string(A, 2),
            string(D, 3),
            string(G, 3),
            string(B, 3),
            string(E, 4),
        ]);
        Tuning { strings, count: 6 }
    }

    /// Reads a tuning by its name or by its notes from the lowest string up.
    ///
    /// Notes with octaves are taken as they stand: `E2 A2 D3 G3 B3 E4`. Without octaves, `DADGBE` or `D A D G B E`, the
    /// lowest string lies as near as can be to the usual one for that many strings (six: E2, seven: B1, eight: F#1, four
    /// and five: bass), up to eight semitones below it or three above, as strings are slackened more often than
    /// tightened; each other string moves about as far as its lower neighbor did, and never below it.
    ///
    /// ```
    /// use fivefold::neck::Tuning;
    /// let keys = |text| Tuning::read(text).unwrap().keys().collect::<Vec<_>>();
    /// assert_eq!(keys("DADGAD"), [38, 45, 50, 55, 57, 62]);
    /// assert_eq!(keys("half step down"), keys("EbAbDbGbBbEb"));
    /// ```
    ///
    /// # Errors
    /// [`TuningError`] with the bytes in question; an unknown name is answered with the nearest known one.
    pub fn read(text: &str) -> Result<Tuning, TuningError> {
        read::read(text)
    }

    /// The names of the named tunings, in lower case.
    pub fn names() -> impl Iterator<Item = &'static str> {
        TABLE.iter().map(|row| row.0)
    }

    /// The name of this tuning, where it has one.
    #[must_use]
    pub fn name(&self) -> Option<&'static str> {
        TABLE
            .iter()
            .find(|row| {
                let keys = read::notes(row.2).map(|tuning| tuning.keys().collect::<Vec<_>>());
                keys.is_ok_and(|keys| self.keys().eq(keys))
            })
            .map(|row| row.0)
    }

    /// How many strings there are, 4 to 8.
    #[must_use]
    pub const fn string_count(&self) -> usize {
        self.count as usize
    }

    /// The open strings from the lowest to the highest.
    #[must_use]
    pub fn pitches(&self) -> &[Pitch] {
        &self.strings[..self.string_count()]
    }

    /// The MIDI key numbers of the open strings from the lowest to the highest.
    pub fn keys(&self) -> impl Iterator<Item = u8> + '_ {
        (0..self.string_count()).map(|index| self.key(index))
    }

    /// The open string of this number, 1 the highest; none where the tuning has fewer strings.
    #[must_use]
    pub fn pitch(&self, string: StringNumber) -> Option<Pitch> {
        let index = self
            .string_count()
            .checked_sub(usize::from(string.value()))?;
        self.pitches().get(index).copied()
    }

    /// The key of the string at a place counted from the lowest, zero-based; the constructor bounds it.
    pub(super) fn key(&self, index: usize) -> u8 {
        u8::try_from(self.strings[index].midi()).unwrap_or(HIGHEST_KEY)
    }
}

/// The open strings of a named tuning, when the text, in lower case with single spaces, names one.
fn named(text: &str) -> Option<&'static str> {
    TABLE
        .iter()
        .find(|row| row.0 == text || row.1.contains(&text))
        .map(|row| row.2)
}

impl fmt::Display for Tuning {
    /// The notes with their octaves from the lowest string up; reading them gives the tuning back.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, pitch) in self.pitches().iter().enumerate() {
            if index > 0 {
                f.write_str(" ")?;
            }
            pitch.fmt(f)?;
        }
        Ok(())
    }
}

impl fmt::Debug for Tuning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Tuning({self})")
    }
}

#[cfg(test)]
mod tests;
