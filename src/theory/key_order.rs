//! The order in which keys are practiced.

use std::fmt;

use super::key::{Key, KeyError};
use super::nearest::nearest;
use crate::diagnostic::Diagnostic;

/// An order of keys.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyOrder {
    /// All twelve, each a fourth above the one before.
    Fourths,
    /// All twelve, each a fifth above the one before.
    Fifths,
    /// All twelve, each a semitone above the one before.
    Semitones,
    /// All twelve, each once, in an order drawn from the seed; the first stays.
    Shuffle,
    /// All twelve, the least practiced first.
    LeastPracticed,
    /// These keys, in this order.
    Chosen(Vec<Key>),
}

/// Why a text is not an order of keys.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum KeyOrderError {
    /// Neither a known order nor keys.
    #[error("keys are an order or a list of keys, found `{found}`")]
    Unknown {
        /// What was written.
        found: String,
        /// What is wrong with it, read as a key.
        error: KeyError,
    },
    /// Nothing was written.
    #[error("keys are an order or a list of keys, found nothing")]
    Empty,
    /// The least practiced first, where nothing is known of practice.
    #[error("which key is the least practiced is not known here: a drill looks it up")]
    NotLookedUp,
    /// A key of another mode: moving keeps the mode.
    #[error("a piece in {first} moves to keys of the same mode, found {found}")]
    Mode {
        /// The key of the piece.
        first: Key,
        /// The key that is listed.
        found: Key,
    },
}

impl Diagnostic for KeyOrderError {
    fn code(&self) -> &'static str {
        match self {
            KeyOrderError::Unknown { .. } => "keys-unknown",
            KeyOrderError::Empty => "keys-empty",
            KeyOrderError::NotLookedUp => "keys-log",
            KeyOrderError::Mode { .. } => "keys-mode",
        }
    }

    fn help(&self) -> String {
        if let KeyOrderError::Mode { first, found } = self
            && let Ok(kept) = Key::new(found.tonic(), first.mode())
        {
            return format!("write `{kept}`");
        }
        if let KeyOrderError::Unknown { found, .. } = self {
            if ALL_TWELVE.contains(&&*found.to_lowercase()) {
                return "write `fourths`, `fifths`, `semitones` or `shuffle`: each has all twelve keys"
                    .to_owned();
            }
            if let Some(meant) = meant(found) {
                return format!("write `{meant}`");
            }
        }
        "write `fourths`, `fifths`, `semitones`, `shuffle`, or keys such as `A minor, D minor`"
            .to_owned()
    }
}

/// Words that are typed for an order of another name.
const OTHER_NAMES: [(&str, &str); 6] = [
    ("circle of fourths", "fourths"),
    ("circle of fifths", "fifths"),
    ("chromatic", "semitones"),
    ("half steps", "semitones"),
    ("random", "shuffle"),
    ("least practiced first", "least practiced"),
];

/// Words that are typed for all twelve keys: any order may be meant.
const ALL_TWELVE: [&str; 9] = [
    "all",
    "all keys",
    "all 12",
    "all 12 keys",
    "all twelve",
    "all twelve keys",
    "every key",
    "12",
    "twelve",
];

/// What an unknown order stands for: one that is known, or keys with commas between.
fn meant(found: &str) -> Option<String> {
    let lower = found.to_lowercase();
    if let Some((_, meant)) = OTHER_NAMES.iter().find(|(typed, _)| *typed == lower) {
        return Some((*meant).to_owned());
    }
    let parted = found.split([' ', '-', ';', '/']);
    let keys: Vec<&str> = parted.filter(|word| !word.is_empty()).collect();
    if keys.len() > 1 && keys.iter().all(|key| Key::read(key).is_ok()) {
        return Some(keys.join(", "));
    }
    let names = KeyOrder::NAMED.iter().filter_map(KeyOrder::name);
    nearest(&lower, names).map(str::to_owned)
}

impl KeyOrder {
    /// The orders that have a name.
    const NAMED: [KeyOrder; 5] = [
        KeyOrder::Fourths,
        KeyOrder::Fifths,
        KeyOrder::Semitones,
        KeyOrder::Shuffle,
        KeyOrder::LeastPracticed,
    ];

    /// The name people type; none for chosen keys.
    pub const fn name(&self) -> Option<&'static str> {
        match self {
            KeyOrder::Fourths => Some("fourths"),
            KeyOrder::Fifths => Some("fifths"),
            KeyOrder::Semitones => Some("semitones"),
            KeyOrder::Shuffle => Some("shuffle"),
            // Names of exercises in logs have this spelling.
            KeyOrder::LeastPracticed => Some("least practised"),
            KeyOrder::Chosen(_) => None,
        }
    }

    /// Reads `fourths`, `fifths`, `semitones`, `shuffle`, or keys joined by commas.
    ///
    /// # Errors
    /// When the text is none of these, or `least practiced`, since a text knows nothing of practice.
    pub fn read(text: &str) -> Result<Self, KeyOrderError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(KeyOrderError::Empty);
        }
        // The other spelling is the same word.
        let name = if text == "least practiced" {
            "least practised"
        } else {
            text
        };
        match KeyOrder::NAMED.into_iter().find(|o| o.name() == Some(name)) {
            Some(KeyOrder::LeastPracticed) => Err(KeyOrderError::NotLookedUp),
            Some(order) => Ok(order),
            None => text
                .split(',')
                .map(|text| {
                    let text = text.trim();
                    Key::read(text).map_err(|error| KeyOrderError::Unknown {
                        found: text.to_owned(),
                        error,
                    })
                })
                .collect::<Result<Vec<Key>, _>>()
                .map(KeyOrder::Chosen),
        }
    }

    /// Checks that a piece in `first` can move to the keys.
    ///
    /// # Errors
    /// When a chosen key is of another mode: the chords would not sound in it.
    pub fn check(&self, first: &Key) -> Result<(), KeyOrderError> {
        let KeyOrder::Chosen(keys) = self else {
            return Ok(());
        };
        match keys.iter().find(|key| key.mode() != first.mode()) {
            Some(found) => Err(KeyOrderError::Mode {
                first: *first,
                found: *found,
            }),
            None => Ok(()),
        }
    }
}

impl fmt::Display for KeyOrder {
    /// The name, or the keys joined by commas, as they are read.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            KeyOrder::Chosen(keys) => {
                let keys: Vec<String> = keys.iter().map(Key::to_string).collect();
                f.write_str(&keys.join(", "))
            }
            named => f.write_str(named.name().unwrap_or_default()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_are_written_as_they_are_read() {
        for text in [
            "fourths",
            "fifths",
            "semitones",
            "shuffle",
            "A minor, D minor",
            "F# dorian",
        ] {
            assert_eq!(KeyOrder::read(text).unwrap().to_string(), text);
        }
        assert_eq!(
            KeyOrder::read("least practiced"),
            Err(KeyOrderError::NotLookedUp)
        );
        assert_eq!(
            KeyOrder::read("least practised"),
            Err(KeyOrderError::NotLookedUp)
        );
    }

    #[test]
    fn chosen_keys_are_of_the_mode_of_the_piece() {
        let first = Key::read("A minor").unwrap();
        let check = |text: &str| KeyOrder::read(text).unwrap().check(&first);
        assert_eq!(check("fourths"), Ok(()));
        assert_eq!(check("D minor, G minor"), Ok(()));
        let error = check("D minor, G").unwrap_err();
        assert_eq!(
            error.to_string(),
            "a piece in A minor moves to keys of the same mode, found G major"
        );
        assert_eq!(error.help(), "write `G minor`");
    }

    #[test]
    fn wrong_orders_say_what_to_write() {
        let wrong = |t: &str| KeyOrder::read(t).unwrap_err().to_string();
        assert_eq!(
            wrong(""),
            "keys are an order or a list of keys, found nothing"
        );
        assert_eq!(
            wrong("fourth"),
            "keys are an order or a list of keys, found `fourth`"
        );
        let advice = |t: &str| KeyOrder::read(t).unwrap_err().help();
        for (text, meant) in [
            ("fourth", "fourths"),
            ("circle of fifths", "fifths"),
            ("random", "shuffle"),
            ("A D G", "A, D, G"),
            ("Am-Dm", "Am, Dm"),
        ] {
            assert_eq!(advice(text), format!("write `{meant}`"));
            assert!(KeyOrder::read(meant).is_ok(), "{meant}");
        }
        assert_eq!(
            wrong("A minor, X"),
            "keys are an order or a list of keys, found `X`"
        );
    }
}
