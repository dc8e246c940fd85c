//! Where the listener wants the piece to be: each state holds only what has a meaning in it. `DEVELOPERS.md` lists them
//! in a table, which tests read.

/// What the piece does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum State {
    /// The piece plays.
    Playing,
    /// The piece is paused.
    Paused {
        /// The bar it goes on with, if another was asked for meanwhile.
        at: Option<i64>,
    },
    /// What a lane plays to is gone, and everything is paused until it is back.
    Lost {
        /// The lane, by its place in the list.
        lane: usize,
        /// What to do once it is back.
        then: Then,
        /// The bar it goes on with, if another was asked for meanwhile.
        at: Option<i64>,
    },
}

/// What the piece does when a port is back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Then {
    /// It begins its bar again, after a count-in.
    Play,
    /// It stays paused, as it was before.
    Pause,
}

/// Where the piece is to go. Of several jumps asked for in one turn the last counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Jump {
    /// To this bar at the next bar line.
    Leave { bar: i64, sake: Sake },
    /// To this bar now.
    Begin { bar: i64, count_in: CountIn },
}

/// Why a jump is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sake {
    /// It was asked for.
    Asked,
    /// For a loop whose turn comes too late for the bars already handed over; without the loop it is not needed.
    Loop,
}

/// Whether a bar of count-in comes before a bar, where there can be one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CountIn {
    With,
    Without,
}

/// The loop that plays, and the one that is being marked: either may be there without the other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Loops {
    /// Its first and its last bar.
    pub(super) playing: Option<(i64, i64)>,
    /// The first bar of the one to come.
    pub(super) marked: Option<i64>,
}

impl Loops {
    /// The bar that follows `bar` where that is the last of the loop.
    pub(super) fn turn(&self, bar: i64) -> Option<i64> {
        let (first, last) = self.playing?;
        (bar == last).then_some(first)
    }
}

impl State {
    /// Whether it is paused, for whatever reason.
    pub(super) fn is_paused(&self) -> bool {
        *self != State::Playing
    }

    /// Where it is paused: the bar it goes on with.
    pub(super) fn at_mut(&mut self) -> Option<&mut Option<i64>> {
        match self {
            State::Playing => None,
            State::Paused { at } | State::Lost { at, .. } => Some(at),
        }
    }
}
