//! How the band plays: how far its bars differ, and how exactly in time it is.

use crate::diagnostic::{Diagnostic, or};

/// How far the bars of a groove differ from one another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Variation {
    /// Every bar as the groove has it.
    None,
    /// Fills where phrases end.
    Fills,
    /// Fills, and strokes that come at times, lifted sections, an intro that waits.
    #[default]
    Full,
}

impl Variation {
    /// All, by the words people type.
    pub const NAMES: [(&'static str, Variation); 3] = [
        ("full", Variation::Full),
        ("fills", Variation::Fills),
        ("none", Variation::None),
    ];

    /// The word people type.
    pub fn name(self) -> &'static str {
        let mut names = Self::NAMES.iter();
        names.find(|(_, one)| *one == self).map_or("", |n| n.0)
    }

    /// Reads one of [`Variation::NAMES`].
    ///
    /// # Errors
    /// When the text is none of them.
    pub fn read(text: &str) -> Result<Variation, PlayingError> {
        PlayingError::one_of("variation", &Self::NAMES, text)
    }
}

/// Whether the band plays exactly on its places.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Timing {
    /// Every note where it stands.
    #[default]
    Exact,
    /// The parts drift a little, together more than apart; click and drone stay exact.
    Loose,
}

impl Timing {
    /// Both, by the words people type.
    pub const NAMES: [(&'static str, Timing); 2] =
        [("exact", Timing::Exact), ("loose", Timing::Loose)];

    /// Reads one of [`Timing::NAMES`].
    ///
    /// # Errors
    /// When the text is none of them.
    pub fn read(text: &str) -> Result<Timing, PlayingError> {
        PlayingError::one_of("timing", &Self::NAMES, text)
    }
}

/// A text that says no variation, or no timing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the {what} is {}, found `{found}`", or(choices))]
pub struct PlayingError {
    what: &'static str,
    /// What may be written, each between backticks.
    choices: Vec<String>,
    found: String,
}

impl PlayingError {
    /// The one that the text names.
    fn one_of<T: Copy>(
        what: &'static str,
        names: &[(&'static str, T)],
        text: &str,
    ) -> Result<T, PlayingError> {
        let found = text.trim();
        let named = names.iter().find(|(name, _)| *name == found);
        named.map(|(_, one)| *one).ok_or_else(|| PlayingError {
            what,
            choices: names.iter().map(|(name, _)| format!("`{name}`")).collect(),
            found: found.to_owned(),
        })
    }
}

impl Diagnostic for PlayingError {
    fn code(&self) -> &'static str {
        "document-choice"
    }

    fn help(&self) -> String {
        format!("write {}", or(&self.choices))
    }
}
