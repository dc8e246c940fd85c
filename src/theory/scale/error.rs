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
    #[error("expected a root before `{set}`, found none")]
    RootLeftOut { set: String },
    #[error("expected a scale{}, found nothing", after(root))]
    NoName { root: Option<PitchName> },
    #[error("expected a known scale, found `{found}`")]
    UnknownName {
        root: Option<PitchName>,
        found: String,
        nearest: Option<&'static str>,
    },
    #[error("a set has a name or degrees, found the notes `{found}`")]
    Notes { found: String, meant: String },
    #[error("`pentatonic` may be the major or the minor one")]
    WhichPentatonic { root: Option<PitchName> },
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

/// The root as it is written before a name; nothing without one.
fn before(root: &Option<PitchName>) -> String {
    root.map_or_else(String::new, |root| format!("{root} "))
}

/// The root as a sentence names it behind what is missing; nothing without one.
fn after(root: &Option<PitchName>) -> String {
    root.map_or_else(String::new, |root| format!(" after {root}"))
}

impl ScaleError {
    pub(super) const fn new(span: Range<usize>, problem: ScaleProblem) -> ScaleError {
        ScaleError { span, problem }
    }

    /// The same error with another span.
    pub(super) fn at(self, span: Range<usize>) -> ScaleError {
        ScaleError { span, ..self }
    }

    /// Whether no root was found where one was expected, and the text is not known in another spelling.
    pub(super) const fn lacks_root(&self) -> bool {
        matches!(self.problem, ScaleProblem::NoRoot { upper: None, .. })
    }

    /// Whether the text is close to a name that is known.
    pub(super) const fn knows_better(&self) -> bool {
        matches!(
            self.problem,
            ScaleProblem::WhichPentatonic { .. }
                | ScaleProblem::UnknownName {
                    nearest: Some(_),
                    ..
                }
        )
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
            ScaleProblem::NoRoot { .. } | ScaleProblem::RootLeftOut { .. } => "no-scale-root",
            ScaleProblem::NoName { .. } => "no-scale-name",
            ScaleProblem::UnknownName { .. } => "unknown-scale",
            ScaleProblem::WhichPentatonic { .. } => "which-pentatonic",
            ScaleProblem::Notes { .. } => "scale-notes",
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
            ScaleProblem::Notes { meant, .. } => format!("write `{meant}`"),
            ScaleProblem::RootLeftOut { set } => {
                format!("write a root A to G before it, as in `A {set}`")
            }
            ScaleProblem::UnknownName {
                root,
                nearest: Some(nearest),
                ..
            } => format!("write `{}{nearest}`", before(root)),
            ScaleProblem::UnknownName {
                root,
                nearest: None,
                ..
            }
            | ScaleProblem::NoName { root } => {
                let root = before(root);
                format!(
                    "write a name, as in `{root}minor pentatonic`, or degrees, as in `{root}1 b3 4 5 b7`"
                )
            }
            ScaleProblem::WhichPentatonic { root } => {
                let root = before(root);
                format!("write `{root}major pentatonic` or `{root}minor pentatonic`")
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
