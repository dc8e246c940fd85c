//! The log: every take of every player, in one file on disk.
//!
//! The file is an SQLite database. A take counts as saved when [`Log::add`] has returned: it is then on the disk, whatever
//! becomes of the program. All calls block, for milliseconds or longer, so none may be made on a thread that keeps time.

mod error;
mod place;
mod player;
mod schema;
mod store;
mod summary;
mod take;

pub use error::LogError;
pub use place::{now, usual_place};
pub use player::{Player, PlayerError};
pub use store::{FactRecord, Log, Remember};
pub use summary::{DayTotal, ExerciseTotal, FactTotal, KeyShare, KeyTotal, PaceTrend, TempoPoint};
pub use take::{Moment, Pace, Take, TakeAsk, TakeId, TakeRow, Word};
