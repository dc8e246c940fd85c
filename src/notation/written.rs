//! A piece as it stands on paper.

use std::sync::Arc;

use super::marks::{Marks, marks};
use super::{ENDING, INTRO};
use crate::arrange::{ArrangeError, Arrangement, Excerpt, GuideNote};
use crate::chart::{Form, FormBar, Piece, Problems, Section, Times};
use crate::diagnostic::Diagnostic;
use crate::theory::Harmony;
use crate::time::{Grid, Length, Meter, PlanRepeat, Region, Tempo, TempoCursor, TempoMap};

/// A tempo mark at the beginning of a measure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TempoMark {
    /// The tempo from here on.
    pub tempo: Tempo,
    /// Ticks of the note it counts; `None` where it is no mark of its own, but a step of a ramp.
    pub unit_ticks: Option<u64>,
    /// The word above it, such as `accel.`.
    pub words: Option<&'static str>,
}

/// A chord symbol in a measure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Symbol {
    /// Ticks from the bar line.
    pub offset_ticks: u64,
    /// The chord, or none.
    pub harmony: Harmony,
}

/// A measure as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// The section that begins with it.
    pub section: Option<String>,
    /// Its meter.
    pub meter: Meter,
    /// Its chord symbols; a chord that is held over the bar line has none.
    pub symbols: Vec<Symbol>,
    /// The tempo from here on, where it changes.
    pub tempo: Option<TempoMark>,
    /// What the guide plays the first time; nothing without a guide.
    pub notes: Vec<GuideNote>,
    pub(crate) marks: Marks,
    /// The bar of the piece that it is the first time, counted from 1.
    pub(crate) bar: u64,
    /// Where that lies.
    region: Region,
}

/// A piece as it stands on paper: a pass with its repeats, the intro before it and the ending behind it.
///
/// Where a form says more than repeats do (a repeat inside the repeat of the whole piece), sections are written out.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenScore {
    /// The piece in the key it sounds in: moved there, and no further.
    pub piece: Piece,
    /// The measures in order.
    pub measures: Vec<Measure>,
    /// Whether measures have the notes of a guide.
    pub has_notes: bool,
}

/// Why a piece cannot be put on paper.
#[derive(Clone, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WrittenError {
    /// Its chart cannot be unfolded.
    #[error(transparent)]
    Chart(#[from] Problems),
    /// Its guide cannot be played.
    #[error(transparent)]
    Guide(#[from] ArrangeError),
}

impl Diagnostic for WrittenError {
    fn code(&self) -> &'static str {
        match self {
            WrittenError::Chart(problems) => problems.first().map_or("chart", |p| p.code),
            WrittenError::Guide(error) => error.code(),
        }
    }

    fn help(&self) -> String {
        match self {
            WrittenError::Chart(problems) => {
                problems.first().map(|p| p.help.clone()).unwrap_or_default()
            }
            WrittenError::Guide(error) => error.help(),
        }
    }
}

impl WrittenScore {
    /// Puts a piece on paper, in the key it sounds in.
    ///
    /// # Errors
    /// When its form cannot be unfolded, or its guide cannot be played.
    pub fn new(piece: &Piece) -> Result<WrittenScore, WrittenError> {
        let form = piece.unfold()?;
        let grid = piece.grid(&form, Some(1));
        let (measures, visits) = measures(piece, &form);
        let mut score = WrittenScore {
            piece: sounding(piece),
            measures,
            has_notes: false,
        };
        score.mark_tempo(&visits, &grid);
        score.write_guide(piece, form)?;
        Ok(score)
    }

    /// The times the pass is played, where that is more than once; `None` once.
    pub(crate) fn times(&self) -> Option<Times> {
        (self.piece.times != Times::Count(1)).then_some(self.piece.times)
    }

    /// Adds what the guide plays the first time.
    fn write_guide(&mut self, piece: &Piece, form: Form) -> Result<(), WrittenError> {
        if !piece.parts.guide.common.on || !piece.asks.is_empty() {
            return Ok(());
        }
        let plain = Piece {
            tempo: crate::time::TempoPlan::steady(90),
            keys: None,
            ..piece.clone()
        };
        let mut arrangement = Arrangement::new(&plain, form, Excerpt::default())?;
        for measure in &mut self.measures {
            measure.notes = arrangement.guide_notes(measure.region);
            self.has_notes |= !measure.notes.is_empty();
        }
        Ok(())
    }

    /// Adds the tempo marks: those of the first pass, as a player meets them who follows the repeats.
    /// `visits` are the measures in the order in which they are played.
    fn mark_tempo(&mut self, visits: &[usize], grid: &Grid) {
        let map = Arc::new(tempo_map(&self.piece, grid));
        let mut cursor = TempoCursor::new(&map);
        let mut pairs = map.pairs().peekable();
        let unit = self.piece.tempo.unit_ticks(&grid.first_meter());
        let unit = super::values::plain(unit).map_or(960, |value| value.ticks);
        let mut now: Option<Tempo> = None;
        let mut bending = false;
        for (number, place) in (1i64..).zip(visits) {
            let (Some(bar), Some(measure)) = (grid.bar(number), self.measures.get_mut(*place))
            else {
                break;
            };
            while pairs.next_if(|(tick, _)| *tick <= bar.start).is_some() {}
            let mut steps = 0;
            let mut last = None;
            while let Some((_, tempo)) = pairs.next_if(|(tick, _)| *tick < bar.end()) {
                steps += 1;
                last = Some(tempo);
            }
            let tempo = cursor.tempo_at(bar.start);
            // A ramp has a step a quarter at least.
            let bends = steps > 1;
            if i64::try_from(measure.bar) != Ok(number) {
                // Played again, with the marks of the first time.
                now = measure.tempo.as_ref().map(|mark| mark.tempo).or(now);
                bending = false;
                continue;
            }
            if now != Some(tempo) {
                let quicker = last.is_some_and(|last| last < tempo);
                let words = if quicker { "accel." } else { "rall." };
                measure.tempo = Some(TempoMark {
                    tempo,
                    unit_ticks: (!bends || !bending).then_some(unit),
                    words: (bends && !bending).then_some(words),
                });
            }
            (bending, now) = (bends, Some(tempo));
        }
    }
}

/// The piece in the key it sounds in.
fn sounding(piece: &Piece) -> Piece {
    let mut moved = piece.clone();
    moved.key = piece.sounding_key();
    moved.target = None;
    moved.transpose = 0;
    if let Some(by) = piece.key_interval() {
        moved.set = piece.set.map(|set| set.moved(by));
        moved.home = piece.home.map(|home| home.moved(by));
    }
    moved
}

/// The tempo over one pass, with intro and ending.
fn tempo_map(piece: &Piece, grid: &Grid) -> TempoMap {
    let whole = match piece.plan {
        PlanRepeat::EachPass => grid.pass_bars(),
        PlanRepeat::Once => grid.last_of_passes().unwrap_or(1),
    };
    let plan = if piece.tempo.is_over_all() {
        piece.tempo.over(Length::bars(whole.max(1)))
    } else {
        piece.tempo.clone()
    };
    let map = TempoMap::new(&plan, piece.plan, grid);
    match piece.ritardando {
        Some(ritardando) if piece.times == Times::Count(1) && piece.keys.is_none() => {
            map.slowing(ritardando, grid)
        }
        _ => map,
    }
}

/// The measures of intro, pass and ending, and the order in which they are played once.
fn measures(piece: &Piece, form: &Form) -> (Vec<Measure>, Vec<usize>) {
    let section = |name: &str| {
        let found = piece.sections.iter().find(|(known, ..)| known == name);
        found.map(|(_, _, section)| section)
    };
    let one = |name: &str| vec![name.to_owned()];
    let mut found: Vec<Measure> = Vec::new();
    let mut visits: Vec<usize> = Vec::new();
    let mut before = 0;
    let runs = [
        (one(INTRO), &form.intro),
        (piece.form.clone(), &form.pass),
        (one(ENDING), &form.ending),
    ];
    for (run, (names, bars)) in runs.into_iter().enumerate() {
        let region = |bar: u64| match run {
            0 => Region::Intro { bar },
            1 => Region::Pass { pass: 0, bar },
            _ => Region::Ending { bar },
        };
        let again = run == 1 && piece.times != Times::Count(1);
        let from = found.len();
        let mut at = 0;
        for name in &names {
            let length = section(name).map_or(bars.len(), |section| section.order.len());
            let Some(part) = bars.get(at..at + length).filter(|part| !part.is_empty()) else {
                continue;
            };
            let written = laid_out(section(name), length, again);
            match section(name) {
                Some(section) if section.bars.len() == written.len() && !again => {
                    visits.extend(section.order.iter().map(|bar| found.len() + bar));
                }
                _ => visits.extend(found.len()..found.len() + length),
            }
            for (place, (index, marks)) in written.into_iter().enumerate() {
                let bar = (at + index) as u64;
                let measure = measure(&part[index], marks, before + bar + 1, region(bar));
                found.push(Measure {
                    section: (place == 0).then(|| name.clone()),
                    ..measure
                });
            }
            at += length;
        }
        if again {
            surround(&mut found[from..], piece.times);
        }
        before += bars.len() as u64;
    }
    (found, visits)
}

/// The bars of a section as written: their places in playing order, and their marks. Inside the repeat of a whole pass, and
/// where no marks say their order, they are written out.
fn laid_out(section: Option<&Section>, length: usize, again: bool) -> Vec<(usize, Marks)> {
    let marked = section.and_then(|section| {
        let marks = marks(section.bars.len(), &section.order)?;
        let repeats = marks.iter().any(|mark| *mark != Marks::default());
        let first = |bar| section.order.iter().position(|played| *played == bar);
        let places: Option<Vec<usize>> = (0..marks.len()).map(first).collect();
        (!(again && repeats)).then_some(places?.into_iter().zip(marks).collect())
    });
    marked.unwrap_or_else(|| (0..length).map(|at| (at, Marks::default())).collect())
}

/// The repeat of a whole pass.
fn surround(pass: &mut [Measure], times: Times) {
    if let Some(first) = pass.first_mut() {
        first.marks.opens = true;
    }
    if let Some(last) = pass.last_mut() {
        last.marks.closes = Some(match times {
            Times::Count(times) => times,
            Times::Endless => 2,
        });
    }
}

fn measure(bar: &FormBar, marks: Marks, number: u64, region: Region) -> Measure {
    let written = bar.chords.iter().filter(|placed| !placed.held);
    let symbols = written.map(|placed| Symbol {
        offset_ticks: placed.offset_ticks,
        harmony: placed.harmony,
    });
    Measure {
        section: None,
        meter: bar.meter,
        symbols: symbols.collect(),
        tempo: None,
        notes: Vec::new(),
        marks,
        bar: number,
        region,
    }
}
