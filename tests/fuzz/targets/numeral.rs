//! Roman numerals and numbers, and the reader that tells them from symbols.

#![no_main]

use fivefold::Diagnostic;
use fivefold::theory::{Key, figure, numeral, symbol};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    for read in [numeral::read_roman(text), numeral::read_number(text)] {
        match read {
            Err(wrong) => {
                common::lies_in(text, wrong.span().unwrap_or_default());
                assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty());
            }
            Ok(numeral) => {
                assert_eq!(numeral.as_str(), text);
                for key in ["C", "Gb", "A# minor", "B locrian"] {
                    let Ok(key) = Key::read(key) else { continue };
                    let _ = numeral.caution(&key);
                    match numeral.resolve(&key) {
                        Err(wrong) => common::lies_in(text, wrong.span().unwrap_or_default()),
                        Ok(harmony) => {
                            let printed = harmony.to_string();
                            assert_eq!(symbol::read(&printed), Ok(harmony), "{printed}");
                        }
                    }
                }
            }
        }
    }
    if let Err(wrong) = figure::read(text) {
        common::lies_in(text, wrong.span().unwrap_or_default());
    }
});
