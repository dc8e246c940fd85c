//! The channels that lead from the main thread to a dispatcher, wherever that plays, and back.

use crossbeam_channel::{Receiver, Sender, TrySendError, bounded};

use super::lane::Offer;
use crate::live::dispatch::{Dispatcher, Item, Passage, Wish};
use crate::time::{Nanos, Timed};

/// Entries that may wait between the arranging thread and a lane.
const QUEUE: usize = 4096;

/// Wishes that may wait: one for each of 256 parts, and a few.
const WISHES: usize = 300;

/// Changes of the map as played that may wait to be taken.
const PASSAGES: usize = 1024;

/// A dispatcher and what comes to it.
pub(crate) struct Intake {
    pub(crate) dispatcher: Dispatcher,
    wished: Receiver<Timed<Wish>>,
}

impl Intake {
    /// The same, sending the MIDI clock as well.
    pub(crate) fn with_clock(self) -> Self {
        Intake {
            dispatcher: self.dispatcher.with_clock(),
            ..self
        }
    }

    /// Takes the wishes that have come, as many as the dispatcher has room for; none takes effect before `now`. Returns
    /// whether all were taken.
    ///
    /// # Real time
    /// Does not allocate, lock or wait.
    pub(crate) fn take_wishes(&mut self, now: Nanos) -> bool {
        while self.dispatcher.has_room()
            && let Ok(wish) = self.wished.try_recv()
        {
            let _ = self.dispatcher.wish(wish.not_before(now));
        }
        self.wished.is_empty()
    }
}

/// The main thread's ends.
pub(crate) struct Ends {
    queue: Option<Sender<Item>>,
    wishes: Sender<Timed<Wish>>,
    passages: Receiver<Passage>,
}

/// A dispatcher and the main thread's ends of the channels to it.
pub(crate) fn channels() -> (Intake, Ends) {
    let (queue, taken) = bounded(QUEUE);
    let (wishes, wished) = bounded(WISHES);
    let (tell, passages) = bounded(PASSAGES);
    let dispatcher = Dispatcher::new(taken).telling(tell);
    let ends = Ends {
        queue: Some(queue),
        wishes,
        passages,
    };
    (Intake { dispatcher, wished }, ends)
}

impl Ends {
    /// Offers an entry.
    pub(crate) fn offer(&mut self, item: Item) -> Offer {
        let Some(queue) = &self.queue else {
            return Offer::Ended;
        };
        match queue.try_send(item) {
            Ok(()) => Offer::Taken,
            Err(TrySendError::Full(_)) => Offer::Full,
            Err(TrySendError::Disconnected(_)) => Offer::Ended,
        }
    }

    /// No more entries will come.
    pub(crate) fn close(&mut self) {
        self.queue = None;
    }

    /// How many wishes there is room for.
    pub(crate) fn room(&self) -> usize {
        WISHES - self.wishes.len()
    }

    /// Hands over a wish; without [`Ends::room`] it is lost.
    pub(crate) fn wish(&mut self, wish: Timed<Wish>) {
        let _ = self.wishes.try_send(wish);
    }

    /// The next change of the map as played.
    pub(crate) fn passage(&mut self) -> Option<Passage> {
        self.passages.try_recv().ok()
    }
}
