//! The chart in playing order.

use std::sync::Arc;

use crate::theory::{Harmony, Interval};
use crate::time::Meter;

/// A chord and where it lies in its bar.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedChord {
    /// The chord, or none.
    pub harmony: Harmony,
    /// First beat, counted from 0.
    pub beat: u32,
    /// Ticks from the bar line.
    pub offset_ticks: u64,
    /// Length in ticks.
    pub length_ticks: u64,
    /// Whether it is the chord before, held over the bar line.
    pub held: bool,
}

/// A bar in playing order.
#[derive(Clone, Debug, PartialEq)]
pub struct FormBar {
    /// The section it belongs to.
    pub section: Arc<str>,
    /// Whether it is the first of its section.
    pub opens_section: bool,
    /// The meter of the bar.
    pub meter: Meter,
    /// The chords that fill it.
    pub chords: Vec<PlacedChord>,
}

impl FormBar {
    /// How many beats each chord fills: to the next, the last to the end of the bar.
    pub(crate) fn lengths(&self) -> Vec<u32> {
        let ends = self.chords.iter().skip(1).map(|c| c.beat);
        let ends = ends.chain([self.meter.beat_count()]);
        let lengths = self.chords.iter().zip(ends);
        lengths.map(|(c, end)| end - c.beat).collect()
    }

    /// Whether its notation has a stroke for each beat without a chord of its own: one `/` makes every word of the bar a beat,
    /// and a held chord is nothing but strokes.
    pub(crate) fn is_slashed(&self) -> bool {
        let lengths = self.lengths();
        let even = lengths.iter().all(|length| Some(length) == lengths.first());
        !even || self.chords.iter().any(|c| c.held)
    }

    /// Moves its chords an interval higher.
    pub fn transpose(&mut self, by: Interval) {
        for chord in &mut self.chords {
            chord.harmony = chord.harmony.transposed(by);
        }
    }
}

/// The chart unfolded: intro once, the bars of one pass, ending once. Copies share their bars.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Form {
    /// Played once, before the first pass.
    pub intro: Arc<Vec<FormBar>>,
    /// One time through.
    pub pass: Arc<Vec<FormBar>>,
    /// Played once, after the last pass.
    pub ending: Arc<Vec<FormBar>>,
}

impl Form {
    /// All bars, each once, in the order intro, pass, ending.
    pub fn bars(&self) -> impl Iterator<Item = &FormBar> {
        self.intro.iter().chain(&*self.pass).chain(&*self.ending)
    }
}
