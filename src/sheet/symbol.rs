//! Chord symbols as they are printed: the root large, the figures raised, flats and sharps as signs.

use crate::picture::{Text, signs};
use crate::theory::Harmony;

/// How a chart writes a major seventh.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MajorSeventh {
    /// With letters: `maj7`.
    #[default]
    Letters,
    /// With a triangle.
    Triangle,
}

impl MajorSeventh {
    /// How the writer of these texts writes it: with a triangle if one has a triangle or a caret.
    pub fn of<'a>(texts: impl IntoIterator<Item = &'a str>) -> Self {
        let triangle = |text: &str| text.contains(['\u{25B3}', '\u{2206}', '\u{0394}', '^']);
        if texts.into_iter().any(triangle) {
            MajorSeventh::Triangle
        } else {
            MajorSeventh::Letters
        }
    }
}

/// A chord symbol as it is printed.
///
/// ```
/// use fivefold::sheet::{MajorSeventh, symbol_text};
/// use fivefold::theory::symbol;
/// let text = symbol_text(&symbol::read("Bbmaj7/D").unwrap(), MajorSeventh::Triangle);
/// assert_eq!(text.plain(), "B♭△7/D");
/// let raised: Vec<bool> = text.runs().iter().map(|run| run.raised).collect();
/// assert_eq!(raised, [false, true, false]);
/// ```
pub fn symbol_text(harmony: &Harmony, seventh: MajorSeventh) -> Text {
    let Some(chord) = harmony.chord() else {
        return harmony.to_string().into();
    };
    let root = chord.root().to_string();
    let plain = chord.with_bass(None).to_string();
    let mut text = figured(&root, plain.strip_prefix(&root).unwrap_or(""), seventh);
    if let Some(bass) = chord.slash() {
        text.push(&signs(&format!("/{bass}")), false);
    }
    text
}

/// A numeral as it is printed: `bVImaj7` with its seventh raised.
pub fn numeral_text(numeral: &str, seventh: MajorSeventh) -> Text {
    let is_head = |c: char| matches!(c, 'b' | '#' | 'I' | 'V' | 'i' | 'v');
    let end = numeral.find(|c| !is_head(c)).unwrap_or(numeral.len());
    let (head, rest) = numeral.split_at(end);
    let (rest, bass) = match rest.rsplit_once('/') {
        Some((rest, bass)) if bass.starts_with(|c: char| c.is_ascii_uppercase()) => {
            (rest, Some(bass))
        }
        _ => (rest, None),
    };
    let mut text = figured(head, rest, seventh);
    if let Some(bass) = bass {
        text.push(&signs(&format!("/{bass}")), false);
    }
    text
}

/// A root and what stands behind it.
fn figured(root: &str, suffix: &str, seventh: MajorSeventh) -> Text {
    let mut text = Text::from(signs(root));
    // What tells the third and the fifth stays large.
    let large = ["dim", "aug", "m"].into_iter().find(|word| {
        suffix
            .strip_prefix(word)
            .is_some_and(|rest| !(*word == "m" && rest.starts_with("aj")))
    });
    let large = large.unwrap_or("");
    if !large.is_empty() {
        text.push(large, false);
    }
    let rest = suffix.strip_prefix(large).unwrap_or(suffix);
    let rest = match seventh {
        MajorSeventh::Triangle => rest
            .replacen("Maj", "\u{25B3}", 1)
            .replacen("maj", "\u{25B3}", 1),
        MajorSeventh::Letters => rest.to_owned(),
    };
    if !rest.is_empty() {
        text.push(&altered(&rest), true);
    }
    text
}

/// The accidentals before the figures of a suffix as signs: `7b5` is `7♭5`, `(b9,#11)` is `(♭9,♯11)`.
fn altered(suffix: &str) -> String {
    let letters: Vec<char> = suffix.chars().collect();
    let sign = |(at, letter): (usize, &char)| {
        let behind = letters[at + 1..].iter().find(|c| !matches!(c, 'b' | '#'));
        match letter {
            'b' if behind.is_some_and(char::is_ascii_digit) => '\u{266D}',
            '#' => '\u{266F}',
            other => *other,
        }
    };
    letters.iter().enumerate().map(sign).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::symbol;

    /// What is raised in round brackets of its own kind.
    fn set(text: &str, seventh: MajorSeventh) -> String {
        let text = symbol_text(&symbol::read(text).expect("a symbol"), seventh);
        let runs = text.runs().iter();
        runs.map(|run| match run.raised {
            true => format!("<{}>", run.text),
            false => run.text.clone(),
        })
        .collect()
    }

    #[test]
    fn figures_are_raised_and_signs_are_signs() {
        use MajorSeventh::{Letters, Triangle};
        for (symbol, printed) in [
            ("C", "C"),
            ("Am7", "Am<7>"),
            ("F#m7b5", "F♯m<7♭5>"),
            ("Bbmaj7", "B♭<maj7>"),
            ("C7(b9,#11)", "C<7♭9♯11>"),
            ("Gsus4", "G<sus4>"),
            ("Bdim7", "Bdim<7>"),
            ("Caug", "Caug"),
            ("C6/9", "C<6/9>"),
            ("D/F#", "D/F♯"),
            ("CmMaj7", "Cm<Maj7>"),
            ("Cadd9", "C<add9>"),
            ("N.C.", "N.C."),
        ] {
            assert_eq!(set(symbol, Letters), printed, "{symbol}");
        }
        assert_eq!(set("CmMaj7/G", Triangle), "Cm<△7>/G");
        assert_eq!(set("Ebmaj9", Triangle), "E♭<△9>");
        assert_eq!(numeral_text("bVImaj7", Letters).plain(), "♭VImaj7");
        assert_eq!(numeral_text("ii7/G", Letters).plain(), "ii7/G");
        assert_eq!(MajorSeventh::of(["| C | Am7 |"]), Letters);
        assert_eq!(MajorSeventh::of(["| C |", "| F△7 |"]), Triangle);
    }
}
