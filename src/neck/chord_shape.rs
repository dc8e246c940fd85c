//! Chord shapes: frets for every string, and the fingers that hold them.

use super::board::{Neck, class_of};
use super::error::NeckError;
use super::hand::{HandModel, MUTED};
use super::position::{Position, Spelling};
use super::search::{self, Found};
use super::units::{Finger, Fret, StringNumber};
use crate::theory::{Chord, Degree, Interval, PitchName};

/// One finger laid flat over several strings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Barre {
    /// The finger that lies flat.
    pub finger: Finger,
    /// The fret, counted from the capo, 1 or more.
    pub fret: Fret,
    /// The lowest string it presses.
    pub from: StringNumber,
    /// The highest string it presses.
    pub to: StringNumber,
}

/// A way of holding a chord.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChordShape {
    chord: Chord,
    frets: Vec<Option<Fret>>,
    fingers: Vec<Option<Finger>>,
    barres: Vec<Barre>,
    positions: Vec<Position>,
    left_out: Vec<Degree>,
    effort_hundredths: u16,
}

impl ChordShape {
    /// The chord that the shape sounds.
    #[must_use]
    pub const fn chord(&self) -> &Chord {
        &self.chord
    }

    /// The fret of each string from the lowest to the highest, counted from the capo; none for a muted string.
    #[must_use]
    pub fn frets(&self) -> &[Option<Fret>] {
        &self.frets
    }

    /// The finger of each string from the lowest to the highest; none for an open or muted string.
    #[must_use]
    pub fn fingers(&self) -> &[Option<Finger>] {
        &self.fingers
    }

    /// The barres: that of the index finger first, then that of another finger.
    #[must_use]
    pub fn barres(&self) -> &[Barre] {
        &self.barres
    }

    /// The strings that sound, from the lowest to the highest: the order of a strum down.
    ///
    /// A slash bass that is not a chord tone has the degree it would have above the root.
    #[must_use]
    pub fn positions(&self) -> &[Position] {
        &self.positions
    }

    /// Chord tones that do not sound, rising.
    #[must_use]
    pub fn left_out(&self) -> &[Degree] {
        &self.left_out
    }

    /// How hard the shape is to hold, in hundredths of one finger put down; less is easier.
    #[must_use]
    pub const fn effort_hundredths(&self) -> u16 {
        self.effort_hundredths
    }

    /// The frets in writing, from the lowest string up, `x` for a muted one: `x32010`, with hyphens between where a fret
    /// has two digits: `x-x-10-12-13-12`.
    #[must_use]
    pub fn frets_text(&self) -> String {
        let wide = self.frets.iter().flatten().any(|fret| fret.value() > 9);
        let words: Vec<String> = self
            .frets
            .iter()
            .map(|fret| fret.map_or("x".to_owned(), |fret| fret.to_string()))
            .collect();
        words.join(if wide { "-" } else { "" })
    }

    /// The fingers in writing, from the lowest string up, `-` for an open or muted one: `-32-1-`.
    #[must_use]
    pub fn fingers_text(&self) -> String {
        let sign = |finger: &Option<Finger>| finger.map_or("-".to_owned(), |f| f.to_string());
        self.fingers.iter().map(sign).collect()
    }

    /// The lowest fret pressed; none when all strings that sound are open.
    #[must_use]
    pub fn lowest_fret(&self) -> Option<Fret> {
        let pressed = self.frets.iter().flatten().filter(|fret| !fret.is_open());
        pressed.min().copied()
    }

    /// How far the fingers move to another shape, in hundredths of one finger put down.
    ///
    /// A finger that stays costs nothing, one put down anew 30, one that moves 30 and 40 for each fret and 15 for each
    /// string. The weights are our own choice: along the neck the whole hand moves, across it a finger alone.
    #[must_use]
    pub fn change_to(&self, next: &ChordShape) -> u16 {
        let place = |shape: &ChordShape, number: u8| {
            let at = |finger: &Option<Finger>| finger.is_some_and(|f| f.value() == number);
            let string = shape.fingers.iter().position(at)?;
            let fret = shape.frets[string]?.value();
            Some((string, fret))
        };
        let mut effort = 0_u16;
        for number in 1..=4 {
            match (place(self, number), place(next, number)) {
                (_, None) => {}
                (None, Some(_)) => effort += 30,
                (Some(own), Some(other)) if own == other => {}
                (Some(own), Some(other)) => {
                    let strings = u16::try_from(own.0.abs_diff(other.0)).unwrap_or(0);
                    effort += 30 + 40 * u16::from(own.1.abs_diff(other.1)) + 15 * strings;
                }
            }
        }
        effort
    }

    fn new(chord: &Chord, neck: &Neck, found: &Found) -> ChordShape {
        let count = neck.string_count();
        let spelling = Spelling::new(chord.root(), chord.degrees());
        let fret = |value: i8| Fret::clamped(value.unsigned_abs());
        let frets: Vec<Option<Fret>> = found.frets[..count]
            .iter()
            .map(|value| (*value != MUTED).then(|| fret(*value)))
            .collect();
        let positions: Vec<Position> = frets
            .iter()
            .enumerate()
            .filter_map(|(index, fret)| fret.map(|fret| (index, fret)))
            .map(|(index, fret)| {
                let midi = neck.key(index, fret);
                let (note, degree) = spelling
                    .of(class_of(midi))
                    .unwrap_or_else(|| (chord.bass(), degree_of(chord.root(), chord.bass())));
                Position {
                    string: StringNumber::at(index, count),
                    fret,
                    note,
                    degree,
                    midi,
                }
            })
            .collect();
        let sounds = |degree: &Degree| {
            let class = chord.root().pitch_class().up(degree.semitones());
            positions.iter().any(|p| class_of(p.midi) == class)
        };
        ChordShape {
            chord: *chord,
            fingers: found.grip.fingers[..count]
                .iter()
                .map(|number| (*number > 0).then(|| Finger::clamped(*number)))
                .collect(),
            barres: found
                .grip
                .barres
                .into_iter()
                .flatten()
                .map(|(finger, from, to)| Barre {
                    finger,
                    fret: fret(found.frets[from]),
                    from: StringNumber::at(from, count),
                    to: StringNumber::at(to, count),
                })
                .collect(),
            left_out: chord
                .degrees()
                .iter()
                .copied()
                .filter(|degree| !sounds(degree))
                .collect(),
            frets,
            positions,
            effort_hundredths: found.effort,
        }
    }
}

/// The degree of a note above a root, by its letter where it is near the major scale, else by its sound.
fn degree_of(root: PitchName, note: PitchName) -> Degree {
    let interval = Interval::between(root, note);
    let number = u8::try_from(interval.steps() + 1).unwrap_or(1);
    let plain = Degree::new(number, 0).unwrap_or(Degree::ROOT);
    let alter = i8::try_from(interval.semitones() - plain.semitones()).unwrap_or(0);
    // By sound: 1 b2 2 b3 3 4 b5 5 b6 6 b7 7.
    const FLATS: [(u8, i8); 12] = [
        (1, 0),
        (2, -1),
        (2, 0),
        (3, -1),
        (3, 0),
        (4, 0),
        (5, -1),
        (5, 0),
        (6, -1),
        (6, 0),
        (7, -1),
        (7, 0),
    ];
    Degree::new(number, alter).unwrap_or_else(|_| {
        let semitones = usize::try_from(interval.semitones().rem_euclid(12)).unwrap_or(0);
        let (number, alter) = FLATS[semitones];
        Degree::new(number, alter).unwrap_or(Degree::ROOT)
    })
}

/// Shapes of a chord on a neck, the easiest first, no more than `most`; none where the hand can hold none.
///
/// Every string sounds a chord tone or nothing. The slash bass, where the chord has one, is the lowest note; else the
/// root is where that is easy. A chord of three tones sounds them all. Of a larger one the natural fifth may be
/// missing, a ninth below an eleventh or thirteenth, an eleventh below a thirteenth, and, without its fifth, the root
/// (common practice). Where no hand can hold the rest, one altered ninth and one altered fifth, eleventh or thirteenth
/// are enough, and where that is too much still, third and seventh with one more tone. A shape that is an easier one with
/// strings left out is not listed again, unless its bass lies on another string or the easier one alone has open strings.
///
/// ```
/// use fivefold::neck::{HandModel, Neck, chord_shapes};
/// use fivefold::theory::symbol;
/// let chord = symbol::read("C").unwrap();
/// let shapes = chord_shapes(chord.chord().unwrap(), &Neck::standard(), &HandModel::default(), 1);
/// assert_eq!(shapes[0].frets_text(), "x32010");
/// assert_eq!(shapes[0].fingers_text(), "-32-1-");
/// ```
#[must_use]
pub fn chord_shapes(chord: &Chord, neck: &Neck, hand: &HandModel, most: usize) -> Vec<ChordShape> {
    search::search(chord, neck, hand, most)
        .iter()
        .map(|found| ChordShape::new(chord, neck, found))
        .collect()
}

/// How many of the easiest shapes are considered when looking for a near one.
const NEAR: usize = 12;

/// The shape of a chord to play after another one: of the easiest few, the one with the least effort including the
/// change.
///
/// # Errors
/// [`NeckError::NoShape`] where the hand can hold none.
pub fn chord_shape_near(
    chord: &Chord,
    neck: &Neck,
    hand: &HandModel,
    previous: &ChordShape,
) -> Result<ChordShape, NeckError> {
    chord_shapes(chord, neck, hand, NEAR)
        .into_iter()
        .min_by_key(|shape| {
            u32::from(shape.effort_hundredths) + u32::from(previous.change_to(shape))
        })
        .ok_or_else(|| NeckError::NoShape {
            chord: chord.to_string(),
        })
}
