//! Where a piece comes from.

use crate::arrange::ArrangeError;
use crate::chart::{Places, Problem, SourceText};
use crate::cli::failure::Failure;

/// Where a piece comes from: a text, and the places in it of what is checked later.
pub(in crate::cli) struct Origin {
    pub(in crate::cli) source: SourceText,
    pub(in crate::cli) places: Places,
}

impl From<SourceText> for Origin {
    /// A text without such places.
    fn from(source: SourceText) -> Self {
        let places = Places::default();
        Origin { source, places }
    }
}

impl Origin {
    /// The failure for an arrangement, underlined in the text if its cause is written there.
    pub(super) fn wrong(&self, error: ArrangeError) -> Failure {
        let span = match &error {
            ArrangeError::Keys(_) | ArrangeError::KeysNeedKey => self.places.keys.clone(),
            _ => 0..0,
        };
        if span.is_empty() {
            return error.into();
        }
        Failure::text(self.source.clone(), vec![Problem::of(&error, span)])
    }
}
