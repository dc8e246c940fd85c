//! The synthesizer of a SoundFont.

use rustysynth::{Synthesizer, SynthesizerSettings};

use super::guard::guarded;
use super::{Font, FontError, FontFault};
use crate::event::{Channel, KeyNumber, Message, Velocity};

/// Frames the library makes at a time; the least it allows.
const BLOCK: usize = 8;

/// Voices that can sound at once. Dense music with long releases needs some fifty.
const VOICES: usize = 128;

/// Rates at which a font is played.
const RATES: std::ops::RangeInclusive<u32> = 22_050..=192_000;

/// Controllers that are passed on and kept: bank, modulation, volume, pan, expression, sustain, reverb, chorus.
const KEPT: [u8; 8] = [0, 1, 7, 10, 11, 64, 91, 93];

/// Those of them that "reset all controllers" puts back.
const RESET: [u8; 3] = [1, 11, 64];

/// Controllers that are passed on and leave nothing to keep: all sound off, reset all controllers, all notes off.
const PASSED: [u8; 3] = [120, 121, 123];

/// "Reset all controllers".
const RESET_CONTROLLERS: u8 = 121;

/// Beyond this (180 dB above full scale, before the gain) a sample is not sound: a filter is running away. What a font
/// may ask for at the bounds of the format stays below.
const RUNAWAY: f32 = 1e9;

/// Reverb and chorus.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Effects {
    On,
    Off,
}

/// What a channel was told, to tell it again.
#[derive(Clone, Copy, Default)]
struct Notice {
    program: u8,
    controls: [Option<u8>; KEPT.len()],
}

/// One synthesizer that plays all sixteen channels with the sounds of a [`Font`].
///
/// A message counts from the first frame of the next block of 8: it is heard 0 to 7 frames after the frame before which
/// it was given (at most 0.16 ms at 44 100), whatever the lengths of the rendered pieces. Delay and attack set by the
/// font come on top; by default the format has a millisecond of each. On channel 10 the programs are drum kits (bank
/// 128).
pub struct FontSynth {
    synth: Synthesizer,
    told: [Notice; Synthesizer::CHANNEL_COUNT],
    gain: f32,
    faults: u32,
}

impl std::fmt::Debug for FontSynth {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("FontSynth")
            .field("rate_hz", &self.synth.get_sample_rate())
            .field("gain", &self.gain)
            .field("faults", &self.faults)
            .finish_non_exhaustive()
    }
}

impl FontSynth {
    /// A synthesizer with the sounds of `font` at `rate_hz` frames a second, with reverb and chorus.
    ///
    /// # Errors
    /// When the rate is not 22 050 to 192 000.
    pub fn new(font: &Font, rate_hz: u32) -> Result<Self, FontError> {
        Self::with_effects(font, rate_hz, Effects::On)
    }

    /// The same without reverb and chorus: up to a quarter cheaper, for checks.
    ///
    /// # Errors
    /// As [`FontSynth::new`].
    pub fn dry(font: &Font, rate_hz: u32) -> Result<Self, FontError> {
        Self::with_effects(font, rate_hz, Effects::Off)
    }

    fn with_effects(font: &Font, rate_hz: u32, effects: Effects) -> Result<Self, FontError> {
        let fault = || FontFault::Rate(rate_hz).of(font.path());
        if !RATES.contains(&rate_hz) {
            return Err(fault());
        }
        let mut settings = SynthesizerSettings::new(i32::try_from(rate_hz).map_err(|_| fault())?);
        settings.block_size = BLOCK;
        settings.maximum_polyphony = VOICES;
        settings.enable_reverb_and_chorus = effects == Effects::On;
        // Guarded like every call; this one also prepares the guard, which allocates the first time.
        let mut synth = guarded(|| Synthesizer::new(font.sounds(), &settings))
            .map_err(FontFault::Damaged)
            .map_err(|fault| fault.of(font.path()))?
            .map_err(|_| fault())?;
        // The library drops what is quiet after its own gain, so that gain stays as it is and ours comes after.
        synth.set_master_volume(1.0);
        Ok(FontSynth {
            synth,
            told: [Notice::default(); Synthesizer::CHANNEL_COUNT],
            gain: 0.5,
            faults: 0,
        })
    }

    /// Multiplies all that follows, from the next rendered frame on. It begins at 0.5, where a single loud note stays
    /// well below full scale. Nothing is clipped here: samples may lie beyond -1 and 1.
    ///
    /// # Real time
    /// Does not allocate or block.
    pub fn set_gain(&mut self, gain: f32) {
        self.gain = gain;
    }

    /// Takes a message. Controllers other than bank, modulation, volume, pan, expression, sustain, reverb, chorus, all
    /// sound off, reset all controllers and all notes off are ignored.
    ///
    /// # Real time
    /// Does not allocate or block, unless the font makes the library panic.
    pub fn message(&mut self, channel: Channel, message: Message) {
        let number = i32::from(channel.nibble());
        let told = &mut self.told[usize::from(channel.nibble())];
        match message {
            Message::NoteOff { key } => {
                self.guard(|synth| synth.note_off(number, key.get().into()));
            }
            Message::NoteOn { key, velocity } => self.note_on(number, key, velocity),
            Message::Program(program) => {
                told.program = program & 127;
                let program = told.program.into();
                self.guard(|synth| synth.process_midi_message(number, 0xC0, program, 0));
            }
            Message::Control { controller, value } => {
                let value = value & 127;
                if let Some(at) = KEPT.iter().position(|kept| *kept == controller) {
                    told.controls[at] = Some(value);
                } else if !PASSED.contains(&controller) {
                    return;
                }
                if controller == RESET_CONTROLLERS {
                    for (at, kept) in KEPT.iter().enumerate() {
                        if RESET.contains(kept) {
                            told.controls[at] = None;
                        }
                    }
                }
                self.guard(|synth| {
                    synth.process_midi_message(number, 0xB0, controller.into(), value.into());
                });
            }
        }
    }

    fn note_on(&mut self, channel: i32, key: KeyNumber, velocity: Velocity) {
        self.guard(|synth| synth.note_on(channel, key.get().into(), velocity.get().into()));
    }

    /// Ends all that sounds at once, reverb included, without fading: fade before where that would click. Programs and
    /// controllers stay as they are.
    ///
    /// # Real time
    /// Does not allocate or block; clears about 40 000 numbers at 44 100.
    pub fn silence(&mut self) {
        self.synth.reset();
        for (channel, told) in (0i32..).zip(&self.told) {
            self.synth
                .process_midi_message(channel, 0xC0, told.program.into(), 0);
            for (controller, value) in KEPT.iter().zip(told.controls) {
                if let Some(value) = value {
                    self.synth.process_midi_message(
                        channel,
                        0xB0,
                        (*controller).into(),
                        value.into(),
                    );
                }
            }
        }
    }

    /// Writes the next frames over `left` and `right`. Where one is longer than the other, its rest is silent.
    ///
    /// # Real time
    /// Does not allocate or block, unless the font makes the library panic.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let (left, left_rest) = left.split_at_mut(frames);
        let (right, right_rest) = right.split_at_mut(frames);
        left_rest.fill(0.0);
        right_rest.fill(0.0);
        if !self.guard(|synth| synth.render(left, right)) {
            left.fill(0.0);
            right.fill(0.0);
        }
        let mut sound = true;
        for sample in left.iter_mut().chain(right.iter_mut()) {
            // False for NaN, too.
            if sample.abs() <= RUNAWAY {
                *sample *= self.gain;
            } else {
                *sample = 0.0;
                sound = false;
            }
        }
        if !sound {
            self.fail();
        }
    }

    /// How often the font made the library fail: all that sounded was ended there, and playing went on.
    pub fn faults(&self) -> u32 {
        self.faults
    }

    /// The greatest sample of the next `frames` frames, without its sign.
    pub(super) fn peak(&mut self, frames: usize) -> f32 {
        let (mut left, mut right) = ([0f32; 256], [0f32; 256]);
        let mut peak = 0f32;
        let mut rest = frames;
        while rest > 0 {
            let now = rest.min(left.len());
            self.render(&mut left[..now], &mut right[..now]);
            for sample in left[..now].iter().chain(&right[..now]) {
                peak = peak.max(sample.abs());
            }
            rest -= now;
        }
        peak
    }

    /// Calls the library and returns whether it succeeded; if it panics, ends all that sounds.
    fn guard(&mut self, f: impl FnOnce(&mut Synthesizer)) -> bool {
        let done = guarded(|| f(&mut self.synth)).is_ok();
        if !done {
            self.fail();
        }
        done
    }

    fn fail(&mut self) {
        self.faults = self.faults.saturating_add(1);
        self.silence();
    }
}
