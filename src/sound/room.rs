//! The reverb: a feedback delay network of four lines.
//!
//! The structure is Jot's (the lines mixed by an orthogonal matrix, a gain and a low-pass in each so that all of them
//! die away at one rate); the lengths, in mutual primes, are ours.

/// Lengths of the lines in frames at 44.1 kHz.
const LENGTHS: [usize; 4] = [1433, 1601, 1867, 2053];

/// Frames before the first reflection, at 44.1 kHz.
const BEFORE: usize = 397;

/// Reverberation time: seconds in which the reverb falls by 60 dB.
const RING: f32 = 0.9;

/// Share of the highest frequencies that a line keeps.
const DULL: f32 = 0.38;

pub(super) struct Room {
    before: Vec<f32>,
    lines: [Vec<f32>; 4],
    gains: [f32; 4],
    dull: [f32; 4],
    places: [usize; 5],
    /// Frames until it is silent, if nothing more comes in.
    left: usize,
    ring: usize,
}

impl Room {
    pub(super) fn new(rate_hz: f32) -> Self {
        #[allow(
            clippy::cast_precision_loss,
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss
        )]
        let scaled = |frames: usize| ((frames as f32 * rate_hz / 44_100.0) as usize).max(1);
        let lines = LENGTHS.map(|l| vec![0.0; scaled(l)]);
        #[allow(clippy::cast_precision_loss)]
        let gains = [0, 1, 2, 3]
            .map(|i: usize| libm::powf(10.0, -3.0 * lines[i].len() as f32 / (rate_hz * RING)));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let ring = (rate_hz * RING * 1.7) as usize;
        Room {
            before: vec![0.0; scaled(BEFORE)],
            lines,
            gains,
            dull: [0.0; 4],
            places: [0; 5],
            left: 0,
            ring,
        }
    }

    pub(super) fn is_silent(&self) -> bool {
        self.left == 0
    }

    /// Adds the reverb of `input` to the two sides.
    pub(super) fn render(&mut self, input: &[f32], left: &mut [f32], right: &mut [f32]) {
        for ((sent, left), right) in input.iter().zip(left).zip(right) {
            if *sent != 0.0 {
                self.left = self.ring;
            } else if self.left == 0 {
                continue;
            } else {
                self.left -= 1;
                if self.left == 0 {
                    self.clear();
                    continue;
                }
            }
            let at = &mut self.places;
            let early = core::mem::replace(&mut self.before[at[4]], *sent);
            at[4] = if at[4] + 1 == self.before.len() {
                0
            } else {
                at[4] + 1
            };
            let mut out = [0.0f32; 4];
            for i in 0..4 {
                let heard = self.lines[i][at[i]];
                self.dull[i] = heard + (self.dull[i] - heard) * DULL;
                out[i] = self.dull[i] * self.gains[i];
            }
            // Hadamard's matrix of order four, halved: orthogonal.
            let (a, b) = (out[0] + out[1], out[0] - out[1]);
            let (c, d) = (out[2] + out[3], out[2] - out[3]);
            let mixed = [a + c, b + d, a - c, b - d];
            for i in 0..4 {
                self.lines[i][at[i]] = early + 0.5 * mixed[i];
                at[i] = if at[i] + 1 == self.lines[i].len() {
                    0
                } else {
                    at[i] + 1
                };
            }
            *left = out[0] + out[2];
            *right = out[1] + out[3];
        }
    }

    /// Silent at once.
    pub(super) fn clear(&mut self) {
        self.before.fill(0.0);
        for line in &mut self.lines {
            line.fill(0.0);
        }
        self.dull = [0.0; 4];
        self.left = 0;
    }
}
