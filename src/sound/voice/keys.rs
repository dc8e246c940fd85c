//! Struck keys and bells: one sine modulates the phase of another (Chowning, Journal of the AES 21(7), 1973).

use super::super::tables::{Tables, hertz, read, step};
use super::envelope::{Contour, Envelope, falling};
use super::{CONTROL, straight};

/// The patch of a struck instrument.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct KeysPatch {
    /// Frequency of the modulator as a ratio to that of the note.
    pub(in crate::sound) ratio: f64,
    /// Modulation index at the hardest stroke, in radians, and the seconds in which it falls by 60 dB.
    pub(in crate::sound) depth: (f32, f32),
    /// A high partial in the stroke: its ratio, its share, and its seconds to 60 dB.
    pub(in crate::sound) tine: (f64, f32, f32),
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
    pub(super) fn new(patch: &KeysPatch, key: u8, strength: f32, rate_hz: f32) -> Self {
        let note = hertz(f64::from(key));
        // Whatever would alias is left out; the index falls with pitch for the same reason.
        let reach = f64::from(rate_hz) * 0.4;
        let tine = note * patch.tine.0;
        #[allow(clippy::cast_possible_truncation)]
        let room = ((reach / note - 1.0) / patch.ratio - 1.0).clamp(0.0, 8.0) as f32;
        let depth = (patch.depth.0 * strength).min(room);
        let share = if tine < reach {
            patch.tine.1 * strength
        } else {
            0.0
        };
        let contour = Contour {
            // Low notes ring longer, an octave by half as much again.
            #[allow(clippy::cast_possible_truncation)]
            decay: patch.contour.decay * libm::pow(261.63 / note, 0.58) as f32,
            ..patch.contour
        };
        Keys {
            phases: [0; 3],
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
                falling(patch.depth.1, CONTROL, rate_hz),
                (depth, 0.0),
            ),
            tine: (share, falling(patch.tine.2, CONTROL, rate_hz), (share, 0.0)),
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
