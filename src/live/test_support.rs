//! Stand-ins for tests: a clock that jumps, a port that records, a lane that is driven by hand. They are not part of
//! the program, but built for this crate's tests, and for others with the feature `test-support`.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use super::dispatch::{Item, Passage, Wish};
use super::sending::{Clock, Due, LiveStream, Report, Sender, Stopped, Stream, live_stream};
use super::transport::{Ends, Here, Lane, LaneError, Offer};
use crate::midi::{OutputPort, PortError};
use crate::time::{Nanos, Timed};

/// A clock that waiting moves on.
#[derive(Clone, Debug, Default)]
pub struct VirtualClock {
    now: Arc<AtomicU64>,
    /// Added to every wait, as a busy machine would.
    oversleep_ns: u64,
}

impl VirtualClock {
    /// A clock that oversleeps every wait by `ns`.
    pub fn oversleeping(ns: u64) -> Self {
        VirtualClock {
            oversleep_ns: ns,
            ..VirtualClock::default()
        }
    }

    /// Moves it on; it never goes back.
    pub fn move_to(&self, at: Nanos) {
        self.now.fetch_max(at.get(), Ordering::SeqCst);
    }
}

impl Clock for VirtualClock {
    fn now(&self) -> Nanos {
        Nanos::new(self.now.load(Ordering::SeqCst))
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        if stop.load(Ordering::SeqCst) {
            return false;
        }
        if self.now() < deadline {
            self.now
                .store(deadline.get() + self.oversleep_ns, Ordering::SeqCst);
        }
        true
    }

    fn idle(&self) {
        thread::yield_now();
    }
}

/// What a [`RecordingPort`] was given, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// When, by the virtual clock.
    pub at: Nanos,
    /// Bytes of the message.
    pub bytes: Vec<u8>,
}

/// A port that keeps what it is given with the time of a virtual clock; it can be told to fail or to panic.
#[derive(Clone, Debug, Default)]
pub struct RecordingPort {
    clock: VirtualClock,
    sent: Arc<Mutex<Vec<Recorded>>>,
    fault: Option<(usize, Fault)>,
    asked: usize,
}

/// What a [`RecordingPort`] does instead of taking a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Refuses this and every later message.
    Gone,
    /// Panics once, and takes messages again.
    Panic,
    /// Refuses one message in so many, and takes it when it is offered again.
    Unwilling(usize),
    /// Takes so long over one message, in real time.
    Blocks(Duration),
}

impl RecordingPort {
    /// A port that reads the time off `clock`.
    pub fn new(clock: &VirtualClock) -> Self {
        RecordingPort {
            clock: clock.clone(),
            ..RecordingPort::default()
        }
    }

    /// The same, failing after `count` messages.
    #[must_use]
    pub fn failing(mut self, count: usize, fault: Fault) -> Self {
        self.fault = Some((count, fault));
        self
    }

    /// What it was given since this was asked last.
    pub fn take(&self) -> Vec<Recorded> {
        self.sent
            .lock()
            .map(|mut sent| std::mem::take(&mut *sent))
            .unwrap_or_default()
    }

    /// What it was given so far, or since the last [`RecordingPort::take`].
    pub fn sent(&self) -> Vec<Recorded> {
        self.sent
            .lock()
            .map(|sent| sent.clone())
            .unwrap_or_default()
    }
}

impl OutputPort for RecordingPort {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        let count = self.sent.lock().map_or(0, |sent| sent.len());
        self.asked += 1;
        match self.fault {
            Some((most, Fault::Unwilling(each)))
                if count >= most && self.asked.is_multiple_of(each.max(1)) =>
            {
                return Err(PortError::Send("no room".to_owned()));
            }
            Some((most, Fault::Blocks(time))) if count >= most => {
                self.fault = None;
                thread::sleep(time);
            }
            Some((most, Fault::Gone)) if count >= most => {
                return Err(PortError::Send("the device is gone".to_owned()));
            }
            Some((most, Fault::Panic)) if count >= most => {
                self.fault = None;
                panic!("asked to");
            }
            _ => {}
        }
        if let Ok(mut sent) = self.sent.lock() {
            sent.push(Recorded {
                at: self.clock.now(),
                bytes: bytes.to_vec(),
            });
        }
        Ok(())
    }
}

/// A lane to a [`RecordingPort`] that plays on the thread of its owner, only when it is told to: controls take effect
/// at an exact moment, and a day takes seconds. Copies are the same lane.
#[derive(Clone)]
pub struct SteppedLane(Rc<RefCell<Stepped>>);

struct Stepped {
    live: LiveStream,
    ends: Ends,
    sender: Option<Sender<RecordingPort, VirtualClock>>,
    clock: VirtualClock,
    epoch: Instant,
    stop: Arc<AtomicBool>,
    interruptions: u64,
    over: Option<Stopped>,
    report: Option<Report>,
}

impl SteppedLane {
    /// A lane to `port`, on the clock it records by.
    pub fn new(port: RecordingPort, clock: &VirtualClock) -> Self {
        Self::playing(live_stream(), port, clock)
    }

    /// The same, sending the MIDI clock as well.
    pub fn with_clock(port: RecordingPort, clock: &VirtualClock) -> Self {
        let (live, ends) = live_stream();
        Self::playing((live.with_clock(), ends), port, clock)
    }

    fn playing(
        (live, ends): (LiveStream, Ends),
        port: RecordingPort,
        clock: &VirtualClock,
    ) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let sender = Sender::new(port, clock.clone(), Arc::clone(&stop));
        SteppedLane(Rc::new(RefCell::new(Stepped {
            live,
            ends,
            sender: Some(sender),
            clock: clock.clone(),
            epoch: Instant::now(),
            stop,
            interruptions: 0,
            over: None,
            report: None,
        })))
    }

    /// Plays what is due before `until`; then that is the time.
    pub fn play_until(&self, until: Nanos) {
        let mut lane = self.0.borrow_mut();
        let Stepped {
            live,
            sender: Some(sender),
            clock,
            over,
            ..
        } = &mut *lane
        else {
            return;
        };
        let never = AtomicBool::new(false);
        while over.is_none() {
            match live.due(&|| clock.now()) {
                Due::At(at) if at < until => *over = sender.turn(live, &never),
                Due::At(_) | Due::Nothing => break,
                Due::Over => *over = Some(Stopped::End),
            }
        }
        clock.move_to(until);
    }

    /// The instant that stands for a time of the clock that jumps.
    pub fn instant(&self, at: Nanos) -> Instant {
        self.0.borrow().epoch + at.as_duration()
    }

    /// From now on it was interrupted once more, as by a dropout.
    pub fn interrupt(&self) {
        self.0.borrow_mut().interruptions += 1;
    }

    /// What was sent, once it is closed.
    pub fn report(&self) -> Option<Report> {
        self.0.borrow().report.clone()
    }

    /// Jumps that could not be sent to a follower of the MIDI clock.
    pub fn untold(&self) -> u32 {
        self.0.borrow().live.shared.place.untold()
    }
}

impl Lane for SteppedLane {
    fn begin(&mut self) -> Result<(), LaneError> {
        Ok(())
    }

    fn offer(&mut self, item: Item) -> Offer {
        self.0.borrow_mut().ends.offer(item)
    }

    fn room(&self) -> usize {
        self.0.borrow().ends.room()
    }

    fn wish(&mut self, wish: Timed<Wish>) {
        let mut lane = self.0.borrow_mut();
        lane.ends.wish(wish);
        lane.live.shared.news.store(true, Ordering::Release);
    }

    fn now(&self) -> Nanos {
        self.0.borrow().clock.now()
    }

    fn time_at(&self, instant: Instant) -> Option<Nanos> {
        let since = instant.checked_duration_since(self.0.borrow().epoch)?;
        u64::try_from(since.as_nanos()).ok().map(Nanos::new)
    }

    fn time(&self) -> Option<Nanos> {
        Some(self.now())
    }

    fn interruptions(&self) -> u64 {
        self.0.borrow().interruptions
    }

    fn place(&self) -> Here {
        self.0.borrow().live.shared.place.get()
    }

    fn passage(&mut self) -> Option<Passage> {
        self.0.borrow_mut().ends.passage()
    }

    fn is_over(&mut self) -> Result<bool, LaneError> {
        Ok(self.0.borrow().over.is_some())
    }

    fn close(&mut self) -> Result<(), LaneError> {
        let mut lane = self.0.borrow_mut();
        let stopped = lane.over.clone().unwrap_or(Stopped::Asked);
        if let Some(sender) = lane.sender.take() {
            lane.report = Some(sender.finish(stopped));
        }
        lane.stop.store(true, Ordering::Relaxed);
        Ok(())
    }
}
