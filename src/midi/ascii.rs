//! Text that every reader of MIDI files can show.

/// Printable ASCII for `text`: accidental signs become `b` and `#`, other letters their nearest spelling.
///
/// Standard MIDI Files 1.0 asks for ASCII, and no file says which other encoding it might use.
///
/// ```
/// assert_eq!(fivefold::midi::ascii("Caf\u{e9} in B\u{266D}"), "Cafe in Bb");
/// ```
pub fn ascii(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| match c {
            '\u{266D}' => "b".to_owned(),
            '\u{266E}' => String::new(),
            '\u{266F}' => "#".to_owned(),
            '\u{1D12A}' => "##".to_owned(),
            '\u{1D12B}' => "bb".to_owned(),
            '\u{2206}' | '\u{0394}' | '\u{25B3}' => "maj7".to_owned(),
            '\u{00B0}' => "dim".to_owned(),
            '\u{00F8}' | '\u{00D8}' => "m7b5".to_owned(),
            c if c.is_ascii() => c.to_string(),
            c => deunicode::deunicode_with_tofu(&c.to_string(), "?"),
        })
        .collect();
    plain
        .chars()
        .map(|c| {
            if c.is_ascii_graphic() || c == ' ' {
                c
            } else {
                ' '
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_letters_and_controls() {
        for (text, plain) in [
            ("C\u{266F}m", "C#m"),
            ("B\u{1D12B}", "Bbb"),
            ("Gru\u{df} an Zo\u{eb}", "Gruss an Zoe"),
            ("a\tb\nc", "a b c"),
            ("plain", "plain"),
        ] {
            assert_eq!(ascii(text), plain);
        }
    }

    proptest::proptest! {
        #[test]
        fn always_printable(text in "\\PC{0,40}") {
            proptest::prop_assert!(ascii(&text).bytes().all(|b| (0x20..0x7F).contains(&b)));
        }
    }
}
