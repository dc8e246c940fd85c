//! What is due: the facts that memory is about to lose, then new ones.

use std::num::NonZeroU32;

use super::day::Day;
use super::memory::{Grade, Memory};
use super::units::Retention;
use crate::generate::Chance;

/// The memory of one fact and the day of its last review.
///
/// Days are whole, so a fact that is asked twice on a day has an elapsed time of 0 the second time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recall {
    memory: Memory,
    last: Day,
}

impl Recall {
    /// After the first review.
    #[must_use]
    pub fn first(day: Day, grade: Grade) -> Recall {
        Recall {
            memory: Memory::first(grade),
            last: day,
        }
    }

    /// After a later review. A `day` before the last one, as after a clock was set back, counts as the same day; the
    /// next elapsed time is counted from `day`.
    #[must_use]
    pub fn reviewed(self, day: Day, grade: Grade) -> Recall {
        Recall {
            memory: self.memory.reviewed(self.elapsed_days(day), grade),
            last: day,
        }
    }

    /// As it was stored: what [`Recall::memory`] and [`Recall::last`] said. Numbers out of range are brought into it.
    #[must_use]
    pub fn stored(stability_days: f64, difficulty: f64, last: Day) -> Recall {
        Recall {
            memory: Memory::stored(stability_days, difficulty),
            last,
        }
    }

    /// After a list of reviews in order; `None` where it is empty.
    pub fn replay(reviews: impl IntoIterator<Item = (Day, Grade)>) -> Option<Recall> {
        reviews
            .into_iter()
            .fold(None, |recall, (day, grade)| match recall {
                None => Some(Recall::first(day, grade)),
                Some(before) => Some(Recall::reviewed(before, day, grade)),
            })
    }

    /// What was left after the last review.
    #[must_use]
    pub const fn memory(self) -> Memory {
        self.memory
    }

    /// The day of the last review.
    #[must_use]
    pub const fn last(self) -> Day {
        self.last
    }

    /// The probability that the fact is still known on a day, 0 to 1; 1 on the day of the last review or before.
    #[must_use]
    pub fn retrievability(self, on: Day) -> f64 {
        self.memory.retrievability(self.elapsed_days(on))
    }

    /// The first day on which the probability is no more than `retention`; at least a day after the last review.
    #[must_use]
    pub fn due_on(self, retention: Retention) -> Day {
        // The cast saturates: an interval of more than 4 billion days is as good as never.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let days = self.memory.interval_days(retention).ceil().max(1.0) as u32;
        self.last.after(days)
    }

    fn elapsed_days(self, on: Day) -> f64 {
        f64::from(on.days_since(self.last))
    }
}

/// A fact that can be asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact<K> {
    /// What names the fact, such as a string and a root; not looked at here.
    pub key: K,
    /// Its memory; `None` where it was never asked.
    pub recall: Option<Recall>,
}

/// How much is asked on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    /// At most so many facts.
    Count(usize),
    /// As many facts as fit whole into the time there is.
    Time {
        /// Seconds there are.
        available_s: u32,
        /// Seconds one fact takes.
        each_s: NonZeroU32,
    },
}

impl Limit {
    fn count(self) -> usize {
        match self {
            Limit::Count(count) => count,
            Limit::Time {
                available_s,
                each_s,
            } => usize::try_from(available_s / each_s).unwrap_or(usize::MAX),
        }
    }
}

/// In which order the facts of a day are asked. Which facts they are does not depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Order {
    /// The most overdue first, then new ones.
    #[default]
    MostOverdue,
    /// Mixed at random, old and new; the same for the same seed and day.
    Interleaved {
        /// Any number.
        seed: u64,
    },
}

/// What decides how many facts are asked, and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DueRules {
    /// A fact is due once its retrievability is no more than this.
    pub retention: Retention,
    /// How much is asked on a day.
    pub limit: Limit,
    /// In which order.
    pub order: Order,
}

/// What is asked today, and where the rest went: each fact is in exactly one of the three lists.
#[derive(Clone, Debug, PartialEq)]
pub struct DueToday<K> {
    /// Asked today, in this order.
    pub asked: Vec<K>,
    /// Due or new, but beyond today's limit; what should come next is first.
    pub waiting: Vec<K>,
    /// Not due yet, with the day on which it will be; the soonest first.
    pub later: Vec<(K, Day)>,
}

/// Picks what is asked today: facts that are due, the one with the lowest retrievability first, then new ones in the
/// order given.
///
/// Facts of equal retrievability, and facts due on one later day, keep the order given. A last review in the future, as
/// after a clock was set back, counts as one of today.
///
/// ```
/// use fivefold::practice::{Day, DueRules, Fact, Grade, Order, Recall, Retention, Limit, due};
/// let seen = |key, grade| Fact { key, recall: Some(Recall::first(Day::new(0), grade)) };
/// let new = Fact { key: "C", recall: None };
/// let facts = vec![new, seen("E", Grade::Good), seen("A", Grade::Again), seen("D", Grade::Easy)];
/// let rules = DueRules {
///     retention: Retention::default(),
///     limit: Limit::Count(2),
///     order: Order::MostOverdue,
/// };
/// // After a good first answer a fact is due in 2.3 days, after an easy one in 8.3.
/// let today = due(facts, Day::new(3), &rules);
/// assert_eq!(today.asked, ["A", "E"]);
/// assert_eq!(today.waiting, ["C"]);
/// assert_eq!(today.later, [("D", Day::new(9))]);
/// ```
pub fn due<K>(
    facts: impl IntoIterator<Item = Fact<K>>,
    today: Day,
    rules: &DueRules,
) -> DueToday<K> {
    let (mut overdue, mut new, mut later) = (Vec::new(), Vec::new(), Vec::new());
    for Fact { key, recall } in facts {
        match recall {
            None => new.push(key),
            Some(recall) => {
                let day = recall.due_on(rules.retention);
                if day <= today {
                    overdue.push((recall.retrievability(today), key));
                } else {
                    later.push((key, day));
                }
            }
        }
    }
    overdue.sort_by(|a, b| a.0.total_cmp(&b.0));
    later.sort_by_key(|(_, day)| *day);
    let mut asked: Vec<K> = overdue.into_iter().map(|(_, key)| key).chain(new).collect();
    let waiting = asked.split_off(rules.limit.count().min(asked.len()));
    if let Order::Interleaved { seed } = rules.order {
        shuffle(&mut asked, seed, today);
    }
    DueToday {
        asked,
        waiting,
        later,
    }
}

/// Fisher and Yates's shuffle: every order is as likely.
fn shuffle<K>(keys: &mut [K], seed: u64, today: Day) {
    let mut chance = Chance::new(seed, "due", "order", today.number().cast_unsigned(), 0);
    for place in (1..keys.len()).rev() {
        let other = chance.below(place as u64 + 1);
        keys.swap(place, usize::try_from(other).unwrap_or(place));
    }
}

#[cfg(test)]
mod tests;
