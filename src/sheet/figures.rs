//! The curve of the tempo and the row of strokes.

use super::content::{SheetStrum, TempoCurve};
use crate::groove::Stroke;
use crate::picture::{Anchor, Drawing, Face, Ink, Item, Plot, Words};

/// The tempo over the bars.
pub(super) fn tempo(curve: &TempoCurve, size_pt: (f32, f32)) -> Drawing {
    let mut points = Vec::with_capacity(2 * curve.steps.len() + 1);
    for (bar, tempo) in &curve.steps {
        if let Some((_, before)) = points.last().copied() {
            points.push((*bar, before));
        }
        points.push((*bar, *tempo));
    }
    if let Some((_, last)) = points.last().copied() {
        points.push((curve.bars, last));
    }
    let from = curve.steps.first().map_or(0.0, |s| s.1);
    let to = curve.steps.last().map_or(0.0, |s| s.1);
    let plot = Plot {
        size_pt,
        across: (0.0, curve.bars),
        // Bar lines passed are counted from 0, bars from 1.
        across_label: &|bars| format!("bar {}", (bars + 1.0).round()),
        up_label: &|tempo| format!("{}", (tempo * 100.0).round() / 100.0),
        about: format!(
            "Tempo over {} bars: from {from:.0} to {to:.0} beats a minute.",
            curve.bars
        ),
        line: points,
        ..Plot::default()
    };
    plot.draw().figure()
}

/// The strokes of a bar as arrows over what is counted.
pub(super) fn strum(strum: &SheetStrum, width: f32) -> Drawing {
    const TALL_PT: f32 = 22.0;
    const LABEL_PT: f32 = 38.0;
    #[allow(clippy::cast_precision_loss)] // at most 32
    let places = strum.strokes.len().max(1) as f32;
    let each = ((width - LABEL_PT) / places).min(28.0);
    let mut items = vec![Item::Words(Words::new(
        "Strum",
        9.0,
        Face::Bold,
        (0.0, TALL_PT / 2.0 + 3.0),
        Ink::Black,
    ))];
    let mut said = Vec::new();
    let mut x = LABEL_PT + each / 2.0;
    for (at, stroke) in strum.strokes.iter().enumerate() {
        let count = strum.counts.get(at).map_or("", String::as_str);
        let word = match stroke {
            Stroke::Down => "down",
            Stroke::Up => "up",
            Stroke::Muted => "muted",
            Stroke::String => "next string",
            Stroke::Rest => "silence",
            Stroke::Hold => "",
        };
        match stroke {
            Stroke::Down => arrow(&mut items, x, (2.0, TALL_PT)),
            Stroke::Up => arrow(&mut items, x, (TALL_PT, 2.0)),
            Stroke::Muted => items.push(middle("x", 13.0, (x, TALL_PT - 6.0))),
            Stroke::String => items.push(Item::Round {
                center: (x, TALL_PT / 2.0),
                radius_pt: 3.0,
                fill: Ink::Black,
                edge: Ink::Black,
                edge_pt: 0.5,
            }),
            Stroke::Rest => items.push(middle("\u{2013}", 13.0, (x, TALL_PT - 6.0))),
            Stroke::Hold => {}
        }
        if !count.is_empty() {
            items.push(middle(count, 9.0, (x, TALL_PT + 12.0)));
        }
        if !word.is_empty() {
            said.push(format!(
                "{word} {}",
                if count.is_empty() { "between" } else { count }
            ));
        }
        x += each;
    }
    let about = format!("Strum of a bar: {}.", said.join(", "));
    let drawing = Drawing {
        width_pt: width,
        height_pt: TALL_PT + 15.0,
        about,
        items,
        ..Drawing::default()
    };
    drawing.figure()
}

fn middle(text: &str, size_pt: f32, at: (f32, f32)) -> Item {
    let words = Words::new(text, size_pt, Face::Plain, at, Ink::Black);
    Item::Words(words.anchored(Anchor::Middle))
}

fn arrow(items: &mut Vec<Item>, x: f32, (from, to): (f32, f32)) {
    let back = if to > from { -7.0 } else { 7.0 };
    items.push(Item::Line {
        from: (x, from),
        to: (x, to + back / 2.0),
        width_pt: 1.6,
        ink: Ink::Black,
    });
    items.push(Item::Shape {
        points: vec![(x, to), (x - 4.0, to + back), (x + 4.0, to + back)],
        fill: Ink::Black,
    });
}
