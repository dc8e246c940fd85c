//! Which bars of a piece are played, and when.

use std::sync::Arc;

use crate::time::{
    Amount, BarSpan, Grid, Length, Nanos, Region, Tempo, TempoCursor, TempoMap, Tick,
};

/// The part of a piece that is played.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Excerpt {
    /// First bar, counted from 1.
    pub from: Option<u64>,
    /// Last bar, counted from 1.
    pub to: Option<u64>,
    /// How long from the first bar on, in whole bars or in time; time is rounded up to the next bar line.
    pub length: Option<Length>,
}

/// Why an excerpt cannot be played.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ExcerptError {
    /// The piece has no such bar.
    #[error("the piece has bars 1 to {last}, found {found}")]
    NoBar {
        /// Number of the last bar.
        last: u64,
        /// What was asked for.
        found: u64,
    },
    /// The last bar lies before the first.
    #[error("the last bar {to} lies before the first {from}")]
    Backwards {
        /// First bar.
        from: u64,
        /// Last bar.
        to: u64,
    },
}

impl ExcerptError {
    /// A stable name for programs.
    pub fn code(&self) -> &'static str {
        match self {
            ExcerptError::NoBar { .. } => "excerpt-bar",
            ExcerptError::Backwards { .. } => "excerpt-order",
        }
    }

    /// What to write instead.
    pub fn help(&self) -> String {
        match self {
            ExcerptError::NoBar { last, .. } => format!("choose a bar from 1 to {last}"),
            ExcerptError::Backwards { .. } => {
                "give the earlier bar to --from and the later to --to".to_owned()
            }
        }
    }
}

/// The bars of an excerpt with their count-in, in ticks from the start of the count-in.
///
/// Bars keep the numbers they have in the piece; count-in bars are 0, -1 and so on. The count-in has the tempo and
/// the meter of the first bar that follows it.
#[derive(Clone, Debug)]
pub struct Journey {
    grid: Arc<Grid>,
    map: Arc<TempoMap>,
    first: BarSpan,
    last: Option<u64>,
    count_in: u64,
}

impl Journey {
    /// Lays out an excerpt.
    ///
    /// # Errors
    /// When the piece has not the bars asked for.
    pub fn new(
        grid: Arc<Grid>,
        map: Arc<TempoMap>,
        excerpt: Excerpt,
    ) -> Result<Self, ExcerptError> {
        let from = excerpt.from.unwrap_or(1);
        let find = |number: u64| {
            let bar = i64::try_from(number)
                .ok()
                .filter(|n| *n > 0)
                .and_then(|n| grid.bar(n));
            bar.ok_or_else(|| ExcerptError::NoBar {
                last: grid.last_bar().unwrap_or(u64::MAX),
                found: number,
            })
        };
        let first = find(from)?;
        let mut last = grid.last_bar();
        if let Some(to) = excerpt.to {
            find(to)?;
            if to < from {
                return Err(ExcerptError::Backwards { from, to });
            }
            last = Some(to);
        }
        if let Some(length) = excerpt.length {
            let to = match length.amount() {
                Amount::Bars => from + length.count() - 1,
                Amount::Beats => reach(
                    &grid,
                    first,
                    first.start + length.count() * first.meter.tempo_unit_ticks(),
                ),
                Amount::Seconds => {
                    let mut cursor = TempoCursor::new(&map);
                    let start = cursor.at(first.start);
                    let until = Nanos::new(start.get() + length.count() * 1_000_000);
                    // The last tick not after the instant: the bar that holds the one before it is the last needed.
                    let tick = cursor.tick_at(until);
                    let exact = cursor.at(tick) == until;
                    reach(&grid, first, if exact { tick } else { tick + 1 })
                }
            };
            last = Some(last.map_or(to, |last| last.min(to)));
        }
        let count_in = grid.count_in_bars();
        Ok(Journey {
            grid,
            map,
            first,
            last,
            count_in,
        })
    }

    /// The bar lines of the whole piece.
    pub fn grid(&self) -> &Grid {
        &self.grid
    }

    /// The tempo map of the whole piece.
    pub fn map(&self) -> &Arc<TempoMap> {
        &self.map
    }

    /// Bars of count-in.
    pub fn count_in_bars(&self) -> u64 {
        self.count_in
    }

    /// Number of the first bar after the count-in.
    pub fn first_bar(&self) -> i64 {
        self.first.number
    }

    /// Number of the last bar, `None` without end.
    pub fn last_bar(&self) -> Option<u64> {
        self.last
    }

    fn count_in_ticks(&self) -> u64 {
        self.count_in * self.first.meter.bar_ticks()
    }

    /// The tick of the journey at which a tick of the whole piece falls.
    pub fn tick_of(&self, tick: Tick) -> Tick {
        Tick::new(self.count_in_ticks()) + tick.saturating_since(self.first.start)
    }

    /// The last bar line, `None` without end.
    pub fn end(&self) -> Option<Tick> {
        let last = self.grid.bar(i64::try_from(self.last?).ok()?)?;
        Some(self.tick_of(last.end()))
    }

    /// Number of the bar with which the journey begins: that of the first count-in bar, if there is one.
    pub fn begin(&self) -> i64 {
        if self.count_in > 0 {
            1 - i64::try_from(self.count_in).unwrap_or(0)
        } else {
            self.first.number
        }
    }

    /// The bar after `number`, `None` after the last.
    pub fn following(&self, number: i64) -> Option<i64> {
        if number == 0 {
            return Some(self.first.number);
        }
        let last = self.last.and_then(|last| i64::try_from(last).ok());
        (last.is_none_or(|last| number < last)).then_some(number + 1)
    }

    /// Bar `number`, in ticks of the journey.
    pub fn bar(&self, number: i64) -> Option<BarSpan> {
        if number <= 0 {
            let bar = u64::try_from(
                number
                    .checked_add(i64::try_from(self.count_in).ok()?)?
                    .checked_sub(1)?,
            )
            .ok()?;
            let start = Tick::new(bar * self.first.meter.bar_ticks());
            return Some(BarSpan {
                number,
                start,
                meter: self.first.meter,
                region: Region::CountIn { bar },
            });
        }
        let bar = self.grid.bar(number)?;
        Some(BarSpan {
            start: self.tick_of(bar.start),
            ..bar
        })
    }

    /// The bars in order.
    pub fn bars(&self) -> impl Iterator<Item = BarSpan> + '_ {
        std::iter::successors(Some(self.begin()), |n| self.following(*n)).map_while(|n| self.bar(n))
    }

    /// The tempo pairs of the journey in order: one at tick 0, then each change; never the same tempo twice in a
    /// row.
    ///
    /// Where a journey has no end and its tempo stays, the search for the next pair has none either.
    pub fn tempo_pairs(&self) -> impl Iterator<Item = (Tick, Tempo)> + '_ {
        let mut last = None;
        self.tempo_marks()
            .filter(move |(_, tempo)| last.replace(*tempo) != Some(*tempo))
    }

    /// The same, and also where the plan starts again with the tempo there is.
    pub fn tempo_marks(&self) -> impl Iterator<Item = (Tick, Tempo)> + '_ {
        let mut cursor = TempoCursor::new(&self.map);
        let first = (Tick::ZERO, cursor.tempo_at(self.first.start));
        let end = self.end();
        let later = self
            .map
            .pairs()
            .skip_while(|(tick, _)| *tick <= self.first.start)
            .map(|(tick, tempo)| (self.tick_of(tick), tempo))
            .take_while(move |(tick, _)| end.is_none_or(|end| *tick < end));
        std::iter::once(first).chain(later)
    }
}

/// The bar that reaches `tick`: it ends there or is the one the tick lies in.
fn reach(grid: &Grid, first: BarSpan, tick: Tick) -> u64 {
    let before = Tick::new(tick.get().saturating_sub(1)).max(first.start);
    let number = grid
        .bar_at(before)
        .map(|bar| bar.number)
        .or(grid.last_bar().and_then(|l| i64::try_from(l).ok()));
    number.and_then(|n| u64::try_from(n).ok()).unwrap_or(1)
}
