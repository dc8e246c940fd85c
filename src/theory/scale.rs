//! Scales: the five-note sets to practice and the seven-note scales they are heard in.

mod error;
mod formula;
mod kinds;

use std::fmt;

pub use error::{ScaleError, ScaleProblem};
pub use formula::ScaleFormula;
pub use kinds::ScaleKind;

use self::formula::{begins_degrees, read_degrees, read_name};
use super::degree::Degree;
use super::interval::Interval;
use super::mode::Mode;
use super::nearest::Compared;
use super::note_words::{in_english, in_letters, in_words, raised};
use super::pitch::{Letter, PitchClass, PitchName};
use crate::diagnostic::Diagnostic;

/// A root and a set of degrees above it, named or free.
///
/// Each note is spelled by its degree, in every root: the letter rule of common practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Scale {
    root: PitchName,
    formula: ScaleFormula,
}

impl Scale {
    /// A named scale on a root.
    #[must_use]
    pub const fn named(root: PitchName, kind: ScaleKind) -> Scale {
        ScaleFormula::named(kind).on(root)
    }

    /// A scale of these degrees, 1 to 7, the root among them, no two of the same sound; a named one where they have a
    /// name.
    ///
    /// # Errors
    /// [`ScaleError`] without a span.
    pub fn of_degrees(root: PitchName, degrees: &[Degree]) -> Result<Scale, ScaleError> {
        ScaleFormula::of_degrees(degrees).map(|formula| formula.on(root))
    }

    /// The scale of a mode.
    pub(crate) const fn of_mode(root: PitchName, mode: Mode) -> Scale {
        Scale::named(root, ScaleKind::of_mode(mode))
    }

    /// Reads a root and a name, or a root and degrees: `A minor pentatonic`, `C# 1 b3 4 5 b7`.
    ///
    /// ```
    /// use fivefold::theory::Scale;
    /// let set = Scale::read("C# 1 b3 4 5 b7")?;
    /// assert_eq!(set.name(), "C# minor pentatonic");
    /// assert_eq!(set.home().unwrap().name(), "C# minor");
    /// # Ok::<(), fivefold::theory::ScaleError>(())
    /// ```
    ///
    /// # Errors
    /// [`ScaleError`] with the bytes in question; an unknown name is answered with the nearest known one.
    pub fn read(text: &str) -> Result<Scale, ScaleError> {
        let words = words(text);
        let Some(&(start, first)) = words.first() else {
            return Err(ScaleError::new(0..text.len(), ScaleProblem::Empty));
        };
        let in_words = in_words(&text[start..]);
        let (root, length) = match in_words.map_or_else(|| PitchName::prefix(first), Ok) {
            Ok(found) if found.0.alter().abs() <= 2 => found,
            _ => return Err(no_root(text, start, first)),
        };
        // A root whose accidental is a separate word has nothing attached to it.
        let span = start..start + first.len().max(length);
        let glued = first.get(length..).unwrap_or("");
        let rest = &words[words.partition_point(|(at, _)| *at < start + length)..];
        let Some(&(_, word)) = rest.first() else {
            return match glued {
                "" => Err(ScaleError::new(
                    span,
                    ScaleProblem::NoName { root: Some(root) },
                )),
                "m" => Ok(Scale::of_mode(root, Mode::Minor)),
                _ => Err(no_root(text, start, first)),
            };
        };
        if !matches!(glued, "" | "m") {
            return Err(no_root(text, start, first));
        }
        let formula = if glued.is_empty() && begins_degrees(word) {
            read_degrees(rest)?
        } else {
            let before = (glued == "m").then_some("minor");
            // The advice has the root in front of the name, so the place has it too.
            let whole = |error: ScaleError| {
                let end = error.span().map_or(span.end, |span| span.end);
                error.at(start..end)
            };
            read_name(Some(root), before, text, rest).map_err(whole)?
        };
        Ok(formula.on(root))
    }

    /// The root, as spelled.
    #[must_use]
    pub const fn root(&self) -> PitchName {
        self.root
    }

    /// The set without its root.
    #[must_use]
    pub const fn formula(&self) -> ScaleFormula {
        self.formula
    }

    /// The kind, when the degrees have a name.
    #[must_use]
    pub const fn kind(&self) -> Option<ScaleKind> {
        self.formula.kind()
    }

    /// Root and name, or root and degrees where there is no name; either is read back as the same scale.
    #[must_use]
    pub fn name(&self) -> String {
        self.to_string()
    }

    /// The degrees, rising from the root.
    #[must_use]
    pub fn degrees(&self) -> &[Degree] {
        self.formula.degrees()
    }

    /// The notes, rising from the root, each spelled by its degree.
    #[must_use]
    pub fn notes(&self) -> Vec<PitchName> {
        self.degrees()
            .iter()
            .map(|degree| degree.above(self.root))
            .collect()
    }

    /// The pitch classes in the order of the degrees, root first.
    #[must_use]
    pub fn pitch_classes(&self) -> Vec<PitchClass> {
        let root = self.root.pitch_class();
        self.degrees()
            .iter()
            .map(|degree| root.up(degree.semitones()))
            .collect()
    }

    /// Whether a pitch class is in the scale.
    #[must_use]
    pub fn contains(&self, class: PitchClass) -> bool {
        let root = self.root.pitch_class();
        self.degrees()
            .iter()
            .any(|degree| root.up(degree.semitones()) == class)
    }

    /// The scale in which this set is heard unless another is asked for.
    ///
    /// Named sets have theirs in the table. For others it is the first seven-note scale that holds all their sounds:
    /// minor, dorian, phrygian, locrian, harmonic and melodic minor where the third is minor, else major,
    /// mixolydian, lydian and then those. A set that fits in none has none.
    #[must_use]
    pub fn home(&self) -> Option<Scale> {
        self.formula.home().map(|home| home.on(self.root))
    }

    /// The same set on a root an interval higher; the root is spelled by the interval, however many accidentals it takes.
    #[must_use]
    pub fn transposed(&self, interval: Interval) -> Scale {
        self.with_root(self.root.up(interval))
    }

    /// The same set an interval higher, on a root of at most one accidental: as a piece that moves to another key needs it.
    #[must_use]
    pub fn moved(&self, interval: Interval) -> Scale {
        self.with_root(self.root.up(interval).simplified())
    }

    /// The same set on another root.
    #[must_use]
    pub const fn with_root(&self, root: PitchName) -> Scale {
        self.formula.on(root)
    }
}

/// The words of a text with the bytes they begin at; hyphens, commas, underscores and brackets separate words too.
///
/// A degree keeps its sign: nothing in `b3` or `#4` separates words.
fn words(text: &str) -> Vec<(usize, &str)> {
    let parts = |next: char| next.is_whitespace() || matches!(next, '-' | '_' | ',' | '(' | ')');
    let mut found = Vec::new();
    let mut start = None;
    for (at, next) in text.char_indices() {
        match (parts(next), start) {
            (false, None) => start = Some(at),
            (true, Some(from)) => {
                found.push((from, &text[from..at]));
                start = None;
            }
            _ => {}
        }
    }
    if let Some(from) = start {
        found.push((from, &text[from..]));
    }
    found
}

/// No root at the start of the text. If the whole text has a valid spelling, the error covers all of it.
fn no_root(text: &str, start: usize, first: &str) -> ScaleError {
    let begins = first.chars().next();
    let whole = text[start..].trim_end();
    let upper = begins
        .filter(|letter| {
            Letter::from_char(letter.to_ascii_uppercase()).is_some() && letter.is_ascii_lowercase()
        })
        .map(|_| raised(whole))
        .or_else(|| in_letters(whole))
        .map(|upper| match Scale::read(&upper) {
            Ok(_) => upper,
            Err(_) => in_english(&upper),
        })
        .filter(|upper| Scale::read(upper).is_ok());
    if upper.is_none() && ScaleFormula::read(whole).is_ok() {
        let problem = ScaleProblem::RootLeftOut {
            set: whole.to_owned(),
        };
        return ScaleError::new(start..start + whole.len(), problem);
    }
    let length = if upper.is_some() { whole } else { first }.len();
    let found = first.to_owned();
    let problem = ScaleProblem::NoRoot { found, upper };
    ScaleError::new(start..start + length, problem)
}

impl ScaleProblem {
    /// A name that is not in the table, with the nearest one that is.
    fn unknown(root: Option<PitchName>, found: &str, name: &str) -> ScaleProblem {
        if name == "pentatonic" {
            return ScaleProblem::WhichPentatonic { root };
        }
        if let Some(scale) = root.and_then(|root| of_notes(root, found)) {
            return ScaleProblem::Notes {
                found: found.to_owned(),
                meant: scale.name(),
            };
        }
        // If two are equally near, a name goes before an alias.
        let names = kinds::readable().flat_map(|kind| {
            let aliases = kind.aliases().iter().map(|alias| (true, *alias));
            std::iter::once((false, kind.name())).chain(aliases)
        });
        let word = Compared::new(name);
        let near = |(alias, known): (bool, &'static str)| {
            let far = word.within(known, known.len().max(name.len()) / 3)?;
            Some((far, alias, known))
        };
        let nearest = names.filter_map(near).min().map(|(.., known)| known);
        // Of another language its own meaning, not the word that looks like it.
        let nearest = kinds::named(&in_english(name)).map_or(nearest, |kind| Some(kind.name()));
        ScaleProblem::UnknownName {
            root,
            found: found.to_owned(),
            nearest,
        }
    }
}

/// The scale on a root whose other notes are written out: `C D E G` behind A is A minor pentatonic.
fn of_notes(root: PitchName, written: &str) -> Option<Scale> {
    let c = PitchName::natural(Letter::C);
    let to_c = Interval::between(root, c);
    let mut degrees = vec![Degree::ROOT];
    for (_, word) in words(written) {
        let note = PitchName::read(word).ok()?.up(to_c);
        let degree = Degree::new(1 + note.letter().step(), note.alter()).ok()?;
        if !degrees.contains(&degree) {
            degrees.push(degree);
        }
    }
    degrees.sort_by_key(|degree| degree.semitones());
    let formula = ScaleFormula::of_degrees(&degrees).ok()?;
    (degrees.len() > 2).then(|| formula.on(root))
}

impl fmt::Display for Scale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.root, self.formula)
    }
}

#[cfg(test)]
mod tests;
