//! The forms of the blues as tables: which degree stands in which bar, and what may stand there instead.
//!
//! The forms are common practice. The weights of what may stand in a bar are counted, where the count speaks: twelve-bar
//! choruses of the McGill Billboard annotations 2.0 (CC0; J. A. Burgoyne, J. Wild and I. Fujinaga, An Expert Ground Truth
//! Set for Audio Chord Recognition and Music Analysis, ISMIR 2011), 148 choruses of 35 songs, in per cent and rounded.
//! There are no counts of jazz in it: the weights of the jazz forms are choices of ours after common practice.

use std::sync::LazyLock;

use super::numerals::{Role, read_bars};

/// A form of the blues.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blues {
    /// The plain one: I, IV in bar 5, V in bar 9.
    Plain,
    /// The same with the IV in bar 2 already.
    QuickChange,
    /// On a minor tonic, with bVI7 and V7 in bars 9 and 10.
    Minor,
    /// With #IVdim7 in bar 6, VI7 in bar 8, ii7 and V7 in bars 9 and 10.
    Jazz,
}

impl Blues {
    /// The name people type.
    pub const fn name(self) -> &'static str {
        match self {
            Blues::Plain => "plain",
            Blues::QuickChange => "quick-change",
            Blues::Minor => "minor",
            Blues::Jazz => "jazz",
        }
    }

    /// The lengths in bars that it has, rising.
    pub fn lengths(self) -> Vec<u32> {
        let own = SKELETONS.iter().filter(|s| s.blues == self);
        own.map(|s| s.bars).collect()
    }
}

/// What may stand in some bars: the weight, and the bars as numerals. An upper-case numeral is a chord with a major
/// third, a lower-case one has a minor third; one with a figure is that chord and no other.
pub(super) type Ways = &'static [(u64, &'static str)];

/// A form as a table: its parts in order, each with the ways it can be played.
#[derive(Debug)]
pub(super) struct Skeleton {
    pub(super) blues: Blues,
    pub(super) bars: u32,
    /// How likely it is, against the others of its length.
    pub(super) weight: u64,
    pub(super) parts: &'static [Ways],
}

/// What may stand in some bars, as it is read.
pub(super) type WaysRead = Vec<(u64, Vec<Vec<Role>>)>;

/// The parts of every form, in the order of [`SKELETONS`]: read when first needed, and once.
static PARTS: LazyLock<Vec<Vec<WaysRead>>> = LazyLock::new(|| {
    let ways = |ways: &Ways| ways.iter().map(|(weight, text)| (*weight, read_bars(text)));
    let parts = |form: &Skeleton| form.parts.iter().map(|own| ways(own).collect()).collect();
    SKELETONS.iter().map(parts).collect()
});

impl Skeleton {
    /// Its parts in order, as they are read.
    pub(super) fn parts_read(&self) -> &'static [WaysRead] {
        let same = |form: &Skeleton| (form.blues, form.bars) == (self.blues, self.bars);
        let at = SKELETONS.iter().position(same);
        at.and_then(|at| PARTS.get(at)).map_or(&[], Vec::as_slice)
    }
}

/// Bars 5 and 6: IV stays in 95 of 100 choruses.
const FOUR: Ways = &[(96, "IV | IV"), (4, "IV | I")];

/// Bars 7 and 8: I stays in 92 of 100 choruses.
const BACK: Ways = &[(93, "I | I"), (4, "I | I IV"), (2, "I | V")];

/// Bars 9 and 10: V falls to IV in 62 of 100 choruses, and stays in 20 (a second corpus has 33).
const FIVE: Ways = &[(62, "V | IV"), (32, "V | V"), (6, "V | I")];

/// The last two bars: I stays in 74 of 100 choruses (a second corpus has 81); one in six ends on V, which turns round to
/// the beginning.
const TURN: Ways = &[
    (77, "I | I"),
    (9, "I | I V"),
    (5, "I | V"),
    (3, "I IV | I V"),
    (3, "I IV | I"),
    (3, "I | I IV"),
];

/// The same on a minor tonic, where V turns round as often as not (common practice).
const MINOR_TURN: Ways = &[
    (50, "i | i"),
    (30, "i | V"),
    (12, "i | i V"),
    (8, "i iv | i V"),
];

/// The same in jazz: ii and V nearly always turn round.
const JAZZ_TURN: Ways = &[
    (40, "I VI7 | ii7 V"),
    (25, "I | ii7 V"),
    (20, "I | V"),
    (15, "I | I V"),
];

const MINOR_FOUR: Ways = &[(96, "iv | iv"), (4, "iv | i")];

/// Bars 9 and 10 on a minor tonic. bVI7 falls to V7; at times V7 falls to iv (common practice).
const FLAT_SIX: Ways = &[(80, "bVI7 | V"), (20, "V | iv")];

/// Every form, by name and by length. Quick change: 5 to 7 of 100 choruses; a minor tonic: 12 of 100, where the set is
/// minor.
pub(super) const SKELETONS: [Skeleton; 10] = [
    Skeleton {
        blues: Blues::Plain,
        bars: 8,
        weight: 74,
        parts: &[
            &[(60, "I | V | IV | IV"), (40, "I | I | IV | IV")],
            &[(70, "I | V"), (30, "I | IV")],
            &[(60, "I | V"), (40, "I | I")],
        ],
    },
    Skeleton {
        blues: Blues::Plain,
        bars: 12,
        weight: 74,
        parts: &[&[(1, "I | I | I | I")], FOUR, BACK, FIVE, TURN],
    },
    Skeleton {
        blues: Blues::Plain,
        bars: 16,
        weight: 74,
        parts: &[
            &[
                (
                    60,
                    "I | I | I | I | I | I | I | I | IV | IV | I | I | V | IV",
                ),
                (
                    40,
                    "I | I | I | I | IV | IV | I | I | V | IV | V | IV | V | IV",
                ),
            ],
            TURN,
        ],
    },
    Skeleton {
        blues: Blues::QuickChange,
        bars: 12,
        weight: 6,
        parts: &[&[(1, "I | IV | I | I")], FOUR, BACK, FIVE, TURN],
    },
    Skeleton {
        blues: Blues::QuickChange,
        bars: 16,
        weight: 6,
        parts: &[
            &[(1, "I | IV | I | I | I | IV | I | I")],
            FOUR,
            BACK,
            FIVE,
            TURN,
        ],
    },
    Skeleton {
        blues: Blues::Minor,
        bars: 8,
        weight: 12,
        parts: &[
            &[(1, "i | i | iv | iv | i | i")],
            &[(60, "bVI7 | V"), (40, "bVI7 V | i")],
        ],
    },
    Skeleton {
        blues: Blues::Minor,
        bars: 12,
        weight: 12,
        parts: &[
            &[(80, "i | i | i | i"), (20, "i | iv | i | i")],
            MINOR_FOUR,
            &[(1, "i | i")],
            FLAT_SIX,
            MINOR_TURN,
        ],
    },
    Skeleton {
        blues: Blues::Minor,
        bars: 16,
        weight: 12,
        parts: &[
            &[
                (80, "i | i | i | i | i | i | i | i"),
                (20, "i | iv | i | i | i | iv | i | i"),
            ],
            MINOR_FOUR,
            &[(1, "i | i")],
            FLAT_SIX,
            MINOR_TURN,
        ],
    },
    Skeleton {
        blues: Blues::Jazz,
        bars: 8,
        weight: 8,
        parts: &[
            &[(60, "I | I"), (40, "I | V")],
            &[(1, "IV | #IVdim7")],
            &[(50, "I | VI7 | ii7 | V"), (50, "I VI7 | ii7 V | I | V")],
        ],
    },
    Skeleton {
        blues: Blues::Jazz,
        bars: 12,
        weight: 8,
        parts: &[
            &[(80, "I | IV | I | I"), (20, "I | I | I | I")],
            &[(75, "IV | #IVdim7"), (25, "IV | IV")],
            &[(80, "I | VI7"), (20, "I | I VI7")],
            &[(1, "ii7 | V")],
            JAZZ_TURN,
        ],
    },
];

/// How likely a chord with a major third is on the tonic, the fourth, the fifth and elsewhere: as a 7 chord, as a major
/// chord, as another. Counted on bars 1, 5 and 9, in eighths: 72 and 57, 95 and 40, 103 and 29; the last column is ours.
const MAJOR_THIRD: [(u8, [u64; 3]); 4] = [
    (0, [9, 7, 4]),
    (5, [12, 5, 4]),
    (7, [13, 4, 4]),
    (8, [4, 1, 1]),
];

/// The same with a minor third: as an m7 chord, as a minor chord, as another. Counted over minor songs: the tonic is minor
/// 4510 times and m7 2566 times, the fourth 541 and 552 times.
const MINOR_THIRD: [(u8, [u64; 3]); 2] = [(0, [5, 9, 2]), (5, [5, 5, 2])];

/// The weight of a chord in a blues by its root above the tonic, its third and its suffix.
pub(super) fn quality_weight(up: u8, minor: bool, suffix: &str) -> u64 {
    let rows: &[(u8, [u64; 3])] = if minor { &MINOR_THIRD } else { &MAJOR_THIRD };
    let own = rows.iter().find(|(root, _)| *root == up);
    let [seventh, triad, other] = own.map_or([1, 1, 1], |(_, row)| *row);
    match suffix {
        "7" | "m7" => seventh,
        "" | "m" => triad,
        _ => other,
    }
}

/// The tables as rows: of which form, which bars, the weight, the reason.
pub(super) fn rows() -> Vec<(&'static str, String, u64, &'static str)> {
    let mut rows = Vec::new();
    for form in &SKELETONS {
        let (name, bars) = (form.blues.name(), form.bars);
        let reason = "quick changes and minor tonics as counted, jazz by choice";
        let row = format!("{name}, {bars} bars");
        rows.push(("form of the blues", row, form.weight, reason));
        for (part, ways) in (1..).zip(form.parts) {
            for (weight, text) in *ways {
                let row = format!("{name}, {bars} bars, part {part}: {text}");
                let counted = bars == 12 && form.blues != Blues::Jazz;
                let reason = match counted {
                    true => "counted in twelve-bar choruses",
                    false => "common practice",
                };
                rows.push(("bars of the blues", row, *weight, reason));
            }
        }
    }
    let thirds = [("major", &MAJOR_THIRD[..]), ("minor", &MINOR_THIRD[..])];
    for (third, table) in thirds {
        for (up, weights) in table {
            let kinds = ["with a seventh", "a triad", "another"];
            for (kind, weight) in kinds.iter().zip(weights) {
                let row = format!("{third}, {up} semitones up, {kind}");
                rows.push(("chord of the blues", row, *weight, "counted in choruses"));
            }
        }
    }
    rows
}

/// The chords that the blues rule admits inside a jazz form alone, by root in semitones above the tonic and by suffix.
pub(super) const JAZZ_CHORDS: [(u8, &str); 3] = [(6, "dim7"), (9, "7"), (2, "m7")];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::generate::numerals::Kind;
    use crate::generate::vocabulary;

    #[test]
    fn every_numeral_of_a_form_is_read_and_every_way_fills_its_part() {
        for skeleton in &SKELETONS {
            let mut bars = 0;
            for ways in skeleton.parts {
                let lengths: Vec<usize> = ways.iter().map(|w| read_bars(w.1).len()).collect();
                assert!(lengths.iter().all(|l| *l == lengths[0]), "{ways:?}");
                bars += lengths[0];
                for (weight, text) in *ways {
                    assert!(*weight > 0);
                    let words = text.split_whitespace().filter(|w| *w != "|").count();
                    let read = read_bars(text);
                    assert_eq!(read.iter().flatten().count(), words, "{text}");
                    for role in read.iter().flatten() {
                        if let Kind::Exactly(suffix) = role.kind {
                            assert!(vocabulary().iter().any(|q| q.suffix == suffix), "{text}");
                        }
                    }
                }
                // Where a bar cannot be shared by two chords, another way is left.
                let whole = |w: &(u64, &'static str)| read_bars(w.1).iter().all(|b| b.len() == 1);
                assert!(ways.iter().any(whole), "{ways:?}");
            }
            assert_eq!(bars, skeleton.bars as usize, "{skeleton:?}");
        }
    }

    #[test]
    fn every_form_has_its_own_parts_read_once() {
        for form in &SKELETONS {
            let read = form.parts_read();
            assert!(std::ptr::eq(read, form.parts_read()));
            assert_eq!(read.len(), form.parts.len(), "{form:?}");
            for (own, ways) in read.iter().zip(form.parts) {
                let again: WaysRead = ways.iter().map(|(w, text)| (*w, read_bars(text))).collect();
                assert_eq!(*own, again, "{form:?}");
            }
        }
    }
}
