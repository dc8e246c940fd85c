//! A source that fails when it is told to: only in the program that the end-to-end check of live MIDI builds.

use super::watched::Watched;
use crate::event::{Bar, Source};
use crate::time::Tick;

/// The variable that names how many bars come before the fault.
const VARIABLE: &str = "FIVEFOLD_PANIC_AFTER_BARS";

/// Gives the bars of `source`, and panics after as many as the variable says, where it is set.
pub(super) fn faulty(
    source: &mut dyn Source,
) -> Watched<'_, impl FnMut(Option<&Bar>, Option<Tick>)> {
    let bars_left = std::env::var(VARIABLE).ok();
    let mut bars_left = bars_left.and_then(|bars| bars.parse::<u64>().ok());
    Watched::new(source, move |_, _| {
        if let Some(left) = &mut bars_left {
            *left = left
                .checked_sub(1)
                .unwrap_or_else(|| panic!("as {VARIABLE} asked for"));
        }
    })
}
