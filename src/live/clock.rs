//! Clocks to send by.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crate::time::Nanos;

/// A clock that can be waited on. Time counts from when playing began.
pub trait Clock: Send {
    /// The time now.
    fn now(&self) -> Nanos;

    /// Waits until `deadline`, or until `stop` is set; answers whether the deadline was reached.
    ///
    /// # Real time
    /// Does not allocate. Never returns `true` before the deadline.
    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool;

    /// Waits a little for news from another thread.
    fn idle(&self);
}

impl Clock for Box<dyn Clock> {
    fn now(&self) -> Nanos {
        (**self).now()
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        (**self).wait_until(deadline, stop)
    }

    fn idle(&self) {
        (**self).idle();
    }
}

/// The machine's monotonic clock.
#[derive(Clone, Copy, Debug)]
pub struct MonotonicClock {
    origin: Instant,
}

/// The last stretch before a deadline is spun, since a sleeping thread wakes tens of microseconds late.
const SPIN: Duration = Duration::from_micros(200);

/// Longest sleep in one piece, so that a stop is heard within it even if a wake-up is lost.
const LONGEST_SLEEP: Duration = Duration::from_millis(10);

/// Waits until nothing is `left`, or until `stop` is set; answers whether the wait was played out. What is left is asked
/// again after each sleep, since a clock may be corrected meanwhile.
///
/// # Real time
/// Does not allocate. Sleeps to 200 us before the end and spins the rest.
pub(crate) fn wait_while(stop: &AtomicBool, left: impl Fn() -> Duration) -> bool {
    loop {
        if stop.load(Ordering::Relaxed) {
            return false;
        }
        let left = left();
        if left.is_zero() {
            return true;
        }
        if left > SPIN {
            thread::park_timeout((left - SPIN).min(LONGEST_SLEEP));
        } else {
            std::hint::spin_loop();
        }
    }
}

impl MonotonicClock {
    /// A clock whose time 0 lies `lead` from now.
    pub fn starting_in(lead: Duration) -> Self {
        MonotonicClock {
            origin: Instant::now() + lead,
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
        wait_while(stop, || deadline.saturating_duration_since(Instant::now()))
    }

    fn idle(&self) {
        thread::park_timeout(Duration::from_millis(1));
    }
}

/// A clock for tests: waiting moves it on.
#[derive(Clone, Debug, Default)]
pub struct VirtualClock {
    now: Arc<AtomicU64>,
    /// Added to every wait, as a busy machine would.
    oversleep_ns: u64,
}

impl VirtualClock {
    /// A clock that oversleeps every wait by `ns`.
    pub fn oversleeping(ns: u64) -> Self {
        VirtualClock {
            oversleep_ns: ns,
            ..VirtualClock::default()
        }
    }
}

impl Clock for VirtualClock {
    fn now(&self) -> Nanos {
        Nanos::new(self.now.load(Ordering::SeqCst))
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        if stop.load(Ordering::SeqCst) {
            return false;
        }
        if self.now() < deadline {
            self.now
                .store(deadline.get() + self.oversleep_ns, Ordering::SeqCst);
        }
        true
    }

    fn idle(&self) {
        thread::yield_now();
    }
}
