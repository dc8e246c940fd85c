//! Musical time (ticks) and physical time (nanoseconds), and the one conversion between them.
//!
//! Everything musical is counted in [`Tick`]s, [`TICKS_PER_QUARTER`] to the quarter note. A person writes a
//! [`TempoPlan`]; together with the [`Grid`] of bars it becomes a [`TempoMap`] of whole microseconds per quarter
//! note, the very pairs a MIDI file holds. A [`Clockwork`] sums them without rounding, so every sink that reads
//! the same pairs gets the same nanosecond.

mod bend;
mod grid;
mod map;
mod meter;
mod plan;
mod slowing;
mod swing;
mod tick;
mod timed;
mod words;

pub use grid::{BarBeat, BarSpan, Grid, Region};
pub use map::{Goal, Pairs, TempoCursor, TempoMap};
pub use meter::{Beat, Meter, MeterError};
pub(crate) use plan::LONGEST;
pub use plan::{Amount, Length, PlanError, PlanFault, PlanRepeat, Stretch, TempoPlan, read_length};
pub use slowing::{Ritardando, RitardandoError};
pub use swing::{Feel, FeelError, SwingUnit};
pub use tick::{Clockwork, Nanos, TICKS_PER_QUARTER, Tempo, TempoError, Tick};
pub use timed::Timed;
pub(crate) use words::read_milli;
