//! A text as large as its area allows.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::letters::Letters;
use super::lines::{draw_lines, wrapped};

/// A text in the largest letters that an area holds, in the middle of its height, else as plain text.
pub(super) fn draw_large(text: &str, area: Rect, style: Style, buffer: &mut Buffer) {
    match Letters::largest(text, area.width, area.height) {
        Some(letters) => {
            let above = (area.height - letters.height()) / 2;
            let at = Rect {
                y: area.y + above,
                height: area.height - above,
                ..area
            };
            letters.draw(at, style, buffer);
        }
        None => draw_lines(&wrapped(text, area.width, area.height), area, style, buffer),
    }
}
