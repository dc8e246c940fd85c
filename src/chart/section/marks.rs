//! Signs of printed music and of other notations, which a chart writes differently.

use crate::theory::figure;
use crate::time::Meter;

/// Words that head a line above a song on paper, but are not sections.
const HEAD: [&str; 12] = [
    "title",
    "artist",
    "by",
    "key",
    "tempo",
    "bpm",
    "capo",
    "time",
    "meter",
    "feel",
    "tuning",
    "strumming",
];

/// What is wrong with a word that is a sign, not a chord: code, message and help. `before` is the word before it.
pub(super) fn mark(word: &str, before: Option<&str>) -> Option<(&'static str, String, String)> {
    if let Some(what) = jump(word) {
        return Some((
            "chart-jump",
            format!("`{word}` is a jump ({what}), which a chart does not have"),
            "name the sections and write their order: `form = \"A B A\"`".to_owned(),
        ));
    }
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if let Some(inner) = word.strip_prefix('[').and_then(|w| w.strip_suffix(']'))
        && Meter::read(inner).is_ok()
    {
        return Some((
            "chart-meter-place",
            format!("a meter stands in round brackets, found `{word}`"),
            format!("write `({inner})` right behind the bar line"),
        ));
    }
    if let Some(rest) = word.strip_prefix('[') {
        if rest.starts_with(|c: char| c.is_ascii_digit()) {
            return Some((
                "chart-ending-form",
                format!("an ending is marked by its number and a point, found `{word}`"),
                "write `[1. Am |`, or `[1.2. Am |` for an ending played twice".to_owned(),
            ));
        }
        if !rest.contains(']') {
            return Some((
                "chart-section-place",
                format!("a section name is one word in brackets, found `{word}`"),
                "write `[verse] | Am | Dm |` on a line of its own".to_owned(),
            ));
        }
        if rest.ends_with(']') {
            let name = if rest.len() > 20 { "[B]" } else { word };
            return Some((
                "chart-section-place",
                format!("a section name begins a line and a bar line follows it, found `{word}`"),
                format!(
                    "write `{name} | Am | Dm |` on a line of its own; in a document write \
                     `B = \"| Am | Dm |\"` under `[sections]`"
                ),
            ));
        }
    }
    if let Some(name) = word.strip_suffix(':')
        && name.len() > 1
        && name.chars().all(char::is_alphanumeric)
        && figure::read(name).is_err()
    {
        if HEAD.contains(&name.to_lowercase().as_str()) {
            return Some((
                "chart-head",
                format!("a chart holds chords alone, found `{word}`"),
                "leave the line out; in a document it stands above the sections".to_owned(),
            ));
        }
        return Some((
            "chart-label",
            format!("a section is named in square brackets, found `{word}`"),
            format!("write `[{name}]` in front of its first bar line"),
        ));
    }
    if word.strip_suffix('.').is_some_and(digits) {
        return Some((
            "chart-ending-form",
            format!("an ending is marked by a bracket, its number and a point, found `{word}`"),
            format!("write `[{word}` right behind the bar line"),
        ));
    }
    let bare = word
        .strip_prefix('(')
        .and_then(|w| w.strip_suffix(')'))
        .unwrap_or(word);
    let times = bare
        .strip_prefix(['x', 'X', '\u{D7}'])
        .or(bare.strip_suffix(['x', 'X', '\u{D7}']));
    if let Some(times) = times.filter(|t| digits(t) && t.len() < 5) {
        return Some((
            "chart-repeat-times",
            format!("how often a repeat is played stands in its sign, found `{word}`"),
            format!("write the number behind the sign, as in `| Am :|x{times}`"),
        ));
    }
    if word.starts_with('(') {
        let help = match before {
            _ if bare.len() <= 20 && figure::read(bare).is_ok() => {
                format!("write `{bare}` without brackets")
            }
            Some(before) if before.len() + word.len() <= 40 && word.ends_with(')') => {
                format!("write `{before}{word}` without a space")
            }
            _ => "write `C7(b9)` for a chord, `| (3/4) Am |` for a meter".to_owned(),
        };
        return Some((
            "chart-bracket",
            format!("a bracket stands right behind its chord, or holds a meter, found `{word}`"),
            help,
        ));
    }
    if let Some(sign) = sign(word) {
        return Some(sign);
    }
    let bass = word.strip_prefix('/')?;
    let help = match before {
        _ if bass.bytes().all(|b| b == b'/') => {
            format!("write `{}`", vec!["/"; word.len().min(8)].join(" "))
        }
        Some(before) if before.len() + word.len() <= 40 => {
            format!("write `{before}{word}` for a bass, or `/ {bass}` for a beat held and a chord")
        }
        _ => "write a space behind a `/` that holds a beat".to_owned(),
    };
    Some((
        "chart-slash",
        format!("a `/` that holds a beat stands by itself, found `{word}`"),
        help,
    ))
}

/// Marks that other notations put between chords.
fn sign(word: &str) -> Option<(&'static str, String, String)> {
    let help = if let Some(chord) = word
        .strip_suffix([',', ';'])
        .filter(|w| figure::read(w).is_ok())
    {
        format!("write `{chord}` and a space")
    } else if word.contains(char::is_alphanumeric) || word.starts_with('/') {
        return None;
    } else if word.contains('%') || word == "./." {
        "write `%` for the bar before".to_owned()
    } else if word == ":" {
        "write `|:` or `:|` without a space".to_owned()
    } else {
        "write chords with spaces between them, and `/` for a beat that holds the chord".to_owned()
    };
    Some((
        "chart-sign",
        format!("a bar is made of chords, `/`, `%` and `N.C.`, found `{word}`"),
        help,
    ))
}

/// Jumps of printed music, which a chart replaces by its form.
fn jump(word: &str) -> Option<&'static str> {
    let bare: String = word
        .chars()
        .filter(|c| *c != '.')
        .take(12)
        .collect::<String>()
        .to_ascii_uppercase();
    match bare.as_str() {
        "DC" => Some("from the beginning"),
        "DS" | "DALSEGNO" => Some("from the sign"),
        "FINE" => Some("the end of a jump"),
        "CODA" | "TOCODA" | "SEGNO" | "\u{1D10B}" | "\u{1D10C}" => Some("a place to jump to"),
        _ => None,
    }
}
