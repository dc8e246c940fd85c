//! The lane that is a MIDI port.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, bounded};

use super::clock::Clock;
use super::keeper::{Keeper, Keeping, keep};
use super::sender::{Exchange, Report, Sender, Stopped};
use super::stream::{LiveStream, Shared, live_stream};
use crate::event::Source;
use crate::live::dispatch::{Item, Passage, Wish};
use crate::live::os::prepare_timing_thread;
use crate::live::transport::{Condition, Ends, Here, Lane, LaneError, Offer, play_on};
use crate::midi::OutputPort;
use crate::time::{Nanos, Timed};

/// How long a lane may take to silence and end, even when a driver blocks.
const SHUTDOWN: Duration = Duration::from_secs(2);

/// Pause between two looks at the lanes.
const LOOK: Duration = Duration::from_millis(5);

/// What makes the clock of a [`PortLane`], on the sending thread once that is ready: a lead counts from there.
pub type ClockMaker = Box<dyn FnOnce() -> Box<dyn Clock> + Send>;

/// What watches a port, and how often it looks.
type Kept<P> = (Box<dyn Keeper<P>>, Duration);

/// A MIDI port with the thread that sends to it.
pub struct PortLane<P: OutputPort + 'static> {
    ends: Ends,
    shared: Arc<Shared>,
    stop: Arc<AtomicBool>,
    state: State<P>,
}

enum State<P> {
    /// It has not begun.
    Idle(Box<Idle<P>>),
    /// The thread sends.
    Sending(JoinHandle<Report>),
    /// It was closed; what was sent, unless it never began or the thread did not end.
    Closed(Option<Box<Report>>),
}

/// What the thread needs.
struct Idle<P> {
    port: P,
    clock: ClockMaker,
    live: LiveStream,
    kept: Option<Kept<P>>,
    /// Whether the thread asks the system for priority.
    prompt: bool,
}

impl<P: OutputPort + 'static> PortLane<P> {
    /// A lane to `port`, timed by the clock that `clock` makes when playing begins. `stop` ends it early.
    pub fn new(port: P, clock: ClockMaker, stop: &Arc<AtomicBool>) -> Self {
        let (live, ends) = live_stream();
        PortLane {
            ends,
            shared: Arc::clone(&live.shared),
            stop: Arc::clone(stop),
            state: State::Idle(Box::new(Idle {
                port,
                clock,
                live,
                kept: None,
                prompt: false,
            })),
        }
    }

    /// The same with another setup; it has no effect once the lane has begun.
    fn with(mut self, change: impl FnOnce(Idle<P>) -> Idle<P>) -> Self {
        self.state = match self.state {
            State::Idle(idle) => State::Idle(Box::new(change(*idle))),
            begun => begun,
        };
        self
    }

    fn with_live(self, change: impl FnOnce(LiveStream) -> LiveStream) -> Self {
        self.with(|idle| Idle {
            live: change(idle.live),
            ..idle
        })
    }

    /// The same lane beside another that keeps the time: it does not skip by itself after a stall.
    #[must_use]
    pub fn following(self) -> Self {
        self.with_live(LiveStream::following)
    }

    /// The same lane, sending the MIDI clock as well.
    #[must_use]
    pub fn with_clock(self) -> Self {
        self.with_live(LiveStream::with_clock)
    }

    /// The same lane with a port that may go and come back: `keeper` looks every `look` ([`super::PORT_LOOK`] is
    /// usual). While it is gone the piece is paused; [`Lane::condition`] tells.
    #[must_use]
    pub fn kept(self, keeper: Box<dyn Keeper<P>>, look: Duration) -> Self {
        self.with(|idle| Idle {
            kept: Some((keeper, look)),
            ..idle
        })
    }

    /// The same lane, whose thread asks the system for priority and locked memory: for real clocks.
    #[must_use]
    pub fn prompt(self) -> Self {
        self.with(|idle| Idle {
            prompt: true,
            ..idle
        })
    }

    /// What was sent, once the lane is closed.
    pub fn report(&self) -> Option<&Report> {
        match &self.state {
            State::Closed(report) => report.as_deref(),
            State::Idle(_) | State::Sending(_) => None,
        }
    }

    /// Jumps that could not be sent to a follower of the clock; see [`crate::live::Dispatcher::untold`].
    pub fn untold(&self) -> u32 {
        self.shared.place.untold()
    }

    /// How often the machine stalled for so long that the piece went on with the next bar.
    pub fn stalls(&self) -> u32 {
        self.shared.stalls.load(Ordering::Relaxed)
    }
}

/// Advice for when the live part of the program fails.
const AGAIN: &str = "start again; if a note sounds, switch the instrument off and on";

/// Watches a port on a thread of its own, which is not joined at the end: it may be waiting for a system that does not
/// answer. Without it a port that goes away stays away.
fn look_after<P: OutputPort + 'static>(
    (keeper, look): Kept<P>,
    gone: Receiver<P>,
    back: crossbeam_channel::Sender<P>,
    shared: Arc<Shared>,
    sending: Thread,
) {
    let _ = thread::Builder::new()
        .name("ports".to_owned())
        .spawn(move || {
            let keeping = Keeping {
                look,
                shared: &shared,
                gone: &gone,
                back: &back,
                sending: &sending,
            };
            keep(keeper, &keeping);
        });
}

impl<P: OutputPort + 'static> Lane for PortLane<P> {
    fn begin(&mut self) -> Result<(), LaneError> {
        let idle = match std::mem::replace(&mut self.state, State::Closed(None)) {
            State::Idle(idle) => *idle,
            begun => {
                self.state = begun;
                return Ok(());
            }
        };
        let Idle {
            port,
            clock,
            mut live,
            kept: keeper,
            prompt,
        } = idle;
        let stop = Arc::clone(&self.stop);
        let (mut kept, mut exchange) = (None, None);
        if let Some(keeper) = keeper {
            let (away, gone) = bounded(4);
            let (put, back) = bounded(1);
            exchange = Some(Exchange { gone: away, back });
            kept = Some((keeper, gone, put));
        }
        let thread = thread::Builder::new()
            .name("send".to_owned())
            .spawn(move || {
                // Asking for priority and locked memory takes time, so the origin is taken after it.
                let granted = prompt.then(prepare_timing_thread);
                let shared = Arc::clone(&live.shared);
                let clock = clock();
                if let Some(origin) = clock.origin() {
                    let _ = shared.origin.set(origin);
                }
                let mut sender = Sender::new(port, clock, stop);
                if let Some(granted) = granted {
                    sender = sender.granted(granted);
                }
                if let Some(exchange) = exchange {
                    sender = sender.exchanging(exchange);
                }
                sender.play(&mut live, &shared.news)
            })
            .map_err(|e| LaneError {
                code: "live",
                message: format!("the sending thread cannot be started ({e})"),
                help: AGAIN.to_owned(),
            })?;
        if let Some((kept, gone, back)) = kept {
            let (shared, sending) = (Arc::clone(&self.shared), thread.thread().clone());
            look_after(kept, gone, back, shared, sending);
        }
        self.state = State::Sending(thread);
        Ok(())
    }

    fn room(&self) -> usize {
        self.ends.room()
    }

    fn wish(&mut self, wish: Timed<Wish>) {
        self.ends.wish(wish);
        self.shared.news.store(true, Ordering::Release);
        if let State::Sending(thread) = &self.state {
            thread.thread().unpark();
        }
    }

    fn now(&self) -> Nanos {
        Nanos::new(self.shared.now.load(Ordering::Acquire))
    }

    fn time_at(&self, instant: Instant) -> Option<Nanos> {
        let since = instant.checked_duration_since(*self.shared.origin.get()?)?;
        u64::try_from(since.as_nanos()).ok().map(Nanos::new)
    }

    fn interruptions(&self) -> u64 {
        u64::from(self.stalls())
    }

    fn dropouts(&self) -> u64 {
        u64::from(self.stalls())
    }

    fn heard_late(&self) -> u64 {
        self.shared.late.load(Ordering::Relaxed)
    }

    fn place(&self) -> Here {
        self.shared.place.get()
    }

    fn passage(&mut self) -> Option<Passage> {
        self.ends.passage()
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
        self.ends.offer(item)
    }

    fn is_over(&mut self) -> Result<bool, LaneError> {
        Ok(match &self.state {
            State::Sending(thread) => thread.is_finished(),
            State::Idle(_) | State::Closed(_) => false,
        })
    }

    fn close(&mut self) -> Result<(), LaneError> {
        self.ends.close();
        self.shared.done.store(true, Ordering::Relaxed);
        let thread = match std::mem::replace(&mut self.state, State::Closed(None)) {
            State::Sending(thread) => thread,
            State::Idle(_) => return Ok(()),
            closed @ State::Closed(_) => {
                self.state = closed;
                return Ok(());
            }
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
            Stopped::Failed(e) => Err(LaneError::of(e)),
            _ => Ok(()),
        };
        self.state = State::Closed(Some(Box::new(report)));
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
    let report = lane.report().cloned().ok_or(PlayError::Blocked)?;
    Ok(Outcome { report, bars })
}
