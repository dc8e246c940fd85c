//! The voices of the arrangement.

/// A voice of the arrangement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// The click on the beats.
    Click,
    /// The chords, held.
    Pads,
    /// Roots, or a line that walks.
    Bass,
    /// The percussion groove.
    Kit,
    /// The tonic, held through each pass.
    Drone,
    /// A guitar that is strummed.
    Strum,
    /// A line that runs through a shape of the set.
    Guide,
}

impl Part {
    /// All parts, in the order they are listed to people.
    pub const ALL: [Part; 7] = [
        Part::Click,
        Part::Pads,
        Part::Bass,
        Part::Kit,
        Part::Drone,
        Part::Strum,
        Part::Guide,
    ];

    /// The name people type: `[parts.NAME]`.
    pub fn name(self) -> &'static str {
        match self {
            Part::Click => "click",
            Part::Pads => "pads",
            Part::Bass => "bass",
            Part::Kit => "kit",
            Part::Drone => "drone",
            Part::Strum => "strum",
            Part::Guide => "guide",
        }
    }

    /// The part of a name.
    pub fn of(name: &str) -> Option<Part> {
        Part::ALL.into_iter().find(|part| part.name() == name)
    }

    /// What it plays, in half a line.
    pub fn about(self) -> &'static str {
        match self {
            Part::Click => "the pulse, with a count-in",
            Part::Pads => "the chords, held and well led",
            Part::Bass => "roots, roots and fifths, or a line that walks",
            Part::Kit => "a percussion groove",
            Part::Drone => "the tonic, with or without its fifth, held through each pass",
            Part::Strum => "a strummed guitar, or its strings one by one",
            Part::Guide => "a line that runs through a shape of the set",
        }
    }

    /// Whether it plays pitches; the others play percussion.
    pub fn is_pitched(self) -> bool {
        match self {
            Part::Click | Part::Kit => false,
            Part::Pads | Part::Bass | Part::Drone | Part::Strum | Part::Guide => true,
        }
    }

    /// The table of a document that says what it plays.
    pub(in crate::chart) fn path(self) -> &'static str {
        match self {
            Part::Click => "parts.click",
            Part::Pads => "parts.pads",
            Part::Bass => "parts.bass",
            Part::Kit => "parts.kit",
            Part::Drone => "parts.drone",
            Part::Strum => "parts.strum",
            Part::Guide => "parts.guide",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_are_listed_once_in_order_and_found_by_name() {
        assert!(Part::ALL.is_sorted_by(|a, b| a < b));
        for part in Part::ALL {
            assert_eq!(Part::of(part.name()), Some(part));
            assert_eq!(part.path(), format!("parts.{}", part.name()));
        }
        assert_eq!(Part::of("piano"), None);
    }
}
