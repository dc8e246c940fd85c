//! The map as played: the plan as changed by pauses, jumps and changes of tempo.

use std::collections::VecDeque;

use serde::Serialize;
use serde::ser::{SerializeStruct, Serializer};

use crate::live::dispatch::Passage;
use crate::time::{Nanos, TICKS_PER_QUARTER, Tempo, Tick};

/// How many passages are kept; of a longer run the rest is left out, and that is reported.
const MOST: usize = 1 << 20;

/// How many of the newest are kept for look-ups, however long the run.
const RECENT: usize = 256;

/// What was played, as a tempo map in played ticks. Without the pauses it is a map like that of a file: its sums are
/// the times at which messages were due, to the nanosecond.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PlayedMap {
    passages: Vec<Passage>,
    recent: VecDeque<Passage>,
    left_out: u64,
}

/// A time at which the piece was paused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Stand {
    /// Since when, in nanoseconds from the start.
    pub at_ns: u64,
    /// For how long.
    pub length_ns: u64,
}

/// A place in what was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayedAt {
    /// The run of bars.
    pub run: u32,
    /// The tick of the piece, with its fraction.
    pub tick: f64,
    /// Ticks played until then, with their fraction.
    pub played: f64,
    /// The tempo there.
    pub tempo: Tempo,
    /// Whether it was paused.
    pub paused: bool,
}

impl PlayedMap {
    /// Takes the next passage in.
    pub fn push(&mut self, passage: Passage) {
        if self.recent.len() == RECENT {
            self.recent.pop_front();
        }
        self.recent.push_back(passage);
        if self.passages.len() < MOST {
            self.passages.push(passage);
        } else {
            self.left_out += 1;
        }
    }

    /// What it is made of.
    pub fn passages(&self) -> &[Passage] {
        &self.passages
    }

    /// Passages left out at the end of a very long run.
    pub fn left_out(&self) -> u64 {
        self.left_out
    }

    /// The tempo map: from each of these played ticks on this tempo.
    pub fn tempo_map(&self) -> Vec<(Tick, Tempo)> {
        let mut pairs: Vec<(Tick, Tempo)> = Vec::new();
        for passage in self.passages.iter().filter(|p| !p.paused) {
            match pairs.last_mut() {
                Some((_, tempo)) if *tempo == passage.tempo => {}
                Some((tick, tempo)) if *tick == passage.played => *tempo = passage.tempo,
                _ => pairs.push((passage.played, passage.tempo)),
            }
        }
        pairs
    }

    /// When it was paused, and for how long.
    pub fn is_paused(&self) -> Vec<Stand> {
        let mut found = Vec::new();
        let mut since = None;
        for passage in &self.passages {
            if passage.paused {
                // Of several the last one holds.
                since = Some(passage.at);
            } else if let Some(since) = since.take()
                && passage.at > since
            {
                found.push(Stand {
                    at_ns: since.get(),
                    length_ns: passage.at.get().saturating_sub(since.get()),
                });
            }
        }
        found
    }

    /// What was played at a time; `None` before the start. Valid as long as nothing has changed since the last passage;
    /// in a very long run, not for times long past.
    pub fn at(&self, at: Nanos) -> Option<PlayedAt> {
        let recent = self.recent.partition_point(|p| p.at <= at);
        let passage = match recent.checked_sub(1) {
            Some(newest) => self.recent.get(newest)?,
            None => {
                let after = self.passages.partition_point(|p| p.at <= at);
                self.passages[..after].last()?
            }
        };
        let at = if passage.paused { passage.at } else { at };
        // The tick may come a little later.
        let gone = at.get().abs_diff(passage.tick_at.get());
        #[allow(clippy::cast_precision_loss)] // ticks and nanoseconds since the last passage
        let ticks = gone as f64 * TICKS_PER_QUARTER as f64
            / (f64::from(passage.tempo.us_per_quarter()) * 1000.0);
        let ticks = if at < passage.tick_at { -ticks } else { ticks };
        #[allow(clippy::cast_precision_loss)] // exact for centuries
        let after = |tick: Tick| tick.get() as f64 + ticks;
        Some(PlayedAt {
            run: passage.run,
            tick: after(passage.tick),
            played: after(passage.played),
            tempo: passage.tempo,
            paused: passage.paused,
        })
    }
}

/// A pair of the map, as it is written down.
#[derive(Serialize)]
struct Pair {
    tick: u64,
    us_per_quarter: u32,
}

/// A place where other bars followed than those that were written next.
#[derive(Serialize)]
struct Jump {
    tick: u64,
    to_tick: u64,
    at_ns: u64,
}

impl Serialize for PlayedMap {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let pairs: Vec<Pair> = self
            .tempo_map()
            .into_iter()
            .map(|(tick, tempo)| Pair {
                tick: tick.get(),
                us_per_quarter: tempo.us_per_quarter(),
            })
            .collect();
        let jumps: Vec<Jump> = self
            .passages
            .windows(2)
            .filter(|pair| pair[0].run != pair[1].run)
            .map(|pair| Jump {
                tick: pair[1].played.get(),
                to_tick: pair[1].tick.get(),
                at_ns: pair[1].at.get(),
            })
            .collect();
        let mut fields = serializer.serialize_struct("PlayedMap", 5)?;
        fields.serialize_field("ticks_per_quarter", &TICKS_PER_QUARTER)?;
        fields.serialize_field("tempo_map", &pairs)?;
        fields.serialize_field("jumps", &jumps)?;
        fields.serialize_field("pauses", &self.is_paused())?;
        fields.serialize_field("left_out", &self.left_out)?;
        fields.end()
    }
}
