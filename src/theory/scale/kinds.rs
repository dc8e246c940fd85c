//! The table of named scales.

use crate::theory::degree::Degree;

/// A named set of degrees.
#[derive(Debug, PartialEq, Eq, Hash)]
pub struct ScaleKind {
    name: &'static str,
    aliases: &'static [&'static str],
    degrees: &'static [Degree],
    home: &'static str,
    blues: bool,
}

impl ScaleKind {
    /// All named scales, seven-note scales first; without the two that serve as homes of the blues sets alone.
    #[must_use]
    pub fn all() -> &'static [ScaleKind] {
        &KINDS
    }

    /// The name, in lower case, as players say it.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// Other names that are read, in lower case with spaces between words.
    #[must_use]
    pub const fn aliases(&self) -> &'static [&'static str] {
        self.aliases
    }

    /// The degrees, rising from the root.
    #[must_use]
    pub const fn degrees(&self) -> &'static [Degree] {
        self.degrees
    }

    /// The name of the scale in which this set is heard unless another is asked for; its own name when it has seven
    /// notes or more.
    #[must_use]
    pub const fn home(&self) -> &'static str {
        self.home
    }

    /// Whether the set has five notes.
    #[must_use]
    pub const fn is_five_note(&self) -> bool {
        self.degrees.len() == 5
    }

    /// Whether the blues convention is at home over it: minor and major pentatonic and the two blues hexatonics.
    #[must_use]
    pub const fn is_blues(&self) -> bool {
        self.blues
    }

    /// Whether its only third is minor.
    #[must_use]
    pub fn is_minor(&self) -> bool {
        self.degrees.contains(&flat(3)) && !self.degrees.contains(&d(3))
    }
}

const fn d(number: u8) -> Degree {
    Degree::at(number, 0)
}

const fn flat(number: u8) -> Degree {
    Degree::at(number, -1)
}

const fn sharp(number: u8) -> Degree {
    Degree::at(number, 1)
}

const fn kind(
    name: &'static str,
    aliases: &'static [&'static str],
    degrees: &'static [Degree],
    home: &'static str,
) -> ScaleKind {
    ScaleKind {
        name,
        aliases,
        degrees,
        home,
        blues: false,
    }
}

const fn blues(
    name: &'static str,
    aliases: &'static [&'static str],
    degrees: &'static [Degree],
    home: &'static str,
) -> ScaleKind {
    ScaleKind {
        name,
        aliases,
        degrees,
        home,
        blues: true,
    }
}

/// All named scales. Seven-note scales: common practice. The rotations of the pentatonic (set class 5-35), minor-six and
/// dominant (5-34), in (5-20), kumoi and in-sen (5-29) and the blues hexatonics (6-47): common practice. Hirajoshi is
/// the form 1 2 b3 5 b6 of the theory books (Kostka and Payne; the koto tuning of Helmholtz and Ellis), of three that
/// are published; another of these is iwato. Homes are ours: the mode that holds the set and is played most over it;
/// the blues sets keep their blue note beside the notes of the mode.
static KINDS: [ScaleKind; 23] = [
    kind(
        "major",
        &["ionian", "maj"],
        &[d(1), d(2), d(3), d(4), d(5), d(6), d(7)],
        "major",
    ),
    kind(
        "minor",
        &["aeolian", "natural minor", "min"],
        &[d(1), d(2), flat(3), d(4), d(5), flat(6), flat(7)],
        "minor",
    ),
    kind(
        "dorian",
        &[],
        &[d(1), d(2), flat(3), d(4), d(5), d(6), flat(7)],
        "dorian",
    ),
    kind(
        "phrygian",
        &[],
        &[d(1), flat(2), flat(3), d(4), d(5), flat(6), flat(7)],
        "phrygian",
    ),
    kind(
        "lydian",
        &[],
        &[d(1), d(2), d(3), sharp(4), d(5), d(6), d(7)],
        "lydian",
    ),
    kind(
        "mixolydian",
        &[],
        &[d(1), d(2), d(3), d(4), d(5), d(6), flat(7)],
        "mixolydian",
    ),
    kind(
        "locrian",
        &[],
        &[d(1), flat(2), flat(3), d(4), flat(5), flat(6), flat(7)],
        "locrian",
    ),
    kind(
        "harmonic minor",
        &[],
        &[d(1), d(2), flat(3), d(4), d(5), flat(6), d(7)],
        "harmonic minor",
    ),
    kind(
        "melodic minor",
        &["jazz minor"],
        &[d(1), d(2), flat(3), d(4), d(5), d(6), d(7)],
        "melodic minor",
    ),
    blues(
        "minor pentatonic",
        &[
            "pentatonic minor",
            "min pentatonic",
            "minor pent",
            "minor five note",
        ],
        &[d(1), flat(3), d(4), d(5), flat(7)],
        "minor",
    ),
    blues(
        "major pentatonic",
        &[
            "pentatonic major",
            "maj pentatonic",
            "major pent",
            "major five note",
        ],
        &[d(1), d(2), d(3), d(5), d(6)],
        "major",
    ),
    kind(
        "suspended pentatonic",
        &["egyptian"],
        &[d(1), d(2), d(4), d(5), flat(7)],
        "mixolydian",
    ),
    kind(
        "malkauns",
        &[
            "malkos",
            "malkos raga",
            "man gong",
            "third pentatonic rotation",
        ],
        &[d(1), flat(3), d(4), flat(6), flat(7)],
        "minor",
    ),
    kind(
        "ritusen",
        &[
            "ritsusen",
            "scottish pentatonic",
            "fourth pentatonic rotation",
        ],
        &[d(1), d(2), d(4), d(5), d(6)],
        "major",
    ),
    kind(
        "minor-six pentatonic",
        &["minor six", "minor 6 pentatonic", "minor 6"],
        &[d(1), flat(3), d(4), d(5), d(6)],
        "dorian",
    ),
    kind(
        "dominant pentatonic",
        &["dominant"],
        &[d(1), d(2), d(3), d(5), flat(7)],
        "mixolydian",
    ),
    kind(
        "hirajoshi",
        &["hira joshi"],
        &[d(1), d(2), flat(3), d(5), flat(6)],
        "minor",
    ),
    kind(
        "in",
        &["in kumoijoshi", "kumoijoshi", "kumoi joshi", "miyako bushi"],
        &[d(1), flat(2), d(4), d(5), flat(6)],
        "phrygian",
    ),
    kind("kumoi", &[], &[d(1), d(2), flat(3), d(5), d(6)], "dorian"),
    kind(
        "in-sen",
        &["insen"],
        &[d(1), flat(2), d(4), d(5), flat(7)],
        "phrygian",
    ),
    kind(
        "iwato",
        &[],
        &[d(1), flat(2), d(4), flat(5), flat(7)],
        "locrian",
    ),
    blues(
        "minor blues",
        &["blues", "blues minor"],
        &[d(1), flat(3), d(4), flat(5), d(5), flat(7)],
        "aeolian with b5",
    ),
    blues(
        "major blues",
        &["blues major"],
        &[d(1), d(2), flat(3), d(3), d(5), d(6)],
        "mixolydian with b3",
    ),
];

/// Homes that are no set to practise by themselves: a mode and the blue note beside it.
static HOMES: [ScaleKind; 2] = [
    kind(
        "aeolian with b5",
        &["minor with b5"],
        &[d(1), d(2), flat(3), d(4), flat(5), d(5), flat(6), flat(7)],
        "aeolian with b5",
    ),
    kind(
        "mixolydian with b3",
        &[],
        &[d(1), d(2), flat(3), d(3), d(4), d(5), d(6), flat(7)],
        "mixolydian with b3",
    ),
];

/// Every kind that can be read.
pub(super) fn readable() -> impl Iterator<Item = &'static ScaleKind> {
    KINDS.iter().chain(HOMES.iter())
}

/// The kind of this name or alias, which is in lower case and has single spaces between words.
pub(super) fn named(name: &str) -> Option<&'static ScaleKind> {
    readable().find(|kind| spaced(kind.name, name) || kind.aliases.contains(&name))
}

/// Whether a name of the table is this one, hyphens counting as spaces.
fn spaced(of_table: &str, name: &str) -> bool {
    of_table.len() == name.len()
        && of_table
            .bytes()
            .zip(name.bytes())
            .all(|(held, asked)| held == asked || held == b'-' && asked == b' ')
}
