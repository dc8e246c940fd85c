//! The weights by which chords follow one another: whole numbers in tables, each with its reason.
//!
//! All here are choices of ours after common practice. Printed by `jam --why --json`, with those of the forms of the blues.

use super::request::Level;

/// How likely a root is to move up by so many semitones (0 to 11).
pub(super) const ROOT_MOTION: [(u64, &str); 12] = [
    (2, "the same root in another colour"),
    (2, "up a semitone: a slide"),
    (4, "up a step"),
    (3, "up a minor third"),
    (3, "up a major third"),
    (6, "up a fourth: the strongest motion"),
    (1, "a tritone: rare"),
    (5, "up a fifth: the fourth backwards"),
    (3, "down a major third"),
    (4, "down a minor third: to the relative"),
    (4, "down a step: the loops of rock"),
    (2, "down a semitone"),
];

/// By tones that stay: none, one or two, three or more.
pub(super) const COMMON_TONES: [(u64, &str); 3] = [
    (1, "nothing stays"),
    (2, "one or two tones stay: smooth"),
    (1, "three stay: hardly a change"),
];

/// A chord on the tonic that falls on a strong bar counts double: a listener expects home there.
pub(super) const TONIC_ON_STRONG: (u64, &str) = (2, "home on a strong bar");

/// The last chord before the beginning returns, by its root above the tonic: how strongly it leads home.
pub(super) const HOMEWARD: [(u64, &str); 12] = [
    (1, "already home"),
    (2, "the flat second leans down"),
    (3, "the second leads by way of the fifth"),
    (2, "the flat third: to the relative and back"),
    (2, "the third: by the relative of the fifth"),
    (5, "the fourth: a plain way home"),
    (1, "the tritone"),
    (8, "the fifth: the strongest way home"),
    (2, "the flat sixth"),
    (1, "the sixth"),
    (6, "the flat seventh: the way home of modal loops"),
    (4, "the leading tone"),
];

/// Semitones above home from which a last chord leads home: b2, 4, 5, b6, b7 and 7. The fifth, the fourth, the flat
/// seventh and the leading tone are cadences of common practice, the flat second and the flat sixth lean down to the
/// tonic and to its fifth.
pub(super) const LEADS_HOME: [u8; 6] = [1, 5, 7, 8, 10, 11];

/// The weight of a last chord by its root, 0 to 11 semitones above the first; `None` where it does not lead there.
pub(super) fn leads_home(up: u8) -> Option<u128> {
    let (weight, _) = HOMEWARD.get(usize::from(up))?;
    LEADS_HOME.contains(&up).then_some(u128::from(*weight))
}

/// Weight of a chord by how plain it is (0 to 3), for each level from plain to bold. There are many colourful chords
/// and few plain ones, so a plain one must weigh more.
pub(super) fn colour_weight(level: Level, colour: u8) -> u64 {
    let row = match level {
        Level::Plain => [96, 32, 1, 1],
        Level::Mild => [96, 64, 6, 1],
        Level::Rich => [24, 32, 16, 3],
        Level::Bold => [8, 16, 16, 12],
    };
    row[usize::from(colour.min(3))]
}

/// Weight of a chord on a root of its own, chosen so that the weight of a second is a whole number.
pub(super) const OWN_ROOT: u64 = 8;

/// A second chord on the same root weighs one in so many: it sounds like a variant of the first.
const SAME_ROOT: u64 = OWN_ROOT * OWN_ROOT;

/// A chord on a root of the home scale counts four times.
pub(super) const ROOT_AT_HOME: u64 = 4;

/// A chord with a third weighs four times one without, which is less clear; in a set with few thirds the others still
/// come up.
pub(super) const WITH_THIRD: u64 = 4;

/// Under the blues rule the chords that only the blues admits (I7, IV7, V7 and their kin) count twelve times.
pub(super) const BLUES_CHORD: u64 = 12;

/// How many different chords, 1 to 6, where nothing is wished for. Fewer than three are drawn only if three are
/// impossible, or if fewer are asked for.
pub(super) const DIFFERENT: [u64; 6] = [0, 0, 6, 8, 4, 1];

/// Largest weight of one step: 6 x 2 x 2 = 24 at most by the tables above. Five bits, so that the sums of sixteen
/// steps over six chords stay within 128 bits.
pub(super) const MOST: u64 = 31;

/// Why one step is as likely as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Step {
    /// Within a phrase.
    Inner,
    /// To a strong bar within a phrase.
    Strong,
    /// From the end of a phrase to the beginning of the next.
    Seam,
    /// From the last bar to the first.
    Home,
}

impl Step {
    pub(super) const ALL: [Step; 4] = [Step::Inner, Step::Strong, Step::Seam, Step::Home];
}

/// A chord, as far as weights are concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Chordal {
    /// Root in semitones above the tonic, 0 to 11.
    pub(super) root: u8,
    /// Pitch classes as bits.
    pub(super) classes: u16,
}

/// The weight of a step between two different chords.
pub(super) fn step(kind: Step, from: Chordal, to: Chordal) -> u64 {
    let motion = ROOT_MOTION[usize::from((12 + to.root - from.root) % 12)].0;
    let shared = (from.classes & to.classes).count_ones();
    let common = COMMON_TONES[match shared {
        0 => 0,
        1 | 2 => 1,
        _ => 2,
    }]
    .0;
    let weight = match kind {
        Step::Inner => motion * common,
        Step::Strong | Step::Seam => {
            motion * common * if to.root == 0 { TONIC_ON_STRONG.0 } else { 1 }
        }
        Step::Home => HOMEWARD[usize::from((12 + from.root - to.root) % 12)].0 * common,
    };
    weight.min(MOST)
}

/// The weight of staying on a chord for another place: rare, but common in a blues. The last chord does not carry over
/// into the first. With only one chord there is no other step.
pub(super) const STAY: u64 = 1;
/// The same in a blues.
pub(super) const STAY_IN_BLUES: u64 = 8;

/// The weight of staying.
pub(super) fn stay(kind: Step, chords: usize, blues: bool) -> u64 {
    match kind {
        _ if chords == 1 => 1,
        Step::Home => 0,
        _ if blues => STAY_IN_BLUES,
        _ => STAY,
    }
}

/// A row of a table: which table, which row, the weight, the reason.
type Row = (&'static str, String, u64, &'static str);

/// The tables as rows: which table, which row, the weight, the reason.
pub fn weight_tables() -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (up, (weight, reason)) in ROOT_MOTION.iter().enumerate() {
        let row = format!("{up} semitones up");
        rows.push(("root motion", row, *weight, reason));
    }
    for (tones, (weight, reason)) in ["0", "1 or 2", "3 or more"].iter().zip(COMMON_TONES) {
        rows.push(("common tones", (*tones).to_owned(), weight, reason));
    }
    let (weight, reason) = TONIC_ON_STRONG;
    rows.push(("strong bar", "to the tonic".to_owned(), weight, reason));
    for (up, (weight, reason)) in HOMEWARD.iter().enumerate() {
        let row = format!("from {up} semitones above");
        rows.push(("homeward", row, *weight, reason));
    }
    for (name, level) in Level::NAMES {
        for colour in 0..4 {
            let reason = "plain chords first, colours with the level";
            let row = format!("level {name}, colour {colour}");
            rows.push(("colour", row, colour_weight(level, colour), reason));
        }
    }
    rows.extend(single_weights());
    rows.extend(super::blues::rows());
    for (number, weight) in (1..).zip(DIFFERENT) {
        let reason = "three or four carry most songs";
        rows.push(("how many different", format!("{number}"), weight, reason));
    }
    rows
}

/// The weights that are single numbers.
fn single_weights() -> [Row; 6] {
    let row = |table, row: &str, weight, reason| (table, row.to_owned(), weight, reason);
    let at_home = "a root of the home scale is heard as belonging";
    let second = "a second chord on the same root says little new";
    let own = "under the blues rule its own chords come first";
    [
        row("root at home", "in the home scale", ROOT_AT_HOME, at_home),
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
