//! The order of events at one instant.

use super::{Body, Event, Header, Message, PartMessage};

/// Where an event goes among those of its tick: lower first.
///
/// Note-offs, then tempo, meter, key, markers, answers and asks, then controllers and programs, lyrics, and note-ons last, by the rank
/// of their part and from the bass up. Offs before ons keep a repeated note alive (readers of files pair them
/// differently); the ranks keep the click ahead of the chords on a slow cable.
pub fn wire_key(event: &Event, header: &Header) -> (u8, u8, u8, u8) {
    let rank = |part| header.part(part).map_or(u8::MAX, |p| p.rank);
    match &event.body {
        Body::Channel(PartMessage { part, message, .. }) => match message {
            Message::NoteOff { key } => (0, rank(*part), part.0, key.get()),
            Message::Control { controller, .. } => (5, rank(*part), part.0, *controller),
            Message::Program(_) => (6, rank(*part), part.0, 0),
            Message::NoteOn { key, .. } => (8, rank(*part), part.0, key.get()),
        },
        Body::Tempo(_) => (1, 0, 0, 0),
        Body::Meter(_) => (2, 0, 0, 0),
        Body::Key(_) => (3, 0, 0, 0),
        Body::Marker(_) => (4, 0, 0, 0),
        // An answer ends its time before the next ask begins another.
        Body::Answer(_) => (4, 1, 0, 0),
        Body::Ask(_) => (4, 2, 0, 0),
        Body::Lyric { part, .. } => (7, rank(*part), part.0, 0),
    }
}

/// Sorts events by tick and, within a tick, into the order on the wire; equals keep their order.
pub fn sort(events: &mut [Event], header: &Header) {
    events.sort_by_key(|event| (event.tick, wire_key(event, header)));
}
