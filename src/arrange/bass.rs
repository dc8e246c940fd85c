//! The bass: roots, root and fifth, or a walking line.

use crate::chart::{BassLine, FormBar};
use crate::generate::Chance;
use crate::groove::{BassMark, BassStep, strong_beats};
use crate::theory::{Chord, PitchClass, Scale};
use crate::time::Meter;

/// Register of the roots: from the lowest string of a bass guitar, E1, to Eb2, a semitone below the lowest string of a guitar.
const LOW: i32 = 28;
const HIGH: i32 = 39;
/// Where the first note of a piece is looked for: near G1.
const START: i32 = 31;
/// The highest root of a walk: A2. Up to there the line chooses the octave.
const WALK_ROOT_HIGH: i32 = 45;

/// The two bass keys of a chord.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct BassKeys {
    /// The root, or the bass that is written.
    pub(super) root: i32,
    /// The chord's fifth; the bass again where one is written.
    pub(super) other: i32,
}

fn nearest(class: u8, to: i32) -> i32 {
    (LOW..=HIGH)
        .filter(|k| k.rem_euclid(12) == i32::from(class))
        .min_by_key(|k| ((k - to).abs(), *k))
        .unwrap_or(START)
}

/// The key of the bass under a chord: its register has each root once.
pub(super) fn bass_root(chord: &Chord) -> i32 {
    nearest(chord.bass().pitch_class().value(), START)
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
                u8::try_from((root + fifth(chord)).rem_euclid(12)).unwrap_or(0)
            } else {
                // A slash bass stays in the bass, as asked for.
                chord.bass().pitch_class().value()
            };
            let below = root - (root - i32::from(other_class)).rem_euclid(12);
            let other = if below >= LOW { below } else { below + 12 };
            BassKeys { root, other }
        })
        .collect()
}

/// The roots of a walk, from the keys of each chord: the first as it is, each other one in the octave that is nearer to the root
/// before, unless that is its key in `taken`, where the strum has it.
pub(super) fn walk_roots(keys: impl Iterator<Item = (BassKeys, Option<u8>)>) -> Vec<i32> {
    let mut last: Option<i32> = None;
    keys.map(|(keys, taken)| {
        let free = |key: &i32| *key <= WALK_ROOT_HIGH && taken.map(i32::from) != Some(*key);
        let root = match last {
            Some(last) => [keys.root, keys.root + 12]
                .into_iter()
                .filter(free)
                .min_by_key(|key| (key - last).abs())
                .unwrap_or(keys.root),
            None => keys.root,
        };
        last = Some(root);
        root
    })
    .collect()
}

/// The first root of these bars, after a root.
pub(super) fn first_bass(bars: &[FormBar], before: Option<i32>) -> Option<i32> {
    let mut chords = bars.iter().flat_map(|bar| &bar.chords);
    let first = chords.find_map(|placed| placed.harmony.chord())?;
    bass_keys([first].into_iter(), before)
        .first()
        .map(|keys| keys.root)
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
    if line != BassLine::RootFifth && meter.beat_count() == 3 && starts.len() > 1 {
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

/// Highest note of a line: E3.
const WALK_HIGH: i32 = 52;

/// Length of a dead note, in ticks, at most.
const DEAD: u64 = 120;
/// Velocities: of the first note of a bar, of others, of a dead note.
const FIRST: i32 = 90;
const OTHER: i32 = 82;
const SOFT: i32 = 44;
/// Of a note of a walk, and of one that is skipped to between the beats.
const WALKED: i32 = 84;
const SKIPPED: i32 = 74;

/// A note of the bass: offset and length in ticks from the bar line, key, velocity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct BassNote {
    pub(super) offset_ticks: u64,
    pub(super) length_ticks: u64,
    pub(super) key: i32,
    pub(super) velocity: i32,
}

/// A chord that the bass plays under in a bar.
#[derive(Clone, Copy, Debug)]
pub(super) struct Under<'a> {
    pub(super) chord: &'a Chord,
    pub(super) keys: BassKeys,
    /// The root that follows.
    pub(super) next: i32,
    /// Ticks from the bar line.
    pub(super) offset_ticks: u64,
    pub(super) end_ticks: u64,
    /// Whether another chord sounded before it.
    pub(super) is_new: bool,
    /// The lowest key of the strum, on which a walk has no note.
    pub(super) taken: Option<u8>,
}

/// The steps of a groove under the chords of a bar. Where a chord changes, its root sounds, whatever the step has.
pub(super) fn groove_notes(
    steps: &[BassStep],
    chords: &[Under<'_>],
    scale: Option<&Scale>,
) -> Vec<BassNote> {
    let mut notes: Vec<BassNote> = Vec::new();
    for under in chords {
        let within = |offset: u64| (under.offset_ticks..under.end_ticks).contains(&offset);
        let changes = steps
            .iter()
            .filter(|step| step.offset_ticks == under.offset_ticks);
        if under.is_new && !changes.clone().any(|step| step.mark.always_begins()) {
            notes.push(BassNote {
                offset_ticks: under.offset_ticks,
                length_ticks: under.end_ticks - under.offset_ticks,
                key: under.keys.root,
                velocity: OTHER,
            });
        }
        // The note before under this chord, unless it is the root: a line goes on near it.
        let mut before: Option<i32> = None;
        for step in steps.iter().filter(|step| within(step.offset_ticks)) {
            let begins = under.is_new && step.offset_ticks == under.offset_ticks;
            let dead = matches!(step.mark, BassMark::Dead | BassMark::DeadAtTimes);
            let length = step.length_ticks.min(under.end_ticks - step.offset_ticks);
            let key = if begins {
                under.keys.root
            } else {
                near(key_of(step.mark, under, scale), step.mark, before)
            };
            before = (key != under.keys.root).then_some(key);
            notes.push(BassNote {
                offset_ticks: step.offset_ticks,
                length_ticks: if dead { length.min(DEAD) } else { length },
                key,
                velocity: match step.offset_ticks {
                    _ if dead => SOFT,
                    0 => FIRST,
                    _ => OTHER,
                },
            });
        }
    }
    cut(&mut notes);
    notes
}

/// Third, fifth and sixth in the octave that is nearest to the note before, where that is another than the root: root, third, fifth
/// and sixth rise. Else as they are.
fn near(key: i32, mark: BassMark, before: Option<i32>) -> i32 {
    let Some(before) = before else { return key };
    if !matches!(mark, BassMark::Third | BassMark::Fifth | BassMark::Sixth) {
        return key;
    }
    let fits = |key: &i32| (LOW..=WALK_HIGH).contains(key);
    let octaves = [key, key - 12, key + 12].into_iter().filter(fits);
    octaves
        .min_by_key(|key| (key - before).abs())
        .unwrap_or(key)
}

/// Notes in order, one at a time.
fn cut(notes: &mut Vec<BassNote>) {
    notes.sort_by_key(|note| note.offset_ticks);
    notes.dedup_by_key(|note| note.offset_ticks);
    for i in 1..notes.len() {
        let next = notes[i].offset_ticks;
        let before = &mut notes[i - 1];
        before.length_ticks = before.length_ticks.min(next - before.offset_ticks);
    }
}

/// The notes of a walk under a chord that begins on `first_beat`: `keys`, one a beat. With the steps of a groove those that it has,
/// and between them skips and dead notes on the key of their beat.
pub(super) fn walk_notes(
    steps: Option<&[BassStep]>,
    meter: &Meter,
    first_beat: u32,
    under: &Under<'_>,
    keys: &[i32],
) -> Vec<BassNote> {
    let mut notes: Vec<BassNote> = Vec::with_capacity(keys.len());
    for (beat, key) in (first_beat..).zip(keys) {
        let start = meter.beat_offset_ticks(beat);
        let end = meter.beat_offset_ticks(beat + 1);
        let note = |offset_ticks, length_ticks, velocity| BassNote {
            offset_ticks,
            length_ticks,
            key: *key,
            velocity,
        };
        let Some(steps) = steps else {
            notes.push(note(start, end - start, WALKED));
            continue;
        };
        let here = steps
            .iter()
            .filter(|s| (start..end).contains(&s.offset_ticks));
        // The root sounds where the chord begins, whatever the step has.
        if beat == first_beat && here.clone().all(|s| s.offset_ticks != start) {
            notes.push(note(start, end - start, WALKED));
        }
        notes.extend(here.map(|step| {
            let length = step.length_ticks.min(under.end_ticks - step.offset_ticks);
            match step.mark {
                BassMark::Dead | BassMark::DeadAtTimes => {
                    note(step.offset_ticks, length.min(DEAD), SOFT)
                }
                _ if step.offset_ticks > start => note(step.offset_ticks, length, SKIPPED),
                _ => note(step.offset_ticks, length, WALKED),
            }
        }));
    }
    cut(&mut notes);
    notes
}

/// The key of a mark over a chord.
fn key_of(mark: BassMark, under: &Under<'_>, scale: Option<&Scale>) -> i32 {
    let root = under.keys.root;
    // A slash bass stays in the bass.
    if under.chord.bass() != under.chord.root() && mark != BassMark::Next {
        return root;
    }
    let above = |semitones: i32| {
        let key = root + semitones;
        if key > WALK_HIGH { key - 12 } else { key }
    };
    let third = under.chord.third().map(|d| d.semitones());
    match mark {
        BassMark::Third => above(third.unwrap_or_else(|| fifth(under.chord))),
        BassMark::Fifth => under.keys.other,
        BassMark::Sixth => match (under.chord.seventh(), third) {
            (Some(seventh), _) => above(seventh.semitones()),
            (None, Some(4)) => above(9),
            _ => above(10),
        },
        BassMark::Octave => above(12),
        BassMark::Next => leading(under, scale),
        _ => root,
    }
}

/// Semitones from the root to the fifth. A chord without a fifth (an altered one) still has one for the bass.
fn fifth(chord: &Chord) -> i32 {
    chord.fifth().map_or(7, |d| d.semitones())
}

/// A note a step from the next root: of the scale where there is one, from the side of the chord's own root. Where the root stays, the
/// fifth.
fn leading(under: &Under<'_>, scale: Option<&Scale>) -> i32 {
    let (root, next) = (under.keys.root, under.next);
    if (root - next).rem_euclid(12) == 0 {
        return under.keys.other;
    }
    let from_below = if root < next { -1 } else { 1 };
    let steps = [2 * from_below, from_below, -2 * from_below, -from_below];
    let fits = |key: &i32| (LOW..=WALK_HIGH).contains(key) && *key != root && in_scale(*key, scale);
    let mut keys = steps.into_iter().map(|step| next + step);
    keys.find(fits).unwrap_or(next - 1).max(LOW)
}

fn in_scale(key: i32, scale: Option<&Scale>) -> bool {
    let class = PitchClass::new(u8::try_from(key.rem_euclid(12)).unwrap_or(0));
    class.is_ok_and(|class| scale.is_some_and(|scale| scale.contains(class)))
}

/// The same key, or that an octave lower or else higher, so that it is neither the one `taken` by another part nor that of the note
/// `before`; the same where no octave is left.
pub(super) fn beside(key: i32, taken: Option<u8>, before: Option<i32>) -> i32 {
    if taken.map(i32::from) != Some(key) {
        return key;
    }
    let fits = |other: &i32| (LOW..=WALK_HIGH).contains(other) && before != Some(*other);
    [key - 12, key + 12].into_iter().find(fits).unwrap_or(key)
}

/// A walk under a chord: its root, then steps and thirds that lead on, and last a step to the root that follows.
///
/// One note for each of `beats`. Notes belong to the chord, or on the weaker beats to `scale`. A triad is approached by
/// a step of the scale, a chord with a seventh more often by a semitone (common practice); `chance` decides.
pub(super) fn walk(
    under: &Under<'_>,
    scale: Option<&Scale>,
    beats: usize,
    chance: &mut Chance,
) -> Vec<i32> {
    let Under { chord, next, .. } = *under;
    let root = under.keys.root;
    if beats < 2 {
        return vec![root];
    }
    let chordal: Vec<i32> = chord
        .pitch_classes()
        .iter()
        .map(|c| i32::from(c.value()))
        .collect();
    let in_chord = |key: i32| chordal.contains(&key.rem_euclid(12));
    let in_scale = |key: i32| in_scale(key, scale);
    let is_free = |key: &i32| under.taken.map(i32::from) != Some(*key);
    // A semitone above a tone of the chord: a note to go through, not to leap to where it is heard well, on the second beat.
    let is_avoided = |key: i32| !in_chord(key) && in_chord(key - 1);
    let (diatonic, chromatic) = if chord.seventh().is_some() {
        (2, 3)
    } else {
        (4, 1)
    };
    let beside_next = [next - 1, next + 1, next - 2, next + 2]
        .into_iter()
        .filter(|key| (LOW..=WALK_HIGH).contains(key) && *key != root && is_free(key));
    // Under a chord of two beats the last note is on the second.
    let gone_to = |key: &i32| beats > 2 || (key - root).abs() <= 2 || !is_avoided(*key);
    let approach: Vec<(i32, u128)> = beside_next
        .clone()
        .filter(gone_to)
        .filter_map(|key| {
            let semitone = (key - next).abs() == 1;
            match (in_scale(key) || in_chord(key), semitone) {
                (true, _) => Some((key, diatonic)),
                (false, true) => Some((key, chromatic)),
                (false, false) => None,
            }
        })
        .collect();
    // Where no step is of the key, as from F down to the lowest E, a step all the same.
    let last = chance
        .weighted(approach.iter().map(|a| a.1))
        .map(|i| approach[i].0)
        .or_else(|| beside_next.clone().find(gone_to))
        .or_else(|| beside_next.clone().next())
        .unwrap_or(root);
    let mut keys = vec![root];
    for beat in 1..beats - 1 {
        let from = keys[beat - 1];
        let before_last = beat + 2 == beats;
        // Steps before thirds before fifths, and rather toward the last note.
        let choices: Vec<(i32, u128)> = (LOW..=WALK_HIGH)
            .filter(|key| *key != from && (*key != last || !before_last) && is_free(key))
            .filter(|key| in_chord(*key) || (beat % 2 == 1 && in_scale(*key)))
            .filter(|key| beat != 1 || (*key - from).abs() <= 2 || !is_avoided(*key))
            .filter_map(|key| {
                let weight = match (key - from).abs() {
                    1 | 2 => 12,
                    3 | 4 => 6,
                    5 | 7 => 2,
                    _ => return None,
                };
                // A note from which the last note is out of reach in the remaining beats is ruled out.
                let left = i32::try_from(beats - 1 - beat).unwrap_or(1);
                let reach = (key - last).abs() <= 5 * left;
                let toward = (key - last).abs() < (from - last).abs();
                Some((
                    key,
                    if reach {
                        weight * if toward { 3 } else { 1 }
                    } else {
                        0
                    },
                ))
            })
            .collect();
        let taken = chance.weighted(choices.iter().map(|c| c.1));
        // Where the last note is too far for that, a tone of the chord as near to it as an octave allows.
        let nearer = || {
            let free = |key: &i32| *key != from && *key != last && is_free(key) && in_chord(*key);
            let wide = (LOW.max(from - 12)..=WALK_HIGH.min(from + 12)).filter(free);
            wide.min_by_key(|key| (key - last).abs()).unwrap_or(root)
        };
        keys.push(taken.map_or_else(nearer, |i| choices[i].0));
    }
    keys.push(last);
    keys
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::symbol;

    fn over(chord: &Chord, root: i32, next: i32) -> Under<'_> {
        Under {
            chord,
            keys: BassKeys { root, other: root },
            next,
            offset_ticks: 0,
            end_ticks: 3840,
            is_new: true,
            taken: None,
        }
    }

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
        assert_eq!(keys(&["E"]), [(28, 35)]);
        // A slash bass stays; a flat fifth is flat.
        assert_eq!(keys(&["C/E"]), [(28, 28)]);
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
        let scale = Scale::read("A minor").unwrap();
        let (mut steps, mut moves) = (0, 0);
        for seed in 0..500 {
            let mut chance = Chance::new(seed, "walk", "bass", 0, 0);
            let keys = walk(&over(&chord, 33, 38), Some(&scale), 4, &mut chance);
            assert_eq!(keys.len(), 4);
            assert_eq!(keys[0], 33);
            assert!((1..=2).contains(&(keys[3] - 38).abs()), "{keys:?}");
            assert!([9, 0, 4, 7].contains(&(keys[2] % 12)), "{keys:?}");
            assert!(keys.windows(2).all(|w| w[0] != w[1]), "{keys:?}");
            assert!(
                keys.iter().all(|k| (LOW..=WALK_HIGH).contains(k)),
                "{keys:?}"
            );
            moves += 4;
            steps += keys.windows(2).filter(|w| (w[0] - w[1]).abs() <= 2).count() + 1;
        }
        // It walks: most moves are steps, including the one over the bar line.
        assert!(steps * 2 > moves, "{steps} of {moves}");
    }

    #[test]
    fn a_walk_of_two_beats_leaves_its_root_by_a_step_to_the_next() {
        let scale = Scale::read("C# minor").unwrap();
        let chord = *symbol::read("Fm7").unwrap().chord().unwrap();
        for root in LOW..=HIGH {
            for next in LOW..=HIGH {
                let mut chance = Chance::new(0, "walk", "bass", 0, 0);
                let keys = walk(&over(&chord, root, next), Some(&scale), 2, &mut chance);
                assert!(
                    keys[1] != root && (1..=2).contains(&(keys[1] - next).abs()),
                    "{keys:?}"
                );
            }
        }
    }

    #[test]
    fn a_walk_ends_well_from_every_chord_to_every_root() {
        for name in [
            "C", "Cm", "C7", "Cmaj7", "Cm7b5", "Cdim7", "Caug", "Csus4", "C5", "C13", "C7alt",
        ] {
            let chord = *symbol::read(name).unwrap().chord().unwrap();
            for next in LOW..=HIGH {
                for beats in 1..=7 {
                    let mut chance = Chance::new(5, "walk", "bass", 0, 0);
                    let keys = walk(&over(&chord, 36, next), None, beats, &mut chance);
                    assert_eq!(keys.len(), beats);
                    assert!(
                        keys.iter().all(|k| (LOW..=WALK_HIGH).contains(k)),
                        "{name} {next}: {keys:?}"
                    );
                }
            }
        }
    }
}
