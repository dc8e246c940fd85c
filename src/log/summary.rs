//! What was practiced and how it went, in a few numbers.

use std::collections::BTreeMap;

use rusqlite::params;
use serde::Serialize;

use super::take::{Moment, TakeId};
use super::{Log, LogError, Player};
use crate::practice::Outcome;

/// The fewest takes of which a trend is claimed.
const FEWEST: usize = 8;

/// What was practiced on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct DayTotal {
    /// The local day, 0 the first of January 1970.
    pub day: i64,
    /// How many takes.
    pub takes: u32,
    /// How long they lasted, in seconds.
    pub seconds: i64,
}

/// What was practiced of an exercise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExerciseTotal {
    /// Its name, as takes have it.
    pub exercise: String,
    /// How many takes.
    pub takes: u32,
    /// How long they lasted, in seconds.
    pub seconds: i64,
    /// The last local day.
    pub last_day: i64,
    /// Asks whose outcome counts.
    pub asked: i64,
    /// How many of these were right.
    pub right: i64,
}

/// How a fact goes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FactTotal {
    /// The name under which it is remembered, such as `G on string 6`.
    pub fact: String,
    /// How often it was asked.
    pub reviews: u32,
    /// How often the answer was wrong or missing.
    pub failed: u32,
}

/// How long a key was practiced.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeyTotal {
    /// The key, such as `A minor`.
    pub key: String,
    /// How long, in milliseconds.
    pub milliseconds: u64,
}

/// How often takes in a key were clean.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeyShare {
    /// The key, such as `A minor`.
    pub key: String,
    /// Takes in it that were judged as a whole.
    pub takes: u32,
    /// How many of these were clean.
    pub clean: u32,
}

/// The pace after a take.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TempoPoint {
    /// The number of the take.
    pub id: TakeId,
    /// When the take began.
    pub began: Moment,
    /// The local day of the take, 0 the first of January 1970.
    pub day: i64,
    /// The tempo the hands could do after it, in beats a minute.
    pub can: f64,
    /// To either side of it lies the truth, with a chance of four in five.
    pub doubt: f64,
}

/// How the pace changes, by the straight line through it over the days (least squares).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PaceTrend {
    /// Beats a minute more each week.
    pub per_week: f64,
    /// Its standard error.
    pub error: f64,
    /// Whether it is beyond two standard errors: otherwise it may be chance.
    pub certain: bool,
}

impl PaceTrend {
    /// The trend of points; `None` of fewer than eight, and where all are of one day.
    #[must_use]
    pub fn of(points: &[TempoPoint]) -> Option<PaceTrend> {
        if points.len() < FEWEST {
            return None;
        }
        #[allow(clippy::cast_precision_loss)] // days and takes of a life
        let (n, first) = (points.len() as f64, points[0].day);
        #[allow(clippy::cast_precision_loss)]
        let week = |point: &TempoPoint| (point.day - first) as f64 / 7.0;
        let mean_x = points.iter().map(week).sum::<f64>() / n;
        let mean_y = points.iter().map(|p| p.can).sum::<f64>() / n;
        let square = |x: f64| x * x;
        let spread: f64 = points.iter().map(|p| square(week(p) - mean_x)).sum();
        if spread <= 0.0 {
            return None;
        }
        let both = points.iter().map(|p| (week(p) - mean_x) * (p.can - mean_y));
        let per_week = both.sum::<f64>() / spread;
        let rest = |p: &TempoPoint| square(p.can - mean_y - per_week * (week(p) - mean_x));
        let rest: f64 = points.iter().map(rest).sum();
        let error = (rest / (n - 2.0) / spread).sqrt();
        Some(PaceTrend {
            per_week,
            error,
            certain: per_week.abs() > 2.0 * error,
        })
    }
}

impl Log {
    /// The days on which a player practiced since a day, the newest first.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn days(&self, player: &Player, since: Option<i64>) -> Result<Vec<DayTotal>, LogError> {
        let query = "SELECT day, takes, seconds FROM days
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND day >= ? AND takes > 0
                     ORDER BY day DESC";
        let since = since.unwrap_or(i64::MIN);
        self.rows(query, params![player.name(), since], |row| {
            Ok(DayTotal {
                day: row.get(0)?,
                takes: row.get(1)?,
                seconds: row.get(2)?,
            })
        })
    }

    /// The exercises that a player took since a day, the most practiced first.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn exercises(
        &self,
        player: &Player,
        since: Option<i64>,
    ) -> Result<Vec<ExerciseTotal>, LogError> {
        let query = "SELECT exercise, sum(takes), sum(seconds), max(day), sum(asked), sum(right) FROM sums
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND day >= ? AND takes > 0
                     GROUP BY exercise ORDER BY sum(seconds) DESC, exercise";
        let since = since.unwrap_or(i64::MIN);
        self.rows(query, params![player.name(), since], |row| {
            Ok(ExerciseTotal {
                exercise: row.get(0)?,
                takes: row.get(1)?,
                seconds: row.get(2)?,
                last_day: row.get(3)?,
                asked: row.get(4)?,
                right: row.get(5)?,
            })
        })
    }

    /// How long a player practiced each key over a set, by the alphabet. The set is named without its root, such as `minor
    /// pentatonic`. The time of a take in several keys is shared among them evenly; takes without a key do not count.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn practiced(&self, player: &Player, set: &str) -> Result<Vec<KeyTotal>, LogError> {
        // A set is stored with its root, which has no space in it.
        let query = "SELECT key, sum(seconds) FROM takes
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND key IS NOT NULL AND NOT withdrawn
                       AND substr(set_name, instr(set_name, ' ') + 1) = ?
                     GROUP BY key";
        let rows = self.rows(query, params![player.name(), set], |row| {
            let row: (String, i64) = (row.get(0)?, row.get(1)?);
            Ok(row)
        })?;
        let mut totals: BTreeMap<String, u64> = BTreeMap::new();
        for (keys, seconds) in rows {
            let keys: Vec<&str> = keys.split(", ").collect();
            let seconds = u64::try_from(seconds).unwrap_or(0);
            let each = seconds.saturating_mul(1000) / keys.len().max(1) as u64;
            for key in keys {
                *totals.entry(key.to_owned()).or_default() += each;
            }
        }
        let totals = totals.into_iter();
        Ok(totals
            .map(|(key, milliseconds)| KeyTotal { key, milliseconds })
            .collect())
    }

    /// The facts that a player failed most often, those that were asked at least twice, at most so many.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn weakest(&self, player: &Player, most: usize) -> Result<Vec<FactTotal>, LogError> {
        let query = "SELECT fact, reviews, failed FROM facts
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND failed > 0 AND reviews > 1
                     ORDER BY 1.0 * failed / reviews DESC, failed DESC, fact LIMIT ?";
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        self.rows(query, params![player.name(), most], |row| {
            Ok(FactTotal {
                fact: row.get(0)?,
                reviews: row.get(1)?,
                failed: row.get(2)?,
            })
        })
    }

    /// The keys in which takes were least often clean, by the newest takes that were judged as a whole, so many of them;
    /// keys of at least two takes, at most `most`, none that was always clean. A take in several keys counts for each.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn weakest_keys(
        &self,
        player: &Player,
        newest: usize,
        most: usize,
    ) -> Result<Vec<KeyShare>, LogError> {
        let query = "SELECT key, word FROM takes
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND NOT withdrawn
                       AND word IS NOT NULL AND key IS NOT NULL
                     ORDER BY id DESC LIMIT ?";
        let newest = i64::try_from(newest).unwrap_or(i64::MAX);
        let rows = self.rows(query, params![player.name(), newest], |row| {
            let row: (String, String) = (row.get(0)?, row.get(1)?);
            Ok(row)
        })?;
        let mut shares: BTreeMap<&str, KeyShare> = BTreeMap::new();
        for (keys, word) in &rows {
            for key in keys.split(", ") {
                let share = shares.entry(key).or_insert_with(|| KeyShare {
                    key: key.to_owned(),
                    takes: 0,
                    clean: 0,
                });
                share.takes += 1;
                share.clean += u32::from(word == Outcome::Clean.name());
            }
        }
        let mut weak: Vec<KeyShare> = shares.into_values().collect();
        weak.retain(|key| key.takes > 1 && key.clean < key.takes);
        // By clean / takes, without a division.
        weak.sort_by_key(|key| std::cmp::Reverse(key.takes));
        weak.sort_by(|a, b| (a.clean * b.takes).cmp(&(b.clean * a.takes)));
        weak.truncate(most);
        Ok(weak)
    }

    /// The pace of a player in an exercise, take by take, the oldest first; at most the last so many.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn pace_over_time(
        &self,
        player: &Player,
        exercise: &str,
        most: usize,
    ) -> Result<Vec<TempoPoint>, LogError> {
        let query = "SELECT id, began, utc_offset, day, can_after, doubt_after FROM takes
                     WHERE player = (SELECT id FROM players WHERE name = ?) AND exercise = ? AND NOT withdrawn
                       AND can_after IS NOT NULL AND doubt_after IS NOT NULL
                     ORDER BY id DESC LIMIT ?";
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let mut rows = self.rows(query, params![player.name(), exercise, most], |row| {
            Ok(TempoPoint {
                id: TakeId(row.get(0)?),
                began: Moment {
                    unix_seconds: row.get(1)?,
                    offset_seconds: row.get(2)?,
                },
                day: row.get(3)?,
                can: row.get(4)?,
                doubt: row.get(5)?,
            })
        })?;
        rows.reverse();
        Ok(rows)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(cans: &[f64]) -> Vec<TempoPoint> {
        let began = Moment {
            unix_seconds: 0,
            offset_seconds: 0,
        };
        (0i64..)
            .zip(cans)
            .map(|(day, can)| TempoPoint {
                id: TakeId(day),
                began,
                day,
                can: *can,
                doubt: 4.0,
            })
            .collect()
    }

    #[test]
    fn a_trend_by_the_normal_equations() {
        // Slope and its standard error by numpy 2.4.6: polyfit(arange(8) / 7, y, 1, cov=True).
        let trend = PaceTrend::of(&points(&[80.0, 82.0, 81.0, 83.0, 84.0, 84.0, 86.0, 87.0]));
        let trend = trend.unwrap();
        assert!(
            (trend.per_week - 6.583333333333277).abs() < 1e-9,
            "{trend:?}"
        );
        assert!((trend.error - 0.7280745790045066).abs() < 1e-9, "{trend:?}");
        assert!(trend.certain);
    }

    #[test]
    fn nothing_is_claimed_of_few_takes_or_of_one_day() {
        assert_eq!(PaceTrend::of(&points(&[80.0; 7])), None);
        let mut same = points(&[80.0; 9]);
        same.iter_mut().for_each(|point| point.day = 3);
        assert_eq!(PaceTrend::of(&same), None);
        // No change at all is no trend.
        assert!(!PaceTrend::of(&points(&[80.0; 9])).unwrap().certain);
    }
}
