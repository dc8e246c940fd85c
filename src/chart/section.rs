//! One section of a chart: its bars as written, and the order in which repeats and endings play them.

mod bars;
mod marks;
mod order;
mod raw;

use std::ops::Range;

use self::bars::BarReader;
use self::order::play_order;
use self::raw::raw_bars;
use super::Problem;
use crate::theory::Harmony;
use crate::theory::figure::Figure;
use crate::time::Meter;

/// Most bars a section, or a whole form, may unfold into: five hours and a half of 4/4 at 120. Anything longer repeats,
/// which `times` does without taking memory.
pub const MOST_BARS: usize = 10_000;

/// Most chords a document may hold, or a whole form may unfold into, each hold over a bar line counted as one.
pub const MOST_CHORDS: usize = 20_000;

/// What sounds from a beat on.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A chord as written.
    Figure(Figure),
    /// The chord before, held over the bar line.
    Hold,
}

/// A chord (or a hold) and the beats it fills.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// The chord, or the hold of the one before.
    pub content: Content,
    /// First beat, counted from 0.
    pub beat: u32,
    /// How many beats.
    pub beats: u32,
    /// Bytes of the section's text.
    pub span: Range<usize>,
}

/// The marks at the lines of a bar, as written: they are played already where bars stand in playing order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// Whether a `|:` stands before it.
    pub opens: bool,
    /// Where a `:|` stands behind it: how often what it repeats is played in all, 2 or more.
    pub closes: Option<u32>,
    /// The numbers of the ending that begins with it, from 1; empty where none does.
    pub ending: Vec<u32>,
    /// Whether it is written as `%`.
    pub simile: bool,
}

/// A bar as written.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenBar {
    /// The meter of the bar.
    pub meter: Meter,
    /// What sounds, without gaps; empty only where the bar was refused.
    pub cells: Vec<Cell>,
    /// Bytes of the section's text between its bar lines.
    pub span: Range<usize>,
    /// The marks at its lines.
    pub marks: Marks,
}

/// A section: bars as written, and the order they are played in.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Section {
    /// The bars in written order.
    pub bars: Vec<WrittenBar>,
    /// Indices into `bars` in playing order, repeats and endings unfolded.
    pub order: Vec<usize>,
}

impl Section {
    /// Bars that were not read from text, played once in this order: the chords of a bar share its beats, as evenly as
    /// whole beats go. Their spans are empty.
    pub fn of_bars(meter: Meter, bars: impl IntoIterator<Item = Vec<Harmony>>) -> Section {
        let bar = |chords: Vec<Harmony>| WrittenBar {
            meter,
            cells: cells(meter.beat_count(), &chords),
            span: 0..0,
            marks: Marks::default(),
        };
        let bars: Vec<WrittenBar> = bars.into_iter().map(bar).collect();
        let order = (0..bars.len()).collect();
        Section { bars, order }
    }

    /// Chords as written or as played, whichever are more.
    pub(super) fn chords(&self) -> usize {
        let of = |bar: &WrittenBar| bar.cells.len();
        let written = self.bars.iter().map(of).sum::<usize>();
        written.max(self.order.iter().map(|index| of(&self.bars[*index])).sum())
    }
}

/// Chords that share the beats of a bar; more chords than beats are left out.
fn cells(beats: u32, chords: &[Harmony]) -> Vec<Cell> {
    let count = u32::try_from(chords.len()).unwrap_or(u32::MAX).min(beats);
    let begin = |at: u32| at * beats / count.max(1);
    let cell = |(at, chord): (u32, &Harmony)| Cell {
        content: Content::Figure(Figure::Symbol(*chord)),
        beat: begin(at),
        beats: begin(at + 1) - begin(at),
        span: 0..0,
    };
    (0..count).zip(chords).map(cell).collect()
}

const CHART_HELP: &str = "write bars between bar lines: `| Am7 | D9 / G7 / | % |`";

/// Reads one section in the chart notation. What is wrong is added to `problems`; the bars that are right are kept.
///
/// `meter` is the meter the section starts in. Spans are bytes of `text`.
pub fn read_section(text: &str, meter: Meter, problems: &mut Vec<Problem>) -> Section {
    let already = problems.len();
    let mut raw = raw_bars(text, problems);
    if raw.is_empty() {
        if problems.len() == already {
            let span = if text.trim().is_empty() {
                0..0
            } else {
                0..text.len()
            };
            problems.push(Problem::error(
                "chart-empty",
                span,
                "a chart has no bars",
                CHART_HELP,
            ));
        }
        return Section::default();
    }
    let mut reader = BarReader::new(meter, problems);
    let mut bars: Vec<WrittenBar> = Vec::with_capacity(raw.len());
    let mut chords = 0;
    for bar in &mut raw {
        let written = reader.bar(bar, bars.last());
        chords += written.cells.len();
        if chords > MOST_CHORDS {
            problems.push(too_many_chords(bar.span.clone()));
            break;
        }
        bars.push(written);
        // The words are dropped once they are read.
        bar.tokens = Vec::new();
    }
    // One misspelled sign puts the order of all bars in doubt; reporting that too would only hide the real mistake.
    let in_doubt = |p: &Problem| {
        ["chart-ending", "chart-repeat", "chart-too-long"]
            .iter()
            .any(|code| p.code.starts_with(code))
    };
    let order = if problems[already..].iter().any(in_doubt) {
        (0..bars.len()).collect()
    } else {
        play_order(&raw, problems)
    };
    problems[already..].sort_by_key(|p| (p.span.start, p.span.end));
    Section { bars, order }
}

pub(super) fn too_many_bars(span: Range<usize>) -> Problem {
    Problem::error(
        "chart-too-long",
        span,
        format!("a form has at most {MOST_BARS} bars"),
        "repeat less, or set `times` instead",
    )
}

pub(super) fn too_many_chords(span: Range<usize>) -> Problem {
    Problem::error(
        "chart-too-long",
        span,
        format!("a form has at most {MOST_CHORDS} chords"),
        "repeat less, or set `times` instead",
    )
}

#[cfg(test)]
mod tests;
