//! Which bars of a piece are played, and when.

use std::fmt;
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, counted};
use crate::time::{
    Amount, BarSpan, Clockwork, Grid, Length, Nanos, Region, Tempo, TempoCursor, TempoMap, Tick,
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
    /// Whether a length in time is that of all that plays, count-in included, and ends exactly there. What is counted in
    /// bars or beats is not changed by it.
    pub exact: bool,
}

/// Why an excerpt cannot be played.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ExcerptError {
    /// The piece has no such bar.
    #[error("the piece has {bars}, found {found}")]
    NoBar {
        /// The bars it has.
        bars: BarRange,
        /// What was asked for.
        found: u64,
    },
    /// The last bar lies before the first.
    #[error("the last bar {to} lies before the first {from}")]
    Backwards {
        /// The first bar asked for, counted from 1.
        from: u64,
        /// The last bar asked for, counted from 1.
        to: u64,
    },
    /// The length is so short that it ends within the count-in.
    #[error("an exact length is longer than its count-in of {} s, found {} s", in_seconds(*count_in), in_seconds(*found))]
    CountIn {
        /// How long it was to be.
        found: Nanos,
        /// How long the count-in lasts.
        count_in: Nanos,
    },
}

/// Seconds with at most three decimals.
fn in_seconds(time: Nanos) -> String {
    let millis = time.get().saturating_add(500_000) / 1_000_000;
    let text = format!("{}.{:03}", millis / 1000, millis % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The numbers of the bars there are, counted from 1, as words: `bars 1 to 60 and an ending, bar 61`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BarRange {
    /// The last bar of the last pass; `None` without end.
    pub last: Option<u64>,
    /// Bars of the ending, which come behind it.
    pub ending: u64,
}

impl BarRange {
    /// The bars of a whole piece.
    pub fn of(grid: &Grid) -> Self {
        BarRange {
            last: grid.last_of_passes(),
            ending: grid.ending_bars(),
        }
    }
}

impl fmt::Display for BarRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(last) = self.last else {
            return f.write_str("bars from 1 on");
        };
        match last {
            1 => f.write_str("bar 1")?,
            _ => write!(f, "bars 1 to {last}")?,
        }
        match self.ending {
            0 => Ok(()),
            1 => write!(f, " and an ending, bar {}", last + 1),
            more => write!(f, " and an ending, bars {} to {}", last + 1, last + more),
        }
    }
}

/// How many bars are played, counted in one way everywhere: those of the piece, and count-in and ending apart. A bar
/// that is begun counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BarCount {
    /// Bars of count-in.
    pub count_in: u64,
    /// Bars of intro and passes; `None` without end.
    pub piece: Option<u64>,
    /// Bars of the ending, written or held.
    pub ending: u64,
}

impl fmt::Display for BarCount {
    /// `count-in of 1 bar, 60 bars, ending of 1 bar`; parts without bars are left out.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = |n: u64| counted(n, "bar");
        if self.count_in > 0 {
            write!(f, "count-in of {}, ", count(self.count_in))?;
        }
        match self.piece {
            Some(bars) => f.write_str(&count(bars))?,
            None => f.write_str("until stopped")?,
        }
        if self.ending > 0 {
            write!(f, ", ending of {}", count(self.ending))?;
        }
        Ok(())
    }
}

impl Diagnostic for ExcerptError {
    fn code(&self) -> &'static str {
        match self {
            ExcerptError::NoBar { .. } => "excerpt-bar",
            ExcerptError::Backwards { .. } => "excerpt-order",
            ExcerptError::CountIn { .. } => "excerpt-count-in",
        }
    }

    fn help(&self) -> String {
        match self {
            ExcerptError::NoBar { bars, .. } => {
                let last = bars.last.map(|last| last + bars.ending);
                format!("choose a bar from 1 to {}", last.unwrap_or(u64::MAX))
            }
            ExcerptError::Backwards { .. } => "name the earlier bar first".to_owned(),
            ExcerptError::CountIn { count_in, .. } => format!(
                "ask for more than {} s, or leave the count-in out",
                in_seconds(*count_in)
            ),
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
    cut: Option<Cut>,
}

/// Where a journey of an exact length ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Cut {
    /// Ticks from the start of the count-in, at least one behind it.
    end: Tick,
    /// The tempo of the last tick, if it differs from the plan's: it makes up for a remainder of less than a tick.
    last_tick: Option<Tempo>,
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
                bars: BarRange::of(&grid),
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
        let count_in = grid.count_in_bars();
        let mut journey = Journey {
            grid,
            map,
            first,
            last,
            count_in,
            cut: None,
        };
        match excerpt.length {
            Some(length) if excerpt.exact && length.amount() == Amount::Seconds => {
                journey.cut_at(Nanos::new(length.count() * 1_000_000))?;
            }
            Some(length) => {
                let to = journey.last_of(length);
                journey.last = Some(last.map_or(to, |last| last.min(to)));
            }
            None => {}
        }
        Ok(journey)
    }

    /// The last bar of so much from the first bar on.
    fn last_of(&self, length: Length) -> u64 {
        let first = self.first;
        match length.amount() {
            Amount::Bars => {
                let from = u64::try_from(first.number).unwrap_or(1);
                from.saturating_add(length.count()).saturating_sub(1)
            }
            Amount::Beats => {
                let ticks = length.count() * first.meter.tempo_unit_ticks();
                reach(&self.grid, first, first.start + ticks)
            }
            Amount::Seconds => {
                let mut cursor = TempoCursor::new(&self.map);
                let start = cursor.at(first.start);
                let until = Nanos::new(start.get() + length.count() * 1_000_000);
                let tick = cursor.tick_at(until);
                // Tempi are whole microseconds a quarter, so a bar line is up to 8 millionths early: at 72, ten minutes are
                // 180 bars and not one more.
                let early = length.count() * 1_000_000 / 125_000;
                let line = self.grid.bar_at(tick).map(|bar| bar.start);
                let line = line.filter(|line| {
                    let at = TempoCursor::new(&self.map).at(*line);
                    at.get() + early >= until.get()
                });
                // The bar that holds the tick before is the last needed.
                reach(&self.grid, first, line.unwrap_or(tick + 1))
            }
        }
    }

    /// Ends the journey exactly so long after the start of its count-in, where it lasts so long. A remainder of less
    /// than a tick lengthens the last one: no note begins there, and every sink sums the same whole numbers.
    fn cut_at(&mut self, length: Nanos) -> Result<(), ExcerptError> {
        let mut clock = Clockwork::new(Tempo::DEFAULT);
        let mut before = clock;
        for (tick, tempo) in self.tempo_marks() {
            if clock.at(tick) >= length {
                break;
            }
            before = clock;
            clock.change(tick, tempo);
        }
        let (tick, left) = clock.split_at(length);
        let counted = Tick::new(self.count_in_ticks());
        if tick <= counted {
            return Err(ExcerptError::CountIn {
                found: length,
                count_in: clock.at(counted),
            });
        }
        if self.end().is_some_and(|end| tick >= end) {
            return Ok(());
        }
        let of_last = if tick > clock.since() { clock } else { before };
        let us = u64::from(of_last.tempo().us_per_quarter());
        let cut = match (left, Tempo::new(us + left)) {
            (0, _) => Cut {
                end: tick,
                last_tick: None,
            },
            (_, Ok(tempo)) => Cut {
                end: tick,
                last_tick: Some(tempo),
            },
            // No file can hold so slow a tempo: add a short tick instead.
            (_, Err(_)) => Cut {
                end: tick + 1,
                last_tick: Tempo::new(left).ok(),
            },
        };
        let on_grid = self.first.start + cut.end.saturating_since(counted);
        self.last = Some(reach(&self.grid, self.first, on_grid));
        self.cut = Some(cut);
        Ok(())
    }

    /// How many bars it has.
    pub fn bar_count(&self) -> BarCount {
        let first = u64::try_from(self.first.number).unwrap_or(1);
        let of_piece = self.grid.last_of_passes();
        let Some(last) = self.last else {
            return BarCount {
                count_in: self.count_in,
                piece: None,
                ending: 0,
            };
        };
        let before = of_piece.map_or(last, |of_piece| last.min(of_piece));
        let piece = (before + 1).saturating_sub(first);
        BarCount {
            count_in: self.count_in,
            piece: Some(piece),
            ending: (last + 1).saturating_sub(first) - piece,
        }
    }

    /// The end of the last bar before the ending, in ticks of the whole piece; `None` without end. Where the journey
    /// ends within a bar, that is where.
    pub fn end_of_passes(&self) -> Option<Tick> {
        let all = self.grid.passes().map(|passes| {
            let ticks = passes.saturating_mul(self.grid.pass_ticks());
            self.grid.first_pass() + ticks
        });
        let counted = Tick::new(self.count_in_ticks());
        let own = self
            .end()
            .map(|end| self.first.start + end.saturating_since(counted));
        match (all, own) {
            (Some(all), Some(own)) => Some(all.min(own)),
            (all, own) => all.or(own),
        }
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

    /// Where it ends: the last bar line, or within the last bar where its length is exact; `None` without end.
    pub fn end(&self) -> Option<Tick> {
        if let Some(cut) = self.cut {
            return Some(cut.end);
        }
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

    /// The last tick, and its tempo, where that makes up for what is less than a tick in a journey of an exact length.
    pub fn last_tick(&self) -> Option<(Tick, Tempo)> {
        let cut = self.cut?;
        let tick = Tick::new(cut.end.get().saturating_sub(1));
        Some((tick, cut.last_tick?))
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
    /// If a journey has no end and its tempo does not change, the search for the next pair never ends either.
    pub fn tempo_pairs(&self) -> impl Iterator<Item = (Tick, Tempo)> + '_ {
        let mut last = None;
        self.tempo_marks()
            .filter(move |(_, tempo)| last.replace(*tempo) != Some(*tempo))
    }

    /// The same, and also where the plan starts again with the tempo there is.
    pub fn tempo_marks(&self) -> impl Iterator<Item = (Tick, Tempo)> + '_ {
        let mut cursor = TempoCursor::new(&self.map);
        let first = (Tick::ZERO, cursor.tempo_at(self.first.start));
        let last_tick = self.last_tick();
        let end = last_tick.map(|(tick, _)| tick).or(self.end());
        let later = self
            .map
            .pairs()
            .skip_while(|(tick, _)| *tick <= self.first.start)
            .map(|(tick, tempo)| (self.tick_of(tick), tempo))
            .take_while(move |(tick, _)| end.is_none_or(|end| *tick < end));
        std::iter::once(first).chain(later).chain(last_tick)
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

/// Tells the time of ticks along a journey, asked in order.
pub struct Timer<'a> {
    clock: Clockwork,
    pairs: std::iter::Peekable<Box<dyn Iterator<Item = (Tick, Tempo)> + 'a>>,
}

impl<'a> Timer<'a> {
    /// From the start of the count-in.
    pub fn of(journey: &'a Journey) -> Self {
        let pairs: Box<dyn Iterator<Item = (Tick, Tempo)> + 'a> = Box::new(journey.tempo_marks());
        Timer {
            clock: Clockwork::new(Tempo::DEFAULT),
            pairs: pairs.peekable(),
        }
    }

    /// The tempo at the tick that was asked for last.
    pub fn tempo(&self) -> Tempo {
        self.clock.tempo()
    }

    /// The time of a tick, from the start of the count-in; not before one asked for earlier.
    pub fn at(&mut self, tick: Tick) -> Nanos {
        while let Some((at, tempo)) = self.pairs.next_if(|(at, _)| *at <= tick) {
            self.clock.change(at, tempo);
        }
        self.clock.at(tick)
    }
}
