//! The passes of an endless jam.

use std::sync::Arc;

use super::score::{PassMaker, PassScore};
use crate::chart::Piece;
use crate::generate::{Jam, key_order};
use crate::theory::Key;

/// Draws every pass of an endless jam, in the keys of its piece one after the other.
#[derive(Clone)]
pub struct JamPasses {
    jam: Arc<Jam>,
    /// The key the progressions are drawn in.
    drawn_in: Option<Key>,
    /// The keys of the passes, again from the first after the last.
    keys: Vec<Key>,
}

impl JamPasses {
    /// The passes of `piece`, which was made by [`Jam::piece`] and may have been moved since.
    pub fn new(jam: Arc<Jam>, piece: &Piece) -> JamPasses {
        let keys = match (piece.sounding_key(), &piece.keys) {
            (None, _) => Vec::new(),
            (Some(first), None) => vec![first],
            (Some(first), Some(order)) => key_order(order, &first, piece.seed, &|_| 0),
        };
        JamPasses {
            jam,
            drawn_in: piece.key,
            keys,
        }
    }

    /// The keys of the passes in order, after which they begin again.
    pub fn keys(&self) -> &[Key] {
        &self.keys
    }
}

impl PassMaker for JamPasses {
    fn pass(&self, index: u64) -> PassScore {
        let ground = self.jam.ground();
        let section = format!("jam {}", index + 1);
        let bars = self.jam.draw(index).map(|drawn| {
            let generator = self.jam.generator();
            generator.form_bars(&drawn, ground.meter, &section)
        });
        let drawn = PassScore {
            bars: Arc::new(bars.unwrap_or_default()),
            key: self.drawn_in,
            set: Some(ground.set),
        };
        let turn = index.checked_rem(self.keys.len() as u64);
        let turn = turn.and_then(|at| self.keys.get(usize::try_from(at).ok()?));
        match turn {
            Some(key) => drawn.moved_to(*key),
            None => drawn,
        }
    }
}
