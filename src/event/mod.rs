//! What passes from the arrangement to a sink: timed events, one bar at a time.
//!
//! A sink (a MIDI file, a port, the list of events) knows nothing of chords or charts: it reads a [`Header`], then
//! pulls bars of [`Event`]s from a [`Source`] in the order in which they go over the wire.

mod order;
mod source;
mod value;

pub use order::{sort, wire_key};
pub use source::{Bar, Landmarks, Source, Stopwatch};
pub use value::{Channel, KeyNumber, RangeError, Velocity};

use std::sync::Arc;

use crate::time::{Meter, Tempo, Tick};

/// Which part an event belongs to: its place in [`Header::parts`]. Sinks give it no meaning beyond that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId(pub u8);

/// What a sink must know about a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartInfo {
    /// Its name, such as `click`.
    pub name: &'static str,
    /// The MIDI channel it plays on.
    pub channel: Channel,
    /// General MIDI program, counted from 0 as it is sent; `None` on the percussion channel.
    pub program: Option<u8>,
    /// Place among note-ons of one instant: lower goes first, so that on a slow cable the click is never behind a
    /// chord.
    pub rank: u8,
    /// Whether this is the pulse that players follow: sinks with a choice of sounds give it the one with the exact
    /// onset.
    pub pulse: bool,
    /// Channel volume, 0 to 127.
    pub level: u8,
    /// Place between left (-100) and right (100).
    pub pan: i8,
}

/// The title of a piece, its seed and its parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Header {
    /// The title as written; may hold any character.
    pub title: String,
    /// The seed of every random choice in the piece.
    pub seed: u64,
    /// The parts, in the order of their [`PartId`]s.
    pub parts: Vec<PartInfo>,
}

impl Header {
    /// The part of this id.
    pub fn part(&self, id: PartId) -> Option<&PartInfo> {
        self.parts.get(usize::from(id.0))
    }
}

/// A message on a MIDI channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Message {
    /// A key goes up.
    NoteOff {
        /// The key that goes up.
        key: KeyNumber,
    },
    /// A key goes down.
    NoteOn {
        /// The key that goes down.
        key: KeyNumber,
        /// How hard, 1 to 127.
        velocity: Velocity,
    },
    /// The program changes; counted from 0, 0 to 127.
    Program(u8),
    /// A controller moves.
    Control {
        /// Controller number, 0 to 127.
        controller: u8,
        /// Its value, 0 to 127.
        value: u8,
    },
}

/// A message of a part on its channel, from the arrangement to the wire and to the voices.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PartMessage {
    /// Which part plays.
    pub part: PartId,
    /// On which channel.
    pub channel: Channel,
    /// What the channel is told.
    pub message: Message,
}

/// A key signature as a MIDI file holds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Signature {
    /// Sharps, or flats where negative: -7 to 7.
    pub fifths: i8,
    /// Whether the key is minor.
    pub minor: bool,
}

/// What an event is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Body {
    /// A message of a part on its channel.
    Channel(PartMessage),
    /// The tempo from here on.
    Tempo(Tempo),
    /// The meter from here on.
    Meter(Meter),
    /// The key from here on.
    Key(Signature),
    /// A section or a chord.
    Marker(Arc<str>),
    /// A syllable that belongs to a part.
    Lyric {
        /// The part it is sung or played to.
        part: PartId,
        /// The text of one syllable.
        text: Arc<str>,
    },
    /// Something is asked of the player.
    Ask(Cue),
    /// The answer to what was asked is given away: the time to answer is over.
    Answer(Cue),
}

/// An ask of a piece, or its answer, as a sink sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cue {
    /// Which of the asks of the piece, from 1.
    pub id: u32,
    /// What is asked, or what the answer is.
    pub text: Arc<str>,
}

/// Something that happens at a tick.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// When, in ticks from the start of the count-in.
    pub tick: Tick,
    /// What happens at that tick.
    pub body: Body,
}

impl Event {
    /// A channel message of a part.
    pub const fn of_part(tick: Tick, part: PartId, channel: Channel, message: Message) -> Self {
        Event {
            tick,
            body: Body::Channel(PartMessage {
                part,
                channel,
                message,
            }),
        }
    }
}
