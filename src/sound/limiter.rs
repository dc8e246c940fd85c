//! Keeps the true peak below a ceiling, by looking ahead.
//!
//! The peak between the samples is read at four times the rate, as ITU-R BS.1770 does it (annex 2). The gain a peak
//! needs is spread over the frames before it by a running minimum and a running mean, so it is reached without a step;
//! it is released slowly. Where nothing is too loud the gain is exactly 1 and the frames pass unchanged.

/// Seconds it looks ahead.
const AHEAD: f32 = 0.003;

/// Release: seconds in which the gain recovers by a factor of two.
const RECOVERY: f32 = 0.12;

/// Ceiling, in decibels below full scale. What the gain's own movement adds stays within the 0.3 dB up to -1.
const CEILING_DB: f32 = -1.3;

/// Taps of the interpolator, and phases between two samples.
const SPAN: usize = 12;
const PHASES: usize = 4;

/// Sum of the magnitudes of the interpolator's coefficients: no value between samples is larger than the largest sample
/// around it times this.
const MOST_OVER: f32 = 2.0;

/// Gains are summed as whole numbers, so that nothing is lost in a long run.
const ONE: u32 = 1 << 24;

/// The stereo limiter; see the module.
pub(super) struct Limiter {
    ceiling: f32,
    coefficients: [[f32; SPAN]; PHASES],
    /// The last `SPAN` frames, twice, so that they can be read in one piece.
    recent: [[f32; 2 * SPAN]; 2],
    recent_at: usize,
    ahead: usize,
    delay: Vec<[f32; 2]>,
    delay_at: usize,
    /// Running minimum: (frame, gain) with rising gains, a ring.
    minimum: Vec<(u64, u32)>,
    head: usize,
    count: usize,
    frame: u64,
    held: u32,
    recovery: u64,
    mean: Vec<u32>,
    mean_at: usize,
    sum: u64,
    gain: u32,
    lowest: u32,
    /// Frames for which a loud one stays within the interpolator's taps.
    near: usize,
    /// Whether no gain is needed, held or averaged: nothing has to be kept.
    calm: bool,
}

impl Limiter {
    /// A limiter for frames at `rate_hz`.
    pub(super) fn new(rate_hz: f32) -> Self {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let ahead = (AHEAD * rate_hz) as usize;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        // Per frame, as a share of 2^32 of the way in a logarithmic measure.
        let recovery =
            ((libm::exp2(f64::from(1.0 / (RECOVERY * rate_hz))) - 1.0) * 4_294_967_296.0) as u64;
        Limiter {
            ceiling: libm::powf(10.0, CEILING_DB / 20.0),
            coefficients: interpolator(),
            recent: [[0.0; 2 * SPAN]; 2],
            recent_at: 0,
            ahead,
            delay: vec![[0.0; 2]; ahead + SPAN / 2],
            delay_at: 0,
            minimum: vec![(0, ONE); ahead + 2],
            head: 0,
            count: 0,
            frame: 0,
            held: ONE,
            recovery,
            mean: vec![ONE; ahead],
            mean_at: 0,
            sum: u64::from(ONE) * ahead as u64,
            gain: ONE,
            lowest: ONE,
            near: 0,
            calm: true,
        }
    }

    /// Frames by which what comes out is later than what went in.
    pub(super) fn delay(&self) -> usize {
        self.delay.len()
    }

    /// The lowest gain so far, 0 to 1.
    pub(super) fn lowest(&self) -> f32 {
        #[allow(clippy::cast_precision_loss)]
        let gain = self.lowest as f32 / ONE as f32;
        gain
    }

    /// The largest magnitude between the frames half the span ago and the one after it.
    fn peak(&self) -> f32 {
        let mut peak = 0.0f32;
        for side in &self.recent {
            let window = &side[self.recent_at..self.recent_at + SPAN];
            for phase in &self.coefficients {
                let mut sum = 0.0;
                for (c, sample) in phase.iter().zip(window) {
                    sum += c * sample;
                }
                peak = peak.max(sum.abs());
            }
        }
        peak
    }

    /// Limits `frames` in place; they come out [`Limiter::delay`] frames later.
    pub(super) fn process(&mut self, frames: &mut [[f32; 2]]) {
        let loud = self.ceiling / MOST_OVER;
        for frame in frames {
            for (recent, sample) in self.recent.iter_mut().zip(&*frame) {
                recent[self.recent_at] = *sample;
                recent[self.recent_at + SPAN] = *sample;
            }
            self.recent_at = next(self.recent_at, SPAN);
            if frame[0].abs() > loud || frame[1].abs() > loud {
                self.near = SPAN;
            }
            let late = core::mem::replace(&mut self.delay[self.delay_at], *frame);
            self.delay_at = next(self.delay_at, self.delay.len());
            if self.near > 0 {
                self.near -= 1;
                let peak = self.peak();
                if peak > self.ceiling {
                    #[allow(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        clippy::cast_precision_loss
                    )]
                    let needed = (self.ceiling / peak * ONE as f32) as u32;
                    self.step(needed);
                } else {
                    self.step(ONE);
                }
            } else {
                self.step(ONE);
            }
            if self.gain == ONE {
                *frame = late;
            } else {
                #[allow(clippy::cast_precision_loss)]
                let gain = self.gain as f32 / ONE as f32;
                *frame = [late[0] * gain, late[1] * gain];
            }
        }
    }

    /// Moves the gain on by a frame, whose peak needs `needed`.
    fn step(&mut self, needed: u32) {
        if needed == ONE && self.calm {
            self.frame += 1;
            return;
        }
        if self.calm {
            // None of the frames within reach needed reduction.
            self.calm = false;
            self.head = 0;
            self.count = 0;
        }
        let window = self.minimum(needed);
        let back = u64::from(self.held) + ((u64::from(self.held) * self.recovery) >> 32) + 1;
        let back = u32::try_from(back.min(u64::from(ONE))).unwrap_or(ONE);
        self.held = window.min(back);
        self.sum -= u64::from(self.mean[self.mean_at]);
        self.mean[self.mean_at] = self.held;
        self.sum += u64::from(self.held);
        self.mean_at = next(self.mean_at, self.ahead);
        self.gain = u32::try_from(self.sum / self.ahead as u64).unwrap_or(ONE);
        self.lowest = self.lowest.min(self.gain);
        self.calm = self.held == ONE && self.gain == ONE && window == ONE;
    }

    /// The least gain of the last `ahead` frames.
    fn minimum(&mut self, gain: u32) -> u32 {
        let size = self.minimum.len();
        while self.count > 0 && self.minimum[(self.head + self.count - 1) % size].1 >= gain {
            self.count -= 1;
        }
        self.minimum[(self.head + self.count) % size] = (self.frame, gain);
        self.count += 1;
        if self.minimum[self.head].0 + self.ahead as u64 <= self.frame {
            self.head = (self.head + 1) % size;
            self.count -= 1;
        }
        self.frame += 1;
        self.minimum[self.head].1
    }
}

/// The place after `at` in a ring of `size`.
#[inline(always)]
fn next(at: usize, size: usize) -> usize {
    if at + 1 == size { 0 } else { at + 1 }
}

/// A windowed sinc (Hann) at the four phases between two samples, the middle two of the span.
fn interpolator() -> [[f32; SPAN]; PHASES] {
    let mut table = [[0.0; SPAN]; PHASES];
    for (phase, row) in table.iter_mut().enumerate() {
        #[allow(clippy::cast_precision_loss)]
        let between = phase as f32 / PHASES as f32;
        for (i, c) in row.iter_mut().enumerate() {
            #[allow(clippy::cast_precision_loss)]
            let at = i as f32 - (SPAN / 2 - 1) as f32 - between;
            let x = core::f32::consts::PI * at;
            let sinc = if at == 0.0 { 1.0 } else { libm::sinf(x) / x };
            #[allow(clippy::cast_precision_loss)]
            let window = 0.5 + 0.5 * libm::cosf(x / (SPAN / 2) as f32);
            *c = sinc * window;
        }
    }
    table
}
