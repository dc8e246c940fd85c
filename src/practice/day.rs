//! The day of practice, which turns at four in the morning.

/// A day of practice as a whole number. It begins at 4:00 local time, so what is played after midnight still belongs to
/// the evening.
///
/// ```
/// use fivefold::practice::Day;
/// let hour = 3600;
/// // Seconds are counted from a midnight, local time.
/// assert_eq!(Day::of_local_seconds(24 * hour + 3 * hour), Day::new(0));
/// assert_eq!(Day::of_local_seconds(24 * hour + 4 * hour), Day::new(1));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(i64);

/// Seconds from midnight to the turn of the day: four hours.
const TURN_S: i64 = 4 * 3600;
/// Seconds of a day; a day of 23 or 25 hours does not show in local seconds.
const DAY_S: i64 = 24 * 3600;

impl Day {
    /// The day of this number. Any number is a day; 0 begins at 4:00 of the day the local seconds are counted from.
    #[must_use]
    pub const fn new(number: i64) -> Day {
        Day(number)
    }

    /// The day at `seconds` of local time, counted from a midnight; negative before it.
    #[must_use]
    pub const fn of_local_seconds(seconds: i64) -> Day {
        Day(seconds.saturating_sub(TURN_S).div_euclid(DAY_S))
    }

    /// The number of the day; may be negative.
    #[must_use]
    pub const fn number(self) -> i64 {
        self.0
    }

    /// Whole days from `earlier` to this one; 0 where `earlier` is later, as after a clock was set back.
    #[must_use]
    pub fn days_since(self, earlier: Day) -> u32 {
        let days = self.0.saturating_sub(earlier.0).max(0);
        u32::try_from(days).unwrap_or(u32::MAX)
    }

    /// The day `days` after this one; the last day there is where that lies beyond it.
    #[must_use]
    pub fn after(self, days: u32) -> Day {
        Day(self.0.saturating_add(i64::from(days)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_turns_at_four() {
        let at = |day: i64, hour: i64, second: i64| {
            Day::of_local_seconds(day * DAY_S + hour * 3600 + second).number()
        };
        assert_eq!((at(5, 3, 3599), at(5, 4, 0)), (4, 5));
        assert_eq!((at(5, 23, 0), at(6, 2, 0)), (5, 5));
        // Before the epoch too.
        assert_eq!((at(-5, 3, 3599), at(-5, 4, 0)), (-6, -5));
    }

    #[test]
    fn any_second_has_a_day() {
        let first = Day::of_local_seconds(i64::MIN);
        let last = Day::of_local_seconds(i64::MAX);
        assert!(first < last);
        assert_eq!(last.days_since(first), u32::MAX);
        assert_eq!(first.days_since(last), 0);
        assert_eq!(Day::new(i64::MAX).days_since(Day::new(i64::MIN)), u32::MAX);
        assert_eq!(Day::new(i64::MAX).after(9), Day::new(i64::MAX));
    }
}
