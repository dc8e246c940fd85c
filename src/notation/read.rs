//! A score from elsewhere as a piece.

use super::ENDING;
use super::compose::{Composed, compose};
use super::raw::{RawKey, RawMeasure, RawScore};
use super::scan::{Warnings, scan};
use super::written::WrittenScore;
use crate::chart::{Ending, Piece, Problem, Problems, Reading, Times};
use crate::theory::{Key, Letter, Mode, PitchName};
use crate::time::{Meter, TICKS_PER_QUARTER, TempoPlan};

/// Largest score that is read, in bytes, unpacked.
pub const MOST_SCORE_BYTES: usize = 32 << 20;

/// Reads a score: MusicXML, score-partwise.
///
/// Title, key, meters, tempo, sections (from rehearsal marks), repeats with endings, jumps and chord symbols become a chart;
/// what a chart has no place for is told in the warnings. Where repeats go over several sections, the form repeats these;
/// what no repeat of a chart says is written out. Nothing is fetched, and no entity but the five of XML is known.
///
/// # Errors
/// Why it cannot be read, with a span of `text`.
pub fn read_musicxml(text: &str) -> Result<(Piece, Reading), Problems> {
    if text.len() > MOST_SCORE_BYTES {
        let message = format!(
            "a score has at most {MOST_SCORE_BYTES} bytes, found {}",
            text.len()
        );
        let help = "export fewer parts, or fewer measures";
        return Err(vec![Problem::error("score-size", 0..0, message, help)].into());
    }
    let mut warnings = Warnings::default();
    let (piece, found) = read(text, &mut warnings).map_err(|problem| vec![problem])?;
    let mut warnings = warnings.all();
    warnings.extend(found);
    warnings.sort_by_key(|problem| problem.span.start);
    let reading = Reading {
        warnings,
        ..Reading::default()
    };
    Ok((piece, reading))
}

fn read(text: &str, warnings: &mut Warnings) -> Result<(Piece, Vec<Problem>), Problem> {
    let score = scan(text, warnings)?;
    let own = score.field.as_deref().map(own_lines);
    let mut told = Vec::new();
    if own.is_none() {
        told.extend(left_out(&score));
    }
    let own = own.flatten();
    let times = own.as_ref().map_or(Times::Count(1), times);
    let key = score.key.as_ref();
    let header = Header {
        title: score.title.clone(),
        key: None,
        capo: score.capo,
        marks: score.measures.iter().map(first_tempo).collect(),
    };
    let key = key.cloned();
    let composed = compose(score, times, warnings)?;
    let mut piece = assemble(&header, own.as_ref(), &composed)?;
    if let Some(key) = key {
        let (key, guessed) = key_of(&key, &piece);
        if guessed && let Some(key) = key {
            let message = format!("the key names no mode; it is taken as {key}");
            let help = format!("write `--key '{key}'` or another");
            told.push(Problem::warning("score-mode", 0..0, message, help));
        }
        let header = Header { key, ..header };
        piece = assemble(&header, own.as_ref(), &composed)?;
        finish(&mut piece, &header, own.is_some(), &composed);
    } else {
        finish(&mut piece, &header, own.is_some(), &composed);
    }
    Ok((piece, told))
}

/// What stands above the sections of a document.
struct Header {
    title: String,
    key: Option<Key>,
    capo: Option<u8>,
    /// The tempo mark at the beginning of each measure, in thousandths of a quarter note a minute.
    marks: Vec<Option<u64>>,
}

fn first_tempo(measure: &RawMeasure) -> Option<u64> {
    let at_first = measure.tempi.iter().rfind(|(at, _)| *at == 0);
    at_first.map(|(_, milli)| *milli)
}

/// The lines that the program itself wrote, as far as they are such.
fn own_lines(field: &str) -> Option<toml::Table> {
    let mut table: toml::Table = toml::from_str(field).ok()?;
    for said in ["title", "key", "meter", "form", "sections", "transpose"] {
        table.remove(said);
    }
    Some(table)
}

fn times(own: &toml::Table) -> Times {
    match own.get("times") {
        Some(toml::Value::Integer(times)) => Times::Count(u32::try_from(*times).unwrap_or(1)),
        Some(toml::Value::String(_)) => Times::Endless,
        _ => Times::Count(1),
    }
}

/// What a score from elsewhere holds and a chart does not.
fn left_out(score: &RawScore) -> Vec<Problem> {
    let mut found = Vec::new();
    let mut say = |code, message: String, help: &str| {
        found.push(Problem::warning(code, 0..0, message, help));
    };
    if score.notes > 0 {
        let message = format!("notes are left out ({}): a chart holds chords", score.notes);
        say("score-notes", message, "the band plays from the chords");
    }
    if score.parts > 1 {
        let message = format!(
            "of its {} parts the first with chord symbols is read",
            score.parts
        );
        say(
            "score-parts",
            message,
            "export that part alone to choose another",
        );
    }
    found
}

/// The piece of the sections: a document with the lines that the program itself wrote, or without, where they are none.
fn assemble(
    header: &Header,
    own: Option<&toml::Table>,
    composed: &Composed,
) -> Result<Piece, Problem> {
    if let Some(own) = own
        && let Ok((piece, _)) = Piece::read(&document(header, Some(own), composed))
    {
        return Ok(placed(piece, composed));
    }
    match Piece::read(&document(header, None, composed)) {
        Ok((piece, _)) => Ok(placed(piece, composed)),
        Err(problems) => {
            let first = problems.into_iter().next();
            Err(first.map_or_else(
                || {
                    Problem::error(
                        "score-form",
                        0..0,
                        "the score makes no chart",
                        "simplify it",
                    )
                },
                |problem| Problem {
                    span: 0..0,
                    ..problem
                },
            ))
        }
    }
}

fn document(header: &Header, own: Option<&toml::Table>, composed: &Composed) -> String {
    let mut table = own.cloned().unwrap_or_default();
    let text = |text: &str| toml::Value::String(text.to_owned());
    let meter = composed.meter.unwrap_or(Meter::COMMON);
    if !header.title.is_empty() {
        table.insert("title".to_owned(), text(&header.title));
    }
    if let Some(key) = header.key {
        table.insert("key".to_owned(), text(&key.to_string()));
    }
    table.insert("meter".to_owned(), text(&meter.to_string()));
    table.insert("form".to_owned(), text(&composed.form.join(" ")));
    if own.is_none() {
        table.insert("ending".to_owned(), text("none"));
        if let Some(plan) = plan(composed, &meter) {
            table.insert("tempo".to_owned(), text(&plan));
        }
        if let Some(capo) = header.capo.filter(|capo| *capo > 0) {
            table.insert("capo".to_owned(), toml::Value::Integer(i64::from(capo)));
        }
    }
    let mut document = toml::to_string(&table).unwrap_or_default();
    document.push_str("\n[sections]\n");
    for section in &composed.sections {
        let (name, chart) = (text(&section.name), text(&section.text));
        document.push_str(&format!("{name} = {chart}\n"));
    }
    document
}

/// The tempo plan of the marks.
fn plan(composed: &Composed, meter: &Meter) -> Option<String> {
    let unit = meter.tempo_unit_ticks();
    let mut stretches = Vec::new();
    for (at, (bar, milli)) in composed.tempi.iter().enumerate() {
        let beats = (milli * TICKS_PER_QUARTER + unit / 2) / unit;
        let tempo = format!("{}.{:03}", beats / 1000, beats % 1000);
        let tempo = tempo.trim_end_matches('0').trim_end_matches('.');
        // The first holds from the beginning.
        let from = if at == 0 { 0 } else { *bar };
        stretches.push(match composed.tempi.get(at + 1) {
            Some((next, _)) => format!("{tempo} for {} bars", next - from),
            None => tempo.to_owned(),
        });
    }
    (!stretches.is_empty()).then(|| stretches.join(", "))
}

/// Puts the places of the measures into the bars.
fn placed(mut piece: Piece, composed: &Composed) -> Piece {
    for (name, _, section) in &mut piece.sections {
        let Some(found) = composed.sections.iter().find(|found| found.name == *name) else {
            continue;
        };
        for (bar, span) in section.bars.iter_mut().zip(&found.spans) {
            bar.span = span.clone();
            for cell in &mut bar.cells {
                cell.span = span.clone();
            }
        }
    }
    piece
}

/// The key of a signature, and whether its mode was guessed: by the last chord of the piece.
fn key_of(raw: &RawKey, piece: &Piece) -> (Option<Key>, bool) {
    let named = raw.mode.as_deref().and_then(|mode| match mode {
        "ionian" => Some(Mode::Major),
        "aeolian" => Some(Mode::Minor),
        other => Mode::ALL.into_iter().find(|known| known.as_str() == other),
    });
    let key = |mode: Mode| {
        let names = (0..7).flat_map(|step| {
            let letter = Letter::C.up(step);
            [0, -1, 1]
                .into_iter()
                .filter_map(move |alter| PitchName::new(letter, alter).ok())
        });
        let mut keys = names.filter_map(|tonic| Key::new(tonic, mode).ok());
        keys.find(|key| key.fifths() == raw.fifths)
    };
    if let Some(mode) = named {
        return (key(mode), false);
    }
    let minor = key(Mode::Minor);
    let form = piece.unfold().ok();
    let last = form.as_ref().and_then(|form| {
        let chords = form.bars().flat_map(|bar| &bar.chords);
        chords
            .filter_map(|placed| placed.harmony.chord())
            .last()
            .copied()
    });
    let ends_there = last.zip(minor).is_some_and(|(chord, minor)| {
        chord.root() == minor.tonic() && chord.third().is_some_and(|third| third.alter() < 0)
    });
    (if ends_there { minor } else { key(Mode::Major) }, true)
}

/// Settles what a document and its score say both: the ending and the tempo.
fn finish(piece: &mut Piece, header: &Header, own: bool, composed: &Composed) {
    if !own {
        return;
    }
    let written = piece.sections.iter().any(|(name, ..)| name == ENDING);
    let tonic = piece.ending == Ending::Tonic && piece.times != Times::Endless;
    if tonic && !written {
        piece.ending = Ending::None;
    } else if tonic {
        // The program writes the last chord that it adds itself.
        let mut plain = piece.clone();
        plain.sections.retain(|(name, ..)| name != ENDING);
        let forms = (piece.unfold(), plain.unfold());
        if let (Ok(with), Ok(without)) = forms
            && with.ending == without.ending
        {
            *piece = plain;
        }
    }
    let marks = |piece: &Piece| -> Option<Vec<Option<u64>>> {
        let score = WrittenScore::new(piece).ok()?;
        let marks = score.measures.iter().map(|measure| {
            let mark = measure.tempo.as_ref();
            mark.map(|mark| mark.tempo.milli_a_minute(TICKS_PER_QUARTER))
        });
        Some(marks.collect())
    };
    if marks(piece).as_ref() != Some(&header.marks)
        && let Some(plan) = plan(composed, &piece.meter)
        && let Ok(plan) = TempoPlan::read(&plan)
        && plan.check(&piece.meter).is_ok()
    {
        // Someone wrote other marks since.
        piece.tempo = plan;
        piece.ritardando = None;
    }
}
