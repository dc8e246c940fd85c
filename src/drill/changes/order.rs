//! Ready orders of chords, and the steps of the drill.

use crate::theory::{Chord, FigureError, Harmony, symbol};

/// Sections of the piece, one a step.
pub(super) const STRINGS: &str = "strings";
pub(super) const STRUM: &str = "strum";
pub(super) const CHANGES: &str = "changes";

/// A ready order of chords.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChangeOrder {
    /// The five open major forms, each followed by its open minor where there is one.
    Usual,
    /// Small changes first: a finger less, or the same shape on other strings.
    Easy,
}

impl ChangeOrder {
    /// All of them by the words people type.
    pub const NAMES: [(&'static str, ChangeOrder); 2] =
        [("usual", ChangeOrder::Usual), ("easy", ChangeOrder::Easy)];

    /// The symbols of its chords (common practice: the open chords that are taught first).
    #[must_use]
    pub const fn symbols(self) -> [&'static str; 8] {
        match self {
            ChangeOrder::Usual => ["C", "A", "Am", "G", "E", "Em", "D", "Dm"],
            ChangeOrder::Easy => ["Em", "E", "Am", "A", "D", "Dm", "C", "G"],
        }
    }

    /// Its chords.
    ///
    /// # Errors
    /// Never: the symbols are read by a test.
    pub fn chords(self) -> Result<Vec<Chord>, FigureError> {
        let read = |text: &&str| symbol::read(text);
        let harmonies = self
            .symbols()
            .iter()
            .map(read)
            .collect::<Result<Vec<_>, _>>()?;
        Ok(harmonies
            .iter()
            .filter_map(Harmony::chord)
            .copied()
            .collect())
    }
}

/// What is practiced of the chords.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChangeStep {
    /// Each string of each chord alone, from its lowest one, a beat each.
    Strings,
    /// A bar of each chord, a strum a beat.
    Strum,
    /// From chord to chord in time, a strum a beat.
    Changes,
    /// The three, one after the other.
    All,
}

impl ChangeStep {
    /// All of them by the words people type.
    pub const NAMES: [(&'static str, ChangeStep); 4] = [
        (STRINGS, ChangeStep::Strings),
        (STRUM, ChangeStep::Strum),
        (CHANGES, ChangeStep::Changes),
        ("all", ChangeStep::All),
    ];

    pub(super) fn has(self, section: &str) -> bool {
        let named = |(name, step): &(&str, ChangeStep)| *step == self && *name == section;
        self == ChangeStep::All || Self::NAMES.iter().any(named)
    }
}
