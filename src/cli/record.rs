//! What was practiced, kept and looked up: the log and what it says of memory and pace.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::Args;

use super::Context;
use super::failure::{Failure, read_value};
use super::sink;
use crate::chart::Piece;
use crate::diagnostic::Diagnostic;
use crate::drill::{Exercise, Judged};
use crate::generate::key_order;
use crate::log::{
    self, FactRecord, KeyTotal, Log, LogError, Player, Remember, Take, TakeAsk, TakeId, TempoPoint,
    Word, now, usual_place,
};
use crate::picture::{Drawing, pace_picture};
use crate::practice::{self, Aim, Bpm, Day, Fact, FirstGuess, Grade, Pace, Recall};
use crate::theory::{Key, Scale, ScaleFormula};
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
    /// The player that `--who` names, else the usual one.
    pub(super) fn player(&self) -> Result<Player, Failure> {
        match &self.who {
            Some(name) => read_value("--who", name, Player::read),
            None => Ok(Player::default()),
        }
    }

    /// The same as words of a command line.
    pub(super) fn words(&self) -> Vec<OsString> {
        let mut words: Vec<OsString> = Vec::new();
        if let Some(who) = &self.who {
            words.push(format!("--who={who}").into());
        }
        if let Some(file) = &self.file {
            let mut word = OsString::from("--log=");
            word.push(file);
            words.push(word);
        }
        if self.no_log {
            words.push("--no-log".into());
        }
        words
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

/// Takes of which the pace is shown.
pub(super) const PACED: usize = 200;

/// The pace over takes as a picture.
pub(super) fn pace_drawing(points: &[TempoPoint]) -> Drawing {
    let takes: Vec<(i64, f64, f64)> = points.iter().map(|p| (p.day, p.can, p.doubt)).collect();
    pace_picture(&takes)
}

/// Takes from which the pace is made: what lies longer ago says nothing more.
const PACE_TAKES: usize = 300;

impl Record {
    /// The newest takes of an exercise that were judged as a whole, at most so many, the oldest first.
    pub(super) fn takes_of(
        &self,
        exercise: &str,
        most: usize,
    ) -> Result<Vec<practice::Take>, LogError> {
        let takes = self.log.judged(&self.player, exercise, most)?;
        let takes = takes
            .into_iter()
            .map(|(day, tempo_milli, word)| practice::Take {
                day: Day::new(day),
                tempo: Bpm::clamped(f64::from(tempo_milli) / 1000.0),
                outcome: word,
            });
        Ok(takes.collect())
    }

    /// The pace of an exercise today. The guess must be the same each time.
    pub(super) fn pace(
        &self,
        exercise: &str,
        first: FirstGuess,
        aim: Aim,
    ) -> Result<Pace, LogError> {
        let mut pace = Pace::replay(first, aim, self.takes_of(exercise, PACE_TAKES)?);
        pace.turn_to(Day::new(now().day()));
        Ok(pace)
    }

    /// How long each key was practiced over a set, in milliseconds, by its tonic and mode: G# minor and Ab minor are one.
    pub(super) fn practiced(&self, set: ScaleFormula) -> Result<Vec<(Key, u64)>, LogError> {
        let totals = self.log.practiced(&self.player, &set.to_string())?;
        let read = |total: KeyTotal| Some((Key::read(&total.key).ok()?, total.milliseconds));
        Ok(totals.into_iter().filter_map(read).collect())
    }

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

/// The pace as it is written down.
pub(super) fn written(pace: &Pace) -> log::Pace {
    let can = pace.can();
    log::Pace {
        can: can.tempo.value(),
        doubt: (can.high.value() - can.low.value()) / 2.0,
        practice: pace.practice().tempo.value(),
    }
}

/// What the word about a take says of its one fact.
pub(super) fn fact_of(exercise: &Exercise, word: Word) -> Option<TakeAsk> {
    let [fact] = &*exercise.facts else {
        return None;
    };
    let outcome = match word {
        Word::Clean => "right",
        Word::Nearly => "late",
        Word::Missed => "missed",
    };
    Some(ask_of(fact, outcome, None))
}

/// A fact that was asked for by a whole take.
pub(super) fn ask_of(fact: &str, outcome: &str, came: Option<String>) -> TakeAsk {
    TakeAsk {
        fact: fact.to_owned(),
        asked: fact.to_owned(),
        answer: String::new(),
        outcome: outcome.to_owned(),
        came,
        after_ticks: None,
    }
}

/// The pace in words: `can 96 +-4, practice 88`.
pub(super) fn pace_words(pace: &Pace) -> String {
    let log::Pace {
        can,
        doubt,
        practice,
    } = written(pace);
    format!("can {can:.0} +-{doubt:.0}, practice {practice:.0}")
}

/// The key a piece is played in, or the keys, in the order in which they are played.
fn keys_of(piece: &Piece) -> Option<String> {
    let first = piece.sounding_key()?;
    let keys = match &piece.keys {
        None => vec![first],
        Some(order) => key_order(order, &first, piece.seed, &|_| 0),
    };
    let keys: Vec<String> = keys.iter().map(Key::to_string).collect();
    Some(keys.join(", "))
}

/// How a take went that is judged as a whole.
#[derive(Clone, Copy)]
pub(super) struct Whole {
    pub(super) word: Word,
    /// The tempo it was played at, in thousandths of a beat a minute.
    pub(super) tempo_milli: u32,
    /// The pace before and after it.
    pub(super) before: log::Pace,
    pub(super) after: log::Pace,
}

impl Record {
    /// Writes a take down; returns its number. `whole` is how it went as a whole, where that was judged, and `asks` is what
    /// was asked in it.
    pub(super) fn add(
        &mut self,
        exercise: &str,
        played: &sink::Played,
        whole: Option<Whole>,
        asks: Vec<TakeAsk>,
    ) -> Result<TakeId, LogError> {
        let piece = &played.piece;
        self.log.add(&Take {
            player: self.player.clone(),
            began: played.began,
            seconds: played.seconds,
            exercise: exercise.to_owned(),
            title: piece.title.clone(),
            document: piece.to_document(),
            seed: piece.seed,
            key: keys_of(piece),
            set: piece.set.as_ref().map(Scale::name),
            plan: piece.tempo.to_string(),
            tempo_milli: whole.map(|whole| whole.tempo_milli),
            word: whole.map(|whole| whole.word),
            before: whole.map(|whole| whole.before),
            after: whole.map(|whole| whole.after),
            asks,
        })
    }
}

/// The asks of an exercise with what became of them, as they are written down.
pub(super) fn asks_of(exercise: &Exercise, judged: &[Judged]) -> Vec<TakeAsk> {
    let one = |judged: &Judged| {
        let ask = exercise.piece.asks.get(judged.ask)?;
        Some(TakeAsk {
            fact: exercise.facts.get(judged.ask)?.clone(),
            asked: ask.text.clone(),
            answer: ask.answer.to_string(),
            outcome: judged.outcome.word().to_owned(),
            came: judged.outcome.came().map(str::to_owned),
            after_ticks: judged.after_ticks,
        })
    };
    judged.iter().filter_map(one).collect()
}
