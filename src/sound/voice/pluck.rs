//! A plucked string: a delay line fed back through a filter.
//!
//! The method is that of Karplus and Strong (Computer Music Journal 7(2), 1983) with the extensions of Jaffe and Smith
//! (the same issue): the place of the pick is a comb in what is fed in, the fall of the tone a gain, the fraction of a
//! sample an interpolator. Interpolator (Lagrange, third order) and damping (three taps, symmetric, so of the same
//! delay at every frequency) are one short filter without feedback of its own: whole blocks of samples are computed at
//! once, and the string is in tune in all its harmonics.

use super::super::tables::hertz;
use super::Touch;

/// The patch of a plucked instrument.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct PluckPatch {
    /// Where the string is plucked, as a share of its length.
    pub(in crate::sound) pick_at: f32,
    /// Edge of the pick's sound in hertz at the softest stroke.
    pub(in crate::sound) soft_edge_hz: f32,
    /// The same at the hardest stroke.
    pub(in crate::sound) hard_edge_hz: f32,
    /// Share of noise in the stroke.
    pub(in crate::sound) noise: f32,
    /// Seconds from silence to full.
    pub(in crate::sound) onset_s: f32,
    /// Seconds until A2 has fallen by 60 dB; higher strings fall faster.
    pub(in crate::sound) ring_s: f32,
    /// Damping of high harmonics, 0 (none) to 0.25.
    pub(in crate::sound) damping: f32,
    /// Seconds until a stopped string has fallen by 60 dB.
    pub(in crate::sound) stop_s: f32,
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
    /// How far the onset has come, 0 to 1, and how far it comes a frame.
    risen: f32,
    rise: f32,
}

impl Pluck {
    pub(super) fn new(
        patch: &PluckPatch,
        key: u8,
        strength: f32,
        rate_hz: f32,
        touch: &mut Touch,
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
        let ring = f64::from(patch.ring_s) * libm::sqrt(110.0 / frequency).clamp(0.25, 1.3);
        let gain = |seconds: f64| libm::pow(10.0, -3.0 * period / (rate * seconds));
        let keeping = (gain(ring) / damped).min(0.999_99);
        let count = 4 + 2 * spacing;
        let taps = combined(interpolator, damping, spacing, keeping);
        let reach = whole + count - 1;
        let string = &mut memory[..reach];
        pick(patch, string, strength, period, rate_hz, touch);
        level(string, &taps[..count], keeping, strength);
        #[allow(clippy::cast_possible_truncation)]
        Pluck {
            taps,
            count,
            reach,
            write: reach,
            stopped: (gain(f64::from(patch.stop_s)) / gain(ring)) as f32,
            peak: 0.0,
            look: reach,
            period: reach,
            over: false,
            // The first frame is heard, if hardly: an onset lies on its frame.
            risen: 1.0 / (patch.onset_s * rate_hz).max(1.0),
            rise: 1.0 / (patch.onset_s * rate_hz).max(1.0),
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
            for sample in &mut out[done..done + n] {
                if self.risen >= 1.0 {
                    break;
                }
                *sample *= self.risen;
                self.risen += self.rise;
            }
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
fn pick(
    patch: &PluckPatch,
    string: &mut [f32],
    strength: f32,
    period: f64,
    rate_hz: f32,
    touch: &mut Touch,
) {
    let edge = patch.soft_edge_hz + (patch.hard_edge_hz - patch.soft_edge_hz) * strength;
    let edge = edge * touch.about(0.08);
    let keep = libm::expf(-core::f32::consts::TAU * edge / rate_hz);
    let place = period * f64::from(patch.pick_at * touch.about(0.1));
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let place = place.max(1.0) as usize;
    let mut noise = touch.noise();
    // The pick is heard while the onset rises; from the first sample on it would be lost in it.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    // below a thousandth of a second
    let begin = ((patch.onset_s * rate_hz * 0.5) as usize).min(string.len() / 4);
    // Two poles on an impulse and some noise: once from the near end, once, upside down, from the far one.
    let (mut first, mut second) = (0.0f32, 0.0f32);
    for (i, sample) in string.iter_mut().enumerate() {
        let impulse = if i == begin {
            1.0
        } else if i == begin + place {
            -1.0
        } else {
            0.0
        };
        let input = impulse + patch.noise * noise.next();
        first = input + (first - input) * keep;
        second = first + (second - first) * keep;
        *sample = second;
    }
}

/// Brings the string to `strength` and takes away what does not swing.
///
/// A string that is the same everywhere stays so, and falls as slowly as the tone: a direct current. How much of it is
/// in the string is a mean in which each sample weighs as much as it will be read. The filter reads the earliest
/// samples with its first taps alone, since they are about to leave: a sample weighs the sum of the taps up to its own,
/// times what the fall of the string gives it for its place.
fn level(string: &mut [f32], taps: &[f32], keeping: f64, strength: f32) {
    #[allow(clippy::cast_precision_loss)]
    let fall = libm::pow(keeping, 1.0 / string.len() as f64);
    let (mut weight, mut weights, mut sum) = (0.0f64, 0.0f64, 0.0f64);
    for (i, sample) in string.iter().enumerate() {
        weight = (weight + f64::from(taps.get(i).copied().unwrap_or(0.0))) / fall;
        weights += weight;
        sum += weight * f64::from(*sample);
    }
    #[allow(clippy::cast_possible_truncation)]
    let mean = (sum / weights) as f32;
    #[allow(clippy::cast_precision_loss)]
    let count = string.len() as f32;
    let power = string.iter().map(|s| (s - mean) * (s - mean)).sum::<f32>() / count;
    let scale = strength / libm::sqrtf(power.max(1e-12));
    for sample in string.iter_mut() {
        *sample = (*sample - mean) * scale;
    }
}
