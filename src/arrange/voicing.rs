//! Which keys the pads hold for each chord, so that the voices move least.
//!
//! The measure is that of Tymoczko (Science 313, 2006): the sum of the absolute moves in semitones over a one-to-one
//! pairing of the voices. Among chords of as many voices in a register, pairing in order of pitch is the least, so
//! voices never cross. Beside it counts how well a voicing lies above the bass, and what the top line does.

use std::borrow::Cow;
use std::collections::HashMap;
use std::fmt;
use std::ops::Deref;

use super::bass::bass_root;
use crate::event::KeyNumber;
use crate::theory::{Chord, Degree};

/// Most keys of a voicing.
const MOST_KEYS: usize = 6;

/// Keys of a chord from the lowest up, at most six. It reads as a slice of MIDI key numbers.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Voicing {
    /// Those that are not taken are 0.
    keys: [u8; MOST_KEYS],
    count: u8,
}

impl Voicing {
    /// Of the first six of `taken`.
    fn of(taken: &[u8]) -> Self {
        let mut keys = [0; MOST_KEYS];
        let mut count = 0;
        for (key, from) in keys.iter_mut().zip(taken) {
            *key = *from;
            count += 1;
        }
        Voicing { keys, count }
    }
}

impl Deref for Voicing {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        &self.keys[..usize::from(self.count)]
    }
}

impl fmt::Debug for Voicing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.deref().fmt(f)
    }
}

/// Where voicings lie, and of how many voices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Register {
    /// The lowest key a voice may take.
    pub low: KeyNumber,
    /// The highest key a voice may take.
    pub high: KeyNumber,
    /// Voices, 2 to 6.
    pub voices: usize,
}

/// Most voicings of one chord that are compared; the best spaced are kept. The place of one fits a byte.
const MOST_CANDIDATES: usize = 96;

/// So many distances between voicings are kept at most, two bytes each. Once these are used up, distances of new pairs
/// of chords are computed each time: a chart has few pairs, or none comes often.
const MOST_MOVES: usize = 1 << 19;

/// Widest step between neighboring voices, from the lowest to the next, and from the lowest to the highest, in semitones.
const WIDEST_STEP: u8 = 9;
const WIDEST_FIRST: u8 = 14;
const WIDEST: u8 = 26;

/// The lowest key on which an interval may stand, by its semitones up to an octave: narrow intervals turn muddy low down.
///
/// These are the low interval limits of arranging books (common practice; books differ by a semitone or two).
const LOWEST_UNDER: [u8; 13] = [0, 52, 51, 48, 46, 46, 46, 34, 41, 41, 41, 41, 0];

/// How far above the bass the lowest voice lies best, in semitones: from a fifth to a ninth.
const GAP: std::ops::RangeInclusive<i32> = 7..=14;

/// How far the voices above the lowest may lie from their place in the register without a cost, in thirds of a semitone.
const ABOUT_PLACE: u32 = 9;

/// What a semitone of movement costs, beside which stand: a semitone outside of [`GAP`] or of [`ABOUT_PLACE`], a tension in the lowest voice, a top
/// that stays while the chord changes, a semitone by which the top leaps farther than a third.
const MOVED: u32 = 2;
const OFF_GAP: u32 = 1;
const LOW_TENSION: u32 = 8;
const STILL_TOP: u32 = 3;
const TOP_LEAP: u32 = 3;
const WIDEST_TOP: u8 = 4;

/// The tones the pads hold of a chord, each once, in order of importance: third (or what stands for it), seventh or
/// sixth, altered fifth, then extensions from the top down, root, plain fifth.
///
/// A plain fifth colors least, so it goes first when voices are few. A chord with a ninth or more gives up its root before
/// it: the bass has the root, and third, fifth, seventh and ninth are the rootless voicings of the left hand at a piano.
/// Beside a flat ninth no root sounds (all common practice).
fn important(chord: &Chord) -> Vec<Degree> {
    let mut degrees: Vec<Degree> = chord.degrees().to_vec();
    let has_third = chord.third().is_some();
    let is_extended = degrees.iter().any(|d| d.number() > 7);
    if degrees.iter().any(is_flat_ninth) {
        degrees.retain(|d| d.number() != 1);
    }
    let rank = |d: &Degree| -> (u8, i8) {
        let number = i8::try_from(d.number()).unwrap_or(0);
        match d.number() {
            3 => (0, 0),
            2 | 4 if !has_third => (0, number),
            7 => (1, 0),
            6 => (1, 1),
            5 if d.alter() != 0 => (2, 0),
            1 if is_extended => (6, 0),
            1 => (4, 0),
            5 => (5, 0),
            // Altered before natural, higher before lower.
            _ => (3, -number - if d.alter() != 0 { 20 } else { 0 }),
        }
    };
    degrees.sort_by_key(rank);
    degrees
}

fn is_flat_ninth(degree: &Degree) -> bool {
    degree.number() == 9 && degree.alter() < 0
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
    // Root and fifth may be doubled; a chord that has not both in the pads doubles what it has.
    let mut doubles: Vec<u8> = chord
        .degrees()
        .iter()
        .filter(|d| matches!(d.number(), 1 | 5))
        .map(class)
        .filter(|class| tones.contains(class))
        .collect();
    if doubles.is_empty() || chord.degrees().iter().any(is_flat_ninth) {
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
/// No two voices lie a minor ninth (13 or 25 semitones) apart, neighbors lie at most a major sixth apart but for the lowest,
/// there is at most one semitone between neighbors, and never at the bottom; narrow intervals do not stand so low that they
/// turn muddy. Where a register is too narrow for that, the rules are let go one by one; only the minor ninth is kept as
/// long as any voicing does without.
pub fn voicings(chord: &Chord, register: &Register) -> Vec<Voicing> {
    let strict = |v: &Voicing| spaced(v) && !is_muddy(v) && !has_minor_ninth(v);
    let rules: [&dyn Fn(&Voicing) -> bool; 4] = [
        &strict,
        &|v: &Voicing| !is_muddy(v) && !has_minor_ninth(v),
        &|v: &Voicing| !has_minor_ninth(v),
        &|_: &Voicing| true,
    ];
    for voices in (1..=register.voices.min(MOST_KEYS)).rev() {
        let mut all: Vec<Voicing> = Vec::new();
        for set in tone_sets(chord, voices) {
            place(&set, register, &mut Vec::new(), &mut all);
        }
        all.sort_unstable();
        all.dedup();
        for rule in rules {
            let mut kept: Vec<Voicing> = all.iter().filter(|v| rule(v)).copied().collect();
            if !kept.is_empty() {
                kept.sort_by_key(|v| (2 * strain(chord, v, register) + unease(v, register), *v));
                kept.truncate(MOST_CANDIDATES);
                kept.shrink_to_fit();
                return kept;
            }
        }
    }
    Vec::new()
}

/// All ways to put the pitch classes of `set`, each once, on rising keys of the register.
fn place(set: &[u8], register: &Register, taken: &mut Vec<u8>, all: &mut Vec<Voicing>) {
    if set.is_empty() {
        all.push(Voicing::of(taken));
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

fn is_muddy(voicing: &Voicing) -> bool {
    voicing.windows(2).any(|w| {
        let lowest = LOWEST_UNDER.get(usize::from(w[1] - w[0]));
        lowest.is_some_and(|lowest| w[0] < *lowest)
    })
}

fn spaced(voicing: &Voicing) -> bool {
    let steps: Vec<u8> = voicing.windows(2).map(|w| w[1] - w[0]).collect();
    let (Some(first), Some(last)) = (voicing.first(), voicing.last()) else {
        return true;
    };
    last - first <= WIDEST
        && steps.first().is_none_or(|step| *step <= WIDEST_FIRST)
        && steps.iter().skip(1).all(|s| *s <= WIDEST_STEP)
        && steps.first() != Some(&1)
        && steps.iter().filter(|s| **s == 1).count() <= 1
}

/// What a voicing costs by where it lies above the bass of its chord and in the register, and by a tension in its lowest voice.
fn strain(chord: &Chord, voicing: &[u8], register: &Register) -> u32 {
    let Some(lowest) = voicing.first() else {
        return 0;
    };
    let gap = i32::from(*lowest) - bass_root(chord);
    // Below the gap the voice is in the way of the bass.
    let off = (gap - GAP.end()).max(3 * (GAP.start() - gap)).max(0);
    let root = i32::from(chord.root().pitch_class().value());
    let above = (i32::from(*lowest) - root).rem_euclid(12);
    let is_tension = |d: &&Degree| d.number() > 7 && d.semitones().rem_euclid(12) == above;
    let tension = u32::from(chord.degrees().iter().any(|d| is_tension(&d)));
    let displaced = off_place(voicing, register).saturating_sub(ABOUT_PLACE) / 3;
    OFF_GAP * (u32::try_from(off).unwrap_or(0) + displaced) + LOW_TENSION * tension
}

/// How far the voices above the lowest are from their place in the register, at two thirds of it, in thirds of a semitone.
fn off_place(voicing: &[u8], register: &Register) -> u32 {
    let upper = voicing.get(1..).unwrap_or_default();
    let count = u32::try_from(upper.len().max(1)).unwrap_or(1);
    let sum: u32 = upper.iter().map(|k| u32::from(*k)).sum();
    let (low, high) = (
        u32::from(register.low.get()),
        u32::from(register.high.get()),
    );
    (3 * sum / count).abs_diff(low + 2 * high)
}

/// How far the voices above the lowest are from their place in the register, at two thirds of it, and from even spacing; a
/// tie-breaker only.
fn unease(voicing: &[u8], register: &Register) -> u32 {
    let crowded: u32 = voicing
        .windows(2)
        .enumerate()
        .map(|(i, w)| match w[1] - w[0] {
            1 => 4,
            2 => 2,
            3..=5 => 0,
            // The lowest voice stands apart.
            _ if i == 0 => 0,
            step => u32::from(step) - 5,
        })
        .sum();
    off_place(voicing, register) + crowded
}

/// What it costs to go from one voicing to another: the movement of all voices, and what the top line does. It has a contour
/// if it neither stays where the chord changes nor leaps.
fn change(from: &[u8], to: &[u8]) -> u32 {
    if from == to {
        return 0;
    }
    let top = match (from.last(), to.last()) {
        (Some(from), Some(to)) if from == to => STILL_TOP,
        (Some(from), Some(to)) => {
            TOP_LEAP * u32::from(from.abs_diff(*to).saturating_sub(WIDEST_TOP))
        }
        _ => 0,
    };
    MOVED * movement(from, to) + top
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

/// What changes and voicings cost, then the tie-breaker. Both stay below 2000 per chord, so the longest form cannot overflow.
type Cost = (u32, u32);

const FAR: Cost = (u32::MAX, 0);

fn plus(a: Cost, b: Cost) -> Cost {
    (a.0.saturating_add(b.0), a.1.saturating_add(b.1))
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
    /// What each candidate of each chord costs by itself.
    own: Vec<Vec<Cost>>,
    chords: &'a [usize],
    /// By the two chords: from each candidate of the first to each of the second, line by line.
    moves: HashMap<(usize, usize), Vec<u16>>,
}

/// The best ways on from each candidate of each chord of a row.
struct Tails {
    /// What each candidate of the first chord costs to the end.
    costs: Vec<Cost>,
    /// For each candidate of each chord but the last, the candidate to take for the chord after it: from the end of the
    /// row to its beginning, chord by chord.
    next: Vec<u8>,
}

impl<'a> Row<'a> {
    pub(super) fn new(
        distinct: &[&Chord],
        candidates: &'a [Vec<Voicing>],
        chords: &'a [usize],
        register: &Register,
    ) -> Self {
        let of = |(chord, all): (&&Chord, &Vec<Voicing>)| -> Vec<Cost> {
            let costs = all
                .iter()
                .map(|v| (strain(chord, v, register), unease(v, register)));
            costs.collect()
        };
        let mut row = Row {
            candidates,
            own: distinct.iter().zip(candidates).map(of).collect(),
            chords,
            moves: HashMap::new(),
        };
        let mut kept = 0;
        for pair in chords.windows(2).map(|w| (w[0], w[1])) {
            let count = candidates[pair.0].len() * candidates[pair.1].len();
            if kept + count > MOST_MOVES {
                break;
            }
            if !row.moves.contains_key(&pair) {
                kept += count;
                row.moves.insert(pair, row.moved(pair));
            }
        }
        row
    }

    /// What it costs to go from each candidate of a chord to each of another.
    fn moved(&self, (from, to): (usize, usize)) -> Vec<u16> {
        let (from, to) = (&self.candidates[from], &self.candidates[to]);
        let mut moved = Vec::with_capacity(from.len() * to.len());
        for from in from {
            let each = to.iter().map(|to| change(from, to));
            moved.extend(each.map(|moved| u16::try_from(moved).unwrap_or(u16::MAX)));
        }
        moved
    }

    /// The same, cached or computed now.
    fn moves(&self, pair: (usize, usize)) -> Cow<'_, [u16]> {
        match self.moves.get(&pair) {
            Some(kept) => Cow::Borrowed(kept),
            None => Cow::Owned(self.moved(pair)),
        }
    }

    /// The candidate to take for each chord, so that all together costs the least there is.
    pub(super) fn solve(&self, ends: &Ends) -> Vec<usize> {
        if self.chords.is_empty() {
            return Vec::new();
        }
        match ends {
            Ends::Open { before, after } => {
                let to = |i: usize, v: &Option<Voicing>, chord: usize| -> Cost {
                    let moved = v
                        .as_ref()
                        .map_or(0, |v| change(v, &self.candidates[chord][i]));
                    (moved, 0)
                };
                let (first, last) = (self.chords[0], self.chords[self.chords.len() - 1]);
                let tails = self.tails(&|i| to(i, after, last));
                let start = (0..tails.costs.len())
                    .min_by_key(|i| plus(to(*i, before, first), tails.costs[*i]))
                    .unwrap_or(0);
                self.walk(&tails, start)
            }
            Ends::Loop => self.solve_loop(),
        }
    }

    /// The least cost from each candidate of the first chord to the end of the row, each chord's own tie-breaker
    /// included.
    fn tails(&self, end: &dyn Fn(usize) -> Cost) -> Tails {
        let own = |chord: usize, i: usize| self.own[chord][i];
        let last = self.chords[self.chords.len() - 1];
        let mut costs: Vec<Cost> = (0..self.candidates[last].len())
            .map(|i| plus(own(last, i), end(i)))
            .collect();
        let followed = &self.chords[..self.chords.len() - 1];
        let ways = followed.iter().map(|chord| self.candidates[*chord].len());
        let mut next: Vec<u8> = Vec::with_capacity(ways.sum());
        for pair in self.chords.windows(2).rev().map(|w| (w[0], w[1])) {
            let moves = self.moves(pair);
            let each = moves.chunks(costs.len().max(1)).enumerate();
            costs = each
                .map(|(i, moves)| {
                    let on = costs.iter().zip(moves).zip(0u8..);
                    let on =
                        on.map(|((cost, moved), way)| (plus(*cost, (u32::from(*moved), 0)), way));
                    let (best, way) = on.min().unwrap_or((FAR, 0));
                    next.push(way);
                    plus(own(pair.0, i), best)
                })
                .collect();
        }
        Tails { costs, next }
    }

    /// Around the loop, exactly: each first voicing in the order of what it costs at least (without the seam), until
    /// no other can be cheaper than the best found.
    fn solve_loop(&self) -> Vec<usize> {
        let (first, last) = (self.chords[0], self.chords[self.chords.len() - 1]);
        let seam = self.moves((last, first));
        let free = self.tails(&|_| (0, 0)).costs;
        let mut order: Vec<usize> = (0..free.len()).collect();
        order.sort_by_key(|i| free[*i]);
        let mut best: Option<(Cost, Vec<usize>)> = None;
        for start in order {
            if best.as_ref().is_some_and(|(cost, _)| free[start] >= *cost) {
                break;
            }
            let back = |last: usize| (u32::from(seam[last * free.len() + start]), 0);
            let tails = self.tails(&back);
            let cost = tails.costs[start];
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                best = Some((cost, self.walk(&tails, start)));
            }
        }
        best.map(|(_, taken)| taken).unwrap_or_default()
    }

    /// Follows the least cost from a candidate of the first chord.
    fn walk(&self, tails: &Tails, start: usize) -> Vec<usize> {
        let mut taken = Vec::with_capacity(self.chords.len());
        let (mut at, mut behind) = (start, tails.next.len());
        taken.push(at);
        for chord in &self.chords[..self.chords.len() - 1] {
            behind -= self.candidates[*chord].len();
            at = usize::from(tails.next[behind + at]);
            taken.push(at);
        }
        taken
    }
}

#[cfg(test)]
mod tests;
