//! The small words plans are written in: decimal numbers in thousandths, and tokens with their place.

use std::fmt;
use std::ops::Range;

/// A non-negative decimal number in thousandths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Milli(u64);

impl Milli {
    pub(crate) const fn new(thousandths: u64) -> Self {
        Milli(thousandths)
    }

    pub(crate) const fn get(self) -> u64 {
        self.0
    }
}

impl fmt::Display for Milli {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, rest) = (self.0 / 1000, self.0 % 1000);
        if rest == 0 {
            write!(f, "{whole}")
        } else {
            let digits = format!("{rest:03}");
            write!(f, "{whole}.{}", digits.trim_end_matches('0'))
        }
    }
}

/// Reads `72`, `72.5`, `0.125`: digits, and at most three after the point.
pub(crate) fn read_milli(text: &str) -> Result<Milli, ()> {
    let (whole, rest) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(rest) || rest.len() > 3 || whole.len() > 9 {
        return Err(());
    }
    let whole: u64 = whole.parse().map_err(|_| ())?;
    let rest: u64 = format!("{rest:0<3}").parse().map_err(|_| ())?;
    Ok(Milli(whole * 1000 + rest))
}

/// One token of a plan: a number, a word, or a single other character.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Token<'a> {
    pub(crate) text: &'a str,
    pub(crate) span: Range<usize>,
}

/// Splits a plan into tokens: runs of digits and points, runs of letters, and single other characters.
pub(crate) fn tokens(text: &str) -> Vec<Token<'_>> {
    let class = |c: char| {
        if c.is_ascii_digit() || c == '.' {
            1
        } else if c.is_alphabetic() {
            2
        } else if c.is_whitespace() {
            0
        } else {
            3
        }
    };
    let mut found: Vec<Token<'_>> = Vec::new();
    let mut last = 0;
    for (at, c) in text.char_indices() {
        let now = class(c);
        let end = at + c.len_utf8();
        match found.last_mut() {
            Some(token) if now == last && matches!(now, 1 | 2) && token.span.end == at => {
                token.span.end = end;
                token.text = &text[token.span.clone()];
            }
            _ if now == 0 => {}
            _ => found.push(Token {
                text: &text[at..end],
                span: at..end,
            }),
        }
        last = now;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_in_thousandths() {
        for (text, value) in [
            ("72", 72_000),
            ("72.5", 72_500),
            ("0.125", 125),
            ("007", 7_000),
        ] {
            assert_eq!(read_milli(text).unwrap().get(), value);
        }
        for text in ["", ".5", "5.", "1.2345", "1e3", "-1", "1234567890", "1.2.3"] {
            assert!(read_milli(text).is_err(), "{text}");
        }
        assert_eq!(Milli::new(72_500).to_string(), "72.5");
        assert_eq!(Milli::new(125).to_string(), "0.125");
    }

    #[test]
    fn tokens_keep_their_place() {
        let found: Vec<_> = tokens("90s, é 1/2")
            .into_iter()
            .map(|t| (t.text, t.span))
            .collect();
        assert_eq!(
            found,
            [
                ("90", 0..2),
                ("s", 2..3),
                (",", 3..4),
                ("é", 5..7),
                ("1", 8..9),
                ("/", 9..10),
                ("2", 10..11)
            ]
        );
    }
}
