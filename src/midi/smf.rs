//! Writing Standard MIDI Files, track by track, in flat memory.
//!
//! midly writes a file from tracks that are whole in memory; a day of music would not be. Here a long track goes into a
//! spool on disk, and the spools are joined at the end. Channel messages and running status are midly's; the chunks,
//! deltas and meta events are ours and held to midly's writer by tests.

use std::io::{self, Write};

use midly::live::LiveEvent;

use super::ascii::ascii;
use super::error::SmfError;
#[cfg(feature = "audio")]
use super::file::{replace_file, spool};
use super::wire::live;
use crate::event::{Bar, Body, Event, Message, PartMessage, Source};
use crate::time::{Region, TICKS_PER_QUARTER, Tick};

/// Bytes of a track gathered in memory before they go to its spool on disk; a shorter track never touches it.
const GATHER_BYTES: usize = 48 * 1024;

/// Largest delta: four bytes of seven bits (Standard MIDI Files 1.0, variable-length quantities).
const LONGEST_DELTA: u64 = 0x0FFF_FFFF;

/// How the tracks are laid out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SmfFormat {
    /// One track with everything.
    Single,
    /// A conductor track without notes, then a track for each part.
    #[default]
    Parallel,
}

/// What was written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// Number of tracks in the file.
    pub tracks: usize,
    /// Bars of the piece, without count-in and ending.
    pub bars: u64,
    /// Bars of count-in.
    pub count_in_bars: u64,
    /// Bars of the ending.
    pub ending_bars: u64,
    /// Number of notes in all tracks.
    pub notes: u64,
    /// Where the piece ends.
    pub end: Tick,
    /// Size of the file.
    pub bytes: u64,
}

impl Written {
    fn count(&mut self, bar: &Bar) {
        *match bar.region {
            Region::CountIn { .. } => &mut self.count_in_bars,
            Region::Intro { .. } | Region::Pass { .. } => &mut self.bars,
            Region::Ending { .. } => &mut self.ending_bars,
        } += 1;
    }
}

/// A track on its way into its spool.
struct Track {
    /// Without the feature that writes files the whole track is gathered.
    #[cfg(feature = "audio")]
    spool: Option<std::fs::File>,
    gathered: Vec<u8>,
    bytes: u64,
    last: Tick,
    running: Option<u8>,
}

impl Track {
    fn new() -> Self {
        Track {
            #[cfg(feature = "audio")]
            spool: None,
            gathered: Vec::with_capacity(GATHER_BYTES + 1024),
            bytes: 0,
            last: Tick::ZERO,
            running: None,
        }
    }

    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.bytes += bytes.len() as u64;
        self.gathered.extend_from_slice(bytes);
        #[cfg(feature = "audio")]
        if self.gathered.len() >= GATHER_BYTES {
            self.spill()?;
        }
        Ok(())
    }

    /// Moves what is gathered to the spool.
    #[cfg(feature = "audio")]
    fn spill(&mut self) -> io::Result<()> {
        let spool = match &mut self.spool {
            Some(spool) => spool,
            none => none.insert(spool()?),
        };
        spool.write_all(&self.gathered)?;
        self.gathered.clear();
        Ok(())
    }

    fn delta(&mut self, tick: Tick) -> io::Result<()> {
        let mut ticks = tick.saturating_since(self.last);
        self.last = self.last.max(tick);
        while ticks > LONGEST_DELTA {
            // An empty text event splits a silence that is too long for one delta.
            self.put(&[0xFF, 0xFF, 0xFF, 0x7F, 0xFF, 0x01, 0x00])?;
            self.running = None;
            ticks -= LONGEST_DELTA;
        }
        let mut buffer = [0; 4];
        self.put(vlq(u32::try_from(ticks).unwrap_or(0), &mut buffer))
    }

    fn meta(&mut self, tick: Tick, kind: u8, data: &[u8]) -> io::Result<()> {
        self.delta(tick)?;
        self.running = None;
        self.put(&[0xFF, kind])?;
        let mut buffer = [0; 4];
        let length = u32::try_from(data.len()).unwrap_or(0);
        self.put(vlq(length, &mut buffer))?;
        self.put(data)
    }

    fn channel(&mut self, tick: Tick, event: LiveEvent<'_>) -> io::Result<()> {
        self.delta(tick)?;
        let mut data = [0u8; 3];
        let mut rest: &mut [u8] = &mut data;
        let written = event.write_with_running_status(&mut self.running, &mut rest);
        debug_assert!(written.is_ok(), "a channel message has at most three bytes");
        let len = 3 - rest.len();
        self.put(&data[..len])
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        let tick = event.tick;
        match &event.body {
            Body::Channel(PartMessage {
                channel, message, ..
            }) => self.channel(tick, live(*channel, *message)),
            Body::Tempo(tempo) => self.meta(tick, 0x51, &tempo.us_per_quarter().to_be_bytes()[1..]),
            Body::Meter(meter) => self.meta(tick, 0x58, &meter.smf_bytes()),
            Body::Key(key) => self.meta(
                tick,
                0x59,
                &[key.fifths.to_be_bytes()[0], u8::from(key.minor)],
            ),
            Body::Marker(text) => self.meta(tick, 0x06, ascii(text).as_bytes()),
            Body::Lyric { text, .. } => self.meta(tick, 0x05, ascii(text).as_bytes()),
            // Both are cue points (Standard MIDI Files 1.0, meta event 07).
            Body::Ask(cue) | Body::Answer(cue) => {
                self.meta(tick, 0x07, ascii(&cue.text).as_bytes())
            }
        }
    }

    fn finish(&mut self, end: Tick) -> io::Result<()> {
        self.meta(end, 0x2F, &[])
    }
}

/// A variable-length quantity: seven bits a byte, the high bit on all but the last.
pub(super) fn vlq(value: u32, buffer: &mut [u8; 4]) -> &[u8] {
    let mut rest = value & 0x0FFF_FFFF;
    let mut at = 3;
    buffer[at] = rest.to_be_bytes()[3] & 0x7F;
    rest >>= 7;
    while rest > 0 {
        at -= 1;
        buffer[at] = (rest.to_be_bytes()[3] & 0x7F) | 0x80;
        rest >>= 7;
    }
    &buffer[at..]
}

/// Writes the piece to `out`, from its first bar to its last.
///
/// # Errors
/// When the piece has no end, or `out` refuses.
pub fn write_smf(
    source: &mut dyn Source,
    format: SmfFormat,
    out: &mut dyn Write,
) -> Result<Written, SmfError> {
    if source.end().is_none() {
        return Err(SmfError::Endless);
    }
    let header = source.header().clone();
    let parts = header.parts.len();
    let mut tracks: Vec<Track> = (0..if format == SmfFormat::Single {
        1
    } else {
        parts + 1
    })
        .map(|_| Track::new())
        .collect();
    tracks[0].meta(Tick::ZERO, 0x03, ascii(&header.title).as_bytes())?;
    tracks[0].meta(Tick::ZERO, 0x01, format!("seed {}", header.seed).as_bytes())?;
    if format == SmfFormat::Parallel {
        for (track, part) in tracks[1..].iter_mut().zip(&header.parts) {
            track.meta(Tick::ZERO, 0x03, part.name.as_bytes())?;
        }
    }
    let mut written = Written {
        tracks: tracks.len(),
        ..Written::default()
    };
    let mut events = Vec::new();
    while let Some(bar) = source.next_bar(&mut events) {
        written.count(&bar);
        written.end = source.end_of(&bar);
        for event in events.drain(..) {
            let track = match (&event.body, format) {
                (_, SmfFormat::Single) => 0,
                (Body::Channel(PartMessage { part, .. }) | Body::Lyric { part, .. }, _) => {
                    usize::from(part.0) + 1
                }
                _ => 0,
            };
            if let Body::Channel(PartMessage {
                message: Message::NoteOn { .. },
                ..
            }) = event.body
            {
                written.notes += 1;
            }
            if let Some(track) = tracks.get_mut(track) {
                track.event(&event)?;
            }
        }
    }
    for track in &mut tracks {
        track.finish(written.end)?;
    }
    let division = u16::try_from(TICKS_PER_QUARTER).unwrap_or(0);
    join(tracks, format, division, out, &mut written)?;
    Ok(written)
}

fn join(
    tracks: Vec<Track>,
    format: SmfFormat,
    division: u16,
    out: &mut dyn Write,
    written: &mut Written,
) -> Result<(), SmfError> {
    let number: u16 = match format {
        SmfFormat::Single => 0,
        SmfFormat::Parallel => 1,
    };
    out.write_all(b"MThd")?;
    out.write_all(&6u32.to_be_bytes())?;
    for word in [
        number,
        u16::try_from(tracks.len()).unwrap_or(u16::MAX),
        division,
    ] {
        out.write_all(&word.to_be_bytes())?;
    }
    written.bytes = 14;
    for track in tracks {
        let length = u32::try_from(track.bytes).map_err(|_| SmfError::TrackSize(track.bytes))?;
        out.write_all(b"MTrk")?;
        out.write_all(&length.to_be_bytes())?;
        #[cfg(feature = "audio")]
        if let Some(mut spool) = track.spool {
            io::Seek::rewind(&mut spool)?;
            io::copy(&mut spool, out)?;
        }
        out.write_all(&track.gathered)?;
        written.bytes += 8 + u64::from(length);
    }
    Ok(())
}

/// Writes the piece to a file. The file appears whole or not at all: it is written beside its place and then moved
/// there, so a failure leaves what was there before.
///
/// # Errors
/// As [`write_smf`], naming the path and what was tried.
#[cfg(feature = "audio")]
pub fn write_smf_file(
    source: &mut dyn Source,
    format: SmfFormat,
    path: &std::path::Path,
) -> Result<Written, SmfError> {
    let mut result = None;
    replace_file(path, |file| {
        let written = write_smf(source, format, file);
        let ok = written.is_ok();
        result = Some(written);
        if ok {
            Ok(())
        } else {
            Err(io::Error::other("not written"))
        }
    })
    .or_else(|e| {
        if matches!(result, Some(Err(_))) {
            Ok(())
        } else {
            Err(e)
        }
    })?;
    match result {
        Some(Err(SmfError::Write(source))) => Err(SmfError::Io {
            action: "write",
            path: path.to_owned(),
            source,
        }),
        Some(other) => other,
        None => Err(SmfError::Endless),
    }
}

#[cfg(test)]
mod tests;
