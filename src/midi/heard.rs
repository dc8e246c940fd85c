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

impl Heard {
    /// The key of a note-on, 0 to 127. One with velocity 0 is a note-off (MIDI 1.0).
    pub fn note_on(&self) -> Option<u8> {
        match *self.bytes.as_slice() {
            [status, key, velocity] if status & 0xF0 == 0x90 && velocity > 0 => Some(key & 0x7F),
            _ => None,
        }
    }
}
