//! What fits over a five-note set, progressions that stay inside it, and the keys of an order.
//!
//! [`fit`] says how a chord lies over a set. A [`Table`] holds every chord that may be used; a [`Request`] adds what is
//! wished for; [`Generator::draw`] makes a progression in three exact draws, each from a distribution that can be
//! printed.

mod blues;
pub(crate) mod chance;
mod counts;
mod filled;
mod fit;
mod form;
mod jam;
mod keys;
mod net;
mod numerals;
mod pool;
mod progression;
mod request;
mod shape;
mod stock;
mod table;
mod vocabulary;
mod weights;

pub use blues::Blues;
pub use chance::{Chance, Odds};
pub use fit::{Fit, Rub, fit, fit_bars};
pub use form::Form;
pub use jam::{Ground, Jam, chart_text, key_of, mode_of};
pub use keys::key_order;
pub use progression::{Generator, Plan, Progression};
pub use request::{BluesWish, Flavor, Level, Request, Rhythm, WishError, WishKind};
pub use shape::{PhrasePlan, plans};
pub use table::{Candidate, Table, all_chords};
pub use vocabulary::{Quality, vocabulary};
pub use weights::weight_tables;
