//! Times as people read them.

use crate::time::Nanos;

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_with_and_without_hours() {
        let shown = |ms: u64| clock_time(Nanos::new(ms * 1_000_000));
        assert_eq!(shown(0), "0:00.0");
        assert_eq!(shown(59_960), "1:00.0");
        assert_eq!(shown(3_599_000), "59:59.0");
        assert_eq!(shown(86_400_000), "24:00:00.0");
    }
}
