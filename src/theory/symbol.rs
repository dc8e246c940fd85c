//! Letter chord symbols: the lead-sheet vocabulary, and the colon syntax of Harte et al. 2005.
//!
//! Conventions in dispute are settled here once. Directly after a root `-` is minor and `+` augmented; later they
//! lower and raise the number that follows. `11` and `maj11` have no third, `13`, `maj13` and `m13` no eleventh, `m11`
//! keeps both. `sus` is `sus4`, `69` is 6/9, `7alt` is 1 3 b7 b9 #9 #11 b13. The suffixes `2` and `4` are refused.
//! After a colon Harte's own meanings hold, so `C:11` has its third.
//!
//! All accidentals directly after the letter belong to the root: `Cb9` is a ninth on Cb, `C(b9)` a triad with a flat
//! ninth.

mod harte;
mod suffix;

pub(crate) use suffix::{Before, Seed, read_suffix};

use super::chord::{Chord, Harmony};
use super::cursor::Cursor;
use super::figure_error::{FigureError, FigureProblem, MAX_FIGURE_BYTES};
use super::note_words::{in_letters, in_one_word};
use super::pitch::{self, Letter, MAX_ALTER, PitchName};

/// Reads a letter symbol, or one of the ways to write no chord: `N.C.`, `N.C`, `NC`, `N`.
///
/// ```
/// use fivefold::theory::symbol;
/// assert_eq!(symbol::read("C\u{f8}7/Gb")?.to_string(), "Cm7b5/Gb");
/// assert_eq!(symbol::read("A:min7/b3")?.to_string(), "Am7/C");
/// use fivefold::Diagnostic;
/// assert_eq!(symbol::read("am7").unwrap_err().help(), "write `Am7`");
/// # Ok::<(), fivefold::theory::FigureError>(())
/// ```
///
/// # Errors
/// [`FigureError`] with the bytes in question and what to write instead.
pub fn read(text: &str) -> Result<Harmony, FigureError> {
    read_letters(text).map_err(|e| match in_letters(text) {
        Some(meant) if read_letters(&meant).is_ok() => {
            let found = text.to_owned();
            FigureError::new(0..text.len(), FigureProblem::OtherLanguage { found, meant })
        }
        _ => without_spaces(text, e, |meant| read_letters(meant).is_ok()),
    })
}

/// The error with the figure that was meant, where a figure that can be read was written in several words.
pub(crate) fn without_spaces(
    text: &str,
    error: FigureError,
    reads: impl Fn(&str) -> bool,
) -> FigureError {
    if !matches!(error.problem(), FigureProblem::Space { .. }) {
        return error;
    }
    match in_one_word(text).filter(|meant| reads(meant)) {
        Some(meant) => {
            let meant = Some(meant);
            FigureError::new(0..text.len(), FigureProblem::Space { meant })
        }
        None => error,
    }
}

fn read_letters(text: &str) -> Result<Harmony, FigureError> {
    let mut cursor = Cursor::new(text);
    within_limits(&cursor)?;
    if matches!(text, "N.C." | "N.C" | "NC" | "N" | "n.c." | "n.c") {
        return Ok(Harmony::NoChord);
    }
    let root = read_root(&mut cursor)?;
    let chord = if cursor.take(":") {
        harte::read(&mut cursor, root)?
    } else {
        refuse_unclear_fifth(&cursor, root)?;
        let seed = Seed {
            minor: false,
            before: Before::Letter,
            head: cursor.at(),
        };
        let tones = read_suffix(&mut cursor, seed)?;
        let chord = chord_of(&cursor, root, tones)?;
        if cursor.take("/") {
            chord.with_bass(Some(read_bass(&mut cursor)?))
        } else {
            chord
        }
    };
    Ok(Harmony::Chord(chord))
}

/// Makes the chord of a mask, or says that it has too many degrees.
pub(crate) fn chord_of(
    cursor: &Cursor<'_>,
    root: PitchName,
    tones: super::chord::mask::Mask,
) -> Result<Chord, FigureError> {
    Chord::from_mask(root, tones)
        .map_err(|_| cursor.error(0..cursor.text().len(), FigureProblem::TooManyDegrees))
}

/// Refuses empty text and text that is too long.
pub(crate) fn within_limits(cursor: &Cursor<'_>) -> Result<(), FigureError> {
    let bytes = cursor.text().len();
    if bytes == 0 {
        return Err(FigureError::new(0..0, FigureProblem::Empty));
    }
    if bytes > MAX_FIGURE_BYTES {
        return Err(FigureError::new(0..bytes, FigureProblem::TooLong { bytes }));
    }
    Ok(())
}

/// Reads the root and all accidentals that touch it.
fn read_root(cursor: &mut Cursor<'_>) -> Result<PitchName, FigureError> {
    match PitchName::prefix(cursor.rest()) {
        Ok((name, length)) => {
            cursor.skip(length);
            Ok(name)
        }
        Err(error) => Err(root_error(cursor, error)),
    }
}

/// The error for a bad note name here.
fn root_error(cursor: &Cursor<'_>, error: pitch::PitchError) -> FigureError {
    let at = cursor.at();
    match error {
        pitch::PitchError::Letter {
            found: found @ 'a'..='g',
        } => {
            let mut upper = cursor.rest().to_owned();
            upper[..1].make_ascii_uppercase();
            let upper = Some(upper).filter(|upper| read_letters(upper).is_ok());
            // The suggestion replaces all that is left.
            let length = upper.as_ref().map_or(1, String::len);
            cursor.error(at..at + length, FigureProblem::LowerRoot { found, upper })
        }
        pitch::PitchError::Letter { found } => {
            cursor.error(at..at, FigureProblem::NoRoot { found })
        }
        pitch::PitchError::Mixed { at: offset } => {
            cursor.error(at + offset..at + offset, FigureProblem::MixedAccidentals)
        }
        pitch::PitchError::Alter { value } => {
            let found = value.unsigned_abs();
            cursor.error(
                at..cursor.text().len(),
                FigureProblem::TooManyAccidentals {
                    most: MAX_ALTER.unsigned_abs(),
                    found,
                },
            )
        }
        _ => cursor.error(at..at, FigureProblem::Empty),
    }
}

/// `Bbb5` may be a Bb chord with a flat fifth or a power chord on Bbb: neither is taken for granted.
fn refuse_unclear_fifth(cursor: &Cursor<'_>, root: PitchName) -> Result<(), FigureError> {
    if root.alter().abs() < 2 || cursor.digits() != "5" {
        return Ok(());
    }
    let end = cursor.at() + 1;
    let single =
        PitchName::new(root.letter(), root.alter() - root.alter().signum()).unwrap_or(root);
    let problem = FigureProblem::UnclearFifth {
        text: cursor.text()[..end].to_owned(),
        root: root.to_string(),
        single: single.to_string(),
        sign: if root.alter() < 0 { 'b' } else { '#' },
    };
    Err(cursor.error(0..end, problem))
}

/// Reads the bass after its slash, to the end of the text.
pub(crate) fn read_bass(cursor: &mut Cursor<'_>) -> Result<PitchName, FigureError> {
    let at = cursor.at();
    let Some(first) = cursor.peek() else {
        return Err(cursor.error(at - 1..at, FigureProblem::NoBass));
    };
    if Letter::from_char(first).is_none() {
        let found = cursor.rest().to_owned();
        return Err(cursor.error(at..cursor.text().len(), FigureProblem::BadBass { found }));
    }
    let bass = read_root(cursor)?;
    if cursor.done() {
        Ok(bass)
    } else {
        let found = cursor.rest().to_owned();
        Err(cursor.error(
            cursor.at()..cursor.text().len(),
            FigureProblem::AfterBass { found },
        ))
    }
}

#[cfg(test)]
mod tests;
