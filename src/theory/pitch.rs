//! Letters, pitch classes, spelled note names and pitches.

use std::fmt;

use super::interval::Interval;
use crate::diagnostic::Diagnostic;

/// One of the seven note letters, in the order of the C major scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "each letter is its own description")]
pub enum Letter {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Letter {
    /// All seven letters, from C to B.
    pub const ALL: [Letter; 7] = [
        Letter::C,
        Letter::D,
        Letter::E,
        Letter::F,
        Letter::G,
        Letter::A,
        Letter::B,
    ];

    /// Semitones of the natural note above C, 0 to 11.
    #[must_use]
    pub const fn semitones(self) -> u8 {
        match self {
            Letter::C => 0,
            Letter::D => 2,
            Letter::E => 4,
            Letter::F => 5,
            Letter::G => 7,
            Letter::A => 9,
            Letter::B => 11,
        }
    }

    /// Diatonic steps above C, zero-based: C is 0, B is 6.
    #[must_use]
    pub const fn step(self) -> u8 {
        match self {
            Letter::C => 0,
            Letter::D => 1,
            Letter::E => 2,
            Letter::F => 3,
            Letter::G => 4,
            Letter::A => 5,
            Letter::B => 6,
        }
    }

    /// The letter so many diatonic steps higher (lower when negative), going round after B.
    #[must_use]
    pub fn up(self, steps: i32) -> Letter {
        let index = (i64::from(self.step()) + i64::from(steps)).rem_euclid(7);
        Letter::ALL[usize::try_from(index).unwrap_or(0)]
    }

    /// The upper-case character.
    #[must_use]
    pub const fn as_char(self) -> char {
        match self {
            Letter::C => 'C',
            Letter::D => 'D',
            Letter::E => 'E',
            Letter::F => 'F',
            Letter::G => 'G',
            Letter::A => 'A',
            Letter::B => 'B',
        }
    }

    /// The letter an upper-case character stands for.
    #[must_use]
    pub const fn from_char(found: char) -> Option<Letter> {
        match found {
            'C' => Some(Letter::C),
            'D' => Some(Letter::D),
            'E' => Some(Letter::E),
            'F' => Some(Letter::F),
            'G' => Some(Letter::G),
            'A' => Some(Letter::A),
            'B' => Some(Letter::B),
            _ => None,
        }
    }
}

/// A pitch without spelling and octave: semitones above C, 0 to 11.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PitchClass(u8);

impl PitchClass {
    /// The pitch class so many semitones above C.
    ///
    /// # Errors
    /// [`PitchError::Class`] when `value` is above 11.
    pub const fn new(value: u8) -> Result<PitchClass, PitchError> {
        if value < 12 {
            Ok(PitchClass(value))
        } else {
            Err(PitchError::Class { value })
        }
    }

    /// Semitones above C, 0 to 11.
    #[must_use]
    pub const fn value(self) -> u8 {
        self.0
    }

    /// The pitch class so many semitones higher (lower when negative).
    ///
    /// ```
    /// use fivefold::theory::PitchClass;
    /// let b = PitchClass::new(11)?;
    /// assert_eq!(b.up(1).value(), 0);
    /// # Ok::<(), fivefold::theory::PitchError>(())
    /// ```
    #[must_use]
    pub fn up(self, semitones: i32) -> PitchClass {
        PitchClass::wrapped(i64::from(self.0) + i64::from(semitones))
    }

    /// The pitch class of a number of semitones above C, whatever the octave.
    fn wrapped(semitones: i64) -> PitchClass {
        PitchClass(u8::try_from(semitones.rem_euclid(12)).unwrap_or(0))
    }
}

/// A spelled note name without octave: a letter and -4 to 4 semitones of alteration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PitchName {
    letter: Letter,
    alter: i8,
}

/// The largest number of sharps or flats a [`PitchName`] holds.
pub const MAX_ALTER: i8 = 4;

/// The alterations a [`PitchName`] holds. Comparing absolute values would be a trap: that of -128 does not exist.
const ALTERS: std::ops::RangeInclusive<i8> = -MAX_ALTER..=MAX_ALTER;

impl PitchName {
    /// A letter altered by so many semitones, sharps positive.
    ///
    /// # Errors
    /// [`PitchError::Alter`] when `alter` lies outside -4 to 4.
    pub const fn new(letter: Letter, alter: i8) -> Result<PitchName, PitchError> {
        if alter < -MAX_ALTER || alter > MAX_ALTER {
            Err(PitchError::Alter {
                value: alter as i32,
            })
        } else {
            Ok(PitchName { letter, alter })
        }
    }

    /// The letter without sharps or flats.
    #[must_use]
    pub const fn natural(letter: Letter) -> PitchName {
        PitchName { letter, alter: 0 }
    }

    /// The letter, without its accidentals.
    #[must_use]
    pub const fn letter(self) -> Letter {
        self.letter
    }

    /// Semitones of alteration, -4 to 4, sharps positive.
    #[must_use]
    pub const fn alter(self) -> i8 {
        self.alter
    }

    /// The pitch class that sounds.
    ///
    /// ```
    /// use fivefold::theory::PitchName;
    /// assert_eq!(PitchName::read("Cb")?.pitch_class().value(), 11);
    /// # Ok::<(), fivefold::theory::PitchError>(())
    /// ```
    #[must_use]
    pub fn pitch_class(self) -> PitchClass {
        PitchClass::wrapped(i64::from(self.letter.semitones()) + i64::from(self.alter))
    }

    /// The usual name of a pitch class: no more than one accidental, flats or sharps as asked.
    ///
    /// ```
    /// use fivefold::theory::{PitchClass, PitchName};
    /// let ten = PitchClass::new(10)?;
    /// assert_eq!(PitchName::simplest(ten, true).to_string(), "Bb");
    /// assert_eq!(PitchName::simplest(ten, false).to_string(), "A#");
    /// # Ok::<(), fivefold::theory::PitchError>(())
    /// ```
    #[must_use]
    pub fn simplest(class: PitchClass, flats: bool) -> PitchName {
        use Letter::{A, B, C, D, E, F, G};
        let (letter, alter) = match (class.value(), flats) {
            (0, _) => (C, 0),
            (1, false) => (C, 1),
            (1, true) => (D, -1),
            (2, _) => (D, 0),
            (3, false) => (D, 1),
            (3, true) => (E, -1),
            (4, _) => (E, 0),
            (5, _) => (F, 0),
            (6, false) => (F, 1),
            (6, true) => (G, -1),
            (7, _) => (G, 0),
            (8, false) => (G, 1),
            (8, true) => (A, -1),
            (9, _) => (A, 0),
            (10, false) => (A, 1),
            (10, true) => (B, -1),
            _ => (B, 0),
        };
        PitchName { letter, alter }
    }

    /// The same sound spelled with at most one accidental; names that have none or one stay as they are.
    ///
    /// Flats stay flats and sharps stay sharps: Bbb becomes A, F## becomes G, Ebbb becomes Db.
    #[must_use]
    pub fn simplified(self) -> PitchName {
        if self.alter.abs() <= 1 {
            self
        } else {
            PitchName::simplest(self.pitch_class(), self.alter < 0)
        }
    }

    /// The name an interval higher (lower when the interval descends), spelled by its steps.
    ///
    /// Where that would need more than four accidentals the name is the simplest one of the same sound.
    ///
    /// ```
    /// use fivefold::theory::{Interval, PitchName};
    /// let minor_third = Interval::new(2, 3);
    /// assert_eq!(PitchName::read("Db")?.up(minor_third).to_string(), "Fb");
    /// # Ok::<(), fivefold::theory::PitchError>(())
    /// ```
    #[must_use]
    pub fn up(self, interval: Interval) -> PitchName {
        let letter = self.letter.up(interval.steps());
        let from = i64::from(self.letter.step()) + i64::from(interval.steps());
        // Where the natural letter lies: whole octaves passed plus its place in the octave.
        let natural = from.div_euclid(7) * 12 + i64::from(letter.semitones());
        let sound = i64::from(self.letter.semitones())
            + i64::from(self.alter)
            + i64::from(interval.semitones());
        let alter = sound - natural;
        match i8::try_from(alter) {
            Ok(alter) if ALTERS.contains(&alter) => PitchName { letter, alter },
            _ => PitchName::simplest(PitchClass::wrapped(sound), alter < 0),
        }
    }

    /// Reads a whole text as one name: an upper-case letter, then up to four sharps or flats.
    ///
    /// Accidentals are `b` and `#` or the Unicode signs for flat, sharp, double flat and double sharp.
    ///
    /// # Errors
    /// [`PitchError`] says what was found instead.
    pub fn read(text: &str) -> Result<PitchName, PitchError> {
        let (name, length) = PitchName::prefix(text)?;
        if length == text.len() {
            Ok(name)
        } else {
            Err(PitchError::Trailing {
                at: length,
                found: text[length..].to_owned(),
            })
        }
    }

    /// Reads a name at the start of a text, as many accidentals as there are, and says how many bytes it took.
    pub(crate) fn prefix(text: &str) -> Result<(PitchName, usize), PitchError> {
        let first = text.chars().next().ok_or(PitchError::Empty)?;
        let Some(letter) = Letter::from_char(first) else {
            return Err(PitchError::Letter { found: first });
        };
        let (alter, length) = accidentals(&text[1..])?;
        match i8::try_from(alter) {
            Ok(small) if ALTERS.contains(&small) => Ok((
                PitchName {
                    letter,
                    alter: small,
                },
                1 + length,
            )),
            _ => Err(PitchError::Alter { value: alter }),
        }
    }

    /// The name with Unicode accidentals: B\u{266d}, F\u{1d12a}.
    #[must_use]
    pub fn pretty(self) -> String {
        let mut out = String::from(self.letter.as_char());
        let (single, double) = if self.alter < 0 {
            ('\u{266d}', '\u{1d12b}')
        } else {
            ('\u{266f}', '\u{1d12a}')
        };
        for _ in 0..self.alter.abs() / 2 {
            out.push(double);
        }
        if self.alter % 2 != 0 {
            out.push(single);
        }
        out
    }
}

impl Interval {
    /// The ascending interval between two names, 0 to 6 steps.
    ///
    /// The spelling decides: C to B# is an augmented seventh of 12 semitones, C to Cb a diminished unison of -1.
    ///
    /// ```
    /// use fivefold::theory::{Interval, PitchName};
    /// let third = Interval::between(PitchName::read("A")?, PitchName::read("C")?);
    /// assert_eq!(third.name(), "m3");
    /// # Ok::<(), fivefold::theory::PitchError>(())
    /// ```
    #[must_use]
    pub fn between(from: PitchName, to: PitchName) -> Interval {
        let step = |name: PitchName| i32::from(name.letter().step());
        let natural = |name: PitchName| i32::from(name.letter().semitones());
        let octave = if step(to) < step(from) { 1 } else { 0 };
        let semitones = natural(to) - natural(from) + 12 * octave + i32::from(to.alter())
            - i32::from(from.alter());
        Interval::new(step(to) - step(from) + 7 * octave, semitones)
    }
}

/// Reads sharps or flats (not both) at the start of a text: their sum in semitones, and the bytes taken.
pub(crate) fn accidentals(text: &str) -> Result<(i32, usize), PitchError> {
    let mut sum = 0_i32;
    let mut length = 0;
    for sign in text.chars() {
        let Some(step) = accidental(sign) else { break };
        if sum.signum() * step.signum() < 0 {
            return Err(PitchError::Mixed { at: 1 + length });
        }
        sum = sum.saturating_add(step);
        length += sign.len_utf8();
    }
    Ok((sum, length))
}

/// The semitones an accidental character stands for.
pub(crate) const fn accidental(sign: char) -> Option<i32> {
    match sign {
        'b' | '\u{266d}' => Some(-1),
        '#' | '\u{266f}' => Some(1),
        '\u{1d12b}' => Some(-2),
        '\u{1d12a}' => Some(2),
        _ => None,
    }
}

/// Writes sharps or flats in ASCII.
pub(crate) fn write_accidentals(f: &mut fmt::Formatter<'_>, alter: i8) -> fmt::Result {
    let sign = if alter < 0 { "b" } else { "#" };
    for _ in 0..alter.abs() {
        f.write_str(sign)?;
    }
    Ok(())
}

impl fmt::Display for PitchName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut buffer = [0; 4];
        f.write_str(self.letter.as_char().encode_utf8(&mut buffer))?;
        write_accidentals(f, self.alter)
    }
}

/// A note name in an octave, in scientific pitch notation: C4 is middle C, MIDI key 60.
///
/// The octave belongs to the letter: B#3 sounds as C4, Cb4 as B3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pitch {
    octave: i8,
    name: PitchName,
}

impl Pitch {
    /// A name in an octave; octave 4 begins at middle C.
    #[must_use]
    pub const fn new(name: PitchName, octave: i8) -> Pitch {
        Pitch { octave, name }
    }

    /// Reads a name with its octave: `C4`, `Bb3`, `F#-1`.
    ///
    /// # Errors
    /// When the name is none, or no octave from -1 to 9 follows it.
    pub fn read(text: &str) -> Result<Pitch, PitchError> {
        let text = text.trim();
        let at = text
            .find(|c: char| c.is_ascii_digit() || c == '-')
            .unwrap_or(text.len());
        let name = PitchName::read(&text[..at])?;
        match text[at..].parse::<i8>() {
            Ok(octave) if (-1..=9).contains(&octave) => Ok(Pitch::new(name, octave)),
            _ => Err(PitchError::Octave {
                found: text[at..].to_owned(),
            }),
        }
    }

    /// The plainest name of a MIDI key, 0 to 127; black keys are sharps.
    ///
    /// ```
    /// assert_eq!(fivefold::theory::Pitch::of_key(61).to_string(), "C#4");
    /// ```
    #[must_use]
    pub fn of_key(key: i32) -> Pitch {
        let class = PitchClass::wrapped(i64::from(key));
        let octave = i8::try_from(key.div_euclid(12) - 1).unwrap_or(i8::MAX);
        Pitch::new(PitchName::simplest(class, false), octave)
    }

    /// The spelled name.
    #[must_use]
    pub const fn name(self) -> PitchName {
        self.name
    }

    /// The octave of the letter; 4 begins at middle C.
    #[must_use]
    pub const fn octave(self) -> i8 {
        self.octave
    }

    /// The MIDI key number; outside 0 to 127 it cannot be sent.
    ///
    /// ```
    /// use fivefold::theory::{Pitch, PitchName};
    /// assert_eq!(Pitch::new(PitchName::read("C")?, 4).midi(), 60);
    /// assert_eq!(Pitch::new(PitchName::read("E")?, 2).midi(), 40);
    /// # Ok::<(), fivefold::theory::PitchError>(())
    /// ```
    #[must_use]
    pub fn midi(self) -> i32 {
        12 * (i32::from(self.octave) + 1)
            + i32::from(self.name.letter.semitones())
            + i32::from(self.name.alter)
    }
}

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.name, self.octave)
    }
}

/// Why a pitch class, a note name or a pitch could not be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PitchError {
    /// The text is empty.
    #[error("expected a note name, found nothing")]
    Empty,
    /// The first character is not an upper-case letter from A to G.
    #[error("expected a note letter A to G in upper case, found `{found}`")]
    Letter {
        /// The character in its place.
        found: char,
    },
    /// Sharps and flats in one name.
    #[error("a note name has sharps or flats, not both")]
    Mixed {
        /// Byte at which the other kind begins.
        at: usize,
    },
    /// Something follows the name.
    #[error("expected the end of the note name, found `{found}`")]
    Trailing {
        /// Byte at which it begins.
        at: usize,
        /// The text that was left over.
        found: String,
    },
    /// More accidentals than a name holds.
    #[error("expected an alteration from -4 to 4 semitones, found {value}")]
    Alter {
        /// The alteration asked for, in semitones.
        value: i32,
    },
    /// No octave follows the name.
    #[error("expected an octave from -1 to 9, found `{found}`")]
    Octave {
        /// What follows the name.
        found: String,
    },
    /// A pitch class above 11.
    #[error("expected a pitch class from 0 to 11, found {value}")]
    Class {
        /// The number asked for.
        value: u8,
    },
}

impl Diagnostic for PitchError {
    fn code(&self) -> &'static str {
        match self {
            PitchError::Empty => "empty-note",
            PitchError::Letter { .. } => "no-note-letter",
            PitchError::Mixed { .. } => "mixed-accidentals",
            PitchError::Trailing { .. } => "trailing-text",
            PitchError::Alter { .. } => "too-many-accidentals",
            PitchError::Octave { .. } => "octave-range",
            PitchError::Class { .. } => "pitch-class-range",
        }
    }

    fn help(&self) -> String {
        match self {
            PitchError::Letter { found } if matches!(found, 'a'..='g') => {
                format!("write `{}`", found.to_ascii_uppercase())
            }
            PitchError::Letter { found: 'H' | 'h' } => {
                "the note between Bb and C is `B`".to_owned()
            }
            PitchError::Octave { .. } => {
                "write the octave behind the name: middle C is `C4`".to_owned()
            }
            PitchError::Class { .. } => "C is 0 and B is 11".to_owned(),
            _ => "write a letter and its sharps or flats, such as `Bb` or `F#`".to_owned(),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;

    fn name(text: &str) -> PitchName {
        PitchName::read(text).unwrap()
    }

    /// Found by fuzzing keys: 128 flats make the one number whose absolute value overflows, and were a name in a release
    /// build.
    #[test]
    fn a_hundred_and_twenty_eight_flats_are_too_many() {
        for flats in [5, 127, 128, 129, 255, 256] {
            let text = format!("G{}", "b".repeat(flats));
            let value = -i32::try_from(flats).unwrap();
            assert_eq!(PitchName::read(&text), Err(PitchError::Alter { value }));
            assert!(crate::theory::Key::read(&text).is_err());
        }
        assert_eq!(name("C").up(Interval::new(0, -128)).to_string(), "E");
    }

    #[test]
    fn reads_and_prints_names() {
        for (text, class) in [
            ("C", 0),
            ("Bb", 10),
            ("F##", 7),
            ("Cb", 11),
            ("B#", 0),
            ("Ebb", 2),
            ("Fbbbb", 1),
        ] {
            assert_eq!(name(text).pitch_class().value(), class, "{text}");
            assert_eq!(name(text).to_string(), text);
        }
        assert_eq!(name("B\u{266d}"), name("Bb"));
        assert_eq!(name("F\u{1d12a}"), name("F##"));
        assert_eq!(name("B\u{1d12b}").to_string(), "Bbb");
        assert_eq!(name("Bbb").pretty(), "B\u{1d12b}");
        assert_eq!(name("F###").pretty(), "F\u{1d12a}\u{266f}");
    }

    #[test]
    fn refuses_what_is_no_name() {
        for (text, code, help) in [
            (
                "",
                "empty-note",
                "write a letter and its sharps or flats, such as `Bb` or `F#`",
            ),
            ("a", "no-note-letter", "write `A`"),
            ("H", "no-note-letter", "the note between Bb and C is `B`"),
            (
                "Cb#",
                "mixed-accidentals",
                "write a letter and its sharps or flats, such as `Bb` or `F#`",
            ),
            (
                "Am",
                "trailing-text",
                "write a letter and its sharps or flats, such as `Bb` or `F#`",
            ),
            (
                "C#####",
                "too-many-accidentals",
                "write a letter and its sharps or flats, such as `Bb` or `F#`",
            ),
            (
                "\u{e9}",
                "no-note-letter",
                "write a letter and its sharps or flats, such as `Bb` or `F#`",
            ),
        ] {
            let error = PitchName::read(text).unwrap_err();
            assert_eq!(
                (error.code(), error.help().as_str()),
                (code, help),
                "{text}"
            );
        }
    }

    #[test]
    fn moves_by_intervals_and_keeps_the_letters() {
        let up = |from: &str, steps, semitones| {
            name(from).up(Interval::new(steps, semitones)).to_string()
        };
        assert_eq!(up("C", 2, 4), "E");
        assert_eq!(up("F#", 6, 11), "E#");
        assert_eq!(up("Db", 2, 3), "Fb");
        assert_eq!(up("C", 6, 9), "Bbb");
        assert_eq!(up("C", -1, -1), "B");
        assert_eq!(up("C", -4, -7), "F");
        assert_eq!(up("B", 8, 14), "C#");
        // Five flats do not fit a name, so the sound is kept and the spelling is the simplest.
        assert_eq!(up("Fbbbb", 3, 4), "F");
        assert!(
            name("C")
                .up(Interval::new(i32::MAX, i32::MIN))
                .alter()
                .abs()
                <= 1
        );
    }

    #[test]
    fn numbers_pitches_as_midi_does() {
        for (text, octave, midi) in [
            ("C", 4, 60),
            ("A", 4, 69),
            ("B#", 3, 60),
            ("Cb", 4, 59),
            ("E", 2, 40),
        ] {
            assert_eq!(
                Pitch::new(name(text), octave).midi(),
                midi,
                "{text}{octave}"
            );
        }
        assert_eq!(Pitch::new(name("Bb"), -1).to_string(), "Bb-1");
    }
}
