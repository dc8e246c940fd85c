//! Degrees: notes counted from a root along its major scale.

use std::fmt;

use super::interval::Interval;
use super::pitch::{self, PitchName};
use crate::diagnostic::Diagnostic;

/// A note counted from a root along the **major** scale, 1 to 13, raised or lowered by up to two semitones.
///
/// Degrees 8 to 13 lie an octave above 1 to 6, as chord symbols use them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degree {
    number: u8,
    alter: i8,
}

impl Degree {
    /// The root itself.
    pub const ROOT: Degree = Degree {
        number: 1,
        alter: 0,
    };

    /// A degree number from 1 to 13, altered by -2 to 2 semitones.
    ///
    /// # Errors
    /// [`DegreeError::Number`] and [`DegreeError::Alter`] give the value out of range.
    pub const fn new(number: u8, alter: i8) -> Result<Degree, DegreeError> {
        if number < 1 || number > 13 {
            Err(DegreeError::Number {
                value: number as u32,
            })
        } else if alter < -2 || alter > 2 {
            Err(DegreeError::Alter {
                value: alter as i32,
            })
        } else {
            Ok(Degree { number, alter })
        }
    }

    /// For tables of this room, whose numbers a test checks.
    pub(crate) const fn at(number: u8, alter: i8) -> Degree {
        Degree { number, alter }
    }

    /// The number, 1 to 13, one-based.
    #[must_use]
    pub const fn number(self) -> u8 {
        self.number
    }

    /// Semitones of alteration, -2 to 2, sharps positive.
    #[must_use]
    pub const fn alter(self) -> i8 {
        self.alter
    }

    /// Semitones above the root, -2 to 23: the root is 0, the 13th is 21.
    ///
    /// ```
    /// use fivefold::theory::Degree;
    /// assert_eq!(Degree::read("b3")?.semitones(), 3);
    /// assert_eq!(Degree::read("13")?.semitones(), 21);
    /// # Ok::<(), fivefold::theory::DegreeError>(())
    /// ```
    #[must_use]
    pub fn semitones(self) -> i32 {
        // The major scale (common practice), then the same an octave higher.
        const MAJOR: [i32; 13] = [0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19, 21];
        MAJOR[usize::from(self.number) - 1] + i32::from(self.alter)
    }

    /// The spelled distance above the root.
    #[must_use]
    pub fn interval(self) -> Interval {
        Interval::new(i32::from(self.number) - 1, self.semitones())
    }

    /// The degree of a note above a root, 1 to 7, against the major scale; `None` where it is altered further than a degree can
    /// be.
    ///
    /// ```
    /// use fivefold::theory::{Degree, PitchName};
    /// let note = |text| PitchName::read(text).unwrap();
    /// assert_eq!(Degree::of(note("A"), note("C")).unwrap().to_string(), "b3");
    /// ```
    #[must_use]
    pub fn of(root: PitchName, note: PitchName) -> Option<Degree> {
        let interval = Interval::between(root, note);
        let number = u8::try_from(interval.steps().rem_euclid(7)).ok()? + 1;
        let plain = Degree::new(number, 0).ok()?;
        let alter = interval.semitones() - plain.semitones();
        Degree::new(number, i8::try_from(alter).ok()?).ok()
    }

    /// The name of this degree above a root.
    #[must_use]
    pub fn above(self, root: PitchName) -> PitchName {
        root.up(self.interval())
    }

    /// Reads a whole text as one degree: sharps or flats, then the number.
    ///
    /// # Errors
    /// [`DegreeError`] says what was found instead.
    pub fn read(text: &str) -> Result<Degree, DegreeError> {
        let (degree, length) = Degree::prefix(text)?;
        if length == text.len() {
            Ok(degree)
        } else {
            Err(DegreeError::Trailing {
                at: length,
                found: text[length..].to_owned(),
            })
        }
    }

    /// Reads a degree at the start of a text and says how many bytes it took.
    pub(crate) fn prefix(text: &str) -> Result<(Degree, usize), DegreeError> {
        let (alter, signs) = pitch::accidentals(text).map_err(|_| DegreeError::Mixed)?;
        let digits = text[signs..].bytes().take_while(u8::is_ascii_digit).count();
        if digits == 0 {
            let found = text[signs..].chars().next();
            return Err(DegreeError::NoNumber { at: signs, found });
        }
        let length = signs + digits;
        let number: u32 = text[signs..length].parse().unwrap_or(u32::MAX);
        let Ok(small) = u8::try_from(number) else {
            return Err(DegreeError::Number { value: number });
        };
        let Ok(alter) = i8::try_from(alter) else {
            return Err(DegreeError::Alter { value: alter });
        };
        Degree::new(small, alter).map(|degree| (degree, length))
    }
}

impl fmt::Display for Degree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        pitch::write_accidentals(f, self.alter)?;
        write!(f, "{}", self.number)
    }
}

/// Why a degree could not be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DegreeError {
    /// There is no number where one is expected.
    #[error("expected a degree number from 1 to 13{}", .found.map_or(", found nothing".to_owned(), |c| format!(", found `{c}`")))]
    NoNumber {
        /// The byte at which a number was expected.
        at: usize,
        /// The character in its place.
        found: Option<char>,
    },
    /// A number outside 1 to 13.
    #[error("expected a degree number from 1 to 13, found {value}")]
    Number {
        /// The number that was written.
        value: u32,
    },
    /// More than two sharps or flats.
    #[error("expected at most two sharps or flats on a degree, found {value} semitones")]
    Alter {
        /// The alteration in semitones.
        value: i32,
    },
    /// Sharps and flats on one degree.
    #[error("a degree has sharps or flats, not both")]
    Mixed,
    /// Something follows the degree.
    #[error("expected the end of the degree, found `{found}`")]
    Trailing {
        /// Byte at which it begins.
        at: usize,
        /// The text that was left over.
        found: String,
    },
}

impl Diagnostic for DegreeError {
    fn code(&self) -> &'static str {
        match self {
            DegreeError::NoNumber { .. } => "no-degree-number",
            DegreeError::Number { .. } => "degree-range",
            DegreeError::Alter { .. } => "too-many-accidentals",
            DegreeError::Mixed => "mixed-accidentals",
            DegreeError::Trailing { .. } => "trailing-text",
        }
    }

    fn help(&self) -> String {
        "write a number with its sharps or flats before it, such as `b3` or `#11`".to_owned()
    }
}

/// The most degrees one chord or scale may hold; no symbol in use needs more than eight.
pub const MAX_DEGREES: usize = 16;

/// A set of degrees in rising order, kept in place: reading a chord allocates nothing.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct DegreeList {
    // Unused places hold the root, so that equal lists are equal byte for byte.
    items: [Degree; MAX_DEGREES],
    length: u8,
}

impl DegreeList {
    /// The degrees in rising order of number, then alteration; nothing when there are more than fit.
    pub(crate) fn new(degrees: impl IntoIterator<Item = Degree>) -> Option<DegreeList> {
        let mut list = DegreeList {
            items: [Degree::ROOT; MAX_DEGREES],
            length: 0,
        };
        for degree in degrees {
            let at = list.as_slice().partition_point(|held| *held < degree);
            if list.as_slice().get(at) == Some(&degree) {
                continue;
            }
            let length = usize::from(list.length);
            if length == MAX_DEGREES {
                return None;
            }
            list.items.copy_within(at..length, at + 1);
            list.items[at] = degree;
            list.length += 1;
        }
        Some(list)
    }

    /// The degrees held.
    pub(crate) fn as_slice(&self) -> &[Degree] {
        &self.items[..usize::from(self.length)]
    }
}

impl fmt::Debug for DegreeList {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list()
            .entries(
                self.as_slice()
                    .iter()
                    .map(|degree| format_args!("{degree}").to_string()),
            )
            .finish()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    #[test]
    fn reads_and_prints_degrees() {
        for (text, semitones, name) in [
            ("1", 0, "P1"),
            ("b3", 3, "m3"),
            ("#4", 6, "A4"),
            ("bb7", 9, "d7"),
            ("#11", 18, "A11"),
            ("13", 21, "M13"),
        ] {
            let degree = Degree::read(text).unwrap();
            assert_eq!(degree.to_string(), text);
            assert_eq!(degree.semitones(), semitones);
            assert_eq!(degree.interval().name(), name);
        }
        assert_eq!(Degree::read("\u{266d}9").unwrap().to_string(), "b9");
    }

    #[test]
    fn refuses_what_is_no_degree() {
        for (text, message) in [
            ("", "expected a degree number from 1 to 13, found nothing"),
            ("b", "expected a degree number from 1 to 13, found nothing"),
            ("x", "expected a degree number from 1 to 13, found `x`"),
            ("0", "expected a degree number from 1 to 13, found 0"),
            ("14", "expected a degree number from 1 to 13, found 14"),
            (
                "99999999999",
                "expected a degree number from 1 to 13, found 4294967295",
            ),
            (
                "bbb3",
                "expected at most two sharps or flats on a degree, found -3 semitones",
            ),
            ("b#3", "a degree has sharps or flats, not both"),
            ("3b", "expected the end of the degree, found `b`"),
        ] {
            assert_eq!(
                Degree::read(text).unwrap_err().to_string(),
                message,
                "{text}"
            );
        }
    }

    #[test]
    fn a_list_is_a_sorted_set() {
        let read = |text: &str| {
            text.split(' ')
                .map(|d| Degree::read(d).unwrap())
                .collect::<Vec<_>>()
        };
        let list = DegreeList::new(read("5 1 b9 3 5 #9 b7")).unwrap();
        assert_eq!(list.as_slice(), read("1 3 5 b7 b9 #9"));
        assert!(
            DegreeList::new((1..=13).flat_map(|n| [Degree::at(n, 0), Degree::at(n, 1)])).is_none()
        );
    }
}
