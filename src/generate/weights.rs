//! The weights by which chords follow one another: whole numbers in tables, each with its reason.
//!
//! Some are made of counts (`counts.rs`), the others are choices of ours after common practice. `jam --why --json` prints
//! all, with those of the forms of the blues.

use super::counts::{LOOPS, SUFFIXES, Third};
use super::request::Level;

/// Semitones above home from which a last chord leads home: b2, 4, 5, b6, b7 and 7. The fifth, the fourth, the flat
/// seventh and the leading tone are cadences of common practice, the flat second and the flat sixth lean down to the
/// tonic and to its fifth.
pub(super) const LEADS_HOME: [u8; 6] = [1, 5, 7, 8, 10, 11];

/// The weight of a last chord by its root, 0 to 11 semitones above the first, in so many bars; `None` where it may not come
/// last.
pub(super) fn last_weight(third: Third, up: u8, bars: u32) -> Option<u128> {
    let counted = u128::from(third.last(up, bars));
    let times = u128::from(last_times(third, up, bars));
    match up {
        0 => None,
        // A flat second leads home where the home has one, and was hardly counted.
        _ if LEADS_HOME.contains(&up) => Some((counted + 2) * times),
        _ if bars <= LOOP_BARS => (counted > 0).then_some(counted * times),
        _ => None,
    }
}

/// How many times a last chord counts beside the others.
///
/// A choice of ours. The minor loops that were counted are few, and nearly a third of those of four bars end on the flat
/// seventh. Common practice has the fifth lead home more strongly than any other chord, so it comes before the flat seventh
/// there. Phrases end on the flat sixth more rarely than loops of songs do, so it counts for more.
fn last_times(third: Third, up: u8, bars: u32) -> u64 {
    match (third, bars, up) {
        (Third::Minor, ..=2, 8) => 2,
        (Third::Minor, 3..=LOOP_BARS, 7 | 8) => 3,
        (Third::Minor, 3..=LOOP_BARS, 10) => 1,
        (Third::Minor, 3..=LOOP_BARS, _) => 2,
        _ => 1,
    }
}

/// In how many of a hundred progressions the first chord comes last again, where another could lead home: as often as it
/// was counted in loops, less often in longer progressions, where a listener wants to be led.
pub(super) fn first_again(third: Third, bars: u32) -> u64 {
    let counted = third.last_is_first(bars);
    match (third, bars) {
        // Few phrases of four bars can end on their first chord here, so those that can do so more often.
        (Third::Minor, 3..=LOOP_BARS) => counted * 4 / 3,
        (_, ..=LOOP_BARS) => counted,
        _ => counted * 2 / 3,
    }
}

/// The weight of all phrases together in so many bars, against a loop's, which is the number of songs that repeat it.
///
/// Two bars are a loop, and phrases stand for the loops that one song repeats alone: about 200 in major songs, 76 in minor
/// ones. A third of the songs behind the loops over a minor home are major ones, so these 76 weigh half as much again. In a
/// longer progression phrases that vary come before a loop that goes round many times.
pub(super) fn phrases(third: Third, bars: u32) -> u64 {
    match bars {
        0..=2 if third == Third::Major => 200,
        0..=2 => 114,
        3..=LOOP_BARS => 200,
        _ => 800,
    }
}

/// The most bars of a loop, which goes round so soon that it needs no way home.
pub(super) const LOOP_BARS: u32 = 4;

/// Weight of a chord by how plain it is (0 to 3), for each level from plain to bold. There are many colorful chords
/// and few plain ones, so a plain one must weigh more.
pub(super) fn color_weight(level: Level, color: u8) -> u64 {
    let row = match level {
        Level::Plain => [96, 32, 1, 1],
        Level::Mild => [96, 64, 6, 1],
        Level::Rich => [24, 32, 16, 3],
        Level::Bold => [8, 16, 16, 12],
    };
    row[usize::from(color.min(3))]
}

/// Weight of a chord on a root of its own, chosen so that the weight of a second is a whole number.
pub(super) const OWN_ROOT: u64 = 8;

/// A second chord on the same root weighs one in so many: it sounds like a variant of the first.
const SAME_ROOT: u64 = OWN_ROOT * OWN_ROOT;

/// The weight of a chord by its root above the tonic and its suffix: how many songs use the root against those that do
/// not, shared among those of its chords that may be used as they were counted; `counted` is the sum of these. At least 1, so that what was not counted comes up at all.
pub(super) fn degree_weight(third: Third, root: u8, suffix: &str, counted: u64) -> u64 {
    let (songs, all) = third.songs(root);
    let odds = ROOT_SCALE * songs / (all + 1 - songs).max(1);
    let share = match third.quality(root, suffix) {
        Some(own) => odds * own / counted.max(own).max(1),
        None => odds / OTHER_QUALITY,
    };
    share.clamp(1, MOST_DEGREE)
}

/// The weight of a root that as many songs use as do not.
const ROOT_SCALE: u64 = 8;

/// A chord that was not counted weighs one in so many of its root.
const OTHER_QUALITY: u64 = 8;

/// The most that a root and its chord weigh.
const MOST_DEGREE: u64 = 128;

/// A chord with a third weighs four times one without, which is less clear; in a set with few thirds the others still
/// come up.
pub(super) const WITH_THIRD: u64 = 4;

/// Under the blues rule the chords that only the blues admits (I7, IV7, V7 and their kin) count four times.
pub(super) const BLUES_CHORD: u64 = 4;

/// How many different chords, 1 to 6, where nothing is wished for. Fewer than three are drawn only if three are
/// impossible, or if fewer are asked for.
pub(super) const DIFFERENT: [u64; 6] = [0, 0, 5, 8, 6, 2];

/// The same in two bars, where two chords are enough. Loops of two chords mostly are among those that several songs repeat,
/// so in phrases they are rare where a bar is shared.
pub(super) const DIFFERENT_IN_TWO: [u64; 6] = [0, 1, 8, 12, 0, 0];

/// Largest weight of one step. Five bits, so that the sums of sixteen
/// steps over six chords stay within 128 bits.
pub(super) const MOST: u64 = 31;

/// Where a step is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Step {
    /// From one bar to the next.
    Onward,
    /// Within a bar of two chords, or a phrase of two bars: always a change.
    Within,
    /// From the last chord to the first.
    Home,
}

/// How many kinds of step there are.
pub(super) const STEPS: usize = 3;

impl Step {
    pub(super) const ALL: [Step; STEPS] = [Step::Onward, Step::Within, Step::Home];
}

/// A chord, as far as weights are concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Chordal {
    /// Root in semitones above the tonic, 0 to 11.
    pub(super) root: u8,
    /// Pitch classes as bits.
    pub(super) classes: u16,
}

impl Chordal {
    /// Whether one of two chords on one root holds all tones of the other: a color of it, and no change.
    pub(super) fn is_color_of(self, other: Chordal) -> bool {
        let both = self.classes & other.classes;
        self.root == other.root && (both == self.classes || both == other.classes)
    }
}

/// The weight of a step that follows every time.
const ALWAYS: u64 = 40;

/// The weight of a step from one root to another, in semitones above the tonic: how often the second followed the first.
pub(super) fn step(third: Third, from: u8, to: u8) -> u64 {
    let all: u64 = (0..12).map(|up| third.changes(from, up)).sum();
    let weight = ALWAYS * third.changes(from, to) / all.max(1);
    weight.clamp(1, MOST)
}

/// The weights of all steps, by the two roots.
pub(super) fn all_steps(third: Third) -> [[u64; 12]; 12] {
    let mut steps = [[0; 12]; 12];
    for (from, row) in (0..).zip(&mut steps) {
        for (to, weight) in (0..).zip(row) {
            *weight = step(third, from, to);
        }
    }
    steps
}

/// The weight of staying on a chord for another place. Every fourth chord is held for a second bar (counted). The last
/// chord carries over into the first only where it is drawn to. With only one chord there is no other step.
pub(super) const STAY: u64 = 12;
/// The same in a blues without a form.
pub(super) const STAY_IN_BLUES: u64 = 8;

/// The weight of staying.
pub(super) fn stay(kind: Step, chords: usize, blues: bool) -> u64 {
    match kind {
        _ if chords == 1 => 1,
        Step::Home => 1,
        Step::Within => 0,
        _ if blues => STAY_IN_BLUES,
        _ => STAY,
    }
}

/// A row of a table: which table, which row, the weight, the reason.
type Row = (&'static str, String, u64, &'static str);

/// The tables as rows: which table, which row, the weight, the reason.
pub fn weight_tables() -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (name, third) in [("major", Third::Major), ("minor", Third::Minor)] {
        for from in 0..12 {
            for to in (0..12).filter(|to| *to != from) {
                let row = format!("{name}, from {from} to {to} semitones above the tonic");
                let weight = step(third, from, to);
                rows.push(("root change", row, weight, "counted in songs"));
            }
        }
        for up in 0..12 {
            for suffix in SUFFIXES {
                let row = format!("{name}, {up} semitones above the tonic, suffix '{suffix}'");
                let weight = degree_weight(third, up, suffix, third.counted(up));
                rows.push(("chord", row, weight, "songs that use the root; its chords"));
            }
            for bars in [2, LOOP_BARS, 2 * LOOP_BARS] {
                if let Some(weight) = last_weight(third, up, bars) {
                    let row = format!("{name}, {bars} bars, {up} semitones above the tonic");
                    let weight = u64::try_from(weight).unwrap_or(0);
                    rows.push(("last chord", row, weight, "counted in loops"));
                }
            }
        }
    }
    for (name, level) in Level::NAMES {
        for color in 0..4 {
            let reason = "plain chords first, colors with the level";
            let row = format!("level {name}, color {color}");
            rows.push(("color", row, color_weight(level, color), reason));
        }
    }
    rows.extend(single_weights());
    let songs = "songs that repeat it";
    let loops = LOOPS.iter();
    rows.extend(loops.map(|(weight, text)| ("loop", (*text).to_owned(), *weight, songs)));
    rows.extend(super::blues::rows());
    for (number, weight) in (1..).zip(DIFFERENT) {
        let reason = "three or four carry most songs";
        rows.push(("how many different", format!("{number}"), weight, reason));
    }
    rows
}

/// The weights that are single numbers.
fn single_weights() -> [Row; 5] {
    let row = |table, row: &str, weight, reason| (table, row.to_owned(), weight, reason);
    let second = "a second chord on the same root says little new";
    let own = "under the blues rule its own chords come first";
    [
        row("staying", "on a chord", STAY, "a listener expects a change"),
        row(
            "staying",
            "on a chord in a blues",
            STAY_IN_BLUES,
            "a blues dwells",
        ),
        row(
            "with a third",
            "times",
            WITH_THIRD,
            "a third tells major from minor",
        ),
        row("blues chord", "times", BLUES_CHORD, own),
        row("same root", "one in", SAME_ROOT, second),
    ]
}
