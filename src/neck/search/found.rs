//! Shapes found, and the easiest of them.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use crate::neck::hand::{Frets, Grip, MUTED};

/// A shape found: what sounds, how it is held, and the effort of both.
#[derive(Clone, Copy)]
pub(in crate::neck) struct Found {
    pub(in crate::neck) effort: u16,
    pub(in crate::neck) frets: Frets,
    pub(in crate::neck) grip: Grip,
}

impl PartialEq for Found {
    fn eq(&self, other: &Found) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Found {}

impl PartialOrd for Found {
    fn partial_cmp(&self, other: &Found) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Found {
    /// By effort, then by frets; how it is held follows from these.
    fn cmp(&self, other: &Found) -> Ordering {
        (self.effort, self.frets).cmp(&(other.effort, other.frets))
    }
}

impl Found {
    /// Whether this is the other one with strings left out, and not a shape by itself: one with another bass sounds
    /// otherwise, and one without open strings, beside one with them, moves to every fret.
    fn is_part_of(&self, other: &Found) -> bool {
        let bass = |shape: &Found| shape.frets.iter().position(|fret| *fret != MUTED);
        let rings = |shape: &Found| shape.frets.contains(&0);
        let within = |(own, others): (&i8, i8)| *own == others || *own == MUTED;
        bass(self) == bass(other)
            && rings(self) == rings(other)
            && self.frets.iter().zip(other.frets).all(within)
    }
}

/// The easiest shapes found so far, no more than a limit; between two equally easy ones the order of their frets
/// decides, so that the result is deterministic.
pub(super) struct Easiest {
    pub(super) list: BinaryHeap<Found>,
    limit: usize,
}

impl Easiest {
    pub(super) fn new(limit: usize) -> Easiest {
        Easiest {
            list: BinaryHeap::new(),
            limit,
        }
    }

    /// Whether a shape of at least this effort cannot be among them.
    pub(super) fn excludes(&self, effort: u16) -> bool {
        self.list.len() == self.limit && self.list.peek().is_some_and(|last| effort > last.effort)
    }

    pub(super) fn put(&mut self, found: Found) {
        if self.list.len() < self.limit {
            self.list.push(found);
        } else if let Some(mut last) = self.list.peek_mut()
            && found < *last
        {
            *last = found;
        }
    }

    /// The easiest first, without those that are a better one with strings left out.
    pub(super) fn without_parts(self, most: usize) -> Vec<Found> {
        let mut kept: Vec<Found> = Vec::new();
        for shape in self.list.into_sorted_vec() {
            if kept.len() == most {
                break;
            }
            if !kept.iter().any(|better| shape.is_part_of(better)) {
                kept.push(shape);
            }
        }
        kept
    }
}
