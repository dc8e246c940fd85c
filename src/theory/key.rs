//! Keys: a tonic and a mode.

use std::fmt;
use std::ops::Range;

use super::interval::Interval;
use super::mode::Mode;
use super::note_words::{in_english, in_letters, in_words, raised};
use super::pitch::{Letter, PitchError, PitchName};
use super::scale::Scale;
use crate::diagnostic::Diagnostic;

/// A tonic with at most one accidental, and a mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key {
    tonic: PitchName,
    mode: Mode,
}

impl Key {
    /// A key.
    ///
    /// # Errors
    /// [`KeyProblem::Tonic`] when the tonic has more than one sharp or flat.
    pub fn new(tonic: PitchName, mode: Mode) -> Result<Key, KeyError> {
        if tonic.alter().abs() > 1 {
            let problem = KeyProblem::Tonic {
                tonic,
                simple: tonic.simplified(),
            };
            return Err(KeyError {
                span: 0..0,
                problem,
            });
        }
        Ok(Key { tonic, mode })
    }

    /// Reads a key: a tonic alone for major, `m` behind it for minor, or a mode by name.
    ///
    /// ```
    /// use fivefold::theory::Key;
    /// assert_eq!(Key::read("Am")?, Key::read("A minor")?);
    /// assert_eq!(Key::read("F# dorian")?.fifths(), 4);
    /// # Ok::<(), fivefold::theory::KeyError>(())
    /// ```
    ///
    /// # Errors
    /// [`KeyError`] with the bytes in question.
    pub fn read(text: &str) -> Result<Key, KeyError> {
        Key::read_letters(text).map_err(|e| {
            let found = text.trim();
            let upper = raised(found);
            let meant = [in_english(found), in_english(&upper)].into_iter();
            let mut meant = meant.flat_map(|text| [in_letters(&text), Some(text)]);
            // An English key that only lacks its upper case is answered as that.
            let foreign = |meant: &String| {
                meant != found && *meant != upper && Key::read_letters(meant).is_ok()
            };
            let Some(meant) = meant.find_map(|meant| meant.filter(foreign)) else {
                return e;
            };
            let start = text.len() - text.trim_start().len();
            KeyError {
                span: start..start + found.len(),
                problem: KeyProblem::OtherLanguage {
                    found: found.to_owned(),
                    meant,
                },
            }
        })
    }

    fn read_letters(text: &str) -> Result<Key, KeyError> {
        let fail = |span: Range<usize>, problem| Err(KeyError { span, problem });
        let start = text.len() - text.trim_start().len();
        let body = text.trim();
        if body.is_empty() {
            return fail(0..text.len(), KeyProblem::Empty);
        }
        let (tonic, length) = match in_words(body).map_or_else(|| PitchName::prefix(body), Ok) {
            Ok(found) => found,
            Err(error) => {
                let first = body.chars().next().map_or(0, char::len_utf8);
                // For a letter in lower case the advice is the whole key.
                let lower = body.starts_with(|c| ('a'..='g').contains(&c));
                let length = if lower { body.len() } else { first };
                return fail(
                    start..start + length,
                    KeyProblem::NoTonic {
                        rest: body[first..].to_owned(),
                        error,
                    },
                );
            }
        };
        let word = &body[length..];
        let name = word.trim_start();
        let at = start + body.len() - name.len();
        let spaced = name.len() < word.len();
        let lower = name.to_lowercase();
        let mode = match (lower.as_str(), spaced) {
            ("", _) => Some(Mode::Major),
            ("m", _) if name == "m" => Some(Mode::Minor),
            ("min" | "maj", false) => Mode::named(&lower),
            // What charts write for a minor chord; behind a word in another language it stays unread.
            ("-", _) => Some(Mode::Minor),
            (_, false) => None,
            (lower, true) => Mode::named(lower),
        };
        match mode {
            // The advice has the tonic in front of the mode, so the place has it too.
            None => fail(
                start..at + name.len(),
                KeyProblem::UnknownMode {
                    found: name.to_owned(),
                    tonic,
                },
            ),
            Some(mode) => Key::new(tonic, mode).map_err(|error| KeyError {
                span: start..start + length,
                ..error
            }),
        }
    }

    /// The tonic, as spelled.
    #[must_use]
    pub const fn tonic(&self) -> PitchName {
        self.tonic
    }

    /// The mode: major or minor.
    #[must_use]
    pub const fn mode(&self) -> Mode {
        self.mode
    }

    /// Whether the third above the tonic is minor.
    #[must_use]
    pub const fn is_minor(&self) -> bool {
        self.mode.is_minor()
    }

    /// Sharps of the key's own signature, flats negative, -12 to 13: G# major has eight, which no signature can show.
    #[must_use]
    pub fn fifths(&self) -> i32 {
        let natural = match self.tonic.letter() {
            Letter::F => -1,
            Letter::C => 0,
            Letter::G => 1,
            Letter::D => 2,
            Letter::A => 3,
            Letter::E => 4,
            Letter::B => 5,
        };
        natural + 7 * i32::from(self.tonic.alter()) + self.mode.fifths_from_major()
    }

    /// The signature as a MIDI file stores it: -7 to 7 sharps, and whether the key is counted as minor.
    ///
    /// A key beyond seven is given by its enharmonic equal. The bytes of the modes are those of their own signature,
    /// with `true` where the third is minor (the file has no other modes).
    ///
    /// ```
    /// use fivefold::theory::Key;
    /// assert_eq!(Key::read("Eb minor")?.signature(), (-6, true));
    /// assert_eq!(Key::read("G#")?.signature(), (-4, false));
    /// # Ok::<(), fivefold::theory::KeyError>(())
    /// ```
    #[must_use]
    pub fn signature(&self) -> (i8, bool) {
        let fifths = match self.fifths() {
            many @ 8.. => many - 12,
            few @ ..=-8 => few + 12,
            fifths => fifths,
        };
        (i8::try_from(fifths).unwrap_or(0), self.is_minor())
    }

    /// The scale of the key.
    #[must_use]
    pub fn scale(&self) -> Scale {
        Scale::of_mode(self.tonic, self.mode)
    }

    /// The key so many semitones higher (lower when negative), in the spelling with fewer accidentals.
    ///
    /// Where both have six the direction decides: up gives sharps, down flats. A whole number of octaves leaves the key
    /// as it is.
    ///
    /// ```
    /// use fivefold::theory::Key;
    /// let key = Key::read("C major")?;
    /// assert_eq!(key.transposed(6).to_string(), "F# major");
    /// assert_eq!(key.transposed(-6).to_string(), "Gb major");
    /// assert_eq!(key.transposed(1).to_string(), "Db major");
    /// # Ok::<(), fivefold::theory::KeyError>(())
    /// ```
    #[must_use]
    pub fn transposed(&self, semitones: i32) -> Key {
        if semitones % 12 == 0 {
            return *self;
        }
        let class = self.tonic.pitch_class().up(semitones);
        let flats = Key {
            tonic: PitchName::simplest(class, true),
            mode: self.mode,
        };
        let sharps = Key {
            tonic: PitchName::simplest(class, false),
            mode: self.mode,
        };
        // B, C, E and F have other spellings too (Cb lydian), but never with fewer accidentals than these.
        match sharps.fifths().abs().cmp(&flats.fifths().abs()) {
            std::cmp::Ordering::Less => sharps,
            std::cmp::Ordering::Greater => flats,
            std::cmp::Ordering::Equal if semitones > 0 => sharps,
            std::cmp::Ordering::Equal => flats,
        }
    }

    /// The spelled interval by which chords of this key move into another, whichever way is nearer; a tritone goes up.
    ///
    /// ```
    /// use fivefold::theory::{Key, symbol};
    /// let (from, to) = (Key::read("C")?, Key::read("A")?);
    /// let moved = symbol::read("Fmaj7").unwrap().transposed(from.interval_to(&to));
    /// assert_eq!(moved.to_string(), "Dmaj7");
    /// # Ok::<(), fivefold::theory::KeyError>(())
    /// ```
    #[must_use]
    pub fn interval_to(&self, other: &Key) -> Interval {
        let up = Interval::between(self.tonic, other.tonic);
        if up.semitones() > 6 {
            Interval::new(up.steps() - 7, up.semitones() - 12)
        } else {
            up
        }
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.tonic, self.mode.as_str())
    }
}

/// A key that could not be read, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyError {
    span: Range<usize>,
    problem: KeyProblem,
}

/// What is wrong with a key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each sentence says what its facts are")]
pub enum KeyProblem {
    #[error("expected a key, found nothing")]
    Empty,
    #[error("a key begins with its tonic: {error}")]
    NoTonic { rest: String, error: PitchError },
    #[error("a tonic is named by a letter A to G, found `{found}`")]
    OtherLanguage { found: String, meant: String },
    #[error("expected a tonic with at most one sharp or flat, found {tonic}")]
    Tonic { tonic: PitchName, simple: PitchName },
    #[error("expected major, minor or a mode, found `{found}`")]
    UnknownMode { found: String, tonic: PitchName },
}

impl KeyError {
    /// What is wrong, as data.
    #[must_use]
    pub const fn problem(&self) -> &KeyProblem {
        &self.problem
    }
}

impl Diagnostic for KeyError {
    fn code(&self) -> &'static str {
        match self.problem {
            KeyProblem::Empty => "empty-key",
            KeyProblem::NoTonic { .. } => "no-tonic",
            KeyProblem::OtherLanguage { .. } => "note-name",
            KeyProblem::Tonic { .. } => "tonic-range",
            KeyProblem::UnknownMode { .. } => "unknown-mode",
        }
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        match &self.problem {
            KeyProblem::NoTonic {
                rest,
                error:
                    PitchError::Letter {
                        found: found @ 'a'..='g',
                    },
            } => {
                let upper = found.to_ascii_uppercase();
                match rest.as_str() {
                    "" => format!("write `{upper} major` or `{upper} minor`"),
                    rest => format!("write `{upper}{rest}`"),
                }
            }
            KeyProblem::OtherLanguage { meant, .. } => format!("write `{meant}`"),
            KeyProblem::Tonic { simple, .. } => format!("write `{simple}`"),
            KeyProblem::UnknownMode { found, tonic } if found.to_lowercase().contains("minor") => {
                format!("write `{tonic} minor`")
            }
            KeyProblem::UnknownMode { tonic, .. } => format!(
                "write `{tonic} major`, `{tonic} minor` or dorian, phrygian, lydian, mixolydian or locrian"
            ),
            _ => "write a key such as `A minor`, `Am`, `Bb` or `D dorian`".to_owned(),
        }
    }
}

impl fmt::Display for KeyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem.fmt(f)
    }
}

impl std::error::Error for KeyError {}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    #[test]
    fn reads_keys() {
        for (text, printed, fifths) in [
            ("A minor", "A minor", 0),
            ("Am", "A minor", 0),
            ("Amin", "A minor", 0),
            ("A m", "A minor", 0),
            ("Bb", "Bb major", -2),
            (" Eb major ", "Eb major", -3),
            ("F# dorian", "F# dorian", 4),
            ("B\u{266d} Mixolydian", "Bb mixolydian", -3),
            ("D ionian", "D major", 2),
            ("E aeolian", "E minor", 1),
            ("G#", "G# major", 8),
            ("Fb locrian", "Fb locrian", -13),
        ] {
            let key = Key::read(text).unwrap();
            assert_eq!(
                (key.to_string().as_str(), key.fifths()),
                (printed, fifths),
                "{text}"
            );
            assert_eq!(Key::read(printed).unwrap(), key);
        }
    }

    #[test]
    fn refuses_what_is_no_key() {
        for (text, code, span, help) in [
            (
                "",
                "empty-key",
                0..0,
                "write a key such as `A minor`, `Am`, `Bb` or `D dorian`",
            ),
            (
                "  ",
                "empty-key",
                0..2,
                "write a key such as `A minor`, `Am`, `Bb` or `D dorian`",
            ),
            ("a minor", "no-tonic", 0..7, "write `A minor`"),
            ("a", "no-tonic", 0..1, "write `A major` or `A minor`"),
            (
                "X",
                "no-tonic",
                0..1,
                "write a key such as `A minor`, `Am`, `Bb` or `D dorian`",
            ),
            ("H", "note-name", 0..1, "write `B`"),
            ("Fis minor", "note-name", 0..9, "write `F# minor`"),
            (
                "x",
                "no-tonic",
                0..1,
                "write a key such as `A minor`, `Am`, `Bb` or `D dorian`",
            ),
            ("A harmonic minor", "unknown-mode", 0..16, "write `A minor`"),
            (
                "Am7",
                "unknown-mode",
                0..3,
                "write `A major`, `A minor` or dorian, phrygian, lydian, mixolydian or locrian",
            ),
            (
                "AM",
                "unknown-mode",
                0..2,
                "write `A major`, `A minor` or dorian, phrygian, lydian, mixolydian or locrian",
            ),
            ("Bbb", "tonic-range", 0..3, "write `A`"),
        ] {
            let error = Key::read(text).unwrap_err();
            assert_eq!(
                (error.code(), error.span().unwrap(), error.help().as_str()),
                (code, span, help),
                "{text}"
            );
        }
    }

    #[test]
    fn transposes_to_the_simpler_spelling() {
        let moved = |text: &str, by| Key::read(text).unwrap().transposed(by).to_string();
        assert_eq!(moved("A minor", 3), "C minor");
        assert_eq!(moved("A minor", 6), "D# minor");
        assert_eq!(moved("A minor", -6), "Eb minor");
        assert_eq!(moved("A minor", 1), "Bb minor");
        assert_eq!(moved("A minor", -1), "G# minor");
        assert_eq!(moved("C", 11), "B major");
        assert_eq!(moved("C#", 12), "C# major");
        assert_eq!(moved("D dorian", 6), "G# dorian");
        for letter in Letter::ALL {
            for mode in Mode::ALL {
                for by in -11..=11 {
                    let key = Key {
                        tonic: PitchName::natural(letter),
                        mode,
                    }
                    .transposed(by);
                    assert!(key.fifths().abs() <= 6, "{key}");
                }
            }
        }
    }

    #[test]
    fn moves_the_nearer_way() {
        let name = |from: &str, to: &str| {
            Key::read(from)
                .unwrap()
                .interval_to(&Key::read(to).unwrap())
                .name()
        };
        assert_eq!(name("C", "G"), "-P4");
        assert_eq!(name("C", "F"), "P4");
        assert_eq!(name("C", "F#"), "A4");
        assert_eq!(name("A", "Ab"), "-A1");
        assert_eq!(name("C#", "Db"), "d2");
    }
}
