//! Writes a chart to a MIDI file: `cargo run --example chart_to_midi -- '| Am7 | D9 |' vamp.mid`.

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "it talks to the person who runs it"
)]

use std::path::Path;
use std::process::ExitCode;

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::{Piece, SourceText, Times};
use fivefold::midi::{SmfFormat, write_smf_file};
use fivefold::view::render_problems;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let chart = arguments
        .next()
        .unwrap_or_else(|| "| Am7 | D9 | Am7 | E7#9 |".to_owned());
    let file = arguments.next().unwrap_or_else(|| "chart.mid".to_owned());
    let wrong = |problems: &[_]| {
        let shown = render_problems(problems, &SourceText::new("<chart>", &chart), false);
        eprint!("{shown}");
        ExitCode::from(2)
    };
    let mut piece = match Piece::read_inline(&chart) {
        Ok((piece, _)) => piece,
        Err(problems) => return wrong(&problems),
    };
    piece.times = Times::Count(4);
    let form = match piece.unfold() {
        Ok(form) => form,
        Err(problems) => return wrong(&problems),
    };
    let result = Arrangement::new(&piece, form, Excerpt::default())
        .map_err(|e| e.to_string())
        .and_then(|mut source| {
            write_smf_file(&mut source, SmfFormat::Parallel, Path::new(&file))
                .map_err(|e| e.to_string())
        });
    match result {
        Ok(written) => {
            println!("{file}: {} bars, {} notes", written.bars, written.notes);
            ExitCode::SUCCESS
        }
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}
