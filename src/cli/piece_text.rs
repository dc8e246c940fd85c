//! Tells whether a text is a chart, a document, or neither.

use super::failure::Failure;
use crate::chart::has_bar_line;
use crate::theory::figure;

/// How a text from a file or standard input is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Bars between bar lines.
    Chart,
    /// A document in TOML.
    Document,
    /// A score in MusicXML.
    Score,
}

/// Whether a text begins as a score does.
pub(super) fn is_score(text: &str) -> bool {
    let text = text.trim_start_matches('\u{FEFF}').trim_start();
    ["<?xml", "<!DOCTYPE score", "<score-"]
        .iter()
        .any(|begin| text.starts_with(begin))
}

/// The same of the bytes of a file, which may be UTF-16.
pub(super) fn is_score_bytes(bytes: &[u8]) -> bool {
    let head: Vec<u8> = bytes
        .iter()
        .take(256)
        .copied()
        .filter(|b| *b != 0)
        .collect();
    let head = String::from_utf8_lossy(&head);
    is_score(head.trim_start_matches(char::REPLACEMENT_CHARACTER))
}

/// A chart begins with a bar line, a meter or a section name before bars, or has a bar line and nothing of a document; a
/// text with neither bar lines nor anything of a document is refused.
pub(super) fn kind(name: &str, text: &str) -> Result<Kind, Failure> {
    if is_score(text) {
        return Ok(Kind::Score);
    }
    let text = text.trim_start();
    let behind_name = text
        .strip_prefix('[')
        .and_then(|rest| rest.split_once(']'))
        .filter(|(name, _)| !name.contains(['\n', '[']))
        .map_or(text, |(_, rest)| rest.trim_start());
    let line = behind_name.lines().next().unwrap_or("");
    let starts_bars = line.starts_with([':', '(']) || has_bar_line(line.get(..4).unwrap_or(line));
    let bars = has_bar_line(text);
    let document = text.lines().any(is_of_document);
    if starts_bars || (bars && !document) || (has_bar_line(line) && !is_of_document(line)) {
        return Ok(Kind::Chart);
    }
    if document || text.is_empty() || name.ends_with(".toml") {
        return Ok(Kind::Document);
    }
    let words: Vec<&str> = line.split_whitespace().take(9).collect();
    let chords = words.len() < 9 && words.iter().all(|word| figure::read(word).is_ok());
    let help = if chords {
        format!("write bar lines around chords: `| {} |`", words.join(" | "))
    } else {
        "write bars such as `| Am7 | D9 |`, or a document with lines such as `key = \"A minor\"`"
            .to_owned()
    };
    let message = format!("{name} is neither a chart nor a document: it has no bar lines");
    Err(Failure::new("input-form", message, help))
}

/// Whether a line is one of a document: a comment, the head of a table, a key and its value.
fn is_of_document(line: &str) -> bool {
    let line = line.trim();
    let key = |c: char| c.is_ascii_alphanumeric() || "_-.\"".contains(c);
    line.starts_with('#')
        || is_table(line)
        || line
            .split_once('=')
            .map(|(before, _)| before.trim())
            .is_some_and(|before| !before.is_empty() && before.chars().all(key))
}

/// `[sections]` and `[parts.click]` are tables; `[A]` and `[Verse]` are section names.
fn is_table(line: &str) -> bool {
    let name = line.strip_prefix('[').and_then(|l| l.strip_suffix(']'));
    name.is_some_and(|name| matches!(name, "sections" | "parts") || name.starts_with("parts."))
}

/// What kind of binary file this is, by its first bytes.
pub(super) fn no_text(bytes: &[u8]) -> Option<&'static str> {
    const KINDS: [(&[u8], &str); 6] = [
        (b"MThd", "a MIDI file"),
        (b"RIFF", "a sound file"),
        (b"fLaC", "a sound file"),
        (b"OggS", "a sound file"),
        (b"ID3", "a sound file"),
        (b"%PDF", "a PDF file"),
    ];
    let found = KINDS.iter().find(|(begin, _)| bytes.starts_with(begin));
    found.map(|(_, kind)| *kind)
}

/// A chart without the quotes that were copied with it.
pub(super) fn unquoted(text: &str) -> &str {
    const PAIRS: [(char, char); 7] = [
        ('\u{201c}', '\u{201d}'),
        ('\u{2018}', '\u{2019}'),
        ('\u{201e}', '\u{201c}'),
        ('\u{ab}', '\u{bb}'),
        ('`', '`'),
        ('"', '"'),
        ('\'', '\''),
    ];
    let trimmed = text.trim();
    PAIRS
        .iter()
        .find_map(|(open, close)| trimmed.strip_prefix(*open)?.strip_suffix(*close))
        .unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charts_and_documents_are_told_apart() {
        for chart in [
            "| Am | G |",
            "[A] | Am |\n[B] | G |",
            "[Verse]\n| Am |",
            "(3/4) Am | G",
            "Am | G | F",
            "Verse:\n| Am | G |\nsome words\n| F | E |",
            "\u{2016} Am \u{2016}",
        ] {
            assert_eq!(kind("a.txt", chart).ok(), Some(Kind::Chart), "{chart}");
        }
        for document in [
            "key = \"A minor\"\n[sections]\nA = \"| Am |\"",
            "# words\n[sections]\nA = \"| Am |\"",
            "[sections]\nA = \"| Am |\"",
            "",
        ] {
            assert_eq!(kind("a", document).ok(), Some(Kind::Document), "{document}");
        }
        assert_eq!(kind("a.toml", "words").ok(), Some(Kind::Document));
        for score in [
            "<?xml version=\"1.0\"?>\n<score-partwise/>",
            " <score-timewise>",
        ] {
            assert_eq!(kind("a.txt", score).ok(), Some(Kind::Score), "{score}");
        }
        assert!(is_score_bytes(b"\xFF\xFE<\0?\0x\0m\0l\0"));
        for neither in ["Am G F E", "some words", "<html>"] {
            assert!(kind("a.txt", neither).is_err(), "{neither}");
        }
    }

    #[test]
    fn quotes_around_a_chart_are_taken_off_in_pairs() {
        assert_eq!(unquoted("\u{201c}| Am |\u{201d}"), "| Am |");
        assert_eq!(unquoted(" '| Am |' "), "| Am |");
        assert_eq!(unquoted("| Am |"), "| Am |");
        assert_eq!(unquoted("\u{201c}| Am |"), "\u{201c}| Am |");
    }
}
