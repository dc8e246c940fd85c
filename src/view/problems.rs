//! Problems with the text underlined, or as JSON.

use std::ops::Range;

use serde::Serialize;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use super::shown::{pictured, shown};
use crate::chart::{Problem, Severity, SourceText};
use crate::theory::raised;

/// A problem as programs read it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ProblemView<'a> {
    /// The name of the kind of problem, such as `keys-unknown`. It stays the same where the message changes.
    pub code: &'a str,
    /// `error` or `warning`.
    pub severity: &'static str,
    /// Name of the text; `null` where the problem is in none.
    pub file: Option<&'a str>,
    /// Counted from 1.
    pub line: Option<usize>,
    /// In characters, counted from 1.
    pub column: Option<usize>,
    /// First byte and the byte behind the last.
    pub span: Option<[usize; 2]>,
    /// What is wrong.
    pub message: &'a str,
    /// What to write instead.
    pub help: &'a str,
}

fn severity(of: Severity) -> &'static str {
    match of {
        Severity::Error => "error",
        Severity::Warning => "warning",
    }
}

/// One line of JSON for a problem in a text, whose span lies in it.
pub fn problem_json(problem: &Problem, source: &SourceText) -> String {
    let span = within(&source.text, problem.span.clone());
    let (line, column) = source.line_column(span.start);
    let view = ProblemView {
        code: problem.code,
        severity: severity(problem.severity),
        file: Some(&source.name),
        line: Some(line),
        column: Some(column),
        span: Some([span.start, span.end]),
        message: &problem.message,
        help: &problem.help,
    };
    serde_json::to_string(&view).unwrap_or_default()
}

/// The problems as people read them, in the order of the text: a sentence that says where and what, the place underlined,
/// and a line of advice.
pub fn render_problems(problems: &[Problem], source: &SourceText, color: bool) -> String {
    let mut sorted: Vec<&Problem> = problems.iter().collect();
    sorted.sort_by_key(|p| (p.span.start, p.span.end));
    let mut said = String::new();
    for problem in sorted {
        let span = within(&source.text, problem.span.clone());
        let paint = Paint::new(problem.severity, color);
        said += &sentence(problem, &place(source, &span), paint);
        said += &underlined(&source.text, &span, paint);
        said += &advice(&problem.help);
    }
    said
}

/// An error that is in no text, as people read it.
pub(crate) fn render_plain(problem: &Problem, color: bool) -> String {
    let paint = Paint::new(problem.severity, color);
    sentence(problem, "", paint) + &advice(&problem.help)
}

/// The color of a severity (ECMA-48, 8.3.117), where colors are wanted. The word says the same.
#[derive(Clone, Copy)]
struct Paint {
    on: &'static str,
    off: &'static str,
}

impl Paint {
    fn new(severity: Severity, color: bool) -> Paint {
        let (on, off) = match (color, severity) {
            (false, _) => ("", ""),
            (true, Severity::Error) => ("\x1b[1;31m", "\x1b[0m"),
            (true, Severity::Warning) => ("\x1b[1;33m", "\x1b[0m"),
        };
        Paint { on, off }
    }
}

/// `Error in line 5 of low-tide.toml: the sentence.`
fn sentence(problem: &Problem, place: &str, paint: Paint) -> String {
    let Paint { on, off } = paint;
    let word = match problem.severity {
        Severity::Error => "Error",
        Severity::Warning => "Warning",
    };
    let end = stop(&problem.message);
    format!("{on}{word}{off}{place}: {}{end}\n", shown(&problem.message))
}

fn advice(help: &str) -> String {
    if help.is_empty() {
        return String::new();
    }
    format!("  {}{}\n", shown(&raised(help)), stop(help))
}

/// The final stop of a sentence, which is kept without one.
fn stop(sentence: &str) -> &'static str {
    if sentence.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    }
}

/// Where a span lies, in words. A text in `<>` was typed: the name is that of its option or argument.
fn place(source: &SourceText, span: &Range<usize>) -> String {
    let line = source.line_column(span.start).0;
    let name = source
        .name
        .strip_prefix('<')
        .and_then(|name| name.strip_suffix('>'));
    let (what, typed) = match name {
        None => (shown(&source.name).into_owned(), false),
        Some(option) if option.starts_with('-') => (format!("`{}`", shown(option)), true),
        Some("chart") => ("the chart".to_owned(), true),
        // The only thing that a command takes needs no name.
        Some(argument) if argument.starts_with(char::is_uppercase) => (String::new(), true),
        Some(text) => (shown(text).into_owned(), false),
    };
    let counted = !typed || source.text.trim_end().contains('\n');
    match (what.is_empty(), counted) {
        (true, true) => format!(" in line {line}"),
        (true, false) => String::new(),
        (false, true) => format!(" in line {line} of {what}"),
        (false, false) => format!(" in {what}"),
    }
}

/// Most lines of a text that are shown for one problem.
const MOST_LINES: usize = 3;
/// Longest line that is shown, in columns; of a longer one what stands around the place, which itself is cut to as many as
/// [`LONGEST_PLACE`]. With its margin it fits a terminal of 60 columns.
const LONGEST_SHOWN: usize = 56;
const LONGEST_PLACE: usize = 30;
const LEFT_OUT: &str = "...";

/// The lines that a span touches, each with the place underlined.
fn underlined(text: &str, span: &Range<usize>, paint: Paint) -> String {
    let first = text[..span.start].rfind('\n').map_or(0, |at| at + 1);
    let mut said = String::new();
    let mut start = first;
    for (index, line) in text[first..].split_inclusive('\n').enumerate() {
        let shown = line.trim_end_matches(['\n', '\r']);
        let within = |at: usize| at.clamp(start, start + shown.len()) - start;
        let (from, to) = (within(span.start), within(span.end));
        let touched = index == 0 || span.end > start;
        if !touched || shown.is_empty() {
            break;
        }
        if index == MOST_LINES {
            said += &format!("    {LEFT_OUT}\n");
            break;
        }
        said += &line_underlined(shown, from..to, paint);
        start += line.len();
    }
    said
}

/// A line, cut around the place where it is long, and below it the underline.
fn line_underlined(line: &str, place: Range<usize>, paint: Paint) -> String {
    let (_, long) = head(line, LONGEST_SHOWN);
    let most = if long { LONGEST_PLACE } else { LONGEST_SHOWN };
    let (meant, cut_meant) = head(&line[place.clone()], most);
    let (room_before, room_after) = if long {
        let room = LONGEST_SHOWN - 2 * LEFT_OUT.len() - meant.width();
        (room * 2 / 3, room / 3)
    } else {
        (LONGEST_SHOWN, LONGEST_SHOWN)
    };
    let (before, cut_before) = tail(&line[..place.start], room_before);
    let (after, cut_after) = head(&line[place.end..], room_after);
    let dots = |cut: bool| if cut { LEFT_OUT } else { "" };
    let after = if cut_meant { String::new() } else { after };
    let begin = format!("{}{before}", dots(cut_before));
    let gap = " ".repeat(begin.width());
    let marks = "~".repeat(meant.width().max(1));
    let Paint { on, off } = paint;
    let dots_after = dots(cut_meant || cut_after);
    format!("    {begin}{meant}{after}{dots_after}\n    {gap}{on}{marks}{off}\n")
}

/// What of a text, as it is shown, fits at its beginning, and whether something was cut.
fn head(text: &str, most: usize) -> (String, bool) {
    let mut width = 0;
    for (at, letter) in text.char_indices() {
        width += pictured(letter).width().unwrap_or(0);
        if width > most {
            return (text[..at].chars().map(pictured).collect(), true);
        }
    }
    (text.chars().map(pictured).collect(), false)
}

/// As [`head`], at its end.
fn tail(text: &str, most: usize) -> (String, bool) {
    let mut start = text.len();
    let mut width = 0;
    for (at, letter) in text.char_indices().rev() {
        width += pictured(letter).width().unwrap_or(0);
        if width > most {
            return (text[start..].chars().map(pictured).collect(), true);
        }
        start = at;
    }
    (text.chars().map(pictured).collect(), false)
}

/// The span, which lies inside the text and on character boundaries. Where a reader gave another, which is a mistake of ours,
/// a debug build stops and a release build takes the nearest that can be shown.
fn within(text: &str, span: Range<usize>) -> Range<usize> {
    debug_assert!(text.get(span.clone()).is_some(), "{span:?} of {text:?}");
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    start..floor(span.end).max(start)
}
