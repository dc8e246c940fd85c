//! SoundFont 2 files, read and played by rustysynth.
//!
//! A file that a user names may be anything. It is walked and checked here first ([`read`]), so that the library sees
//! only tables whose sizes and references hold; any panic left is caught ([`guard`]).

mod error;
mod guard;
mod read;
mod synth;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread;

use rustysynth::SoundFont;

pub use error::{FontError, FontFault};
pub use synth::FontSynth;

use crate::event::{Channel, KeyNumber, Message, Velocity};
use guard::guarded;

/// Bank of the drum kits.
const KITS: i32 = 128;

/// Which programs of a SoundFont are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProgramKind {
    /// Those with pitches, of bank 0.
    Pitched,
    /// Drum kits, of bank 128, played on channel 10; number 0 is the standard kit.
    Kit,
}

impl ProgramKind {
    fn bank(self) -> i32 {
        match self {
            ProgramKind::Pitched => 0,
            ProgramKind::Kit => KITS,
        }
    }

    /// A channel on which a synthesizer plays such programs.
    fn channel(self) -> Channel {
        match self {
            ProgramKind::Pitched => Channel::new(1).unwrap_or(Channel::PERCUSSION),
            ProgramKind::Kit => Channel::PERCUSSION,
        }
    }
}

/// A loaded SoundFont: the samples and what is made of them. Clones share the samples.
#[derive(Clone)]
pub struct Font {
    path: PathBuf,
    name: String,
    sounds: Arc<SoundFont>,
    /// Bank and program of every preset.
    presets: BTreeSet<(i32, i32)>,
}

impl std::fmt::Debug for Font {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Font")
            .field("path", &self.path)
            .field("name", &self.name)
            .field("presets", &self.presets.len())
            .finish_non_exhaustive()
    }
}

impl Font {
    /// Loads the SoundFont 2 file at `path`, in a thread of its own; returns when it is done.
    ///
    /// Takes about as much memory as the file has bytes, and at most some 50 MiB beyond that, whatever sizes the file
    /// claims. Values that would make the sound run away or leave its sample are corrected: resonance and tremolo out
    /// of bounds, loops so short that a high note would leap over them (the sample is played once instead), a pitch
    /// that is not a key, a missing gap after the last sample. Presets without zones are left out.
    ///
    /// # Errors
    /// When there is no such file, it is of another kind, its samples are compressed, it is larger than 2 GiB, or its
    /// contents contradict themselves.
    pub fn load(path: impl AsRef<Path>) -> Result<Self, FontError> {
        let path = path.as_ref();
        apart(|| read::read(path))
            .and_then(|found| found)
            .map(|read::Read { name, sounds }| {
                let presets = sounds
                    .get_presets()
                    .iter()
                    .map(|preset| (preset.get_bank_number(), preset.get_patch_number()))
                    .collect();
                Font {
                    path: path.to_owned(),
                    name,
                    sounds: Arc::new(sounds),
                    presets,
                }
            })
            .map_err(|fault| fault.of(path))
    }

    /// The file, as it was named.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What the SoundFont calls itself, in printable ASCII; may be empty.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Those of `programs` (counted from 0) that the font does not have, each once, in their order.
    ///
    /// In place of a missing program the first preset of the font is played, a piano in most; in place of a missing kit
    /// the standard kit, and where that is missing too, the first preset.
    pub fn missing(&self, kind: ProgramKind, programs: &[u8]) -> Vec<u8> {
        let bank = kind.bank();
        let mut missing = Vec::new();
        for &program in programs {
            if !self.presets.contains(&(bank, i32::from(program))) && !missing.contains(&program) {
                missing.push(program);
            }
        }
        missing
    }

    /// Plays every key of `programs` (counted from 0) in a thread of its own, to make sure before playing begins that
    /// none of them fails. Takes 10 to 30 ms for each program.
    ///
    /// # Errors
    /// When a program makes the synthesizer panic or return NaN or infinity, or gives no sound on any key.
    pub fn prove(&self, kind: ProgramKind, programs: &[u8]) -> Result<(), FontError> {
        apart(|| {
            programs
                .iter()
                .try_for_each(|&program| self.prove_one(kind, program & 127))
        })
        .and_then(|proof| proof)
        .map_err(|fault| fault.of(&self.path))
    }

    fn prove_one(&self, kind: ProgramKind, program: u8) -> Result<(), FontFault> {
        /// Keys played together: a voice or two each, well below the number of voices.
        const TOGETHER: i32 = 16;
        /// Frames they are held, and as many to die away: past the shortest note and any attack worth the name.
        const FRAMES: usize = 384;
        /// Frames of one long chord, in which a filter that runs away has the time to do so.
        const LONG: usize = 16_384;

        let unplayable = FontFault::Unplayable { kind, program };
        let Ok(mut synth) = FontSynth::new(self, 44_100) else {
            return Err(unplayable);
        };
        let channel = kind.channel();
        synth.message(channel, Message::Program(program));
        let mut peak = 0f32;
        let mut chord = |keys: &mut dyn Iterator<Item = i32>, velocity: i32, frames: usize| {
            let keys: Vec<KeyNumber> = keys.map(KeyNumber::clamped).collect();
            let velocity = Velocity::clamped(velocity);
            for &key in &keys {
                synth.message(channel, Message::NoteOn { key, velocity });
            }
            peak = peak.max(synth.peak(frames));
            for &key in &keys {
                synth.message(channel, Message::NoteOff { key });
            }
            peak = peak.max(synth.peak(FRAMES));
            let sound = synth.faults() == 0;
            synth.silence();
            sound
        };
        let mut good = true;
        for velocity in [40, 110] {
            for lowest in (0..128).step_by(16) {
                good &= chord(&mut (lowest..lowest + TOGETHER), velocity, FRAMES);
            }
        }
        good &= chord(&mut [36, 43, 48, 55, 60, 64, 72].into_iter(), 100, LONG);
        if !good {
            Err(unplayable)
        } else if peak <= 0.0 {
            Err(FontFault::Silent { kind, program })
        } else {
            Ok(())
        }
    }

    /// The samples and tables, for a synthesizer.
    fn sounds(&self) -> &Arc<SoundFont> {
        &self.sounds
    }
}

/// Calls `f` in a thread of its own, and waits for it. A panic in it becomes a fault.
fn apart<T: Send>(f: impl FnOnce() -> T + Send) -> Result<T, FontFault> {
    let panicked = |_| FontFault::Damaged("the synthesizer fails on it".to_owned());
    thread::scope(|scope| {
        let worker = thread::Builder::new()
            .name("font".to_owned())
            .spawn_scoped(scope, || guarded(f));
        match worker {
            Ok(worker) => worker
                .join()
                .unwrap_or_else(|_| Err(String::new()))
                .map_err(panicked),
            Err(e) => Err(FontFault::unreadable(&e)),
        }
    })
}

/// The bytes of a small SoundFont, for tests of what plays through one.
#[cfg(all(test, feature = "cli"))]
pub(crate) fn made_by_hand() -> Vec<u8> {
    build::Draft::new().bytes()
}

#[cfg(test)]
mod build;
#[cfg(test)]
mod tests;
