//! What goes into a dispatcher and what comes out of it.

use crate::event::{Message, PartId, PartMessage};
use crate::midi::System;
use crate::time::{Tempo, Tick};

/// Something in a bar, in the order of ticks.
///
/// Song ticks are counted from bar 1, as a follower of the MIDI clock counts them; in the count-in there are none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// A run of bars begins: `tick` is played at once, or at the bar line where the run before was left.
    Origin {
        /// The tick of the first bar that follows.
        tick: Tick,
        /// Its song ticks.
        song: Option<u64>,
    },
    /// The tempo from here on, as the plan has it.
    Tempo {
        /// The tick of the piece from which it holds.
        tick: Tick,
        /// The tempo that holds from there.
        tempo: Tempo,
    },
    /// A bar line.
    Bar {
        /// The tick at which the bar begins.
        tick: Tick,
        /// The bar line at which the bar ends.
        end: Tick,
        /// The song ticks of the bar.
        song: Option<u64>,
        /// The song ticks of what follows, where that is not simply the next bar: after a turn, or after the count-in.
        then: Option<u64>,
    },
    /// A chord begins: the place where a transposition takes effect.
    Chord {
        /// The tick at which the chord begins.
        tick: Tick,
    },
    /// A message of a part.
    Message {
        /// The tick at which the message is due.
        tick: Tick,
        /// The message as written, before transposition and muting.
        message: PartMessage,
    },
    /// A bar line after which the next run follows, whatever its ticks.
    Turn {
        /// The tick of that bar line.
        tick: Tick,
    },
    /// The end of the piece.
    End {
        /// The tick at which it ends.
        tick: Tick,
    },
}

impl Entry {
    pub(super) fn tick(&self) -> Tick {
        match self {
            Entry::Origin { tick, .. }
            | Entry::Tempo { tick, .. }
            | Entry::Bar { tick, .. }
            | Entry::Chord { tick }
            | Entry::Message { tick, .. }
            | Entry::Turn { tick }
            | Entry::End { tick } => *tick,
        }
    }

    /// Whether it is needed even where its run was left: what sets up a channel is sent once only.
    pub(super) fn sets_up(&self) -> bool {
        matches!(
            self,
            Entry::Message {
                message: PartMessage {
                    message: Message::Program(_) | Message::Control { .. },
                    ..
                },
                ..
            }
        )
    }
}

/// An entry, and the run of bars it belongs to: each jump begins a new one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Item {
    /// The run, counted from 0.
    pub run: u32,
    /// What is due in that run.
    pub entry: Entry,
}

/// What a listener wishes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// Pause; sounding notes end.
    Pause,
    /// Go on where it was paused; what was held is struck again.
    Resume,
    /// Play the plan at this many millionths of its tempo, 100 000 to 10 000 000.
    Tempo(u32),
    /// Play at this tempo whatever the plan says, as another device leads; until the next of the two.
    Follow(Tempo),
    /// Transpose everything pitched by so many semitones (0 as written), from the next chord on.
    Transpose(i8),
    /// Mute a part; its sounding notes end.
    Mute(PartId),
    /// Let a part be heard again, with its next note.
    Unmute(PartId),
    /// At the next bar line leave for a run, whose entries come through the queue.
    Leave {
        /// The run to leave for, counted from 0.
        run: u32,
        /// The song ticks of its first bar.
        song: u64,
    },
    /// Begin a run now, wherever it was, and even if it was paused. Its entries come through the queue.
    Begin {
        /// The run to begin, counted from 0.
        run: u32,
        /// The song ticks of its first bar; a run may begin with a count-in.
        song: Option<u64>,
        /// So many ticks of its first bar are passed over; what is held then is struck.
        skip: u64,
    },
}

/// A message on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outgoing {
    /// Of a part.
    Part(PartMessage),
    /// Of the MIDI clock.
    System(System),
}
