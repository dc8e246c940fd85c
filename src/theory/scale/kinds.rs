//! The table of named scales.

use crate::theory::degree::Degree;
use crate::theory::mode::Mode;

/// A named set of degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "each name is its own description")]
pub enum ScaleKind {
    Major,
    Minor,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Locrian,
    HarmonicMinor,
    MelodicMinor,
    MinorPentatonic,
    MajorPentatonic,
    SuspendedPentatonic,
    Malkauns,
    Ritusen,
    MinorSixPentatonic,
    DominantPentatonic,
    Hirajoshi,
    In,
    Kumoi,
    InSen,
    Iwato,
    MinorBlues,
    MajorBlues,
    AeolianFlatFive,
    MixolydianFlatThree,
}

/// What a kind is called, and what it is.
struct Row {
    /// In lower case.
    name: &'static str,
    /// In lower case with single spaces between words.
    aliases: &'static [&'static str],
    /// Rising from the root.
    degrees: &'static [Degree],
    /// Where the set is heard.
    home: ScaleKind,
}

impl ScaleKind {
    /// All named scales, seven-note scales first; without the two that serve as homes of the blues sets alone.
    #[must_use]
    pub const fn all() -> &'static [ScaleKind] {
        &KINDS
    }

    /// The scale of a mode.
    #[must_use]
    pub const fn of_mode(mode: Mode) -> ScaleKind {
        match mode {
            Mode::Major => ScaleKind::Major,
            Mode::Minor => ScaleKind::Minor,
            Mode::Dorian => ScaleKind::Dorian,
            Mode::Phrygian => ScaleKind::Phrygian,
            Mode::Lydian => ScaleKind::Lydian,
            Mode::Mixolydian => ScaleKind::Mixolydian,
            Mode::Locrian => ScaleKind::Locrian,
        }
    }

    /// The mode of a key that is heard in this scale; none for sets of five or six notes, which are heard in another.
    #[must_use]
    pub const fn mode(self) -> Option<Mode> {
        match self {
            ScaleKind::Major => Some(Mode::Major),
            ScaleKind::Minor
            | ScaleKind::HarmonicMinor
            | ScaleKind::MelodicMinor
            | ScaleKind::AeolianFlatFive => Some(Mode::Minor),
            ScaleKind::Dorian => Some(Mode::Dorian),
            ScaleKind::Phrygian => Some(Mode::Phrygian),
            ScaleKind::Lydian => Some(Mode::Lydian),
            ScaleKind::Mixolydian | ScaleKind::MixolydianFlatThree => Some(Mode::Mixolydian),
            ScaleKind::Locrian => Some(Mode::Locrian),
            ScaleKind::MinorPentatonic
            | ScaleKind::MajorPentatonic
            | ScaleKind::SuspendedPentatonic
            | ScaleKind::Malkauns
            | ScaleKind::Ritusen
            | ScaleKind::MinorSixPentatonic
            | ScaleKind::DominantPentatonic
            | ScaleKind::Hirajoshi
            | ScaleKind::In
            | ScaleKind::Kumoi
            | ScaleKind::InSen
            | ScaleKind::Iwato
            | ScaleKind::MinorBlues
            | ScaleKind::MajorBlues => None,
        }
    }

    /// The name, in lower case, as players say it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.row().name
    }

    /// Other names that are read, in lower case with spaces between words.
    #[must_use]
    pub const fn aliases(self) -> &'static [&'static str] {
        self.row().aliases
    }

    /// The degrees, rising from the root.
    #[must_use]
    pub const fn degrees(self) -> &'static [Degree] {
        self.row().degrees
    }

    /// The scale in which this set is heard unless another is asked for; itself when it has seven notes or more.
    #[must_use]
    pub const fn home(self) -> ScaleKind {
        self.row().home
    }

    /// Whether the set has five notes.
    #[must_use]
    pub const fn is_five_note(self) -> bool {
        self.degrees().len() == 5
    }

    /// Whether the blues convention is at home over it: minor and major pentatonic and the two blues hexatonics.
    #[must_use]
    pub const fn is_blues(self) -> bool {
        matches!(
            self,
            ScaleKind::MinorPentatonic
                | ScaleKind::MajorPentatonic
                | ScaleKind::MinorBlues
                | ScaleKind::MajorBlues
        )
    }

    /// Whether its only third is minor.
    #[must_use]
    pub fn is_minor(self) -> bool {
        self.degrees().contains(&flat(3)) && !self.degrees().contains(&d(3))
    }

    const fn row(self) -> &'static Row {
        match self {
            ScaleKind::Major => &MAJOR,
            ScaleKind::Minor => &MINOR,
            ScaleKind::Dorian => &DORIAN,
            ScaleKind::Phrygian => &PHRYGIAN,
            ScaleKind::Lydian => &LYDIAN,
            ScaleKind::Mixolydian => &MIXOLYDIAN,
            ScaleKind::Locrian => &LOCRIAN,
            ScaleKind::HarmonicMinor => &HARMONIC_MINOR,
            ScaleKind::MelodicMinor => &MELODIC_MINOR,
            ScaleKind::MinorPentatonic => &MINOR_PENTATONIC,
            ScaleKind::MajorPentatonic => &MAJOR_PENTATONIC,
            ScaleKind::SuspendedPentatonic => &SUSPENDED_PENTATONIC,
            ScaleKind::Malkauns => &MALKAUNS,
            ScaleKind::Ritusen => &RITUSEN,
            ScaleKind::MinorSixPentatonic => &MINOR_SIX_PENTATONIC,
            ScaleKind::DominantPentatonic => &DOMINANT_PENTATONIC,
            ScaleKind::Hirajoshi => &HIRAJOSHI,
            ScaleKind::In => &IN,
            ScaleKind::Kumoi => &KUMOI,
            ScaleKind::InSen => &IN_SEN,
            ScaleKind::Iwato => &IWATO,
            ScaleKind::MinorBlues => &MINOR_BLUES,
            ScaleKind::MajorBlues => &MAJOR_BLUES,
            ScaleKind::AeolianFlatFive => &AEOLIAN_FLAT_FIVE,
            ScaleKind::MixolydianFlatThree => &MIXOLYDIAN_FLAT_THREE,
        }
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

/// The sets to practice.
const KINDS: [ScaleKind; 23] = [
    ScaleKind::Major,
    ScaleKind::Minor,
    ScaleKind::Dorian,
    ScaleKind::Phrygian,
    ScaleKind::Lydian,
    ScaleKind::Mixolydian,
    ScaleKind::Locrian,
    ScaleKind::HarmonicMinor,
    ScaleKind::MelodicMinor,
    ScaleKind::MinorPentatonic,
    ScaleKind::MajorPentatonic,
    ScaleKind::SuspendedPentatonic,
    ScaleKind::Malkauns,
    ScaleKind::Ritusen,
    ScaleKind::MinorSixPentatonic,
    ScaleKind::DominantPentatonic,
    ScaleKind::Hirajoshi,
    ScaleKind::In,
    ScaleKind::Kumoi,
    ScaleKind::InSen,
    ScaleKind::Iwato,
    ScaleKind::MinorBlues,
    ScaleKind::MajorBlues,
];

/// Homes that are not sets to practice themselves: a mode and the blue note beside it.
const HOMES: [ScaleKind; 2] = [ScaleKind::AeolianFlatFive, ScaleKind::MixolydianFlatThree];

// Seven-note scales: common practice. The rotations of the pentatonic (set class 5-35), minor-six and
// dominant (5-34), in (5-20), kumoi and in-sen (5-29) and the blues hexatonics (6-47): common practice. Hirajoshi is
// the form 1 2 b3 5 b6 of the theory books (Kostka and Payne; the koto tuning of Helmholtz and Ellis), of three that
// are published; another of these is iwato. Homes are ours: the mode that holds the set and is played most over it;
// the blues sets keep their blue note beside the notes of the mode.

const MAJOR: Row = Row {
    name: "major",
    aliases: &["ionian", "maj"],
    degrees: &[d(1), d(2), d(3), d(4), d(5), d(6), d(7)],
    home: ScaleKind::Major,
};

const MINOR: Row = Row {
    name: "minor",
    aliases: &["aeolian", "natural minor", "min"],
    degrees: &[d(1), d(2), flat(3), d(4), d(5), flat(6), flat(7)],
    home: ScaleKind::Minor,
};

const DORIAN: Row = Row {
    name: "dorian",
    aliases: &[],
    degrees: &[d(1), d(2), flat(3), d(4), d(5), d(6), flat(7)],
    home: ScaleKind::Dorian,
};

const PHRYGIAN: Row = Row {
    name: "phrygian",
    aliases: &[],
    degrees: &[d(1), flat(2), flat(3), d(4), d(5), flat(6), flat(7)],
    home: ScaleKind::Phrygian,
};

const LYDIAN: Row = Row {
    name: "lydian",
    aliases: &[],
    degrees: &[d(1), d(2), d(3), sharp(4), d(5), d(6), d(7)],
    home: ScaleKind::Lydian,
};

const MIXOLYDIAN: Row = Row {
    name: "mixolydian",
    aliases: &[],
    degrees: &[d(1), d(2), d(3), d(4), d(5), d(6), flat(7)],
    home: ScaleKind::Mixolydian,
};

const LOCRIAN: Row = Row {
    name: "locrian",
    aliases: &[],
    degrees: &[d(1), flat(2), flat(3), d(4), flat(5), flat(6), flat(7)],
    home: ScaleKind::Locrian,
};

const HARMONIC_MINOR: Row = Row {
    name: "harmonic minor",
    aliases: &[],
    degrees: &[d(1), d(2), flat(3), d(4), d(5), flat(6), d(7)],
    home: ScaleKind::HarmonicMinor,
};

const MELODIC_MINOR: Row = Row {
    name: "melodic minor",
    aliases: &["jazz minor"],
    degrees: &[d(1), d(2), flat(3), d(4), d(5), d(6), d(7)],
    home: ScaleKind::MelodicMinor,
};

const MINOR_PENTATONIC: Row = Row {
    name: "minor pentatonic",
    aliases: &[
        "pentatonic minor",
        "min pentatonic",
        "minor pent",
        "minor five note",
    ],
    degrees: &[d(1), flat(3), d(4), d(5), flat(7)],
    home: ScaleKind::Minor,
};

const MAJOR_PENTATONIC: Row = Row {
    name: "major pentatonic",
    aliases: &[
        "pentatonic major",
        "maj pentatonic",
        "major pent",
        "major five note",
    ],
    degrees: &[d(1), d(2), d(3), d(5), d(6)],
    home: ScaleKind::Major,
};

const SUSPENDED_PENTATONIC: Row = Row {
    name: "suspended pentatonic",
    aliases: &["egyptian"],
    degrees: &[d(1), d(2), d(4), d(5), flat(7)],
    home: ScaleKind::Mixolydian,
};

const MALKAUNS: Row = Row {
    name: "malkauns",
    aliases: &[
        "malkos",
        "malkos raga",
        "man gong",
        "third pentatonic rotation",
    ],
    degrees: &[d(1), flat(3), d(4), flat(6), flat(7)],
    home: ScaleKind::Minor,
};

const RITUSEN: Row = Row {
    name: "ritusen",
    aliases: &[
        "ritsusen",
        "scottish pentatonic",
        "fourth pentatonic rotation",
    ],
    degrees: &[d(1), d(2), d(4), d(5), d(6)],
    home: ScaleKind::Major,
};

const MINOR_SIX_PENTATONIC: Row = Row {
    name: "minor-six pentatonic",
    aliases: &["minor six", "minor 6 pentatonic", "minor 6"],
    degrees: &[d(1), flat(3), d(4), d(5), d(6)],
    home: ScaleKind::Dorian,
};

const DOMINANT_PENTATONIC: Row = Row {
    name: "dominant pentatonic",
    aliases: &["dominant"],
    degrees: &[d(1), d(2), d(3), d(5), flat(7)],
    home: ScaleKind::Mixolydian,
};

const HIRAJOSHI: Row = Row {
    name: "hirajoshi",
    aliases: &["hira joshi"],
    degrees: &[d(1), d(2), flat(3), d(5), flat(6)],
    home: ScaleKind::Minor,
};

const IN: Row = Row {
    name: "in",
    aliases: &["in kumoijoshi", "kumoijoshi", "kumoi joshi", "miyako bushi"],
    degrees: &[d(1), flat(2), d(4), d(5), flat(6)],
    home: ScaleKind::Phrygian,
};

const KUMOI: Row = Row {
    name: "kumoi",
    aliases: &[],
    degrees: &[d(1), d(2), flat(3), d(5), d(6)],
    home: ScaleKind::Dorian,
};

const IN_SEN: Row = Row {
    name: "in-sen",
    aliases: &["insen"],
    degrees: &[d(1), flat(2), d(4), d(5), flat(7)],
    home: ScaleKind::Phrygian,
};

const IWATO: Row = Row {
    name: "iwato",
    aliases: &[],
    degrees: &[d(1), flat(2), d(4), flat(5), flat(7)],
    home: ScaleKind::Locrian,
};

const MINOR_BLUES: Row = Row {
    name: "minor blues",
    aliases: &["blues", "blues minor"],
    degrees: &[d(1), flat(3), d(4), flat(5), d(5), flat(7)],
    home: ScaleKind::AeolianFlatFive,
};

const MAJOR_BLUES: Row = Row {
    name: "major blues",
    aliases: &["blues major"],
    degrees: &[d(1), d(2), flat(3), d(3), d(5), d(6)],
    home: ScaleKind::MixolydianFlatThree,
};

const AEOLIAN_FLAT_FIVE: Row = Row {
    name: "aeolian with b5",
    aliases: &["minor with b5"],
    degrees: &[d(1), d(2), flat(3), d(4), flat(5), d(5), flat(6), flat(7)],
    home: ScaleKind::AeolianFlatFive,
};

const MIXOLYDIAN_FLAT_THREE: Row = Row {
    name: "mixolydian with b3",
    aliases: &[],
    degrees: &[d(1), d(2), flat(3), d(3), d(4), d(5), d(6), flat(7)],
    home: ScaleKind::MixolydianFlatThree,
};

/// Every kind that can be read.
pub(super) fn readable() -> impl Iterator<Item = ScaleKind> {
    KINDS.into_iter().chain(HOMES)
}

/// The kind of this name or alias, which is in lower case and has single spaces between words.
pub(super) fn named(name: &str) -> Option<ScaleKind> {
    readable().find(|kind| spaced(kind.name(), name) || kind.aliases().contains(&name))
}

/// Whether a name of the table is this one, hyphens counting as spaces.
fn spaced(of_table: &str, name: &str) -> bool {
    of_table.len() == name.len()
        && of_table
            .bytes()
            .zip(name.bytes())
            .all(|(held, asked)| held == asked || held == b'-' && asked == b' ')
}
