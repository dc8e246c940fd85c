//! Watches a port that may go and come back, off the sending thread.

use std::sync::atomic::Ordering;
use std::thread::{self, Thread};
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender};

use super::stream::Shared;
use crate::live::transport::Condition;
use crate::midi::{OutputPort, Sighting};
#[cfg(feature = "ports")]
use crate::midi::{PortWatch, SystemPort};

/// Time between two looks at the list of ports. A port that is away for 5 ms more is noticed for certain, since a
/// second look confirms the first; a shorter absence is noticed if a look falls into it, or if the system gives the
/// port another id.
pub const PORT_LOOK: Duration = Duration::from_millis(100);

/// Time from a look that misses the port to the one that confirms it. Some systems list ports by index: a list read
/// while another device goes may skip one. Reading it takes well below a millisecond.
const CONFIRM: Duration = Duration::from_millis(5);

/// What watches the port of a lane, on a thread of its own.
pub trait Keeper<P>: Send {
    /// Looks for the port that was opened last. May ask the system.
    fn look(&mut self) -> Sighting;

    /// Opens it again; `None` while that fails.
    fn open(&mut self) -> Option<P>;
}

#[cfg(feature = "ports")]
impl Keeper<SystemPort> for PortWatch {
    fn look(&mut self) -> Sighting {
        PortWatch::look(self)
    }

    fn open(&mut self) -> Option<SystemPort> {
        PortWatch::open(self)
    }
}

/// What a keeper needs apart from the watcher.
pub(super) struct Keeping<'a, P> {
    /// Time between two looks.
    pub(super) look: Duration,
    pub(super) shared: &'a Shared,
    /// Ports that were taken out of use, to be closed here.
    pub(super) gone: &'a Receiver<P>,
    /// Takes the port that was opened again.
    pub(super) back: &'a Sender<P>,
    pub(super) sending: &'a Thread,
}

/// Watches the port until nobody wants it.
pub(super) fn keep<P: OutputPort>(mut keeper: Box<dyn Keeper<P>>, keeping: &Keeping<'_, P>) {
    let mut last = Sighting::There;
    let mut pause = keeping.look;
    while !keeping.shared.done.load(Ordering::Relaxed) {
        thread::sleep(pause);
        pause = keeping.turn(&mut *keeper, &mut last);
    }
}

impl<P: OutputPort> Keeping<'_, P> {
    /// Looks once, acts on it, and returns how long to wait before the next look. `last` is the result of the look
    /// before.
    fn turn(&self, keeper: &mut dyn Keeper<P>, last: &mut Sighting) -> Duration {
        while self.gone.try_recv().is_ok() {}
        let seen = keeper.look();
        if self.shared.condition() == Condition::Gone {
            *last = Sighting::There;
            if seen != Sighting::Missing
                && let Some(port) = keeper.open()
            {
                let _ = self.back.try_send(port);
                self.sending.unpark();
            }
            return self.look;
        }
        let before = std::mem::replace(last, seen);
        match (before, seen) {
            (_, Sighting::There) => self.look,
            (Sighting::There, Sighting::Missing) => CONFIRM.min(self.look),
            // The open port is dead, even if a port of its name is there again.
            (_, Sighting::Replaced | Sighting::Missing) => {
                if !self.shared.missing.swap(true, Ordering::AcqRel) {
                    self.shared.news.store(true, Ordering::Release);
                    self.sending.unpark();
                }
                self.look
            }
        }
    }
}

#[cfg(test)]
mod tests;
