//! Sets by name and by degrees.

#![no_main]

use fivefold::Diagnostic;
use fivefold::theory::{Degree, Interval, Scale, ScaleFormula};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match Scale::read(text) {
        Err(wrong) => {
            common::lies_in(text, wrong.span().unwrap_or_default());
            assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty());
        }
        Ok(set) => {
            assert_eq!(Scale::read(&set.name()), Ok(set.clone()), "{}", set.name());
            let _ = (set.home(), set.notes(), set.pitch_classes());
            let moved = set.transposed(Interval::new(2, 3));
            assert_eq!(moved.degrees(), set.degrees());
        }
    }
    match ScaleFormula::read_rooted(text) {
        Err(wrong) => {
            common::lies_in(text, wrong.span().unwrap_or_default());
            assert!(!wrong.help().is_empty() && !wrong.to_string().is_empty());
        }
        Ok((root, set)) => {
            assert_eq!(ScaleFormula::read(&set.to_string()), Ok(set), "{set}");
            assert_eq!(root.is_some(), Scale::read(text).is_ok());
        }
    }
    if let Ok(degree) = Degree::read(text) {
        assert_eq!(Degree::read(&degree.to_string()), Ok(degree), "{degree}");
    }
});
