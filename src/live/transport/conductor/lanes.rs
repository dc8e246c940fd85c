//! The lanes that play together: all get the same entries and wishes at the same time.

use super::notice::Notices;
use super::wishes::Wishes;
use crate::live::transport::{Here, Lane, LaneError};
use crate::time::{Nanos, Timed};

/// With several lanes, a wish takes effect this much after the time the first may have reached, so that all of them get
/// it before.
const TOGETHER_NS: u64 = 5_000_000;

/// See the module.
pub(super) struct Lanes<'a, 'b> {
    pub(super) each: &'a mut [&'b mut dyn Lane],
    begun: bool,
    pub(super) wishes: Wishes,
}

impl<'a, 'b> Lanes<'a, 'b> {
    pub(super) fn new(each: &'a mut [&'b mut dyn Lane]) -> Self {
        Lanes {
            each,
            begun: false,
            wishes: Wishes::default(),
        }
    }

    /// Whether they have begun to play.
    pub(super) fn have_begun(&self) -> bool {
        self.begun
    }

    /// Has them begin, once.
    pub(super) fn begin(&mut self) -> Result<(), LaneError> {
        if !std::mem::replace(&mut self.begun, true) {
            for lane in self.each.iter_mut() {
                lane.begin()?;
            }
        }
        Ok(())
    }

    /// The lane whose time and place hold for all.
    pub(super) fn first(&self) -> Option<&dyn Lane> {
        self.each.first().map(|lane| &**lane as &dyn Lane)
    }

    /// What it plays.
    pub(super) fn here(&self) -> Option<Here> {
        self.first().map(Lane::place)
    }

    /// Hands over the wishes that wait, once every lane has room for all of them; they take effect in all at the same time.
    /// Then the listener is told.
    pub(super) fn hand_over_wishes(&mut self, notices: &mut Notices<'_>) {
        let waiting = self.wishes.len();
        if waiting == 0 || self.each.iter().any(|lane| lane.room() < waiting) {
            return;
        }
        let at = match &*self.each {
            [_] | [] => Nanos::ZERO,
            [first, ..] => self.together(first.now()),
        };
        for (what, notice) in self.wishes.take() {
            for lane in self.each.iter_mut() {
                lane.wish(Timed { at, what });
            }
            if let Some(notice) = notice {
                notices.give(notice);
            }
        }
    }

    /// When a wish that is made when the first lane has reached `now` takes effect in all.
    pub(super) fn together(&self, now: Nanos) -> Nanos {
        let grain = self.first().map_or(0, |lane| lane.grain().get());
        Nanos::new(now.get() + grain + TOGETHER_NS)
    }

    /// How many have played what they were given, or have broken off.
    pub(super) fn ended(&mut self) -> Result<usize, LaneError> {
        let mut ended = 0;
        for lane in self.each.iter_mut() {
            ended += usize::from(lane.is_over()?);
        }
        Ok(ended)
    }

    /// Closes all; returns the first failure.
    pub(super) fn close(&mut self) -> Result<(), LaneError> {
        let mut outcome = Ok(());
        for lane in self.each.iter_mut() {
            let closed = lane.close();
            outcome = outcome.and(closed);
        }
        outcome
    }
}
