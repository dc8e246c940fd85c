//! Things with their times.

use super::Nanos;

/// Something, and when it comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed<T> {
    /// When, from the start of playing.
    pub at: Nanos,
    /// The thing that happens then.
    pub what: T,
}

impl<T> Timed<T> {
    /// The same, not before `now`.
    #[must_use]
    pub fn not_before(self, now: Nanos) -> Self {
        Timed {
            at: self.at.max(now),
            ..self
        }
    }
}
