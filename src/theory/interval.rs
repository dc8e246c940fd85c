//! The distance between two spelled notes. Moving a note by an interval is in `pitch.rs`.

use std::fmt;
use std::ops::Neg;

/// A spelled distance: diatonic steps and semitones, both positive when it ascends.
///
/// The steps decide the letter, the semitones the sound: an augmented second is one step and three semitones, a
/// minor third two steps and three semitones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Interval {
    steps: i32,
    semitones: i32,
}

impl Interval {
    /// The distance from a note to itself.
    pub const UNISON: Interval = Interval {
        steps: 0,
        semitones: 0,
    };

    /// An interval of so many diatonic steps (zero-based: a third is two) and semitones.
    #[must_use]
    pub const fn new(steps: i32, semitones: i32) -> Interval {
        Interval { steps, semitones }
    }

    /// Diatonic steps, zero-based: 0 for a unison, 2 for a third, 7 for an octave, negative when it descends.
    #[must_use]
    pub const fn steps(self) -> i32 {
        self.steps
    }

    /// Semitones, negative when it descends.
    #[must_use]
    pub const fn semitones(self) -> i32 {
        self.semitones
    }

    /// The short name: quality letter and number, `P5`, `m3`, `A4`, `d7`, `M9`, with `-` before it when it descends.
    ///
    /// Qualities (common practice): d diminished, m minor, P perfect, M major, A augmented, doubled letters for more.
    #[must_use]
    pub fn name(self) -> String {
        let down = self.steps < 0 || (self.steps == 0 && self.semitones < 0);
        let (steps, semitones) = if down {
            (-i64::from(self.steps), -i64::from(self.semitones))
        } else {
            (i64::from(self.steps), i64::from(self.semitones))
        };
        // Semitones of the major and perfect intervals of one octave.
        let (plain, perfect) = match steps % 7 {
            0 => (0, true),
            1 => (2, false),
            2 => (4, false),
            3 => (5, true),
            4 => (7, true),
            5 => (9, false),
            _ => (11, false),
        };
        let off = semitones - plain - 12 * (steps / 7);
        let quality = match (off, perfect) {
            (0, true) => "P".to_owned(),
            (0, false) => "M".to_owned(),
            (-1, false) => "m".to_owned(),
            (1.., _) => repeated('A', off),
            (_, true) => repeated('d', -off),
            (_, false) => repeated('d', -off - 1),
        };
        format!("{}{quality}{}", if down { "-" } else { "" }, steps + 1)
    }
}

/// The quality letter, repeated for each extra semitone, or with a count where that would be unreadable.
fn repeated(letter: char, times: i64) -> String {
    match usize::try_from(times) {
        Ok(times @ 0..=4) => letter.to_string().repeat(times),
        _ => format!("{times}x{letter}"),
    }
}

impl Neg for Interval {
    type Output = Interval;

    /// The same distance the other way.
    fn neg(self) -> Interval {
        Interval {
            steps: self.steps.saturating_neg(),
            semitones: self.semitones.saturating_neg(),
        }
    }
}

impl fmt::Display for Interval {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name())
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test fails by panicking")]
mod tests {
    use super::*;
    use crate::theory::pitch::PitchName;

    #[test]
    fn names_intervals_by_their_spelling() {
        for (from, to, expected) in [
            ("C", "C", "P1"),
            ("A", "C", "m3"),
            ("C", "E", "M3"),
            ("C", "D#", "A2"),
            ("F", "B", "A4"),
            ("B", "F", "d5"),
            ("C", "Bbb", "d7"),
            ("C", "B#", "A7"),
            ("C", "Cb", "-A1"),
            ("E", "D", "m7"),
            ("Gb", "B#", "AA3"),
        ] {
            let read = |text| PitchName::read(text).unwrap();
            let interval = Interval::between(read(from), read(to));
            assert_eq!(interval.name(), expected, "{from} {to}");
            assert_eq!(read(from).up(interval), read(to));
        }
        assert_eq!(Interval::new(8, 14).name(), "M9");
        assert_eq!(Interval::new(-3, -5).name(), "-P4");
        assert_eq!((-Interval::new(-3, -5)).name(), "P4");
        assert!(!Interval::new(i32::MIN, i32::MAX).name().is_empty());
    }
}
