//! Percussion and the click: a few sines that die away, and filtered noise.

use super::super::tables::{Tables, read, step};
use super::envelope::falling;
use super::{Noise, Touch};

/// A sine that dies away.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct Mode {
    /// Hertz at the start.
    pub(in crate::sound) start_hz: f32,
    /// Hertz where it settles.
    pub(in crate::sound) end_hz: f32,
    /// Seconds in which three quarters of the way are gone.
    pub(in crate::sound) glide_s: f32,
    /// Amplitude, relative to the level of the patch.
    pub(in crate::sound) share: f32,
    /// Seconds until it has fallen by 60 dB.
    pub(in crate::sound) ring_s: f32,
}

/// What a filter keeps of the noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::sound) enum Kept {
    /// The band alone.
    Band,
    /// The band and all above it.
    Above,
}

/// Noise of a stroke.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct Hiss {
    /// Amplitude, relative to the level of the patch.
    pub(in crate::sound) share: f32,
    /// Seconds until it has fallen by 60 dB.
    pub(in crate::sound) ring_s: f32,
    /// Middle of its band in hertz.
    pub(in crate::sound) middle_hz: f32,
    /// The quality of its filter: the middle of the band by its width, 0.3 or more.
    pub(in crate::sound) quality: f32,
    /// Which part of it is kept.
    pub(in crate::sound) kept: Kept,
}

/// The patch of a percussion instrument.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct DrumPatch {
    pub(in crate::sound) modes: &'static [Mode],
    pub(in crate::sound) hiss: Hiss,
    /// Seconds from silence to full.
    pub(in crate::sound) attack_s: f32,
}

/// Levels below this are silence: -100 dB.
const SILENT: f32 = 1e-5;

/// Most modes of a patch.
const MODES: usize = 4;

#[derive(Clone, Copy, Debug, Default)]
struct Ringing {
    phase: u32,
    step: f32,
    goal: f32,
    glide: f32,
    level: f32,
    fall: f32,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Drum {
    modes: [Ringing; MODES],
    count: usize,
    hiss: (f32, f32),
    /// Coefficients and state of the noise filter.
    band: [f32; 3],
    kept: Kept,
    /// Whether any mode and the noise are still heard, as found at the last control point.
    heard: (bool, bool),
    memory: [f32; 2],
    noise: Noise,
    strength: f32,
    rise: f32,
    risen: f32,
}

impl Drum {
    pub(super) fn new(patch: &DrumPatch, strength: f32, rate_hz: f32, touch: &mut Touch) -> Self {
        let mut modes = [Ringing::default(); MODES];
        let count = patch.modes.len().min(MODES);
        // The skin gives by a few cents from stroke to stroke.
        let (tuning, loose) = (touch.about(0.006), touch.about(0.1));
        for (ringing, mode) in modes.iter_mut().zip(patch.modes) {
            #[allow(clippy::cast_precision_loss)]
            let of = |hertz: f32| step(f64::from(hertz * tuning), rate_hz) as f32;
            *ringing = Ringing {
                // A quarter turn: the first sample is at its crest, and the attack makes it soft.
                phase: 1 << 30,
                step: of(mode.start_hz),
                goal: of(mode.end_hz),
                glide: libm::powf(0.25, 1.0 / (mode.glide_s.max(1e-4) * loose * rate_hz)),
                level: mode.share * touch.about(0.07),
                fall: falling(mode.ring_s * loose, 1, rate_hz),
            };
        }
        // A state-variable filter in the form of trapezoidal integration, stable at any frequency below half the rate.
        let middle = patch.hiss.middle_hz * touch.about(0.05);
        let g = libm::tanf(core::f32::consts::PI * (middle / rate_hz).min(0.45));
        let k = 1.0 / patch.hiss.quality.max(0.3);
        let a1 = 1.0 / (1.0 + g * (g + k));
        Drum {
            modes,
            count,
            hiss: (
                patch.hiss.share * touch.about(0.07),
                falling(patch.hiss.ring_s, 1, rate_hz),
            ),
            band: [a1, g, k],
            kept: patch.hiss.kept,
            heard: (true, true),
            memory: [0.0; 2],
            noise: touch.noise(),
            strength,
            rise: 1.0 / (patch.attack_s * rate_hz).max(1.0),
            risen: 0.0,
        }
    }

    /// Stopped by another stroke of its group, such as an open hat by a closed one.
    pub(super) fn choke(&mut self, rate_hz: f32) {
        let quick = falling(0.06, 1, rate_hz);
        for mode in &mut self.modes {
            mode.fall = mode.fall.min(quick);
        }
        self.hiss.1 = self.hiss.1.min(quick);
    }

    pub(super) fn control(&mut self) {
        let ringing = self.modes[..self.count].iter().any(|m| m.level > SILENT);
        self.heard = (ringing, self.hiss.0 > SILENT);
    }

    pub(super) fn is_over(&self) -> bool {
        self.heard == (false, false)
    }

    pub(super) fn render(&mut self, out: &mut [f32], tables: &Tables) {
        let sine = tables.sine();
        out.fill(0.0);
        let count = if self.heard.0 { self.count } else { 0 };
        for mode in &mut self.modes[..count] {
            for sample in out.iter_mut() {
                *sample += mode.level * read(sine, mode.phase);
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                {
                    mode.phase = mode.phase.wrapping_add(mode.step as u32);
                }
                mode.step = mode.goal + (mode.step - mode.goal) * mode.glide;
                mode.level *= mode.fall;
            }
        }
        if self.heard.1 {
            let [a1, g, k] = self.band;
            let [mut s1, mut s2] = self.memory;
            for sample in out.iter_mut() {
                let input = self.noise.next();
                let high = (input - s2 - s1 * (k + g)) * a1;
                let band = g * high + s1;
                s1 = g * high + band;
                let low = g * band + s2;
                s2 = g * band + low;
                let kept = match self.kept {
                    Kept::Above => high,
                    Kept::Band => k * band,
                };
                *sample += self.hiss.0 * kept;
                self.hiss.0 *= self.hiss.1;
            }
            self.memory = [s1, s2];
        }
        for sample in out.iter_mut() {
            if self.risen < 1.0 {
                self.risen = (self.risen + self.rise).min(1.0);
            }
            *sample *= self.strength * self.risen;
        }
    }
}
