//! fivefold: a backing-track and metronome engine for guitar practice.

pub mod event;
pub mod theory;
pub mod time;
