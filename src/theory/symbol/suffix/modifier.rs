//! What follows the figure of a symbol, in any order, bracketed or not.

use std::ops::Range;

use crate::theory::chord::mask::Mask;
use crate::theory::cursor::Cursor;
use crate::theory::degree::Degree;
use crate::theory::figure_error::{FigureError, FigureProblem};

use super::{Before, Build, MAJOR_MARKS, Quality, TRIANGLES};

/// A sharp or flat before a number, and the bytes it takes.
fn sign(next: Option<char>) -> Option<(i8, usize)> {
    let next = next?;
    match next {
        'b' | '\u{266d}' | '-' | '\u{2212}' | '\u{2013}' => Some((-1, next.len_utf8())),
        '#' | '\u{266f}' | '+' => Some((1, next.len_utf8())),
        _ => None,
    }
}

/// The text from here to the next bracket, slash, comma or space, for an error.
fn word(cursor: &Cursor<'_>, start: usize) -> (Range<usize>, String) {
    let rest = &cursor.text()[start..];
    let length = match rest.find(['(', ')', '/', ' ', ',']) {
        Some(0) | None => rest.len(),
        Some(length) => length,
    };
    (start..start + length, rest[..length].to_owned())
}

/// The number at the cursor: two digits when the first is a 1, else one.
fn number(cursor: &Cursor<'_>) -> Option<(u8, usize)> {
    match cursor.digits().as_bytes() {
        [b'1', digit, ..] => Some((10 + digit - b'0', 2)),
        [digit, ..] => Some((digit - b'0', 1)),
        [] => None,
    }
}

impl Build {
    pub(super) fn read_modifiers(&mut self, cursor: &mut Cursor<'_>) -> Result<(), FigureError> {
        let mut bracket: Option<(usize, bool)> = None;
        while let Some(next) = cursor.peek() {
            let at = cursor.at();
            match (next, bracket) {
                ('(', None) => {
                    bracket = Some((at, false));
                    cursor.skip(1);
                }
                ('(', Some(_)) => {
                    return Err(cursor.error(at..at + 1, FigureProblem::NestedBracket));
                }
                (')', None) => return Err(cursor.error(at..at + 1, FigureProblem::StrayBracket)),
                (')', Some((open, false))) => {
                    return Err(cursor.error(open..at + 1, FigureProblem::EmptyBracket));
                }
                (')', Some(_)) => {
                    bracket = None;
                    cursor.skip(1);
                }
                (' ' | ',' | '/', Some(_)) => cursor.skip(1),
                ('/', None) => return Ok(()),
                (' ', None) => {
                    return Err(cursor.error(at..at + 1, FigureProblem::Space { meant: None }));
                }
                _ => {
                    self.read_modifier(cursor, bracket.is_some())?;
                    bracket = bracket.map(|(open, _)| (open, true));
                }
            }
        }
        match bracket {
            Some((open, _)) => Err(cursor.error(open..open + 1, FigureProblem::OpenBracket)),
            None => Ok(()),
        }
    }

    fn read_modifier(
        &mut self,
        cursor: &mut Cursor<'_>,
        bracketed: bool,
    ) -> Result<(), FigureError> {
        let start = cursor.at();
        if cursor.take_any(&["add", "Add", "ADD"]) {
            return self.read_addition(cursor, start);
        }
        if cursor.take_any(&["no", "No", "omit", "Omit"]) {
            return self.read_omission(cursor, start);
        }
        if cursor.take_any(&["sus", "Sus", "SUS"]) {
            return self.read_suspension(cursor, start);
        }
        if cursor.take("alt") {
            return self.set_altered(cursor, start);
        }
        if cursor.take("aug") {
            return self.alter(cursor, start, 1, 5);
        }
        if cursor.take_any(&TRIANGLES) || cursor.take_any(&MAJOR_MARKS) {
            return self.set_major_seventh(cursor, start);
        }
        if let Some((alter, length)) = sign(cursor.peek()) {
            cursor.skip(length);
            return self.read_alteration(cursor, start, alter);
        }
        if bracketed && matches!(number(cursor), Some((9 | 11 | 13, _))) {
            return self.read_addition(cursor, start);
        }
        let (span, found) = word(cursor, start);
        Err(cursor.error(span, FigureProblem::UnknownSuffix { found }))
    }

    fn twice(cursor: &Cursor<'_>, start: usize, degree: Degree) -> FigureError {
        cursor.error(start..cursor.at(), FigureProblem::Twice { degree })
    }

    fn read_addition(&mut self, cursor: &mut Cursor<'_>, start: usize) -> Result<(), FigureError> {
        if cursor.take_any(&TRIANGLES) || cursor.take_any(&MAJOR_MARKS) {
            return self.set_major_seventh(cursor, start);
        }
        let mut alter = 0;
        if let Some((by, length)) = sign(cursor.peek()) {
            alter = by;
            cursor.skip(length);
        }
        let Some((number, length)) = number(cursor) else {
            let (span, found) = word(cursor, start);
            return Err(cursor.error(span, FigureProblem::BadAddition { found, number: 0 }));
        };
        cursor.skip(length);
        // The third is added only where a figure left it out: C11(add3).
        let third = number == 3 && alter == 0 && !self.tones.meets(Mask::THIRDS);
        if !third && !matches!(number, 2 | 4 | 6 | 9 | 11 | 13) {
            let found = cursor.text()[start..cursor.at()].to_owned();
            let number = u32::from(number);
            return Err(cursor.error(
                start..cursor.at(),
                FigureProblem::BadAddition { found, number },
            ));
        }
        self.refuse_more_than_alt(cursor, start)?;
        let degree = self.color(number, alter);
        let tone = Mask::of(degree).unwrap_or(Mask::EMPTY);
        if self.tones.meets(tone) {
            return Err(Build::twice(cursor, start, degree));
        }
        self.tones = self.tones.with(tone);
        Ok(())
    }

    /// The degree an added or altered number means here.
    ///
    /// Beside a third the second is a ninth, beside a seventh the fourth and the sixth are an eleventh and a thirteenth,
    /// and a raised fourth is always a raised eleventh: `add2` is `add9`, `m7add4` is `m7add11`, `9#4` is `9#11`. A
    /// lowered sixth stays one.
    fn color(&self, number: u8, alter: i8) -> Degree {
        let seventh = self.tones.meets(Mask::SEVENTHS);
        let octave = match number {
            2 => self.tones.meets(Mask::THIRDS),
            4 => seventh && alter == 0 || alter > 0,
            6 => seventh && alter == 0,
            _ => false,
        };
        Degree::at(if octave { number + 7 } else { number }, alter)
    }

    fn read_omission(&mut self, cursor: &mut Cursor<'_>, start: usize) -> Result<(), FigureError> {
        while cursor.take(" ") {}
        let found = number(cursor);
        let length = found.map_or(0, |(_, length)| length);
        cursor.skip(length);
        let (tones, number) = match found {
            Some((1, _)) => {
                return Err(cursor.error(start..cursor.at(), FigureProblem::RootOmitted));
            }
            Some((3, _)) => (Mask::THIRDS, 3),
            Some((5, _)) => (Mask::FIFTHS, 5),
            Some((6, _)) => (Mask::SIXTH, 6),
            Some((7, _)) => (Mask::SEVENTHS, 7),
            Some((9, _)) => (Mask::NINTH, 9),
            Some((11, _)) => (Mask::ELEVENTH, 11),
            Some((13, _)) => (Mask::THIRTEENTH, 13),
            _ if cursor.take_any(&["root", "Root"]) => {
                return Err(cursor.error(start..cursor.at(), FigureProblem::RootOmitted));
            }
            _ => {
                let (span, found) = word(cursor, start);
                return Err(cursor.error(span, FigureProblem::BadOmission { found }));
            }
        };
        cursor.take_any(&["rd", "th", "d"]);
        if self.tones.meets(tones) {
            self.tones = self.tones.without(tones);
            return Ok(());
        }
        // Redundant but harmless: the figure leaves these out already.
        if matches!((number, self.figure), (3, Some(11)) | (11, Some(13))) && !self.suspended {
            return Ok(());
        }
        Err(cursor.error(start..cursor.at(), FigureProblem::NothingToOmit { number }))
    }

    fn read_suspension(
        &mut self,
        cursor: &mut Cursor<'_>,
        start: usize,
    ) -> Result<(), FigureError> {
        let tones = match cursor.digits() {
            "" => Mask::FOURTH,
            "4" => Mask::FOURTH,
            "24" | "42" => Mask::SECOND.with(Mask::FOURTH),
            "2" => Mask::SECOND,
            "7" if self.figure.is_none() => {
                // `sus7` is 7sus4 with the figure behind.
                self.figure = Some(7);
                self.tones = self.tones.with(Mask::FLAT_SEVENTH);
                Mask::FOURTH
            }
            digits => {
                let end = cursor.at() + digits.len();
                let found = cursor.text()[start..end].to_owned();
                let figure = match digits {
                    "7" => Some(7),
                    "9" => Some(9),
                    "13" => Some(13),
                    _ => None,
                };
                return Err(
                    cursor.error(start..end, FigureProblem::SuspendedFigure { found, figure })
                );
            }
        };
        cursor.skip(cursor.digits().len());
        let second = match tones {
            // After a number `/4` is a bass.
            Mask::SECOND if self.seed.before != Before::Number && cursor.take("/4") => true,
            Mask::SECOND => cursor.take("sus4"),
            Mask::FOURTH => cursor.take("sus2"),
            _ => false,
        };
        let tones = if second {
            Mask::SECOND.with(Mask::FOURTH)
        } else {
            tones
        };
        let span = start..cursor.at();
        if self.suspended {
            return Err(cursor.error(span, FigureProblem::SuspendedTwice));
        }
        self.refuse_more_than_alt(cursor, start)?;
        if self.seed.minor {
            return Err(self.lower_suffix(cursor, start));
        }
        if self.tones.meets(Mask::FLAT_THIRD) {
            return Err(cursor.error(span, FigureProblem::TwoThirds));
        }
        if self.figure == Some(5) {
            return Err(cursor.error(
                span,
                FigureProblem::PowerQuality {
                    found: cursor.text()[start..cursor.at()].to_owned(),
                },
            ));
        }
        if tones.meets(Mask::SECOND) && self.tones.meets(Mask::NINTH) {
            return Err(cursor.error(span, FigureProblem::SecondAndNinth));
        }
        if self.tones.meets(tones) {
            return Err(Build::twice(
                cursor,
                start,
                Degree::at(if tones == Mask::SECOND { 2 } else { 4 }, 0),
            ));
        }
        // In an eleventh chord the fourth is there already, an octave higher.
        self.tones = self.tones.without(Mask::THIRDS).with(tones);
        if self.figure == Some(11) {
            self.tones = self.tones.without(Mask::ELEVENTH);
        }
        self.suspended = true;
        Ok(())
    }

    fn set_altered(&mut self, cursor: &Cursor<'_>, start: usize) -> Result<(), FigureError> {
        let untouched = match self.figure {
            None => self.tones == Mask::ROOT.with(Mask::THIRD).with(Mask::FIFTH),
            Some(7) => {
                self.tones
                    == Mask::ROOT
                        .with(Mask::THIRD)
                        .with(Mask::FIFTH)
                        .with(Mask::FLAT_SEVENTH)
            }
            Some(_) => false,
        };
        if !untouched || matches!(self.quality, Quality::Major) {
            return Err(cursor.error(start..cursor.at(), FigureProblem::AltPlace));
        }
        self.tones = Mask::ALTERED;
        self.altered = true;
        self.figure = Some(7);
        Ok(())
    }

    fn refuse_more_than_alt(&self, cursor: &Cursor<'_>, start: usize) -> Result<(), FigureError> {
        if self.altered {
            return Err(cursor.error(start..cursor.at(), FigureProblem::AltMore));
        }
        Ok(())
    }

    /// `(maj7)` after a triad or a sixth, `m9(maj7)`, and `(maj9)` as a figure of its own.
    fn set_major_seventh(
        &mut self,
        cursor: &mut Cursor<'_>,
        start: usize,
    ) -> Result<(), FigureError> {
        let figure = match cursor.digits() {
            "7" => 7,
            "9" => 9,
            "11" => 11,
            "13" => 13,
            "" if TRIANGLES
                .iter()
                .any(|mark| cursor.text()[start..cursor.at()].ends_with(mark)) =>
            {
                7
            }
            _ => {
                let mark = cursor.text()[start..cursor.at()].to_owned();
                return Err(cursor.error(start..cursor.at(), FigureProblem::NoFigure { mark }));
            }
        };
        cursor.skip(cursor.digits().len());
        self.refuse_more_than_alt(cursor, start)?;
        let held = self.tones.and(Mask::SEVENTHS);
        let replaces = self.quality == Quality::Minor
            && !self.major_seventh
            && figure == 7
            && matches!(self.figure, Some(9 | 11 | 13));
        if let Some(held) = held.degrees().next()
            && !replaces
        {
            let asked = Degree::at(7, 0);
            let problem = if held == asked {
                FigureProblem::Twice { degree: asked }
            } else {
                FigureProblem::TwoSevenths { held, asked }
            };
            return Err(cursor.error(start..cursor.at(), problem));
        }
        self.major_seventh = true;
        self.tones = self.tones.without(Mask::SEVENTHS).with(Mask::SEVENTH);
        if figure > 7 {
            self.tones = self.tones.with(Mask::NINTH);
        }
        if figure == 11 {
            let third = if self.suspended {
                Mask::EMPTY
            } else {
                Mask::THIRD
            };
            self.tones = self.tones.without(third).with(Mask::ELEVENTH);
        }
        if figure == 13 {
            self.tones = self.tones.with(Mask::THIRTEENTH);
        }
        if self.figure.is_none() {
            self.figure = Some(figure);
        }
        Ok(())
    }

    fn read_alteration(
        &mut self,
        cursor: &mut Cursor<'_>,
        start: usize,
        alter: i8,
    ) -> Result<(), FigureError> {
        let sign = &cursor.text()[start..cursor.at()];
        let head = || {
            cursor.text()[..self.seed.head].to_owned()
                + if self.tones.meets(Mask::FLAT_THIRD) {
                    "m"
                } else {
                    ""
                }
        };
        let minor = self.tones.meets(Mask::FLAT_THIRD);
        let Some((number, length)) = number(cursor) else {
            // `C7+` alone raises the fifth; after a minor chord it is as often meant for the seventh.
            if sign == "+" && !minor && matches!(self.figure, Some(7 | 9 | 11 | 13)) {
                return self.alter(cursor, start, 1, 5);
            }
            let signed = matches!(sign, "+" | "-" | "\u{2212}" | "\u{2013}");
            if signed && self.figure.is_some() {
                let (sign, head) = (if sign == "+" { "+" } else { "-" }.to_owned(), head());
                return Err(cursor.error(
                    start..cursor.at(),
                    FigureProblem::UnclearSign { sign, head },
                ));
            }
            let (span, found) = word(cursor, start);
            let problem = if signed {
                FigureProblem::UnknownSuffix { found }
            } else {
                FigureProblem::BadAlteration {
                    found,
                    sharp: alter > 0,
                    number: 0,
                }
            };
            return Err(cursor.error(span, problem));
        };
        if minor && number == 7 && alter > 0 && !self.tones.meets(Mask::SEVENTHS) {
            // `m#7` can only be the major seventh, `m+7` may be meant for the fifth.
            if sign != "+" {
                return self.set_major_seventh(cursor, start);
            }
            let head = head();
            cursor.skip(length);
            let problem = FigureProblem::UnclearSign {
                sign: "+7".to_owned(),
                head,
            };
            return Err(cursor.error(start..cursor.at(), problem));
        }
        cursor.skip(length);
        self.alter(cursor, start, alter, number)
    }

    fn alter(
        &mut self,
        cursor: &Cursor<'_>,
        start: usize,
        alter: i8,
        number: u8,
    ) -> Result<(), FigureError> {
        let span = start..cursor.at();
        self.refuse_more_than_alt(cursor, start)?;
        if !matches!((number, alter), (5 | 9, _) | (6 | 13, -1) | (4 | 11, 1)) {
            let found = cursor.text()[span.clone()].to_owned();
            let (sharp, number) = (alter > 0, u32::from(number));
            return Err(cursor.error(
                span,
                FigureProblem::BadAlteration {
                    found,
                    sharp,
                    number,
                },
            ));
        }
        let degree = self.color(number, alter);
        let number = degree.number();
        let tone = Mask::of(degree).unwrap_or(Mask::EMPTY);
        if self.tones.meets(tone) {
            return Err(Build::twice(cursor, start, degree));
        }
        let own = match self.figure {
            Some(69) => matches!(number, 6 | 9),
            Some(figure) => figure == number,
            None => false,
        };
        let natural = Mask::of(Degree::at(number, 0)).unwrap_or(Mask::EMPTY);
        // `C6(b13)` and the like are left alone; only the chord's own number may not be altered.
        if own && self.tones.meets(natural) {
            let figure = self.figure.unwrap_or(0);
            return Err(cursor.error(
                span,
                FigureProblem::OwnFigure {
                    found: degree,
                    figure,
                },
            ));
        }
        match number {
            5 => {
                if let Some(held) = self.fixed_fifth() {
                    return Err(cursor.error(
                        span,
                        FigureProblem::TwoFifths {
                            held,
                            asked: degree,
                        },
                    ));
                }
                self.tones = self.tones.without(Mask::FIFTH);
            }
            // In C11 and C13 the ninth is implied and gives way.
            9 if matches!(self.figure, Some(11 | 13)) => {
                self.tones = self.tones.without(Mask::NINTH)
            }
            _ => {}
        }
        self.tones = self.tones.with(tone);
        Ok(())
    }
}
