//! An inline chart: an argument with bar lines in it.

use std::collections::HashSet;
use std::ops::Range;

use super::{ReadResult, finish, place, too_large};
use crate::chart::piece::{ENDING, INTRO};
use crate::chart::section::{too_many_bars, too_many_chords};
use crate::chart::{MOST_BARS, MOST_CHORDS, Piece, Places, Problem, read_section};
use crate::time::Meter;

/// Reads an inline chart that starts in `meter`; see [`Piece::read_inline_in`].
pub(super) fn read(text: &str, meter: Meter) -> ReadResult {
    if let Some(problem) = too_large(text) {
        return Err(vec![problem].into());
    }
    let mut problems = Vec::new();
    let mut names = HashSet::new();
    let (mut bars, mut chords) = (0, 0);
    let mut piece = Piece {
        title: "chart".to_owned(),
        meter,
        ..Piece::default()
    };
    for (name, range) in inline_sections(text) {
        let part = &text[range.clone()];
        let mut found = Vec::new();
        let mut section = read_section(part, piece.meter, &mut found);
        problems.extend(
            found
                .into_iter()
                .map(|p| p.placed(|s| s.start + range.start..s.end + range.start)),
        );
        place(&mut section, |s| s.start + range.start..s.end + range.start);
        if !names.insert(name.clone()) {
            problems.push(Problem::error(
                "chart-section-twice",
                marked(text, range.start),
                format!("section {name} is written twice"),
                "give each section its own name",
            ));
        }
        bars += section.bars.len().max(section.order.len());
        if bars > MOST_BARS {
            problems.push(too_many_bars(marked(text, range.start)));
            break;
        }
        chords += section.chords();
        if chords > MOST_CHORDS {
            problems.push(too_many_chords(marked(text, range.start)));
            break;
        }
        if name != INTRO && name != ENDING {
            piece.form.push(name.clone());
        }
        piece.sections.push((name, part.trim().to_owned(), section));
    }
    if piece.form.is_empty() && problems.is_empty() {
        problems.push(Problem::error(
            "document-form",
            0..text.len(),
            "a form has no sections",
            "write a section besides intro and ending: `[A] | Am7 | Dm7 |`",
        ));
    }
    finish(piece, Places::default(), problems)
}

/// The section name in brackets that ends at `end`.
fn marked(text: &str, end: usize) -> Range<usize> {
    text[..end].rfind('[').unwrap_or(0)..end
}

/// Splits an inline chart at `[NAME]` at the start of a line, followed by a bar line. What comes before the first
/// is section A, or the first of A to Z, A1, A2 and so on that is not taken, unless it is only white space.
fn inline_sections(text: &str) -> Vec<(String, Range<usize>)> {
    let mut starts: Vec<(String, usize, usize)> = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let indent = line.len() - line.trim_start().len();
        let rest = &line[indent..];
        if let Some(end) = rest.strip_prefix('[').and_then(|r| r.find(']')) {
            let name = &rest[1..=end];
            // The bars may begin on the next line.
            let behind = text[at + indent + end + 2..].trim_start();
            let named = !name.is_empty()
                && !name.contains(['|', '.', '%', '/'])
                && !name.contains(char::is_whitespace);
            if named && (behind.starts_with('|') || behind.starts_with(":|")) {
                starts.push((name.to_owned(), at, at + indent + end + 2));
            }
        }
        at += line.len();
    }
    let mut found: Vec<(String, Range<usize>)> = Vec::new();
    let first = starts.first().map_or(text.len(), |s| s.1);
    if starts.is_empty() || !text[..first].trim().is_empty() {
        let taken: HashSet<&str> = starts.iter().map(|s| s.0.as_str()).collect();
        let letters = ('A'..='Z').map(String::from);
        let numbered = (1u64..).map(|n| format!("A{n}"));
        let name = letters
            .chain(numbered)
            .find(|n| !taken.contains(n.as_str()))
            .unwrap_or_default();
        found.push((name, 0..first));
    }
    for (i, (name, _, start)) in starts.iter().enumerate() {
        let end = starts.get(i + 1).map_or(text.len(), |s| s.1);
        found.push((name.clone(), *start..end));
    }
    found
}
