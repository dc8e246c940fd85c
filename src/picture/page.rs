//! Several drawings on one page, each with its caption, in rows.

use super::drawing::{Drawing, Face, Ink, Item, Role, Words};

/// A drawing with the line above it.
#[derive(Clone, Debug, PartialEq)]
pub struct Captioned {
    /// The line above it.
    pub caption: String,
    /// The drawing.
    pub drawing: Drawing,
}

const MARGIN_PT: f32 = 16.0;
const TITLE_PT: f32 = 18.0;
const CAPTION_PT: f32 = 12.0;
const GAP_PT: f32 = 12.0;

/// About how wide bold words are: letters are 0.62 of their size on average.
#[allow(clippy::cast_precision_loss)] // far below 2^24
fn broad(text: &str, size_pt: f32) -> f32 {
    text.chars().count() as f32 * size_pt * 0.62
}

/// The drawings in rows no wider than `width_pt`, below a title and a line that says what is written on the strings. A drawing
/// that is wider has a row to itself, and the page is as wide as it.
pub fn page_of(title: &str, about: &str, drawings: &[Captioned], width_pt: f32) -> Drawing {
    let widest = |all: &[Captioned]| {
        let widths = all.iter().map(|one| one.drawing.width_pt);
        widths.fold(0.0, f32::max)
    };
    let room = (width_pt - 2.0 * MARGIN_PT).max(widest(drawings));
    let mut page = Drawing {
        title: title.to_owned(),
        about: drawings
            .iter()
            .map(|one| format!("{}: {}", one.caption, one.drawing.about))
            .collect::<Vec<_>>()
            .join("; "),
        ..Drawing::default()
    };
    let mut y = MARGIN_PT + TITLE_PT;
    let set = |page: &mut Drawing, role, words: Words| {
        if !words.text.is_empty() {
            page.group(role, vec![Item::Words(words)]);
        }
    };
    let words = Words::new(title, TITLE_PT, Face::Bold, (MARGIN_PT, y), Ink::Black);
    set(&mut page, Role::Heading(1), words);
    if !about.is_empty() {
        y += CAPTION_PT + 6.0;
        let words = Words::new(about, CAPTION_PT, Face::Plain, (MARGIN_PT, y), Ink::Gray);
        set(&mut page, Role::Paragraph, words);
    }
    y += GAP_PT;
    let (mut x, mut tallest, mut right) = (0.0f32, 0.0f32, 0.0f32);
    for one in drawings {
        let width = one.drawing.width_pt.max(broad(&one.caption, CAPTION_PT));
        if x > 0.0 && x + width > room {
            y += tallest + GAP_PT;
            (x, tallest) = (0.0, 0.0);
        }
        let at = (MARGIN_PT + x, y + CAPTION_PT);
        let words = Words::new(one.caption.as_str(), CAPTION_PT, Face::Bold, at, Ink::Black);
        set(&mut page, Role::Heading(2), words);
        let figure = one.drawing.clone().figure();
        page.put(&figure, (MARGIN_PT + x, y + CAPTION_PT + 4.0));
        x += width + GAP_PT;
        right = right.max(x - GAP_PT);
        tallest = tallest.max(one.drawing.height_pt + CAPTION_PT + 4.0);
    }
    page.width_pt = right.max(broad(title, TITLE_PT)).max(230.0) + 2.0 * MARGIN_PT;
    page.height_pt = y + tallest + MARGIN_PT;
    page
}
