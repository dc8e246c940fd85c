//! One sounding note.
//!
//! What a voice plays depends on its patch, its key, its strength and its age, and on nothing else: not on how the
//! frames are asked for, and not on what other parts play. So leaving a part out takes away just that part.

mod drum;
mod envelope;
mod held;
mod keys;
mod pluck;

pub(super) use drum::{DrumPatch, Hiss, Kept, Mode};
pub(super) use envelope::Contour;
pub(super) use held::HeldPatch;
pub(super) use keys::KeysPatch;
pub(super) use pluck::PluckPatch;

use self::drum::Drum;
use self::held::Held;
use self::keys::Keys;
use self::pluck::Pluck;
use super::tables::Tables;

/// Frames between control points, counted from the start of the note.
const CONTROL: usize = 64;

/// A line from one level to another over `frames`.
fn straight(from: f32, to: f32, frames: usize) -> (f32, f32) {
    #[allow(clippy::cast_precision_loss)]
    let growth = (to - from) / frames as f32;
    (from, growth)
}

/// White noise, the same for the same seed: a linear congruence with the constants of Numerical Recipes.
#[derive(Clone, Copy, Debug)]
struct Noise(u32);

impl Noise {
    /// The next value, -1 to 1.
    #[inline(always)]
    fn next(&mut self) -> f32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        // The upper bits are the good ones.
        #[allow(clippy::cast_precision_loss, clippy::cast_possible_wrap)]
        let value = (self.0 as i32 >> 8) as f32;
        value * (1.0 / 8_388_608.0)
    }
}

/// What differs from stroke to stroke of one voice, drawn from its seed.
struct Touch {
    noise: Noise,
    /// 1, or 0 where every stroke is the same.
    share: f32,
}

impl Touch {
    /// A factor between 1 - `reach` and 1 + `reach`.
    fn about(&mut self, reach: f32) -> f32 {
        1.0 + reach * self.share * self.noise.next()
    }

    /// A phase up to `turns` before or after 0, a turn being 2^32.
    fn turn(&mut self, turns: f32) -> u32 {
        let turns = turns * self.share * self.noise.next();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let phase = (turns * 4_294_967_296.0) as i64 as u32;
        phase
    }

    /// Noise that goes on from here.
    fn noise(&self) -> Noise {
        self.noise
    }
}

/// What a voice wrote.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Heard {
    /// Nothing.
    Nothing,
    /// The middle.
    Middle,
    /// The middle, and what is added left and subtracted right.
    Wide,
}

/// A note that is struck.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stroke {
    pub(super) key: u8,
    /// 1 to 127.
    pub(super) velocity: u8,
    /// The order in which it comes among the notes of its part.
    pub(super) order: u32,
    /// What it differs by from others like it; `None` for a stroke of the pulse, which is the same each time.
    pub(super) seed: Option<u32>,
}

/// Takes away what does not swing. A string's onset and a drum's first half wave push one way only, and so many strokes
/// would add up to a direct current.
#[derive(Clone, Copy, Debug, Default)]
struct Blocker {
    keep: f32,
    before: f32,
    level: f32,
}

impl Blocker {
    /// Below this, in hertz, sound is taken away. A bass begins at 41 Hz.
    const EDGE_HZ: f32 = 5.0;

    fn new(rate_hz: f32) -> Self {
        Blocker {
            keep: libm::expf(-core::f32::consts::TAU * Self::EDGE_HZ / rate_hz),
            ..Blocker::default()
        }
    }

    fn process(&mut self, samples: &mut [f32]) {
        for sample in samples {
            self.level = *sample - self.before + self.keep * self.level;
            self.before = *sample;
            *sample = self.level;
        }
    }
}

/// How a note is made.
#[derive(Clone, Copy, Debug)]
pub(super) enum Sound {
    Pluck(PluckPatch),
    Held(HeldPatch),
    Keys(KeysPatch),
    Drum(DrumPatch),
}

/// An instrument, or one piece of the percussion.
#[derive(Clone, Copy, Debug)]
pub(super) struct Patch {
    pub(super) sound: Sound,
    /// Amplitude at full strength, in decibels above 1.
    pub(super) level_db: f32,
    /// Share sent to the reverb, 0 to 1.
    pub(super) room: f32,
    /// How far low and high keys lie left and right, 0 to 1.
    pub(super) width: f32,
    /// Choke group of percussion: a stroke stops what sounds of its group; 0 for none.
    pub(super) group: u8,
}

#[derive(Clone, Copy, Debug)]
enum Playing {
    Pluck(Pluck),
    Held(Held),
    Keys(Keys),
    Drum(Drum),
}

/// Where a voice is in its life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// Silent, to be used again.
    Free,
    /// The key is down.
    Held,
    /// The key is down, but was struck again since: its note-off belongs to this voice.
    Replaced,
    /// The key is up while the pedal holds the note.
    Pedal,
    /// The key is up and the note dies away.
    Released,
}

/// A sounding note, with all the memory it needs.
pub(super) struct Voice {
    playing: Option<Playing>,
    blocker: Blocker,
    pub(super) stage: Stage,
    pub(super) key: u8,
    pub(super) patch: Option<&'static Patch>,
    /// Frames since the last control point.
    place: usize,
    /// What multiplies its middle, left and right.
    pub(super) gains: [f32; 2],
    /// What multiplies its width.
    pub(super) wide_gain: f32,
    /// The order in which it started among the voices of the part.
    pub(super) order: u32,
    memory: Box<[f32]>,
}

impl Voice {
    pub(super) fn new(rate_hz: f32) -> Self {
        Voice {
            playing: None,
            blocker: Blocker::new(rate_hz),
            stage: Stage::Free,
            key: 0,
            patch: None,
            place: 0,
            gains: [0.0; 2],
            wide_gain: 0.0,
            order: 0,
            memory: vec![0.0; pluck::memory(rate_hz)].into_boxed_slice(),
        }
    }

    /// Begins to sound.
    pub(super) fn start(&mut self, patch: &'static Patch, stroke: Stroke, rate_hz: f32) {
        let Stroke {
            key,
            velocity,
            order,
            seed,
        } = stroke;
        // The usual curve of level over velocity is about its square; a little flatter keeps soft strokes audible.
        let strength = libm::powf(f32::from(velocity) / 127.0, 1.6);
        let touch = &mut Touch {
            noise: Noise(seed.unwrap_or(0)),
            share: if seed.is_some() { 1.0 } else { 0.0 },
        };
        self.playing = Some(match &patch.sound {
            Sound::Pluck(p) => Playing::Pluck(Pluck::new(
                p,
                key,
                strength,
                rate_hz,
                touch,
                &mut self.memory,
            )),
            Sound::Held(p) => Playing::Held(Held::new(p, key, strength, rate_hz, touch)),
            Sound::Keys(p) => Playing::Keys(Keys::new(p, key, strength, rate_hz, touch)),
            Sound::Drum(p) => Playing::Drum(Drum::new(p, strength, rate_hz, touch)),
        });
        self.blocker = Blocker::new(rate_hz);
        self.stage = Stage::Held;
        self.key = key;
        self.patch = Some(patch);
        self.order = order;
        self.place = CONTROL;
        let side = ((f32::from(key) - 60.0) / 24.0).clamp(-1.0, 1.0) * patch.width;
        let angle = core::f32::consts::FRAC_PI_4 * (1.0 + side);
        let level = libm::powf(10.0, patch.level_db / 20.0);
        self.gains = [level * libm::cosf(angle), level * libm::sinf(angle)];
        self.wide_gain = level * core::f32::consts::FRAC_1_SQRT_2;
    }

    /// The key goes up.
    pub(super) fn release(&mut self) {
        let place = self.place;
        match &mut self.playing {
            Some(Playing::Pluck(p)) => p.release(),
            Some(Playing::Held(p)) => p.release(place),
            Some(Playing::Keys(p)) => p.release(place),
            // Percussion rings by itself.
            Some(Playing::Drum(_)) | None => {}
        }
        // A new control point begins here.
        if matches!(self.playing, Some(Playing::Held(_) | Playing::Keys(_))) {
            self.place = CONTROL;
        }
        self.stage = Stage::Released;
    }

    /// Stopped by another stroke of its group.
    pub(super) fn choke(&mut self, rate_hz: f32) {
        if let Some(Playing::Drum(drum)) = &mut self.playing {
            drum.choke(rate_hz);
        }
    }

    /// Silent at once.
    pub(super) fn cut(&mut self) {
        self.playing = None;
        self.stage = Stage::Free;
    }

    /// Writes the next frames into `out`, those that make it wide into `wide`, and says which of them are heard.
    pub(super) fn render(&mut self, out: &mut [f32], wide: &mut [f32], tables: &Tables) -> Heard {
        let Some(playing) = &mut self.playing else {
            return Heard::Nothing;
        };
        let mut heard = Heard::Nothing;
        let mut done = 0;
        while done < out.len() {
            if self.place == CONTROL {
                let over = match playing {
                    Playing::Pluck(p) => p.is_over(),
                    Playing::Held(p) => {
                        p.control(tables);
                        p.is_over()
                    }
                    Playing::Keys(p) => {
                        p.control();
                        p.is_over()
                    }
                    Playing::Drum(p) => {
                        p.control();
                        p.is_over()
                    }
                };
                if over {
                    out[done..].fill(0.0);
                    wide[done..].fill(0.0);
                    // A key that is still down will get its note-off.
                    self.playing = None;
                    if self.stage != Stage::Held && self.stage != Stage::Replaced {
                        self.stage = Stage::Free;
                    }
                    return heard;
                }
                self.place = 0;
            }
            let n = (CONTROL - self.place).min(out.len() - done);
            let stretch = &mut out[done..done + n];
            heard = Heard::Middle;
            match playing {
                Playing::Pluck(p) => {
                    p.render(stretch, &mut self.memory);
                    self.blocker.process(stretch);
                }
                Playing::Held(p) => {
                    heard = p.render(stretch, &mut wide[done..done + n], self.place, tables);
                }
                Playing::Keys(p) => p.render(stretch, self.place, tables),
                Playing::Drum(p) => {
                    p.render(stretch, tables);
                    self.blocker.process(stretch);
                }
            }
            self.place += n;
            done += n;
        }
        heard
    }

    /// Whether it can be used again: nothing sounds.
    pub(super) fn is_silent(&self) -> bool {
        self.playing.is_none()
    }
}
