//! fivefold: a backing-track and metronome engine for guitar practice.
//!
//! A chart becomes bars, bars become timed events, and events go to a sink: a MIDI file, a MIDI port, a list.
//!
//! ```
//! use fivefold::{Arrangement, Excerpt, Piece, SmfFormat, write_smf};
//!
//! let (piece, _warnings) = Piece::read_inline("| Am7 | Fmaj7 | Dm7 | C |")?;
//! let mut arrangement = Arrangement::new(&piece, piece.unfold()?, Excerpt::default())?;
//! let mut file = Vec::new();
//! let written = write_smf(&mut arrangement, SmfFormat::Parallel, &mut file)?;
//! // Four bars, and beside them a bar of count-in and the first chord held for one more.
//! assert_eq!((written.count_in_bars, written.bars, written.ending_bars), (1, 4, 1));
//! assert!(file.starts_with(b"MThd"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! More is shown by the programs under `examples`.
//!
//! # Features
//!
//! All are on by default. Without them the library reads charts, draws progressions, arranges and writes MIDI files, and a
//! build needs no library of the system.
//!
//! | feature | brings |
//! | --- | --- |
//! | `audio` | [`sound`]: voices, sound files, audio devices; `midi::write_smf_file` |
//! | `ports` | MIDI ports of the system, and [`live`] playing |
//! | `font` | SoundFonts; implies `audio` |
//! | `log` | the record of what was practiced |
//! | `pictures` | pictures as PNG, and [`sheet`]: the layout of pages; pictures as SVG are always there |
//! | `pdf` | pages as PDF; implies `pictures` |
//! | `score` | [`notation`]: scores of notation programs |
//! | `cli` | the program; implies all others, since it offers them |

// Some of what is shared inside the crate is asked for by the program alone.
#![cfg_attr(not(feature = "cli"), allow(dead_code, unused_imports))]

pub mod arrange;
pub mod chart;
#[cfg(feature = "cli")]
pub mod cli;
mod diagnostic;
pub mod drill;
pub mod event;
pub mod generate;
pub mod groove;
#[cfg(feature = "live")]
pub mod live;
#[cfg(feature = "log")]
pub mod log;
pub mod midi;
pub mod neck;
#[cfg(feature = "score")]
pub mod notation;
pub mod picture;
pub mod practice;
#[cfg(feature = "pictures")]
pub mod sheet;
#[cfg(feature = "audio")]
pub mod sound;
pub mod theory;
pub mod time;
pub mod view;

pub use arrange::{Arrangement, Excerpt};
pub use chart::{Piece, Problems, SourceText};
pub use diagnostic::Diagnostic;
pub use event::Source;
pub use midi::{SmfFormat, write_smf};
pub use theory::{Chord, Key, Scale};
pub use time::{Meter, TempoPlan};
pub use view::render_problems;

/// Counts allocations made where none may be: on the threads that keep time.
#[cfg(all(test, debug_assertions, feature = "live"))]
#[global_allocator]
static GUARD: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;
