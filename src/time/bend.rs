//! The closed forms of a tempo that changes evenly, and how finely it must be cut into steps.

use super::TICKS_PER_QUARTER;

/// A tempo that changes evenly from `from_qpm` to `to_qpm` (quarter notes a minute) over a length of score.
///
/// The logarithm comes from the `libm` crate, not from the platform, so that the same plan gives the same file
/// everywhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bend {
    from_qpm: f64,
    to_qpm: f64,
    kind: Kind,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    /// Evenly per quarter note, over this many quarters.
    PerQuarter(f64),
    /// Evenly in time, over this many seconds.
    InTime(f64),
    /// As a piece slows to its end, over this many quarters: the cube of the tempo falls evenly.
    ToEnd(f64),
}

/// A step of constant tempo deviates from the curve by at most this much inside the step (the design's bound is a
/// millisecond, of which the rounding to whole microseconds takes a little).
const MOST_STRAY_S: f64 = 0.9e-3;

/// Step lengths in ticks from which the longest that is fine enough is taken; the first six are whole MIDI clocks
/// or fall on them.
const STEPS: [u64; 9] = [960, 480, 240, 120, 60, 30, 15, 5, 1];

#[allow(clippy::cast_precision_loss)]
fn quarters(ticks: u64) -> f64 {
    ticks as f64 / TICKS_PER_QUARTER as f64
}

impl Bend {
    pub(super) fn per_quarter(from_qpm: f64, to_qpm: f64, ticks: u64) -> Self {
        Bend {
            from_qpm,
            to_qpm,
            kind: Kind::PerQuarter(quarters(ticks)),
        }
    }

    pub(super) fn in_time(from_qpm: f64, to_qpm: f64, seconds: f64) -> Self {
        Bend {
            from_qpm,
            to_qpm,
            kind: Kind::InTime(seconds),
        }
    }

    /// The course of a final ritardando, `v(x) = (1 + (w^3 - 1) x)^(1/3)`, where `x` is the share of its length that is
    /// played and `w` the share of the tempo that it comes to: Friberg and Sundberg, "Does music performance allude to
    /// locomotion?", Journal of the Acoustical Society of America 105 (1999); the exponent 3 is the one they prefer (from
    /// memory).
    pub(super) fn to_end(from_qpm: f64, to_qpm: f64, ticks: u64) -> Self {
        Bend {
            from_qpm,
            to_qpm,
            kind: Kind::ToEnd(quarters(ticks)),
        }
    }

    /// How much the cube of the tempo grows over the bend, as a share.
    fn cubic_rise(&self) -> f64 {
        let w = self.to_qpm / self.from_qpm;
        w * w * w - 1.0
    }

    /// Seconds from the start of the bend to `ticks` after it.
    ///
    /// Linear per quarter: `60 N / (b1 - b0) * ln(1 + (b1 - b0) x / (N b0))`, the integral of 60 over the tempo.
    /// Linear in time: the root of `b0 t + (b1 - b0) t^2 / 2T = 60 x`, in the form that does not cancel.
    /// To the end: `60 N / b0 * ((1 + k x / N)^(2/3) - 1) / (2 k / 3)`, the integral of 60 over the tempo.
    pub(super) fn seconds(&self, ticks: u64) -> f64 {
        let x = quarters(ticks);
        let (b0, rise) = (self.from_qpm, self.to_qpm - self.from_qpm);
        match self.kind {
            Kind::PerQuarter(n) => {
                let z = rise * x / (n * b0);
                if z == 0.0 {
                    60.0 * x / b0
                } else {
                    60.0 * x / b0 * (libm::log1p(z) / z)
                }
            }
            Kind::InTime(t) => {
                let root = libm::sqrt((b0 * b0 + 120.0 * rise * x / t).max(0.0));
                120.0 * x / (b0 + root)
            }
            Kind::ToEnd(n) => {
                let k = self.cubic_rise();
                let root = libm::cbrt((1.0 + k * x / n).max(0.0));
                if k == 0.0 {
                    60.0 * x / b0
                } else {
                    60.0 * n / b0 * (root * root - 1.0) * 1.5 / k
                }
            }
        }
    }

    /// The tempo at `ticks` after the start, in quarter notes a minute.
    fn qpm(&self, ticks: u64) -> f64 {
        let rise = self.to_qpm - self.from_qpm;
        match self.kind {
            Kind::PerQuarter(n) => self.from_qpm + rise * quarters(ticks) / n,
            Kind::InTime(t) => libm::sqrt(
                (self.from_qpm * self.from_qpm + 120.0 * rise * quarters(ticks) / t).max(0.0),
            ),
            Kind::ToEnd(n) => {
                let cube = 1.0 + self.cubic_rise() * quarters(ticks) / n;
                self.from_qpm * libm::cbrt(cube.max(0.0))
            }
        }
    }

    /// The longest step that keeps every tick of `start..end` (from the bend's start) close to the curve.
    ///
    /// Between two points `L` quarters apart a chord deviates from a curve by at most `L^2 / 8` times the largest
    /// second derivative (the error bound of linear interpolation).
    pub(super) fn step_ticks(&self, start: u64, end: u64) -> u64 {
        let slowest = self.qpm(start).min(self.qpm(end)).max(1e-3);
        let rise = self.to_qpm - self.from_qpm;
        let second = match self.kind {
            Kind::PerQuarter(n) => 60.0 * (rise / n).abs() / (slowest * slowest),
            Kind::InTime(t) => 3600.0 * (rise / t).abs() / (slowest * slowest * slowest),
            Kind::ToEnd(n) => {
                let b0 = self.from_qpm;
                let fall = b0 * b0 * b0 * self.cubic_rise().abs() / (3.0 * n);
                60.0 * fall / (slowest * slowest * slowest * slowest)
            }
        };
        let fine = |step: &&u64| {
            let l = quarters(**step);
            **step <= (end - start) && l * l / 8.0 * second <= MOST_STRAY_S
        };
        STEPS.iter().find(fine).copied().unwrap_or(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn textbook_ramp_times() {
        // 60 to 120 over 64 quarters: 60 N ln 2 / 60 = 64 ln 2; in time 120 N / 180.
        let s = Bend::per_quarter(60.0, 120.0, 64 * 960).seconds(64 * 960);
        assert!((s - 64.0 * std::f64::consts::LN_2).abs() < 1e-12, "{s}");
        let s = Bend::in_time(60.0, 120.0, 128.0 / 3.0).seconds(64 * 960);
        assert!((s - 128.0 / 3.0).abs() < 1e-12, "{s}");
    }

    #[test]
    fn steps_get_finer_where_the_curve_bends_more() {
        let slow = Bend::per_quarter(60.0, 61.0, 960 * 64);
        let fast = Bend::per_quarter(60.0, 120.0, 960 * 4);
        assert_eq!(slow.step_ticks(0, 960), 960);
        assert!(fast.step_ticks(0, 960) < 240);
    }

    #[test]
    fn a_ritardando_keeps_its_curve() {
        // The integral of 60 over the tempo, by Simpson's rule.
        let (from, to, ticks) = (120.0, 72.0, 8 * 960);
        let bend = Bend::to_end(from, to, ticks);
        assert!((bend.qpm(0) - from).abs() < 1e-9 && (bend.qpm(ticks) - to).abs() < 1e-9);
        let steps: u32 = 960;
        let width = 8.0 / f64::from(steps);
        let sum: f64 = (0..=steps)
            .map(|i| {
                let weight = match i {
                    0 => 1.0,
                    i if i == steps => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                weight * 60.0 / bend.qpm(8 * u64::from(i))
            })
            .sum::<f64>()
            * width
            / 3.0;
        assert!((bend.seconds(ticks) - sum).abs() < 1e-8, "{sum}");
        // Half way the cube of the tempo is half way.
        let middle = bend.qpm(ticks / 2).powi(3);
        assert!((middle - (from.powi(3) + to.powi(3)) / 2.0).abs() < 1e-3);
    }
}
