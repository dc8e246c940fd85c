//! Meters, such as `7/8 = 2+2+3`.

#![no_main]

use fivefold::Diagnostic;
use fivefold::time::Meter;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match Meter::read(text) {
        Err(wrong) => assert!(!wrong.help().is_empty()),
        Ok(meter) => {
            assert_eq!(Meter::read(&meter.to_string()), Ok(meter), "{meter}");
            assert!(meter.beats().count() > 0);
        }
    }
});
