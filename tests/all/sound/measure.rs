//! Filters and levels to measure rendered sound by.

/// A frame, left and right.
pub(crate) type Frame = [f32; 2];

/// A filter of the second order (direct form), by the formulas of R. Bristow-Johnson's Audio EQ Cookbook.
#[derive(Clone, Copy)]
struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

/// What a filter of the second order lets through.
#[derive(Clone, Copy)]
enum Pass {
    Low,
    High,
    Band,
}

impl Biquad {
    fn new(pass: Pass, hertz: f64, q: f64, rate_hz: f64) -> Self {
        let turn = std::f64::consts::TAU * hertz / rate_hz;
        let (sin, cos) = turn.sin_cos();
        let alpha = sin / (2.0 * q);
        let b = match pass {
            Pass::Low => [(1.0 - cos) / 2.0, 1.0 - cos, (1.0 - cos) / 2.0],
            Pass::High => [(1.0 + cos) / 2.0, -(1.0 + cos), (1.0 + cos) / 2.0],
            Pass::Band => [alpha, 0.0, -alpha],
        };
        let a0 = 1.0 + alpha;
        Biquad {
            b: b.map(|b| b / a0),
            a: [-2.0 * cos / a0, (1.0 - alpha) / a0],
            state: [0.0; 2],
        }
    }

    fn next(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state = [
            self.b[1] * x - self.a[0] * y + self.state[1],
            self.b[2] * x - self.a[1] * y,
        ];
        y
    }
}

/// A band of frequencies, as a filter.
#[derive(Clone)]
pub(crate) struct Band(Vec<Biquad>);

impl Band {
    /// A third of an octave around `hertz`: three equal resonances in a row, together 3 dB down at its edges.
    pub(crate) fn third(hertz: f64, rate_hz: f64) -> Self {
        let whole = 1.0 / ((1.0f64 / 6.0).exp2() - (-1.0f64 / 6.0).exp2());
        // n equal resonances have the width of one times the root of 2^(1/n) - 1.
        let each = whole * ((1.0f64 / 3.0).exp2() - 1.0).sqrt();
        Band(vec![Biquad::new(Pass::Band, hertz, each, rate_hz); 3])
    }

    /// From `low` to `high` hertz, 24 dB an octave (Butterworth).
    pub(crate) fn between(low: f64, high: f64, rate_hz: f64) -> Self {
        let sides = [(Pass::High, low), (Pass::Low, high)];
        let all = sides.into_iter().flat_map(|(pass, hertz)| {
            [0.541_196, 1.306_563].map(|q| Biquad::new(pass, hertz, q, rate_hz))
        });
        Band(all.collect())
    }

    /// What of one side lies in the band.
    pub(crate) fn of(&self, side: impl Iterator<Item = f64>) -> Vec<f64> {
        let mut filters = self.0.clone();
        side.map(|x| filters.iter_mut().fold(x, |x, f| f.next(x)))
            .collect()
    }

    /// The power in the band, a frame each, both sides added.
    pub(crate) fn power(&self, frames: &[Frame]) -> Vec<f64> {
        let [left, right] = [0, 1].map(|side| self.of(frames.iter().map(|f| f64::from(f[side]))));
        left.iter().zip(right).map(|(l, r)| l * l + r * r).collect()
    }

    /// The level in the band, in decibels of the mean power.
    pub(crate) fn level(&self, frames: &[Frame]) -> f64 {
        decibels(mean(&self.power(frames)))
    }
}

/// Decibels of a power.
pub(crate) fn decibels(power: f64) -> f64 {
    10.0 * power.max(1e-30).log10()
}

/// The mean of values; 0 of none.
pub(crate) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// One side of frames.
pub(crate) fn side(frames: &[Frame], side: usize) -> Vec<f64> {
    frames.iter().map(|f| f64::from(f[side])).collect()
}

/// Level of one side in decibels of its mean power.
pub(crate) fn level(samples: &[f64]) -> f64 {
    let power: f64 = samples.iter().map(|s| s * s).sum();
    decibels(power / samples.len().max(1) as f64)
}

/// The largest mean of a side: what stays when all swinging is taken away.
pub(crate) fn direct_current(frames: &[Frame]) -> f64 {
    let of = |at: usize| mean(&side(frames, at)).abs();
    of(0).max(of(1))
}

/// The strongest frequency in hertz from 200 Hz to 9 kHz, in steps of 10 Hz.
pub(crate) fn strongest(samples: &[f64], rate_hz: f64) -> f64 {
    let strength = |hertz: f64| {
        let turn = std::f64::consts::TAU * hertz / rate_hz;
        let (mut re, mut im) = (0.0, 0.0);
        for (i, sample) in samples.iter().enumerate() {
            let (sin, cos) = (turn * i as f64).sin_cos();
            re += sample * cos;
            im += sample * sin;
        }
        re.hypot(im)
    };
    let (mut best, mut top) = (0.0, 0.0);
    for step in 20..900 {
        let hertz = 10.0 * f64::from(step);
        let found = strength(hertz);
        if found > top {
            (best, top) = (hertz, found);
        }
    }
    best
}
