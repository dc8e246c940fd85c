//! Outlines of shapes, for every kind of file that draws them as paths.

/// Something that follows an outline.
pub(super) trait Tracer {
    /// Goes to a point without drawing.
    fn to(&mut self, at: (f32, f32));
    /// Draws a straight line to a point.
    fn line(&mut self, at: (f32, f32));
    /// Draws a cubic curve by two points it is drawn toward and the point where it ends.
    fn curve(&mut self, toward: [(f32, f32); 2], at: (f32, f32));
    /// Draws back to where it began.
    fn close(&mut self);
}

/// Through points, back to the first if it is closed.
pub(super) fn through(tracer: &mut impl Tracer, points: &[(f32, f32)], closed: bool) {
    for (index, at) in points.iter().enumerate() {
        if index == 0 {
            tracer.to(*at);
        } else {
            tracer.line(*at);
        }
    }
    if closed {
        tracer.close();
    }
}

/// A rectangle with rounded corners, each a quarter of a circle as a cubic curve (0.5523 of the radius: the usual nearest).
pub(super) fn block(tracer: &mut impl Tracer, (x, y): (f32, f32), (w, h): (f32, f32), r: f32) {
    let (right, low) = (x + w, y + h);
    if r <= 0.0 {
        through(tracer, &[(x, y), (right, y), (right, low), (x, low)], true);
        return;
    }
    let r = r.min(w / 2.0).min(h / 2.0);
    let k = r * (1.0 - 0.552_284_8);
    tracer.to((x + r, y));
    tracer.line((right - r, y));
    tracer.curve([(right - k, y), (right, y + k)], (right, y + r));
    tracer.line((right, low - r));
    tracer.curve([(right, low - k), (right - k, low)], (right - r, low));
    tracer.line((x + r, low));
    tracer.curve([(x + k, low), (x, low - k)], (x, low - r));
    tracer.line((x, y + r));
    tracer.curve([(x, y + k), (x + k, y)], (x + r, y));
    tracer.close();
}
