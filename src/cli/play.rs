//! `play`: a chart or a document.

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::piece::PieceArguments;
use super::sink::{self, SinkArguments};

/// Play a chart or a document, or write it to files.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold play low-tide
  fivefold play progressions/minor/low-tide.toml -o tide.mid
  fivefold play low-tide --tempo 80% --key D --port synth
  fivefold play '| Am7 | D9 / G7 / |' --times 8 -o loop.mid
  fivefold play '| Em | G |' --parts click,strum --loop
  fivefold play low-tide --port looper --clock --pedals foot
  fivefold play '| Em | G |' --follow looper --strokes pad
  fivefold play '| Em | G |' --for 5min --exact -o five.wav

While it plays, keys steer it in a terminal (? shows them),
pedals with --pedals, and lines from standard input: pause,
go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap,
transpose +3, silence bass, bring bass, go 5, go B, next,
again, loop 5 8, loop from here, loop to here, loop off.

Turn the volume down before you start, above all in
headphones: a click is sharp.")]
pub(super) struct Arguments {
    #[command(flatten)]
    piece: PieceArguments,
    #[command(flatten)]
    sink: SinkArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let prepared = arguments.piece.prepare(context)?;
    sink::send(&prepared, &arguments.sink, context)
}
