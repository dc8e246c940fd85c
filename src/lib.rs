//! fivefold: a backing-track and metronome engine for guitar practice.
//!
//! A chart becomes bars, bars become timed events, and events go to a sink: a MIDI file, a MIDI port, a list.
//!
//! ```
//! use fivefold::arrange::{Arrangement, Excerpt};
//! use fivefold::chart::Piece;
//! use fivefold::midi::{SmfFormat, write_smf};
//!
//! let (piece, _warnings) = Piece::read_inline("| Am7 | Fmaj7 | Dm7 | C |").expect("a good chart");
//! let form = piece.unfold().expect("letters need no key");
//! let mut arrangement = Arrangement::new(&piece, form, Excerpt::default())?;
//! let mut file = Vec::new();
//! let written = write_smf(&mut arrangement, SmfFormat::Parallel, &mut file)?;
//! // Four bars, and beside them a bar of count-in and the first chord held for one more.
//! assert_eq!((written.count_in_bars, written.bars, written.ending_bars), (1, 4, 1));
//! assert!(file.starts_with(b"MThd"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod arrange;
pub mod chart;
pub mod cli;
mod diagnostic;
pub mod event;
pub mod generate;
pub mod live;
pub mod midi;
pub mod neck;
pub mod sound;
pub mod theory;
pub mod time;
pub mod view;

pub use diagnostic::Diagnostic;

/// Counts allocations made where none may be: on the threads that keep time.
#[cfg(all(test, debug_assertions))]
#[global_allocator]
static GUARD: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;
