//! What can be wrong with a neck or with a shape on it.

use super::limits::{MAX_FRET, MAX_STRINGS};
use crate::diagnostic::Diagnostic;

/// Why something does not fit on the neck.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NeckError {
    /// A string number outside 1 to 8.
    #[error("expected a string from 1 to {MAX_STRINGS}, found {value}")]
    StringRange {
        /// The number asked for.
        value: u32,
    },
    /// A fret above 36.
    #[error("expected a fret from 0 to {MAX_FRET}, found {value}")]
    FretRange {
        /// The number asked for.
        value: u32,
    },
    /// A finger number outside 1 to 4.
    #[error("expected a finger from 1 to 4, found {value}")]
    FingerRange {
        /// The number asked for.
        value: u32,
    },
    /// A neck without frets, or with too many.
    #[error("expected a neck of 1 to {MAX_FRET} frets, found {value}")]
    NeckLength {
        /// Frets asked for.
        value: u32,
    },
    /// A capo on or behind the last fret.
    #[error("expected a capo from fret 0 to {last}, found {value}")]
    CapoBeyond {
        /// The fret of the capo.
        value: u32,
        /// The highest fret it can sit at.
        last: u32,
    },
    /// A string this tuning does not have.
    #[error("expected a string from 1 to {count}, found {string}")]
    NoString {
        /// The string asked for, 1 the highest.
        string: u8,
        /// How many strings the tuning has.
        count: usize,
    },
    /// A scale shape that would run off the neck.
    #[error(
        "expected a neck of at least {needs} frets for {scale} from string {string}, found {frets}"
    )]
    ShapeOffNeck {
        /// Name of the scale.
        scale: String,
        /// The string of the lowest note, 1 the highest.
        string: u8,
        /// Frets the shape needs, counted from the nut.
        needs: u32,
        /// Frets the neck has, counted from the nut.
        frets: u8,
        /// The fret of the capo, from the nut; 0 without one.
        capo: u8,
        /// Whether the same shape lies lower with open strings.
        opens: bool,
    },
    /// A hand span outside 1 to 6 frets.
    #[error("expected a hand that spans 1 to 6 frets, found {value}")]
    HandSpan {
        /// Frets asked for.
        value: u32,
    },
    /// A number of fingers outside 1 to 4.
    #[error("expected a hand of 1 to 4 fingers, found {value}")]
    HandFingers {
        /// Fingers asked for.
        value: u32,
    },
    /// No shape of a chord within the hand.
    #[error("expected a shape of {chord} that the hand can hold, found none")]
    NoShape {
        /// The symbol of the chord.
        chord: String,
    },
}

impl Diagnostic for NeckError {
    fn code(&self) -> &'static str {
        match self {
            NeckError::StringRange { .. } => "string-range",
            NeckError::FretRange { .. } => "fret-range",
            NeckError::FingerRange { .. } => "finger-range",
            NeckError::NeckLength { .. } => "neck-length",
            NeckError::CapoBeyond { .. } => "capo-beyond-neck",
            NeckError::NoString { .. } => "no-such-string",
            NeckError::ShapeOffNeck { .. } => "shape-off-neck",
            NeckError::HandSpan { .. } => "hand-span",
            NeckError::HandFingers { .. } => "hand-fingers",
            NeckError::NoShape { .. } => "no-chord-shape",
        }
    }

    fn help(&self) -> String {
        match self {
            NeckError::StringRange { .. } => {
                "count strings from 1, the highest, as in `6` for the low E".to_owned()
            }
            NeckError::FretRange { .. } => "count frets from 0, the open string".to_owned(),
            NeckError::FingerRange { .. } => {
                "write 1 for the index finger to 4 for the little finger".to_owned()
            }
            NeckError::NeckLength { .. } => {
                "write the number of frets the neck has, such as `22`".to_owned()
            }
            NeckError::CapoBeyond { last, .. } => {
                format!("put the capo at fret {last} or lower, or give the neck more frets")
            }
            NeckError::NoString { count, .. } => {
                format!("write a string from 1, the highest, to {count}, the lowest")
            }
            NeckError::ShapeOffNeck { opens: true, .. } => {
                "allow open strings, or begin from another string".to_owned()
            }
            NeckError::ShapeOffNeck { capo: 1.., .. } => {
                "put the capo lower, or begin from another string".to_owned()
            }
            NeckError::ShapeOffNeck { needs, .. } if *needs <= u32::from(MAX_FRET) => {
                format!("begin from another string, or give the neck {needs} frets")
            }
            NeckError::ShapeOffNeck { .. } => "begin from another string".to_owned(),
            NeckError::HandSpan { .. } => {
                "write a span of 4 frets, or 5 for a wide hand".to_owned()
            }
            NeckError::HandFingers { .. } => "write 4 fingers, or fewer".to_owned(),
            NeckError::NoShape { .. } => {
                "write a chord with fewer notes or without its bass, or give the neck more frets"
                    .to_owned()
            }
        }
    }
}
