//! Where the bar lines are: intro, passes of the form, ending.

use super::{Meter, Tick};

/// A run of bars with their meters.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Block {
    meters: Vec<Meter>,
    /// Start of each bar in ticks from the block's start, and the block's length last.
    starts: Vec<u64>,
}

impl Block {
    fn new(meters: Vec<Meter>) -> Self {
        let mut starts = Vec::with_capacity(meters.len() + 1);
        let mut at = 0;
        for meter in &meters {
            starts.push(at);
            at += meter.bar_ticks();
        }
        starts.push(at);
        Block { meters, starts }
    }

    fn bars(&self) -> u64 {
        self.meters.len() as u64
    }

    fn ticks(&self) -> u64 {
        self.starts.last().copied().unwrap_or(0)
    }

    /// The bar that holds `offset`, counted from 0.
    fn bar_at(&self, offset: u64) -> u64 {
        (self.starts.partition_point(|s| *s <= offset) as u64).saturating_sub(1)
    }
}

/// The part of the piece a bar belongs to. Bars and passes are counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Region {
    /// A bar of the count-in.
    CountIn {
        /// Counted from 0 within the count-in.
        bar: u64,
    },
    /// A bar of the intro, played once.
    Intro {
        /// Counted from 0 within the intro.
        bar: u64,
    },
    /// A bar of a pass of the form.
    Pass {
        /// Counted from 0.
        pass: u64,
        /// Counted from 0 within the pass.
        bar: u64,
    },
    /// A bar of the ending, played once.
    Ending {
        /// Counted from 0 within the ending.
        bar: u64,
    },
}

/// One bar on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BarSpan {
    /// Bar number as people count: 1 is the first after the count-in, 0 and below are count-in bars.
    pub number: i64,
    /// The bar line it starts at.
    pub start: Tick,
    /// The meter of the bar.
    pub meter: Meter,
    /// Where in the piece it lies.
    pub region: Region,
}

impl BarSpan {
    /// The bar line it ends at.
    pub fn end(&self) -> Tick {
        self.start + self.meter.bar_ticks()
    }
}

/// A beat of a bar on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BarBeat {
    /// The bar it is in.
    pub bar: BarSpan,
    /// Ticks from the bar line.
    pub offset_ticks: u64,
}

impl BarBeat {
    /// When it begins.
    pub fn tick(&self) -> Tick {
        self.bar.start + self.offset_ticks
    }
}

/// Every bar line of a piece, without a list of them: count-in, intro, the form as often as it is played, ending.
///
/// A grid may be endless; then it has no ending. Looking up a bar takes logarithmic time in the bars of one pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Grid {
    count_in: Block,
    intro: Block,
    pass: Block,
    passes: Option<u64>,
    ending: Block,
}

impl Grid {
    /// A grid of `passes` passes (`None`: endless) over bars of the given meters; the count-in is counted in the
    /// meter of the first bar.
    ///
    /// A pass of no bars counts as one bar of 4/4, so that a grid always moves on.
    pub fn new(
        count_in_bars: u64,
        intro: Vec<Meter>,
        pass: Vec<Meter>,
        passes: Option<u64>,
        ending: Vec<Meter>,
    ) -> Self {
        let pass = if pass.is_empty() {
            vec![Meter::COMMON]
        } else {
            pass
        };
        let first = intro
            .first()
            .or(pass.first())
            .copied()
            .unwrap_or(Meter::COMMON);
        let count_in = (0..count_in_bars).map(|_| first).collect();
        Grid {
            count_in: Block::new(count_in),
            intro: Block::new(intro),
            pass: Block::new(pass),
            passes,
            ending: Block::new(ending),
        }
    }

    /// Bars of count-in.
    pub fn count_in_bars(&self) -> u64 {
        self.count_in.bars()
    }

    /// Bars of the intro.
    pub fn intro_bars(&self) -> u64 {
        self.intro.bars()
    }

    /// Bars of one pass.
    pub fn pass_bars(&self) -> u64 {
        self.pass.bars()
    }

    /// Bars of the ending.
    pub fn ending_bars(&self) -> u64 {
        self.ending.bars()
    }

    /// The last bar of the last pass, counted from 1, which the ending follows; `None` without end.
    pub fn last_of_passes(&self) -> Option<u64> {
        self.last_bar().map(|last| last - self.ending_bars())
    }

    /// How many passes, `None` without end.
    pub fn passes(&self) -> Option<u64> {
        self.passes
    }

    /// The bar line before bar 1.
    pub fn bar_one(&self) -> Tick {
        Tick::new(self.count_in.ticks())
    }

    /// The bar line before the first pass, after count-in and intro.
    pub fn first_pass(&self) -> Tick {
        self.bar_one() + self.intro.ticks()
    }

    /// Length of one pass in ticks.
    pub fn pass_ticks(&self) -> u64 {
        self.pass.ticks()
    }

    /// Number of the last bar, `None` without end.
    pub fn last_bar(&self) -> Option<u64> {
        let passes = self.passes?;
        Some(self.intro.bars() + passes.checked_mul(self.pass.bars())? + self.ending.bars())
    }

    /// The last bar line, `None` without end.
    pub fn end(&self) -> Option<Tick> {
        let passes = self.passes?.checked_mul(self.pass.ticks())?;
        Some(self.first_pass() + passes + self.ending.ticks())
    }

    /// The meter of the first bar of the chart.
    pub fn first_meter(&self) -> Meter {
        let first = self.intro.meters.first().or(self.pass.meters.first());
        first.copied().unwrap_or(Meter::COMMON)
    }

    /// The largest lower number of any meter in the piece.
    pub fn finest_denominator(&self) -> u8 {
        let all = self
            .intro
            .meters
            .iter()
            .chain(&self.pass.meters)
            .chain(&self.ending.meters);
        all.map(Meter::denominator).max().unwrap_or(4)
    }

    /// Bar `number`, `None` where the piece has no such bar.
    pub fn bar(&self, number: i64) -> Option<BarSpan> {
        let count_in = i64::try_from(self.count_in.bars()).ok()?;
        let from_start = u64::try_from(number.checked_add(count_in)?.checked_sub(1)?).ok()?;
        let take = |block: &Block, base: Tick, index: u64, region: Region| {
            let i = usize::try_from(index).ok()?;
            let (meter, start) = (*block.meters.get(i)?, base + *block.starts.get(i)?);
            Some(BarSpan {
                number,
                start,
                meter,
                region,
            })
        };
        let bar = from_start;
        if bar < self.count_in.bars() {
            return take(&self.count_in, Tick::ZERO, bar, Region::CountIn { bar });
        }
        let bar = bar - self.count_in.bars();
        if bar < self.intro.bars() {
            return take(&self.intro, self.bar_one(), bar, Region::Intro { bar });
        }
        let bar = bar - self.intro.bars();
        let (pass, within) = (bar / self.pass.bars(), bar % self.pass.bars());
        if self.passes.is_none_or(|passes| pass < passes) {
            let base = self.first_pass() + pass.checked_mul(self.pass.ticks())?;
            return take(&self.pass, base, within, Region::Pass { pass, bar: within });
        }
        let passes = self.passes?;
        let bar = bar - passes * self.pass.bars();
        let base = self.first_pass() + passes * self.pass.ticks();
        take(&self.ending, base, bar, Region::Ending { bar })
    }

    /// The beat that comes `beats` beats after the first of bar `number`; `None` past the end.
    pub fn beat_after(&self, number: i64, beats: u32) -> Option<BarBeat> {
        let mut number = number;
        let mut rest = beats;
        loop {
            let bar = self.bar(number)?;
            let here = bar.meter.beat_count();
            if rest < here {
                let offset_ticks = bar.meter.beat_offset_ticks(rest);
                return Some(BarBeat { bar, offset_ticks });
            }
            rest -= here;
            number += 1;
        }
    }

    /// The bar in which `tick` lies, `None` past the end.
    pub fn bar_at(&self, tick: Tick) -> Option<BarSpan> {
        let signed = |v: u64| i64::try_from(v).ok();
        let count_in = signed(self.count_in.bars())?;
        if tick < self.bar_one() {
            return self.bar(signed(self.count_in.bar_at(tick.get()))? + 1 - count_in);
        }
        if tick < self.first_pass() {
            return self.bar(signed(self.intro.bar_at(tick - self.bar_one()))? + 1);
        }
        let offset = tick - self.first_pass();
        let pass = offset / self.pass.ticks();
        if self.passes.is_none_or(|passes| pass < passes) {
            let within = self.pass.bar_at(offset % self.pass.ticks());
            return self.bar(signed(self.intro.bars() + pass * self.pass.bars() + within)? + 1);
        }
        let passes = self.passes?;
        let offset = offset - passes * self.pass.ticks();
        if offset >= self.ending.ticks() {
            return None;
        }
        let before = self.intro.bars() + passes * self.pass.bars();
        self.bar(signed(before + self.ending.bar_at(offset))? + 1)
    }
}

/// Nothing sounds past the end, but a tempo plan may reach there, and its slope depends on the length of those bars.
/// There the passes are taken to go on.
impl Grid {
    pub(super) fn bar_or_beyond(&self, number: i64) -> Option<BarSpan> {
        let (Some(last), Some(end)) = (self.last_bar(), self.end()) else {
            return self.bar(number);
        };
        let Some(over) = number
            .checked_sub(i64::try_from(last).ok()?)
            .filter(|over| *over > 0)
        else {
            return self.bar(number);
        };
        let more = u64::try_from(over - 1).ok()?;
        let (pass, bar) = (more / self.pass.bars(), more % self.pass.bars());
        let i = usize::try_from(bar).ok()?;
        let start = end + pass.checked_mul(self.pass.ticks())? + self.pass.starts[i];
        let region = Region::Pass {
            pass: self.passes? + pass,
            bar,
        };
        Some(BarSpan {
            number,
            start,
            meter: self.pass.meters[i],
            region,
        })
    }

    pub(super) fn bar_at_or_beyond(&self, tick: Tick) -> Option<BarSpan> {
        let (Some(last), Some(end)) = (self.last_bar(), self.end()) else {
            return self.bar_at(tick);
        };
        if tick < end {
            return self.bar_at(tick);
        }
        let offset = tick - end;
        let bars = offset / self.pass.ticks() * self.pass.bars()
            + self.pass.bar_at(offset % self.pass.ticks());
        self.bar_or_beyond(i64::try_from(last + bars).ok()? + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid() -> Grid {
        let m = |t| Meter::read(t).unwrap();
        Grid::new(
            2,
            vec![m("3/4")],
            vec![m("4/4"), m("7/8")],
            Some(3),
            vec![m("4/4")],
        )
    }

    #[test]
    fn bars_are_counted_from_one_after_the_count_in() {
        let grid = grid();
        let starts: Vec<(i64, u64, String)> = (-1..=8)
            .map(|n| grid.bar(n).unwrap())
            .map(|b| (b.number, b.start.get(), b.meter.to_string()))
            .collect();
        let flat: Vec<(i64, u64, &str)> = starts
            .iter()
            .map(|(n, t, m)| (*n, *t, m.as_str()))
            .collect();
        assert_eq!(
            flat,
            [
                (-1, 0, "3/4"),
                (0, 2880, "3/4"),
                (1, 5760, "3/4"),
                (2, 8640, "4/4"),
                (3, 12480, "7/8"),
                (4, 15840, "4/4"),
                (5, 19680, "7/8"),
                (6, 23040, "4/4"),
                (7, 26880, "7/8"),
                (8, 30240, "4/4"),
            ]
        );
        assert_eq!(grid.bar(9), None);
        assert_eq!(grid.bar(-2), None);
        assert_eq!(grid.end(), Some(Tick::new(34080)));
        assert_eq!(grid.last_bar(), Some(8));
    }

    #[test]
    fn a_tick_finds_its_bar() {
        let grid = grid();
        for number in -1..=8 {
            let bar = grid.bar(number).unwrap();
            assert_eq!(grid.bar_at(bar.start), Some(bar));
            assert_eq!(grid.bar_at(Tick::new(bar.end().get() - 1)), Some(bar));
        }
        assert_eq!(grid.bar_at(Tick::new(34080)), None);
    }

    #[test]
    fn an_endless_grid_has_no_end() {
        let grid = Grid::new(0, vec![], vec![Meter::COMMON], None, vec![]);
        assert_eq!(grid.end(), None);
        assert_eq!(
            grid.bar(1_000_000_001).unwrap().start,
            Tick::new(3840 * 1_000_000_000)
        );
        assert_eq!(grid.bar(i64::MAX), None);
    }
}
