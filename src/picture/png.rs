//! A drawing as a PNG picture.

use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, Transform};
use ttf_parser::OutlineBuilder;

use super::drawing::{Drawing, EDGE_PT, Ink, Item};
use super::faces::{Faces, Set};

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
        Item::Line {
            from,
            to,
            width_pt,
            ink,
        } => {
            let mut path = PathBuilder::new();
            path.move_to(from.0, from.1);
            path.line_to(to.0, to.1);
            stroke(pixels, path.finish(), *width_pt, *ink, whole);
        }
        Item::Round {
            center,
            radius_pt,
            fill: inside,
            edge,
        } => {
            let circle = PathBuilder::from_circle(center.0, center.1, *radius_pt);
            fill(pixels, circle.clone(), *inside, whole);
            stroke(pixels, circle, EDGE_PT, *edge, whole);
        }
        Item::Block {
            corner,
            size,
            round_pt,
            fill: inside,
        } => fill(pixels, block(*corner, *size, *round_pt), *inside, whole),
        Item::Words(words) => {
            let left = faces.left_pt(words);
            for letter in faces.set(words).0 {
                let place = Transform::from_row(
                    letter.scale,
                    0.0,
                    0.0,
                    -letter.scale,
                    left + letter.x_pt,
                    words.at.1 - letter.rise_pt,
                );
                fill(
                    pixels,
                    outline(&letter),
                    words.ink,
                    place.post_concat(whole),
                );
            }
        }
    }
}

/// A rectangle with rounded corners, each a quarter of a circle as a cubic curve (0.5523 of the radius: the usual nearest).
fn block((x, y): (f32, f32), (w, h): (f32, f32), r: f32) -> Option<Path> {
    if r <= 0.0 {
        return Rect::from_xywh(x, y, w, h).map(PathBuilder::from_rect);
    }
    let r = r.min(w / 2.0).min(h / 2.0);
    let k = r * (1.0 - 0.552_284_8);
    let (right, low) = (x + w, y + h);
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.line_to(right - r, y);
    path.cubic_to(right - k, y, right, y + k, right, y + r);
    path.line_to(right, low - r);
    path.cubic_to(right, low - k, right - k, low, right - r, low);
    path.line_to(x + r, low);
    path.cubic_to(x + k, low, x, low - k, x, low - r);
    path.line_to(x, y + r);
    path.cubic_to(x, y + k, x + k, y, x + r, y);
    path.close();
    path.finish()
}

/// The outline of a letter in units of its font.
fn outline(letter: &Set<'_>) -> Option<Path> {
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
    letter.font.outline_glyph(letter.glyph, &mut pen)?;
    pen.0.finish()
}
