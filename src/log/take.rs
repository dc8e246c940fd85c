//! A take: one playing of an exercise or a piece, as it is recorded.

use serde::Serialize;

use super::Player;
use crate::practice::Day;
/// What the player said of a take.
pub use crate::practice::Outcome as Word;

/// A moment, and the local time it was there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Moment {
    /// Seconds since the beginning of 1970, UTC.
    pub unix_seconds: i64,
    /// How many seconds local time was ahead of UTC.
    pub offset_seconds: i32,
}

impl Moment {
    /// The number of the local day, which turns at 4:00: 0 is the first of January 1970.
    ///
    /// ```
    /// use fivefold::log::Moment;
    /// let at = |unix_seconds| Moment { unix_seconds, offset_seconds: 7200 };
    /// // 3:59:59 and 4:00:00 local time.
    /// assert_eq!(at(86_400 + 7_199).day(), 0);
    /// assert_eq!(at(86_400 + 7_200).day(), 1);
    /// ```
    #[must_use]
    pub fn day(self) -> i64 {
        let local = self
            .unix_seconds
            .saturating_add(i64::from(self.offset_seconds));
        Day::of_local_seconds(local).number()
    }
}

/// The tempo the hands can do, before or after a take, in beats a minute.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pace {
    /// The tempo at which so many takes in a hundred are clean.
    pub can: f64,
    /// To either side of it lies the truth, with a chance of four in five.
    pub doubt: f64,
    /// The tempo to practice at.
    pub practice: f64,
}

/// An ask of a take with its outcome.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TakeAsk {
    /// What it is about: the name under which it is remembered.
    pub fact: String,
    /// What was asked.
    pub asked: String,
    /// The right answer.
    pub answer: String,
    /// What became of it: `at once`, `right`, `late`, `wrong`, `missed` or `unsure`.
    pub outcome: String,
    /// What came instead.
    pub came: Option<String>,
    /// Ticks of a quarter's 960th from the ask to what the player did.
    pub after_ticks: Option<u64>,
}

/// A take to be stored: who played what, when, and how it went.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    /// The player, by whom takes are kept apart.
    pub player: Player,
    /// When it began.
    pub began: Moment,
    /// How long it lasted, in seconds.
    pub seconds: u32,
    /// The name of the exercise; takes of one name are compared.
    pub exercise: String,
    /// The title of the piece.
    pub title: String,
    /// The piece as a document. Equal documents are stored once.
    pub document: String,
    /// The seed it was made from.
    pub seed: u64,
    /// The key it was played in; of several all, with a comma and a space between.
    pub key: Option<String>,
    /// The set played over it.
    pub set: Option<String>,
    /// The tempo plan.
    pub plan: String,
    /// The tempo it was judged at, in thousandths of a beat a minute.
    pub tempo_milli: Option<u32>,
    /// What the player said of it, or what was judged.
    pub word: Option<Word>,
    /// The pace before it.
    pub before: Option<Pace>,
    /// The pace after it.
    pub after: Option<Pace>,
    /// What was asked and what became of it.
    pub asks: Vec<TakeAsk>,
}

/// The number of a take in its log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct TakeId(pub i64);

/// A take as it is listed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TakeRow {
    /// Its number, by which it is withdrawn or exported.
    pub id: TakeId,
    /// When it began.
    pub began: Moment,
    /// The local day, 0 the first of January 1970.
    pub day: i64,
    /// How long it lasted, in seconds.
    pub seconds: u32,
    /// The name of the exercise.
    pub exercise: String,
    /// The key it was played in; of several all, with a comma and a space between.
    pub key: Option<String>,
    /// The set played over it.
    pub set: Option<String>,
    /// The tempo it was judged at, in thousandths of a beat a minute.
    pub tempo_milli: Option<u32>,
    /// What the player said of it.
    pub word: Option<Word>,
    /// How many asks had an outcome that counts.
    pub asked: u32,
    /// How many of these were right, late ones included.
    pub right: u32,
    /// Whether it was withdrawn.
    pub withdrawn: bool,
}
