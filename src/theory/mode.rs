//! The seven modes.

/// The seven modes a key can be in; major is the ionian mode, minor the aeolian.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "each mode is its own description")]
pub enum Mode {
    Major,
    Minor,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Locrian,
}

impl Mode {
    /// All seven modes.
    pub const ALL: [Mode; 7] = [
        Mode::Major,
        Mode::Minor,
        Mode::Dorian,
        Mode::Phrygian,
        Mode::Lydian,
        Mode::Mixolydian,
        Mode::Locrian,
    ];

    /// The name in lower case; also the name of the mode's scale.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Mode::Major => "major",
            Mode::Minor => "minor",
            Mode::Dorian => "dorian",
            Mode::Phrygian => "phrygian",
            Mode::Lydian => "lydian",
            Mode::Mixolydian => "mixolydian",
            Mode::Locrian => "locrian",
        }
    }

    /// Whether the third above the tonic is minor.
    #[must_use]
    pub const fn is_minor(self) -> bool {
        matches!(
            self,
            Mode::Minor | Mode::Dorian | Mode::Phrygian | Mode::Locrian
        )
    }

    /// Sharps more than the major key on the same tonic has, on the circle of fifths (common practice).
    pub(super) const fn fifths_from_major(self) -> i32 {
        match self {
            Mode::Lydian => 1,
            Mode::Major => 0,
            Mode::Mixolydian => -1,
            Mode::Dorian => -2,
            Mode::Minor => -3,
            Mode::Phrygian => -4,
            Mode::Locrian => -5,
        }
    }

    /// The mode of a name in lower case.
    pub(super) fn named(name: &str) -> Option<Mode> {
        match name {
            "major" | "maj" | "ionian" => Some(Mode::Major),
            "minor" | "min" | "aeolian" | "natural minor" => Some(Mode::Minor),
            _ => Mode::ALL.into_iter().find(|mode| mode.as_str() == name),
        }
    }
}
