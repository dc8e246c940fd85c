//! What an error says besides its sentence: a name for programs, a place, and what to write instead.

use std::ops::Range;

/// An error that a person can act on. Its `Display` is one sentence, lower case, without a final stop, and names facts: no
/// option of a program that uses the library.
pub trait Diagnostic: std::error::Error {
    /// A stable name for programs, such as `meter-form`.
    fn code(&self) -> &'static str;

    /// The bytes in question within the text that was read; `None` where all of it is meant, or where there was no text.
    fn span(&self) -> Option<Range<usize>> {
        None
    }

    /// One line that says what to write, or do, instead.
    fn help(&self) -> String;
}

/// A number of things, in words: `1 bar`, `2 bars`.
pub(crate) fn counted(count: u64, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}

/// Choices as a sentence lists them: `a`, `a or b`, `a, b or c`.
pub(crate) fn or(words: &[String]) -> String {
    match words {
        [before @ .., last] if !before.is_empty() => format!("{} or {last}", before.join(", ")),
        _ => words.concat(),
    }
}
