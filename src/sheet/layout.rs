//! A sheet on pages: blocks one below the other, cut between them.

use super::bars;
use super::content::{Sheet, SheetBoard};
use super::figures;
use super::setting::{Block, Density, LINE, cut, in_lines, paragraph, wrapped};
use crate::picture::{Anchor, Drawing, Face, Faces, Ink, Item, Role, Words};

/// A size of paper, upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 by 11 inches (ANSI Y14.1, size A).
    Letter,
}

impl Paper {
    /// All sizes by the names people type.
    pub const NAMES: [(&'static str, Paper); 2] = [("A4", Paper::A4), ("Letter", Paper::Letter)];

    /// Width and height in points.
    pub const fn size_pt(self) -> (f32, f32) {
        match self {
            Paper::A4 => (595.28, 841.89),
            Paper::Letter => (612.0, 792.0),
        }
    }
}

/// Clear paper at the sides, above and below: printers leave out about 12 points, hands hold the rest.
const MARGIN_PT: f32 = 40.0;
const TOP_PT: f32 = 36.0;
const BOTTOM_PT: f32 = 40.0;
const LEAST_BOTTOM_PT: f32 = 26.0;
const TITLE_PT: f32 = 22.0;
const LEAST_TITLE_PT: f32 = 13.0;
const HEAD_PT: f32 = 11.0;
const SMALL_PT: f32 = 8.5;
/// Most lines of a title.
const MOST_TITLE_LINES: usize = 6;
/// Between two columns, and the tallest that stand side by side.
const COLUMN_GAP_PT: f32 = 22.0;
const MOST_BESIDE_PT: f32 = 220.0;
/// Room for name and date.
const FORM_PT: f32 = 150.0;

const USUAL: Density = Density {
    space: 1.0,
    symbol_pt: 16.0,
    tall_pt: 24.0,
    body_pt: 10.0,
    curve_pt: 64.0,
    neck: 0.75,
    boxes: 1.0,
};

/// For what would need one page more otherwise.
const CLOSE: Density = Density {
    space: 0.75,
    symbol_pt: 15.0,
    tall_pt: 22.0,
    body_pt: 9.5,
    curve_pt: 52.0,
    neck: 0.65,
    boxes: 0.9,
};

/// For what would need one page more even so.
const SNUG: Density = Density {
    space: 0.55,
    symbol_pt: 14.0,
    tall_pt: 20.0,
    body_pt: 9.0,
    curve_pt: 42.0,
    neck: 0.55,
    boxes: 0.8,
};

/// The sheet on pages of a size of paper; from the second on each says the title and its number.
pub fn pages(sheet: &Sheet, paper: Paper, faces: &Faces) -> Vec<Drawing> {
    let (width, height) = paper.size_pt();
    let laid = |density, bottom| {
        let blocks = blocks(sheet, width - 2.0 * MARGIN_PT, density, faces);
        paginate(blocks, height - TOP_PT - bottom, density)
    };
    // A page alone has no number below it.
    let mut pages = laid(&USUAL, BOTTOM_PT);
    for density in [&CLOSE, &SNUG] {
        if pages.len() > 1 {
            let one = laid(density, LEAST_BOTTOM_PT);
            let closer = if one.len() > 1 {
                laid(density, BOTTOM_PT)
            } else {
                one
            };
            if closer.len() < pages.len() {
                pages = closer;
            }
        }
    }
    let count = pages.len();
    for (index, page) in pages.iter_mut().enumerate() {
        (page.width_pt, page.height_pt) = (width, height);
        page.title.clone_from(&sheet.title);
        if count > 1 {
            let number = format!("{} of {count}", index + 1);
            footer(page, &sheet.title, &number, faces);
        }
    }
    pages
}

/// The sheet on one page, as wide as the paper and as long as it has to be.
pub fn long_page(sheet: &Sheet, paper: Paper, faces: &Faces) -> Drawing {
    let (width, height) = paper.size_pt();
    let blocks = blocks(sheet, width - 2.0 * MARGIN_PT, &USUAL, faces);
    let mut pages = paginate(blocks, f32::INFINITY, &USUAL);
    let mut page = pages.pop().unwrap_or_default();
    page.width_pt = width;
    page.height_pt = (page.height_pt + BOTTOM_PT).max(height);
    page.title.clone_from(&sheet.title);
    page
}

/// Puts blocks on pages of this height of paper that may be written on.
fn paginate(mut blocks: Vec<Block>, height: f32, density: &Density) -> Vec<Drawing> {
    for block in &mut blocks {
        block.space_pt *= density.space;
    }
    let mut pages = vec![Drawing::default()];
    let mut y = 0.0;
    let mut at = 0;
    while at < blocks.len() {
        // Those that stay together.
        let behind = blocks.iter().skip(at).position(|block| !block.keeps);
        let end = behind.map_or(blocks.len(), |behind| at + behind + 1);
        let together = blocks.get(at..end).unwrap_or_default();
        let tall = |blocks: &[Block]| {
            let all = blocks.iter().map(|b| b.space_pt + b.drawing.height_pt);
            all.sum::<f32>()
        };
        let fits = y + tall(together) <= height;
        for (index, block) in together.iter().enumerate() {
            let one = block.space_pt + block.drawing.height_pt;
            // What is taller than a page by itself is cut between its blocks.
            let full = match index {
                0 => !fits,
                _ => y + one > height,
            };
            let new_page = y > 0.0 && full;
            if new_page {
                pages.push(Drawing::default());
                y = 0.0;
            }
            if y > 0.0 {
                y += block.space_pt;
            }
            if let Some(page) = pages.last_mut() {
                page.put(&block.drawing, (MARGIN_PT, TOP_PT + y));
                y += block.drawing.height_pt;
                page.height_pt = TOP_PT + y;
            }
        }
        at = end;
    }
    pages
}

fn footer(page: &mut Drawing, title: &str, number: &str, faces: &Faces) {
    let y = page.height_pt - BOTTOM_PT / 2.0;
    let mut left = Words::new(title, 8.0, Face::Plain, (MARGIN_PT, y), Ink::Gray);
    let at = (page.width_pt - MARGIN_PT, y);
    let right = Words::new(number, 8.0, Face::Plain, at, Ink::Gray).anchored(Anchor::End);
    cut(&mut left, page.width_pt - 2.0 * MARGIN_PT - 60.0, faces);
    page.group(Role::Ornament, vec![Item::Words(left), Item::Words(right)]);
}

/// A heading that stays with what is behind it.
fn heading(text: &str, width_pt: f32) -> Block {
    let lines = [text.to_owned()];
    Block {
        drawing: in_lines(&lines, HEAD_PT, Face::Bold, width_pt, Role::Heading(2)),
        space_pt: 10.0,
        keeps: true,
    }
}

/// All of the sheet, from the top.
fn blocks(sheet: &Sheet, width: f32, density: &Density, faces: &Faces) -> Vec<Block> {
    let body = density.body_pt;
    let mut blocks = vec![title(sheet, width, faces)];
    blocks.extend(facts(sheet, width, body, faces));
    blocks.extend(curve_and_strum(sheet, width, density));
    blocks.extend(bars::sections(sheet, width, density, faces));
    if !sheet.boxes.is_empty() {
        blocks.push(heading("Chords", width));
        blocks.extend(rows(&sheet.boxes, width, density.boxes, faces));
    }
    for neck in sheet.neck.iter().chain(&sheet.answers) {
        blocks.push(heading(&neck.caption.plain(), width));
        let along = neck.board.along();
        let scale = (width / along.width_pt).min(density.neck);
        blocks.push(Block::new(along.scaled(scale).figure(), 0.0));
    }
    if !sheet.boxes.is_empty() || sheet.neck.is_some() {
        let legend = match (&sheet.neck, sheet.boxes.is_empty()) {
            (Some(_), false) => format!("Boxes show fingers, the neck {}.", sheet.legend),
            (Some(_), true) => format!("The neck shows {}.", sheet.legend),
            (None, _) => "Boxes show fingers; the root is a square.".to_owned(),
        };
        blocks.extend(paragraph(&legend, SMALL_PT, width, 2.0, faces));
    }
    for one in &sheet.record {
        blocks.push(heading(&one.caption, width));
        let scale = (width / one.drawing.width_pt).min(density.boxes);
        blocks.push(Block::new(one.drawing.scaled(scale).figure(), 0.0));
    }
    let half = (width - COLUMN_GAP_PT) / 2.0;
    let column = |head, lines, width| {
        let mut blocks = Vec::new();
        listed(&mut blocks, head, lines, (body, width), faces);
        blocks
    };
    let left = |width| column("Over the chords", &sheet.fit, width);
    let right = |width| column("What to do", &sheet.tasks, width);
    blocks.extend(match beside(left(half), right(half), width, density) {
        Some(block) => vec![block],
        None => left(width).into_iter().chain(right(width)).collect(),
    });
    let cautions = sheet.cautions.join(" ");
    blocks.extend(paragraph(&cautions, SMALL_PT, width, 12.0, faces));
    blocks
}

/// The curve of the tempo and the strokes of the strum: side by side, where there are both.
fn curve_and_strum(sheet: &Sheet, width: f32, density: &Density) -> Option<Block> {
    let half = (width - COLUMN_GAP_PT) / 2.0;
    let curve = |width| {
        let curve = sheet.tempo.as_ref()?;
        Some(figures::tempo(curve, (width, density.curve_pt)))
    };
    let strum = |width| Some(figures::strum(sheet.strum.as_ref()?, width));
    let drawing = match (curve(half), strum(half)) {
        (Some(curve), Some(strum)) => {
            let mut both = Drawing {
                width_pt: width,
                height_pt: curve.height_pt.max(strum.height_pt),
                ..Drawing::default()
            };
            both.put(&curve, (0.0, both.height_pt - curve.height_pt));
            both.put(
                &strum,
                (half + COLUMN_GAP_PT, both.height_pt - strum.height_pt),
            );
            both
        }
        (Some(_), None) => curve(width)?,
        (None, Some(_)) => strum(width)?,
        (None, None) => return None,
    };
    Some(Block::new(drawing, 8.0))
}

/// Two columns as one block, where both have something and it is not too tall to move to another page.
fn beside(left: Vec<Block>, right: Vec<Block>, width: f32, density: &Density) -> Option<Block> {
    if left.is_empty() || right.is_empty() {
        return None;
    }
    let mut both = Drawing {
        width_pt: width,
        ..Drawing::default()
    };
    for (blocks, x) in [(left, 0.0), (right, (width + COLUMN_GAP_PT) / 2.0)] {
        let mut y = 0.0;
        for (index, block) in blocks.iter().enumerate() {
            if index > 0 {
                y += block.space_pt * density.space;
            }
            both.put(&block.drawing, (x, y));
            y += block.drawing.height_pt;
        }
        both.height_pt = both.height_pt.max(y);
    }
    (both.height_pt < MOST_BESIDE_PT).then(|| Block::new(both, 10.0))
}

/// A heading and sentences below it.
fn listed(
    blocks: &mut Vec<Block>,
    head: &str,
    lines: &[String],
    (size_pt, width): (f32, f32),
    faces: &Faces,
) {
    if lines.is_empty() {
        return;
    }
    blocks.push(heading(head, width));
    for line in lines {
        blocks.extend(paragraph(line, size_pt, width, 0.0, faces));
    }
}

/// The title, with lines for name and date at the right.
fn title(sheet: &Sheet, width: f32, faces: &Faces) -> Block {
    let room = width - FORM_PT - 20.0;
    let mut size = TITLE_PT;
    let lines_at = |size| wrapped(&sheet.title, size, Face::Bold, room, faces);
    let mut lines = lines_at(size);
    while lines.len() > 1 && size > LEAST_TITLE_PT {
        size -= 1.0;
        lines = lines_at(size);
    }
    if lines.len() > MOST_TITLE_LINES {
        lines.truncate(MOST_TITLE_LINES);
        if let Some(last) = lines.last_mut() {
            last.pop();
            last.push('\u{2026}');
        }
    }
    if lines.is_empty() {
        lines.push("untitled".to_owned());
    }
    let mut drawing = in_lines(&lines, size, Face::Bold, width, Role::Heading(1));
    drawing.height_pt = drawing.height_pt.max(34.0);
    let left = width - FORM_PT;
    let mut form = Vec::new();
    for (label, y) in [("Name", 12.0), ("Date", 32.0)] {
        let words = Words::new(label, 9.0, Face::Plain, (left, y), Ink::Gray);
        form.push(Item::Words(words));
        form.push(Item::Line {
            from: (left + 30.0, y + 1.0),
            to: (width, y + 1.0),
            width_pt: 0.6,
            ink: Ink::Gray,
        });
    }
    drawing.group(Role::Ornament, form);
    Block::new(drawing, 0.0)
}

/// What is known of the piece: a word and what it is, one behind the other on lines.
fn facts(sheet: &Sheet, width: f32, size_pt: f32, faces: &Faces) -> Vec<Block> {
    let bold = |text: &str| Words::new(text, size_pt, Face::Bold, (0.0, 0.0), Ink::Black);
    let mut blocks: Vec<Block> = Vec::new();
    let (mut x, mut items) = (0.0, Vec::new());
    let flush = |items: &mut Vec<Item>, blocks: &mut Vec<Block>| {
        let mut drawing = Drawing {
            width_pt: width,
            height_pt: size_pt * LINE,
            ..Drawing::default()
        };
        drawing.group(Role::Paragraph, std::mem::take(items));
        let space = if blocks.is_empty() { 6.0 } else { 0.0 };
        if !drawing.items.is_empty() {
            blocks.push(Block::new(drawing, space));
        }
    };
    for (label, text) in &sheet.facts {
        let label = bold(label);
        let room = faces.width_pt(&label) + 5.0;
        for (index, line) in wrapped(text, size_pt, Face::Plain, width - room, faces)
            .into_iter()
            .enumerate()
        {
            let value = Words::new(line, size_pt, Face::Plain, (0.0, 0.0), Ink::Black);
            let wide = room + faces.width_pt(&value);
            if index > 0 || x > 0.0 && x + wide > width {
                flush(&mut items, &mut blocks);
                x = 0.0;
            }
            let y = size_pt;
            if index == 0 {
                items.push(Item::Words(Words {
                    at: (x, y),
                    ..label.clone()
                }));
            }
            items.push(Item::Words(Words {
                at: (x + room, y),
                ..value
            }));
            x += wide + 16.0;
        }
    }
    flush(&mut items, &mut blocks);
    blocks
}

/// Boxes in rows, each below its name.
fn rows(boxes: &[SheetBoard], width: f32, scale: f32, faces: &Faces) -> Vec<Block> {
    const CAPTION_PT: f32 = 11.0;
    const GAP_PT: f32 = 12.0;
    let small = |one: &SheetBoard| one.board.small().scaled(scale);
    let drawn: Vec<Drawing> = boxes.iter().map(small).collect();
    let widest = drawn.iter().map(|d| d.width_pt).fold(1.0, f32::max);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // far below 2^24
    let a_row = (((width + GAP_PT) / (widest + GAP_PT)) as usize).max(1);
    let scale = (width / widest).min(1.0);
    let all: Vec<(&SheetBoard, Drawing)> = boxes
        .iter()
        .zip(drawn.iter().map(|d| d.scaled(scale)))
        .collect();
    all.chunks(a_row)
        .map(|row| {
            let tallest = row.iter().map(|(_, d)| d.height_pt).fold(0.0, f32::max);
            let mut block = Drawing {
                width_pt: width,
                height_pt: tallest + CAPTION_PT * LINE,
                ..Drawing::default()
            };
            let mut x = 0.0;
            for (one, drawing) in row {
                let middle = x + drawing.width_pt / 2.0 + 5.0;
                let (text, at) = (one.caption.clone(), (middle, CAPTION_PT));
                let caption = Words::new(text, CAPTION_PT, Face::Bold, at, Ink::Black);
                let mut caption = caption.anchored(Anchor::Middle);
                let wide = faces.width_pt(&caption);
                if wide > widest + GAP_PT - 4.0 {
                    caption.size_pt *= (widest + GAP_PT - 4.0) / wide;
                }
                block.group(Role::Paragraph, vec![Item::Words(caption)]);
                block.put(&drawing.clone().figure(), (x, CAPTION_PT * LINE));
                x += widest + GAP_PT;
            }
            Block::new(block, 2.0)
        })
        .collect()
}
