//! Roman numerals and numbers: chords counted from the tonic of a key.
//!
//! Roots count from the **major** scale on the tonic, in minor too: bVII in A minor is G. Upper case is a major third,
//! lower case a minor one; the suffix is that of letter symbols, so V7 is a dominant seventh, I7 the blues chord and V6
//! an added sixth. A slash after a Roman numeral names the degree whose key it is taken from (V7/V), after a number the
//! bass as a number of the key (1/3).

use super::chord::mask::Mask;
use super::chord::{Chord, Harmony};
use super::cursor::Cursor;
use super::degree::Degree;
use super::figure_error::{FigureError, FigureProblem};
use super::key::Key;
use super::pitch::{self, PitchName};
use super::symbol::{self, Before, Seed};

/// The most numerals after one another in an applied chord: V7/V/V/V.
const MAX_TARGETS: usize = 3;

/// A chord counted from a tonic.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Numeral {
    text: String,
    root: Degree,
    roman: Roman,
    tones: Mask,
    bass: Option<Degree>,
    targets: Vec<(Degree, Roman)>,
}

/// How the root was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Roman {
    Upper,
    Lower,
    Number,
}

/// Reads a Roman numeral with its suffix and what it is applied to.
///
/// ```
/// use fivefold::theory::{Key, numeral};
/// let key = Key::read("A minor")?;
/// assert_eq!(numeral::read_roman("bVII").unwrap().resolve(&key).unwrap().to_string(), "G");
/// assert_eq!(numeral::read_roman("viio7/V").unwrap().resolve(&key).unwrap().to_string(), "D#dim7");
/// # Ok::<(), fivefold::theory::KeyError>(())
/// ```
///
/// # Errors
/// [`FigureError`] with the bytes in question and what to write instead.
pub fn read_roman(text: &str) -> Result<Numeral, FigureError> {
    read_plain_roman(text).map_err(|e| match inverted(text) {
        Some((found, meant)) => {
            let meant = Some(meant);
            FigureError::new(0..text.len(), FigureProblem::Inversion { found, meant })
        }
        None => match sign_before(text) {
            Some(meant) => {
                let found = text.to_owned();
                FigureError::new(0..text.len(), FigureProblem::SignBehind { found, meant })
            }
            None => symbol::without_spaces(text, e, |meant| read_plain_roman(meant).is_ok()),
        },
    })
}

/// A numeral whose sign was written behind it, as it is read: `VIIb` is `bVII`.
fn sign_before(text: &str) -> Option<String> {
    let end = text.find(|c| !matches!(c, 'I' | 'V' | 'i' | 'v'))?;
    let sign = text[end..].chars().next()?;
    let rest = &text[end + sign.len_utf8()..];
    let meant = format!("{sign}{}{rest}", &text[..end]);
    let is_sign = matches!(sign, 'b' | '#' | '\u{266d}' | '\u{266f}');
    // Before another number than the seventh it alters that.
    let alters = rest.starts_with(|c: char| c.is_ascii_digit() && c != '7');
    (is_sign && !alters && end > 0 && read_plain_roman(&meant).is_ok()).then_some(meant)
}

/// Figures of a thorough bass behind a numeral: how many thirds the bass lies above the root, and whether the chord has a
/// seventh.
const INVERSIONS: [(&str, usize, bool); 6] = [
    ("65", 1, true),
    ("43", 2, true),
    ("42", 3, true),
    ("63", 1, false),
    ("64", 2, false),
    ("6", 1, false),
];

/// The figures of an inversion at the end of a Roman numeral, and the same chord as a number with its bass: `V65` is
/// `57/7`.
fn inverted(text: &str) -> Option<(String, String)> {
    let plain = text.trim_start_matches(['b', '#', '\u{266d}', '\u{266f}']);
    let letters = plain
        .find(|c| !matches!(c, 'I' | 'V' | 'i' | 'v'))
        .unwrap_or(plain.len());
    INVERSIONS.iter().find_map(|(figures, thirds, seventh)| {
        let body = text.strip_suffix(figures)?;
        let quality = plain[letters..].strip_suffix(figures)?;
        let plain = read_plain_roman(body).ok()?;
        // The seventh that the key has there: large on I and IV, and on bIII and bVI (common practice).
        let large = [(1, 0), (4, 0), (3, -1), (6, -1)];
        let degree = (plain.root.number(), plain.root.alter());
        let seventh = match seventh {
            false => "",
            true if plain.roman == Roman::Upper && large.contains(&degree) => "maj7",
            true => "7",
        };
        let upright = match seventh {
            "" => plain,
            _ => read_plain_roman(&format!("{body}{seventh}")).ok()?,
        };
        let in_c = upright.resolve(&Key::read("C").ok()?).ok()?;
        let chord = in_c.chord()?;
        let number = 1 + 2 * thirds;
        let tone = chord
            .degrees()
            .iter()
            .find(|d| usize::from(d.number()) == number)?;
        let bass = tone.above(chord.root()).simplified();
        let bass = Degree::at(1 + bass.letter().step(), bass.alter());
        let minor = upright.roman == Roman::Lower
            && !quality.starts_with(['o', '\u{b0}', '\u{f8}', '\u{d8}', 'd', 'h']);
        let minor = if minor { "m" } else { "" };
        let meant = format!("{}{minor}{quality}{seventh}/{bass}", upright.root);
        read_number(&meant).ok()?;
        Some(((*figures).to_owned(), meant))
    })
}

fn read_plain_roman(text: &str) -> Result<Numeral, FigureError> {
    let mut cursor = Cursor::new(text);
    symbol::within_limits(&cursor)?;
    let (root, roman) = read_roman_degree(&mut cursor)?;
    let seed = Seed {
        minor: roman == Roman::Lower,
        before: Before::Roman,
        head: cursor.at(),
    };
    let tones = symbol::read_suffix(&mut cursor, seed)?;
    let mut targets = Vec::new();
    while !cursor.done() {
        // The suffix ends at a slash or at the end of the text.
        let slash = cursor.at();
        if !cursor.take("/") {
            let found = cursor.rest().to_owned();
            return Err(cursor.error(slash..text.len(), FigureProblem::TargetSuffix { found }));
        }
        if targets.len() == MAX_TARGETS {
            return Err(cursor.error(
                slash..text.len(),
                FigureProblem::LongChain { most: MAX_TARGETS },
            ));
        }
        let plain = cursor
            .rest()
            .trim_start_matches(['b', '#', '\u{266d}', '\u{266f}']);
        if !plain.starts_with(['I', 'V', 'i', 'v']) {
            let found = cursor.rest().to_owned();
            let span = if cursor.done() {
                slash..slash + 1
            } else {
                cursor.at()..text.len()
            };
            return Err(cursor.error(span, FigureProblem::NoTarget { found }));
        }
        targets.push(read_roman_degree(&mut cursor)?);
    }
    Ok(Numeral {
        text: text.to_owned(),
        root,
        roman,
        tones,
        bass: None,
        targets,
    })
}

/// Reads a number from 1 to 7 with its suffix and bass: `57`, `6-7`, `b7`, `1/3`.
///
/// # Errors
/// [`FigureError`] with the bytes in question and what to write instead.
pub fn read_number(text: &str) -> Result<Numeral, FigureError> {
    let mut cursor = Cursor::new(text);
    symbol::within_limits(&cursor)?;
    let alter = read_accidental(&mut cursor)?;
    let at = cursor.at();
    let Some(number) = one_to_seven(&mut cursor) else {
        let found = cursor.peek().map_or(String::new(), String::from);
        return Err(cursor.error(at..at, FigureProblem::NumberRange { found }));
    };
    let seed = Seed {
        minor: false,
        before: Before::Number,
        head: cursor.at(),
    };
    let tones = symbol::read_suffix(&mut cursor, seed)?;
    let slash = cursor.at();
    let mut bass = None;
    if cursor.take("/") {
        let start = cursor.at();
        let alter = read_accidental(&mut cursor)?;
        let number = one_to_seven(&mut cursor);
        match number {
            Some(number) if cursor.done() => bass = Some(Degree::at(number, alter)),
            _ if start == text.len() => {
                return Err(cursor.error(
                    slash..start,
                    FigureProblem::NumberBass {
                        found: String::new(),
                    },
                ));
            }
            _ => {
                let found = text[start..].to_owned();
                return Err(cursor.error(start..text.len(), FigureProblem::NumberBass { found }));
            }
        }
    }
    let root = Degree::at(number, alter);
    Ok(Numeral {
        text: text.to_owned(),
        root,
        roman: Roman::Number,
        tones,
        bass,
        targets: Vec::new(),
    })
}

/// Reads a Roman numeral with the accidental before it.
fn read_roman_degree(cursor: &mut Cursor<'_>) -> Result<(Degree, Roman), FigureError> {
    let alter = read_accidental(cursor)?;
    let start = cursor.at();
    let rest = cursor.rest();
    let length = rest
        .bytes()
        .take_while(|byte| matches!(byte, b'I' | b'V' | b'i' | b'v'))
        .count();
    let written = &rest[..length];
    let span = start..start + length;
    if written.is_empty() {
        let found = rest.chars().next().map_or(String::new(), String::from);
        return Err(cursor.error(span, FigureProblem::UnknownNumeral { found }));
    }
    let lower = written.bytes().all(|byte| byte.is_ascii_lowercase());
    if !lower && !written.bytes().all(|byte| byte.is_ascii_uppercase()) {
        return Err(cursor.error(
            span,
            FigureProblem::MixedCase {
                found: written.to_owned(),
            },
        ));
    }
    let number = match written {
        "I" | "i" => 1,
        "II" | "ii" => 2,
        "III" | "iii" => 3,
        "IV" | "iv" => 4,
        "V" | "v" => 5,
        "VI" | "vi" => 6,
        "VII" | "vii" => 7,
        _ => {
            return Err(cursor.error(
                span,
                FigureProblem::UnknownNumeral {
                    found: written.to_owned(),
                },
            ));
        }
    };
    cursor.skip(length);
    Ok((
        Degree::at(number, alter),
        if lower { Roman::Lower } else { Roman::Upper },
    ))
}

/// Reads at most one flat or sharp.
fn read_accidental(cursor: &mut Cursor<'_>) -> Result<i8, FigureError> {
    let start = cursor.at();
    let signs = cursor.rest();
    let length: usize = signs
        .chars()
        .take_while(|sign| pitch::accidental(*sign).is_some())
        .map(char::len_utf8)
        .sum();
    let span = start..start + length;
    match pitch::accidentals(signs) {
        Err(_) => Err(cursor.error(span, FigureProblem::MixedAccidentals)),
        Ok((alter @ -1..=1, length)) => {
            cursor.skip(length);
            Ok(i8::try_from(alter).unwrap_or(0))
        }
        Ok((alter, _)) => Err(cursor.error(
            span,
            FigureProblem::TooManyAccidentals {
                most: 1,
                found: alter.unsigned_abs(),
            },
        )),
    }
}

/// Takes one digit from 1 to 7.
fn one_to_seven(cursor: &mut Cursor<'_>) -> Option<u8> {
    match cursor.rest().as_bytes().first() {
        Some(digit @ b'1'..=b'7') => {
            cursor.skip(1);
            Some(digit - b'0')
        }
        _ => None,
    }
}

impl Numeral {
    /// The numeral as it was written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The root, counted from the major scale on the tonic it is applied to, 1 to 7.
    #[must_use]
    pub const fn root(&self) -> Degree {
        self.root
    }

    /// The chord in a key.
    ///
    /// A root that would need a double accidental is respelled as simply as can be: bVI in Gb major is D.
    ///
    /// # Errors
    /// None today; a form that cannot stand in every key would report it here.
    pub fn resolve(&self, key: &Key) -> Result<Harmony, FigureError> {
        let tonic = self
            .targets
            .iter()
            .rev()
            .fold(key.tonic(), |tonic, (degree, _)| degree.above(tonic));
        let root = self.root.above(tonic).simplified();
        let cursor = Cursor::new(&self.text);
        let chord: Chord = symbol::chord_of(&cursor, root, self.tones)?;
        let bass = self
            .bass
            .map(|degree| degree.above(key.tonic()).simplified());
        Ok(Harmony::Chord(chord.with_bass(bass)))
    }

    /// A warning where a Roman numeral with a 6 may be meant as an inversion; it is the chord with its sixth.
    ///
    /// ```
    /// use fivefold::theory::{Key, numeral};
    /// let key = Key::read("C")?;
    /// let caution = numeral::read_roman("IV6").unwrap().sixth_caution(&key);
    /// assert_eq!(caution.as_deref(), Some("`IV6` is the chord with a sixth, F6; its first inversion is `4/6`"));
    /// # Ok::<(), fivefold::theory::KeyError>(())
    /// ```
    #[must_use]
    pub fn sixth_caution(&self, key: &Key) -> Option<String> {
        if self.roman == Roman::Number {
            return None;
        }
        let (_, meant) = inverted(&self.text).filter(|(figures, _)| figures == "6")?;
        let sounds = self.resolve(key).ok()?;
        let text = &self.text;
        Some(format!(
            "`{text}` is the chord with a sixth, {sounds}; its first inversion is `{meant}`"
        ))
    }

    /// A warning where the numeral probably means something else: III, VI and VII in upper case and without an
    /// accidental, in a key with a minor third.
    ///
    /// They sound as written, a major chord on the degree of the major scale; many writers mean the lowered degree.
    ///
    /// ```
    /// use fivefold::theory::{Key, numeral};
    /// let key = Key::read("A minor")?;
    /// let caution = numeral::read_roman("VII").unwrap().caution(&key);
    /// assert_eq!(caution.as_deref(), Some("`VII` in A minor is G#; for G write `bVII`"));
    /// # Ok::<(), fivefold::theory::KeyError>(())
    /// ```
    #[must_use]
    pub fn caution(&self, key: &Key) -> Option<String> {
        // Degrees from the key inward, each with whether the tonic it counts from is minor.
        let mut tonic = key.tonic();
        let mut minor = key.is_minor();
        let name = key.to_string();
        for (degree, roman) in self.targets.iter().rev() {
            if minor && is_unclear(*degree, *roman) {
                return Some(caution(*degree, tonic, &name, roman_text(*degree), ""));
            }
            tonic = degree.above(tonic);
            minor = *roman == Roman::Lower;
        }
        let diminished = self.tones.holds(Mask::FLAT_THIRD.with(Mask::FLAT_FIFTH));
        if !self.targets.is_empty() || !minor || diminished || !is_unclear(self.root, self.roman) {
            return None;
        }
        let written = roman_text(self.root);
        Some(caution(
            self.root,
            tonic,
            &name,
            written,
            &self.text[written.len()..],
        ))
    }
}

/// A chord of letters as a Roman numeral in a key: roots count from the major scale on the tonic, a minor third is lower case,
/// diminished chords have `o` and half-diminished ones `ø`; a slash bass that is not the root stays a letter behind a stroke.
///
/// Numerals of roots with more than one accidental are not written: `None`.
///
/// ```
/// use fivefold::theory::{Key, numeral, symbol};
/// let key = Key::read("A minor")?;
/// let roman = |text| numeral::roman(symbol::read(text).unwrap().chord().unwrap(), &key);
/// assert_eq!(roman("Am7").as_deref(), Some("i7"));
/// assert_eq!(roman("Fmaj7").as_deref(), Some("bVImaj7"));
/// assert_eq!(roman("G#dim7").as_deref(), Some("viio7"));
/// # Ok::<(), fivefold::theory::KeyError>(())
/// ```
#[must_use]
pub fn roman(chord: &Chord, key: &Key) -> Option<String> {
    const NUMERALS: [&str; 7] = ["I", "II", "III", "IV", "V", "VI", "VII"];
    let root = Degree::of(key.tonic(), chord.root())?;
    let upper = NUMERALS.get(usize::from(root.number().checked_sub(1)?))?;
    let sign = match root.alter() {
        0 => "",
        -1 => "b",
        1 => "#",
        _ => return None,
    };
    let plain = chord.with_bass(None);
    let name = plain.to_string();
    let suffix = name.strip_prefix(&chord.root().to_string())?;
    let minor = chord.third().is_some_and(|third| third.alter() < 0);
    let numeral = if minor {
        upper.to_lowercase()
    } else {
        (*upper).to_owned()
    };
    let without = suffix
        .strip_prefix('m')
        .filter(|rest| !rest.starts_with("aj"));
    let rests = [
        suffix.strip_prefix("dim").map(|rest| format!("o{rest}")),
        suffix.strip_prefix("m7b5").map(|rest| format!("ø7{rest}")),
        suffix.strip_prefix("aug").map(|rest| format!("+{rest}")),
        without.map(str::to_owned),
        Some(suffix.to_owned()),
    ];
    let means = |text: &String| {
        let read = read_plain_roman(text).and_then(|numeral| numeral.resolve(key));
        let tones = |harmony: Harmony| harmony.chord().map(Chord::tones);
        read.is_ok_and(|harmony| tones(harmony) == Some(plain.tones()))
    };
    let found = rests
        .into_iter()
        .flatten()
        .map(|rest| format!("{sign}{numeral}{rest}"))
        .find(means)?;
    Some(match chord.slash() {
        Some(bass) => format!("{found}/{bass}"),
        None => found,
    })
}

/// Whether this degree is often written without the flat it is meant to have in minor.
fn is_unclear(degree: Degree, roman: Roman) -> bool {
    roman == Roman::Upper && degree.alter() == 0 && matches!(degree.number(), 3 | 6 | 7)
}

/// The numeral of one of these degrees.
const fn roman_text(degree: Degree) -> &'static str {
    match degree.number() {
        3 => "III",
        6 => "VI",
        _ => "VII",
    }
}

fn caution(degree: Degree, tonic: PitchName, key: &str, written: &str, suffix: &str) -> String {
    let sounds = degree.above(tonic).simplified();
    let flat = Degree::at(degree.number(), -1).above(tonic).simplified();
    format!(
        "`{written}{suffix}` in {key} is {sounds}{suffix}; for {flat}{suffix} write `b{written}{suffix}`"
    )
}

#[cfg(test)]
mod tests;
