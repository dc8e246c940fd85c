//! Which keys the pads hold for each chord, so that the voices move least.
//!
//! The measure is that of Tymoczko (Science 313, 2006): the sum of the absolute moves in semitones over a one-to-one
//! pairing of the voices. Among chords of as many voices in a register, pairing in order of pitch is the least, so
//! the voices never cross.

use std::collections::HashMap;

use crate::event::KeyNumber;
use crate::theory::{Chord, Degree};

/// Keys of a chord from the lowest up.
pub type Voicing = Vec<u8>;

/// Where voicings lie, and of how many voices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Register {
    /// Lowest key.
    pub low: KeyNumber,
    /// Highest key.
    pub high: KeyNumber,
    /// Voices, 2 to 6.
    pub voices: usize,
}

/// Most voicings of one chord that are compared; the best spaced are kept.
const MOST_CANDIDATES: usize = 96;

/// Widest step between neighbouring voices, and the widest of all, in semitones.
const WIDEST_STEP: u8 = 9;
const WIDEST: u8 = 19;

/// The tones the pads hold of a chord, each once, in order of importance: third (or what stands for it), seventh or
/// sixth, altered fifth, then extensions from the top down, root, plain fifth.
///
/// The bass has root and slash bass, and a plain fifth colours least, so they go first when voices are few (common
/// practice).
fn important(chord: &Chord) -> Vec<Degree> {
    let mut degrees: Vec<Degree> = chord.degrees().to_vec();
    let has_third = chord.third().is_some();
    let rank = |d: &Degree| -> (u8, i8) {
        let number = i8::try_from(d.number()).unwrap_or(0);
        match d.number() {
            3 => (0, 0),
            2 | 4 if !has_third => (0, number),
            7 => (1, 0),
            6 => (1, 1),
            5 if d.alter() != 0 => (2, 0),
            1 => (4, 0),
            5 => (5, 0),
            // Altered before plain, higher before lower.
            _ => (3, -number - if d.alter() != 0 { 20 } else { 0 }),
        }
    };
    degrees.sort_by_key(rank);
    degrees
}

/// Tone sets of `voices` voices: the most important tones, with root or fifth doubled where the chord has fewer.
fn tone_sets(chord: &Chord, voices: usize) -> Vec<Vec<u8>> {
    let root = i32::from(chord.root().pitch_class().value());
    let class = |d: &Degree| u8::try_from((root + d.semitones()).rem_euclid(12)).unwrap_or(0);
    let mut tones: Vec<u8> = Vec::new();
    for degree in important(chord) {
        if !tones.contains(&class(&degree)) {
            tones.push(class(&degree));
        }
    }
    if tones.len() >= voices {
        tones.truncate(voices);
        return vec![tones];
    }
    // Root and fifth may be doubled; a chord that has neither doubles what it has.
    let mut doubles: Vec<u8> = chord
        .degrees()
        .iter()
        .filter(|d| matches!(d.number(), 1 | 5))
        .map(class)
        .collect();
    if doubles.is_empty() {
        doubles = tones.clone();
    }
    let mut sets = vec![tones];
    while sets.first().is_some_and(|set| set.len() < voices) {
        let mut longer: Vec<Vec<u8>> = Vec::new();
        for set in &sets {
            for double in &doubles {
                let mut set = set.clone();
                set.push(*double);
                set.sort_unstable();
                if !longer.contains(&set) {
                    longer.push(set);
                }
            }
        }
        sets = longer;
    }
    sets
}

/// Every good way to hold a chord in the register, the best spaced first; at least one.
///
/// No two voices lie a minor ninth (13 or 25 semitones) apart, neighbours lie at most a major sixth apart, there is
/// at most one semitone between neighbours, and never at the bottom. Where a register is too narrow for that, the
/// rules are let go one by one; only the minor ninth is kept as long as any voicing does without.
pub fn voicings(chord: &Chord, register: &Register) -> Vec<Voicing> {
    let strict = |v: &Voicing| spaced(v) && !has_minor_ninth(v);
    let rules: [&dyn Fn(&Voicing) -> bool; 3] = [
        &strict,
        &|v: &Voicing| !has_minor_ninth(v),
        &|_: &Voicing| true,
    ];
    for voices in (1..=register.voices).rev() {
        let mut all: Vec<Voicing> = Vec::new();
        for set in tone_sets(chord, voices) {
            place(&set, register, &mut Vec::new(), &mut all);
        }
        all.sort_unstable();
        all.dedup();
        for rule in rules {
            let mut kept: Vec<Voicing> = all.iter().filter(|v| rule(v)).cloned().collect();
            if !kept.is_empty() {
                kept.sort_by_key(|v| (unease(v, register), v.clone()));
                kept.truncate(MOST_CANDIDATES);
                return kept;
            }
        }
    }
    Vec::new()
}

/// All ways to put the pitch classes of `set`, each once, on rising keys of the register.
fn place(set: &[u8], register: &Register, taken: &mut Vec<u8>, all: &mut Vec<Voicing>) {
    if set.is_empty() {
        all.push(taken.clone());
        return;
    }
    let from = taken.last().map_or(register.low.get(), |k| k + 1);
    let to = match taken.first() {
        Some(first) => register.high.get().min(first + WIDEST + 5),
        None => register.high.get(),
    };
    for key in from..=to {
        if let Some(at) = set.iter().position(|class| *class == key % 12) {
            let mut rest = set.to_vec();
            rest.remove(at);
            taken.push(key);
            place(&rest, register, taken, all);
            taken.pop();
        }
    }
}

fn has_minor_ninth(voicing: &Voicing) -> bool {
    voicing.iter().enumerate().any(|(i, low)| {
        voicing[i + 1..]
            .iter()
            .any(|high| matches!(high - low, 13 | 25))
    })
}

fn spaced(voicing: &Voicing) -> bool {
    let steps: Vec<u8> = voicing.windows(2).map(|w| w[1] - w[0]).collect();
    let (Some(first), Some(last)) = (voicing.first(), voicing.last()) else {
        return true;
    };
    last - first <= WIDEST
        && steps.iter().all(|s| *s <= WIDEST_STEP)
        && steps.first() != Some(&1)
        && steps.iter().filter(|s| **s == 1).count() <= 1
}

/// How far a voicing is from the middle of the register and from even spacing; a tie-breaker only.
fn unease(voicing: &[u8], register: &Register) -> u32 {
    let count = u32::try_from(voicing.len().max(1)).unwrap_or(1);
    let sum: u32 = voicing.iter().map(|k| u32::from(*k)).sum();
    let middle = u32::from(register.low.get()) + u32::from(register.high.get());
    let off_centre = (2 * sum / count).abs_diff(middle);
    let crowded: u32 = voicing
        .windows(2)
        .map(|w| match w[1] - w[0] {
            1 => 4,
            2 => 2,
            3..=5 => 0,
            step => u32::from(step) - 5,
        })
        .sum();
    2 * off_centre + crowded
}

/// How far the voices move between two voicings, in semitones all together.
///
/// Voicings of unlike size pair from the top; a voice that enters or leaves counts its distance to the nearest voice
/// of the other chord.
///
/// ```
/// // C E G to C F A: a semitone and a whole tone.
/// assert_eq!(fivefold::arrange::movement(&[60, 64, 67], &[60, 65, 69]), 3);
/// ```
pub fn movement(from: &[u8], to: &[u8]) -> u32 {
    let both = from
        .iter()
        .rev()
        .zip(to.iter().rev())
        .map(|(a, b)| u32::from(a.abs_diff(*b)))
        .sum::<u32>();
    let shared = from.len().min(to.len());
    let (longer, other) = if from.len() > to.len() {
        (from, to)
    } else {
        (to, from)
    };
    let lone = &longer[..longer.len() - shared];
    let nearest = |k: &u8| {
        other
            .iter()
            .map(|o| u32::from(k.abs_diff(*o)))
            .min()
            .unwrap_or(0)
    };
    both + lone.iter().map(nearest).sum::<u32>()
}

/// Movement first, unease second.
type Cost = (u64, u64);

const FAR: Cost = (u64::MAX / 4, 0);

fn plus(a: Cost, b: Cost) -> Cost {
    (a.0 + b.0, a.1 + b.1)
}

/// How the ends of a row of chords are tied.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// The last chord leads back to the first.
    Loop,
    /// The row may follow a voicing and lead to one.
    Open {
        before: Option<Voicing>,
        after: Option<Voicing>,
    },
}

/// A row of chords, each by its place in a list of distinct chords' candidates.
pub(super) struct Row<'a> {
    candidates: &'a [Vec<Voicing>],
    unease: Vec<Vec<u64>>,
    chords: &'a [usize],
    moves: HashMap<(usize, usize), Vec<Vec<u32>>>,
}

impl<'a> Row<'a> {
    pub(super) fn new(
        candidates: &'a [Vec<Voicing>],
        chords: &'a [usize],
        register: &Register,
    ) -> Self {
        let unease = candidates
            .iter()
            .map(|c| c.iter().map(|v| u64::from(unease(v, register))).collect())
            .collect();
        let mut moves = HashMap::new();
        let seam = chords.last().zip(chords.first()).map(|(a, b)| (*a, *b));
        for (a, b) in chords.windows(2).map(|w| (w[0], w[1])).chain(seam) {
            moves.entry((a, b)).or_insert_with(|| {
                candidates[a]
                    .iter()
                    .map(|from| candidates[b].iter().map(|to| movement(from, to)).collect())
                    .collect()
            });
        }
        Row {
            candidates,
            unease,
            chords,
            moves,
        }
    }

    /// The candidate to take for each chord, so that the movement is the least there is.
    pub(super) fn solve(&self, ends: &Ends) -> Vec<usize> {
        if self.chords.is_empty() {
            return Vec::new();
        }
        match ends {
            Ends::Open { before, after } => {
                let to = |i: usize, v: &Option<Voicing>, chord: usize| -> Cost {
                    let moved = v
                        .as_ref()
                        .map_or(0, |v| movement(v, &self.candidates[chord][i]));
                    (u64::from(moved), 0)
                };
                let (first, last) = (self.chords[0], self.chords[self.chords.len() - 1]);
                let tail = self.tails(&|i| to(i, after, last));
                let start = (0..self.candidates[first].len())
                    .min_by_key(|i| plus(to(*i, before, first), tail[0][*i]))
                    .unwrap_or(0);
                self.walk(start, &tail)
            }
            Ends::Loop => self.solve_loop(),
        }
    }

    /// The least cost from each candidate of each chord to the end of the row, the chord's own unease included.
    fn tails(&self, end: &dyn Fn(usize) -> Cost) -> Vec<Vec<Cost>> {
        let n = self.chords.len();
        let mut tail: Vec<Vec<Cost>> = vec![Vec::new(); n];
        for at in (0..n).rev() {
            let chord = self.chords[at];
            let own = |i: usize| (0, self.unease[chord][i]);
            let count = self.candidates[chord].len();
            tail[at] = match tail.get(at + 1) {
                None => (0..count).map(|i| plus(own(i), end(i))).collect(),
                Some(next) => {
                    let moves = &self.moves[&(chord, self.chords[at + 1])];
                    (0..count)
                        .map(|i| {
                            let best = next
                                .iter()
                                .zip(&moves[i])
                                .map(|(cost, moved)| plus(*cost, (u64::from(*moved), 0)))
                                .min()
                                .unwrap_or(FAR);
                            plus(own(i), best)
                        })
                        .collect()
                }
            };
        }
        tail
    }

    /// Follows the least cost from a first candidate.
    fn walk(&self, start: usize, tail: &[Vec<Cost>]) -> Vec<usize> {
        let mut taken = vec![start];
        for at in 1..self.chords.len() {
            let moves = &self.moves[&(self.chords[at - 1], self.chords[at])];
            let from = taken[at - 1];
            let best = (0..tail[at].len())
                .min_by_key(|i| plus(tail[at][*i], (u64::from(moves[from][*i]), 0)))
                .unwrap_or(0);
            taken.push(best);
        }
        taken
    }

    /// Around the loop, exactly: each first voicing in the order of what it costs at least (without the seam), until
    /// no other can be cheaper than the best found.
    fn solve_loop(&self) -> Vec<usize> {
        let seam = &self.moves[&(self.chords[self.chords.len() - 1], self.chords[0])];
        let free = self.tails(&|_| (0, 0));
        let mut order: Vec<usize> = (0..free[0].len()).collect();
        order.sort_by_key(|i| free[0][*i]);
        let mut best: Option<(Cost, Vec<usize>)> = None;
        for start in order {
            if best
                .as_ref()
                .is_some_and(|(cost, _)| free[0][start] >= *cost)
            {
                break;
            }
            let tail = self.tails(&|last| (u64::from(seam[last][start]), 0));
            let cost = tail[0][start];
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, self.walk(start, &tail)));
            }
        }
        best.map(|(_, taken)| taken).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests;
