//! Routines in TOML.

#![no_main]

use fivefold::practice::Routine;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match Routine::read(text) {
        Ok(routine) => {
            assert!(!routine.items.is_empty());
            assert!(
                routine
                    .items
                    .iter()
                    .all(|item| (1..=120).contains(&item.minutes))
            );
            assert!(
                routine
                    .items
                    .iter()
                    .all(|item| text.get(item.span.clone()).is_some())
            );
        }
        Err(problems) => {
            for problem in problems.iter() {
                assert!(
                    text.get(problem.span.clone()).is_some(),
                    "{:?}",
                    problem.span
                );
                assert!(!problem.message.is_empty() && !problem.help.is_empty());
            }
        }
    }
});
