//! Letter chord symbols.

#![no_main]

use fivefold::Diagnostic;
use fivefold::theory::symbol;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match symbol::read(text) {
        Err(wrong) => {
            common::lies_in(text, wrong.span().unwrap_or_default());
            assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty());
        }
        Ok(harmony) => {
            let printed = harmony.to_string();
            assert_eq!(symbol::read(&printed), Ok(harmony), "{printed}");
        }
    }
});
