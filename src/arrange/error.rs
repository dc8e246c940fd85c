//! Why a piece cannot be arranged.

use super::journey::ExcerptError;
use crate::diagnostic::Diagnostic;
use crate::neck::NeckError;
use crate::theory::KeyOrderError;

/// Why a piece cannot be arranged.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ArrangeError {
    /// The piece has not the bars asked for.
    #[error(transparent)]
    Excerpt(#[from] ExcerptError),
    /// A key it goes through is of another mode.
    #[error(transparent)]
    Keys(#[from] KeyOrderError),
    /// It goes through keys, but has none itself.
    #[error("`keys` need a key to begin with")]
    KeysNeedKey,
    /// The guide has nothing to run through.
    #[error("the guide needs a set to run through")]
    GuideNeedsSet,
    /// Its tempo plan is over the whole piece, which has no end.
    #[error("the tempo plan `{plan}` is over the whole piece, which has no end")]
    PlanNeedsLength {
        /// As it is written.
        plan: String,
    },
    /// A shape does not lie on the neck.
    #[error(transparent)]
    Neck(#[from] NeckError),
}

impl Diagnostic for ArrangeError {
    fn code(&self) -> &'static str {
        match self {
            ArrangeError::Excerpt(e) => e.code(),
            ArrangeError::Keys(e) => e.code(),
            ArrangeError::KeysNeedKey => "keys-need-key",
            ArrangeError::GuideNeedsSet => "guide-needs-set",
            ArrangeError::PlanNeedsLength { .. } => "plan-needs-length",
            ArrangeError::Neck(e) => e.code(),
        }
    }

    fn help(&self) -> String {
        match self {
            ArrangeError::Excerpt(e) => e.help(),
            ArrangeError::Keys(e) => e.help(),
            ArrangeError::KeysNeedKey => {
                "write the key of the chart: `key = \"A minor\"`".to_owned()
            }
            ArrangeError::GuideNeedsSet => "write one: `set = \"A minor pentatonic\"`".to_owned(),
            ArrangeError::PlanNeedsLength { plan } => {
                format!("say how long it takes: `{plan} over 32 bars`")
            }
            ArrangeError::Neck(e) => e.help(),
        }
    }
}
