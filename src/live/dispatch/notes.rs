//! The sounding notes, tracked so that none hangs: what ends, transposes and restrikes them.

use crate::event::{Channel, KeyNumber, Message, PartId, PartMessage, Velocity};
use crate::time::Nanos;

/// A note that sounds, or was held when a pause came.
#[derive(Clone, Copy, Debug)]
struct Note {
    count: u8,
    /// The key that was sent, which a transposition may have moved.
    sent: u8,
    velocity: u8,
    part: u8,
    /// Whether it is to be struck again when it goes on.
    again: bool,
}

const NO_NOTE: Note = Note {
    count: 0,
    sent: 0,
    velocity: 0,
    part: 0,
    again: false,
};

/// What is being done to notes, one at each step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sweep {
    /// End all that sounds, to be struck again later.
    Hold,
    /// End all that sounds.
    End,
    /// End what sounds of a part.
    EndPart(PartId),
    /// Strike again what was held.
    Strike,
}

/// A sweep that is being done.
#[derive(Clone, Copy, Debug)]
struct Sweeping {
    sweep: Sweep,
    /// When what it ends or strikes is due.
    at: Nanos,
    /// The place in the table with which it goes on.
    from: usize,
}

/// A table of what sounds, by channel and written key.
#[derive(Debug)]
pub(super) struct Notes {
    table: Box<[[Note; 128]; 16]>,
    muted: [bool; 256],
    /// Transposition in semitones: the one in force, and the one from the next chord on.
    shift: i8,
    wanted_shift: i8,
    sweeping: Option<Sweeping>,
}

impl Notes {
    pub(super) fn new() -> Self {
        Notes {
            table: Box::new([[NO_NOTE; 128]; 16]),
            muted: [false; 256],
            shift: 0,
            wanted_shift: 0,
            sweeping: None,
        }
    }

    /// Moves everything pitched by so many semitones, from the next chord on.
    pub(super) fn transpose(&mut self, semitones: i8) {
        self.wanted_shift = semitones;
    }

    /// A chord begins.
    pub(super) fn chord(&mut self) {
        self.shift = self.wanted_shift;
    }

    /// The transposition in force, in semitones.
    pub(super) const fn shift(&self) -> i8 {
        self.shift
    }

    /// Mutes a part; what sounds of it ends at `at`.
    pub(super) fn mute(&mut self, part: PartId, at: Nanos) {
        self.muted[usize::from(part.0)] = true;
        self.begin(Sweep::EndPart(part), at);
    }

    /// Lets a part be heard again with its next note.
    pub(super) fn unmute(&mut self, part: PartId) {
        self.muted[usize::from(part.0)] = false;
    }

    /// Begins a sweep, whose messages are due at `at`.
    pub(super) fn begin(&mut self, sweep: Sweep, at: Nanos) {
        // An unfinished sweep may have ended more, or less, than this one; ending all that sounds is safe.
        let sweep = match self.sweeping.map(|before| before.sweep) {
            Some(Sweep::End | Sweep::Hold) if sweep != Sweep::Strike => Sweep::End,
            _ => sweep,
        };
        self.sweeping = Some(Sweeping { sweep, at, from: 0 });
    }

    /// When what is swept is due, while a sweep is to be done.
    pub(super) fn sweep_at(&self) -> Option<Nanos> {
        self.sweeping.map(|sweeping| sweeping.at)
    }

    /// What becomes of a message: muted, transposed, or unchanged.
    pub(super) fn message(&mut self, written: PartMessage) -> Option<PartMessage> {
        let message = self.sent(written)?;
        Some(PartMessage { message, ..written })
    }

    fn sent(&mut self, written: PartMessage) -> Option<Message> {
        let PartMessage {
            part,
            channel,
            message,
        } = written;
        let notes = &mut self.table[usize::from(channel.nibble())];
        match message {
            Message::NoteOn { key, velocity } => {
                if self.muted[usize::from(part.0)] {
                    return None;
                }
                let note = &mut notes[usize::from(key.get())];
                let key = if channel == Channel::PERCUSSION {
                    key
                } else {
                    KeyNumber::clamped(i32::from(key.get()) + i32::from(self.shift))
                };
                *note = Note {
                    count: note.count.saturating_add(1),
                    sent: key.get(),
                    velocity: velocity.get(),
                    part: part.0,
                    again: false,
                };
                Some(Message::NoteOn { key, velocity })
            }
            Message::NoteOff { key } => {
                let note = &mut notes[usize::from(key.get())];
                note.again = false;
                if note.count == 0 {
                    // It ended before: by a pause, a jump, or because its part was silenced.
                    return None;
                }
                note.count -= 1;
                Some(Message::NoteOff {
                    key: KeyNumber::clamped(i32::from(note.sent)),
                })
            }
            other => Some(other),
        }
    }

    /// A note that began before what is played: it is struck when [`Sweep::Strike`] comes, unless it ends before.
    pub(super) fn hold(&mut self, written: PartMessage) {
        let PartMessage {
            part,
            channel,
            message,
        } = written;
        let notes = &mut self.table[usize::from(channel.nibble())];
        match message {
            Message::NoteOn { key, velocity } if channel != Channel::PERCUSSION => {
                let sent = KeyNumber::clamped(i32::from(key.get()) + i32::from(self.shift));
                notes[usize::from(key.get())] = Note {
                    count: 0,
                    sent: sent.get(),
                    velocity: velocity.get(),
                    part: part.0,
                    again: true,
                };
            }
            Message::NoteOff { key } => notes[usize::from(key.get())].again = false,
            _ => {}
        }
    }

    /// The next note that the sweep ends or strikes; `None` when it is done.
    pub(super) fn swept(&mut self) -> Option<PartMessage> {
        let sweeping = self.sweeping?;
        let sweep = sweeping.sweep;
        for at in sweeping.from..16 * 128 {
            let (nibble, key) = (at / 128, at % 128);
            let Ok(channel) = Channel::new(u8::try_from(nibble + 1).unwrap_or(1)) else {
                continue;
            };
            let note = &mut self.table[nibble][key];
            let message = match sweep {
                Sweep::Strike if note.again => {
                    note.again = false;
                    if self.muted[usize::from(note.part)] {
                        continue;
                    }
                    note.count = 1;
                    Message::NoteOn {
                        key: KeyNumber::clamped(i32::from(note.sent)),
                        velocity: Velocity::clamped(i32::from(note.velocity)),
                    }
                }
                Sweep::Strike => continue,
                Sweep::EndPart(part) if part.0 != note.part => continue,
                _ if note.count == 0 => {
                    // What was held is forgotten where all ends.
                    note.again &= sweep != Sweep::End;
                    continue;
                }
                _ => {
                    note.count -= 1;
                    // What rings out by itself is not restruck.
                    note.again = sweep == Sweep::Hold && channel != Channel::PERCUSSION;
                    Message::NoteOff {
                        key: KeyNumber::clamped(i32::from(note.sent)),
                    }
                }
            };
            let part = PartId(note.part);
            let more = note.count > 0 && !matches!(message, Message::NoteOn { .. });
            self.sweeping = Some(Sweeping {
                from: if more { at } else { at + 1 },
                ..sweeping
            });
            return Some(PartMessage {
                part,
                channel,
                message,
            });
        }
        self.sweeping = None;
        None
    }
}
