//! What is asked in which order, and how much of it fits into a time.

use std::time::Duration;

use crate::generate::Chance;
use crate::time::{Meter, TempoPlan};

/// The most that is asked for in one take, however long it is.
const MOST_FITTING: usize = 500;

/// So many of these, drawn in rounds: each once in a round, and none twice in a row where there is another. Each drill
/// draws for itself.
pub(super) fn in_rounds<T: Clone + PartialEq>(
    all: &[T],
    count: usize,
    seed: u64,
    drill: &str,
) -> Vec<T> {
    let mut drawn: Vec<T> = Vec::with_capacity(count);
    for round in 0.. {
        let mut chance = Chance::new(seed, "order", drill, round, 0);
        let mut rest = all.to_vec();
        while drawn.len() < count && !rest.is_empty() {
            let at = chance.below(rest.len() as u64);
            let at = usize::try_from(at).unwrap_or(0);
            let again = drawn.last() == rest.get(at) && rest.len() > 1;
            let at = if again { (at + 1) % rest.len() } else { at };
            drawn.push(rest.swap_remove(at));
        }
        if drawn.len() >= count || all.is_empty() {
            break;
        }
    }
    drawn
}

/// The bars of an ask: the time to find the answer, then a bar to look at it and to hear it.
pub(super) fn bars_of_ask(beats: u32) -> u32 {
    beats.div_ceil(Meter::COMMON.beat_count()) + 1
}

/// How many can be asked for in so much time at the first tempo, 1 to 500, where each takes so many bars.
pub(super) fn fitting(time: Duration, bars_each: u32, tempo: &TempoPlan) -> usize {
    let beats = u128::from(bars_each * Meter::COMMON.beat_count());
    let each_us = beats * 60_000_000_000 / u128::from(tempo.first_milli().max(1));
    let fitting = time.as_micros() / each_us.max(1);
    usize::try_from(fitting)
        .unwrap_or(MOST_FITTING)
        .clamp(1, MOST_FITTING)
}
