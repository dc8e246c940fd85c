//! Where a dispatcher is: each state holds only what has a meaning in it. `DEVELOPERS.md` lists them in a table, which
//! tests read.

use crate::time::{Nanos, Tick};

/// Where it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum State {
    /// Time goes on.
    Moving(Stage),
    /// It is paused, and will go on where it was.
    Paused {
        /// The time at which it was paused.
        since: Nanos,
        /// Where it was.
        stage: Stage,
    },
    /// The end was reached, or a stop was asked for.
    Over,
}

/// Where it is among the runs of bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// No run has begun, or one was left: the origin of the next has not come.
    Waiting(Gap),
    /// A run plays.
    Playing(Playing),
}

/// Between two runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Gap {
    /// When the next run is to begin, at the earliest.
    pub(super) line: Nanos,
    /// Ticks played until then.
    pub(super) played: Tick,
    /// So many ticks of its first bar are to be passed over.
    pub(super) skip: u64,
}

impl Gap {
    /// A gap after which the next run is played from its beginning.
    pub(super) fn at(line: Nanos, played: Tick) -> Self {
        Gap {
            line,
            played,
            skip: 0,
        }
    }
}

/// A run that plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Playing {
    pub(super) pass: Pass,
    /// Whether the bar counts for a follower of the clock, as a count-in does not.
    pub(super) in_song: bool,
    /// The bar that plays, once its bar line has come.
    pub(super) bar: Option<Bar>,
    /// The run to leave for at the next bar line.
    pub(super) leaving: Option<Leaving>,
}

/// How entries are handled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pass {
    /// They go out at their times.
    Through,
    /// The first ticks of the run are passed over; what is held after them will be struck.
    Entering,
    /// After a stall what was missed is passed over, until the next bar line.
    Rejoining {
        /// Ticks played before the stall.
        played: Tick,
    },
}

/// The bar that plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Bar {
    /// The played tick at which it ends.
    pub(super) end: Tick,
    /// The song ticks of what follows, where that is not simply the next bar.
    pub(super) then: Option<u64>,
}

/// A jump to come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Leaving {
    /// To which run.
    pub(super) run: u32,
    /// The song ticks of its first bar.
    pub(super) song: u64,
}

impl State {
    /// Since when it is paused.
    pub(super) fn since(&self) -> Option<Nanos> {
        match self {
            State::Paused { since, .. } => Some(*since),
            State::Moving(_) | State::Over => None,
        }
    }

    /// Whether bars go on: time moves, and what is due is sent.
    pub(super) fn runs(&self) -> bool {
        match self {
            State::Moving(Stage::Playing(playing)) => {
                !matches!(playing.pass, Pass::Rejoining { .. })
            }
            _ => false,
        }
    }

    /// The run that plays, or is paused.
    pub(super) fn playing(&self) -> Option<&Playing> {
        match self {
            State::Moving(Stage::Playing(playing))
            | State::Paused {
                stage: Stage::Playing(playing),
                ..
            } => Some(playing),
            _ => None,
        }
    }

    pub(super) fn playing_mut(&mut self) -> Option<&mut Playing> {
        match self.stage_mut() {
            Some(Stage::Playing(playing)) => Some(playing),
            _ => None,
        }
    }

    /// Where it is, moving or not; `None` when it is over.
    pub(super) fn stage_mut(&mut self) -> Option<&mut Stage> {
        match self {
            State::Moving(stage) | State::Paused { stage, .. } => Some(stage),
            State::Over => None,
        }
    }
}
