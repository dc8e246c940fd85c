//! What drills that ask share: how much they ask, and what is asked first.

use std::time::Duration;

use clap::Args;

use super::common::DrillArguments;
use crate::cli::Context;
use crate::cli::failure::Failure;
use crate::cli::options::{number, read_plan};
use crate::cli::record::{Record, tell};
use crate::drill::Exercise;
use crate::log::now;
use crate::practice::{Day, DueToday, Retention, due};
use crate::time::{Meter, TempoPlan};

/// The most that is asked for in a take.
const MOST_ASKS: i64 = 500;

/// How much is asked, and how fast.
#[derive(Args, Clone, Debug, Default)]
pub(super) struct AskArguments {
    /// How many to ask for, 1 to 500; 12 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "12",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    asks: String,
    /// Beats for an answer, 2 to 64; 4 unless said
    #[arg(
        long,
        value_name = "N",
        default_value = "4",
        hide_default_value = true,
        allow_hyphen_values = true
    )]
    beats: String,
    /// Tempo plan, such as 60 or '60 to 80'; 60 unless said
    #[arg(
        long,
        value_name = "PLAN",
        default_value = "60",
        hide_default_value = true
    )]
    tempo: String,
}

/// What may be asked for.
pub(super) struct Things<K> {
    /// Each with the name under which it is remembered.
    pub(super) all: Vec<(String, K)>,
    /// The seed of the first take.
    pub(super) seed: u64,
}

impl AskArguments {
    /// Beats for an answer.
    pub(super) fn beats(&self) -> Result<u32, Failure> {
        let beats = number("beats", &self.beats, 2, 64)?;
        Ok(u32::try_from(beats).unwrap_or(4))
    }

    /// The tempo plan.
    pub(super) fn tempo(&self) -> Result<TempoPlan, Failure> {
        read_plan("--tempo", &self.tempo, &Meter::COMMON)
    }

    /// Plays takes that ask for some of these things. `fitting` is how many can be asked for in a time, and `exercise` asks
    /// for so many, at least, by a seed.
    pub(super) fn play<K: Clone>(
        &self,
        drill: &DrillArguments,
        things: &Things<K>,
        fitting: impl Fn(Duration) -> usize,
        exercise: impl Fn(&[K], usize, u64) -> Result<Exercise, Failure>,
        context: &mut Context<'_, '_>,
    ) -> Result<(), Failure> {
        let asks = number("asks", &self.asks, 1, MOST_ASKS)?;
        let asks = usize::try_from(asks).unwrap_or(1);
        let mut record = drill.record(context)?;
        drill.takes(&mut record, None, context, |turn, context| {
            let asks = turn.left.map_or(asks, &fitting);
            let known = due_today(turn.record, &things.all, asks, context);
            exercise(&known, asks, turn.seed(things.seed))
        })
    }
}

/// Which facts are asked, by what is due: those that memory is about to lose, then new ones, in this order. Where
/// nothing is due, all of them.
fn due_today<K: Clone>(
    record: Option<&Record>,
    all: &[(String, K)],
    count: usize,
    context: &mut Context<'_, '_>,
) -> Vec<K> {
    let every = || all.iter().map(|(_, key)| key.clone()).collect();
    let Some(record) = record else {
        return every();
    };
    let named = all
        .iter()
        .map(|(name, key)| (name.clone(), (name.clone(), key.clone())));
    let facts = match record.facts(named) {
        Ok(facts) => facts,
        Err(e) => {
            tell(&e, "all of it is asked", context);
            return every();
        }
    };
    let new = facts.iter().filter(|fact| fact.recall.is_none()).count();
    let day = Day::new(now().day());
    let today = due(facts, day, Retention::default(), count);
    if !context.json {
        let text = due_words(&today, new, day);
        context.say_rendered(&text);
    }
    if today.asked.is_empty() {
        return every();
    }
    today.asked.into_iter().map(|(_, key)| key).collect()
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
