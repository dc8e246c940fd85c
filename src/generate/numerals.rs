//! Bars written as numerals, as the tables of forms and loops have them.

use std::fmt;

use super::vocabulary::{Quality, vocabulary};
use crate::theory::{Chord, Key, Mode, PitchName, numeral};

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

impl Role {
    /// A numeral of a table; `None` where it is none, or a chord that the vocabulary does not have.
    pub(super) fn read(text: &str) -> Option<Role> {
        let in_c = Key::new(PitchName::read("C").ok()?, Mode::Major).ok()?;
        let harmony = numeral::read_roman(text).ok()?.resolve(&in_c).ok()?;
        let chord = harmony.chord()?;
        let made = |quality: &&Quality| {
            let made = Chord::new(chord.root(), quality.all_degrees(), None);
            made.is_ok_and(|made| made == *chord)
        };
        let kind = match vocabulary().iter().find(made)?.suffix {
            "" => Kind::Major,
            "m" => Kind::Minor,
            suffix => Kind::Exactly(suffix),
        };
        let up = chord.root().pitch_class().value();
        Some(Role { up, kind })
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
pub(super) fn read_bars(text: &str) -> Vec<Vec<Role>> {
    let bar = |bar: &str| bar.split_whitespace().filter_map(Role::read).collect();
    text.split('|').map(bar).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

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
}
