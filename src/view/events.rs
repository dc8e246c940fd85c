//! The event stream, one JSON object a line.

use std::io::{self, Write};

use serde::Serialize;

use super::shown::{Manner, Shown};
use crate::event::{Body, Cue, Event, Header, Message, PartMessage, Source, Stopwatch};
use crate::time::{TICKS_PER_QUARTER, Tick};

/// Why the lines could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EventLinesError {
    /// The piece has no end.
    #[error("an endless piece cannot be written to a file")]
    Endless,
    /// The system reported an error.
    #[error("cannot write: {0}")]
    Write(#[from] io::Error),
}

/// Version of the fields below; a field that changes its meaning raises it.
const VERSION: u32 = 1;

#[derive(Serialize)]
struct HeaderLine<'a> {
    kind: &'static str,
    version: u32,
    ticks_per_quarter: u64,
    seed: u64,
    title: &'a str,
    parts: Vec<PartLine>,
}

#[derive(Serialize)]
struct PartLine {
    part: &'static str,
    channel: u8,
    program: Option<u8>,
}

#[derive(Serialize)]
struct Line<'a> {
    tick: u64,
    time_ns: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    part: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    channel: Option<u8>,
    #[serde(flatten)]
    what: What<'a>,
}

#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum What<'a> {
    NoteOn { key: u8, velocity: u8 },
    NoteOff { key: u8, velocity: u8 },
    Program { program: u8 },
    Control { controller: u8, value: u8 },
    Tempo { us_per_quarter: u32 },
    Meter { meter: String },
    Key { fifths: i8, minor: bool },
    Marker { text: &'a str },
    Lyric { text: &'a str },
    Ask { id: u32, text: &'a str },
    Answer { id: u32, text: &'a str },
    End,
}

/// Writes the piece as lines of JSON: a header, every event in the order on the wire, an end.
///
/// Channels count from 1, programs from 1 as they are printed; times are nanoseconds from the start of the count-in.
///
/// # Errors
/// When the piece has no end or `out` refuses.
pub fn write_event_lines(
    source: &mut dyn Source,
    out: &mut dyn Write,
) -> Result<(), EventLinesError> {
    if source.end().is_none() {
        return Err(EventLinesError::Endless);
    }
    let header = source.header().clone();
    let parts = header
        .parts
        .iter()
        .map(|p| PartLine {
            part: p.name,
            channel: p.channel.number(),
            program: p.program.map(|p| p + 1),
        })
        .collect();
    let line = HeaderLine {
        kind: "header",
        version: VERSION,
        ticks_per_quarter: TICKS_PER_QUARTER,
        seed: header.seed,
        title: &header.title,
        parts,
    };
    put(out, &line)?;
    let mut watch = Stopwatch::default();
    let mut events = Vec::new();
    let mut end = Tick::ZERO;
    while let Some(bar) = source.next_bar(&mut events) {
        end = source.end_of(&bar);
        for event in events.drain(..) {
            let time_ns = watch.read(&event).get();
            put(out, &event_line(&event, time_ns, &header))?;
        }
    }
    let time_ns = watch.at(end).get();
    put(
        out,
        &Line {
            tick: end.get(),
            time_ns,
            part: None,
            channel: None,
            what: What::End,
        },
    )?;
    Ok(())
}

fn event_line<'a>(event: &'a Event, time_ns: u64, header: &Header) -> Line<'a> {
    let name = |part| header.part(part).map(|p| p.name);
    let (part, channel, what) = match &event.body {
        Body::Channel(PartMessage {
            part,
            channel,
            message,
        }) => {
            let what = match *message {
                Message::NoteOn { key, velocity } => What::NoteOn {
                    key: key.get(),
                    velocity: velocity.get(),
                },
                Message::NoteOff { key } => What::NoteOff {
                    key: key.get(),
                    velocity: crate::midi::RELEASE,
                },
                Message::Program(program) => What::Program {
                    program: program + 1,
                },
                Message::Control { controller, value } => What::Control { controller, value },
            };
            (name(*part), Some(channel.number()), what)
        }
        Body::Tempo(tempo) => (
            None,
            None,
            What::Tempo {
                us_per_quarter: tempo.us_per_quarter(),
            },
        ),
        Body::Meter(meter) => (
            None,
            None,
            What::Meter {
                meter: meter.to_string(),
            },
        ),
        Body::Key(key) => (
            None,
            None,
            What::Key {
                fifths: key.fifths,
                minor: key.minor,
            },
        ),
        Body::Marker(text) => (None, None, What::Marker { text }),
        Body::Lyric { part, text } => (name(*part), None, What::Lyric { text }),
        Body::Ask(Cue { id, text }) => (None, None, What::Ask { id: *id, text }),
        Body::Answer(Cue { id, text }) => (None, None, What::Answer { id: *id, text }),
    };
    Line {
        tick: event.tick.get(),
        time_ns,
        part,
        channel,
        what,
    }
}

fn put(out: &mut dyn Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(Shown::new(&mut *out, Manner::Json), line)?;
    out.write_all(b"\n")
}
