//! The lexemes of the chart notation.

use std::ops::Range;

/// One lexeme of a chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Lexeme<'a> {
    /// Any bar line: `|`, `||`, `|]`, `|:`, `:|`, `:|x3`, `:|:`.
    BarLine { closes: Option<u32>, opens: bool },
    /// `:|x` with a bad number, or one out of range.
    BadTimes,
    /// `[1.` or `[1.2.`: the numbers as written.
    EndingMark(Vec<u32>),
    /// `(3/4)`: what stands between the brackets.
    MeterMark(&'a str),
    /// `%`: the bar before, again.
    Simile,
    /// A free-standing `/`.
    Slash,
    /// Anything else up to white space or a bar line.
    Word(&'a str),
    /// The end of a line.
    LineEnd,
}

/// Most times a repeat may be played.
pub(super) const MOST_REPEATS: u32 = 999;

/// Splits a chart into lexemes with their byte spans.
///
/// One at a time: a list would take many times the memory of the text.
pub(super) fn scan(text: &str) -> impl Iterator<Item = (Lexeme<'_>, Range<usize>)> {
    let bytes = text.as_bytes();
    let mut at = 0;
    std::iter::from_fn(move || {
        while white_at(text, at) > 0 && bytes[at] != b'\n' {
            at += white_at(text, at);
        }
        if at >= bytes.len() {
            return None;
        }
        let start = at;
        let lexeme = match bytes[at] {
            b'\n' => {
                at += 1;
                Lexeme::LineEnd
            }
            _ if line_at(bytes, at) > 0 => bar_line(bytes, &mut at),
            b':' if line_at(bytes, at + 1) > 0 => bar_line(bytes, &mut at),
            b'%' => {
                at += 1;
                Lexeme::Simile
            }
            b'[' => match ending_mark(bytes, at) {
                Some((numbers, end)) => {
                    at = end;
                    Lexeme::EndingMark(numbers)
                }
                None => word(text, &mut at),
            },
            b'(' if meter_mark(bytes, at).is_some() => {
                let end = meter_mark(bytes, at).unwrap_or(at + 1);
                at = end + 1;
                Lexeme::MeterMark(&text[start + 1..end])
            }
            _ => word(text, &mut at),
        };
        Some((lexeme, start..at))
    })
}

/// Whether a text has a bar line in it, as a chart has: `|`, or a sign that is pasted for it.
pub fn has_bar_line(text: &str) -> bool {
    (0..text.len()).any(|at| line_at(text.as_bytes(), at) > 0)
}

/// Bytes of the line or double line at `at`, 0 where there is none: `|`, or a sign of printed music or mathematics that
/// is pasted for it.
fn line_at(bytes: &[u8], at: usize) -> usize {
    const SIGNS: [&str; 4] = ["|", "\u{2016}", "\u{1D100}", "\u{1D101}"];
    let rest = bytes.get(at..).unwrap_or_default();
    SIGNS
        .iter()
        .find(|sign| rest.starts_with(sign.as_bytes()))
        .map_or(0, |sign| sign.len())
}

fn bar_line<'a>(bytes: &[u8], at: &mut usize) -> Lexeme<'a> {
    let mut closes = None;
    if bytes[*at] == b':' {
        closes = Some(2);
        *at += 1;
    }
    *at += line_at(bytes, *at);
    if matches!(bytes.get(*at), Some(b'|' | b']')) {
        *at += 1;
    }
    if closes.is_some() && bytes.get(*at) == Some(&b'x') {
        let digits = bytes[*at + 1..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count();
        let text = std::str::from_utf8(&bytes[*at + 1..*at + 1 + digits]).unwrap_or("");
        *at += 1 + digits;
        match text.parse::<u32>() {
            Ok(times) if (2..=MOST_REPEATS).contains(&times) => closes = Some(times),
            _ => return Lexeme::BadTimes,
        }
    }
    let opens = bytes.get(*at) == Some(&b':') && line_at(bytes, *at + 1) == 0;
    if opens {
        *at += 1;
    }
    Lexeme::BarLine { closes, opens }
}

/// `[1.2.`: the numbers and where they end.
fn ending_mark(bytes: &[u8], start: usize) -> Option<(Vec<u32>, usize)> {
    let mut numbers = Vec::new();
    let mut at = start + 1;
    loop {
        let digits = bytes[at..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count();
        if digits == 0 || digits > 4 || bytes.get(at + digits) != Some(&b'.') {
            break;
        }
        let text = std::str::from_utf8(&bytes[at..at + digits]).ok()?;
        numbers.push(text.parse().ok()?);
        at += digits + 1;
    }
    // `[1.2` is more likely an ending without its last point than the first ending and the chord on the second degree.
    let clear = !bytes.get(at).is_some_and(u8::is_ascii_digit);
    (clear && !numbers.is_empty()).then_some((numbers, at))
}

/// Whether a meter in brackets begins here: digits follow, and a slash before the closing bracket. Gives the place
/// of the closing bracket.
fn meter_mark(bytes: &[u8], start: usize) -> Option<usize> {
    if !bytes
        .get(start + 1)
        .is_some_and(|b| b.is_ascii_digit() || *b == b' ')
    {
        return None;
    }
    let end = start + bytes[start..].iter().take(40).position(|b| *b == b')')?;
    bytes[start..end].contains(&b'/').then_some(end)
}

/// Bytes of the white space character at `at`, 0 where there is none. Text from a web page has special spaces
/// (no-break, thin, ideographic); they separate chords like any other.
fn white_at(text: &str, at: usize) -> usize {
    match text.as_bytes().get(at) {
        Some(b) if b.is_ascii() => usize::from(b.is_ascii_whitespace() || *b == 0x0B),
        Some(_) => text
            .get(at..)
            .and_then(|rest| rest.chars().next())
            .filter(|c| c.is_whitespace())
            .map_or(0, char::len_utf8),
        None => 0,
    }
}

/// The greatest distance between brackets at which white space between them still belongs to the chord.
const BRACKET_BYTES: usize = 100;

/// Whether the bracket that opens at `at` is closed before the next bar line or line end.
fn is_closed(bytes: &[u8], at: usize) -> bool {
    bytes[at..]
        .iter()
        .take(BRACKET_BYTES)
        .find(|b| matches!(b, b'|' | b'\n' | b')'))
        == Some(&b')')
}

/// A word: to white space outside round brackets, or to a bar line.
fn word<'a>(text: &'a str, at: &mut usize) -> Lexeme<'a> {
    let start = *at;
    let bytes = text.as_bytes();
    let mut depth = 0u32;
    while let Some(b) = bytes.get(*at) {
        match b {
            b'\n' => break,
            _ if line_at(bytes, *at) > 0 => break,
            b':' if line_at(bytes, *at + 1) > 0 && *at > start => break,
            b'(' if is_closed(bytes, *at) => depth += 1,
            b')' => depth = depth.saturating_sub(1),
            _ if depth == 0 && white_at(text, *at) > 0 => break,
            _ => {}
        }
        *at += 1;
    }
    let word = text[start..*at].trim_end();
    *at = start + word.len();
    if word == "/" {
        Lexeme::Slash
    } else {
        Lexeme::Word(word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kinds(text: &str) -> Vec<Lexeme<'_>> {
        scan(text).map(|(l, _)| l).collect()
    }

    #[test]
    fn bar_lines_of_every_kind() {
        let line = |closes, opens| Lexeme::BarLine { closes, opens };
        assert_eq!(
            kinds("| || |] |: :| :|x3 :|: ||:"),
            [
                line(None, false),
                line(None, false),
                line(None, false),
                line(None, true),
                line(Some(2), false),
                line(Some(3), false),
                line(Some(2), true),
                line(None, true),
            ]
        );
        assert_eq!(kinds(":|x1"), [Lexeme::BadTimes]);
        assert_eq!(kinds(":|x"), [Lexeme::BadTimes]);
    }

    #[test]
    fn words_end_at_space_or_bar_line_but_not_inside_brackets() {
        assert_eq!(
            kinds("Am7|C7(b9, #11) / C/E C:maj7:|[1.2. [A] (3/4) (7/8 = 2+2+3)%"),
            [
                Lexeme::Word("Am7"),
                Lexeme::BarLine {
                    closes: None,
                    opens: false
                },
                Lexeme::Word("C7(b9, #11)"),
                Lexeme::Slash,
                Lexeme::Word("C/E"),
                Lexeme::Word("C:maj7"),
                Lexeme::BarLine {
                    closes: Some(2),
                    opens: false
                },
                Lexeme::EndingMark(vec![1, 2]),
                Lexeme::Word("[A]"),
                Lexeme::MeterMark("3/4"),
                Lexeme::MeterMark("7/8 = 2+2+3"),
                Lexeme::Simile,
            ]
        );
    }

    /// A chart pasted from a web page once never ended: a no-break space was no space to the scanner and no word
    /// either, so it stood still and filled the memory.
    #[test]
    fn spaces_of_every_kind_part_words() {
        for space in [
            "\t", "\u{A0}", "\u{2009}", "\u{3000}", "\u{85}", "\u{B}", "\r\n", " ",
        ] {
            let chart = format!("Am7{space}{space}D9{space}");
            let words: Vec<_> = kinds(&chart)
                .into_iter()
                .filter(|l| *l != Lexeme::LineEnd)
                .collect();
            assert_eq!(
                words,
                [Lexeme::Word("Am7"), Lexeme::Word("D9")],
                "{space:?}"
            );
        }
    }

    /// Once each word looked for a bracket as far as the next bar line, so a long text without one took for ever.
    #[test]
    fn a_long_text_without_bar_lines_is_scanned_in_a_moment() {
        let text = "C(( ".repeat(200_000);
        assert_eq!(scan(&text).count(), 200_000);
    }

    proptest::proptest! {
        #[test]
        fn every_byte_but_space_is_in_a_lexeme(text in "[|:%/()\\[\\]0-9.xAm \n]{0,30}|.{0,30}") {
            let mut last = 0;
            for (_, span) in scan(&text) {
                proptest::prop_assert!(span.start >= last && span.end > span.start);
                proptest::prop_assert!(text[last..span.start].trim().is_empty());
                last = span.end;
            }
            proptest::prop_assert!(text[last..].trim().is_empty());
        }
    }
}
