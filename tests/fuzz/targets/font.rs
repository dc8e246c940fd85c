//! SoundFont files, and a note played through one that is read. It starts from a small one that is valid.

#![no_main]

use fivefold::Diagnostic;
use std::path::PathBuf;
use std::sync::OnceLock;

use fivefold::event::{Channel, KeyNumber, Message, Velocity};
use fivefold::sound::{Font, FontSynth, ProgramKind};
use libfuzzer_sys::fuzz_target;

/// Where the file lies: this process's own, written anew for each input.
fn place() -> &'static PathBuf {
    static PLACE: OnceLock<PathBuf> = OnceLock::new();
    PLACE.get_or_init(|| {
        // Panics of the SoundFont library are caught by the guard around it; the hook that aborts at once would hide
        // that. One that comes out of the target still aborts.
        drop(std::panic::take_hook());
        std::env::temp_dir().join(format!("fivefold-fuzz-{}.sf2", std::process::id()))
    })
}

fuzz_target!(init: common::seed("made.sf2", &common::font()), |bytes: &[u8]| {
    let path = place();
    if std::fs::write(path, bytes).is_err() {
        return;
    }
    match Font::load(path) {
        Err(wrong) => assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty()),
        Ok(font) => {
            let _ = (font.name(), font.missing(ProgramKind::Kit, &[0, 33]));
            if font.prove(ProgramKind::Pitched, &[0]).is_err() {
                return;
            }
            let Ok(mut synth) = FontSynth::new(&font, 44_100) else {
                return;
            };
            let Ok(channel) = Channel::new(1) else { return };
            let key = KeyNumber::clamped(60);
            let velocity = Velocity::clamped(90);
            synth.message(channel, Message::NoteOn { key, velocity });
            let (mut left, mut right) = ([0.0; 256], [0.0; 256]);
            synth.render(&mut left, &mut right);
            synth.message(channel, Message::NoteOff { key });
            synth.render(&mut left, &mut right);
            assert!(left.iter().chain(&right).all(|sample| sample.is_finite()));
        }
    }
});
