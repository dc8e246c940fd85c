//! The neck of a guitar: tunings, positions, scale shapes and chord shapes.
//!
//! Strings are counted from 1, the highest; frets from 0, the open string, and on a neck with a capo from the capo. Every
//! note is spelled by its scale or chord and carries the MIDI key that sounds.

mod board;
mod chord_shape;
mod error;
mod hand;
mod position;
mod scale_shape;
mod search;
mod tuning;
mod units;

pub use board::{DEFAULT_FRETS, MARKERS, Neck, StringNote};
pub use chord_shape::{Barre, ChordShape, chord_shape_near, chord_shapes};
pub use error::NeckError;
pub use hand::HandModel;
pub use position::{Position, chord_positions, scale_positions};
pub use scale_shape::{ScaleShape, linked_shapes, root_shape};
pub use tuning::{Tuning, TuningError, TuningProblem};
pub use units::{Finger, Fret, MAX_FRET, MAX_STRINGS, MIN_STRINGS, StringNumber};
