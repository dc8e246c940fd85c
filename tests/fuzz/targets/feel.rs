//! Straight and swung.

#![no_main]

use fivefold::Diagnostic;
use fivefold::time::{Feel, Meter};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match Feel::read(text) {
        Err(wrong) => assert!(!wrong.help().is_empty()),
        Ok(feel) => {
            assert_eq!(Feel::read(&feel.to_string()), Ok(feel), "{feel}");
            for meter in ["4/4", "6/8", "3/16"] {
                if let Ok(meter) = Meter::read(meter) {
                    let _ = feel.check(&meter);
                }
            }
        }
    }
});
