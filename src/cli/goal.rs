//! Whether a piece is long enough for its tempo plan to come to its last tempo.

use std::ops::Range;
use std::sync::Arc;

use crate::arrange::{Arrangement, Journey};
use crate::chart::{Form, Piece, Problem, SourceText};
use crate::time::{
    Goal, Grid, LONGEST, Nanos, PlanRepeat, Region, Tempo, TempoCursor, TempoMap, Tick,
};
use crate::view::{clock_time, tempo_text};

/// By what the length of a piece is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LengthBy {
    /// By `times` in the document, or by nothing yet.
    DocumentTimes,
    /// By `--times`, or by nothing yet where the plan is not in a document.
    Times,
    /// By `--bars`, in bars.
    Bars,
    /// By `--for`, as a time.
    Time,
    /// It has no end, or it is a part of the plan that was asked for, with `--to`, `--exact` or `--loop`: no plan is too long
    /// for it.
    Nothing,
}

/// Where a tempo plan is written, and by what its piece can be made longer.
pub(super) struct WrittenPlan {
    pub(super) source: SourceText,
    /// Bytes of the source.
    pub(super) span: Range<usize>,
    pub(super) length: LengthBy,
}

/// Most passes that `--times` takes, and most bars that `--bars` takes.
pub(super) const MOST_TIMES: i64 = 100_000;
pub(super) const MOST_BARS: i64 = 10_000_000;

/// Most minutes that `--for` takes.
const MOST_MINUTES: u64 = LONGEST;

/// Most bars whose length is reported: at the slowest tempo that is still less than 24 years.
const MOST_TIMED_BARS: u64 = 1_000_000;

/// What to write where nothing makes the piece long enough.
const SHORTER_PLAN: &str = "the plan is longer than any piece: write larger or shorter steps";

impl WrittenPlan {
    /// Whether there can be a warning: not in a piece without end, nor where a part of it was asked for, nor at one tempo.
    pub(super) fn may_warn(&self, piece: &Piece) -> bool {
        self.length != LengthBy::Nothing && !piece.tempo.is_steady() && !piece.tempo.is_over_all()
    }

    /// The warning where what is played ends before the plan comes to its last tempo.
    pub(super) fn warning(
        &self,
        piece: &Piece,
        form: &Form,
        arrangement: &Arrangement,
    ) -> Option<Problem> {
        if !self.may_warn(piece) {
            return None;
        }
        let journey = arrangement.journey();
        let grid = journey.grid();
        let each_pass = piece.plan == PlanRepeat::EachPass;
        let needed = Needed::new(piece, form, arrangement);
        let (goal, start, played) = if each_pass {
            let first = grid.first_pass();
            (
                journey.map().goal(),
                first,
                first..first + grid.pass_ticks(),
            )
        } else {
            let first = grid.bar(journey.first_bar())?.start;
            (needed.goal, grid.bar_one(), first..journey.end_of_passes()?)
        };
        if goal.is_within(played.end.saturating_since(start)) {
            return None;
        }
        let what = match self.length {
            _ if each_pass => "each pass",
            LengthBy::Bars | LengthBy::Time => "what is played",
            _ => "the piece",
        };
        let one_stretch = piece.tempo.stretches().len() == 1;
        let reached = Reached::new(journey.map(), played, goal.tempo, one_stretch);
        let unit_ticks = piece.tempo.unit_ticks(&grid.first_meter());
        let message = reached.words(what, goal.tempo, unit_ticks);
        let help = if each_pass {
            self.once(&needed, journey)
        } else {
            self.longer(&needed, journey)
        };
        let help = help.unwrap_or_else(|| SHORTER_PLAN.to_owned());
        let span = self.span.clone();
        Some(Problem::warning("tempo-goal", span, message, help))
    }

    /// What makes the piece long enough: what the plan takes, and what to write.
    fn longer(&self, needed: &Needed, journey: &Journey) -> Option<String> {
        let takes = match self.length {
            LengthBy::Time => format!("the plan takes {}", clock_time(needed.time(journey)?)),
            LengthBy::Bars => format!("the plan takes {} bars", needed.bars(journey)?),
            _ if needed.round > 1 => format!(
                "the plan takes {} passes, and one turn through the keys has {}",
                needed.passes()?,
                needed.round
            ),
            _ => format!("the plan takes {} passes", needed.passes()?),
        };
        Some(format!("{takes}: write {}", self.amount(needed, journey)?))
    }

    /// The option or the line that makes the piece long enough.
    fn amount(&self, needed: &Needed, journey: &Journey) -> Option<String> {
        Some(match self.length {
            LengthBy::Nothing => return None,
            LengthBy::Time => {
                let seconds = needed.time(journey)?.get() / 1_000_000_000 + 1;
                let minutes = seconds.div_ceil(60);
                if seconds <= 120 {
                    format!("`--for {seconds}s`")
                } else {
                    format!(
                        "`--for {}min`",
                        Some(minutes).filter(|m| *m <= MOST_MINUTES)?
                    )
                }
            }
            LengthBy::Bars => format!("`--bars {}`", needed.bars(journey)?),
            LengthBy::Times => format!("`--times {}`", needed.times()?),
            LengthBy::DocumentTimes => {
                let times = needed.times()?;
                format!("`times = {times}` in the document, or `--times {times}`")
            }
        })
    }

    /// What lets a plan run once that starts again in each pass.
    fn once(&self, needed: &Needed, journey: &Journey) -> Option<String> {
        let takes = format!(
            "the plan takes {} bars, and a pass has {}: write `plan = \"once\"` in the document",
            needed.last?.0,
            journey.grid().pass_bars()
        );
        let end = journey.end_of_passes()?;
        let played = end.saturating_since(journey.grid().bar_one());
        if needed.goal.is_within(played) {
            return Some(takes);
        }
        Some(format!("{takes} and {}", self.amount(needed, journey)?))
    }
}

/// How long a piece must be for a plan that runs once.
struct Needed {
    map: Arc<TempoMap>,
    goal: Goal,
    /// The tick of the goal, from the start of the count-in of the whole piece.
    goal_at: Tick,
    /// The last bar that must be played, counted from 1, and its pass; `None` where there can be no such bar.
    last: Option<(u64, u64)>,
    /// Passes in one turn through the keys.
    round: u64,
}

impl Needed {
    /// The plan, once, over passes without end.
    fn new(piece: &Piece, form: &Form, arrangement: &Arrangement) -> Self {
        let grid = piece.grid(form, None);
        let map = TempoMap::new(&piece.tempo, PlanRepeat::Once, &grid);
        let goal = map.goal();
        let goal_at = grid.bar_one() + goal.ticks;
        // What a ramp leads to need not be played.
        let tick = goal_at.get() - u64::from(goal.gradual && goal.ticks > 0);
        Needed {
            map: Arc::new(map),
            goal,
            goal_at,
            last: bar_and_pass(&grid, Tick::new(tick)),
            round: arrangement.passes_in_turn().max(1),
        }
    }

    fn passes(&self) -> Option<u64> {
        self.last.map(|(_, pass)| pass)
    }

    /// How often the form, in all its keys, must be played.
    fn times(&self) -> Option<u64> {
        let times = self.passes()?.div_ceil(self.round);
        Some(times).filter(|times| *times <= MOST_TIMES.unsigned_abs())
    }

    /// Bars from the first that is played to the last that must be.
    fn bars(&self, journey: &Journey) -> Option<u64> {
        let first = u64::try_from(journey.first_bar()).ok()?;
        let (last, _) = self.last?;
        let bars = (last + 1).checked_sub(first)?;
        Some(bars).filter(|bars| *bars <= MOST_BARS.unsigned_abs())
    }

    /// The time from the first bar that is played to the goal.
    fn time(&self, journey: &Journey) -> Option<Nanos> {
        let (bar, _) = self.last?;
        if bar > MOST_TIMED_BARS {
            return None;
        }
        let first = journey.grid().bar(journey.first_bar())?;
        let mut cursor = TempoCursor::new(&self.map);
        let start = cursor.at(first.start);
        let time = cursor.at(self.goal_at).get().saturating_sub(start.get());
        Some(Nanos::new(time))
    }
}

/// The number of the bar in which a tick lies, and that of its pass, both counted from 1; the intro belongs to the first.
fn bar_and_pass(grid: &Grid, tick: Tick) -> Option<(u64, u64)> {
    let bar = grid.bar_at(tick)?;
    let pass = match bar.region {
        Region::Pass { pass, .. } => pass + 1,
        _ => 1,
    };
    Some((u64::try_from(bar.number).ok()?, pass))
}

/// How far the plan gets in what is played.
struct Reached {
    /// The tempo at the end.
    last: Tempo,
    /// The tempo nearest to the goal, where the plan is one stretch: it may go back before the end.
    nearest: Tempo,
}

impl Reached {
    /// Of these ticks of the whole piece.
    fn new(map: &Arc<TempoMap>, played: Range<Tick>, goal: Tempo, one_stretch: bool) -> Self {
        let far = |tempo: Tempo| tempo.us_per_quarter().abs_diff(goal.us_per_quarter());
        let mut reached = Reached {
            last: Tempo::DEFAULT,
            nearest: Tempo::DEFAULT,
        };
        for (tick, tempo) in map.pairs().take_while(|(tick, _)| *tick < played.end) {
            if tick <= played.start || far(tempo) < far(reached.nearest) {
                reached.nearest = tempo;
            }
            reached.last = tempo;
        }
        if !one_stretch {
            reached.nearest = reached.last;
        }
        reached
    }

    /// The message that `what` is played.
    fn words(&self, what: &str, goal: Tempo, unit_ticks: u64) -> String {
        let text = |tempo| tempo_text(tempo, unit_ticks);
        let (last, nearest, goal) = (text(self.last), text(self.nearest), text(goal));
        if last == goal || nearest == goal {
            return format!("{what} ends before the tempo plan comes to its last tempo, {goal}");
        }
        if last == nearest {
            format!("{what} ends at {last}; the tempo plan goes to {goal}")
        } else {
            format!("{what} comes to {nearest} and ends at {last}; the tempo plan goes to {goal}")
        }
    }
}
