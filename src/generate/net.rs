//! Exact sums over all ways to give the places of a plan their chords, and exact draws from them.
//!
//! Places are filled in order. The state is what later steps still need of the filled places (the ends of steps to
//! places not yet filled) and which chords have been used; for each state the weight of all completions is summed from
//! the end backwards. A draw goes forward and chooses each chord with its exact share. So no draw is rejected and
//! repeated, and nothing can hang.

use super::Chance;
use super::shape::{MOST_PLACES, PhrasePlan};
use super::weights::{STEPS, Step};

/// Most chords of a palette.
pub(super) const MOST_CHORDS: usize = 6;

/// For each chord of a palette, the sets of chords that hold it, a bit for each set.
const WITH_CHORD: [u64; MOST_CHORDS] = [
    0xAAAA_AAAA_AAAA_AAAA,
    0xCCCC_CCCC_CCCC_CCCC,
    0xF0F0_F0F0_F0F0_F0F0,
    0xFF00_FF00_FF00_FF00,
    0xFFFF_0000_FFFF_0000,
    0xFFFF_FFFF_0000_0000,
];

/// A step that closes at a place: its other end is a place filled before (or the same).
#[derive(Clone, Copy, Debug)]
struct Closing {
    /// Where the other end stands among the live places; `None` for the first place, whose chord is fixed.
    other: Option<usize>,
    /// Whether the step leads from the other end to here.
    toward: bool,
    kind: usize,
}

#[derive(Clone, Debug)]
struct Stage {
    closing: Vec<Closing>,
    /// Live places before this one, and for each live place after it where its chord comes from: a place in the live
    /// list before, or (`None`) the chord chosen here.
    live_before: usize,
    after: Vec<Option<usize>>,
}

/// A plan, ready for sums.
#[derive(Clone, Debug)]
pub(super) struct Net {
    stages: Vec<Stage>,
    last_place: usize,
}

/// Weights of the steps between the chords of a palette, by kind of step.
pub(super) type Steps = [[[u64; MOST_CHORDS]; MOST_CHORDS]; STEPS];

/// Backward sums for a plan and a palette. The first chord of the palette is the first of the sequence.
pub(super) struct Sums {
    /// By stage, then by state; the last is the one final state.
    tables: Vec<Vec<u128>>,
    chords: usize,
}

impl Net {
    pub(super) fn new(plan: &PhrasePlan) -> Net {
        let places = plan.place_count;
        // Place 0 is fixed and so is never live.
        let live_after = |i: usize| -> Vec<usize> {
            (1..=i)
                .filter(|j| {
                    plan.steps
                        .iter()
                        .any(|(a, b, _)| (a == j && *b > i) || (b == j && *a > i))
                })
                .collect()
        };
        let mut stages = Vec::with_capacity(places);
        let mut before: Vec<usize> = Vec::new();
        for i in 0..places {
            let after = live_after(i);
            let closing = plan
                .steps
                .iter()
                .filter(|(a, b, _)| *a.max(b) == i)
                .map(|(a, b, kind)| {
                    let other = *a.min(b);
                    let own = other == i;
                    Closing {
                        other: if own || other == 0 {
                            None
                        } else {
                            before.iter().position(|p| *p == other)
                        },
                        toward: *b == i && !own,
                        kind: Step::ALL.iter().position(|k| k == kind).unwrap_or(0),
                    }
                })
                .collect();
            stages.push(Stage {
                closing,
                live_before: before.len(),
                after: after
                    .iter()
                    .map(|p| before.iter().position(|b| b == p))
                    .collect(),
            });
            before = after;
        }
        let last_place = plan.places.last().copied().unwrap_or(0);
        Net { stages, last_place }
    }

    /// The chords of the live places of a state, lowest first, and these chords as bits.
    fn live(state: usize, places: usize, chords: usize) -> ([u8; MOST_PLACES], usize) {
        let mut live = [0; MOST_PLACES];
        let (mut left, mut bits) = (state, 0);
        for place in live.iter_mut().take(places) {
            let chord = left % chords;
            *place = u8::try_from(chord).unwrap_or(0);
            bits |= 1 << chord;
            left /= chords;
        }
        (live, bits)
    }

    /// The weight of taking `chord` at a stage from a state.
    fn weight(&self, stage: usize, live: &[u8; MOST_PLACES], chord: usize, steps: &Steps) -> u64 {
        let mut product = 1;
        for closing in &self.stages[stage].closing {
            let other = match closing.other {
                Some(place) => usize::from(live[place]),
                // The first place, or a step from the only place to itself.
                None => 0,
            };
            let (from, to) = if closing.toward {
                (other, chord)
            } else {
                (chord, other)
            };
            product *= steps[closing.kind][from][to];
            if product == 0 {
                break;
            }
        }
        product
    }

    fn next_live(
        &self,
        stage: usize,
        live: &[u8; MOST_PLACES],
        chord: usize,
        chords: usize,
    ) -> usize {
        let mut next = 0;
        for from in self.stages[stage].after.iter().rev() {
            let value = from.map_or(chord, |place| usize::from(live[place]));
            next = next * chords + value;
        }
        next
    }

    fn choices(&self, stage: usize, chords: usize, end: Option<usize>) -> std::ops::Range<usize> {
        match end {
            Some(end) if stage == self.last_place => end..end + 1,
            _ if stage == 0 => 0..1,
            _ => 0..chords,
        }
    }

    /// Sums the weights of all sequences that begin with the first chord, end with `end` where one is asked for, and
    /// use every chord.
    pub(super) fn sums(&self, steps: &Steps, chords: usize, end: Option<usize>) -> Sums {
        let masks = 1usize << chords;
        let full = masks - 1;
        let mut tables: Vec<Vec<u128>> = vec![Vec::new(); self.stages.len() + 1];
        tables[self.stages.len()] = (0..masks).map(|mask| u128::from(mask == full)).collect();
        for stage in (0..self.stages.len()).rev() {
            let states = chords.pow(u32::try_from(self.stages[stage].live_before).unwrap_or(0));
            let mut table = vec![0u128; states * masks];
            // Places still to fill must be enough for the chords still to use.
            let left = u32::try_from(self.stages.len() - stage).unwrap_or(u32::MAX);
            for state in 0..states {
                let (live, there) = Self::live(state, self.stages[stage].live_before, chords);
                // Whoever comes here has used the first chord and those of the live places.
                let there = there | usize::from(stage > 0);
                for chord in self.choices(stage, chords, end) {
                    if stage == 0 && chord != 0 {
                        continue;
                    }
                    let weight = u128::from(self.weight(stage, &live, chord, steps));
                    if weight == 0 {
                        continue;
                    }
                    let next = self.next_live(stage, &live, chord, chords) * masks;
                    for mask in (there..masks).filter(|mask| mask & there == there) {
                        if (full & !mask).count_ones() > left {
                            continue;
                        }
                        let later = tables[stage + 1][next + (mask | 1 << chord)];
                        if later > 0 {
                            table[state * masks + mask] += weight * later;
                        }
                    }
                }
            }
            tables[stage] = table;
        }
        Sums { tables, chords }
    }

    /// Whether there is any sequence: as [`Net::sums`] would tell, but sooner.
    pub(super) fn can(&self, steps: &Steps, chords: usize, end: Option<usize>) -> bool {
        // For each state, the sets of used chords with which it is reached: a bit for each set.
        let mut reached: Vec<u64> = vec![1];
        for (stage, own) in self.stages.iter().enumerate() {
            let states = chords.pow(u32::try_from(own.after.len()).unwrap_or(0));
            let mut next = vec![0u64; states];
            for (state, sets) in reached.iter().enumerate().filter(|(_, sets)| **sets > 0) {
                let (live, _) = Self::live(state, own.live_before, chords);
                for chord in self.choices(stage, chords, end) {
                    let first = stage > 0 || chord == 0;
                    if first && self.weight(stage, &live, chord, steps) > 0 {
                        let to = self.next_live(stage, &live, chord, chords);
                        let with = WITH_CHORD[chord];
                        next[to] |= (sets & with) | (sets & !with) << (1usize << chord);
                    }
                }
            }
            reached = next;
        }
        let full = (1usize << chords) - 1;
        reached.first().is_some_and(|sets| sets >> full & 1 == 1)
    }

    /// Draws one sequence by place, exactly by its share; `None` where there is none.
    pub(super) fn draw(
        &self,
        sums: &Sums,
        steps: &Steps,
        end: Option<usize>,
        chance: &mut Chance,
    ) -> Option<(Vec<usize>, u128)> {
        let chords = sums.chords;
        let masks = 1usize << chords;
        let (mut state, mut mask, mut product) = (0, 0, 1u128);
        let mut taken = Vec::with_capacity(self.stages.len());
        for stage in 0..self.stages.len() {
            let (live, _) = Self::live(state, self.stages[stage].live_before, chords);
            let total = sums.tables[stage][state * masks + mask];
            if total == 0 {
                return None;
            }
            let mut left = chance.below_wide(total);
            let mut chosen = None;
            for chord in self.choices(stage, chords, end) {
                let weight = u128::from(self.weight(stage, &live, chord, steps));
                let next = self.next_live(stage, &live, chord, chords);
                let share = weight * sums.tables[stage + 1][next * masks + (mask | 1 << chord)];
                if left < share {
                    chosen = Some((chord, next, weight));
                    break;
                }
                left -= share;
            }
            let (chord, next, weight) = chosen?;
            taken.push(chord);
            product *= weight;
            state = next;
            mask |= 1 << chord;
        }
        Some((taken, product))
    }

    /// The heaviest sequences by place, at most `most`, the heaviest first; equal ones in the order of their chords.
    pub(super) fn likeliest(
        &self,
        steps: &Steps,
        chords: usize,
        end: Option<usize>,
        most: usize,
    ) -> Vec<(Vec<usize>, u128)> {
        // For each stage and state, the best completions: weight, and the chords in order.
        let masks = 1usize << chords;
        let mut later: Vec<Vec<(u128, Vec<u8>)>> = (0..masks)
            .map(|mask| {
                if mask == masks - 1 {
                    vec![(1, Vec::new())]
                } else {
                    Vec::new()
                }
            })
            .collect();
        for stage in (0..self.stages.len()).rev() {
            let states = chords.pow(u32::try_from(self.stages[stage].live_before).unwrap_or(0));
            let mut table: Vec<Vec<(u128, Vec<u8>)>> = vec![Vec::new(); states * masks];
            for state in 0..states {
                let (live, _) = Self::live(state, self.stages[stage].live_before, chords);
                for chord in self.choices(stage, chords, end) {
                    let weight = u128::from(self.weight(stage, &live, chord, steps));
                    let next = self.next_live(stage, &live, chord, chords) * masks;
                    for mask in (0..masks).filter(|_| weight > 0) {
                        let best = &later[next + (mask | 1 << chord)];
                        let own = u8::try_from(chord).unwrap_or(0);
                        let longer = best.iter().map(|(w, rest)| {
                            let mut row = Vec::with_capacity(rest.len() + 1);
                            row.push(own);
                            row.extend(rest);
                            (w * weight, row)
                        });
                        table[state * masks + mask].extend(longer);
                    }
                }
                for mask in 0..masks {
                    let best = &mut table[state * masks + mask];
                    best.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
                    best.truncate(most);
                }
            }
            later = table;
        }
        let best = later.swap_remove(0);
        best.into_iter()
            .map(|(weight, row)| (row.into_iter().map(usize::from).collect(), weight))
            .collect()
    }
}

impl Sums {
    /// The weight of all sequences together.
    pub(super) fn total(&self) -> u128 {
        self.tables[0][0]
    }
}
