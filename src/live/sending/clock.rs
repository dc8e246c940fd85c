//! Clocks to send by.

use std::sync::atomic::AtomicBool;
use std::thread;
use std::time::{Duration, Instant};

use super::waiting::Waiting;
use crate::time::Nanos;

/// A clock that can be waited on. Time counts from when playing began.
pub trait Clock: Send {
    /// The time now.
    fn now(&self) -> Nanos;

    /// Waits until `deadline`, or until `stop` is set; returns whether the deadline was reached.
    ///
    /// # Real time
    /// Does not allocate. Never returns `true` before the deadline.
    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool;

    /// Waits until shortly before `deadline`, which leaves time to prepare; [`Clock::wait_until`] does the rest. Ends
    /// early when `news` is set; returns whether it ran to its end. The default waits until the deadline.
    ///
    /// # Real time
    /// Does not allocate.
    fn approach(&self, deadline: Nanos, news: &AtomicBool) -> bool {
        self.wait_until(deadline, news)
    }

    /// Waits a little for news from another thread.
    fn idle(&self);

    /// Time 0 on the machine's monotonic clock, where this clock goes by that.
    fn origin(&self) -> Option<Instant> {
        None
    }

    /// How late the system ended the last sleep of the last wait, in nanoseconds; `None` where it did not sleep, was woken
    /// by another thread, or the clock does not know.
    ///
    /// # Real time
    /// Does not allocate.
    fn woke_late_ns(&self) -> Option<u64> {
        None
    }
}

impl Clock for Box<dyn Clock> {
    fn now(&self) -> Nanos {
        (**self).now()
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        (**self).wait_until(deadline, stop)
    }

    fn approach(&self, deadline: Nanos, news: &AtomicBool) -> bool {
        (**self).approach(deadline, news)
    }

    fn idle(&self) {
        (**self).idle();
    }

    fn origin(&self) -> Option<Instant> {
        (**self).origin()
    }

    fn woke_late_ns(&self) -> Option<u64> {
        (**self).woke_late_ns()
    }
}

/// The machine's monotonic clock.
#[derive(Clone, Debug)]
pub struct MonotonicClock {
    origin: Instant,
    waiting: Waiting,
}

impl MonotonicClock {
    /// A clock whose time 0 lies `lead` from now.
    pub fn starting_in(lead: Duration) -> Self {
        MonotonicClock {
            origin: Instant::now() + lead,
            waiting: Waiting::default(),
        }
    }

    fn instant(&self, at: Nanos) -> Instant {
        self.origin + at.as_duration()
    }
}

impl Clock for MonotonicClock {
    fn now(&self) -> Nanos {
        let gone = Instant::now().saturating_duration_since(self.origin);
        Nanos::new(u64::try_from(gone.as_nanos()).unwrap_or(u64::MAX))
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        let deadline = self.instant(deadline);
        self.waiting
            .wait_while(stop, || deadline.saturating_duration_since(Instant::now()))
    }

    fn approach(&self, deadline: Nanos, news: &AtomicBool) -> bool {
        let deadline = self.instant(deadline);
        self.waiting
            .approach(news, || deadline.saturating_duration_since(Instant::now()))
    }

    fn woke_late_ns(&self) -> Option<u64> {
        self.waiting.woke_late_ns()
    }

    fn idle(&self) {
        thread::park_timeout(Duration::from_millis(1));
    }

    fn origin(&self) -> Option<Instant> {
        Some(self.origin)
    }
}
