//! Asks: what a piece asks of the player, and when.

use std::fmt;

use crate::neck::{Fret, StringNumber};
use crate::theory::Pitch;

/// The most asks of one piece.
pub const MOST_ASKS: usize = 10_000;

/// The longest text of an ask, in characters: one line of a narrow screen.
pub const MOST_ASK_CHARS: usize = 60;

/// The longest word that is an answer, in characters.
const MOST_WORD_CHARS: usize = 16;

/// The longest time for an answer, in beats.
pub const MOST_ASK_BEATS: u32 = 64;

/// The fewest beats for an answer: in the last of them an answer is late, so there must be another before it.
pub const FEWEST_ASK_BEATS: u32 = 2;

/// Something that is asked at a beat, and answered by the piece itself so many beats later.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ask {
    /// The bar, from 1: intro and passes are counted, the count-in is not.
    pub bar: u32,
    /// The beat of the bar, from 1.
    pub beat: u32,
    /// What is asked, 1 to 60 characters, such as `G on string 6`.
    pub text: String,
    /// A note that sounds with the ask, until the bar ends or the answer comes.
    pub note: Option<Pitch>,
    /// The right answer.
    pub answer: Answer,
    /// Beats until the answer is given away, 2 to 64.
    pub beats: u32,
}

/// The right answer to an ask.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// A place on the neck. Its note sounds when the answer is given away.
    Place {
        /// The string, counted from 1, the highest.
        string: StringNumber,
        /// The fret, counted from the capo.
        fret: Fret,
    },
    /// A word of 1 to 16 characters, such as a degree.
    Word(String),
}

impl Answer {
    /// Reads `string 6 fret 3`, or a word.
    ///
    /// ```
    /// use fivefold::chart::Answer;
    /// assert_eq!(Answer::read("String 6, fret 3").unwrap().to_string(), "string 6 fret 3");
    /// assert_eq!(Answer::read("b3"), Some(Answer::Word("b3".to_owned())));
    /// assert_eq!(Answer::read("string 9 fret 3"), None);
    /// ```
    ///
    /// `None` for anything else.
    pub fn read(text: &str) -> Option<Answer> {
        let text = text.trim();
        let lower = text.to_ascii_lowercase().replace(',', " ");
        let words: Vec<&str> = lower.split_whitespace().collect();
        match *words {
            ["string", string, "fret", fret] => {
                let string = string.parse().ok()?;
                let fret = fret.parse().ok()?;
                Some(Answer::Place {
                    string: StringNumber::new(string).ok()?,
                    fret: Fret::new(fret).ok()?,
                })
            }
            [_] => {
                let fits = text.chars().count() <= MOST_WORD_CHARS;
                let plain = !text.contains(|c: char| c.is_control() || c == ',');
                (fits && plain).then(|| Answer::Word(text.to_owned()))
            }
            _ => None,
        }
    }
}

impl fmt::Display for Answer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Answer::Place { string, fret } => write!(f, "string {string} fret {fret}"),
            Answer::Word(word) => f.write_str(word),
        }
    }
}
