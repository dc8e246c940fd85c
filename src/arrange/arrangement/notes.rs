//! What each part plays in a bar.

use std::cell::OnceCell;
use std::ops::Range;

use super::{Arrangement, Playing};
use crate::arrange::band::{BandBar, Setting, Stage, band_bar};
use crate::arrange::bass::{
    BassKeys, BassNote, Under, bass_beats, beside, groove_notes, walk, walk_notes,
};
use crate::arrange::click::click;
use crate::arrange::phrase::Place;
use crate::arrange::score::Planned;
use crate::arrange::strum::{Hand, strum};
use crate::arrange::{GuideNote, Note, shortened};
use crate::chart::{BassLine, FormBar, Part, Pattern};
use crate::event::{Channel, Event, KeyNumber, Message, Velocity};
use crate::generate::Chance;
use crate::groove::{BassFigure, KitVoice};
use crate::time::{BarSpan, Feel, Region, Tempo, Tick};

/// The level at which percussion plays as loud as written; it shares a channel, so its level scales velocities.
const FULL_LEVEL: i32 = 100;

/// A bar of the chart, the plan of its run, and its place in it.
#[derive(Clone, Copy)]
pub(super) struct Here<'a> {
    pub(super) chart: &'a FormBar,
    pub(super) planned: &'a Planned,
    pub(super) at: usize,
    /// Where the bar stands in its phrase.
    pub(super) place: Place,
    pub(super) stage: Stage,
}

impl Arrangement {
    /// The notes of the guide in a bar of the chart, as written: before swing, and each as long as until the next; none where
    /// no guide runs.
    pub fn guide_notes(&mut self, region: Region) -> Vec<GuideNote> {
        self.prepare(region);
        let Some(here) = self.here(region) else {
            return Vec::new();
        };
        let notes = match (&here.planned.guide, here.stage) {
            (None, _) => Vec::new(),
            (Some(_), Stage::Final) => self.last_of_guide(here),
            (Some(line), _) => line.notes(here.chart, here.at),
        };
        let note = |note: Note| {
            Some(GuideNote {
                offset_ticks: note.offset_ticks,
                key: note.key,
                degree: note.degree?,
            })
        };
        notes.into_iter().filter_map(note).collect()
    }

    /// What each part plays in a bar: a pure function of the bar and its tempo, and of whether playing starts there.
    pub(super) fn notes(
        &self,
        bar: &BarSpan,
        tempo: Tempo,
        fresh: bool,
    ) -> Vec<(Playing, Vec<Note>)> {
        let (pass, index) = match bar.region {
            Region::Pass { pass, bar } => (pass, bar),
            Region::CountIn { bar } | Region::Intro { bar } | Region::Ending { bar } => {
                (u64::MAX, bar)
            }
        };
        let chance =
            |purpose: &str, part: &str| Chance::new(self.header.seed, purpose, part, pass, index);
        let settings = &self.planner.settings;
        let here = self.here(bar.region);
        let drawn = OnceCell::new();
        let band = |here| drawn.get_or_init(|| self.band(here, &mut chance("groove", "band")));
        let mut found = Vec::with_capacity(self.header.parts.len());
        for part in Part::ALL {
            let Some(playing) = self.playing(part) else {
                continue;
            };
            let name = part.name();
            let touch = chance("velocity", name);
            let notes = match (part, here) {
                // A stroke at level 0 would still be a soft one.
                _ if playing.level == 0 && playing.channel == Channel::PERCUSSION => Vec::new(),
                (Part::Click, _) => click(&settings.click, bar, chance("silent", name)),
                (_, None) => Vec::new(),
                (Part::Pads, Some(here)) => {
                    let of_groove = band(here).pads.as_ref();
                    let own = settings.pads.rhythm.as_ref();
                    match own.filter(|_| here.stage != Stage::Final).or(of_groove) {
                        Some(rhythm) => pads_in_rhythm(here, rhythm, touch),
                        None => pads(here, fresh, touch),
                    }
                }
                (Part::Bass, Some(here)) => {
                    let unders = self.unders(bar.region, here);
                    self.bass_notes(
                        here,
                        &unders,
                        &band(here).bass,
                        [touch, chance("walk", name)],
                    )
                }
                (Part::Kit, Some(here)) => kit(band(here), touch),
                (Part::Drone, Some(here)) if fresh || here.at == 0 => self.drone_notes(here, bar),
                (Part::Drone, Some(_)) => Vec::new(),
                (Part::Strum, Some(here)) => strum(
                    &settings.strum,
                    self.planner.strum(here.planned),
                    here.chart,
                    here.at,
                    hand(band(here), tempo),
                    touch,
                ),
                // The notes of asks, where there are any, are played instead of a run.
                (Part::Guide, Some(_)) if !self.asks.is_empty() => self.asks.notes(bar),
                (Part::Guide, Some(here)) if here.stage == Stage::Final => self.last_of_guide(here),
                (Part::Guide, Some(here)) => here
                    .planned
                    .guide
                    .as_ref()
                    .map(|line| line.notes(here.chart, here.at))
                    .unwrap_or_default(),
            };
            found.push((playing, notes));
        }
        found
    }

    /// The drone from here to the end of the run.
    fn drone_notes(&self, here: Here<'_>, bar: &BarSpan) -> Vec<Note> {
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
        here.planned
            .drone
            .iter()
            .map(|key| Note {
                offset_ticks: 0,
                length_ticks,
                key: KeyNumber::clamped(*key),
                velocity: Velocity::clamped(64),
                degree: None,
            })
            .collect()
    }

    /// The last note of the guide, held: the root of the last chord where the shape has it, else the nearest of its other tones.
    fn last_of_guide(&self, here: Here<'_>) -> Vec<Note> {
        let Some(guide) = &here.planned.guide else {
            return Vec::new();
        };
        let before = guide.before(here.at).or(self.pass.1.last_of_guide());
        let mut chords = here.chart.chords.iter().rev();
        let last = chords.find_map(|placed| Some((placed, placed.harmony.chord()?)));
        last.and_then(|(placed, chord)| {
            guide.last_note(chord, before, placed.offset_ticks, placed.length_ticks)
        })
        .into_iter()
        .collect()
    }

    /// What the band plays in a bar.
    fn band(&self, here: Here<'_>, chance: &mut Chance) -> BandBar {
        let meter = &here.chart.meter;
        let setting = Setting {
            groove: &self.planner.groove(meter),
            meter,
            place: here.place,
            stage: here.stage,
            variation: self.planner.variation,
            swung: self.planner.feel.unit(),
        };
        band_bar(&setting, chance)
    }

    /// The two events of a note in a bar that begins at `tempo`.
    pub(super) fn place(
        &self,
        part: &Playing,
        bar: &BarSpan,
        tempo: Tempo,
        note: &Note,
    ) -> (Event, Tick) {
        // Slow swing is wide on the ride alone.
        let key = i32::from(note.key.get());
        let rides = [KitVoice::Ride, KitVoice::Bell].map(KitVoice::key);
        let ride = part.channel == Channel::PERCUSSION && rides.contains(&key);
        let widest = if ride {
            Feel::WIDEST_RIDE
        } else {
            Feel::WIDEST
        };
        let feel = self.planner.feel.at(tempo, widest);
        let start = bar.start + feel.played(note.offset_ticks);
        let mut end = bar.start + feel.played(note.offset_ticks + note.length_ticks);
        if let Some(last) = self.journey.end() {
            end = end.min(last);
        }
        let (start, end) = self.by_hand(part, bar, start, end);
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

    /// When a note is played that stands from `start` to `end`: hands move it, though not out of its bar.
    fn by_hand(&self, part: &Playing, bar: &BarSpan, start: Tick, end: Tick) -> (Tick, Tick) {
        let which = self.playing.get(usize::from(part.id.0)).copied();
        let exact = [Part::Click, Part::Drone];
        let (Some(which), Some(hands)) = (which, &self.planner.hands) else {
            return (start, end);
        };
        if exact.contains(&which) {
            return (start, end);
        }
        let [start, end] = [start, end].map(|tick| hands.played(which.name(), tick));
        let last = self.journey.end().unwrap_or(Tick::new(u64::MAX));
        let inside = start.max(bar.start).min(Tick::new(bar.end().get() - 1));
        (inside, end.min(last))
    }
}

/// Voices of a pad chord or notes of the bass that sound at a place, at one velocity.
fn note(offset_ticks: u64, length_ticks: u64, key: i32, velocity: i32) -> Note {
    Note {
        offset_ticks,
        length_ticks: shortened(length_ticks),
        key: KeyNumber::clamped(key),
        velocity: Velocity::clamped(velocity),
        degree: None,
    }
}

fn pads(here: Here<'_>, fresh: bool, mut chance: Chance) -> Vec<Note> {
    let run = &here.planned.run;
    let mut notes = Vec::new();
    for (i, strike) in run.strikes[here.at].iter().enumerate() {
        let touch = 72 + chance.around(3);
        if strike.goes_on && !(fresh && i == 0) {
            continue;
        }
        let voices = &run.voicings[strike.voicing];
        notes.extend(voices.iter().map(|key| {
            note(
                strike.offset_ticks,
                strike.length_ticks,
                i32::from(*key),
                touch,
            )
        }));
    }
    notes
}

/// The chord of each stroke's place, for as long as stroke and chord last.
fn pads_in_rhythm(here: Here<'_>, rhythm: &Pattern, mut chance: Chance) -> Vec<Note> {
    let run = &here.planned.run;
    let strikes = &run.strikes[here.at];
    let bar_ticks = here.chart.meter.bar_ticks();
    let mut notes = Vec::new();
    for (offset, length, _) in rhythm.spans(bar_ticks) {
        let touch = if offset == 0 { 76 } else { 70 } + chance.around(3);
        let Some(at) = strikes.iter().rposition(|s| s.offset_ticks <= offset) else {
            continue;
        };
        // Where no chord sounds, none is struck.
        let chord = here.chart.chords.iter().rfind(|c| c.offset_ticks <= offset);
        if chord.is_none_or(|c| c.harmony.chord().is_none()) {
            continue;
        }
        let end = here
            .chart
            .chords
            .iter()
            .map(|c| c.offset_ticks)
            .find(|o| *o > offset)
            .unwrap_or(bar_ticks);
        let voices = &run.voicings[strikes[at].voicing];
        let length = length.min(end - offset);
        notes.extend(
            voices
                .iter()
                .map(|key| note(offset, length, i32::from(*key), touch)),
        );
    }
    notes
}

/// Length of a stroke of the kit in ticks; percussion rings by itself.
const STROKE: u64 = 60;

/// The strokes of the kit, each a little louder or softer.
fn kit(band: &BandBar, mut chance: Chance) -> Vec<Note> {
    let hits = band.hits.iter();
    hits.map(|hit| Note {
        offset_ticks: hit.offset_ticks,
        length_ticks: STROKE,
        key: KeyNumber::clamped(hit.voice.key()),
        velocity: Velocity::clamped(i32::from(hit.velocity) + chance.around(5)),
        degree: None,
    })
    .collect()
}

/// What the band has for the strum.
fn hand(band: &BandBar, tempo: Tempo) -> Hand<'_> {
    Hand {
        pattern: &band.strum,
        backbeat: &band.backbeat,
        held: band.held,
        lifted: band.lifted,
        tempo,
    }
}

impl Arrangement {
    /// The bass in a bar: as its setting says, or as the groove has it; held in the last bar.
    fn bass_notes(
        &self,
        here: Here<'_>,
        unders: &[(Range<u32>, Under<'_>)],
        figure: &BassFigure,
        [mut touch, mut steps]: [Chance; 2],
    ) -> Vec<Note> {
        let line = self.planner.settings.bass.line;
        let of_groove = self.planner.groove(&here.chart.meter).walks();
        let walks = line == BassLine::Walking || (line == BassLine::Groove && of_groove);
        let scale = here.planned.score.key.map(|key| key.scale());
        let mut found: Vec<BassNote> = Vec::new();
        match (line, figure) {
            _ if here.stage == Stage::Final => {
                found.extend(unders.iter().map(|(_, under)| BassNote {
                    offset_ticks: under.offset_ticks,
                    length_ticks: under.end_ticks - under.offset_ticks,
                    key: under.keys.root,
                    velocity: 88,
                }));
            }
            (BassLine::Groove, BassFigure::Steps(marks)) if !walks => {
                let chords: Vec<Under<'_>> = unders.iter().map(|(_, under)| *under).collect();
                found.extend(groove_notes(marks, &chords, scale.as_ref()));
            }
            (BassLine::Walking | BassLine::Groove, _) if walks => {
                let marks = match figure {
                    BassFigure::Steps(marks) if of_groove => Some(marks.as_slice()),
                    _ => None,
                };
                for (beats, under) in unders {
                    let meter = &here.chart.meter;
                    let keys = walk(under, scale.as_ref(), beats.len(), &mut steps);
                    found.extend(walk_notes(marks, meter, beats.start, under, &keys));
                }
            }
            (line, _) => {
                for (beats, under) in unders {
                    let meter = &here.chart.meter;
                    let struck = bass_beats(line, meter, beats.start, beats.end);
                    found.extend(
                        struck
                            .into_iter()
                            .map(|(offset_ticks, length_ticks, other)| BassNote {
                                offset_ticks,
                                length_ticks,
                                key: if other {
                                    under.keys.other
                                } else {
                                    under.keys.root
                                },
                                velocity: if other { 80 } else { 88 },
                            }),
                    );
                }
            }
        }
        let lowest_string = self.planner.lowest_string();
        let mut before = None;
        found
            .into_iter()
            .map(|n| {
                // Only from the lowest string up can it be on a string of the strum.
                let taken = (n.key >= lowest_string)
                    .then(|| self.planner.strum(here.planned))
                    .and_then(|strum| strum.lowest(here.at, here.chart, n.offset_ticks));
                let key = beside(n.key, taken, before);
                // A walk goes on to another key; elsewhere the same one may come again.
                before = walks.then_some(key);
                let velocity = n.velocity + touch.around(4);
                note(n.offset_ticks, n.length_ticks, key, velocity)
            })
            .collect()
    }

    /// The chords of a bar that the bass plays under, and their beats.
    fn unders<'a>(&self, region: Region, here: Here<'a>) -> Vec<(Range<u32>, Under<'a>)> {
        let chart = here.chart;
        let before = here
            .at
            .checked_sub(1)
            .and_then(|at| here.planned.score.bars.get(at));
        let mut sounding = before.and_then(|bar| bar.chords.last()).map(|c| c.harmony);
        let roots = self
            .planner
            .walks()
            .then(|| self.planner.walk_roots(here.planned));
        let mut found = Vec::with_capacity(chart.chords.len());
        for (i, placed) in chart.chords.iter().enumerate() {
            let is_new = sounding.replace(placed.harmony) != Some(placed.harmony);
            let (Some(keys), Some(chord)) = (
                here.planned.run.bass[here.at].get(i).copied().flatten(),
                placed.harmony.chord(),
            ) else {
                continue;
            };
            let end = chart
                .chords
                .get(i + 1)
                .map_or(chart.meter.beat_count(), |next| next.beat);
            // After the last chord comes what follows the run, or its own beginning.
            let walked = |bar: usize, chord: usize| *roots?.get(bar)?.get(chord)?;
            let next_walked = || {
                let (bar, chord) = here.planned.next_chord(here.at, i)?;
                walked(bar, chord)
            };
            let keys = BassKeys {
                root: walked(here.at, i).unwrap_or(keys.root),
                ..keys
            };
            let next = next_walked()
                .or_else(|| here.planned.next_root(here.at, i))
                .or_else(|| self.follows(region, here.planned))
                .or_else(|| here.planned.first_bass());
            found.push((
                placed.beat..end,
                Under {
                    chord,
                    keys,
                    next: next.unwrap_or(keys.root),
                    offset_ticks: placed.offset_ticks,
                    end_ticks: placed.offset_ticks + placed.length_ticks,
                    is_new,
                    taken: roots.and_then(|_| {
                        let strum = self.planner.strum(here.planned);
                        strum.lowest(here.at, chart, placed.offset_ticks)
                    }),
                },
            ));
        }
        found
    }
}
