//! A dispatcher behind a sender, and the state shared by the sending thread and the main thread.

use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::Instant;

use super::sender::{Due, Stream};
use crate::live::dispatch::{Outgoing, Wish};
use crate::live::transport::{Condition, Ends, Intake, Place, channels};
use crate::midi::System;
use crate::time::{Nanos, Timed};

/// State shared by the sending thread and the lane.
#[derive(Debug, Default)]
pub(in crate::live) struct Shared {
    /// There is a wish, or a stop.
    pub(in crate::live) news: AtomicBool,
    /// The time at which the thread looked last, in nanoseconds.
    pub(in crate::live) now: AtomicU64,
    /// Time 0 on the machine's monotonic clock, once the thread has begun and where its clock goes by that.
    pub(in crate::live) origin: OnceLock<Instant>,
    pub(in crate::live) place: Place,
    /// The port is no longer listed.
    pub(in crate::live) missing: AtomicBool,
    /// See [`Condition`], in its order.
    condition: AtomicU8,
    /// Nobody wants the port any more.
    pub(in crate::live) done: AtomicBool,
    /// Stalls after which missed events were skipped.
    pub(in crate::live) stalls: AtomicU32,
    /// Messages later than [`HEARD_LATE`].
    pub(in crate::live) late: AtomicU64,
}

/// From how much on a late note is heard as late: the just noticeable displacement of one tone in an even row of two a
/// second is 2.5 % of the time between two (Friberg and Sundberg 1995).
const HEARD_LATE: Nanos = Nanos::new(12_500_000);

impl Shared {
    pub(in crate::live) fn condition(&self) -> Condition {
        match self.condition.load(Ordering::Acquire) {
            0 => Condition::Fine,
            1 => Condition::Gone,
            _ => Condition::Back,
        }
    }

    pub(in crate::live) fn set_condition(&self, condition: Condition) {
        let value = match condition {
            Condition::Fine => 0,
            Condition::Gone => 1,
            Condition::Back => 2,
        };
        self.condition.store(value, Ordering::Release);
    }
}

/// What keeps the time of a lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Timekeeping {
    /// The lane itself, so after a stall it may skip what was missed.
    Own,
    /// Another lane does.
    Led,
}

/// The dispatcher as the sender asks it.
pub(in crate::live) struct LiveStream {
    intake: Intake,
    pub(in crate::live) shared: Arc<Shared>,
    time: Timekeeping,
}

impl Stream for LiveStream {
    fn due(&mut self, now: &dyn Fn() -> Nanos) -> Due {
        let seen = now();
        if self.shared.news.swap(false, Ordering::AcqRel) && !self.intake.take_wishes(seen) {
            self.shared.news.store(true, Ordering::Release);
        }
        match self.time {
            Timekeeping::Own => {
                if self.intake.dispatcher.look_for_stall(seen) {
                    self.shared.stalls.fetch_add(1, Ordering::Relaxed);
                }
            }
            Timekeeping::Led => self.intake.dispatcher.look(seen),
        }
        // Not the due time: a wish may come before that.
        self.shared.now.store(seen.get(), Ordering::Release);
        let due = self.intake.dispatcher.due();
        self.shared.place.tell(&self.intake.dispatcher);
        match due {
            Some(at) => Due::At(at),
            None if self.intake.dispatcher.is_over() => Due::Over,
            None => Due::Nothing,
        }
    }

    fn step(&mut self) -> Option<Timed<Outgoing>> {
        self.intake.dispatcher.step()
    }

    fn sent(&mut self, late: Nanos) {
        if late > HEARD_LATE {
            self.shared.late.fetch_add(1, Ordering::Relaxed);
        }
    }

    fn waiting(&self) -> u64 {
        u64::try_from(self.intake.dispatcher.waiting()).unwrap_or(u64::MAX)
    }

    fn before(&mut self) -> Option<System> {
        self.intake.dispatcher.before()
    }

    fn is_gone(&self) -> bool {
        self.shared.missing.load(Ordering::Acquire)
    }

    fn lost(&mut self, now: Nanos) {
        let _ = self.intake.dispatcher.wish(Timed {
            at: now,
            what: Wish::Pause,
        });
        self.shared.set_condition(Condition::Gone);
    }

    fn returned(&mut self) {
        self.shared.missing.store(false, Ordering::Release);
        self.shared.set_condition(Condition::Back);
    }
}

/// What a sender plays, and the main thread's ends of the channels to it.
pub(in crate::live) fn live_stream() -> (LiveStream, Ends) {
    let (intake, ends) = channels();
    let live = LiveStream {
        intake,
        shared: Arc::new(Shared::default()),
        time: Timekeeping::Own,
    };
    (live, ends)
}

impl LiveStream {
    /// The same beside another that keeps the time.
    pub(in crate::live) fn following(self) -> Self {
        LiveStream {
            time: Timekeeping::Led,
            ..self
        }
    }

    /// The same, sending the MIDI clock as well.
    pub(in crate::live) fn with_clock(self) -> Self {
        LiveStream {
            intake: self.intake.with_clock(),
            ..self
        }
    }
}
