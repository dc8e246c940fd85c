//! Flats and sharps as their signs.

/// `b` and `#` of a note or a degree as flat and sharp signs: `b3` is `♭3`, `Bb` is `B♭`, `F#m7b5` is `F♯m7♭5`.
///
/// ```
/// use fivefold::picture::signs;
/// assert_eq!(signs("Bb"), "B♭");
/// assert_eq!(signs("b3"), "♭3");
/// assert_eq!(signs("F#m7b5"), "F♯m7♭5");
/// assert_eq!(signs("a bobbin"), "a bobbin");
/// ```
pub fn signs(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while let Some(letter) = letters.get(at) {
        let flats = letters[at..].iter().take_while(|c| **c == 'b').count();
        if *letter == '#' {
            out.push('\u{266F}');
            at += 1;
        } else if flats > 0 && are_flats(&letters, at, at + flats) {
            out.extend(std::iter::repeat_n('\u{266D}', flats));
            at += flats;
        } else {
            out.push(*letter);
            at += 1;
        }
    }
    out
}

/// What may follow a note in a chord symbol.
const SUFFIXES: [&str; 5] = ["m", "dim", "aug", "sus", "add"];

/// Whether the `b`s from one place to another are flats: behind the letter of a note, or before a degree.
fn are_flats(letters: &[char], from: usize, to: usize) -> bool {
    let before = from.checked_sub(1).map(|i| letters[i]);
    let word_before = from
        .checked_sub(2)
        .is_some_and(|i| letters[i].is_alphabetic());
    let rest: String = letters[to..]
        .iter()
        .take_while(|c| c.is_alphabetic())
        .collect();
    let of_note = before.is_some_and(|c| ('A'..='G').contains(&c))
        && !word_before
        && (rest.is_empty() || SUFFIXES.iter().any(|suffix| rest.starts_with(suffix)));
    let degree = |c: &char| c.is_ascii_digit() || matches!(c, 'I' | 'V' | 'i' | 'v');
    let of_degree =
        letters.get(to).is_some_and(degree) && before.is_none_or(|c| !c.is_alphabetic());
    of_note || of_degree
}
