//! A place in the text of a figure.

use std::ops::Range;

use super::figure_error::{FigureError, FigureProblem};

/// A text and how far it is read, in bytes; the place is always a character boundary.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cursor<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Cursor<'a> {
    pub(crate) const fn new(text: &'a str) -> Cursor<'a> {
        Cursor { text, at: 0 }
    }

    /// The whole text.
    pub(crate) const fn text(&self) -> &'a str {
        self.text
    }

    /// Bytes read so far.
    pub(crate) const fn at(&self) -> usize {
        self.at
    }

    /// What is still to be read.
    pub(crate) fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    /// Whether all is read.
    pub(crate) fn done(&self) -> bool {
        self.at == self.text.len()
    }

    /// The next character.
    pub(crate) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// Goes on by so many bytes, which the caller has seen to be whole characters.
    pub(crate) fn skip(&mut self, bytes: usize) {
        self.at += bytes;
    }

    /// Takes this text if it comes next.
    pub(crate) fn take(&mut self, expected: &str) -> bool {
        let found = self.rest().starts_with(expected);
        if found {
            self.at += expected.len();
        }
        found
    }

    /// Takes the first of these texts that comes next.
    pub(crate) fn take_any(&mut self, expected: &[&str]) -> bool {
        expected.iter().any(|text| self.take(text))
    }

    /// The digits that come next, perhaps none.
    pub(crate) fn digits(&self) -> &'a str {
        let rest = self.rest();
        let length = rest.bytes().take_while(u8::is_ascii_digit).count();
        &rest[..length]
    }

    /// An error over these bytes, widened to a whole character where they are empty.
    pub(crate) fn error(&self, span: Range<usize>, problem: FigureProblem) -> FigureError {
        if !span.is_empty() {
            return FigureError::new(span, problem);
        }
        let start = span.start;
        if let Some(next) = self.text[start..].chars().next() {
            FigureError::new(start..start + next.len_utf8(), problem)
        } else {
            let last = self.text.chars().next_back().map_or(0, char::len_utf8);
            FigureError::new(start - last..start, problem)
        }
    }
}
