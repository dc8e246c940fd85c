//! Small differences of timing, as hands have them: the band drifts together, and each part a little by itself.
//!
//! The time of each part is bent by a curve that is a pure function of the tick, so a bar is the same however it is
//! reached. A curve is the sum of steps drawn anew every eighth, every two, four and more eighths, which makes slow
//! differences larger than quick ones, as in the playing that Hennig and others measured ("The nature and perception of
//! fluctuations in human musical rhythms", PLoS ONE 6, 2011; from memory). Sizes are shares of a beat, since people's
//! timing is a share of the interval; they are choices of ours, below what is measured in tapping.

use crate::generate::Chance;
use crate::time::{TICKS_PER_QUARTER, Tick};

/// Ticks from one point of a curve to the next; between them it is straight.
const APART: u64 = TICKS_PER_QUARTER / 2;
/// Most ticks that anything is early or late by: 3 % of a quarter note.
pub(super) const MOST_TICKS: i64 = 30;
/// How many steps make the curve of the band, of a part, and how large each may be in ticks.
const BAND: (u32, u32) = (5, 6);
const PART: (u32, u32) = (3, 4);

/// The timing of a band that does not play like a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Hands {
    seed: u64,
}

impl Hands {
    /// The hands of a piece with this seed.
    pub(super) const fn new(seed: u64) -> Self {
        Hands { seed }
    }

    /// When `part` plays what stands at `tick`. Of two ticks the later is never played before the earlier.
    pub(super) fn played(&self, part: &str, tick: Tick) -> Tick {
        let (point, within) = (tick.get() / APART, tick.get() % APART);
        let (from, to) = (self.point(part, point), self.point(part, point + 1));
        let within = i64::try_from(within).unwrap_or(0);
        let apart = i64::try_from(APART).unwrap_or(1);
        // Rounded down, so that the order of ticks is kept.
        let lag = from + ((to - from) * within).div_euclid(apart);
        Tick::new(tick.get().saturating_add_signed(lag))
    }

    /// Ticks that `part` is late by at a point of its curve.
    fn point(&self, part: &str, point: u64) -> i64 {
        let sum = self.curve("the band", BAND, point) + self.curve(part, PART, point);
        sum.clamp(-MOST_TICKS, MOST_TICKS)
    }

    fn curve(&self, whose: &str, (steps, most): (u32, u32), point: u64) -> i64 {
        let step = |level: u32| {
            let place = point >> level;
            i64::from(Chance::new(self.seed, "hands", whose, u64::from(level), place).around(most))
        };
        (0..steps).map(step).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lags(part: &str) -> Vec<f64> {
        let hands = Hands::new(7);
        let lag = |n: u64| {
            let tick = Tick::new(n * APART + 100_000);
            let lag = hands.played(part, tick).get() as f64 - tick.get() as f64;
            assert!(lag.abs() <= MOST_TICKS as f64);
            lag
        };
        (0..4000).map(lag).collect()
    }

    /// The correlation of two rows of numbers (Pearson's).
    fn correlation(a: &[f64], b: &[f64]) -> f64 {
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let (ma, mb) = (mean(a), mean(b));
        let spread = |v: &[f64], m: f64| v.iter().map(|x| (x - m).powi(2)).sum::<f64>().sqrt();
        let both: f64 = a.iter().zip(b).map(|(x, y)| (x - ma) * (y - mb)).sum();
        both / spread(a, ma) / spread(b, mb)
    }

    #[test]
    fn parts_drift_together_and_from_stroke_to_stroke_a_little() {
        let (kit, bass) = (lags("kit"), lags("bass"));
        assert_ne!(kit, bass);
        let together = correlation(&kit, &bass);
        assert!((0.5..0.95).contains(&together), "{together}");
        let near = correlation(&kit[1..], &kit[..kit.len() - 1]);
        let far = correlation(&kit[16..], &kit[..kit.len() - 16]);
        assert!(near > 0.5 && near > far + 0.2, "{near}, {far}");
        let mean = kit.iter().sum::<f64>() / kit.len() as f64;
        let spread =
            (kit.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / kit.len() as f64).sqrt();
        // 5 to 15 ticks are 0.5 to 1.5 % of a quarter note.
        assert!(
            mean.abs() < 3.0 && (5.0..15.0).contains(&spread),
            "{mean}, {spread}"
        );
    }

    #[test]
    fn what_is_later_stays_later() {
        let hands = Hands::new(3);
        let ticks = (0..200_000).map(|tick| hands.played("strum", Tick::new(tick)));
        let ticks: Vec<Tick> = ticks.collect();
        assert!(ticks.windows(2).all(|two| two[0] <= two[1]));
    }
}
