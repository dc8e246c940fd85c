//! How the rows of the screen are shared out.

use ratatui::layout::Rect;

pub(super) use super::neck::NeckHeight;
use super::neck::{neck_fits, neck_rows};
use crate::view::stage::Stage;

/// Rows from which on things other than the chord are in large letters, and from which on they have room to spare.
pub(super) const MEDIUM: u16 = 24;
const LARGE: u16 = 40;

/// Rows that what is largest keeps where a neck is shown: at two meters letters of ten rows are read with ease, see
/// `DEVELOPERS.md`.
const KEPT: u16 = 10;

/// Rows in which letters of one dot a half row are whole.
pub(super) const LETTERS: u16 = 4;

/// Rows of each part of the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Rows {
    /// The place in large letters, where there is room.
    pub(super) place: u16,
    /// A line of small text above what is largest.
    pub(super) main_label: u16,
    /// A line of small text above each other part.
    pub(super) label: u16,
    pub(super) next: u16,
    pub(super) beats: u16,
    pub(super) foot: u16,
    pub(super) neck: Option<NeckHeight>,
}

impl Rows {
    /// For a stage in an area, of which some rows of text are taken.
    pub(super) fn of(stage: &Stage, area: Rect, taken: u16) -> Rows {
        let rows = match area.height {
            LARGE.. => Rows {
                place: LETTERS,
                main_label: 1,
                label: 1,
                next: LETTERS,
                beats: LETTERS,
                foot: LETTERS,
                neck: None,
            },
            MEDIUM..LARGE => Rows {
                place: 0,
                main_label: 0,
                label: 1,
                next: LETTERS,
                beats: 2,
                foot: LETTERS,
                neck: None,
            },
            _ => Rows {
                place: 0,
                main_label: 0,
                label: 0,
                next: 1,
                beats: 1,
                foot: 1,
                neck: None,
            },
        };
        let left = area.height.saturating_sub(rows.sum()).saturating_sub(taken);
        rows.with_neck(stage, area.width, left)
    }

    /// What is left beside what is largest goes to the neck, else to the next chord.
    fn with_neck(self, stage: &Stage, columns: u16, left: u16) -> Rows {
        let spare = left.saturating_sub(KEPT);
        let neck = stage.neck.as_ref();
        let neck = neck.filter(|neck| stage.ask.is_none() && neck_fits(neck, columns));
        if let Some(neck) = neck.filter(|_| self.label > 0) {
            let heights = [NeckHeight::Tall, NeckHeight::Flat];
            let fits = |height: &NeckHeight| neck_rows(neck, *height) <= spare;
            if let Some(height) = heights.into_iter().find(fits) {
                return Rows {
                    neck: Some(height),
                    ..self
                };
            }
            // The place in small letters gives its rows away.
            if neck_rows(neck, NeckHeight::Flat) <= spare + self.place && self.place > 0 {
                return Rows {
                    place: 0,
                    neck: Some(NeckHeight::Flat),
                    ..self
                };
            }
        }
        // Up to seven rows more: the next size of letters.
        let more = if self.place > 0 { spare.min(7) } else { 0 };
        Rows {
            next: self.next + more,
            ..self
        }
    }

    /// All but what is largest and the neck.
    pub(super) fn sum(&self) -> u16 {
        self.place + self.main_label + self.label * 3 + self.next + self.beats + self.foot
    }
}
