//! The neck drawn in text: strings lie across, the highest on top, as the player sees it looking down.
//!
//! Frets have their numbers above, `5fr`, and no other number stands for a fret. Sounding notes are written on the
//! string, roots in brackets. `+` is a string over a fret wire. Open strings are written beside the nut, which is a
//! double bar; where the drawing begins higher up a colon stands in its place. Inlays are below. For a left-handed
//! player the drawing is mirrored, but not the text. A neck that is too long for a line is drawn in parts.

use std::fmt::Write;

use crate::neck::{Fret, Neck, StringNumber};

/// Something written at one string and fret.
pub(super) struct Mark {
    pub(super) string: StringNumber,
    /// Counted from the capo; 0 stands beside the nut.
    pub(super) fret: Fret,
    pub(super) label: String,
}

/// How wide the drawing may be, and for which hand.
#[derive(Clone, Copy)]
pub(super) struct Sheet {
    /// Characters to a line; `None` for no limit.
    pub(super) columns: Option<usize>,
    /// Whether it is mirrored, for a left-handed player.
    pub(super) left: bool,
}

/// The letters between two fret wires.
const CELL: usize = 5;
/// The letters before the first cell: the string, what sounds open, and the nut.
const HEAD: usize = 15;
/// Frets to a part where the neck does not fit: an octave, or so much of it as has room.
const PARTS: [u8; 3] = [12, 6, 3];

/// Draws the frets from one to another with what is marked there; an `x` stands beside each string of `muted`.
pub(super) fn draw(
    neck: &Neck,
    frets: (Fret, Fret),
    marks: &[Mark],
    muted: &[StringNumber],
    sheet: Sheet,
) -> String {
    let (from, to) = (frets.0.value().max(1), frets.1.value());
    let mut out = String::new();
    for (number, part) in parts((from, to), sheet.columns).into_iter().enumerate() {
        if number > 0 {
            out.push('\n');
        }
        // Open notes are written once.
        let find = |string: StringNumber, fret: u8| {
            let here = |mark: &&Mark| mark.string == string && mark.fret.value() == fret;
            let found = marks.iter().find(here).map(|mark| mark.label.as_str());
            match found {
                None if fret == 0 && muted.contains(&string) => Some("x"),
                found => found.filter(|_| fret > 0 || number == 0),
            }
        };
        draw_part(&mut out, neck, part, &find, sheet.left);
    }
    out
}

/// The frets of each part; one part where all have room.
fn parts((from, to): (u8, u8), columns: Option<usize>) -> Vec<(u8, u8)> {
    let fits = |count: u8| {
        let width = HEAD + usize::from(count) * (CELL + 1);
        count <= PARTS[0] && columns.is_none_or(|columns| width <= columns)
    };
    let all = (to + 1).saturating_sub(from);
    if fits(all) {
        return vec![(from, to)];
    }
    let size = PARTS.into_iter().find(|size| fits(*size)).unwrap_or(1);
    (from..=to)
        .step_by(usize::from(size))
        .map(|first| (first, to.min(first + size - 1)))
        .collect()
}

/// Draws the frets of one part; `find` gives the text at a string and a fret.
fn draw_part<'a>(
    out: &mut String,
    neck: &Neck,
    (from, to): (u8, u8),
    find: &dyn Fn(StringNumber, u8) -> Option<&'a str>,
    left: bool,
) {
    let above = |text: &dyn Fn(u8) -> String| -> Vec<String> {
        (from..=to).map(|fret| centered(&text(fret), ' ')).collect()
    };
    let numbers = above(&|fret| format!("{fret}fr"));
    row(out, left, ("", "", "  "), &numbers, " ");
    let nut = if from == 1 { "||" } else { " :" };
    for string in neck.strings().rev() {
        let cells: Vec<String> = (from..=to)
            .map(|fret| centered(find(string, fret).unwrap_or(""), '-'))
            .collect();
        let open = find(string, 0).unwrap_or("");
        row(
            out,
            left,
            (&string_label(neck, string), open, nut),
            &cells,
            "+",
        );
    }
    let inlay = |fret: u8| Fret::new(fret).map_or(0, |fret| neck.markers_at(fret));
    if (from..=to).any(|fret| inlay(fret) > 0) {
        let inlays = above(&|fret| "*".repeat(usize::from(inlay(fret))));
        row(out, left, ("", "", "  "), &inlays, " ");
    }
}

/// A string by its note, the outer ones told apart: `high E`, `A`, `low E`.
pub(super) fn string_name(neck: &Neck, string: StringNumber) -> String {
    let note = neck
        .tuning()
        .pitch(string)
        .map_or(String::new(), |pitch| pitch.name().to_string());
    if neck.strings().next() == Some(string) {
        format!("low {note}")
    } else if neck.strings().next_back() == Some(string) {
        format!("high {note}")
    } else {
        note
    }
}

/// The same, the notes below each other.
fn string_label(neck: &Neck, string: StringNumber) -> String {
    let name = string_name(neck, string);
    let (end, note) = name.split_once(' ').unwrap_or(("", &name));
    format!("{end:>4} {note:<2}")
}

/// One row from the nut on, or mirrored with the nut at the right. `head` is the string, what sounds open, and the nut.
fn row(out: &mut String, left: bool, head: (&str, &str, &str), cells: &[String], wire: &str) {
    let (string, open, nut) = head;
    let mut cells: Vec<&str> = cells.iter().map(String::as_str).collect();
    let line = if left {
        cells.reverse();
        let nut: String = nut.chars().rev().collect();
        format!("{wire}{}{nut} {open:<4} {string}", cells.join(wire))
    } else {
        format!("{string:<7} {open:>4} {nut}{}{wire}", cells.join(wire))
    };
    let _ = writeln!(out, "{}", line.trim_end());
}

/// A label centered in a cell, an odd character to the right.
fn centered(label: &str, fill: char) -> String {
    let free = CELL.saturating_sub(label.chars().count());
    let before = free / 2;
    let side = |count: usize| fill.to_string().repeat(count);
    format!("{}{label}{}", side(before), side(free - before))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_neck_is_cut_where_it_does_not_fit() {
        assert_eq!(parts((5, 8), None), [(5, 8)]);
        assert_eq!(parts((1, 22), None), [(1, 12), (13, 22)]);
        assert_eq!(parts((1, 22), Some(87)), [(1, 12), (13, 22)]);
        assert_eq!(parts((1, 13), Some(86)), [(1, 6), (7, 12), (13, 13)]);
        assert_eq!(parts((3, 9), Some(60)), [(3, 9)]);
        assert_eq!(parts((3, 10), Some(60)), [(3, 8), (9, 10)]);
        assert_eq!(parts((1, 4), Some(38)), [(1, 3), (4, 4)]);
    }
}
