//! Tempo plans and lengths.

#![no_main]

use fivefold::time::{Meter, TempoPlan, read_length};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Some(text) = common::text(bytes) else {
        return;
    };
    match TempoPlan::read(text) {
        Err(wrong) => common::lies_in(text, wrong.span),
        Ok(plan) => {
            assert_eq!(
                TempoPlan::read(&plan.to_string()),
                Ok(plan.clone()),
                "{plan}"
            );
            for meter in ["4/4", "7/8 = 2+2+3"] {
                if let Ok(meter) = Meter::read(meter)
                    && let Err(wrong) = plan.check(&meter)
                {
                    common::lies_in(text, wrong.span);
                }
            }
        }
    }
    if let Err(wrong) = read_length(text) {
        common::lies_in(text, wrong.span);
    }
});
