//! The colon syntax of Harte, Sandler, Abdallah and Gomez 2005: `root:shorthand(degrees)/bass`.
//!
//! Degrees count from the major scale on the root, `*` before one leaves it out. The shorthands are the sixteen of the
//! paper and those that later corpora added (sus2, the elevenths and thirteenths, hdim, 5, 6, 1).

use crate::theory::chord::Chord;
use crate::theory::cursor::Cursor;
use crate::theory::degree::{Degree, DegreeError, MAX_DEGREES};
use crate::theory::figure_error::{FigureError, FigureProblem};
use crate::theory::pitch::{Letter, PitchName};

use super::read_bass;

/// Shorthands, longest first where one begins another, and their degrees.
const SHORTHANDS: [(&str, &str); 27] = [
    ("minmaj7", "1 b3 5 7"),
    ("maj13", "1 3 5 7 9 11 13"),
    ("maj11", "1 3 5 7 9 11"),
    ("maj9", "1 3 5 7 9"),
    ("maj7", "1 3 5 7"),
    ("maj6", "1 3 5 6"),
    ("maj", "1 3 5"),
    ("min13", "1 b3 5 b7 9 11 13"),
    ("min11", "1 b3 5 b7 9 11"),
    ("min9", "1 b3 5 b7 9"),
    ("min7", "1 b3 5 b7"),
    ("min6", "1 b3 5 6"),
    ("min", "1 b3 5"),
    ("hdim7", "1 b3 b5 b7"),
    ("hdim", "1 b3 b5 b7"),
    ("dim7", "1 b3 b5 bb7"),
    ("dim", "1 b3 b5"),
    ("aug", "1 3 #5"),
    ("sus4", "1 4 5"),
    ("sus2", "1 2 5"),
    ("13", "1 3 5 b7 9 11 13"),
    ("11", "1 3 5 b7 9 11"),
    ("9", "1 3 5 b7 9"),
    ("7", "1 3 5 b7"),
    ("6", "1 3 5 6"),
    ("5", "1 5"),
    ("1", "1"),
];

/// Reads what follows the colon.
pub(super) fn read(cursor: &mut Cursor<'_>, root: PitchName) -> Result<Chord, FigureError> {
    let start = cursor.at();
    let mut degrees: Vec<Degree> = vec![Degree::ROOT];
    let shorthand = SHORTHANDS.iter().find(|(name, _)| cursor.take(name));
    if let Some((_, members)) = shorthand {
        degrees = members
            .split(' ')
            .filter_map(|text| Degree::read(text).ok())
            .collect();
    }
    let next = cursor.peek();
    let listed = next == Some('(');
    if !(listed || shorthand.is_some() && matches!(next, None | Some('/'))) {
        let found = cursor.text()[start..].to_owned();
        return Err(cursor.error(
            start..cursor.text().len(),
            FigureProblem::UnknownShorthand { found },
        ));
    }
    if listed {
        read_list(cursor, &mut degrees, shorthand.is_none())?;
    }
    let bass = if cursor.take("/") {
        Some(harte_bass(cursor, root)?)
    } else {
        None
    };
    if !cursor.done() {
        let found = cursor.rest().to_owned();
        return Err(cursor.error(
            cursor.at()..cursor.text().len(),
            FigureProblem::AfterDegrees { found },
        ));
    }
    Chord::new(root, degrees, bass)
        .map_err(|_| cursor.error(start..cursor.text().len(), FigureProblem::TooManyDegrees))
}

/// Reads the bracketed degrees into the list; without a shorthand the root may be listed though it is always there.
fn read_list(
    cursor: &mut Cursor<'_>,
    degrees: &mut Vec<Degree>,
    bare: bool,
) -> Result<(), FigureError> {
    let open = cursor.at();
    cursor.skip(1);
    let mut root_listed = !bare;
    loop {
        let start = cursor.at();
        if cursor.done() {
            return Err(cursor.error(open..open + 1, FigureProblem::OpenBracket));
        }
        if cursor.peek() == Some(')') && start == open + 1 {
            return Err(cursor.error(open..start + 1, FigureProblem::EmptyBracket));
        }
        let omit = cursor.take("*");
        let degree = read_degree(cursor)?;
        let span = start..cursor.at();
        let held = degrees.iter().position(|held| *held == degree);
        match (omit, held) {
            (true, _) if degree == Degree::ROOT => {
                return Err(cursor.error(span, FigureProblem::RootOmitted));
            }
            (true, Some(at)) => {
                degrees.remove(at);
            }
            (true, None) => {
                let number = u32::from(degree.number());
                return Err(cursor.error(span, FigureProblem::NothingToOmit { number }));
            }
            (false, Some(_)) if degree == Degree::ROOT && !root_listed => root_listed = true,
            (false, Some(_)) => return Err(cursor.error(span, FigureProblem::Twice { degree })),
            (false, None) if degrees.len() == MAX_DEGREES => {
                return Err(cursor.error(span, FigureProblem::TooManyDegrees));
            }
            (false, None) => degrees.push(degree),
        }
        if cursor.take(")") {
            return Ok(());
        }
        if !cursor.take(",") && !cursor.done() {
            let found = cursor.peek().map_or(String::new(), String::from);
            return Err(cursor.error(cursor.at()..cursor.at(), FigureProblem::BadDegree { found }));
        }
        while cursor.take(" ") {}
    }
}

/// Reads one degree.
fn read_degree(cursor: &mut Cursor<'_>) -> Result<Degree, FigureError> {
    let start = cursor.at();
    match Degree::prefix(cursor.rest()) {
        Ok((degree, length)) => {
            cursor.skip(length);
            Ok(degree)
        }
        Err(error) => {
            let length = cursor
                .rest()
                .find([',', ')', ' ', '/'])
                .unwrap_or(cursor.rest().len());
            let span = match error {
                DegreeError::NoNumber { at, .. } => start..(start + at).max(start + length),
                _ => start..start + length,
            };
            let found = cursor.text()[span.clone()].to_owned();
            Err(cursor.error(span, FigureProblem::BadDegree { found }))
        }
    }
}

/// Reads the bass: a degree as in the paper, or a note name.
fn harte_bass(cursor: &mut Cursor<'_>, root: PitchName) -> Result<PitchName, FigureError> {
    match cursor.peek() {
        None => Err(cursor.error(cursor.at() - 1..cursor.at(), FigureProblem::NoBass)),
        Some(first) if Letter::from_char(first).is_some() => read_bass(cursor),
        Some(_) => read_degree(cursor).map(|degree| degree.above(root)),
    }
}
