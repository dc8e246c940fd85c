//! What all targets share.

use std::ops::Range;

#[path = "../../../src/sound/font/build.rs"]
mod build;

use fivefold::chart::{Piece, Problem, Problems, Reading, Severity};

/// The most bytes of text that a target reads; more shows nothing new and is slow.
pub const MOST_BYTES: usize = 4096;

/// The bytes as text, where they are some.
pub fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes)
        .ok()
        .filter(|text| text.len() <= MOST_BYTES)
}

/// A span lies in the text and begins and ends between characters.
pub fn lies_in(text: &str, span: Range<usize>) {
    assert!(text.get(span.clone()).is_some(), "{span:?}");
}

fn problems(text: &str, problems: &[Problem]) {
    for problem in problems {
        lies_in(text, problem.span.clone());
        assert!(!problem.message.is_empty() && !problem.help.is_empty());
        assert!(!problem.message.contains('\n'), "{}", problem.message);
    }
}

/// A piece is read or refused with good spans; one that is read fills its bars and comes back from its document.
pub fn piece(text: &str, read: Result<(Piece, Reading), Problems>) {
    match read {
        Err(wrong) => {
            assert!(wrong.iter().any(|p| p.severity == Severity::Error));
            problems(text, &wrong);
        }
        Ok((piece, reading)) => {
            problems(text, &reading.warnings);
            match piece.unfold() {
                Err(wrong) => problems(text, &wrong),
                Ok(form) => {
                    for bar in form.bars() {
                        let ticks: u64 = bar.chords.iter().map(|c| c.length_ticks).sum();
                        assert_eq!(ticks, bar.meter.bar_ticks());
                    }
                }
            }
            let written = piece.to_document();
            match Piece::read(&written) {
                Ok((again, _)) => assert_eq!(again.to_document(), written),
                Err(wrong) => panic!("{wrong:?} in\n{written}"),
            }
        }
    }
}

/// Writes an input to start from into the folder that `tests/fuzz/run` names. One that cannot be written is done without.
pub fn seed(name: &str, bytes: &[u8]) {
    if let Some(folder) = std::env::var_os("FUZZ_SEEDS") {
        let _ = std::fs::write(std::path::Path::new(&folder).join(name), bytes);
    }
}

/// A SoundFont of about 1 kB with two presets and a sample of two turns of a wave.
pub fn font() -> Vec<u8> {
    let mut draft = build::Draft::new();
    draft.samples.truncate(200);
    draft.sample = [0, 200, 50, 150, 44_100];
    draft.presets.truncate(2);
    draft.bytes()
}
