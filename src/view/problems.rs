//! Problems with the text underlined, or as JSON.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use serde::Serialize;

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

/// One line of JSON for a problem in a text.
pub fn problem_json(problem: &Problem, source: &SourceText) -> String {
    let (line, column) = source.line_column(problem.span.start);
    let view = ProblemView {
        code: problem.code,
        severity: severity(problem.severity),
        file: Some(&source.name),
        line: Some(line),
        column: Some(column),
        span: Some([problem.span.start, problem.span.end]),
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
    let mut shown = String::new();
    let mut sorted: Vec<&Problem> = problems.iter().collect();
    sorted.sort_by_key(|p| (p.span.start, p.span.end));
    for problem in sorted {
        let level = match problem.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let span = within(&source.text, problem.span.clone());
        let report = [level
            .primary_title(format!("{} [{}]", problem.message, problem.code))
            .element(
                Snippet::source(&source.text)
                    .path(&source.name)
                    .annotation(AnnotationKind::Primary.span(span)),
            )
            .element(Level::HELP.message(&*problem.help))];
        shown.push_str(&renderer.render(&report));
        shown.push_str("\n\n");
    }
    shown
}

/// A span that lies inside the text, on character boundaries.
fn within(text: &str, span: std::ops::Range<usize>) -> std::ops::Range<usize> {
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
