//! What the player's strokes to a click say of a take.

use std::collections::BTreeMap;

use crate::drill::{ChangeAt, FreeCount};
use crate::live::PlayerTiming;
use crate::log::Word;

/// The fewest places by which a take is judged.
const FEWEST_PLACES: u64 = 8;

/// Strokes are in time within one part of the gap between places that is divided in so many. Our own choice.
const IN_TIME_PARTS: u64 = 8;

/// How a take went; `None` where there are too few places to tell, or the input is too coarse.
///
/// Clean: 95 of 100 places had their stroke, and these spread by no more than an eighth of the gap between places.
/// Nearly: 85 of 100. The numbers are our own choice.
pub(super) fn word(timing: &PlayerTiming) -> Option<Word> {
    if timing.coarse || timing.places < FEWEST_PLACES {
        return None;
    }
    let hit = timing.places.saturating_sub(timing.missed) * 100;
    let even = match (timing.spread_ns, timing.gap_ns) {
        (Some(spread), Some(gap)) => spread <= gap / IN_TIME_PARTS,
        _ => false,
    };
    Some(if hit >= 95 * timing.places && even {
        Word::Clean
    } else if hit >= 85 * timing.places {
        Word::Nearly
    } else {
        Word::Missed
    })
}

/// How each pair of chords went, by name: a change is clean where its first stroke is within an eighth of the gap between
/// places. Nothing where the input is too coarse, or the sound was interrupted.
pub(super) fn pairs(timing: &PlayerTiming, changes: &[ChangeAt]) -> BTreeMap<String, FreeCount> {
    let mut pairs: BTreeMap<String, FreeCount> = BTreeMap::new();
    if timing.coarse || timing.interruptions > 0 {
        return pairs;
    }
    for change in changes {
        let struck = timing.counted.iter().any(|stroke| {
            (stroke.bar, stroke.beat, stroke.part) == (change.bar, change.beat, 1)
                && stroke.offset_ns.unsigned_abs() <= stroke.gap_ns / IN_TIME_PARTS
        });
        let count = pairs.entry(change.fact.clone()).or_default();
        count.changes += 1;
        count.clean += u32::from(struck);
    }
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::{Stroke, Strokes};
    use crate::time::Nanos;

    /// Strokes at 60 beats a minute in bars of four, each with how late it is in milliseconds.
    fn timing(strokes: &[(i64, u32, i64)]) -> PlayerTiming {
        let mut all = Strokes::new(0);
        for (bar, beat, late_ms) in strokes {
            let beats = (bar - 1) * 4 + i64::from(*beat);
            let at_ms = u64::try_from(beats * 1000 + late_ms).unwrap();
            all.note(&Stroke {
                offset_ns: late_ms * 1_000_000,
                bar: *bar,
                beat: *beat,
                part: 1,
                parts: 1,
                gap_ns: 1_000_000_000,
                at: Nanos::new(at_ms * 1_000_000),
            });
        }
        all.passed(12);
        all.timing()
    }

    fn change(bar: i64, beat: u32, fact: &str) -> ChangeAt {
        ChangeAt {
            bar,
            beat,
            fact: fact.to_owned(),
        }
    }

    #[test]
    fn a_change_is_in_time_where_its_stroke_is() {
        let changes = [
            change(1, 3, "Am to C"),
            change(2, 1, "Am to C"),
            change(2, 3, "C to G"),
            change(3, 1, "Am to G"),
        ];
        // The second is 125 ms late, an eighth of the gap; the third a little more; the fourth has no stroke.
        let timing = timing(&[(1, 1, 0), (1, 3, -20), (2, 1, 125), (2, 3, 126), (3, 2, 0)]);
        let count = |changes, clean| FreeCount { changes, clean };
        let found: Vec<_> = pairs(&timing, &changes).into_iter().collect();
        assert_eq!(
            found,
            [
                ("Am to C".to_owned(), count(2, 2)),
                ("Am to G".to_owned(), count(1, 0)),
                ("C to G".to_owned(), count(1, 0)),
            ]
        );
        assert!(pairs(&timing, &[]).is_empty());
        assert_eq!(word(&timing), Some(Word::Missed));
    }

    #[test]
    fn where_the_sound_was_interrupted_nothing_is_said_of_pairs() {
        let mut all = Strokes::new(0);
        all.interrupted();
        assert!(pairs(&all.timing(), &[change(1, 1, "Am to C")]).is_empty());
        let coarse = Strokes::new(0).coarse().timing();
        assert!(pairs(&coarse, &[change(1, 1, "Am to C")]).is_empty());
        assert_eq!(word(&coarse), None);
    }
}
