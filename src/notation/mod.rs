//! Scores that notation programs exchange: a piece as MusicXML, and what it holds for a player.
//!
//! A [`WrittenScore`] is a piece as it stands on paper: measures with chord symbols, section names, repeats, meters and tempo
//! marks. [`write_musicxml`] writes it down, [`write_mxl`] packs that. [`read_musicxml`] makes a piece of a score from
//! elsewhere, [`unpack_mxl`] unpacks one.
//!
//! Source: MusicXML 4.0 (W3C Community Group), its schema and its public reference pages.

mod archive;
mod compose;
mod element;
mod harmony;
mod marks;
mod order;
mod raw;
mod read;
mod scan;
mod unpack;
mod values;
mod write;
mod written;

pub use archive::write_mxl;
pub use read::{MOST_SCORE_BYTES, read_musicxml};
pub use unpack::{UnpackError, decode, unpack_mxl};
pub use write::write_musicxml;
pub use written::{Measure, Symbol, TempoMark, WrittenError, WrittenScore};

/// The field of a score in which the program keeps what notation has no sign for: the lines of a document.
pub(crate) const FIELD: &str = "fivefold";
/// What a processing instruction for this program, `<?fivefold one beat?>`, says in a `time` whose whole bar is one beat, for
/// which notation has no sign.
const ONE_BEAT: &str = "one beat";
/// The section of the bars that are played once before the first pass.
pub(crate) const INTRO: &str = "intro";
/// The section of the bars that are played once after the last pass.
pub(crate) const ENDING: &str = "ending";

#[cfg(test)]
mod tests;
