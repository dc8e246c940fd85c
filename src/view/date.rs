//! Dates, by the number of a day.

/// The first of January 1970 is day 0; the era of 400 years that holds it begins so many days before (from the first of
/// March 0000).
const ERA_OFFSET: i64 = 719_468;

/// Days of 400 years of the Gregorian calendar.
const ERA_DAYS: i64 = 146_097;

/// A day as `2026-11-28` (ISO 8601). Day 0 is the first of January 1970.
///
/// The sums count years from March, so that the leap day comes last (common practice for calendars in whole numbers).
pub(crate) fn text(day: i64) -> String {
    let day = day.clamp(-700_000, 2_900_000) + ERA_OFFSET;
    let (era, of_era) = (day.div_euclid(ERA_DAYS), day.rem_euclid(ERA_DAYS));
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * of_year + 2) / 153;
    let of_month = of_year - (153 * month + 2) / 5 + 1;
    let (month, later) = if month < 10 {
        (month + 3, 0)
    } else {
        (month - 9, 1)
    };
    let year = year_of_era + era * 400 + later;
    format!("{year:04}-{month:02}-{of_month:02}")
}

/// The day of a date as it is written by [`text`]; `None` for anything else.
pub(crate) fn read(text_of_day: &str) -> Option<i64> {
    let mut parts = text_of_day.split('-');
    let mut number = |digits: usize| {
        let part = parts.next()?;
        let plain = part.len() == digits && part.bytes().all(|b| b.is_ascii_digit());
        plain.then(|| part.parse::<i64>().ok()).flatten()
    };
    let (year, month, of_month) = (number(4)?, number(2)?, number(2)?);
    let (year, month) = if month > 2 {
        (year, month - 3)
    } else {
        (year - 1, month + 9)
    };
    let (era, year_of_era) = (year.div_euclid(400), year.rem_euclid(400));
    let of_year = (153 * month + 2) / 5 + of_month - 1;
    let of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + of_year;
    let day = era * ERA_DAYS + of_era - ERA_OFFSET;
    // A 31st of February is no date.
    (text(day) == text_of_day).then_some(day)
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
