//! A score as MusicXML 4.0.

use std::io;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesPI, BytesStart, BytesText, Event};

use super::harmony::{parts, suffix};
use super::values::{Value, plain, values};
use super::written::{Measure, Symbol, TempoMark, WrittenScore};
use super::{FIELD, ONE_BEAT};
use crate::arrange::GuideNote;
use crate::chart::Times;
use crate::theory::{Chord, Harmony, PitchName, Scale};
use crate::time::{Feel, Meter, TICKS_PER_QUARTER, Tempo};

/// What a score says before its first element.
const DOCTYPE: &str = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
     \"http://www.musicxml.org/dtds/partwise.dtd\"";

/// A MusicXML writer: elements with and without text, each on a line.
struct Xml {
    writer: Writer<Vec<u8>>,
}

/// Attributes of an element.
type Attributes<'a> = &'a [(&'a str, &'a str)];

impl Xml {
    fn open(&mut self, name: &str, attributes: Attributes<'_>) -> io::Result<()> {
        let start = BytesStart::new(name).with_attributes(attributes.iter().copied());
        self.writer.write_event(Event::Start(start))
    }

    fn close(&mut self, name: &str) -> io::Result<()> {
        self.writer.write_event(Event::End(BytesEnd::new(name)))
    }

    fn empty(&mut self, name: &str, attributes: Attributes<'_>) -> io::Result<()> {
        let start = BytesStart::new(name).with_attributes(attributes.iter().copied());
        self.writer.write_event(Event::Empty(start))
    }

    fn text(&mut self, name: &str, attributes: Attributes<'_>, text: &str) -> io::Result<()> {
        self.open(name, attributes)?;
        self.writer
            .write_event(Event::Text(BytesText::new(&printable(text))))?;
        self.close(name)
    }

    fn number(&mut self, name: &str, number: impl ToString) -> io::Result<()> {
        self.text(name, &[], &number.to_string())
    }
}

/// XML 1.0 has no control characters but tab and line ends.
fn printable(text: &str) -> String {
    let held = |c: char| match c {
        '\t' | '\n' | '\r' => c,
        c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => char::REPLACEMENT_CHARACTER,
        c => c,
    };
    text.chars().map(held).collect()
}

/// Writes a score as MusicXML 4.0, score-partwise, with one part.
///
/// The same score gives the same bytes.
///
/// # Errors
/// None in practice: it writes into memory.
pub fn write_musicxml(score: &WrittenScore) -> io::Result<Vec<u8>> {
    let mut xml = Xml {
        writer: Writer::new_with_indent(Vec::new(), b' ', 1),
    };
    xml.writer
        .write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    xml.writer
        .write_event(Event::DocType(BytesText::from_escaped(DOCTYPE)))?;
    xml.open("score-partwise", &[("version", "4.0")])?;
    head(&mut xml, score)?;
    xml.open("part", &[("id", "P1")])?;
    let mut meter = None;
    for (at, measure) in score.measures.iter().enumerate() {
        let place = Place {
            first: at == 0,
            last: at + 1 == score.measures.len(),
            new_meter: meter.replace(measure.meter) != Some(measure.meter),
        };
        let number = (at + 1).to_string();
        xml.open("measure", &[("number", &number)])?;
        measure_content(&mut xml, score, measure, &place)?;
        xml.close("measure")?;
    }
    xml.close("part")?;
    xml.close("score-partwise")?;
    let mut bytes = xml.writer.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

/// The title, what notation has no sign for, and the list of parts.
fn head(xml: &mut Xml, score: &WrittenScore) -> io::Result<()> {
    if !score.piece.title.is_empty() {
        xml.open("work", &[])?;
        xml.text("work-title", &[], &score.piece.title)?;
        xml.close("work")?;
    }
    xml.open("identification", &[])?;
    xml.open("encoding", &[])?;
    xml.text(
        "software",
        &[],
        concat!("fivefold ", env!("CARGO_PKG_VERSION")),
    )?;
    xml.close("encoding")?;
    xml.open("miscellaneous", &[])?;
    xml.text("miscellaneous-field", &[("name", FIELD)], &unsaid(score))?;
    xml.close("miscellaneous")?;
    xml.close("identification")?;
    xml.open("part-list", &[])?;
    xml.open("score-part", &[("id", "P1")])?;
    xml.text("part-name", &[], "Guitar")?;
    xml.close("score-part")?;
    xml.close("part-list")
}

/// The lines of the document that notation has no sign for.
fn unsaid(score: &WrittenScore) -> String {
    let document = score.piece.to_document();
    let mut table: toml::Table = toml::from_str(&document).unwrap_or_default();
    for said in ["title", "key", "meter", "form", "sections"] {
        table.remove(said);
    }
    toml::to_string(&table).unwrap_or_default()
}

/// Where a measure stands.
struct Place {
    first: bool,
    last: bool,
    new_meter: bool,
}

fn measure_content(
    xml: &mut Xml,
    score: &WrittenScore,
    measure: &Measure,
    place: &Place,
) -> io::Result<()> {
    left_barline(xml, measure)?;
    attributes(xml, score, measure, place)?;
    if let Some(section) = &measure.section {
        xml.open("direction", &[("placement", "above")])?;
        xml.open("direction-type", &[])?;
        xml.text("rehearsal", &[], section)?;
        xml.close("direction-type")?;
        xml.close("direction")?;
    }
    if place.first {
        for words in first_words(score) {
            direction(xml, &words)?;
        }
    }
    if let Some(mark) = &measure.tempo {
        tempo(xml, mark)?;
    }
    body(xml, score, measure)?;
    if let Some(Times::Endless) = score.times()
        && measure.marks.closes.is_some()
    {
        direction(xml, "again and again")?;
    }
    right_barline(xml, measure, place.last)
}

/// What stands above the first measure: the feel, and a tempo plan that no mark says.
fn first_words(score: &WrittenScore) -> Vec<String> {
    let feel = score.piece.sounding_feel();
    let mut words = Vec::new();
    if feel != Feel::Straight {
        words.push(feel.to_string());
    }
    if !score.piece.tempo.is_steady() {
        words.push(score.piece.tempo.to_string());
    }
    words
}

fn direction(xml: &mut Xml, words: &str) -> io::Result<()> {
    xml.open("direction", &[("placement", "above")])?;
    xml.open("direction-type", &[])?;
    xml.text("words", &[], words)?;
    xml.close("direction-type")?;
    xml.close("direction")
}

fn left_barline(xml: &mut Xml, measure: &Measure) -> io::Result<()> {
    let marks = &measure.marks;
    if !marks.opens && marks.ending.is_none() {
        return Ok(());
    }
    xml.open("barline", &[("location", "left")])?;
    if marks.opens {
        xml.text("bar-style", &[], "heavy-light")?;
    }
    if let Some(times) = &marks.ending {
        let numbers = numbers(times);
        let text = numbers.replace(',', ". ") + ".";
        xml.text("ending", &[("number", &numbers), ("type", "start")], &text)?;
    }
    if marks.opens {
        xml.empty("repeat", &[("direction", "forward")])?;
    }
    xml.close("barline")
}

fn right_barline(xml: &mut Xml, measure: &Measure, last: bool) -> io::Result<()> {
    let marks = &measure.marks;
    if marks.closes.is_none() && marks.ending_ends.is_none() && !last {
        return Ok(());
    }
    xml.open("barline", &[("location", "right")])?;
    if last || marks.closes.is_some() {
        xml.text("bar-style", &[], "light-heavy")?;
    }
    if let Some(times) = &marks.ending_ends {
        let numbers = numbers(times);
        let kind = if marks.closes.is_some() {
            "stop"
        } else {
            "discontinue"
        };
        xml.empty("ending", &[("number", &numbers), ("type", kind)])?;
    }
    if let Some(times) = marks.closes {
        let times = times.to_string();
        let mut attributes = vec![("direction", "backward")];
        // Endings say by their numbers how often.
        if marks.ending_ends.is_none() {
            attributes.push(("times", &times));
        }
        xml.empty("repeat", &attributes)?;
    }
    xml.close("barline")
}

/// Numbers as the schema lists them.
fn numbers(times: &[u32]) -> String {
    let numbers: Vec<String> = times.iter().map(u32::to_string).collect();
    numbers.join(",")
}

fn attributes(
    xml: &mut Xml,
    score: &WrittenScore,
    measure: &Measure,
    place: &Place,
) -> io::Result<()> {
    if !place.first && !place.new_meter {
        return Ok(());
    }
    let piece = &score.piece;
    xml.open("attributes", &[])?;
    if place.first {
        xml.number("divisions", TICKS_PER_QUARTER)?;
        if let Some(key) = &piece.key {
            xml.open("key", &[])?;
            xml.number("fifths", key.fifths())?;
            xml.text("mode", &[], key.mode().as_str())?;
            xml.close("key")?;
        }
    }
    if place.new_meter {
        time(xml, &measure.meter)?;
    }
    if place.first {
        xml.open("clef", &[])?;
        xml.text("sign", &[], "G")?;
        xml.number("line", 2)?;
        xml.number("clef-octave-change", -1)?;
        xml.close("clef")?;
        if piece.capo > 0 || piece.tuning.is_some() {
            xml.open("staff-details", &[])?;
            if let Some(tuning) = &piece.tuning {
                // Line 1 is the lowest.
                for (line, pitch) in tuning.pitches().iter().enumerate() {
                    xml.open("staff-tuning", &[("line", &(line + 1).to_string())])?;
                    pitch_parts(xml, "tuning-", pitch.name(), i32::from(pitch.octave()))?;
                    xml.close("staff-tuning")?;
                }
            }
            if piece.capo > 0 {
                xml.number("capo", piece.capo)?;
            }
            xml.close("staff-details")?;
        }
        if !score.has_notes {
            xml.open("measure-style", &[])?;
            xml.empty("slash", &[("type", "start"), ("use-stems", "no")])?;
            xml.close("measure-style")?;
        }
    }
    xml.close("attributes")
}

fn time(xml: &mut Xml, meter: &Meter) -> io::Result<()> {
    let groups: Vec<String> = meter.groups().iter().map(u8::to_string).collect();
    let beats = if groups.is_empty() {
        meter.numerator().to_string()
    } else {
        groups.join("+")
    };
    xml.open("time", &[])?;
    xml.text("beats", &[], &beats)?;
    xml.number("beat-type", meter.denominator())?;
    if groups.len() == 1 {
        let instruction = BytesPI::new(format!("{FIELD} {ONE_BEAT}"));
        xml.writer.write_event(Event::PI(instruction))?;
    }
    xml.close("time")
}

/// Step, alteration and octave; the names of a tuning begin with `prefix`.
fn pitch_parts(xml: &mut Xml, prefix: &str, name: PitchName, octave: i32) -> io::Result<()> {
    xml.number(&format!("{prefix}step"), name.letter().as_char())?;
    if name.alter() != 0 {
        // Only here the schema has another name without a prefix.
        xml.number(&format!("{prefix}alter"), name.alter())?;
    }
    xml.number(&format!("{prefix}octave"), octave)
}

/// Notes of so many ticks a minute at a tempo, with at most three decimals.
pub(super) fn a_minute(tempo: Tempo, unit_ticks: u64) -> String {
    let milli = tempo.milli_a_minute(unit_ticks);
    let text = format!("{}.{:03}", milli / 1000, milli % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn tempo(xml: &mut Xml, mark: &TempoMark) -> io::Result<()> {
    let quarters = a_minute(mark.tempo, TICKS_PER_QUARTER);
    let Some(unit) = mark.unit_ticks else {
        return xml.empty("sound", &[("tempo", &quarters)]);
    };
    xml.open("direction", &[("placement", "above")])?;
    xml.open("direction-type", &[])?;
    xml.open("metronome", &[])?;
    if let Some(value) = plain(unit) {
        xml.text("beat-unit", &[], value.name)?;
        for _ in 0..value.dots {
            xml.empty("beat-unit-dot", &[])?;
        }
    }
    xml.text("per-minute", &[], &a_minute(mark.tempo, unit))?;
    xml.close("metronome")?;
    xml.close("direction-type")?;
    if let Some(words) = mark.words {
        xml.open("direction-type", &[])?;
        xml.text("words", &[], words)?;
        xml.close("direction-type")?;
    }
    xml.empty("sound", &[("tempo", &quarters)])?;
    xml.close("direction")
}

/// A stretch of a measure: a note, or a rest.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    start: u64,
    length: u64,
    note: Option<GuideNote>,
}

/// The stretches of a measure: the notes of the guide, or a rest a beat, or one rest where all of it has one chord.
fn stretches(measure: &Measure) -> Vec<Stretch> {
    let end = measure.meter.bar_ticks();
    let whole = Stretch {
        start: 0,
        length: end,
        note: None,
    };
    let onsets: Vec<(u64, Option<GuideNote>)> = if !measure.notes.is_empty() {
        let begins = measure.notes.first().is_some_and(|n| n.offset_ticks > 0);
        let rest = begins.then_some((0, None));
        let notes = measure
            .notes
            .iter()
            .map(|note| (note.offset_ticks, Some(*note)));
        rest.into_iter().chain(notes).collect()
    } else if measure.symbols.iter().any(|symbol| symbol.offset_ticks > 0) {
        let beats = measure.meter.beats();
        beats.map(|beat| (beat.offset_ticks, None)).collect()
    } else {
        return vec![whole];
    };
    let ends = onsets.iter().skip(1).map(|onset| onset.0).chain([end]);
    let stretch = |((start, note), next): (&(u64, Option<GuideNote>), u64)| Stretch {
        start: *start,
        length: next.saturating_sub(*start),
        note: *note,
    };
    onsets.iter().zip(ends).map(stretch).collect()
}

fn body(xml: &mut Xml, score: &WrittenScore, measure: &Measure) -> io::Result<()> {
    let stretches = stretches(measure);
    let mut symbols = measure.symbols.iter().peekable();
    for (at, stretch) in stretches.iter().enumerate() {
        let end = match stretches.get(at + 1) {
            Some(next) => next.start,
            None => u64::MAX,
        };
        while let Some(symbol) = symbols.next_if(|symbol| symbol.offset_ticks < end) {
            harmony(
                xml,
                symbol,
                symbol.offset_ticks.saturating_sub(stretch.start),
            )?;
        }
        if stretches.len() == 1 && stretch.note.is_none() {
            xml.open("note", &[])?;
            xml.empty("rest", &[("measure", "yes")])?;
            xml.number("duration", stretch.length)?;
            xml.text("voice", &[], "1")?;
            xml.close("note")?;
        } else {
            sounding(xml, score.piece.set.as_ref(), stretch)?;
        }
    }
    Ok(())
}

/// The notes of a stretch, tied to one another, or its rests.
fn sounding(xml: &mut Xml, set: Option<&Scale>, stretch: &Stretch) -> io::Result<()> {
    let values = values(stretch.length);
    let parts: Vec<(u64, Option<Value>)> = if values.is_empty() {
        vec![(stretch.length, None)]
    } else {
        values.into_iter().map(|v| (v.ticks, Some(v))).collect()
    };
    let count = parts.len();
    for (at, (ticks, value)) in parts.into_iter().enumerate() {
        let (tied_from, tied_to) = (at > 0, at + 1 < count);
        xml.open("note", &[])?;
        match stretch.note {
            None => xml.empty("rest", &[])?,
            Some(note) => {
                xml.open("pitch", &[])?;
                pitch(xml, set, &note)?;
                xml.close("pitch")?;
            }
        }
        xml.number("duration", ticks)?;
        if stretch.note.is_some() {
            ties(xml, "tie", tied_from, tied_to)?;
        }
        xml.text("voice", &[], "1")?;
        if let Some(value) = value {
            xml.text("type", &[], value.name)?;
            for _ in 0..value.dots {
                xml.empty("dot", &[])?;
            }
            if let Some((actual, normal)) = value.tuplet {
                xml.open("time-modification", &[])?;
                xml.number("actual-notes", actual)?;
                xml.number("normal-notes", normal)?;
                xml.close("time-modification")?;
            }
        }
        if stretch.note.is_some() && (tied_from || tied_to) {
            xml.open("notations", &[])?;
            ties(xml, "tied", tied_from, tied_to)?;
            xml.close("notations")?;
        }
        if let (Some(note), false) = (stretch.note, tied_from) {
            xml.open("lyric", &[("number", "1")])?;
            xml.text("syllabic", &[], "single")?;
            xml.text("text", &[], &note.degree.to_string())?;
            xml.close("lyric")?;
        }
        xml.close("note")?;
    }
    Ok(())
}

fn ties(xml: &mut Xml, name: &str, from: bool, to: bool) -> io::Result<()> {
    if from {
        xml.empty(name, &[("type", "stop")])?;
    }
    if to {
        xml.empty(name, &[("type", "start")])?;
    }
    Ok(())
}

/// A note of the guide, spelled by its degree in the set.
fn pitch(xml: &mut Xml, set: Option<&Scale>, note: &GuideNote) -> io::Result<()> {
    let key = i32::from(note.key.get());
    let plain = crate::theory::Pitch::of_key(key).name();
    let spelled = set.map(|set| note.degree.above(set.root()));
    let name = spelled
        .filter(|name| i32::from(name.pitch_class().value()) == key.rem_euclid(12))
        .unwrap_or(plain);
    let natural = key - i32::from(name.letter().semitones()) - i32::from(name.alter());
    xml.number("step", name.letter().as_char())?;
    if name.alter() != 0 {
        xml.number("alter", name.alter())?;
    }
    xml.number("octave", natural.div_euclid(12) - 1)
}

/// A chord symbol, so many ticks behind the note or rest that follows it.
fn harmony(xml: &mut Xml, symbol: &Symbol, offset: u64) -> io::Result<()> {
    xml.open("harmony", &[("print-frame", "no")])?;
    match &symbol.harmony {
        Harmony::NoChord => {
            note_name(
                xml,
                "root",
                PitchName::natural(crate::theory::Letter::C),
                Some(""),
            )?;
            xml.text("kind", &[("text", "N.C.")], "none")?;
        }
        Harmony::Chord(chord) => chord_parts(xml, chord)?,
    }
    if offset > 0 {
        xml.number("offset", offset)?;
    }
    xml.close("harmony")
}

fn chord_parts(xml: &mut Xml, chord: &Chord) -> io::Result<()> {
    note_name(xml, "root", chord.root(), None)?;
    let (kind, modifiers) = parts(chord);
    xml.text("kind", &[("text", &suffix(chord))], kind.as_str())?;
    if let Some(bass) = chord.slash() {
        note_name(xml, "bass", bass, None)?;
    }
    for modifier in modifiers {
        // The text of the kind says it already.
        xml.open("degree", &[("print-object", "no")])?;
        xml.number("degree-value", modifier.number)?;
        xml.number("degree-alter", modifier.alter)?;
        xml.text("degree-type", &[], modifier.change.as_str())?;
        xml.close("degree")?;
    }
    Ok(())
}

/// A root or a bass; `shown` is printed instead of its name.
fn note_name(xml: &mut Xml, what: &str, name: PitchName, shown: Option<&str>) -> io::Result<()> {
    xml.open(what, &[])?;
    let letter = name.letter().as_char().to_string();
    let shown = shown.map(|text| ("text", text));
    xml.text(&format!("{what}-step"), shown.as_slice(), &letter)?;
    if name.alter() != 0 {
        xml.number(&format!("{what}-alter"), name.alter())?;
    }
    xml.close(what)
}
