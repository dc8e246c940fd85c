//! The arrangement: all parts merged, a bar at a time.

mod conduct;
mod notes;

use std::cmp::Reverse;
use std::sync::Arc;

use super::cursor::Cursor;
use super::drone::drone;
use super::journey::{Excerpt, ExcerptError, Journey};
use super::run::{Run, plan};
use super::voicing::{Ends, Register};
use crate::chart::{Form, FormBar, Parts, Piece, Times};
use crate::event::{
    Bar, Body, Channel, Event, Header, Message, PartId, PartInfo, Signature, Source, sort,
};
use crate::theory::PitchName;
use crate::time::{Feel, Region, TempoMap, Tick};

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
