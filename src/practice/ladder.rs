//! The plain ladder: a step up after so many clean takes.

use super::error::PracticeError;
use super::pace::Take;
use super::units::{Bpm, Outcome};

/// Clean takes for a step where their number is not written.
const CLEAN_TAKES: u32 = 3;

/// How far a take may be from the tempo of the ladder and still be one of it, in beats a minute: takes are played at
/// whole tempos.
const AT_THE_STEP: f64 = 1.0;

/// A tempo that rises by a fixed step after so many clean takes in a row, up to a top. It never falls.
///
/// Counting takes in a row is common practice: play it right three times, then go up.
///
/// ```
/// use fivefold::practice::{Bpm, Ladder, Outcome};
/// let mut ladder = Ladder::new(Bpm::new(60.0)?, 4.0, 2, Bpm::new(66.0)?)?;
/// ladder.record(Outcome::Clean);
/// assert_eq!(ladder.tempo().value(), 60.0);
/// ladder.record(Outcome::Clean);
/// assert_eq!(ladder.tempo().value(), 64.0);
/// # Ok::<(), fivefold::practice::PracticeError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ladder {
    tempo: Bpm,
    step_bpm: f64,
    clean_takes: u32,
    top: Bpm,
    clean_so_far: u32,
}

impl Ladder {
    /// A ladder from `start` to `top`, up by `step_bpm` beats a minute after `clean_takes` clean takes in a row. The last
    /// step is shorter where it would pass the top.
    ///
    /// # Errors
    /// [`PracticeError::Step`] when the step is not above 0 and up to 380, [`PracticeError::NoCleanTakes`] when
    /// `clean_takes` is 0, [`PracticeError::Top`] when the top is below the start.
    pub fn new(
        start: Bpm,
        step_bpm: f64,
        clean_takes: u32,
        top: Bpm,
    ) -> Result<Ladder, PracticeError> {
        let most = Bpm::FASTEST.value() - Bpm::SLOWEST.value();
        if !(step_bpm > 0.0 && step_bpm <= most) {
            return Err(PracticeError::Step { found: step_bpm });
        }
        if clean_takes == 0 {
            return Err(PracticeError::NoCleanTakes);
        }
        if top < start {
            return Err(PracticeError::Top {
                start: start.value(),
                top: top.value(),
            });
        }
        Ok(Ladder {
            tempo: start,
            step_bpm,
            clean_takes,
            top,
            clean_so_far: 0,
        })
    }

    /// Reads a ladder: `60 to 96 by 4`, or with the clean takes for a step, `60 to 96 by 4 every 2`. Without them it is 3.
    /// Tempos and step are in beats a minute. As in a tempo plan, `60-96` is `60 to 96`, and `bpm` may stand behind a
    /// tempo.
    ///
    /// # Errors
    /// [`PracticeError::LadderForm`] when it is written otherwise, and the errors of [`Bpm::new`] and [`Ladder::new`].
    pub fn read(text: &str) -> Result<Ladder, PracticeError> {
        let spaced = text.replace(['-', '\u{2013}'], " to ").to_lowercase();
        let words = spaced.split_whitespace();
        let words = words.map(|word| word.strip_suffix("bpm").unwrap_or(word));
        let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
        let form = || PracticeError::LadderForm {
            found: text.trim().to_owned(),
        };
        let (start, top, step, clean_takes) = match words.as_slice() {
            [start, "to", top, "by", step] => (start, top, step, None),
            [start, "to", top, "by", step, "every", takes]
            | [start, "to", top, "by", step, "every", takes, "takes"] => {
                (start, top, step, Some(takes))
            }
            _ => return Err(form()),
        };
        let number = |word: &str| {
            let plain = word.chars().all(|c| c.is_ascii_digit() || c == '.');
            word.parse::<f64>().ok().filter(|_| plain).ok_or_else(form)
        };
        let clean_takes = match clean_takes {
            Some(takes) => takes.parse().map_err(|_| form())?,
            None => CLEAN_TAKES,
        };
        let (start, top) = (Bpm::new(number(start)?)?, Bpm::new(number(top)?)?);
        Ladder::new(start, number(step)?, clean_takes, top)
    }

    /// The ladder after these takes in order. Those at another tempo than its own, to the whole beat, are none of it.
    #[must_use]
    pub fn climbed(mut self, takes: impl IntoIterator<Item = Take>) -> Ladder {
        for take in takes {
            if (take.tempo.value() - self.tempo.value()).abs() < AT_THE_STEP {
                self.record(take.outcome);
            }
        }
        self
    }

    /// The ladder after a list of takes in order.
    #[must_use]
    pub fn replay(mut self, outcomes: impl IntoIterator<Item = Outcome>) -> Ladder {
        for outcome in outcomes {
            self.record(outcome);
        }
        self
    }

    /// Counts a take at the tempo of the ladder. One that is not clean starts the count again.
    pub fn record(&mut self, outcome: Outcome) {
        if outcome != Outcome::Clean || self.is_at_top() {
            self.clean_so_far = 0;
            return;
        }
        self.clean_so_far += 1;
        if self.clean_so_far >= self.clean_takes {
            self.clean_so_far = 0;
            let next = Bpm::clamped(self.tempo.value() + self.step_bpm);
            self.tempo = if next < self.top { next } else { self.top };
        }
    }

    /// The tempo of the next take.
    #[must_use]
    pub const fn tempo(&self) -> Bpm {
        self.tempo
    }

    /// Clean takes in a row that are still needed for a step, 1 or more; 0 at the top.
    #[must_use]
    pub fn clean_takes_left(&self) -> u32 {
        if self.is_at_top() {
            0
        } else {
            self.clean_takes - self.clean_so_far
        }
    }

    /// Whether the top is reached.
    #[must_use]
    pub fn is_at_top(&self) -> bool {
        self.tempo >= self.top
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Outcome::{Clean, Missed, Nearly};

    fn bpm(value: f64) -> Bpm {
        Bpm::new(value).unwrap()
    }

    fn ladder(clean_takes: u32) -> Ladder {
        Ladder::new(bpm(60.0), 5.0, clean_takes, bpm(72.0)).unwrap()
    }

    #[test]
    fn it_rises_on_clean_takes_in_a_row_alone() {
        let after = |takes: &[Outcome]| ladder(2).replay(takes.iter().copied());
        assert_eq!(after(&[]).tempo(), bpm(60.0));
        assert_eq!(after(&[Clean, Missed, Clean]).tempo(), bpm(60.0));
        assert_eq!(after(&[Clean, Nearly, Clean]).clean_takes_left(), 1);
        assert_eq!(after(&[Clean, Clean, Missed, Missed]).tempo(), bpm(65.0));
        assert_eq!(after(&[Clean; 4]).tempo(), bpm(70.0));
    }

    #[test]
    fn it_stays_at_the_top() {
        let done = ladder(1).replay([Clean; 9]);
        assert_eq!((done.tempo(), done.clean_takes_left()), (bpm(72.0), 0));
        assert!(done.is_at_top() && !ladder(1).is_at_top());
        assert_eq!(
            ladder(1).replay([Clean; 9].into_iter().chain([Missed])),
            done
        );
        let flat = Ladder::new(bpm(60.0), 5.0, 1, bpm(60.0)).unwrap();
        assert!(flat.is_at_top());
    }

    #[test]
    fn ladders_are_read() {
        let read = |text: &str| Ladder::read(text).map_err(|e| e.to_string());
        assert_eq!(read("60 to 72 by 5 every 2"), Ok(ladder(2)));
        assert_eq!(read(" 60  to 72 by 5 "), Ok(ladder(3)));
        assert_eq!(read("60-72 by 5 every 3 takes"), Ok(ladder(3)));
        assert_eq!(read("60bpm \u{2013} 72 BPM by 5"), Ok(ladder(3)));
        assert_eq!(read("60.5 to 72 by 2.5").unwrap().tempo(), bpm(60.5));
        for wrong in [
            "",
            "60",
            "60 to 72",
            "60 to 72 by 4 every",
            "60 to 72 by 4 every 2 bars",
            "60 to 72 by 4 every 1.5",
            "60 to 72 by 4 every -1",
            "inf to 72 by 4",
            "60 to nan by 4",
            "60 to 72 by -4",
            "6e1 to 72 by 4",
        ] {
            let form = PracticeError::LadderForm {
                found: wrong.to_owned(),
            };
            assert_eq!(Ladder::read(wrong), Err(form), "{wrong}");
        }
        assert_eq!(
            read("60 to 500 by 4"),
            Err("expected a tempo from 20 to 400 beats a minute, found 500".to_owned())
        );
        assert_eq!(
            read("60 to 72 by 4 every 0"),
            Err("expected at least 1 clean take for each step, found 0".to_owned())
        );
    }

    #[test]
    fn takes_at_other_tempos_are_none_of_it() {
        let day = crate::practice::Day::new(0);
        let takes = |takes: &[(f64, Outcome)]| {
            let one = |&(tempo, outcome): &(f64, Outcome)| Take {
                day,
                tempo: bpm(tempo),
                outcome,
            };
            ladder(2).climbed(takes.iter().map(one)).tempo()
        };
        assert_eq!(
            takes(&[(60.0, Clean), (90.0, Missed), (60.0, Clean)]),
            bpm(65.0)
        );
        assert_eq!(
            takes(&[(60.0, Clean), (60.0, Missed), (60.0, Clean)]),
            bpm(60.0)
        );
        assert_eq!(takes(&[(90.0, Clean), (90.0, Clean)]), bpm(60.0));
        // Down a step by hand, and up again.
        assert_eq!(
            takes(&[
                (60.0, Clean),
                (60.0, Clean),
                (60.0, Missed),
                (65.0, Clean),
                (65.0, Clean)
            ]),
            bpm(70.0)
        );
    }

    #[test]
    fn unreasonable_ladders_are_refused() {
        let made = |step, takes, top| Ladder::new(bpm(60.0), step, takes, bpm(top));
        for step in [0.0, -4.0, 381.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                made(step, 3, 90.0),
                Err(PracticeError::Step { .. })
            ));
        }
        assert_eq!(made(4.0, 0, 90.0), Err(PracticeError::NoCleanTakes));
        let top = PracticeError::Top {
            start: 60.0,
            top: 59.0,
        };
        assert_eq!(made(4.0, 3, 59.0), Err(top));
    }
}
