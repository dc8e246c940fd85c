//! Strings, frets and fingers: distinct types for numbers that are easily confused.

use std::fmt;

use super::error::NeckError;
use super::limits::{MAX_FRET, MAX_STRINGS};

/// A string, counted as players do: 1 is the highest in pitch, 8 the lowest there can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StringNumber(u8);

impl StringNumber {
    /// A string from 1, the highest, to 8.
    ///
    /// # Errors
    /// [`NeckError::StringRange`] when `value` lies outside 1 to 8.
    pub const fn new(value: u8) -> Result<StringNumber, NeckError> {
        if value >= 1 && value as usize <= MAX_STRINGS {
            Ok(StringNumber(value))
        } else {
            Err(NeckError::StringRange {
                value: value as u32,
            })
        }
    }

    /// The string at a place counted from the lowest string, zero-based, on a neck of so many strings.
    pub(super) fn at(index: usize, count: usize) -> StringNumber {
        let number = count.saturating_sub(index).clamp(1, MAX_STRINGS);
        StringNumber(u8::try_from(number).unwrap_or(1))
    }

    /// The number, 1 to 8, one-based; 1 is the highest string.
    #[must_use]
    pub const fn value(self) -> u8 {
        self.0
    }
}

impl fmt::Display for StringNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A fret, 0 to 36; 0 is the open string.
///
/// On a neck with a capo frets count from the capo, so that shapes keep their numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fret(u8);

impl Fret {
    /// The open string.
    pub const OPEN: Fret = Fret(0);

    /// A fret from 0, the open string, to 36.
    ///
    /// # Errors
    /// [`NeckError::FretRange`] when `value` is above 36.
    pub const fn new(value: u8) -> Result<Fret, NeckError> {
        if value <= MAX_FRET {
            Ok(Fret(value))
        } else {
            Err(NeckError::FretRange {
                value: value as u32,
            })
        }
    }

    /// For numbers this room has checked; above 36 it is 36.
    pub(super) const fn clamped(value: u8) -> Fret {
        if value > MAX_FRET {
            Fret(MAX_FRET)
        } else {
            Fret(value)
        }
    }

    /// The number, 0 to 36; 0 is the open string.
    #[must_use]
    pub const fn value(self) -> u8 {
        self.0
    }

    /// Whether the string rings open.
    #[must_use]
    pub const fn is_open(self) -> bool {
        self.0 == 0
    }
}

impl fmt::Display for Fret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A finger of the fretting hand: 1 index, 2 middle, 3 ring, 4 little finger (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Finger(u8);

impl Finger {
    /// A finger from 1, the index, to 4, the little finger.
    ///
    /// # Errors
    /// [`NeckError::FingerRange`] when `value` lies outside 1 to 4.
    pub const fn new(value: u8) -> Result<Finger, NeckError> {
        if value >= 1 && value <= 4 {
            Ok(Finger(value))
        } else {
            Err(NeckError::FingerRange {
                value: value as u32,
            })
        }
    }

    /// The nearest finger to a number.
    pub(super) const fn clamped(value: u8) -> Finger {
        match value {
            0 => Finger(1),
            1..=4 => Finger(value),
            _ => Finger(4),
        }
    }

    /// The number, 1 to 4.
    #[must_use]
    pub const fn value(self) -> u8 {
        self.0
    }
}

impl fmt::Display for Finger {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}
