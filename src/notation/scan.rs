//! From the elements of a score to its measures.

use std::fmt::Write as _;

use super::element::{Element, Elements, INSTRUCTION, Next};
use super::harmony::{Change, Modifier, degrees, kind_named};
use super::raw::{RawChord, RawKey, RawMeasure, RawScore};
use super::values::ticks;
use super::{FIELD, ONE_BEAT};
use crate::chart::{MOST_BARS, Problem};
use crate::theory::{Chord, Harmony, Interval, Letter, PitchName, symbol};
use crate::time::{Meter, TICKS_PER_QUARTER};

/// Most warnings of one kind; what is left is counted.
const MOST_WARNINGS: usize = 8;
/// Most quarter notes in a measure: more than a bar has.
const LONGEST: f64 = 10_000.0;
/// Longest title and longest name of a section, in characters.
const LONGEST_NAME: usize = 200;

/// What is known of a part while it is read.
#[derive(Default)]
struct Part {
    measures: Vec<RawMeasure>,
    has_chords: bool,
    key: Option<RawKey>,
    capo: Option<u8>,
    divisions: Option<f64>,
    meter: Option<Meter>,
    /// How far it sounds from what is written.
    moved: Option<Interval>,
}

/// Warnings, of each kind the first ones.
#[derive(Default)]
pub(super) struct Warnings {
    pub(super) found: Vec<Problem>,
    counts: std::collections::BTreeMap<&'static str, usize>,
}

impl Warnings {
    pub(super) fn add(
        &mut self,
        code: &'static str,
        measure: &RawMeasure,
        message: String,
        help: &str,
    ) {
        let count = self.counts.entry(code).or_default();
        *count += 1;
        if *count <= MOST_WARNINGS {
            let message = format!("measure {}: {message}", measure.number);
            let span = measure.span.clone();
            self.found.push(Problem::warning(code, span, message, help));
        }
    }

    /// All warnings, with how many of a kind were left out.
    pub(super) fn all(mut self) -> Vec<Problem> {
        for (code, count) in self.counts {
            if count > MOST_WARNINGS {
                let more = count - MOST_WARNINGS;
                let message = format!("{more} more measures have the like");
                let help = "look at those that are named first";
                self.found.push(Problem::warning(code, 0..0, message, help));
            }
        }
        self.found
    }
}

/// Reads a score, its warnings and what is left out.
pub(super) fn scan(text: &str, warnings: &mut Warnings) -> Result<RawScore, Problem> {
    let mut elements = Elements::new(text);
    let mut ignored = String::new();
    let root = loop {
        match elements.next(&mut ignored)? {
            Next::Start(element) => break element,
            Next::Empty(element) => {
                check_root(&element)?;
                return Err(no_measures(&element));
            }
            Next::End => {}
            Next::Eof => {
                let help = "give a score: MusicXML, packed or not";
                return Err(Problem::error(
                    "score-empty",
                    0..0,
                    "there is no score",
                    help,
                ));
            }
        }
    };
    check_root(&root)?;
    let mut score = RawScore::default();
    let mut best: Option<Part> = None;
    loop {
        match elements.next(&mut ignored)? {
            Next::Start(element) if element.name == "part" => {
                score.parts += 1;
                let part = read_part(&mut elements, &mut score, best.as_ref(), warnings)?;
                take(&mut best, part);
            }
            Next::Start(element) if element.name == "work" || element.name == "identification" => {
                head(&mut score, &elements.fill(element)?);
            }
            Next::Start(element) if element.name == "movement-title" => {
                let element = elements.fill(element)?;
                if score.title.is_empty() {
                    score.title = name(&element.text);
                }
            }
            Next::Start(_) => elements.skip()?,
            Next::Empty(_) => {}
            Next::End | Next::Eof => break,
        }
        ignored.clear();
    }
    let part = best.unwrap_or_default();
    if part.measures.is_empty() {
        return Err(no_measures(&root));
    }
    if !part.has_chords {
        return Err(Problem::error(
            "score-chords",
            root.span,
            "the score has no chord symbols, and a chart is made of these",
            "write chord symbols above its notes, and export it again",
        ));
    }
    score.key = part.key;
    score.capo = part.capo;
    score.measures = part.measures;
    Ok(score)
}

/// Of two parts the first has the form, and the first with chords has these.
fn take(best: &mut Option<Part>, part: Part) {
    match best {
        None => *best = Some(part),
        Some(known) if !known.has_chords && part.has_chords => {
            known.has_chords = true;
            for (own, theirs) in known.measures.iter_mut().zip(part.measures) {
                own.chords = theirs.chords;
            }
        }
        Some(_) => {}
    }
}

fn no_measures(root: &Element) -> Problem {
    let help = "give a score with at least one part";
    let message = "the score has no measures";
    Problem::error("score-empty", root.span.clone(), message, help)
}

fn check_root(root: &Element) -> Result<(), Problem> {
    let help = match root.name.as_str() {
        "score-partwise" => return Ok(()),
        "score-timewise" => "open it in a notation program, and export it as score-partwise",
        _ => "give a score: MusicXML, whose first element is score-partwise",
    };
    let name: String = root.name.chars().take(40).collect();
    let message = format!("a score is read part by part, in `score-partwise`; found `{name}`");
    Err(Problem::error(
        "score-form",
        root.span.clone(),
        message,
        help,
    ))
}

/// The title, and what the program itself wrote.
fn head(score: &mut RawScore, element: &Element) {
    if let Some(title) = element
        .text_of("work-title")
        .filter(|title| !title.is_empty())
    {
        score.title = name(title);
    }
    let fields = element
        .all("miscellaneous")
        .flat_map(|m| m.all("miscellaneous-field"));
    for field in fields.filter(|field| field.attribute("name") == Some(FIELD)) {
        score.field = Some(field.text.clone());
    }
}

/// A name in one line.
fn name(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let plain = words.join(" ");
    let plain = plain.chars().filter(|c| !c.is_control());
    plain.take(LONGEST_NAME).collect()
}

/// Reads a part to its end; `before` is the one whose form counts.
fn read_part(
    elements: &mut Elements<'_>,
    score: &mut RawScore,
    before: Option<&Part>,
    warnings: &mut Warnings,
) -> Result<Part, Problem> {
    let mut part = Part::default();
    let mut ignored = String::new();
    // Warnings about a part whose chords are not taken would only confuse.
    let taken = before.is_none_or(|before| !before.has_chords);
    let mut unsaid = Warnings::default();
    loop {
        let element = match elements.next(&mut ignored)? {
            Next::Start(element) if element.name == "measure" => elements.fill(element)?,
            Next::Empty(element) if element.name == "measure" => element,
            Next::Start(_) => {
                elements.skip()?;
                continue;
            }
            Next::Empty(_) => continue,
            Next::End | Next::Eof => return Ok(part),
        };
        ignored.clear();
        if part.measures.len() == MOST_BARS {
            let message = format!("a chart has at most {MOST_BARS} bars, and the score has more");
            let help = "export fewer measures";
            return Err(Problem::error("score-size", element.span, message, help));
        }
        let told = if taken { &mut *warnings } else { &mut unsaid };
        read_measure(&element, &mut part, score, told)?;
    }
}

/// A place in a measure that moves on as its elements are read.
struct Cursor {
    /// Quarter notes from the beginning.
    at: f64,
    furthest: f64,
}

impl Cursor {
    fn go(&mut self, by: f64) {
        self.at = (self.at + by).clamp(0.0, LONGEST);
        self.furthest = self.furthest.max(self.at);
    }

    /// The place in ticks, so many quarter notes from here.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 10 million
    #[allow(clippy::cast_precision_loss)]
    fn ticks(place: f64) -> u64 {
        (place.clamp(0.0, LONGEST) * TICKS_PER_QUARTER as f64).round() as u64
    }
}

fn read_measure(
    element: &Element,
    part: &mut Part,
    score: &mut RawScore,
    warnings: &mut Warnings,
) -> Result<(), Problem> {
    let number = element
        .attribute("number")
        .map(name)
        .filter(|number| !number.is_empty());
    let mut measure = RawMeasure {
        number: number.unwrap_or_else(|| (part.measures.len() + 1).to_string()),
        span: element.span.clone(),
        meter: part.meter,
        ..RawMeasure::default()
    };
    let mut cursor = Cursor {
        at: 0.0,
        furthest: 0.0,
    };
    for child in &element.children {
        let length = |child: &Element| -> f64 {
            let duration: f64 = child.number_of("duration").unwrap_or(0.0);
            let quarters = duration / part.divisions.unwrap_or(1.0);
            if quarters.is_finite() {
                quarters.max(0.0)
            } else {
                0.0
            }
        };
        match child.name.as_str() {
            "attributes" => attributes(child, part, &mut measure, warnings)?,
            "note" => {
                let grace = child.child("grace").is_some();
                score.notes += usize::from(child.child("rest").is_none());
                if child.child("chord").is_none() && !grace {
                    cursor.go(length(child));
                }
            }
            "backup" => cursor.at = (cursor.at - length(child)).max(0.0),
            "forward" => cursor.go(length(child)),
            "harmony" => {
                let offset: f64 = child.number_of("offset").unwrap_or(0.0);
                let offset = offset / part.divisions.unwrap_or(1.0);
                let place = cursor.at + if offset.is_finite() { offset } else { 0.0 };
                if let Some(harmony) = harmony(child, part.moved, &measure, warnings) {
                    let at = Cursor::ticks(place);
                    measure.chords.push(RawChord { at, harmony });
                }
            }
            "direction" => direction(child, Cursor::ticks(cursor.at), &mut measure),
            "sound" => sound(child, Cursor::ticks(cursor.at), &mut measure),
            "barline" => barline(child, &mut measure),
            _ => {}
        }
    }
    measure.length = Cursor::ticks(cursor.furthest);
    measure.chords.sort_by_key(|chord| chord.at);
    part.has_chords |= !measure.chords.is_empty();
    part.measures.push(measure);
    Ok(())
}

fn attributes(
    element: &Element,
    part: &mut Part,
    measure: &mut RawMeasure,
    warnings: &mut Warnings,
) -> Result<(), Problem> {
    if let Some(divisions) = element.number_of::<f64>("divisions")
        && divisions.is_finite()
        && divisions > 0.0
    {
        part.divisions = Some(divisions);
    }
    if let Some(key) = element.child("key")
        && let Some(fifths) = key.number_of::<i32>("fifths")
    {
        let mode = key.text_of("mode").map(str::to_lowercase);
        let key = RawKey { fifths, mode };
        match &part.key {
            None => part.key = Some(key),
            Some(known) if *known != key => warnings.add(
                "score-key",
                measure,
                "the key changes; a chart has one key, and keeps the first".to_owned(),
                "its chords are those of the score all the same",
            ),
            Some(_) => {}
        }
    }
    if let Some(time) = element.child("time") {
        match meter(time) {
            Some(Ok(meter)) => part.meter = Some(meter),
            Some(Err(e)) => {
                let message = format!("measure {}: {e}", measure.number);
                let help = "write another meter there, and export it again";
                return Err(Problem::error(
                    "score-meter",
                    time.span.clone(),
                    message,
                    help,
                ));
            }
            None => part.meter = None,
        }
        measure.meter = part.meter;
    }
    if let Some(capo) = element
        .child("staff-details")
        .and_then(|d| d.number_of::<u8>("capo"))
    {
        part.capo = Some(capo).filter(|fret| *fret <= 12);
    }
    if let Some(moved) = element.child("transpose") {
        let number = |name| moved.number_of::<i32>(name).unwrap_or(0).clamp(-127, 127);
        let (steps, semitones) = (number("diatonic"), number("chromatic"));
        let octaves = semitones.div_euclid(12);
        let by = Interval::new(steps - 7 * octaves, semitones - 12 * octaves);
        part.moved = Some(by).filter(|_| semitones % 12 != 0);
        if part.moved.is_some() {
            warnings.add(
                "score-transposed",
                measure,
                "the part is written for an instrument that sounds elsewhere; its chords are read as they sound"
                    .to_owned(),
                "write `--transpose` to move them",
            );
        }
    }
    Ok(())
}

/// The meter of a `time`: `None` where it has none (senza misura).
fn meter(time: &Element) -> Option<Result<Meter, crate::time::MeterError>> {
    let beats: Vec<&str> = time.all("beats").map(|b| b.text.trim()).collect();
    let types: Vec<&str> = time.all("beat-type").map(|b| b.text.trim()).collect();
    let (first, rest) = types.split_first()?;
    if rest.iter().all(|other| other == first) {
        let groups = beats.join("+");
        let text = if groups.contains('+') {
            let sum: u32 = groups
                .split('+')
                .filter_map(|g| g.trim().parse::<u32>().ok())
                .sum();
            format!("{sum}/{first} = {groups}")
        } else if time.text_of(INSTRUCTION) == Some(ONE_BEAT) {
            format!("{groups}/{first} = {groups}")
        } else {
            format!("{groups}/{first}")
        };
        return Some(Meter::read(&text));
    }
    // Parts in several values: all in the smallest.
    let value = |text: &&str| text.parse::<u32>().ok().filter(|v| (1..=64).contains(v));
    let smallest = types.iter().filter_map(value).max().unwrap_or(4);
    let group = |(count, kind): (&&str, &&str)| {
        let count: u32 = count
            .split('+')
            .filter_map(|g| g.trim().parse::<u32>().ok())
            .sum();
        count.saturating_mul(smallest / value(kind).unwrap_or(smallest).max(1))
    };
    let groups: Vec<u32> = beats.iter().zip(&types).map(group).collect();
    let sum: u32 = groups
        .iter()
        .fold(0, |sum, group| sum.saturating_add(*group));
    let groups: Vec<String> = groups.iter().map(u32::to_string).collect();
    let mut text = format!("{sum}/{smallest}");
    if groups.len() > 1 {
        let _ = write!(text, " = {}", groups.join("+"));
    }
    Some(Meter::read(&text))
}

/// A note name from its step and alteration.
fn pitch(element: &Element, what: &str) -> Option<PitchName> {
    let step = element.text_of(&format!("{what}-step"))?;
    let mut letters = step.chars();
    let letter = Letter::from_char(letters.next()?).filter(|_| letters.next().is_none())?;
    let alter: f64 = element.number_of(&format!("{what}-alter")).unwrap_or(0.0);
    #[allow(clippy::cast_possible_truncation)] // -2 to 2
    let whole = alter.clamp(-9.0, 9.0) as i8;
    PitchName::new(letter, whole)
        .ok()
        .filter(|_| f64::from(whole) == alter)
}

/// The chord of a symbol; what cannot be read is told.
fn harmony(
    element: &Element,
    moved: Option<Interval>,
    measure: &RawMeasure,
    warnings: &mut Warnings,
) -> Option<Harmony> {
    let kind = element.child("kind");
    let kind_name = kind.map(|kind| kind.text.trim()).unwrap_or_default();
    if kind_name == "none" {
        return Some(Harmony::NoChord);
    }
    if element.all("kind").count() > 1 {
        let message = "a symbol of several chords is read as the first of them".to_owned();
        warnings.add("score-symbol", measure, message, "write one chord");
    }
    let shown = kind
        .and_then(|kind| kind.attribute("text"))
        .unwrap_or_default();
    let found = element
        .child("root")
        .and_then(|root| pitch(root, "root"))
        .and_then(|root| {
            let bass = element.child("bass").and_then(|bass| pitch(bass, "bass"));
            let chord = chord(root, kind_name, shown, element)?;
            Some(chord.with_bass(bass.or_else(|| inverted(&chord, element))))
        });
    match found {
        Some(chord) => {
            let chord = moved.map_or(chord, |by| chord.transposed(by));
            Some(Harmony::Chord(chord))
        }
        None => {
            let what = if element.child("root").is_none() {
                "a symbol without a root".to_owned()
            } else {
                format!("a chord of the kind `{}`", name(kind_name))
            };
            let message = format!("{what} cannot be read, and is left out");
            warnings.add(
                "score-symbol",
                measure,
                message,
                "write the chord by its letters",
            );
            None
        }
    }
}

fn chord(root: PitchName, kind: &str, shown: &str, element: &Element) -> Option<Chord> {
    let modifier = |degree: &Element| {
        Some(Modifier {
            number: degree.number_of("degree-value")?,
            alter: degree.number_of("degree-alter").unwrap_or(0),
            change: Change::read(degree.text_of("degree-type")?)?,
        })
    };
    let modifiers: Option<Vec<Modifier>> = element.all("degree").map(modifier).collect();
    let modifiers = modifiers?;
    if kind == "other" && modifiers.is_empty() {
        // Only what is printed says what it is.
        let read = symbol::read(&format!("{root}{shown}")).ok()?;
        return read.chord().copied().filter(|_| !shown.is_empty());
    }
    let degrees = degrees(kind_named(kind)?, &modifiers)?;
    Chord::new(root, degrees, None).ok()
}

/// The bass of an inversion.
fn inverted(chord: &Chord, element: &Element) -> Option<PitchName> {
    let degree = match element.number_of::<u8>("inversion")? {
        1 => chord.third(),
        2 => chord.fifth(),
        3 => chord.seventh(),
        _ => None,
    };
    degree.map(|degree| degree.above(chord.root()))
}

fn direction(element: &Element, at: u64, measure: &mut RawMeasure) {
    for kind in element
        .all("direction-type")
        .flat_map(|kind| &kind.children)
    {
        match kind.name.as_str() {
            "rehearsal" => {
                let text = name(&kind.text);
                measure.section = Some(text).filter(|text| !text.is_empty());
            }
            "segno" => measure.jumps.segno = true,
            "coda" => coda_sign(measure),
            "words" => words(&kind.text, measure),
            "metronome" => {
                if let Some(milli) = metronome(kind) {
                    measure.tempi.push((at, milli));
                }
            }
            _ => {}
        }
    }
    for child in element.all("sound") {
        sound(child, at, measure);
    }
}

/// A coda sign at the end of a measure is where the jump begins; elsewhere it is its goal.
fn coda_sign(measure: &mut RawMeasure) {
    if !measure.jumps.to_coda {
        measure.jumps.coda = true;
    }
}

/// The words of jumps.
fn words(text: &str, measure: &mut RawMeasure) {
    let plain: String = text.chars().filter(|c| c.is_alphabetic()).collect();
    let plain = plain.to_lowercase();
    let jumps = &mut measure.jumps;
    match plain.as_str() {
        "fine" => jumps.fine = true,
        "tocoda" => (jumps.to_coda, jumps.coda) = (true, false),
        _ if plain.starts_with("dcal") || plain == "dc" || plain.starts_with("dacapo") => {
            jumps.da_capo = true;
        }
        _ if plain.starts_with("dsal") || plain == "ds" || plain.starts_with("dalsegno") => {
            jumps.dal_segno = true;
        }
        _ => {}
    }
}

/// Thousandths of a quarter note a minute.
fn metronome(element: &Element) -> Option<u64> {
    let unit = element.text_of("beat-unit")?;
    let unit = ticks(unit, element.all("beat-unit-dot").count() as u64)?;
    let digits: String = element
        .text_of("per-minute")?
        .chars()
        .skip_while(|c| !c.is_ascii_digit())
        .take_while(|c| c.is_ascii_digit() || *c == '.')
        .collect();
    let minute: f64 = digits.parse().ok()?;
    #[allow(clippy::cast_precision_loss)] // below 2^24
    milli(minute * unit as f64 / TICKS_PER_QUARTER as f64)
}

fn milli(quarters: f64) -> Option<u64> {
    let milli = (quarters * 1000.0).round();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within the limits
    (1.0..1e9).contains(&milli).then_some(milli as u64)
}

fn sound(element: &Element, at: u64, measure: &mut RawMeasure) {
    let tempo = element
        .attribute("tempo")
        .and_then(|text| text.trim().parse().ok());
    if let Some(milli) = tempo.and_then(milli) {
        // What sounds goes before what is printed at the same place.
        measure.tempi.retain(|(place, _)| *place != at);
        measure.tempi.push((at, milli));
    }
    let says = |name| element.attribute(name).is_some_and(|value| value != "no");
    let jumps = &mut measure.jumps;
    jumps.da_capo |= says("dacapo");
    jumps.dal_segno |= says("dalsegno");
    jumps.fine |= says("fine");
    jumps.segno |= says("segno");
    if says("tocoda") {
        (jumps.to_coda, jumps.coda) = (true, false);
    } else if says("coda") {
        jumps.coda = true;
    }
}

fn barline(element: &Element, measure: &mut RawMeasure) {
    if element.child("segno").is_some() {
        measure.jumps.segno = true;
    }
    if element.child("coda").is_some() {
        coda_sign(measure);
    }
    if let Some(repeat) = element.child("repeat") {
        match repeat.attribute("direction") {
            Some("forward") => measure.opens = true,
            Some("backward") => {
                let times = repeat
                    .attribute("times")
                    .and_then(|times| times.parse().ok());
                measure.closes = Some(times.unwrap_or(2).clamp(1, 999));
            }
            _ => {}
        }
    }
    if let Some(ending) = element.child("ending") {
        match ending.attribute("type") {
            Some("start") => {
                let numbers = ending.attribute("number").unwrap_or_default();
                let numbers = numbers
                    .split([',', ' '])
                    .filter_map(|n| n.trim().parse().ok());
                let numbers: Vec<u32> =
                    numbers.filter(|n| (1..=999).contains(n)).take(99).collect();
                measure.ending = Some(numbers).filter(|numbers| !numbers.is_empty());
            }
            Some(_) => measure.ending_ends = true,
            None => {}
        }
    }
}
