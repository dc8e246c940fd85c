//! From a piece to events: the parts, bar by bar.
//!
//! An [`Arrangement`] is a [`Source`](crate::event::Source). What each part plays is a pure function of the piece,
//! the seed and the bar, so a bar is the same however it is reached; only note-offs are carried from bar to bar.

mod arrangement;
mod asks;
mod band;
mod bass;
mod click;
mod cursor;
mod drone;
mod error;
mod fill;
mod guide;
mod hands;
mod jam;
mod journey;
mod phrase;
mod run;
mod score;
mod strum;
mod voicing;

pub use arrangement::Arrangement;
pub use error::ArrangeError;
pub use jam::JamPasses;
pub use journey::{BarCount, BarRange, Excerpt, ExcerptError, Journey, Timer};
pub use score::{PassMaker, PassScore, pass_count};
pub use voicing::{Register, Voicing, movement, voicings};

use crate::event::{KeyNumber, Velocity};
use crate::theory::Degree;

/// A note of a part within a bar, before it is placed in the piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Note {
    /// Ticks from the bar line, as written (before swing).
    pub(crate) offset_ticks: u64,
    /// Length in ticks as written; may reach past the bar.
    pub(crate) length_ticks: u64,
    pub(crate) key: KeyNumber,
    pub(crate) velocity: Velocity,
    /// What the note is called, where it is sung out.
    pub(crate) degree: Option<Degree>,
}

/// A note of the guide within a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GuideNote {
    /// Ticks from the bar line, as written.
    pub offset_ticks: u64,
    /// The key it sounds.
    pub key: KeyNumber,
    /// Its degree in the set.
    pub degree: Degree,
}

/// Ticks by which a note ends before the next begins: a sixteenth of a quarter, or an eighth of a short note.
pub(crate) fn shortened(length_ticks: u64) -> u64 {
    length_ticks - (length_ticks / 8).min(60)
}
