//! Tempos, shares and outcomes, each checked once where it is made.

use std::fmt;

use serde::Serialize;

use super::error::PracticeError;

/// A tempo in beats a minute, 20 to 400. The beat is that of the exercise's tempo plan.
///
/// Beyond these limits a beat is hard to follow or to play; the range is our own choice.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Bpm(f64);

impl Bpm {
    /// The slowest tempo, 20 beats a minute.
    pub const SLOWEST: Bpm = Bpm(20.0);
    /// The fastest tempo, 400 beats a minute.
    pub const FASTEST: Bpm = Bpm(400.0);

    /// A tempo from 20 to 400 beats a minute.
    ///
    /// # Errors
    /// [`PracticeError::Tempo`] when `value` lies outside, or is no number.
    pub fn new(value: f64) -> Result<Bpm, PracticeError> {
        if (Self::SLOWEST.0..=Self::FASTEST.0).contains(&value) {
            Ok(Bpm(value))
        } else {
            Err(PracticeError::Tempo { found: value })
        }
    }

    /// The nearest tempo within the limits; no number is the slowest.
    #[must_use]
    pub fn clamped(value: f64) -> Bpm {
        if value.is_nan() {
            return Self::SLOWEST;
        }
        Bpm(value.clamp(Self::SLOWEST.0, Self::FASTEST.0))
    }

    /// Beats a minute, 20 to 400.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }
}

impl fmt::Display for Bpm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A share of takes that are clean, 0.5 to 0.95.
///
/// One take in 25 is taken to fail by a slip at any tempo, so a share of 0.96 or more has no tempo.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct CleanShare(f64);

impl CleanShare {
    /// 75 clean takes in a hundred: the tempo of a test.
    pub const TEST: CleanShare = CleanShare(0.75);
    /// 90 clean takes in a hundred: the tempo of practice.
    pub const PRACTICE: CleanShare = CleanShare(0.9);

    /// A share from 0.5 to 0.95; 1 would be every take.
    ///
    /// # Errors
    /// [`PracticeError::CleanShare`] when `value` lies outside, or is no number.
    pub fn new(value: f64) -> Result<CleanShare, PracticeError> {
        if (0.5..=0.95).contains(&value) {
            Ok(CleanShare(value))
        } else {
            Err(PracticeError::CleanShare { found: value })
        }
    }

    /// The share, 0.5 to 0.95.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }
}

/// The probability with which a fact should still be known when it is asked again, 0.5 to 0.99; usually 0.9.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Retention(f64);

impl Retention {
    /// A retention from 0.5 to 0.99; the higher, the sooner a fact is asked again.
    ///
    /// # Errors
    /// [`PracticeError::Retention`] when `value` lies outside, or is no number.
    pub fn new(value: f64) -> Result<Retention, PracticeError> {
        if (0.5..=0.99).contains(&value) {
            Ok(Retention(value))
        } else {
            Err(PracticeError::Retention { found: value })
        }
    }

    /// The probability, 0.5 to 0.99.
    #[must_use]
    pub const fn value(self) -> f64 {
        self.0
    }
}

impl Default for Retention {
    fn default() -> Self {
        Retention(0.9)
    }
}

/// How a take went, as the player or the program judged it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Outcome {
    /// Played as it should be.
    Clean,
    /// Almost: counts as half a clean take and half a missed one.
    Nearly,
    /// Broken off, or with mistakes.
    Missed,
}

impl Outcome {
    /// All of them by name.
    pub const NAMES: [(&'static str, Outcome); 3] = [
        ("clean", Outcome::Clean),
        ("nearly", Outcome::Nearly),
        ("missed", Outcome::Missed),
    ];

    /// The name, as logs and JSON have it: `clean`, `nearly` or `missed`.
    #[must_use]
    pub fn name(self) -> &'static str {
        let mut names = Self::NAMES.iter();
        names.find(|(_, of)| *of == self).map_or("", |n| n.0)
    }

    /// The one of this name.
    #[must_use]
    pub fn named(text: &str) -> Option<Outcome> {
        let mut names = Self::NAMES.iter();
        names.find(|(name, _)| *name == text).map(|n| n.1)
    }
}
