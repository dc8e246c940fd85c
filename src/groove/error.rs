//! What is wrong with a groove.

use std::ops::Range;

use super::row::RowError;
use crate::diagnostic::{Diagnostic, or};
use crate::time::{FeelError, Meter, MeterError};

/// Why a groove cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum GrooveError {
    /// No groove has this name.
    #[error("no groove is called `{found}`")]
    Name {
        /// What was written.
        found: String,
        /// The nearest name, or all.
        meant: Vec<String>,
    },
    /// The groove is for other meters.
    #[error("{groove} is no groove for {meter}")]
    Meter {
        /// The groove, such as `the groove shuffle`.
        groove: String,
        /// The meter of the piece.
        meter: Meter,
        /// Grooves for it.
        suited: Vec<String>,
    },
    /// A swing where the groove parts the beat in three.
    #[error("{groove} parts the beat in three already and does not swing")]
    Threes {
        /// The groove, such as `the groove slow blues`.
        groove: String,
    },
    /// Swung sixteenths where the groove has none.
    #[error("{groove} has no sixteenths that could swing")]
    NoSixteenths {
        /// The groove, such as `the groove bossa`.
        groove: String,
        /// Grooves for the meter that have some.
        suited: Vec<String>,
    },
    /// Kick and bass do not relate as the groove states.
    #[error("the groove says that kick and bass are {stated}, and {found}")]
    KickAndBass {
        /// The word that is stated.
        stated: &'static str,
        /// What the rows do instead.
        found: String,
    },
    /// More meters than a groove may name.
    #[error("a groove names at most {most} meters, found {count}")]
    Meters {
        /// How many were written.
        count: usize,
        /// How many there may be.
        most: usize,
    },
    /// A key that a groove does not have.
    #[error("unknown key `{path}`")]
    Key {
        /// The key with its tables.
        path: String,
        /// The nearest key, or all.
        meant: Vec<String>,
    },
    /// A value of another type.
    #[error("`{path}` is {expected}")]
    Type {
        /// The key with its tables.
        path: String,
        /// `a text` or `a table`.
        expected: &'static str,
    },
    /// A word that is none of the choices.
    #[error("`{path}` is not `{found}`")]
    Choice {
        /// The key with its tables.
        path: &'static str,
        /// What was written.
        found: String,
        /// What may be written.
        choices: Vec<String>,
    },
    /// A row that cannot be read.
    #[error("{error}")]
    Row {
        /// Why.
        error: RowError,
        /// Whether it is that of the bass.
        of_bass: bool,
    },
    /// A rhythm of strokes that cannot be read.
    #[error("a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found \"{0}\"")]
    Strokes(String),
    /// Not two tempi.
    #[error("the tempi of a groove are two numbers, found \"{0}\"")]
    Tempo(String),
    /// Not three velocities.
    #[error("a touch is three velocities, 1 to 127, found \"{0}\"")]
    Touch(String),
    /// A meter that cannot be read.
    #[error(transparent)]
    MeterText(#[from] MeterError),
    /// A feel that cannot be read, or does not suit the meter.
    #[error(transparent)]
    Feel(#[from] FeelError),
}

/// A fault and its place in the text.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{error}")]
pub struct GrooveFault {
    /// What is wrong.
    pub error: GrooveError,
    /// The bytes of the text that are meant.
    pub span: Range<usize>,
}

/// `write A, B or C`.
fn write_one_of(words: &[String]) -> String {
    let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    format!("write {}", or(&words))
}

impl Diagnostic for GrooveError {
    fn code(&self) -> &'static str {
        match self {
            GrooveError::Name { .. } => "groove-name",
            GrooveError::Meter { .. } | GrooveError::Meters { .. } => "groove-meter",
            GrooveError::Threes { .. } | GrooveError::NoSixteenths { .. } => "groove-feel",
            GrooveError::KickAndBass { .. } => "groove-bass",
            GrooveError::Key { .. } => "document-key",
            GrooveError::Type { .. } => "document-type",
            GrooveError::Choice { .. } => "document-choice",
            GrooveError::Row { .. } => "groove-row",
            GrooveError::Strokes(_) => "part-rhythm",
            GrooveError::Tempo(_) => "groove-tempo",
            GrooveError::Touch(_) => "groove-touch",
            GrooveError::MeterText(e) => e.code(),
            GrooveError::Feel(e) => e.code(),
        }
    }

    fn help(&self) -> String {
        match self {
            GrooveError::Name { meant, .. } | GrooveError::Key { meant, .. } => write_one_of(meant),
            GrooveError::Meter { suited, .. } | GrooveError::NoSixteenths { suited, .. } => {
                write_one_of(suited)
            }
            GrooveError::Choice { choices, .. } => write_one_of(choices),
            GrooveError::Meters { .. } => {
                "write those in which it is played: `4/4, 2/2`".to_owned()
            }
            GrooveError::Threes { .. } => "leave the feel out".to_owned(),
            GrooveError::KickAndBass { .. } => {
                "move the notes, or state `together`, `answering` or `free`".to_owned()
            }
            GrooveError::Type { expected, .. } if *expected == "a table" => {
                "write its keys on lines below it".to_owned()
            }
            GrooveError::Type { .. } => "write it in quotes".to_owned(),
            GrooveError::Row { of_bass: true, .. } => {
                "write `1 3 5 6 8` for notes of the chord, `n` to lead on, `w` for a note of a walk, `g` for a dead note, `.` to go on, `o` for silence, \
                 `?` and `,` for notes at times; or `walk`"
                    .to_owned()
            }
            GrooveError::Row { .. } => {
                "write `X` for an accent, `x` for a stroke, `g` for a ghost, `?` and `,` for both at times, `.` for nothing"
                    .to_owned()
            }
            GrooveError::Strokes(_) => "write `D . D U . U D U`".to_owned(),
            GrooveError::Tempo(_) => "write `70 to 140`".to_owned(),
            GrooveError::Touch(_) => {
                "write those of an accent, a stroke and a ghost: `92 70 50`".to_owned()
            }
            GrooveError::MeterText(e) => e.help(),
            GrooveError::Feel(e) => e.help(),
        }
    }
}

impl Diagnostic for GrooveFault {
    fn code(&self) -> &'static str {
        self.error.code()
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        self.error.help()
    }
}
