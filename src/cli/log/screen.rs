//! What `log` shows of a player.

use serde_json::json;

use crate::cli::failure::Failure;
use crate::cli::record::{PACED, Record, pace_drawing};
use crate::diagnostic::counted;
use crate::drill::is_pair;
use crate::log::{
    DayTotal, ExerciseTotal, FactTotal, KeyShare, PaceTrend, Player, TakeRow, TempoPoint, now,
};
use crate::picture::{Captioned, Drawing, PAGE_PT, page_of, signs};
use crate::practice::{Day, Recall, Retention};
use crate::view::{date, hundredths, pace_plot, shown};

/// What is listed of each kind as the weakest.
const WEAKEST: usize = 8;

/// Takes that were judged, by which keys are compared: the newest.
const KEY_TAKES: usize = 1000;

/// All that is shown of a player.
pub(super) struct Screen<'a> {
    player: &'a Player,
    today: i64,
    days: Vec<DayTotal>,
    exercises: Vec<ExerciseTotal>,
    pub(super) takes: Vec<TakeRow>,
    /// What is missed most: notes and degrees, and pairs of chords.
    weakest: Vec<FactTotal>,
    weakest_keys: Vec<KeyShare>,
    /// Facts with the day on which they are due.
    due: Vec<(String, i64)>,
    paces: Vec<(String, Vec<TempoPoint>, Option<PaceTrend>)>,
}

impl<'a> Screen<'a> {
    pub(super) fn read(
        record: &'a Record,
        since: Option<i64>,
        most: usize,
    ) -> Result<Self, Failure> {
        let (log, player) = (&record.log, &record.player);
        let exercises = log.exercises(player, since)?;
        let mut paces = Vec::new();
        for one in &exercises {
            let points = log.pace_over_time(player, &one.exercise, PACED)?;
            if !points.is_empty() {
                let trend = PaceTrend::of(&points);
                paces.push((one.exercise.clone(), points, trend));
            }
        }
        let mut due: Vec<(String, i64)> = log
            .facts(player)?
            .into_iter()
            .map(|(name, known)| {
                let recall =
                    Recall::stored(known.stability_days, known.difficulty, Day::new(known.day));
                (name, recall.due_on(Retention::default()).number())
            })
            .collect();
        due.sort_by_key(|(_, day)| *day);
        Ok(Screen {
            player,
            today: now().day(),
            days: log.days(player, since)?,
            takes: log.takes(player, since, most)?,
            weakest: log.weakest(player, usize::MAX)?,
            weakest_keys: log.weakest_keys(player, KEY_TAKES, WEAKEST)?,
            exercises,
            due,
            paces,
        })
    }

    pub(super) fn json(&self) -> serde_json::Value {
        let due: Vec<_> = self
            .due
            .iter()
            .map(|(fact, day)| json!({"fact": fact, "day": date::text(*day)}))
            .collect();
        let days: Vec<_> = self
            .days
            .iter()
            .map(|d| json!({"day": date::text(d.day), "takes": d.takes, "seconds": d.seconds}))
            .collect();
        let paces: Vec<_> = self
            .paces
            .iter()
            .map(|(exercise, points, trend)| {
                json!({"exercise": exercise, "points": points, "trend": trend})
            })
            .collect();
        json!({
            "version": 1,
            "player": self.player.name(),
            "days": days,
            "exercises": self.exercises,
            "takes": self.takes,
            "weakest": self.weakest,
            "weakest_keys": self.weakest_keys,
            "due": due,
            "pace": paces,
        })
    }

    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        let seconds: i64 = self.days.iter().map(|day| day.seconds).sum();
        let week = self.days.iter().filter(|day| day.day > self.today - 7);
        text += &format!(
            "{}: {} on {}, {} in the last seven\n",
            shown(self.player.name()),
            minutes(seconds),
            counted(self.days.len() as u64, "day"),
            minutes(week.map(|day| day.seconds).sum()),
        );
        text += &self.exercise_lines();
        for (exercise, points, trend) in &self.paces {
            text += &format!("\npace, {}\n{}", shown(exercise), pace_plot(points));
            text += &trend_words(*trend);
        }
        text += &self.due_lines();
        text += &self.weakest_lines();
        if !self.takes.is_empty() {
            text += "\nlast takes\n";
            for take in &self.takes {
                text += &take_line(take);
            }
        }
        text
    }

    /// The pace of each exercise over time.
    pub(super) fn picture(&self) -> Result<Drawing, Failure> {
        if self.paces.is_empty() {
            let name = shown(self.player.name());
            let message = format!("no take of {name} has a tempo yet, so there is no pace to draw");
            let help = "practice with a tempo first, such as `fivefold drill changes`";
            return Err(Failure::new("log-no-pace", message, help));
        }
        let captioned =
            |(exercise, points, _): &(String, Vec<TempoPoint>, Option<PaceTrend>)| Captioned {
                caption: signs(exercise),
                drawing: pace_drawing(points),
            };
        let drawings: Vec<Captioned> = self.paces.iter().map(captioned).collect();
        let title = format!("Pace of {}", self.player.name());
        let about = "beats a minute the hands can do after each take; the band is the doubt";
        Ok(page_of(&title, about, &drawings, PAGE_PT / 1.4))
    }

    fn exercise_lines(&self) -> String {
        let mut text = String::new();
        for one in &self.exercises {
            text += &format!(
                "  {}: {}, {}",
                shown(&one.exercise),
                counted(u64::from(one.takes), "take"),
                minutes(one.seconds)
            );
            if one.asked > 0 {
                text += &format!(", {} of {} right", one.right, one.asked);
            }
            text.push('\n');
        }
        text
    }

    /// What goes worst, in three lists, each of at most [`WEAKEST`].
    fn weakest_lines(&self) -> String {
        let missed = |pairs: bool| {
            let facts = self.weakest.iter();
            let facts = facts.filter(|fact| is_pair(&fact.fact) == pairs);
            let line = |fact: &FactTotal| {
                let FactTotal {
                    reviews, failed, ..
                } = fact;
                format!("  {}: {failed} of {reviews} missed\n", shown(&fact.fact))
            };
            facts.take(WEAKEST).map(line).collect::<String>()
        };
        let keys = self.weakest_keys.iter().map(|key| {
            let KeyShare { takes, clean, .. } = key;
            format!("  {}: {clean} of {takes} clean\n", shown(&key.key))
        });
        let lists = [
            ("notes and degrees", missed(false)),
            ("pairs of chords", missed(true)),
            ("keys", keys.collect()),
        ];
        let lists = lists.iter().filter(|(_, lines)| !lines.is_empty());
        lists
            .map(|(of, lines)| format!("\nweakest {of}\n{lines}"))
            .collect()
    }

    fn due_lines(&self) -> String {
        if self.due.is_empty() {
            return String::new();
        }
        let now: Vec<&str> = self
            .due
            .iter()
            .filter(|(_, day)| *day <= self.today)
            .map(|(fact, _)| fact.as_str())
            .collect();
        let tomorrow = self
            .due
            .iter()
            .filter(|(_, day)| *day == self.today + 1)
            .count();
        let later = self.due.len() - now.len() - tomorrow;
        let mut text = format!(
            "\ndue: {} now, {tomorrow} tomorrow, {later} later\n",
            now.len()
        );
        if !now.is_empty() {
            text += &format!("  {}\n", shown(&now.join("; ")));
        }
        text
    }
}

fn trend_words(trend: Option<PaceTrend>) -> String {
    match trend {
        None => "  no trend yet: it takes eight takes on several days\n".to_owned(),
        Some(trend) if trend.certain => format!(
            "  {:+.1} a week, give or take {:.1}\n",
            trend.per_week,
            2.0 * trend.error
        ),
        Some(trend) => format!(
            "  no sure trend: {:+.1} a week, give or take {:.1}\n",
            trend.per_week,
            2.0 * trend.error
        ),
    }
}

fn take_line(take: &TakeRow) -> String {
    let mut text = format!(
        "  {:>4}  {}  {}",
        take.id.0,
        date::text(take.day),
        shown(&take.exercise)
    );
    if let Some(tempo) = take.tempo_milli {
        text += &format!(", {}", hundredths(u64::from(tempo)));
    }
    if take.asked > 0 {
        text += &format!(", {} of {}", take.right, take.asked);
    }
    if let Some(word) = take.word {
        text += &format!(", {}", word.name());
    }
    if take.withdrawn {
        text += ", withdrawn";
    }
    text.push('\n');
    text
}

fn minutes(seconds: i64) -> String {
    match (seconds + 30) / 60 {
        0 if seconds > 0 => "less than a minute".to_owned(),
        1 => "1 minute".to_owned(),
        n => format!("{n} minutes"),
    }
}
