//! Drill `roots`: a note to find on a string, and its fret so many beats later.

use std::time::Duration;

use super::naming::{ask_text, neck_words, place_fact, put_on};
use super::rounds::{bars_of_ask, fitting, in_rounds};
use super::{Exercise, Judging};
use crate::chart::{Answer, Ask, Piece, Times};
use crate::diagnostic::Diagnostic;
use crate::generate::Chance;
use crate::neck::{Fret, Neck, NeckError, Position, StringNumber, root_shape};
use crate::theory::{PitchClass, PitchName, ScaleFormula};
use crate::time::{Meter, TempoPlan};

/// Frets of an octave: higher ones repeat the names.
const OCTAVE: u8 = 12;

/// Which notes are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RootNotes {
    /// Those at the markers of the neck, up to the octave.
    Marked,
    /// Those a semitone beside a marked one, which is named with them.
    Beside,
    /// The seven without a sharp or flat.
    Natural,
    /// All twelve notes of the octave.
    All,
}

impl RootNotes {
    /// All of them by the words people type, in the order in which they are learned (common practice: first what can be
    /// seen, then what lies beside it).
    pub const NAMES: [(&'static str, RootNotes); 4] = [
        ("marked", RootNotes::Marked),
        ("beside", RootNotes::Beside),
        ("natural", RootNotes::Natural),
        ("all", RootNotes::All),
    ];

    /// The word people type.
    #[must_use]
    pub fn name(self) -> &'static str {
        let mut names = Self::NAMES.iter();
        names.find(|(_, notes)| *notes == self).map_or("", |n| n.0)
    }
}

/// A note on a string: one thing to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StringRoot {
    /// The string, counted from 1, the highest.
    pub string: StringNumber,
    /// Where the answer places it, counted from the capo. Any fret of the string with that note is right.
    pub fret: Fret,
    /// Its name; a black key by its sharp.
    pub name: PitchName,
    /// The marked note it lies beside, where it is asked for by that.
    pub beside: Option<PitchName>,
}

/// What to drill.
#[derive(Clone, Debug, PartialEq)]
pub struct Roots {
    /// The neck it is played on.
    pub neck: Neck,
    /// The strings, in the order in which they are learned.
    pub strings: Vec<StringNumber>,
    /// Which notes of them.
    pub notes: RootNotes,
    /// Beats to find one, 2 to 64.
    pub beats: u32,
    /// The tempo plan.
    pub tempo: TempoPlan,
    /// A set whose shape is placed from each root that is asked for: its next note is asked for as well.
    pub shape: Option<ScaleFormula>,
    /// Seed of the order and of the names of black keys.
    pub seed: u64,
}

/// Why there is no such drill.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RootsError {
    /// A string or a place is not on the neck, or a shape does not fit on it.
    #[error(transparent)]
    Neck(#[from] NeckError),
    /// No string was named.
    #[error("there is no string to find notes on")]
    NoString,
}

impl Diagnostic for RootsError {
    fn code(&self) -> &'static str {
        match self {
            RootsError::Neck(e) => e.code(),
            RootsError::NoString => "drill-string",
        }
    }

    fn help(&self) -> String {
        match self {
            RootsError::Neck(e) => e.help(),
            RootsError::NoString => "name one or more, such as 6 and 5".to_owned(),
        }
    }
}

impl StringRoot {
    /// The name under which it is remembered, such as `A# on string 6`.
    #[must_use]
    pub fn fact(&self, neck: &Neck) -> String {
        format!(
            "{} on string {}{}",
            self.name,
            self.string,
            neck_words(neck)
        )
    }
}

impl Roots {
    /// The name of the drill, the same however long it is and in whichever order it asks.
    #[must_use]
    pub fn name(&self) -> String {
        let strings: Vec<String> = self.strings.iter().map(StringNumber::to_string).collect();
        let strings = strings.join(" ");
        let neck = neck_words(&self.neck);
        let notes = self.notes.name();
        match &self.shape {
            None => format!("roots on {strings}, {notes}{neck}"),
            Some(set) => format!("roots on {strings}, {notes}, with {set}{neck}"),
        }
    }

    /// All there is to know, in the order in which it is learned: string by string, from the nut up.
    ///
    /// ```
    /// use fivefold::drill::{RootNotes, Roots};
    /// use fivefold::neck::{Neck, StringNumber};
    /// use fivefold::time::TempoPlan;
    /// let drill = Roots {
    ///     neck: Neck::standard(),
    ///     strings: vec![StringNumber::new(6)?],
    ///     notes: RootNotes::Marked,
    ///     beats: 4,
    ///     tempo: TempoPlan::steady(60),
    ///     shape: None,
    ///     seed: 1,
    /// };
    /// let names: Vec<String> = drill.all()?.iter().map(|root| root.name.to_string()).collect();
    /// assert_eq!(names, ["G", "A", "B", "C#", "E"]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When no string is named, or one is not on the neck.
    pub fn all(&self) -> Result<Vec<StringRoot>, RootsError> {
        if self.strings.is_empty() {
            return Err(RootsError::NoString);
        }
        let mut found = Vec::new();
        for string in &self.strings {
            self.on_string(*string, &mut found)?;
        }
        Ok(found)
    }

    fn on_string(
        &self,
        string: StringNumber,
        found: &mut Vec<StringRoot>,
    ) -> Result<(), NeckError> {
        let last = self.neck.last_fret().value();
        let notes = self.neck.notes_on(string)?;
        let marked =
            |fret: u8| (1..=OCTAVE).contains(&fret) && notes[usize::from(fret)].markers > 0;
        let class = |fret: u8| notes[usize::from(fret)].sharp.pitch_class();
        let known: Vec<PitchClass> = (0..=last).filter(|f| marked(*f)).map(class).collect();
        let first = found.len();
        // One behind the octave lies beside its marker.
        for fret in 0..=last.min(OCTAVE + 1) {
            let beside = match self.notes {
                RootNotes::Marked if marked(fret) => None,
                RootNotes::Natural if fret <= OCTAVE && notes[usize::from(fret)].is_natural() => {
                    None
                }
                RootNotes::All if fret <= OCTAVE => None,
                RootNotes::Beside if !known.contains(&class(fret)) => {
                    // The fret above a marked one first: that is the way it is said.
                    let below = fret.checked_sub(1).filter(|f| marked(*f));
                    let above = Some(fret + 1).filter(|f| *f <= last && marked(*f));
                    match below.or(above) {
                        Some(fret) => Some(notes[usize::from(fret)].sharp),
                        None => continue,
                    }
                }
                _ => continue,
            };
            let name = notes[usize::from(fret)].sharp;
            let same = |root: &StringRoot| root.name == name;
            if !found[first..].iter().any(same) {
                found.push(StringRoot {
                    string,
                    fret: notes[usize::from(fret)].fret,
                    name,
                    beside,
                });
            }
        }
        Ok(())
    }

    /// So many of these, drawn in rounds: each once in a round, and none twice in a row where there is another.
    #[must_use]
    pub fn drawn(&self, all: &[StringRoot], count: usize) -> Vec<StringRoot> {
        in_rounds(all, count, self.seed, "roots")
    }

    /// How many can be asked for in so much time at the first tempo, 1 to 500.
    #[must_use]
    pub fn fitting(&self, time: Duration) -> usize {
        let asks = if self.shape.is_some() { 2 } else { 1 };
        fitting(time, bars_of_ask(self.beats) * asks, &self.tempo)
    }

    /// The exercise that asks for these, one after the other.
    ///
    /// # Errors
    /// When a shape does not lie on the neck.
    pub fn exercise(&self, asked: &[StringRoot]) -> Result<Exercise, RootsError> {
        let meter = Meter::COMMON;
        let bars_each = bars_of_ask(self.beats);
        let mut piece = Piece::click(meter, self.tempo.clone());
        let strings: Vec<String> = self.strings.iter().map(StringNumber::to_string).collect();
        piece.title = format!("Roots on string {}", strings.join(", "));
        piece.seed = self.seed;
        put_on(&mut piece, &self.neck);
        piece.parts.guide.common.on = true;
        let mut facts = Vec::new();
        let mut bar = 1;
        let mut chance = Chance::new(self.seed, "spelling", "roots", 0, 0);
        let mut put = |text: String, string, fret, fact: String| {
            facts.push(fact);
            let answer = Answer::Place { string, fret };
            piece.asks.push(Ask {
                bar,
                beat: 1,
                text,
                note: None,
                answer,
                beats: self.beats,
            });
            bar += bars_each;
        };
        for root in asked {
            let name = spelled(root.name, &mut chance);
            let beside = root
                .beside
                .map_or(String::new(), |b| format!(", beside {b}"));
            let text = format!("{name} on string {}{beside}", root.string);
            put(text, root.string, root.fret, root.fact(&self.neck));
            if let Some(set) = self.shape {
                let next = self.next_in_shape(set, root)?;
                let degree = next.degree;
                let text = format!(
                    "{degree} of {} on string {}",
                    set.on(name).name(),
                    next.string
                );
                let short = format!("{degree} of the set on string {}", next.string);
                let text = ask_text(text, short);
                let fact = place_fact(&next, set, root.string, &self.neck);
                put(text, next.string, next.fret, fact);
            }
        }
        let bars = u32::try_from(facts.len())
            .unwrap_or(u32::MAX)
            .saturating_mul(bars_each);
        piece.times = Times::Count(bars.max(1));
        Ok(Exercise {
            name: self.name(),
            piece,
            facts,
            changes: Vec::new(),
            judging: Judging::Asks,
        })
    }

    /// The second note of the shape that begins at a root.
    fn next_in_shape(&self, set: ScaleFormula, root: &StringRoot) -> Result<Position, NeckError> {
        let shape = root_shape(&set.on(root.name), &self.neck, root.string, false)?;
        let positions = shape.positions();
        positions
            .get(1)
            .or(positions.first())
            .copied()
            .ok_or(NeckError::NoString {
                string: root.string.value(),
                count: self.neck.string_count(),
            })
    }
}

/// A black key by its sharp or its flat, as chance will have it: both are asked for.
fn spelled(name: PitchName, chance: &mut Chance) -> PitchName {
    PitchName::simplest(name.pitch_class(), chance.below(2) == 1)
}

#[cfg(test)]
mod tests;
