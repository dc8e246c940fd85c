//! Sound of its own: voices, a mixer, sound files and the audio device.
//!
//! Like every sink it sees timed messages and no chords.

mod audio_clock;
mod device;
mod stream;

pub use audio_clock::{AudioClock, AudioMap, DelayLocked, Published};
pub use device::{Device, DeviceError, ListedDevice, list_devices, open_device};
pub use stream::{Closed, Feed, Lost, Running, State, Tally};
