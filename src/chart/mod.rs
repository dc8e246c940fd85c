//! Written chords: the chart notation, the document around it, and the form it unfolds into.
//!
//! A [`Piece`] is read from a document ([`Piece::read`]) or an inline chart ([`Piece::read_inline`]); what is wrong
//! comes back as [`Problems`], each a [`Problem`] with byte spans, as many as can be found in one run. [`Piece::unfold`] puts
//! the bars into playing order.

mod ask;
mod document;
mod form;
mod parts;
mod piece;
mod playing;
mod problem;
mod ready;
mod scan;
mod section;
mod toml_text;
mod unfold;
mod write;

pub use crate::groove::{Pattern, Stroke};
pub use ask::{Answer, Ask, FEWEST_ASK_BEATS, MOST_ASK_BEATS, MOST_ASK_CHARS, MOST_ASKS};
pub use document::MOST_BYTES;
pub use form::{Form, FormBar, PlacedChord};
pub use parts::{
    BassLine, BassSettings, ClickBeats, ClickSettings, DroneSettings, GuideSettings, KitSettings,
    PadSettings, PadStrike, Part, PartCommon, Parts, Run, Setting, Silence, StrumSettings,
    StrumShape,
};
pub use piece::{Ending, FitRule, Piece, Places, Reading, Times};
pub(crate) use piece::{numeral_caution, plainest_interval};
pub use playing::{PlayingError, Timing, Variation};
pub(crate) use problem::place_of;
pub use problem::{Problem, Problems, Severity, SourceText};
pub use ready::{READY_CHARTS, ReadyChart, ready_chart};
pub use scan::has_bar_line;
pub use section::{
    Cell, Content, MOST_BARS, MOST_CHORDS, Marks, Section, WrittenBar, read_section,
};
