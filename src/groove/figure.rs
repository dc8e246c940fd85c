//! One bar of a groove.

use super::{BassMark, KitVoice, Pattern};

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
