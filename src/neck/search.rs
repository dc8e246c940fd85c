//! The search for chord shapes.
//!
//! For each fret from the first to the twelfth the hand is laid there, so that its lowest finger presses that fret, and
//! each string from the lowest up is tried muted, open, and at each fret under the hand that is a chord tone. A branch is
//! left as soon as it needs more fingers than there are, mutes more than it may, or has too few strings left for the
//! tones that must sound. Shapes from the thirteenth fret up are those of the first again, an octave higher, and are
//! not tried.

mod effort;
mod found;
mod tones;

use super::board::Neck;
use super::hand::{Frets, Grip, HandModel, MUTED, grip};
use super::limits::MAX_STRINGS;
use crate::theory::Chord;
use found::Easiest;
pub(super) use found::Found;
use tones::{Bits, Strictness, Tones};

/// The highest fret at which a hand is laid down: an octave of frets holds every shape once.
const LAST_HAND: i8 = 12;

/// The highest place of the hand at which a shape either lets every string above the bass ring that rings open in the
/// chord, or none: open strings are not muted one by one.
const OPEN_PLACE: i8 = 4;

/// Shapes of a chord, the easiest first, no more than `most`.
pub(super) fn search(chord: &Chord, neck: &Neck, hand: &HandModel, most: usize) -> Vec<Found> {
    if most == 0 {
        return Vec::new();
    }
    for strictness in [Strictness::Full, Strictness::Altered, Strictness::Shell] {
        let tones = Tones::new(chord, strictness);
        // Some of the easiest are parts of others and get dropped, so more are kept at first than asked for.
        let mut limit = most.saturating_mul(2).saturating_add(8);
        loop {
            let mut easiest = Easiest::new(limit);
            Search::new(&tones, neck, hand).run(&mut easiest);
            let all = easiest.list.len() < limit;
            let kept = easiest.without_parts(most);
            if kept.len() == most || (all && !kept.is_empty()) {
                return kept;
            }
            if all {
                break;
            }
            limit = limit.saturating_mul(4);
        }
    }
    Vec::new()
}

/// What one string may do: a fret (0 open) and the bit of its tone; bit 0 for a foreign slash bass.
#[derive(Clone, Copy)]
struct Choice {
    fret: i8,
    bit: Bits,
    is_slash: bool,
}

/// The most choices a string has: six frets under the hand and the open string.
const MAX_CHOICES: usize = 7;

/// The choices of one string for one place of the hand.
#[derive(Clone, Copy)]
struct Choices {
    list: [Choice; MAX_CHOICES],
    count: usize,
    opens: bool,
}

/// A search with the hand in one place.
struct Search<'a> {
    tones: &'a Tones,
    hand: &'a HandModel,
    neck: &'a Neck,
    strings: usize,
    /// The fewest strings that make a shape.
    fewest: usize,
    choices: [Choices; MAX_STRINGS],
    /// The fret of the lowest finger; 0 when no string is pressed.
    low: i8,
    /// Whether strings that ring open in the chord sound all or not at all.
    keep_open: bool,
}

/// How far a branch has come.
#[derive(Clone, Copy)]
struct Branch {
    frets: Frets,
    sounding: Bits,
    bass: Option<Choice>,
    struck: usize,
    /// Muted strings above the last that sounds.
    trailing: usize,
    inner_mutes: usize,
    /// Strings pressed at the lowest fret.
    at_low: usize,
    /// Whether an open string lies above one of these, so that no barre reaches over it.
    broken: bool,
    /// Fingers needed above the lowest fret for strings that no finger laid flat can take.
    fixed: usize,
    /// The fret of the strings that one finger laid flat could still take; 0 for none.
    run: i8,
    run_length: usize,
    /// The highest fret held; 0 where none is.
    high: i8,
    /// Whether an open string sounds.
    rings: bool,
    /// Whether a string above the bass is left out that would ring open in the chord.
    damped: bool,
    /// Semitones from the bass to the next string that sounds; 0 where there is none yet.
    lowest_step: u8,
    /// The fewest fingers that hold what there is.
    fingers: usize,
}

impl<'a> Search<'a> {
    fn new(tones: &'a Tones, neck: &'a Neck, hand: &'a HandModel) -> Search<'a> {
        let strings = neck.string_count();
        let two_tones = tones.all.count_ones() < 3;
        let fewest = if two_tones || strings <= 4 { 3 } else { 4 };
        Search {
            tones,
            hand,
            neck,
            strings,
            fewest,
            choices: [Choices {
                list: [Choice {
                    fret: 0,
                    bit: 0,
                    is_slash: false,
                }; MAX_CHOICES],
                count: 0,
                opens: false,
            }; MAX_STRINGS],
            low: 0,
            keep_open: false,
        }
    }

    /// Lays the hand down in every place.
    fn run(&mut self, found: &mut Easiest) {
        let last = i8::try_from(self.neck.last_fret().value()).unwrap_or(i8::MAX);
        let two_tones = self.tones.all.count_ones() < 3;
        for low in 0..=last.min(LAST_HAND) {
            if low == 0 && !self.hand.open() {
                continue;
            }
            self.low = low;
            self.keep_open = low <= OPEN_PLACE && !two_tones;
            let span = i8::try_from(self.hand.span()).unwrap_or(1);
            let high = if low == 0 {
                0
            } else {
                (low + span - 1).min(last)
            };
            for index in 0..self.strings {
                self.choices[index] = self.choices_of(index, high);
            }
            let start = Branch {
                frets: [MUTED; MAX_STRINGS],
                sounding: 0,
                bass: None,
                struck: 0,
                trailing: 0,
                inner_mutes: 0,
                at_low: 0,
                broken: false,
                fixed: 0,
                run: 0,
                run_length: 0,
                high: 0,
                rings: false,
                damped: false,
                lowest_step: 0,
                fingers: 0,
            };
            self.string(0, &start, found);
        }
    }

    fn choices_of(&self, index: usize, high: i8) -> Choices {
        let mut choices = self.choices[index];
        choices.count = 0;
        choices.opens = false;
        let open = self.neck.open_key(index);
        let pressed = (self.low > 0).then_some(self.low..=high);
        let rings = self.hand.open().then_some(0);
        for fret in rings.into_iter().chain(pressed.into_iter().flatten()) {
            let class = (open + fret.unsigned_abs()) % 12;
            let bit = self.tones.bits[usize::from(class)];
            let is_slash = self.tones.slash == Some(class);
            if bit != 0 || is_slash {
                choices.list[choices.count] = Choice {
                    fret,
                    bit,
                    is_slash,
                };
                choices.count += 1;
                choices.opens |= fret == 0 && bit != 0;
            }
        }
        choices
    }

    /// Tries everything one string may do.
    fn string(&self, index: usize, branch: &Branch, found: &mut Easiest) {
        if index == self.strings {
            self.finish(branch, found);
            return;
        }
        let left = self.strings - index;
        let missing = (self.tones.needed & !branch.sounding).count_ones();
        if branch.struck + left < self.fewest || missing as usize > left {
            return;
        }
        let choices = &self.choices[index];
        for choice in &choices.list[..choices.count] {
            if let Some(next) = self.with(index, branch, *choice)
                && !found.excludes(self.least_effort(&next))
            {
                self.string(index + 1, &next, found);
            }
        }
        let mut next = *branch;
        if next.bass.is_some() {
            next.damped |= self.keep_open && choices.opens;
            if next.damped && next.rings {
                return;
            }
            next.trailing += 1;
            if found.excludes(self.least_effort(&next)) {
                return;
            }
        }
        self.string(index + 1, &next, found);
    }

    /// The strings of the run each take a finger, as one finger laid flat must reach the highest string.
    fn end_run(&self, branch: &mut Branch) {
        branch.fixed += branch.run_length;
        branch.run = 0;
        branch.run_length = 0;
    }

    /// The branch with one more string sounding, unless the hand cannot.
    fn with(&self, index: usize, branch: &Branch, choice: Choice) -> Option<Branch> {
        if choice.fret == 0 && branch.damped {
            return None;
        }
        let mut next = *branch;
        match branch.bass {
            None => {
                if self.tones.slash.is_some() && !choice.is_slash {
                    return None;
                }
                next.bass = Some(choice);
            }
            Some(_) if choice.bit == 0 => return None,
            Some(_) => {
                next.inner_mutes += branch.trailing;
                if branch.trailing > 0 {
                    self.end_run(&mut next);
                }
                next.trailing = 0;
                if next.inner_mutes > usize::from(self.hand.inner_mutes()) {
                    return None;
                }
            }
        }
        if branch.struck == 1 {
            next.lowest_step = self.step_from_bass(index, branch, choice);
        }
        next.high = next.high.max(choice.fret);
        next.rings |= choice.fret == 0;
        next.frets[index] = choice.fret;
        next.sounding |= choice.bit;
        next.struck += 1;
        if choice.fret == 0 {
            next.broken |= next.at_low > 0;
            self.end_run(&mut next);
        } else if choice.fret == self.low {
            next.at_low += 1;
            self.end_run(&mut next);
        } else {
            if choice.fret != next.run {
                self.end_run(&mut next);
                next.run = choice.fret;
            }
            next.run_length += 1;
        }
        let flat = self.hand.barre();
        let lowest = match (next.broken || !flat, next.at_low) {
            (true, strings) => strings,
            // The lowest finger is still to come or takes them all.
            (false, _) => usize::from(self.low > 0),
        };
        let run = if flat {
            usize::from(next.run_length > 0)
        } else {
            next.run_length
        };
        next.fingers = lowest + next.fixed + run;
        (next.fingers <= usize::from(self.hand.fingers())).then_some(next)
    }

    /// Semitones between the bass and a choice of another string.
    fn step_from_bass(&self, index: usize, branch: &Branch, choice: Choice) -> u8 {
        let sounding = branch.frets[..index].iter().enumerate();
        let bass = sounding.rev().find(|(_, fret)| **fret != MUTED);
        let key = |index: usize, fret: i8| self.neck.open_key(index) + fret.unsigned_abs();
        bass.map_or(0, |(at, fret)| {
            key(at, *fret).abs_diff(key(index, choice.fret))
        })
    }

    /// Keeps the branch when it is a shape.
    fn finish(&self, branch: &Branch, found: &mut Easiest) {
        if branch.struck < self.fewest
            || (self.low > 0 && branch.at_low == 0)
            || !self.tones.enough(branch.sounding)
        {
            return;
        }
        let effort_of_sound = self.effort_of_sound(branch);
        if found.excludes(self.least_of_hand(branch) + effort_of_sound) {
            return;
        }
        let Some(grip) = grip(&branch.frets, self.strings, self.hand) else {
            return;
        };
        if self.damps_for_nothing(branch, &grip) {
            return;
        }
        found.put(Found {
            effort: grip.effort + effort_of_sound,
            frets: branch.frets,
            grip,
        });
    }

    /// Whether a string that the index lies over and that would sound a chord tone there is left out.
    fn damps_for_nothing(&self, branch: &Branch, grip: &Grip) -> bool {
        let Some((_, from, _)) = grip.barres[0] else {
            return false;
        };
        (from..self.strings).any(|index| {
            let class = usize::from((self.neck.open_key(index) + self.low.unsigned_abs()) % 12);
            branch.frets[index] == MUTED && self.tones.bits[class] != 0
        })
    }
}

#[cfg(test)]
mod tests;
