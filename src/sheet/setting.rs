//! Words and blocks, before they have a place on a page.

use crate::picture::{Drawing, Face, Faces, Ink, Item, Role, Words};

/// From one line to the next, by the size of the letters.
pub(super) const LINE: f32 = 1.35;
/// Most lines of a paragraph before it goes on as another.
const MOST_LINES: usize = 12;

/// How close things stand.
pub(super) struct Density {
    /// What clear paper between things is multiplied by.
    pub(super) space: f32,
    /// The letters of chords, and the height of bar lines.
    pub(super) symbol_pt: f32,
    pub(super) tall_pt: f32,
    /// The letters of sentences.
    pub(super) body_pt: f32,
    /// Height of the curve of the tempo, and the size of the neck by its usual one.
    pub(super) curve_pt: f32,
    pub(super) neck: f32,
    /// The size of chord boxes by their usual one.
    pub(super) boxes: f32,
}

/// Something that is not cut by the end of a page.
pub(super) struct Block {
    pub(super) drawing: Drawing,
    /// Clear paper above it, unless it begins a page.
    pub(super) space_pt: f32,
    /// Whether it stands on the page of the block behind it.
    pub(super) keeps: bool,
}

impl Block {
    pub(super) fn new(drawing: Drawing, space_pt: f32) -> Self {
        Block {
            drawing,
            space_pt,
            keeps: false,
        }
    }
}

/// Shortens words to a width; what is left out is told by an ellipsis.
pub(super) fn cut(words: &mut Words, width_pt: f32, faces: &Faces) {
    if faces.width_pt(words) <= width_pt {
        return;
    }
    let mut text = words.text.plain();
    while text.pop().is_some() {
        words.text = format!("{}\u{2026}", text.trim_end()).into();
        if faces.width_pt(words) <= width_pt {
            return;
        }
    }
}

/// The lines of a text that is no wider than this; a word that is wider is cut.
pub(super) fn wrapped(
    text: &str,
    size_pt: f32,
    face: Face,
    width_pt: f32,
    faces: &Faces,
) -> Vec<String> {
    let wide =
        |text: &str| faces.width_pt(&Words::new(text, size_pt, face, (0.0, 0.0), Ink::Black));
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if wide(&longer) <= width_pt {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            line.push(letter);
            if wide(&line) > width_pt && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, letter.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text in lines below one another, as paragraphs of a dozen lines at most.
pub(super) fn paragraph(
    text: &str,
    size_pt: f32,
    width_pt: f32,
    space_pt: f32,
    faces: &Faces,
) -> Vec<Block> {
    let lines = wrapped(text, size_pt, Face::Plain, width_pt, faces);
    let mut space = space_pt;
    lines
        .chunks(MOST_LINES)
        .map(|lines| {
            let drawing = in_lines(lines, size_pt, Face::Plain, width_pt, Role::Paragraph);
            Block::new(drawing, std::mem::take(&mut space))
        })
        .collect()
}

/// Lines below one another.
pub(super) fn in_lines(
    lines: &[String],
    size_pt: f32,
    face: Face,
    width_pt: f32,
    role: Role,
) -> Drawing {
    let mut y = 0.0;
    let mut items = Vec::new();
    for line in lines {
        y += size_pt * LINE;
        let at = (0.0, y - size_pt * (LINE - 1.0) - size_pt * 0.2);
        items.push(Item::Words(Words::new(
            line.as_str(),
            size_pt,
            face,
            at,
            Ink::Black,
        )));
    }
    let mut drawing = Drawing {
        width_pt,
        height_pt: y,
        ..Drawing::default()
    };
    drawing.group(role, items);
    drawing
}
