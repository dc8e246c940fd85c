//! A curve over a straight line of time, with its doubt and single points.

use super::drawing::{Anchor, Drawing, Face, Ink, Item, Words};

/// Height of the labels.
const LABEL_PT: f32 = 8.0;
/// Room at the left for labels, and below.
const LEFT_PT: f32 = 34.0;
const BELOW_PT: f32 = 14.0;
const ABOVE_PT: f32 = 6.0;
const RIGHT_PT: f32 = 6.0;

/// What is plotted. Values outside what is shown are left out.
pub struct Plot<'a> {
    /// Width and height in all, in points.
    pub size_pt: (f32, f32),
    /// From where to where it goes across.
    pub across: (f32, f32),
    /// How a place across is told; its ends are labeled.
    pub across_label: &'a dyn Fn(f32) -> String,
    /// How a height is told; the least and the most are labeled.
    pub up_label: &'a dyn Fn(f32) -> String,
    /// The curve: across and up.
    pub line: Vec<(f32, f32)>,
    /// The doubt about it: across, the least and the most.
    pub doubt: Vec<(f32, f32, f32)>,
    /// Single points: across and up.
    pub points: Vec<(f32, f32)>,
    /// A level with a line of its own, such as zero or a goal.
    pub level: Option<f32>,
    /// What it shows, for those who cannot see it.
    pub about: String,
}

impl Default for Plot<'_> {
    fn default() -> Self {
        Plot {
            size_pt: (400.0, 120.0),
            across: (0.0, 1.0),
            across_label: &|at| at.to_string(),
            up_label: &|at| at.to_string(),
            line: Vec::new(),
            doubt: Vec::new(),
            points: Vec::new(),
            level: None,
            about: String::new(),
        }
    }
}

impl Plot<'_> {
    /// The least and the most that is shown; apart even where all is the same.
    fn range(&self) -> (f32, f32) {
        let line = self.line.iter().chain(&self.points).map(|p| p.1);
        let doubt = self.doubt.iter().flat_map(|d| [d.1, d.2]);
        let all = line
            .chain(doubt)
            .chain(self.level)
            .filter(|v| v.is_finite());
        let (least, most) = all.fold((f32::INFINITY, f32::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
        if least > most {
            (0.0, 1.0)
        } else if most - least < 1e-6 {
            (least - 1.0, most + 1.0)
        } else {
            (least, most)
        }
    }

    /// The plot as a drawing.
    pub fn draw(&self) -> Drawing {
        let (width, height) = self.size_pt;
        let (least, most) = self.range();
        let (left, right) = (LEFT_PT, width - RIGHT_PT);
        let (top, bottom) = (ABOVE_PT, height - BELOW_PT);
        let span = (self.across.1 - self.across.0).max(f32::MIN_POSITIVE);
        let x = |at: f32| left + (right - left) * ((at - self.across.0) / span).clamp(0.0, 1.0);
        let y = |at: f32| bottom - (bottom - top) * ((at - least) / (most - least)).clamp(0.0, 1.0);
        let mut drawing = Drawing {
            width_pt: width,
            height_pt: height,
            about: self.about.clone(),
            ..Drawing::default()
        };
        if self.doubt.len() > 1 {
            let over = self.doubt.iter().map(|(at, _, most)| (x(*at), y(*most)));
            let under = self
                .doubt
                .iter()
                .rev()
                .map(|(at, least, _)| (x(*at), y(*least)));
            drawing.items.push(Item::Shape {
                points: over.chain(under).collect(),
                fill: Ink::Light,
            });
        }
        drawing.line((left, bottom), (right, bottom), 0.6, Ink::Gray);
        drawing.line((left, top), (left, bottom), 0.6, Ink::Gray);
        if let Some(level) = self.level {
            drawing.line((left, y(level)), (right, y(level)), 0.6, Ink::Gray);
        }
        if self.line.len() > 1 {
            drawing.items.push(Item::Track {
                points: self.line.iter().map(|(at, up)| (x(*at), y(*up))).collect(),
                width_pt: 1.4,
                ink: Ink::Black,
            });
        }
        for (at, up) in &self.points {
            drawing.items.push(Item::Round {
                center: (x(*at), y(*up)),
                radius_pt: 1.8,
                fill: Ink::Black,
                edge: Ink::Black,
                edge_pt: 0.2,
            });
        }
        let label = |at, anchor, text: String| {
            Words::new(text, LABEL_PT, Face::Plain, at, Ink::Gray).anchored(anchor)
        };
        for value in [least, most] {
            let at = (left - 4.0, y(value) + LABEL_PT * 0.36);
            drawing.words(label(at, Anchor::End, (self.up_label)(value)));
        }
        let below = height - 3.0;
        let (from, to) = self.across;
        drawing.words(label(
            (left, below),
            Anchor::Start,
            (self.across_label)(from),
        ));
        drawing.words(label((right, below), Anchor::End, (self.across_label)(to)));
        drawing
    }
}
