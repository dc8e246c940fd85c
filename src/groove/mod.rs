//! Grooves: the rhythm that kit, bass, strum and pads share, as rows a musician can read.
//!
//! A groove is written in TOML; those that come with the program lie in the folder `ready` beside this file, and a document
//! may bring its own. What each part makes of it stands in the arrangement.

mod error;
mod figure;
#[allow(clippy::module_inception)] // the room has the name of its main type
mod groove;
mod pattern;
mod plain;
mod read;
mod ready;
mod row;
mod voice;
mod write;

pub use error::{GrooveError, GrooveFault};
pub use figure::{BassFigure, BassStep, Figure, Hit, strong_beats};
pub use groove::{Groove, GrooveBass, GrooveParts, KickAndBass, Meters, Rows};
pub use pattern::{Pattern, Stroke};
pub use read::read_groove;
pub use ready::{check_groove, ready_groove, ready_grooves, usual_groove};
pub use row::{BassMark, BassRow, Force, KitMark, KitRow, RowError};
pub use voice::KitVoice;
