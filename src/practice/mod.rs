//! What to practice next: what memory is about to lose.
//!
//! [`Memory`] is what is left of one fact after each review, by the FSRS-6 model. [`due`] picks what is asked today.
//!
//! All of it is plain values without a clock or a file. A state can be made again from the list of what was done, in
//! order: [`Recall::replay`]. A day comes as a [`Day`], given by the caller. Logarithms and powers are libm's, so the same
//! list gives the same numbers on every platform.

#![warn(clippy::too_many_lines, clippy::fn_params_excessive_bools)]

mod day;
mod due;
mod error;
mod memory;
mod units;

pub use day::Day;
pub use due::{DueRules, DueToday, Fact, Limit, Order, Recall, due};
pub use error::PracticeError;
pub use memory::{Grade, Memory};
pub use units::{Bpm, CleanShare, Outcome, Retention};
