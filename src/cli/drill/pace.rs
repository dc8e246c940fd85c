//! How fast a take is that is judged as a whole.

use std::time::Duration;

use clap::Args;

use crate::cli::Context;
use crate::cli::failure::{Failure, read_value};
use crate::cli::options::{choice, percent, read_plan};
use crate::cli::record::{Record, pace_words, tell};
use crate::diagnostic::counted;
use crate::log::LogError;
use crate::practice::{Aim, Bpm, CleanShare, FirstGuess, Ladder, Pace, Wish};
use crate::time::{Meter, TempoPlan};

/// The tempo of an exercise that was never played.
fn first_guess() -> Bpm {
    Bpm::clamped(60.0)
}

/// What a take is made by.
pub(super) struct Turn<'a> {
    /// The log, where one is kept.
    pub(super) record: Option<&'a Record>,
    /// How much of the time is left, where one was given.
    pub(super) left: Option<Duration>,
    /// What the player said after the last take of the next tempo.
    pub(super) wish: Option<Wish>,
    /// How many takes came before it.
    pub(super) before: u64,
}

impl Turn<'_> {
    /// The seed of this take: the first take has the first seed, so that a take can be had again by its own.
    pub(super) const fn seed(&self, first: u64) -> u64 {
        first.wrapping_add(self.before)
    }
}

/// How fast it is.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How fast it is")]
pub(super) struct PaceArguments {
    /// Tempo plan, such as 60 or '60 to 80'; unless said what the hands can do
    #[arg(long, value_name = "PLAN")]
    tempo: Option<String>,
    /// The next tempo: test (what the hands can do), practice (where nine of ten takes are clean), hold, faster or
    /// slower; test unless said
    #[arg(long, value_name = "MOVE", conflicts_with = "tempo")]
    pace: Option<String>,
    /// Climb after clean takes alone, such as '60 to 96 by 4 every 3'
    #[arg(long, value_name = "LADDER", conflicts_with_all = ["tempo", "pace"])]
    ladder: Option<String>,
    /// Share of clean takes at the tempo the hands can do; 75% unless said
    #[arg(long, value_name = "SHARE")]
    can: Option<String>,
    /// Share of clean takes at the tempo of practice; 90% unless said
    #[arg(long, value_name = "SHARE")]
    practice: Option<String>,
}

/// The same, read.
pub(super) struct Pacing {
    given: Option<TempoPlan>,
    ladder: Option<Ladder>,
    wish: Wish,
    /// The shares of clean takes that tempos are found for.
    pub(super) aim: Aim,
}

impl PaceArguments {
    /// What is said, read.
    pub(super) fn read(&self) -> Result<Pacing, Failure> {
        let given = self.tempo.as_deref();
        let ladder = self.ladder.as_deref();
        let usual = Aim::default();
        Ok(Pacing {
            given: given
                .map(|text| read_plan("--tempo", text, &Meter::COMMON))
                .transpose()?,
            ladder: ladder
                .map(|text| read_value("--ladder", text, Ladder::read))
                .transpose()?,
            wish: match &self.pace {
                Some(text) => choice("pace", text, &Wish::NAMES)?,
                None => Wish::default(),
            },
            aim: Aim {
                can: clean_share("can", self.can.as_deref(), usual.can)?,
                practice: clean_share("practice", self.practice.as_deref(), usual.practice)?,
            },
        })
    }
}

impl Pacing {
    /// Whether the player may say between takes how fast the next one is.
    pub(super) const fn is_free(&self) -> bool {
        self.given.is_none() && self.ladder.is_none()
    }

    /// The pace of an exercise today.
    pub(super) fn pace(&self, exercise: &str, record: &Record) -> Result<Pace, LogError> {
        record.pace(exercise, FirstGuess::new(first_guess()), self.aim)
    }

    /// The plan of the next take of an exercise: as given, by the ladder, or by the pace. Where it comes from is shown.
    pub(super) fn plan(
        &self,
        turn: &Turn<'_>,
        exercise: &str,
        context: &mut Context<'_, '_>,
    ) -> Result<TempoPlan, Failure> {
        if let Some(plan) = &self.given {
            return Ok(plan.clone());
        }
        let found = match (turn.record, self.ladder) {
            (None, None) => return Ok(steady(first_guess())),
            (None, Some(ladder)) => Ok((ladder.tempo(), Some(ladder_words(&ladder)))),
            (Some(record), Some(ladder)) => self.climbed(ladder, exercise, record),
            (Some(record), None) => self.proposed(turn.wish, exercise, record),
        };
        match found {
            Ok((tempo, words)) => {
                if let Some(words) = words
                    && !context.json
                {
                    let whole = tempo.value().floor();
                    context.say_rendered(&format!("{words}; this take at {whole}\n"));
                }
                Ok(steady(tempo))
            }
            Err(e) => {
                tell(&e, "the tempo is not looked up", context);
                let start = self.ladder.map(|ladder| ladder.tempo());
                Ok(steady(start.unwrap_or(first_guess())))
            }
        }
    }

    /// The tempo that the pace says, and that in words where there is more than a guess.
    fn proposed(
        &self,
        wish: Option<Wish>,
        exercise: &str,
        record: &Record,
    ) -> Result<(Bpm, Option<String>), LogError> {
        let pace = self.pace(exercise, record)?;
        let tempo = pace.next(wish.unwrap_or(self.wish));
        Ok((tempo, pace.last().map(|_| pace_words(&pace))))
    }

    /// Where the ladder stands after the takes of before.
    fn climbed(
        &self,
        ladder: Ladder,
        exercise: &str,
        record: &Record,
    ) -> Result<(Bpm, Option<String>), LogError> {
        let ladder = ladder.climbed(record.takes_of(exercise, usize::MAX)?);
        Ok((ladder.tempo(), Some(ladder_words(&ladder))))
    }
}

fn ladder_words(ladder: &Ladder) -> String {
    match ladder.clean_takes_left() {
        0 => "the top of the ladder".to_owned(),
        left => format!(
            "{} to the next step",
            counted(u64::from(left), "clean take")
        ),
    }
}

/// One tempo in whole beats a minute, rounded down.
fn steady(tempo: Bpm) -> TempoPlan {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 20 to 400
    TempoPlan::steady(tempo.value() as u32)
}

/// A share of clean takes, such as `75%`.
fn clean_share(option: &str, text: Option<&str>, usual: CleanShare) -> Result<CleanShare, Failure> {
    let Some(text) = text else { return Ok(usual) };
    let share = percent(text).map(|percent| f64::from(percent) / 100.0);
    share
        .and_then(|share| CleanShare::new(share).ok())
        .ok_or_else(|| {
            let usual = usual.value() * 100.0;
            Failure::new(
                "clean-share",
                format!("`--{option}` is a share of takes from 50% to 95%, found `{text}`"),
                format!("write `--{option} {usual:.0}%`"),
            )
        })
}
