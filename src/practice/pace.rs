//! Pace: the tempo the hands can do, from the takes that were played.
//!
//! A Bayesian estimate: King-Smith and others, "Efficient and unbiased modifications of the QUEST threshold method"
//! (Vision Research 34, 1994; ZEST), for the next tempo as the mean of the posterior; Kontsevich and Tyler, "Bayesian
//! adaptive estimation of psychometric slope and threshold" (Vision Research 39, 1999) for the slope as a second axis.

mod posterior;

use super::day::Day;
use super::error::PracticeError;
use super::units::{Bpm, CleanShare, Outcome};
use posterior::Posterior;

/// The most by which the next tempo may exceed the last one played: 4 %.
const MOST_RISE: f64 = 1.04;

/// Standard deviation of the change from a day to the next, in log tempo: 1.5 %.
///
/// With six takes a day a gain of 0.5 % a day is then followed with a mean lag under 3 % (`pace/simulated.rs`).
const DAY_SD: f64 = 0.015;

/// Chance that a day differs from the one before by much more.
///
/// Without it an evening on which everything failed would be believed for two weeks; with it, for five or six days.
const JUMP: f64 = 0.02;

/// Standard deviation of such a jump, in log tempo: 20 %.
const JUMP_SD: f64 = 0.2;

/// Days after which the doubt grows no further.
const MOST_DAYS: u32 = 50;

/// One playing of an exercise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Take {
    /// The day it was played.
    pub day: Day,
    /// The tempo it was played at.
    pub tempo: Bpm,
    /// How it went.
    pub outcome: Outcome,
}

/// The tempo that is guessed before the first take, and how doubtful it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FirstGuess {
    tempo: Bpm,
    doubt: f64,
}

impl FirstGuess {
    /// A guess as doubtful as usual: 0.35, so two times in three it is off by less than a factor of 1.42.
    #[must_use]
    pub const fn new(tempo: Bpm) -> FirstGuess {
        FirstGuess { tempo, doubt: 0.35 }
    }

    /// The same guess with another doubt, the standard deviation of the natural logarithm of the tempo: 0.1 is about
    /// 10 %.
    ///
    /// # Errors
    /// [`PracticeError::Doubt`] when `doubt` lies outside 0.02 to 1, or is no number.
    pub fn with_doubt(self, doubt: f64) -> Result<FirstGuess, PracticeError> {
        if (0.02..=1.0).contains(&doubt) {
            Ok(FirstGuess { doubt, ..self })
        } else {
            Err(PracticeError::Doubt { found: doubt })
        }
    }
}

/// The shares of clean takes that tempos are found for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aim {
    /// For what the hands can do, and for test takes; usually 0.75.
    pub can: CleanShare,
    /// For practice; usually 0.9.
    pub practice: CleanShare,
}

impl Default for Aim {
    fn default() -> Self {
        Aim {
            can: CleanShare::TEST,
            practice: CleanShare::PRACTICE,
        }
    }
}

/// A tempo with its doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The mean, taken over the logarithm of the tempo.
    pub tempo: Bpm,
    /// The lower limit: slower with a probability of a tenth.
    pub low: Bpm,
    /// The upper limit: faster with a probability of a tenth.
    pub high: Bpm,
}

/// What the player asks of the next tempo; before the first take the first guess stands for the last take.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Wish {
    /// A test: what the hands can do, where a take tells most.
    #[default]
    Test,
    /// Practice: slower, where more of the takes are clean.
    Practice,
    /// The tempo of the last take again.
    Hold,
    /// 4 % above the last take, also after a miss.
    Faster,
    /// 4 % below the last take, or what a test would be where that is slower.
    Slower,
}

impl Wish {
    /// All of them by name.
    pub const NAMES: [(&'static str, Wish); 5] = [
        ("test", Wish::Test),
        ("practice", Wish::Practice),
        ("hold", Wish::Hold),
        ("faster", Wish::Faster),
        ("slower", Wish::Slower),
    ];
}

/// What is known of the tempo of one exercise, and the tempo of its next take.
///
/// The curve is a logistic in log tempo: `P(clean) = 0.96 / (1 + e^((ln t - m) / s))`, so four takes in a hundred fail
/// by a slip at any tempo. Its place (20 to 400 beats a minute in steps of half a percent) and its scale `s` (0.03 to
/// 0.15) are both unknown; each take is weighed in by Bayes's rule. A take that nearly went counts as half a clean and
/// half a missed one. From day to day log tempo may wander by 1.5 % (one standard deviation), and one day in fifty it may
/// jump by 20 %; a break of more than 50 days counts as 50.
///
/// ```
/// use fivefold::practice::{Aim, Bpm, Day, FirstGuess, Outcome, Pace, Take, Wish};
/// let mut pace = Pace::new(FirstGuess::new(Bpm::new(80.0)?), Aim::default());
/// let take = |tempo, outcome| Take { day: Day::new(0), tempo, outcome };
/// pace.record(take(pace.next(Wish::Test), Outcome::Clean));
/// // Up, by at most 4 % a take.
/// let second = pace.next(Wish::Test);
/// assert!(second.value() > 80.0 && second.value() <= 83.2);
/// pace.record(take(second, Outcome::Missed));
/// assert!(pace.next(Wish::Test) <= second);
/// assert_eq!(pace.next(Wish::Hold), second);
/// assert!(pace.practice().tempo < pace.can().tempo);
/// # Ok::<(), fivefold::practice::PracticeError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Pace {
    first: Bpm,
    aim: Aim,
    posterior: Posterior,
    /// The day the posterior stands for; none before the first take.
    today: Option<Day>,
    last: Option<Take>,
}

impl Pace {
    /// Before the first take.
    #[must_use]
    pub fn new(first: FirstGuess, aim: Aim) -> Pace {
        Pace {
            first: first.tempo,
            aim,
            posterior: Posterior::new(log(first.tempo), first.doubt, aim.can),
            today: None,
            last: None,
        }
    }

    /// The pace after a list of takes in order.
    #[must_use]
    pub fn replay(first: FirstGuess, aim: Aim, takes: impl IntoIterator<Item = Take>) -> Pace {
        let mut pace = Pace::new(first, aim);
        for take in takes {
            pace.record(take);
        }
        pace
    }

    /// Weighs in a take. Where days have passed since the last one, the doubt grows first; a day before the last one,
    /// as after a clock was set back, counts as the same day.
    pub fn record(&mut self, take: Take) {
        self.turn_to(take.day);
        self.posterior.update(log(take.tempo), take.outcome);
        self.today = Some(take.day);
        self.last = Some(take);
    }

    /// Turns to a day without a take: what is said from then on has the doubt of that day.
    ///
    /// Before the first take this changes nothing. Turning to a day in several steps gives nearly the doubt of one step,
    /// but for breaks beyond 50 days.
    pub fn turn_to(&mut self, day: Day) {
        if let Some(today) = self.today {
            let days = f64::from(day.days_since(today).min(MOST_DAYS));
            if days > 0.0 {
                self.posterior.diffuse(DAY_SD * libm::sqrt(days));
                let jumped = 1.0 - libm::pow(1.0 - JUMP, days);
                self.posterior.jump(jumped, JUMP_SD);
            }
            self.today = Some(day);
        }
    }

    /// The tempo at which the share [`Aim::can`] of takes is clean.
    #[must_use]
    pub fn can(&self) -> Estimate {
        self.estimate(self.aim.can)
    }

    /// The tempo at which the share [`Aim::practice`] of takes is clean.
    #[must_use]
    pub fn practice(&self) -> Estimate {
        self.estimate(self.aim.practice)
    }

    /// The tempo of the next take. For a test and for practice it is that of [`Aim::can`] and [`Aim::practice`], at most
    /// 4 % above the last take, and not above it unless that was clean; before any take the first guess. Not rounded;
    /// round down for a whole number.
    #[must_use]
    pub fn next(&self, wish: Wish) -> Bpm {
        let (at, most) = match self.last {
            None => (self.first.value(), self.first.value()),
            Some(last) => {
                let at = last.tempo.value();
                let clean = last.outcome == Outcome::Clean;
                (at, if clean { at * MOST_RISE } else { at })
            }
        };
        let reached = |share| match self.last {
            None => at,
            Some(_) => self.mean(share).value().min(most),
        };
        Bpm::clamped(match wish {
            Wish::Test => reached(self.aim.can),
            Wish::Practice => reached(self.aim.practice),
            Wish::Hold => at,
            Wish::Faster => at * MOST_RISE,
            Wish::Slower => reached(self.aim.can).min(at / MOST_RISE),
        })
    }

    /// The last take; `None` before the first.
    #[must_use]
    pub const fn last(&self) -> Option<Take> {
        self.last
    }

    fn estimate(&self, share: CleanShare) -> Estimate {
        let (low, high) = self.posterior.limits(share);
        Estimate {
            tempo: self.mean(share),
            low: tempo_of(low),
            high: tempo_of(high),
        }
    }

    fn mean(&self, share: CleanShare) -> Bpm {
        tempo_of(self.posterior.mean(share))
    }
}

fn tempo_of(log_tempo: f64) -> Bpm {
    Bpm::clamped(libm::exp(log_tempo))
}

fn log(tempo: Bpm) -> f64 {
    libm::log(tempo.value())
}

#[cfg(test)]
mod simulated;
#[cfg(test)]
mod tests;
