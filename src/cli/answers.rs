//! What the player answers while a piece asks: shared by whoever takes keys, lines and notes, and the thread that plays.

use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Instant;

use crossbeam_channel::{Receiver, Sender};

use super::lock;
use crate::diagnostic::or;
use crate::drill::Deed;
use crate::live::Control;
use crate::midi::Heard;

/// Answers that are remembered; of more the rest is lost.
const MOST: usize = 100_000;

/// What kind of answer is waited for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted {
    /// No answer: nothing is asked.
    Nothing,
    /// The number of a fret, counted from the capo.
    Fret,
    /// A word, such as a degree.
    Word,
    /// One of the choices that were offered.
    Choice,
    /// A mark whenever there is something to mark, while it plays.
    Mark,
}

impl Wanted {
    const ALL: [Wanted; 5] = [
        Wanted::Nothing,
        Wanted::Fret,
        Wanted::Word,
        Wanted::Choice,
        Wanted::Mark,
    ];
}

/// Something to choose: a key, and the line that does the same.
pub(super) type Choice = (char, &'static str);

/// How a take went.
pub(super) const VERDICTS: [Choice; 3] = [('y', "clean"), (' ', "nearly"), ('m', "missed")];

/// The same, and what the player may wish of the next tempo before.
pub(super) const VERDICTS_AND_WISHES: [Choice; 6] = [
    VERDICTS[0],
    VERDICTS[1],
    VERDICTS[2],
    ('h', "hold"),
    ('f', "faster"),
    ('s', "slower"),
];

/// What is marked while chords are changed freely.
pub(super) const MARKS: [Choice; 2] = [(' ', "stroke"), ('m', "missed")];

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Answers {
    /// What is waited for, as its place in [`Wanted::ALL`].
    wanted: AtomicU8,
    deeds: Mutex<Vec<Deed>>,
    /// What can be chosen or marked.
    choices: &'static [Choice],
}

impl Answers {
    /// Where one of these is waited for.
    pub(super) fn choosing(choices: &'static [Choice]) -> Self {
        Answers::offering(choices, Wanted::Choice)
    }

    /// Where these are marked.
    pub(super) fn marking() -> Self {
        Answers::offering(&MARKS, Wanted::Mark)
    }

    fn offering(choices: &'static [Choice], wanted: Wanted) -> Self {
        let answers = Answers {
            choices,
            ..Answers::default()
        };
        answers.want(wanted);
        answers
    }

    /// What can be chosen or marked.
    pub(super) fn choices(&self) -> &'static [Choice] {
        self.choices
    }

    /// What is waited for now.
    pub(super) fn wanted(&self) -> Wanted {
        let at = usize::from(self.wanted.load(Ordering::Acquire));
        Wanted::ALL.get(at).copied().unwrap_or(Wanted::Nothing)
    }

    /// From now on this is waited for.
    pub(super) fn want(&self, wanted: Wanted) {
        let at = Wanted::ALL.iter().position(|w| *w == wanted).unwrap_or(0);
        self.wanted
            .store(u8::try_from(at).unwrap_or(0), Ordering::Release);
    }

    /// Keeps what the player did at this moment; returns what to send to the conductor.
    pub(super) fn respond(&self, deed: Deed, at: Instant) -> Control {
        let mut deeds = lock(&self.deeds);
        let id = u32::try_from(deeds.len()).unwrap_or(u32::MAX);
        if deeds.len() < MOST {
            deeds.push(deed);
        }
        Control::Respond { id, at }
    }

    /// What the conductor was sent under this number.
    pub(super) fn deed(&self, id: u32) -> Option<Deed> {
        let deeds = lock(&self.deeds);
        deeds.get(usize::try_from(id).ok()?).cloned()
    }

    /// The word that was chosen, by that or by its key.
    fn chosen(&self, text: &str) -> Option<&'static str> {
        let mut choices = self.choices.iter();
        let is = |(key, word): &&Choice| {
            *word == text || (!key.is_whitespace() && text.chars().eq([*key]))
        };
        choices.find(is).map(|(_, word)| *word)
    }

    /// Why what was typed is no answer now.
    pub(super) fn refusal(&self, text: &str) -> String {
        match self.wanted() {
            Wanted::Nothing => "nothing is asked now".to_owned(),
            Wanted::Fret => format!("a fret is asked for, found `{text}`"),
            Wanted::Word => format!("a degree is asked for, found `{text}`"),
            Wanted::Choice | Wanted::Mark => {
                let words = self.choices.iter().map(|(_, word)| format!("`{word}`"));
                format!("{} is asked for", or(&words.collect::<Vec<_>>()))
            }
        }
    }

    /// A word or a number that was typed, as the answer to what is waited for; `None` where it is none.
    pub(super) fn typed(&self, text: &str) -> Option<Deed> {
        match self.wanted() {
            Wanted::Nothing => None,
            Wanted::Fret => fret(text).map(Deed::Fret),
            Wanted::Word => word(text).map(|word| Deed::Word(word.to_owned())),
            Wanted::Choice | Wanted::Mark => {
                self.chosen(text).map(|word| Deed::Word(word.to_owned()))
            }
        }
    }
}

/// A word that can only be an answer: no command is one.
pub(super) fn looks_like_one(text: &str) -> bool {
    fret(text).is_some() || word(text).is_some() || is_verdict(text)
}

/// Whether a line says how a take went, or how fast the next one is to be.
pub(super) fn is_verdict(text: &str) -> bool {
    VERDICTS_AND_WISHES.iter().any(|(_, word)| *word == text)
}

/// A fret as it is typed: one or two digits.
pub(super) fn fret(text: &str) -> Option<u8> {
    let digits = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    digits.then(|| text.parse().ok()).flatten()
}

/// A degree as it is typed: accidentals and a digit.
fn word(text: &str) -> Option<&str> {
    let number = text.trim_start_matches(['b', '#']);
    let digit = number.len() == 1 && number.bytes().all(|b| (b'1'..=b'7').contains(&b));
    (digit && text.len() <= 3).then_some(text)
}

/// Takes the notes of a MIDI input as answers, on a thread of its own that ends with the input.
pub(super) fn listen(
    heard: Receiver<Heard>,
    answers: Arc<Answers>,
    controls: Sender<Control>,
) -> std::io::Result<()> {
    let thread = thread::Builder::new().name("answers".to_owned());
    thread.spawn(move || {
        for heard in heard {
            if let Some(key) = heard.note_on() {
                let control = answers.respond(Deed::Pitch(key), heard.at);
                if controls.send(control).is_err() {
                    return;
                }
            }
        }
    })?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_answers_what_is_asked() {
        let answers = Answers::default();
        assert_eq!(answers.typed("3"), None);
        answers.want(Wanted::Fret);
        assert_eq!(answers.typed("3"), Some(Deed::Fret(3)));
        assert_eq!(answers.typed("12"), Some(Deed::Fret(12)));
        for no in ["", "123", "b3", "-1", "+1", "3 "] {
            assert_eq!(answers.typed(no), None, "{no}");
        }
        answers.want(Wanted::Word);
        for word in ["b3", "5", "#4", "bb7"] {
            assert_eq!(answers.typed(word), Some(Deed::Word(word.to_owned())));
        }
        for no in ["", "b", "8", "0", "go", "b33", "bbb3"] {
            assert_eq!(answers.typed(no), None, "{no}");
        }
    }

    #[test]
    fn how_a_take_went() {
        let answers = Answers::choosing(&VERDICTS);
        let word = |word: &str| Some(Deed::Word(word.to_owned()));
        assert_eq!(answers.typed("y"), word("clean"));
        assert_eq!(answers.typed("nearly"), word("nearly"));
        assert_eq!(answers.typed("m"), word("missed"));
        assert_eq!(answers.typed("3"), None);
        assert_eq!(answers.typed(""), None);
    }

    #[test]
    fn wishes_are_those_of_the_pace() {
        use crate::practice::Wish;
        for (_, word) in &VERDICTS_AND_WISHES[VERDICTS.len()..] {
            assert!(Wish::NAMES.iter().any(|(name, _)| name == word), "{word}");
        }
        let mut keys: Vec<char> = VERDICTS_AND_WISHES.iter().map(|(key, _)| *key).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), VERDICTS_AND_WISHES.len());
        assert!(!keys.contains(&'q'));
    }

    #[test]
    fn each_answer_has_its_number() {
        let answers = Answers::default();
        let at = Instant::now();
        assert_eq!(
            answers.respond(Deed::Fret(3), at),
            Control::Respond { id: 0, at }
        );
        assert_eq!(
            answers.respond(Deed::Pitch(43), at),
            Control::Respond { id: 1, at }
        );
        assert_eq!(answers.deed(0), Some(Deed::Fret(3)));
        assert_eq!(answers.deed(1), Some(Deed::Pitch(43)));
        assert_eq!(answers.deed(2), None);
    }
}
