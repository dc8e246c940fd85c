//! Reports of a run: how punctual the messages were, how the plan was changed, how the player's strokes lay.

mod drift;
mod played;
mod receipt;
mod strokes;

pub use played::{PlayedAt, PlayedMap, Stand};
pub use receipt::{AUDIBLE_NS, Lateness, Receipt, Recorder};
pub use strokes::{
    Bias, CountedStroke, DOUBLED_NS, PlaceTiming, PlayerTiming, Stroke, Strokes, Trend, noticed_ns,
};
