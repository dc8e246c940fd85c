//! Notes that are held: pads, strings, organs, reeds.

use super::super::tables::{Shape, Tables, hertz, read, step};
use super::envelope::{Contour, Envelope};
use super::{CONTROL, Heard, Touch, straight};

/// The patch of a held instrument.
#[derive(Clone, Copy, Debug)]
pub(in crate::sound) struct HeldPatch {
    pub(in crate::sound) shape: Shape,
    pub(in crate::sound) contour: Contour,
    /// Cents between the middle oscillator, which is in tune, and its two softer neighbors; 0 for none.
    pub(in crate::sound) spread_cents: f32,
    /// Depth of a slow swell, 0 to 1.
    pub(in crate::sound) swell: f32,
}

/// How loud the neighbors are.
const NEIGHBOR: f32 = 0.55;

/// Rate of the swell, in hertz.
const SWELL: f64 = 0.27;

#[derive(Clone, Copy, Debug)]
pub(super) struct Held {
    shape: Shape,
    hertz: f32,
    phases: [u32; 3],
    steps: [u32; 3],
    neighbors: bool,
    amplitude: f32,
    envelope: Envelope,
    swell: (u32, u32, f32),
    /// Level at the last control point and its growth a frame.
    line: (f32, f32),
}

impl Held {
    pub(super) fn new(
        patch: &HeldPatch,
        key: u8,
        strength: f32,
        rate_hz: f32,
        touch: &mut Touch,
    ) -> Self {
        let middle = hertz(f64::from(key));
        let cents = f64::from(patch.spread_cents) / 1200.0;
        let steps = [0.0, -1.0, 1.0].map(|side| step(middle * libm::exp2(side * cents), rate_hz));
        let neighbors = patch.spread_cents > 0.0;
        let power = if neighbors {
            1.0 + 2.0 * NEIGHBOR * NEIGHBOR
        } else {
            1.0
        };
        // Waves run freely: a stroke meets them anywhere. The neighbors lie as far to one side of the middle as to the
        // other, and go on so, since one is as much too high as the other is too low.
        let (start, apart, seed) = if neighbors {
            (touch.turn(0.5), touch.turn(0.5), touch.turn(0.5))
        } else {
            (0, 0, 0)
        };
        #[allow(clippy::cast_possible_truncation)]
        Held {
            shape: patch.shape,
            hertz: middle as f32,
            phases: [start, start.wrapping_add(apart), start.wrapping_sub(apart)],
            steps,
            neighbors,
            amplitude: strength / libm::sqrtf(power),
            envelope: Envelope::new(&patch.contour, CONTROL, rate_hz),
            swell: (
                seed,
                step(SWELL * 64.0, rate_hz),
                if patch.swell > 0.0 { patch.swell } else { 0.0 },
            ),
            line: (0.0, 0.0),
        }
    }

    pub(super) fn control(&mut self, tables: &Tables) {
        let (from, to) = self.envelope.advance();
        let (phase, step, depth) = self.swell;
        let at = |phase| 1.0 + depth * read(tables.sine(), phase);
        let (swell, later) = (at(phase), at(phase.wrapping_add(step)));
        self.swell.0 = phase.wrapping_add(step);
        self.line = straight(
            from * swell * self.amplitude,
            to * later * self.amplitude,
            CONTROL,
        );
    }

    pub(super) fn release(&mut self, place: usize) {
        #[allow(clippy::cast_precision_loss)]
        let level = self.line.0 + self.line.1 * place as f32;
        let swell = self.amplitude;
        self.envelope.release(level / swell);
    }

    pub(super) fn is_over(&self) -> bool {
        self.envelope.is_over()
    }

    /// Writes the middle into `out`; the neighbors, if there are any, into `wide`, to be added on the left and subtracted
    /// on the right.
    ///
    /// The neighbors are a quarter turn ahead of the middle in every harmonic, and their sum stays so: it swells and
    /// shrinks, but never works against the middle. So no harmonic has a null, both sides are equally loud at all
    /// times, and both together are the middle alone.
    pub(super) fn render(
        &mut self,
        out: &mut [f32],
        wide: &mut [f32],
        place: usize,
        tables: &Tables,
    ) -> Heard {
        let table = tables.of(self.shape, self.hertz);
        let (start, growth) = self.line;
        let [mut a, mut b, mut c] = self.phases;
        let [da, db, dc] = self.steps;
        #[allow(clippy::cast_precision_loss)]
        let level = |i: usize| start + growth * (place + i) as f32;
        for (i, sample) in out.iter_mut().enumerate() {
            *sample = level(i) * read(table, a);
            a = a.wrapping_add(da);
        }
        if self.neighbors {
            let table = tables.ahead(self.shape, self.hertz);
            for (i, sample) in wide.iter_mut().enumerate() {
                *sample = NEIGHBOR * level(i) * (read(table, b) + read(table, c));
                b = b.wrapping_add(db);
                c = c.wrapping_add(dc);
            }
        }
        self.phases = [a, b, c];
        if self.neighbors {
            Heard::Wide
        } else {
            Heard::Middle
        }
    }
}
