//! Pedal files, and what pedals send.

#![no_main]

use fivefold::cli::laws;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    laws::presses(bytes);
    if let Some(text) = common::text(bytes) {
        laws::pedal_file(text);
    }
});
