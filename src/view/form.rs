//! The form of a piece, as a chart with bar times or as JSON.

use std::fmt::Write as _;
use std::io::{self, Write};

use serde::Serialize;

use super::shown;
use super::theory::{ChordView, FitJson};
use super::{clock_time, tempo_text};
use crate::arrange::{Arrangement, Journey, PassScore, Timer};
use crate::chart::{FitRule, FormBar, Piece};
use crate::event::Source;
use crate::generate::{Fit, fit, fit_bars};
use crate::theory::{Harmony, Interval, Scale};
use crate::time::{BarSpan, Feel, Meter, Nanos, Region, TICKS_PER_QUARTER, Tick};

/// What `check` shows of a piece.
pub struct CheckReport<'a> {
    /// The piece as it was read.
    pub piece: &'a Piece,
    /// The same, arranged.
    pub arrangement: &'a Arrangement,
}

/// Bars to a line of the chart.
const BARS_A_LINE: usize = 4;
/// Characters before the first bar of a line: its number, time and tempo, and a bar line.
const LINE_HEAD: usize = 26;
/// Most passes whose start is listed, where there are no more keys.
const MOST_PASSES: u64 = 16;

/// Looks up the bars of a journey, keeping the run that was looked up last.
struct Pages<'a> {
    arrangement: &'a Arrangement,
    last: Option<(Region, PassScore)>,
}

impl<'a> Pages<'a> {
    fn new(arrangement: &'a Arrangement) -> Self {
        Pages {
            arrangement,
            last: None,
        }
    }

    /// The bar of the chart, and the run it belongs to; `None` for the count-in.
    fn at(&mut self, bar: &BarSpan) -> Option<(&FormBar, &PassScore)> {
        // The first bar of a run identifies the run.
        let (run, at) = match bar.region {
            Region::CountIn { .. } => return None,
            Region::Intro { bar } => (Region::Intro { bar: 0 }, bar),
            Region::Pass { pass, bar } => (Region::Pass { pass, bar: 0 }, bar),
            Region::Ending { bar } => (Region::Ending { bar: 0 }, bar),
        };
        if self.last.as_ref().is_none_or(|(known, _)| *known != run) {
            self.last = Some((run, self.arrangement.score_of(run)?));
        }
        let score = self.last.as_ref().map(|(_, score)| score)?;
        Some((score.bars.get(usize::try_from(at).ok()?)?, score))
    }
}

/// A bar in the chart notation, without its bar lines.
fn bar_text(bar: &FormBar) -> String {
    let lengths = bar.lengths();
    let name = |i: usize| {
        let chord = &bar.chords[i];
        if chord.held {
            "/".to_owned()
        } else {
            chord.harmony.to_string()
        }
    };
    let slashed = bar.is_slashed();
    let mut words = Vec::new();
    for (i, length) in lengths.iter().enumerate() {
        words.push(name(i));
        if slashed {
            words.extend((1..*length).map(|_| "/".to_owned()));
        }
    }
    words.join(" ")
}

/// Writes the form as a chart: each line begins with the number of its first bar, the time at which it starts, counted
/// from the start of the count-in, and its tempo there. A piece that goes through keys is written in each of them,
/// others once; for every pass it shows where it begins, and the tempo of its first and last bar. A line has four bars,
/// or two or one where four do not fit into so many `columns` (characters); `None` for no limit.
///
/// # Errors
/// When `out` refuses.
pub fn write_check_text(
    report: &CheckReport<'_>,
    columns: Option<usize>,
    out: &mut dyn Write,
) -> io::Result<()> {
    let arrangement = report.arrangement;
    let journey = arrangement.journey();
    out.write_all(heading(report).as_bytes())?;
    let mut lines = ChartLines::new(report, columns);
    let last = lines.last_pass();
    let mut first_pass: Option<u64> = None;
    let mut at = Some(journey.first_bar());
    while let Some(bar) = at.and_then(|n| journey.bar(n)) {
        at = journey.following(bar.number);
        if let Region::Pass { pass, bar: within } = bar.region {
            let later = pass - *first_pass.get_or_insert(pass);
            // After many passes only the last is shown.
            if later > lines.round.max(MOST_PASSES) && last != Some(pass) {
                lines.flush(out)?;
                writeln!(out, "  and so on")?;
                at = last.and_then(|last| lines.first_bar_of(last));
                continue;
            }
            if later > 0 && within == 0 {
                lines.pass(&bar, (pass, later), out)?;
            }
            if later >= lines.round {
                at = skip_pass(journey, &bar, false);
                continue;
            }
        }
        lines.bar(&bar, out)?;
    }
    lines.flush(out)?;
    if let Some(end) = arrangement.end() {
        writeln!(out, "end    {:>8}", clock_time(lines.timer.at(end)))?;
    }
    write_fit(report, out)
}

/// The chart of a piece, line by line.
struct ChartLines<'a> {
    piece: &'a Piece,
    journey: &'a Journey,
    pages: Pages<'a>,
    timer: Timer<'a>,
    /// How many passes differ.
    round: u64,
    /// Characters of the widest bar.
    width: usize,
    /// Bars for which a line has room.
    most_on_line: usize,
    /// Ticks of the note that tempi count.
    unit_ticks: u64,
    /// As in the chart notation, each section starts in the meter of the document.
    meter: Meter,
    /// Whether a section was named.
    named: bool,
    line: String,
    on_line: usize,
}

impl<'a> ChartLines<'a> {
    fn new(report: &CheckReport<'a>, columns: Option<usize>) -> Self {
        let CheckReport { piece, arrangement } = report;
        let width = widest(arrangement, arrangement.passes_in_turn()).max(4);
        let fits =
            |bars: &usize| columns.is_none_or(|columns| LINE_HEAD + bars * (width + 3) <= columns);
        let journey = arrangement.journey();
        let round = arrangement.passes_in_turn();
        ChartLines {
            piece,
            journey,
            pages: Pages::new(arrangement),
            timer: Timer::of(journey),
            round,
            width,
            most_on_line: [BARS_A_LINE, 2].into_iter().find(fits).unwrap_or(1),
            unit_ticks: piece.tempo.unit_ticks(&journey.grid().first_meter()),
            meter: piece.meter,
            named: false,
            line: String::new(),
            on_line: 0,
        }
    }

    /// The tempo at a tick, in the unit of the plan.
    fn tempo(&mut self, tick: Tick) -> String {
        self.timer.at(tick);
        tempo_text(self.timer.tempo(), self.unit_ticks)
    }

    /// A bar of the chart; a line where it is the last there is room for.
    fn bar(&mut self, bar: &BarSpan, out: &mut dyn Write) -> io::Result<()> {
        let Some((chart, _)) = self.pages.at(bar) else {
            return Ok(());
        };
        let (opens, meter) = (chart.opens_section, chart.meter);
        let (section, text) = (shown(&chart.section).to_string(), bar_text(chart));
        if opens || self.on_line == self.most_on_line {
            self.flush(out)?;
        }
        if opens || !self.named {
            writeln!(out, "[{section}]")?;
            self.meter = self.piece.meter;
            self.named = true;
        }
        if self.on_line == 0 {
            let (time, tempo) = (clock_time(self.timer.at(bar.start)), self.tempo(bar.start));
            let _ = write!(self.line, "{:>5}  {time:>8}  {tempo:>6}  |", bar.number);
        }
        if self.meter != meter {
            let _ = write!(self.line, " ({meter})");
            self.meter = meter;
        }
        let _ = write!(self.line, " {text:<width$} |", width = self.width);
        self.on_line += 1;
        Ok(())
    }

    /// Where a pass begins: its number, and how many passes it comes after the first that is shown.
    fn pass(
        &mut self,
        bar: &BarSpan,
        (pass, later): (u64, u64),
        out: &mut dyn Write,
    ) -> io::Result<()> {
        self.flush(out)?;
        let time = clock_time(self.timer.at(bar.start));
        let key = self.pages.at(bar).and_then(|(_, score)| score.key);
        let key = key.filter(|_| self.piece.keys.is_some());
        let key = key.map_or(String::new(), |key| format!(", {key}"));
        let again = if later >= self.round && self.round > 1 {
            format!(", as pass {}", pass + 1 - self.round)
        } else {
            String::new()
        };
        let number = bar.number;
        let tempo = self.tempi_of_pass(bar);
        writeln!(
            out,
            "pass {} from bar {number}, {time}{key}{again}, tempo {tempo}",
            pass + 1
        )
    }

    /// The pass in which the journey ends, counted from 0; `None` without end.
    fn last_pass(&self) -> Option<u64> {
        let grid = self.journey.grid();
        let last = self.journey.last_bar()?;
        let last = grid
            .last_of_passes()
            .map_or(last, |of_passes| last.min(of_passes));
        Some((last.checked_sub(grid.intro_bars() + 1)?) / grid.pass_bars())
    }

    /// The number of the first bar of a pass, which counts from 0.
    fn first_bar_of(&self, pass: u64) -> Option<i64> {
        let grid = self.journey.grid();
        i64::try_from(grid.intro_bars() + pass * grid.pass_bars() + 1).ok()
    }

    /// The tempo of the first bar of a pass and, where it is another, that of its last.
    fn tempi_of_pass(&mut self, first: &BarSpan) -> String {
        let grid = self.journey.grid();
        let last = i64::try_from(grid.pass_bars()).map_or(first.number, |n| first.number + n - 1);
        let played = self.journey.last_bar().and_then(|l| i64::try_from(l).ok());
        let last = self.journey.bar(played.map_or(last, |p| p.min(last)));
        let from = self.tempo(first.start);
        let to = last.map_or_else(|| from.clone(), |last| self.tempo(last.start));
        if from == to {
            from
        } else {
            format!("{from} to {to}")
        }
    }

    fn flush(&mut self, out: &mut dyn Write) -> io::Result<()> {
        if self.on_line > 0 {
            writeln!(out, "{}", self.line)?;
        }
        self.line.clear();
        self.on_line = 0;
        Ok(())
    }
}

/// Characters of the widest bar of intro, passes and ending.
fn widest(arrangement: &Arrangement, round: u64) -> usize {
    let passes = (0..round).map(|pass| Region::Pass { pass, bar: 0 });
    let runs = [Region::Intro { bar: 0 }, Region::Ending { bar: 0 }];
    let widest = |run| {
        let score = arrangement.score_of(run)?;
        let bars = score.bars.iter().map(|bar| bar_text(bar).chars().count());
        bars.max()
    };
    passes.chain(runs).filter_map(widest).max().unwrap_or(1)
}

/// How every chord lies over the set: the rules it keeps, and what rubs.
fn write_fit(report: &CheckReport<'_>, out: &mut dyn Write) -> io::Result<()> {
    let fits = fits(report);
    let Some((set, home)) = fits.first().map(|f| (f.set, f.home)) else {
        return Ok(());
    };
    let notes: Vec<String> = set.notes().iter().map(ToString::to_string).collect();
    let other = if home.name() == set.name() {
        String::new()
    } else {
        format!(", heard in {}", home.name())
    };
    writeln!(out, "set    {}: {}{other}", set.name(), notes.join(" "))?;
    let width = fits
        .iter()
        .map(|f| f.symbol.chars().count())
        .max()
        .unwrap_or(1);
    for fit in &fits {
        let word = |rule| {
            if fit.fit.admits(rule) == Some(true) {
                FitRule::name(rule)
            } else {
                "-"
            }
        };
        let mut line = format!(
            "       {:<width$}  {:<6} {:<5} {:<4} {:<5}",
            fit.symbol,
            word(FitRule::Inside),
            word(FitRule::Clear),
            word(FitRule::Home),
            word(FitRule::Blues)
        );
        if !fit.fit.rubs.is_empty() {
            let rubs: Vec<String> = fit
                .fit
                .rubs
                .iter()
                .map(|r| format!("{} rubs on {}", r.note, r.against))
                .collect();
            let _ = write!(line, "  {}", rubs.join(", "));
        }
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// A chord of the piece and how it lies over the set.
pub struct ChordFit {
    /// The chord symbol, as printed.
    pub symbol: String,
    /// The first bar it sounds in.
    pub bar: i64,
    /// The set, in the key of that bar.
    pub set: Scale,
    /// The scale the set is heard in.
    pub home: Scale,
    /// How it lies.
    pub fit: Fit,
}

/// The different chords of intro, first pass and ending in the order they come, each with how it lies over the set; none
/// where the piece has no set. In other keys chords and set move together.
pub fn fits(report: &CheckReport<'_>) -> Vec<ChordFit> {
    let CheckReport { piece, arrangement } = report;
    let mut pages = Pages::new(arrangement);
    let mut found: Vec<ChordFit> = Vec::new();
    let mut seen: Vec<(Harmony, bool)> = Vec::new();
    let mut first_set: Option<Scale> = None;
    let journey = arrangement.journey();
    let mut at = Some(journey.first_bar());
    let mut first_pass = None;
    while let Some(bar) = at.and_then(|n| journey.bar(n)) {
        at = journey.following(bar.number);
        if let Region::Pass { pass, .. } = bar.region
            && pass > *first_pass.get_or_insert(pass)
        {
            at = skip_pass(journey, &bar, true);
            continue;
        }
        let Some((chart, score)) = pages.at(&bar) else {
            continue;
        };
        let Some(set) = score.set else { continue };
        let home = piece.home_of(&set);
        let in_form = section_fits(score, &bar.region, &set, &home);
        for (i, chord) in chart.chords.iter().enumerate() {
            // The ending may be in another key: a chord of the first pass, moved with its set, adds nothing new.
            let first = first_set.get_or_insert(set).root();
            let back = chord
                .harmony
                .transposed(Interval::between(set.root(), first));
            let alone = fit(&chord.harmony, &set, &home);
            let fit = in_form.get(i).cloned().unwrap_or_else(|| alone.clone());
            // A chord that a rule admits inside a form alone is listed once inside and once outside.
            let one = (back, fit != alone);
            if !seen.contains(&one) {
                seen.push(one);
                found.push(ChordFit {
                    symbol: chord.harmony.to_string(),
                    bar: bar.number,
                    set,
                    home,
                    fit,
                });
            }
        }
    }
    found
}

/// How the chords of a bar lie over the set, seen with the bars of its section.
fn section_fits(score: &PassScore, region: &Region, set: &Scale, home: &Scale) -> Vec<Fit> {
    let (Region::Intro { bar } | Region::Pass { bar, .. } | Region::Ending { bar }) = *region
    else {
        return Vec::new();
    };
    let Ok(at) = usize::try_from(bar) else {
        return Vec::new();
    };
    let Some(behind) = score.bars.get(at + 1..) else {
        return Vec::new();
    };
    let opens = |bar: &FormBar| bar.opens_section;
    let before = score.bars.iter().take(at + 1);
    let from = at - before.rev().position(opens).unwrap_or(at);
    let to = at + 1 + behind.iter().position(opens).unwrap_or(behind.len());
    let bars = score.bars.get(from..to).unwrap_or_default().iter();
    let bars: Vec<Vec<Harmony>> = bars
        .map(|bar| bar.chords.iter().map(|c| c.harmony).collect())
        .collect();
    let mut fits = fit_bars(&bars, set, home);
    if at - from < fits.len() {
        fits.swap_remove(at - from)
    } else {
        Vec::new()
    }
}

/// The first bar behind a pass that is not shown; behind all passes, or nowhere, once enough are listed.
fn skip_pass(journey: &Journey, bar: &BarSpan, all: bool) -> Option<i64> {
    let grid = journey.grid();
    let Region::Pass { pass, bar: within } = bar.region else {
        return None;
    };
    let left = match (all, grid.passes()) {
        (true, None) => return None,
        (true, Some(passes)) => (passes - pass) * grid.pass_bars() - within,
        (false, _) => grid.pass_bars() - within,
    };
    let next = bar.number.checked_add(i64::try_from(left).ok()?)?;
    journey
        .last_bar()
        .and_then(|l| i64::try_from(l).ok())
        .is_none_or(|last| next <= last)
        .then_some(next)
}

fn heading(report: &CheckReport<'_>) -> String {
    let CheckReport { piece, arrangement } = report;
    let journey = arrangement.journey();
    let mut out = format!("{}\n", shown(&piece.title));
    let mut facts = Vec::new();
    if let Some(key) = piece.sounding_key() {
        facts.push(key.to_string());
    }
    facts.push(piece.meter.to_string());
    let feel = piece.sounding_feel();
    if feel != Feel::Straight {
        facts.push(feel.to_string());
    }
    if let Some(groove) = piece.groove.as_ref().map(|groove| &groove.parts().name)
        && !groove.is_empty()
    {
        facts.push(format!("groove {groove}"));
    }
    facts.push(format!("tempo {}", piece.tempo));
    let _ = writeln!(out, "{}", facts.join(", "));
    let mut facts = vec![journey.bar_count().to_string()];
    let parts: Vec<&str> = arrangement.header().parts.iter().map(|p| p.name).collect();
    facts.push(format!(
        "parts {}",
        if parts.is_empty() {
            "none".to_owned()
        } else {
            parts.join(" ")
        }
    ));
    facts.push(format!("seed {}", piece.seed));
    let _ = writeln!(out, "{}", facts.join(", "));
    out
}

#[derive(Serialize)]
struct BarJson {
    index: i64,
    pass: Option<u64>,
    section: String,
    meter: String,
    start_tick: u64,
    start_ns: u64,
    duration_ticks: u64,
    chords: Vec<ChordJson>,
}

#[derive(Serialize)]
struct ChordJson {
    symbol: String,
    tick: u64,
    duration_ticks: u64,
    beat: u32,
    root: Option<String>,
    bass: Option<String>,
    tones: Vec<String>,
    pitch_classes: Vec<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fit: Option<FitJson>,
}

/// Writes the form as one JSON object, bar by bar, so that a long piece takes no more memory than a short one.
///
/// `fit` is there where the piece has a set; its `blues` is `null` over sets the blues rule does not cover.
///
/// Ticks and nanoseconds count from the start of the count-in; bars, passes and beats from 1; count-in bars are 0,
/// -1 and so on. An endless piece is shown for one pass, its durations and its `piece_bars` are `null`. Of a piece that ends
/// within a bar, that bar and its chords last as long as they are played.
///
/// # Errors
/// When `out` refuses.
pub fn write_check_json(report: &CheckReport<'_>, out: &mut dyn Write) -> io::Result<()> {
    let CheckReport { piece, arrangement } = report;
    let journey = arrangement.journey();
    let mut timer = Timer::of(journey);
    let shown_end = arrangement.end().or_else(|| {
        let grid = journey.grid();
        Some(journey.tick_of(grid.first_pass() + grid.pass_ticks()))
    });
    let field = |out: &mut dyn Write, name: &str, value: &serde_json::Value| {
        write!(out, "\"{name}\":{value},")
    };
    write!(out, "{{")?;
    field(out, "version", &1.into())?;
    field(out, "title", &piece.title.clone().into())?;
    field(
        out,
        "key",
        &piece.sounding_key().map(|k| k.to_string()).into(),
    )?;
    field(out, "meter", &piece.meter.to_string().into())?;
    field(out, "ticks_per_quarter", &TICKS_PER_QUARTER.into())?;
    field(out, "seed", &piece.seed.into())?;
    let count = journey.bar_count();
    field(out, "count_in_bars", &count.count_in.into())?;
    field(out, "piece_bars", &count.piece.into())?;
    field(out, "ending_bars", &count.ending.into())?;
    let shown = |tick: &Tick| shown_end.is_none_or(|end| *tick < end);
    write_tempo_map(journey, &shown, out)?;
    write!(out, "],\"bars\":[")?;
    let mut pages = Pages::new(arrangement);
    for (i, bar) in journey
        .bars()
        .take_while(|bar| shown(&bar.start))
        .enumerate()
    {
        if i > 0 {
            write!(out, ",")?;
        }
        let start = timer.at(bar.start);
        let json = bar_json(piece, &mut pages, &bar, (start, arrangement.end_of(&bar)));
        serde_json::to_writer(&mut *out, &json)?;
    }
    let (ticks, ns) = match arrangement.end() {
        Some(end) => (Some(end.get()), Some(timer.at(end).get())),
        None => (None, None),
    };
    let number = |n: Option<u64>| serde_json::Value::from(n);
    writeln!(
        out,
        "],\"duration_ticks\":{},\"duration_ns\":{}}}",
        number(ticks),
        number(ns)
    )
}

/// The changes of tempo at the ticks that are shown, each told once.
fn write_tempo_map(
    journey: &Journey,
    shown: &dyn Fn(&Tick) -> bool,
    out: &mut dyn Write,
) -> io::Result<()> {
    write!(out, "\"tempo_map\":[")?;
    let mut last = None;
    for (i, (tick, tempo)) in journey
        .tempo_marks()
        .take_while(|(tick, _)| shown(tick))
        .filter(|(_, tempo)| last.replace(*tempo) != Some(*tempo))
        .enumerate()
    {
        let comma = if i > 0 { "," } else { "" };
        write!(
            out,
            "{comma}{{\"tick\":{tick},\"us_per_quarter\":{}}}",
            tempo.us_per_quarter()
        )?;
    }
    Ok(())
}

/// A bar with the time at which it starts and the tick at which it ends.
fn bar_json(
    piece: &Piece,
    pages: &mut Pages<'_>,
    bar: &BarSpan,
    (start, end): (Nanos, Tick),
) -> BarJson {
    let page = pages.at(bar);
    let set = page
        .and_then(|(_, score)| score.set)
        .map(|set| (set, piece.home_of(&set)));
    let chords = page
        .map_or(&[][..], |(chart, _)| &chart.chords)
        .iter()
        .filter(|placed| bar.start + placed.offset_ticks < end)
        .map(|placed| {
            let view = ChordView::new(&placed.harmony);
            let start = bar.start + placed.offset_ticks;
            ChordJson {
                symbol: view.symbol,
                tick: start.get(),
                duration_ticks: placed.length_ticks.min(end.saturating_since(start)),
                beat: placed.beat + 1,
                root: view.root,
                bass: view.bass,
                tones: view.tones,
                pitch_classes: view.pitch_classes,
                fit: set
                    .as_ref()
                    .map(|(set, home)| FitJson::new(&fit(&placed.harmony, set, home))),
            }
        });
    BarJson {
        index: bar.number,
        pass: if let Region::Pass { pass, .. } = bar.region {
            Some(pass + 1)
        } else {
            None
        },
        section: page.map_or("count-in".to_owned(), |(chart, _)| {
            chart.section.to_string()
        }),
        meter: bar.meter.to_string(),
        start_tick: bar.start.get(),
        start_ns: start.get(),
        duration_ticks: end.saturating_since(bar.start),
        chords: chords.collect(),
    }
}
