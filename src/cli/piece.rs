//! Where a piece comes from: a document, an argument with bar lines, or standard input.

use std::io::{ErrorKind, Read};
use std::path::Path;

use clap::Args;

use super::Context;
use super::failure::{Failure, cause, read_value, rendered};
use super::fit::fit_rule;
use super::options::{BandArguments, Changes, Origin, Prepared, feel, meter};
use super::piece_text::{Kind, is_score, is_score_bytes, kind, no_text, unquoted};
use super::shell::in_shell;
use crate::chart::{
    Content, MOST_BYTES, Piece, Problem, Problems, READY_CHARTS, Reading, SourceText, has_bar_line,
    ready_chart,
};
use crate::diagnostic::Diagnostic;
use crate::groove::GrooveError;
use crate::notation::{MOST_SCORE_BYTES, UnpackError, decode, read_musicxml, unpack_mxl};
use crate::theory::figure::{self, Figure};
use crate::theory::{Harmony, KeyOrder, PitchName, ScaleFormula, nearest};
use crate::time::Meter;

/// What to change about a piece: all that a document may say of one.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "How long, and what is played")]
pub(super) struct PieceArguments {
    #[command(flatten)]
    changes: Changes,
    /// Meter of a chart, such as 3/4
    #[arg(long, value_name = "METER")]
    meter: Option<String>,
    /// Feel, such as 'swing 2:1' or 'swing auto'
    #[arg(long, value_name = "FEEL")]
    feel: Option<String>,
    #[command(flatten)]
    band: BandArguments,
    /// A pass (once through) in each key: fourths, shuffle, 'Am, Dm'
    #[arg(long, value_name = "KEYS")]
    keys: Option<String>,
    /// Set, the notes to play over it
    #[arg(long, value_name = "SET")]
    set: Option<String>,
    /// Home, the scale it is heard in
    #[arg(long, value_name = "SCALE", requires = "set")]
    home: Option<String>,
    /// Rule to hold the chords to: inside, clear, home, 'home with V' or blues
    #[arg(long, value_name = "RULE")]
    fit: Option<String>,
}

impl PieceArguments {
    /// Reads a piece (a document, a ready chart by name, a chart, or `-` for standard input), makes the changes, and unfolds it.
    pub(super) fn prepare(
        &self,
        piece: &str,
        context: &mut Context<'_, '_>,
    ) -> Result<Prepared, Failure> {
        let wanted = self.changes.read()?;
        let wanted_meter = self.meter.as_deref().map(meter).transpose()?;
        let rule = self.fit.as_deref().map(fit_rule).transpose()?;
        let source = source(piece, context)?;
        let read = read_as(piece, &source, wanted_meter)?;
        let (mut piece, reading) = match read {
            Ok(read) => read,
            Err(problems) => return Err(Failure::text(source, problems)),
        };
        let Reading {
            mut warnings,
            places,
        } = reading;
        let had_key = piece.key.is_some();
        if let Some(text) = &self.feel {
            piece.feel = Some(feel(text, &piece.meter)?);
        }
        self.band.apply(&mut piece)?;
        if let Some(text) = &self.feel {
            suits_the_groove(text, &piece)?;
        }
        wanted.harmony(&mut piece)?;
        self.through_keys(&mut piece)?;
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
        if rule.is_some() {
            piece.fit = rule;
        }
        warn(&warnings, &source, context);
        wanted.apply(piece, Origin { source, places })
    }

    /// The keys of `--keys`, to which the piece can move.
    fn through_keys(&self, piece: &mut Piece) -> Result<(), Failure> {
        let Some(text) = &self.keys else {
            return Ok(());
        };
        let order = read_value("--keys", text, KeyOrder::read)?;
        let Some(first) = piece.sounding_key() else {
            return Err(Failure::new(
                "keys-need-key",
                "a piece goes through keys from one of its own, and has none",
                "say its key: `--key 'A minor'`",
            ));
        };
        read_value("--keys", text, |_| order.check(&first))?;
        piece.keys = Some(order);
        Ok(())
    }

    /// Whether a rule of fit was asked for.
    pub(super) const fn asks_for_fit(&self) -> bool {
        self.fit.is_some()
    }
}

/// What reading a text gives.
type WhatWasRead = Result<(Piece, Reading), Problems>;

/// Reads the text that `piece` names as what it is: a chart, in `meter` if one is wanted, a document or a score.
fn read_as(piece: &str, source: &SourceText, meter: Option<Meter>) -> Result<WhatWasRead, Failure> {
    let kind = if has_bar_line(piece) {
        Kind::Chart
    } else {
        kind(&source.name, &source.text)?
    };
    let says_itself = |what: &str, help: &str| {
        let message = format!("{} is a {what}, and says its meter itself", source.name);
        Err(Failure::new("option-meter", message, help))
    };
    Ok(match (kind, meter) {
        (Kind::Chart, meter) => Piece::read_inline_in(&source.text, meter.unwrap_or(Meter::COMMON)),
        (Kind::Document, None) => Piece::read(&source.text),
        (Kind::Score, None) => read_musicxml(&source.text),
        (Kind::Document, Some(_)) => {
            let help = "leave `--meter` out, or change the line `meter` of the document";
            return says_itself("document", help);
        }
        (Kind::Score, Some(_)) => return says_itself("score", "leave `--meter` out"),
    })
}

/// The text of a piece, and where it is from.
fn source(piece: &str, context: &mut Context<'_, '_>) -> Result<SourceText, Failure> {
    if has_bar_line(piece) {
        return Ok(SourceText::new("<chart>", unquoted(piece)));
    }
    // A byte more than is read tells that there are more; a score may be larger than a document.
    let most = MOST_SCORE_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    let name = if piece == "-" {
        let input = &mut context.streams.input;
        let read = input.take(most).read_to_end(&mut bytes);
        read.map_err(|e| unreadable("standard input", &e))?;
        "<standard input>".to_owned()
    } else {
        let file = match std::fs::File::open(piece) {
            Ok(file) => file,
            Err(e) if e.kind() == ErrorKind::NotFound => return ready(piece, &e, context),
            Err(e) => return Err(unreadable(piece, &e)),
        };
        let read = file.take(most).read_to_end(&mut bytes);
        read.map_err(|e| unreadable(piece, &e))?;
        piece.to_owned()
    };
    if bytes.starts_with(b"PK\x03\x04") || is_score_bytes(&bytes) {
        return score(name, bytes);
    }
    if let Some(kind) = no_text(&bytes) {
        let message = format!("{name} is {kind}, and a piece is text");
        let help = if bytes.starts_with(b"MThd") {
            format!("write `fivefold click {}` to click to it", in_shell(&name))
        } else {
            "give a document, a chart or a score; such files are written with `-o`, and not read"
                .to_owned()
        };
        return Err(Failure::new("input-kind", message, help));
    }
    if bytes.len() > MOST_BYTES {
        let message = format!("a document has at most {MOST_BYTES} bytes, and {name} has more");
        let help = "split it into several pieces";
        return Err(Failure::new("input-size", message, help));
    }
    let text = utf8(&name, bytes)?;
    Ok(SourceText::new(name, text))
}

/// The text of a score, packed or not.
fn score(name: String, bytes: Vec<u8>) -> Result<SourceText, Failure> {
    let told = |e: UnpackError| Failure::new(e.code(), format!("{name}: {e}"), e.help());
    if bytes.len() > MOST_SCORE_BYTES {
        let message = format!("a score has at most {MOST_SCORE_BYTES} bytes, and {name} has more");
        let help = "export fewer parts, or fewer measures";
        return Err(Failure::new("input-size", message, help));
    }
    let text = if bytes.starts_with(b"PK") {
        unpack_mxl(&bytes)
    } else {
        decode(bytes)
    };
    let text = text.map_err(told)?;
    if !is_score(&text) {
        let message = format!("the archive {name} holds no score");
        let help = "give a score: .musicxml, or .mxl";
        return Err(Failure::new("input-kind", message, help));
    }
    Ok(SourceText::new(name, text))
}

/// The text that the bytes of a file are; a byte order mark before it is left out.
pub(super) fn utf8(name: &str, bytes: Vec<u8>) -> Result<String, Failure> {
    let text = String::from_utf8(bytes).map_err(|e| {
        let good = e.utf8_error().valid_up_to() + 1;
        let message = format!("{name} is no UTF-8 text: byte {good} is not");
        Failure::new("input-encoding", message, "save it as UTF-8")
    })?;
    Ok(match text.strip_prefix('\u{FEFF}') {
        Some(rest) => rest.to_owned(),
        None => text,
    })
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

fn unreadable(name: &str, e: &std::io::Error) -> Failure {
    if name.is_empty() {
        return Failure::new("input", "the name of the piece is empty", A_PIECE);
    }
    let words: Vec<&str> = name.split_whitespace().take(9).collect();
    // Numbers alone are chords in a chart, but rather the value of an option here.
    let is_chord =
        |word: &&str| figure::read(word).is_ok() && word.contains(|c: char| c.is_alphabetic());
    let chords = words.len() < 9 && words.iter().all(is_chord);
    let names = READY_CHARTS.iter().map(|chart| chart.name);
    let file = Path::new(name);
    let written = file
        .extension()
        .and_then(|e| e.to_str())
        .map(str::to_ascii_lowercase);
    let written = written.as_deref();
    let stem = file
        .file_stem()
        .and_then(|stem| stem.to_str())
        .unwrap_or_default();
    let help = if matches!(written, Some("mid" | "midi" | "wav" | "flac" | "jsonl")) {
        format!("such a file is written: `-o {}`", in_shell(name))
    } else if let Some(chart) = ready_chart(stem) {
        format!("write `{}` for the ready chart", chart.name)
    } else if file.is_dir() {
        "give a document in it, such as `low-tide.toml`".to_owned()
    } else if let Some(near) = nearest(&name.to_lowercase(), names) {
        format!("write `{near}` for the ready chart; `fivefold list charts` shows all")
    } else if chords {
        format!("write bar lines around chords: '| {} |'", words.join(" | "))
    } else if ScaleFormula::read_rooted(name).is_ok() {
        let set = in_shell(name);
        format!("write `fivefold jam --set {set}` to hear chords over it")
    } else if name == "%" {
        "write a share of the tempo without a space: `--tempo 80%`".to_owned()
    } else if !name.contains(|c: char| !c.is_ascii_digit()) {
        format!("name the piece alone: a number belongs behind an option, as in `--times {name}`")
    } else {
        A_PIECE.to_owned()
    };
    Failure::new("input", format!("cannot read {name}: {}", cause(e)), help)
}

const A_PIECE: &str = "give a document, a chart with bar lines in it: '| Am7 | D9 |', or the name of a ready chart: \
     `fivefold list charts` shows them";

fn warn(warnings: &[Problem], source: &SourceText, context: &mut Context<'_, '_>) {
    let text = rendered(warnings, source, context);
    // Results must not wait for someone to read warnings.
    context.say_rendered(&text);
}

/// Whether the groove of the piece, which a document may name, suits the feel that was asked for.
fn suits_the_groove(feel: &str, piece: &Piece) -> Result<(), Failure> {
    piece.check_groove().map_err(|error| {
        let help = match &error {
            GrooveError::NoSixteenths { suited, .. } => suited
                .first()
                .map(|groove| format!("write `swing 2:1`, or add `--groove {}`", in_shell(groove))),
            _ => None,
        };
        let problem = Problem::of(&error, 0..feel.len());
        let help = help.unwrap_or_else(|| error.help());
        Failure::option("--feel", feel, problem.advising(help))
    })
}
