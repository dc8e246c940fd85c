//! The named kinds of chord.

use std::fmt;

use crate::theory::degree::Degree;

/// The kind of a chord, by the names of MusicXML 4.0 (`kind` enumeration).
///
/// Of its 33 values the 25 that have members are here, and `Other`. Left out are the five analysis names without
/// members in the schema (Neapolitan, Italian, French, German, Tristan), pedal, and none, which is
/// [`Harmony::NoChord`](super::Harmony::NoChord).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "as_str and members describe each kind")]
pub enum ChordKind {
    Major,
    Minor,
    Augmented,
    Diminished,
    Dominant,
    MajorSeventh,
    MinorSeventh,
    DiminishedSeventh,
    AugmentedSeventh,
    HalfDiminished,
    MajorMinor,
    MajorSixth,
    MinorSixth,
    DominantNinth,
    MajorNinth,
    MinorNinth,
    DominantEleventh,
    MajorEleventh,
    MinorEleventh,
    DominantThirteenth,
    MajorThirteenth,
    MinorThirteenth,
    SuspendedSecond,
    SuspendedFourth,
    Power,
    /// A set of degrees that is close to no named kind.
    Other,
}

/// A kind, its MusicXML name, its suffix in a printed symbol and its members.
type Row = (ChordKind, &'static str, &'static str, &'static [Degree]);

const fn d(number: u8) -> Degree {
    Degree::at(number, 0)
}

const fn flat(number: u8) -> Degree {
    Degree::at(number, -1)
}

/// Names and members as MusicXML 4.0 words them; the suffixes are ours, from common practice.
const TABLE: [Row; 25] = [
    (ChordKind::Major, "major", "", &[d(1), d(3), d(5)]),
    (ChordKind::Minor, "minor", "m", &[d(1), flat(3), d(5)]),
    (
        ChordKind::Augmented,
        "augmented",
        "aug",
        &[d(1), d(3), Degree::at(5, 1)],
    ),
    (
        ChordKind::Diminished,
        "diminished",
        "dim",
        &[d(1), flat(3), flat(5)],
    ),
    (
        ChordKind::Dominant,
        "dominant",
        "7",
        &[d(1), d(3), d(5), flat(7)],
    ),
    (
        ChordKind::MajorSeventh,
        "major-seventh",
        "maj7",
        &[d(1), d(3), d(5), d(7)],
    ),
    (
        ChordKind::MinorSeventh,
        "minor-seventh",
        "m7",
        &[d(1), flat(3), d(5), flat(7)],
    ),
    (
        ChordKind::DiminishedSeventh,
        "diminished-seventh",
        "dim7",
        &[d(1), flat(3), flat(5), Degree::at(7, -2)],
    ),
    (
        ChordKind::AugmentedSeventh,
        "augmented-seventh",
        "7#5",
        &[d(1), d(3), Degree::at(5, 1), flat(7)],
    ),
    (
        ChordKind::HalfDiminished,
        "half-diminished",
        "m7b5",
        &[d(1), flat(3), flat(5), flat(7)],
    ),
    (
        ChordKind::MajorMinor,
        "major-minor",
        "mMaj7",
        &[d(1), flat(3), d(5), d(7)],
    ),
    (
        ChordKind::MajorSixth,
        "major-sixth",
        "6",
        &[d(1), d(3), d(5), d(6)],
    ),
    (
        ChordKind::MinorSixth,
        "minor-sixth",
        "m6",
        &[d(1), flat(3), d(5), d(6)],
    ),
    (
        ChordKind::DominantNinth,
        "dominant-ninth",
        "9",
        &[d(1), d(3), d(5), flat(7), d(9)],
    ),
    (
        ChordKind::MajorNinth,
        "major-ninth",
        "maj9",
        &[d(1), d(3), d(5), d(7), d(9)],
    ),
    (
        ChordKind::MinorNinth,
        "minor-ninth",
        "m9",
        &[d(1), flat(3), d(5), flat(7), d(9)],
    ),
    (
        ChordKind::DominantEleventh,
        "dominant-11th",
        "11",
        &[d(1), d(3), d(5), flat(7), d(9), d(11)],
    ),
    (
        ChordKind::MajorEleventh,
        "major-11th",
        "maj11",
        &[d(1), d(3), d(5), d(7), d(9), d(11)],
    ),
    (
        ChordKind::MinorEleventh,
        "minor-11th",
        "m11",
        &[d(1), flat(3), d(5), flat(7), d(9), d(11)],
    ),
    (
        ChordKind::DominantThirteenth,
        "dominant-13th",
        "13",
        &[d(1), d(3), d(5), flat(7), d(9), d(11), d(13)],
    ),
    (
        ChordKind::MajorThirteenth,
        "major-13th",
        "maj13",
        &[d(1), d(3), d(5), d(7), d(9), d(11), d(13)],
    ),
    (
        ChordKind::MinorThirteenth,
        "minor-13th",
        "m13",
        &[d(1), flat(3), d(5), flat(7), d(9), d(11), d(13)],
    ),
    (
        ChordKind::SuspendedSecond,
        "suspended-second",
        "sus2",
        &[d(1), d(2), d(5)],
    ),
    (
        ChordKind::SuspendedFourth,
        "suspended-fourth",
        "sus4",
        &[d(1), d(4), d(5)],
    ),
    (ChordKind::Power, "power", "5", &[d(1), d(5)]),
];

impl ChordKind {
    /// The 25 kinds that have members, in the order of the MusicXML schema.
    pub fn all() -> impl Iterator<Item = ChordKind> {
        TABLE.iter().map(|row| row.0)
    }

    fn row(self) -> Option<&'static Row> {
        TABLE.iter().find(|row| row.0 == self)
    }

    /// The MusicXML 4.0 name, such as `minor-seventh`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        self.row().map_or("other", |row| row.1)
    }

    /// The suffix printed after the root, such as `m7`; empty for a major chord and for `Other`.
    ///
    /// The suffixes 11, maj11, 13, maj13 and m13 mean fewer notes to players than [`members`](Self::members) lists;
    /// see [`Chord::kind`](super::Chord::kind).
    #[must_use]
    pub fn suffix(self) -> &'static str {
        self.row().map_or("", |row| row.2)
    }

    /// The members as MusicXML 4.0 words them, in rising order; none for `Other`.
    #[must_use]
    pub fn members(self) -> &'static [Degree] {
        self.row().map_or(&[], |row| row.3)
    }
}

impl fmt::Display for ChordKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
