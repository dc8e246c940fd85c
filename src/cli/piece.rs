//! Where a piece comes from: a document, an argument with bar lines, or standard input.

use std::io::{ErrorKind, Read};
use std::path::Path;

use clap::Args;

use super::Context;
use super::failure::{Failure, cause, rendered};
use super::options::{Changes, Origin, Prepared};
use super::piece_text::{Kind, kind, no_text, unquoted};
use crate::chart::{
    Content, Piece, Problem, READY_CHARTS, Reading, SourceText, has_bar_line, ready_chart,
};
use crate::theory::figure::{self, Figure};
use crate::theory::{Harmony, PitchName, nearest};

/// Which piece, and what to change about it.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(super) struct PieceArguments {
    /// A document, a ready chart by name, a chart such as '| Am7 | D9 |', or - for standard input
    #[arg(value_name = "PIECE", allow_hyphen_values = false)]
    pub(super) piece: String,
    /// Set, the notes to play over it
    #[arg(long, value_name = "SET")]
    set: Option<String>,
    /// Home, the scale it is heard in
    #[arg(long, value_name = "SCALE", requires = "set")]
    home: Option<String>,
    #[command(flatten)]
    pub(super) changes: Changes,
}

impl PieceArguments {
    /// Reads the piece, makes the changes, and unfolds it.
    pub(super) fn prepare(&self, context: &mut Context<'_, '_>) -> Result<Prepared, Failure> {
        let source = self.source(context)?;
        let kind = if has_bar_line(&self.piece) {
            Kind::Chart
        } else {
            kind(&source.name, &source.text)?
        };
        let read = match kind {
            Kind::Chart => Piece::read_inline(&source.text),
            Kind::Document => Piece::read(&source.text),
        };
        let (mut piece, reading) = match read {
            Ok(read) => read,
            Err(problems) => return Err(Failure::text(source, problems)),
        };
        let Reading {
            mut warnings,
            places,
        } = reading;
        let had_key = piece.key.is_some();
        self.changes.harmony(&mut piece)?;
        if !had_key {
            // Numerals that had no key until now.
            warnings.extend(piece.cautions());
            warnings.extend(letters_stay(&piece));
        }
        if let Some(text) = &self.set {
            piece.set = Some(super::scale::read("--set", text)?);
            piece.home = self
                .home
                .as_ref()
                .map(|text| super::scale::read("--home", text))
                .transpose()?;
        }
        warn(&warnings, &source, context);
        self.changes.apply(piece, Origin { source, places })
    }

    fn source(&self, context: &mut Context<'_, '_>) -> Result<SourceText, Failure> {
        if has_bar_line(&self.piece) {
            return Ok(SourceText::new("<chart>", unquoted(&self.piece)));
        }
        let mut bytes = Vec::new();
        let name = if self.piece == "-" {
            let read = context
                .streams
                .input
                .take(MOST_INPUT)
                .read_to_end(&mut bytes);
            read.map_err(|e| unreadable("standard input", &e))?;
            "<standard input>".to_owned()
        } else {
            let file = match std::fs::File::open(&self.piece) {
                Ok(file) => file,
                Err(e) if e.kind() == ErrorKind::NotFound => {
                    return ready(&self.piece, &e, context);
                }
                Err(e) => return Err(unreadable(&self.piece, &e)),
            };
            file.take(MOST_INPUT)
                .read_to_end(&mut bytes)
                .map_err(|e| unreadable(&self.piece, &e))?;
            self.piece.clone()
        };
        if bytes.len() as u64 >= MOST_INPUT {
            let message = format!("a document has at most {MOST_INPUT} bytes, and {name} has more");
            let help = "give a document or a chart, not a recording or an archive";
            return Err(Failure::new("input-size", message, help));
        }
        if let Some(kind) = no_text(&bytes) {
            let message = format!("{name} is {kind}, and a piece is text");
            let help = "give a document or a chart; such files are written with `-o`, and not read";
            return Err(Failure::new("input-kind", message, help));
        }
        match String::from_utf8(bytes) {
            Ok(text) => Ok(SourceText::new(
                name,
                text.strip_prefix('\u{FEFF}')
                    .map_or(text.clone(), str::to_owned),
            )),
            Err(e) => Err(Failure::new(
                "input-encoding",
                format!(
                    "{name} is no UTF-8 text: byte {} is not",
                    e.utf8_error().valid_up_to() + 1
                ),
                "save it as UTF-8",
            )),
        }
    }
}

/// The ready chart of this name, where no file of this name could be opened.
fn ready(
    name: &str,
    e: &std::io::Error,
    context: &mut Context<'_, '_>,
) -> Result<SourceText, Failure> {
    let Some(chart) = ready_chart(name) else {
        return Err(unreadable(name, e));
    };
    let shown = format!("{}/{}", chart.group, chart.name);
    if !context.json {
        writeln!(context.streams.err, "the ready chart {shown}")?;
    }
    Ok(SourceText::new(format!("<{shown}>"), chart.text))
}

/// A warning where `--key` gives a key to a chart without one that has no chord on its tonic: chords in letters stay where
/// they are.
fn letters_stay(piece: &Piece) -> Option<Problem> {
    let key = piece.key?;
    let cells = piece
        .sections
        .iter()
        .flat_map(|(_, _, section)| &section.bars)
        .flat_map(|bar| &bar.cells);
    let mut figures = cells.filter_map(|cell| match &cell.content {
        Content::Figure(figure) => Some((figure, cell.span.clone())),
        Content::Hold => None,
    });
    let first = figures.clone().next()?;
    let elsewhere = |figure: &Figure| match figure {
        Figure::Symbol(harmony) => harmony
            .chord()
            .is_none_or(|c| c.root().pitch_class() != key.tonic().pitch_class()),
        Figure::Relative(_) => false,
    };
    let Figure::Symbol(Harmony::Chord(opening)) = first.0 else {
        return None;
    };
    figures.all(|(figure, _)| elsewhere(figure)).then(|| {
        let value = |name: PitchName| i32::from(name.pitch_class().value());
        // The shorter way, -5 to 6.
        let semitones = (value(key.tonic()) - value(opening.root()) + 5).rem_euclid(12) - 5;
        Problem::warning(
            "key-letters",
            first.1,
            format!(
                "the chart is now taken to be in {key}, and its chords in letters stay as they are"
            ),
            format!(
                "write `--transpose {semitones:+}` instead of `--key` to begin on {}",
                key.tonic()
            ),
        )
    })
}

/// Longest input that is read, in bytes; the reader refuses less with a message of its own.
const MOST_INPUT: u64 = 8 << 20;

fn unreadable(name: &str, e: &std::io::Error) -> Failure {
    if name.is_empty() {
        return Failure::new("input", "the name of the piece is empty", A_PIECE);
    }
    let words: Vec<&str> = name.split_whitespace().take(9).collect();
    let chords = words.len() < 9 && words.iter().all(|word| figure::read(word).is_ok());
    let names = READY_CHARTS.iter().map(|chart| chart.name);
    let help = if Path::new(name).is_dir() {
        "give a document in it, such as `low-tide.toml`".to_owned()
    } else if let Some(near) = nearest(&name.to_lowercase(), names) {
        format!("write `{near}` for the ready chart; `fivefold list charts` shows all")
    } else if chords {
        format!("write bar lines around chords: '| {} |'", words.join(" | "))
    } else {
        A_PIECE.to_owned()
    };
    Failure::new("input", format!("cannot read {name}: {}", cause(e)), help)
}

const A_PIECE: &str = "give a document, a chart with bar lines in it: '| Am7 | D9 |', or the name of a ready chart: \
     `fivefold list charts` shows them";

fn warn(warnings: &[Problem], source: &SourceText, context: &mut Context<'_, '_>) {
    let text = rendered(warnings, source, context);
    // Results do not wait for someone to listen to warnings.
    context.say_rendered(&text);
}
