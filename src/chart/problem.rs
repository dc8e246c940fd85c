//! What is wrong with a text, and where.

use std::error::Error;
use std::fmt;
use std::ops::{Deref, DerefMut, Range};

use crate::diagnostic::Diagnostic;

/// The bytes of `text` that `part`, which was cut out of it, takes there.
pub(crate) fn place_of(part: &str, text: &str) -> Range<usize> {
    let start = part.as_ptr().addr() - text.as_ptr().addr();
    start..start + part.len()
}

/// The most problems that are reported at once: more would not be read, and each costs a look-up in the text.
pub(super) const MOST_PROBLEMS: usize = 50;

/// How serious it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The text is refused.
    Error,
    /// The text is read, but may not mean what its writer thinks.
    Warning,
}

/// One thing wrong with a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Whether it is an error or a warning.
    pub severity: Severity,
    /// A stable name for programs, such as `chart-empty-bar`.
    pub code: &'static str,
    /// Bytes of the text that are meant.
    pub span: Range<usize>,
    /// One sentence, lower case, without a final stop.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

impl Problem {
    /// An error: the text cannot be used.
    pub fn error(
        code: &'static str,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Problem {
            severity: Severity::Error,
            code,
            span,
            message: printable(message.into()),
            help: printable(help.into()),
        }
    }

    /// The problem for an error in a text; `whole` is the span of what was read, for an error without a span of its
    /// own.
    pub fn of(error: &dyn Diagnostic, whole: Range<usize>) -> Self {
        let span = error.span().unwrap_or(whole);
        Problem::error(error.code(), span, error.to_string(), error.help())
    }

    /// A warning: the text is read all the same.
    pub fn warning(
        code: &'static str,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Problem {
            severity: Severity::Warning,
            ..Problem::error(code, span, message, help)
        }
    }

    /// The same with other advice.
    #[must_use]
    pub fn advising(self, help: impl Into<String>) -> Self {
        Problem {
            help: printable(help.into()),
            ..self
        }
    }

    /// The same, with its span moved through `map` (from a part of a text to the whole).
    #[must_use]
    pub fn placed(mut self, map: impl Fn(Range<usize>) -> Range<usize>) -> Self {
        self.span = map(self.span);
        self
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl Error for Problem {}

impl Diagnostic for Problem {
    fn code(&self) -> &'static str {
        self.code
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        self.help.clone()
    }
}

/// All that is wrong with a text, in its order: errors, and the warnings among them. There is one at least.
///
/// As an error it prints each on a line, with what to write instead. To show them in their text, see
/// [`render_problems`](crate::view::render_problems).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problems(Vec<Problem>);

impl From<Vec<Problem>> for Problems {
    fn from(problems: Vec<Problem>) -> Self {
        Problems(problems)
    }
}

impl From<Problems> for Vec<Problem> {
    fn from(problems: Problems) -> Self {
        problems.0
    }
}

impl Deref for Problems {
    type Target = [Problem];

    fn deref(&self) -> &[Problem] {
        &self.0
    }
}

impl DerefMut for Problems {
    fn deref_mut(&mut self) -> &mut [Problem] {
        &mut self.0
    }
}

impl IntoIterator for Problems {
    type Item = Problem;
    type IntoIter = std::vec::IntoIter<Problem>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl<'a> IntoIterator for &'a Problems {
    type Item = &'a Problem;
    type IntoIter = std::slice::Iter<'a, Problem>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, problem) in self.0.iter().enumerate() {
            let parting = if at == 0 { "" } else { "\n" };
            let Problem { message, help, .. } = problem;
            write!(f, "{parting}{message}; {help}")?;
        }
        Ok(())
    }
}

impl Error for Problems {}

/// The longest sentence, in characters; in a longer one the quoted text is shortened.
const MOST_CHARS: usize = 400;

/// Messages quote what was typed. Line ends and other controls must not reach a terminal, and neither must a whole
/// file.
fn printable(text: String) -> String {
    let text = if text.contains(char::is_control) {
        let safe = |c: char| match c {
            '\n' | '\r' | '\t' => ' ',
            c if c.is_control() => char::REPLACEMENT_CHARACTER,
            c => c,
        };
        text.chars().map(safe).collect()
    } else {
        text
    };
    let chars = if text.len() > MOST_CHARS {
        text.chars().count()
    } else {
        0
    };
    if chars <= MOST_CHARS {
        return text;
    }
    let (head, tail) = (MOST_CHARS * 3 / 4, MOST_CHARS / 4);
    let place = |n: usize| text.char_indices().nth(n).map_or(text.len(), |(at, _)| at);
    format!(
        "{} ... {}",
        &text[..place(head)],
        &text[place(chars - tail)..]
    )
}

/// A text with the name it is known by: a path, or `<chart>` for one given on the command line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceText {
    /// The name shown in messages.
    pub name: String,
    /// The whole text that spans refer to.
    pub text: String,
}

impl SourceText {
    /// A text under a name.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        SourceText {
            name: name.into(),
            text: text.into(),
        }
    }

    /// Line and column of a byte, both counted from 1; columns count characters.
    ///
    /// ```
    /// let text = fivefold::chart::SourceText::new("x", "a\nB\u{266D}m");
    /// assert_eq!(text.line_column(6), (2, 3));
    /// ```
    pub fn line_column(&self, byte: usize) -> (usize, usize) {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        let before = &self.text[..byte];
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        (
            before.matches('\n').count() + 1,
            before[line_start..].chars().count() + 1,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn controls_are_kept_out_of_sentences() {
        let problem = Problem::error("x", 0..1, "found `a\n\u{1B}[2J`", "write\tb");
        assert_eq!(problem.message, "found `a \u{FFFD}[2J`");
        assert_eq!(problem.help, "write b");
        let long = Problem::error(
            "x",
            0..1,
            format!("found `{}`!", "\u{266D}".repeat(9000)),
            "",
        );
        assert_eq!(long.message.chars().count(), MOST_CHARS + 5);
        assert!(long.message.ends_with("\u{266D}`!"));
    }

    #[test]
    fn problems_are_an_error_that_says_them_all() {
        fn read() -> Result<(), Box<dyn Error>> {
            crate::chart::Piece::read_inline("| H | Am77 |")?;
            Ok(())
        }
        let said = read().unwrap_err().to_string();
        let lines: Vec<&str> = said.lines().collect();
        assert_eq!(lines.len(), 2, "{said}");
        assert!(
            lines[0].contains("`H`") && lines[0].contains("; "),
            "{said}"
        );
        assert!(lines[1].contains("`77`"), "{said}");
    }

    #[test]
    fn columns_count_characters_and_stay_inside_the_text() {
        let text = SourceText::new("x", "a\r\nB\u{266D}m\n");
        assert_eq!(text.line_column(0), (1, 1));
        assert_eq!(text.line_column(3), (2, 1));
        // Inside a character, its own column.
        assert_eq!(text.line_column(5), (2, 2));
        assert_eq!(text.line_column(7), (2, 3));
        assert_eq!(text.line_column(99), (3, 1));
    }
}
