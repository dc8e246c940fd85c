//! Lines that are typed while it plays.

#![no_main]

use fivefold::cli::laws;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    if let Some(text) = common::text(bytes) {
        laws::command(text);
    }
});
