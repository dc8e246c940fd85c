//! What can be wrong with a number this room is given.

use crate::diagnostic::Diagnostic;

/// Why a number is refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PracticeError {
    /// A tempo outside 20 to 400 beats a minute.
    #[error("expected a tempo from 20 to 400 beats a minute, found {found}")]
    Tempo {
        /// Beats a minute as given.
        found: f64,
    },
    /// A share of clean takes outside 0.5 to 0.95.
    #[error("expected a share of clean takes from 0.5 to 0.95, found {found}")]
    CleanShare {
        /// The share as given; 1 would be every take.
        found: f64,
    },
    /// A wanted retention outside 0.5 to 0.99.
    #[error("expected a retention from 0.5 to 0.99, found {found}")]
    Retention {
        /// The retention as given; 1 would be everything.
        found: f64,
    },
    /// A doubt about the first tempo outside 0.02 to 1.
    #[error("expected a doubt of the first tempo from 0.02 to 1, found {found}")]
    Doubt {
        /// The standard deviation of the natural logarithm of the tempo, as given.
        found: f64,
    },
    /// A step of a ladder that is not above 0, or above 380 beats a minute.
    #[error("expected a step above 0 and up to 380 beats a minute, found {found}")]
    Step {
        /// Beats a minute as given.
        found: f64,
    },
    /// A ladder whose top is below its start.
    #[error("expected a top tempo of at least {start}, where the ladder starts, found {top}")]
    Top {
        /// Where the ladder starts, in beats a minute.
        start: f64,
        /// The top as given, in beats a minute.
        top: f64,
    },
    /// A ladder that is written in a way that cannot be read.
    #[error("expected a ladder such as `60 to 96 by 4`, found `{found}`")]
    LadderForm {
        /// What is written.
        found: String,
    },
    /// A ladder that would rise without a clean take.
    #[error("expected at least 1 clean take for each step, found 0")]
    NoCleanTakes,
}

impl Diagnostic for PracticeError {
    fn code(&self) -> &'static str {
        match self {
            PracticeError::Tempo { .. } => "pace-tempo",
            PracticeError::CleanShare { .. } => "clean-share",
            PracticeError::Retention { .. } => "retention",
            PracticeError::Doubt { .. } => "pace-doubt",
            PracticeError::Step { .. } => "ladder-step",
            PracticeError::Top { .. } => "ladder-top",
            PracticeError::LadderForm { .. } => "ladder-form",
            PracticeError::NoCleanTakes => "ladder-clean-takes",
        }
    }

    fn help(&self) -> String {
        match self {
            PracticeError::Tempo { .. } => {
                "write the tempo in beats a minute, such as `80`".to_owned()
            }
            PracticeError::CleanShare { .. } => {
                "write `0.75` for three clean takes in four".to_owned()
            }
            PracticeError::Retention { .. } => {
                "write `0.9` to be asked when nine in ten would still be known".to_owned()
            }
            PracticeError::Doubt { .. } => {
                "write `0.35` where the tempo may be off by a third".to_owned()
            }
            PracticeError::Step { .. } => {
                "write the step in beats a minute, such as `4`".to_owned()
            }
            PracticeError::Top { start, .. } => {
                format!("write a top of {start} or more, or start lower")
            }
            PracticeError::LadderForm { .. } => {
                "write start, top and step, and how many clean takes a step needs: `60 to 96 by 4 every 3`".to_owned()
            }
            PracticeError::NoCleanTakes => "write `1` or more, such as `3`".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::practice::{Bpm, CleanShare, FirstGuess, Ladder, Retention};

    /// Sentence, advice and code, a line each.
    fn told(error: PracticeError) -> String {
        format!("{error}\n{}\n{}", error.help(), error.code())
    }

    #[test]
    fn refusals_say_what_was_expected_and_what_was_found() {
        let guess = FirstGuess::new(Bpm::SLOWEST);
        let ladder = |start, step, takes, top| {
            Ladder::new(Bpm::clamped(start), step, takes, Bpm::clamped(top)).unwrap_err()
        };
        insta::assert_snapshot!(told(Bpm::new(500.0).unwrap_err()), @"
        expected a tempo from 20 to 400 beats a minute, found 500
        write the tempo in beats a minute, such as `80`
        pace-tempo
        ");
        insta::assert_snapshot!(told(Bpm::new(f64::NAN).unwrap_err()), @"
        expected a tempo from 20 to 400 beats a minute, found NaN
        write the tempo in beats a minute, such as `80`
        pace-tempo
        ");
        insta::assert_snapshot!(told(CleanShare::new(75.0).unwrap_err()), @"
        expected a share of clean takes from 0.5 to 0.95, found 75
        write `0.75` for three clean takes in four
        clean-share
        ");
        insta::assert_snapshot!(told(Retention::new(1.0).unwrap_err()), @"
        expected a retention from 0.5 to 0.99, found 1
        write `0.9` to be asked when nine in ten would still be known
        retention
        ");
        insta::assert_snapshot!(told(guess.with_doubt(0.0).unwrap_err()), @"
        expected a doubt of the first tempo from 0.02 to 1, found 0
        write `0.35` where the tempo may be off by a third
        pace-doubt
        ");
        insta::assert_snapshot!(told(ladder(60.0, -2.0, 3, 90.0)), @"
        expected a step above 0 and up to 380 beats a minute, found -2
        write the step in beats a minute, such as `4`
        ladder-step
        ");
        insta::assert_snapshot!(told(ladder(60.0, 4.0, 0, 90.0)), @"
        expected at least 1 clean take for each step, found 0
        write `1` or more, such as `3`
        ladder-clean-takes
        ");
        insta::assert_snapshot!(told(ladder(92.5, 4.0, 3, 80.0)), @"
        expected a top tempo of at least 92.5, where the ladder starts, found 80
        write a top of 92.5 or more, or start lower
        ladder-top
        ");
    }
}
