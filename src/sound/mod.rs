//! Sound of its own: voices, a mixer, sound files and the audio device.
//!
//! Like every sink it sees timed messages and no chords.
