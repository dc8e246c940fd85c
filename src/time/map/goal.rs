//! Where a plan comes to its last tempo.

use super::{Course, TempoMap};
use crate::time::Tempo;

/// Where a plan reaches its last tempo, its goal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Goal {
    /// Ticks from the start of the plan to the first at which its last tempo is in force.
    pub ticks: u64,
    /// The last tempo.
    pub tempo: Tempo,
    /// Whether a ramp leads there: then nothing is missing from a piece that ends just there.
    pub gradual: bool,
}

impl Goal {
    /// Whether a plan that plays for so many ticks comes to its last tempo.
    pub const fn is_within(&self, ticks: u64) -> bool {
        self.ticks < ticks || (self.gradual && self.ticks == ticks)
    }
}

impl TempoMap {
    /// Where the plan comes to its last tempo. Where it starts again with each pass, that is counted from the start of a
    /// pass.
    ///
    /// Beyond the end of a piece the passes are taken to go on behind its ending, so to learn how many passes a plan takes,
    /// ask the map over a grid without end.
    pub fn goal(&self) -> Goal {
        let segments = self.each.as_ref().unwrap_or(&self.once);
        let tempo = |course: &Course| match course {
            Course::Flat(tempo) => Some(*tempo),
            Course::Bent(_) => None,
        };
        let last = segments.last();
        let ticks = last.map_or(0, |segment| segment.start);
        let goal = last.and_then(|segment| tempo(&segment.course));
        let goal = goal.unwrap_or(Tempo::DEFAULT);
        // A ramp is followed by its target, which takes no time where another stretch comes next.
        let gradual = segments.windows(2).any(|pair| {
            matches!(pair[0].course, Course::Bent(_))
                && pair[1].start == ticks
                && tempo(&pair[1].course) == Some(goal)
        });
        Goal {
            ticks,
            tempo: goal,
            gradual,
        }
    }
}
