//! Drills: pieces that ask, and the judging of what the player did.
//!
//! A drill makes an [`Exercise`]: an ordinary piece with asks, and the name of the fact each ask is about. While it
//! plays, a [`Judge`] is told what was asked, what was answered and what the player did, and gives each ask one
//! [`Outcome`]. Nothing here plays, waits or remembers.

mod changes;
mod degrees;
mod error;
mod judge;
mod naming;
mod roots;
mod rounds;
mod scale;

pub use changes::{
    ChangeOrder, ChangeStep, Changes, ChangesError, FreeCount, MOST_CHANGED, Mark, is_pair,
    pair_name, pair_weight,
};
pub use degrees::{Degrees, DegreesAsk};
pub use error::{SetDrillError, key_of_set};
pub use judge::{Deed, Happening, Judge, Judged, Outcome, Tally};
pub use roots::{RootNotes, Roots, RootsError, StringRoot};
pub use scale::{Over, ScaleLine, Scales, USUAL_NOTES};

use crate::chart::Piece;

/// A piece that asks, and what each ask is about; or one that is judged as a whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Exercise {
    /// The same for every run of the same drill over the same material, such as `roots on 6 and 5, marked`. Takes of one
    /// name are compared with each other.
    pub name: String,
    /// What is played.
    pub piece: Piece,
    /// What each ask is about, in the order of the asks of the piece, such as `G on string 6`. What is remembered of a
    /// player is remembered under this name. Where nothing is asked, the take is judged as a whole, and what is
    /// said of it is true of these facts.
    pub facts: Vec<String>,
    /// The changes from chord to chord that strokes can tell of, in order.
    pub changes: Vec<ChangeAt>,
    /// How a take of it is judged.
    pub judging: Judging,
}

/// A change from chord to chord: its new chord begins here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeAt {
    /// The bar of the piece, from 1.
    pub bar: i64,
    /// The beat in the bar, from 1.
    pub beat: u32,
    /// The pair of chords, as it is remembered: see [`pair_name`].
    pub fact: String,
}

/// How a take is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judging {
    /// Ask by ask.
    Asks,
    /// As a whole: by a word of the player, and for its tempo.
    Word,
    /// By what the player marks meanwhile.
    Marks,
}
