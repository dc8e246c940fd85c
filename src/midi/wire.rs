//! Channel messages as bytes, by midly.

use midly::MidiMessage;
use midly::live::LiveEvent;
use midly::num::{u4, u7};

use crate::event::{Channel, Message};

/// Release velocity of every note-off: the value that says nothing (MIDI 1.0).
pub const RELEASE: u8 = 64;

/// A channel message of two or three bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bytes {
    data: [u8; 3],
    len: u8,
}

impl Bytes {
    /// The bytes, status first.
    pub fn as_slice(&self) -> &[u8] {
        &self.data[..usize::from(self.len)]
    }
}

/// The message as midly has it.
pub(super) fn live(channel: Channel, message: Message) -> LiveEvent<'static> {
    let seven = |v: u8| u7::new(v & 0x7F);
    let message = match message {
        Message::NoteOff { key } => MidiMessage::NoteOff {
            key: seven(key.get()),
            vel: seven(RELEASE),
        },
        Message::NoteOn { key, velocity } => MidiMessage::NoteOn {
            key: seven(key.get()),
            vel: seven(velocity.get()),
        },
        Message::Program(program) => MidiMessage::ProgramChange {
            program: seven(program),
        },
        Message::Control { controller, value } => MidiMessage::Controller {
            controller: seven(controller),
            value: seven(value),
        },
    };
    LiveEvent::Midi {
        channel: u4::new(channel.nibble()),
        message,
    }
}

/// The bytes of a channel message, with its status.
///
/// # Real time
/// Does not allocate or block.
///
/// ```
/// use fivefold::event::{Channel, KeyNumber, Message, Velocity};
/// let on = Message::NoteOn { key: KeyNumber::clamped(60), velocity: Velocity::clamped(96) };
/// assert_eq!(fivefold::midi::wire_bytes(Channel::PERCUSSION, on).as_slice(), [0x99, 60, 96]);
/// ```
pub fn wire_bytes(channel: Channel, message: Message) -> Bytes {
    let mut data = [0u8; 3];
    let mut rest: &mut [u8] = &mut data;
    // A channel message has at most three bytes, so there is room; midly stops where there is none.
    let _ = live(channel, message).write(&mut rest);
    let len = 3 - u8::try_from(rest.len()).unwrap_or(0);
    Bytes { data, len }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::{KeyNumber, Velocity};

    #[test]
    fn every_kind_of_message() {
        let c = Channel::new(3).unwrap();
        let key = KeyNumber::clamped(64);
        let bytes = |m| wire_bytes(c, m).as_slice().to_vec();
        assert_eq!(
            bytes(Message::NoteOn {
                key,
                velocity: Velocity::clamped(1)
            }),
            [0x92, 64, 1]
        );
        assert_eq!(bytes(Message::NoteOff { key }), [0x82, 64, 64]);
        assert_eq!(bytes(Message::Program(89)), [0xC2, 89]);
        assert_eq!(
            bytes(Message::Control {
                controller: 7,
                value: 80
            }),
            [0xB2, 7, 80]
        );
    }
}
