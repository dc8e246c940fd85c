//! Any written chord: a letter symbol, a Roman numeral or a number.

use super::chord::Harmony;
use super::figure_error::{FigureError, FigureProblem};
use super::key::Key;
use super::numeral::{self, Numeral};
use super::symbol;

/// A written chord as it stands: a fixed one, or one that waits for a key.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Figure {
    /// A letter symbol, or no chord.
    Symbol(Harmony),
    /// A Roman numeral or a number.
    Relative(Numeral),
}

/// Reads a figure, telling its kind by the first characters.
///
/// Capital A to G begin a letter symbol, I and V in either case a Roman numeral, a digit a number; a numeral or number
/// may have a flat or sharp before it. `N.C.`, `NC` and the `N` of Harte et al. 2005 mean no chord.
///
/// ```
/// use fivefold::theory::figure::{self, Figure};
/// assert!(matches!(figure::read("Am7")?, Figure::Symbol(_)));
/// assert!(figure::read("bVII")?.needs_key());
/// assert!(figure::read("57")?.needs_key());
/// # Ok::<(), fivefold::theory::FigureError>(())
/// ```
///
/// # Errors
/// [`FigureError`] with the bytes in question and what to write instead.
pub fn read(text: &str) -> Result<Figure, FigureError> {
    let plain =
        text.trim_start_matches(['b', '#', '\u{266d}', '\u{266f}', '\u{1d12b}', '\u{1d12a}']);
    match plain.chars().next() {
        // `bb7` is not a number with two flats but a Bb7 in lower case, which the symbol reader reports.
        Some('0'..='9') if !text.starts_with("bb") => {
            numeral::read_number(text).map(Figure::Relative)
        }
        Some('I' | 'V' | 'i' | 'v') => numeral::read_roman(text).map(Figure::Relative),
        _ => symbol::read(text).map(Figure::Symbol),
    }
}

impl Figure {
    /// Whether the figure means a chord only in a key.
    #[must_use]
    pub const fn needs_key(&self) -> bool {
        matches!(self, Figure::Relative(_))
    }

    /// The chord meant, in a key where the figure needs one.
    ///
    /// # Errors
    /// [`FigureProblem::NeedsKey`] when a numeral or number has no key to stand in. The span covers the whole figure.
    pub fn resolve(&self, key: Option<&Key>) -> Result<Harmony, FigureError> {
        match (self, key) {
            (Figure::Symbol(harmony), _) => Ok(*harmony),
            (Figure::Relative(numeral), Some(key)) => numeral.resolve(key),
            (Figure::Relative(numeral), None) => {
                let text = numeral.as_str();
                Err(FigureError::new(
                    0..text.len(),
                    FigureProblem::NeedsKey {
                        figure: text.to_owned(),
                    },
                ))
            }
        }
    }
}
