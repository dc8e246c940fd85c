//! What can be wrong with a scale.

use std::fmt;
use std::ops::Range;

use crate::diagnostic::Diagnostic;
use crate::theory::degree::Degree;
use crate::theory::pitch::PitchName;

/// A scale that could not be read or made, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScaleError {
    span: Range<usize>,
    problem: ScaleProblem,
}

/// What is wrong with a scale.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each sentence says what its facts are")]
pub enum ScaleProblem {
    #[error("expected a root and a scale, found nothing")]
    Empty,
    #[error("expected a root A to G in upper case, found `{found}`")]
    NoRoot {
        found: String,
        upper: Option<String>,
    },
    #[error("expected a scale after {root}, found nothing")]
    NoName { root: PitchName },
    #[error("expected a known scale, found `{found}`")]
    UnknownName {
        root: PitchName,
        found: String,
        nearest: Option<&'static str>,
    },
    #[error("`pentatonic` may be the major or the minor one")]
    WhichPentatonic { root: PitchName },
    #[error("expected a degree such as b3, found `{found}`")]
    BadDegree { found: String },
    #[error("expected degrees from 1 to 7, found {degree}")]
    BeyondOctave { degree: Degree },
    #[error("the degree {degree} stands twice")]
    Twice { degree: Degree },
    #[error("the degrees {first} and {second} are the same sound")]
    SameSound { first: Degree, second: Degree },
    #[error("expected the root, degree 1, first")]
    NoFirst,
    #[error("expected at least 2 degrees, found {found}")]
    TooFew { found: usize },
    #[error("expected at most {most} degrees, found more")]
    TooMany { most: usize },
}

impl ScaleError {
    pub(super) const fn new(span: Range<usize>, problem: ScaleProblem) -> ScaleError {
        ScaleError { span, problem }
    }

    /// The same error with another span.
    pub(super) fn at(self, span: Range<usize>) -> ScaleError {
        ScaleError { span, ..self }
    }

    /// What is wrong, as data.
    #[must_use]
    pub const fn problem(&self) -> &ScaleProblem {
        &self.problem
    }
}

impl Diagnostic for ScaleError {
    fn code(&self) -> &'static str {
        match self.problem {
            ScaleProblem::Empty => "empty-scale",
            ScaleProblem::NoRoot { .. } => "no-scale-root",
            ScaleProblem::NoName { .. } => "no-scale-name",
            ScaleProblem::UnknownName { .. } => "unknown-scale",
            ScaleProblem::WhichPentatonic { .. } => "which-pentatonic",
            ScaleProblem::BadDegree { .. } => "bad-degree",
            ScaleProblem::BeyondOctave { .. } => "degree-range",
            ScaleProblem::Twice { .. } => "degree-twice",
            ScaleProblem::SameSound { .. } => "same-sound",
            ScaleProblem::NoFirst => "no-first-degree",
            ScaleProblem::TooFew { .. } => "too-few-degrees",
            ScaleProblem::TooMany { .. } => "too-many-degrees",
        }
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        match &self.problem {
            ScaleProblem::NoRoot {
                upper: Some(upper), ..
            } => format!("write `{upper}`"),
            ScaleProblem::UnknownName {
                root,
                nearest: Some(nearest),
                ..
            } => format!("write `{root} {nearest}`"),
            ScaleProblem::UnknownName {
                root,
                nearest: None,
                ..
            }
            | ScaleProblem::NoName { root } => {
                format!(
                    "write a name, as in `{root} minor pentatonic`, or degrees, as in `{root} 1 b3 4 5 b7`"
                )
            }
            ScaleProblem::WhichPentatonic { root } => {
                format!("write `{root} major pentatonic` or `{root} minor pentatonic`")
            }
            ScaleProblem::BadDegree { .. } => {
                "write degrees with their sharps or flats before them, such as `b3` or `#4`"
                    .to_owned()
            }
            ScaleProblem::BeyondOctave { degree } => {
                let lower = Degree::new(degree.number().saturating_sub(7), degree.alter())
                    .unwrap_or(Degree::ROOT);
                format!("write {lower}, the same note an octave lower")
            }
            ScaleProblem::Twice { degree } => format!("write {degree} once"),
            ScaleProblem::SameSound { first, second } => format!("leave out {first} or {second}"),
            ScaleProblem::NoFirst => "begin the degrees with 1, as in `1 b3 4 5 b7`".to_owned(),
            ScaleProblem::TooFew { .. } => "write more degrees, as in `1 b3 4 5 b7`".to_owned(),
            ScaleProblem::TooMany { .. } => "write fewer degrees".to_owned(),
            _ => "write a root and a name, such as `A minor pentatonic`".to_owned(),
        }
    }
}

impl fmt::Display for ScaleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem.fmt(f)
    }
}

impl std::error::Error for ScaleError {}
