//! The neck of a guitar: tunings, positions, scale shapes and chord shapes.
//!
//! Strings are counted from 1, the highest; frets from 0, the open string, and on a neck with a capo from the capo. Every
//! note is spelled by its scale or chord and carries the MIDI key that sounds.
//!
//! [`scale_positions`] and [`chord_positions`] give every place of a note; [`root_shape`] and [`linked_shapes`] the parts of
//! a scale that lie under the hand, in the order in which they are run through; [`chord_shapes`] the ways of holding a
//! chord under a [`HandModel`], the easiest first, each with its sounding strings in the order of a strum.
//!
//! ```
//! use fivefold::neck::{HandModel, Neck, StringNumber, chord_shapes, root_shape};
//! use fivefold::theory::{Scale, symbol};
//!
//! let neck = Neck::standard();
//! let set = Scale::read("A minor pentatonic")?;
//! let shape = root_shape(&set, &neck, StringNumber::new(6)?, false)?;
//! assert_eq!(shape.positions()[0].midi, 45);
//!
//! let harmony = symbol::read("Dm")?;
//! let chord = harmony.chord().expect("no N.C.");
//! let easiest = &chord_shapes(chord, &neck, &HandModel::default(), 1)[0];
//! assert_eq!(easiest.frets_text(), "xx0231");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The model of the hand
//!
//! Shapes are found by search, not listed. Four fingers press strings, counted 1 (index) to 4 (little finger), at frets
//! within the hand's span. The fingers keep their order: a higher fret never has a lower finger, and on one fret the
//! finger nearer the index has the lower string. Neighboring fingers stretch over one free fret at most. The index may
//! lie flat over the lowest fret held, from some string up to the highest that sounds, where no open string lies under it;
//! one other finger may lie flat over neighboring strings at a higher fret, down from the highest string that sounds. A
//! string outside those that sound is muted by not being struck, one between them by a finger that touches it.
//!
//! Each finger takes its own fret, counted from the index, where there is room (one finger per fret: common practice).
//! Where there is none the fingers move together toward the index. Two refinements, common practice as well: one or
//! two fingers beside open strings within the first three frets leave the index free at the first fret (Em has 2 and 3),
//! and above a barre notes on one fret with a string between them take the fingers next to the index, which spread more
//! easily than ring and little finger (Bb7 has 1 2 1 3 1, Fm on neighboring strings 1 3 4 1 1 1).
//!
//! Effort is counted in hundredths of one finger put down. The weights are our own choice; they were set so that the
//! shapes that are taught first (84 chords, tests/reference/chord_shapes.tsv) come out first without being listed
//! anywhere, and each has its reason:
//!
//! - a finger 100; it is the unit;
//! - an index barre 94 over two strings, a little easier than a second finger; 111 over three, harder than one; 10 more for
//!   each further string;
//! - another finger laid flat 100 and 35 a string: wanted only where fingers run out;
//! - two neighboring fingers on one fret with more than one string between them 20 for each string beyond that;
//! - a stretch over four frets 120, over five 240, over six 400; each finger that leaves a free fret beside it 30, but not
//!   where fingers lie together above a barre;
//! - the place 30 a fret, so that of two like shapes the lower comes first;
//! - open strings beside frets above the third 200 and 40 for each fret, as they ring out of the hand's reach: open position
//!   is the first three frets;
//! - open strings above a bass at the lowest fret held 130: the finger there, mostly the index, would rather lie flat, and
//!   has to stand clear of every string that rings;
//! - a string left out below the bass 30, and 150 more where that leaves fewer than the five highest strings, as four sound
//!   thin; 90 and nothing more for root and fifth alone, which belong to the low strings;
//! - a string left out above the highest sounding string 200 (strums end there; 20 for root and fifth alone), between
//!   sounding strings 240, as a finger must damp it;
//! - the two lowest strings one to three semitones apart 340, as close notes are rough at the bottom; a fourth apart 120, as
//!   the ear takes the upper one for the root (common practice in arranging, both); not where a slash asks for the bass;
//! - the natural fifth left out 40, as the ear supplies it, another tone 120, the root 250;
//! - a bass that is the fifth 250, another tone 400, where the symbol asks for the root.

mod board;
mod chord_shape;
mod error;
mod hand;
mod limits;
mod position;
mod scale_shape;
mod search;
mod tuning;
mod units;
mod weight;

pub use board::{DEFAULT_FRETS, MARKERS, Neck, StringNote};
pub use chord_shape::{Barre, ChordShape, chord_shape_near, chord_shapes};
pub use error::NeckError;
pub use hand::HandModel;
pub use limits::{MAX_FRET, MAX_STRINGS, MIN_STRINGS};
pub use position::{Position, chord_positions, scale_positions};
pub use scale_shape::{ScaleShape, linked_shapes, root_shape};
pub use tuning::{Tuning, TuningError, TuningProblem};
pub use units::{Finger, Fret, StringNumber};
