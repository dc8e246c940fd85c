//! Plays a source on lanes: this thread pulls bars, each lane makes them heard.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use crossbeam_channel::{Sender as Queue, TrySendError, bounded};

use super::sender::{Queued, Report, Sender, Stopped};
use super::{Clock, prepare_timing_thread};
use crate::event::{Body, Channel, Event, Message, PartId, Source, Stopwatch};
use crate::midi::{OutputPort, PortError};
use crate::time::Nanos;

/// Messages that may wait between the arranging thread and a lane.
const QUEUE: usize = 1024;

/// How long a lane may take to silence and end, even when a driver blocks.
const SHUTDOWN: Duration = Duration::from_secs(2);

/// Pause between two looks at the lanes.
const LOOK: Duration = Duration::from_millis(5);

/// A message and when it is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed {
    /// When, from the start of playing.
    pub at: Nanos,
    /// Whose message it is.
    pub part: PartId,
    /// On which channel.
    pub channel: Channel,
    /// What.
    pub message: Message,
}

/// Whether a lane took a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Offer {
    /// It did.
    Taken,
    /// It has no room now, or has enough for a while.
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

    /// Offers it a message; they come in the order of their times.
    fn offer(&mut self, timed: &Timed) -> Offer;

    /// Tells it that nothing more comes.
    fn finish(&mut self);

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

/// Plays `source` on all `lanes` to its end, or until `stop` is set; then all lanes are closed. Answers how many bars
/// were handed over, count-in included.
///
/// # Errors
/// The first failure of a lane; the others are closed all the same, and `stop` is set.
pub fn play_on(
    source: &mut dyn Source,
    lanes: &mut [&mut dyn Lane],
    stop: &AtomicBool,
) -> Result<u64, LaneError> {
    // A fault while bars are made must not leave notes sounding: the lanes are closed first.
    let played = catch_unwind(AssertUnwindSafe(|| hand_over(source, lanes, stop)));
    if !matches!(played, Ok(Ok(_))) {
        stop.store(true, Ordering::Relaxed);
    }
    let (mut outcome, fault) = match played {
        Ok(outcome) => (outcome, None),
        Err(fault) => (Ok(0), Some(fault)),
    };
    for lane in lanes.iter_mut() {
        if let Err(e) = lane.close()
            && outcome.is_ok()
        {
            outcome = Err(e);
        }
    }
    if let Some(fault) = fault {
        resume_unwind(fault);
    }
    outcome
}

fn hand_over(
    source: &mut dyn Source,
    lanes: &mut [&mut dyn Lane],
    stop: &AtomicBool,
) -> Result<u64, LaneError> {
    let stopped = || stop.load(Ordering::Relaxed);
    let mut watch = Stopwatch::default();
    let mut events: Vec<Event> = Vec::new();
    let mut bars = 0;
    let mut begun = false;
    'bars: while !stopped() && source.next_bar(&mut events).is_some() {
        bars += 1;
        for event in events.drain(..) {
            let at = watch.read(&event);
            let Body::Channel {
                part,
                channel,
                message,
            } = event.body
            else {
                continue;
            };
            let timed = Timed {
                at,
                part,
                channel,
                message,
            };
            for i in 0..lanes.len() {
                loop {
                    match lanes[i].offer(&timed) {
                        Offer::Taken => break,
                        Offer::Full => {}
                        Offer::Ended => break 'bars,
                    }
                    if !begun {
                        begin(lanes)?;
                        begun = true;
                    }
                    for lane in lanes.iter_mut() {
                        lane.is_over()?;
                    }
                    if stopped() {
                        break 'bars;
                    }
                    thread::sleep(LOOK);
                }
            }
        }
    }
    for lane in lanes.iter_mut() {
        lane.finish();
    }
    if !begun {
        begin(lanes)?;
    }
    while !stopped() {
        let mut over = true;
        for lane in lanes.iter_mut() {
            over &= lane.is_over()?;
        }
        if over {
            break;
        }
        thread::sleep(LOOK);
    }
    Ok(bars)
}

fn begin(lanes: &mut [&mut dyn Lane]) -> Result<(), LaneError> {
    for lane in lanes.iter_mut() {
        lane.begin()?;
    }
    Ok(())
}

/// What makes the clock of a [`PortLane`] when it begins.
pub type ClockMaker = Box<dyn FnOnce() -> Box<dyn Clock>>;

/// A MIDI port with the thread that sends to it.
pub struct PortLane<P: OutputPort + 'static> {
    queue: Option<Queue<Queued>>,
    /// What the thread needs, until it begins.
    idle: Option<(P, ClockMaker, crossbeam_channel::Receiver<Queued>)>,
    thread: Option<JoinHandle<Report>>,
    stop: Arc<AtomicBool>,
    /// Whether the thread asks the system for priority.
    prompt: bool,
    report: Option<Report>,
}

impl<P: OutputPort + 'static> PortLane<P> {
    /// A lane to `port`, timed by the clock that `clock` makes when playing begins. `stop` ends it early.
    pub fn new(port: P, clock: ClockMaker, stop: &Arc<AtomicBool>) -> Self {
        let (queue, taken) = bounded(QUEUE);
        PortLane {
            queue: Some(queue),
            idle: Some((port, clock, taken)),
            thread: None,
            stop: Arc::clone(stop),
            prompt: false,
            report: None,
        }
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
        let Some((port, clock, taken)) = self.idle.take() else {
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
                sender.run(&taken)
            })
            .map_err(|e| LaneError {
                code: "live",
                message: format!("the sending thread cannot be started ({e})"),
                help: AGAIN.to_owned(),
            })?;
        self.thread = Some(thread);
        Ok(())
    }

    fn offer(&mut self, timed: &Timed) -> Offer {
        let Some(queue) = &self.queue else {
            return Offer::Ended;
        };
        let queued = Queued {
            at: timed.at,
            channel: timed.channel,
            message: timed.message,
        };
        match queue.try_send(queued) {
            Ok(()) => Offer::Taken,
            Err(TrySendError::Full(_)) => Offer::Full,
            Err(TrySendError::Disconnected(_)) => Offer::Ended,
        }
    }

    fn finish(&mut self) {
        self.queue = None;
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
    let bars = play_on(source, &mut [&mut lane], stop)?;
    let report = lane.report.take().ok_or(PlayError::Blocked)?;
    Ok(Outcome { report, bars })
}
