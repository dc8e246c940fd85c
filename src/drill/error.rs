//! Why there is no drill over a set.

use crate::diagnostic::Diagnostic;
use crate::generate::mode_of;
use crate::neck::NeckError;
use crate::theory::{Key, KeyError, KeyOrderError, Scale};

/// Why there is no drill over a set.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SetDrillError {
    /// The string is not on the neck, or the shape does not fit on it.
    #[error(transparent)]
    Neck(#[from] NeckError),
    /// The root of the set is the tonic of no key.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// The set cannot move to the keys.
    #[error(transparent)]
    Keys(#[from] KeyOrderError),
}

impl SetDrillError {
    fn cause(&self) -> &dyn Diagnostic {
        match self {
            SetDrillError::Neck(e) => e,
            SetDrillError::Key(e) => e,
            SetDrillError::Keys(e) => e,
        }
    }
}

impl Diagnostic for SetDrillError {
    fn code(&self) -> &'static str {
        self.cause().code()
    }

    fn help(&self) -> String {
        self.cause().help()
    }
}

/// The key a set is heard in, in its usual home.
///
/// # Errors
/// When its root has more than one sharp or flat.
pub fn key_of_set(set: &Scale) -> Result<Key, KeyError> {
    let home = set.home().unwrap_or(*set);
    Key::new(set.root(), mode_of(&home.formula()))
}
