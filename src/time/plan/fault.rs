//! What can be wrong with a tempo plan.

use std::ops::Range;

use crate::diagnostic::Diagnostic;

/// Why a text is not a tempo plan, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{fault}")]
pub struct PlanError {
    /// Bytes of the plan's text that are meant.
    pub span: Range<usize>,
    /// What is wrong there.
    pub fault: PlanFault,
}

/// What is wrong with a tempo plan.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanFault {
    /// Nothing was written.
    #[error("a tempo plan is empty")]
    Empty,
    /// A tempo was expected.
    #[error("expected a tempo in beats a minute, found {0}")]
    Tempo(String),
    /// A tempo with too many decimals.
    #[error("a tempo has at most three decimals, found {found}")]
    Decimals {
        /// What was written.
        found: String,
        /// The number cut to the decimals that are kept.
        kept: String,
    },
    /// A length was expected.
    #[error("expected a length such as 8 bars, found {0}")]
    Length(String),
    /// An unexpected word.
    #[error("expected {expected}, found {found}")]
    Word {
        /// What was expected.
        expected: &'static str,
        /// What was found.
        found: String,
    },
    /// An unknown note value before `=`.
    #[error("`{0}` is not a note value that a tempo can count")]
    Note(String),
    /// A stretch before the last without a length.
    #[error("only the last stretch of a plan may lack its length")]
    NoLength,
    /// A tempo outside the limits.
    #[error("a tempo is 3.6 to 960 quarter notes a minute, found {0}")]
    Limit(String),
    /// A ladder that never reaches its target.
    #[error("a ladder steps forward by more than it steps back, found by {by} back {back}")]
    Back {
        /// The step forward.
        by: String,
        /// The step back.
        back: String,
    },
    /// A ladder with steps of zero, or with too many steps.
    #[error("a ladder has steps above 0 and at most 10000 plateaus, found by {0}")]
    Step(String),
    /// A length of zero, or beyond the limit.
    #[error("a length is above 0 and at most 1000000 bars, beats, s or min, found {0}")]
    LengthLimit(String),
}

impl PlanError {
    pub(super) fn new(span: Range<usize>, fault: PlanFault) -> Self {
        PlanError { span, fault }
    }
}

impl Diagnostic for PlanError {
    fn code(&self) -> &'static str {
        match self.fault {
            PlanFault::Empty => "plan-empty",
            PlanFault::Tempo(_) => "plan-tempo",
            PlanFault::Decimals { .. } => "plan-decimals",
            PlanFault::Length(_) => "plan-length",
            PlanFault::Word { .. } => "plan-word",
            PlanFault::Note(_) => "plan-note",
            PlanFault::NoLength => "plan-no-length",
            PlanFault::Limit(_) => "plan-limit",
            PlanFault::Back { .. } => "plan-back",
            PlanFault::Step(_) => "plan-step",
            PlanFault::LengthLimit(_) => "plan-length-limit",
        }
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        match &self.fault {
            PlanFault::Length(_) | PlanFault::LengthLimit(_) => {
                "write a number of bars, beats, s or min: `8 bars`, `90 s`, `2.5 min`".to_owned()
            }
            PlanFault::Decimals { kept, .. } => format!("write `{kept}`"),
            PlanFault::Note(_) => {
                "write `quarter = 90`, `dotted quarter = 60`, `eighth = 180` or `half = 45`".to_owned()
            }
            PlanFault::NoLength => "write how long it lasts: `72 for 8 bars, 96`".to_owned(),
            PlanFault::Limit(_) => "write a tempo people can play to, such as 72".to_owned(),
            PlanFault::Back { .. } => "write a smaller step back: `60 to 76 by 8 back 4 every 4 bars`".to_owned(),
            PlanFault::Step(_) => "write a larger step: `72 to 96 by 4 every 8 bars`".to_owned(),
            _ => "write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`".to_owned(),
        }
    }
}
