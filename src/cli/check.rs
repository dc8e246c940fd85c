//! `check`: the form of a piece.

use std::io::Write;

use clap::Args;

use super::Context;
use super::failure::Failure;
use super::fit::{judge, rules_of_fit};
use super::piece::PieceArguments;
use crate::view::{CheckReport, Folded, write_check_json, write_check_text};

/// Read a piece and show its form and timing without sounding
#[derive(Args)]
#[command(after_help = concat!(
    "\
Rules of fit, and whom they serve:
",
    rules_of_fit!(),
    "
Examples:
  fivefold check first-twelve
  fivefold check '| i | bVII | V7 |' --key 'A minor' --json
  fivefold check low-tide --fit clear

Status 1 tells that a chord breaks the rule the document or
--fit names. The time at the head of a line is that of its
first bar, from the start of the count-in; the number behind
it is the tempo there. A pass has the tempo of its first and
of its last bar, and a piece that goes through keys is shown
in each of them. Where the piece ends before its tempo plan
does, a warning says how long it must be. Bars are those of
the piece; count-in and ending are told beside them."
))]
pub(super) struct Arguments {
    /// A document, a score, a ready chart by name, a chart such as '| Am7 | D9 |', or - for standard input
    #[arg(value_name = "PIECE")]
    piece: String,
    #[command(flatten)]
    changes: PieceArguments,
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let prepared = arguments.changes.prepare(&arguments.piece, context)?;
    prepared.warn_of_goal(context);
    let arrangement = prepared.arrangement();
    let report = CheckReport {
        piece: &prepared.piece,
        arrangement: &arrangement,
    };
    // The question is checked before anything is printed.
    let broken = match prepared.piece.fit {
        Some(rule) => judge(&report, rule)?,
        None => Vec::new(),
    };
    let columns = context.columns.filter(|_| !context.json);
    let out = Folded::new(&mut *context.streams.out, columns);
    let mut out = std::io::BufWriter::new(out);
    if context.json {
        write_check_json(&report, &mut out)?
    } else {
        write_check_text(&report, columns, &mut out)?;
        for line in &broken {
            writeln!(out, "{line}")?;
        }
    }
    out.flush()?;
    if broken.is_empty() {
        Ok(())
    } else {
        Err(Failure::No)
    }
}
