//! What a MIDI input hears.

use std::time::Instant;

use super::wire::Bytes;

/// A message that came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// When the driver handed it over.
    pub at: Instant,
    /// What it was.
    pub bytes: Bytes,
}
