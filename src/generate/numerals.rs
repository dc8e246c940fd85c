//! Bars written as numerals, as the tables of forms and loops have them.

use std::fmt;

/// What may stand at a numeral.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// A chord with a major third.
    Major,
    /// A chord with a minor third.
    Minor,
    /// The chord of this suffix and no other.
    Exactly(&'static str),
}

/// A numeral: a root above the tonic, and what stands on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Role {
    /// Semitones above the tonic, 0 to 11.
    pub(super) up: u8,
    pub(super) kind: Kind,
}

/// Semitones of the seven degrees of a major scale.
const DEGREES: [(&str, u8); 7] = [
    ("VII", 11),
    ("VI", 9),
    ("IV", 5),
    ("V", 7),
    ("III", 4),
    ("II", 2),
    ("I", 0),
];

impl Role {
    /// A numeral of a table; `None` where it is none.
    pub(super) fn read(text: &'static str) -> Option<Role> {
        let plain = text.trim_start_matches(['b', '#']);
        let moved = match text.len() - plain.len() {
            0 => 0,
            1 if text.starts_with('b') => 11,
            1 => 1,
            _ => return None,
        };
        let length = plain.find(|c| !matches!(c, 'I' | 'V' | 'i' | 'v'));
        let (numeral, suffix) = plain.split_at(length.unwrap_or(plain.len()));
        let upper = numeral.to_ascii_uppercase();
        let (_, degree) = DEGREES.iter().find(|(name, _)| *name == upper)?;
        let kind = match (suffix, numeral == upper) {
            ("", true) => Kind::Major,
            ("", false) => Kind::Minor,
            ("7", false) => Kind::Exactly("m7"),
            (suffix, _) => Kind::Exactly(suffix),
        };
        Some(Role {
            up: (degree + moved) % 12,
            kind,
        })
    }
}

/// The twelve numerals above a tonic.
const NUMERALS: [&str; 12] = [
    "I", "bII", "II", "bIII", "III", "IV", "#IV", "V", "bVI", "VI", "bVII", "VII",
];

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let numeral = NUMERALS[usize::from(self.up % 12)];
        match self.kind {
            Kind::Major => f.write_str(numeral),
            Kind::Minor => {
                let lower = numeral.replace('I', "i").replace('V', "v");
                f.write_str(&lower)
            }
            Kind::Exactly(suffix) => write!(f, "{numeral}{suffix}"),
        }
    }
}

/// Bars of numerals: a stroke between bars, a space between the chords of one.
pub(super) fn read_bars(text: &'static str) -> Vec<Vec<Role>> {
    let bar = |bar: &'static str| bar.split_whitespace().filter_map(Role::read).collect();
    text.split('|').map(bar).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::generate::blues::SKELETONS;
    use crate::generate::vocabulary;

    #[test]
    fn numerals_are_read() {
        let read = |text| Role::read(text).map(|r| (r.up, r.kind));
        assert_eq!(read("I"), Some((0, Kind::Major)));
        assert_eq!(read("bVII"), Some((10, Kind::Major)));
        assert_eq!(read("iii"), Some((4, Kind::Minor)));
        assert_eq!(read("#IVdim7"), Some((6, Kind::Exactly("dim7"))));
        assert_eq!(read("ii7"), Some((2, Kind::Exactly("m7"))));
        assert_eq!(read("VI7"), Some((9, Kind::Exactly("7"))));
        assert_eq!(read("IIII"), None);
    }

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
}
