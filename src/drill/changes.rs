//! Drill `changes`: chords string by string, strummed, and changed in time; or changed freely for a minute a pair.

mod free;
mod order;

use std::time::Duration;

pub use self::free::{FreeCount, Mark};
use self::order::{CHANGES, STRINGS, STRUM};
pub use self::order::{ChangeOrder, ChangeStep};
use super::naming::{neck_words, put_on};
use super::{ChangeAt, Exercise, Judging};
use crate::chart::{
    ClickBeats, Pattern, Piece, Problems, Severity, StrumShape, Times, read_section,
};
use crate::diagnostic::{Diagnostic, counted};
use crate::generate::Chance;
use crate::neck::{ChordShape, HandModel, Neck, chord_shapes};
use crate::theory::Chord;
use crate::time::{Meter, TempoPlan};

/// The most chords of a list: each two of them make a pair.
pub const MOST_CHANGED: usize = 40;

/// The fewest changes of a take that is not shortened.
const LEAST_CHANGES: usize = 16;

/// A beat no bar of four has: the click is silent where it may sound on this one alone.
const NO_BEAT: u32 = 32;

/// Beats of a minute at the tempo of free changes.
const MINUTE_BEATS: u32 = 60;

/// What to drill.
#[derive(Clone, Debug, PartialEq)]
pub struct Changes {
    /// The neck it is played on.
    pub neck: Neck,
    /// The chords in the order in which they are learned, each once, 2 to 40.
    pub chords: Vec<Chord>,
    /// What is practiced of them.
    pub step: ChangeStep,
    /// Beats from change to change, 1 to 16.
    pub beats: u32,
    /// Seed of the order of the changes.
    pub seed: u64,
}

/// Why there is no such drill.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ChangesError {
    /// A chord cannot be held.
    #[error("{chord} has no shape on this neck")]
    NoShape {
        /// Its symbol, as the program writes it.
        chord: String,
    },
    /// There is nothing to change to.
    #[error("changes are from chord to chord, found {}", counted(*found as u64, "chord"))]
    Few {
        /// How many there are.
        found: usize,
    },
    /// The list is too long.
    #[error("at most {MOST_CHANGED} chords are changed in a take, found {found}")]
    Many {
        /// How many there are.
        found: usize,
    },
    /// The reader refused the chart.
    #[error("the drill cannot be written: {0}")]
    Piece(#[from] Problems),
}

impl Diagnostic for ChangesError {
    fn code(&self) -> &'static str {
        match self {
            ChangesError::NoShape { .. } => "drill-shape",
            ChangesError::Few { .. } | ChangesError::Many { .. } => "drill-chords",
            ChangesError::Piece(_) => "drill-long",
        }
    }

    fn help(&self) -> String {
        match self {
            ChangesError::NoShape { .. } => {
                "leave it out, or name a plainer chord on the same root"
            }
            ChangesError::Few { .. } => "name two or more, such as Am C",
            ChangesError::Many { .. } | ChangesError::Piece(_) => "name fewer chords",
        }
        .to_owned()
    }
}

/// What stands between the chords of a pair in its name, and in no other fact.
const TO: &str = " to ";

/// Whether a fact is a pair of chords, by its name.
#[must_use]
pub fn is_pair(fact: &str) -> bool {
    fact.contains(TO)
}

/// The name of a pair of chords, such as `Am to C`: the same for the change and the way back.
#[must_use]
pub fn pair_name(one: &Chord, other: &Chord, neck: &Neck) -> String {
    let mut names = [one.to_string(), other.to_string()];
    names.sort();
    format!("{}{TO}{}{}", names[0], names[1], neck_words(neck))
}

impl Changes {
    /// Looks whether all of it can be played.
    ///
    /// # Errors
    /// When there are too few or too many chords, or one has no shape.
    pub fn check(&self) -> Result<(), ChangesError> {
        let found = self.chords.len();
        match found {
            0 | 1 => Err(ChangesError::Few { found }),
            2..=MOST_CHANGED => self.shapes().map(|_| ()),
            _ => Err(ChangesError::Many { found }),
        }
    }

    /// The name of the drill, the same in every run over the same chords.
    #[must_use]
    pub fn name(&self) -> String {
        let step = match self.step {
            ChangeStep::All => String::new(),
            step => {
                let mut names = ChangeStep::NAMES.iter();
                let name = names.find(|(_, of)| *of == step).map_or("", |n| n.0);
                format!(", {name} alone")
            }
        };
        let beats = counted(u64::from(self.beats), "beat");
        let neck = neck_words(&self.neck);
        format!("changes {}, led, {beats}{step}{neck}", self.list())
    }

    /// The symbols with spaces between.
    #[must_use]
    pub fn list(&self) -> String {
        let symbols: Vec<String> = self.chords.iter().map(Chord::to_string).collect();
        symbols.join(" ")
    }

    /// The shape of each chord: the easiest one, which the strummed guitar plays too.
    ///
    /// # Errors
    /// When a chord has none.
    pub fn shapes(&self) -> Result<Vec<ChordShape>, ChangesError> {
        let hand = HandModel::default();
        let easiest = |chord: &Chord| {
            let shapes = chord_shapes(chord, &self.neck, &hand, 1);
            let chord = chord.to_string();
            shapes
                .into_iter()
                .next()
                .ok_or(ChangesError::NoShape { chord })
        };
        self.chords.iter().map(easiest).collect()
    }

    /// How many pairs there are; a change and the way back are one.
    #[must_use]
    pub fn pair_count(&self) -> usize {
        self.chords.len() * self.chords.len().saturating_sub(1) / 2
    }

    /// How many changes fit into so much time at the first tempo, after the steps before them; at least one.
    #[must_use]
    pub fn fitting(&self, time: Duration, tempo: &TempoPlan) -> usize {
        let beat_us = 60_000_000_000 / u128::from(tempo.first_milli().max(1));
        let beats = time.as_micros() / beat_us.max(1);
        let bars = [(STRINGS, 2), (STRUM, 1)]
            .iter()
            .filter(|(section, _)| self.step.has(section))
            .map(|(_, bars)| bars)
            .sum::<u128>();
        let before = bars * 4 * self.chords.len() as u128;
        let fitting = beats.saturating_sub(before) / u128::from(self.beats.max(1));
        usize::try_from(fitting).unwrap_or(usize::MAX).max(1)
    }

    /// The chords in the order in which they are played, by their places in the list. Each pair comes at least once, then
    /// half as many changes again, 16 in all at least, by the weights of the pairs; no chord follows itself. At most `most`
    /// changes are made, however many pairs there are.
    pub fn walk(&self, most: usize, weight: impl Fn(&str) -> u64) -> Vec<usize> {
        let count = self.chords.len();
        let mut walk = vec![0];
        if count < 2 {
            return walk;
        }
        let weights: Vec<Vec<u128>> = self
            .chords
            .iter()
            .map(|from| {
                let to = |to: &Chord| u128::from(weight(&pair_name(from, to, &self.neck)));
                self.chords.iter().map(to).collect()
            })
            .collect();
        let mut met = vec![vec![false; count]; count];
        let mut left = self.pair_count();
        let mut more = left.div_ceil(2).max(LEAST_CHANGES.saturating_sub(left));
        let mut chance = Chance::new(self.seed, "order", "changes", 0, 0);
        while walk.len() <= most && (left > 0 || more > 0) {
            let here = walk.last().copied().unwrap_or(0);
            let new = |to: usize| to != here && !met[here][to];
            let open = left > 0 && (0..count).any(new);
            // Where all changes from here were made, the way leads to a chord from which some were not.
            let leads =
                |to: usize| left == 0 || (0..count).any(|next| next != to && !met[to][next]);
            let of = |to: usize| {
                let fits = if open {
                    new(to)
                } else {
                    to != here && leads(to)
                };
                if fits { weights[here][to].max(1) } else { 0 }
            };
            let Some(to) = chance.weighted((0..count).map(of)) else {
                break;
            };
            if met[here][to] {
                more = more.saturating_sub(usize::from(left == 0));
            } else {
                left -= 1;
                (met[here][to], met[to][here]) = (true, true);
            }
            walk.push(to);
        }
        walk
    }

    /// The exercise: the steps one after the other, the changes in this order, by places in the list. A list of two chords
    /// is about one pair, which a word about the take is true of.
    ///
    /// # Errors
    /// When a chord has no shape, or the chart is too long.
    pub fn exercise(&self, walk: &[usize], tempo: TempoPlan) -> Result<Exercise, ChangesError> {
        self.check()?;
        let shapes = self.shapes()?;
        let mut piece = self.silent(tempo);
        piece.title = format!("Changes: {}", self.list());
        let strum = &mut piece.parts.strum;
        strum.common.on = true;
        strum.shape = StrumShape::Easiest;
        strum.pattern = Pattern::read("D D D D");
        let mut sections = Vec::new();
        if self.step.has(STRINGS) {
            strum
                .in_sections
                .extend(Pattern::read("s s s s").map(|p| (STRINGS.to_owned(), p)));
            // As many bars for each chord: what is left of them is time to change.
            let most = shapes.iter().map(|shape| shape.positions().len()).max();
            let bars = most.unwrap_or(1).div_ceil(4).max(2);
            let rest = " % |".repeat(bars - 1);
            let bars = self.chords.iter().map(|chord| format!("| {chord} |{rest}"));
            sections.push((STRINGS, bars.collect::<Vec<_>>().join("\n")));
        }
        if self.step.has(STRUM) {
            let bars = self.chords.iter().map(|chord| format!("| {chord} |"));
            sections.push((STRUM, bars.collect::<Vec<_>>().join("\n")));
        }
        if self.step.has(CHANGES) {
            sections.push((CHANGES, self.changes(walk)));
        }
        write(&mut piece, sections)?;
        let changes = self.changes_at(walk, &piece);
        let facts = match &*self.chords {
            [one, other] => vec![pair_name(one, other, &self.neck)],
            _ => Vec::new(),
        };
        Ok(Exercise {
            name: self.name(),
            piece,
            facts,
            changes,
            judging: Judging::Word,
        })
    }

    /// The chart of the changes, a sign a beat, filled up to a whole bar.
    fn changes(&self, walk: &[usize]) -> String {
        let mut signs: Vec<String> = Vec::new();
        for chord in walk.iter().filter_map(|at| self.chords.get(*at)) {
            signs.push(chord.to_string());
            signs.extend((1..self.beats).map(|_| "/".to_owned()));
        }
        while !signs.len().is_multiple_of(4) {
            signs.push("/".to_owned());
        }
        let bars = signs.chunks(4).map(|bar| format!("| {} |", bar.join(" ")));
        bars.collect::<Vec<_>>().join("\n")
    }

    /// Where each change of the piece is, in order.
    fn changes_at(&self, walk: &[usize], piece: &Piece) -> Vec<ChangeAt> {
        let in_bar = Meter::COMMON.beat_count();
        let mut bars = 1;
        for (name, _, section) in &piece.sections {
            if name == CHANGES {
                let chord = |at: usize| self.chords.get(at);
                let change = |(number, pair): (u32, &[usize])| {
                    let fact = pair_name(chord(pair[0])?, chord(pair[1])?, &self.neck);
                    let beats = number * self.beats;
                    Some(ChangeAt {
                        bar: bars + i64::from(beats / in_bar),
                        beat: beats % in_bar + 1,
                        fact,
                    })
                };
                return (1..).zip(walk.windows(2)).filter_map(change).collect();
            }
            bars += i64::try_from(section.bars.len()).unwrap_or(0);
        }
        Vec::new()
    }

    /// A piece for this neck in which nothing but the click plays.
    fn silent(&self, tempo: TempoPlan) -> Piece {
        let mut piece = Piece::click(Meter::COMMON, tempo);
        piece.times = Times::Count(1);
        piece.seed = self.seed;
        put_on(&mut piece, &self.neck);
        piece
    }

    /// A minute between the two chords of a pair without a click after the count-in. The list must hold both.
    ///
    /// # Errors
    /// When there are not two chords, or one has no shape.
    pub fn free(&self) -> Result<Exercise, ChangesError> {
        self.check()?;
        let (one, other) = match &*self.chords {
            [one, other] => (one, other),
            more => return Err(ChangesError::Many { found: more.len() }),
        };
        let mut piece = self.silent(TempoPlan::steady(MINUTE_BEATS));
        let fact = pair_name(one, other, &self.neck);
        piece.title = format!("Free changes: {fact}");
        piece.parts.click.beats = ClickBeats::Only(vec![NO_BEAT]);
        let bars = MINUTE_BEATS / Meter::COMMON.beat_count();
        let first = format!("| {one} {other} |");
        let rest = " % |".repeat(usize::try_from(bars).unwrap_or(1) - 1);
        write(&mut piece, vec![("free", first + &rest)])?;
        Ok(Exercise {
            name: format!("changes {fact}, free"),
            piece,
            facts: vec![fact],
            changes: Vec::new(),
            judging: Judging::Marks,
        })
    }
}

/// Writes sections into a piece, played in this order.
fn write(piece: &mut Piece, sections: Vec<(&str, String)>) -> Result<(), Problems> {
    let mut problems = Vec::new();
    piece.form = sections.iter().map(|s| s.0.to_owned()).collect();
    piece.sections.clear();
    for (name, text) in sections {
        let section = read_section(&text, piece.meter, &mut problems);
        piece.sections.push((name.to_owned(), text, section));
    }
    if problems.iter().any(|p| p.severity == Severity::Error) {
        return Err(Problems::from(problems));
    }
    Ok(())
}

/// How often a pair comes beside others, from how often it failed in how many takes: in hundredths, 100 for one that never
/// failed and 400 for one that always did. Our own choice.
#[must_use]
pub fn pair_weight(failed: u32, reviews: u32) -> u64 {
    100 + 300 * u64::from(failed.min(reviews)) / u64::from(reviews.max(1))
}

#[cfg(test)]
mod tests;
