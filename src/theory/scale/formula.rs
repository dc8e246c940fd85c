//! Sets without a root: a name such as `minor pentatonic`, or degrees such as `1 b3 4 5 b7`.

use std::fmt;

use super::error::{ScaleError, ScaleProblem};
use super::kinds::{self, ScaleKind};
use super::{Scale, words};
use crate::theory::degree::{Degree, DegreeList, MAX_DEGREES};
use crate::theory::pitch::PitchName;

/// A set of degrees without a root, named or free: what guitarists call the formula of a scale.
///
/// A set that has a name is always held by it, so that equal sets are equal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ScaleFormula(Body);

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Body {
    Named(ScaleKind),
    Free(DegreeList),
}

/// The fewest notes a set may have.
const MIN_NOTES: usize = 2;

impl ScaleFormula {
    /// A named set.
    #[must_use]
    pub const fn named(kind: ScaleKind) -> ScaleFormula {
        ScaleFormula(Body::Named(kind))
    }

    /// A set of these degrees, 1 to 7, the root among them, no two of the same sound; a named one where they have a name.
    ///
    /// # Errors
    /// [`ScaleError`] without a span.
    pub fn of_degrees(degrees: &[Degree]) -> Result<ScaleFormula, ScaleError> {
        let fail = |problem| Err(ScaleError::new(0..0, problem));
        for (index, degree) in degrees.iter().enumerate() {
            if degree.number() > 7 {
                return fail(ScaleProblem::BeyondOctave { degree: *degree });
            }
            for earlier in &degrees[..index] {
                if earlier == degree {
                    return fail(ScaleProblem::Twice { degree: *degree });
                }
                if (earlier.semitones() - degree.semitones()) % 12 == 0 {
                    return fail(ScaleProblem::SameSound {
                        first: *earlier,
                        second: *degree,
                    });
                }
            }
        }
        if !degrees.contains(&Degree::ROOT) {
            return fail(ScaleProblem::NoFirst);
        }
        if degrees.len() < MIN_NOTES {
            return fail(ScaleProblem::TooFew {
                found: degrees.len(),
            });
        }
        if let Some(kind) = kinds::readable().find(|kind| {
            kind.degrees().len() == degrees.len()
                && kind.degrees().iter().all(|degree| degrees.contains(degree))
        }) {
            return Ok(ScaleFormula::named(kind));
        }
        // Twelve sounds at most, so the list has room.
        match DegreeList::new(degrees.iter().copied()) {
            Some(list) => Ok(ScaleFormula(Body::Free(list))),
            None => fail(ScaleProblem::TooMany { most: MAX_DEGREES }),
        }
    }

    /// Reads a name or degrees: `minor pentatonic`, `1 b3 4 5 b7`.
    ///
    /// ```
    /// use fivefold::theory::{PitchName, ScaleFormula};
    /// let set = ScaleFormula::read("1 b3 4 5 b7")?;
    /// assert_eq!(set.to_string(), "minor pentatonic");
    /// assert_eq!(set.on(PitchName::read("C#").unwrap()).name(), "C# minor pentatonic");
    /// # Ok::<(), fivefold::theory::ScaleError>(())
    /// ```
    ///
    /// # Errors
    /// [`ScaleError`] with the bytes in question; an unknown name is answered with the nearest known one.
    pub fn read(text: &str) -> Result<ScaleFormula, ScaleError> {
        let words = words(text);
        match words.first() {
            None => Err(ScaleError::new(
                0..text.len(),
                ScaleProblem::NoName { root: None },
            )),
            Some((_, first)) if begins_degrees(first) => read_degrees(&words),
            Some(_) => read_name(None, None, text, &words),
        }
    }

    /// Reads a set that may have a root: `A minor pentatonic` or `minor pentatonic`.
    ///
    /// ```
    /// use fivefold::theory::ScaleFormula;
    /// let (root, set) = ScaleFormula::read_rooted("A minor pentatonic")?;
    /// assert_eq!(root.map(|root| root.to_string()).as_deref(), Some("A"));
    /// assert_eq!(ScaleFormula::read_rooted("minor pentatonic")?, (None, set));
    /// # Ok::<(), fivefold::theory::ScaleError>(())
    /// ```
    ///
    /// # Errors
    /// [`ScaleError`] with the bytes in question: that of [`Scale::read`], but that of [`ScaleFormula::read`] for a text
    /// that looks like a name or degrees without a root.
    pub fn read_rooted(text: &str) -> Result<(Option<PitchName>, ScaleFormula), ScaleError> {
        let with_root = match Scale::read(text) {
            Ok(scale) => return Ok((Some(scale.root()), scale.formula())),
            Err(error) => error,
        };
        match ScaleFormula::read(text) {
            Ok(formula) => Ok((None, formula)),
            Err(error) if with_root.lacks_root() && is_rootless(text, &error) => Err(error),
            Err(_) => Err(with_root),
        }
    }

    /// The set on a root.
    #[must_use]
    pub const fn on(self, root: PitchName) -> Scale {
        Scale {
            root,
            formula: self,
        }
    }

    /// The kind, when the degrees have a name.
    #[must_use]
    pub const fn kind(&self) -> Option<ScaleKind> {
        match self.0 {
            Body::Named(kind) => Some(kind),
            Body::Free(_) => None,
        }
    }

    /// The degrees, rising from the root.
    #[must_use]
    pub fn degrees(&self) -> &[Degree] {
        match &self.0 {
            Body::Named(kind) => kind.degrees(),
            Body::Free(list) => list.as_slice(),
        }
    }

    /// The set in which this one is heard; see [`Scale::home`].
    #[must_use]
    pub fn home(&self) -> Option<ScaleFormula> {
        const MINOR: [ScaleKind; 6] = [
            ScaleKind::Minor,
            ScaleKind::Dorian,
            ScaleKind::Phrygian,
            ScaleKind::Locrian,
            ScaleKind::HarmonicMinor,
            ScaleKind::MelodicMinor,
        ];
        const MAJOR: [ScaleKind; 3] = [ScaleKind::Major, ScaleKind::Mixolydian, ScaleKind::Lydian];
        if let Body::Named(kind) = self.0 {
            return Some(ScaleFormula::named(kind.home()));
        }
        let minor = self.degrees().iter().any(|degree| degree.semitones() == 3);
        let first: &[ScaleKind] = if minor { &[] } else { &MAJOR };
        let mut homes = first.iter().chain(&MINOR);
        homes
            .find(|home| {
                let sounds: Vec<i32> = home.degrees().iter().map(sound).collect();
                self.degrees().iter().all(|d| sounds.contains(&sound(d)))
            })
            .map(|home| ScaleFormula::named(*home))
    }
}

/// Semitones of a degree above the root, 0 to 11, whatever the octave.
fn sound(degree: &Degree) -> i32 {
    degree.semitones().rem_euclid(12)
}

/// Whether a text in which no root is found looks like a name or degrees without one. `error` says what is wrong with it as
/// such.
fn is_rootless(text: &str, error: &ScaleError) -> bool {
    let words = words(text);
    let Some((_, first)) = words.first() else {
        return false;
    };
    // One letter or two may be a root in another spelling.
    let begins: Vec<char> = first.chars().take(3).collect();
    let word = begins.len() == 3 && begins.iter().all(char::is_ascii_lowercase);
    word || begins_degrees(first) || error.knows_better()
}

/// Whether a word is the first of a list of degrees: a figure, with or without sharps or flats before it.
pub(super) fn begins_degrees(word: &str) -> bool {
    let bare = word.trim_start_matches(['b', '#', '\u{266d}', '\u{266f}']);
    bare.starts_with(|next: char| next.is_ascii_digit())
}

/// Reads the words of a name. `root` is for the advice; `before` is a word of the name that was written otherwise, such as
/// the `m` of `Am pentatonic`.
pub(super) fn read_name(
    root: Option<PitchName>,
    before: Option<&str>,
    text: &str,
    words: &[(usize, &str)],
) -> Result<ScaleFormula, ScaleError> {
    let mut name: Vec<String> = before.into_iter().map(str::to_owned).collect();
    name.extend(words.iter().map(|(_, word)| word.to_lowercase()));
    if name.len() > 1 && name.last().is_some_and(|last| last == "scale") {
        name.pop();
    }
    let name = name.join(" ");
    match kinds::named(&name) {
        Some(kind) => Ok(ScaleFormula::named(kind)),
        None => {
            let from = words.first().map_or(0, |(at, _)| *at);
            let end = words.last().map_or(from, |(at, word)| at + word.len());
            let problem = ScaleProblem::unknown(root, &text[from..end], &name);
            Err(ScaleError::new(from..end, problem))
        }
    }
}

/// Reads the degrees of a free set.
pub(super) fn read_degrees(words: &[(usize, &str)]) -> Result<ScaleFormula, ScaleError> {
    let mut degrees: Vec<Degree> = Vec::new();
    let mut spans = Vec::new();
    for &(at, word) in words {
        let span = at..at + word.len();
        match Degree::read(word) {
            Ok(degree) => degrees.push(degree),
            Err(_) => {
                return Err(ScaleError::new(
                    span,
                    ScaleProblem::BadDegree {
                        found: word.to_owned(),
                    },
                ));
            }
        }
        spans.push(span);
        // Below the root only what is written as lower than it, such as the b1 of `A b1 1 #4`.
        let later = || {
            words
                .iter()
                .any(|(_, word)| Degree::read(word) == Ok(Degree::ROOT))
        };
        if degrees[0] != Degree::ROOT && !later() {
            return Err(ScaleError::new(spans[0].clone(), ScaleProblem::NoFirst));
        }
        // Each degree is checked in turn, so that the error points at the one that broke the rule.
        if let Err(error) = ScaleFormula::of_degrees(&degrees)
            && !matches!(
                error.problem(),
                ScaleProblem::TooFew { .. } | ScaleProblem::NoFirst
            )
        {
            return Err(error.at(spans[degrees.len() - 1].clone()));
        }
    }
    let from = spans.first().map_or(0, |span| span.start);
    let to = spans.last().map_or(0, |span| span.end);
    ScaleFormula::of_degrees(&degrees).map_err(|error| error.at(from..to))
}

impl fmt::Display for ScaleFormula {
    /// The name, or the degrees where there is none; either is read back as the same set.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Body::Named(kind) => f.write_str(kind.name()),
            Body::Free(list) => {
                for (at, degree) in list.as_slice().iter().enumerate() {
                    let parting = if at == 0 { "" } else { " " };
                    write!(f, "{parting}{degree}")?;
                }
                Ok(())
            }
        }
    }
}
