//! Tap tempo.

use crate::time::Nanos;

/// Taps so far.
#[derive(Clone, Debug, Default)]
pub struct Tapping {
    last: Option<Nanos>,
}

impl Tapping {
    /// A tap.
    pub fn tap(&mut self, at: Nanos) -> Option<Nanos> {
        let last = self.last.replace(at)?;
        Some(Nanos::new(at.get().saturating_sub(last.get())))
    }
}
