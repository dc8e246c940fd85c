//! Keys and the order of keys.

#![no_main]

use fivefold::Diagnostic;
use fivefold::theory::{Key, KeyOrder};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match Key::read(text) {
        Err(wrong) => {
            common::lies_in(text, wrong.span().unwrap_or_default());
            assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty());
        }
        Ok(key) => {
            assert_eq!(Key::read(&key.to_string()), Ok(key), "{key}");
            assert!((-7..=7).contains(&key.signature().0));
            for semitones in -13..=13 {
                let there = key.transposed(semitones);
                let class = key.tonic().pitch_class().up(semitones);
                assert_eq!(there.tonic().pitch_class(), class);
            }
        }
    }
    match KeyOrder::read(text) {
        Err(wrong) => assert!(!wrong.help().is_empty()),
        Ok(order) => {
            if let Ok(key) = Key::read("A minor") {
                let _ = order.check(&key);
            }
        }
    }
});
