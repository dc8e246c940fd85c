//! Meters: simple, compound and grouped.

use std::fmt;

use super::TICKS_PER_QUARTER;
use crate::diagnostic::Diagnostic;

const WHOLE_TICKS: u64 = 4 * TICKS_PER_QUARTER;
const MOST_UNITS: u8 = 32;
const MOST_GROUPS: usize = 16;

/// A meter: the number and value of the notes that fill a bar, and how they group into beats.
///
/// The beat is the denominator note; dotted (three of them) in 6/8, 9/8, 12/8 and their sixteenth-note kin; a
/// group where groups are written, so `7/8 = 2+2+3` has three beats.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Meter {
    numerator: u8,
    denominator: u8,
    groups: [u8; MOST_GROUPS],
    group_count: u8,
}

/// One beat of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beat {
    /// Ticks from the bar line.
    pub offset_ticks: u64,
    /// Length in ticks.
    pub length_ticks: u64,
}

/// Why a text is not a meter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MeterError {
    /// Not of the form `4/4`.
    #[error("a meter is written like 4/4 or 7/8 = 2+2+3, found `{0}`")]
    Form(String),
    /// The upper number is out of range.
    #[error("the upper number of a meter is 1 to 32, found {0}")]
    Numerator(String),
    /// The lower number is not a note value this crate counts in.
    #[error("the lower number of a meter is 1, 2, 4, 8, 16 or 32, found {0}")]
    Denominator(String),
    /// The groups do not fill the bar.
    #[error("the groups of a meter add up to its upper number {expected}, found {found}")]
    GroupSum {
        /// The upper number.
        expected: u8,
        /// What the groups add up to.
        found: u32,
    },
    /// More groups than a bar may have, or a group of nothing.
    #[error("a meter has 1 to 16 groups of 1 or more, found `{0}`")]
    Groups(String),
}

impl Diagnostic for MeterError {
    fn code(&self) -> &'static str {
        match self {
            MeterError::Form(_) => "meter-form",
            MeterError::Numerator(_) => "meter-upper-number",
            MeterError::Denominator(_) => "meter-lower-number",
            MeterError::GroupSum { .. } => "meter-group-sum",
            MeterError::Groups(_) => "meter-groups",
        }
    }

    fn help(&self) -> String {
        match self {
            MeterError::GroupSum { expected, .. } => {
                let twos = usize::from(expected.saturating_sub(3) / 2);
                let rest = expected - u8::try_from(twos * 2).unwrap_or(0);
                let mut groups: Vec<String> = vec!["2".to_owned(); twos];
                groups.push(rest.to_string());
                format!(
                    "write groups that fill the bar, such as {}",
                    groups.join("+")
                )
            }
            MeterError::Denominator(_) => {
                "write the note that is counted: 4 for quarters, 8 for eighths".to_owned()
            }
            _ => "write `4/4`, `3/4`, `6/8` or `7/8 = 2+2+3`".to_owned(),
        }
    }
}

impl Meter {
    /// Four quarters, what a chart without a meter means.
    pub const COMMON: Meter = Meter {
        numerator: 4,
        denominator: 4,
        groups: [0; MOST_GROUPS],
        group_count: 0,
    };

    /// A meter without written groups.
    ///
    /// # Errors
    /// When `numerator` is not 1 to 32 or `denominator` not a power of two from 1 to 32.
    pub fn new(numerator: u8, denominator: u8) -> Result<Self, MeterError> {
        Self::grouped(numerator, denominator, &[])
    }

    /// A meter whose beats are the given groups of denominator notes; an empty list for the usual beats.
    ///
    /// # Errors
    /// As [`Meter::new`], and when the groups do not add up to `numerator`.
    pub fn grouped(numerator: u8, denominator: u8, groups: &[u8]) -> Result<Self, MeterError> {
        if !(1..=MOST_UNITS).contains(&numerator) {
            return Err(MeterError::Numerator(numerator.to_string()));
        }
        if !denominator.is_power_of_two() || denominator > 32 {
            return Err(MeterError::Denominator(denominator.to_string()));
        }
        let mut meter = Meter {
            numerator,
            denominator,
            groups: [0; MOST_GROUPS],
            group_count: 0,
        };
        if !groups.is_empty() {
            if groups.len() > MOST_GROUPS || groups.contains(&0) {
                let text: Vec<String> = groups.iter().map(u8::to_string).collect();
                return Err(MeterError::Groups(text.join("+")));
            }
            let found: u32 = groups.iter().map(|g| u32::from(*g)).sum();
            if found != u32::from(numerator) {
                return Err(MeterError::GroupSum {
                    expected: numerator,
                    found,
                });
            }
            meter.groups[..groups.len()].copy_from_slice(groups);
            meter.group_count = u8::try_from(groups.len()).unwrap_or(0);
        }
        Ok(meter)
    }

    /// Reads `4/4`, `6/8`, `7/8 = 2+2+3`; white space is free.
    ///
    /// ```
    /// let meter = fivefold::time::Meter::read("7/8 = 2+2+3")?;
    /// assert_eq!(meter.beats().map(|b| b.offset_ticks).collect::<Vec<_>>(), [0, 960, 1920]);
    /// assert_eq!(meter.bar_ticks(), 3360);
    /// # Ok::<(), fivefold::time::MeterError>(())
    /// ```
    ///
    /// # Errors
    /// When the text is not a meter, with what was expected.
    pub fn read(text: &str) -> Result<Self, MeterError> {
        let form = || MeterError::Form(text.trim().to_owned());
        let (fraction, groups) = match text.split_once('=') {
            Some((fraction, groups)) => (fraction, Some(groups)),
            None => (text, None),
        };
        let (upper, lower) = fraction.split_once('/').ok_or_else(form)?;
        let number = |t: &str, error: fn(String) -> MeterError| {
            let t = t.trim();
            if t.is_empty() || !t.bytes().all(|b| b.is_ascii_digit()) {
                return Err(form());
            }
            t.parse::<u8>().map_err(|_| error(t.to_owned()))
        };
        let numerator = number(upper, MeterError::Numerator)?;
        let denominator = number(lower, MeterError::Denominator)?;
        let groups = match groups {
            None => Vec::new(),
            Some(groups) => groups
                .split('+')
                .map(|g| number(g, MeterError::Groups))
                .collect::<Result<Vec<u8>, _>>()?,
        };
        Self::grouped(numerator, denominator, &groups)
    }

    /// The upper number, 1 to 32.
    pub const fn numerator(&self) -> u8 {
        self.numerator
    }

    /// The lower number: 1, 2, 4, 8, 16 or 32.
    pub const fn denominator(&self) -> u8 {
        self.denominator
    }

    /// The written groups, empty where none were written.
    pub fn groups(&self) -> &[u8] {
        &self.groups[..usize::from(self.group_count)]
    }

    /// Whether the beat is a dotted note: 6, 9 or 12 eighths or sixteenths without written groups
    /// (common practice).
    pub const fn is_compound(&self) -> bool {
        self.group_count == 0
            && matches!(self.denominator, 8 | 16)
            && matches!(self.numerator, 6 | 9 | 12)
    }

    /// Length of the denominator note in ticks.
    pub const fn unit_ticks(&self) -> u64 {
        WHOLE_TICKS / self.denominator as u64
    }

    /// Length of a bar in ticks.
    pub const fn bar_ticks(&self) -> u64 {
        self.numerator as u64 * self.unit_ticks()
    }

    /// The note a tempo counts, in ticks: the denominator note, dotted in compound meters.
    pub const fn tempo_unit_ticks(&self) -> u64 {
        if self.is_compound() {
            3 * self.unit_ticks()
        } else {
            self.unit_ticks()
        }
    }

    /// Beats in a bar.
    pub const fn beat_count(&self) -> u32 {
        if self.group_count > 0 {
            self.group_count as u32
        } else if self.is_compound() {
            self.numerator as u32 / 3
        } else {
            self.numerator as u32
        }
    }

    /// The beats of a bar in order.
    pub fn beats(&self) -> impl Iterator<Item = Beat> + use<> {
        let meter = *self;
        let mut offset_ticks = 0;
        (0..meter.beat_count()).map(move |i| {
            let length_ticks = if meter.group_count > 0 {
                u64::from(meter.groups[i as usize]) * meter.unit_ticks()
            } else {
                meter.tempo_unit_ticks()
            };
            let beat = Beat {
                offset_ticks,
                length_ticks,
            };
            offset_ticks += length_ticks;
            beat
        })
    }

    /// Ticks from the bar line to beat `beat`, counted from 0; the bar's length for a beat past its end.
    pub fn beat_offset_ticks(&self, beat: u32) -> u64 {
        self.beats()
            .take(beat as usize)
            .map(|b| b.length_ticks)
            .sum()
    }

    /// The four data bytes of the time-signature meta event: numerator, power of two of the denominator,
    /// MIDI clocks (24 a quarter) to a click, and 32nd notes to a quarter, always 8.
    ///
    /// Source: Standard MIDI Files 1.0, Time Signature. The click is the note a tempo counts, so 6/8 gives
    /// `06 03 24 08`.
    pub const fn smf_bytes(&self) -> [u8; 4] {
        // At most 36 * 4 = 144 clocks: a dotted note is at most a dotted quarter, a plain one a whole note (96).
        #[allow(clippy::cast_possible_truncation)]
        let clocks = (self.tempo_unit_ticks() / (TICKS_PER_QUARTER / 24)) as u8;
        #[allow(clippy::cast_possible_truncation)]
        let power = self.denominator.trailing_zeros() as u8;
        [self.numerator, power, clocks, 8]
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.numerator, self.denominator)?;
        for (i, group) in self.groups().iter().enumerate() {
            write!(f, "{}{group}", if i == 0 { " = " } else { "+" })?;
        }
        Ok(())
    }
}

impl fmt::Debug for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Meter({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smf_time_signature_bytes() {
        // 6/8 in dotted quarters is the example of Standard MIDI Files 1.0; the others follow from its definition.
        for (text, bytes) in [
            ("4/4", [4, 2, 0x18, 8]),
            ("3/4", [3, 2, 0x18, 8]),
            ("6/8", [6, 3, 0x24, 8]),
            ("9/8", [9, 3, 0x24, 8]),
            ("12/8", [12, 3, 0x24, 8]),
            ("2/2", [2, 1, 0x30, 8]),
            ("5/4", [5, 2, 0x18, 8]),
            ("7/8", [7, 3, 0x0C, 8]),
            ("7/8 = 2+2+3", [7, 3, 0x0C, 8]),
        ] {
            assert_eq!(Meter::read(text).unwrap().smf_bytes(), bytes, "{text}");
        }
    }

    #[test]
    fn beats_of_simple_compound_and_grouped_meters() {
        let lengths = |t: &str| -> Vec<u64> {
            Meter::read(t)
                .unwrap()
                .beats()
                .map(|b| b.length_ticks)
                .collect()
        };
        assert_eq!(lengths("3/4"), [960; 3]);
        assert_eq!(lengths("2/2"), [1920; 2]);
        assert_eq!(lengths("6/8"), [1440; 2]);
        assert_eq!(lengths("12/8"), [1440; 4]);
        assert_eq!(lengths("7/8"), [480; 7]);
        assert_eq!(lengths("7/8 = 3+2+2"), [1440, 960, 960]);
        assert_eq!(lengths("6/8 = 2+2+2"), [960; 3]);
    }

    #[test]
    fn malformed_meters_say_what_is_wrong() {
        for (text, message) in [
            ("", "a meter is written like 4/4 or 7/8 = 2+2+3, found ``"),
            ("4", "a meter is written like 4/4 or 7/8 = 2+2+3, found `4`"),
            (
                "four/4",
                "a meter is written like 4/4 or 7/8 = 2+2+3, found `four/4`",
            ),
            ("0/4", "the upper number of a meter is 1 to 32, found 0"),
            ("33/4", "the upper number of a meter is 1 to 32, found 33"),
            ("999/4", "the upper number of a meter is 1 to 32, found 999"),
            (
                "4/3",
                "the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 3",
            ),
            (
                "4/0",
                "the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 0",
            ),
            (
                "4/64",
                "the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 64",
            ),
            (
                "7/8 = 2+2",
                "the groups of a meter add up to its upper number 7, found 4",
            ),
            (
                "7/8 = 7+0",
                "a meter has 1 to 16 groups of 1 or more, found `7+0`",
            ),
            (
                "7/8 = 2++3",
                "a meter is written like 4/4 or 7/8 = 2+2+3, found `7/8 = 2++3`",
            ),
        ] {
            assert_eq!(
                Meter::read(text).unwrap_err().to_string(),
                message,
                "{text}"
            );
        }
        assert_eq!(
            Meter::read("7/8 = 2+2").unwrap_err().help(),
            "write groups that fill the bar, such as 2+2+3"
        );
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in ".{0,24}") {
            if let Ok(meter) = Meter::read(&text) {
                proptest::prop_assert_eq!(Meter::read(&meter.to_string()).unwrap(), meter);
                let sum: u64 = meter.beats().map(|b| b.length_ticks).sum();
                proptest::prop_assert_eq!(sum, meter.bar_ticks());
            }
        }
    }
}
