//! The arrangement: all parts merged, a bar at a time.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use super::bass::bass_beats;
use super::chance::Chance;
use super::click::click;
use super::drone::drone;
use super::journey::{Excerpt, ExcerptError, Journey};
use super::kit::kit;
use super::run::{Run, plan};
use super::voicing::{Ends, Register};
use super::{Note, shortened};
use crate::chart::{Form, FormBar, Parts, Piece, Times};
use crate::event::{
    Bar, Body, Channel, Event, Header, KeyNumber, Message, PartId, PartInfo, Signature, Source,
    Velocity, sort,
};
use crate::theory::{Harmony, PitchName};
use crate::time::{BarSpan, Feel, Meter, Pairs, Region, Tempo, TempoMap, Tick};

/// Channel volume and pan, of the MIDI 1.0 control change table.
const VOLUME: u8 = 7;
const PAN: u8 = 10;

/// A level at which percussion plays as loud as it is written; it shares a channel, so its level works on the
/// strokes.
const FULL_LEVEL: i32 = 100;

/// A note-off that is still to come: tick, part, channel, key.
type Open = Reverse<(Tick, PartId, Channel, KeyNumber)>;

/// A piece arranged for its parts.
///
/// It takes the memory of one pass of the form, however long the piece is.
pub struct Arrangement {
    header: Header,
    form: Arc<Form>,
    journey: Journey,
    settings: Parts,
    feel: Feel,
    tonic: Option<PitchName>,
    signature: Option<Signature>,
    intro: Run,
    pass: Run,
    ending: Run,
    drone: Vec<i32>,
    muted: Vec<bool>,
    semitones: i32,
    tempo_percent: u32,
    cursor: Cursor,
}

/// Where the arrangement is, and what is still to come from before.
struct Cursor {
    next: Option<i64>,
    /// The next bar is the first, or the first after a jump: what goes on is struck anew.
    fresh: bool,
    open: BinaryHeap<Open>,
    tempo: TempoTrack,
    meter: Option<Meter>,
    chord: Option<Harmony>,
    set_up: bool,
}

/// The tempo pairs, read along.
struct TempoTrack {
    pairs: std::iter::Peekable<Pairs>,
    /// In force by the map, and as last sent.
    now: Tempo,
    sent: Option<Tempo>,
}

impl TempoTrack {
    fn new(map: &Arc<TempoMap>) -> Self {
        TempoTrack {
            pairs: map.pairs().peekable(),
            now: Tempo::DEFAULT,
            sent: None,
        }
    }

    /// The changes of `start..end` in ticks of the whole piece, and the tempo in force at `start`.
    fn bar(&mut self, start: Tick, end: Tick) -> Vec<(Tick, Tempo)> {
        while let Some((_, tempo)) = self.pairs.next_if(|(tick, _)| *tick <= start) {
            self.now = tempo;
        }
        let mut found = vec![(start, self.now)];
        while let Some((tick, tempo)) = self.pairs.next_if(|(tick, _)| *tick < end) {
            self.now = tempo;
            found.push((tick, tempo));
        }
        found
    }
}

/// One of the parts that plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Playing {
    id: PartId,
    name: &'static str,
    channel: Channel,
    level: u8,
}

impl Arrangement {
    /// Arranges `form`, the unfolded chart of `piece`.
    ///
    /// # Errors
    /// When the piece has not the bars the excerpt asks for.
    pub fn new(piece: &Piece, form: Form, excerpt: Excerpt) -> Result<Self, ExcerptError> {
        let grid = Arc::new(piece.grid(&form));
        let map = Arc::new(TempoMap::new(&piece.tempo, piece.plan, &grid));
        let journey = Journey::new(grid, map, excerpt)?;
        let key = piece.sounding_key();
        let tonic = key.map(|k| k.tonic()).or_else(|| first_root(&form));
        let signature = key.map(|key| {
            let (fifths, minor) = key.signature();
            Signature { fifths, minor }
        });
        let settings = piece.parts.clone();
        let pads = &settings.pads;
        let voices = usize::try_from(pads.voices).unwrap_or(4);
        let register = Register {
            low: pads.low,
            high: pads.high,
            voices,
        };
        let repeats = piece.times != Times::Count(1);
        let run =
            |bars: &[FormBar], ends: &Ends, bass| plan(bars, &register, pads.strike, ends, bass);
        let open = |before, after| Ends::Open { before, after };
        // The pass first: it is heard most. Intro and ending lead to it and away from it.
        let around = if repeats {
            Ends::Loop
        } else {
            open(None, None)
        };
        let pass = run(&form.pass, &around, None);
        let intro = run(&form.intro, &open(None, pass.first().cloned()), None);
        let ending = run(
            &form.ending,
            &open(pass.last().cloned(), None),
            pass.last_bass(),
        );
        let parts: Vec<PartInfo> = Parts::NAMES
            .iter()
            .filter_map(|name| settings.common(name).filter(|c| c.on).map(|c| (*name, c)))
            .map(|(name, c)| PartInfo {
                name,
                channel: c.channel,
                program: c.program,
                rank: rank(name),
                level: c.level,
                pan: c.pan,
            })
            .collect();
        let drone = tonic
            .map(|tonic| drone(&settings.drone, tonic))
            .unwrap_or_default();
        let cursor = Cursor::new(&journey, journey.begin());
        Ok(Arrangement {
            muted: vec![false; parts.len()],
            header: Header {
                title: piece.title.clone(),
                seed: piece.seed,
                parts,
            },
            form: Arc::new(form),
            settings,
            feel: piece.feel,
            tonic,
            signature,
            intro,
            pass,
            ending,
            drone,
            semitones: 0,
            tempo_percent: 100,
            cursor,
            journey,
        })
    }

    /// The bars that are played, with their ticks.
    pub fn journey(&self) -> &Journey {
        &self.journey
    }

    /// The chart in playing order.
    pub fn form(&self) -> &Form {
        &self.form
    }

    /// The note the drone is built on: the tonic, or the first root of a chart without a key.
    pub fn tonic(&self) -> Option<PitchName> {
        self.tonic
    }

    /// The bar of the chart that is played there, its plan and its place in it.
    fn chart_bar(&self, region: Region) -> Option<(&FormBar, &Run, usize)> {
        let (bars, run, bar) = match region {
            Region::CountIn { .. } => return None,
            Region::Intro { bar } => (&self.form.intro, &self.intro, bar),
            Region::Pass { bar, .. } => (&self.form.pass, &self.pass, bar),
            Region::Ending { bar } => (&self.form.ending, &self.ending, bar),
        };
        let at = usize::try_from(bar).ok()?;
        Some((bars.get(at)?, run, at))
    }

    fn playing(&self, name: &str) -> Option<Playing> {
        let at = self.header.parts.iter().position(|p| p.name == name)?;
        let info = &self.header.parts[at];
        let id = PartId(u8::try_from(at).ok()?);
        Some(Playing {
            id,
            name: info.name,
            channel: info.channel,
            level: info.level,
        })
    }

    /// What each part plays in a bar: a pure function of the bar, and of whether it is begun from nothing.
    fn notes(&self, bar: &BarSpan, fresh: bool) -> Vec<(Playing, Vec<Note>)> {
        let (pass, index) = match bar.region {
            Region::Pass { pass, bar } => (pass, bar),
            Region::CountIn { bar } | Region::Intro { bar } | Region::Ending { bar } => {
                (u64::MAX, bar)
            }
        };
        let chance = |part: &str| Chance::new(self.header.seed, "velocity", part, pass, index);
        let chart = self.chart_bar(bar.region);
        let mut found = Vec::with_capacity(self.header.parts.len());
        for name in Parts::NAMES {
            let Some(part) = self.playing(name) else {
                continue;
            };
            let notes = match (name, chart) {
                // A stroke of no level would still be a soft one.
                _ if part.level == 0 && part.channel == Channel::PERCUSSION => Vec::new(),
                ("click", _) => click(&self.settings.click, bar),
                ("pads", Some((_, run, at))) => self.pads(run, at, fresh, chance(name)),
                ("bass", Some((chart, run, at))) => self.bass(chart, run, at, chance(name)),
                ("kit", Some(_)) => kit(&bar.meter, chance(name)),
                ("drone", Some((_, _, at))) if fresh || at == 0 => self.drone_notes(bar),
                _ => Vec::new(),
            };
            found.push((part, notes));
        }
        found
    }

    fn pads(&self, run: &Run, at: usize, fresh: bool, mut chance: Chance) -> Vec<Note> {
        let mut notes = Vec::new();
        for (i, strike) in run.strikes[at].iter().enumerate() {
            let touch = 72 + chance.around(3);
            if strike.goes_on && !(fresh && i == 0) {
                continue;
            }
            for key in &run.voicings[strike.voicing] {
                notes.push(Note {
                    offset_ticks: strike.offset_ticks,
                    length_ticks: shortened(strike.length_ticks),
                    key: KeyNumber::clamped(i32::from(*key) + self.semitones),
                    velocity: Velocity::clamped(touch),
                });
            }
        }
        notes
    }

    fn bass(&self, chart: &FormBar, run: &Run, at: usize, mut chance: Chance) -> Vec<Note> {
        let mut notes = Vec::new();
        for (i, chord) in chart.chords.iter().enumerate() {
            let Some(keys) = run.bass[at].get(i).copied().flatten() else {
                continue;
            };
            let end_beat = chart
                .chords
                .get(i + 1)
                .map_or(chart.meter.beat_count(), |next| next.beat);
            for (offset_ticks, length_ticks, other) in
                bass_beats(self.settings.bass.line, &chart.meter, chord.beat, end_beat)
            {
                let key = if other { keys.other } else { keys.root };
                notes.push(Note {
                    offset_ticks,
                    length_ticks: shortened(length_ticks),
                    key: KeyNumber::clamped(key + self.semitones),
                    velocity: Velocity::clamped(if other { 80 } else { 88 } + chance.around(4)),
                });
            }
        }
        notes
    }

    /// The drone from here to the end of the run.
    fn drone_notes(&self, bar: &BarSpan) -> Vec<Note> {
        let grid = self.journey.grid();
        let run_end = match bar.region {
            Region::CountIn { .. } => return Vec::new(),
            Region::Intro { .. } => self.journey.tick_of(grid.first_pass()),
            Region::Pass { pass, .. } => self
                .journey
                .tick_of(grid.first_pass() + (pass + 1) * grid.pass_ticks()),
            Region::Ending { .. } => self.journey.end().unwrap_or(bar.end()),
        };
        let length_ticks = run_end.saturating_since(bar.start).max(1);
        self.drone
            .iter()
            .map(|key| Note {
                offset_ticks: 0,
                length_ticks,
                key: KeyNumber::clamped(key + self.semitones),
                velocity: Velocity::clamped(64),
            })
            .collect()
    }

    /// The two events of a note.
    fn place(&self, part: &Playing, bar: &BarSpan, note: &Note) -> (Event, Tick) {
        let start = bar.start + self.feel.played(note.offset_ticks);
        let mut end = bar.start + self.feel.played(note.offset_ticks + note.length_ticks);
        if let Some(last) = self.journey.end() {
            end = end.min(last);
        }
        let end = end.max(start + 1);
        let velocity = if part.channel == Channel::PERCUSSION {
            let level = i32::from(part.level);
            Velocity::clamped(i32::from(note.velocity.get()) * level / FULL_LEVEL)
        } else {
            note.velocity
        };
        let message = Message::NoteOn {
            key: note.key,
            velocity,
        };
        (Event::of_part(start, part.id, part.channel, message), end)
    }

    /// Programs, volumes and places of all parts, once.
    fn set_up(&self, tick: Tick, events: &mut Vec<Event>) {
        for (id, part) in (0u8..).map(PartId).zip(&self.header.parts) {
            let mut say = |message| events.push(Event::of_part(tick, id, part.channel, message));
            let Some(program) = part.program else {
                // Percussion shares its channel: only a place that was asked for is sent.
                if part.pan != 0 {
                    say(Message::Control {
                        controller: PAN,
                        value: pan(part.pan),
                    });
                }
                continue;
            };
            say(Message::Control {
                controller: VOLUME,
                value: part.level,
            });
            say(Message::Control {
                controller: PAN,
                value: pan(part.pan),
            });
            say(Message::Program(program));
        }
    }

    fn marks(&mut self, bar: &BarSpan, events: &mut Vec<Event>) {
        let mark = |tick, text: String| Event {
            tick,
            body: Body::Marker(text.into()),
        };
        let Some((chart, _, _)) = self.chart_bar(bar.region) else {
            if self.cursor.fresh {
                events.push(mark(bar.start, "[count-in]".to_owned()));
            }
            return;
        };
        let mut chord = self.cursor.chord;
        if chart.opens_section || self.cursor.fresh {
            events.push(mark(bar.start, format!("[{}]", chart.section)));
            chord = None;
        }
        for placed in &chart.chords {
            if chord != Some(placed.harmony) {
                let symbol = match &placed.harmony {
                    Harmony::Chord(c) if self.semitones != 0 => moved(c, self.semitones),
                    other => other.to_string(),
                };
                events.push(mark(bar.start + placed.offset_ticks, symbol));
                chord = Some(placed.harmony);
            }
        }
        self.cursor.chord = chord;
    }

    fn tempo(&mut self, bar: &BarSpan, events: &mut Vec<Event>) {
        let Some(grid_bar) = self
            .journey
            .grid()
            .bar(bar.number.max(self.journey.first_bar()))
        else {
            return;
        };
        let changes = if bar.number <= 0 {
            // The count-in keeps the tempo of the bar it leads to.
            self.cursor.tempo.bar(grid_bar.start, grid_bar.start)
        } else {
            self.cursor.tempo.bar(grid_bar.start, grid_bar.end())
        };
        for (tick, tempo) in changes {
            let us =
                f64::from(tempo.us_per_quarter()) * 100.0 / f64::from(self.tempo_percent.max(1));
            let tempo = if self.tempo_percent == 100 {
                tempo
            } else {
                Tempo::clamped(us)
            };
            if self.cursor.tempo.sent.replace(tempo) != Some(tempo) {
                let tick = bar.start + tick.saturating_since(grid_bar.start);
                events.push(Event {
                    tick,
                    body: Body::Tempo(tempo),
                });
            }
        }
    }

    /// Adds the note-offs that fall before `until`.
    fn close(&mut self, until: Tick, events: &mut Vec<Event>) {
        while let Some(Reverse((tick, part, channel, key))) = self.cursor.open.peek().copied() {
            if tick >= until {
                break;
            }
            self.cursor.open.pop();
            events.push(Event::of_part(
                tick,
                part,
                channel,
                Message::NoteOff { key },
            ));
        }
    }
}

impl Cursor {
    fn new(journey: &Journey, next: i64) -> Self {
        Cursor {
            next: Some(next),
            fresh: true,
            open: BinaryHeap::new(),
            tempo: TempoTrack::new(journey.map()),
            meter: None,
            chord: None,
            set_up: false,
        }
    }
}

impl Source for Arrangement {
    fn header(&self) -> &Header {
        &self.header
    }

    fn end(&self) -> Option<Tick> {
        self.journey.end()
    }

    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<Bar> {
        let number = self.cursor.next?;
        let bar = self.journey.bar(number)?;
        let first_new = events.len();
        if !self.cursor.set_up {
            self.set_up(bar.start, events);
            if let Some(signature) = self.signature {
                events.push(Event {
                    tick: bar.start,
                    body: Body::Key(signature),
                });
            }
            self.cursor.set_up = true;
        }
        self.tempo(&bar, events);
        if self.cursor.meter.replace(bar.meter) != Some(bar.meter) {
            events.push(Event {
                tick: bar.start,
                body: Body::Meter(bar.meter),
            });
        }
        self.marks(&bar, events);
        // The first bar of the chart is begun from nothing, with or without a count-in before it.
        let fresh = self.cursor.fresh;
        for (part, notes) in self.notes(&bar, fresh) {
            if self.muted[usize::from(part.id.0)] {
                continue;
            }
            for note in notes {
                let (on, end) = self.place(&part, &bar, &note);
                events.push(on);
                self.cursor
                    .open
                    .push(Reverse((end, part.id, part.channel, note.key)));
            }
        }
        self.cursor.fresh = matches!(bar.region, Region::CountIn { .. });
        self.cursor.next = self.journey.following(number);
        let until = if self.cursor.next.is_none() {
            Tick::new(u64::MAX)
        } else {
            bar.end()
        };
        self.close(until, events);
        sort(&mut events[first_new..], &self.header);
        Some(bar)
    }

    fn seek(&mut self, number: i64) -> bool {
        let begin = self.journey.first_bar();
        let within = number >= begin
            && self
                .journey
                .last_bar()
                .and_then(|l| i64::try_from(l).ok())
                .is_none_or(|last| number <= last);
        if !within || self.journey.bar(number).is_none() {
            return false;
        }
        let mut cursor = Cursor::new(&self.journey, number);
        cursor.set_up = self.cursor.set_up;
        cursor.meter = self.cursor.meter;
        cursor.tempo.sent = self.cursor.tempo.sent;
        // What still sounds ends where the bar begins that is played next.
        if let Some(bar) = self.journey.bar(number) {
            let open = std::mem::take(&mut self.cursor.open);
            cursor.open = open
                .into_iter()
                .map(|Reverse((_, p, c, k))| Reverse((bar.start, p, c, k)))
                .collect();
        }
        self.cursor = cursor;
        true
    }

    fn transpose(&mut self, semitones: i32) {
        self.semitones = semitones;
        // The chords have new names.
        self.cursor.chord = None;
    }

    fn mute(&mut self, part: PartId, muted: bool) {
        if let Some(state) = self.muted.get_mut(usize::from(part.0)) {
            *state = muted;
        }
    }

    fn scale_tempo(&mut self, percent: u32) {
        self.tempo_percent = percent;
    }
}

fn moved(chord: &crate::theory::Chord, semitones: i32) -> String {
    // Moved while playing, a chord takes the plainest spelling of its new root.
    let from = chord.root();
    let to = PitchName::simplest(from.pitch_class().up(semitones), from.alter() < 0);
    chord
        .transposed(crate::theory::Interval::between(from, to))
        .to_string()
}

fn pan(place: i8) -> u8 {
    // 0 is far left, 64 the middle, 127 far right (General MIDI).
    let value = 64 + i32::from(place) * if place < 0 { 64 } else { 63 } / 100;
    KeyNumber::clamped(value).get()
}

/// The click goes first, the bass before the chords, from the bass up.
fn rank(name: &str) -> u8 {
    match name {
        "click" => 0,
        "kit" => 1,
        "bass" => 2,
        "drone" => 3,
        _ => 4,
    }
}

fn first_root(form: &Form) -> Option<PitchName> {
    form.bars()
        .flat_map(|bar| &bar.chords)
        .find_map(|c| c.harmony.chord())
        .map(|c| c.root())
}

#[cfg(test)]
mod tests;
