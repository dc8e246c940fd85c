//! Scores that notation programs exchange: a piece as MusicXML, and what it holds for a player.
//!
//! A [`Sheet`] is a piece as it stands on paper: measures with chord symbols, section names, repeats, meters and tempo
//! marks. [`write_musicxml`] writes it down, [`write_mxl`] packs that.
//!
//! Source: MusicXML 4.0 (W3C Community Group), its schema and its public reference pages.

mod archive;
mod harmony;
mod marks;
mod sheet;
mod values;
mod write;

pub use archive::write_mxl;
pub use sheet::{Measure, Sheet, SheetError, Symbol, TempoMark};
pub use write::write_musicxml;

/// The field of a score in which the program keeps what notation has no sign for: the lines of a document.
pub(crate) const FIELD: &str = "fivefold";
/// The section of the bars that are played once before the first pass.
pub(crate) const INTRO: &str = "intro";
/// The section of the bars that are played once after the last pass.
pub(crate) const ENDING: &str = "ending";
