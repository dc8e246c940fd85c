//! One period of each waveform, with fewer harmonics the higher it is played.
//!
//! Everything is computed with libm, not the platform's mathematics, so a piece sounds the same to the last bit
//! everywhere.

use std::f32::consts::TAU;

/// Samples of a period, a power of two.
const SIZE: usize = 1 << BITS;
const BITS: u32 = 11;

/// Fundamentals of the lowest table end here, in hertz; each further table reaches an octave higher.
const LOWEST: f32 = 55.0;
const OCTAVES: usize = 9;

/// Most harmonics of a table: beyond them the falling shapes have almost nothing left.
const HARMONICS: usize = 96;

/// Highest harmonic as a share of the sample rate. Aliasing from linear interpolation is far below hearing.
const EDGE: f32 = 0.45;

/// The shapes there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    /// Harmonics falling 10 dB an octave: soft.
    Warm,
    /// Harmonics falling 6 dB an octave, the first four full: bowed strings.
    Bowed,
    /// Drawbars of an organ at 8, 4, 2 2/3 and 2 feet.
    Organ,
    /// Odd harmonics first: reeds and pipes.
    Reed,
    /// All harmonics falling 6 dB an octave.
    Bright,
}

impl Shape {
    const ALL: [Shape; 5] = [
        Shape::Warm,
        Shape::Bowed,
        Shape::Organ,
        Shape::Reed,
        Shape::Bright,
    ];

    /// Amplitude of harmonic `n`, counted from 1.
    fn harmonic(self, n: usize) -> f32 {
        #[allow(clippy::cast_precision_loss)] // at most 96
        let order = n as f32;
        match self {
            Shape::Warm => libm::powf(order, -1.7),
            Shape::Bowed => libm::powf(order, -1.0) / (1.0 + libm::powf(order / 9.0, 2.0)),
            Shape::Organ => match n {
                1 => 1.0,
                2 => 0.55,
                3 => 0.28,
                4 => 0.22,
                6 => 0.08,
                8 => 0.06,
                _ => 0.0,
            },
            Shape::Reed if n % 2 == 1 => libm::powf(order, -1.1),
            Shape::Reed => 0.35 * libm::powf(order, -1.3),
            Shape::Bright => libm::powf(order, -1.0),
        }
    }
}

/// A period of a waveform, its first sample repeated at the end.
pub(super) type Turn = [f32; SIZE + 1];

/// Tables of every shape, for one sample rate.
#[derive(Debug)]
pub(super) struct Tables {
    sine: Box<Turn>,
    /// By shape, then by octave; then all again with every harmonic a quarter of its turn ahead.
    waves: Vec<Turn>,
}

impl Tables {
    /// The tables for `rate_hz`.
    pub(super) fn new(rate_hz: f32) -> Self {
        #[allow(clippy::cast_precision_loss)] // at most 2048
        let sine: Box<Turn> = Box::new(std::array::from_fn(|i| {
            libm::sinf(TAU * (i % SIZE) as f32 / SIZE as f32)
        }));
        let mut waves = Vec::new();
        for ahead in [0, SIZE / 4] {
            for shape in Shape::ALL {
                let mut top = LOWEST;
                for _ in 0..OCTAVES {
                    waves.push(wave(shape, rate_hz * EDGE / top, &sine, ahead));
                    top *= 2.0;
                }
            }
        }
        Tables { sine, waves }
    }

    /// The table of `shape` for a fundamental of `hertz`.
    pub(super) fn of(&self, shape: Shape, hertz: f32) -> &Turn {
        &self.waves[Tables::place(shape, hertz)]
    }

    /// The same table with every harmonic a quarter of its turn ahead: none of them can weaken its counterpart of
    /// [`Tables::of`] when both sound.
    pub(super) fn ahead(&self, shape: Shape, hertz: f32) -> &Turn {
        &self.waves[Shape::ALL.len() * OCTAVES + Tables::place(shape, hertz)]
    }

    fn place(shape: Shape, hertz: f32) -> usize {
        let shape = Shape::ALL.iter().position(|s| *s == shape).unwrap_or(0);
        let mut octave = 0;
        let mut top = LOWEST;
        while hertz > top && octave + 1 < OCTAVES {
            top *= 2.0;
            octave += 1;
        }
        shape * OCTAVES + octave
    }

    /// One period of a sine.
    pub(super) fn sine(&self) -> &Turn {
        &self.sine
    }
}

/// A period with the harmonics up to `most`, as loud as a sine of amplitude 1, each harmonic `ahead` of its own start by
/// that many samples of [`SIZE`].
fn wave(shape: Shape, most: f32, sine: &Turn, ahead: usize) -> Turn {
    let mut turn = [0.0; SIZE + 1];
    let mut power = 0.0;
    for n in 1..=HARMONICS {
        #[allow(clippy::cast_precision_loss)]
        let beyond = n > 1 && n as f32 > most;
        let amplitude = shape.harmonic(n);
        if beyond || amplitude == 0.0 {
            continue;
        }
        power += amplitude * amplitude;
        for (i, sample) in turn.iter_mut().enumerate() {
            *sample += amplitude * sine[(i * n + ahead) % SIZE];
        }
    }
    let scale = 1.0 / libm::sqrtf(power);
    for sample in &mut turn {
        *sample *= scale;
    }
    turn
}

/// A table read at `phase`, a turn being 2^32.
#[inline(always)]
pub(super) fn read(table: &Turn, phase: u32) -> f32 {
    const SHIFT: u32 = 32 - BITS;
    const FRACTION: f32 = 1.0 / (1u32 << SHIFT) as f32;
    let at = (phase >> SHIFT) as usize;
    #[allow(clippy::cast_precision_loss)] // 21 bits
    let part = (phase & ((1 << SHIFT) - 1)) as f32 * FRACTION;
    let (a, b) = (table[at], table[at + 1]);
    a + part * (b - a)
}

/// The phase step of `hertz`: a turn being 2^32, so a pitch is right to a hundred-thousandth of a cent.
pub(super) fn step(hertz: f64, rate_hz: f32) -> u32 {
    let turns = (hertz / f64::from(rate_hz)).clamp(0.0, 0.499);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // below 2^31
    let step = libm::round(turns * 4_294_967_296.0) as u32;
    step
}

/// The frequency of a key in hertz: A4 (69) is 440, twelve equal steps to the octave (the MIDI tuning standard's
/// default).
pub(super) fn hertz(key: f64) -> f64 {
    440.0 * libm::exp2((key - 69.0) / 12.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_holds_no_harmonic_beyond_the_edge() {
        // The strength of a harmonic, by correlation with a sine and a cosine.
        let tables = Tables::new(44_100.0);
        let strength = |table: &[f32], n: usize| {
            let (mut a, mut b) = (0.0f64, 0.0f64);
            for (i, s) in table[..SIZE].iter().enumerate() {
                let angle = std::f64::consts::TAU * (i * n) as f64 / SIZE as f64;
                a += f64::from(*s) * angle.sin();
                b += f64::from(*s) * angle.cos();
            }
            (a * a + b * b).sqrt() / SIZE as f64
        };
        for hertz in [40.0f32, 110.0, 440.0, 1760.0, 7040.0] {
            let table = tables.of(Shape::Bright, hertz);
            assert!(strength(table, 1) > 0.2);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let beyond = (44_100.0 * 0.5 / hertz) as usize + 1;
            for n in beyond..(beyond + 20).min(SIZE / 2) {
                assert!(strength(table, n) < 1e-6, "{hertz} Hz, harmonic {n}");
            }
        }
    }

    #[test]
    fn steps_hold_the_pitch() {
        for key in 0..=127 {
            let hertz = hertz(f64::from(key));
            let found = f64::from(step(hertz, 48_000.0)) / 4_294_967_296.0 * 48_000.0;
            assert!(
                (1200.0 * (found / hertz).log2()).abs() < 0.001,
                "key {key}: {found} for {hertz}"
            );
        }
        // The values printed in every handbook: A4, middle C, the guitar's lowest string.
        assert_eq!(hertz(69.0), 440.0);
        assert!((hertz(60.0) - 261.6256).abs() < 1e-4);
        assert!((hertz(40.0) - 82.4069).abs() < 1e-4);
    }
}
