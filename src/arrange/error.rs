//! Why a piece cannot be arranged.

use super::journey::{BarRange, ExcerptError};
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
    /// An ask is in a bar that the piece has not.
    #[error("ask {ask} is in bar {bar}, and the piece has {bars}")]
    AskBar {
        /// Which ask, from 1.
        ask: u32,
        /// The bar it is written in.
        bar: u32,
        /// The bars there are.
        bars: BarRange,
    },
    /// An ask is on a beat that its bar has not.
    #[error("ask {ask} is on beat {beat}, and its bar has {beats}")]
    AskBeat {
        /// Which ask, from 1.
        ask: u32,
        /// The beat it is written on.
        beat: u32,
        /// The beats of the bar.
        beats: u32,
    },
    /// The piece ends before an ask is answered.
    #[error("the piece ends before ask {ask} is answered, {beats} beats later")]
    AskUnanswered {
        /// Which ask, from 1.
        ask: u32,
        /// Beats until its answer.
        beats: u32,
    },
    /// An ask comes before the one before it is answered.
    #[error("ask {ask} comes before ask {before} is answered")]
    AskEarly {
        /// Which ask, from 1.
        ask: u32,
        /// The one that is still open then.
        before: u32,
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
            ArrangeError::AskBar { .. } => "ask-bar",
            ArrangeError::AskBeat { .. } => "ask-beat",
            ArrangeError::AskUnanswered { .. } => "ask-unanswered",
            ArrangeError::AskEarly { .. } => "ask-early",
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
            ArrangeError::AskBar { .. } => {
                "write the ask in another bar, or play more passes".to_owned()
            }
            ArrangeError::AskBeat { beats, .. } => format!("write a beat from 1 to {beats}"),
            ArrangeError::AskUnanswered { .. } => {
                "give it fewer `beats`, or write more bars behind it".to_owned()
            }
            ArrangeError::AskEarly { before, .. } => {
                format!("give ask {before} fewer `beats`, or ask later")
            }
            ArrangeError::Neck(e) => e.help(),
        }
    }
}
