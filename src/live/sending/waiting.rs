//! Waiting for a deadline: sleeping most of the way, spinning the rest.

use std::cell::{Cell, RefCell};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

/// How many wake-ups are remembered.
const KNOWN: usize = 256;

/// The least number of wake-ups that are relied on.
const ENOUGH: usize = 16;

/// How a thread spins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Spin {
    /// As long as needed to be on time nearly always.
    #[default]
    Freely,
    /// Briefly: longer spins are cut short.
    Sparingly,
}

/// How long before a deadline sleep should end, learned from how late the sleeps before it ended.
///
/// It is half as much again as 99 of 100 of the last 256 sleeps were late, kept between [`Margin::LEAST`] and
/// [`Margin::MOST`]; so it costs no more processor time than the machine needs.
///
/// Without priority on a busy machine a long spin is preempted: the thread has used up its time slice, and another gets
/// the processor for milliseconds. The longer the spin, the more often. So a thread to which that happens spins
/// sparingly ([`Margin::spin`]): its margin is what nine of ten sleeps were late, and no more.
#[derive(Clone, Debug)]
pub struct Margin {
    /// How late, in nanoseconds; a ring.
    late: [u32; KNOWN],
    next: usize,
    count: usize,
    margin: Duration,
    /// Whether something was noted since `margin` was worked out.
    stale: bool,
    spin: Spin,
}

impl Default for Margin {
    fn default() -> Self {
        Margin {
            late: [0; KNOWN],
            next: 0,
            count: 0,
            margin: Margin::FIRST,
            stale: false,
            spin: Spin::Freely,
        }
    }
}

impl Margin {
    /// The smallest margin.
    pub const LEAST: Duration = Duration::from_micros(50);
    /// The largest margin. Wake-ups later than this cannot be fixed by spinning.
    pub const MOST: Duration = Duration::from_micros(500);
    /// The largest margin of a thread that spins sparingly.
    pub const MOST_SPARING: Duration = Duration::from_micros(150);
    /// The margin before anything is known.
    pub const FIRST: Duration = Duration::from_micros(200);

    /// Notes that a sleep ended `late_ns` nanoseconds late.
    ///
    /// # Real time
    /// Does not allocate; takes the time of one store.
    pub fn note(&mut self, late_ns: u64) {
        self.late[self.next] = u32::try_from(late_ns).unwrap_or(u32::MAX);
        self.next = (self.next + 1) % KNOWN;
        self.count = (self.count + 1).min(KNOWN);
        self.stale = true;
    }

    /// The margin.
    ///
    /// # Real time
    /// Does not allocate. Looks through all that is remembered when something was noted since the last call, which takes
    /// a fraction of a microsecond: ask before a sleep, not after it.
    pub fn get(&mut self) -> Duration {
        if std::mem::take(&mut self.stale) && self.count >= ENOUGH {
            self.margin = match self.spin {
                Spin::Freely => {
                    let late = Duration::from_nanos(u64::from(self.nearly_worst()));
                    (late * 3 / 2).clamp(Margin::LEAST, Margin::MOST)
                }
                Spin::Sparingly => Duration::from_nanos(u64::from(self.nine_of_ten()))
                    .clamp(Margin::LEAST, Margin::MOST_SPARING),
            };
        }
        self.margin
    }

    /// Sets how the thread spins, which sets its margin.
    pub fn spin(&mut self, spin: Spin) {
        self.stale |= self.spin != spin;
        self.spin = spin;
    }

    /// The 90th percentile.
    fn nine_of_ten(&self) -> u32 {
        let mut late = self.late;
        let late = &mut late[..self.count];
        let rank = (self.count * 9).div_ceil(10).max(1);
        *late.select_nth_unstable(rank - 1).1
    }

    /// The 99th percentile.
    fn nearly_worst(&self) -> u32 {
        // The three latest, the latest first. With 256, the third is the one of rank 254 = 0.99 x 256, rounded up.
        let mut top = [0; 3];
        for late in &self.late[..self.count] {
            let mut late = *late;
            for place in &mut top {
                if late > *place {
                    std::mem::swap(&mut late, place);
                }
            }
        }
        let rank = (self.count * 99).div_ceil(100);
        top[self.count - rank]
    }
}

/// Longest sleep in one piece, so that a stop is heard within it even if a wake-up is lost.
const LONGEST_SLEEP: Duration = Duration::from_millis(10);

/// Sleeps until `length` is over or another thread wakes this one.
#[cfg(not(windows))]
fn nap(length: Duration) {
    thread::park_timeout(length);
}

/// The same where waking has the coarse resolution of the timer, a millisecond and more, and plain sleep is finer.
#[cfg(windows)]
fn nap(length: Duration) {
    const GRAIN: Duration = Duration::from_millis(2);
    if length > GRAIN {
        thread::park_timeout(length - GRAIN);
    } else {
        thread::sleep(length);
    }
}

/// A gap between two turns of a spin that can only mean that the thread was preempted.
const CUT: Duration = Duration::from_micros(200);

/// Weight of a preempted spin, against a wait without one.
const CUT_WEIGHS: u32 = 1024;

/// From this score on spins are kept short: after three preemptions in quick succession, until none has come for two
/// thousand waits.
const STRAINED: u32 = 2 * CUT_WEIGHS;

/// How one thread waits: what it learned of the machine so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Waiting {
    margin: RefCell<Margin>,
    woke_late_ns: Cell<Option<u64>>,
    /// Whether the next wait is the rest of one that was slept through already.
    near: Cell<bool>,
    /// How often spins were preempted lately.
    strain: Cell<u32>,
}

impl Waiting {
    /// Waits until nothing is `left`, or until `stop` is set; returns whether the wait was played out. `left` is asked
    /// again after each sleep, since a clock may be corrected meanwhile.
    ///
    /// # Real time
    /// Does not allocate. Sleeps to a learned margin before the end (see [`Margin`]) and spins the rest.
    pub(crate) fn wait_while(&self, stop: &AtomicBool, left: impl Fn() -> Duration) -> bool {
        self.woke_late_ns.set(None);
        let margin = if self.near.take() {
            // Another sleep would only make it late.
            2 * Margin::MOST
        } else {
            self.margin()
        };
        let mut spun: Option<Instant> = None;
        loop {
            if stop.load(Ordering::Relaxed) {
                return false;
            }
            let left = left();
            if let Some(before) = spun {
                let now = Instant::now();
                if now.saturating_duration_since(before) > CUT {
                    self.cut_short();
                }
                spun = Some(now);
            }
            if left.is_zero() {
                return true;
            }
            if left > margin {
                spun = None;
                self.sleep((left - margin).min(LONGEST_SLEEP));
            } else {
                spun = spun.or_else(|| Some(Instant::now()));
                std::hint::spin_loop();
            }
        }
    }

    /// The margin of a wait that begins.
    fn margin(&self) -> Duration {
        let strain = self.strain.get().saturating_sub(1);
        self.strain.set(strain);
        let mut margin = self.margin.borrow_mut();
        margin.spin(if strain > STRAINED {
            Spin::Sparingly
        } else {
            Spin::Freely
        });
        margin.get()
    }

    /// A spin was preempted.
    fn cut_short(&self) {
        self.strain
            .set((self.strain.get() + CUT_WEIGHS).min(2 * STRAINED));
    }

    /// Waits until no more than the margin is `left`, or until `news` is set; returns whether the wait was played out.
    ///
    /// # Real time
    /// Does not allocate.
    pub(crate) fn approach(&self, news: &AtomicBool, left: impl Fn() -> Duration) -> bool {
        self.woke_late_ns.set(None);
        let margin = self.margin();
        loop {
            if news.load(Ordering::Relaxed) {
                return false;
            }
            let left = left();
            if left <= margin {
                self.near.set(true);
                return true;
            }
            self.sleep((left - margin).min(LONGEST_SLEEP));
        }
    }

    /// Sleeps and notes how late the sleep ended; one that ended early, because the thread was woken, says nothing.
    fn sleep(&self, length: Duration) {
        let began = Instant::now();
        nap(length);
        let late = began.elapsed().checked_sub(length);
        let late = late.map(|late| u64::try_from(late.as_nanos()).unwrap_or(u64::MAX));
        if let Some(late) = late {
            self.margin.borrow_mut().note(late);
        }
        self.woke_late_ns.set(late);
    }

    /// How late the last sleep of the last wait ended, in nanoseconds; `None` where there was none or it was cut short.
    pub(crate) fn woke_late_ns(&self) -> Option<u64> {
        self.woke_late_ns.get()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn margin(late: impl IntoIterator<Item = u64>) -> Duration {
        let mut margin = Margin::default();
        for ns in late {
            margin.note(ns);
        }
        margin.get()
    }

    const US: u64 = 1000;

    #[test]
    fn little_known_changes_nothing() {
        assert_eq!(margin([]), Margin::FIRST);
        assert_eq!(margin([60 * US; 15]), Margin::FIRST);
        assert_eq!(margin([60 * US; 16]), Duration::from_micros(90));
    }

    #[test]
    fn it_is_kept_within_bounds() {
        assert_eq!(margin([0; 300]), Margin::LEAST);
        assert_eq!(margin([33 * US; 300]), Margin::LEAST);
        assert_eq!(margin([34 * US; 300]), Duration::from_micros(51));
        assert_eq!(margin([333 * US; 300]), Duration::from_nanos(499_500));
        assert_eq!(margin([334 * US; 300]), Margin::MOST);
        assert_eq!(margin([u64::MAX; 300]), Margin::MOST);
    }

    #[test]
    fn a_sparing_margin_is_what_nine_of_ten_were_late() {
        let late: Vec<u64> = (1..=100).map(|n| n * US).collect();
        let mut margin = Margin::default();
        for ns in late.iter().rev() {
            margin.note(*ns);
        }
        assert_eq!(margin.get(), Duration::from_nanos(148_500));
        margin.spin(Spin::Sparingly);
        assert_eq!(margin.get(), Duration::from_micros(90));
        margin.spin(Spin::Freely);
        assert_eq!(margin.get(), Duration::from_nanos(148_500));
        let mut margin = Margin::default();
        margin.spin(Spin::Sparingly);
        for _ in 0..256 {
            margin.note(2_000 * US);
        }
        assert_eq!(margin.get(), Margin::MOST_SPARING);
    }

    #[test]
    fn three_spins_cut_short_make_it_sparing_and_two_thousand_waits_end_that() {
        let waiting = Waiting::default();
        let sparing = |waiting: &Waiting| {
            waiting.margin();
            waiting.margin.borrow().spin == Spin::Sparingly
        };
        waiting.cut_short();
        waiting.cut_short();
        assert!(!sparing(&waiting));
        waiting.cut_short();
        assert!(sparing(&waiting));
        let mut waits = 0;
        while sparing(&waiting) {
            waits += 1;
        }
        assert_eq!(waits, 1021);
        for _ in 0..10 {
            waiting.cut_short();
        }
        waits = 0;
        while sparing(&waiting) {
            waits += 1;
        }
        assert_eq!(waits, 2047);
    }

    #[test]
    fn two_of_256_are_passed_over_and_a_third_counts() {
        let with = |high: usize| {
            let mut late = vec![40 * US; 256];
            late[..high].fill(200 * US);
            margin(late)
        };
        assert_eq!(with(2), Duration::from_micros(60));
        assert_eq!(with(3), Duration::from_micros(300));
    }

    #[test]
    fn what_is_long_past_is_forgotten() {
        let late = std::iter::repeat_n(300 * US, 256).chain([60 * US; 253]);
        assert_eq!(margin(late.clone()), Duration::from_micros(450));
        assert_eq!(margin(late.chain([60 * US])), Duration::from_micros(90));
    }

    proptest! {
        #[test]
        fn it_is_the_99th_of_100_by_sorting(late in prop::collection::vec(0u64..400_000, 16..600)) {
            let mut last: Vec<u64> = late.iter().rev().take(256).copied().collect();
            last.sort_unstable();
            let rank = (last.len() * 99).div_ceil(100);
            let expected = Duration::from_nanos(last[rank - 1]) * 3 / 2;
            prop_assert_eq!(margin(late), expected.clamp(Margin::LEAST, Margin::MOST));
        }
    }

    #[test]
    fn a_wait_that_slept_knows_how_late_it_woke_and_one_that_did_not_knows_nothing() {
        let (waiting, stop) = (Waiting::default(), AtomicBool::new(false));
        let asked = Cell::new(0);
        let left = || {
            asked.set(asked.get() + 1);
            Duration::from_millis(if asked.get() == 1 { 2 } else { 0 })
        };
        assert!(waiting.wait_while(&stop, left));
        assert_eq!(asked.get(), 2);
        assert!(waiting.woke_late_ns().is_some());
        assert!(waiting.wait_while(&stop, || Duration::ZERO));
        assert_eq!(waiting.woke_late_ns(), None);
        stop.store(true, Ordering::Relaxed);
        assert!(!waiting.wait_while(&stop, || Duration::from_secs(1)));
    }

    #[test]
    fn a_sleep_that_is_cut_short_is_not_counted() {
        let waiting = Waiting::default();
        thread::current().unpark();
        waiting.sleep(Duration::from_secs(60));
        assert_eq!(waiting.woke_late_ns(), None);
        assert_eq!(waiting.margin.borrow().count, 0);
    }

    #[test]
    #[cfg(debug_assertions)]
    fn waiting_takes_no_memory() {
        let (waiting, stop) = (Waiting::default(), AtomicBool::new(false));
        let before = assert_no_alloc::violation_count();
        assert_no_alloc::assert_no_alloc(|| {
            for _ in 0..40 {
                let end = Instant::now() + Duration::from_micros(600);
                waiting.wait_while(&stop, || end.saturating_duration_since(Instant::now()));
            }
        });
        assert_eq!(assert_no_alloc::violation_count(), before);
        assert!(waiting.margin.borrow().count > 0);
    }
}
