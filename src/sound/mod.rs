//! Built-in sound: voices, a mixer, sound files and the audio device.
//!
//! Like every sink it sees timed messages, not chords.

#![warn(clippy::too_many_lines, clippy::fn_params_excessive_bools)]

mod audio_clock;
mod bank;
mod cues;
mod cut;
mod desk;
mod device;
mod engine;
mod file;
#[cfg(feature = "font")]
mod font;
#[cfg(not(feature = "font"))]
#[path = "font/absent.rs"]
mod font;
mod lane;
mod limiter;
mod looped;
mod loudness;
mod rendering;
mod room;
mod stream;
mod tables;
mod voice;

pub use audio_clock::{AudioClock, AudioMap, DelayLocked, Published};
pub use cues::nearest_frame;
pub use cut::Cut;
pub use desk::{Desk, Peaks};
pub use device::{Device, DeviceError, ListedDevice, list_devices, open_device};
pub use engine::Engine;
pub use file::{Container, Frames, SampleFormat, SoundFormat, write_sound};
#[cfg(all(test, feature = "cli"))]
pub(crate) use font::made_by_hand;
pub use font::{Font, FontError};
#[cfg(feature = "font")]
pub use font::{FontFault, FontSynth, ProgramKind};
pub use lane::{SoundLane, SoundReport};
pub use looped::Looped;
pub use loudness::{
    CLICK_PEAK_DB, Loudness, MEASURED_RATE_HZ, MEASURED_SECONDS, MEASURED_SECONDS_FONT,
    TARGET_LUFS, amplitude, measure,
};
pub use rendering::Rendering;
pub use stream::{Closed, Feed, Lost, Running, State, Tally};

#[cfg(test)]
mod tests;
