//! The tempo plan as a curve with the place on it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::view::stage::StagePlan;

/// Blocks that fill so many eighths of a cell from the bottom (Unicode, Block Elements).
const EIGHTHS: [char; 9] = [
    ' ', '\u{2581}', '\u{2582}', '\u{2583}', '\u{2584}', '\u{2585}', '\u{2586}', '\u{2587}',
    '\u{2588}',
];

/// The lowest and the highest tempo of a plan; `None` where it has no points.
pub(super) fn range(plan: &StagePlan) -> Option<(u64, u64)> {
    let low = plan.points_milli.iter().min()?;
    let high = plan.points_milli.iter().max()?;
    Some((*low, *high))
}

/// Draws a plan: filled where it has passed, the line alone where it is ahead. The place is a bar of the whole height, in
/// one row a `|`.
pub(super) fn draw_plan(plan: &StagePlan, area: Rect, buffer: &mut Buffer) {
    let Some((low, high)) = range(plan) else {
        return;
    };
    let steps = u64::from(area.height) * 8;
    let (width, points) = (u64::from(area.width), plan.points_milli.len());
    let place = (plan.passed * width / 1000).min(width.saturating_sub(1));
    for (x, column) in (area.left()..area.right()).zip(0u64..) {
        let point = usize::try_from(column).unwrap_or(0) * points / usize::from(area.width);
        // The lowest point is an eighth of a row high, so that it is seen.
        let above = (plan.points_milli[point] - low) * (steps - 1) / (high - low).max(1);
        let eighths = 1 + above;
        for (y, row) in (area.top()..area.bottom()).rev().zip(0u64..) {
            let here = eighths.saturating_sub(row * 8).min(8);
            let is_top = here > 0 && eighths <= row * 8 + 8;
            let cell = &mut buffer[(x, y)];
            if column == place {
                cell.set_char(if area.height == 1 { '|' } else { EIGHTHS[8] });
            } else if is_top || column < place {
                cell.set_char(EIGHTHS[usize::try_from(here).unwrap_or(0)]);
            }
        }
    }
}
