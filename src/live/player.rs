//! Lanes: where a piece is heard; and the lane that is a MIDI port.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, AtomicU64, Ordering};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Sender as Queue, TrySendError, bounded};

use super::conductor::play_on;
use super::dispatch::{Dispatcher, Item, Passage, TimedWish, Wish};
use super::sender::{Due, Exchange, Queued, Report, Sender, Stopped, Stream};
use super::{Clock, prepare_timing_thread};
use crate::event::Source;
use crate::midi::{OutputPort, PortError, PortWatch, System, SystemPort};
use crate::time::{Nanos, Tempo};

/// Entries that may wait between the arranging thread and a lane.
const QUEUE: usize = 4096;

/// Wishes that may wait.
const WISHES: usize = 32;

/// Changes of the map as played that may wait to be taken.
pub(crate) const PASSAGES: usize = 1024;

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

    /// How far it may move on at once: what it plays it makes in pieces of this length.
    fn grain(&self) -> Nanos {
        Nanos::ZERO
    }

    /// The time at which it was at an instant, as it is heard; `None` where that is not known.
    fn time_at(&self, instant: Instant) -> Option<Nanos>;

    /// The time at which it is now, as it is heard; `None` where that is not known.
    fn time(&self) -> Option<Nanos> {
        self.time_at(Instant::now())
    }

    /// What it plays.
    fn place(&self) -> Here;

    /// The next change of the map as played that was not taken yet; every lane of a piece tells the same.
    fn passage(&mut self) -> Option<Passage>;

    /// What has become of what it plays to.
    fn condition(&self) -> Condition {
        Condition::Fine
    }

    /// It was seen that it is back.
    fn settle(&mut self) {}

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

/// What has become of what a lane plays to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Nothing is wrong.
    Fine,
    /// It is gone, and waited for.
    Gone,
    /// It was gone and is there again.
    Back,
}

/// What a lane plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Here {
    /// The run of bars.
    pub run: u32,
    /// How many bar lines of it have passed.
    pub bars: u32,
    /// The tempo of the plan.
    pub plan: Tempo,
    /// Whether it stands still and nothing sounds.
    pub stands: bool,
}

/// What a dispatcher plays, told from its thread to another.
#[derive(Debug, Default)]
pub(crate) struct Place {
    /// Run and bar lines as two halves, so that they are read together.
    bars: AtomicU64,
    plan_us: AtomicU32,
    stands: AtomicBool,
    untold: AtomicU32,
}

impl Place {
    /// Tells it.
    ///
    /// # Real time
    /// A few stores.
    pub(crate) fn tell(&self, dispatcher: &Dispatcher) {
        let (run, bars) = dispatcher.place();
        self.plan_us
            .store(dispatcher.plan().us_per_quarter(), Ordering::Relaxed);
        self.stands.store(dispatcher.stands(), Ordering::Release);
        self.untold.store(dispatcher.untold(), Ordering::Relaxed);
        let place = u64::from(run) << 32 | u64::from(bars);
        self.bars.store(place, Ordering::Release);
    }

    /// What was told last.
    #[allow(clippy::cast_possible_truncation)] // two halves
    pub(crate) fn get(&self) -> Here {
        let place = self.bars.load(Ordering::Acquire);
        let plan = u64::from(self.plan_us.load(Ordering::Relaxed));
        Here {
            run: (place >> 32) as u32,
            bars: place as u32,
            plan: Tempo::new(plan).unwrap_or(Tempo::DEFAULT),
            stands: self.stands.load(Ordering::Acquire),
        }
    }

    /// See [`Dispatcher::untold`].
    fn untold(&self) -> u32 {
        self.untold.load(Ordering::Relaxed)
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
    /// The port's name is in no list any more.
    missing: AtomicBool,
    /// See [`Condition`], in its order.
    condition: AtomicU8,
    /// Nobody wants the port any more.
    done: AtomicBool,
    /// Stalls that were not rattled off.
    stalls: AtomicU32,
}

impl Shared {
    fn condition(&self) -> Condition {
        match self.condition.load(Ordering::Acquire) {
            0 => Condition::Fine,
            1 => Condition::Gone,
            _ => Condition::Back,
        }
    }

    fn set_condition(&self, condition: Condition) {
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
    dispatcher: Dispatcher,
    wished: Receiver<TimedWish>,
    shared: Arc<Shared>,
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

/// A dispatcher with the ends of its channels: what every lane that sends messages has.
pub(super) struct Lines {
    pub(super) live: Live,
    queue: Option<Queue<Item>>,
    wishes: Queue<TimedWish>,
    passages: Receiver<Passage>,
    shared: Arc<Shared>,
}

impl Lines {
    /// Lines that are about to play; with the MIDI clock where `pulses` is set.
    pub(super) fn new(pulses: bool) -> Self {
        let (queue, taken) = bounded(QUEUE);
        let (wishes, wished) = bounded(WISHES);
        let (tell, passages) = bounded(PASSAGES);
        let shared = Arc::new(Shared::default());
        let mut dispatcher = Dispatcher::new(taken).telling(tell);
        if pulses {
            dispatcher = dispatcher.with_clock();
        }
        Lines {
            live: Live {
                dispatcher,
                wished,
                shared: Arc::clone(&shared),
                alone: true,
            },
            queue: Some(queue),
            wishes,
            passages,
            shared,
        }
    }

    pub(super) fn offer(&mut self, item: Item) -> Offer {
        offer(self.queue.as_ref(), item)
    }

    pub(super) fn wish(&mut self, wish: TimedWish) {
        let _ = self.wishes.try_send(wish);
        self.shared.news.store(true, Ordering::Release);
    }

    pub(super) fn place(&self) -> Here {
        self.shared.place.get()
    }

    pub(super) fn passage(&mut self) -> Option<Passage> {
        self.passages.try_recv().ok()
    }

    pub(super) fn untold(&self) -> u32 {
        self.shared.place.untold()
    }
}

/// Offers an item to a queue that may have been closed.
fn offer(queue: Option<&Queue<Item>>, item: Item) -> Offer {
    let Some(queue) = queue else {
        return Offer::Ended;
    };
    match queue.try_send(item) {
        Ok(()) => Offer::Taken,
        Err(TrySendError::Full(_)) => Offer::Full,
        Err(TrySendError::Disconnected(_)) => Offer::Ended,
    }
}

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
fn keep<P: OutputPort>(
    mut keeper: Box<dyn Keeper<P>>,
    look: Duration,
    shared: &Shared,
    ends: (&Receiver<P>, &Queue<P>),
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

/// What makes the clock of a [`PortLane`] when it begins.
pub type ClockMaker = Box<dyn FnOnce() -> Box<dyn Clock>>;

/// Time between two looks at the list of ports.
pub const PORT_LOOK: Duration = Duration::from_millis(500);

/// What keeps a port, and how often it looks.
type Kept<P> = (Box<dyn Keeper<P>>, Duration);

/// A MIDI port with the thread that sends to it.
pub struct PortLane<P: OutputPort + 'static> {
    queue: Option<Queue<Item>>,
    wishes: Queue<TimedWish>,
    passages: Receiver<Passage>,
    /// What the thread needs, until it begins.
    idle: Option<(P, ClockMaker, Live)>,
    kept: Option<Kept<P>>,
    thread: Option<JoinHandle<Report>>,
    origin: Option<Instant>,
    shared: Arc<Shared>,
    stop: Arc<AtomicBool>,
    /// Whether the thread asks the system for priority.
    prompt: bool,
    report: Option<Report>,
}

impl<P: OutputPort + 'static> PortLane<P> {
    /// A lane to `port`, timed by the clock that `clock` makes when playing begins. `stop` ends it early.
    pub fn new(port: P, clock: ClockMaker, stop: &Arc<AtomicBool>) -> Self {
        let Lines {
            live,
            queue,
            wishes,
            passages,
            shared,
        } = Lines::new(false);
        PortLane {
            queue,
            wishes,
            passages,
            idle: Some((port, clock, live)),
            kept: None,
            thread: None,
            origin: None,
            shared,
            stop: Arc::clone(stop),
            prompt: false,
            report: None,
        }
    }

    fn with_live(mut self, change: impl FnOnce(Live) -> Live) -> Self {
        self.idle = self
            .idle
            .map(|(port, clock, live)| (port, clock, change(live)));
        self
    }

    /// The same lane beside another that keeps the time: it does not stand still by itself after a stall.
    #[must_use]
    pub fn following(self) -> Self {
        self.with_live(|live| Live {
            alone: false,
            ..live
        })
    }

    /// The same lane, sending the MIDI clock as well.
    #[must_use]
    pub fn with_clock(self) -> Self {
        self.with_live(|live| Live {
            dispatcher: live.dispatcher.with_clock(),
            ..live
        })
    }

    /// The same lane, whose port may go and come: `keeper` looks after it, every `look` ([`PORT_LOOK`] is usual). While it is
    /// gone the piece stands still; [`Lane::condition`] tells.
    #[must_use]
    pub fn kept(mut self, keeper: Box<dyn Keeper<P>>, look: Duration) -> Self {
        self.kept = Some((keeper, look));
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

    /// Jumps of which a follower of the clock could not be told; see [`Dispatcher::untold`].
    pub fn untold(&self) -> u32 {
        self.shared.place.untold()
    }

    /// How often the machine stalled for so long that the piece went on with the next bar.
    pub fn stalls(&self) -> u32 {
        self.shared.stalls.load(Ordering::Relaxed)
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
        let clock = clock();
        self.origin = clock.origin();
        let mut sender = Sender::new(port, clock, Arc::clone(&self.stop));
        let mut kept = None;
        if let Some(keeper) = self.kept.take() {
            let (away, gone) = bounded(4);
            let (put, back) = bounded(1);
            sender = sender.exchanging(Exchange { gone: away, back });
            kept = Some((keeper, gone, put));
        }
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
        if let Some(((keeper, look), gone, back)) = kept {
            let (shared, sending) = (Arc::clone(&self.shared), thread.thread().clone());
            // Not waited for at the end: it may be asking a system that does not answer. Without it a port that goes stays
            // away.
            let _ = thread::Builder::new()
                .name("ports".to_owned())
                .spawn(move || keep(keeper, look, &shared, (&gone, &back), &sending));
        }
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

    fn time_at(&self, instant: Instant) -> Option<Nanos> {
        let since = instant.checked_duration_since(self.origin?)?;
        u64::try_from(since.as_nanos()).ok().map(Nanos::new)
    }

    fn place(&self) -> Here {
        self.shared.place.get()
    }

    fn passage(&mut self) -> Option<Passage> {
        self.passages.try_recv().ok()
    }

    fn condition(&self) -> Condition {
        self.shared.condition()
    }

    fn settle(&mut self) {
        if self.shared.condition() == Condition::Back {
            self.shared.set_condition(Condition::Fine);
        }
    }

    fn offer(&mut self, item: Item) -> Offer {
        offer(self.queue.as_ref(), item)
    }

    fn is_over(&mut self) -> Result<bool, LaneError> {
        Ok(self.thread.as_ref().is_some_and(JoinHandle::is_finished))
    }

    fn close(&mut self) -> Result<(), LaneError> {
        self.queue = None;
        self.idle = None;
        self.shared.done.store(true, Ordering::Relaxed);
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
