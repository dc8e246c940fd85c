//! Drill `degrees`: a degree of a set to find in its shape, or to name when it sounds, over its held root.

use std::time::Duration;

use super::error::{SetDrillError, key_of_set};
use super::naming::{ask_text, neck_words, pitch_of, place_fact, put_on};
use super::rounds::{bars_of_ask, fitting, in_rounds};
use super::{Exercise, Judging};
use crate::chart::{Answer, Ask, Piece, Times};
use crate::generate::Chance;
use crate::neck::{Neck, NeckError, Position, StringNumber, root_shape};
use crate::theory::Scale;
use crate::time::{Meter, TempoPlan};

/// What is asked about a degree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DegreesAsk {
    /// Its place is asked for, on a string of the shape; its note sounds with the answer.
    Find,
    /// Its note sounds, and its name is asked for.
    Name,
}

impl DegreesAsk {
    /// Both by the words people type.
    pub const NAMES: [(&'static str, DegreesAsk); 2] =
        [("find", DegreesAsk::Find), ("name", DegreesAsk::Name)];

    /// The word people type.
    #[must_use]
    pub fn name(self) -> &'static str {
        let mut names = Self::NAMES.iter();
        names.find(|(_, ask)| *ask == self).map_or("", |n| n.0)
    }
}

/// What to drill.
#[derive(Clone, Debug, PartialEq)]
pub struct Degrees {
    /// The neck it is played on.
    pub neck: Neck,
    /// The set, with the root that is held.
    pub set: Scale,
    /// The string on which the shape begins, at the root.
    pub string: StringNumber,
    /// What is asked.
    pub ask: DegreesAsk,
    /// Beats for an answer, 2 to 64.
    pub beats: u32,
    /// The tempo plan.
    pub tempo: TempoPlan,
    /// Seed of the order, and of the octave in which a note sounds.
    pub seed: u64,
}

impl Degrees {
    /// The name of the drill, the same in every key, however long it is and in whichever order it asks.
    #[must_use]
    pub fn name(&self) -> String {
        let (ask, set) = (self.ask.name(), self.set.formula());
        let (string, neck) = (self.string, neck_words(&self.neck));
        format!("degrees of {set} from string {string}, {ask}{neck}")
    }

    /// All there is to know: to find, every place of the shape, from the lowest note up; to name, every degree once, at
    /// its lowest place.
    ///
    /// ```
    /// use fivefold::drill::{Degrees, DegreesAsk};
    /// use fivefold::neck::{Neck, StringNumber};
    /// use fivefold::theory::Scale;
    /// use fivefold::time::TempoPlan;
    /// let drill = Degrees {
    ///     neck: Neck::standard(),
    ///     set: Scale::read("A minor pentatonic")?,
    ///     string: StringNumber::new(6)?,
    ///     ask: DegreesAsk::Find,
    ///     beats: 4,
    ///     tempo: TempoPlan::steady(60),
    ///     seed: 1,
    /// };
    /// let frets: Vec<u8> = drill.all()?.iter().map(|place| place.fret.value()).collect();
    /// assert_eq!(frets, [5, 8, 5, 7, 5, 7, 5, 7, 5, 8, 5, 8]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When the string is not on the neck, or the shape does not fit on it.
    pub fn all(&self) -> Result<Vec<Position>, NeckError> {
        let shape = root_shape(&self.set, &self.neck, self.string, false)?;
        let mut all: Vec<Position> = Vec::new();
        for place in shape.positions() {
            let known = all.iter().any(|known| known.degree == place.degree);
            if self.ask == DegreesAsk::Find || !known {
                all.push(*place);
            }
        }
        Ok(all)
    }

    /// The name of what is known of a place or a degree, the same in every key: `b3 on string 4, minor pentatonic from 1
    /// on string 6` or `hear b3 of minor pentatonic`.
    #[must_use]
    pub fn fact(&self, place: &Position) -> String {
        let set = self.set.formula();
        match self.ask {
            DegreesAsk::Find => place_fact(place, set, self.string, &self.neck),
            DegreesAsk::Name => format!("hear {} of {set}", place.degree),
        }
    }

    /// So many of these, drawn in rounds: each once in a round, and none twice in a row where there is another.
    #[must_use]
    pub fn drawn(&self, all: &[Position], count: usize) -> Vec<Position> {
        in_rounds(all, count, self.seed, "degrees")
    }

    /// How many can be asked for in so much time at the first tempo, 1 to 500.
    #[must_use]
    pub fn fitting(&self, time: Duration) -> usize {
        fitting(time, bars_of_ask(self.beats), &self.tempo)
    }

    /// The exercise that asks for these, one after the other. A note to name sounds at any place of the shape that has its
    /// degree.
    ///
    /// # Errors
    /// When the shape does not lie on the neck, or the root is the tonic of no key.
    pub fn exercise(&self, asked: &[Position]) -> Result<Exercise, SetDrillError> {
        let bars_each = bars_of_ask(self.beats);
        let shape = root_shape(&self.set, &self.neck, self.string, false)?;
        let mut piece = self.piece()?;
        let mut chance = Chance::new(self.seed, "octave", "degrees", 0, 0);
        let mut facts = Vec::with_capacity(asked.len());
        let mut bar = 1;
        for place in asked {
            let degree = place.degree;
            let (text, note, answer) = match self.ask {
                DegreesAsk::Find => {
                    let (set, string) = (self.set.name(), place.string);
                    let whole = format!("{degree} of {set} on string {string}");
                    let text = ask_text(whole, format!("{degree} of the set on string {string}"));
                    let (string, fret) = (place.string, place.fret);
                    (text, None, Answer::Place { string, fret })
                }
                DegreesAsk::Name => {
                    let whole = format!("which degree of {}", self.set.name());
                    let text = ask_text(whole, "which degree of the set".to_owned());
                    let same = shape.positions().iter().filter(|p| p.degree == degree);
                    let same: Vec<&Position> = same.collect();
                    let at = usize::try_from(chance.below(same.len().max(1) as u64));
                    let heard = at.ok().and_then(|at| same.get(at)).map_or(place, |p| *p);
                    let word = Answer::Word(degree.to_string());
                    (text, Some(pitch_of(heard)), word)
                }
            };
            facts.push(self.fact(place));
            piece.asks.push(Ask {
                bar,
                beat: 1,
                text,
                note,
                answer,
                beats: self.beats,
            });
            bar += bars_each;
        }
        piece.times = Times::Count((bar - 1).max(1));
        Ok(Exercise {
            name: self.name(),
            piece,
            facts,
            changes: Vec::new(),
            judging: Judging::Asks,
        })
    }

    /// The piece without its asks: the click over the held root.
    fn piece(&self) -> Result<Piece, SetDrillError> {
        let mut piece = Piece::click(Meter::COMMON, self.tempo.clone());
        piece.title = format!("Degrees of {} from string {}", self.set.name(), self.string);
        piece.key = Some(key_of_set(&self.set)?);
        piece.set = Some(self.set);
        piece.seed = self.seed;
        put_on(&mut piece, &self.neck);
        // The root alone: with its fifth, a fifth would be heard before it is asked for.
        piece.parts.drone.common.on = true;
        piece.parts.drone.fifth = false;
        piece.parts.guide.common.on = true;
        Ok(piece)
    }
}

#[cfg(test)]
mod tests;
