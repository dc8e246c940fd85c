//! What was practised, kept and looked up: the log and what it says of memory and pace.

use std::path::PathBuf;

use clap::Args;

use super::Context;
use super::failure::{Failure, read_value};
use crate::diagnostic::Diagnostic;
use crate::drill::{Exercise, Judged};
use crate::log::{
    FactRecord, Log, LogError, Moment, Player, Remember, Take, TakeAsk, TakeId, usual_place,
};
use crate::practice::{Day, Fact, Grade, Recall};
use crate::view::shown;

/// Who plays, and where it is written down.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Who plays, and the log")]
pub(super) struct LogArguments {
    /// Player; `me` unless said. Each has a memory and a pace of their own
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
    /// The log, instead of the usual file
    #[arg(long = "log", value_name = "FILE", conflicts_with = "no_log")]
    file: Option<PathBuf>,
    /// Write nothing into the log, and look nothing up
    #[arg(long)]
    no_log: bool,
}

/// An open log and who plays.
pub(super) struct Record {
    pub(super) log: Log,
    pub(super) player: Player,
}

impl LogArguments {
    /// The player.
    pub(super) fn player(&self) -> Result<Player, Failure> {
        match &self.who {
            Some(name) => read_value("--who", name, Player::read),
            None => Ok(Player::default()),
        }
    }

    /// The log, opened; `None` where none is wanted.
    ///
    /// # Errors
    /// When it cannot be used.
    pub(super) fn open(&self) -> Result<Option<Log>, LogError> {
        if self.no_log {
            return Ok(None);
        }
        let path = match &self.file {
            Some(path) => path.clone(),
            None => usual_place()?,
        };
        Log::open(&path, remember()).map(Some)
    }

    /// The log to write takes into. One that cannot be used is told, and nothing is written down.
    pub(super) fn record(&self, context: &mut Context<'_, '_>) -> Result<Option<Record>, Failure> {
        let player = self.player()?;
        match self.open() {
            Ok(log) => Ok(log.map(|log| Record { log, player })),
            Err(e) => {
                tell(&e, "nothing is written down", context);
                Ok(None)
            }
        }
    }
}

/// Says what is wrong with the log, and goes on.
pub(super) fn tell(error: &LogError, so: &str, context: &mut Context<'_, '_>) {
    if context.json {
        let line = serde_json::json!({"code": error.code(), "message": error.to_string(), "help": error.help()});
        context.say_rendered(&format!("{line}\n"));
    } else {
        context.say_rendered(&format!(
            "{}; {so}\n  {}\n",
            shown(&error.to_string()),
            error.help()
        ));
    }
}

/// How well an outcome says that a fact is known; `None` of one that says nothing.
fn grade(outcome: &str) -> Option<Grade> {
    match outcome {
        "at once" => Some(Grade::Easy),
        "right" => Some(Grade::Good),
        "late" => Some(Grade::Hard),
        "wrong" | "missed" => Some(Grade::Again),
        _ => None,
    }
}

fn recall(record: &FactRecord) -> Recall {
    Recall::stored(
        record.stability_days,
        record.difficulty,
        Day::new(record.day),
    )
}

/// How what is remembered changes with each ask.
fn remember() -> Box<Remember> {
    Box::new(|before, outcome, number| {
        let grade = grade(outcome)?;
        let on = Day::new(number);
        let now = match &before {
            None => Recall::first(on, grade),
            Some(before) => recall(before).reviewed(on, grade),
        };
        let (reviews, failed) = before.map_or((0, 0), |b| (b.reviews, b.failed));
        Some(FactRecord {
            stability_days: now.memory().stability_days(),
            difficulty: now.memory().difficulty(),
            day: number,
            reviews: reviews.saturating_add(1),
            failed: failed.saturating_add(u32::from(grade == Grade::Again)),
        })
    })
}

impl Record {
    /// What is remembered of each of these; new ones have nothing.
    pub(super) fn facts<K>(
        &self,
        keys: impl IntoIterator<Item = (String, K)>,
    ) -> Result<Vec<Fact<K>>, LogError> {
        let known = self.log.facts(&self.player)?;
        let find = |name: &str| {
            let at = known.binary_search_by(|(known, _)| known.as_str().cmp(name));
            at.ok().map(|at| recall(&known[at].1))
        };
        let facts = keys.into_iter().map(|(name, key)| Fact {
            recall: find(&name),
            key,
        });
        Ok(facts.collect())
    }
}

/// What was played, besides its outcomes.
pub(super) struct Played<'a> {
    pub(super) exercise: &'a Exercise,
    pub(super) began: Moment,
    pub(super) seconds: u32,
    pub(super) judged: &'a [Judged],
}

impl Record {
    /// Writes a take down; returns its number.
    pub(super) fn add(&mut self, played: &Played<'_>) -> Result<TakeId, LogError> {
        let piece = &played.exercise.piece;
        let asks = played.judged.iter().filter_map(|judged| {
            let ask = piece.asks.get(judged.ask)?;
            let came = match &judged.outcome {
                crate::drill::Outcome::Wrong(came) => Some(came.clone()),
                _ => None,
            };
            Some(TakeAsk {
                fact: played.exercise.facts.get(judged.ask)?.clone(),
                asked: ask.text.clone(),
                answer: ask.answer.to_string(),
                outcome: judged.outcome.word().to_owned(),
                came,
                after_ticks: judged.after_ticks,
            })
        });
        let take = Take {
            player: self.player.clone(),
            began: played.began,
            seconds: played.seconds,
            exercise: played.exercise.name.clone(),
            title: piece.title.clone(),
            document: piece.to_document(),
            seed: piece.seed,
            key: piece.sounding_key().map(|key| key.to_string()),
            set: piece.set.as_ref().map(crate::theory::Scale::name),
            plan: piece.tempo.to_string(),
            tempo_milli: None,
            word: None,
            before: None,
            after: None,
            asks: asks.collect(),
        };
        self.log.add(&take)
    }
}
