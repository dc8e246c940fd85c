//! Problems with the text underlined, or as JSON.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Origin, Renderer, Snippet};
use serde::Serialize;

use super::shown::{pictured, shown};
use crate::chart::{Problem, Severity, SourceText};

/// A problem as programs read it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ProblemView<'a> {
    /// Stable name.
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

/// The problems as text: what is wrong, file, line and column, the text underlined, and what to write instead.
pub fn render_problems(problems: &[Problem], source: &SourceText, colour: bool) -> String {
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let renderer = renderer.decor_style(DecorStyle::Ascii);
    let mut said = String::new();
    let mut sorted: Vec<&Problem> = problems.iter().collect();
    sorted.sort_by_key(|p| (p.span.start, p.span.end));
    let name = shown(&source.name);
    for problem in sorted {
        let level = match problem.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let title = level.primary_title(format!("{} [{}]", shown(&problem.message), problem.code));
        let help = Level::HELP.message(shown(&problem.help));
        let span = within(&source.text, problem.span.clone());
        let (line, column) = source.line_column(span.start);
        let lines = lines_of(&source.text, &span);
        let report = if lines.len() > LONGEST_SHOWN {
            let place = Origin::path(&*name).line(line).char_column(column);
            [title.element(place).element(help)]
        } else {
            let show = |range| pictured(&source.text[range]);
            let (before, meant) = (show(lines.start..span.start), show(span.clone()));
            let annotation = AnnotationKind::Primary.span(before.len()..before.len() + meant.len());
            let snippet = Snippet::source(before + &meant + &show(span.end..lines.end))
                .line_start(line)
                .path(&*name)
                .annotation(annotation);
            [title.element(snippet).element(help)]
        };
        said.push_str(&renderer.render(&report));
        said.push_str("\n\n");
    }
    said
}

/// Longest piece of a text that is shown, in bytes: beyond it no person reads and no terminal shows it.
const LONGEST_SHOWN: usize = 8000;

/// The lines that a span touches.
fn lines_of(text: &str, span: &std::ops::Range<usize>) -> std::ops::Range<usize> {
    let start = text[..span.start].rfind('\n').map_or(0, |at| at + 1);
    // A span that ends with a line end is of the lines before.
    let last = span
        .end
        .max(span.start + 1)
        .min(text.len())
        .saturating_sub(1)
        .max(span.start);
    let end = text.as_bytes()[last..]
        .iter()
        .position(|b| *b == b'\n')
        .map_or(text.len(), |at| last + at);
    let end = match text[start..end].strip_suffix('\r') {
        Some(line) => start + line.len(),
        None => end,
    };
    start..end.max(span.end)
}

/// The span, which lies inside the text and on character boundaries. Where a reader gave another, which is a mistake of ours,
/// a debug build stops and a release build takes the nearest that can be shown.
fn within(text: &str, span: std::ops::Range<usize>) -> std::ops::Range<usize> {
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
