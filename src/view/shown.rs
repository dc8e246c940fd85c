//! Foreign text on its way to a terminal or a program: it must not control either.

use std::borrow::Cow;
use std::cell::Cell;
use std::io::{self, Write};
use std::rc::Rc;

/// How a control character is escaped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Manner {
    /// For people: `\u{1b}`.
    Text,
    /// As `Text`, but sequences that select a rendition (ECMA-48, 8.3.117) stay: for text whose foreign parts are
    /// escaped already.
    Colored,
    /// Inside the texts of JSON: `\u001b`.
    Json,
    /// Unchanged: the bytes are a file.
    Bytes,
}

/// Whether a character acts as a control: the controls of C0 and C1, DEL, the ends of lines and paragraphs that Unicode
/// adds, and what turns the direction of the text around it (UAX 9, 2.1 and 2.2 to 2.4).
fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// A name or a title as it is shown: on one line, with controls escaped.
pub(crate) fn shown(text: &str) -> Cow<'_, str> {
    if text.contains(steers) {
        Cow::Owned(escaped(text, Manner::Text, |_| false))
    } else {
        Cow::Borrowed(text)
    }
}

/// Lines as they are shown, controls escaped: line ends and tabs stay.
pub(crate) fn shown_lines(text: &str, manner: Manner) -> String {
    escaped(text, manner, |c| matches!(c, '\n' | '\t'))
}

/// One character of one column for each character of an underlined line: a control becomes its picture (Unicode,
/// Control Pictures), a tab is a space.
pub(crate) fn pictured(c: char) -> char {
    match c {
        '\t' => ' ',
        '\0'..='\x1F' => {
            char::from_u32(0x2400 + u32::from(c)).unwrap_or(char::REPLACEMENT_CHARACTER)
        }
        '\x7F' => '\u{2421}',
        _ if steers(c) => char::REPLACEMENT_CHARACTER,
        _ => c,
    }
}

fn escaped(text: &str, manner: Manner, stays: impl Fn(char) -> bool) -> String {
    use std::fmt::Write as _;
    let mut out = String::with_capacity(text.len() + 16);
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        if manner == Manner::Colored
            && let Some(length) = rendition(rest)
        {
            out.push_str(&rest[..length]);
            rest = &rest[length..];
            continue;
        }
        let code = u32::from(c);
        if !steers(c) || stays(c) {
            out.push(c);
        } else if manner == Manner::Json {
            let _ = write!(out, "\\u{code:04x}");
        } else {
            let _ = write!(out, "\\u{{{code:x}}}");
        }
        rest = &rest[c.len_utf8()..];
    }
    out
}

/// The length of a sequence that selects a rendition, where the text begins with one.
fn rendition(text: &str) -> Option<usize> {
    let numbers = text.strip_prefix("\x1B[")?;
    let end = numbers.find(|c: char| !c.is_ascii_digit() && c != ';')?;
    numbers[end..].starts_with('m').then_some(2 + end + 1)
}

/// Passes text on with controls escaped.
pub(crate) struct Shown<W> {
    out: W,
    manner: Rc<Cell<Manner>>,
    /// The beginning of an incomplete character.
    begun: Vec<u8>,
}

impl<W: Write> Shown<W> {
    pub(crate) fn new(out: W, manner: Manner) -> Self {
        Shown {
            out,
            manner: Rc::new(Cell::new(manner)),
            begun: Vec::new(),
        }
    }

    /// The kind of escaping, which may be changed between two texts.
    pub(crate) fn manner(&self) -> Rc<Cell<Manner>> {
        Rc::clone(&self.manner)
    }
}

impl<W: Write> Write for Shown<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.manner.get() == Manner::Bytes {
            self.out.write_all(bytes)?;
            return Ok(bytes.len());
        }
        let plain = |b: &u8| matches!(b, b'\n' | b'\t' | 0x20..=0x7E);
        if self.begun.is_empty() && bytes.iter().all(plain) {
            self.out.write_all(bytes)?;
            return Ok(bytes.len());
        }
        let mut all = std::mem::take(&mut self.begun);
        all.extend_from_slice(bytes);
        // Only a character that may still be completed is kept back.
        let last = all.utf8_chunks().last();
        let short = last.map_or(&[][..], |chunk| chunk.invalid());
        let cut = matches!(std::str::from_utf8(short), Err(e) if e.error_len().is_none());
        let kept = if cut { short.len() } else { 0 };
        let text = String::from_utf8_lossy(&all[..all.len() - kept]);
        self.out
            .write_all(shown_lines(&text, self.manner.get()).as_bytes())?;
        self.begun = all[all.len() - kept..].to_vec();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_is_written_down() {
        assert_eq!(
            shown("B\u{266D} minor, \u{1F3B8}"),
            "B\u{266D} minor, \u{1F3B8}"
        );
        assert_eq!(
            shown("a\x1B[2J\u{9B}2J\u{7F}\u{202E}\u{2069}\nb\t"),
            "a\\u{1b}[2J\\u{9b}2J\\u{7f}\\u{202e}\\u{2069}\\u{a}b\\u{9}"
        );
        assert_eq!(shown_lines("a\n\tb\u{85}", Manner::Text), "a\n\tb\\u{85}");
        assert_eq!(
            shown_lines("\x1B[1;91mred\x1B[0m \x1B[2J \x1B[", Manner::Colored),
            "\x1B[1;91mred\x1B[0m \\u{1b}[2J \\u{1b}["
        );
    }

    proptest::proptest! {
        #[test]
        fn nothing_steers_in_whatever_pieces_it_comes(
            text in "(.|\n|[\u{1}-\u{1F}\u{7F}-\u{9F}\u{202A}-\u{202E}\u{2066}-\u{2069}]){0,40}",
            size in 1usize..7,
        ) {
            let mut out = Vec::new();
            let mut writer = Shown::new(&mut out, Manner::Text);
            for piece in text.as_bytes().chunks(size) {
                writer.write_all(piece).unwrap();
            }
            let out = String::from_utf8(out).unwrap();
            proptest::prop_assert_eq!(&out, &shown_lines(&text, Manner::Text));
            proptest::prop_assert!(!out.contains(|c| steers(c) && c != '\n' && c != '\t'));
        }

        #[test]
        fn json_means_the_same(text in "[\u{1}-\u{1F}\u{7F}-\u{9F}\u{2066}-\u{2069}a\"\\\\]{0,30}") {
            let mut out = Vec::new();
            serde_json::to_writer(Shown::new(&mut out, Manner::Json), &text).unwrap();
            proptest::prop_assert!(!String::from_utf8_lossy(&out).contains(steers));
            proptest::prop_assert_eq!(serde_json::from_slice::<String>(&out).unwrap(), text);
        }
    }
}
