//! What sounds in each bar, and for how many beats.

use std::collections::HashMap;
use std::ops::Range;

use super::marks::mark;
use super::raw::{RawBar, Token};
use super::{Cell, Content, Marks, WrittenBar};
use crate::chart::Problem;
use crate::theory::figure::{self, Figure};
use crate::theory::in_words;
use crate::time::Meter;

/// Reads the bars of a section in written order.
pub(super) struct BarReader<'t, 'p> {
    meter: Meter,
    cache: HashMap<&'t str, Figure>,
    problems: &'p mut Vec<Problem>,
}

impl<'t, 'p> BarReader<'t, 'p> {
    pub(super) fn new(meter: Meter, problems: &'p mut Vec<Problem>) -> Self {
        BarReader {
            meter,
            cache: HashMap::new(),
            problems,
        }
    }

    pub(super) fn bar(&mut self, raw: &RawBar<'t>, before: Option<&WrittenBar>) -> WrittenBar {
        if let Some((meter, _)) = &raw.meter {
            self.meter = *meter;
        }
        let cells = if self.marks(raw) || self.two_bars(raw) {
            Vec::new()
        } else if raw.tokens.iter().any(|(token, _)| *token == Token::Simile) {
            self.simile(raw, before)
        } else {
            self.cells(raw, before.is_none())
        };
        WrittenBar {
            meter: self.meter,
            cells,
            span: raw.span.clone(),
            marks: Marks {
                opens: raw.opens.is_some(),
                closes: raw.closes.as_ref().map(|(times, _)| *times),
                ending: raw
                    .ending
                    .as_ref()
                    .map_or_else(Vec::new, |(numbers, _)| numbers.clone()),
                simile: raw.tokens.iter().any(|(token, _)| *token == Token::Simile),
            },
        }
    }

    fn wrong(
        &mut self,
        code: &'static str,
        span: &Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.problems
            .push(Problem::error(code, span.clone(), message, help));
    }

    /// Whether the bar holds signs of printed music that a chart writes differently; only the first is reported, since
    /// the words around it are often part of it (`D.S. al Coda`).
    fn marks(&mut self, raw: &RawBar<'t>) -> bool {
        for (i, (token, span)) in raw.tokens.iter().enumerate() {
            let Token::Word(word) = token else { continue };
            let before = match i.checked_sub(1).map(|i| &raw.tokens[i].0) {
                Some(Token::Word(before)) => Some(*before),
                _ => None,
            };
            if let Some((code, message, help)) = mark(word, before) {
                self.wrong(code, span, message, help);
                return true;
            }
        }
        self.signs_in_words(raw)
    }

    /// Whether the bar holds `E flat` for Eb: the words are a chord only together.
    fn signs_in_words(&mut self, raw: &RawBar<'t>) -> bool {
        let word = |at: usize| match raw.tokens.get(at) {
            Some((Token::Word(word), span)) => Some((*word, span.clone())),
            _ => None,
        };
        let found = (0..raw.tokens.len()).find_map(|at| {
            let (letter, from) = word(at)?;
            let (sign, to) = word(at + 1)?;
            let (root, length) = in_words(&format!("{letter} {sign}"))?;
            let whole = length == letter.len() + 1 + sign.len();
            let more = word(at + 2).filter(|(more, _)| {
                figure::read(more).is_err() && figure::read(&format!("{root}{more}")).is_ok()
            });
            let (rest, to) = more.unwrap_or(("", to));
            whole.then(|| (format!("{root}{rest}"), from.start..to.end))
        });
        let Some((meant, span)) = found else {
            return false;
        };
        let message = "a flat or a sharp is a sign behind its letter in a chart";
        self.wrong(
            "chart-sign-word",
            &span,
            message,
            format!("write `{meant}`"),
        );
        true
    }

    /// Whether a bar that goes over a line end may be meant as several: each of its lines could be a bar by itself.
    fn two_bars(&mut self, raw: &RawBar<'t>) -> bool {
        let lines = raw.lines();
        let beats = self.meter.beat_count();
        if lines.is_empty() || !lines.iter().all(|line| fills_bar(line, beats)) {
            return false;
        }
        let written = |line: &&[(Token<'_>, Range<usize>)]| {
            let words: Vec<&str> = line.iter().map(|(token, _)| token.text()).collect();
            words.join(" ")
        };
        let written: Vec<String> = lines.iter().map(written).collect();
        let bars = written.join(" | ");
        let repeats = raw.tokens.iter().any(|(token, _)| *token == Token::Simile);
        let help = if !repeats && fills_bar(&raw.tokens, beats) {
            let one = written.join(" ");
            format!("write `{bars}` for a bar a line, or `{one}` on one line for one bar")
        } else {
            format!("write `{bars}`, with a bar line at the end of each line")
        };
        let message = "a line ends without a bar line, and the next begins without one";
        self.wrong("chart-line-end", &raw.span, message, help);
        true
    }

    fn simile(&mut self, raw: &RawBar<'t>, before: Option<&WrittenBar>) -> Vec<Cell> {
        let span = &raw.span;
        if raw.tokens.len() > 1 {
            self.wrong(
                "chart-simile-alone",
                span,
                "`%` stands alone in its bar",
                "write the chords out",
            );
            return Vec::new();
        }
        let Some(before) = before else {
            self.wrong(
                "chart-simile-first",
                span,
                "`%` has no bar before it to repeat",
                "write the bar out",
            );
            return Vec::new();
        };
        if raw.ending.is_some() {
            let message = "`%` cannot be the first bar of an ending: the bar before it changes";
            self.wrong("chart-simile-ending", span, message, "write the bar out");
            return Vec::new();
        }
        if before.meter != self.meter {
            let message = format!(
                "`%` repeats a bar of {}, but the meter here is {}",
                before.meter, self.meter
            );
            self.wrong("chart-simile-meter", span, message, "write the bar out");
            return Vec::new();
        }
        before
            .cells
            .iter()
            .map(|cell| Cell {
                span: span.clone(),
                ..cell.clone()
            })
            .collect()
    }

    fn cells(&mut self, raw: &RawBar<'t>, first_of_section: bool) -> Vec<Cell> {
        let beats = self.meter.beat_count();
        let count = u32::try_from(raw.tokens.len()).unwrap_or(u32::MAX);
        let slashed = raw.tokens.iter().any(|(token, _)| *token == Token::Slash);
        if slashed && count != beats {
            let found = if count == 1 {
                "1 is written".to_owned()
            } else {
                format!("{count} are written")
            };
            let message = format!("a bar of {} has {beats} beats, {found}", self.meter);
            let help = self.written_out(raw, beats);
            self.wrong("chart-beat-count", &raw.span, message, help);
            return Vec::new();
        }
        if !slashed && (count > beats || !beats.is_multiple_of(count)) {
            let message = format!(
                "{count} chords do not share the {beats} beats of {} evenly",
                self.meter
            );
            let help = self.written_out(raw, beats);
            self.wrong("chart-uneven", &raw.span, message, help);
            return Vec::new();
        }
        let share = if slashed { 1 } else { beats / count.max(1) };
        let held = usize::from(matches!(raw.tokens.first(), Some((Token::Slash, _))));
        let words = raw
            .tokens
            .iter()
            .filter(|(token, _)| *token != Token::Slash);
        let mut cells: Vec<Cell> = Vec::with_capacity(held + words.count());
        let mut beat = 0;
        for (token, span) in &raw.tokens {
            match token {
                Token::Slash => match cells.last_mut() {
                    Some(cell) => cell.beats += 1,
                    None if first_of_section => {
                        let message = "`/` has no chord before it to hold";
                        self.wrong("chart-hold-first", span, message, "write the chord");
                        return Vec::new();
                    }
                    None => cells.push(Cell {
                        content: Content::Hold,
                        beat,
                        beats: 1,
                        span: span.clone(),
                    }),
                },
                Token::Word(word) => {
                    if let Some(figure) = self.figure(word, span) {
                        let content = Content::Figure(figure);
                        cells.push(Cell {
                            content,
                            beat,
                            beats: share,
                            span: span.clone(),
                        });
                    }
                }
                Token::Simile => {}
            }
            beat += share;
        }
        cells
    }

    /// The bar with slashes, as it may have been meant: filled up or cut to the beats of the meter.
    fn written_out(&self, raw: &RawBar<'_>, beats: u32) -> String {
        let words: Vec<&str> = raw
            .tokens
            .iter()
            .filter_map(|(t, _)| {
                if let Token::Word(w) = t {
                    Some(*w)
                } else {
                    None
                }
            })
            .collect();
        if words.len() > beats as usize {
            return format!("write at most {beats} chords in a bar of {}", self.meter);
        }
        if words.is_empty() {
            return format!(
                "write one `/` a beat: `| {} |`",
                vec!["/"; beats as usize].join(" ")
            );
        }
        let led = raw
            .tokens
            .iter()
            .take_while(|t| t.0 == Token::Slash)
            .count();
        let led = led.min(beats as usize - words.len());
        let extra = beats as usize - words.len() - led;
        let mut out: Vec<&str> = vec!["/"; led];
        for (i, word) in words.iter().enumerate() {
            out.push(word);
            let share = extra / words.len() + usize::from(i < extra % words.len());
            out.extend(std::iter::repeat_n("/", share));
        }
        format!("write each beat, a chord or a `/`: `| {} |`", out.join(" "))
    }

    fn figure(&mut self, word: &'t str, span: &Range<usize>) -> Option<Figure> {
        if let Some(figure) = self.cache.get(word) {
            return Some(figure.clone());
        }
        match figure::read(word) {
            Ok(figure) => {
                self.cache.insert(word, figure.clone());
                Some(figure)
            }
            Err(e) => {
                let place = |inner: Range<usize>| {
                    let at = span.start + inner.start
                        ..(span.start + inner.end).max(span.start + inner.start + 1);
                    if at.end <= span.end { at } else { span.clone() }
                };
                let problem = Problem::of(&e, 0..word.len()).placed(place);
                self.problems.push(problem);
                None
            }
        }
    }
}

/// Whether tokens are a bar by themselves: chords that share its beats evenly, or a chord or a slash for each beat.
fn fills_bar(tokens: &[(Token<'_>, Range<usize>)], beats: u32) -> bool {
    let count = u32::try_from(tokens.len()).unwrap_or(u32::MAX);
    let is_read = |token: &Token<'_>| match token {
        Token::Word(word) => figure::read(word).is_ok(),
        Token::Slash | Token::Simile => true,
    };
    // A word that is no chord is reported as such.
    if !tokens.iter().all(|(token, _)| is_read(token)) {
        return false;
    }
    if tokens.iter().any(|(token, _)| *token == Token::Slash) {
        return count == beats;
    }
    count > 0 && count <= beats && beats.is_multiple_of(count)
}
