//! What is due: the facts that memory is about to lose, then new ones.

use super::day::Day;
use super::memory::{Grade, Memory};
use super::units::Retention;

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

/// Picks at most so many facts to ask today: those that are due, which is once their retrievability is no more than
/// `retention`, the lowest first, then new ones in the order given.
///
/// Facts of equal retrievability, and facts due on one later day, keep the order given. A last review in the future, as
/// after a clock was set back, counts as one of today.
///
/// ```
/// use fivefold::practice::{Day, Fact, Grade, Recall, Retention, due};
/// let seen = |key, grade| Fact { key, recall: Some(Recall::first(Day::new(0), grade)) };
/// let new = Fact { key: "C", recall: None };
/// let facts = vec![new, seen("E", Grade::Good), seen("A", Grade::Again), seen("D", Grade::Easy)];
/// // After a good first answer a fact is due in 2.3 days, after an easy one in 8.3.
/// let today = due(facts, Day::new(3), Retention::default(), 2);
/// assert_eq!(today.asked, ["A", "E"]);
/// assert_eq!(today.waiting, ["C"]);
/// assert_eq!(today.later, [("D", Day::new(9))]);
/// ```
pub fn due<K>(
    facts: impl IntoIterator<Item = Fact<K>>,
    today: Day,
    retention: Retention,
    most: usize,
) -> DueToday<K> {
    let (mut overdue, mut new, mut later) = (Vec::new(), Vec::new(), Vec::new());
    for Fact { key, recall } in facts {
        match recall {
            None => new.push(key),
            Some(recall) => {
                let day = recall.due_on(retention);
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
    let waiting = asked.split_off(most.min(asked.len()));
    DueToday {
        asked,
        waiting,
        later,
    }
}

#[cfg(test)]
mod tests;
