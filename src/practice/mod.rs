//! What to practice next, and how fast: what memory is about to lose, and the tempo the hands can do.
//!
//! [`Memory`] is what is left of one fact after each review, by the FSRS-6 model. [`due`] picks what is asked today.
//! [`Pace`] estimates the tempo at which so many takes in a hundred are clean, and says at which tempo the next take is
//! played. [`Ladder`] is the plain alternative: a step up after so many clean takes.
//!
//! All of it is plain values without a clock or a file. Each state can be made again from the list of what was done, in
//! order: [`Recall::replay`], [`Pace::replay`], [`Ladder::replay`]. A day comes as a [`Day`], given by the caller.
//! Logarithms and powers are libm's, so the same list gives the same numbers on every platform.

#![warn(clippy::too_many_lines, clippy::fn_params_excessive_bools)]

mod day;
mod due;
mod error;
mod ladder;
mod memory;
mod pace;
mod routine;
mod turns;
mod units;

pub use day::Day;
pub use due::{DueToday, Fact, Recall, due};
pub use error::PracticeError;
pub use ladder::Ladder;
pub use memory::{Grade, Memory};
pub use pace::{Aim, Estimate, FirstGuess, Pace, Take, Wish};
pub use routine::{Item, READY_ROUTINES, ReadyRoutine, Routine, What};
pub use turns::in_turns;
pub use units::{Bpm, CleanShare, Outcome, Retention};
