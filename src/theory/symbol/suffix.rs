//! The suffix of a symbol: quality, figure, then alterations, additions, omissions and suspensions.

mod modifier;

use crate::theory::chord::mask::Mask;
use crate::theory::cursor::Cursor;
use crate::theory::degree::Degree;
use crate::theory::figure_error::{FigureError, FigureProblem};

/// What is known from the text before the suffix.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seed {
    /// A numeral in lower case: the third is minor unless the suffix says more.
    pub(crate) minor: bool,
    /// How the root is written.
    pub(crate) before: Before,
    /// Byte at which the suffix begins.
    pub(crate) head: usize,
}

/// How the root before a suffix is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Before {
    /// A note letter with its accidentals.
    Letter,
    /// A Roman numeral, after which the figures of inversions are likely.
    Roman,
    /// A number, after which a slash and a number are a bass.
    Number,
}

/// The triad a suffix begins with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Quality {
    Plain,
    Major,
    Triangle,
    Minor,
    Diminished,
    HalfDiminished,
    Augmented,
    Dominant,
}

/// Spellings of qualities (common practice), longest first where one begins another.
const QUALITIES: [(&str, Quality); 43] = [
    ("minor", Quality::Minor),
    ("min", Quality::Minor),
    ("Min", Quality::Minor),
    ("MIN", Quality::Minor),
    ("mi", Quality::Minor),
    ("Mi", Quality::Minor),
    ("MI", Quality::Minor),
    ("major", Quality::Major),
    ("maj", Quality::Major),
    ("Maj", Quality::Major),
    ("MAJ", Quality::Major),
    ("ma", Quality::Major),
    ("Ma", Quality::Major),
    ("MA", Quality::Major),
    ("M", Quality::Major),
    ("m", Quality::Minor),
    ("-", Quality::Minor),
    ("\u{2212}", Quality::Minor),
    ("\u{2013}", Quality::Minor),
    ("dim", Quality::Diminished),
    ("Dim", Quality::Diminished),
    ("DIM", Quality::Diminished),
    ("\u{b0}", Quality::Diminished),
    ("\u{ba}", Quality::Diminished),
    ("o", Quality::Diminished),
    ("half-dim", Quality::HalfDiminished),
    ("hdim", Quality::HalfDiminished),
    ("h", Quality::HalfDiminished),
    ("\u{f8}", Quality::HalfDiminished),
    ("\u{d8}", Quality::HalfDiminished),
    ("\u{2205}", Quality::HalfDiminished),
    ("aug", Quality::Augmented),
    ("Aug", Quality::Augmented),
    ("AUG", Quality::Augmented),
    ("+", Quality::Augmented),
    ("\u{394}", Quality::Triangle),
    ("\u{2206}", Quality::Triangle),
    ("\u{25b3}", Quality::Triangle),
    ("\u{25b5}", Quality::Triangle),
    ("^", Quality::Triangle),
    ("dominant", Quality::Dominant),
    ("dom", Quality::Dominant),
    ("Dom", Quality::Dominant),
];

/// Marks of a major seventh after another quality or in brackets; a figure follows, the triangles may stand alone.
const MAJOR_MARKS: [&str; 7] = ["maj", "Maj", "MAJ", "ma", "Ma", "MA", "M"];
const TRIANGLES: [&str; 5] = ["\u{394}", "\u{2206}", "\u{25b3}", "\u{25b5}", "^"];

/// Whether there is an `m` here with a modifier that begins with an `a`, not an `ma`.
fn is_minor_word(rest: &str) -> bool {
    let after = rest.strip_prefix(['m', 'M']).unwrap_or("");
    ["add", "Add", "ADD", "alt", "aug"]
        .iter()
        .any(|word| after.starts_with(word))
}

/// A chord while its suffix is read.
struct Build {
    tones: Mask,
    quality: Quality,
    /// The number the chord is named by: 5, 6, 7, 9, 11 or 13; 69 for six-nine.
    figure: Option<u8>,
    /// Whether the seventh is a major one by its mark.
    major_seventh: bool,
    suspended: bool,
    altered: bool,
    seed: Seed,
}

/// Reads a suffix up to a free slash or the end of the text.
pub(crate) fn read_suffix(cursor: &mut Cursor<'_>, seed: Seed) -> Result<Mask, FigureError> {
    let mut build = Build {
        tones: Mask::EMPTY,
        quality: Quality::Plain,
        figure: None,
        major_seventh: false,
        suspended: false,
        altered: false,
        seed,
    };
    // Most symbols are a root alone or with one of the simplest suffixes; they take the same steps.
    build.read_quality(cursor)?;
    build.read_figure(cursor)?;
    build.set_base();
    build.read_modifiers(cursor)?;
    Ok(build.tones)
}

impl Build {
    fn read_quality(&mut self, cursor: &mut Cursor<'_>) -> Result<(), FigureError> {
        let start = cursor.at();
        let rest = cursor.rest();
        if rest.is_empty() || rest.as_bytes()[0].is_ascii_digit() {
            if self.seed.minor {
                self.quality = Quality::Minor;
            }
            return Ok(());
        }
        for (spelling, quality) in QUALITIES {
            if !rest.starts_with(spelling) {
                continue;
            }
            // `madd9` is a minor chord with an addition.
            if matches!(spelling, "ma" | "Ma" | "MA") && is_minor_word(rest) {
                continue;
            }
            if rest.starts_with("omit") {
                continue;
            }
            self.quality = quality;
            cursor.skip(spelling.len());
            break;
        }
        let sign = &cursor.text()[start..cursor.at()];
        match self.quality {
            Quality::Minor
                if matches!(sign, "-" | "\u{2212}" | "\u{2013}") && cursor.digits() == "5" =>
            {
                let root = cursor.text()[..start].to_owned();
                return Err(cursor.error(start..cursor.at() + 1, FigureProblem::MinusFive { root }));
            }
            // `C+5` is augmented by either reading.
            Quality::Augmented if sign == "+" && cursor.digits() == "5" => cursor.skip(1),
            Quality::Plain if self.seed.minor => self.quality = Quality::Minor,
            Quality::Major | Quality::Triangle if self.seed.minor => {
                self.major_seventh = true;
                if self.quality == Quality::Triangle && cursor.digits().is_empty() {
                    self.figure = Some(7);
                }
                self.quality = Quality::Minor;
                return self.require_figure(cursor, start);
            }
            Quality::Augmented | Quality::Dominant if self.seed.minor => {
                return Err(self.lower_suffix(cursor, start));
            }
            _ => {}
        }
        if matches!(
            self.quality,
            Quality::Minor | Quality::Diminished | Quality::Augmented
        ) {
            self.read_major_mark(cursor)?;
        }
        Ok(())
    }

    /// A major seventh after minor, diminished or augmented: `mMaj7`, `m/maj7`, `dimM7`, `+maj7`, and a bare triangle.
    fn read_major_mark(&mut self, cursor: &mut Cursor<'_>) -> Result<(), FigureError> {
        let start = cursor.at();
        let mut ahead = *cursor;
        let slashed = ahead.take("/");
        if ahead.take_any(&TRIANGLES) {
            if ahead.digits().is_empty() {
                self.figure = Some(7);
            }
        } else {
            let word = is_minor_word(ahead.rest());
            let marked = !word && ahead.take_any(&MAJOR_MARKS);
            if !marked || slashed && ahead.digits().is_empty() {
                return Ok(());
            }
        }
        *cursor = ahead;
        self.major_seventh = true;
        self.require_figure(cursor, start)
    }

    /// A mark of a major seventh needs 7, 9, 11 or 13 behind it.
    fn require_figure(&self, cursor: &Cursor<'_>, start: usize) -> Result<(), FigureError> {
        if self.figure.is_some() || matches!(cursor.digits(), "7" | "9" | "11" | "13") {
            return Ok(());
        }
        let mark = cursor.text()[start..cursor.at()].to_owned();
        Err(cursor.error(start..cursor.at(), FigureProblem::NoFigure { mark }))
    }

    fn lower_suffix(&self, cursor: &Cursor<'_>, start: usize) -> FigureError {
        let upper = cursor.text()[..self.seed.head]
            .replace('i', "I")
            .replace('v', "V");
        let suffix = cursor.text()[self.seed.head..].to_owned();
        cursor.error(
            start..cursor.text().len(),
            FigureProblem::LowerSuffix { suffix, upper },
        )
    }

    fn read_figure(&mut self, cursor: &mut Cursor<'_>) -> Result<(), FigureError> {
        let start = cursor.at();
        let digits = cursor.digits();
        let end = start + digits.len();
        let text = |to: usize| cursor.text()[..to].to_owned();
        let figure = match digits {
            "" => return self.imply_figure(),
            "5" => 5,
            "6" => 6,
            "69" => 69,
            "7" => 7,
            "9" => 9,
            "11" => 11,
            "13" => 13,
            "2" => {
                return Err(cursor.error(
                    start..end,
                    FigureProblem::PlainTwo {
                        root: text(self.seed.head),
                        head: text(start),
                    },
                ));
            }
            "4" => {
                return Err(cursor.error(
                    start..end,
                    FigureProblem::PlainFour {
                        root: text(self.seed.head),
                        head: text(start),
                    },
                ));
            }
            "64" | "65" | "42" | "43" | "63" if self.seed.before == Before::Roman => {
                let found = digits.to_owned();
                return Err(
                    cursor.error(start..end, FigureProblem::Inversion { found, meant: None })
                );
            }
            _ => {
                let found = digits.to_owned();
                return Err(cursor.error(start..end, FigureProblem::UnknownSuffix { found }));
            }
        };
        if figure == 5
            && self.quality == Quality::Minor
            && self.seed.minor
            && self.seed.head == start
        {
            return Err(self.lower_suffix(cursor, start));
        }
        if figure == 5 && self.quality != Quality::Plain {
            let found = cursor.text()[self.seed.head..start].to_owned();
            return Err(cursor.error(self.seed.head..end, FigureProblem::PowerQuality { found }));
        }
        cursor.skip(digits.len());
        self.figure = Some(figure);
        if figure == 6 || figure == 69 {
            let kind = match self.quality {
                Quality::Diminished => "diminished",
                Quality::HalfDiminished => "half-diminished",
                Quality::Dominant => "dominant",
                _ => "",
            };
            if !kind.is_empty() {
                return Err(cursor.error(self.seed.head..end, FigureProblem::SixthQuality { kind }));
            }
            let mut ahead = *cursor;
            if figure == 6 && ahead.take("/") && ahead.digits() == "9" {
                cursor.skip(2);
                self.figure = Some(69);
            }
        }
        // `C7M` is a way to write Cmaj7.
        let mut ahead = *cursor;
        if figure == 7
            && matches!(self.quality, Quality::Plain | Quality::Minor)
            && ahead.take("M")
            && !ahead.peek().is_some_and(char::is_alphanumeric)
        {
            *cursor = ahead;
            self.major_seventh = true;
        }
        Ok(())
    }

    /// Qualities that name a seventh chord without its figure.
    fn imply_figure(&mut self) -> Result<(), FigureError> {
        if matches!(
            self.quality,
            Quality::Triangle | Quality::HalfDiminished | Quality::Dominant
        ) {
            self.figure = Some(7);
        }
        Ok(())
    }

    /// The degrees that quality and figure mean.
    fn set_base(&mut self) {
        let (third, fifth, seventh) = match self.quality {
            Quality::Plain | Quality::Dominant => (Mask::THIRD, Mask::FIFTH, Mask::FLAT_SEVENTH),
            Quality::Major | Quality::Triangle => (Mask::THIRD, Mask::FIFTH, Mask::SEVENTH),
            Quality::Minor => (Mask::FLAT_THIRD, Mask::FIFTH, Mask::FLAT_SEVENTH),
            Quality::Diminished => (Mask::FLAT_THIRD, Mask::FLAT_FIFTH, Mask::DIM_SEVENTH),
            Quality::HalfDiminished => (Mask::FLAT_THIRD, Mask::FLAT_FIFTH, Mask::FLAT_SEVENTH),
            Quality::Augmented => (Mask::THIRD, Mask::SHARP_FIFTH, Mask::FLAT_SEVENTH),
        };
        let seventh = if self.major_seventh {
            Mask::SEVENTH
        } else {
            seventh
        };
        let ninth = seventh.with(Mask::NINTH);
        let root = Mask::ROOT.with(fifth);
        self.tones = match self.figure {
            None => root.with(third),
            Some(5) => root,
            Some(6) => root.with(third).with(Mask::SIXTH),
            Some(69) => root.with(third).with(Mask::SIXTH).with(Mask::NINTH),
            Some(7) => root.with(third).with(seventh),
            Some(9) => root.with(third).with(ninth),
            // A major third and the eleventh rub: players leave the third out.
            Some(11) if third == Mask::THIRD => root.with(ninth).with(Mask::ELEVENTH),
            Some(11) => root.with(third).with(ninth).with(Mask::ELEVENTH),
            Some(_) => root.with(third).with(ninth).with(Mask::THIRTEENTH),
        };
    }

    /// Whether the fifth is fixed by the quality.
    fn fixed_fifth(&self) -> Option<Degree> {
        match self.quality {
            Quality::Diminished | Quality::HalfDiminished => Some(Degree::at(5, -1)),
            Quality::Augmented => Some(Degree::at(5, 1)),
            _ => None,
        }
    }
}
