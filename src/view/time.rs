//! Times and tempi as people read them.

use crate::time::{Nanos, Tempo};

/// `1:02.5`: minutes, seconds and tenths; with hours where there are any. Rounded to the nearest tenth.
///
/// ```
/// use fivefold::time::Nanos;
/// assert_eq!(fivefold::view::clock_time(Nanos::new(62_540_000_000)), "1:02.5");
/// ```
pub fn clock_time(at: Nanos) -> String {
    let tenths = (at.get() + 50_000_000) / 100_000_000;
    let (seconds, tenth) = (tenths / 10, tenths % 10);
    let (minutes, second) = (seconds / 60, seconds % 60);
    if minutes < 60 {
        format!("{minutes}:{second:02}.{tenth}")
    } else {
        format!("{}:{:02}:{second:02}.{tenth}", minutes / 60, minutes % 60)
    }
}

/// A number of thousandths to the nearest hundredth, without noughts behind it: `72`, `73.86`.
pub(crate) fn hundredths(thousandths: u64) -> String {
    let hundredths = thousandths.saturating_add(5) / 10;
    let text = format!("{}.{:02}", hundredths / 100, hundredths % 100);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A tempo in beats a minute, to the nearest hundredth, where a beat is `unit_ticks` ticks (960: quarter notes).
///
/// ```
/// use fivefold::time::Tempo;
/// assert_eq!(fivefold::view::tempo_text(Tempo::new(833_333)?, 960), "72");
/// # Ok::<(), fivefold::time::TempoError>(())
/// ```
pub fn tempo_text(tempo: Tempo, unit_ticks: u64) -> String {
    hundredths(tempo.milli_a_minute(unit_ticks))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tempi_to_the_hundredth() {
        let shown = |us, unit| tempo_text(Tempo::new(us).unwrap(), unit);
        assert_eq!(shown(833_333, 960), "72");
        assert_eq!(shown(833_333, 1440), "48");
        assert_eq!(shown(812_345, 960), "73.86");
        assert_eq!(shown(800_000, 480), "150");
        assert_eq!(shown(827_586, 960), "72.5");
        assert_eq!(shown(1, 1), "57600000000");
    }

    #[test]
    fn times_with_and_without_hours() {
        let shown = |ms: u64| clock_time(Nanos::new(ms * 1_000_000));
        assert_eq!(shown(0), "0:00.0");
        assert_eq!(shown(59_960), "1:00.0");
        assert_eq!(shown(3_599_000), "59:59.0");
        assert_eq!(shown(86_400_000), "24:00:00.0");
    }
}
