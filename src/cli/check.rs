//! `check`: the form of a piece.

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::piece::PieceArguments;
use crate::view::{CheckReport, write_check_json, write_check_text};

/// Read a piece and show its form and timing without sounding.
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold check progressions/blues/first-twelve.toml
  fivefold check '| i | bVII | bVI | V7 |' --key 'A minor' --json

The time at the head of a line is that of its first bar, from the start of the count-in.")]
pub(super) struct Arguments {
    #[command(flatten)]
    piece: PieceArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let prepared = arguments.piece.prepare(context)?;
    let arrangement = prepared.arrangement()?;
    let report = CheckReport {
        piece: &prepared.piece,
        arrangement: &arrangement,
    };
    let mut out = std::io::BufWriter::new(&mut *context.streams.out);
    if context.json {
        write_check_json(&report, &mut out)?
    } else {
        write_check_text(&report, &mut out)?
    }
    std::io::Write::flush(&mut out)?;
    Ok(())
}
