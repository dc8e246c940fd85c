//! A dispatcher behind a sender, and the channels that lead there from the main thread.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, AtomicU64, Ordering};

use crossbeam_channel::{Receiver, Sender, TrySendError, bounded};

use super::dispatch::{Dispatcher, Item, Passage, TimedWish, Wish};
use super::lane::{Condition, Offer, Place};
use super::sender::{Due, Queued, Stream};
use crate::midi::System;
use crate::time::Nanos;

/// Entries that may wait between the arranging thread and a lane.
const QUEUE: usize = 4096;

/// Wishes that may wait.
const WISHES: usize = 32;

/// Changes of the map as played that may wait to be taken.
pub(crate) const PASSAGES: usize = 1024;

/// What the sending thread and the lane both know.
#[derive(Debug, Default)]
pub(super) struct Shared {
    /// There is a wish, or a stop.
    pub(super) news: AtomicBool,
    /// The time reached, in nanoseconds.
    pub(super) now: AtomicU64,
    pub(super) place: Place,
    /// The port's name is in no list any more.
    pub(super) missing: AtomicBool,
    /// See [`Condition`], in its order.
    condition: AtomicU8,
    /// Nobody wants the port any more.
    pub(super) done: AtomicBool,
    /// Stalls that were not rattled off.
    pub(super) stalls: AtomicU32,
}

impl Shared {
    pub(super) fn condition(&self) -> Condition {
        match self.condition.load(Ordering::Acquire) {
            0 => Condition::Fine,
            1 => Condition::Gone,
            _ => Condition::Back,
        }
    }

    pub(super) fn set_condition(&self, condition: Condition) {
        let value = match condition {
            Condition::Fine => 0,
            Condition::Gone => 1,
            Condition::Back => 2,
        };
        self.condition.store(value, Ordering::Release);
    }
}

/// The dispatcher as the sender asks it.
pub(super) struct Live {
    pub(super) dispatcher: Dispatcher,
    wished: Receiver<TimedWish>,
    pub(super) shared: Arc<Shared>,
    /// Whether it keeps time by itself, so that it may stand still by itself.
    alone: bool,
}

impl Stream for Live {
    fn due(&mut self, now: &dyn Fn() -> Nanos) -> Due {
        let seen = now();
        if self.shared.news.swap(false, Ordering::AcqRel) {
            while let Ok(wish) = self.wished.try_recv() {
                let _ = self.dispatcher.wish(wish.not_before(seen));
            }
        }
        if self.dispatcher.look(seen, self.alone) {
            self.shared.stalls.fetch_add(1, Ordering::Relaxed);
        }
        let due = self.dispatcher.due();
        self.shared.place.tell(&self.dispatcher);
        match due {
            Some(at) => {
                self.shared.now.store(at.get(), Ordering::Release);
                Due::At(at)
            }
            None if self.dispatcher.is_over() => Due::Over,
            None => Due::Nothing,
        }
    }

    fn step(&mut self) -> Option<Queued> {
        self.dispatcher.step().map(|sent| Queued {
            at: sent.at,
            what: sent.what,
        })
    }

    fn waiting(&self) -> u64 {
        u64::try_from(self.dispatcher.waiting()).unwrap_or(u64::MAX)
    }

    fn before(&mut self) -> Option<System> {
        self.dispatcher.before()
    }

    fn is_gone(&self) -> bool {
        self.shared.missing.load(Ordering::Acquire)
    }

    fn lost(&mut self, now: Nanos) {
        let wish = Wish::Pause;
        let _ = self.dispatcher.wish(TimedWish { at: now, wish });
        self.shared.set_condition(Condition::Gone);
    }

    fn returned(&mut self) {
        self.shared.missing.store(false, Ordering::Release);
        self.shared.set_condition(Condition::Back);
    }
}

/// The main thread's ends of the channels to a dispatcher.
pub(super) struct Ends {
    queue: Option<Sender<Item>>,
    wishes: Sender<TimedWish>,
    passages: Receiver<Passage>,
    pub(super) shared: Arc<Shared>,
}

/// A dispatcher and the ends of its channels.
pub(super) fn lines() -> (Live, Ends) {
    let (queue, taken) = bounded(QUEUE);
    let (wishes, wished) = bounded(WISHES);
    let (tell, passages) = bounded(PASSAGES);
    let shared = Arc::new(Shared::default());
    let live = Live {
        dispatcher: Dispatcher::new(taken).telling(tell),
        wished,
        shared: Arc::clone(&shared),
        alone: true,
    };
    let ends = Ends {
        queue: Some(queue),
        wishes,
        passages,
        shared,
    };
    (live, ends)
}

impl Live {
    /// The same beside another that keeps the time.
    pub(super) fn following(self) -> Self {
        Live {
            alone: false,
            ..self
        }
    }

    /// The same, sending the MIDI clock as well.
    pub(super) fn with_clock(self) -> Self {
        Live {
            dispatcher: self.dispatcher.with_clock(),
            ..self
        }
    }
}

impl Ends {
    /// Offers an entry.
    pub(super) fn offer(&mut self, item: Item) -> Offer {
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
    pub(super) fn close(&mut self) {
        self.queue = None;
    }

    /// Hands over a wish. The dispatcher takes them far quicker than anyone makes them.
    pub(super) fn wish(&mut self, wish: TimedWish) {
        let _ = self.wishes.try_send(wish);
        self.shared.news.store(true, Ordering::Release);
    }

    /// The next change of the map as played.
    pub(super) fn passage(&mut self) -> Option<Passage> {
        self.passages.try_recv().ok()
    }
}
