//! The set on the neck: a block where a note is, high where the chord that is heard has it, with a gap where it is the
//! root.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::lines::{draw_lines, wrapped};
use crate::view::stage::{StageMark, StageNeck};

/// Columns before the first fret: the note of the string.
const NAME: u16 = 3;

/// The least columns of a fret, its wire included.
const LEAST: u16 = 4;

/// What the marks mean.
const LEGEND: &str = "gap: root, high: in the chord";

/// How high a string is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NeckHeight {
    /// Two rows a string, to be seen from afar.
    Tall,
    /// A row a string.
    Flat,
}

impl NeckHeight {
    const fn rows(self) -> u16 {
        match self {
            NeckHeight::Tall => 2,
            NeckHeight::Flat => 1,
        }
    }
}

/// The rows a neck takes, with a row of text and one of fret numbers.
pub(super) fn neck_rows(neck: &StageNeck, height: NeckHeight) -> u16 {
    let strings = u16::try_from(neck.strings.len()).unwrap_or(u16::MAX);
    strings.saturating_mul(height.rows()).saturating_add(2)
}

/// The columns of a fret in so many columns; `None` where there is no room.
fn fret_columns(neck: &StageNeck, columns: u16) -> Option<u16> {
    let frets = u16::from(neck.last) + 1;
    let wide = columns.saturating_sub(NAME) / frets;
    (wide >= LEAST).then_some(wide)
}

/// Whether a neck fits in so many columns.
pub(super) fn neck_fits(neck: &StageNeck, columns: u16) -> bool {
    fret_columns(neck, columns).is_some()
}

/// Draws a neck.
pub(super) fn draw_neck(neck: &StageNeck, height: NeckHeight, area: Rect, buffer: &mut Buffer) {
    let Some(wide) = fret_columns(neck, area.width) else {
        return;
    };
    let row = |y: u16| Rect {
        y: area.y.saturating_add(y),
        height: 1,
        ..area
    };
    let caption = format!("{}   {LEGEND}", neck.set);
    draw_lines(
        &wrapped(&caption, area.width, 1),
        row(0),
        Style::new(),
        buffer,
    );
    for fret in (3..=neck.last).filter(|fret| matches!(fret, 3 | 5 | 7 | 9 | 12)) {
        let at = Rect {
            x: area.x + NAME + u16::from(fret) * wide,
            width: wide,
            ..row(1)
        };
        draw_lines(&[format!("{fret}fr")], at, Style::new(), buffer);
    }
    for (string, y) in neck
        .strings
        .iter()
        .zip((2..).step_by(usize::from(height.rows())))
    {
        let at = Rect {
            height: height.rows(),
            ..row(y)
        };
        let name = Rect { width: NAME, ..at };
        draw_lines(
            std::slice::from_ref(&string.name),
            name,
            Style::new(),
            buffer,
        );
        for fret in 0..=neck.last {
            let cell = Rect {
                x: at.x + NAME + u16::from(fret) * wide,
                width: wide,
                ..at
            };
            let mark = string.marks.iter().find(|mark| mark.fret == fret);
            draw_fret(mark, fret, cell.intersection(area), buffer);
        }
    }
}

/// A string between two frets. The wire is at its right edge, the nut a double one.
fn draw_fret(mark: Option<&StageMark>, fret: u8, area: Rect, buffer: &mut Buffer) {
    let wires = if fret == 0 { 2 } else { 1 };
    let inner = area.width.saturating_sub(wires);
    // A mark in the middle, so that the string is seen on both sides, and in it a gap of a third for a root.
    let wide = (inner * 3 / 5).max(3).min(inner);
    let mark_at = (inner - wide) / 2..(inner + wide) / 2;
    let open = (wide / 3).max(1) + (wide - (wide / 3).max(1)) % 2;
    let gap = mark_at.start + (wide - open) / 2..mark_at.start + (wide + open) / 2;
    for y in 0..area.height {
        let is_low = y + 1 == area.height;
        for x in 0..area.width {
            let drawn = match mark {
                _ if x >= inner => '|',
                Some(mark) if mark_at.contains(&x) => match mark {
                    _ if mark.root && gap.contains(&x) => ' ',
                    // Below the next string a gap stays, or marks of two strings would be one.
                    _ if mark.sounds && area.height == 1 => '\u{2586}',
                    _ if mark.sounds && is_low => '\u{2588}',
                    _ if mark.sounds => '\u{2584}',
                    _ if area.height == 1 => '\u{2583}',
                    _ if is_low => '\u{2584}',
                    _ => ' ',
                },
                _ if is_low => '\u{2581}',
                _ => ' ',
            };
            buffer[(area.x + x, area.y + y)].set_char(drawn);
        }
    }
}
