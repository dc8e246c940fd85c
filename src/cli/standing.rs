//! What the piece does now, for whoever says what keys and lines do: shared by the thread that plays and those that
//! listen.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

use crate::live::Moment;

/// What the piece does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Doing {
    /// It plays.
    #[default]
    Plays,
    /// It is paused.
    Paused,
    /// It waits for a port, or for the device that leads.
    Waits,
}

impl Doing {
    const ALL: [Doing; 3] = [Doing::Plays, Doing::Paused, Doing::Waits];

    /// What it does at a moment.
    pub(super) fn at(moment: &Moment) -> Doing {
        match (moment.paused, moment.gone, moment.followed) {
            (_, Some(_), _) | (true, None, Some(_)) => Doing::Waits,
            (true, None, None) => Doing::Paused,
            (false, None, _) => Doing::Plays,
        }
    }
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct Standing(Arc<AtomicU8>);

impl Standing {
    /// Leaves what it does now for the others.
    pub(super) fn set(&self, doing: Doing) {
        let at = Doing::ALL.iter().position(|d| *d == doing).unwrap_or(0);
        self.0
            .store(u8::try_from(at).unwrap_or(0), Ordering::Release);
    }

    /// What it does now.
    pub(super) fn get(&self) -> Doing {
        let at = usize::from(self.0.load(Ordering::Acquire));
        Doing::ALL.get(at).copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_is_found() {
        let standing = Standing::default();
        assert_eq!(standing.get(), Doing::Plays);
        for doing in Doing::ALL {
            standing.set(doing);
            assert_eq!(standing.clone().get(), doing);
        }
    }
}
