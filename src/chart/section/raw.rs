//! Bars cut at their bar lines, with the marks at these lines.

use std::ops::Range;

use super::{MOST_BARS, MOST_CHORDS, too_many_bars, too_many_chords};
use crate::chart::Problem;
use crate::chart::scan::{Lexeme, MOST_REPEATS, scan};
use crate::theory::figure;
use crate::time::Meter;

/// A bar on its way, with the marks that decide the order.
#[derive(Debug)]
pub(super) struct RawBar<'a> {
    pub(super) tokens: Vec<(Token<'a>, Range<usize>)>,
    pub(super) meter: Option<(Meter, Range<usize>)>,
    pub(super) span: Range<usize>,
    /// Where a `|:` before it stands.
    pub(super) opens: Option<Range<usize>>,
    /// How often it is played in all, and where that is written.
    pub(super) closes: Option<(u32, Range<usize>)>,
    pub(super) ending: Option<(Vec<u32>, Range<usize>)>,
    /// Where a line ends inside the bar: how many tokens stand before it, for each such line end, rising.
    pub(super) line_ends: Vec<usize>,
}

/// What a bar is made of.
#[derive(Debug, PartialEq)]
pub(super) enum Token<'a> {
    /// A chord, or something that should be one.
    Word(&'a str),
    /// A free-standing `/`.
    Slash,
    /// `%`: the bar before, again.
    Simile,
}

impl<'a> Token<'a> {
    /// As it is written.
    pub(super) const fn text(&self) -> &'a str {
        match self {
            Token::Word(word) => word,
            Token::Slash => "/",
            Token::Simile => "%",
        }
    }
}

impl RawBar<'_> {
    fn at(at: usize) -> Self {
        RawBar {
            tokens: Vec::new(),
            meter: None,
            span: at..at,
            opens: None,
            closes: None,
            ending: None,
            line_ends: Vec::new(),
        }
    }

    /// The tokens of each line, where the bar goes over more than one; nothing where it stands on one.
    pub(super) fn lines(&self) -> Vec<&[(Token<'_>, Range<usize>)]> {
        if self.line_ends.is_empty() {
            return Vec::new();
        }
        let starts = std::iter::once(0).chain(self.line_ends.iter().copied());
        let ends = self.line_ends.iter().copied();
        let ends = ends.chain(std::iter::once(self.tokens.len()));
        let lines = starts.zip(ends);
        lines
            .filter_map(|(from, to)| self.tokens.get(from..to))
            .collect()
    }
}

/// The number of mistakes after which reading stops: each takes far more memory than the sign that caused it.
const MOST_WRONG: usize = 2000;

/// Most chords, slashes and similes of a bar that are kept; no meter has as many beats.
const MOST_TOKENS: usize = 2000;

/// Most signs of all bars together: of those with the most chords, a chord and three beats that hold it.
const MOST_SIGNS: usize = 4 * MOST_CHORDS;

/// Cuts a chart into bars.
pub(super) fn raw_bars<'a>(text: &'a str, problems: &mut Vec<Problem>) -> Vec<RawBar<'a>> {
    let already = problems.len();
    let mut cutter = Cutter {
        bars: Vec::new(),
        bar: RawBar::at(0),
        line_before: None,
        line_ended: false,
        any_line: false,
        signs: 0,
        problems,
    };
    let mut begins_line = true;
    let mut words_until = 0;
    for (lexeme, span) in scan(text) {
        if std::mem::replace(&mut begins_line, lexeme == Lexeme::LineEnd)
            && let Some(words) = line_of_words(text, span.start)
        {
            // Only the first line is reported: a song has many.
            if words_until == 0 {
                let help = "leave words to be sung out: a chart holds bar lines and chords";
                let message = "a line of a chart has words and no chords";
                cutter.wrong("chart-words", words.clone(), message, help);
            }
            words_until = words.end;
        }
        if span.start < words_until {
            continue;
        }
        if cutter.bars.len() >= MOST_BARS {
            cutter.problems.push(too_many_bars(span));
            break;
        }
        if cutter.signs > MOST_SIGNS {
            cutter.problems.push(too_many_chords(span));
            break;
        }
        if cutter.problems.len() > already + MOST_WRONG {
            break;
        }
        match lexeme {
            Lexeme::LineEnd => cutter.line_end(),
            Lexeme::BadTimes => {
                let message = format!(
                    "a repeat is played 2 to {MOST_REPEATS} times, found `{}`",
                    &text[span.clone()]
                );
                let help = "write how often in all, such as `:|x3`";
                cutter.wrong("chart-repeat-times", span.clone(), message, help);
                cutter.bar_line(Some(2), false, &span);
            }
            Lexeme::BarLine { closes, opens } => cutter.bar_line(closes, opens, &span),
            Lexeme::EndingMark(numbers) => cutter.ending(numbers, span),
            Lexeme::MeterMark(inner) => cutter.meter(inner, span),
            Lexeme::Simile => cutter.push(Token::Simile, span),
            Lexeme::Slash => cutter.push(Token::Slash, span),
            Lexeme::Word(word) => cutter.push(Token::Word(word), span),
        }
    }
    cutter.finish()
}

/// The line from `start` on, where it holds words to be sung: three or more, no bar line or other sign, and more than half
/// of them no figures.
fn line_of_words(text: &str, start: usize) -> Option<Range<usize>> {
    let line = text[start..].lines().next()?.trim_end();
    let label = line.split_whitespace().next()?.ends_with(':');
    if label || line.contains(['|', '\u{2016}', '[', '(', '%', '/']) {
        return None;
    }
    let words = line.split_whitespace().take(MOST_SUNG);
    let count = words.clone().count();
    let sung = words.filter(|word| figure::read(word).is_err()).count();
    (count >= 3 && sung * 2 > count).then(|| start..start + line.len())
}

/// Most words of a line that are looked at.
const MOST_SUNG: usize = 20;

struct Cutter<'a, 'p> {
    bars: Vec<RawBar<'a>>,
    bar: RawBar<'a>,
    /// The bar line before and whether it repeats, unless a line has ended since.
    line_before: Option<(Range<usize>, bool)>,
    /// Whether a line has ended behind the last token of the bar.
    line_ended: bool,
    any_line: bool,
    /// Signs of all bars so far.
    signs: usize,
    problems: &'p mut Vec<Problem>,
}

impl<'a> Cutter<'a, '_> {
    fn wrong(
        &mut self,
        code: &'static str,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.problems
            .push(Problem::error(code, span, message, help));
    }

    fn line_end(&mut self) {
        self.line_before = None;
        self.line_ended = !self.bar.tokens.is_empty();
    }

    fn push(&mut self, token: Token<'a>, span: Range<usize>) {
        if self.bar.tokens.is_empty() {
            self.bar.span.start = span.start;
        } else if self.line_ended && self.bar.tokens.len() < MOST_TOKENS {
            self.bar.line_ends.push(self.bar.tokens.len());
        }
        self.line_ended = false;
        self.bar.span.end = span.end;
        if self.bar.tokens.len() < MOST_TOKENS {
            self.bar.tokens.push((token, span));
            self.signs += 1;
        }
    }

    fn bar_line(&mut self, closes: Option<u32>, opens: bool, span: &Range<usize>) {
        self.any_line = true;
        let repeats = closes.is_some() || opens;
        if self.bar.tokens.is_empty() {
            self.line_behind_nothing(closes, repeats, span);
        } else {
            self.bar.closes = closes.map(|times| (times, span.clone()));
            self.bar.tokens.shrink_to_fit();
            let next = RawBar::at(span.end);
            self.bars.push(std::mem::replace(&mut self.bar, next));
        }
        if opens {
            self.bar.opens = Some(span.clone());
        }
        self.line_before = Some((span.clone(), repeats));
        self.line_ended = false;
        self.bar.span = span.end..span.end;
    }

    /// A bar line without a bar before it: the first of a chart or a line, a second repeat sign, or a mistake.
    fn line_behind_nothing(&mut self, closes: Option<u32>, repeats: bool, span: &Range<usize>) {
        if let Some((_, mark)) = self.bar.ending.take() {
            self.ending_empty(mark);
        } else if let Some(times) = closes {
            let last = self.bars.last_mut().filter(|last| last.closes.is_none());
            match last {
                Some(last) if self.bar.opens.is_none() => last.closes = Some((times, span.clone())),
                _ => {
                    self.bar.opens = None;
                    let help = "write the bars to repeat before `:|`";
                    self.wrong(
                        "chart-repeat-nothing",
                        span.clone(),
                        "there is nothing to repeat",
                        help,
                    );
                }
            }
        } else if let Some((before, was_repeat)) = &self.line_before
            && !repeats
            && (!was_repeat || self.bar.opens.is_some() || self.bar.meter.is_some())
        {
            let help = "write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord";
            self.wrong(
                "chart-empty-bar",
                before.start..span.end,
                "a bar is empty",
                help,
            );
        }
    }

    fn ending(&mut self, numbers: Vec<u32>, span: Range<usize>) {
        if self.bar.tokens.is_empty() && self.bar.ending.is_none() {
            self.bar.ending = Some((numbers, span));
        } else {
            let help = "write it right behind one: `:|[2. D |`";
            self.wrong(
                "chart-ending-place",
                span,
                "an ending begins at a bar line",
                help,
            );
        }
    }

    fn ending_empty(&mut self, mark: Range<usize>) {
        let help = "write its bars behind it: `[2. D |`";
        self.wrong("chart-ending-empty", mark, "an ending has no bars", help);
    }

    fn meter(&mut self, inner: &str, span: Range<usize>) {
        match Meter::read(inner) {
            Ok(_) if self.bar.meter.is_some() => {
                let help = "leave one of the two meters out";
                self.wrong(
                    "chart-meter-twice",
                    span,
                    "the meter changes twice in one bar",
                    help,
                );
            }
            Ok(meter) if self.bar.tokens.is_empty() => self.bar.meter = Some((meter, span)),
            Ok(_) => {
                let help = format!("write it right behind the bar line: `| ({inner}) Am |`");
                self.wrong(
                    "chart-meter-place",
                    span,
                    "the meter changes at the start of a bar",
                    help,
                );
            }
            Err(e) => self.problems.push(Problem::of(&e, span)),
        }
    }

    /// Closes the last bar and reports marks without one.
    fn finish(mut self) -> Vec<RawBar<'a>> {
        let text_start = self.bars.first().map_or(0, |bar| bar.span.start);
        if !self.bar.tokens.is_empty() {
            let next = RawBar::at(self.bar.span.end);
            self.bars.push(std::mem::replace(&mut self.bar, next));
        }
        if let Some((_, mark)) = self.bar.ending.take() {
            self.ending_empty(mark);
        } else if let Some(mark) = self.bar.opens.take().filter(|_| !self.bars.is_empty()) {
            let help = "write the bars to repeat and `:|`, or end with `|`";
            self.wrong(
                "chart-repeat-unclosed",
                mark,
                "a repeat is opened but has no bars",
                help,
            );
        } else if let Some((_, mark)) = self.bar.meter.take().filter(|_| !self.bars.is_empty()) {
            let help = "write the bar behind it, or leave it out";
            self.wrong(
                "chart-meter-place",
                mark,
                "a meter stands before no bar",
                help,
            );
        }
        if let [bar] = self.bars.as_slice()
            && !self.any_line
        {
            let span = text_start.min(bar.span.start)..bar.span.end;
            let words: Vec<String> = bar
                .tokens
                .iter()
                .take(4)
                .filter_map(|(token, _)| match token {
                    Token::Word(word) if word.len() <= 20 => Some(format!("{word} | ")),
                    _ => None,
                })
                .collect();
            let words = words.concat();
            let help = match words.as_str() {
                "" => super::CHART_HELP.to_owned(),
                words => format!("write `| {}`", words.trim_end()),
            };
            self.wrong("chart-no-bar-line", span, "a chart has no bar lines", help);
            self.bars.clear();
        }
        self.bars
    }
}
