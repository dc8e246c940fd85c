//! What is shown while nothing plays, and pages over the stage.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Margin, Rect};
use ratatui::style::{Modifier, Style};

use super::large::draw_large;
use super::layout::LETTERS;
use super::lines::{draw_lines, wrapped};
use super::look::{Look, fits};

/// A question while nothing plays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct StageCard {
    /// What is asked.
    pub(crate) question: String,
    /// What the keys mean, each by itself.
    pub(crate) keys: Vec<String>,
    /// The time after which it is over by itself.
    pub(crate) seconds_left: Option<u128>,
    /// What was said last.
    pub(crate) said: Option<String>,
}

/// Rows beside keys and time in large letters: the question, and what stands below.
const CARD: u16 = 13;

/// Draws a card. In an area that is too small nothing is drawn.
pub(crate) fn draw_card(card: &StageCard, look: Look, area: Rect, buffer: &mut Buffer) {
    let area = area.intersection(buffer.area);
    if !fits(area) {
        return;
    }
    let inner = area.inner(Margin::new(1, 1));
    let count = u16::try_from(card.keys.len()).unwrap_or(u16::MAX);
    // Beside the question, a row for each key and three more.
    let spare = inner.height.saturating_sub(count + LETTERS + 3);
    let time = match card.seconds_left {
        None => 0,
        Some(_) if spare >= LETTERS => LETTERS,
        Some(_) => 1,
    };
    // The keys are in large letters too, where the question keeps the rows of a chord.
    let high = if inner.height >= count * LETTERS + time + CARD {
        LETTERS
    } else {
        1
    };
    let rows = Layout::vertical([
        Constraint::Fill(1),
        Constraint::Length(time),
        Constraint::Length(1),
        Constraint::Length(count * high),
        Constraint::Length(1),
        Constraint::Length(1),
    ]);
    let [question, time, _, keys_at, _, said] = rows.areas(inner);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    draw_large(&card.question, question, bold, buffer);
    if let Some(left) = card.seconds_left {
        let text = format!("{}:{:02}", left / 60, left % 60);
        draw_large(&text, time, look.next(), buffer);
    }
    for (key, y) in card
        .keys
        .iter()
        .zip((keys_at.y..).step_by(usize::from(high)))
    {
        let at = Rect {
            y,
            height: high,
            ..keys_at
        };
        draw_large(key, at.intersection(keys_at), Style::new(), buffer);
    }
    if let Some(text) = &card.said {
        let text = wrapped(text, said.width, 1);
        draw_lines(&text, said, Style::new(), buffer);
    }
}

/// Draws lines of text over the bottom of what is there, a row at the bottom left out.
pub(crate) fn draw_page(lines: &[String], area: Rect, buffer: &mut Buffer) {
    let area = area.intersection(buffer.area);
    if !fits(area) {
        return;
    }
    let width = area.width - 2;
    let most = area.height - 2;
    let mut all: Vec<String> = Vec::new();
    for line in lines {
        let left = most.saturating_sub(u16::try_from(all.len()).unwrap_or(most));
        all.extend(wrapped(line, width, left));
    }
    let high = u16::try_from(all.len()).unwrap_or(most) + 1;
    let over = Rect {
        y: area.bottom() - 1 - high,
        height: high,
        ..area
    };
    for position in over.positions() {
        buffer[position].reset();
    }
    // A line parts it from what is above.
    for position in (Rect { height: 1, ..over }).positions() {
        buffer[position].set_char('\u{2594}');
    }
    let text = Rect {
        x: area.x + 1,
        y: over.y + 1,
        width,
        height: high - 1,
    };
    draw_lines(&all, text, Style::new(), buffer);
}
