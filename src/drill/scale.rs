//! Drill `scale`: the shape of a set, run through in one key or in several.

use super::error::{SetDrillError, key_of_set};
use super::naming::{neck_words, put_on};
use super::{Exercise, Judging};
use crate::chart::{Piece, Run, Section, Times};
use crate::generate::{Ground, Jam, Request, key_order};
use crate::neck::{Neck, ScaleShape, StringNumber, root_shape};
use crate::theory::{Harmony, Key, KeyOrder, Scale};
use crate::time::{Meter, TempoPlan};

/// Notes to the beat unless another number is asked for.
pub const USUAL_NOTES: u32 = 2;

/// The longest phrase that is drawn for the backing, in bars; a longer pass repeats it.
const PHRASE_BARS: u32 = 8;

/// What is heard under the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// Chords inside the set; the held root where none is.
    Backing,
    /// The click alone.
    Click,
}

impl Over {
    /// Both by the words people type.
    pub const NAMES: [(&'static str, Over); 2] =
        [("backing", Over::Backing), ("click", Over::Click)];
}

/// Whether the line of the run is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScaleLine {
    /// It plays, with its degrees as lyrics.
    Played,
    /// It is silent, and its degrees are the player's to say.
    Hidden,
}

/// What to drill.
#[derive(Clone, Debug, PartialEq)]
pub struct Scales {
    /// The neck it is played on.
    pub neck: Neck,
    /// The set, on the root of the first key.
    pub set: Scale,
    /// The string on which the shape begins, at the root: 6 or 5.
    pub string: StringNumber,
    /// How the shape is run through.
    pub run: Run,
    /// Notes to the beat, 1 to 8.
    pub notes: u32,
    /// The keys, a pass in each; `None` for that of the set alone.
    pub keys: Option<KeyOrder>,
    /// How often it goes through its keys, 1 or more.
    pub times: u32,
    /// What is heard under it.
    pub over: Over,
    /// Whether the line is heard.
    pub line: ScaleLine,
    /// Seed of the chords and of the order of keys.
    pub seed: u64,
}

impl Scales {
    /// The name of the drill, the same however often it is played and over whatever: the set with its root where that is
    /// the only key, else the set and the order of keys.
    #[must_use]
    pub fn name(&self) -> String {
        let set = match &self.keys {
            None => self.set.name(),
            Some(_) => self.set.formula().to_string(),
        };
        let (string, run) = (self.string, self.run.name());
        let mut name = format!("scale {set} from string {string}, {run}");
        if self.notes != USUAL_NOTES {
            name += &format!(", {} a beat", self.notes);
        }
        if self.line == ScaleLine::Hidden {
            name += ", by heart";
        }
        match &self.keys {
            None => {}
            Some(KeyOrder::Chosen(keys)) => {
                let tonics: Vec<String> = keys.iter().map(|key| key.tonic().to_string()).collect();
                name += &format!(", keys {}", tonics.join(" "));
            }
            Some(order) => name += &format!(", keys {order}"),
        }
        name + &neck_words(&self.neck)
    }

    /// The keys, in the order in which they are played. `practiced` says how much each was practiced, in any unit; it
    /// counts for the least practiced first alone.
    ///
    /// # Errors
    /// When the root of the set is the tonic of no key, or a key is of another mode than the set.
    pub fn keys(&self, practiced: &dyn Fn(&Key) -> u64) -> Result<Vec<Key>, SetDrillError> {
        let first = key_of_set(&self.set)?;
        let Some(order) = &self.keys else {
            return Ok(vec![first]);
        };
        order.check(&first)?;
        Ok(key_order(order, &first, self.seed, practiced))
    }

    /// The shape in the first key.
    ///
    /// # Errors
    /// When the string is not on the neck, or the shape does not fit on it.
    pub fn shape(&self) -> Result<ScaleShape, SetDrillError> {
        Ok(root_shape(&self.set, &self.neck, self.string, false)?)
    }

    /// Bars of a pass: the run goes through the shape once and comes back to where it began, and the last phrase of four
    /// bars is made full.
    ///
    /// # Errors
    /// As [`Scales::shape`].
    pub fn bars(&self) -> Result<u32, SetDrillError> {
        let notes = self.run.order(self.shape()?.positions().len()).len() + 1;
        let per_bar = self.notes.max(1) * Meter::COMMON.beat_count();
        let bars = u32::try_from(notes).unwrap_or(1).div_ceil(per_bar);
        let phrase = if bars <= 4 { 4 } else { PHRASE_BARS };
        Ok(bars.next_multiple_of(phrase))
    }

    /// The exercise. The keys are in it by name where they depend on what was practiced, so it is the same whatever is
    /// practiced after it.
    ///
    /// # Errors
    /// As [`Scales::keys`] and [`Scales::shape`]; a shape that does not fit on the neck in one of the other keys is found
    /// when the piece is arranged.
    pub fn exercise(
        &self,
        tempo: TempoPlan,
        practiced: &dyn Fn(&Key) -> u64,
    ) -> Result<Exercise, SetDrillError> {
        let keys = self.keys(practiced)?;
        let bars = self.bars()?;
        let phrase = bars.min(PHRASE_BARS);
        let mut piece = match self.over {
            Over::Backing => self.backed(phrase),
            Over::Click => bare(phrase),
        };
        let phrases = usize::try_from(bars / phrase).unwrap_or(1);
        piece.form = vec!["A".to_owned(); phrases];
        piece.title = format!(
            "{} from string {}, {}",
            self.set.name(),
            self.string,
            self.run.name()
        );
        piece.tempo = tempo;
        piece.key = Some(key_of_set(&self.set)?);
        piece.set = Some(self.set);
        piece.seed = self.seed;
        piece.times = Times::Count(self.times);
        piece.keys = match &self.keys {
            Some(KeyOrder::LeastPracticed) => Some(KeyOrder::Chosen(keys)),
            other => other.clone(),
        };
        put_on(&mut piece, &self.neck);
        let guide = &mut piece.parts.guide;
        guide.common.on = self.line == ScaleLine::Played;
        guide.string = self.string.value();
        guide.run = self.run;
        guide.notes = Some(self.notes);
        // What is practiced is the run as it is.
        guide.meets_chords = false;
        Ok(Exercise {
            name: self.name(),
            piece,
            facts: Vec::new(),
            changes: Vec::new(),
            judging: Judging::Word,
        })
    }

    /// The click and chords inside the set, so many bars of them at most; the held root where no chord is.
    fn backed(&self, phrase: u32) -> Piece {
        let request = Request {
            bars: phrase,
            ..Request::default()
        };
        let jam = Jam::new(Ground::new(self.set, self.seed), &request);
        let drawn = jam.ok().and_then(|jam| {
            let progression = jam.draw(0)?;
            Some(jam.piece(&progression, Times::Count(self.times)))
        });
        drawn.unwrap_or_else(|| {
            let mut piece = bare(phrase);
            piece.parts.drone.common.on = true;
            piece
        })
    }
}

/// The click alone, so many bars of it.
fn bare(phrase: u32) -> Piece {
    let bars = usize::try_from(phrase).unwrap_or(1);
    let lines = vec!["| N.C. | N.C. | N.C. | N.C. |"; bars.div_ceil(4)];
    let section = Section::of_bars(Meter::COMMON, vec![vec![Harmony::NoChord]; bars]);
    Piece {
        sections: vec![("A".to_owned(), lines.join("\n"), section)],
        ..Piece::click(Meter::COMMON, TempoPlan::steady(60))
    }
}

#[cfg(test)]
mod tests;
