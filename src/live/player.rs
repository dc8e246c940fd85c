//! Lanes: where a piece is heard; and the lane that is a MIDI port.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Sender as Queue, TrySendError, bounded};

use super::conductor::play_on;
use super::dispatch::{Dispatcher, Item, TimedWish};
use super::sender::{Due, Queued, Report, Sender, Stopped, Stream};
use super::{Clock, prepare_timing_thread};
use crate::event::Source;
use crate::midi::{OutputPort, PortError};
use crate::time::Nanos;

/// Entries that may wait between the arranging thread and a lane.
const QUEUE: usize = 4096;

/// Wishes that may wait.
const WISHES: usize = 32;

/// How long a lane may take to silence and end, even when a driver blocks.
const SHUTDOWN: Duration = Duration::from_secs(2);

/// Pause between two looks at the lanes.
const LOOK: Duration = Duration::from_millis(5);

/// Whether a lane took an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Offer {
    /// It did.
    Taken,
    /// It has no room now.
    Full,
    /// It takes nothing more, because it has ended.
    Ended,
}

/// Why a lane failed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct LaneError {
    /// A stable name for programs.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What can be done about it.
    pub help: String,
}

/// Where a piece is heard: a MIDI port, an audio device.
pub trait Lane {
    /// Begins to play what was offered so far.
    ///
    /// # Errors
    /// When the lane cannot begin.
    fn begin(&mut self) -> Result<(), LaneError>;

    /// Offers it an entry; they come in order.
    fn offer(&mut self, item: Item) -> Offer;

    /// Hands it a wish; lanes that play together get the same wishes.
    fn wish(&mut self, wish: TimedWish);

    /// The time it has reached, zero before it has begun.
    fn now(&self) -> Nanos;

    /// The run of bars it plays, and how many bar lines of it have passed.
    fn place(&self) -> (u32, u32);

    /// Whether it has played all there was. Called often; the place to notice that a device is gone.
    ///
    /// # Errors
    /// When the lane has failed.
    fn is_over(&mut self) -> Result<bool, LaneError>;

    /// Ends it, silencing what sounds. Takes a few seconds at most.
    ///
    /// # Errors
    /// When it failed, before or now.
    fn close(&mut self) -> Result<(), LaneError>;
}

/// The run of bars that plays and its bar lines passed, told from one thread to another as two halves of one number.
#[derive(Debug, Default)]
pub(crate) struct Place(AtomicU64);

impl Place {
    /// Tells it; see [`Dispatcher::place`].
    pub(crate) fn tell(&self, (run, bars): (u32, u32)) {
        let place = u64::from(run) << 32 | u64::from(bars);
        self.0.store(place, Ordering::Release);
    }

    /// What was told last.
    #[allow(clippy::cast_possible_truncation)] // two halves
    pub(crate) fn get(&self) -> (u32, u32) {
        let place = self.0.load(Ordering::Acquire);
        ((place >> 32) as u32, place as u32)
    }
}

/// What the sending thread and the lane both know.
#[derive(Debug, Default)]
struct Shared {
    /// There is a wish, or a stop.
    news: AtomicBool,
    /// The time reached, in nanoseconds.
    now: AtomicU64,
    place: Place,
}

/// The dispatcher as the sender asks it.
struct Live {
    dispatcher: Dispatcher,
    wished: Receiver<TimedWish>,
    shared: Arc<Shared>,
    /// Whether it keeps time by itself, so that it may stand still by itself.
    alone: bool,
}

impl Stream for Live {
    fn due(&mut self, now: &dyn Fn() -> Nanos) -> Due {
        if self.shared.news.swap(false, Ordering::AcqRel) {
            let now = now();
            while let Ok(wish) = self.wished.try_recv() {
                let _ = self.dispatcher.wish(wish.not_before(now));
            }
        }
        if self.alone {
            self.dispatcher.catch_up(now());
        }
        let due = self.dispatcher.due();
        self.shared.place.tell(self.dispatcher.place());
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
            channel: sent.channel,
            message: sent.message,
        })
    }

    fn waiting(&self) -> u64 {
        u64::try_from(self.dispatcher.waiting()).unwrap_or(u64::MAX)
    }
}

/// What makes the clock of a [`PortLane`] when it begins.
pub type ClockMaker = Box<dyn FnOnce() -> Box<dyn Clock>>;

/// A MIDI port with the thread that sends to it.
pub struct PortLane<P: OutputPort + 'static> {
    queue: Option<Queue<Item>>,
    wishes: Queue<TimedWish>,
    /// What the thread needs, until it begins.
    idle: Option<(P, ClockMaker, Live)>,
    thread: Option<JoinHandle<Report>>,
    shared: Arc<Shared>,
    stop: Arc<AtomicBool>,
    /// Whether the thread asks the system for priority.
    prompt: bool,
    report: Option<Report>,
}

impl<P: OutputPort + 'static> PortLane<P> {
    /// A lane to `port`, timed by the clock that `clock` makes when playing begins. `stop` ends it early.
    pub fn new(port: P, clock: ClockMaker, stop: &Arc<AtomicBool>) -> Self {
        let (queue, taken) = bounded(QUEUE);
        let (wishes, wished) = bounded(WISHES);
        let shared = Arc::new(Shared::default());
        let live = Live {
            dispatcher: Dispatcher::new(taken),
            wished,
            shared: Arc::clone(&shared),
            alone: true,
        };
        PortLane {
            queue: Some(queue),
            wishes,
            idle: Some((port, clock, live)),
            thread: None,
            shared,
            stop: Arc::clone(stop),
            prompt: false,
            report: None,
        }
    }

    /// The same lane beside another that keeps the time: it does not stand still by itself after a stall.
    #[must_use]
    pub fn following(mut self) -> Self {
        if let Some((_, _, live)) = &mut self.idle {
            live.alone = false;
        }
        self
    }

    /// The same lane, whose thread asks the system for priority and locked memory: for clocks of this world.
    #[must_use]
    pub fn prompt(mut self) -> Self {
        self.prompt = true;
        self
    }

    /// What was sent, once the lane is closed.
    pub fn report(&self) -> Option<&Report> {
        self.report.as_ref()
    }
}

/// The lane's failure for a port's.
fn failed(e: &PortError) -> LaneError {
    LaneError {
        code: e.code(),
        message: e.to_string(),
        help: e.help(),
    }
}

/// What helps when the live part of the program fails.
const AGAIN: &str = "start again; if a note sounds, switch the instrument off and on";

impl<P: OutputPort + 'static> Lane for PortLane<P> {
    fn begin(&mut self) -> Result<(), LaneError> {
        let Some((port, clock, mut live)) = self.idle.take() else {
            return Ok(());
        };
        let sender = Sender::new(port, clock(), Arc::clone(&self.stop));
        let prompt = self.prompt;
        let thread = thread::Builder::new()
            .name("send".to_owned())
            .spawn(move || {
                let sender = if prompt {
                    sender.granted(prepare_timing_thread())
                } else {
                    sender
                };
                let shared = Arc::clone(&live.shared);
                sender.play(&mut live, &shared.news)
            })
            .map_err(|e| LaneError {
                code: "live",
                message: format!("the sending thread cannot be started ({e})"),
                help: AGAIN.to_owned(),
            })?;
        self.thread = Some(thread);
        Ok(())
    }

    fn wish(&mut self, wish: TimedWish) {
        // The sender takes wishes far quicker than anyone makes them.
        let _ = self.wishes.try_send(wish);
        self.shared.news.store(true, Ordering::Release);
        if let Some(thread) = &self.thread {
            thread.thread().unpark();
        }
    }

    fn now(&self) -> Nanos {
        Nanos::new(self.shared.now.load(Ordering::Acquire))
    }

    fn place(&self) -> (u32, u32) {
        self.shared.place.get()
    }

    fn offer(&mut self, item: Item) -> Offer {
        let Some(queue) = &self.queue else {
            return Offer::Ended;
        };
        match queue.try_send(item) {
            Ok(()) => Offer::Taken,
            Err(TrySendError::Full(_)) => Offer::Full,
            Err(TrySendError::Disconnected(_)) => Offer::Ended,
        }
    }

    fn is_over(&mut self) -> Result<bool, LaneError> {
        Ok(self.thread.as_ref().is_some_and(JoinHandle::is_finished))
    }

    fn close(&mut self) -> Result<(), LaneError> {
        self.queue = None;
        self.idle = None;
        let Some(thread) = self.thread.take() else {
            return Ok(());
        };
        // The sender plays out what is queued; only a stop limits it.
        let mut stopped_at: Option<Instant> = None;
        while !thread.is_finished() {
            if self.stop.load(Ordering::Relaxed) {
                self.shared.news.store(true, Ordering::Release);
                thread.thread().unpark();
                if stopped_at.get_or_insert_with(Instant::now).elapsed() > SHUTDOWN {
                    return Err(LaneError {
                        code: "live",
                        message: PlayError::Blocked.to_string(),
                        help: AGAIN.to_owned(),
                    });
                }
            }
            thread::sleep(LOOK);
        }
        let report = thread.join().map_err(|_| LaneError {
            code: "live",
            message: "the sending thread broke off".to_owned(),
            help: AGAIN.to_owned(),
        })?;
        let outcome = match &report.stopped {
            Stopped::Failed(e) => Err(failed(e)),
            _ => Ok(()),
        };
        self.report = Some(report);
        outcome
    }
}

/// How playing to a port went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// What the sender did.
    pub report: Report,
    /// Bars handed to the sender, count-in included.
    pub bars: u64,
}

/// Why playing failed.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PlayError {
    /// The lane failed.
    #[error(transparent)]
    Lane(#[from] LaneError),
    /// The driver blocked at the end.
    #[error("the MIDI driver did not answer within two seconds; a note may still sound")]
    Blocked,
}

/// Plays `source` to one port by `clock`, to its end, or until `stop` is set; then everything that sounds is silenced.
///
/// # Errors
/// When the port fails or its driver blocks. What sounds is silenced as far as the port still takes messages.
pub fn play<P, C>(
    source: &mut dyn Source,
    port: P,
    clock: C,
    stop: &Arc<AtomicBool>,
) -> Result<Outcome, PlayError>
where
    P: OutputPort + 'static,
    C: Clock + 'static,
{
    let mut lane = PortLane::new(port, Box::new(move || Box::new(clock)), stop);
    let bars = play_on(source, &mut [&mut lane], None, stop)?;
    let report = lane.report.take().ok_or(PlayError::Blocked)?;
    Ok(Outcome { report, bars })
}
