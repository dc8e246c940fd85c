//! What each part plays in a bar.

use super::{Arrangement, Playing};
use crate::arrange::bass::bass_beats;
use crate::arrange::click::click;
use crate::arrange::kit::kit;
use crate::arrange::run::Run;
use crate::arrange::{Note, shortened};
use crate::chart::{FormBar, Parts};
use crate::event::{Channel, Event, KeyNumber, Message, Velocity};
use crate::generate::Chance;
use crate::time::{BarSpan, Region, Tick};

/// A level at which percussion plays as loud as it is written; it shares a channel, so its level works on the
/// strokes.
const FULL_LEVEL: i32 = 100;

impl Arrangement {
    /// What each part plays in a bar: a pure function of the bar, and of whether it is begun from nothing.
    pub(super) fn notes(&self, bar: &BarSpan, fresh: bool) -> Vec<(Playing, Vec<Note>)> {
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
