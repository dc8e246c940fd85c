//! Struck keys and bells: one sine modulates the phase of another (Chowning, Journal of the AES 21(7), 1973).

use super::super::tables::{Tables, hertz, read, step};
use super::envelope::{Contour, Envelope, falling};
use super::{CONTROL, Touch, straight};

/// The patch of a struck instrument.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct KeysPatch {
    /// Frequency of the modulator as a ratio to that of the note.
    pub(in crate::sound) ratio: f64,
    /// Modulation index at the hardest stroke, in radians.
    pub(in crate::sound) index_rad: f32,
    /// Seconds in which the index falls by 60 dB.
    pub(in crate::sound) index_fall_s: f32,
    /// Frequency of a high partial in the stroke as a ratio to that of the note.
    pub(in crate::sound) tine_ratio: f64,
    /// Its amplitude at the hardest stroke, that of the note being 1.
    pub(in crate::sound) tine_share: f32,
    /// Seconds in which it falls by 60 dB.
    pub(in crate::sound) tine_fall_s: f32,
    pub(in crate::sound) contour: Contour,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Keys {
    phases: [u32; 3],
    steps: [u32; 3],
    amplitude: f32,
    envelope: Envelope,
    level: (f32, f32),
    /// Value, what it is multiplied by at a control point, and its line to the next.
    depth: (f32, f32, (f32, f32)),
    tine: (f32, f32, (f32, f32)),
}

/// Radians to 2^32 a turn.
const RADIAN: f32 = 4_294_967_296.0 / core::f32::consts::TAU;

impl Keys {
    pub(super) fn new(
        patch: &KeysPatch,
        key: u8,
        strength: f32,
        rate_hz: f32,
        touch: &mut Touch,
    ) -> Self {
        let note = hertz(f64::from(key));
        // Whatever would alias is left out; the index falls with pitch for the same reason.
        let reach = f64::from(rate_hz) * 0.4;
        let tine = note * patch.tine_ratio;
        #[allow(clippy::cast_possible_truncation)]
        let room = ((reach / note - 1.0) / patch.ratio - 1.0).clamp(0.0, 8.0) as f32;
        let depth = (patch.index_rad * strength * touch.about(0.08)).min(room);
        let share = if tine < reach {
            patch.tine_share * strength * touch.about(0.15)
        } else {
            0.0
        };
        let contour = Contour {
            // Low notes ring longer, an octave by half as much again.
            #[allow(clippy::cast_possible_truncation)]
            decay_s: patch.contour.decay_s * libm::pow(261.63 / note, 0.58) as f32,
            ..patch.contour
        };
        // A stroke begins a little before or after the crossing of both waves, in time: their phases must agree, or the
        // modulated wave has a direct current.
        let start = touch.turn(0.04);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_possible_wrap,
            clippy::cast_sign_loss
        )]
        let modulator = (f64::from(start as i32) * patch.ratio) as i64 as u32;
        Keys {
            phases: [start, modulator, 0],
            steps: [
                step(note, rate_hz),
                step(note * patch.ratio, rate_hz),
                step(tine, rate_hz),
            ],
            amplitude: strength,
            envelope: Envelope::new(&contour, CONTROL, rate_hz),
            level: (0.0, 0.0),
            depth: (
                depth,
                falling(patch.index_fall_s, CONTROL, rate_hz),
                (depth, 0.0),
            ),
            tine: (
                share,
                falling(patch.tine_fall_s, CONTROL, rate_hz),
                (share, 0.0),
            ),
        }
    }

    pub(super) fn control(&mut self) {
        let (from, to) = self.envelope.advance();
        self.level = straight(from * self.amplitude, to * self.amplitude, CONTROL);
        for part in [&mut self.depth, &mut self.tine] {
            let next = part.0 * part.1;
            part.2 = straight(part.0, next, CONTROL);
            part.0 = next;
        }
    }

    pub(super) fn release(&mut self, place: usize) {
        #[allow(clippy::cast_precision_loss)]
        let level = self.level.0 + self.level.1 * place as f32;
        self.envelope.release(level / self.amplitude);
    }

    pub(super) fn is_over(&self) -> bool {
        self.envelope.is_over()
    }

    pub(super) fn render(&mut self, out: &mut [f32], place: usize, tables: &Tables) {
        let sine = tables.sine();
        let [mut a, mut b, mut c] = self.phases;
        let [da, db, dc] = self.steps;
        let ((level, more), (depth, deeper), (tine, finer)) =
            (self.level, self.depth.2, self.tine.2);
        #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation)]
        for (i, sample) in out.iter_mut().enumerate() {
            let at = (place + i) as f32;
            let turned = (depth + deeper * at) * read(sine, b);
            // As a signed number, then wrapped: a turn is 2^32.
            #[allow(clippy::cast_sign_loss)]
            let phase = a.wrapping_add((turned * RADIAN) as i64 as u32);
            let wave = read(sine, phase) + (tine + finer * at) * read(sine, c);
            a = a.wrapping_add(da);
            b = b.wrapping_add(db);
            c = c.wrapping_add(dc);
            *sample = (level + more * at) * wave;
        }
        self.phases = [a, b, c];
    }
}
