//! The engine: every part's voices, their pan, and the reverb.

use std::sync::Arc;

use super::bank;
use super::font::{Font, FontError, FontSynth};
use super::room::Room;
use super::tables::Tables;
use super::voice::{Heard, Patch, Stage, Stroke, Voice};
use crate::event::{Channel, Header, Message, PartInfo, PartMessage};

/// Voices of a part that can sound at once.
const VOICES: usize = 24;

/// Frames computed at once.
const STRETCH: usize = 128;

/// Frames of parts are rounded to multiples of 2^-21 before they are added, so the sum is exact: what a part adds can
/// be subtracted again to the last bit. A number of this size has 2^-21 as its last place.
const GRID: f32 = 6.0;

/// Rounds to the grid. Exact for magnitudes below 2.
#[inline(always)]
fn on_grid(value: f32) -> f32 {
    (value.clamp(-1.999, 1.999) + GRID) - GRID
}

/// Adds `level` times `from` to `to`.
#[inline(always)]
fn add(to: &mut [f32], from: &[f32], level: f32) {
    for (to, from) in to.iter_mut().zip(from) {
        *to += level * from;
    }
}

/// Adds both sides to frames, each times its gain and rounded to the grid.
#[inline(always)]
fn add_on_grid(out: &mut [[f32; 2]], sides: &[&mut [f32]; 2], gains: [f32; 2]) {
    let [l, r] = gains;
    let [left, right] = sides;
    for ((frame, left), right) in out.iter_mut().zip(left.iter()).zip(right.iter()) {
        frame[0] += on_grid(l * left);
        frame[1] += on_grid(r * right);
    }
}

/// Controllers of the MIDI 1.0 table.
const VOLUME: u8 = 7;
const PAN: u8 = 10;
const SUSTAIN: u8 = 64;
const ALL_SOUND_OFF: u8 = 120;
const ALL_NOTES_OFF: u8 = 123;

/// Notes of a part that make a difference to the next.
const REMEMBERED: u32 = 32;

/// The last notes of a part, from which the next takes what it differs by from others like it.
///
/// No two strokes are copies of each other, yet a stroke does not depend on how often the part was struck before: once
/// this many notes have been played, it sounds the same wherever playing began.
#[derive(Default)]
struct Before {
    /// Keys and velocities, a ring.
    notes: [u32; REMEMBERED as usize],
    at: usize,
    /// Sum of the notes, each times a power of [`Before::BASE`] that grows with its age.
    sum: u32,
}

impl Before {
    /// An odd number, so that no note is lost in the products (Knuth, The Art of Computer Programming 3.3.4).
    const BASE: u32 = 1_664_525;

    /// What the stroke of this key differs by: a number that the notes before it and its own key and velocity decide.
    fn next(&mut self, key: u8, velocity: u8) -> u32 {
        let note = 1 + u32::from(key) * 128 + u32::from(velocity);
        let oldest = core::mem::replace(&mut self.notes[self.at], note);
        self.at = (self.at + 1) % self.notes.len();
        let leaving = oldest.wrapping_mul(Self::BASE.wrapping_pow(REMEMBERED));
        let sum = self.sum.wrapping_mul(Self::BASE).wrapping_add(note);
        self.sum = sum.wrapping_sub(leaving);
        // Spreads near sums apart (the finish of MurmurHash3).
        let mut seed = self.sum;
        seed = (seed ^ (seed >> 16)).wrapping_mul(0x85EB_CA6B);
        seed = (seed ^ (seed >> 13)).wrapping_mul(0xC2B2_AE35);
        seed ^ (seed >> 16)
    }
}

/// One part's voices.
struct Strip {
    voices: Vec<Voice>,
    patch: &'static Patch,
    /// Volume and pan of its channel.
    volume: u8,
    pan: f32,
    pedal: bool,
    gains: [f32; 2],
    /// Notes so far.
    notes: u32,
    /// Its last notes, by which the next differs from others like it; `None` for the pulse, whose strokes are alike.
    before: Option<Before>,
    /// Whether anything sounded in the last stretch.
    sounding: bool,
}

impl Strip {
    fn new(rate_hz: f32, part: &PartInfo) -> Self {
        let mut strip = Strip {
            voices: (0..VOICES).map(|_| Voice::new(rate_hz)).collect(),
            patch: bank::program(0),
            volume: 100,
            pan: f32::from(part.pan) / 100.0,
            pedal: false,
            gains: [1.0; 2],
            notes: 0,
            before: (!part.pulse).then(Before::default),
            sounding: false,
        };
        strip.weigh();
        strip
    }

    /// Volume as General MIDI has it, 40 log10(value / 127) decibels; place left and right by equal power, 1 in the
    /// middle.
    fn weigh(&mut self) {
        let volume = f32::from(self.volume) / 127.0;
        let angle = core::f32::consts::FRAC_PI_4 * (1.0 + self.pan);
        let level = volume * volume * core::f32::consts::SQRT_2;
        self.gains = [level * libm::cosf(angle), level * libm::sinf(angle)];
    }

    fn note_on(&mut self, channel: Channel, key: u8, velocity: u8, rate_hz: f32) {
        let percussion = channel == Channel::PERCUSSION;
        let patch = match (percussion, &self.before) {
            (true, None) => bank::pulse(key),
            (true, Some(_)) => bank::percussion(key),
            (false, _) => self.patch,
        };
        if patch.group > 0 {
            for voice in &mut self.voices {
                if voice.patch.is_some_and(|p| p.group == patch.group) {
                    voice.choke(rate_hz);
                }
            }
        }
        if !percussion {
            for voice in &mut self.voices {
                // The string or key is struck again: the note before ends, but its note-off is still to come.
                if voice.key == key && matches!(voice.stage, Stage::Held | Stage::Pedal) {
                    let owes = voice.stage == Stage::Held;
                    voice.release();
                    if owes {
                        voice.stage = Stage::Replaced;
                    }
                }
            }
        }
        // A free voice; else the oldest that is released; else the oldest.
        let rank = |voice: &Voice| match voice.stage {
            Stage::Free => 0,
            _ if voice.is_silent() => 1,
            Stage::Released => 2,
            _ => 3,
        };
        let order = self.notes;
        self.notes = self.notes.wrapping_add(1);
        if let Some(voice) = self.voices.iter_mut().min_by_key(|v| (rank(v), v.order)) {
            let stroke = Stroke {
                key,
                velocity,
                order,
                seed: self
                    .before
                    .as_mut()
                    .map(|before| before.next(key, velocity)),
            };
            voice.start(patch, stroke, rate_hz);
            self.sounding = true;
        }
    }

    fn note_off(&mut self, channel: Channel, key: u8) {
        // Note-offs come in the order of the note-ons.
        let mut owing: Option<&mut Voice> = None;
        for voice in &mut self.voices {
            let owes = matches!(voice.stage, Stage::Replaced | Stage::Held) && voice.key == key;
            if owes && owing.as_ref().is_none_or(|o| voice.order < o.order) {
                owing = Some(voice);
            }
        }
        let Some(voice) = owing else { return };
        if voice.is_silent() {
            voice.cut();
        } else if voice.stage == Stage::Replaced || channel == Channel::PERCUSSION {
            voice.stage = Stage::Released;
        } else if self.pedal {
            voice.stage = Stage::Pedal;
        } else {
            voice.release();
        }
    }

    /// Writes the next frames of all voices over `sides`, and adds the reverb send to `sent`. `scratch` is space for
    /// one voice, its middle and its width.
    fn render(
        &mut self,
        tables: &Tables,
        scratch: [&mut [f32]; 2],
        sides: &mut [&mut [f32]; 2],
        sent: &mut [f32],
    ) {
        let [mono, wide] = scratch;
        let [left, right] = sides;
        left.fill(0.0);
        right.fill(0.0);
        self.sounding = false;
        for voice in &mut self.voices {
            if voice.is_silent() {
                continue;
            }
            let heard = voice.render(mono, wide, tables);
            if heard == Heard::Nothing {
                continue;
            }
            self.sounding = true;
            let [l, r] = voice.gains;
            let room = voice.patch.map_or(0.0, |p| p.room) * self.gains[0].max(self.gains[1]);
            add(left, mono, l);
            add(right, mono, r);
            if heard == Heard::Wide {
                add(left, wide, voice.wide_gain);
                add(right, wide, -voice.wide_gain);
            }
            if room > 0.0 {
                add(sent, mono, room * (l + r));
            }
        }
    }

    fn release_all(&mut self, which: fn(Stage) -> bool) {
        for voice in &mut self.voices {
            if which(voice.stage) {
                voice.release();
            }
        }
    }
}

/// Plays timed messages with the built-in voices.
///
/// # Real time
/// Once made, it allocates nothing, locks nothing and blocks on nothing.
pub struct Engine {
    rate_hz: f32,
    tables: Arc<Tables>,
    strips: Vec<Strip>,
    /// `None` in tests that measure one note.
    room: Option<Room>,
    scratch: [[f32; STRETCH]; 2],
    sides: [[f32; STRETCH]; 2],
    sent: [f32; STRETCH],
    /// A SoundFont that plays every part but the pulse.
    font: Option<FontVoices>,
}

/// A SoundFont that plays parts in place of the voices.
struct FontVoices {
    synth: FontSynth,
    /// The parts it plays, by their ids.
    parts: Vec<bool>,
    /// Frames since it was last heard.
    quiet: usize,
    /// After so many it is silent: longer than a note may take to begin.
    patience: usize,
}

/// Samples below this are silence: -100 dB.
const SILENT: f32 = 1e-5;

impl Engine {
    /// An engine for the parts of `header`, at `rate_hz` frames a second (8000 to 192 000).
    pub fn new(header: &Header, rate_hz: u32) -> Self {
        #[allow(clippy::cast_precision_loss)]
        let rate_hz = rate_hz.clamp(8_000, 192_000) as f32;
        let strips = header
            .parts
            .iter()
            .map(|part| Strip::new(rate_hz, part))
            .collect();
        Engine {
            rate_hz,
            tables: Arc::new(Tables::new(rate_hz)),
            strips,
            room: Some(Room::new(rate_hz)),
            scratch: [[0.0; STRETCH]; 2],
            sides: [[0.0; STRETCH]; 2],
            sent: [0.0; STRETCH],
            font: None,
        }
    }

    /// The same engine, but every part other than the pulse is played by `font`. The pulse keeps its own voice, which
    /// begins on its frame; notes of a font begin within eight frames of theirs.
    ///
    /// # Errors
    /// When the font's player refuses the rate, or the font.
    #[cfg_attr(
        not(feature = "font"),
        allow(unreachable_code, unused_mut, unused_variables)
    )]
    pub fn with_font(mut self, header: &Header, font: &Font) -> Result<Self, FontError> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let rate_hz = self.rate_hz as u32;
        self.font = Some(FontVoices {
            synth: FontSynth::new(font, rate_hz)?,
            parts: header.parts.iter().map(|part| !part.pulse).collect(),
            quiet: usize::MAX,
            patience: rate_hz as usize / 2,
        });
        Ok(self)
    }

    /// The same engine without reverb, so that one note can be measured.
    #[cfg(test)]
    pub(super) fn without_room(mut self) -> Self {
        self.room = None;
        self
    }

    /// Takes a message of a part; it is heard from the next frame on.
    pub fn message(&mut self, message: PartMessage) {
        let PartMessage {
            part,
            channel,
            message,
        } = message;
        let rate_hz = self.rate_hz;
        if let Some(font) = &mut self.font
            && font.parts.get(usize::from(part.0)) == Some(&true)
        {
            if matches!(message, Message::NoteOn { .. }) {
                font.quiet = 0;
            }
            font.synth.message(channel, message);
            return;
        }
        let Some(strip) = self.strips.get_mut(usize::from(part.0)) else {
            return;
        };
        match message {
            Message::NoteOn { key, velocity } => {
                strip.note_on(channel, key.get(), velocity.get(), rate_hz);
            }
            Message::NoteOff { key } => strip.note_off(channel, key.get()),
            Message::Program(number) => strip.patch = bank::program(number),
            Message::Control { controller, value } => match controller {
                VOLUME => {
                    strip.volume = value;
                    strip.weigh();
                }
                PAN => {
                    // 1 is full left, 64 the middle, 127 full right (MMA RP-036); 0 counts as 1.
                    strip.pan = (f32::from(value.max(1)) - 64.0) / 63.0;
                    strip.weigh();
                }
                SUSTAIN => {
                    strip.pedal = value >= 64;
                    if !strip.pedal {
                        strip.release_all(|stage| stage == Stage::Pedal);
                    }
                }
                ALL_SOUND_OFF => strip.voices.iter_mut().for_each(Voice::cut),
                ALL_NOTES_OFF => {
                    strip.release_all(|stage| matches!(stage, Stage::Held | Stage::Pedal));
                }
                _ => {}
            },
        }
    }

    /// Silent at once.
    pub fn silence(&mut self) {
        for strip in &mut self.strips {
            strip.voices.iter_mut().for_each(Voice::cut);
        }
        if let Some(room) = &mut self.room {
            room.clear();
        }
        if let Some(font) = &mut self.font {
            font.synth.silence();
        }
    }

    /// Whether nothing sounds.
    pub fn is_silent(&self) -> bool {
        let font = self.font.as_ref().is_none_or(|f| f.quiet >= f.patience);
        font && self.room.as_ref().is_none_or(Room::is_silent)
            && self
                .strips
                .iter()
                .all(|s| s.voices.iter().all(Voice::is_silent))
    }

    /// Puts the next frames, left and right, into `out`.
    pub fn render(&mut self, out: &mut [[f32; 2]]) {
        for stretch in out.chunks_mut(STRETCH) {
            self.stretch(stretch);
        }
    }

    fn stretch(&mut self, out: &mut [[f32; 2]]) {
        let n = out.len();
        out.fill([0.0; 2]);
        let sent = &mut self.sent[..n];
        sent.fill(0.0);
        let [mono, wide] = &mut self.scratch;
        let [left, right] = &mut self.sides;
        let sides = &mut [&mut left[..n], &mut right[..n]];
        for strip in &mut self.strips {
            if strip.sounding {
                strip.render(&self.tables, [&mut mono[..n], &mut wide[..n]], sides, sent);
                add_on_grid(out, sides, strip.gains);
            }
        }
        if let Some(font) = &mut self.font
            && font.quiet < font.patience
        {
            let [left, right] = sides;
            font.synth.render(left, right);
            for (left, right) in left.iter().zip(right.iter()) {
                let heard = left.abs() > SILENT || right.abs() > SILENT;
                font.quiet = if heard { 0 } else { font.quiet + 1 };
            }
            add_on_grid(out, sides, [1.0; 2]);
        }
        let Some(room) = &mut self.room else {
            return;
        };
        let [left, right] = sides;
        left.fill(0.0);
        right.fill(0.0);
        room.render(sent, left, right);
        add_on_grid(out, sides, [1.0; 2]);
    }
}
