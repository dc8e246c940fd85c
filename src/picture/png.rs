//! A drawing as a PNG picture.

use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Stroke, Transform};
use ttf_parser::{Face as Outlines, GlyphId, OutlineBuilder};

use super::drawing::{Drawing, Ink, Item, Words};
use super::faces::{Faces, left_of};
use super::outline::{Step, painted};

/// Most pixels of a picture: 100 million take 400 MB.
const MOST_PIXELS: f32 = 1e8;

/// The drawing as the bytes of a PNG file, with so many pixels to a point.
///
/// # Errors
/// When the picture would have no pixels or more than 100 million, in words.
pub fn write_png(drawing: &Drawing, pixels_per_point: f32) -> Result<Vec<u8>, String> {
    let scale = pixels_per_point;
    let (width, height) = (
        (drawing.width_pt * scale).ceil(),
        (drawing.height_pt * scale).ceil(),
    );
    if !(width >= 1.0 && height >= 1.0 && width * height <= MOST_PIXELS) {
        return Err(format!(
            "a picture of {width} by {height} pixels cannot be made"
        ));
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // from 1 to 1e8
    let mut pixels = Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| "there is no memory for the picture".to_owned())?;
    pixels.fill(Color::WHITE);
    let faces = Faces::new();
    let whole = Transform::from_scale(scale, scale);
    for item in &drawing.items {
        draw(&mut pixels, item, &faces, whole);
    }
    pixels.encode_png().map_err(|e| e.to_string())
}

fn paint(ink: Ink) -> Paint<'static> {
    let mut paint = Paint::default();
    let level = ink.level();
    paint.set_color_rgba8(level, level, level, 255);
    paint
}

fn fill(pixels: &mut Pixmap, path: Option<Path>, ink: Ink, at: Transform) {
    if let Some(path) = path {
        pixels.fill_path(&path, &paint(ink), FillRule::Winding, at, None);
    }
}

fn stroke(pixels: &mut Pixmap, path: Option<Path>, width: f32, ink: Ink, at: Transform) {
    let stroke = Stroke {
        width,
        ..Stroke::default()
    };
    if let Some(path) = path {
        pixels.stroke_path(&path, &paint(ink), &stroke, at, None);
    }
}

fn draw(pixels: &mut Pixmap, item: &Item, faces: &Faces, whole: Transform) {
    match item {
        Item::Words(words) => write_words(pixels, words, faces, whole),
        Item::Group { items, .. } => {
            for item in items {
                draw(pixels, item, faces, whole);
            }
        }
        shape => {
            let Some(painted) = painted(shape) else {
                return;
            };
            let path = path_of(&painted.outline);
            if let Some(ink) = painted.fill {
                fill(pixels, path.clone(), ink, whole);
            }
            if let Some((ink, width)) = painted.edge {
                stroke(pixels, path, width, ink, whole);
            }
        }
    }
}

fn write_words(pixels: &mut Pixmap, words: &Words, faces: &Faces, whole: Transform) {
    let (letters, width) = faces.set(words);
    let left = words.at.0 + left_of(words.anchor, width);
    for letter in letters {
        let Some(outlines) = faces.outlines(letter.font) else {
            continue;
        };
        let scale = letter.size_pt / f32::from(outlines.units_per_em());
        let at = (left + letter.x_pt, words.at.1 - letter.rise_pt);
        let place = Transform::from_row(scale, 0.0, 0.0, -scale, at.0, at.1);
        let path = letter_path(outlines, letter.glyph);
        fill(pixels, path, words.ink, place.post_concat(whole));
    }
}

/// The outline of a letter in units of its font.
fn letter_path(outlines: &Outlines<'_>, glyph: GlyphId) -> Option<Path> {
    struct Pen(PathBuilder);
    impl OutlineBuilder for Pen {
        fn move_to(&mut self, x: f32, y: f32) {
            self.0.move_to(x, y);
        }
        fn line_to(&mut self, x: f32, y: f32) {
            self.0.line_to(x, y);
        }
        fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
            self.0.quad_to(x1, y1, x, y);
        }
        fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
            self.0.cubic_to(x1, y1, x2, y2, x, y);
        }
        fn close(&mut self) {
            self.0.close();
        }
    }
    let mut pen = Pen(PathBuilder::new());
    outlines.outline_glyph(glyph, &mut pen)?;
    pen.0.finish()
}

/// An outline as a path.
fn path_of(outline: &[Step]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for step in outline {
        match *step {
            Step::To((x, y)) => path.move_to(x, y),
            Step::Line((x, y)) => path.line_to(x, y),
            Step::Curve([a, b], (x, y)) => path.cubic_to(a.0, a.1, b.0, b.1, x, y),
            Step::Close => path.close(),
        }
    }
    path.finish()
}
