//! Tap tempo: the beat worked out from a few taps.

use crate::time::Nanos;

/// How many taps are remembered.
const KNOWN: usize = 8;

/// A tap sooner than this after the last, in nanoseconds, is a bounce: the fastest beat takes half as long again.
const BOUNCE_NS: u64 = 100_000_000;

/// A gap longer than this, in nanoseconds, ends what was tapped: the slowest beat, and half a second of patience.
const LONGEST_GAP_NS: u64 = 3_500_000_000;

/// The beat that is answered, in nanoseconds: 400 to 20 a minute.
const SHORTEST_NS: i128 = 150_000_000;
const LONGEST_NS: i128 = 3_000_000_000;

/// An interval that differs from the beat so far by more than two fifths is another beat, or a tap was left out: that
/// would be twice or half of it. Fingers vary far less.
const SHARE: (u64, u64) = (2, 5);

/// The beat by the last taps, up to eight.
///
/// It is the slope of the straight line through time over number, by least squares. If the taps' errors are random and
/// independent, no other linear estimate is better (Gauss and Markov): with eight taps its standard deviation is
/// sqrt(12 / (8^3 - 8)) = 0.15 of a tap's, against 0.20 for the mean of the intervals. Taps that do not belong to the
/// row make it begin anew, so it need not be robust itself.
///
/// ```
/// use fivefold::live::Tapping;
/// use fivefold::time::Nanos;
/// let mut tapping = Tapping::default();
/// assert_eq!(tapping.tap(Nanos::new(1_000_000_000)), None);
/// // Half a second on: 120 a minute.
/// assert_eq!(tapping.tap(Nanos::new(1_500_000_000)), Some(Nanos::new(500_000_000)));
/// ```
#[derive(Clone, Copy, Debug, Default)]
pub struct Tapping {
    /// When, the oldest first.
    taps: [Nanos; KNOWN],
    count: usize,
    beat: Option<Nanos>,
}

impl Tapping {
    /// Takes in a tap at `at`, a time of any monotonic clock, and returns how long a beat lasts by now, 150 ms to 3 s
    /// (400 to 20 a minute): from the second tap on.
    ///
    /// A tap less than 100 ms after the last, or before it, is a bounce and changes nothing. After 3.5 s without one,
    /// and where the interval differs by more than two fifths from the beat so far, tapping begins anew with this tap.
    ///
    /// # Real time
    /// Does not allocate or block.
    pub fn tap(&mut self, at: Nanos) -> Option<Nanos> {
        if let Some(last) = self.count.checked_sub(1).map(|i| self.taps[i]) {
            let interval = at.get().saturating_sub(last.get());
            if interval < BOUNCE_NS {
                return self.beat;
            }
            let strange = self.beat.is_some_and(|beat| {
                u128::from(interval.abs_diff(beat.get())) * u128::from(SHARE.1)
                    > u128::from(beat.get()) * u128::from(SHARE.0)
            });
            if strange || interval > LONGEST_GAP_NS {
                self.count = 0;
            }
        }
        if self.count == KNOWN {
            self.taps.rotate_left(1);
            self.count -= 1;
        }
        self.taps[self.count] = at;
        self.count += 1;
        self.beat = slope(&self.taps[..self.count]);
        self.beat
    }
}

/// The slope of time over number by least squares, held within the range of beats; `None` for a single tap.
///
/// With n taps t_0 to t_{n-1} it is 6 sum (2 i - n + 1) t_i / (n (n^2 - 1)).
fn slope(taps: &[Nanos]) -> Option<Nanos> {
    let first = taps.first()?.get();
    let n = i128::try_from(taps.len()).ok()?;
    let sum: i128 = (0..)
        .zip(taps)
        .map(|(i, at)| (2 * i - n + 1) * i128::from(at.get() - first))
        .sum();
    let ns = (6 * sum).checked_div(n * (n * n - 1))?;
    let ns = ns.clamp(SHORTEST_NS, LONGEST_NS);
    u64::try_from(ns).ok().map(Nanos::new)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const MS: u64 = 1_000_000;

    /// What is answered to each tap, times in milliseconds.
    fn answers(at_ms: &[u64]) -> Vec<Option<u64>> {
        let mut tapping = Tapping::default();
        let answer = |at: &u64| tapping.tap(Nanos::new(at * MS)).map(|ns| ns.get() / MS);
        at_ms.iter().map(answer).collect()
    }

    #[test]
    fn the_second_tap_is_answered_and_later_ones_refine_it() {
        // Through 0, 510, 1000: (1000 - 0) / 2. Through 0, 510, 1000, 1520 by hand: (3 x 1520 + 490) / 10.
        let found = answers(&[0, 510, 1000, 1520]);
        assert_eq!(found, [None, Some(510), Some(500), Some(505)]);
    }

    #[test]
    fn a_bounce_changes_nothing() {
        let found = answers(&[0, 30, 500, 599, 1000, 1500]);
        let beat = Some(500);
        assert_eq!(found, [None, None, beat, beat, beat, beat]);
        // At 100 ms it is a tap, and no beat so short is answered.
        assert_eq!(answers(&[0, 99]), [None, None]);
        assert_eq!(answers(&[0, 100]), [None, Some(150)]);
        // A clock that runs backwards.
        assert_eq!(answers(&[5000, 4000]), [None, None]);
    }

    #[test]
    fn a_pause_begins_anew() {
        assert_eq!(
            answers(&[0, 3500, 7001, 7401]),
            [None, Some(3000), None, Some(400)]
        );
    }

    #[test]
    fn another_beat_begins_anew_and_so_does_a_tap_left_out() {
        assert_eq!(
            answers(&[0, 500, 1000, 1701, 2401]),
            [None, Some(500), Some(500), None, Some(700)]
        );
        assert_eq!(
            answers(&[0, 500, 1000, 1299, 1599]),
            [None, Some(500), Some(500), None, Some(300)]
        );
        // Two fifths longer is still the same beat: through 0, 500, 1200.
        assert_eq!(answers(&[0, 500, 1200]), [None, Some(500), Some(600)]);
        assert_eq!(
            answers(&[0, 500, 1500, 2000]),
            [None, Some(500), None, Some(500)]
        );
    }

    #[test]
    fn only_the_last_eight_count() {
        // Eight at 500 and then seven at 600: the first of the last eight is the last of the eight.
        let mut at: Vec<u64> = (0..8).map(|i| 500 * i).collect();
        at.extend((1..8).map(|i| 3500 + 600 * i));
        assert_eq!(answers(&at).last(), Some(&Some(600)));
        assert_eq!(answers(&at[..14]).last(), Some(&Some(591)));
    }

    proptest! {
        #[test]
        fn the_beat_is_that_of_the_normal_equations(
            beat in 150u64..=2500, off in prop::collection::vec(0u64..=20, 2..20),
        ) {
            let at: Vec<u64> = (0..).zip(&off).map(|(i, off)| i * beat + off).collect();
            let found = answers(&at).last().copied().flatten().unwrap();
            let last = &at[at.len().saturating_sub(8)..];
            #[allow(clippy::cast_precision_loss)]
            let points: Vec<(f64, f64)> = last.iter().enumerate().map(|(i, t)| (i as f64, *t as f64)).collect();
            #[allow(clippy::cast_precision_loss)]
            let n = points.len() as f64;
            let sum = |f: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>();
            let (x, y, xx, xy) = (sum(&|p| p.0), sum(&|p| p.1), sum(&|p| p.0 * p.0), sum(&|p| p.0 * p.1));
            let exact = (n * xy - x * y) / (n * xx - x * x);
            #[allow(clippy::cast_precision_loss)]
            let found = found as f64;
            // Answers are cut to milliseconds here.
            prop_assert!(exact.max(150.0) - found < 1.001 && found - exact.max(150.0) < 0.001, "{} for {}", found, exact);
        }

        #[test]
        fn eight_taps_are_nearer_than_their_jitter(
            beat in 300u64..=2500, off in prop::array::uniform8(0u64..=40), start in 0u64..1_000_000,
        ) {
            let at: Vec<u64> = (0..).zip(&off).map(|(i, off)| start + i * beat + off).collect();
            let found = answers(&at).last().copied().flatten().unwrap();
            // The worst that offsets of 20 ms to either side can do: 20 x 6 x sum |2 i - 7| / (8 x 63) = 7.6.
            prop_assert!(found.abs_diff(beat) <= 8, "{} for {}", found, beat);
        }

        #[test]
        fn whatever_is_tapped_the_answer_is_within_the_range(at in prop::collection::vec(any::<u64>(), 0..40), sort: bool) {
            let mut at = at;
            if sort {
                at.sort_unstable();
            }
            let mut tapping = Tapping::default();
            for at in at {
                if let Some(beat) = tapping.tap(Nanos::new(at)) {
                    prop_assert!((150 * MS..=3000 * MS).contains(&beat.get()));
                }
            }
        }
    }

    #[test]
    #[cfg(debug_assertions)]
    fn tapping_takes_no_memory() {
        let mut tapping = Tapping::default();
        let before = assert_no_alloc::violation_count();
        let beat = assert_no_alloc::assert_no_alloc(|| {
            (0..100).fold(None, |_, i| tapping.tap(Nanos::new(i * 437 * MS)))
        });
        assert_eq!(assert_no_alloc::violation_count(), before);
        assert_eq!(beat, Some(Nanos::new(437 * MS)));
    }
}
