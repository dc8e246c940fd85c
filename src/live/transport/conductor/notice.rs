//! Notices: what the listener is told.

use crate::event::PartId;
use crate::live::following::FollowState;
use crate::time::Tick;

/// What the listener is told while it plays; each once all lanes have taken the wish behind it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Notice {
    /// The tempo is now so many thousandths of a beat a minute, the plan's times so many millionths.
    Tempo {
        /// Thousandths of a beat a minute.
        milli_beats: u32,
        /// Millionths of the plan.
        millionths: u32,
    },
    /// The tempo asked for is faster or slower than can be played.
    TempoLimit,
    /// One beat was tapped; with a second one there is a tempo.
    Tapped,
    /// Everything pitched is moved by so many semitones from the key as written, from the next chord on.
    Transposed(i8),
    /// This part is muted.
    Muted(PartId),
    /// This part is heard again.
    Unmuted(PartId),
    /// There is no bar to go to.
    NoBar,
    /// No pass comes after this one.
    LastPass,
    /// At the next bar line it goes to this bar.
    Goes(i64),
    /// It is paused, and will go on with this bar.
    GoesOnWith(i64),
    /// A bar is counted in, then this bar plays.
    CountsIn(i64),
    /// The piece is paused.
    Paused,
    /// The piece goes on.
    Resumed,
    /// These bars are played in a loop.
    Loops {
        /// The first bar of the loop.
        first: i64,
        /// The last bar of the loop.
        last: i64,
    },
    /// The bar that is the first of a loop to come.
    Marked(i64),
    /// No bars are played in a loop any more.
    LoopEnds,
    /// There is no loop to end.
    NoLoop,
    /// What this lane plays to is gone; the piece is paused until it is back.
    Gone(usize),
    /// What this lane plays to is back.
    Back(usize),
    /// What is known of the clock that is followed has changed.
    Clock(FollowState),
    /// The other device has begun to play, or plays from another place: from this bar.
    Led(i64),
    /// Another device leads, so the tempo cannot be set here.
    TempoIsLed,
    /// This ask of the piece is heard now.
    Asked {
        /// Which ask, from 1.
        id: u32,
        /// Ticks played until then: pauses do not count, repeated bars do.
        at: Tick,
    },
    /// The answer to this ask is heard now: the time to answer is over.
    Answered {
        /// Which ask, from 1.
        id: u32,
        /// Ticks played until then.
        at: Tick,
    },
    /// The player did something, sent by [`Control::Respond`](crate::live::Control::Respond).
    Responded {
        /// Its number, as it was sent.
        id: u32,
        /// Ticks played until then.
        at: Tick,
    },
}

/// Where notices go, if anywhere.
#[derive(Default)]
pub(super) struct Notices<'a>(Option<&'a mut dyn FnMut(Notice)>);

impl<'a> Notices<'a> {
    pub(super) fn to(take: &'a mut dyn FnMut(Notice)) -> Self {
        Notices(Some(take))
    }

    pub(super) fn give(&mut self, notice: Notice) {
        if let Some(take) = &mut self.0 {
            take(notice);
        }
    }
}
