//! The chords that progressions are made of.

use crate::theory::Degree;

/// A chord quality of the vocabulary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Quality {
    /// The suffix, as the canonical symbol has it.
    pub suffix: &'static str,
    /// Degrees above the root, the root left out.
    pub degrees: &'static [(u8, i8)],
    /// How plain it is: 0 an open chord of the first lessons, 3 a color.
    pub color: u8,
    /// Whether it has a seventh, a sixth or more.
    pub seventh: bool,
    /// Whether it has a third.
    pub third: bool,
}

const fn q(
    suffix: &'static str,
    degrees: &'static [(u8, i8)],
    color: u8,
    seventh: bool,
    third: bool,
) -> Quality {
    Quality {
        suffix,
        degrees,
        color,
        seventh,
        third,
    }
}

/// Every quality: triads, sevenths and their common extensions, suspended and power chords. How plain each is, is our
/// own choice after common practice: what beginners' books bring first.
static VOCABULARY: [Quality; 41] = [
    q("", &[(3, 0), (5, 0)], 0, false, true),
    q("m", &[(3, -1), (5, 0)], 0, false, true),
    q("7", &[(3, 0), (5, 0), (7, -1)], 1, true, true),
    q("m7", &[(3, -1), (5, 0), (7, -1)], 1, true, true),
    q("maj7", &[(3, 0), (5, 0), (7, 0)], 1, true, true),
    q("sus4", &[(4, 0), (5, 0)], 1, false, false),
    q("sus2", &[(2, 0), (5, 0)], 1, false, false),
    q("5", &[(5, 0)], 1, false, false),
    q("6", &[(3, 0), (5, 0), (6, 0)], 2, true, true),
    q("m6", &[(3, -1), (5, 0), (6, 0)], 2, true, true),
    q("add9", &[(3, 0), (5, 0), (9, 0)], 2, false, true),
    q("m(add9)", &[(3, -1), (5, 0), (9, 0)], 2, false, true),
    q("7sus4", &[(4, 0), (5, 0), (7, -1)], 2, true, false),
    q("7sus2", &[(2, 0), (5, 0), (7, -1)], 3, true, false),
    q("9", &[(3, 0), (5, 0), (7, -1), (9, 0)], 2, true, true),
    q("m9", &[(3, -1), (5, 0), (7, -1), (9, 0)], 2, true, true),
    q("maj9", &[(3, 0), (5, 0), (7, 0), (9, 0)], 2, true, true),
    q("9sus4", &[(4, 0), (5, 0), (7, -1), (9, 0)], 3, true, false),
    q("6/9", &[(3, 0), (5, 0), (6, 0), (9, 0)], 3, true, true),
    q("m6/9", &[(3, -1), (5, 0), (6, 0), (9, 0)], 3, true, true),
    q(
        "m7(add11)",
        &[(3, -1), (5, 0), (7, -1), (11, 0)],
        3,
        true,
        true,
    ),
    q("m(add11)", &[(3, -1), (5, 0), (11, 0)], 3, false, true),
    q("11", &[(5, 0), (7, -1), (9, 0), (11, 0)], 3, true, false),
    q(
        "m11",
        &[(3, -1), (5, 0), (7, -1), (9, 0), (11, 0)],
        3,
        true,
        true,
    ),
    q(
        "13",
        &[(3, 0), (5, 0), (7, -1), (9, 0), (13, 0)],
        3,
        true,
        true,
    ),
    q(
        "m13",
        &[(3, -1), (5, 0), (7, -1), (9, 0), (13, 0)],
        3,
        true,
        true,
    ),
    q(
        "maj13",
        &[(3, 0), (5, 0), (7, 0), (9, 0), (13, 0)],
        3,
        true,
        true,
    ),
    q("maj7#11", &[(3, 0), (5, 0), (7, 0), (11, 1)], 3, true, true),
    q("7#11", &[(3, 0), (5, 0), (7, -1), (11, 1)], 3, true, true),
    q("7b9", &[(3, 0), (5, 0), (7, -1), (9, -1)], 3, true, true),
    q("7#9", &[(3, 0), (5, 0), (7, -1), (9, 1)], 3, true, true),
    q("7#5", &[(3, 0), (5, 1), (7, -1)], 3, true, true),
    q("7b5", &[(3, 0), (5, -1), (7, -1)], 3, true, true),
    q("dim", &[(3, -1), (5, -1)], 2, false, true),
    q("dim7", &[(3, -1), (5, -1), (7, -2)], 3, true, true),
    q("m7b5", &[(3, -1), (5, -1), (7, -1)], 2, true, true),
    q("aug", &[(3, 0), (5, 1)], 3, false, true),
    q("mMaj7", &[(3, -1), (5, 0), (7, 0)], 3, true, true),
    q("maj7#5", &[(3, 0), (5, 1), (7, 0)], 3, true, true),
    q("sus2sus4", &[(2, 0), (4, 0), (5, 0)], 3, false, false),
    q("m7#5", &[(3, -1), (5, 1), (7, -1)], 3, true, true),
];

/// Every quality, the plainest of its kind first.
pub fn vocabulary() -> &'static [Quality] {
    &VOCABULARY
}

impl Quality {
    /// Whether its degrees above the root have just these numbers.
    fn has_just(&self, numbers: &[u8]) -> bool {
        self.degrees.iter().map(|d| d.0).eq(numbers.iter().copied())
    }

    /// A third, a fifth and nothing else above the root: major, minor, diminished or augmented.
    pub fn is_triad(&self) -> bool {
        self.has_just(&[3, 5])
    }

    /// A third, a fifth, a seventh and nothing else above the root. m7#5 is not one: its notes are those of an add9
    /// chord, and are heard as that.
    pub fn is_seventh_chord(&self) -> bool {
        let add9 = self.degrees.starts_with(&[(3, -1), (5, 1)]);
        self.has_just(&[3, 5, 7]) && !add9
    }

    /// A fifth and nothing else above the root.
    pub fn is_power_chord(&self) -> bool {
        self.has_just(&[5])
    }

    /// A plain fourth, fifth and minor seventh: it replaces a seventh chord whose third does not fit.
    pub fn is_suspended_seventh(&self) -> bool {
        self.degrees == [(4, 0), (5, 0), (7, -1)]
    }

    /// Major, minor, 7, m7 or maj7: what beginners' books bring first (common practice).
    pub fn is_plain(&self) -> bool {
        self.color == 0 && self.is_triad() || self.color == 1 && self.is_seventh_chord()
    }

    /// The degrees, the root first.
    pub fn all_degrees(&self) -> Vec<Degree> {
        let rest = self
            .degrees
            .iter()
            .filter_map(|(number, alter)| Degree::new(*number, *alter).ok());
        std::iter::once(Degree::ROOT).chain(rest).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::{Chord, PitchName, symbol};

    #[test]
    fn every_suffix_reads_as_its_degrees_and_prints_as_itself() {
        let root = PitchName::read("C").unwrap();
        for quality in vocabulary() {
            let made = Chord::new(root, quality.all_degrees(), None).unwrap();
            let text = format!("C{}", quality.suffix);
            let read = *symbol::read(&text).unwrap().chord().unwrap();
            assert_eq!(made, read, "{text}");
            assert_eq!(made.to_string(), text);
            assert_eq!(quality.third, made.has_third(), "{text}");
            let seventh = made.seventh().is_some() || quality.degrees.iter().any(|d| d.0 == 6);
            assert_eq!(quality.seventh, seventh, "{text}");
        }
    }

    #[test]
    fn the_kinds_of_chord_are_these() {
        let those = |holds: fn(&Quality) -> bool| -> String {
            let found = vocabulary().iter().filter(|q| holds(q));
            found.map(|q| q.suffix).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(those(Quality::is_triad), " m dim aug");
        assert_eq!(
            those(Quality::is_seventh_chord),
            "7 m7 maj7 7#5 7b5 dim7 m7b5 mMaj7 maj7#5"
        );
        assert_eq!(those(Quality::is_plain), " m 7 m7 maj7");
        assert_eq!(those(Quality::is_power_chord), "5");
        assert_eq!(those(Quality::is_suspended_seventh), "7sus4");
    }

    #[test]
    fn no_quality_stands_twice() {
        for (i, a) in vocabulary().iter().enumerate() {
            assert!(
                vocabulary()[i + 1..]
                    .iter()
                    .all(|b| a.degrees != b.degrees && a.suffix != b.suffix)
            );
        }
    }
}
