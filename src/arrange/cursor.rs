//! Where an arrangement is, and the note-offs that are still to come.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Arc;

use super::Journey;
use crate::event::{Channel, KeyNumber, PartId};
use crate::theory::{Harmony, Key};
use crate::time::{Meter, Pairs, Tempo, TempoMap, Tick};

/// A note-off that is still to come: tick, part, channel, key.
pub(super) type Open = Reverse<(Tick, PartId, Channel, KeyNumber)>;

/// Where the arrangement is, and the note-offs that are still to come.
#[derive(Clone)]
pub(super) struct Cursor {
    pub(super) next: Option<i64>,
    /// The next bar is the first, or the first after a jump: held notes are restruck.
    pub(super) fresh: bool,
    pub(super) open: BinaryHeap<Open>,
    pub(super) tempo: TempoTrack,
    pub(super) meter: Option<Meter>,
    pub(super) key: Option<Key>,
    pub(super) chord: Option<Harmony>,
    pub(super) set_up: bool,
}

/// The tempo pairs, read along.
#[derive(Clone)]
pub(super) struct TempoTrack {
    pairs: std::iter::Peekable<Pairs>,
    /// In force by the map, and as last sent.
    now: Tempo,
    pub(super) sent: Option<Tempo>,
}

impl TempoTrack {
    pub(super) fn new(map: &Arc<TempoMap>) -> Self {
        TempoTrack {
            pairs: map.pairs().peekable(),
            now: Tempo::DEFAULT,
            sent: None,
        }
    }

    /// The changes of `start..end` in ticks of the whole piece, and the tempo in force at `start`.
    pub(super) fn bar(&mut self, start: Tick, end: Tick) -> Vec<(Tick, Tempo)> {
        while let Some((_, tempo)) = self.pairs.next_if(|(tick, _)| *tick <= start) {
            self.now = tempo;
        }
        let mut found = vec![(start, self.now)];
        while let Some((tick, tempo)) = self.pairs.next_if(|(tick, _)| *tick < end) {
            self.now = tempo;
            found.push((tick, tempo));
        }
        found
    }
}

impl Cursor {
    pub(super) fn new(journey: &Journey, next: i64) -> Self {
        Cursor {
            next: Some(next),
            fresh: true,
            open: BinaryHeap::new(),
            tempo: TempoTrack::new(journey.map()),
            meter: None,
            key: None,
            chord: None,
            set_up: false,
        }
    }
}
