//! What is shown while it plays: a line for each bar.

use std::time::Instant;

use serde_json::json;

use crate::cli::saying;
use crate::cli::screen::Screen;
use crate::cli::standing::Standing;
use crate::live::Moment;
use crate::time::Nanos;
use crate::view::{BarLine, BarTally, StageMaker};

/// Tells each bar as it begins.
pub(super) struct Showing {
    maker: StageMaker,
    /// How the line of a bar is written.
    write: fn(&BarLine) -> String,
    /// The stage, in place of lines.
    screen: Option<Screen>,
    /// The run and the bar that was looked at last.
    seen: Option<(u32, i64)>,
    /// The tempo of the last line, in thousandths; 0 before the first.
    tempo_milli: u64,
    tally: BarTally,
    /// What it does, for whoever explains the keys.
    standing: Standing,
    /// When the first bar began.
    since: Option<Instant>,
}

impl Showing {
    pub(super) fn new(
        maker: StageMaker,
        write: fn(&BarLine) -> String,
        standing: Standing,
    ) -> Self {
        Showing {
            maker,
            write,
            screen: None,
            seen: None,
            tempo_milli: 0,
            tally: BarTally::default(),
            standing,
            since: None,
        }
    }

    /// The same on the stage, where it can be shown.
    pub(super) fn on(self, screen: Option<Screen>) -> Self {
        Showing { screen, ..self }
    }

    /// Looks at a moment; says a line where a bar has begun.
    pub(super) fn look(&mut self, moment: &Moment) {
        if let Some(screen) = &self.screen {
            screen.show(moment);
        }
        self.standing.set(moment.activity());
        let here = (moment.run, moment.bar.number);
        if moment.paused || self.seen == Some(here) {
            return;
        }
        self.seen = Some(here);
        if let (Some(line), None) = (self.line(moment), &self.screen) {
            saying::say(&line);
        }
    }

    /// The line of a bar. One without a chord is told only where the tempo has changed.
    fn line(&mut self, moment: &Moment) -> Option<String> {
        let line = self.maker.line(moment)?;
        self.tally.note(&line);
        self.since.get_or_insert_with(Instant::now);
        let before = std::mem::replace(&mut self.tempo_milli, line.tempo_milli);
        if line.chords.is_empty() && (before == 0 || before == line.tempo_milli) {
            return None;
        }
        Some((self.write)(&line))
    }

    /// What was heard until now, in a line; `None` where no bar was.
    pub(super) fn account(&self) -> Option<String> {
        let took = self.since?.elapsed().as_nanos();
        let took = Nanos::new(u64::try_from(took).unwrap_or(u64::MAX));
        self.tally.text(took)
    }
}

/// The line of a bar as an event.
pub(super) fn bar_event(line: &BarLine) -> String {
    let mut value = json!(line);
    value["kind"] = "bar".into();
    value.to_string()
}
