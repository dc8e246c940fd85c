//! From the measures of a score to the bars and sections of a chart.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::fmt::Write as _;
use std::ops::Range;

use super::marks::{Marks, marks};
use super::order::order;
use super::raw::{RawChord, RawMeasure, RawScore};
use super::scan::Warnings;
use super::{ENDING, INTRO};
use crate::chart::{MOST_BARS, Problem, Times};
use crate::theory::Harmony;
use crate::time::Meter;

/// Ticks by which a chord may lie beside its beat without being told of: less than a 128th note.
const NEAR: u64 = 20;

/// A bar of the chart: its meter and the chords on its beats.
#[derive(Clone, Debug, PartialEq)]
struct Bar {
    meter: Meter,
    chords: Vec<(u32, Harmony)>,
}

/// A section of the chart.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Found {
    pub(super) name: String,
    pub(super) text: String,
    /// The start tags of the measures of its bars, in written order.
    pub(super) spans: Vec<Range<usize>>,
}

/// The bars of a score as sections.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Composed {
    pub(super) meter: Option<Meter>,
    pub(super) sections: Vec<Found>,
    /// The names in playing order, without intro and ending.
    pub(super) form: Vec<String>,
    /// The tempi in playing order: the bar from which each holds, counted from 0, and thousandths of a quarter a minute.
    pub(super) tempi: Vec<(usize, u64)>,
}

/// The bars and sections of a score; `times` is how often the program itself repeated the pass.
pub(super) fn compose(
    mut score: RawScore,
    times: Times,
    warnings: &mut Warnings,
) -> Result<Composed, Problem> {
    leave_out_pickup(&mut score.measures, warnings);
    let sections = sections(&score.measures);
    if times != Times::Count(1) {
        open_up(&mut score.measures, &sections);
    }
    let bars = bars(&score.measures, warnings);
    let Some(played) = order(&score.measures, MOST_BARS) else {
        let message = format!("with its repeats the score has more than {MOST_BARS} bars");
        let help = "repeat less in it, and repeat the piece with `times`";
        return Err(Problem::error("score-size", 0..0, message, help));
    };
    let mut composed = Composed {
        meter: score.measures.first().and_then(|measure| measure.meter),
        ..Composed::default()
    };
    tempi(&score.measures, &played, &mut composed, warnings);
    let meter = composed.meter.unwrap_or(Meter::COMMON);
    let mut names = Names::default();
    let mut sounding = Harmony::NoChord;
    let visits = visits(&played, &sections);
    for (at, (section, places)) in visits.iter().enumerate() {
        let (text, written) = chart(&bars, places, meter, sounding);
        let chords = places.iter().flat_map(|place| &bars[*place].chords);
        sounding = chords.last().map_or(sounding, |(_, harmony)| *harmony);
        let mut wanted = sections[*section].0.clone();
        let alone = visits.iter().filter(|(other, _)| other == section).count() == 1;
        let reserved = match wanted.to_lowercase().as_str() {
            INTRO => Some((INTRO, at == 0)),
            ENDING => Some((ENDING, at + 1 == visits.len())),
            _ => None,
        };
        if let Some((name, in_place)) = reserved {
            // Something must be left to play between them.
            let between = name == INTRO || !composed.form.is_empty();
            let once = alone && in_place && between && visits.len() > 1;
            name.clone_into(&mut wanted);
            if !once {
                wanted.push('1');
            }
        }
        let name = names.name(&wanted, &text);
        if name != INTRO && name != ENDING {
            composed.form.push(name.clone());
        }
        if !composed.sections.iter().any(|known| known.name == name) {
            let spans = written
                .iter()
                .map(|place| score.measures[*place].span.clone());
            composed.sections.push(Found {
                name,
                text,
                spans: spans.collect(),
            });
        }
    }
    Ok(composed)
}

/// A first measure that is shorter than its meter and has no chord is no bar to play to; what it says holds for the next.
fn leave_out_pickup(measures: &mut Vec<RawMeasure>, warnings: &mut Warnings) {
    let [first, next, ..] = &mut **measures else {
        return;
    };
    let full = first.meter.unwrap_or(Meter::COMMON).bar_ticks();
    if first.length == 0 || first.length >= full || !first.chords.is_empty() {
        return;
    }
    warnings.add(
        "score-pickup",
        first,
        "the upbeat has no chord, and is left out".to_owned(),
        "write a chord above it to have it played",
    );
    next.section = next.section.take().or(first.section.take());
    next.opens |= first.opens;
    next.jumps.segno |= first.jumps.segno;
    if next.tempi.iter().all(|(at, _)| *at > 0) {
        next.tempi
            .extend(first.tempi.last().map(|(_, milli)| (0, *milli)));
        next.tempi.sort_unstable();
    }
    measures.remove(0);
}

/// The sections in written order: their names and their measures.
fn sections(measures: &[RawMeasure]) -> Vec<(String, Range<usize>)> {
    let mut starts: Vec<(usize, String)> = Vec::new();
    for (at, measure) in measures.iter().enumerate() {
        if let Some(section) = &measure.section {
            starts.push((at, section.split_whitespace().collect::<Vec<_>>().join("-")));
        }
    }
    if starts.first().is_none_or(|(at, _)| *at > 0) {
        let letters = ('A'..='Z').map(String::from);
        let free = |letter: &String| starts.iter().all(|(_, name)| name != letter);
        let name = letters.into_iter().find(free).unwrap_or_default();
        starts.insert(0, (0, name));
    }
    let ends = starts
        .iter()
        .skip(1)
        .map(|(at, _)| *at)
        .chain([measures.len()]);
    let ends: Vec<usize> = ends.collect();
    let pairs = starts.into_iter().zip(ends);
    pairs.map(|((at, name), end)| (name, at..end)).collect()
}

/// Takes the repeat of the whole pass away, which the document says by `times`.
fn open_up(measures: &mut [RawMeasure], sections: &[(String, Range<usize>)]) {
    let mut pass: Vec<&(String, Range<usize>)> = sections.iter().collect();
    if pass.len() > 1 && pass.first().is_some_and(|(name, _)| name == INTRO) {
        pass.remove(0);
    }
    if pass.len() > 1 && pass.last().is_some_and(|(name, _)| name == ENDING) {
        pass.pop();
    }
    let (Some((_, first)), Some((_, last))) = (pass.first(), pass.last()) else {
        return;
    };
    let (first, last) = (first.start, last.end.saturating_sub(1));
    if measures.get(first).is_some_and(|m| m.opens)
        && measures
            .get(last)
            .is_some_and(|m| m.closes.is_some() && m.ending.is_none())
    {
        measures[first].opens = false;
        measures[last].closes = None;
    }
}

/// The bars of the measures, chords on beats.
fn bars(measures: &[RawMeasure], warnings: &mut Warnings) -> Vec<Bar> {
    let mut found: Vec<Bar> = Vec::with_capacity(measures.len());
    let mut carried: Option<Harmony> = None;
    for measure in measures {
        let meter = bar_meter(measure, warnings);
        let mut chords: BTreeMap<u32, Harmony> = BTreeMap::new();
        let exact = |chord: &&RawChord| beat(&meter, chord.at).1 <= NEAR;
        for chord in measure.chords.iter().filter(exact) {
            let place = beat(&meter, chord.at).0;
            if let Some(known) = chords.insert(place, chord.harmony)
                && known != chord.harmony
            {
                left_out(&known, measure, warnings);
            }
        }
        if let Some(harmony) = carried.take() {
            chords.entry(0).or_insert(harmony);
        }
        for chord in measure.chords.iter().filter(|chord| !exact(chord)) {
            let (place, _) = beat(&meter, chord.at);
            let told = |to: &str| {
                format!(
                    "{} stands between beats, and a chart has chords on beats: it is moved to {to}",
                    chord.harmony
                )
            };
            let help = "write it on a beat to have it elsewhere";
            if chord.at >= meter.bar_ticks() {
                left_out(&chord.harmony, measure, warnings);
            } else if place >= meter.beat_count() {
                warnings.add("score-between", measure, told("the next bar"), help);
                carried = Some(chord.harmony);
            } else if let Entry::Vacant(free) = chords.entry(place) {
                let to = format!("beat {}", place + 1);
                warnings.add("score-between", measure, told(&to), help);
                free.insert(chord.harmony);
            } else {
                left_out(&chord.harmony, measure, warnings);
            }
        }
        found.push(Bar {
            meter,
            chords: chords.into_iter().collect(),
        });
    }
    found
}

fn left_out(harmony: &Harmony, measure: &RawMeasure, warnings: &mut Warnings) {
    let message = format!("there is no room for {harmony}, and it is left out");
    let help = "a bar of a chart has one chord a beat";
    warnings.add("score-room", measure, message, help);
}

/// The nearest beat of a place, counted from 0, the bar line behind them counted too, and how far away it is.
fn beat(meter: &Meter, at: u64) -> (u32, u64) {
    let beats = meter.beats().map(|beat| beat.offset_ticks);
    let lines = (0u32..).zip(beats.chain([meter.bar_ticks()]));
    let distances = lines.map(|(beat, line)| (beat, line.abs_diff(at)));
    // Of two as near, the later: chords come early rather than late.
    let nearest = distances.min_by_key(|(beat, distance)| (*distance, u32::MAX - *beat));
    nearest.unwrap_or_default()
}

/// The meter of a bar: that of its measure, or of what stands in it where that is less.
fn bar_meter(measure: &RawMeasure, warnings: &mut Warnings) -> Meter {
    let meter = measure.meter.unwrap_or(Meter::COMMON);
    let full = meter.bar_ticks();
    let long = measure.meter.is_none() && measure.length > full;
    if measure.length == 0 || (measure.length >= full && !long) {
        return meter;
    }
    let denominators = [meter.denominator(), 4, 8, 16, 32];
    let part = denominators.into_iter().find_map(|denominator| {
        let unit = Meter::new(1, denominator).ok()?.bar_ticks();
        let count = measure
            .length
            .is_multiple_of(unit)
            .then_some(measure.length / unit)?;
        Meter::new(u8::try_from(count).ok()?, denominator).ok()
    });
    let Some(part) = part else { return meter };
    let message = format!("it holds {part} and not {meter}, and is read as a bar of {part}");
    warnings.add(
        "score-length",
        measure,
        message,
        "fill the measure to have it whole",
    );
    part
}

/// The places in playing order, cut where another section begins.
fn visits(played: &[usize], sections: &[(String, Range<usize>)]) -> Vec<(usize, Vec<usize>)> {
    let mut found: Vec<(usize, Vec<usize>)> = Vec::new();
    for place in played {
        let section = sections.partition_point(|(_, range)| range.end <= *place);
        match found.last_mut() {
            Some((known, places)) if *known == section => places.push(*place),
            _ => found.push((section, vec![*place])),
        }
    }
    found
}

/// The chart of a section whose bars are played in this order, and the bars as written. `sounding` is the chord before.
fn chart(bars: &[Bar], places: &[usize], meter: Meter, sounding: Harmony) -> (String, Vec<usize>) {
    let mut written: Vec<usize> = places.to_vec();
    written.sort_unstable();
    written.dedup();
    let index = |place: &usize| written.binary_search(place).unwrap_or(0);
    let order: Vec<usize> = places.iter().map(index).collect();
    let found = marks(written.len(), &order);
    let (written, marks) = match found {
        Some(marks) => (written, marks),
        None => (places.to_vec(), vec![Marks::default(); places.len()]),
    };
    let mut text = String::new();
    let mut now = meter;
    for (at, (place, mark)) in written.iter().zip(&marks).enumerate() {
        let bar = &bars[*place];
        let before = at
            .checked_sub(1)
            .and_then(|at| marks.get(at))
            .and_then(|mark| {
                let times = mark.closes?;
                Some(if times > 2 {
                    format!(":|x{times}")
                } else {
                    ":|".to_owned()
                })
            });
        let plain = before.is_none() && !mark.opens && mark.ending.is_none();
        text.push_str(before.as_deref().unwrap_or("|"));
        if at > 0 && at % 4 == 0 && plain {
            text.push_str("\n|");
        }
        text.push_str(if mark.opens { ":" } else { "" });
        if let Some(numbers) = &mark.ending {
            text.push('[');
            for number in numbers {
                let _ = write!(text, "{number}.");
            }
        }
        if std::mem::replace(&mut now, bar.meter) != bar.meter {
            let _ = write!(text, "({})", bar.meter);
        }
        let first = (at == 0).then_some(sounding);
        let _ = write!(text, " {} ", words(bar, first).join(" "));
    }
    let last = marks.last().and_then(|mark| mark.closes);
    let end = match last {
        Some(times) if times > 2 => format!(":|x{times}"),
        Some(_) => ":|".to_owned(),
        None => "|".to_owned(),
    };
    text.push_str(&end);
    (text, written)
}

/// The chords of a bar; `first` is the chord that is held into the first bar of a section.
fn words(bar: &Bar, first: Option<Harmony>) -> Vec<String> {
    let mut chords = bar.chords.clone();
    if let Some(held) = first
        && chords.first().is_none_or(|(beat, _)| *beat > 0)
    {
        chords.insert(0, (0, held));
    }
    if let [(0, harmony)] = &*chords {
        return vec![harmony.to_string()];
    }
    let mut words = vec!["/".to_owned(); bar.meter.beat_count() as usize];
    for (beat, harmony) in chords {
        if let Some(word) = words.get_mut(beat as usize) {
            *word = harmony.to_string();
        }
    }
    words
}

/// The tempi in playing order; those inside a measure hold from the next bar on.
fn tempi(
    measures: &[RawMeasure],
    played: &[usize],
    composed: &mut Composed,
    warnings: &mut Warnings,
) {
    // What a plan may name, in thousandths of a quarter note a minute.
    let range = 3_600..=960_000;
    let mut told = vec![false; measures.len()];
    for (bar, place) in played.iter().enumerate() {
        let measure = &measures[*place];
        for (at, milli) in &measure.tempi {
            let inside = usize::from(*at > NEAR);
            let first = !std::mem::replace(&mut told[*place], true);
            if !range.contains(milli) {
                let message = format!(
                    "a tempo is 3.6 to 960 quarter notes a minute, found {}; it is left out",
                    milli / 1000
                );
                if first {
                    warnings.add("score-tempo", measure, message, "write another tempo there");
                }
                continue;
            }
            if inside == 1 && first {
                let message = "a tempo inside a bar holds from the next bar on".to_owned();
                warnings.add("score-tempo", measure, message, "write it at a bar line");
            }
            let from = bar + inside;
            match composed.tempi.last_mut() {
                Some(last) if last.0 >= from => last.1 = *milli,
                _ => composed.tempi.push((from, *milli)),
            }
        }
    }
}

/// Names for sections: one that is asked for again with another chart gets a number.
#[derive(Default)]
struct Names {
    known: Vec<(String, String)>,
}

impl Names {
    fn name(&mut self, wanted: &str, text: &str) -> String {
        let taken = |name: &str| self.known.iter().find(|(known, _)| known == name);
        let mut name = wanted.to_owned();
        let mut number = 2;
        while let Some((_, known)) = taken(&name) {
            if known == text {
                return name;
            }
            name = format!("{wanted}{number}");
            number += 1;
        }
        self.known.push((name.clone(), text.to_owned()));
        name
    }
}
