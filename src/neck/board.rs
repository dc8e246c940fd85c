//! The neck itself: a tuning, a number of frets and perhaps a capo.

use super::error::NeckError;
use super::limits::MAX_FRET;
use super::tuning::Tuning;
use super::units::{Fret, StringNumber};
use crate::theory::{PitchClass, PitchName};

/// The default number of frets.
pub const DEFAULT_FRETS: Fret = Fret::clamped(22);

/// Frets with an inlay, counted from the nut (common practice on steel-string and electric guitars; some makers mark the
/// tenth instead of the ninth, and most classical guitars mark none). The octaves have two.
pub const MARKERS: [u8; 13] = [3, 5, 7, 9, 12, 15, 17, 19, 21, 24, 27, 29, 31];

/// A tuning on a neck of so many frets, perhaps with a capo.
///
/// With a capo every string sounds higher, and frets count **from the capo**: fret 0 is the string open at the capo.
/// Shapes keep their numbers and sound higher by the capo's fret.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Neck {
    tuning: Tuning,
    frets: Fret,
    capo: Fret,
}

impl Neck {
    /// A neck of this tuning with so many frets from the nut and a capo at a fret, 0 for none.
    ///
    /// ```
    /// use fivefold::neck::{Fret, Neck, StringNumber, Tuning};
    /// let neck = Neck::new(Tuning::standard(), Fret::new(22)?, Fret::new(2)?)?;
    /// // The low E string with a capo at the second fret sounds F#2.
    /// assert_eq!(neck.midi(StringNumber::new(6)?, Fret::OPEN)?, 42);
    /// assert_eq!(neck.last_fret().value(), 20);
    /// # Ok::<(), fivefold::neck::NeckError>(())
    /// ```
    ///
    /// # Errors
    /// [`NeckError::NeckLength`] for a neck without frets, [`NeckError::CapoBeyond`] for a capo at or behind the last
    /// fret.
    pub fn new(tuning: Tuning, frets: Fret, capo: Fret) -> Result<Neck, NeckError> {
        if frets.is_open() {
            return Err(NeckError::NeckLength { value: 0 });
        }
        if capo >= frets {
            return Err(NeckError::CapoBeyond {
                value: u32::from(capo.value()),
                last: u32::from(frets.value()) - 1,
            });
        }
        Ok(Neck {
            tuning,
            frets,
            capo,
        })
    }

    /// A neck of this tuning with 22 frets and no capo.
    #[must_use]
    pub const fn of(tuning: Tuning) -> Neck {
        Neck {
            tuning,
            frets: DEFAULT_FRETS,
            capo: Fret::OPEN,
        }
    }

    /// Standard tuning, 22 frets, no capo.
    #[must_use]
    pub fn standard() -> Neck {
        Neck::of(Tuning::standard())
    }

    /// The tuning, as it is without the capo.
    #[must_use]
    pub const fn tuning(&self) -> &Tuning {
        &self.tuning
    }

    /// Frets counted from the nut, 1 to 36.
    #[must_use]
    pub const fn frets(&self) -> Fret {
        self.frets
    }

    /// The fret of the capo counted from the nut, 0 when there is none.
    #[must_use]
    pub const fn capo(&self) -> Fret {
        self.capo
    }

    /// The highest fret, counted from the capo.
    #[must_use]
    pub const fn last_fret(&self) -> Fret {
        Fret::clamped(self.frets.value().saturating_sub(self.capo.value()))
    }

    /// How many strings there are, 4 to 8.
    #[must_use]
    pub const fn string_count(&self) -> usize {
        self.tuning.string_count()
    }

    /// The strings from the lowest to the highest.
    pub fn strings(&self) -> impl DoubleEndedIterator<Item = StringNumber> + Clone + use<> {
        let count = self.string_count();
        (0..count).map(move |index| StringNumber::at(index, count))
    }

    /// The MIDI key number that sounds at a fret counted from the capo.
    ///
    /// # Errors
    /// [`NeckError::NoString`] for a string the tuning has not, [`NeckError::FretRange`] for a fret behind the last.
    pub fn midi(&self, string: StringNumber, fret: Fret) -> Result<u8, NeckError> {
        let index = self.index(string)?;
        if fret > self.last_fret() {
            return Err(NeckError::FretRange {
                value: u32::from(fret.value()),
            });
        }
        Ok(self.key(index, fret))
    }

    /// The frets of a string, counted from the capo, at which a pitch class sounds, rising.
    ///
    /// ```
    /// use fivefold::neck::{Neck, StringNumber};
    /// use fivefold::theory::PitchName;
    /// let g = PitchName::read("G").unwrap().pitch_class();
    /// let frets = Neck::standard().frets_of(StringNumber::new(6)?, g)?;
    /// assert_eq!(frets.iter().map(|fret| fret.value()).collect::<Vec<_>>(), [3, 15]);
    /// # Ok::<(), fivefold::neck::NeckError>(())
    /// ```
    ///
    /// # Errors
    /// [`NeckError::NoString`] for a string the tuning has not.
    pub fn frets_of(
        &self,
        string: StringNumber,
        class: PitchClass,
    ) -> Result<Vec<Fret>, NeckError> {
        let index = self.index(string)?;
        Ok((0..=self.last_fret().value())
            .map(Fret::clamped)
            .filter(|fret| self.key(index, *fret) % 12 == class.value())
            .collect())
    }

    /// The plain names along a string from the open one up: each fret with its note as a flat and as a sharp, which are
    /// the same for natural notes, and whether the neck has a marker there.
    ///
    /// # Errors
    /// [`NeckError::NoString`] for a string the tuning has not.
    pub fn notes_on(&self, string: StringNumber) -> Result<Vec<StringNote>, NeckError> {
        let index = self.index(string)?;
        Ok((0..=self.last_fret().value())
            .map(|fret| {
                let class = class_of(self.key(index, Fret::clamped(fret)));
                StringNote {
                    fret: Fret::clamped(fret),
                    flat: PitchName::simplest(class, true),
                    sharp: PitchName::simplest(class, false),
                    markers: self.markers_at(Fret::clamped(fret)),
                }
            })
            .collect())
    }

    /// Inlays at a fret counted from the capo: 0, 1, or 2 at the octaves of the open strings without capo.
    #[must_use]
    pub fn markers_at(&self, fret: Fret) -> u8 {
        let from_nut = fret.value() + self.capo.value();
        match from_nut {
            _ if !MARKERS.contains(&from_nut) || fret.is_open() => 0,
            12 | 24 => 2,
            _ => 1,
        }
    }

    /// The index of a string counted from the lowest, zero-based.
    pub(super) fn index(&self, string: StringNumber) -> Result<usize, NeckError> {
        let count = self.string_count();
        let string = string.value();
        count
            .checked_sub(usize::from(string))
            .ok_or(NeckError::NoString { string, count })
    }

    /// The open string at a place counted from the lowest, zero-based, with the capo: its MIDI key number.
    pub(super) fn open_key(&self, index: usize) -> u8 {
        self.tuning.key(index).saturating_add(self.capo.value())
    }

    /// The key number at a fret; tunings are limited so that no fret goes beyond 127.
    pub(super) fn key(&self, index: usize, fret: Fret) -> u8 {
        self.open_key(index).saturating_add(fret.value()).min(127)
    }
}

/// The pitch class of a MIDI key number.
pub(super) fn class_of(key: u8) -> PitchClass {
    // C, then up: any number of semitones above C is one of twelve classes.
    PitchName::natural(crate::theory::Letter::C)
        .pitch_class()
        .up(i32::from(key))
}

/// A note along one string.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StringNote {
    /// Counted from the capo; 0 is the open string.
    pub fret: Fret,
    /// The plain name, with a flat unless it is a natural note.
    pub flat: PitchName,
    /// The plain name, with a sharp unless it is a natural note.
    pub sharp: PitchName,
    /// Inlays at this fret, 0 to 2.
    pub markers: u8,
}

impl StringNote {
    /// Whether the note is one of the seven letters without an accidental.
    #[must_use]
    pub const fn is_natural(&self) -> bool {
        self.flat.alter() == 0
    }
}

// The highest key is an open string of at most `tuning::HIGHEST_KEY` at fret 36.
const _: () = assert!(super::tuning::HIGHEST_KEY + MAX_FRET <= 127);
