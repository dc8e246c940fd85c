//! How loud a held note is from its start to its end.

/// The times of an envelope, in seconds.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct Contour {
    /// From silence to full.
    pub(in crate::sound) attack_s: f32,
    /// From full until it has fallen by 60 dB toward `sustain`.
    pub(in crate::sound) decay_s: f32,
    /// Where it stays while the key is held, 0 to 1.
    pub(in crate::sound) sustain: f32,
    /// From the end of the key until it has fallen by 60 dB.
    pub(in crate::sound) release_s: f32,
}

/// The level of a note, worked out at control points and straight between them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Envelope {
    level: f32,
    next: f32,
    rising: f32,
    decay: f32,
    sustain: f32,
    release: f32,
    released: bool,
}

/// Levels below this are silence: -100 dB.
const SILENT: f32 = 1e-5;

/// The factor that takes `seconds` for 60 dB, applied once every `frames`.
pub(super) fn falling(seconds: f32, frames: usize, rate_hz: f32) -> f32 {
    #[allow(clippy::cast_precision_loss)]
    let share = frames as f32 / (seconds.max(1e-4) * rate_hz);
    libm::powf(10.0, -3.0 * share)
}

impl Envelope {
    pub(super) fn new(contour: &Contour, control: usize, rate_hz: f32) -> Self {
        #[allow(clippy::cast_precision_loss)]
        let rising = control as f32 / (contour.attack_s * rate_hz);
        Envelope {
            level: 0.0,
            next: 0.0,
            rising,
            decay: falling(contour.decay_s, control, rate_hz),
            sustain: contour.sustain,
            release: falling(contour.release_s, control, rate_hz),
            released: false,
        }
    }

    /// Steps to the next control point; returns the level there and the one after it.
    pub(super) fn advance(&mut self) -> (f32, f32) {
        self.level = self.next;
        if self.released {
            self.next = self.level * self.release;
            if self.next < SILENT {
                self.next = 0.0;
            }
        } else if self.rising > 0.0 {
            self.next = (self.level + self.rising).min(1.0);
            if self.next >= 1.0 {
                self.rising = 0.0;
            }
        } else {
            self.next = self.sustain + (self.level - self.sustain) * self.decay;
        }
        (self.level, self.next)
    }

    /// The key goes up, the level now being `level`.
    pub(super) fn release(&mut self, level: f32) {
        self.released = true;
        self.next = level;
    }

    /// Whether nothing is heard any more.
    pub(super) fn is_over(&self) -> bool {
        let spent = self.level < SILENT && self.next < SILENT;
        spent && (self.released || (self.rising == 0.0 && self.sustain == 0.0))
    }
}
