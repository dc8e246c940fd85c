//! `play`: charts and documents.

use std::path::Path;

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::fit::judge;
use super::live::How;
use super::options::Prepared;
use super::piece::PieceArguments;
use super::shell::in_shell;
use super::sink::{self, SinkArguments};
use crate::chart::{Problem, has_bar_line, ready_chart};
use crate::theory::{ScaleFormula, symbol};
use crate::view::{CheckReport, render_plain};

/// Play charts or documents, or write one to files.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold play low-tide
  fivefold play low-tide -o tide.mid
  fivefold play low-tide -o tide.musicxml
  fivefold play song.mxl --tempo 80%
  fivefold play low-tide --tempo 80% --key D --port synth
  fivefold play '| Am7 | D9 / G7 / |' --times 8 -o loop.mid
  fivefold play low-tide --from B --to B -o b.mid
  fivefold play '| i | V |' --key Am --keys fourths
  fivefold play low-tide --port looper --clock --pedals foot
  fivefold play '| Em | G |' --follow looper --strokes pad
  fivefold play '| Em | G |' --for 5min --exact -o five.wav

While it plays, keys steer it in a terminal (? shows them,
and `fivefold list controls`), pedals do with --pedals, and
lines from standard input: pause, go on, count in, stop,
tempo 96, tempo +2, tempo 80%, tap, transpose +3, silence
bass, bring bass, go 5, go B, next, again, loop 5 8, loop
from here, loop to here, loop off.

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    /// Documents, scores, ready charts by name, charts such as '| Am7 | D9 |', or - for standard input
    #[arg(value_name = "PIECE", required = true, allow_hyphen_values = false)]
    pieces: Vec<String>,
    #[command(flatten)]
    changes: PieceArguments,
    #[command(flatten)]
    sink: SinkArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    if let Some(help) = one_piece(&arguments.pieces) {
        let found = arguments.pieces.join(" ");
        let message = format!("each word is a piece of its own, found `{found}`");
        return Err(Failure::new("play-words", message, help));
    }
    // All are read before the first is heard.
    let mut row = Vec::new();
    for piece in &arguments.pieces {
        let prepared = arguments.changes.prepare(piece, context)?;
        if arguments.changes.asks_for_fit() {
            tell_of_fit(&prepared, context)?;
        }
        row.push(prepared);
    }
    if let ([_, next, ..], Some(option)) = (&*arguments.pieces, arguments.sink.holds_one()) {
        return Err(Failure::new(
            "play-several",
            format!("several pieces are played one after the other, and `{option}` is for one"),
            format!("leave `{option}` out, or take {next} and the others by themselves"),
        ));
    }
    for prepared in &row {
        let sent = sink::send(prepared, &arguments.sink, context)?;
        sent.tell_outcomes(context)?;
        if sent.how == How::Stopped {
            break;
        }
    }
    Ok(())
}

/// Advice where several words, none of them a piece, are one together: a ready chart, chords, or a set.
fn one_piece(pieces: &[String]) -> Option<String> {
    let is_piece = |piece: &String| {
        piece == "-"
            || has_bar_line(piece)
            || ready_chart(piece).is_some()
            || Path::new(piece).exists()
    };
    if pieces.len() < 2 || pieces.iter().any(is_piece) {
        return None;
    }
    let chords = |word: &String| symbol::read(word).is_ok();
    let joined = pieces.join(" ");
    if let Some(chart) = ready_chart(&joined.replace(' ', "-")) {
        Some(format!("write `fivefold play {}`", chart.name))
    } else if ScaleFormula::read_rooted(&joined).is_ok() {
        let set = in_shell(&joined);
        Some(format!(
            "write `fivefold jam --set {set}` to hear chords over it"
        ))
    } else if pieces.iter().all(chords) {
        Some(format!(
            "write `fivefold play '| {} |'`",
            pieces.join(" | ")
        ))
    } else {
        None
    }
}

/// Reports which chords break the rule that was asked for.
fn tell_of_fit(prepared: &Prepared, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let (Some(rule), false) = (prepared.piece.fit, context.json) else {
        return Ok(());
    };
    let report = CheckReport {
        piece: &prepared.piece,
        arrangement: &prepared.arrangement(),
    };
    for line in judge(&report, rule)? {
        let problem = Problem::warning(
            "fit",
            0..0,
            line,
            "play it as a passing chord, or choose another rule",
        );
        let text = render_plain(&problem, context.color);
        context.say_rendered(&text);
    }
    Ok(())
}
