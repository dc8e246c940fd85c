//! The neck drawn in text: strings lie across, string 1 on top, as the player sees it looking down.
//!
//! A fret is a cell between bars; what sounds in it is written on the string. Open strings are written beside the nut,
//! which is a double bar; where the drawing begins higher up a colon stands in its place. Fret numbers and markers are
//! below. For a left-handed player the whole is mirrored, the numbers are not.

use std::fmt::Write;

use crate::neck::{Fret, Neck, StringNumber};

/// Something written at one string and fret.
pub(super) struct Mark {
    pub(super) string: StringNumber,
    /// Counted from the capo; 0 stands beside the nut.
    pub(super) fret: Fret,
    pub(super) label: String,
}

/// The letters between two fret bars.
const CELL: usize = 5;

/// Draws the frets from one to another with what is marked there; an `x` stands beside each string of `muted`.
pub(super) fn draw(
    neck: &Neck,
    frets: (Fret, Fret),
    marks: &[Mark],
    muted: &[StringNumber],
    left: bool,
) -> String {
    let (from, to) = (frets.0.value().max(1), frets.1.value());
    let nut = if from == 1 { "||" } else { " :" };
    let find = |string: StringNumber, fret: u8| {
        marks
            .iter()
            .find(|mark| mark.string == string && mark.fret.value() == fret)
            .map(|mark| mark.label.as_str())
    };
    let mut out = String::new();
    for string in neck.strings().rev() {
        let cells: Vec<String> = (from..=to)
            .map(|fret| centred(find(string, fret).unwrap_or(""), '-'))
            .collect();
        let open = match find(string, 0) {
            Some(label) => label,
            None if muted.contains(&string) => "x",
            None => "",
        };
        let name = neck
            .tuning()
            .pitch(string)
            .map_or(String::new(), |pitch| pitch.name().to_string());
        row(
            &mut out,
            left,
            &format!("{string} {name:<2} {open:>3} "),
            nut,
            &cells,
            "|",
        );
    }
    let blank = " ".repeat(9);
    let numbers: Vec<String> = (from..=to)
        .map(|fret| centred(&fret.to_string(), ' '))
        .collect();
    row(&mut out, left, &blank, "  ", &numbers, " ");
    let inlay = |fret: u8| Fret::new(fret).map_or(0, |fret| neck.markers_at(fret));
    if (from..=to).any(|fret| inlay(fret) > 0) {
        let markers: Vec<String> = (from..=to)
            .map(|fret| centred(&"*".repeat(usize::from(inlay(fret))), ' '))
            .collect();
        row(&mut out, left, &blank, "  ", &markers, " ");
    }
    out
}

/// One row from the nut on, or mirrored with the nut at the right.
fn row(out: &mut String, left: bool, label: &str, nut: &str, cells: &[String], bar: &str) {
    let mut cells: Vec<&str> = cells.iter().map(String::as_str).collect();
    let line = if left {
        cells.reverse();
        let nut: String = nut.chars().rev().collect();
        let words: Vec<&str> = label.split_whitespace().collect();
        let label = match words[..] {
            [] => String::new(),
            [string, name] => format!("     {name:<2} {string}"),
            [string, name, open, ..] => format!(" {open:<3} {name:<2} {string}"),
            [word] => word.to_owned(),
        };
        format!("{bar}{}{nut}{label}", cells.join(bar))
    } else {
        format!("{label}{nut}{}{bar}", cells.join(bar))
    };
    let _ = writeln!(out, "{}", line.trim_end());
}

/// A label in the middle of a cell, the odd sign at the right.
fn centred(label: &str, fill: char) -> String {
    let free = CELL.saturating_sub(label.chars().count());
    let before = free / 2;
    let side = |count: usize| fill.to_string().repeat(count);
    format!("{}{label}{}", side(before), side(free - before))
}
