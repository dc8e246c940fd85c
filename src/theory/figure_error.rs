//! What can be wrong with a figure.

use std::fmt;
use std::ops::Range;

use super::degree::{Degree, MAX_DEGREES};
use super::note_words::raised;
use super::pitch::PitchName;
use crate::diagnostic::Diagnostic;

/// The longest figure that is read, in bytes; no chord in use comes near it.
pub const MAX_FIGURE_BYTES: usize = 100;

/// A figure that could not be read, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FigureError {
    span: Range<usize>,
    problem: FigureProblem,
}

impl FigureError {
    pub(crate) const fn new(span: Range<usize>, problem: FigureProblem) -> FigureError {
        FigureError { span, problem }
    }

    /// What is wrong, as data.
    #[must_use]
    pub const fn problem(&self) -> &FigureProblem {
        &self.problem
    }
}

impl Diagnostic for FigureError {
    fn code(&self) -> &'static str {
        self.problem.code()
    }

    fn span(&self) -> Option<Range<usize>> {
        Some(self.span.clone())
    }

    fn help(&self) -> String {
        self.problem.help()
    }
}

impl fmt::Display for FigureError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problem.fmt(f)
    }
}

impl std::error::Error for FigureError {}

/// What is wrong with a figure.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each sentence says what its facts are")]
pub enum FigureProblem {
    #[error("expected a chord, found nothing")]
    Empty,
    #[error("expected a chord of at most {MAX_FIGURE_BYTES} bytes, found {bytes}")]
    TooLong { bytes: usize },
    #[error("expected a root A to G, found `{found}`")]
    NoRoot { found: char },
    #[error("a root is named by a letter A to G, found `{found}`")]
    OtherLanguage { found: String, meant: String },
    #[error("expected a root in upper case, found `{found}`")]
    LowerRoot { found: char, upper: Option<String> },
    #[error("expected sharps or flats on a note, found both")]
    MixedAccidentals,
    #[error("expected at most {most} {}, found {found}", if *.most == 1 { "sharp or flat" } else { "sharps or flats" })]
    TooManyAccidentals { most: u8, found: u32 },
    #[error("`{text}` is read as easily with a flat or sharp fifth as without a third")]
    UnclearFifth {
        text: String,
        root: String,
        single: String,
        sign: char,
    },
    #[error("expected a chord suffix, found `{found}`")]
    UnknownSuffix { found: String },
    #[error("expected a chord without spaces outside brackets, found a space")]
    Space { meant: Option<String> },
    #[error("the suffix `2` means different chords to different players")]
    PlainTwo { root: String, head: String },
    #[error("the suffix `4` means different chords to different players")]
    PlainFour { root: String, head: String },
    #[error("`-5` after a root is read as a minor chord or as a flat fifth")]
    MinusFive { root: String },
    #[error("`{sign}` here is read as a fifth or as a seventh")]
    UnclearSign { sign: String, head: String },
    #[error("expected a figure after `{mark}`")]
    NoFigure { mark: String },
    #[error("a power chord takes no `{found}`")]
    PowerQuality { found: String },
    #[error("a {kind} chord takes no sixth as its figure")]
    SixthQuality { kind: &'static str },
    #[error("expected an altered 5, 6, 9, 11 or 13, found `{found}`")]
    BadAlteration {
        found: String,
        sharp: bool,
        number: u32,
    },
    #[error("expected an addition of 2, 4, 6, 9, 11 or 13, found `{found}`")]
    BadAddition { found: String, number: u32 },
    #[error("expected 3, 5, 6, 7, 9, 11 or 13 to leave out, found `{found}`")]
    BadOmission { found: String },
    #[error("`{found}` alters the number the chord is named by")]
    OwnFigure { found: Degree, figure: u8 },
    #[error("the chord has {degree} already")]
    Twice { degree: Degree },
    #[error("expected `sus2` or `sus4`, found `{found}`")]
    SuspendedFigure { found: String, figure: Option<u8> },
    #[error("a second and a ninth are one note")]
    SecondAndNinth,
    #[error("the chord is suspended already")]
    SuspendedTwice,
    #[error("a suspended chord has no third, but the symbol asks for one")]
    TwoThirds,
    #[error("the fifth is {held} already, so it cannot be {asked} as well")]
    TwoFifths { held: Degree, asked: Degree },
    #[error("the seventh is {held} already, so it cannot be {asked} as well")]
    TwoSevenths { held: Degree, asked: Degree },
    #[error("expected `alt` directly after a root or after 7")]
    AltPlace,
    #[error("`alt` alters everything already")]
    AltMore,
    #[error("the chord has no {number} to leave out")]
    NothingToOmit { number: u32 },
    #[error("the root cannot be left out")]
    RootOmitted,
    #[error("expected `)`, found the end of the chord")]
    OpenBracket,
    #[error("expected `(` before `)`")]
    StrayBracket,
    #[error("expected `)` before another `(`")]
    NestedBracket,
    #[error("expected something in the brackets, found nothing")]
    EmptyBracket,
    #[error("expected a bass note after `/`, found nothing")]
    NoBass,
    #[error("expected a bass note A to G after `/`, found `{found}`")]
    BadBass { found: String },
    #[error("expected the end of the chord after its bass, found `{found}`")]
    AfterBass { found: String },
    #[error("expected at most {MAX_DEGREES} degrees in a chord, found more")]
    TooManyDegrees,
    #[error("expected a chord shorthand after `:`, found {}", quoted(.found))]
    UnknownShorthand { found: String },
    #[error("expected `/` and a bass or the end of the chord, found `{found}`")]
    AfterDegrees { found: String },
    #[error("expected a degree such as b3, found {}", quoted(.found))]
    BadDegree { found: String },
    #[error("expected a Roman numeral I to VII, found `{found}`")]
    UnknownNumeral { found: String },
    #[error("expected a Roman numeral in one case, found `{found}`")]
    MixedCase { found: String },
    #[error("expected a number from 1 to 7, found `{found}`")]
    NumberRange { found: String },
    #[error("the flat or sharp of a numeral stands before it, found `{found}`")]
    SignBehind { found: String, meant: String },
    #[error("figures of an inversion such as `{found}` are not read")]
    Inversion {
        found: String,
        meant: Option<String>,
    },
    #[error("a numeral in lower case has a minor third, which `{suffix}` does not allow")]
    LowerSuffix { suffix: String, upper: String },
    #[error("expected a numeral after `/`, found {}", quoted(.found))]
    NoTarget { found: String },
    #[error("expected a bare numeral after `/`, found `{found}` behind it")]
    TargetSuffix { found: String },
    #[error("expected at most {most} numerals after `/`, found more")]
    LongChain { most: usize },
    #[error("expected a number from 1 to 7 after `/`, found {}", quoted(.found))]
    NumberBass { found: String },
    #[error("`{figure}` needs a key")]
    NeedsKey { figure: String },
}

impl FigureProblem {
    /// A stable name for programs.
    #[must_use]
    const fn code(&self) -> &'static str {
        use FigureProblem as P;
        match self {
            P::Empty => "empty-chord",
            P::TooLong { .. } => "chord-too-long",
            P::NoRoot { .. } => "no-root",
            P::OtherLanguage { .. } => "note-name",
            P::LowerRoot { .. } => "lower-case-root",
            P::MixedAccidentals => "mixed-accidentals",
            P::TooManyAccidentals { .. } => "too-many-accidentals",
            P::UnclearFifth { .. } => "unclear-fifth",
            P::UnknownSuffix { .. } => "unknown-suffix",
            P::Space { .. } => "space-in-chord",
            P::SignBehind { .. } => "sign-behind",
            P::PlainTwo { .. } => "plain-two",
            P::PlainFour { .. } => "plain-four",
            P::MinusFive { .. } => "minus-five",
            P::UnclearSign { .. } => "unclear-sign",
            P::NoFigure { .. } => "no-figure",
            P::PowerQuality { .. } => "power-quality",
            P::SixthQuality { .. } => "sixth-quality",
            P::BadAlteration { .. } => "bad-alteration",
            P::BadAddition { .. } => "bad-addition",
            P::BadOmission { .. } => "bad-omission",
            P::OwnFigure { .. } => "own-figure",
            P::Twice { .. } => "degree-twice",
            P::SuspendedFigure { .. } => "suspended-figure",
            P::SecondAndNinth => "second-and-ninth",
            P::SuspendedTwice => "suspended-twice",
            P::TwoThirds => "two-thirds",
            P::TwoFifths { .. } => "two-fifths",
            P::TwoSevenths { .. } => "two-sevenths",
            P::AltPlace => "alt-place",
            P::AltMore => "alt-more",
            P::NothingToOmit { .. } => "nothing-to-omit",
            P::RootOmitted => "root-omitted",
            P::OpenBracket => "open-bracket",
            P::StrayBracket => "stray-bracket",
            P::NestedBracket => "nested-bracket",
            P::EmptyBracket => "empty-bracket",
            P::NoBass => "no-bass",
            P::BadBass { .. } => "bad-bass",
            P::AfterBass { .. } => "after-bass",
            P::TooManyDegrees => "too-many-degrees",
            P::UnknownShorthand { .. } => "unknown-shorthand",
            P::AfterDegrees { .. } => "after-degrees",
            P::BadDegree { .. } => "bad-degree",
            P::UnknownNumeral { .. } => "unknown-numeral",
            P::MixedCase { .. } => "mixed-case",
            P::NumberRange { .. } => "number-range",
            P::Inversion { .. } => "inversion",
            P::LowerSuffix { .. } => "lower-suffix",
            P::NoTarget { .. } => "no-target",
            P::TargetSuffix { .. } => "target-suffix",
            P::LongChain { .. } => "long-chain",
            P::NumberBass { .. } => "number-bass",
            P::NeedsKey { .. } => "needs-key",
        }
    }

    /// One line saying what to write instead.
    #[must_use]
    fn help(&self) -> String {
        use FigureProblem as P;
        let fixed = match self {
            P::Empty => "write a chord such as `Am7`, or `N.C.` for none",
            P::TooLong { .. } => "write the chord as one symbol such as `C13#11`",
            P::NoRoot { .. } => {
                "begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`"
            }
            P::LowerRoot { upper: None, .. } => "begin with a root in upper case, as in `Am7`",
            P::MixedAccidentals => "write only sharps or only flats, such as `Bb` or `F#`",
            P::TooManyAccidentals { most: 1, .. } => {
                "write one flat or sharp at most, as in `bVII` or `b7`"
            }
            P::TooManyAccidentals { .. } => {
                "write a nearer name for the same note, such as `A` for `Bbb`"
            }
            P::UnknownSuffix { .. } => {
                "write a suffix such as `m7`, `maj7`, `9`, `sus4`, `dim`, `add9` or `7b9`"
            }
            P::Space { meant: None } => {
                "join the parts, as in `C7b9`, or put them in brackets, as in `C7(b9, #11)`"
            }
            P::NoFigure { .. } => "write 7, 9, 11 or 13 after it, as in `CmMaj7`",
            P::PowerQuality { .. } => "write `C5` for root and fifth alone, or leave the 5 out",
            P::SixthQuality { kind: "dominant" } => {
                "write `6` for the sixth chord or `13` for the seventh with a sixth"
            }
            P::SixthQuality { .. } => "write `dim7`, which has the same sound, or `m6b5`",
            P::BadOmission { .. } => "write `no3` or `no5`",
            P::SuspendedFigure { figure: None, .. } => "write `sus2` or `sus4`",
            P::SecondAndNinth => "write `9sus4`, `7sus2` or `9(no3)`",
            P::SuspendedTwice => "write `sus2`, `sus4` or `sus2sus4` once",
            P::TwoThirds => "write `7sus4` or `sus2` without m, dim or a third, or leave `sus` out",
            P::TwoFifths { .. } => "write one of the two, as in `m7b5` or `7#5`",
            P::TwoSevenths { .. } => "write one of the two, as in `m7` or `mMaj7`",
            P::AltPlace => "write `7alt`",
            P::AltMore => "write `7alt` alone, or list the alterations, as in `7b9#11`",
            P::NothingToOmit { .. } => "leave the omission out",
            P::RootOmitted => {
                "write the chord that is left, such as `Em7b5` for a C9 without its root"
            }
            P::OpenBracket => "close the bracket, as in `C7(b9)`",
            P::StrayBracket => "take the `)` away or write `(` before it, as in `C7(b9)`",
            P::NestedBracket => "write one pair of brackets, as in `C7(b9,#11)`",
            P::EmptyBracket => "take the brackets away or fill them, as in `C7(b9)`",
            P::NoBass => "write a note after the slash, as in `Am/G`, or take the slash away",
            P::AfterBass { .. } => "write the suffix before the slash, as in `Am7/G`",
            P::TooManyDegrees => "leave some additions out",
            P::UnknownShorthand { .. } => {
                "write maj, min, dim, aug, 7, maj7, min7, dim7, hdim7, minmaj7, sus4 or degrees in brackets"
            }
            P::AfterDegrees { .. } => "write one bracket and then the bass, as in `C:maj7(9)/3`",
            P::BadDegree { .. } => {
                "write 1 to 13 with flats or sharps before it, such as `b3` or `#11`"
            }
            P::UnknownNumeral { .. } => {
                "write I, II, III, IV, V, VI or VII, in lower case for minor"
            }
            P::MixedCase { .. } => {
                "write capitals for major, as in `IV`, or small letters for minor, as in `iv`"
            }
            P::NumberRange { .. } => {
                "write a number from 1 to 7 first, then its suffix, as in `57` for V7"
            }
            P::Inversion { meant: None, .. } => {
                "write the chord in letters with its bass, such as `C/E`, or as a number, such as `1/3`"
            }
            P::NoTarget { .. } => "write the numeral it leads to, as in `V7/V`",
            P::TargetSuffix { .. } => "write the suffix before the slash, as in `V7/ii`",
            P::LongChain { .. } => "write the chord from the key itself, such as `VI7` for `V7/ii`",
            P::NumberBass { .. } => "write the bass as a number of the key, as in `1/3`",
            P::NeedsKey { .. } => {
                "give a key, such as `key = \"A minor\"`, or write the chord in letters"
            }
            _ => return self.help_with_facts(),
        };
        fixed.to_owned()
    }

    /// The lines that quote what was written.
    fn help_with_facts(&self) -> String {
        use FigureProblem as P;
        match self {
            P::LowerRoot { upper: Some(upper), .. } => format!("write `{upper}`"),
            // Elsewhere `Vb` is an inversion.
            P::SignBehind { meant, .. } => {
                format!("write `{meant}` for the chord on that flat or sharp degree")
            }
            P::OtherLanguage { meant, .. }
            | P::Space { meant: Some(meant) } => format!("write `{meant}`"),
            P::Inversion { meant: Some(meant), .. } => format!("write `{meant}`, a number with its bass"),
            P::UnclearFifth { root, single, sign, .. } => {
                format!("write `{single}({sign}5)` for the altered fifth, or `{root}:(1,5)` for root and fifth alone")
            }
            P::SuspendedFigure { figure: Some(figure), .. } => format!("write `{figure}sus4`, or `sus2` or `sus4` alone"),
            P::PlainTwo { root, head } => {
                format!("write `{root}sus2` for 1 2 5 or `{head}add9` to keep the third")
            }
            P::PlainFour { root, head } => {
                format!("write `{root}sus4` for 1 4 5 or `{head}add11` to keep the third")
            }
            P::MinusFive { root } => format!("write `{root}m` for minor, `{root}(b5)` or `{root}dim`"),
            P::UnclearSign { sign, head } if sign.starts_with('+') => {
                format!("write `{head}7#5` for the fifth or `{head}Maj7` for the seventh")
            }
            P::UnclearSign { head, .. } => format!("write `{head}7b5` for the fifth or `{head}7` for the seventh"),
            P::BadAlteration { sharp, number, .. } => alteration_help(*sharp, *number).to_owned(),
            P::BadAddition { number: 7, .. } => "write `7` for the minor seventh or `maj7` for the major".to_owned(),
            P::BadAddition { .. } => "write `add9`, `add11` or another color, as in `Cadd9`".to_owned(),
            P::OwnFigure { figure: 5, .. } => "write the triad with it, as in `C(b5)`".to_owned(),
            P::OwnFigure { figure: 6, .. } => "leave the 6 out, as in `Cm(b6)`".to_owned(),
            P::OwnFigure { found, figure } => {
                let lower = match figure {
                    11 | 13 => 9,
                    69 => 6,
                    _ => 7,
                };
                format!("name the chord by a lower number, as in `{lower}{found}`")
            }
            P::Twice { degree } => format!("write {degree} once"),
            P::BadBass { found } if found.strip_prefix(['b', '#']).is_some_and(counted) => {
                "write an alteration in brackets, as in `C7(b9)`, and a bass as a note, as in `C/E`".to_owned()
            }
            P::BadBass { found } if found.starts_with("9") || found.starts_with("11") || found.starts_with("13") => {
                "write an addition in brackets, as in `C7(13)`, and a bass as a note, as in `C/E`".to_owned()
            }
            P::BadBass { found } if counted(found) => {
                "write the bass as a note, as in `C/E`; only numbers such as `1/3` and `C:maj/3` count it".to_owned()
            }
            P::BadBass { found } if PitchName::read(&raised(found)).is_ok() => {
                format!("write `{}` after the slash", raised(found))
            }
            P::BadBass { .. } => "write a note in upper case after the slash, as in `Am/G`".to_owned(),
            P::LowerSuffix { suffix, upper } => format!("write `{upper}{suffix}`"),
            _ => String::new(),
        }
    }
}

/// Whether a text begins with a number.
fn counted(text: &str) -> bool {
    text.starts_with(|next: char| next.is_ascii_digit())
}

/// The text in quotation marks, or that there is none.
fn quoted(found: &str) -> String {
    if found.is_empty() {
        "nothing".to_owned()
    } else {
        format!("`{found}`")
    }
}

/// What to write for an invalid alteration.
const fn alteration_help(sharp: bool, number: u32) -> &'static str {
    match (sharp, number) {
        (false, 3) => "write `m` for the minor third",
        (true, 3) => "write `sus4` for the fourth",
        (false, 11 | 4) => "leave it out: the third has that sound",
        (_, 2) => "write `b9` or `#9`",
        (true, 6 | 13) | (false, 7) => "write `7` for the minor seventh",
        (true, 7) => "write `maj7` for the major seventh",
        _ => "write b5, #5, b9, #9, #11 or b13",
    }
}
