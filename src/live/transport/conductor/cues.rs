//! Asks and answers as they are heard, and what the player did meanwhile, in the order in which it happened.

use std::collections::VecDeque;
use std::time::Instant;

use super::{Conductor, Notice};
use crate::event::{Body, Event};
use crate::live::reporting::PlayedAt;
use crate::live::transport::Lane;
use crate::time::{Nanos, Tick};

/// So long after it was heard a cue is told, in nanoseconds: once it is certain that its bar was not left just then.
const LATER_NS: u64 = 5_000_000;

/// Responses that may wait until the lane can tell when they were.
const WAITING: usize = 256;

/// Which cue it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Ask,
    Answer,
}

/// A cue that was handed over and not heard yet.
#[derive(Clone, Copy, Debug)]
struct Coming {
    run: u32,
    tick: Tick,
    kind: Kind,
    id: u32,
}

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Cues {
    coming: VecDeque<Coming>,
    responses: VecDeque<(u32, Instant)>,
}

impl Cues {
    /// An event of the bar that is handed over; only asks and answers are cues.
    pub(super) fn hand_over(&mut self, run: u32, event: &Event) {
        let (kind, cue) = match &event.body {
            Body::Ask(cue) => (Kind::Ask, cue),
            Body::Answer(cue) => (Kind::Answer, cue),
            _ => return,
        };
        self.coming.push_back(Coming {
            run,
            tick: event.tick,
            kind,
            id: cue.id,
        });
    }

    /// The player did something; what it was is known by its number to whoever sent it.
    pub(super) fn responded(&mut self, id: u32, at: Instant) {
        if self.responses.len() < WAITING {
            self.responses.push_back((id, at));
        }
    }

    fn is_empty(&self) -> bool {
        self.coming.is_empty() && self.responses.is_empty()
    }

    /// The next cue that was heard by the time `now`. Cues of bars that were left are dropped.
    fn heard(&mut self, now: &PlayedAt) -> Option<Coming> {
        loop {
            let next = *self.coming.front()?;
            let reached = next.run == now.run && float(next.tick) <= now.tick;
            if next.run < now.run || reached {
                self.coming.pop_front();
            }
            if reached {
                return Some(next);
            }
            if next.run >= now.run {
                return None;
            }
        }
    }
}

#[allow(clippy::cast_precision_loss)] // exact for centuries
fn float(tick: Tick) -> f64 {
    tick.get() as f64
}

/// Played ticks, whole ones.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held at zero
fn whole(played: f64) -> Tick {
    Tick::new(played.max(0.0) as u64)
}

impl Conductor<'_, '_> {
    /// Tells what was asked and answered, and what the player did, some time ago.
    pub(super) fn tell_cues(&mut self) {
        self.tell_cues_before(LATER_NS);
    }

    /// The same up to now: playing is over.
    pub(super) fn tell_last_cues(&mut self) {
        self.tell_cues_before(0);
    }

    fn tell_cues_before(&mut self, later_ns: u64) {
        if self.cues.is_empty() {
            return;
        }
        let Some(now) = self.lanes.first().and_then(Lane::time) else {
            return;
        };
        let now = Nanos::new(now.get().saturating_sub(later_ns));
        // Each response after the cues that were heard before it.
        while let Some(&(id, instant)) = self.cues.responses.front() {
            let at = self.lanes.first().and_then(|lane| lane.time_at(instant));
            if at.is_some_and(|at| at > now) {
                break;
            }
            self.cues.responses.pop_front();
            // What was done before the start answers nothing.
            if let Some(here) = at.and_then(|at| self.map.at(at)) {
                self.tell_cues_until(&here);
                let at = whole(here.played);
                self.notify(Notice::Responded { id, at });
            }
        }
        if let Some(here) = self.map.at(now) {
            self.tell_cues_until(&here);
        }
    }

    fn tell_cues_until(&mut self, here: &PlayedAt) {
        while let Some(Coming { tick, kind, id, .. }) = self.cues.heard(here) {
            let at = whole(here.played - (here.tick - float(tick)));
            self.notify(match kind {
                Kind::Ask => Notice::Asked { id, at },
                Kind::Answer => Notice::Answered { id, at },
            });
        }
    }
}
