//! The judge: asks and what the player did in, one outcome per ask out.
//!
//! Times are in played ticks: pauses do not count, repeated bars do. So a pause, a change of tempo or a loop changes no
//! outcome. An answer is right before the last beat of the time for it, late within that beat. The first thing the
//! player does while an ask is open is the answer; what comes when nothing is open answers nothing. An ask that was left
//! before its time was over (by a jump, or because playing ended) has no outcome.

use crate::chart::{Answer, Form, Piece};
use crate::neck::{Fret, Neck, NeckError, StringNumber};
use crate::theory::{Degree, Pitch, PitchName, Scale};
use crate::time::Tick;

/// What the player did, whoever noticed it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// A fret was named, counted from the capo, on the string that was asked for.
    Fret(u8),
    /// A pitch was played: its MIDI key, 0 to 127.
    Pitch(u8),
    /// A word was said.
    Word(String),
    /// Something was heard that cannot be told apart.
    Unclear,
}

/// What happened while a piece with asks was played.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Happening {
    /// An ask was heard.
    Asked {
        /// Which, from 0.
        ask: usize,
        /// Ticks played until then.
        at: Tick,
    },
    /// The answer was given away.
    Answered {
        /// Which, from 0.
        ask: usize,
        /// Ticks played until then.
        at: Tick,
    },
    /// The player did something.
    Responded {
        /// What it was.
        deed: Deed,
        /// Ticks played until then.
        at: Tick,
    },
}

/// What became of an ask.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Right and in time.
    Right {
        /// Whether it came within the first beat.
        at_once: bool,
    },
    /// Right, in the last beat before the answer was given away.
    Late,
    /// Something else, in these words.
    Wrong(String),
    /// Nothing came in time.
    Missed,
    /// Something came that cannot be judged.
    Unsure,
}

impl Outcome {
    /// The word for it, as it is stored.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Outcome::Right { at_once: true } => "at once",
            Outcome::Right { at_once: false } => "right",
            Outcome::Late => "late",
            Outcome::Wrong(_) => "wrong",
            Outcome::Missed => "missed",
            Outcome::Unsure => "unsure",
        }
    }

    /// What came instead of the right answer.
    #[must_use]
    pub fn came(&self) -> Option<&str> {
        match self {
            Outcome::Wrong(came) => Some(came),
            _ => None,
        }
    }
}

/// An ask with its outcome.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judged {
    /// Which ask, from 0.
    pub ask: usize,
    /// What became of it.
    pub outcome: Outcome,
    /// Ticks from the ask to what the player did; `None` where nothing came.
    pub after_ticks: Option<u64>,
}

/// How many asks had which outcome.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Right and in time.
    pub right: usize,
    /// Of these, within the first beat.
    pub at_once: usize,
    /// Right in the last beat.
    pub late: usize,
    /// Answered with something else.
    pub wrong: usize,
    /// Not answered before the answer was given away.
    pub missed: usize,
    /// Answered with something that cannot be judged.
    pub unsure: usize,
}

impl Tally {
    /// Counts the outcomes of asks, one each.
    #[must_use]
    pub fn of(judged: &[Judged]) -> Tally {
        let mut tally = Tally::default();
        for one in judged {
            let count = match &one.outcome {
                Outcome::Right { at_once } => {
                    tally.at_once += usize::from(*at_once);
                    &mut tally.right
                }
                Outcome::Late => &mut tally.late,
                Outcome::Wrong(_) => &mut tally.wrong,
                Outcome::Missed => &mut tally.missed,
                Outcome::Unsure => &mut tally.unsure,
            };
            *count += 1;
        }
        tally
    }

    /// All asks that can be counted: those whose outcome is known.
    #[must_use]
    pub const fn known(&self) -> usize {
        self.right + self.late + self.wrong + self.missed
    }
}

/// What is expected as the answer to an ask.
#[derive(Clone, Debug)]
enum Expected {
    /// One of these frets, or of these MIDI keys.
    Place { frets: Vec<u8>, keys: Vec<u8> },
    /// One of these words, in lower case.
    Word(Vec<String>),
}

/// An ask, ready to be judged.
#[derive(Clone, Debug)]
struct Test {
    expected: Expected,
    /// Ticks from the ask until the second beat.
    at_once_ticks: u64,
    /// Ticks from the ask until the last beat before the answer.
    late_ticks: u64,
}

/// Gives each ask of a piece an outcome, from what happens.
#[derive(Clone, Debug)]
pub struct Judge {
    neck: Neck,
    tests: Vec<Test>,
    /// The ask that waits for an answer, and since when.
    open: Option<(usize, Tick)>,
    judged: Vec<Judged>,
}

impl Judge {
    /// The judge of a piece on a neck. `form` is the unfolded piece.
    ///
    /// # Errors
    /// When an ask is about a place that is not on the neck.
    pub fn new(piece: &Piece, form: &Form, neck: &Neck) -> Result<Judge, NeckError> {
        let grid = piece.grid(form, None);
        let mut tests = Vec::with_capacity(piece.asks.len());
        for ask in &piece.asks {
            let expected = match &ask.answer {
                Answer::Place { string, fret } => {
                    let class = neck.midi(*string, *fret)? % 12;
                    let mut frets = Vec::new();
                    let mut keys = Vec::new();
                    for fret in 0..=neck.last_fret().value() {
                        let key = neck.midi(*string, Fret::new(fret)?)?;
                        if key % 12 == class {
                            frets.push(fret);
                            keys.push(key);
                        }
                    }
                    Expected::Place { frets, keys }
                }
                Answer::Word(word) => Expected::Word(right_words(word, piece.set.as_ref())),
            };
            let first = ask.beat.saturating_sub(1);
            let beat = |beats: u32| {
                let found = grid.beat_after(i64::from(ask.bar), first + beats);
                found.map_or(Tick::ZERO, |beat| beat.tick())
            };
            let asked = beat(0);
            tests.push(Test {
                expected,
                at_once_ticks: beat(1).saturating_since(asked),
                late_ticks: beat(ask.beats.saturating_sub(1)).saturating_since(asked),
            });
        }
        Ok(Judge {
            neck: *neck,
            tests,
            open: None,
            judged: Vec::new(),
        })
    }

    /// Takes in what happens next; returns the outcome it decides, if it decides one.
    pub fn take(&mut self, happening: Happening) -> Option<&Judged> {
        match happening {
            Happening::Asked { ask, at } => {
                self.open = (ask < self.tests.len()).then_some((ask, at));
                None
            }
            Happening::Answered { ask, .. } => {
                let (open, _) = self.open.take()?;
                (open == ask).then(|| self.decide(ask, Outcome::Missed, None))
            }
            Happening::Responded { deed, at } => {
                let (ask, since) = self.open.take()?;
                let after = at.saturating_since(since);
                let outcome = self.tests[ask].outcome(&deed, after);
                Some(self.decide(ask, outcome, Some(after)))
            }
        }
    }

    /// The note at a fret of a string, a black key by its sharp; `None` off the neck.
    #[must_use]
    pub fn note_at(&self, string: StringNumber, fret: u8) -> Option<PitchName> {
        let key = self.neck.midi(string, Fret::new(fret).ok()?).ok()?;
        Some(Pitch::of_key(i32::from(key)).name())
    }

    /// Which ask waits for an answer, from 0.
    #[must_use]
    pub fn open(&self) -> Option<usize> {
        self.open.map(|(ask, _)| ask)
    }

    /// The outcomes so far, in the order in which they were decided. A bar that was played again has asked again.
    #[must_use]
    pub fn judged(&self) -> &[Judged] {
        &self.judged
    }

    fn decide(&mut self, ask: usize, outcome: Outcome, after_ticks: Option<u64>) -> &Judged {
        let at = self.judged.len();
        self.judged.push(Judged {
            ask,
            outcome,
            after_ticks,
        });
        &self.judged[at]
    }
}

impl Test {
    fn outcome(&self, deed: &Deed, after_ticks: u64) -> Outcome {
        let right = match (deed, &self.expected) {
            (Deed::Unclear, _) => return Outcome::Unsure,
            (Deed::Fret(fret), Expected::Place { frets, .. }) => frets.contains(fret),
            (Deed::Pitch(key), Expected::Place { keys, .. }) => keys.contains(key),
            (Deed::Word(word), Expected::Word(right)) => right.contains(&word.to_lowercase()),
            _ => false,
        };
        if !right {
            return Outcome::Wrong(words(deed));
        }
        if after_ticks >= self.late_ticks {
            return Outcome::Late;
        }
        Outcome::Right {
            at_once: after_ticks < self.at_once_ticks,
        }
    }
}

/// The words that are right, in lower case. A degree may be named by its number alone where the set has no other degree of
/// that number: a player of the minor pentatonic says `3` for `b3`.
fn right_words(word: &str, set: Option<&Scale>) -> Vec<String> {
    let mut right = vec![word.to_lowercase()];
    if let (Some(set), Ok(degree)) = (set, Degree::read(word)) {
        let number = degree.number();
        let mut same = set.degrees().iter().filter(|d| d.number() == number);
        let alone = same.next() == Some(&degree) && same.next().is_none();
        if alone && degree.alter() != 0 {
            right.push(number.to_string());
        }
    }
    right
}

/// What was done, in a word or two.
fn words(deed: &Deed) -> String {
    match deed {
        Deed::Fret(fret) => format!("fret {fret}"),
        Deed::Pitch(key) => Pitch::of_key(i32::from(*key)).to_string(),
        Deed::Word(word) => word.clone(),
        Deed::Unclear => "unclear".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Ask;

    const BEAT: u64 = 960;

    /// Four beats to find the G of string 6, then four to name a degree, in bars 1 and 3 of 4/4.
    fn judge() -> Judge {
        let (mut piece, _) = Piece::read_inline("| N.C. | N.C. | N.C. | N.C. |").unwrap();
        let ask = |bar, answer: &str| Ask {
            bar,
            beat: 1,
            text: "ask".to_owned(),
            note: None,
            answer: Answer::read(answer).unwrap(),
            beats: 4,
        };
        piece.asks = vec![ask(1, "string 6 fret 3"), ask(3, "b3")];
        let form = piece.unfold().unwrap();
        Judge::new(&piece, &form, &Neck::standard()).unwrap()
    }

    fn asked(ask: usize, beat: u64) -> Happening {
        let at = Tick::new(beat * BEAT);
        Happening::Asked { ask, at }
    }

    fn answered(ask: usize, beat: u64) -> Happening {
        let at = Tick::new(beat * BEAT);
        Happening::Answered { ask, at }
    }

    fn did(deed: Deed, tick: u64) -> Happening {
        let at = Tick::new(tick);
        Happening::Responded { deed, at }
    }

    /// The outcome of the first ask, heard at beat 4, where the player does this so many ticks later.
    fn outcome(deed: Deed, after: u64) -> Outcome {
        let mut judge = judge();
        assert_eq!(judge.take(asked(0, 4)), None);
        let judged = judge.take(did(deed, 4 * BEAT + after)).unwrap().clone();
        assert_eq!(judged.after_ticks, Some(after));
        judged.outcome
    }

    #[test]
    fn times_and_frets() {
        // G on the sixth string in standard tuning: frets 3 and 15 (facts of the trade, common practice).
        for (fret, after, word) in [
            (3, 0, "at once"),
            (15, BEAT - 1, "at once"),
            (3, BEAT, "right"),
            (3, 3 * BEAT - 1, "right"),
            (3, 3 * BEAT, "late"),
            (3, 4 * BEAT - 1, "late"),
            (5, 10, "wrong"),
            (27, 10, "wrong"),
        ] {
            assert_eq!(outcome(Deed::Fret(fret), after).word(), word, "{fret}");
        }
        // G2 and G3 are on that string, G4 is not.
        assert_eq!(outcome(Deed::Pitch(43), 0).word(), "at once");
        assert_eq!(outcome(Deed::Pitch(55), 0).word(), "at once");
        assert_eq!(outcome(Deed::Pitch(67), 0), Outcome::Wrong("G4".to_owned()));
        assert_eq!(
            outcome(Deed::Word("b3".to_owned()), 0),
            Outcome::Wrong("b3".to_owned())
        );
        assert_eq!(outcome(Deed::Unclear, 0), Outcome::Unsure);
    }

    #[test]
    fn a_number_names_the_degree_that_alone_has_it() {
        let right = |word: &str, set: &str| right_words(word, Some(&Scale::read(set).unwrap()));
        // Degrees of the sets: common practice.
        assert_eq!(right("b3", "A minor pentatonic"), ["b3", "3"]);
        assert_eq!(right("1", "A minor pentatonic"), ["1"]);
        // The minor blues has a b5 and a 5.
        assert_eq!(right("b5", "A minor blues"), ["b5"]);
        assert_eq!(right("5", "A minor blues"), ["5"]);
        assert_eq!(right("b3", "A minor blues"), ["b3", "3"]);
        // Of another set, or of none, nothing is known.
        assert_eq!(right("3", "A minor pentatonic"), ["3"]);
        assert_eq!(right_words("b3", None), ["b3"]);
        assert_eq!(right_words("Yes", None), ["yes"]);
    }

    #[test]
    fn the_first_answer_counts_and_none_is_a_miss() {
        let mut judge = judge();
        // Nothing is open yet.
        assert_eq!(judge.take(did(Deed::Fret(3), 10)), None);
        judge.take(asked(0, 0));
        assert_eq!(judge.open(), Some(0));
        judge.take(did(Deed::Fret(4), 100));
        assert_eq!(judge.open(), None);
        assert_eq!(judge.take(did(Deed::Fret(3), 200)), None);
        assert_eq!(judge.take(answered(0, 4)), None);
        judge.take(asked(1, 8));
        judge.take(answered(1, 12));
        let words: Vec<_> = judge.judged().iter().map(|j| j.outcome.word()).collect();
        assert_eq!(words, ["wrong", "missed"]);
        let tally = Tally::of(judge.judged());
        assert_eq!((tally.wrong, tally.missed, tally.known()), (1, 1, 2));
    }

    #[test]
    fn an_ask_that_is_left_has_no_outcome_and_one_heard_again_has_two() {
        let mut judge = judge();
        judge.take(asked(0, 0));
        // A jump to bar 3, then back.
        judge.take(asked(1, 2));
        judge.take(did(Deed::Word("B3".to_owned()), 2 * BEAT + 5));
        judge.take(asked(0, 20));
        judge.take(answered(0, 24));
        judge.take(asked(0, 30));
        judge.take(did(Deed::Fret(3), 32 * BEAT));
        judge.take(asked(1, 40));
        let words: Vec<_> = judge
            .judged()
            .iter()
            .map(|j| (j.ask, j.outcome.word()))
            .collect();
        assert_eq!(words, [(1, "at once"), (0, "missed"), (0, "right")]);
    }

    #[test]
    fn an_ask_that_is_not_there_is_ignored() {
        let mut judge = judge();
        assert_eq!(judge.take(asked(7, 0)), None);
        assert_eq!(judge.take(did(Deed::Fret(3), 10)), None);
        assert_eq!(judge.take(answered(7, 4)), None);
        assert!(judge.judged().is_empty());
    }
}
