//! Reads the words of a tempo plan.

use std::ops::Range;

use super::{
    Amount, LONGEST, Length, MOST_RUNGS, PlanError, PlanFault, Rate, Shape, Stretch, rungs,
};
use crate::time::TICKS_PER_QUARTER;
use crate::time::words::{Milli, Token, read_milli, tokens};

/// Reads a length by itself, such as `8 bars`, `10min` or `90 s`.
///
/// # Errors
/// When the text is not a length, or is followed by more.
pub fn read_length(text: &str) -> Result<Length, PlanError> {
    let mut reader = Reader::new(text);
    let length = reader.length()?;
    match reader.peek() {
        None => Ok(length),
        Some(token) => Err(PlanError::new(
            token.span.clone(),
            PlanFault::Length(format!("`{}`", text.trim())),
        )),
    }
}

/// A number with too many decimals, cut to those that are kept; `None` for any other text.
fn kept_decimals(text: &str) -> Option<&str> {
    let kept = text.get(..text.find('.')? + 4)?;
    let rest = &text[kept.len()..];
    let more = !rest.is_empty() && !rest.contains('.');
    (more && read_milli(kept).is_ok()).then_some(kept)
}

pub(super) struct Reader<'a> {
    tokens: Vec<Token<'a>>,
    at: usize,
    end: usize,
}

impl<'a> Reader<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Reader {
            tokens: tokens(text),
            at: 0,
            end: text.len(),
        }
    }

    pub(super) fn peek(&self) -> Option<&Token<'a>> {
        self.tokens.get(self.at)
    }

    pub(super) fn take(&mut self, word: &str) -> bool {
        let found = self.peek().is_some_and(|t| t.text == word);
        self.at += usize::from(found);
        found
    }

    /// The next token as it is named in a message, and its place.
    pub(super) fn found(&self) -> (Range<usize>, String) {
        match self.peek() {
            Some(token) => (token.span.clone(), format!("`{}`", token.text)),
            None => {
                // If something is missing at the end, the last token is underlined.
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
        let kept = self.peek().and_then(|t| kept_decimals(t.text));
        match self.number() {
            Some(v) => {
                // The unit in `80 bpm` is redundant.
                if self
                    .peek()
                    .is_some_and(|t| t.text.eq_ignore_ascii_case("bpm"))
                {
                    self.at += 1;
                }
                Ok((v.get(), span))
            }
            None => Err(PlanError::new(
                span,
                match kept.map(str::to_owned) {
                    Some(kept) => PlanFault::Decimals { found, kept },
                    None => PlanFault::Tempo(found),
                },
            )),
        }
    }

    pub(super) fn length(&mut self) -> Result<Length, PlanError> {
        let (span, found) = self.found();
        let Some(value) = self.number() else {
            return Err(PlanError::new(span, PlanFault::Length(found)));
        };
        let (unit_span, _) = self.found();
        let (amount, unit_seconds) = match self.peek().map(|t| t.text) {
            Some("bars" | "bar") => (Amount::Bars, 1),
            Some("beats" | "beat") => (Amount::Beats, 1),
            Some("s" | "sec" | "secs" | "second" | "seconds") => (Amount::Seconds, 1),
            Some("min" | "mins" | "minute" | "minutes" | "m") => (Amount::Seconds, 60),
            Some("h" | "hr" | "hrs" | "hour" | "hours") => (Amount::Seconds, 3600),
            _ => {
                // A number alone, or with an unknown unit.
                let found = match self.peek() {
                    Some(token) => format!("`{value} {}`", token.text),
                    None => format!("`{value}` alone"),
                };
                return Err(PlanError::new(
                    span.start..unit_span.end,
                    PlanFault::Length(found),
                ));
            }
        };
        let minutes = unit_seconds > 1;
        self.at += 1;
        let span = span.start..unit_span.end;
        // Hours are written as minutes, so they have the limit of minutes.
        let (written, unit) = match unit_seconds {
            3600 => (value.get() * 60, " min"),
            _ => (value.get(), ""),
        };
        if written == 0 || written > LONGEST * 1000 {
            let found = format!("{}{unit}", Milli::new(written));
            return Err(PlanError::new(span, PlanFault::LengthLimit(found)));
        }
        let count = match amount {
            Amount::Seconds => value.get() * unit_seconds,
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

    pub(super) fn stretch(&mut self) -> Result<Stretch, PlanError> {
        let first = self.at;
        let start = self.peek().map_or(self.end, |t| t.span.start);
        let unit_ticks = self.unit()?;
        let (milli, _) = self.milli()?;
        let from = Rate { milli, unit_ticks };
        let shape = if self.take("for") {
            Shape::Hold {
                rate: from,
                length: Some(self.length()?),
            }
        } else if self.take("to") || self.take("-") || self.take("\u{2013}") {
            let (milli, _) = self.milli()?;
            let to = Rate { milli, unit_ticks };
            if self.take("over") {
                let over = Some(self.length()?);
                Shape::Ramp { from, to, over }
            } else if self.take("by") {
                self.ladder(from, to)?
            } else if first == 0 && self.peek().is_none() {
                let over = None;
                Shape::Ramp { from, to, over }
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
