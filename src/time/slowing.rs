//! The ritardando: how a piece slows down before its last bar.

use std::fmt;

use crate::diagnostic::{Diagnostic, counted};

/// Most bars a ritardando takes.
const MOST_BARS: u8 = 8;
/// The slowest and the quickest tempo it comes to, in percent.
const PERCENT: std::ops::RangeInclusive<u8> = 30..=95;
/// What it comes to where nothing is said: common practice, a little above half.
const USUAL_PERCENT: u8 = 60;

/// A ritardando before the last bar: over how many bars, and to which share of the tempo before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ritardando {
    bars: u8,
    percent: u8,
}

impl Ritardando {
    /// Over `bars` bars (1 to 8), to `percent` (30 to 95) of the tempo before it; `None` outside these.
    pub fn new(bars: u8, percent: u8) -> Option<Self> {
        let within = (1..=MOST_BARS).contains(&bars) && PERCENT.contains(&percent);
        within.then_some(Ritardando { bars, percent })
    }

    /// Reads `1 bar`, `2 bars` or `2 bars to 60%`.
    ///
    /// # Errors
    /// When the text is nothing of the kind, or a number lies outside the bounds of [`Ritardando::new`].
    pub fn read(text: &str) -> Result<Self, RitardandoError> {
        let wrong = || RitardandoError(text.trim().to_owned());
        let lower = text.to_ascii_lowercase().replace('%', " % ");
        let words: Vec<&str> = lower.split_ascii_whitespace().collect();
        let (bars, percent) = match words[..] {
            [bars, "bar" | "bars"] => (bars, None),
            [bars, "bar" | "bars", "to", percent, "%"] => (bars, Some(percent)),
            _ => return Err(wrong()),
        };
        let bars = bars.parse().map_err(|_| wrong())?;
        let percent = percent.map_or(Ok(USUAL_PERCENT), str::parse);
        Ritardando::new(bars, percent.map_err(|_| wrong())?).ok_or_else(wrong)
    }

    /// Bars it takes, 1 to 8.
    pub const fn bars(&self) -> u8 {
        self.bars
    }

    /// Percent of the tempo before it that it comes to, 30 to 95.
    pub const fn percent(&self) -> u8 {
        self.percent
    }
}

impl fmt::Display for Ritardando {
    /// As [`Ritardando::read`] reads it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} to {}%",
            counted(u64::from(self.bars), "bar"),
            self.percent
        )
    }
}

/// A text that says no ritardando.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a ritardando takes 1 to 8 bars and comes to 30% to 95% of the tempo, found `{0}`")]
pub struct RitardandoError(String);

impl Diagnostic for RitardandoError {
    fn code(&self) -> &'static str {
        "document-ritardando"
    }

    fn help(&self) -> String {
        format!("write `2 bars`, or `2 bars to {USUAL_PERCENT}%`")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_read_is_what_is_printed() {
        for bars in 0..=9 {
            for percent in 0..=100 {
                let text = format!("{bars} bars to {percent}%");
                let inside = (1..=8).contains(&bars) && (30..=95).contains(&percent);
                let read = Ritardando::read(&text);
                assert_eq!(read.is_ok(), inside, "{text}");
                if let Ok(read) = read {
                    assert_eq!(Ritardando::read(&read.to_string()), Ok(read));
                }
            }
        }
        let usual = Ritardando::read(" 1 BAR ").unwrap();
        assert_eq!((usual.bars(), usual.percent()), (1, 60));
        for wrong in [
            "",
            "2",
            "bars",
            "2 bars to",
            "2 bars to 60",
            "2 beats",
            "-1 bars",
            "2 bars to 60% %",
            "999 bars",
        ] {
            assert!(Ritardando::read(wrong).is_err(), "{wrong}");
        }
    }
}
