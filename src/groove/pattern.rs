//! Rhythms written as strokes: what a strumming hand does, or where a chord is struck.

use std::fmt;

use crate::time::Meter;

/// One place of a rhythm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// Down: from the low strings to the high. For pads, a strike.
    Down,
    /// Up: from the high strings to the low.
    Up,
    /// Down over muted strings, short and soft. For pads, a strike.
    Muted,
    /// The next string alone, from the lowest one of a chord up; after the highest nothing until the chord changes. For
    /// pads, a strike.
    String,
    /// Nothing new: what was struck goes on.
    Hold,
    /// Silence: what was struck ends.
    Rest,
}

/// A rhythm over a bar: 1 to 32 places of the same length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern(Vec<Stroke>);

/// Most places of a rhythm.
const MOST_PLACES: usize = 32;

impl Pattern {
    /// Reads strokes with spaces between or without: `D` down, `U` up, `m` muted, `x` a strike, `s` the next string alone, `-` or
    /// `.` goes on, `o` silence. `None` where there is another letter, no stroke, or more than 32 places.
    pub fn read(text: &str) -> Option<Pattern> {
        let strokes: Option<Vec<Stroke>> = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .map(|c| match c {
                'D' | 'x' => Some(Stroke::Down),
                'U' => Some(Stroke::Up),
                'm' => Some(Stroke::Muted),
                's' => Some(Stroke::String),
                '.' | '-' => Some(Stroke::Hold),
                'o' => Some(Stroke::Rest),
                _ => None,
            })
            .collect();
        strokes
            .filter(|s| {
                (1..=MOST_PLACES).contains(&s.len())
                    && s.iter().any(|s| !matches!(s, Stroke::Hold | Stroke::Rest))
            })
            .map(Pattern)
    }

    /// The places in order.
    pub fn strokes(&self) -> &[Stroke] {
        &self.0
    }

    /// The same with its muted strokes open.
    #[must_use]
    pub fn opened(&self) -> Pattern {
        let opened = self.0.iter().map(|stroke| match stroke {
            Stroke::Muted => Stroke::Down,
            other => *other,
        });
        Pattern(opened.collect())
    }

    /// The sounding strokes of a bar of so many ticks: where, how long, and which.
    pub fn spans(&self, bar_ticks: u64) -> Vec<(u64, u64, Stroke)> {
        let places = self.0.len() as u64;
        let at = |i: usize| bar_ticks * i as u64 / places;
        let mut found: Vec<(u64, u64, Stroke)> = Vec::new();
        let mut open = false;
        for (i, stroke) in self.0.iter().enumerate() {
            match stroke {
                Stroke::Down | Stroke::Up | Stroke::Muted | Stroke::String => {
                    found.push((at(i), at(i + 1) - at(i), *stroke));
                    open = true;
                }
                Stroke::Hold if open => {
                    if let Some(last) = found.last_mut() {
                        last.1 = at(i + 1) - last.0;
                    }
                }
                Stroke::Hold => {}
                Stroke::Rest => open = false,
            }
        }
        found
    }

    /// The usual strokes of a meter (common practice): in four `D . D U . U D U`, in three `D . D U D U`; in a compound
    /// meter down on each beat and up before the next; else down on each beat or group.
    pub fn usual(meter: &Meter) -> Pattern {
        use Stroke::{Down, Hold, Up};
        let beats = meter.beat_count();
        if meter.is_compound() {
            return Pattern((0..beats).flat_map(|_| [Down, Hold, Up]).collect());
        }
        if !meter.groups().is_empty() {
            let strokes = meter
                .groups()
                .iter()
                .flat_map(|g| (0..*g).map(|i| if i == 0 { Down } else { Hold }));
            return Pattern(strokes.collect());
        }
        match beats {
            4 => Pattern(vec![Down, Hold, Down, Up, Hold, Up, Down, Up]),
            3 => Pattern(vec![Down, Hold, Down, Up, Down, Up]),
            _ => Pattern((0..beats).map(|_| Down).collect()),
        }
    }
}

impl fmt::Display for Pattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letters: Vec<&str> = self
            .0
            .iter()
            .map(|s| match s {
                Stroke::Down => "D",
                Stroke::Up => "U",
                Stroke::Muted => "m",
                Stroke::String => "s",
                Stroke::Hold => ".",
                Stroke::Rest => "o",
            })
            .collect();
        f.write_str(&letters.join(" "))
    }
}
