//! What a run is summed up in: how punctual the messages were, what was made of the plan, how the player's strokes lay.

mod drift;
mod played;
mod receipt;
mod strokes;

pub use played::{PlayedAt, PlayedMap, Stand};
pub use receipt::{AUDIBLE_NS, Lateness, Receipt, Recorder};
pub use strokes::{
    Bias, DOUBLED_NS, PlaceTiming, PlayerTiming, Stroke, Strokes, Trend, noticed_ns,
};
