//! Players: a name is data and nothing else.

use std::fmt;

use crate::diagnostic::Diagnostic;

/// The longest name, in characters.
const MOST_CHARS: usize = 64;

/// The name of a player: 1 to 64 characters, none of them a control character, without space around it. It is never
/// part of a path.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Player(String);

/// Why a text is not the name of a player.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a player's name is 1 to {MOST_CHARS} characters in one line, found {found}")]
pub struct PlayerError {
    /// What was found: how many characters, or that there are control characters.
    found: String,
}

impl Player {
    /// The name of whoever practices where no name is given.
    pub const USUAL: &'static str = "me";

    /// Reads a name; space around it is taken away.
    ///
    /// # Errors
    /// When nothing is left, when it is too long, or when it has control characters.
    pub fn read(text: &str) -> Result<Player, PlayerError> {
        let name = text.trim();
        let found = match name.chars().count() {
            0 => "nothing".to_owned(),
            n if n > MOST_CHARS => format!("{n} characters"),
            _ if name.contains(char::is_control) => "control characters".to_owned(),
            _ => return Ok(Player(name.to_owned())),
        };
        Err(PlayerError { found })
    }

    /// The name, as it is written in the log.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.0
    }
}

impl Default for Player {
    fn default() -> Self {
        Player(Self::USUAL.to_owned())
    }
}

impl fmt::Display for Player {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Diagnostic for PlayerError {
    fn code(&self) -> &'static str {
        "player-name"
    }

    fn help(&self) -> String {
        "write a short name, such as Ada".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_any_text_of_one_line() {
        for name in [
            "Ada",
            "Zo\u{eb} O'Neil",
            "../x",
            "a\u{202e}b",
            "\u{65e5}\u{672c}",
            "\"; DROP",
        ] {
            assert_eq!(Player::read(&format!("  {name} ")).unwrap().name(), name);
        }
        for (text, found) in [
            ("  ", "nothing"),
            ("a\nb", "control characters"),
            ("a\u{1b}[2J", "control characters"),
            (&*"x".repeat(65), "65 characters"),
        ] {
            let error = Player::read(text).unwrap_err().to_string();
            assert!(error.ends_with(found), "{error}");
        }
        assert!(Player::read(&"\u{e9}".repeat(64)).is_ok());
    }
}
