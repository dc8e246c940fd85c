//! The search for chord shapes.
//!
//! For each fret from the first to the twelfth the hand is laid there, so that its lowest finger presses that fret, and
//! each string from the lowest up is tried muted, open, and at each fret under the hand that is a chord tone. A branch is
//! left as soon as it needs more fingers than there are, mutes more than it may, or has too few strings left for the
//! tones that must sound. Shapes from the thirteenth fret up are those of the first again, an octave higher, and are
//! not tried.

use super::board::Neck;
use super::hand::{Frets, Grip, HandModel, MUTED, grip};
use super::units::MAX_STRINGS;
use crate::theory::{Chord, Degree};

/// The highest fret at which a hand is laid down: an octave of frets holds every shape once.
const LAST_HAND: i8 = 12;

/// The highest place of the hand at which a string that rings open in the chord must not be muted above the bass: there
/// the open string costs nothing and belongs to the shape.
const OPEN_PLACE: i8 = 4;

/// How strictly the tones of a chord are asked for; each step is tried where the one before finds nothing.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Strictness {
    /// All but a natural fifth, a natural ninth below an eleventh or thirteenth, an eleventh below a thirteenth, and the
    /// root of a chord of five tones or more whose fifth is not there either (common practice).
    Full,
    /// As well, one altered ninth of two and one altered fifth, eleventh or thirteenth of several are enough, and the
    /// root may be missing.
    Altered,
    /// The third or what is in its place, and the seventh or sixth.
    Shell,
}

/// A shape found: what sounds, how it is held, and the effort of both.
#[derive(Clone, Copy)]
pub(super) struct Found {
    pub(super) effort: u16,
    pub(super) frets: Frets,
    pub(super) grip: Grip,
}

impl Found {
    /// Whether this is the other one with strings left out.
    fn is_part_of(&self, other: &Found) -> bool {
        self.frets
            .iter()
            .zip(other.frets)
            .all(|(own, others)| *own == others || *own == MUTED)
    }
}

/// Shapes of a chord, the easiest first, no more than `most`.
pub(super) fn search(chord: &Chord, neck: &Neck, hand: &HandModel, most: usize) -> Vec<Found> {
    let mut found = Vec::new();
    for strictness in [Strictness::Full, Strictness::Altered, Strictness::Shell] {
        let tones = Tones::new(chord, strictness);
        Search::new(&tones, neck, hand).run(&mut found);
        if !found.is_empty() {
            break;
        }
    }
    found.sort_unstable_by_key(|shape| (shape.effort, shape.frets));
    let mut kept: Vec<Found> = Vec::new();
    for shape in found {
        if kept.len() == most {
            break;
        }
        if !kept.iter().any(|better| shape.is_part_of(better)) {
            kept.push(shape);
        }
    }
    kept
}

/// A set of tones, a bit each.
type Bits = u16;

/// The tones of a chord as the search sees them.
struct Tones {
    /// The bit of each pitch class; none for a foreign one.
    bits: [Bits; 12],
    root: Bits,
    fifth: Bits,
    all: Bits,
    /// Tones that must sound.
    needed: Bits,
    /// Groups of which one tone at least must sound.
    groups: [Bits; 2],
    /// Whether the root may be missing only with the fifth.
    root_after_fifth: bool,
    /// The pitch class of the slash bass.
    slash: Option<u8>,
}

impl Tones {
    fn new(chord: &Chord, strictness: Strictness) -> Tones {
        let class = |degree: Degree| {
            let class = chord.root().pitch_class().up(degree.semitones());
            usize::from(class.value())
        };
        let mut tones = Tones {
            bits: [0; 12],
            root: 0,
            fifth: 0,
            all: 0,
            needed: 0,
            groups: [0; 2],
            root_after_fifth: false,
            slash: chord.slash().map(|bass| bass.pitch_class().value()),
        };
        for degree in chord.degrees() {
            let bit = 1 << class(*degree);
            tones.bits[class(*degree)] = bit;
            tones.all |= bit;
        }
        let has = |number: u8| chord.degrees().iter().any(|d| d.number() == number);
        let of = |wanted: &dyn Fn(Degree) -> bool| -> Bits {
            let degrees = chord.degrees().iter();
            degrees
                .filter(|degree| wanted(**degree))
                .fold(0, |bits, degree| bits | 1 << class(*degree))
        };
        tones.root = of(&|d| d == Degree::ROOT);
        tones.fifth = of(&|d| d.number() == 5 && d.alter() == 0);
        let count = tones.all.count_ones();
        let stacked = has(7) && (has(11) || has(13));
        let mut free = 0;
        if count > 3 {
            free |= of(&|d| match (d.number(), d.alter()) {
                (5, 0) => true,
                (9, 0) => stacked,
                (11, 0) => stacked && has(13),
                _ => false,
            });
        }
        if count > 4 {
            free |= tones.root;
            tones.root_after_fifth = strictness == Strictness::Full;
        }
        tones.needed = tones.all & !free;
        if strictness == Strictness::Altered {
            let ninths = of(&|d| d.number() == 9 && d.alter() != 0);
            let others = of(&|d| matches!(d.number(), 5 | 11 | 13) && d.alter() != 0);
            for (group, bits) in tones.groups.iter_mut().zip([ninths, others]) {
                if bits.count_ones() > 1 {
                    tones.needed &= !bits;
                    *group = bits;
                }
            }
        }
        if strictness == Strictness::Shell {
            let third = match has(3) {
                true => of(&|d| d.number() == 3),
                false => of(&|d| matches!(d.number(), 2 | 4)),
            };
            let seventh = match has(7) {
                true => of(&|d| d.number() == 7),
                false => of(&|d| d.number() == 6),
            };
            tones.needed &= third | seventh;
        }
        tones
    }

    /// Whether so many tones are enough.
    fn enough(&self, sounding: Bits) -> bool {
        let missing = |bits: Bits| bits != 0 && sounding & bits == 0;
        sounding & self.needed == self.needed
            && !self.groups.iter().any(|group| missing(*group))
            && !(self.root_after_fifth && missing(self.root) && sounding & self.fifth != 0)
            // Of a chord of three tones or more at least three are heard.
            && sounding.count_ones() >= self.all.count_ones().min(3)
    }
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
    /// Whether strings that ring open in the chord must sound.
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
    fn run(&mut self, found: &mut Vec<Found>) {
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
            };
            self.string(0, &start, found);
        }
    }

    fn choices_of(&self, index: usize, high: i8) -> Choices {
        let mut choices = self.choices[index];
        choices.count = 0;
        choices.opens = false;
        let open = self.neck.open_key(index);
        let pressed = if self.low == 0 {
            1..=0
        } else {
            self.low..=high
        };
        let rings = self.hand.open().then_some(0);
        for fret in rings.into_iter().chain(pressed) {
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
    fn string(&self, index: usize, branch: &Branch, found: &mut Vec<Found>) {
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
            if let Some(next) = self.with(index, branch, *choice) {
                self.string(index + 1, &next, found);
            }
        }
        if branch.bass.is_some() && self.keep_open && choices.opens {
            return;
        }
        let mut next = *branch;
        if next.bass.is_some() {
            next.trailing += 1;
            self.end_run(&mut next);
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
                next.trailing = 0;
                if next.inner_mutes > usize::from(self.hand.inner_mutes()) {
                    return None;
                }
            }
        }
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
            // A mute within the run has ended it already, when it was tried.
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
        (lowest + next.fixed + run <= usize::from(self.hand.fingers())).then_some(next)
    }

    /// Keeps the branch when it is a shape.
    fn finish(&self, branch: &Branch, found: &mut Vec<Found>) {
        if branch.struck < self.fewest
            || (self.low > 0 && branch.at_low == 0)
            || !self.tones.enough(branch.sounding)
        {
            return;
        }
        let Some(grip) = grip(&branch.frets, self.strings, self.hand) else {
            return;
        };
        if self.damps_for_nothing(branch, &grip) {
            return;
        }
        found.push(Found {
            effort: grip.effort + self.effort_of_sound(branch),
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

    /// The effort that lies in what sounds and what does not; the weights are explained with the hand.
    fn effort_of_sound(&self, branch: &Branch) -> u16 {
        let small = |strings: usize| u16::try_from(strings).unwrap_or(0);
        let two_tones = self.tones.all.count_ones() < 3;
        let below = branch.frets[..self.strings]
            .iter()
            .take_while(|fret| **fret == MUTED)
            .count();
        // Root and fifth alone are meant for the low strings.
        let above = if two_tones { 20 } else { 200 };
        let mut effort = 90 * small(below) + above * small(branch.trailing);
        effort += 240 * small(branch.inner_mutes);
        let missing = self.tones.all & !branch.sounding;
        for (bits, each) in [
            (self.tones.fifth, 40),
            (!(self.tones.root | self.tones.fifth), 120),
        ] {
            effort += each * small((missing & bits).count_ones() as usize);
        }
        if missing & self.tones.root != 0 {
            effort += 250;
        }
        match branch.bass {
            Some(bass) if self.tones.slash.is_none() && bass.bit != self.tones.root => {
                effort += if bass.bit == self.tones.fifth {
                    250
                } else {
                    400
                };
            }
            _ => {}
        }
        effort
    }
}
