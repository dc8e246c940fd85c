//! Messages from a MIDI input.

use std::time::Instant;

use super::wire::Bytes;

/// A message that came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// When the driver handed it over.
    pub at: Instant,
    /// The bytes of the message.
    pub bytes: Bytes,
}
