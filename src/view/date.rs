//! Dates, by the number of a day.

use jiff::civil::{Date, date};
use jiff::{Span, Unit};

/// The date of day 0.
const FIRST: Date = date(1970, 1, 1);

/// A day as `2026-11-28` (ISO 8601). Day 0 is the first of January 1970; a day outside the calendar's 20 000 years is shown
/// as its first or last.
pub(crate) fn text(day: i64) -> String {
    let span = Span::new().try_days(day);
    let found = span.and_then(|days| FIRST.checked_add(days));
    let nearest = if day < 0 { Date::MIN } else { Date::MAX };
    found.unwrap_or(nearest).to_string()
}

/// The day of a date as it is written by [`text`]; `None` for anything else.
pub(crate) fn read(text_of_day: &str) -> Option<i64> {
    let found: Date = text_of_day.parse().ok()?;
    let days = FIRST.until((Unit::Day, found)).ok()?.get_days();
    // Other ways of writing a date are read as well, and are not ours.
    (text(i64::from(days)) == text_of_day).then_some(i64::from(days))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_by_another_library() {
        // datetime.date.fromordinal(719163 + n).isoformat() of Python 3.
        for (day, date) in [
            (0, "1970-01-01"),
            (-1, "1969-12-31"),
            (58, "1970-02-28"),
            (59, "1970-03-01"),
            (11_016, "2000-02-29"),
            (20_785, "2026-11-28"),
            (47_541, "2100-03-01"),
        ] {
            assert_eq!(text(day), date);
            assert_eq!(read(date), Some(day));
        }
        for no in [
            "2026-02-30",
            "2026-13-01",
            "2026-1-1",
            "today",
            "2026-11-28-1x",
            "",
        ] {
            assert_eq!(read(no), None, "{no}");
        }
    }

    #[test]
    fn all_days_come_back() {
        for day in (-20_000..60_000).step_by(7) {
            assert_eq!(read(&text(day)), Some(day));
        }
    }
}
