//! What stands on a sheet: plain values, taken from a piece once, for every kind of file.

use std::collections::HashMap;

use super::symbol::{MajorSeventh, numeral_text, symbol_text};
use super::words::{self, moved};
use crate::arrange::{Arrangement, Timer};
use crate::chart::{Answer, Form, FormBar, Marks, Part, Piece, Section};
use crate::event::Source;
use crate::groove::Stroke;
use crate::neck::{HandModel, Neck, Position, chord_shapes, scale_positions};
use crate::picture::{Board, Captioned, Text, chord_board, legend, signs, whole_board};
use crate::theory::numeral::roman;
use crate::theory::{Chord, Degree, Harmony, Key, Pitch, PitchName};
use crate::time::{Meter, Tick};
use crate::view::{CheckReport, NeckLabels, NeckStyle, fits};

/// Most chord boxes on a sheet.
const MOST_BOXES: usize = 24;
/// The last fret of the neck on a sheet: an octave and the frets of a hand.
const LAST_FRET: u8 = 15;
/// The fewest frets of a neck with answers.
const LEAST_FRET: u8 = 12;
/// Most points of a tempo curve; more than a page can show.
const MOST_POINTS: usize = 600;

/// What is wished for a sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SheetStyle {
    /// Numerals below the chords.
    pub numerals: bool,
    /// Mirrored necks and boxes, for a left-handed player.
    pub left: bool,
}

impl SheetStyle {
    /// How necks and boxes are drawn.
    fn look(self, labels: NeckLabels) -> NeckStyle {
        NeckStyle {
            labels,
            left: self.left,
            columns: None,
        }
    }
}

/// A chord in a bar of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetChord {
    /// The beat it begins on, counted from 0.
    pub beat: u32,
    /// How many beats it fills.
    pub beats: u32,
    /// As it is printed; a stroke where the chord before is held.
    pub symbol: Text,
    /// Below it.
    pub numeral: Option<Text>,
}

/// A bar of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetBar {
    /// The meter, where it is another than before.
    pub meter: Option<Meter>,
    /// Beats of the bar.
    pub beats: u32,
    /// Repeats and endings at its lines, and whether it is written as the bar before once more.
    pub marks: Marks,
    /// Whether each beat without a chord has a stroke, as in the chart notation.
    pub slashed: bool,
    /// What sounds.
    pub chords: Vec<SheetChord>,
}

/// A section of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetSection {
    /// Its name.
    pub name: String,
    /// Its bars as written.
    pub bars: Vec<SheetBar>,
}

/// A board with the line above it.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetBoard {
    /// The line above it.
    pub caption: Text,
    /// What lies on it.
    pub board: Board,
}

/// The tempo over the bars of a piece.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoCurve {
    /// Bar lines passed (counted from 0, with fractions) and beats a minute from there on; rising.
    pub steps: Vec<(f32, f32)>,
    /// Bars in all.
    pub bars: f32,
}

/// The strokes of the strum over a bar.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetStrum {
    /// The strokes, at places of the same length.
    pub strokes: Vec<Stroke>,
    /// What is counted at each place; empty between.
    pub counts: Vec<String>,
}

/// Everything that stands on a sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// The title.
    pub title: String,
    /// What is known of the piece: a word and what it is.
    pub facts: Vec<(&'static str, String)>,
    /// The tempo, where it changes.
    pub tempo: Option<TempoCurve>,
    /// The chart.
    pub sections: Vec<SheetSection>,
    /// Its chords in the order they come.
    pub boxes: Vec<SheetBoard>,
    /// Its set on the neck.
    pub neck: Option<SheetBoard>,
    /// The places that are asked for, with their notes.
    pub answers: Option<SheetBoard>,
    /// What is written on boxes and neck.
    pub legend: String,
    /// How the set lies over the chords.
    pub fit: Vec<String>,
    /// How it is strummed.
    pub strum: Option<SheetStrum>,
    /// What was measured: the pace so far by the log, or how a run went.
    pub record: Vec<Captioned>,
    /// What to do.
    pub tasks: Vec<String>,
    /// What to take care of.
    pub cautions: Vec<&'static str>,
}

/// The usual cautions.
pub(super) const CAUTIONS: [&str; 2] = [
    "Turn the volume down before you start, above all in headphones, and bring it up from there.",
    "If a hand or arm hurts, tingles or goes numb, stop and rest, and ask a licensed clinician.",
];

impl Sheet {
    /// The sheet of a piece as it is arranged. `form` is its chart in playing order.
    ///
    /// # Errors
    /// When the piece has a capo where its neck has no fret, in words.
    pub fn new(
        piece: &Piece,
        form: &Form,
        arrangement: &Arrangement,
        style: SheetStyle,
    ) -> Result<Sheet, String> {
        let neck = piece.neck().map_err(|e| e.to_string())?;
        let seventh = MajorSeventh::of(piece.sections.iter().map(|(_, text, _)| text.as_str()));
        let key = piece.sounding_key().filter(|_| style.numerals);
        let setting = Setting { seventh, key };
        let report = CheckReport { piece, arrangement };
        let tempo = tempo_curve(piece, arrangement);
        let mut chords = form.bars().flat_map(|bar| &bar.chords);
        let silent = chords.all(|chord| chord.harmony.chord().is_none());
        Ok(Sheet {
            title: piece.title.clone(),
            facts: words::facts(piece, form, arrangement),
            tempo,
            sections: if silent {
                Vec::new()
            } else {
                sections(piece, form, &setting)
            },
            boxes: boxes(form, &neck, &setting, style),
            neck: neck_of(piece, &neck, style),
            answers: answers(piece, &neck, style),
            legend: legend(&neck, NeckStyle::default()),
            fit: words::fit_notes(&fits(&report)),
            strum: strum(piece),
            record: Vec::new(),
            tasks: words::tasks(piece, form),
            cautions: CAUTIONS.to_vec(),
        })
    }

    /// The same with what was measured.
    pub fn with_record(self, record: Vec<Captioned>) -> Sheet {
        Sheet { record, ..self }
    }
}

/// How chords are printed.
struct Setting {
    seventh: MajorSeventh,
    key: Option<Key>,
}

impl Setting {
    fn chord(&self, harmony: &Harmony, (beat, beats): (u32, u32), held: bool) -> SheetChord {
        let numeral = |key: &Key| {
            let numeral = roman(harmony.chord()?, key)?;
            Some(numeral_text(&numeral, self.seventh))
        };
        SheetChord {
            beat,
            beats,
            symbol: if held {
                "/".into()
            } else {
                symbol_text(harmony, self.seventh)
            },
            numeral: self.key.as_ref().filter(|_| !held).and_then(numeral),
        }
    }
}

/// The sections that are played, each once: as written, or as played where they were not written.
fn sections(piece: &Piece, form: &Form, setting: &Setting) -> Vec<SheetSection> {
    let mut found: Vec<SheetSection> = Vec::new();
    let runs = [&form.intro, &form.pass, &form.ending];
    for run in runs {
        let mut rest = run.as_slice();
        while let Some(first) = rest.first() {
            let length = 1 + rest
                .iter()
                .skip(1)
                .take_while(|bar| !bar.opens_section)
                .count();
            let (bars, behind) = rest.split_at(length);
            rest = behind;
            if found.iter().any(|section| *section.name == *first.section) {
                continue;
            }
            let written = piece
                .sections
                .iter()
                .find(|(name, ..)| **name == *first.section);
            let bars = match written {
                Some((.., section)) => as_written(section, bars, piece.meter, setting),
                // The chord that is held at the end is told with the form.
                None if std::ptr::eq(run, &raw const form.ending) => continue,
                None => as_played(bars, piece.meter, setting),
            };
            found.push(SheetSection {
                name: first.section.to_string(),
                bars,
            });
        }
    }
    found
}

/// The bars of a section as they are written, with the chords they sound with.
fn as_written(
    section: &Section,
    played: &[FormBar],
    meter: Meter,
    setting: &Setting,
) -> Vec<SheetBar> {
    let mut first_played: HashMap<usize, &FormBar> = HashMap::new();
    for (index, bar) in section.order.iter().zip(played) {
        first_played.entry(*index).or_insert(bar);
    }
    let mut before = meter;
    let written = section.bars.iter().enumerate();
    written
        .filter_map(|(index, bar)| {
            Some(SheetBar {
                marks: bar.marks.clone(),
                ..bar_of(first_played.get(&index)?, &mut before, setting)
            })
        })
        .collect()
}

fn as_played(bars: &[FormBar], meter: Meter, setting: &Setting) -> Vec<SheetBar> {
    let mut before = meter;
    bars.iter()
        .map(|bar| bar_of(bar, &mut before, setting))
        .collect()
}

/// A bar without marks. `before` is the meter of the bar before it.
fn bar_of(bar: &FormBar, before: &mut Meter, setting: &Setting) -> SheetBar {
    let chords = bar
        .chords
        .iter()
        .zip(bar.lengths())
        .map(|(c, beats)| setting.chord(&c.harmony, (c.beat, beats), c.held))
        .collect();
    let changed = (bar.meter != *before).then_some(bar.meter);
    *before = bar.meter;
    SheetBar {
        meter: changed,
        beats: bar.meter.beat_count(),
        marks: Marks::default(),
        slashed: bar.is_slashed(),
        chords,
    }
}

/// The first shape of each chord in the order they come.
fn boxes(form: &Form, neck: &Neck, setting: &Setting, style: SheetStyle) -> Vec<SheetBoard> {
    let mut seen: Vec<Chord> = Vec::new();
    let chords = form.bars().flat_map(|bar| &bar.chords);
    for chord in chords.filter_map(|c| c.harmony.chord()) {
        if !seen.contains(chord) && seen.len() < MOST_BOXES {
            seen.push(*chord);
        }
    }
    let look = style.look(NeckLabels::Fingers);
    let hand = HandModel::default();
    seen.iter()
        .filter_map(|chord| {
            let shapes = chord_shapes(chord, neck, &hand, 1);
            Some(SheetBoard {
                caption: symbol_text(&Harmony::Chord(*chord), setting.seventh),
                board: chord_board(shapes.first()?, neck, look),
            })
        })
        .collect()
}

fn neck_of(piece: &Piece, neck: &Neck, style: SheetStyle) -> Option<SheetBoard> {
    let set = piece.set.map(|set| moved(piece, set))?;
    let look = style.look(NeckLabels::Degrees);
    let mut positions = scale_positions(&set, neck);
    positions.retain(|position| position.fret.value() <= LAST_FRET);
    let board = whole_board(&positions, neck, look).up_to(LAST_FRET);
    let notes: Vec<String> = set.notes().iter().map(ToString::to_string).collect();
    Some(SheetBoard {
        caption: signs(&format!("{}: {}", set.name(), notes.join(" "))).into(),
        board,
    })
}

/// The places that a piece asks for, as the notes that lie there; `None` where it asks for none.
fn answers(piece: &Piece, neck: &Neck, style: SheetStyle) -> Option<SheetBoard> {
    let mut positions: Vec<Position> = Vec::new();
    for ask in &piece.asks {
        let Answer::Place { string, fret } = ask.answer else {
            continue;
        };
        let midi = neck.midi(string, fret).ok()?;
        let named = ask.text.split(' ').next().map(PitchName::read);
        let note = match named {
            Some(Ok(note)) => note,
            _ => Pitch::of_key(midi.into()).name(),
        };
        let position = Position {
            string,
            fret,
            note,
            // No note is the root of the others.
            degree: Degree::new(5, 0).ok()?,
            midi,
        };
        if !positions.contains(&position) {
            positions.push(position);
        }
    }
    let highest = positions.iter().map(|p| p.fret.value()).max()?;
    let look = style.look(NeckLabels::Notes);
    Some(SheetBoard {
        caption: "What is asked, and where it lies".into(),
        board: whole_board(&positions, neck, look).up_to(highest.max(LEAST_FRET)),
    })
}

/// The tempo at each change from the first bar on; `None` where it stays.
fn tempo_curve(piece: &Piece, arrangement: &Arrangement) -> Option<TempoCurve> {
    if piece.tempo.is_steady() && piece.ritardando.is_none() {
        return None;
    }
    let journey = arrangement.journey();
    let grid = journey.grid();
    // An endless piece is shown for one pass.
    let end = arrangement
        .end()
        .unwrap_or_else(|| journey.tick_of(grid.first_pass() + grid.pass_ticks()));
    let unit = piece.tempo.unit_ticks(&grid.first_meter());
    let bars: Vec<Tick> = journey
        .bars()
        .filter(|bar| bar.number >= 1)
        .map(|bar| bar.start)
        .take_while(|start| *start < end)
        .collect();
    let (first, count) = (*bars.first()?, bars.len());
    let place = |tick: Tick| {
        let after = bars.partition_point(|start| *start <= tick);
        let from = bars.get(after.checked_sub(1)?)?;
        let to = bars.get(after).copied().unwrap_or(end);
        let within = ratio(tick.saturating_since(*from), to.saturating_since(*from));
        Some(ratio(after as u64 - 1, 1) + within)
    };
    let mut timer = Timer::of(journey);
    timer.at(first);
    let a_minute = |tempo: crate::time::Tempo| ratio(tempo.milli_a_minute(unit), 1000);
    let mut steps = vec![(0.0, a_minute(timer.tempo()))];
    let marks = journey.tempo_marks().take_while(|(tick, _)| *tick < end);
    for (tick, tempo) in marks.filter(|(tick, _)| *tick > first) {
        if let Some(at) = place(tick) {
            steps.push((at, a_minute(tempo)));
        }
    }
    let every = steps.len().div_ceil(MOST_POINTS);
    let last = steps.last().copied();
    let mut steps: Vec<(f32, f32)> = steps.into_iter().step_by(every.max(1)).collect();
    if let Some(last) = last.filter(|last| steps.last() != Some(last)) {
        steps.push(last);
    }
    Some(TempoCurve {
        steps,
        bars: ratio(count as u64, 1),
    })
}

#[allow(clippy::cast_precision_loss)] // to be drawn
fn ratio(a: u64, b: u64) -> f32 {
    a as f32 / b.max(1) as f32
}

/// The strokes of a bar, where the strum plays.
fn strum(piece: &Piece) -> Option<SheetStrum> {
    let settings = &piece.parts.strum;
    if !piece.parts.common(Part::Strum).on {
        return None;
    }
    let own = settings.pattern.clone();
    let groove = || {
        piece
            .groove_in(&piece.meter)
            .figure(&piece.meter, 0, false)
            .strum
    };
    let strokes = own.unwrap_or_else(groove).strokes().to_vec();
    let (places, beats) = (strokes.len(), piece.meter.beat_count() as usize);
    let counts = (0..places)
        .map(|at| words::count_at(at, places, beats))
        .collect();
    Some(SheetStrum { strokes, counts })
}
