//! Scale shapes: the part of a scale that lies under the hand in one place.
//!
//! A shape begins at one note and climbs the scale, note by note. The hand covers four frets, a finger to each (common
//! practice); the first finger lies at the fret of the lowest note or one below it, whichever leaves fewer notes
//! outside the four frets (when both do as well, at the note itself). A note that lies under the hand stays on its
//! string; any other goes to the string that brings it nearest to the hand, or to the next higher one if there is no
//! difference. This gives the shapes that are taught for the five-note sets and for the seven-note scales, and it looks
//! at intervals alone, so a shape is the same in every key.

use super::board::Neck;
use super::error::NeckError;
use super::position::Position;
use super::units::{Finger, Fret, StringNumber};
use crate::theory::{Degree, Scale};

/// Frets under a hand at rest, a finger to each (common practice).
const HAND_FRETS: i32 = 4;

/// Notes of a scale under the hand, from the lowest to the highest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScaleShape {
    scale: Scale,
    hand: Fret,
    positions: Vec<Position>,
    fingers: Vec<Option<Finger>>,
}

impl ScaleShape {
    /// The scale that the shape lays out.
    #[must_use]
    pub const fn scale(&self) -> &Scale {
        &self.scale
    }

    /// The name of the shape among those of its scale: the degree and the string of its lowest note.
    #[must_use]
    pub fn name(&self) -> String {
        match self.lowest() {
            Some(lowest) => format!("from {} on string {}", lowest.degree, lowest.string),
            None => String::new(),
        }
    }

    /// The lowest note.
    #[must_use]
    pub fn lowest(&self) -> Option<Position> {
        self.positions.first().copied()
    }

    /// The fret of the first finger, counted from the capo, 1 or more.
    #[must_use]
    pub const fn hand(&self) -> Fret {
        self.hand
    }

    /// The notes from the lowest to the highest, one for each pitch: the order in which they are played.
    #[must_use]
    pub fn positions(&self) -> &[Position] {
        &self.positions
    }

    /// The finger of each position, in the same order; none for an open string.
    #[must_use]
    pub fn fingers(&self) -> &[Option<Finger>] {
        &self.fingers
    }

    /// The frets of one string, rising; none where the shape leaves it out.
    #[must_use]
    pub fn frets_on(&self, string: StringNumber) -> Vec<Fret> {
        self.positions
            .iter()
            .filter(|position| position.string == string)
            .map(|position| position.fret)
            .collect()
    }
}

/// The shape of a scale that begins at its root on a string, in the lowest octave in which it lies on the neck.
///
/// Without `open` no string rings open, so that the shape moves to every key as it is.
///
/// ```
/// use fivefold::neck::{Neck, StringNumber, root_shape};
/// use fivefold::theory::Scale;
/// let set = Scale::read("A minor pentatonic").unwrap();
/// let shape = root_shape(&set, &Neck::standard(), StringNumber::new(6)?, false)?;
/// let frets: Vec<_> = shape.positions().iter().map(|p| p.fret.value()).collect();
/// assert_eq!(frets, [5, 8, 5, 7, 5, 7, 5, 7, 5, 8, 5, 8]);
/// # Ok::<(), fivefold::neck::NeckError>(())
/// ```
///
/// # Errors
/// [`NeckError::NoString`] for a string the tuning has not, [`NeckError::ShapeOffNeck`] when the neck is too short.
pub fn root_shape(
    scale: &Scale,
    neck: &Neck,
    string: StringNumber,
    open: bool,
) -> Result<ScaleShape, NeckError> {
    shape_from(scale, neck, string, Degree::ROOT, open)
}

/// The shapes of a scale that hang together along the neck: one from each of its notes on the lowest string, each in the
/// lowest octave in which it lies on the neck, from the nut up.
///
/// # Errors
/// [`NeckError::ShapeOffNeck`] when not one of them lies on the neck.
pub fn linked_shapes(scale: &Scale, neck: &Neck, open: bool) -> Result<Vec<ScaleShape>, NeckError> {
    let string = StringNumber::at(0, neck.string_count());
    let mut found = Vec::new();
    let mut failed = None;
    for degree in scale.degrees() {
        match shape_from(scale, neck, string, *degree, open) {
            Ok(shape) => found.push(shape),
            Err(error) => failed = failed.or(Some(error)),
        }
    }
    found.sort_by_key(|shape| shape.lowest().map(|lowest| lowest.fret));
    match failed {
        Some(error) if found.is_empty() => Err(error),
        _ => Ok(found),
    }
}

/// A note on its way to a string: place of the string from the lowest, fret, degree. The fret may still lie off the neck.
type Placed = (usize, i32, Degree);

/// The shape that begins at a degree on a string.
fn shape_from(
    scale: &Scale,
    neck: &Neck,
    string: StringNumber,
    degree: Degree,
    open: bool,
) -> Result<ScaleShape, NeckError> {
    let index = neck.index(string)?;
    let root = i32::from(scale.root().pitch_class().value());
    let last = i32::from(neck.last_fret().value());
    let fewest = if open { 0 } else { 1 };
    let mut start = (root + degree.semitones() - i32::from(neck.open_key(index))).rem_euclid(12);
    let mut opens = false;
    // Each round lies an octave higher, so one of them is clear of the nut or beyond the last fret.
    loop {
        let (hand, placed) = best_climb(scale, neck, (index, start, degree));
        let lowest = placed.iter().map(|note| note.1).min().unwrap_or(start);
        let highest = placed.iter().map(|note| note.1).max().unwrap_or(start);
        if lowest >= fewest && highest <= last {
            return Ok(finished(scale, neck, hand, &placed));
        }
        if lowest >= fewest {
            let capo = neck.capo();
            return Err(NeckError::ShapeOffNeck {
                scale: scale.name(),
                string: string.value(),
                needs: highest.unsigned_abs() + u32::from(capo.value()),
                frets: neck.frets().value(),
                capo: capo.value(),
                opens,
            });
        }
        opens |= lowest == 0 && highest <= last;
        start += 12;
    }
}

/// Climbs with the first finger at the lowest note and one fret below it, and keeps the hand with less outside it.
fn best_climb(scale: &Scale, neck: &Neck, from: Placed) -> (i32, Vec<Placed>) {
    let at_note = climb(scale, neck, from, from.1);
    let below = climb(scale, neck, from, from.1 - 1);
    if below.0 < at_note.0 {
        (from.1 - 1, below.1)
    } else {
        (from.1, at_note.1)
    }
}

/// How many frets a fret lies outside the hand.
fn outside(fret: i32, hand: i32) -> i32 {
    (hand - fret).max(fret - (hand + HAND_FRETS - 1)).max(0)
}

/// Climbs the scale from a note as far as the hand reaches; also how far outside the hand the notes lie in all.
fn climb(scale: &Scale, neck: &Neck, from: Placed, hand: i32) -> (i32, Vec<Placed>) {
    let count = neck.string_count();
    let open = |index: usize| i32::from(neck.open_key(index));
    // The scale in order of sound; degrees may be written in any order, and b1 or #7 lie beyond the octave.
    let mut steps: Vec<(i32, Degree)> = scale
        .degrees()
        .iter()
        .map(|degree| (degree.semitones().rem_euclid(12), *degree))
        .collect();
    steps.sort_unstable();
    let at = steps.iter().position(|step| step.1 == from.2).unwrap_or(0);
    let base = open(from.0) + from.1 - steps[at].0;

    let mut placed = vec![from];
    let mut total = outside(from.1, hand);
    let mut string = from.0;
    for next in at + 1.. {
        let (semitones, degree) = steps[next % steps.len()];
        let octave = i32::try_from(next / steps.len()).unwrap_or(0);
        let sound = base + semitones + 12 * octave;
        let stay = outside(sound - open(string), hand);
        if stay > 0 {
            let other = (string + 1..count)
                .map(|index| (outside(sound - open(index), hand), index))
                .min();
            match other {
                Some((away, index)) if away <= stay => string = index,
                // Notes above the hand on the highest string are not part of the shape.
                None => break,
                Some(_) => {}
            }
        }
        let fret = sound - open(string);
        total += outside(fret, hand);
        placed.push((string, fret, degree));
    }
    (total, placed)
}

/// The shape of notes that all lie on the neck.
fn finished(scale: &Scale, neck: &Neck, hand: i32, placed: &[Placed]) -> ScaleShape {
    let count = neck.string_count();
    // A hand cannot lie below the first fret.
    let hand = hand.max(1);
    let small = |value: i32| u8::try_from(value.max(0)).unwrap_or(u8::MAX);
    let mut positions = Vec::with_capacity(placed.len());
    let mut fingers = Vec::with_capacity(placed.len());
    for &(index, fret, degree) in placed {
        let at = Fret::clamped(small(fret));
        positions.push(Position {
            string: StringNumber::at(index, count),
            fret: at,
            note: degree.above(scale.root()),
            degree,
            midi: neck.key(index, at),
        });
        fingers.push((fret > 0).then(|| Finger::clamped(small(fret - hand + 1))));
    }
    ScaleShape {
        scale: *scale,
        hand: Fret::clamped(small(hand)),
        positions,
        fingers,
    }
}

#[cfg(test)]
mod tests;
