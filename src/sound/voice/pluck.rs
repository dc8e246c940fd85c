//! A plucked string: a delay line fed back through a filter.
//!
//! The method is that of Karplus and Strong (Computer Music Journal 7(2), 1983) with the extensions of Jaffe and Smith
//! (the same issue): the place of the pick is a comb in what is fed in, the fall of the tone a gain, the fraction of a
//! sample an interpolator. Interpolator (Lagrange, third order) and damping (three taps, symmetric, so of the same
//! delay at every frequency) are one short filter without feedback of its own: whole blocks of samples are computed at
//! once, and the string is in tune in all its harmonics.

use super::super::tables::hertz;
use super::Noise;

/// The patch of a plucked instrument.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct PluckPatch {
    /// Where the string is plucked, as a share of its length.
    pub(in crate::sound) place: f32,
    /// Edge of the pick's sound in hertz, for the softest and the hardest stroke.
    pub(in crate::sound) edge: (f32, f32),
    /// Share of noise in the stroke.
    pub(in crate::sound) noise: f32,
    /// Seconds until A2 has fallen by 60 dB; higher strings fall faster.
    pub(in crate::sound) ring: f32,
    /// Damping of high harmonics, 0 (none) to 0.25.
    pub(in crate::sound) damping: f32,
    /// Seconds until a stopped string has fallen by 60 dB.
    pub(in crate::sound) stop: f32,
}

/// Taps of interpolator and damping together, for the widest spacing.
const TAPS: usize = 8;

/// Longest block computed at once.
const STRETCH: usize = 64;

/// Lowest key a string has: F0, 21.8 Hz. Lower keys sound an octave higher.
const LOWEST_KEY: u8 = 17;

/// Frames a string's memory must have at `rate_hz`.
pub(super) fn memory(rate_hz: f32) -> usize {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let longest = (f64::from(rate_hz) / hertz(f64::from(LOWEST_KEY))) as usize;
    2 * (longest + TAPS + STRETCH)
}

/// A string that sounds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pluck {
    taps: [f32; TAPS],
    /// How many of the taps are used.
    count: usize,
    /// Frames from the earliest sample the filter reads to the one it makes.
    reach: usize,
    /// Where the next sample goes.
    write: usize,
    /// What the taps become when the string is stopped.
    stopped: f32,
    /// Peak of what was heard since the last look, and frames until the next.
    peak: f32,
    look: usize,
    period: usize,
    over: bool,
}

impl Pluck {
    pub(super) fn new(
        patch: &PluckPatch,
        key: u8,
        strength: f32,
        rate_hz: f32,
        noise: &mut Noise,
        memory: &mut [f32],
    ) -> Self {
        let mut key = key;
        while key < LOWEST_KEY {
            key += 12;
        }
        let frequency = hertz(f64::from(key));
        let rate = f64::from(rate_hz);
        let period = (rate / frequency).max(8.0);
        let turn = core::f64::consts::TAU / period;
        // Taps of the damping lie a 44.1 kHz sample apart, so that a string sounds alike at every rate.
        let spacing: usize = if rate_hz > 70_000.0 { 2 } else { 1 };
        #[allow(clippy::cast_precision_loss)]
        let gap = spacing as f64;
        let damping = f64::from(patch.damping);
        let damped = 1.0 - 2.0 * damping * (1.0 - libm::cos(gap * turn));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // period is 8 to 9000
        let whole = (period - gap - 1.0) as usize;
        #[allow(clippy::cast_precision_loss)]
        let wanted = period - gap - whole as f64;
        let shift = tuned(wanted, turn);
        let interpolator = lagrange(shift);
        let ring = f64::from(patch.ring) * libm::sqrt(110.0 / frequency).clamp(0.25, 1.3);
        let gain = |seconds: f64| libm::pow(10.0, -3.0 * period / (rate * seconds));
        let keeping = (gain(ring) / damped).min(0.999_99);
        let count = 4 + 2 * spacing;
        let taps = combined(interpolator, damping, spacing, keeping);
        let reach = whole + count - 1;
        strike(
            patch,
            &mut memory[..reach],
            strength,
            period,
            rate_hz,
            noise,
        );
        #[allow(clippy::cast_possible_truncation)]
        Pluck {
            taps,
            count,
            reach,
            write: reach,
            stopped: (gain(f64::from(patch.stop)) / gain(ring)) as f32,
            peak: 0.0,
            look: reach,
            period: reach,
            over: false,
        }
    }

    /// The finger stops the string.
    pub(super) fn release(&mut self) {
        for tap in &mut self.taps {
            *tap *= self.stopped;
        }
        self.stopped = 1.0;
    }

    pub(super) fn is_over(&self) -> bool {
        self.over
    }

    /// Puts the next frames into `out`.
    pub(super) fn render(&mut self, out: &mut [f32], memory: &mut [f32]) {
        let mut done = 0;
        while done < out.len() {
            let most = (self.reach + 1 - self.count).min(STRETCH).min(self.look);
            let n = most.min(out.len() - done);
            if self.write + n > memory.len() {
                memory.copy_within(self.write - self.reach..self.write, 0);
                self.write = self.reach;
            }
            let (past, fresh) = memory.split_at_mut(self.write);
            let past = &past[self.write - self.reach..];
            let fresh = &mut fresh[..n];
            match self.count {
                6 => filter::<6>(&self.taps, past, fresh),
                _ => filter::<8>(&self.taps, past, fresh),
            }
            out[done..done + n].copy_from_slice(fresh);
            for sample in fresh.iter() {
                self.peak = self.peak.max(sample.abs());
            }
            self.write += n;
            self.look -= n;
            done += n;
            if self.look == 0 {
                self.over = self.peak < 2e-5;
                self.peak = 0.0;
                self.look = self.period;
            }
        }
    }
}

#[inline(always)]
fn filter<const N: usize>(taps: &[f32; TAPS], past: &[f32], fresh: &mut [f32]) {
    let len = fresh.len();
    let past = &past[..len + N - 1];
    for (i, sample) in fresh.iter_mut().enumerate() {
        let mut sum = 0.0;
        for (tap, before) in taps[..N].iter().zip(&past[i..i + N]) {
            sum += tap * before;
        }
        *sample = sum;
    }
}

/// Interpolator and damping, whose taps lie `spacing` samples apart, as one filter of the gain `keeping`.
fn combined(interpolator: [f64; 4], damping: f64, spacing: usize, keeping: f64) -> [f32; TAPS] {
    let mut taps = [0.0f32; TAPS];
    let last = 4 + 2 * spacing - 1;
    let parts = [
        (0, damping),
        (spacing, 1.0 - 2.0 * damping),
        (2 * spacing, damping),
    ];
    for (i, part) in interpolator.iter().enumerate() {
        for (place, share) in parts {
            #[allow(clippy::cast_possible_truncation)]
            {
                // The earliest sample, the longest delay, comes first.
                taps[last - (i + place)] += (part * share * keeping) as f32;
            }
        }
    }
    taps
}

/// Coefficients of the interpolator for a delay of `d` samples, 1 to 2.
fn lagrange(d: f64) -> [f64; 4] {
    [
        -(d - 1.0) * (d - 2.0) * (d - 3.0) / 6.0,
        d * (d - 2.0) * (d - 3.0) / 2.0,
        -d * (d - 1.0) * (d - 3.0) / 2.0,
        d * (d - 1.0) * (d - 2.0) / 6.0,
    ]
}

/// The delay to ask of the interpolator so that at `turn` radians a sample it is `wanted`.
fn tuned(wanted: f64, turn: f64) -> f64 {
    let mut asked = wanted;
    for _ in 0..4 {
        let (mut re, mut im) = (0.0, 0.0);
        let mut at = 0.0;
        for c in lagrange(asked) {
            re += c * libm::cos(turn * at);
            im -= c * libm::sin(turn * at);
            at += 1.0;
        }
        asked += wanted + libm::atan2(im, re) / turn;
    }
    asked
}

/// Fills the string with what the pick leaves on it.
fn strike(
    patch: &PluckPatch,
    string: &mut [f32],
    strength: f32,
    period: f64,
    rate_hz: f32,
    noise: &mut Noise,
) {
    let edge = patch.edge.0 + (patch.edge.1 - patch.edge.0) * strength;
    let keep = libm::expf(-core::f32::consts::TAU * edge / rate_hz);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let place = (period * f64::from(patch.place)).max(1.0) as usize;
    // Two poles on an impulse and some noise: once from the near end, once, upside down, from the far one.
    let (mut first, mut second) = (0.0f32, 0.0f32);
    for (i, sample) in string.iter_mut().enumerate() {
        let impulse = if i == 0 {
            1.0
        } else if i == place {
            -1.0
        } else {
            0.0
        };
        let input = impulse + patch.noise * noise.next();
        first = input + (first - input) * keep;
        second = first + (second - first) * keep;
        *sample = second;
    }
    #[allow(clippy::cast_precision_loss)]
    let count = string.len() as f32;
    let mean = string.iter().sum::<f32>() / count;
    let power = string.iter().map(|s| (s - mean) * (s - mean)).sum::<f32>() / count;
    let scale = strength / libm::sqrtf(power.max(1e-12));
    for sample in string.iter_mut() {
        *sample = (*sample - mean) * scale;
    }
}
