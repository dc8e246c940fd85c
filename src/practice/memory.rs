//! What is left of a fact: the FSRS-6 model of memory.
//!
//! Source of the formulas and of the default parameters: the description "The Algorithm", section FSRS-6, in the wiki of
//! the project Open Spaced Repetition (fsrs4anki). The code is our own, written from the formulas. It has no learning
//! steps and no random change of intervals. `tests/reference/memory.tsv` holds it to the Python package `fsrs`.

use super::units::Retention;

/// The 21 default parameters of FSRS-6, `w0` to `w20`.
const W: [f64; 21] = [
    0.212, 1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194, 0.001, 1.8722, 0.1666, 0.796, 1.4835,
    0.0614, 0.2629, 1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542,
];

/// The least stability, in days: the published implementations' own limit, since formulas divide by it.
const LEAST_STABILITY_DAYS: f64 = 0.001;

/// How well a fact was known when it was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grade {
    /// Not known, or wrong.
    Again,
    /// Known with effort.
    Hard,
    /// Known after a moment.
    Good,
    /// Known at once.
    Easy,
}

impl Grade {
    /// The number the formulas use, 1 to 4.
    const fn number(self) -> f64 {
        match self {
            Grade::Again => 1.0,
            Grade::Hard => 2.0,
            Grade::Good => 3.0,
            Grade::Easy => 4.0,
        }
    }
}

/// What is left of one fact, as of its last review.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Memory {
    stability_days: f64,
    difficulty: f64,
}

impl Memory {
    /// After the first time a fact was asked.
    #[must_use]
    pub fn first(grade: Grade) -> Memory {
        let stability_days = match grade {
            Grade::Again => W[0],
            Grade::Hard => W[1],
            Grade::Good => W[2],
            Grade::Easy => W[3],
        };
        Memory {
            stability_days,
            difficulty: first_difficulty(grade).clamp(1.0, 10.0),
        }
    }

    /// As it was stored. Numbers out of range are brought into it.
    #[must_use]
    pub fn stored(stability_days: f64, difficulty: f64) -> Memory {
        Memory {
            stability_days: stability_days.max(LEAST_STABILITY_DAYS),
            difficulty: if difficulty.is_nan() {
                5.0
            } else {
                difficulty.clamp(1.0, 10.0)
            },
        }
    }

    /// After a later review, `elapsed_days` after the last. A negative number, or none, counts as 0.
    ///
    /// Under one day the rule for reviews on the same day applies, which FSRS-6 has apart.
    #[must_use]
    pub fn reviewed(self, elapsed_days: f64, grade: Grade) -> Memory {
        let elapsed = elapsed_days.max(0.0);
        let stability = if elapsed < 1.0 {
            self.same_day_stability(grade)
        } else if grade == Grade::Again {
            self.forgotten_stability(self.retrievability(elapsed))
        } else {
            self.recalled_stability(self.retrievability(elapsed), grade)
        };
        Memory {
            stability_days: stability.max(LEAST_STABILITY_DAYS),
            difficulty: self.next_difficulty(grade),
        }
    }

    /// Days after which the fact is still known with a probability of 0.9; at least 0.001.
    #[must_use]
    pub const fn stability_days(self) -> f64 {
        self.stability_days
    }

    /// How hard the fact is to keep, from 1, easy, to 10.
    #[must_use]
    pub const fn difficulty(self) -> f64 {
        self.difficulty
    }

    /// The probability that the fact is still known `elapsed_days` after its last review, 0 to 1. A negative number, or
    /// none, counts as 0.
    ///
    /// `R = (1 + f t / S)^-w20`, where `f` makes R 0.9 at `t = S`.
    #[must_use]
    pub fn retrievability(self, elapsed_days: f64) -> f64 {
        let days = elapsed_days.max(0.0);
        libm::pow(1.0 + factor() * days / self.stability_days, -W[20])
    }

    /// Days after the last review until the probability has fallen to `retention`; not rounded. For 0.9 this is the
    /// stability.
    #[must_use]
    pub fn interval_days(self, retention: Retention) -> f64 {
        let spread = libm::pow(retention.value(), -1.0 / W[20]) - 1.0;
        self.stability_days * (spread / factor())
    }

    /// `S e^(w17 (G - 3 + w18)) S^-w19`; as in the package, only a fact that was not known gets less stable.
    fn same_day_stability(self, grade: Grade) -> f64 {
        let raw = libm::exp(W[17] * (grade.number() - 3.0 + W[18]))
            * libm::pow(self.stability_days, -W[19]);
        let growth = if grade >= Grade::Hard {
            raw.max(1.0)
        } else {
            raw
        };
        self.stability_days * growth
    }

    /// `w11 D^-w12 ((S + 1)^w13 - 1) e^(w14 (1 - R))`, at most `S / e^(w17 w18)`.
    fn forgotten_stability(self, retrievability: f64) -> f64 {
        let s = self.stability_days;
        let long = W[11]
            * libm::pow(self.difficulty, -W[12])
            * (libm::pow(s + 1.0, W[13]) - 1.0)
            * libm::exp(W[14] * (1.0 - retrievability));
        long.min(s / libm::exp(W[17] * W[18]))
    }

    /// `S (1 + e^w8 (11 - D) S^-w9 (e^(w10 (1 - R)) - 1) h b)`: `h` is w15 for hard, `b` is w16 for easy, else 1.
    fn recalled_stability(self, retrievability: f64, grade: Grade) -> f64 {
        let s = self.stability_days;
        let by_grade = match grade {
            Grade::Hard => W[15],
            Grade::Easy => W[16],
            Grade::Again | Grade::Good => 1.0,
        };
        let growth = libm::exp(W[8])
            * (11.0 - self.difficulty)
            * libm::pow(s, -W[9])
            * (libm::exp(W[10] * (1.0 - retrievability)) - 1.0)
            * by_grade;
        s * (1.0 + growth)
    }

    /// A step of `-w6 (G - 3)`, smaller near 10, then a little of the way (w7) to the difficulty of an easy fact.
    fn next_difficulty(self, grade: Grade) -> f64 {
        let step = -W[6] * (grade.number() - 3.0);
        let stepped = self.difficulty + step * (10.0 - self.difficulty) / 9.0;
        let reverted = W[7] * first_difficulty(Grade::Easy) + (1.0 - W[7]) * stepped;
        reverted.clamp(1.0, 10.0)
    }
}

/// `w4 - e^(w5 (G - 1)) + 1`, before it is held to 1 to 10.
fn first_difficulty(grade: Grade) -> f64 {
    W[4] - libm::exp(W[5] * (grade.number() - 1.0)) + 1.0
}

/// `0.9^(-1 / w20) - 1`: makes the stability the time after which the probability is 0.9.
fn factor() -> f64 {
    libm::pow(0.9, -1.0 / W[20]) - 1.0
}

#[cfg(test)]
mod tests;
