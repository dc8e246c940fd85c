//! What sounds in each bar, and for how many beats.

use std::collections::HashMap;
use std::ops::Range;

use super::raw::{RawBar, Token};
use super::{Cell, Content, WrittenBar};
use crate::chart::Problem;
use crate::theory::figure::{self, Figure};
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
        false
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

/// Words that head a line above a song on paper, but are not sections.
const HEAD: [&str; 12] = [
    "title",
    "artist",
    "by",
    "key",
    "tempo",
    "bpm",
    "capo",
    "time",
    "meter",
    "feel",
    "tuning",
    "strumming",
];

/// What is wrong with a word that is a sign, not a chord: code, message and help. `before` is the word before it.
fn mark(word: &str, before: Option<&str>) -> Option<(&'static str, String, String)> {
    if let Some(what) = jump(word) {
        return Some((
            "chart-jump",
            format!("`{word}` is a jump ({what}), which a chart does not have"),
            "name the sections and write their order: `form = \"A B A\"`".to_owned(),
        ));
    }
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if let Some(inner) = word.strip_prefix('[').and_then(|w| w.strip_suffix(']'))
        && Meter::read(inner).is_ok()
    {
        return Some((
            "chart-meter-place",
            format!("a meter stands in round brackets, found `{word}`"),
            format!("write `({inner})` right behind the bar line"),
        ));
    }
    if let Some(rest) = word.strip_prefix('[') {
        if rest.starts_with(|c: char| c.is_ascii_digit()) {
            return Some((
                "chart-ending-form",
                format!("an ending is marked by its number and a point, found `{word}`"),
                "write `[1. Am |`, or `[1.2. Am |` for an ending played twice".to_owned(),
            ));
        }
        if !rest.contains(']') {
            return Some((
                "chart-section-place",
                format!("a section name is one word in brackets, found `{word}`"),
                "write `[verse] | Am | Dm |` on a line of its own".to_owned(),
            ));
        }
        if rest.ends_with(']') {
            let name = if rest.len() > 20 { "[B]" } else { word };
            return Some((
                "chart-section-place",
                format!("a section name begins a line and a bar line follows it, found `{word}`"),
                format!(
                    "write `{name} | Am | Dm |` on a line of its own; in a document write \
                     `B = \"| Am | Dm |\"` under `[sections]`"
                ),
            ));
        }
    }
    if let Some(name) = word.strip_suffix(':')
        && name.len() > 1
        && name.chars().all(char::is_alphanumeric)
        && figure::read(name).is_err()
    {
        if HEAD.contains(&name.to_lowercase().as_str()) {
            return Some((
                "chart-head",
                format!("a chart holds chords alone, found `{word}`"),
                "leave the line out; in a document it stands above the sections".to_owned(),
            ));
        }
        return Some((
            "chart-label",
            format!("a section is named in square brackets, found `{word}`"),
            format!("write `[{name}]` in front of its first bar line"),
        ));
    }
    if word.strip_suffix('.').is_some_and(digits) {
        return Some((
            "chart-ending-form",
            format!("an ending is marked by a bracket, its number and a point, found `{word}`"),
            format!("write `[{word}` right behind the bar line"),
        ));
    }
    let bare = word
        .strip_prefix('(')
        .and_then(|w| w.strip_suffix(')'))
        .unwrap_or(word);
    let times = bare
        .strip_prefix(['x', 'X', '\u{D7}'])
        .or(bare.strip_suffix(['x', 'X', '\u{D7}']));
    if let Some(times) = times.filter(|t| digits(t) && t.len() < 5) {
        return Some((
            "chart-repeat-times",
            format!("how often a repeat is played stands in its sign, found `{word}`"),
            format!("write the number behind the sign, as in `| Am :|x{times}`"),
        ));
    }
    if word.starts_with('(') {
        let help = match before {
            _ if bare.len() <= 20 && figure::read(bare).is_ok() => {
                format!("write `{bare}` without brackets")
            }
            Some(before) if before.len() + word.len() <= 40 && word.ends_with(')') => {
                format!("write `{before}{word}` without a space")
            }
            _ => "write `C7(b9)` for a chord, `| (3/4) Am |` for a meter".to_owned(),
        };
        return Some((
            "chart-bracket",
            format!("a bracket stands right behind its chord, or holds a meter, found `{word}`"),
            help,
        ));
    }
    if let Some(sign) = sign(word) {
        return Some(sign);
    }
    let bass = word.strip_prefix('/')?;
    let help = match before {
        _ if bass.bytes().all(|b| b == b'/') => {
            format!("write `{}`", vec!["/"; word.len().min(8)].join(" "))
        }
        Some(before) if before.len() + word.len() <= 40 => {
            format!("write `{before}{word}` for a bass, or `/ {bass}` for a beat held and a chord")
        }
        _ => "write a space behind a `/` that holds a beat".to_owned(),
    };
    Some((
        "chart-slash",
        format!("a `/` that holds a beat stands by itself, found `{word}`"),
        help,
    ))
}

/// Marks that other notations put between chords.
fn sign(word: &str) -> Option<(&'static str, String, String)> {
    let help = if let Some(chord) = word
        .strip_suffix([',', ';'])
        .filter(|w| figure::read(w).is_ok())
    {
        format!("write `{chord}` and a space")
    } else if word.contains(char::is_alphanumeric) || word.starts_with('/') {
        return None;
    } else if word.contains('%') || word == "./." {
        "write `%` for the bar before".to_owned()
    } else if word == ":" {
        "write `|:` or `:|` without a space".to_owned()
    } else {
        "write chords with spaces between them, and `/` for a beat that holds the chord".to_owned()
    };
    Some((
        "chart-sign",
        format!("a bar is made of chords, `/`, `%` and `N.C.`, found `{word}`"),
        help,
    ))
}

/// Jumps of printed music, which a chart replaces by its form.
fn jump(word: &str) -> Option<&'static str> {
    let bare: String = word
        .chars()
        .filter(|c| *c != '.')
        .take(12)
        .collect::<String>()
        .to_ascii_uppercase();
    match bare.as_str() {
        "DC" => Some("from the beginning"),
        "DS" | "DALSEGNO" => Some("from the sign"),
        "FINE" => Some("the end of a jump"),
        "CODA" | "TOCODA" | "SEGNO" | "\u{1D10B}" | "\u{1D10C}" => Some("a place to jump to"),
        _ => None,
    }
}
