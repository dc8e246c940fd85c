//! The sending thread: takes timed messages from a bounded channel and sends each at its deadline.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crossbeam_channel::{Receiver, Sender as Away, TryRecvError};

use super::clock::Clock;
use super::silencer::{SILENCING, Silencer};
use crate::live::dispatch::Outgoing;
use crate::live::os::{Granted, stolen_ns};
use crate::live::reporting::{Receipt, Recorder};
use crate::midi::{OutputPort, PortError, System};
use crate::time::{Nanos, Timed};

/// Why the sender stopped.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stopped {
    /// Everything was sent.
    End,
    /// It was asked to.
    Asked,
    /// The port failed.
    Failed(PortError),
}

/// What the sender did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// Messages sent on time or late, silencing not counted.
    pub sent: u64,
    /// How late the latest was, in nanoseconds, measured just before sending.
    pub worst_late_ns: u64,
    /// Messages more than a millisecond late.
    pub late_beyond_1_ms: u64,
    /// Why it ended.
    pub stopped: Stopped,
    /// The whole account.
    pub receipt: Receipt,
}

/// How long a refused message is retried, in nanoseconds; after that the port counts as gone, even if it is still
/// listed.
const REFUSING_NS: u64 = 1_000_000_000;

/// Time between two tries.
const BETWEEN: Nanos = Nanos::new(1_000_000);

/// Where a lost port goes, and where its replacement comes from; both off the sending thread, since closing and opening
/// take time.
pub(crate) struct Exchange<P> {
    /// Takes the port that failed.
    pub(crate) gone: Away<P>,
    /// Gives the port that takes its place.
    pub(crate) back: Receiver<P>,
}

/// Why a message was not sent.
enum Undelivered {
    /// The port failed.
    Failed(PortError),
    /// A stop was asked for while it was refused.
    Stopped,
}

/// Sends timed messages, and silences what sounds however it ends.
pub struct Sender<P: OutputPort, C: Clock> {
    port: Silencer<P>,
    clock: C,
    stop: Arc<AtomicBool>,
    granted: Option<Granted>,
    recorder: Recorder,
    exchange: Option<Exchange<P>>,
    stolen: Option<u64>,
}

impl<P: OutputPort, C: Clock> Sender<P, C> {
    /// A sender that stops early when `stop` is set.
    pub fn new(port: P, clock: C, stop: Arc<AtomicBool>) -> Self {
        Sender {
            port: Silencer::new(port),
            clock,
            stop,
            granted: None,
            recorder: Recorder::default(),
            exchange: None,
            stolen: stolen_ns(),
        }
    }

    /// Notes for the receipt what [`crate::live::prepare_timing_thread`] gave the thread on which it will run.
    #[must_use]
    pub fn granted(mut self, granted: Granted) -> Self {
        self.granted = Some(granted);
        self
    }

    /// The same, waiting for another port where its own is gone, instead of ending.
    #[must_use]
    pub(crate) fn exchanging(mut self, exchange: Exchange<P>) -> Self {
        self.exchange = Some(exchange);
        self
    }

    /// Sends what comes through `queue`, in order, until the other end is dropped, a stop is asked for, or the port
    /// fails. Then everything that sounds is silenced.
    ///
    /// # Real time
    /// The loop does not allocate, lock, print or touch files; it waits only on the clock. Before and after it, the time
    /// that a host took is looked up.
    pub fn run(self, queue: &Receiver<Timed<Outgoing>>) -> Report {
        let stop = Arc::clone(&self.stop);
        self.play(&mut Plain { queue, next: None }, &stop)
    }

    /// Sends what `stream` gives, as [`Sender::run`] does. `news` is set when there is news for the stream: a wait ends
    /// early, and the stream is asked again.
    ///
    /// # Real time
    /// As [`Sender::run`], as long as the stream keeps to it.
    pub fn play<S: Stream>(mut self, stream: &mut S, news: &AtomicBool) -> Report {
        let stopped = self.send_all(stream, news);
        self.finish(stopped)
    }

    /// Silences, and returns the report.
    pub(in crate::live) fn finish(mut self, stopped: Stopped) -> Report {
        self.silence(&stopped);
        let stolen = stolen_ns().zip(self.stolen);
        let stolen = stolen.map(|(after, before)| after.saturating_sub(before));
        let receipt = self.recorder.receipt(self.granted, stolen);
        Report {
            sent: receipt.sent,
            worst_late_ns: receipt.at_call.worst_ns,
            late_beyond_1_ms: receipt.at_call.beyond_1_ms,
            stopped,
            receipt,
        }
    }

    /// Messages refused meanwhile are retried, unless the port has failed.
    fn silence(&mut self, stopped: &Stopped) {
        let (clock, never) = (&self.clock, AtomicBool::new(false));
        let end = clock.now().get() + u64::try_from(SILENCING.as_nanos()).unwrap_or(u64::MAX);
        self.port.silence(&mut || {
            let now = clock.now().get();
            !matches!(stopped, Stopped::Failed(_))
                && now < end
                && clock.wait_until(Nanos::new(now + BETWEEN.get()), &never)
        });
    }

    fn send_all<S: Stream>(&mut self, stream: &mut S, news: &AtomicBool) -> Stopped {
        loop {
            if let Some(stopped) = self.turn(stream, news) {
                return stopped;
            }
        }
    }

    /// Sends the next message, or takes in news; returns why it is over, once it is.
    ///
    /// # Real time
    /// As [`Sender::run`].
    pub(in crate::live) fn turn<S: Stream>(
        &mut self,
        stream: &mut S,
        news: &AtomicBool,
    ) -> Option<Stopped> {
        if self.stop.load(Ordering::Relaxed) {
            return Some(Stopped::Asked);
        }
        if let Some(exchange) = &self.exchange {
            if self.port.is_away() {
                if let Ok(port) = exchange.back.try_recv() {
                    self.port.install(port);
                    stream.returned();
                }
            } else if stream.is_gone() {
                self.lose(stream);
            }
        }
        while let Some(message) = stream.before() {
            let _ = self.port.send(Outgoing::System(message));
        }
        let at = match stream.due(&|| self.clock.now()) {
            Due::At(at) => at,
            Due::Nothing => {
                self.clock.idle();
                return None;
            }
            Due::Over => return Some(Stopped::End),
        };
        if !self.clock.approach(at, news) {
            return None;
        }
        if let Some(late) = self.clock.woke_late_ns() {
            self.recorder.woke(late);
        }
        // Prepared just before its time, so that only the call itself is left.
        let next = stream.step()?;
        if !self.clock.wait_until(at, &self.stop) {
            return Some(Stopped::Asked);
        }
        if self.port.is_away() {
            self.recorder.dropped(1);
            return None;
        }
        match self.deliver(next, stream) {
            Ok(late) => {
                stream.sent(late);
                None
            }
            Err(Undelivered::Stopped) => Some(Stopped::Asked),
            Err(Undelivered::Failed(_)) if self.exchange.is_some() => {
                self.recorder.dropped(1);
                self.lose(stream);
                None
            }
            Err(Undelivered::Failed(e)) => {
                // What waits behind it will not be sent either.
                self.recorder.dropped(1 + stream.waiting());
                Some(Stopped::Failed(e))
            }
        }
    }

    /// Sends one message; a refused one is retried until it is taken, the port is known to be gone, or its time is
    /// over. Returns how late it was taken.
    fn deliver<S: Stream>(
        &mut self,
        next: Timed<Outgoing>,
        stream: &S,
    ) -> Result<Nanos, Undelivered> {
        let called = self.clock.now();
        let mut answer = self.port.send(next.what);
        while let Err(e) = answer {
            self.recorder.refused();
            let now = self.clock.now().get();
            if stream.is_gone() || now.saturating_sub(called.get()) > REFUSING_NS {
                return Err(Undelivered::Failed(e));
            }
            let again = Nanos::new(now + BETWEEN.get());
            if !self.clock.wait_until(again, &self.stop) {
                return Err(Undelivered::Stopped);
            }
            answer = self.port.resend(next.what);
        }
        let taken = self.clock.now();
        self.recorder.sent(next.at, called, taken);
        Ok(Nanos::new(taken.get().saturating_sub(next.at.get())))
    }

    /// The port is gone: silences what it can; the rest waits for another port.
    fn lose<S: Stream>(&mut self, stream: &mut S) {
        stream.lost(self.clock.now());
        if let (Some(port), Some(exchange)) = (self.port.put_away(), &self.exchange)
            && let Err(e) = exchange.gone.try_send(port)
        {
            // Nobody takes it. Better to keep it than to close it here, which could block.
            std::mem::forget(e);
        }
    }
}

/// When a stream has something to send.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    /// At this time.
    At(Nanos),
    /// Nothing is known yet.
    Nothing,
    /// Nothing more will come.
    Over,
}

/// Where messages to be sent come from.
pub trait Stream {
    /// When the next thing is due; `now` is the time. News is taken in here.
    ///
    /// # Real time
    /// Must not allocate, lock or wait.
    fn due(&mut self, now: &dyn Fn() -> Nanos) -> Due;

    /// Does what was due, and returns the resulting message, if any.
    ///
    /// # Real time
    /// Must not allocate, lock or wait.
    fn step(&mut self) -> Option<Timed<Outgoing>>;

    /// A message was taken by the port, so much after its time.
    fn sent(&mut self, late: Nanos) {
        let _ = late;
    }

    /// Messages that wait behind.
    fn waiting(&self) -> u64;

    /// What goes out at once, before anything is due; called until there is no more.
    ///
    /// # Real time
    /// Must not allocate, lock or wait. The same holds for the others.
    fn before(&mut self) -> Option<System> {
        None
    }

    /// Whether the port is known to be gone although it takes messages, as some systems' ports do.
    fn is_gone(&self) -> bool {
        false
    }

    /// The port is gone, as it was noticed at `now`.
    fn lost(&mut self, now: Nanos) {
        let _ = now;
    }

    /// There is a port again.
    fn returned(&mut self) {}
}

/// A queue of messages with their times.
struct Plain<'a> {
    queue: &'a Receiver<Timed<Outgoing>>,
    next: Option<Timed<Outgoing>>,
}

impl Stream for Plain<'_> {
    fn due(&mut self, _: &dyn Fn() -> Nanos) -> Due {
        if self.next.is_none() {
            match self.queue.try_recv() {
                Ok(next) => self.next = Some(next),
                Err(TryRecvError::Empty) => return Due::Nothing,
                Err(TryRecvError::Disconnected) => return Due::Over,
            }
        }
        self.next.map_or(Due::Nothing, |next| Due::At(next.at))
    }

    fn step(&mut self) -> Option<Timed<Outgoing>> {
        self.next.take()
    }

    fn waiting(&self) -> u64 {
        u64::try_from(self.queue.len()).unwrap_or(u64::MAX)
    }
}

#[cfg(test)]
mod tests;
