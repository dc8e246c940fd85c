//! How the band plays: how far its bars differ, and how exactly in time it is.

use crate::diagnostic::Diagnostic;

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
    pub fn read(text: &str) -> Result<Variation, VariationError> {
        let mut names = Self::NAMES.iter();
        let found = names.find(|(name, _)| *name == text.trim());
        found
            .map(|n| n.1)
            .ok_or_else(|| VariationError(text.trim().to_owned()))
    }
}

/// A text that says no variation.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the variation is `full`, `fills` or `none`, found `{0}`")]
pub struct VariationError(String);

impl Diagnostic for VariationError {
    fn code(&self) -> &'static str {
        "document-choice"
    }

    fn help(&self) -> String {
        "write `full`, `fills` or `none`".to_owned()
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
    pub fn read(text: &str) -> Result<Timing, TimingError> {
        let mut names = Self::NAMES.iter();
        let found = names.find(|(name, _)| *name == text.trim());
        found
            .map(|n| n.1)
            .ok_or_else(|| TimingError(text.trim().to_owned()))
    }
}

/// A text that says no timing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the timing is `exact` or `loose`, found `{0}`")]
pub struct TimingError(String);

impl Diagnostic for TimingError {
    fn code(&self) -> &'static str {
        "document-choice"
    }

    fn help(&self) -> String {
        "write `exact` or `loose`".to_owned()
    }
}
