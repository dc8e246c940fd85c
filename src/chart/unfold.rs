//! Sections in playing order, with their figures resolved to chords.

use std::collections::HashMap;
use std::sync::Arc;

use super::piece::{ENDING, Ending, INTRO, Times};
use super::problem::MOST_PROBLEMS;
use super::section::{Content, MOST_BARS, MOST_CHORDS, Section, too_many_bars, too_many_chords};
use super::{Form, FormBar, Piece, PlacedChord, Problem, Problems};
use crate::theory::Harmony;

/// The chords of each written bar of a section, in the key they are written in; `None` where the chord before is held.
type Resolved = Vec<Vec<Option<Harmony>>>;

impl Piece {
    /// Puts the bars into playing order, with every figure a chord in the sounding key.
    ///
    /// # Errors
    /// Figures that need a key where none is given, a form that is too long, a feel that does not go with a meter.
    pub fn unfold(&self) -> Result<Form, Problems> {
        let mut unfolder = Unfolder::new(self);
        let one = |name: &str| vec![name.to_owned()];
        let mut form = Form {
            intro: unfolder.run(&one(INTRO)).into(),
            pass: unfolder.run(&self.form).into(),
            ending: unfolder.run(&one(ENDING)).into(),
        };
        let mut problems = unfolder.problems;
        if !problems.is_empty() {
            problems.sort_by_key(|p| (p.span.start, p.span.end));
            problems.dedup();
            return Err(problems.into());
        }
        self.move_chords(&mut form);
        if form.ending.is_empty() && self.ending == Ending::Tonic && self.times != Times::Endless {
            form.ending = Arc::new(self.tonic_bar(&form).into_iter().collect());
        }
        Ok(form)
    }
}

/// Puts sections into playing order.
struct Unfolder<'p> {
    piece: &'p Piece,
    sections: HashMap<&'p str, &'p Section>,
    resolved: HashMap<String, Resolved>,
    pub(super) problems: Vec<Problem>,
}

impl<'p> Unfolder<'p> {
    pub(super) fn new(piece: &'p Piece) -> Self {
        Unfolder {
            piece,
            sections: piece
                .sections
                .iter()
                .map(|(name, _, section)| (&**name, section))
                .collect(),
            resolved: HashMap::new(),
            problems: Vec::new(),
        }
    }

    /// The bars of these sections, one after the other; those that are not written are left out.
    pub(super) fn run(&mut self, names: &[String]) -> Vec<FormBar> {
        let mut bars: Vec<FormBar> = Vec::new();
        let mut chords = 0;
        for name in names {
            let Some(section) = self.sections.get(name.as_str()).copied() else {
                continue;
            };
            if bars.len() + section.order.len() > MOST_BARS {
                let first = section.bars.first();
                self.problems
                    .push(too_many_bars(first.map_or(0..0, |b| b.span.clone())));
                break;
            }
            chords += section.chords();
            if chords > MOST_CHORDS {
                let first = section.bars.first();
                self.problems
                    .push(too_many_chords(first.map_or(0..0, |b| b.span.clone())));
                break;
            }
            if !self.resolved.contains_key(name) {
                let resolved = self.resolve(section);
                self.resolved.insert(name.clone(), resolved);
            }
            if let (true, Some(resolved)) = (self.problems.is_empty(), self.resolved.get(name)) {
                play(name, section, resolved, &mut bars);
            }
        }
        bars
    }

    /// Resolves the chords, and reports what keeps them from being played.
    fn resolve(&mut self, section: &'p Section) -> Resolved {
        let mut meter = None;
        for bar in &section.bars {
            if meter != Some(bar.meter)
                && self.problems.len() < MOST_PROBLEMS
                && let Err(e) = self.piece.sounding_feel().check(&bar.meter)
            {
                self.problems.push(Problem::of(&e, bar.span.clone()));
            }
            meter = Some(bar.meter);
        }
        let (key, problems) = (self.piece.key.as_ref(), &mut self.problems);
        let mut resolve = |cell: &super::Cell| match &cell.content {
            Content::Hold => None,
            Content::Figure(figure) => match figure.resolve(key) {
                Ok(harmony) => Some(harmony),
                Err(e) => {
                    if problems.len() < MOST_PROBLEMS {
                        let mut problem = Problem::of(&e, 0..0);
                        problem.span = cell.span.clone();
                        problems.push(problem);
                    }
                    None
                }
            },
        };
        let bars = section.bars.iter();
        bars.map(|bar| bar.cells.iter().map(&mut resolve).collect())
            .collect()
    }
}

/// Adds the bars of a section in playing order.
fn play(name: &str, section: &Section, resolved: &Resolved, bars: &mut Vec<FormBar>) {
    let section_name: Arc<str> = name.into();
    bars.reserve(section.order.len());
    for (i, index) in section.order.iter().enumerate() {
        let (written, harmonies) = (&section.bars[*index], &resolved[*index]);
        let mut sounding = bars.last().and_then(|b| b.chords.last()).map(|c| c.harmony);
        let mut chords: Vec<PlacedChord> = Vec::with_capacity(written.cells.len());
        for (cell, harmony) in written.cells.iter().zip(harmonies) {
            let held = harmony.is_none();
            let harmony = harmony.or(sounding).unwrap_or(Harmony::NoChord);
            sounding = Some(harmony);
            let offset_ticks = written.meter.beat_offset_ticks(cell.beat);
            let end = written.meter.beat_offset_ticks(cell.beat + cell.beats);
            let length_ticks = end - offset_ticks;
            chords.push(PlacedChord {
                harmony,
                beat: cell.beat,
                offset_ticks,
                length_ticks,
                held,
            });
        }
        bars.push(FormBar {
            section: Arc::clone(&section_name),
            opens_section: i == 0,
            meter: written.meter,
            chords,
        });
    }
}
