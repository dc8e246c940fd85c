//! Channel messages as bytes, by midly.

use midly::MidiMessage;
use midly::live::LiveEvent;
use midly::num::{u4, u7};

use crate::event::{Channel, Message};

/// Release velocity of every note-off: the neutral value (MIDI 1.0).
pub const RELEASE: u8 = 64;

/// A short message: one to three bytes, the first its status.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bytes {
    data: [u8; 3],
    len: u8,
}

impl Bytes {
    /// A message as it came; `None` when it is empty, longer than three bytes, or does not begin with a status.
    ///
    /// # Real time
    /// Does not allocate or block.
    ///
    /// ```
    /// use fivefold::midi::Bytes;
    /// assert_eq!(Bytes::short(&[0xB0, 64, 127]).map(|b| b.as_slice().len()), Some(3));
    /// assert_eq!(Bytes::short(&[0xF0, 1, 2, 0xF7]), None);
    /// assert_eq!(Bytes::short(&[64, 127]), None);
    /// ```
    pub fn short(bytes: &[u8]) -> Option<Bytes> {
        let mut data = [0u8; 3];
        let len = u8::try_from(bytes.len()).ok()?;
        data.get_mut(..bytes.len())?.copy_from_slice(bytes);
        (data[0] >= 0x80).then_some(Bytes { data, len })
    }

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

/// A message of the MIDI clock or related: they have no channel (MIDI 1.0, system common and real time).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum System {
    /// A pulse, 24 to the quarter note.
    Clock,
    /// Play from the beginning, with the next pulse.
    Start,
    /// Play from where it stood, with the next pulse.
    Continue,
    /// Stop and keep the position.
    Stop,
    /// Where to play from, in sixteenths (six pulses each) from the beginning, 0 to 16 383.
    Position(u16),
}

impl System {
    /// The largest song position there is: fourteen bits.
    pub const LAST_POSITION: u16 = 16_383;

    /// Its bytes. A position beyond [`System::LAST_POSITION`] is clamped to it.
    ///
    /// # Real time
    /// Does not allocate or block.
    ///
    /// ```
    /// use fivefold::midi::System;
    /// // 1000 sixteenths: 1000 = 7 x 128 + 104.
    /// assert_eq!(System::Position(1000).bytes().as_slice(), [0xF2, 104, 7]);
    /// assert_eq!(System::Clock.bytes().as_slice(), [0xF8]);
    /// ```
    pub fn bytes(self) -> Bytes {
        let one = |status| Bytes {
            data: [status, 0, 0],
            len: 1,
        };
        match self {
            System::Clock => one(0xF8),
            System::Start => one(0xFA),
            System::Continue => one(0xFB),
            System::Stop => one(0xFC),
            System::Position(at) => {
                let at = at.min(System::LAST_POSITION);
                let [high, low] = (at << 1).to_be_bytes();
                Bytes {
                    data: [0xF2, low >> 1, high],
                    len: 3,
                }
            }
        }
    }

    /// Reads one; `None` for any other message.
    ///
    /// # Real time
    /// Does not allocate or block.
    pub fn read(bytes: &[u8]) -> Option<System> {
        Some(match bytes {
            [0xF8] => System::Clock,
            [0xFA] => System::Start,
            [0xFB] => System::Continue,
            [0xFC] => System::Stop,
            [0xF2, low, high] if low | high < 0x80 => {
                System::Position(u16::from(*high) << 7 | u16::from(*low))
            }
            _ => return None,
        })
    }
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

    #[test]
    fn a_system_message_is_read_as_it_is_written() {
        use System::{Clock, Continue, Position, Start, Stop};
        // The worked example of the MIDI 1.0 texts: ten sixteenths are sixty pulses.
        assert_eq!(Position(10).bytes().as_slice(), [0xF2, 10, 0]);
        assert_eq!(Position(16_383).bytes().as_slice(), [0xF2, 0x7F, 0x7F]);
        for position in 0..=16_383 {
            let message = Position(position);
            assert_eq!(System::read(message.bytes().as_slice()), Some(message));
        }
        for message in [Clock, Start, Continue, Stop] {
            assert_eq!(System::read(message.bytes().as_slice()), Some(message));
        }
        for other in [&[0xF2][..], &[0xF2, 0x80, 0], &[0xFE], &[0x90, 60, 96], &[]] {
            assert_eq!(System::read(other), None);
        }
    }
}
