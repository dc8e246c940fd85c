//! The sheet for a student: chart, shapes, tempo plan and what to do, on pages to print, or as HTML.
//!
//! [`Sheet::new`] takes from a piece what stands on it; [`pages`] lays it out, and [`crate::picture`] writes the pages.

mod bars;
mod content;
mod figures;
mod html;
mod layout;
mod setting;
mod symbol;
mod words;

pub use content::{
    Sheet, SheetBar, SheetBoard, SheetChord, SheetSection, SheetStrum, SheetStyle, TempoCurve,
};
pub use html::{IndexItem, index_html, to_html};
pub use layout::{Paper, long_page, pages};
pub use symbol::{MajorSeventh, numeral_text, symbol_text};
