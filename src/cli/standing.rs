//! What the piece does now, for whoever says what keys and lines do: shared by the thread that plays and those that
//! listen.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

use crate::live::Activity;

/// All that it can do, each stored as its place.
const ALL: [Activity; 3] = [Activity::Plays, Activity::Paused, Activity::Waits];

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct Standing(Arc<AtomicU8>);

impl Standing {
    /// Leaves what it does now for the others.
    pub(super) fn set(&self, activity: Activity) {
        let at = ALL.iter().position(|one| *one == activity).unwrap_or(0);
        self.0
            .store(u8::try_from(at).unwrap_or(0), Ordering::Release);
    }

    /// What it does now.
    pub(super) fn get(&self) -> Activity {
        let at = usize::from(self.0.load(Ordering::Acquire));
        ALL.get(at).copied().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_is_found() {
        let standing = Standing::default();
        assert_eq!(standing.get(), Activity::Plays);
        for activity in ALL {
            standing.set(activity);
            assert_eq!(standing.clone().get(), activity);
        }
    }
}
