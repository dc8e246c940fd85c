//! One section of a chart: its bars as written, and the order in which repeats and endings play them.

use std::collections::HashMap;
use std::ops::Range;

use super::Problem;
use super::scan::{Lexeme, MOST_REPEATS, scan};
use crate::theory::figure::{self, Figure};
use crate::time::Meter;

/// Most bars a section, or a whole form, may unfold into.
pub const MOST_BARS: usize = 100_000;

/// What sounds from a beat on.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A chord as written.
    Figure(Figure),
    /// The chord before, held over the bar line.
    Hold,
}

/// A chord (or a hold) and the beats it fills.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// What sounds.
    pub content: Content,
    /// First beat, counted from 0.
    pub beat: u32,
    /// How many beats.
    pub beats: u32,
    /// Bytes of the section's text.
    pub span: Range<usize>,
}

/// A bar as written.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenBar {
    /// Its meter.
    pub meter: Meter,
    /// What sounds, without gaps; empty only where the bar was refused.
    pub cells: Vec<Cell>,
    /// Bytes of the section's text between its bar lines.
    pub span: Range<usize>,
}

/// A section: bars as written, and the order they are played in.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Section {
    /// The bars in written order.
    pub bars: Vec<WrittenBar>,
    /// Indices into `bars` in playing order, repeats and endings unfolded.
    pub order: Vec<usize>,
}

/// A bar on its way, with the marks that decide the order.
#[derive(Debug)]
struct RawBar<'a> {
    tokens: Vec<(Token<'a>, Range<usize>)>,
    meter: Option<(Meter, Range<usize>)>,
    span: Range<usize>,
    opens: bool,
    /// How often in all, and where it says so.
    closes: Option<(u32, Range<usize>)>,
    ending: Option<(Vec<u32>, Range<usize>)>,
}

#[derive(Debug, PartialEq)]
enum Token<'a> {
    Word(&'a str),
    Slash,
    Simile,
}

const CHART_HELP: &str = "write bars between bar lines: `| Am7 | D9 / G7 / | % |`";

/// Reads one section in the chart notation. What is wrong is added to `problems`; the bars that are right are kept.
///
/// `meter` is the meter the section starts in. Spans are bytes of `text`.
pub fn read_section(text: &str, meter: Meter, problems: &mut Vec<Problem>) -> Section {
    let raw = raw_bars(text, problems);
    if raw.is_empty() {
        if problems.is_empty() {
            problems.push(Problem::error(
                "chart-empty",
                0..text.len(),
                "a chart has no bars",
                CHART_HELP,
            ));
        }
        return Section::default();
    }
    let order = play_order(&raw, problems);
    let mut reader = BarReader {
        meter,
        cache: HashMap::new(),
        problems,
    };
    let mut bars: Vec<WrittenBar> = Vec::with_capacity(raw.len());
    for bar in &raw {
        let written = reader.bar(bar, bars.last());
        bars.push(written);
    }
    Section { bars, order }
}

fn raw_bars<'a>(text: &'a str, problems: &mut Vec<Problem>) -> Vec<RawBar<'a>> {
    let mut bars: Vec<RawBar<'a>> = Vec::new();
    let fresh = |at: usize| RawBar {
        tokens: Vec::new(),
        meter: None,
        span: at..at,
        opens: false,
        closes: None,
        ending: None,
    };
    let mut bar = fresh(0);
    // The bar line before, unless a line has ended since.
    let mut line_before: Option<(Range<usize>, bool)> = None;
    for (lexeme, span) in scan(text) {
        match lexeme {
            Lexeme::LineEnd => line_before = None,
            Lexeme::BadTimes => {
                problems.push(Problem::error(
                    "chart-repeat-times",
                    span.clone(),
                    format!(
                        "a repeat is played 2 to {MOST_REPEATS} times, found `{}`",
                        &text[span]
                    ),
                    "write how often in all, such as `:|x3`",
                ));
            }
            Lexeme::BarLine { closes, opens } => {
                let repeat_sign = closes.is_some() || opens;
                if bar.tokens.is_empty() {
                    if let Some((before, was_repeat)) = &line_before
                        && !repeat_sign
                        && !was_repeat
                    {
                        problems.push(Problem::error(
                            "chart-empty-bar",
                            before.start..span.end,
                            "a bar is empty",
                            "write `N.C.` for silence, `%` for the bar before, or `/` to hold the chord",
                        ));
                    }
                    if let Some(times) = closes {
                        match bars.last_mut() {
                            Some(last) if last.closes.is_none() && bar.ending.is_none() => {
                                last.closes = Some((times, span.clone()));
                            }
                            _ => problems.push(Problem::error(
                                "chart-repeat-nothing",
                                span.clone(),
                                "there is nothing to repeat",
                                "write the bars to repeat before `:|`",
                            )),
                        }
                    }
                } else {
                    bar.closes = closes.map(|times| (times, span.clone()));
                    let next = fresh(span.end);
                    bars.push(std::mem::replace(&mut bar, next));
                }
                if opens {
                    bar.opens = true;
                }
                line_before = Some((span.clone(), repeat_sign));
                if bar.tokens.is_empty() {
                    bar.span = span.end..span.end;
                }
            }
            Lexeme::EndingMark(numbers) => {
                if bar.tokens.is_empty() && bar.ending.is_none() {
                    bar.ending = Some((numbers, span));
                } else {
                    problems.push(Problem::error(
                        "chart-ending-place",
                        span,
                        "an ending begins at a bar line",
                        "write it right after one: `:|[2. D |`",
                    ));
                }
            }
            Lexeme::MeterMark(inner) => match Meter::read(inner) {
                Ok(meter) if bar.tokens.is_empty() => bar.meter = Some((meter, span)),
                Ok(_) => problems.push(Problem::error(
                    "chart-meter-place",
                    span,
                    "the meter changes at the start of a bar",
                    format!("write it right after the bar line: `| ({inner}) Am |`"),
                )),
                Err(e) => problems.push(Problem::error(e.code(), span, e.to_string(), e.help())),
            },
            Lexeme::Simile => push(&mut bar, Token::Simile, span),
            Lexeme::Slash => push(&mut bar, Token::Slash, span),
            Lexeme::Word(word) => push(&mut bar, Token::Word(word), span),
        }
    }
    if !bar.tokens.is_empty() {
        bars.push(bar);
    } else if let Some((_, span)) = bar.ending {
        problems.push(Problem::error(
            "chart-ending-empty",
            span,
            "an ending has no bars",
            "write its bars behind it: `[2. D |`",
        ));
    }
    bars
}

fn push<'a>(bar: &mut RawBar<'a>, token: Token<'a>, span: Range<usize>) {
    if bar.tokens.is_empty() {
        bar.span.start = span.start;
    }
    bar.span.end = span.end;
    bar.tokens.push((token, span));
}

struct Order<'a, 'p> {
    raw: &'a [RawBar<'a>],
    played: Vec<usize>,
    full: bool,
    problems: &'p mut Vec<Problem>,
}

impl Order<'_, '_> {
    fn play(&mut self, bars: Range<usize>) {
        if self.full {
            return;
        }
        if self.played.len() + bars.len() > MOST_BARS {
            self.full = true;
            let span = self.raw[bars.start].span.clone();
            self.problems.push(too_many_bars(span));
            return;
        }
        self.played.extend(bars);
    }

    fn wrong(
        &mut self,
        code: &'static str,
        span: &Range<usize>,
        message: impl Into<String>,
        help: &str,
    ) {
        self.problems
            .push(Problem::error(code, span.clone(), message, help));
    }
}

pub(super) fn too_many_bars(span: Range<usize>) -> Problem {
    Problem::error(
        "chart-too-long",
        span,
        format!("a form has at most {MOST_BARS} bars"),
        "repeat less, or set `times` instead",
    )
}

/// Puts the bars into playing order: repeats do not nest, endings belong to the repeat they follow.
fn play_order(raw: &[RawBar<'_>], problems: &mut Vec<Problem>) -> Vec<usize> {
    let mut order = Order {
        raw,
        played: Vec::with_capacity(raw.len()),
        full: false,
        problems,
    };
    // Where the repeat that is open began, and whether a `|:` said so.
    let mut start = 0;
    let mut open: Option<usize> = None;
    let mut first_repeat = true;
    let mut at = 0;
    // The last ending of a group goes on like any other bar.
    let mut last_ending: Option<usize> = None;
    while at < raw.len() {
        let bar = &raw[at];
        if bar.opens {
            if let Some(outer) = open {
                order.wrong(
                    "chart-repeat-nested",
                    &raw[at].span,
                    "a repeat begins inside another",
                    "close the first with `:|` before opening the next",
                );
                order.play(outer..at);
            } else {
                order.play(start..at);
            }
            start = at;
            open = Some(at);
        }
        if bar.ending.is_some() && last_ending != Some(at) {
            if open.is_none() && !first_repeat {
                let span = bar
                    .ending
                    .as_ref()
                    .map_or(bar.span.clone(), |e| e.1.clone());
                order.wrong(
                    "chart-ending-alone",
                    &span,
                    "an ending follows no repeat",
                    "open the repeat with `|:`",
                );
            }
            at = endings(&mut order, start, at);
            last_ending = Some(at);
            start = at;
            open = None;
            first_repeat = false;
            continue;
        }
        if let Some((times, span)) = &bar.closes {
            if open.is_none() && !first_repeat {
                order.wrong(
                    "chart-repeat-unopened",
                    span,
                    "`:|` closes a repeat that was not opened",
                    "write `|:` where the repeat begins; only the first of a section may be left out",
                );
            }
            for _ in 0..*times {
                order.play(start..at + 1);
            }
            start = at + 1;
            open = None;
            first_repeat = false;
        }
        at += 1;
    }
    if let Some(at) = open {
        let span = raw[at].span.clone();
        order.wrong(
            "chart-repeat-unclosed",
            &span,
            "a repeat is not closed",
            "write `:|` at its end",
        );
    }
    order.play(start..raw.len());
    order.played
}

/// Plays a body and its endings; gives the first bar of the last ending, from which the music goes on.
fn endings(order: &mut Order<'_, '_>, body: usize, first: usize) -> usize {
    let raw = order.raw;
    // Each ending: its numbers, its bars.
    let mut found: Vec<(Vec<u32>, Range<usize>, Range<usize>)> = Vec::new();
    let mut at = first;
    let last = loop {
        let Some((numbers, mark)) = raw.get(at).and_then(|bar| bar.ending.clone()) else {
            let span = found.last().map_or(0..0, |f| f.2.clone());
            order.wrong(
                "chart-ending-last",
                &span,
                "the last ending is closed like a repeat",
                "end the last ending with `|`: only the endings before it go back",
            );
            break at.saturating_sub(1).max(first);
        };
        // To the bar that closes it, before the next ending begins.
        let mut end = at;
        while end + 1 < raw.len()
            && raw[end].closes.is_none()
            && raw[end + 1].ending.is_none()
            && !raw[end + 1].opens
        {
            end += 1;
        }
        let closed = raw[end].closes.is_some();
        found.push((numbers, at..end + 1, mark.clone()));
        if let Some((times, span)) = &raw[end].closes
            && *times != 2
        {
            order.wrong(
                "chart-ending-times",
                span,
                "endings say by their numbers how often",
                "write `:|` without `x`",
            );
        }
        let followed = raw.get(end + 1).is_some_and(|bar| bar.ending.is_some());
        match (closed, followed) {
            (true, _) => at = end + 1,
            (false, true) => {
                let help = "close every ending but the last with `:|`";
                order.wrong(
                    "chart-ending-open",
                    &mark,
                    "an ending before the last is not closed",
                    help,
                );
                at = end + 1;
            }
            (false, false) => break at,
        }
    };
    let mut numbers: Vec<(u32, Range<usize>)> = found
        .iter()
        .flat_map(|(ns, _, mark)| ns.iter().map(|n| (*n, mark.clone())))
        .collect();
    numbers.sort_by_key(|n| n.0);
    for (expected, (number, mark)) in (1u32..).zip(&numbers) {
        if *number != expected {
            let what = if *number < expected {
                "doubled"
            } else {
                "missing"
            };
            let which = if *number < expected {
                *number
            } else {
                expected
            };
            order.wrong(
                "chart-ending-numbers",
                mark,
                format!("ending {which} is {what}"),
                "number the endings 1, 2, 3 without a gap, each number once",
            );
            break;
        }
    }
    let most = numbers.last().map_or(1, |n| n.0).min(MOST_REPEATS);
    if let Some((ns, _, mark)) = found.last()
        && (ns.len() > 1 || ns.first() != Some(&most))
    {
        order.wrong(
            "chart-ending-order",
            &mark.clone(),
            "the last ending has the last number and no other",
            "give an ending that is played several times a `:|`, and the last its own number",
        );
    }
    for pass in 1..most {
        order.play(body..first);
        if let Some((_, bars, _)) = found.iter().find(|f| f.0.contains(&pass)) {
            order.play(bars.clone());
        }
    }
    order.play(body..first);
    last
}

struct BarReader<'t, 'p> {
    meter: Meter,
    cache: HashMap<&'t str, Figure>,
    problems: &'p mut Vec<Problem>,
}

impl<'t> BarReader<'t, '_> {
    fn bar(&mut self, raw: &RawBar<'t>, before: Option<&WrittenBar>) -> WrittenBar {
        if let Some((meter, _)) = &raw.meter {
            self.meter = *meter;
        }
        let cells = if raw.tokens.iter().any(|(token, _)| *token == Token::Simile) {
            self.simile(raw, before)
        } else {
            self.cells(raw, before.is_none())
        };
        WrittenBar {
            meter: self.meter,
            cells,
            span: raw.span.clone(),
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
        let mut cells: Vec<Cell> = Vec::with_capacity(raw.tokens.len());
        let mut beat = 0;
        for (token, span) in &raw.tokens {
            match token {
                Token::Slash => match cells.last_mut() {
                    Some(cell) => cell.beats += 1,
                    None if first_of_section => {
                        let message = "`/` has no chord before it to hold";
                        self.wrong("chart-hold-first", span, message, "write the chord");
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

    /// The bar with slashes, as it might have been meant: what is written, filled up or cut to the beats there are.
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
        let extra = beats as usize - words.len();
        let mut out: Vec<&str> = Vec::new();
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
        if let Some(what) = jump(word) {
            let message = format!("`{word}` is a jump ({what}), which a chart does not have");
            self.wrong(
                "chart-jump",
                span,
                message,
                "name the sections and write their order: `form = \"A B A\"`",
            );
            return None;
        }
        if word.starts_with('[') && word.ends_with(']') {
            let message = format!(
                "`{word}` is no chord; a section name stands at the start of a line, before a bar line"
            );
            self.wrong(
                "chart-section-place",
                span,
                message,
                format!("write `{word} | Am | ...` on a line of its own"),
            );
            return None;
        }
        match figure::read(word) {
            Ok(figure) => {
                self.cache.insert(word, figure.clone());
                Some(figure)
            }
            Err(e) => {
                let inner = e.span();
                let at = span.start + inner.start
                    ..(span.start + inner.end).max(span.start + inner.start + 1);
                let at = if at.end <= span.end { at } else { span.clone() };
                self.wrong(e.code(), &at, e.to_string(), e.help());
                None
            }
        }
    }
}

/// Jumps of printed music, which a chart replaces by its form.
fn jump(word: &str) -> Option<&'static str> {
    let bare: String = word
        .chars()
        .filter(|c| *c != '.')
        .collect::<String>()
        .to_ascii_uppercase();
    match bare.as_str() {
        "DC" => Some("from the beginning"),
        "DS" => Some("from the sign"),
        "FINE" => Some("the end of a jump"),
        "CODA" | "TOCODA" | "SEGNO" => Some("a place to jump to"),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
