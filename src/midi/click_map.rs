//! The tempi and meters of a MIDI file, as something to click to.

use midly::{EventIter, MetaMessage, TrackEventKind};

use crate::diagnostic::Diagnostic;
use crate::time::{Meter, TICKS_PER_QUARTER, Tempo, Tick};

/// Largest MIDI file that is read, in bytes.
pub const MOST_MAP_BYTES: usize = 16 << 20;
/// Most bars of a map.
const MOST_BARS: usize = 10_000;
/// Most changes of the tempo, and most markers.
const MOST_CHANGES: usize = 100_000;
/// Longest name of a marker, in characters.
const LONGEST_NAME: usize = 60;
/// The tempi that are played, in microseconds a quarter note: 960 to 3.6 a minute.
const TEMPI: std::ops::RangeInclusive<u32> = 62_500..=16_666_666;

/// A bar of a map.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MapBar {
    /// Its meter; that of the part that is there, where another meter begins inside it.
    pub meter: Meter,
    /// The section that a marker at its beginning, or in it, names.
    pub marker: Option<String>,
}

/// The tempi and meters of a MIDI file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClickMap {
    /// The bars, as far as the longest track goes: one at least.
    pub bars: Vec<MapBar>,
    /// The tempi, each with the tick from which it holds, 960 to the quarter, from 0 and rising.
    ///
    /// A tick of the file is a whole number of these where its division divides 960; else each change is moved by half a tick
    /// at most.
    pub tempi: Vec<(Tick, Tempo)>,
    /// What is not as the file has it, a sentence each.
    pub warnings: Vec<String>,
}

/// Why a MIDI file is no map.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MapError {
    /// It is too large.
    #[error("a MIDI file to click to has at most {MOST_MAP_BYTES} bytes, and this has more")]
    Size,
    /// It does not begin as one.
    #[error("it is no MIDI file: it does not begin with a header of 6 bytes or more")]
    Header,
    /// Its tracks are independent of one another.
    #[error("the file is of format {0}, and formats 0 and 1 are read")]
    Format(u16),
    /// Its time is that of film.
    #[error("the file counts frames a second (SMPTE), and has no beats")]
    Frames,
    /// Its division is 0.
    #[error("the file has 0 ticks to the quarter note")]
    Division,
    /// The bytes make no sense from here on.
    #[error("the file is broken at byte {at}: {what}")]
    Broken {
        /// The byte, counted from 1.
        at: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// A tempo that is not played.
    #[error(
        "a tempo is 3.6 to 960 quarter notes a minute, found {found} at bar {bar}, beat {beat}"
    )]
    Tempo {
        /// Quarter notes a minute.
        found: String,
        /// The bar, counted from 1.
        bar: usize,
        /// The beat, counted from 1.
        beat: u32,
    },
    /// A meter that is not played.
    #[error(
        "bar {bar}: the meter is {upper}/{lower}, and the upper number of a meter is 1 to 32, the lower 1 to 32"
    )]
    Meter {
        /// The bar, counted from 1.
        bar: usize,
        /// The upper number.
        upper: u8,
        /// The lower number.
        lower: u64,
    },
    /// It has too many bars.
    #[error("a click has at most {MOST_BARS} bars, and the file has more")]
    Bars,
    /// It has too many changes of tempo or markers.
    #[error(
        "a file to click to has at most {MOST_CHANGES} changes of tempo or markers, and this has more"
    )]
    Changes,
}

impl Diagnostic for MapError {
    fn code(&self) -> &'static str {
        match self {
            MapError::Size | MapError::Bars | MapError::Changes => "map-size",
            MapError::Tempo { .. } => "map-tempo",
            MapError::Meter { .. } => "map-meter",
            MapError::Format(_) | MapError::Frames | MapError::Division => "map-form",
            _ => "map-broken",
        }
    }

    fn help(&self) -> String {
        match self {
            MapError::Format(_) => "export it as format 1".to_owned(),
            MapError::Frames | MapError::Division => {
                "export it with ticks to the quarter note, such as 480".to_owned()
            }
            MapError::Tempo { .. } | MapError::Meter { .. } => {
                "write another there, and export it again".to_owned()
            }
            MapError::Size | MapError::Bars | MapError::Changes => {
                "export a shorter stretch, or the tempo track alone".to_owned()
            }
            _ => "export it again from the program it is from".to_owned(),
        }
    }
}

/// What is kept of the tracks, in ticks of the file.
#[derive(Default)]
struct Kept {
    tempi: Vec<(u64, u32)>,
    meters: Vec<(u64, u8, u8)>,
    markers: Vec<(u64, String)>,
    end: u64,
}

/// Reads the tempi and meters of a MIDI file of format 0 or 1.
///
/// Set Tempo and Time Signature count in any track, as many programs write them; without any it is 120 in 4/4. A meter that
/// begins inside a bar cuts that bar off. The last bar is whole.
///
/// # Errors
/// When it is no such file, with the byte, or with bar and beat.
pub fn read_click_map(bytes: &[u8]) -> Result<ClickMap, MapError> {
    if bytes.len() > MOST_MAP_BYTES {
        return Err(MapError::Size);
    }
    let (division, mut at, count) = header(bytes)?;
    let mut kept = Kept::default();
    let mut tracks = 0;
    while tracks < count {
        let broken = |what| MapError::Broken { at: at + 1, what };
        let head = bytes.get(at..at + 8).ok_or(broken("a track is missing"))?;
        let length = head[4..]
            .iter()
            .fold(0, |sum, byte| sum << 8 | usize::from(*byte));
        let body = bytes.get(at + 8..).and_then(|rest| rest.get(..length));
        let body = body.ok_or(broken("a track is longer than the file"))?;
        // Chunks of other kinds are passed over, as the standard asks.
        if head.starts_with(b"MTrk") {
            track(body, at + 8, &mut kept)?;
            tracks += 1;
        }
        at += 8 + length;
    }
    kept.tempi.sort_by_key(|(tick, _)| *tick);
    kept.meters.sort_by_key(|(tick, ..)| *tick);
    kept.markers.sort_by_key(|(tick, _)| *tick);
    lay_out(kept, division)
}

/// The division, where the tracks begin, and how many there are.
fn header(bytes: &[u8]) -> Result<(u64, usize, usize), MapError> {
    let word = |at: usize| {
        bytes
            .get(at..at + 2)
            .map(|pair| u16::from_be_bytes([pair[0], pair[1]]))
    };
    let length = bytes.get(4..8).filter(|_| bytes.starts_with(b"MThd"));
    let length = length.map(|four| four.iter().fold(0, |sum, b| sum << 8 | usize::from(*b)));
    let length = length
        .filter(|length| *length >= 6)
        .ok_or(MapError::Header)?;
    let (Some(format), Some(tracks), Some(division)) = (word(8), word(10), word(12)) else {
        return Err(MapError::Header);
    };
    if format > 1 {
        return Err(MapError::Format(format));
    }
    match division {
        0 => Err(MapError::Division),
        0x8000.. => Err(MapError::Frames),
        _ => Ok((u64::from(division), 8 + length, usize::from(tracks))),
    }
}

/// Reads a track whose first byte is the byte `from` of the file, counted from 0.
fn track(body: &[u8], from: usize, kept: &mut Kept) -> Result<(), MapError> {
    let mut events = EventIter::new(body);
    let mut tick = 0;
    let mut ended = false;
    loop {
        let at = from + body.len() - events.unread().len();
        let broken = |what| MapError::Broken { at: at + 1, what };
        let Some(event) = events.next() else {
            if !ended {
                return Err(broken("a track stops before its end"));
            }
            kept.end = kept.end.max(tick);
            return Ok(());
        };
        let event = event.map_err(|_| broken("an event makes no sense"))?;
        tick += u64::from(event.delta.as_int());
        match event.kind {
            TrackEventKind::Meta(MetaMessage::Tempo(us)) => {
                if kept.tempi.len() == MOST_CHANGES {
                    return Err(MapError::Changes);
                }
                kept.tempi.push((tick, us.as_int()));
            }
            TrackEventKind::Meta(MetaMessage::TimeSignature(upper, power, ..)) => {
                if kept.meters.len() == MOST_CHANGES {
                    return Err(MapError::Changes);
                }
                kept.meters.push((tick, upper, power));
            }
            TrackEventKind::Meta(MetaMessage::Marker(text)) => {
                if kept.markers.len() == MOST_CHANGES {
                    return Err(MapError::Changes);
                }
                let text = String::from_utf8_lossy(text);
                let words: Vec<&str> = text.split_whitespace().collect();
                let plain = words.join(" ");
                let plain = plain.chars().filter(|c| !c.is_control());
                kept.markers
                    .push((tick, plain.take(LONGEST_NAME).collect()));
            }
            TrackEventKind::Meta(MetaMessage::EndOfTrack) => ended = true,
            _ => {}
        }
    }
}

/// Ticks of a length in ticks of the file, to the nearest.
fn scaled(ticks: u64, division: u64) -> u64 {
    let all = u128::from(ticks) * u128::from(TICKS_PER_QUARTER) + u128::from(division) / 2;
    u64::try_from(all / u128::from(division)).unwrap_or(u64::MAX)
}

/// The meter of so many ticks of the file; `None` where no notes fill them.
fn partial(ticks: u64, division: u64, denominator: u8) -> Option<Meter> {
    let denominators = [denominator, 4, 8, 16, 32];
    denominators.into_iter().find_map(|lower| {
        let count = ticks * u64::from(lower);
        let whole = 4 * division;
        let count = count.is_multiple_of(whole).then_some(count / whole)?;
        Meter::new(u8::try_from(count).ok()?, lower).ok()
    })
}

fn lay_out(kept: Kept, division: u64) -> Result<ClickMap, MapError> {
    let (bars, mut warnings) = bars(&kept, division)?;
    let lines: Vec<u64> = bars.iter().map(|bar| bar.0).collect();
    let place = |tick: u64| {
        lines
            .partition_point(|line| *line <= tick)
            .saturating_sub(1)
    };
    let mut tempi: Vec<(Tick, Tempo)> = Vec::with_capacity(kept.tempi.len() + 1);
    if kept.tempi.first().is_none_or(|(tick, _)| *tick > 0) {
        tempi.push((Tick::ZERO, Tempo::DEFAULT));
    }
    // Bar lines of the file and of the map differ where a tick of the file is no whole number of ours.
    let mut starts = Vec::with_capacity(bars.len());
    let mut start = 0;
    for (_, bar) in &bars {
        starts.push(start);
        start += bar.meter.bar_ticks();
    }
    for (tick, us) in &kept.tempi {
        let at = place(*tick);
        let (line, bar) = &bars[at];
        let within = scaled(tick - line, division);
        let tempo = Tempo::new(u64::from(*us))
            .ok()
            .filter(|_| TEMPI.contains(us));
        let Some(tempo) = tempo else {
            let beats = bar
                .meter
                .beats()
                .take_while(|beat| beat.offset_ticks <= within);
            return Err(MapError::Tempo {
                found: match us {
                    0 => "one without end".to_owned(),
                    _ => format!("{:.1}", 60e6 / f64::from(*us)),
                },
                bar: at + 1,
                beat: u32::try_from(beats.count()).unwrap_or(1),
            });
        };
        let tick = Tick::new(starts[at] + within);
        match tempi.last_mut() {
            Some(last) if last.0 >= tick => last.1 = tempo,
            _ => tempi.push((tick, tempo)),
        }
    }
    let mut bars: Vec<MapBar> = bars.into_iter().map(|bar| bar.1).collect();
    for (tick, text) in sections(kept.markers) {
        let at = place(tick);
        if !text.is_empty() && bars[at].marker.is_none() {
            bars[at].marker = Some(text);
        }
    }
    warnings.truncate(20);
    Ok(ClickMap {
        bars,
        tempi,
        warnings,
    })
}

/// The markers that are sections: those in square brackets where there are some, as in the files that are written here, which
/// mark chords too.
fn sections(markers: Vec<(u64, String)>) -> Vec<(u64, String)> {
    let bare = |text: &str| Some(text.strip_prefix('[')?.strip_suffix(']')?.trim().to_owned());
    let bracketed = markers
        .iter()
        .filter_map(|(tick, text)| Some((*tick, bare(text)?)));
    let bracketed: Vec<(u64, String)> = bracketed.collect();
    if bracketed.is_empty() {
        markers
    } else {
        bracketed
    }
}

/// The bars with the ticks of the file at which they begin, and the warnings about them.
type Bars = (Vec<(u64, MapBar)>, Vec<String>);

fn bars(kept: &Kept, division: u64) -> Result<Bars, MapError> {
    let mut bars: Vec<(u64, MapBar)> = Vec::new();
    let mut warnings = Vec::new();
    let mut meter = Meter::COMMON;
    let mut meters = kept.meters.iter().peekable();
    let mut at = 0;
    while at < kept.end || bars.is_empty() {
        while let Some((_, upper, power)) = meters.next_if(|(tick, ..)| *tick <= at) {
            let lower = 1u64.checked_shl(u32::from(*power)).unwrap_or(u64::MAX);
            let read = u8::try_from(lower)
                .ok()
                .and_then(|lower| Meter::new(*upper, lower).ok());
            meter = read.ok_or(MapError::Meter {
                bar: bars.len() + 1,
                upper: *upper,
                lower,
            })?;
        }
        if bars.len() == MOST_BARS {
            return Err(MapError::Bars);
        }
        // In ticks of the file a bar may be no whole number; then the next change of meter counts from the nearest.
        let length = bar_ticks(&meter, division);
        let mut end = at + length;
        let mut own = meter;
        if let Some((change, ..)) = meters.peek()
            && *change < end
        {
            let number = bars.len() + 1;
            match partial(change - at, division, meter.denominator()) {
                Some(part) => {
                    warnings.push(format!(
                        "bar {number}: another meter begins inside it, so it is a bar of {part}"
                    ));
                    (own, end) = (part, *change);
                }
                None => warnings.push(format!(
                    "bar {number}: another meter begins inside it, between notes; it begins with the next bar instead"
                )),
            }
        }
        bars.push((
            at,
            MapBar {
                meter: own,
                marker: None,
            },
        ));
        at = end;
    }
    Ok((bars, warnings))
}

/// The ticks of a bar in ticks of the file, to the nearest, one at least.
fn bar_ticks(meter: &Meter, division: u64) -> u64 {
    let ticks = meter.bar_ticks() * division;
    ((ticks + TICKS_PER_QUARTER / 2) / TICKS_PER_QUARTER).max(1)
}

#[cfg(test)]
mod tests;
