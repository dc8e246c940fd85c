//! Feel: straight, or swung by a ratio.

use std::fmt;

use super::words::{Milli, read_milli};
use super::{Meter, TICKS_PER_QUARTER, Tempo};
use crate::diagnostic::Diagnostic;

/// How pairs of eighths (or sixteenths) share their time.
///
/// A ratio `r` puts the second note of the pair at `r / (1 + r)` of it (MusicXML 4.0 `swing`, first and second);
/// what lies between is stretched and squeezed evenly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Feel {
    /// Straight: every division is even.
    #[default]
    Straight,
    /// Swung eighths whose ratio follows the tempo: wide when slow, even when fast.
    Auto,
    /// The first and second share of each pair, in thousandths, and the pair's length.
    Swing {
        /// Share of the first note, in thousandths.
        first: u32,
        /// Share of the second note, in thousandths.
        second: u32,
        /// The notes of a pair.
        unit: SwingUnit,
    },
}

/// The notes that swing in pairs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwingUnit {
    /// Eighths, two to a quarter.
    Eighths,
    /// Sixteenths, four to a quarter.
    Sixteenths,
}

impl SwingUnit {
    /// Length of a pair in ticks: 960 for eighths, 480 for sixteenths.
    pub const fn pair_ticks(self) -> u64 {
        match self {
            SwingUnit::Eighths => TICKS_PER_QUARTER,
            SwingUnit::Sixteenths => TICKS_PER_QUARTER / 2,
        }
    }

    /// The words that are accepted, the one that is printed first.
    const fn words(self) -> [&'static str; 2] {
        match self {
            SwingUnit::Eighths => ["eighths", "8ths"],
            SwingUnit::Sixteenths => ["16ths", "sixteenths"],
        }
    }

    fn read(word: &str) -> Option<SwingUnit> {
        let units = [SwingUnit::Eighths, SwingUnit::Sixteenths];
        units.into_iter().find(|unit| unit.words().contains(&word))
    }
}

impl fmt::Display for SwingUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words()[0])
    }
}

/// Why a text is not a feel, or does not suit a meter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FeelError {
    /// Not of the form `swing 2:1`.
    #[error("a feel is `straight` or a swing such as `swing 2:1`, found `{0}`")]
    Form(String),
    /// A ratio outside 1:1 to 9:1.
    #[error("a swing ratio lies between 1:1 and 9:1, found {0}")]
    Ratio(String),
    /// The meter's bar does not consist of such pairs, or its beat is already in threes.
    #[error("{meter} cannot swing its {unit}")]
    Meter {
        /// The meter that cannot swing.
        meter: Meter,
        /// The notes that were to swing.
        unit: SwingUnit,
    },
}

impl Diagnostic for FeelError {
    fn code(&self) -> &'static str {
        match self {
            FeelError::Form(_) => "feel-form",
            FeelError::Ratio(_) => "swing-ratio",
            FeelError::Meter { .. } => "swing-meter",
        }
    }

    fn help(&self) -> String {
        match self {
            FeelError::Meter { meter, .. } if meter.is_compound() => {
                "leave the feel out: the beat of a compound meter is in threes already".to_owned()
            }
            FeelError::Meter {
                unit: SwingUnit::Eighths,
                ..
            } => "write `swing 2:1 16ths`, or `straight`".to_owned(),
            FeelError::Meter { .. } => "write `straight`".to_owned(),
            _ => "write `swing 2:1`, `swing 3:2 16ths` or `straight`".to_owned(),
        }
    }
}

impl Feel {
    /// Reads `straight`, `swing 2:1`, `swing 3:2 16ths`, `swing auto`. Without a ratio `swing` is 2:1, and `shuffle` another word for it
    /// (common practice).
    ///
    /// # Errors
    /// When the text is none of these or the ratio is out of range.
    pub fn read(text: &str) -> Result<Self, FeelError> {
        let form = || FeelError::Form(text.trim().to_owned());
        let mut words = text.split_whitespace().peekable();
        let feel = match words.next() {
            Some("straight") => Feel::Straight,
            Some("swing") if words.next_if_eq(&"auto").is_some() => Feel::Auto,
            Some("swing" | "shuffle") => {
                let ratio = words.next_if(|word| word.contains(':')).unwrap_or("2:1");
                let (first, second) = ratio.split_once(':').ok_or_else(form)?;
                let share = |t| {
                    read_milli(t)
                        .map(Milli::get)
                        .ok()
                        .filter(|v| *v <= 1_000_000)
                };
                let (Some(first), Some(second)) = (share(first), share(second)) else {
                    return Err(form());
                };
                if second == 0 || first < second || first > 9 * second {
                    return Err(FeelError::Ratio(ratio.to_owned()));
                }
                let unit = match words.next() {
                    None => SwingUnit::Eighths,
                    Some(word) => SwingUnit::read(word).ok_or_else(form)?,
                };
                let small = |v: u64| u32::try_from(v).map_err(|_| form());
                Feel::Swing {
                    first: small(first)?,
                    second: small(second)?,
                    unit,
                }
            }
            _ => return Err(form()),
        };
        if words.next().is_some() {
            return Err(form());
        }
        Ok(feel)
    }

    /// Whether this feel suits `meter`: a swung bar consists of whole pairs and is not compound.
    ///
    /// # Errors
    /// When it does not.
    pub fn check(&self, meter: &Meter) -> Result<(), FeelError> {
        match self.unit() {
            Some(unit)
                if meter.is_compound() || !meter.bar_ticks().is_multiple_of(unit.pair_ticks()) =>
            {
                Err(FeelError::Meter {
                    meter: *meter,
                    unit,
                })
            }
            _ => Ok(()),
        }
    }

    /// The notes that swing; `None` where none do.
    pub const fn unit(&self) -> Option<SwingUnit> {
        match self {
            Feel::Straight => None,
            Feel::Auto => Some(SwingUnit::Eighths),
            Feel::Swing { unit, .. } => Some(*unit),
        }
    }

    /// The feel with its ratio settled at a tempo. The short note of a swung pair lasts about a tenth of a second (Friberg and
    /// Sundstrom, Music Perception 19, 2002), so the ratio is the beat in tenths of a second, less one, held between 1:1 and
    /// `widest`:1 (in thousandths). Other feels stay as they are.
    ///
    /// ```
    /// use fivefold::time::{Feel, Tempo};
    /// let at = |us_per_quarter| Feel::Auto.at(Tempo::new(us_per_quarter).unwrap(), Feel::WIDEST_RIDE);
    /// assert_eq!(at(300_000).to_string(), "swing 2:1"); // 200 beats a minute
    /// assert_eq!(at(400_000).to_string(), "swing 3:1"); // 150
    /// assert_eq!(at(1_000_000).to_string(), "swing 3.5:1"); // 60
    /// assert_eq!(at(190_000).to_string(), "swing 1:1"); // 316
    /// ```
    #[must_use]
    pub fn at(self, tempo: Tempo, widest: u32) -> Feel {
        match self {
            Feel::Auto => Feel::Swing {
                first: (tempo.us_per_quarter() / 100)
                    .saturating_sub(1000)
                    .clamp(1000, widest.max(1000)),
                second: 1000,
                unit: SwingUnit::Eighths,
            },
            other => other,
        }
    }

    /// The widest ratio of a ride cymbal, in thousandths (the measured ratios end near 3.5:1).
    pub const WIDEST_RIDE: u32 = 3500;

    /// The widest ratio of all other parts, in thousandths.
    pub const WIDEST: u32 = 2000;

    /// Where a note written at `offset_ticks` from the bar line is played, in ticks from the bar line.
    ///
    /// Monotone, and fixed at the start of every pair, so beats and bar lines stay where they are. [`Feel::Auto`] counts as 2:1
    /// here, what [`Feel::at`] makes of it as what it is.
    ///
    /// ```
    /// use fivefold::time::Feel;
    /// let swing = Feel::read("swing 2:1")?;
    /// assert_eq!(swing.played(480), 640);
    /// assert_eq!(swing.played(960), 960);
    /// # Ok::<(), fivefold::time::FeelError>(())
    /// ```
    pub const fn played(&self, offset_ticks: u64) -> u64 {
        let (first, second, unit) = match *self {
            Feel::Straight => return offset_ticks,
            Feel::Auto => (2, 1, SwingUnit::Eighths),
            Feel::Swing {
                first,
                second,
                unit,
            } => (first, second, unit),
        };
        let pair_ticks = unit.pair_ticks();
        let whole = (first + second) as u64;
        let late = (pair_ticks * first as u64 + whole / 2) / whole;
        let half = pair_ticks / 2;
        let within = offset_ticks % pair_ticks;
        let start = offset_ticks - within;
        if within <= half {
            start + (within * late + half / 2) / half
        } else {
            start + late + ((within - half) * (pair_ticks - late) + half / 2) / half
        }
    }
}

impl fmt::Display for Feel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Feel::Straight => f.write_str("straight"),
            Feel::Auto => f.write_str("swing auto"),
            Feel::Swing {
                first,
                second,
                unit,
            } => {
                write!(
                    f,
                    "swing {}:{}",
                    Milli::new(u64::from(*first)),
                    Milli::new(u64::from(*second))
                )?;
                match unit {
                    SwingUnit::Eighths => Ok(()),
                    SwingUnit::Sixteenths => write!(f, " {unit}"),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_put_the_off_beat_where_the_definition_says() {
        // r/(1+r) of the pair: 2:1 is tick 640 of 960, 3:2 576, 3:1 720, 3.5:1 746.67.
        for (text, tick) in [
            ("swing 1:1", 480),
            ("swing 2:1", 640),
            ("swing 3:2", 576),
            ("swing 3:1", 720),
            ("swing 3.5:1", 747),
        ] {
            assert_eq!(Feel::read(text).unwrap().played(480), tick, "{text}");
        }
        let fine = Feel::read("swing 2:1 16ths").unwrap();
        assert_eq!(
            [0, 240, 480, 720, 960].map(|t| fine.played(t)),
            [0, 320, 480, 800, 960]
        );
    }

    #[test]
    fn a_swing_without_a_ratio_is_of_triplets() {
        for (text, full) in [
            ("swing", "swing 2:1"),
            ("shuffle", "swing 2:1"),
            ("swing 16ths", "swing 2:1 16ths"),
            ("shuffle 3:2", "swing 3:2"),
        ] {
            let feel = Feel::read(text).unwrap();
            assert_eq!(feel, Feel::read(full).unwrap());
            assert_eq!(feel.to_string(), full);
        }
    }

    #[test]
    fn malformed_feels_say_what_is_wrong() {
        for (text, message) in [
            (
                "",
                "a feel is `straight` or a swing such as `swing 2:1`, found ``",
            ),
            (
                "groovy",
                "a feel is `straight` or a swing such as `swing 2:1`, found `groovy`",
            ),
            (
                "swing 2",
                "a feel is `straight` or a swing such as `swing 2:1`, found `swing 2`",
            ),
            (
                "swing 2:1 4ths",
                "a feel is `straight` or a swing such as `swing 2:1`, found `swing 2:1 4ths`",
            ),
            (
                "swing 2:1 16ths x",
                "a feel is `straight` or a swing such as `swing 2:1`, found `swing 2:1 16ths x`",
            ),
            (
                "swing 1:2",
                "a swing ratio lies between 1:1 and 9:1, found 1:2",
            ),
            (
                "swing 10:1",
                "a swing ratio lies between 1:1 and 9:1, found 10:1",
            ),
            (
                "swing 1:0",
                "a swing ratio lies between 1:1 and 9:1, found 1:0",
            ),
        ] {
            assert_eq!(Feel::read(text).unwrap_err().to_string(), message, "{text}");
        }
    }

    #[test]
    fn compound_and_odd_meters_refuse_to_swing_eighths() {
        let eighths = Feel::read("swing 2:1").unwrap();
        let fine = Feel::read("swing 2:1 16ths").unwrap();
        let meter = |t| Meter::read(t).unwrap();
        assert!(eighths.check(&meter("4/4")).is_ok());
        assert!(fine.check(&meter("7/8 = 2+2+3")).is_ok());
        let e = eighths.check(&meter("6/8")).unwrap_err();
        assert_eq!(e.to_string(), "6/8 cannot swing its eighths");
        assert_eq!(
            e.help(),
            "leave the feel out: the beat of a compound meter is in threes already"
        );
        let e = eighths.check(&meter("7/8")).unwrap_err();
        assert_eq!(
            (e.to_string().as_str(), e.help().as_str()),
            (
                "7/8 cannot swing its eighths",
                "write `swing 2:1 16ths`, or `straight`"
            )
        );
    }

    proptest::proptest! {
        #[test]
        fn played_order_is_written_order(first in 1000u32..=9000, a in 0u64..4000, b in 0u64..4000) {
            let feel = Feel::Swing { first, second: 1000, unit: SwingUnit::Eighths };
            let (a, b) = (a.min(b), a.max(b));
            proptest::prop_assert!(feel.played(a) <= feel.played(b));
        }

        #[test]
        fn any_text_is_read_or_refused(text in ".{0,24}") {
            if let Ok(feel) = Feel::read(&text) {
                proptest::prop_assert_eq!(Feel::read(&feel.to_string()).unwrap(), feel);
            }
        }
    }
}
