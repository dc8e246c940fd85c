//! One bar of a groove.

use super::{BassMark, KitVoice, Pattern};
use crate::time::Meter;

/// A stroke of the kit in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hit {
    /// Ticks from the bar line, as written (before swing).
    pub offset_ticks: u64,
    /// What is struck.
    pub voice: KitVoice,
    /// How hard, 1 to 127.
    pub velocity: u8,
    /// Whether it is a ghost.
    pub ghost: bool,
    /// Whether it comes in every bar.
    pub always: bool,
}

impl Hit {
    /// A loud stroke that comes in every bar.
    pub(crate) const fn stroke(offset_ticks: u64, voice: KitVoice, velocity: u8) -> Hit {
        Hit {
            offset_ticks,
            voice,
            velocity,
            ghost: false,
            always: true,
        }
    }
}

/// A note of the bass in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BassStep {
    /// Ticks from the bar line, as written.
    pub offset_ticks: u64,
    /// Ticks until the next mark that ends it.
    pub length_ticks: u64,
    /// What is played: never a hold or a rest.
    pub mark: BassMark,
}

/// What the bass does in a bar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BassFigure {
    /// The root on the strong beats of the meter.
    StrongBeats,
    /// A line that walks, a note a beat.
    Walk,
    /// These notes.
    Steps(Vec<BassStep>),
}

/// Beats (from 0) on which the bass plays: every other one of a simple or compound meter of an even number of beats,
/// the first and last of three, every group of a grouped one.
pub fn strong_beats(meter: &Meter) -> Vec<u32> {
    let beats = meter.beat_count();
    if !meter.groups().is_empty() || beats == 2 {
        return (0..beats).collect();
    }
    match beats {
        1 => vec![0],
        3 => vec![0, 2],
        _ if beats % 2 == 1 => (0..beats - 2).step_by(2).chain([beats - 2]).collect(),
        _ => (0..beats).step_by(2).collect(),
    }
}

impl BassFigure {
    /// Where notes begin in every bar of a meter, in ticks from the bar line, and where they begin in some.
    pub fn begins(&self, meter: &Meter) -> (Vec<u64>, Vec<u64>) {
        let on = |beats: Vec<u32>| beats.iter().map(|b| meter.beat_offset_ticks(*b)).collect();
        match self {
            BassFigure::StrongBeats => (on(strong_beats(meter)), Vec::new()),
            BassFigure::Walk => (on((0..meter.beat_count()).collect()), Vec::new()),
            BassFigure::Steps(steps) => {
                let (always, at_times): (Vec<&BassStep>, Vec<&BassStep>) =
                    steps.iter().partition(|step| step.mark.always_begins());
                let offsets =
                    |steps: Vec<&BassStep>| steps.iter().map(|s| s.offset_ticks).collect();
                (offsets(always), offsets(at_times))
            }
        }
    }
}

/// One bar of a groove.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// The strokes of the kit, those that come at times among them.
    pub hits: Vec<Hit>,
    /// What the bass does.
    pub bass: BassFigure,
    /// The strokes of the strum.
    pub strum: Pattern,
    /// The rhythm of the pads; `None` for held chords.
    pub pads: Option<Pattern>,
}
