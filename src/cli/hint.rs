//! What the keys mean, in a line.

use super::answers::{Answers, Choice, Wanted};
use super::controls::Names;
use crate::view::StageState;

/// What the keys mean at the moment, for the bottom of the stage.
pub(super) struct Hint(Option<(Names, bool)>);

impl Hint {
    /// Where single keys are taken: for these names, with a space bar that strikes or does not.
    pub(super) fn of(names: &Names, strokes: bool) -> Hint {
        Hint(Some((names.clone(), strokes)))
    }

    /// Where no keys are taken.
    pub(super) fn none() -> Hint {
        Hint(None)
    }

    /// In a line, by what the piece does.
    pub(super) fn line(&self, state: &StageState) -> Option<String> {
        let (names, strokes) = self.0.as_ref()?;
        let wanted = names.answers().map(|answers| (answers, answers.wanted()));
        Some(match (state, wanted) {
            (StageState::Waits(_), _) => "goes on by itself, q stops".to_owned(),
            (StageState::Paused, _) => {
                "space goes on, ? all keys, q stops, c counts in, g elsewhere".to_owned()
            }
            (StageState::Plays, Some((answers, Wanted::Mark))) => keys_of_marks(answers),
            (StageState::Plays, Some((_, Wanted::Fret))) => {
                "type the fret, Enter ends 1, 2 or 3".to_owned()
            }
            (StageState::Plays, Some((_, Wanted::Word))) => {
                "type the degree: 1 to 7, b and # before".to_owned()
            }
            (StageState::Plays, _) => {
                let space = if *strokes {
                    "space note, p pause"
                } else {
                    "space pause"
                };
                format!("{space}, ? all keys, q stops, arrows tempo, n next")
            }
        })
    }
}

/// The keys of choices in words: `y clean, space nearly, m missed, q leaves it`.
pub(super) fn keys_of(choices: &[Choice]) -> String {
    let words = choices.iter().map(|(key, word)| match key {
        ' ' => format!("space {word}"),
        key => format!("{key} {word}"),
    });
    let words: Vec<String> = words.collect();
    format!("{}, q leaves it", words.join(", "))
}

/// The same, each by itself, with the key first.
pub(super) fn each_key(choices: &[Choice]) -> Vec<String> {
    let all = keys_of(choices);
    all.split(", ").map(str::to_owned).collect()
}

/// The keys while changes are marked: `space stroke, m missed, q leaves it, p pauses and goes on`.
pub(super) fn keys_of_marks(answers: &Answers) -> String {
    format!("{}, p pauses and goes on", keys_of(answers.choices()))
}
