//! What was marked in the minute of free changes.

use super::MINUTE_BEATS;
use crate::time::{Meter, TICKS_PER_QUARTER, Tick};

/// Notes of a strum that was heard come within so many ticks of its first: 200 ms at 60 a minute. Our own choice: no
/// player changes so fast, and no strum takes so long.
const ONE_STRUM_TICKS: u64 = TICKS_PER_QUARTER / 5;

/// What a player marked in free changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Both chords rang.
    Clean,
    /// The last change did not ring.
    Missed,
    /// A note was heard: the first one of a strum is a change.
    Heard,
}

/// How many changes were made, in the minute of free changes or to a click.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FreeCount {
    /// Changes that were marked.
    pub changes: u32,
    /// Of these, how many were clean.
    pub clean: u32,
}

impl FreeCount {
    /// Counts the marks of a minute, each with the ticks played until then, in order; those of the count-in and of after the
    /// minute do not count.
    ///
    /// ```
    /// use fivefold::drill::{FreeCount, Mark};
    /// use fivefold::time::Tick;
    /// // A bar of count-in at 60 a minute: four seconds of 960 ticks each.
    /// let at = |tick, mark| (Tick::new(tick), mark);
    /// let marks = [at(3000, Mark::Clean), at(5000, Mark::Clean), at(6000, Mark::Missed)];
    /// assert_eq!(FreeCount::of(&marks, 1), FreeCount { changes: 2, clean: 1 });
    /// ```
    #[must_use]
    pub fn of(marks: &[(Tick, Mark)], count_in: u32) -> FreeCount {
        let first = u64::from(count_in) * Meter::COMMON.bar_ticks();
        let minute = first..first + u64::from(MINUTE_BEATS) * TICKS_PER_QUARTER;
        let mut count = FreeCount::default();
        let mut strum: Option<u64> = None;
        for (tick, mark) in marks {
            let tick = tick.get();
            if !minute.contains(&tick) {
                continue;
            }
            if *mark == Mark::Heard {
                if strum.is_some_and(|begun| tick < begun + ONE_STRUM_TICKS) {
                    continue;
                }
                strum = Some(tick);
            }
            count.changes += 1;
            count.clean += u32::from(*mark != Mark::Missed);
        }
        count
    }

    /// The tempo at which as many changes come in a minute, in whole beats a minute, 20 to 400; `None` without a change.
    #[must_use]
    pub fn tempo(&self, beats: u32) -> Option<u32> {
        (self.changes > 0).then(|| (self.changes * beats).clamp(20, 400))
    }

    /// The outcome under which the pair is remembered: `right` where 95 of 100 changes were clean, `late` where 85 were,
    /// else `missed`; `unsure` without a change. The numbers are our own choice, the same as for strokes to a click.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self.clean * 100 {
            _ if self.changes == 0 => "unsure",
            clean if clean >= 95 * self.changes => "right",
            clean if clean >= 85 * self.changes => "late",
            _ => "missed",
        }
    }
}
