//! A set of degrees as bits, for reading and printing symbols quickly.

use crate::theory::degree::Degree;

/// A set of degrees 1 to 13, each altered by -2 to 1 semitones: all that chord symbols can name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Mask(u64);

impl Mask {
    pub(crate) const EMPTY: Mask = Mask(0);
    pub(crate) const ROOT: Mask = Mask::one(1, 0);
    pub(crate) const SECOND: Mask = Mask::one(2, 0);
    pub(crate) const FLAT_THIRD: Mask = Mask::one(3, -1);
    pub(crate) const THIRD: Mask = Mask::one(3, 0);
    pub(crate) const FOURTH: Mask = Mask::one(4, 0);
    pub(crate) const SHARP_FOURTH: Mask = Mask::one(4, 1);
    pub(crate) const FLAT_FIFTH: Mask = Mask::one(5, -1);
    pub(crate) const FIFTH: Mask = Mask::one(5, 0);
    pub(crate) const SHARP_FIFTH: Mask = Mask::one(5, 1);
    pub(crate) const FLAT_SIXTH: Mask = Mask::one(6, -1);
    pub(crate) const SIXTH: Mask = Mask::one(6, 0);
    pub(crate) const DIM_SEVENTH: Mask = Mask::one(7, -2);
    pub(crate) const FLAT_SEVENTH: Mask = Mask::one(7, -1);
    pub(crate) const SEVENTH: Mask = Mask::one(7, 0);
    pub(crate) const FLAT_NINTH: Mask = Mask::one(9, -1);
    pub(crate) const NINTH: Mask = Mask::one(9, 0);
    pub(crate) const SHARP_NINTH: Mask = Mask::one(9, 1);
    pub(crate) const ELEVENTH: Mask = Mask::one(11, 0);
    pub(crate) const SHARP_ELEVENTH: Mask = Mask::one(11, 1);
    pub(crate) const FLAT_THIRTEENTH: Mask = Mask::one(13, -1);
    pub(crate) const THIRTEENTH: Mask = Mask::one(13, 0);

    /// 1 3 b7 b9 #9 #11 b13, the chord `7alt`: all that can be altered is, and there is no natural fifth (the commonest
    /// reading in play).
    pub(crate) const ALTERED: Mask = Mask::ROOT
        .with(Mask::THIRD)
        .with(Mask::FLAT_SEVENTH)
        .with(Mask::FLAT_NINTH)
        .with(Mask::SHARP_NINTH)
        .with(Mask::SHARP_ELEVENTH)
        .with(Mask::FLAT_THIRTEENTH);

    pub(crate) const THIRDS: Mask = Mask::FLAT_THIRD.with(Mask::THIRD);
    pub(crate) const FIFTHS: Mask = Mask::FLAT_FIFTH.with(Mask::FIFTH).with(Mask::SHARP_FIFTH);
    pub(crate) const SEVENTHS: Mask = Mask::DIM_SEVENTH
        .with(Mask::FLAT_SEVENTH)
        .with(Mask::SEVENTH);

    /// The lowest bit of a number: four alterations each, so that bits rise as degrees do.
    const fn shift(number: u8) -> u32 {
        (number as u32 - 1) * 4
    }

    /// One degree; `number` 1 to 13, `alter` -2 to 1.
    const fn one(number: u8, alter: i8) -> Mask {
        let offset = match alter {
            -2 => 0,
            -1 => 1,
            0 => 2,
            _ => 3,
        };
        Mask(1 << (Mask::shift(number) + offset))
    }

    /// One degree; `None` if symbols cannot name it.
    pub(crate) const fn of(degree: Degree) -> Option<Mask> {
        match degree.alter() {
            -2..=1 => Some(Mask::one(degree.number(), degree.alter())),
            _ => None,
        }
    }

    /// All degrees; `None` if symbols cannot name one of them.
    pub(crate) fn from_degrees(degrees: &[Degree]) -> Option<Mask> {
        degrees.iter().try_fold(Mask::EMPTY, |mask, degree| {
            Some(mask.with(Mask::of(*degree)?))
        })
    }

    /// A number flat, natural and sharp.
    pub(crate) const fn around(number: u8) -> Mask {
        Mask::one(number, -1)
            .with(Mask::one(number, 0))
            .with(Mask::one(number, 1))
    }

    /// The degrees of both.
    pub(crate) const fn with(self, other: Mask) -> Mask {
        Mask(self.0 | other.0)
    }

    /// The degrees of this one that are not in the other.
    pub(crate) const fn without(self, other: Mask) -> Mask {
        Mask(self.0 & !other.0)
    }

    /// The degrees in both.
    pub(crate) const fn and(self, other: Mask) -> Mask {
        Mask(self.0 & other.0)
    }

    /// Whether the two share a degree.
    pub(crate) const fn meets(self, other: Mask) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether every degree of the other is here.
    pub(crate) const fn holds(self, other: Mask) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether there is no degree.
    pub(crate) const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many degrees there are.
    pub(crate) const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// The degrees in rising order.
    pub(crate) fn degrees(self) -> impl Iterator<Item = Degree> {
        let mut left = self.0;
        std::iter::from_fn(move || {
            if left == 0 {
                return None;
            }
            let bit = left.trailing_zeros();
            left &= left - 1;
            let number = u8::try_from(bit / 4 + 1).unwrap_or(1);
            let alter = match bit % 4 {
                0 => -2,
                1 => -1,
                2 => 0,
                _ => 1,
            };
            Some(Degree::at(number, alter))
        })
    }
}
