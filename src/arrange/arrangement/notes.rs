//! What each part plays in a bar.

use super::{Arrangement, Playing};
use crate::arrange::bass::{bass_beats, walk};
use crate::arrange::click::click;
use crate::arrange::kit::kit;
use crate::arrange::score::Planned;
use crate::arrange::strum::strum;
use crate::arrange::{Note, shortened};
use crate::chart::{BassLine, FormBar, Part, Pattern};
use crate::event::{Channel, Event, KeyNumber, Message, Velocity};
use crate::generate::Chance;
use crate::time::{BarSpan, Region, Tempo, Tick};

/// The level at which percussion plays as loud as written; it shares a channel, so its level scales velocities.
const FULL_LEVEL: i32 = 100;

/// A bar of the chart, the plan of its run, and its place in it.
#[derive(Clone, Copy)]
pub(super) struct Here<'a> {
    pub(super) chart: &'a FormBar,
    pub(super) planned: &'a Planned,
    pub(super) at: usize,
}

impl Arrangement {
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
                (Part::Pads, Some(here)) => match &settings.pads.rhythm {
                    Some(rhythm) => pads_in_rhythm(here, rhythm, touch),
                    None => pads(here, fresh, touch),
                },
                (Part::Bass, Some(here)) => {
                    bass(here, settings.bass.line, touch, chance("walk", name))
                }
                (Part::Kit, Some(_)) => kit(&bar.meter, touch),
                (Part::Drone, Some(here)) if fresh || here.at == 0 => self.drone_notes(here, bar),
                (Part::Drone, Some(_)) => Vec::new(),
                (Part::Strum, Some(here)) => strum(
                    &settings.strum,
                    &here.planned.strum,
                    here.chart,
                    here.at,
                    tempo,
                    touch,
                ),
                // The notes of asks, where there are any, are played instead of a run.
                (Part::Guide, Some(_)) if !self.asks.is_empty() => self.asks.notes(bar),
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

    /// The two events of a note.
    pub(super) fn place(&self, part: &Playing, bar: &BarSpan, note: &Note) -> (Event, Tick) {
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

fn bass(here: Here<'_>, line: BassLine, mut chance: Chance, mut steps: Chance) -> Vec<Note> {
    let chart = here.chart;
    let mut notes = Vec::new();
    for (i, placed) in chart.chords.iter().enumerate() {
        let (Some(keys), Some(chord)) = (
            here.planned.run.bass[here.at].get(i).copied().flatten(),
            placed.harmony.chord(),
        ) else {
            continue;
        };
        let end_beat = chart
            .chords
            .get(i + 1)
            .map_or(chart.meter.beat_count(), |next| next.beat);
        if line == BassLine::Walking {
            let beats: Vec<_> = chart
                .meter
                .beats()
                .skip(placed.beat as usize)
                .take((end_beat - placed.beat) as usize)
                .collect();
            let next = here.planned.next_root(here.at, i).unwrap_or(keys.root);
            let scale = here.planned.score.key.map(|key| key.scale());
            let walked = walk(
                chord,
                scale.as_ref(),
                keys.root,
                next,
                beats.len(),
                &mut steps,
            );
            notes.extend(beats.iter().zip(walked).map(|(beat, key)| {
                note(
                    beat.offset_ticks,
                    beat.length_ticks,
                    key,
                    84 + chance.around(4),
                )
            }));
            continue;
        }
        for (offset, length, other) in bass_beats(line, &chart.meter, placed.beat, end_beat) {
            let (key, touch) = if other {
                (keys.other, 80)
            } else {
                (keys.root, 88)
            };
            notes.push(note(offset, length, key, touch + chance.around(4)));
        }
    }
    notes
}
