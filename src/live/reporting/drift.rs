//! Whether messages came later and later: a slope that is robust against a few late ones.

use crate::time::Nanos;

/// Points that are kept.
const KEPT: usize = 256;

/// Quantile of the normal distribution for an interval that holds the slope in 95 of 100 cases.
const Z95: f64 = 1.959_963_984_540_054;

/// A slope and its uncertainty, in billionths: 1000 is one part per million.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Slope {
    pub(super) ppb: i64,
    /// The ends of the interval that holds the true slope in 95 of 100 runs.
    pub(super) low_ppb: i64,
    pub(super) high_ppb: i64,
}

/// Deadlines and latenesses of messages evenly spread over a run, however long that is.
#[derive(Debug)]
pub(super) struct Drift {
    /// Deadline and lateness, in nanoseconds.
    points: [(u64, i64); KEPT],
    count: usize,
    /// One message of so many is kept.
    stride: u64,
    seen: u64,
}

impl Default for Drift {
    fn default() -> Self {
        Drift {
            points: [(0, 0); KEPT],
            count: 0,
            stride: 1,
            seen: 0,
        }
    }
}

#[allow(clippy::cast_precision_loss)] // exact for 104 days of nanoseconds
fn float(n: i64) -> f64 {
    n as f64
}

#[allow(clippy::cast_possible_truncation)] // saturates, which is what is wanted
fn billionths(slope: f64) -> i64 {
    (slope * 1e9).round() as i64
}

impl Drift {
    /// A message due at `deadline` went at `called`.
    ///
    /// # Real time
    /// Does not allocate.
    pub(super) fn note(&mut self, deadline: Nanos, called: Nanos) {
        let number = self.seen;
        self.seen += 1;
        if !number.is_multiple_of(self.stride) {
            return;
        }
        if self.count == KEPT {
            // Every second one goes.
            for i in 0..KEPT / 2 {
                self.points[i] = self.points[2 * i];
            }
            self.count = KEPT / 2;
            self.stride *= 2;
        }
        let late = i128::from(called.get()) - i128::from(deadline.get());
        let late = i64::try_from(late).unwrap_or(i64::MAX);
        self.points[self.count] = (deadline.get(), late);
        self.count += 1;
    }

    /// The median of the slopes between any two points (Theil 1950), with the interval of Sen (1968) from the distribution of
    /// Kendall's statistic; `None` where no time passed. Held to scipy's `theilslopes`.
    ///
    /// # Real time
    /// Allocates and sorts: not between deadlines.
    pub(super) fn slope(&self) -> Option<Slope> {
        let points = &self.points[..self.count];
        let mut slopes: Vec<f64> = Vec::with_capacity(points.len() * points.len() / 2);
        for (i, a) in points.iter().enumerate() {
            for b in &points[i + 1..] {
                let time = i64::try_from(b.0.abs_diff(a.0)).unwrap_or(i64::MAX);
                let later = if b.0 >= a.0 { b.1 - a.1 } else { a.1 - b.1 };
                if time > 0 {
                    slopes.push(float(later) / float(time));
                }
            }
        }
        if slopes.is_empty() {
            return None;
        }
        slopes.sort_unstable_by(f64::total_cmp);
        let middle = slopes.len() / 2;
        let median = if slopes.len() % 2 == 1 {
            slopes[middle]
        } else {
            f64::midpoint(slopes[middle - 1], slopes[middle])
        };
        let term =
            |n: usize| float(i64::try_from(n * n.saturating_sub(1) * (2 * n + 5)).unwrap_or(0));
        let ties = |mut values: Vec<i64>| -> f64 {
            values.sort_unstable();
            values
                .chunk_by(|a, b| a == b)
                .map(|tied| term(tied.len()))
                .sum()
        };
        let at = ties(
            points
                .iter()
                .map(|p| i64::try_from(p.0).unwrap_or(i64::MAX))
                .collect(),
        );
        let late = ties(points.iter().map(|p| p.1).collect());
        let sigma = ((term(points.len()) - at - late).max(0.0) / 18.0).sqrt();
        let all = float(i64::try_from(slopes.len()).unwrap_or(i64::MAX));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // places in the list
        let place = |x: f64| x.round_ties_even().max(0.0) as usize;
        let low = place((all - Z95 * sigma) / 2.0).saturating_sub(1);
        let high = place((all + Z95 * sigma) / 2.0).min(slopes.len() - 1);
        Some(Slope {
            ppb: billionths(median),
            low_ppb: billionths(slopes[low]),
            high_ppb: billionths(slopes[high]),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of deadlines and latenesses, and what scipy makes of them.
    const TABLE: &str = include_str!("../../../tests/reference/drift.tsv");

    fn drift(points: impl IntoIterator<Item = (u64, i64)>) -> Drift {
        let mut drift = Drift::default();
        for (deadline, late) in points {
            let called = deadline.checked_add_signed(late).unwrap();
            drift.note(Nanos::new(deadline), Nanos::new(called));
        }
        drift
    }

    #[test]
    fn slope_and_doubt_are_scipys() {
        let mut rows = 0;
        for line in TABLE
            .lines()
            .filter(|l| !l.is_empty() && !l.starts_with('#'))
        {
            let fields: Vec<&str> = line.split('\t').collect();
            let numbers =
                |text: &str| -> Vec<i64> { text.split(' ').map(|n| n.parse().unwrap()).collect() };
            let (at, late) = (numbers(fields[1]), numbers(fields[2]));
            let points = at.iter().map(|at| u64::try_from(*at).unwrap()).zip(late);
            let slope = drift(points).slope().unwrap();
            for (found, field) in [slope.ppb, slope.low_ppb, slope.high_ppb]
                .iter()
                .zip(&fields[3..])
            {
                let expected: f64 = field.parse().unwrap();
                let off = (float(*found) - expected).abs();
                assert!(off <= 0.51, "{}: {found} for {expected}", fields[0]);
            }
            rows += 1;
        }
        assert_eq!(rows, 6);
    }

    #[test]
    fn one_late_message_at_an_end_is_no_drift() {
        // First and last alone would make -5610 parts per million of this.
        let late = |i: u64| {
            if i == 0 {
                5_610_000
            } else {
                1_000 + i64::try_from(i * 7 % 5).unwrap()
            }
        };
        let slope = drift((0..100).map(|i| (i * 10_101_010, late(i))))
            .slope()
            .unwrap();
        assert!(
            slope.ppb.abs() < 10 && slope.low_ppb <= 0 && slope.high_ppb >= 0,
            "{slope:?}"
        );
    }

    #[test]
    fn however_long_it_is_spread_over_all_of_it() {
        // 3 parts per million over 100 000 messages.
        let drift = drift((0..100_000u64).map(|i| (i * 1_000_000, i64::try_from(i * 3).unwrap())));
        assert!(drift.count > KEPT / 2 - 1 && drift.points[drift.count - 1].0 > 99_000_000_000);
        assert_eq!(drift.slope().unwrap().ppb, 3000);
        assert_eq!(Drift::default().slope(), None);
    }
}
