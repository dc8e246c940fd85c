//! Tunings by name and by notes.

#![no_main]

use fivefold::Diagnostic;
use fivefold::neck::Tuning;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match Tuning::read(text) {
        Err(wrong) => {
            common::lies_in(text, wrong.span().unwrap_or_default());
            assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty());
        }
        Ok(tuning) => {
            let printed = tuning.to_string();
            assert_eq!(Tuning::read(&printed), Ok(tuning), "{printed}");
        }
    }
});
