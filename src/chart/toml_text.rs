//! From bytes of a string's value back to bytes of the TOML text it stands in.

use std::ops::Range;

/// Maps spans of a decoded TOML string to spans of the document.
#[derive(Clone, Debug)]
pub(super) struct StringPlaces {
    /// Document byte of each decoded byte, and of the end; `None` where the two match byte for byte.
    places: Option<Vec<usize>>,
    start: usize,
    /// The end of the token; no span goes beyond it.
    end: usize,
}

impl StringPlaces {
    /// `token` is the span of the raw token, quotes included, in `document`; `value` what it decodes to.
    pub(super) fn new(document: &str, token: Range<usize>, value: &str) -> Self {
        let raw = document.get(token.clone()).unwrap_or("");
        let (quotes, basic) = if raw.starts_with("\"\"\"") {
            (3, true)
        } else if raw.starts_with("'''") {
            (3, false)
        } else if raw.starts_with(['"', '\'']) {
            (1, raw.starts_with('"'))
        } else {
            // The text was broken here, and this value was made up for it.
            (0, false)
        };
        let mut inner = raw
            .get(quotes..raw.len().saturating_sub(quotes))
            .unwrap_or("");
        let mut start = token.start + quotes;
        if quotes == 3 {
            // A newline right after the opening quotes is not part of the value.
            for newline in ["\r\n", "\n"] {
                if let Some(rest) = inner.strip_prefix(newline) {
                    start += newline.len();
                    inner = rest;
                    break;
                }
            }
        }
        if inner == value {
            return StringPlaces {
                places: None,
                start,
                end: token.end,
            };
        }
        StringPlaces {
            places: Some(walk(inner, start, value, basic)),
            start,
            end: token.end,
        }
    }

    /// The span in the document.
    pub(super) fn span(&self, inner: Range<usize>) -> Range<usize> {
        let place = |byte: usize| match &self.places {
            None => self.start + byte,
            Some(places) => places
                .get(byte)
                .or(places.last())
                .copied()
                .unwrap_or(self.start),
        };
        let start = place(inner.start).min(self.end);
        start..place(inner.end).clamp(start, self.end)
    }
}

/// Walks the raw text beside the value. Anything but an escape stands for itself; an escape decodes to one character; a
/// backslash at a line's end swallows white space.
fn walk(raw: &str, start: usize, value: &str, basic: bool) -> Vec<usize> {
    let mut places = Vec::with_capacity(value.len() + 1);
    let mut rest = raw;
    let mut at = start;
    let skip = |rest: &mut &str, at: &mut usize, n: usize| {
        *rest = rest.get(n..).unwrap_or("");
        *at += n;
    };
    for c in value.chars() {
        // Line-ending backslashes decode to nothing.
        while basic && rest.starts_with('\\') && rest[1..].starts_with([' ', '\t', '\r', '\n']) {
            let white = rest[1..].len() - rest[1..].trim_start().len();
            skip(&mut rest, &mut at, 1 + white);
        }
        places.extend(std::iter::repeat_n(at, c.len_utf8()));
        let raw_len = if basic && rest.starts_with('\\') {
            match rest.as_bytes().get(1) {
                Some(b'u') => 6,
                Some(b'U') => 10,
                Some(b'x') => 4,
                _ => 2,
            }
        } else if rest.starts_with("\r\n") && c == '\n' {
            2
        } else {
            rest.chars().next().map_or(0, char::len_utf8)
        };
        // In a broken text an escape may be cut short.
        let whole = (raw_len..rest.len())
            .find(|n| rest.is_char_boundary(*n))
            .unwrap_or(rest.len());
        skip(&mut rest, &mut at, whole);
    }
    places.push(at);
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where `needle` of the decoded value lies in the document.
    fn found(document: &str, needle: &str) -> String {
        let table = toml::de::DeTable::parse(document).unwrap();
        let value = table.get_ref().get("a").unwrap();
        let text = value.get_ref().as_str().unwrap();
        let at = text.find(needle).unwrap();
        let places = StringPlaces::new(document, value.span(), text);
        let span = places.span(at..at + needle.len());
        format!("{}:{}", span.start, &document[span.clone()])
    }

    #[test]
    fn places_in_every_kind_of_string() {
        assert_eq!(found("a = \"| Am | X |\"", "X"), "12:X");
        assert_eq!(found("a = '| Am | X |'", "X"), "12:X");
        assert_eq!(found("a = \"\"\"\n| Am |\n| X |\"\"\"", "X"), "17:X");
        assert_eq!(found("a = '''\n| Am |\n| X |'''", "X"), "17:X");
        assert_eq!(found("a = \"B\\u266Dm X\"", "X"), "14:X");
        assert_eq!(found("a = \"B\\u266Dm X\"", "m"), "12:m");
        assert_eq!(found("a = \"B\\u266Dm X\"", "\u{266D}"), "6:\\u266D");
        assert_eq!(
            found("a = \"\"\"\\\n   | Am | \\\n   X |\"\"\"", "X"),
            "24:X"
        );
        assert_eq!(found("a = \"B\u{266D}m\\tX\"", "X"), "12:X");
        assert_eq!(found("a = \"\"\"\r\n| Am |\r\n| X |\"\"\"", "X"), "19:X");
    }

    proptest::proptest! {
        #[test]
        fn any_string_keeps_its_letters(value in "[a-zA-Z|\u{266D}\"\\\\\n\t ]{0,24}") {
            let literal = toml::Value::String(value.clone()).to_string();
            let document = format!("a = {literal}\n");
            let table = toml::de::DeTable::parse(&document).unwrap();
            let found = table.get_ref().get("a").unwrap();
            let places = StringPlaces::new(&document, found.span(), &value);
            for (at, c) in value.char_indices().filter(|(_, c)| c.is_alphanumeric()) {
                let span = places.span(at..at + c.len_utf8());
                proptest::prop_assert_eq!(&document[span], c.to_string());
            }
        }
    }
}
