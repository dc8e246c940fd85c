//! What shapes look like, for every kind of file that draws them as paths: an outline, what is inside, and its edge.

use super::drawing::{Ink, Item};

type Point = (f32, f32);

/// A stretch of an outline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Step {
    /// To a point without drawing.
    To(Point),
    /// A straight line to a point.
    Line(Point),
    /// A cubic curve: two points it is drawn toward, and where it ends.
    Curve([Point; 2], Point),
    /// Back to where it began.
    Close,
}

/// A shape as it is painted.
pub(super) struct Painted {
    pub(super) outline: Vec<Step>,
    /// What it is filled with.
    pub(super) fill: Option<Ink>,
    /// How dark and how wide its edge is.
    pub(super) edge: Option<(Ink, f32)>,
}

/// A shape as it is painted; `None` for words and groups.
pub(super) fn painted(item: &Item) -> Option<Painted> {
    let (outline, fill, edge) = match item {
        Item::Line {
            from,
            to,
            width_pt,
            ink,
        } => (through(&[*from, *to]), None, Some((*ink, *width_pt))),
        Item::Track {
            points,
            width_pt,
            ink,
        } => (through(points), None, Some((*ink, *width_pt))),
        Item::Shape { points, fill } => (closed(points), Some(*fill), None),
        Item::Round {
            center: (x, y),
            radius_pt: r,
            fill,
            edge,
            edge_pt,
        } => {
            let outline = block((x - r, y - r), (2.0 * r, 2.0 * r), *r);
            (outline, Some(*fill), Some((*edge, *edge_pt)))
        }
        Item::Block {
            corner,
            size,
            round_pt,
            fill,
        } => (block(*corner, *size, *round_pt), Some(*fill), None),
        Item::Words(_) | Item::Group { .. } => return None,
    };
    Some(Painted {
        outline,
        fill,
        edge,
    })
}

/// Straight lines through points.
fn through(points: &[Point]) -> Vec<Step> {
    let line = |(index, at): (usize, &Point)| match index {
        0 => Step::To(*at),
        _ => Step::Line(*at),
    };
    points.iter().enumerate().map(line).collect()
}

/// The same, back to the first.
fn closed(points: &[Point]) -> Vec<Step> {
    let mut steps = through(points);
    steps.push(Step::Close);
    steps
}

/// A rectangle with rounded corners, each a quarter of a circle as a cubic curve (0.5523 of the radius: the usual nearest).
fn block((x, y): Point, (w, h): (f32, f32), r: f32) -> Vec<Step> {
    let (right, low) = (x + w, y + h);
    if r <= 0.0 {
        return closed(&[(x, y), (right, y), (right, low), (x, low)]);
    }
    let r = r.min(w / 2.0).min(h / 2.0);
    let k = r * (1.0 - 0.552_284_8);
    vec![
        Step::To((x + r, y)),
        Step::Line((right - r, y)),
        Step::Curve([(right - k, y), (right, y + k)], (right, y + r)),
        Step::Line((right, low - r)),
        Step::Curve([(right, low - k), (right - k, low)], (right - r, low)),
        Step::Line((x + r, low)),
        Step::Curve([(x + k, low), (x, low - k)], (x, low - r)),
        Step::Line((x, y + r)),
        Step::Curve([(x, y + k), (x + k, y)], (x + r, y)),
        Step::Close,
    ]
}
