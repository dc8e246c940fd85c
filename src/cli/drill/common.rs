//! What all drills share: the neck, the order of chance, where it goes, and how it is played and judged.

use std::time::{Duration, Instant};

use clap::Args;

use super::pace::{Pacing, Turn};
use super::{free, strokes};
use crate::chart::SourceText;
use crate::cli::Context;
use crate::cli::answers::{Choice, VERDICTS, VERDICTS_AND_WISHES};
use crate::cli::asking::Asking;
use crate::cli::failure::{Failure, read_value};
use crate::cli::live::How;
use crate::cli::options::{Wanted, fresh_seed, number, percent};
use crate::cli::record::{
    LogArguments, PACED, Record, Whole, asks_of, fact_of, pace_drawing, pace_words, tell, written,
};
use crate::cli::sink::{self, Sent, SinkArguments};
use crate::cli::steering;
use crate::drill::{Exercise, FreeCount, Judging, Tally};
use crate::log::{LogError, TakeAsk, TakeId, Word, now};
use crate::neck::{DEFAULT_FRETS, Fret, Neck, Tuning};
use crate::picture::Captioned;
use crate::practice::{self, Bpm, Day, Wish};
use crate::time::{Amount, read_length};

/// The neck a drill is played on, and what it is played to.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How it is played")]
pub(super) struct DrillArguments {
    /// Tuning: a name, or notes such as 'D A D G B E'
    #[arg(long, value_name = "TUNING")]
    tuning: Option<String>,
    /// Fret of the capo, 0 to 12
    #[arg(long, value_name = "FRET", allow_hyphen_values = true)]
    capo: Option<String>,
    /// Seed of the order; another each time unless said
    #[arg(long, value_name = "SEED", allow_hyphen_values = true)]
    seed: Option<String>,
    /// Bars of count-in, 0 to 8
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    count_in: Option<String>,
    /// Show what will be asked without playing
    #[arg(long, conflicts_with_all = ["output", "port", "pedals", "answers", "lines", "so_far"])]
    show: bool,
    /// Time to drill, such as 5min; one take unless said
    #[arg(
        long = "for",
        value_name = "TIME",
        allow_hyphen_values = true,
        conflicts_with = "output"
    )]
    duration: Option<String>,
    /// Share that must be right, such as 80%: else the exit status is 1
    #[arg(long, value_name = "SHARE", conflicts_with = "output")]
    goal: Option<String>,
    /// Take the notes of this MIDI input as answers: a port as for --port
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    answers: Option<String>,
    /// On the sheet that -o writes: your pace so far, from the log
    #[arg(long, requires = "output", help_heading = "What a sheet is like")]
    so_far: bool,
    #[command(flatten)]
    log: LogArguments,
    #[command(flatten)]
    sink: SinkArguments,
}

impl DrillArguments {
    /// The neck by `--tuning` and `--capo`; without them the standard tuning, no capo.
    pub(super) fn neck(&self) -> Result<Neck, Failure> {
        let tuning = self.tuning.as_ref();
        let tuning = tuning.map(|text| read_value("--tuning", text, Tuning::read));
        let tuning = tuning.transpose()?.unwrap_or_else(Tuning::standard);
        let capo = match &self.capo {
            Some(text) => u8::try_from(number("capo", text, 0, 12)?).unwrap_or(0),
            None => 0,
        };
        Ok(Neck::new(tuning, DEFAULT_FRETS, Fret::new(capo)?)?)
    }

    /// The seed that was given, else one that differs from run to run.
    pub(super) fn seed(&self) -> Result<u64, Failure> {
        match &self.seed {
            Some(text) => {
                let seed = number("seed", text, 0, i64::MAX)?;
                Ok(u64::try_from(seed).unwrap_or(0))
            }
            None => Ok(fresh_seed()),
        }
    }

    /// Whether files are written, and nothing is played.
    pub(super) fn is_written(&self) -> bool {
        self.sink.is_written()
    }

    /// Whether a time was given to drill.
    pub(super) fn is_timed(&self) -> bool {
        self.duration.is_some()
    }

    /// The log, where one is kept.
    pub(super) fn record(&self, context: &mut Context<'_, '_>) -> Result<Option<Record>, Failure> {
        self.log.record(context)
    }

    /// Plays the takes that `make` makes, until the time of `--for` is over; one where no time is given. Each take is
    /// written down in `record`. `pacing` is that of exercises that are judged as a whole.
    pub(super) fn takes(
        &self,
        record: &mut Option<Record>,
        pacing: Option<&Pacing>,
        context: &mut Context<'_, '_>,
        mut make: impl FnMut(Turn<'_>, &mut Context<'_, '_>) -> Result<Exercise, Failure>,
    ) -> Result<(), Failure> {
        let time = self.duration.as_ref();
        let time = time.map(|text| drill_time(text)).transpose()?;
        let goal = self.goal.as_ref().map(|text| share(text)).transpose()?;
        let begun = Instant::now();
        let mut sitting = Sitting::default();
        for before in 0.. {
            let turn = Turn {
                record: record.as_ref(),
                left: time.map(|time| time.saturating_sub(begun.elapsed())),
                wish: sitting.wish.take(),
                before,
            };
            let exercise = make(turn, context)?;
            let how = self.take(exercise, record.as_mut(), pacing, &mut sitting, context)?;
            let more = time.is_some_and(|time| begun.elapsed() < time);
            if how == How::Stopped || !more {
                break;
            }
        }
        match goal {
            Some(goal) if sitting.of > 0 && sitting.right * 100 < goal * sitting.of => {
                if !context.json {
                    let Sitting { right, of, .. } = sitting;
                    context.say_rendered(&format!("{right} of {of} right; the goal is {goal} %\n"));
                }
                Err(Failure::No)
            }
            _ => Ok(()),
        }
    }

    /// Plays an exercise, or writes it; then shows what was right, and writes it down.
    fn take(
        &self,
        mut exercise: Exercise,
        record: Option<&mut Record>,
        pacing: Option<&Pacing>,
        sitting: &mut Sitting,
        context: &mut Context<'_, '_>,
    ) -> Result<How, Failure> {
        let piece = &mut exercise.piece;
        if let Some(text) = &self.count_in {
            let bars = number("count-in", text, 0, 8)?;
            piece.parts.click.count_in = u32::try_from(bars).unwrap_or(1);
        }
        if self.show {
            show(&exercise, context)?;
            return Ok(How::Stopped);
        }
        let source = SourceText::new("<drill>", piece.to_document());
        let prepared = Wanted::default().apply(piece.clone(), source.into())?;
        let mut sink = self.sink.answered_by(self.answers.as_deref());
        if self.so_far {
            sink = sink.with_record(so_far(&exercise.name, record.as_deref(), context)?);
        }
        let waits = match exercise.judging {
            Judging::Marks => Asking::marking,
            Judging::Asks | Judging::Word => Asking::of,
        };
        context.played = None;
        let sent = sink::send_with(&prepared, &sink, waits, context)?;
        sent.tell_outcomes(context)?;
        let Judgment { word, asks } = self.judged(&exercise, &sent, pacing, sitting, context)?;
        if let (Some(record), Some(played)) = (record, context.played.take()) {
            let whole = match (word, pacing) {
                (Some(word), Some(pacing)) => paced_by(&exercise, word, pacing, record, context),
                _ => None,
            };
            if whole.is_some() || !asks.is_empty() {
                let added = record.add(&exercise.name, &played, whole, asks);
                tell_added(added, record, context)?;
            }
        }
        Ok(sent.how)
    }

    /// How a take went, and adds it to the score. Only one that was played to its end is judged as a whole, or counted.
    fn judged(
        &self,
        exercise: &Exercise,
        sent: &Sent,
        pacing: Option<&Pacing>,
        sitting: &mut Sitting,
        context: &mut Context<'_, '_>,
    ) -> Result<Judgment, Failure> {
        let to_the_end = sent.was_heard() && sent.how == How::ToTheEnd;
        match (exercise.judging, &sent.asking) {
            (Judging::Asks, Some(asking)) => {
                let tally = Tally::of(asking.judged());
                sitting.add(tally.right + tally.late, tally.known());
                Ok(Judgment {
                    word: None,
                    asks: asks_of(exercise, asking.judged()),
                })
            }
            (Judging::Marks, Some(asking)) if to_the_end => {
                let FreeCount { changes, clean } = asking.free_count();
                let count = |n| usize::try_from(n).unwrap_or(0);
                sitting.add(count(clean), count(changes));
                let told = free::told(asking, exercise, context)?;
                Ok(Judgment {
                    word: None,
                    asks: told.into_iter().collect(),
                })
            }
            (Judging::Word, _) if to_the_end => {
                let offered = if self.is_timed() && pacing.is_some_and(Pacing::is_free) {
                    &VERDICTS_AND_WISHES[..]
                } else {
                    &VERDICTS
                };
                let word = self.word(sent, offered, &mut sitting.wish, context)?;
                if let Some(word) = word {
                    sitting.add(usize::from(word == Word::Clean), 1);
                }
                let struck = sent.strokes.as_ref();
                let pairs = struck.map(|struck| strokes::pairs(struck, &exercise.changes));
                let asks = match pairs {
                    Some(pairs) if !pairs.is_empty() => free::told_pairs(&pairs, context)?,
                    _ => {
                        let one = word.and_then(|word| fact_of(exercise, word));
                        one.into_iter().collect()
                    }
                };
                Ok(Judgment { word, asks })
            }
            _ => Ok(Judgment::default()),
        }
    }

    /// How a take went that is judged as a whole: by the player's strokes where these are checked, else by a word. Before
    /// that word the player may wish for the next tempo.
    fn word(
        &self,
        sent: &Sent,
        offered: &'static [Choice],
        wish: &mut Option<Wish>,
        context: &mut Context<'_, '_>,
    ) -> Result<Option<Word>, Failure> {
        if let Some(word) = sent.strokes.as_ref().and_then(strokes::word) {
            return Ok(Some(word));
        }
        let steering = self.sink.steering();
        let mut question = "how was it?";
        loop {
            let Some(said) = steering::choose(question, offered, None, steering, context)? else {
                return Ok(None);
            };
            match Wish::NAMES.iter().find(|(name, _)| *name == said) {
                Some((_, said)) => *wish = Some(*said),
                None => return Ok(Word::named(said)),
            }
            question = "good; and how was it?";
        }
    }
}

/// The pace of an exercise so far as a picture, where the log has one; where not, that is said.
fn so_far(
    exercise: &str,
    record: Option<&Record>,
    context: &mut Context<'_, '_>,
) -> Result<Vec<Captioned>, Failure> {
    let points = match record {
        Some(record) => record.log.pace_over_time(&record.player, exercise, PACED)?,
        None => Vec::new(),
    };
    if points.is_empty() {
        if !context.json {
            let why = "the log has no pace of this exercise, so there is none on the sheet\n";
            context.say_rendered(why);
        }
        return Ok(Vec::new());
    }
    Ok(vec![Captioned {
        caption: "Pace so far: beats a minute your hands can do, and the doubt".to_owned(),
        drawing: pace_drawing(&points),
    }])
}

/// What came of the takes so far.
#[derive(Clone, Copy, Default)]
struct Sitting {
    /// How many of how many were right.
    right: usize,
    of: usize,
    /// What the player said of the next tempo.
    wish: Option<Wish>,
}

impl Sitting {
    fn add(&mut self, right: usize, of: usize) {
        self.right += right;
        self.of += of;
    }
}

/// How a take went.
#[derive(Default)]
struct Judgment {
    /// As a whole, where that was judged.
    word: Option<Word>,
    /// What was asked, with what became of it.
    asks: Vec<TakeAsk>,
}

/// Says that a take is in the log, or why it is not.
fn tell_added(
    added: Result<TakeId, LogError>,
    record: &Record,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    match added {
        Ok(id) if !context.json => {
            let (player, number) = (&record.player, id.0);
            writeln!(
                context.streams.err,
                "take {number} of {player} is in the log"
            )?;
        }
        Ok(_) => {}
        Err(e) => tell(&e, "this take is not in it", context),
    }
    Ok(())
}

/// The time of `--for`.
fn drill_time(text: &str) -> Result<Duration, Failure> {
    let length = read_value("--for", text, read_length)?;
    if length.amount() != Amount::Seconds {
        return Err(Failure::new(
            "drill-time",
            format!("a drill is timed in minutes or seconds, found `{text}`"),
            "write `--for 5min`",
        ));
    }
    Ok(Duration::from_millis(length.count()))
}

/// A share in hundredths, such as `80%`.
fn share(text: &str) -> Result<usize, Failure> {
    percent(text)
        .and_then(|share| usize::try_from(share).ok())
        .filter(|share| (1..=100).contains(share))
        .ok_or_else(|| {
            Failure::new(
                "drill-goal",
                format!("a goal is a share from 1% to 100%, found `{text}`"),
                "write `--goal 80%`",
            )
        })
}

/// What the word says of the pace.
fn paced_by(
    exercise: &Exercise,
    word: Word,
    pacing: &Pacing,
    record: &Record,
    context: &mut Context<'_, '_>,
) -> Option<Whole> {
    let mut pace = match pacing.pace(&exercise.name, record) {
        Ok(pace) => pace,
        Err(e) => {
            tell(&e, "the pace is not known", context);
            return None;
        }
    };
    let before = written(&pace);
    let tempo_milli = exercise.piece.tempo.goal_milli();
    pace.record(practice::Take {
        day: Day::new(now().day()),
        tempo: Bpm::clamped(f64::from(tempo_milli) / 1000.0),
        outcome: word,
    });
    if !context.json {
        context.say_rendered(&format!("{}\n", pace_words(&pace)));
    }
    Some(Whole {
        word,
        tempo_milli,
        before,
        after: written(&pace),
    })
}

/// What will be asked, a line each; of an exercise that is judged as a whole its document.
fn show(exercise: &Exercise, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let asks = &exercise.piece.asks;
    if context.json {
        let lines: Vec<_> = asks
            .iter()
            .map(|ask| {
                serde_json::json!({
                    "bar": ask.bar,
                    "text": ask.text,
                    "answer": ask.answer.to_string(),
                    "beats": ask.beats,
                })
            })
            .collect();
        let mut line = serde_json::json!({ "exercise": exercise.name, "asks": lines });
        if asks.is_empty() {
            line["document"] = exercise.piece.to_document().into();
        }
        writeln!(context.streams.out, "{line}")?;
        return Ok(());
    }
    if asks.is_empty() {
        context.show(&exercise.piece.to_document())?;
        return Ok(());
    }
    let width = asks.iter().map(|ask| ask.text.len()).max().unwrap_or(0);
    let lines: Vec<String> = asks
        .iter()
        .map(|ask| format!("bar {:>3}  {:width$}  {}\n", ask.bar, ask.text, ask.answer))
        .collect();
    context.show(&lines.concat())?;
    Ok(())
}
