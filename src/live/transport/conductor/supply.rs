//! The bars handed to the lanes, in runs: each jump begins a new one.

use std::collections::VecDeque;

use crate::event::Bar;
use crate::live::transport::Here;
use crate::time::Tick;

/// Bars kept ready beyond the one that plays.
const AHEAD: u32 = 2;

/// Bars handed over that are remembered.
const REMEMBERED: usize = 64;

/// How a run is entered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Entered {
    /// When the one before it has ended: at the turn of a loop, or after a count-in.
    InTurn,
    /// At any point of the run before.
    ByJump,
}

/// The run that is being handed over.
#[derive(Clone, Copy, Debug)]
pub(super) struct Run {
    /// Counted from 0.
    pub(super) number: u32,
    pub(super) entered: Entered,
    /// Its bars that were handed over.
    pub(super) bars: u32,
    /// Whether the source is exhausted.
    pub(super) exhausted: bool,
}

impl Run {
    fn new(number: u32, entered: Entered) -> Self {
        Run {
            number,
            entered,
            bars: 0,
            exhausted: false,
        }
    }
}

/// A bar handed over.
#[derive(Clone, Copy, Debug)]
pub(super) struct Handed {
    pub(super) run: u32,
    /// Its place in the run, counted from 1.
    pub(super) index: u32,
    pub(super) bar: Bar,
}

/// See the module.
#[derive(Debug)]
pub(super) struct Supply {
    pub(super) run: Run,
    /// All bars handed over.
    pub(super) bars: u64,
    /// The last bar line handed over.
    pub(super) end: Tick,
    handed: VecDeque<Handed>,
}

impl Supply {
    pub(super) fn new() -> Self {
        Supply {
            run: Run::new(0, Entered::InTurn),
            bars: 0,
            end: Tick::ZERO,
            handed: VecDeque::new(),
        }
    }

    /// The next run is handed over.
    pub(super) fn next_run(&mut self, entered: Entered) {
        self.run = Run::new(self.run.number + 1, entered);
    }

    /// A bar is handed over.
    pub(super) fn note(&mut self, bar: &Bar) {
        self.bars += 1;
        self.run.bars += 1;
        self.handed.push_back(Handed {
            run: self.run.number,
            index: self.run.bars,
            bar: *bar,
        });
        if self.handed.len() > REMEMBERED {
            self.handed.pop_front();
        }
    }

    /// Whether one that plays here will soon have played what it was given.
    pub(super) fn is_short_at(&self, here: &Here) -> bool {
        let run = &self.run;
        if here.run == run.number {
            return run.bars < here.bars + AHEAD;
        }
        // Of a short loop only one turn is kept ready.
        let next = run.entered == Entered::ByJump || here.run + 1 == run.number;
        next && run.bars < AHEAD
    }

    /// Those of a run, of the bars handed over last.
    pub(super) fn handed_in(&self, run: u32) -> impl Iterator<Item = &Handed> + Clone {
        self.handed.iter().filter(move |handed| handed.run == run)
    }
}
