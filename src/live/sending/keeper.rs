//! Looking after a port that may go and come back, off the sending thread.

use std::sync::atomic::Ordering;
use std::thread::{self, Thread};
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender};

use super::stream::Shared;
use crate::live::transport::Condition;
use crate::midi::{OutputPort, PortWatch, SystemPort};

/// Time between two looks at the list of ports. A port that was away for less than two of them is not missed, though some
/// systems have cut the connection.
pub const PORT_LOOK: Duration = Duration::from_millis(200);

/// Who looks after the port of a lane, on a thread of its own.
pub trait Keeper<P>: Send {
    /// Whether the port is still there. May ask the system.
    fn is_there(&mut self) -> bool;

    /// Opens it again; `None` while that does not work.
    fn open(&mut self) -> Option<P>;
}

impl Keeper<SystemPort> for PortWatch {
    fn is_there(&mut self) -> bool {
        PortWatch::is_there(self)
    }

    fn open(&mut self) -> Option<SystemPort> {
        PortWatch::open(self)
    }
}

/// Looks after the port until nobody wants it.
pub(super) fn keep<P: OutputPort>(
    mut keeper: Box<dyn Keeper<P>>,
    look: Duration,
    shared: &Shared,
    ends: (&Receiver<P>, &Sender<P>),
    sending: &Thread,
) {
    let (gone, back) = ends;
    let mut unseen = 0;
    while !shared.done.load(Ordering::Relaxed) {
        thread::sleep(look);
        while gone.try_recv().is_ok() {}
        if shared.condition() == Condition::Gone {
            unseen = 0;
            if keeper.is_there()
                && let Some(port) = keeper.open()
            {
                let _ = back.try_send(port);
                sending.unpark();
            }
        } else if keeper.is_there() {
            unseen = 0;
        } else {
            // A list may be read while the system is changing it.
            unseen += 1;
            if unseen > 1 && !shared.missing.swap(true, Ordering::AcqRel) {
                shared.news.store(true, Ordering::Release);
                sending.unpark();
            }
        }
    }
}
