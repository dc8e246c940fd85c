//! The bass: roots, or root and fifth.

use crate::chart::BassLine;
use crate::generate::Chance;
use crate::theory::Chord;
use crate::time::Meter;

/// Register of the bass: the lowest string of a bass guitar, E1, to C3.
const LOW: i32 = 28;
const HIGH: i32 = 48;
/// Where the first note of a piece is looked for.
const START: i32 = 36;

/// The two keys a chord gives the bass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct BassKeys {
    /// The root, or the bass that is written.
    pub(super) root: i32,
    /// The chord's fifth, or its root where another bass is written.
    pub(super) other: i32,
}

fn nearest(class: u8, to: i32) -> i32 {
    (LOW..=HIGH)
        .filter(|k| k.rem_euclid(12) == i32::from(class))
        .min_by_key(|k| ((k - to).abs(), *k))
        .unwrap_or(START)
}

/// The keys of each chord in a row: roots as near as may be to the one before, the other note below where there is
/// room.
pub(super) fn bass_keys<'a>(
    chords: impl Iterator<Item = &'a Chord>,
    before: Option<i32>,
) -> Vec<BassKeys> {
    let mut last = before.unwrap_or(START);
    chords
        .map(|chord| {
            let root = nearest(chord.bass().pitch_class().value(), last);
            last = root;
            let other_class = if chord.bass() == chord.root() {
                // A chord without a fifth (an altered one) still has one for the bass.
                let up = chord.fifth().map_or(7, |d| d.semitones());
                u8::try_from((root + up).rem_euclid(12)).unwrap_or(0)
            } else {
                chord.root().pitch_class().value()
            };
            let below = root - (root - i32::from(other_class)).rem_euclid(12);
            let other = if below >= LOW { below } else { below + 12 };
            BassKeys { root, other }
        })
        .collect()
}

/// Beats (from 0) on which the bass plays: every other one of a simple or compound meter of an even number of beats,
/// the first and last of three, every group of a grouped one.
pub(super) fn strong_beats(meter: &Meter) -> Vec<u32> {
    let beats = meter.beat_count();
    if !meter.groups().is_empty() || beats == 2 {
        return (0..beats).collect();
    }
    match beats {
        1 => vec![0],
        3 => vec![0, 2],
        _ if beats % 2 == 1 => (0..beats - 2).step_by(2).chain([beats - 2]).collect(),
        _ => (0..beats).step_by(2).collect(),
    }
}

/// The notes under a chord that fills `beats` from `first_beat` on: offset and length in ticks from the bar line, and
/// whether it is the other note.
pub(super) fn bass_beats(
    line: BassLine,
    meter: &Meter,
    first_beat: u32,
    end_beat: u32,
) -> Vec<(u64, u64, bool)> {
    let strong = strong_beats(meter);
    let mut starts: Vec<u32> = vec![first_beat];
    starts.extend(
        strong
            .into_iter()
            .filter(|b| *b > first_beat && *b < end_beat),
    );
    if line == BassLine::Roots && meter.beat_count() == 3 && starts.len() > 1 {
        // A waltz bass sounds on one.
        starts.truncate(1);
    }
    let ends = starts.iter().skip(1).copied().chain([end_beat]);
    starts
        .iter()
        .zip(ends)
        .enumerate()
        .map(|(i, (start, end))| {
            let at = meter.beat_offset_ticks(*start);
            let other = line == BassLine::RootFifth && i % 2 == 1;
            (at, meter.beat_offset_ticks(end) - at, other)
        })
        .collect()
}

/// Highest note of a walk.
const WALK_HIGH: i32 = HIGH + 4;

/// A walk under a chord: its root, chord tones that lead on, and last a step to the root that follows.
///
/// One note for each of `beats`; the choices among tones as near as may be are left to `chance`.
pub(super) fn walk(
    chord: &Chord,
    root: i32,
    next: i32,
    beats: usize,
    chance: &mut Chance,
) -> Vec<i32> {
    if beats < 2 {
        return vec![root];
    }
    // From a semitone above or below, or from the fifth of what follows (common practice).
    let approach: Vec<(i32, u128)> = [(next - 1, 3), (next + 1, 2), (next + 7, 1), (next - 5, 1)]
        .into_iter()
        .filter(|(key, _)| (LOW..=WALK_HIGH).contains(key) && *key != root)
        .collect();
    let last = chance
        .weighted(approach.iter().map(|a| a.1))
        .map_or(root, |i| approach[i].0);
    let classes: Vec<i32> = chord
        .pitch_classes()
        .iter()
        .map(|c| i32::from(c.value()))
        .collect();
    let mut keys = vec![root];
    for beat in 1..beats - 1 {
        let from = keys[beat - 1];
        // Along the straight line to the last note.
        let left = i32::try_from(beats - beat).unwrap_or(1);
        let aim = from + (last - from) / left;
        let mut near: Vec<i32> = (LOW..=WALK_HIGH)
            .filter(|k| {
                classes.contains(&k.rem_euclid(12))
                    && *k != from
                    && (*k != last || beat + 2 < beats)
            })
            .collect();
        near.sort_by_key(|k| ((k - aim).abs(), *k));
        near.truncate(3);
        let weights = [4u128, 2, 1];
        let taken = chance.weighted(weights.into_iter().take(near.len()));
        keys.push(taken.map_or(from, |i| near[i]));
    }
    keys.push(last);
    keys
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::symbol;

    fn keys(symbols: &[&str]) -> Vec<(i32, i32)> {
        let chords: Vec<Chord> = symbols
            .iter()
            .map(|s| *symbol::read(s).unwrap().chord().unwrap())
            .collect();
        bass_keys(chords.iter(), None)
            .iter()
            .map(|k| (k.root, k.other))
            .collect()
    }

    #[test]
    fn roots_move_least_and_fifths_lie_below_where_there_is_room() {
        // C2 = 36, A1 = 33, F1 = 29, G1 = 31 in MIDI keys.
        assert_eq!(
            keys(&["C", "Am", "F", "G"]),
            [(36, 31), (33, 28), (29, 36), (31, 38)]
        );
        assert_eq!(keys(&["E"]), [(40, 35)]);
        // A slash bass is the bass, and the root the other note; a flat fifth is flat.
        assert_eq!(keys(&["C/E"]), [(40, 36)]);
        assert_eq!(keys(&["Bm7b5"]), [(35, 29)]);
    }

    #[test]
    fn beats_by_meter() {
        let at = |line, meter: &str| -> Vec<u64> {
            let meter = Meter::read(meter).unwrap();
            bass_beats(line, &meter, 0, meter.beat_count())
                .iter()
                .map(|b| b.0)
                .collect()
        };
        assert_eq!(at(BassLine::Roots, "4/4"), [0, 1920]);
        assert_eq!(at(BassLine::Roots, "3/4"), [0]);
        assert_eq!(at(BassLine::RootFifth, "3/4"), [0, 1920]);
        assert_eq!(at(BassLine::RootFifth, "6/8"), [0, 1440]);
        assert_eq!(at(BassLine::RootFifth, "7/8 = 2+2+3"), [0, 960, 1920]);
        assert_eq!(at(BassLine::Roots, "5/4"), [0, 1920, 2880]);
    }

    #[test]
    fn a_walk_begins_on_the_root_and_ends_a_step_from_the_next() {
        let chord = *symbol::read("Am7").unwrap().chord().unwrap();
        for seed in 0..500 {
            let mut chance = Chance::new(seed, "walk", "bass", 0, 0);
            let keys = walk(&chord, 33, 38, 4, &mut chance);
            assert_eq!(keys.len(), 4);
            assert_eq!(keys[0], 33);
            assert!(
                [37, 39, 45, 33].contains(&keys[3]) && keys[3] != 33,
                "{keys:?}"
            );
            for key in &keys[1..3] {
                assert!([9, 0, 4, 7].contains(&(key % 12)), "{keys:?}");
            }
            assert!(keys.windows(2).all(|w| w[0] != w[1]), "{keys:?}");
            assert!(
                keys.iter().all(|k| (LOW..=WALK_HIGH).contains(k)),
                "{keys:?}"
            );
        }
    }
}
