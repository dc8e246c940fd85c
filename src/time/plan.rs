//! Tempo plans as people write them.

use std::fmt;
use std::ops::Range;

use super::words::{Milli, Token, read_milli, tokens};
use super::{Meter, TICKS_PER_QUARTER};

/// Slowest and fastest tempo a plan may name, in thousandths of a quarter note a minute.
const SLOWEST_MILLI: u64 = 3_600;
const FASTEST_MILLI: u64 = 960_000;
/// Most plateaus a ladder may have.
const MOST_RUNGS: usize = 10_000;
/// Longest amount a length may name, in its own unit.
const LONGEST: u64 = 1_000_000;

/// What a length counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Amount {
    /// Bars of the chart.
    Bars,
    /// Beats of the chart's meter.
    Beats,
    /// Seconds.
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
    /// Thousandths of a quarter note a minute times 960: exact, for a plan whose unit is `unit_ticks`.
    pub(crate) fn scaled_quarters(self, unit_ticks: u64) -> u64 {
        self.milli * self.unit_ticks.unwrap_or(unit_ticks)
    }
}

/// One stretch of a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stretch {
    pub(crate) shape: Shape,
    /// Bytes of the plan's text it was read from.
    pub span: Range<usize>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    Hold {
        rate: Rate,
        length: Option<Length>,
    },
    Ramp {
        from: Rate,
        to: Rate,
        over: Length,
    },
    Ladder {
        from: Rate,
        to: Rate,
        by: u64,
        back: Option<u64>,
        every: Length,
    },
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

/// What the tempo does over a piece: stretches that follow one another, the last of which holds.
///
/// A stretch is `T`, `T for 8 bars`, `T to T over 16 bars`, or `T to T by S [back S] every 4 bars`; stretches are
/// joined by commas. `T` counts the note the meter counts, or the one written: `quarter = 90`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TempoPlan {
    stretches: Vec<Stretch>,
}

/// Why a text is no tempo plan, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{fault}")]
pub struct PlanError {
    /// Bytes of the plan's text that are meant.
    pub span: Range<usize>,
    /// What is wrong there.
    pub fault: PlanFault,
}

/// What is wrong with a tempo plan.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanFault {
    /// Nothing was written.
    #[error("a tempo plan is empty")]
    Empty,
    /// A tempo was expected.
    #[error("expected a tempo in beats a minute, found {0}")]
    Tempo(String),
    /// A length was expected.
    #[error("expected a length such as 8 bars, found {0}")]
    Length(String),
    /// A word that has no place there.
    #[error("expected {expected}, found {found}")]
    Word {
        /// What may stand there.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
    /// An unknown note value before `=`.
    #[error("`{0}` is no note value a tempo counts")]
    Note(String),
    /// A stretch before the last without a length.
    #[error("only the last stretch of a plan may lack its length")]
    NoLength,
    /// A tempo outside the limits.
    #[error("a tempo is 3.6 to 960 quarter notes a minute, found {0}")]
    Limit(String),
    /// A ladder that never arrives.
    #[error("a ladder steps forward by more than it steps back, found by {by} back {back}")]
    Back {
        /// The step forward.
        by: String,
        /// The step back.
        back: String,
    },
    /// A ladder of steps of nothing, or of too many.
    #[error("a ladder has steps above 0 and at most 10000 plateaus, found by {0}")]
    Step(String),
    /// A length of nothing, or beyond the limit.
    #[error("a length is above 0 and at most 1000000, found {0}")]
    LengthLimit(String),
}

impl PlanError {
    fn new(span: Range<usize>, fault: PlanFault) -> Self {
        PlanError { span, fault }
    }

    /// A stable name for programs.
    pub fn code(&self) -> &'static str {
        match self.fault {
            PlanFault::Empty => "plan-empty",
            PlanFault::Tempo(_) => "plan-tempo",
            PlanFault::Length(_) => "plan-length",
            PlanFault::Word { .. } => "plan-word",
            PlanFault::Note(_) => "plan-note",
            PlanFault::NoLength => "plan-no-length",
            PlanFault::Limit(_) => "plan-limit",
            PlanFault::Back { .. } => "plan-back",
            PlanFault::Step(_) => "plan-step",
            PlanFault::LengthLimit(_) => "plan-length-limit",
        }
    }

    /// What to write instead.
    pub fn help(&self) -> String {
        match &self.fault {
            PlanFault::Length(_) | PlanFault::LengthLimit(_) => {
                "write a number of bars, beats, s or min: `8 bars`, `90 s`, `2.5 min`".to_owned()
            }
            PlanFault::Note(_) => {
                "write `quarter = 90`, `dotted quarter = 60`, `eighth = 180` or `half = 45`".to_owned()
            }
            PlanFault::NoLength => "write how long it lasts: `72 for 8 bars, 96`".to_owned(),
            PlanFault::Limit(_) => "write a tempo people can play to, such as 72".to_owned(),
            PlanFault::Back { .. } => "write a smaller step back: `60 to 76 by 8 back 4 every 4 bars`".to_owned(),
            PlanFault::Step(_) => "write a larger step: `72 to 96 by 4 every 8 bars`".to_owned(),
            _ => "write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`".to_owned(),
        }
    }
}

/// Reads a length by itself, such as `8 bars`, `10min` or `90 s`.
///
/// # Errors
/// When the text is no length, or there is more behind it.
pub fn read_length(text: &str) -> Result<Length, PlanError> {
    let mut reader = Reader {
        tokens: tokens(text),
        at: 0,
        end: text.len(),
    };
    let length = reader.length()?;
    match reader.peek() {
        None => Ok(length),
        Some(token) => Err(PlanError::new(
            token.span.clone(),
            PlanFault::Length(format!("`{}`", text.trim())),
        )),
    }
}

struct Reader<'a> {
    tokens: Vec<Token<'a>>,
    at: usize,
    end: usize,
}

impl<'a> Reader<'a> {
    fn peek(&self) -> Option<&Token<'a>> {
        self.tokens.get(self.at)
    }

    fn take(&mut self, word: &str) -> bool {
        let found = self.peek().is_some_and(|t| t.text == word);
        self.at += usize::from(found);
        found
    }

    /// The next token as it is named in a message, and its place.
    fn found(&self) -> (Range<usize>, String) {
        match self.peek() {
            Some(token) => (token.span.clone(), format!("`{}`", token.text)),
            None => {
                // The last token is underlined where something is missing behind it.
                let span = self.tokens.last().map_or(0..self.end, |t| t.span.clone());
                (span, "the end".to_owned())
            }
        }
    }

    fn number(&mut self) -> Option<Milli> {
        let value = read_milli(self.peek()?.text).ok()?;
        self.at += 1;
        Some(value)
    }

    fn milli(&mut self) -> Result<(u64, Range<usize>), PlanError> {
        let (span, found) = self.found();
        match self.number() {
            Some(v) => Ok((v.get(), span)),
            None => Err(PlanError::new(span, PlanFault::Tempo(found))),
        }
    }

    fn length(&mut self) -> Result<Length, PlanError> {
        let (span, found) = self.found();
        let Some(value) = self.number() else {
            return Err(PlanError::new(span, PlanFault::Length(found)));
        };
        let (unit_span, unit) = self.found();
        let amount = match self.peek().map(|t| t.text) {
            Some("bars" | "bar") => Amount::Bars,
            Some("beats" | "beat") => Amount::Beats,
            Some("s" | "sec" | "second" | "seconds") => Amount::Seconds,
            Some("min" | "minute" | "minutes") => Amount::Seconds,
            _ => {
                let found = format!("`{value}` and then {unit}");
                return Err(PlanError::new(
                    span.start..unit_span.end,
                    PlanFault::Length(found),
                ));
            }
        };
        let minutes = self.peek().is_some_and(|t| t.text.starts_with("min"));
        self.at += 1;
        let span = span.start..unit_span.end;
        let limit = |span, found: String| Err(PlanError::new(span, PlanFault::LengthLimit(found)));
        if value.get() == 0 || value.get() > LONGEST * 1000 {
            return limit(span, value.to_string());
        }
        let count = match amount {
            Amount::Seconds => value.get() * if minutes { 60 } else { 1 },
            _ if value.get() % 1000 != 0 => {
                return Err(PlanError::new(
                    span,
                    PlanFault::Length(format!("a part of one: {value}")),
                ));
            }
            _ => value.get() / 1000,
        };
        Ok(Length {
            count,
            amount,
            minutes,
        })
    }

    /// `quarter =`, `dotted eighth =` and so on, if written here.
    fn unit(&mut self) -> Result<Option<u64>, PlanError> {
        let start = self.at;
        let is_word = |t: &Token<'_>| t.text.chars().all(char::is_alphabetic);
        while self.peek().is_some_and(is_word) {
            self.at += 1;
        }
        let words: Vec<&str> = self.tokens[start..self.at].iter().map(|t| t.text).collect();
        if words.is_empty() || self.peek().is_none_or(|t| t.text != "=") {
            self.at = start;
            return Ok(None);
        }
        let (dotted, name) = match words.as_slice() {
            ["dotted", name] => (true, *name),
            [name] => (false, *name),
            _ => (false, ""),
        };
        let plain = match name {
            "whole" => 4 * TICKS_PER_QUARTER,
            "half" => 2 * TICKS_PER_QUARTER,
            "quarter" => TICKS_PER_QUARTER,
            "eighth" => TICKS_PER_QUARTER / 2,
            "sixteenth" => TICKS_PER_QUARTER / 4,
            _ => {
                let span = self.tokens[start].span.start..self.tokens[self.at - 1].span.end;
                return Err(PlanError::new(span, PlanFault::Note(words.join(" "))));
            }
        };
        self.at += 1;
        Ok(Some(if dotted { plain * 3 / 2 } else { plain }))
    }

    fn stretch(&mut self) -> Result<Stretch, PlanError> {
        let start = self.peek().map_or(self.end, |t| t.span.start);
        let unit_ticks = self.unit()?;
        let (milli, _) = self.milli()?;
        let from = Rate { milli, unit_ticks };
        let shape = if self.take("for") {
            Shape::Hold {
                rate: from,
                length: Some(self.length()?),
            }
        } else if self.take("to") {
            let (milli, _) = self.milli()?;
            let to = Rate { milli, unit_ticks };
            if self.take("over") {
                Shape::Ramp {
                    from,
                    to,
                    over: self.length()?,
                }
            } else if self.take("by") {
                self.ladder(from, to)?
            } else {
                let (span, found) = self.found();
                return Err(PlanError::new(
                    span,
                    PlanFault::Word {
                        expected: "`over` or `by`",
                        found,
                    },
                ));
            }
        } else {
            Shape::Hold {
                rate: from,
                length: None,
            }
        };
        let end = self
            .at
            .checked_sub(1)
            .and_then(|i| self.tokens.get(i))
            .map_or(start, |t| t.span.end);
        Ok(Stretch {
            shape,
            span: start..end,
        })
    }

    fn ladder(&mut self, from: Rate, to: Rate) -> Result<Shape, PlanError> {
        let (by, span) = self.milli()?;
        let back = if self.take("back") {
            let (back, back_span) = self.milli()?;
            if back >= by {
                let fault = PlanFault::Back {
                    by: Milli::new(by).to_string(),
                    back: Milli::new(back).to_string(),
                };
                return Err(PlanError::new(span.start..back_span.end, fault));
            }
            Some(back).filter(|b| *b > 0)
        } else {
            None
        };
        if !self.take("every") {
            let (span, found) = self.found();
            let expected = if back.is_some() {
                "`every`"
            } else {
                "`every` or `back`"
            };
            return Err(PlanError::new(span, PlanFault::Word { expected, found }));
        }
        let every = self.length()?;
        if by == 0
            || rungs(from.milli, to.milli, by, back)
                .nth(MOST_RUNGS)
                .is_some()
        {
            return Err(PlanError::new(
                span,
                PlanFault::Step(Milli::new(by).to_string()),
            ));
        }
        Ok(Shape::Ladder {
            from,
            to,
            by,
            back,
            every,
        })
    }
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
    /// When the text is no plan, with the bytes that are meant. Whether a tempo lies within the limits depends on
    /// the meter and is said by [`TempoPlan::check`].
    pub fn read(text: &str) -> Result<Self, PlanError> {
        let mut reader = Reader {
            tokens: tokens(text),
            at: 0,
            end: text.len(),
        };
        if reader.tokens.is_empty() {
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
            let unit = match &stretch.shape {
                Shape::Hold { rate, .. } => rate.unit_ticks,
                Shape::Ramp { from, .. } | Shape::Ladder { from, .. } => from.unit_ticks,
            };
            if let Some(ticks) = unit {
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
                Shape::Hold { rate, length: None } => write!(f, "{}", m(rate.milli))?,
                Shape::Hold {
                    rate,
                    length: Some(length),
                } => write!(f, "{} for {length}", m(rate.milli))?,
                Shape::Ramp { from, to, over } => {
                    write!(f, "{} to {} over {over}", m(from.milli), m(to.milli))?;
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

impl Rate {
    pub(crate) const fn milli(self) -> u64 {
        self.milli
    }

    pub(crate) const fn with_milli(self, milli: u64) -> Self {
        Rate { milli, ..self }
    }
}
