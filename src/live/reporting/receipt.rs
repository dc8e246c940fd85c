//! The receipt: the program's own account of how late its messages were.

use hdrhistogram::Histogram;
use serde::Serialize;

use super::drift::Drift;
use crate::live::os::Granted;
use crate::time::Nanos;

/// The smallest shift of one note in an even row that listeners notice where notes are close (Friberg and Sundberg
/// 1995).
pub const AUDIBLE_NS: u64 = 6_000_000;

/// How late messages were, in nanoseconds. Early counts as 0 late.
///
/// Serialized, the names of the fields are an interface. Quantiles are exact to 0.1 % up to a second.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Lateness {
    /// How many were measured.
    pub count: u64,
    /// Half were at most this late.
    pub median_ns: u64,
    /// 99 of 100 were at most this late.
    pub p99_ns: u64,
    /// 999 of 1000 were at most this late.
    pub p999_ns: u64,
    /// How late the latest was.
    pub worst_ns: u64,
    /// How many were more than 1 ms late.
    pub beyond_1_ms: u64,
    /// How many were more than 6 ms late: a listener may notice ([`AUDIBLE_NS`]).
    pub beyond_6_ms: u64,
}

/// The program's own account of one run: plain data, the same in text and JSON.
///
/// Serialized, the names of the fields are an interface; what is not known is `null`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Receipt {
    /// Messages sent; what silences at the end is not counted.
    pub sent: u64,
    /// Time between the deadlines of the first and the last of them, in nanoseconds.
    pub span_ns: u64,
    /// How late messages were handed to the driver.
    pub at_call: Lateness,
    /// How late the driver returned.
    pub at_return: Lateness,
    /// How late the system ended the sleeps before them. The part of it that is spun away does not make a message late.
    pub wake: Lateness,
    /// Messages sent before their time. Must be 0.
    pub early: u64,
    /// Messages the driver refused.
    pub refused: u64,
    /// Messages never handed to the driver, since it was gone or they were far too late.
    pub dropped: u64,
    /// How much later messages came as time went on, in billionths: 1000 is one part per million. The median slope of up to
    /// 256 messages spread over the run (Theil 1950), which a few late ones do not move.
    pub drift_ppb: Option<i64>,
    /// The lower end of the interval that holds the true drift in 95 of 100 runs (Sen 1968), as [`Receipt::drift_ppb`].
    pub drift_low_ppb: Option<i64>,
    /// The upper end.
    pub drift_high_ppb: Option<i64>,
    /// What the system gave the sending thread, where it was asked.
    pub granted: Option<Granted>,
    /// Time stolen by the host of a virtual machine meanwhile, over all processors, in nanoseconds.
    pub stolen_ns: Option<u64>,
}

/// A bounded record of lateness of one kind.
#[derive(Debug)]
struct Record {
    histogram: Histogram<u32>,
    worst: u64,
    beyond_1_ms: u64,
    beyond_6_ms: u64,
}

impl Record {
    fn new() -> Self {
        let histogram = match Histogram::new_with_bounds(1, 1_000_000_000, 3) {
            Ok(histogram) => histogram,
            Err(e) => unreachable!("from 1 ns to 1 s in three digits: {e}"),
        };
        Record {
            histogram,
            worst: 0,
            beyond_1_ms: 0,
            beyond_6_ms: 0,
        }
    }

    fn note(&mut self, late_ns: u64) {
        self.histogram.saturating_record(late_ns);
        self.worst = self.worst.max(late_ns);
        self.beyond_1_ms += u64::from(late_ns > 1_000_000);
        self.beyond_6_ms += u64::from(late_ns > AUDIBLE_NS);
    }

    fn sum_up(&self) -> Lateness {
        let at = |quantile| self.histogram.value_at_quantile(quantile).min(self.worst);
        Lateness {
            count: self.histogram.len(),
            median_ns: at(0.5),
            p99_ns: at(0.99),
            p999_ns: at(0.999),
            worst_ns: self.worst,
            beyond_1_ms: self.beyond_1_ms,
            beyond_6_ms: self.beyond_6_ms,
        }
    }
}

/// Keeps the record from which a [`Receipt`] is written. It takes a quarter of a megabyte, however long the run.
#[derive(Debug)]
pub struct Recorder {
    at_call: Record,
    at_return: Record,
    wake: Record,
    early: u64,
    refused: u64,
    dropped: u64,
    /// Deadline and time of the call, of the first and the last message.
    first: Option<(Nanos, Nanos)>,
    last: Option<(Nanos, Nanos)>,
    drift: Drift,
}

impl Default for Recorder {
    fn default() -> Self {
        Recorder {
            at_call: Record::new(),
            at_return: Record::new(),
            wake: Record::new(),
            early: 0,
            refused: 0,
            dropped: 0,
            first: None,
            last: None,
            drift: Drift::default(),
        }
    }
}

impl Recorder {
    /// A message due at `deadline` was handed to the driver at `called`, which had taken it at `returned`.
    ///
    /// # Real time
    /// Does not allocate; takes some tens of nanoseconds. So do the others.
    pub fn sent(&mut self, deadline: Nanos, called: Nanos, returned: Nanos) {
        let late = |at: Nanos| at.get().saturating_sub(deadline.get());
        self.at_call.note(late(called));
        self.at_return.note(late(returned));
        self.early += u64::from(called < deadline);
        self.first.get_or_insert((deadline, called));
        self.last = Some((deadline, called));
        self.drift.note(deadline, called);
    }

    /// The sleep before a message ended `late_ns` nanoseconds late.
    pub fn woke(&mut self, late_ns: u64) {
        self.wake.note(late_ns);
    }

    /// The driver refused a message.
    pub fn refused(&mut self) {
        self.refused += 1;
    }

    /// So many messages were given up without asking the driver.
    pub fn dropped(&mut self, count: u64) {
        self.dropped += count;
    }

    /// The receipt so far; `stolen_ns` is the time that a host took meanwhile.
    ///
    /// # Real time
    /// Looks through the whole record: not between deadlines.
    pub fn receipt(&self, granted: Option<Granted>, stolen_ns: Option<u64>) -> Receipt {
        let ends = self.first.zip(self.last);
        let drift = self.drift.slope();
        let span = ends.map_or(0, |((first, _), (last, _))| {
            last.get().saturating_sub(first.get())
        });
        Receipt {
            sent: self.at_call.histogram.len(),
            span_ns: span,
            at_call: self.at_call.sum_up(),
            at_return: self.at_return.sum_up(),
            wake: self.wake.sum_up(),
            early: self.early,
            refused: self.refused,
            dropped: self.dropped,
            drift_ppb: drift.map(|drift| drift.ppb),
            drift_low_ppb: drift.map(|drift| drift.low_ppb),
            drift_high_ppb: drift.map(|drift| drift.high_ppb),
            granted,
            stolen_ns,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn recorded(late: &[u64]) -> Recorder {
        let mut recorder = Recorder::default();
        for (i, late) in (0u64..).zip(late) {
            let deadline = i * 1_000_000;
            let at = |more: u64| Nanos::new(deadline + late + more);
            recorder.sent(Nanos::new(deadline), at(0), at(5_000));
        }
        recorder
    }

    #[test]
    fn what_is_counted_beyond_a_bound_is_beyond_it() {
        let receipt =
            recorded(&[1_000_000, 1_000_001, 6_000_000, 6_000_001, 0]).receipt(None, None);
        assert_eq!(receipt.sent, 5);
        assert_eq!(receipt.at_call.beyond_1_ms, 3);
        assert_eq!(receipt.at_call.beyond_6_ms, 1);
        assert_eq!(receipt.at_call.worst_ns, 6_000_001);
        // The driver took 5 us each time.
        assert_eq!(receipt.at_return.beyond_1_ms, 4);
        assert_eq!(receipt.at_return.worst_ns, 6_005_001);
        assert_eq!(receipt.span_ns, 4_000_000);
    }

    #[test]
    fn early_refused_and_dropped_are_counted() {
        let mut recorder = Recorder::default();
        recorder.sent(Nanos::new(10), Nanos::new(9), Nanos::new(12));
        recorder.sent(Nanos::new(10), Nanos::new(10), Nanos::new(10));
        recorder.refused();
        recorder.dropped(3);
        recorder.woke(70);
        let receipt = recorder.receipt(Some(Granted::NOTHING), Some(5));
        assert_eq!((receipt.early, receipt.refused, receipt.dropped), (1, 1, 3));
        assert_eq!(receipt.at_call.worst_ns, 0);
        assert_eq!(receipt.at_return.worst_ns, 2);
        assert_eq!((receipt.wake.count, receipt.wake.worst_ns), (1, 70));
        assert_eq!(receipt.granted, Some(Granted::NOTHING));
        assert_eq!(receipt.stolen_ns, Some(5));
        // Two messages due at once: no time between them to compare with.
        assert_eq!(receipt.drift_ppb, None);
    }

    #[test]
    fn drift_is_told_with_its_sign_in_billionths() {
        let drift = |first_late: u64, last_late: u64| {
            let mut recorder = Recorder::default();
            for (deadline, late) in [(0, first_late), (60_000_000_000, last_late)] {
                let at = Nanos::new(deadline + late);
                recorder.sent(Nanos::new(deadline), at, at);
            }
            recorder.receipt(None, None).drift_ppb
        };
        assert_eq!(drift(0, 60_000), Some(1000));
        assert_eq!(drift(60_000, 0), Some(-1000));
        assert_eq!(drift(700, 700), Some(0));
    }

    #[test]
    fn an_empty_record_is_all_naught() {
        let receipt = Recorder::default().receipt(None, None);
        assert_eq!(receipt.at_call, Lateness::default());
        assert_eq!((receipt.sent, receipt.drift_ppb), (0, None));
    }

    proptest! {
        #[test]
        fn quantiles_are_those_of_sorting(mut late in prop::collection::vec(0u64..900_000_000, 1..400)) {
            let found = recorded(&late).receipt(None, None).at_call;
            late.sort_unstable();
            let rank = |thousandths: usize| late[(late.len() * thousandths).div_ceil(1000) - 1];
            for (found, exact) in [
                (found.median_ns, rank(500)),
                (found.p99_ns, rank(990)),
                (found.p999_ns, rank(999)),
            ] {
                prop_assert!(found >= exact && found <= exact + exact / 1000, "{} for {}", found, exact);
            }
            prop_assert_eq!(Some(&found.worst_ns), late.last());
            prop_assert_eq!(found.count, u64::try_from(late.len()).unwrap());
        }
    }

    #[test]
    fn what_takes_longer_than_the_record_reaches_is_still_the_worst() {
        let found = recorded(&[u64::MAX / 2]).receipt(None, None).at_call;
        assert_eq!((found.count, found.worst_ns), (1, u64::MAX / 2));
    }

    #[test]
    #[cfg(debug_assertions)]
    fn keeping_the_record_takes_no_memory() {
        let mut recorder = Recorder::default();
        let before = assert_no_alloc::violation_count();
        assert_no_alloc::assert_no_alloc(|| {
            for late in (0..4_000_000_000u64).step_by(1_234_567) {
                recorder.sent(Nanos::ZERO, Nanos::new(late), Nanos::new(2 * late));
                recorder.woke(late);
                recorder.refused();
                recorder.dropped(1);
            }
        });
        assert_eq!(assert_no_alloc::violation_count(), before);
        assert_eq!(recorder.at_call.histogram.len(), recorder.refused);
    }
}
