//! Reading tunings, and the errors of texts that are not tunings.

use std::fmt;
use std::ops::Range;

use super::{TABLE, Tuning, named};
use crate::diagnostic::Diagnostic;
use crate::neck::limits::{MAX_STRINGS, MIN_STRINGS};
use crate::theory::{Compared, Pitch, PitchName, raised};

/// A tuning that could not be read or made, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TuningError {
    span: Range<usize>,
    problem: TuningProblem,
}

/// What is wrong with a tuning.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each sentence says what its facts are")]
pub enum TuningProblem {
    #[error("expected a tuning, found nothing")]
    Empty,
    #[error("expected a tuning of at most {MAX_TUNING_BYTES} bytes, found {found}")]
    TooLong { found: usize },
    #[error("expected a known tuning or the notes of the open strings, found `{found}`")]
    Unknown {
        found: String,
        nearest: Option<&'static str>,
    },
    #[error("expected a note A to G in upper case, found `{found}`")]
    BadNote {
        found: String,
        upper: Option<String>,
    },
    #[error("expected an octave on every string or on none, found it on {with} of {found}")]
    SomeOctaves { with: usize, found: usize },
    #[error("expected {MIN_STRINGS} to {MAX_STRINGS} strings, found {found}")]
    StringCount { found: usize },
    #[error("expected a string no lower than {below}, found {found}")]
    Falling {
        below: Pitch,
        found: Pitch,
        reversed: bool,
    },
    #[error("expected an octave from 0 to 9 behind the note, found `{found}`")]
    Octave { found: String },
    #[error("expected open strings from C0 to C6, found {found}")]
    PitchRange { found: Pitch },
}

/// The longest text that is read as a tuning, in bytes; eight strings with every accidental and octave are shorter.
const MAX_TUNING_BYTES: usize = 80;

impl TuningError {
    pub(super) const fn new(span: Range<usize>, problem: TuningProblem) -> TuningError {
        TuningError { span, problem }
    }

    /// What is wrong, as data.
    #[must_use]
    pub const fn problem(&self) -> &TuningProblem {
        &self.problem
    }
}

impl Diagnostic for TuningError {
    fn code(&self) -> &'static str {
        match self.problem {
            TuningProblem::Empty => "empty-tuning",
            TuningProblem::TooLong { .. } => "tuning-too-long",
            TuningProblem::Unknown { .. } => "unknown-tuning",
            TuningProblem::BadNote { .. } => "tuning-note",
            TuningProblem::SomeOctaves { .. } => "some-octaves",
            TuningProblem::StringCount { .. } => "string-count",
            TuningProblem::Falling { .. } => "falling-strings",
            TuningProblem::Octave { .. } => "string-octave",
            TuningProblem::PitchRange { .. } => "string-pitch",
        }
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        match &self.problem {
            TuningProblem::Unknown {
                nearest: Some(nearest),
                ..
            } => format!("write `{nearest}`"),
            TuningProblem::BadNote {
                upper: Some(upper), ..
            } => format!("write `{upper}`"),
            TuningProblem::BadNote { .. } => {
                "write each string as a letter with its flats or sharps, such as `D` or `F#`"
                    .to_owned()
            }
            TuningProblem::SomeOctaves { .. } => {
                "write `E2 A2 D3 G3 B3 E4` with octaves or `E A D G B E` without".to_owned()
            }
            TuningProblem::StringCount { .. } => {
                "write one note for each string from the lowest up, such as `D A D G B E`"
                    .to_owned()
            }
            TuningProblem::Falling { reversed: true, .. } => {
                "write the strings the other way round, from the lowest to the highest".to_owned()
            }
            TuningProblem::Falling { found, .. } => format!(
                "write the strings from the lowest to the highest, here perhaps `{}`",
                Pitch::new(found.name(), found.octave().saturating_add(1))
            ),
            TuningProblem::Octave { .. } | TuningProblem::PitchRange { .. } => {
                "write the octave behind the note: a low guitar string is `E2`".to_owned()
            }
            _ => {
                "write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`"
                    .to_owned()
            }
        }
    }
}

impl fmt::Display for TuningError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem.fmt(f)
    }
}

impl std::error::Error for TuningError {}

/// Reads a name or notes.
pub(super) fn read(text: &str) -> Result<Tuning, TuningError> {
    let whole = 0..text.len();
    if text.len() > MAX_TUNING_BYTES {
        let found = text.len();
        return Err(TuningError::new(whole, TuningProblem::TooLong { found }));
    }
    let name = text
        .to_lowercase()
        .split(|c: char| c.is_whitespace() || matches!(c, '-' | '_'))
        .filter(|word| !word.is_empty() && *word != "tuning")
        .collect::<Vec<_>>()
        .join(" ");
    if name.is_empty() {
        return Err(TuningError::new(whole, TuningProblem::Empty));
    }
    if let Some(strings) = named(&name) {
        return notes(strings);
    }
    if looks_like_notes(text) {
        return notes(text);
    }
    Err(TuningError::new(
        whole,
        TuningProblem::Unknown {
            found: text.trim().to_owned(),
            nearest: nearest(&name),
        },
    ))
}

/// Whether the text is meant as notes: only letters, signs and digits that notes are made of, or single letters with
/// spaces between.
fn looks_like_notes(text: &str) -> bool {
    let made_of_notes = text.chars().all(|c| {
        matches!(c, 'A'..='H' | 'a'..='h' | '0'..='9' | '#' | '\u{266d}' | '\u{266f}')
            || separates(c)
    });
    let words: Vec<&str> = text.split(separates).filter(|w| !w.is_empty()).collect();
    made_of_notes || (words.len() > 2 && words.iter().all(|word| word.chars().count() <= 3))
}

/// Whether a character separates the strings.
fn separates(c: char) -> bool {
    c.is_whitespace() || matches!(c, ',' | '-')
}

/// A note as it stands in the text.
struct Written {
    span: Range<usize>,
    name: PitchName,
    octave: Option<i8>,
}

/// Reads notes from the lowest string up, all with octaves or none.
pub(super) fn notes(text: &str) -> Result<Tuning, TuningError> {
    let written = written(text)?;
    let found = written.len();
    let span = |from: usize, to: usize| match (written.get(from), written.get(to)) {
        (Some(first), Some(last)) => first.span.start..last.span.end,
        _ => 0..text.len(),
    };
    if !(MIN_STRINGS..=MAX_STRINGS).contains(&found) {
        let problem = TuningProblem::StringCount { found };
        return Err(TuningError::new(span(0, found.saturating_sub(1)), problem));
    }
    let with = written.iter().filter(|note| note.octave.is_some()).count();
    if with != 0 && with != found {
        let odd = written
            .iter()
            .position(|note| note.octave.is_some() != (with * 2 > found))
            .unwrap_or(0);
        let problem = TuningProblem::SomeOctaves { with, found };
        return Err(TuningError::new(span(odd, odd), problem));
    }
    let names: Vec<PitchName> = written.iter().map(|note| note.name).collect();
    let pitches = if with == 0 {
        near_usual(&names)
    } else {
        let octave = |note: &Written| note.octave.unwrap_or(0);
        written
            .iter()
            .map(|note| Pitch::new(note.name, octave(note)))
            .collect()
    };
    Tuning::new(&pitches).map_err(|error| {
        let at = match error.problem() {
            TuningProblem::Falling { .. } => pitches
                .windows(2)
                .position(|pair| pair[1].midi() < pair[0].midi())
                .map(|below| below + 1),
            TuningProblem::PitchRange { found } => pitches.iter().position(|p| p == found),
            _ => None,
        };
        let span = at.map_or(0..text.len(), |at| span(at, at));
        TuningError::new(span, error.problem.clone())
    })
}

/// The notes of a text, glued or with spaces, hyphens or commas between.
fn written(text: &str) -> Result<Vec<Written>, TuningError> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(next) = text[at..].chars().next() {
        if separates(next) {
            at += next.len_utf8();
            continue;
        }
        let rest = &text[at..];
        let bad = |length: usize| {
            let word = &rest[..length];
            let upper = upper(text);
            let problem = TuningProblem::BadNote {
                found: word.to_owned(),
                upper,
            };
            TuningError::new(at..at + length, problem)
        };
        let signs = |c: char| matches!(c, 'b' | '#' | '\u{266d}' | '\u{266f}');
        let length = next.len_utf8()
            + rest[next.len_utf8()..]
                .chars()
                .take_while(|c| signs(*c))
                .map(char::len_utf8)
                .sum::<usize>();
        let name = PitchName::read(&rest[..length]).map_err(|_| bad(length))?;
        let digits = rest[length..]
            .bytes()
            .take_while(u8::is_ascii_digit)
            .count();
        let octave = match digits {
            0 => None,
            _ => match rest[length..length + digits].parse::<i8>() {
                Ok(octave) if octave <= 9 => Some(octave),
                _ => {
                    let end = length + digits;
                    let found = rest[length..end].to_owned();
                    let problem = TuningProblem::Octave { found };
                    return Err(TuningError::new(at + length..at + end, problem));
                }
            },
        };
        let end = at + length + digits;
        found.push(Written {
            span: at..end,
            name,
            octave,
        });
        at = end;
    }
    Ok(found)
}

/// The text with its letters in upper case, if that makes it a tuning: some write the highest string in lower case.
fn upper(text: &str) -> Option<String> {
    let parts = text.trim().split(separates).filter(|w| !w.is_empty());
    let glued = !text.trim().contains(separates);
    let raised: Vec<String> = if glued {
        vec![text.trim().to_ascii_uppercase()]
    } else {
        parts.map(raised).collect()
    };
    let raised = raised.join(" ");
    (raised != text.trim() && notes(&raised).is_ok()).then_some(raised)
}

/// The usual open strings for so many strings, from the lowest up, as MIDI keys: bass with four and five, guitar with six,
/// seven and eight (common practice).
const fn usual(count: usize) -> &'static [i32] {
    match count {
        4 => &[28, 33, 38, 43],
        5 => &[23, 28, 33, 38, 43],
        6 => &[40, 45, 50, 55, 59, 64],
        7 => &[35, 40, 45, 50, 55, 59, 64],
        _ => &[30, 35, 40, 45, 50, 55, 59, 64],
    }
}

/// Octaves for names without: see [`Tuning::read`].
fn near_usual(names: &[PitchName]) -> Vec<Pitch> {
    let mut pitches: Vec<Pitch> = Vec::new();
    for (index, (name, usual)) in names.iter().zip(usual(names.len())).enumerate() {
        let base = Pitch::new(*name, 0).midi();
        let key = match pitches.last().map(|below| below.midi()) {
            // Eight below to three above the usual lowest string.
            None => usual - 8 + (base - (usual - 8)).rem_euclid(12),
            Some(below) => {
                let moved = below - self::usual(names.len())[index - 1];
                let wanted = usual + moved;
                let near = wanted - 5 + (base - (wanted - 5)).rem_euclid(12);
                if near < below { near + 12 } else { near }
            }
        };
        let octave = (key - base).div_euclid(12);
        pitches.push(Pitch::new(*name, i8::try_from(octave).unwrap_or(0)));
    }
    pitches
}

/// The known name that differs by the fewest letters, if they are no more than a third.
fn nearest(name: &str) -> Option<&'static str> {
    let names = TABLE
        .iter()
        .flat_map(|row| std::iter::once((row.0, row.0)).chain(row.1.iter().map(|a| (*a, row.0))));
    let word = Compared::new(name);
    let near = |(known, own): (&str, _)| {
        let far = word.within(known, name.len().max(known.len()).div_ceil(3))?;
        Some((far, own))
    };
    let found = names.filter_map(near);
    found.min_by_key(|(far, _)| *far).map(|(_, own)| own)
}
