//! Lines of plain text that never end without saying so.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::view::shown::shown;

/// What stands for text that is left out.
const REST: &str = "...";

/// Columns of a text.
pub(super) fn columns(text: &str) -> usize {
    text.width()
}

/// A text in lines of so many columns, broken at spaces where there are any. What does not fit into so many lines is
/// left out, and the last line ends with `...`.
pub(super) fn wrapped(text: &str, width: u16, most: u16) -> Vec<String> {
    let (width, most) = (usize::from(width), usize::from(most));
    let text = shown(text);
    let mut rest = text.trim_end();
    let mut lines = Vec::new();
    while !rest.is_empty() && lines.len() < most {
        let is_last = lines.len() + 1 == most;
        if columns(rest) <= width {
            lines.push(rest.to_owned());
            break;
        }
        if is_last {
            let kept = fitting(rest, width.saturating_sub(REST.len()));
            let dots = &REST[..REST.len().min(width)];
            lines.push(format!("{}{dots}", rest[..kept].trim_end()));
            break;
        }
        let most_bytes = fitting(rest, width);
        // A space just behind the line ends it as well.
        let reach = most_bytes + usize::from(rest[most_bytes..].starts_with(' '));
        let end = rest[..reach].rfind(' ').filter(|at| *at > 0);
        let end = end.unwrap_or(most_bytes);
        if end == 0 {
            break;
        }
        lines.push(rest[..end].trim_end().to_owned());
        rest = rest[end..].trim_start();
    }
    lines
}

/// Bytes of a text that fit into so many columns.
fn fitting(text: &str, width: usize) -> usize {
    let mut used = 0;
    for (at, c) in text.char_indices() {
        used += c.width().unwrap_or(0);
        if used > width {
            return at;
        }
    }
    text.len()
}

/// Draws lines from the top of an area on.
pub(super) fn draw_lines(lines: &[String], area: Rect, style: Style, buffer: &mut Buffer) {
    for (line, y) in lines.iter().zip(area.top()..area.bottom()) {
        buffer.set_stringn(area.x, y, line, usize::from(area.width), style);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_wrapped_and_its_end_is_told() {
        assert_eq!(wrapped("bar 1 of 8, verse", 20, 2), ["bar 1 of 8, verse"]);
        assert_eq!(
            wrapped("bar 1 of 8, verse", 11, 2),
            ["bar 1 of 8,", "verse"]
        );
        assert_eq!(wrapped("bar 1 of 8, verse", 12, 1), ["bar 1 of..."]);
        assert_eq!(wrapped("C:(1,b3,3,5)", 5, 2), ["C:(1,", "b3..."]);
        assert_eq!(wrapped("\u{6f22}\u{5b57}\u{6f22}", 5, 1), ["\u{6f22}..."]);
        assert_eq!(wrapped("\u{6f22}", 1, 2), Vec::<String>::new());
        assert_eq!(wrapped("a\u{1b}[2J", 20, 1), ["a\\u{1b}[2J"]);
        assert_eq!(wrapped("", 5, 1), Vec::<String>::new());
        assert_eq!(wrapped("Am", 0, 1), [""]);
    }
}
