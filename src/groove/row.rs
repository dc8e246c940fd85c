//! The rows of a groove: marks on steps of the same length, bar after bar.

use std::fmt;

/// Most bars of a row.
const MOST_BARS: usize = 8;
/// Most steps of a bar.
const MOST_STEPS: usize = 48;

/// How hard a voice of the kit is struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Force {
    /// `X`: an accent.
    Accent,
    /// `x`: a stroke.
    Stroke,
    /// `g`: a ghost, hardly heard.
    Ghost,
}

/// What a voice of the kit does on a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KitMark {
    /// How hard it is struck.
    pub force: Force,
    /// Whether it comes every time; `?` and `,` come in some bars only.
    pub always: bool,
}

/// What the bass does on a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BassMark {
    /// `1`: the root, or the bass that is written.
    Root,
    /// `3`: the third, or what stands for it.
    Third,
    /// `5`: the fifth.
    Fifth,
    /// `6`: the sixth over a chord with a major third, the seventh over others.
    Sixth,
    /// `8`: the root an octave higher.
    Octave,
    /// `n`: a note that leads to the root of the next chord; the fifth where the chord stays.
    Next,
    /// `g`: the root, short and hardly heard.
    Dead,
    /// `?`: the root, in some bars.
    RootAtTimes,
    /// `,`: a dead note, in some bars.
    DeadAtTimes,
    /// `.`: what sounds goes on.
    Hold,
    /// `w`: the note of a walk on this beat.
    Walk,
    /// `o`: silence.
    Rest,
}

impl BassMark {
    /// Whether a note begins in every bar.
    pub const fn always_begins(self) -> bool {
        !matches!(
            self,
            BassMark::Hold | BassMark::Rest | BassMark::RootAtTimes | BassMark::DeadAtTimes
        )
    }
}

/// A letter of a row and what it stands for.
trait Letter: Copy {
    fn of(letter: char) -> Option<Self>;
    fn letter(self) -> char;
}

/// A row of the kit: `None` where nothing is struck.
pub type KitRow = Row<Option<KitMark>>;

/// The row of the bass.
pub type BassRow = Row<BassMark>;

/// Marks on the steps of one bar or more, the steps of a bar of the same length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row<T>(Vec<Vec<T>>);

/// Why a text is not a row.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RowError {
    /// A letter that means nothing there.
    #[error("`{letter}` is no mark, on step {step} of bar {bar}")]
    Mark {
        /// The letter.
        letter: char,
        /// The bar of the row, counted from 1.
        bar: usize,
        /// The step, counted from 1.
        step: usize,
    },
    /// A bar without steps, or with too many.
    #[error("a bar of a groove has 1 to {MOST_STEPS} steps, found {0}")]
    Steps(usize),
    /// Too many bars.
    #[error("a groove has 1 to {MOST_BARS} bars, found {0}")]
    Bars(usize),
}

impl Letter for Option<KitMark> {
    fn of(letter: char) -> Option<Self> {
        let mark = |force, always| Some(Some(KitMark { force, always }));
        match letter {
            'X' => mark(Force::Accent, true),
            'x' => mark(Force::Stroke, true),
            'g' => mark(Force::Ghost, true),
            '?' => mark(Force::Stroke, false),
            ',' => mark(Force::Ghost, false),
            '.' | '-' => Some(None),
            _ => None,
        }
    }

    fn letter(self) -> char {
        match self {
            None => '.',
            Some(KitMark { force, always }) => match (force, always) {
                (Force::Accent, _) => 'X',
                (Force::Stroke, true) => 'x',
                (Force::Stroke, false) => '?',
                (Force::Ghost, true) => 'g',
                (Force::Ghost, false) => ',',
            },
        }
    }
}

/// The letters of the bass.
const BASS_LETTERS: [(char, BassMark); 12] = [
    ('1', BassMark::Root),
    ('3', BassMark::Third),
    ('5', BassMark::Fifth),
    ('6', BassMark::Sixth),
    ('8', BassMark::Octave),
    ('n', BassMark::Next),
    ('g', BassMark::Dead),
    ('?', BassMark::RootAtTimes),
    (',', BassMark::DeadAtTimes),
    ('w', BassMark::Walk),
    ('.', BassMark::Hold),
    ('o', BassMark::Rest),
];

impl Letter for BassMark {
    fn of(letter: char) -> Option<Self> {
        let letter = if letter == '-' { '.' } else { letter };
        BASS_LETTERS
            .iter()
            .find(|(known, _)| *known == letter)
            .map(|(_, mark)| *mark)
    }

    fn letter(self) -> char {
        BASS_LETTERS
            .iter()
            .find(|(_, mark)| *mark == self)
            .map_or('.', |(letter, _)| *letter)
    }
}

#[allow(private_bounds)] // the two kinds of marks are those above
impl<T: Letter> Row<T> {
    /// Reads marks, with spaces between or without, and `|` between bars.
    ///
    /// # Errors
    /// When a letter is no mark, or there are too few or too many steps or bars.
    pub fn read(text: &str) -> Result<Self, RowError> {
        let bars: Vec<&str> = text.trim().trim_matches('|').split('|').collect();
        if bars.len() > MOST_BARS {
            return Err(RowError::Bars(bars.len()));
        }
        let mut found = Vec::with_capacity(bars.len());
        for (bar, text) in (1..).zip(bars) {
            let letters = text.chars().filter(|c| !c.is_whitespace());
            let mut marks = Vec::new();
            for (step, letter) in (1..).zip(letters) {
                marks.push(T::of(letter).ok_or(RowError::Mark { letter, bar, step })?);
            }
            if !(1..=MOST_STEPS).contains(&marks.len()) {
                return Err(RowError::Steps(marks.len()));
            }
            found.push(marks);
        }
        Ok(Row(found))
    }
}

impl<T> Row<T> {
    /// How many bars it has, at least 1.
    pub fn bars(&self) -> usize {
        self.0.len()
    }

    /// The marks of a bar; after the last one it begins again. `bar` is counted from 0.
    pub fn bar(&self, bar: u64) -> &[T] {
        let count = self.0.len().max(1) as u64;
        usize::try_from(bar % count)
            .ok()
            .and_then(|at| self.0.get(at))
            .map_or(&[], Vec::as_slice)
    }
}

#[allow(private_bounds)] // the two kinds of marks are those above
impl<T: Letter> fmt::Display for Row<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bar = |marks: &Vec<T>| {
            let letters: Vec<String> = marks.iter().map(|m| m.letter().to_string()).collect();
            letters.join(" ")
        };
        let bars: Vec<String> = self.0.iter().map(bar).collect();
        f.write_str(&bars.join(" | "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_read_back_as_they_are_written() {
        for text in ["X . x g ? , . x", "X . . . | . . X ."] {
            assert_eq!(KitRow::read(text).unwrap().to_string(), text);
        }
        let bass = "1 . 3 5 6 8 n g ? , w . o";
        assert_eq!(BassRow::read(bass).unwrap().to_string(), bass);
        assert_eq!(
            KitRow::read("Xx|..").unwrap(),
            KitRow::read("| X x | - - |").unwrap()
        );
    }

    #[test]
    fn what_is_no_row_says_where() {
        for (text, message) in [
            ("X . z .", "`z` is no mark, on step 3 of bar 1"),
            ("X . | . 1", "`1` is no mark, on step 2 of bar 2"),
            ("", "a bar of a groove has 1 to 48 steps, found 0"),
            ("x||x", "a bar of a groove has 1 to 48 steps, found 0"),
            ("x|x|x|x|x|x|x|x|x", "a groove has 1 to 8 bars, found 9"),
        ] {
            assert_eq!(
                KitRow::read(text).unwrap_err().to_string(),
                message,
                "{text}"
            );
        }
    }
}
