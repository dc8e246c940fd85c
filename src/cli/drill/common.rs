//! What all drills share: the neck, the order of chance, where it goes, and how it is played and judged.

use std::time::{Instant, SystemTime, UNIX_EPOCH};

use clap::Args;

use crate::chart::SourceText;
use crate::cli::Context;
use crate::cli::failure::{Failure, read_value};
use crate::cli::options::{Wanted, number};
use crate::cli::record::{LogArguments, Played, Record, tell};
use crate::cli::sink::{self, SinkArguments};
use crate::drill::Exercise;
use crate::log::now;
use crate::neck::{DEFAULT_FRETS, Fret, Neck, Tuning};
use crate::practice::{Day, DueRules, DueToday, Limit, Order, Retention, due};

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
    #[arg(long, conflicts_with_all = ["output", "port", "pedals", "answers"])]
    show: bool,
    /// Take the notes of this MIDI input as answers: a port as for --port
    #[arg(long, value_name = "PORT", conflicts_with = "output")]
    answers: Option<String>,
    #[command(flatten)]
    log: LogArguments,
    #[command(flatten)]
    sink: SinkArguments,
}

impl DrillArguments {
    /// The neck.
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
            None => {
                let now = SystemTime::now().duration_since(UNIX_EPOCH);
                let nanos = now.map_or(1, |now| now.as_nanos());
                // Short enough to be typed again.
                Ok(u64::try_from(nanos % 1_000_000).unwrap_or(1))
            }
        }
    }

    /// The log, to look up what is due and to write the take into; `None` where none is wanted or none can be used.
    pub(super) fn record(&self, context: &mut Context<'_, '_>) -> Result<Option<Record>, Failure> {
        self.log.record(context)
    }

    /// Plays an exercise, or writes it; then shows what was right, and writes it down.
    pub(super) fn send(
        &self,
        mut exercise: Exercise,
        record: Option<Record>,
        context: &mut Context<'_, '_>,
    ) -> Result<(), Failure> {
        let piece = &mut exercise.piece;
        if let Some(text) = &self.count_in {
            let bars = number("count-in", text, 0, 8)?;
            piece.parts.click.count_in = u32::try_from(bars).unwrap_or(1);
        }
        if self.show {
            return show(&piece.asks, context);
        }
        let source = SourceText::new("<drill>", piece.to_document());
        let prepared = Wanted::default().apply(piece.clone(), source.into())?;
        let sink = self.sink.answered_by(self.answers.as_deref());
        let (began, clock) = (now(), Instant::now());
        let sent = sink::send(&prepared, &sink, context)?;
        let seconds = u32::try_from(clock.elapsed().as_secs()).unwrap_or(u32::MAX);
        sent.tell_outcomes(context)?;
        if let (Some(mut record), Some(asking)) = (record, &sent.asking)
            && !asking.judged().is_empty()
        {
            let played = Played {
                exercise: &exercise,
                began,
                seconds,
                judged: asking.judged(),
            };
            match record.add(&played) {
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
        }
        Ok(())
    }
}

/// Which facts are asked, by what is due: those that memory is about to lose, then new ones, in this order. Where
/// nothing is due, all of them.
pub(super) fn due_today<K: Clone>(
    record: Option<&Record>,
    all: Vec<(String, K)>,
    count: usize,
    context: &mut Context<'_, '_>,
) -> Result<Vec<K>, Failure> {
    let every = || all.iter().map(|(_, key)| key.clone()).collect();
    let Some(record) = record else {
        return Ok(every());
    };
    let named = all
        .iter()
        .map(|(name, key)| (name.clone(), (name.clone(), key.clone())));
    let facts = match record.facts(named) {
        Ok(facts) => facts,
        Err(e) => {
            tell(&e, "all of it is asked", context);
            return Ok(every());
        }
    };
    let new = facts.iter().filter(|fact| fact.recall.is_none()).count();
    let rules = DueRules {
        retention: Retention::default(),
        limit: Limit::Count(count),
        order: Order::MostOverdue,
    };
    let day = Day::new(now().day());
    let today = due(facts, day, &rules);
    if !context.json {
        let text = due_words(&today, new, day);
        context.say_rendered(&text);
    }
    if today.asked.is_empty() {
        return Ok(every());
    }
    Ok(today.asked.into_iter().map(|(_, key)| key).collect())
}

/// What is due in a line or two, the facts that wait by name.
fn due_words<K>(today: &DueToday<(String, K)>, new: usize, day: Day) -> String {
    let due = today.asked.len() + today.waiting.len() - new;
    let mut text = format!("{due} due, {new} new");
    if let Some((_, next)) = today.later.first() {
        let days = next.days_since(day);
        let when = if days == 1 {
            "tomorrow".to_owned()
        } else {
            format!("in {days} days")
        };
        text += &format!(", {} later, the next {when}", today.later.len());
    }
    if today.asked.is_empty() {
        text += "; nothing is due, so all are asked";
    }
    text.push('\n');
    if !today.waiting.is_empty() {
        let names: Vec<&str> = today
            .waiting
            .iter()
            .map(|(name, _)| name.as_str())
            .collect();
        text += &format!("these wait: {}\n", names.join("; "));
    }
    text
}

/// What will be asked, a line each.
fn show(asks: &[crate::chart::Ask], context: &mut Context<'_, '_>) -> Result<(), Failure> {
    if context.json {
        let asks: Vec<_> = asks
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
        writeln!(
            context.streams.out,
            "{}",
            serde_json::json!({ "asks": asks })
        )?;
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
