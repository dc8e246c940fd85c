//! A line for each bar, and what they come to in the end.

use std::fmt;

use serde::Serialize;

use crate::diagnostic::counted;
use crate::time::Nanos;
use crate::view::time::clock_time;

/// A bar that begins, in one line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BarLine {
    /// The bar, from 1.
    pub bar: i64,
    /// How many there are; `None` without end.
    pub of: Option<u64>,
    /// The section, where one of several begins.
    pub section: Option<String>,
    /// The pass of the form, from 1, where one of several begins.
    pub pass: Option<u64>,
    /// The chords of the bar, in order; where none is played, it has none.
    pub chords: Vec<String>,
    /// The tempo, in thousandths of what it counts a minute.
    pub tempo_milli: u64,
    /// The key it sounds in, such as `A minor`; `None` in a piece without one.
    pub key: Option<String>,
}

impl fmt::Display for BarLine {
    /// `bar 5 of 32, verse, pass 2: Am, F; 72, A minor`, the tempo rounded.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "bar {}", self.bar)?;
        if let Some(of) = self.of {
            write!(f, " of {of}")?;
        }
        if let Some(section) = &self.section {
            write!(f, ", {section}")?;
        }
        if let Some(pass) = self.pass {
            write!(f, ", pass {pass}")?;
        }
        if !self.chords.is_empty() {
            write!(f, ": {}", self.chords.join(", "))?;
        }
        write!(f, "; {}", whole(self.tempo_milli))?;
        if let Some(key) = &self.key {
            write!(f, ", {key}")?;
        }
        Ok(())
    }
}

/// Thousandths, rounded to a whole number.
pub(in crate::view) fn whole(milli: u64) -> u64 {
    milli.saturating_add(500) / 1000
}

/// What was heard of a piece, for the account at its end.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BarTally {
    /// Bars that began, those of count-ins left out.
    pub bars: u64,
    /// The highest tempo at a bar line, in thousandths of what it counts a minute.
    pub fastest_milli: u64,
    /// The keys in the order in which they were first heard.
    pub keys: Vec<String>,
}

impl BarTally {
    /// Takes in a bar that begins.
    pub fn note(&mut self, line: &BarLine) {
        self.bars += 1;
        self.fastest_milli = self.fastest_milli.max(line.tempo_milli);
        if let Some(key) = &line.key
            && !self.keys.contains(key)
        {
            self.keys.push(key.clone());
        }
    }

    /// `12 bars in 0:48.0, up to 72, in A minor`, without a line feed; `None` where no bar was heard.
    #[must_use]
    pub fn text(&self, took: Nanos) -> Option<String> {
        if self.bars == 0 {
            return None;
        }
        let mut text = format!(
            "{} in {}, up to {}",
            counted(self.bars, "bar"),
            clock_time(took),
            whole(self.fastest_milli)
        );
        if !self.keys.is_empty() {
            text += &format!(", in {}", self.keys.join(", "));
        }
        Some(text)
    }
}
