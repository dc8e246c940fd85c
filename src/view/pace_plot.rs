//! The pace over time as a drawing in a terminal.

use crate::log::TempoPoint;

/// Rows of the drawing.
const ROWS: usize = 8;

/// Columns of the drawing: the newest takes.
const COLUMNS: usize = 48;

/// The tempo the hands could do after each take, with its doubt as a bar: one column a take, the newest last.
///
/// `o` is the estimate, `|` is within its doubt.
pub(crate) fn pace_plot(points: &[TempoPoint]) -> String {
    let shown = &points[points.len().saturating_sub(COLUMNS)..];
    let low = shown
        .iter()
        .map(|p| p.can - p.doubt)
        .fold(f64::INFINITY, f64::min);
    let high = shown.iter().map(|p| p.can + p.doubt).fold(0.0, f64::max);
    if shown.is_empty() || !low.is_finite() || !high.is_finite() {
        return String::new();
    }
    let (low, high) = (low.floor(), high.ceil().max(low.floor() + 1.0));
    #[allow(clippy::cast_precision_loss)] // eight rows
    let step = (high - low) / (ROWS - 1) as f64;
    let mut text = String::new();
    for row in (0..ROWS).rev() {
        #[allow(clippy::cast_precision_loss)]
        let middle = low + step * row as f64;
        let within = |tempo: f64| (tempo - middle).abs() <= step / 2.0;
        let marks: String = shown
            .iter()
            .map(|point| {
                if within(point.can) {
                    'o'
                } else if (point.can - point.doubt - step / 2.0
                    ..=point.can + point.doubt + step / 2.0)
                    .contains(&middle)
                {
                    '|'
                } else {
                    ' '
                }
            })
            .collect();
        text += &format!("  {middle:>5.1} {}\n", marks.trim_end());
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::{Moment, TakeId};

    #[test]
    fn each_take_has_a_column() {
        let began = Moment {
            unix_seconds: 0,
            offset_seconds: 0,
        };
        let point = |(id, can, doubt)| TempoPoint {
            id: TakeId(id),
            began,
            day: id,
            can,
            doubt,
        };
        let points: Vec<_> = [
            (0, 60.0, 10.0),
            (1, 66.0, 8.0),
            (2, 72.0, 5.0),
            (3, 80.0, 4.0),
        ]
        .map(point)
        .into();
        insta::assert_snapshot!(pace_plot(&points), @"
        84.0    |
        79.1   |o
        74.3  |o|
        69.4 |||
        64.6 |o|
        59.7 o|
        54.9 |
        50.0 |
        ");
        assert_eq!(pace_plot(&[]), "");
    }
}
