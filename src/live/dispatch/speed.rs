//! The tempo in force: the plan's, scaled by the listener or replaced by another device's.

use crate::time::Tempo;

/// The least and the most that a plan is scaled by, in millionths.
const MILLIONTHS: std::ops::RangeInclusive<u32> = 100_000..=10_000_000;

/// See the module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Speed {
    /// The tempo of the plan at the place that plays.
    pub(super) plan: Tempo,
    rule: Rule,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Rule {
    /// The plan at so many millionths of its tempo.
    Scaled(u32),
    /// The tempo of another device, whatever the plan says.
    Led(Tempo),
}

impl Default for Speed {
    fn default() -> Self {
        Speed {
            plan: Tempo::DEFAULT,
            rule: Rule::Scaled(1_000_000),
        }
    }
}

impl Speed {
    /// Plays the plan at this many millionths of its tempo, held between 100 000 and 10 000 000.
    pub(super) fn scale(&mut self, millionths: u32) {
        let (least, most) = (*MILLIONTHS.start(), *MILLIONTHS.end());
        self.rule = Rule::Scaled(millionths.clamp(least, most));
    }

    /// Plays at this tempo whatever the plan says.
    pub(super) fn follow(&mut self, tempo: Tempo) {
        self.rule = Rule::Led(tempo);
    }

    /// The tempo that plays, in whole microseconds a quarter note.
    pub(super) fn tempo(&self) -> Tempo {
        match self.rule {
            Rule::Led(tempo) => tempo,
            Rule::Scaled(millionths) => {
                let us = u64::from(self.plan.us_per_quarter()) * 1_000_000;
                let each = u64::from(millionths);
                Tempo::new((us + each / 2) / each).unwrap_or(self.plan)
            }
        }
    }
}
