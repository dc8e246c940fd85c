//! What is read of a score, measure by measure, before it becomes a chart.

use std::ops::Range;

use crate::theory::Harmony;
use crate::time::Meter;

/// A key signature: sharps, or flats where negative, and the mode where it is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct RawKey {
    pub(super) fifths: i32,
    pub(super) mode: Option<String>,
}

/// A chord symbol that could be read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct RawChord {
    /// Ticks from the beginning of the measure.
    pub(super) at: u64,
    pub(super) harmony: Harmony,
}

/// Where a player goes from a measure, or comes to it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Jumps {
    pub(super) da_capo: bool,
    pub(super) dal_segno: bool,
    pub(super) to_coda: bool,
    pub(super) fine: bool,
    pub(super) segno: bool,
    pub(super) coda: bool,
}

/// A measure as it was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct RawMeasure {
    /// Its number as printed.
    pub(super) number: String,
    /// The bytes of its start tag.
    pub(super) span: Range<usize>,
    /// Its meter.
    pub(super) meter: Option<Meter>,
    /// Ticks of what stands in it.
    pub(super) length: u64,
    /// The section that begins with it.
    pub(super) section: Option<String>,
    pub(super) chords: Vec<RawChord>,
    /// Thousandths of a quarter note a minute, from so many ticks on.
    pub(super) tempi: Vec<(u64, u64)>,
    pub(super) opens: bool,
    /// How often a repeat that ends here is played in all.
    pub(super) closes: Option<u32>,
    /// The ending that begins here.
    pub(super) ending: Option<Vec<u32>>,
    pub(super) ending_ends: bool,
    pub(super) jumps: Jumps,
}

/// A score as it was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct RawScore {
    pub(super) title: String,
    /// What the program itself wrote into a score.
    pub(super) field: Option<String>,
    pub(super) key: Option<RawKey>,
    pub(super) capo: Option<u8>,
    pub(super) measures: Vec<RawMeasure>,
    pub(super) parts: usize,
    /// Notes that sound, in all parts.
    pub(super) notes: usize,
}
