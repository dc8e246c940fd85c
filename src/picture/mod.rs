//! Pictures of necks and chord boxes, from one description: a [`Drawing`] of lines, shapes and words, written as SVG or as
//! PNG.
//!
//! A [`Board`] is what lies on a stretch of the neck; it is drawn along the strings ([`Board::along`]) or as an upright box
//! ([`Board::upright`]). The root is told by its form, a filled square among rings, never by color alone. Black on white has a
//! contrast of 21 to 1, gray on white of 7 to 1 (by the formula of WCAG 2.2).

mod board;
mod drawing;
#[cfg(feature = "pictures")]
mod faces;
#[cfg(feature = "pictures")]
mod outline;
mod page;
#[cfg(feature = "pdf")]
mod pdf;
mod plot;
#[cfg(feature = "pictures")]
mod png;
mod record;
mod shapes;
mod signs;
mod svg;

pub use board::{Board, Stop};
pub use drawing::{Anchor, Drawing, Face, Ink, Item, Role, Run, Text, Words};
#[cfg(feature = "pictures")]
pub use faces::Faces;
pub use page::{Captioned, page_of};
#[cfg(feature = "pdf")]
pub use pdf::write_pdf;
pub use plot::Plot;
#[cfg(feature = "pictures")]
pub use png::write_png;
pub use record::pace_picture;
#[cfg(feature = "live")]
pub use record::{lateness_picture, strokes_picture};
pub use shapes::{PAGE_PT, chord_board, legend, scale_board, whole_board};
pub use signs::signs;
pub use svg::{escaped, svg_within, to_svg};
