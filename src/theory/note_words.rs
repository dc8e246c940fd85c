//! Names of notes that are not written in letters and signs: `E flat`, and those of other languages.

use super::pitch::PitchName;

/// The note at the start of a text that says its sharp or flat in a word, `E flat` or `F-sharp`, and how many bytes it
/// takes; `None` where none does.
pub(crate) fn in_words(text: &str) -> Option<(PitchName, usize)> {
    let letter = text.get(..1)?;
    let behind = &text[1..];
    let word = behind.trim_start_matches([' ', '-']);
    let gap = behind.len() - word.len();
    let length = word
        .find(|c: char| !c.is_alphabetic())
        .unwrap_or(word.len());
    let sign = match word[..length].to_lowercase().as_str() {
        "flat" => "b",
        "sharp" => "#",
        _ => return None,
    };
    let name = PitchName::read(&format!("{letter}{sign}")).ok()?;
    (gap > 0).then_some((name, 1 + gap + length))
}

/// German names of notes, with the Dutch `Bes`; longer ones before their prefixes.
const GERMAN: [(&str, &str); 15] = [
    ("Ais", "A#"),
    ("Bes", "Bb"),
    ("Ces", "Cb"),
    ("Cis", "C#"),
    ("Des", "Db"),
    ("Dis", "D#"),
    ("Eis", "E#"),
    ("Fes", "Fb"),
    ("Fis", "F#"),
    ("Ges", "Gb"),
    ("Gis", "G#"),
    ("His", "B#"),
    ("As", "Ab"),
    ("Es", "Eb"),
    ("H", "B"),
];

/// The syllables that name the notes from C up in Romance languages.
const SYLLABLES: [(&str, &str); 9] = [
    ("do", "C"),
    ("re", "D"),
    ("r\u{e9}", "D"),
    ("mi", "E"),
    ("fa", "F"),
    ("sol", "G"),
    ("la", "A"),
    ("si", "B"),
    ("ti", "B"),
];

/// A text that begins with the name of a note in another language (common practice), with that name in letters:
/// `Fism` is `F#m`, `la` is `A`.
///
/// Syllables stand alone or before a sharp, a flat or a number; behind anything else they may be part of a word.
pub(crate) fn in_letters(text: &str) -> Option<String> {
    let german = GERMAN.iter().find_map(|(name, meant)| {
        let rest = text.strip_prefix(name)?;
        Some(format!("{meant}{rest}"))
    });
    german.or_else(|| {
        SYLLABLES.iter().find_map(|(name, meant)| {
            let head = text.get(..name.len())?;
            let rest = &text[name.len()..];
            let ends = rest
                .chars()
                .next()
                .is_none_or(|c| matches!(c, '#' | 'b' | '0'..='9' | ' '));
            // `Lam` is A minor, `Dom7` may be a dominant.
            let minor =
                rest.starts_with('m') && *name != "do" && text.starts_with(char::is_uppercase);
            let ends = ends || minor;
            (head.to_lowercase() == *name && ends).then(|| format!("{meant}{rest}"))
        })
    })
}

/// Words of a chord that is written out, with their signs.
const OF_CHORDS: [(&str, &str); 14] = [
    ("minor", "m"),
    ("min", "m"),
    ("dominant", ""),
    ("dom", ""),
    ("chord", ""),
    ("diminished", "dim"),
    ("augmented", "aug"),
    ("suspended", "sus"),
    ("half-diminished", "m7b5"),
    ("fifth", "5"),
    ("sixth", "6"),
    ("seventh", "7"),
    ("ninth", "9"),
    ("of", "/"),
];

/// A chord in several words as one: `F# minor 7` is `F#m7`, `Am / G` is `Am/G`, `V of V` is `V/V`. `None` where a sign could
/// belong to the word on either side, as in `A b9`.
pub(crate) fn in_one_word(text: &str) -> Option<String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let (first, rest) = words.split_first()?;
    let unclear = |word: &&str| word.starts_with(['b', '#', '\u{266d}', '\u{266f}']);
    if first.len() == 1 && rest.first().is_some_and(unclear) {
        return None;
    }
    let mut joined = (*first).to_owned();
    for (at, word) in rest.iter().enumerate() {
        let lower = word.to_lowercase();
        if ["major", "maj"].contains(&&*lower) {
            // Alone it is the plain triad.
            let counted = |next: &&str| next.starts_with(|c: char| c.is_ascii_digit());
            let seventh = |next: &&str| ["seventh", "ninth"].contains(next);
            if rest
                .get(at + 1)
                .is_some_and(|next| counted(next) || seventh(next))
            {
                joined += "maj";
            }
            continue;
        }
        let known = OF_CHORDS.iter().find(|(written, _)| *written == lower);
        joined += known.map_or(*word, |(_, sign)| *sign);
    }
    Some(joined)
}

/// The text with its first letter in upper case.
pub(crate) fn raised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_ascii_uppercase().to_string() + letters.as_str()
    })
}

/// Modes in other languages (common practice).
const MODES: [(&str, &str); 8] = [
    ("moll", "minor"),
    ("menor", "minor"),
    ("minore", "minor"),
    ("mineur", "minor"),
    ("dur", "major"),
    ("mayor", "major"),
    ("maggiore", "major"),
    ("majeur", "major"),
];

/// A text with the modes of other languages in English: `A moll pentatonic` is `A minor pentatonic`.
pub(crate) fn in_english(text: &str) -> String {
    let word = |word: &str| {
        let lower = word.to_lowercase();
        let known = MODES.iter().find(|(foreign, _)| *foreign == lower);
        known.map_or_else(|| word.to_owned(), |(_, english)| (*english).to_owned())
    };
    let parted = text.split(' ').flat_map(|part| part.split('-'));
    parted.map(word).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_in_words_take_the_word() {
        let found = |text| in_words(text).map(|(name, length)| (name.to_string(), length));
        assert_eq!(found("E flat minor"), Some(("Eb".to_owned(), 6)));
        assert_eq!(found("F-Sharp"), Some(("F#".to_owned(), 7)));
        for none in [
            "E",
            "E minor",
            "Eflat",
            "E flatter",
            "e flat",
            "H sharp",
            "\u{e9} flat",
            "",
        ] {
            assert_eq!(found(none), None, "{none}");
        }
    }

    #[test]
    fn chords_in_several_words_become_one() {
        for (text, one) in [
            ("C major 7", "Cmaj7"),
            ("C major", "C"),
            ("F# minor 7", "F#m7"),
            ("Bb Minor seventh", "Bbm7"),
            ("Am / G", "Am/G"),
            ("C7 b9", "C7b9"),
            ("V of V", "V/V"),
            ("Am G", "AmG"),
        ] {
            assert_eq!(in_one_word(text).as_deref(), Some(one), "{text}");
        }
        assert_eq!(in_one_word("A b9"), None);
        assert_eq!(in_one_word(" "), None);
    }

    #[test]
    fn names_of_other_languages_are_found_and_nothing_else() {
        for (text, letters) in [
            ("Fis", "F#"),
            ("Fism7", "F#m7"),
            ("Es", "Eb"),
            ("H7", "B7"),
            ("His", "B#"),
            ("do", "C"),
            ("Sol7", "G7"),
            ("r\u{e9} minor", "D minor"),
            ("sib", "Bb"),
            ("Lam", "Am"),
            ("Rem7", "Dm7"),
        ] {
            assert_eq!(in_letters(text).as_deref(), Some(letters), "{text}");
        }
        for none in ["", "dom7", "dorian", "Am", "fast", "x", "\u{e9}"] {
            assert_eq!(in_letters(none), None, "{none}");
        }
    }
}
