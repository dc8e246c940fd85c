//! What the listener is told.

use crate::live::following::FollowState;

/// What the listener is told while it plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// The tempo is now so many thousandths of a beat a minute, the plan's times so many millionths.
    Tempo {
        /// Thousandths of a beat a minute.
        milli_beats: u32,
        /// Millionths of the plan.
        millionths: u32,
    },
    /// What was asked for is beyond what can be played.
    TempoLimit,
    /// There is no bar to go to.
    NoBar,
    /// It stands still.
    Stands,
    /// It goes on.
    GoesOn,
    /// These bars are played again and again.
    Loops {
        /// The first.
        first: i64,
        /// The last.
        last: i64,
    },
    /// The bar that is the first of a loop to come.
    Marked(i64),
    /// What this lane plays to is gone; the piece stands still until it is back.
    Gone(usize),
    /// It is back.
    Back(usize),
    /// What is known of the clock that is followed has changed.
    Clock(FollowState),
    /// The other device has begun to play, or plays from another place: from this bar.
    Led(i64),
    /// Another device leads: the tempo is its.
    TempoIsLed,
}

/// Who tells the listener, if anybody does.
#[derive(Default)]
pub(super) struct Telling<'a>(Option<&'a mut dyn FnMut(Told)>);

impl<'a> Telling<'a> {
    pub(super) fn to(tell: &'a mut dyn FnMut(Told)) -> Self {
        Telling(Some(tell))
    }

    pub(super) fn tell(&mut self, told: Told) {
        if let Some(tell) = &mut self.0 {
            tell(told);
        }
    }
}
