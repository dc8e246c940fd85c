//! MIDI files to click to.

#![no_main]

use fivefold::Diagnostic;
use fivefold::midi::read_click_map;
use libfuzzer_sys::fuzz_target;

/// A file of one track with a tempo, a meter, a marker and its end.
const FILE: &[u8] = b"MThd\0\0\0\x06\0\0\0\x01\x01\xE0MTrk\0\0\0\x1F\0\xFF\x51\x03\x07\xA1\x20\
\x0A\xFF\x58\x04\x03\x02\x18\x08\0\xFF\x06\x01A\0\x90\x3C\x40\x8F\0\xFF\x2F\0";

fuzz_target!(init: common::seed("made.mid", FILE), |bytes: &[u8]| {
    match read_click_map(bytes) {
        Err(wrong) => assert!(!wrong.help().is_empty() && !wrong.to_string().contains('\n')),
        Ok(map) => {
            assert!(!map.bars.is_empty() && map.tempi[0].0.get() == 0);
            assert!(map.tempi.windows(2).all(|pair| pair[0].0 < pair[1].0));
        }
    }
});
