//! Music theory: pitches, intervals, scales, keys, chords and the ways people write them.
//!
//! Everything here is spelled: a note is a letter with an accidental before it is one of twelve pitch classes, so
//! F#maj7 holds an E# and Cdim7 a Bbb. Nothing here depends on time, instruments or files.
//!
//! ```
//! use fivefold::theory::{figure, key::Key};
//!
//! let key = Key::read("A minor")?;
//! let chord = figure::read("bVII")?.resolve(Some(&key))?;
//! assert_eq!(chord.to_string(), "G");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod chord;
mod cursor;
pub mod degree;
pub mod figure;
mod figure_error;
pub mod interval;
pub mod key;
mod key_order;
mod mode;
mod nearest;
mod note_words;
pub mod numeral;
pub mod pitch;
pub mod scale;
pub mod symbol;

pub use chord::{Chord, ChordError, ChordKind, Harmony};
pub use degree::{Degree, DegreeError};
pub use figure::Figure;
pub use figure_error::{FigureError, FigureProblem, MAX_FIGURE_BYTES};
pub use interval::Interval;
pub use key::{Key, KeyError};
pub use key_order::{KeyOrder, KeyOrderError};
pub use mode::Mode;
pub(crate) use nearest::{Compared, nearest};
pub(crate) use note_words::{in_words, raised};
pub use numeral::Numeral;
pub use pitch::{Letter, Pitch, PitchClass, PitchError, PitchName};
pub use scale::{Scale, ScaleError, ScaleFormula, ScaleKind};
