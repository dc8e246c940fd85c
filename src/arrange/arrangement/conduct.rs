//! Everything but notes: programs, volumes, tempo, markers.

use super::Arrangement;
use crate::event::{Body, Event, KeyNumber, Message, PartId};
use crate::time::{BarSpan, Tempo, Tick};

/// Channel volume and pan, of the MIDI 1.0 control change table.
const VOLUME: u8 = 7;
const PAN: u8 = 10;

impl Arrangement {
    /// Programs, volumes and places of all parts, once.
    pub(super) fn set_up(&self, tick: Tick, events: &mut Vec<Event>) {
        for (id, part) in (0u8..).map(PartId).zip(&self.header.parts) {
            let mut say = |message| events.push(Event::of_part(tick, id, part.channel, message));
            let Some(program) = part.program else {
                // Percussion shares its channel: pan is sent only if it was asked for.
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

    pub(super) fn marks(&mut self, bar: &BarSpan, events: &mut Vec<Event>) {
        let mark = |tick, text: String| Event {
            tick,
            body: Body::Marker(text.into()),
        };
        let Some(here) = self.here(bar.region) else {
            if self.cursor.fresh {
                events.push(mark(bar.start, "[count-in]".to_owned()));
            }
            return;
        };
        let chart = here.chart;
        let mut chord = self.cursor.chord;
        if chart.opens_section || self.cursor.fresh {
            events.push(mark(bar.start, format!("[{}]", chart.section)));
            chord = None;
        }
        for placed in &chart.chords {
            if chord != Some(placed.harmony) {
                let symbol = placed.harmony.to_string();
                events.push(mark(bar.start + placed.offset_ticks, symbol));
                chord = Some(placed.harmony);
            }
        }
        self.cursor.chord = chord;
    }

    /// Sends the tempo changes of the bar; returns the tempo it begins with.
    pub(super) fn tempo(&mut self, bar: &BarSpan, events: &mut Vec<Event>) -> Tempo {
        let Some(grid_bar) = self
            .journey
            .grid()
            .bar(bar.number.max(self.journey.first_bar()))
        else {
            return Tempo::DEFAULT;
        };
        let changes = if bar.number <= 0 {
            // The count-in keeps the tempo of the bar it leads to.
            self.cursor.tempo.bar(grid_bar.start, grid_bar.start)
        } else {
            self.cursor.tempo.bar(grid_bar.start, grid_bar.end())
        };
        let first = changes.first().map_or(Tempo::DEFAULT, |(_, tempo)| *tempo);
        for (tick, tempo) in changes {
            if self.cursor.tempo.sent.replace(tempo) != Some(tempo) {
                let tick = bar.start + tick.saturating_since(grid_bar.start);
                events.push(Event {
                    tick,
                    body: Body::Tempo(tempo),
                });
            }
        }
        first
    }
}

fn pan(place: i8) -> u8 {
    // 0 is far left, 64 the middle, 127 far right (General MIDI).
    let value = 64 + i32::from(place) * if place < 0 { 64 } else { 63 } / 100;
    KeyNumber::clamped(value).get()
}
