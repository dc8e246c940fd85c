//! Tempo plans as people write them.

use std::fmt;
use std::ops::Range;

use super::words::Milli;
use super::{Meter, TICKS_PER_QUARTER, Tempo};

mod fault;
mod reader;

pub use fault::{PlanError, PlanFault};
use reader::Reader;
pub use reader::read_length;

/// Slowest and fastest tempo a plan may name, in thousandths of a quarter note a minute.
const SLOWEST_MILLI: u64 = 3_600;
const FASTEST_MILLI: u64 = 960_000;
/// Most plateaus a ladder may have.
const MOST_RUNGS: usize = 10_000;
/// Longest amount a length may name, in its own unit.
pub(crate) const LONGEST: u64 = 1_000_000;

/// What a length counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Amount {
    /// Bars of the chart.
    Bars,
    /// Beats of the chart's meter.
    Beats,
    /// Seconds of playing time.
    Seconds,
}

/// How long a stretch of a plan lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Length {
    /// Whole bars or beats; thousandths of a second.
    count: u64,
    amount: Amount,
    minutes: bool,
}

impl Length {
    /// So many bars.
    pub const fn bars(count: u64) -> Self {
        Length {
            count,
            amount: Amount::Bars,
            minutes: false,
        }
    }

    /// So many milliseconds.
    pub const fn millis(count: u64) -> Self {
        Length {
            count,
            amount: Amount::Seconds,
            minutes: false,
        }
    }

    /// Whole bars, whole beats, or thousandths of a second.
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// What is counted.
    pub const fn amount(&self) -> Amount {
        self.amount
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = |one: &'static str, many| if self.count == 1 { one } else { many };
        match self.amount {
            Amount::Bars => write!(f, "{} {}", self.count, unit("bar", "bars")),
            Amount::Beats => write!(f, "{} {}", self.count, unit("beat", "beats")),
            Amount::Seconds if self.minutes && self.count.is_multiple_of(60) => {
                write!(f, "{} min", Milli::new(self.count / 60))
            }
            Amount::Seconds => write!(f, "{} s", Milli::new(self.count)),
        }
    }
}

/// A tempo as written: thousandths a minute of a note value, and that note value if it was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Rate {
    milli: u64,
    unit_ticks: Option<u64>,
}

impl Rate {
    pub(crate) const fn milli(self) -> u64 {
        self.milli
    }

    pub(crate) const fn with_milli(self, milli: u64) -> Self {
        Rate { milli, ..self }
    }

    /// Thousandths of a quarter note a minute times 960: exact, for a plan whose unit is `unit_ticks`.
    pub(crate) fn scaled_quarters(self, unit_ticks: u64) -> u64 {
        self.milli * self.unit_ticks.unwrap_or(unit_ticks)
    }
}

/// One stretch of a plan. Stretches are equal if they say the same, wherever they were read.
#[derive(Clone, Debug)]
pub struct Stretch {
    pub(crate) shape: Shape,
    /// Bytes of the plan's text it was read from.
    pub span: Range<usize>,
}

impl PartialEq for Stretch {
    fn eq(&self, other: &Self) -> bool {
        self.shape == other.shape
    }
}

impl Eq for Stretch {}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    Hold {
        rate: Rate,
        length: Option<Length>,
    },
    Ramp {
        from: Rate,
        to: Rate,
        /// `None` over the whole piece.
        over: Option<Length>,
    },
    Ladder {
        from: Rate,
        to: Rate,
        by: u64,
        back: Option<u64>,
        every: Length,
    },
    /// A tempo to the microsecond, for so many ticks: of a map from elsewhere.
    Exact {
        tempo: Tempo,
        ticks: Option<u64>,
    },
}

/// A tempo as a plan would write it, to the thousandth.
fn rate_of(tempo: Tempo) -> Rate {
    Rate {
        milli: tempo.milli_a_minute(TICKS_PER_QUARTER),
        unit_ticks: Some(TICKS_PER_QUARTER),
    }
}

impl Shape {
    /// The tempo it comes to.
    fn last(&self) -> Rate {
        match self {
            Shape::Exact { tempo, .. } => rate_of(*tempo),
            Shape::Hold { rate, .. } => *rate,
            Shape::Ramp { to, .. } | Shape::Ladder { to, .. } => *to,
        }
    }

    /// The tempo it begins with.
    fn first(&self) -> Rate {
        match self {
            Shape::Exact { tempo, .. } => rate_of(*tempo),
            Shape::Hold { rate, .. } => *rate,
            Shape::Ramp { from, .. } | Shape::Ladder { from, .. } => *from,
        }
    }
}

/// Whether the plan runs once across all passes or starts again with each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PlanRepeat {
    /// Once across all passes; then the last tempo holds.
    #[default]
    Once,
    /// From its start in each pass.
    EachPass,
}

/// The tempo over a piece: stretches that follow one another; the last one holds.
///
/// A stretch is `T`, `T for 8 bars`, `T to T over 16 bars` (alone also `T to T`, over the whole piece), or
/// `T to T by S [back S] every 4 bars`; stretches are joined by commas. `T` counts the note the meter counts, or the one written: `quarter = 90`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TempoPlan {
    stretches: Vec<Stretch>,
}

/// The plateaus of a ladder in thousandths: forward by `by`, and back by `back` after each step forward but the
/// last, until the target is reached, which is never overstepped.
pub(crate) fn rungs(from: u64, to: u64, by: u64, back: Option<u64>) -> impl Iterator<Item = u64> {
    let up = to >= from;
    let forward = move |v: u64| {
        if up {
            v.saturating_add(by).min(to)
        } else {
            v.saturating_sub(by).max(to)
        }
    };
    let mut fell_back = true;
    std::iter::successors(Some(from), move |v| {
        if *v == to || by == 0 {
            return None;
        }
        match back {
            Some(back) if !fell_back => {
                fell_back = true;
                Some(if up {
                    v.saturating_sub(back)
                } else {
                    v.saturating_add(back)
                })
            }
            _ => {
                fell_back = false;
                Some(forward(*v))
            }
        }
    })
}

impl TempoPlan {
    /// One tempo throughout, `beats_per_minute` of the note the meter counts.
    pub fn steady(beats_per_minute: u32) -> Self {
        let rate = Rate {
            milli: u64::from(beats_per_minute) * 1000,
            unit_ticks: None,
        };
        TempoPlan {
            stretches: vec![Stretch {
                shape: Shape::Hold { rate, length: None },
                span: 0..0,
            }],
        }
    }

    /// The plan of a map from elsewhere: tempi to the microsecond, each with the tick from which it holds, counted from bar 1
    /// and rising. The first holds from the beginning; without any it is 120.
    ///
    /// Written as text it is rounded: to thousandths of a quarter note a minute, and of a beat.
    pub fn of_steps(steps: &[(u64, Tempo)]) -> Self {
        let default = [(0, Tempo::DEFAULT)];
        let steps = if steps.is_empty() { &default } else { steps };
        let ends = steps
            .iter()
            .skip(1)
            .map(|(tick, _)| Some(*tick))
            .chain([None]);
        let mut from = 0;
        let mut stretches = Vec::with_capacity(steps.len());
        for ((_, tempo), end) in steps.iter().zip(ends) {
            let ticks = end.map(|end| end.saturating_sub(from));
            from = end.unwrap_or(from).max(from);
            if ticks != Some(0) {
                stretches.push(Stretch {
                    shape: Shape::Exact {
                        tempo: *tempo,
                        ticks,
                    },
                    span: 0..0,
                });
            }
        }
        TempoPlan { stretches }
    }

    /// Reads a plan.
    ///
    /// ```
    /// use fivefold::time::TempoPlan;
    /// let plan = TempoPlan::read("60 to 76 by 8 back 4 every 4 bars")?;
    /// assert_eq!(plan.to_string(), "60 to 76 by 8 back 4 every 4 bars");
    /// # Ok::<(), fivefold::time::PlanError>(())
    /// ```
    ///
    /// # Errors
    /// When the text is not a plan, with the bytes that are meant. Whether a tempo lies within the limits depends on
    /// the meter; [`TempoPlan::check`] tests that.
    pub fn read(text: &str) -> Result<Self, PlanError> {
        let mut reader = Reader::new(text);
        if reader.peek().is_none() {
            return Err(PlanError::new(0..text.len(), PlanFault::Empty));
        }
        let mut stretches: Vec<Stretch> = Vec::new();
        loop {
            let stretch = reader.stretch()?;
            let lasting = !matches!(stretch.shape, Shape::Hold { length: None, .. });
            let span = stretch.span.clone();
            stretches.push(stretch);
            if reader.peek().is_none() {
                return Ok(TempoPlan { stretches });
            }
            if !reader.take(",") {
                let (span, found) = reader.found();
                let expected = if lasting {
                    "`,` or the end"
                } else {
                    "`for`, `to`, `,` or the end"
                };
                return Err(PlanError::new(span, PlanFault::Word { expected, found }));
            }
            if !lasting {
                return Err(PlanError::new(span, PlanFault::NoLength));
            }
        }
    }

    /// The stretches in order, at least one.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// Ticks of the note its tempi count, in a piece that starts in `meter`: the one written with the first tempo, else
    /// the one the meter counts.
    pub fn unit_ticks(&self, meter: &Meter) -> u64 {
        let first = self
            .stretches
            .first()
            .and_then(|s| s.shape.first().unit_ticks);
        first.unwrap_or(meter.tempo_unit_ticks())
    }

    /// Whether it is a rise or fall over the whole piece, `60 to 90`, however long that is.
    pub fn is_over_all(&self) -> bool {
        let first = self.stretches.first().map(|s| &s.shape);
        matches!(first, Some(Shape::Ramp { over: None, .. }))
    }

    /// The same plan, with `length` for what is over the whole piece.
    pub fn over(&self, length: Length) -> Self {
        let mut plan = self.clone();
        for stretch in &mut plan.stretches {
            if let Shape::Ramp { over, .. } = &mut stretch.shape {
                over.get_or_insert(length);
            }
        }
        plan
    }

    /// The tempo it begins with, in thousandths of what it counts a minute.
    pub fn first_milli(&self) -> u32 {
        let first = self.stretches.first().map(|stretch| stretch.shape.first());
        first.map_or(0, |rate| u32::try_from(rate.milli).unwrap_or(u32::MAX))
    }

    /// The tempo it comes to in the end, in thousandths of what it counts a minute.
    pub fn goal_milli(&self) -> u32 {
        let last = self.stretches.last().map(|stretch| stretch.shape.last());
        last.map_or(0, |rate| u32::try_from(rate.milli).unwrap_or(u32::MAX))
    }

    /// Whether it is one tempo throughout, without a length.
    pub fn is_steady(&self) -> bool {
        let first = self.stretches.first().map(|s| &s.shape);
        self.stretches.len() == 1 && matches!(first, Some(Shape::Hold { .. } | Shape::Exact { .. }))
    }

    /// Whether every tempo of the plan, in a piece that starts in `meter`, lies within the limits: 3.6 to 960
    /// quarter notes a minute.
    ///
    /// # Errors
    /// Names the first that does not.
    pub fn check(&self, meter: &Meter) -> Result<(), PlanError> {
        for stretch in &self.stretches {
            let mut worst: Vec<u64> = Vec::new();
            let unit = meter.tempo_unit_ticks();
            let mut note =
                |rate: Rate, milli: u64| worst.push(Rate { milli, ..rate }.scaled_quarters(unit));
            match &stretch.shape {
                Shape::Hold { rate, .. } => note(*rate, rate.milli),
                Shape::Exact { tempo, .. } => {
                    let rate = rate_of(*tempo);
                    note(rate, rate.milli);
                }
                Shape::Ramp { from, to, .. } => {
                    note(*from, from.milli);
                    note(*to, to.milli);
                }
                Shape::Ladder {
                    from, to, by, back, ..
                } => {
                    for milli in rungs(from.milli, to.milli, *by, *back) {
                        note(*from, milli);
                    }
                }
            }
            let limits = SLOWEST_MILLI * TICKS_PER_QUARTER..=FASTEST_MILLI * TICKS_PER_QUARTER;
            if let Some(bad) = worst.into_iter().find(|v| !limits.contains(v)) {
                let found = Milli::new(bad / TICKS_PER_QUARTER).to_string();
                return Err(PlanError::new(
                    stretch.span.clone(),
                    PlanFault::Limit(found),
                ));
            }
        }
        Ok(())
    }

    /// The same plan with every tempo and step at `percent` hundredths, rounded to thousandths of a beat a minute.
    pub fn scaled(&self, percent_milli: u64) -> Self {
        let scale = |v: u64| (v.saturating_mul(percent_milli) + 50_000) / 100_000;
        let rate = |r: Rate| Rate {
            milli: scale(r.milli),
            ..r
        };
        let mut plan = self.clone();
        for stretch in &mut plan.stretches {
            stretch.shape = match stretch.shape.clone() {
                Shape::Exact { tempo, ticks } => {
                    let us = u64::from(tempo.us_per_quarter()) * 100_000;
                    let us = us / percent_milli.max(1);
                    let slowest = u64::from(Tempo::SLOWEST.us_per_quarter());
                    Shape::Exact {
                        tempo: Tempo::new(us.clamp(1, slowest)).unwrap_or(tempo),
                        ticks,
                    }
                }
                Shape::Hold { rate: r, length } => Shape::Hold {
                    rate: rate(r),
                    length,
                },
                Shape::Ramp { from, to, over } => Shape::Ramp {
                    from: rate(from),
                    to: rate(to),
                    over,
                },
                Shape::Ladder {
                    from,
                    to,
                    by,
                    back,
                    every,
                } => {
                    let by = scale(by).max(1);
                    let back = back.map(scale).map(|b| b.min(by - 1)).filter(|b| *b > 0);
                    Shape::Ladder {
                        from: rate(from),
                        to: rate(to),
                        by,
                        back,
                        every,
                    }
                }
            };
        }
        plan
    }
}

impl fmt::Display for TempoPlan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let m = Milli::new;
        for (i, stretch) in self.stretches.iter().enumerate() {
            if i > 0 {
                f.write_str(", ")?;
            }
            if let Some(ticks) = stretch.shape.first().unit_ticks {
                let dotted = !(4 * TICKS_PER_QUARTER).is_multiple_of(ticks);
                let plain = if dotted { ticks * 2 / 3 } else { ticks };
                let name = match 4 * TICKS_PER_QUARTER / plain {
                    1 => "whole",
                    2 => "half",
                    4 => "quarter",
                    8 => "eighth",
                    _ => "sixteenth",
                };
                write!(f, "{}{name} = ", if dotted { "dotted " } else { "" })?;
            }
            match &stretch.shape {
                Shape::Exact { tempo, ticks } => {
                    write!(f, "{}", m(rate_of(*tempo).milli))?;
                    if let Some(ticks) = ticks {
                        let beats = ticks.saturating_mul(1000) / TICKS_PER_QUARTER;
                        write!(f, " for {} beats", m(beats))?;
                    }
                }
                Shape::Hold { rate, length: None } => write!(f, "{}", m(rate.milli))?,
                Shape::Hold {
                    rate,
                    length: Some(length),
                } => write!(f, "{} for {length}", m(rate.milli))?,
                Shape::Ramp { from, to, over } => {
                    write!(f, "{} to {}", m(from.milli), m(to.milli))?;
                    if let Some(over) = over {
                        write!(f, " over {over}")?;
                    }
                }
                Shape::Ladder {
                    from,
                    to,
                    by,
                    back,
                    every,
                } => {
                    write!(f, "{} to {} by {}", m(from.milli), m(to.milli), m(*by))?;
                    if let Some(back) = back {
                        write!(f, " back {}", m(*back))?;
                    }
                    write!(f, " every {every}")?;
                }
            }
        }
        Ok(())
    }
}
