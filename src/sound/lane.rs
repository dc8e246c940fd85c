//! An audio device as a lane of live playing.

use std::cell::Cell;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Sender, TryRecvError, TrySendError, bounded};

use super::audio_clock::AudioClock;
use super::cues::{Cue, nearest_frame};
use super::desk::Desk;
use super::device::{Device, DeviceError};
use super::stream::{Closed, Feed, Running, State, Tally};
use crate::live::{Lane, LaneError, Offer, Timed};

/// Messages that may wait for the callback.
const QUEUE: usize = 4096;

/// Seconds of messages handed over ahead of what is heard.
const HORIZON: u64 = 2;

/// Silence before the first sound: a device swallows some as it starts.
const LEAD: Duration = Duration::from_millis(150);

/// How long to wait for the device's clock to be known, when a port follows it.
const LOCKING: Duration = Duration::from_secs(8);

/// How long to look for another device when one has vanished.
const PATIENCE: Duration = Duration::from_secs(2);

/// A start that was not set yet.
const NOT_YET: u64 = u64::MAX;

/// What both sides know.
#[derive(Debug)]
struct Shared {
    /// The frame of the device at which time 0 is heard by the desk.
    start: AtomicU64,
    /// Frames made since the device began.
    made: AtomicU64,
    /// Messages that came after their frame.
    late: AtomicU64,
}

/// The desk behind the callback.
struct LiveDesk {
    desk: Desk,
    queue: Receiver<Cue>,
    next: Option<Cue>,
    /// Whether the other end has finished.
    ended: bool,
    made: u64,
    /// Frames of the limiter's delay still to be heard, once all is silent.
    after: usize,
    over: bool,
    shared: Arc<Shared>,
}

impl LiveDesk {
    fn new(desk: Desk, queue: Receiver<Cue>, shared: Arc<Shared>) -> Self {
        LiveDesk {
            after: desk.delay(),
            desk,
            queue,
            next: None,
            ended: false,
            made: 0,
            over: false,
            shared,
        }
    }

    fn peek(&mut self) -> Option<Cue> {
        if self.next.is_none() && !self.ended {
            match self.queue.try_recv() {
                Ok(cue) => self.next = Some(cue),
                Err(TryRecvError::Empty) => {}
                Err(TryRecvError::Disconnected) => self.ended = true,
            }
        }
        self.next
    }

    /// Makes the next frames; `start` is the frame of time 0.
    fn make(&mut self, frames: &mut [[f32; 2]], start: u64) {
        let mut done = 0;
        if self.made < start {
            done = usize::try_from(start - self.made)
                .unwrap_or(usize::MAX)
                .min(frames.len());
            self.made += done as u64;
        }
        while done < frames.len() {
            let mut n = frames.len() - done;
            if let Some(cue) = self.peek() {
                let at = start.saturating_add(cue.frame);
                if at <= self.made {
                    if at < self.made {
                        self.shared.late.fetch_add(1, Ordering::Relaxed);
                    }
                    self.desk.message(&cue);
                    self.next = None;
                    continue;
                }
                n = n.min(usize::try_from(at - self.made).unwrap_or(n));
            }
            self.desk.render(&mut frames[done..done + n]);
            self.made += n as u64;
            done += n;
        }
        if self.peek().is_none() && self.ended && self.desk.engine().is_silent() {
            self.over = self.after == 0;
            self.after = self.after.saturating_sub(frames.len());
        }
    }
}

impl Feed for LiveDesk {
    fn fill(&mut self, frames: &mut [f32]) {
        let (frames, _) = frames.as_chunks_mut::<2>();
        let start = self.shared.start.load(Ordering::Acquire);
        if start == NOT_YET {
            self.made += frames.len() as u64;
        } else {
            self.make(frames, start);
        }
        self.shared.made.store(self.made, Ordering::Release);
    }

    fn is_over(&self) -> bool {
        self.over
    }
}

/// How playing to an audio device went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoundReport {
    /// The device that played last.
    pub device: String,
    /// Frames a second.
    pub rate_hz: u32,
    /// What it was handed.
    pub tally: Tally,
    /// Messages that came after their frame and were heard at once.
    pub late: u64,
    /// How often another device took over.
    pub changes: u32,
}

/// An audio device that plays the built-in voices.
pub struct SoundLane {
    queue: Option<Sender<Cue>>,
    idle: Option<(Device, Box<LiveDesk>)>,
    running: Option<Running>,
    rate_hz: u32,
    delay: usize,
    shared: Arc<Shared>,
    /// Where the clock goes for a port that follows, and its offset in milliseconds.
    follower: Option<(Rc<Cell<Option<AudioClock>>>, f64)>,
    stop: Arc<AtomicBool>,
    changes: u32,
    report: Option<SoundReport>,
}

/// The lane's failure for a device's.
fn failed(e: &DeviceError) -> LaneError {
    LaneError {
        code: e.code(),
        message: e.to_string(),
        help: e.help(),
    }
}

impl SoundLane {
    /// A lane to `device` for a desk that was made for its rate. `stop` ends it early.
    pub fn new(device: Device, desk: Desk, stop: &Arc<AtomicBool>) -> Self {
        let (queue, taken) = bounded(QUEUE);
        let shared = Arc::new(Shared {
            start: AtomicU64::new(NOT_YET),
            made: AtomicU64::new(0),
            late: AtomicU64::new(0),
        });
        let rate_hz = device.rate();
        let delay = desk.delay();
        let feed = LiveDesk::new(desk, taken, Arc::clone(&shared));
        SoundLane {
            queue: Some(queue),
            idle: Some((device, Box::new(feed))),
            running: None,
            rate_hz,
            delay,
            shared,
            follower: None,
            stop: Arc::clone(stop),
            changes: 0,
            report: None,
        }
    }

    /// What gives a port that follows this device its clock, once the lane has begun. The port's messages come
    /// `offset_ms` milliseconds later than what is heard here at the same time; earlier where negative.
    pub fn lead(&mut self, offset_ms: f64) -> impl FnOnce() -> Option<AudioClock> + use<> {
        let cell = Rc::new(Cell::new(None));
        self.follower = Some((Rc::clone(&cell), offset_ms));
        move || cell.take()
    }

    /// How long the newest sound takes to be heard, as the driver says; zero before it has said so.
    pub fn latency(&self) -> Duration {
        self.running
            .as_ref()
            .map_or(Duration::ZERO, |running| running.tally().latency)
    }

    /// What was played, once the lane is closed.
    pub fn report(&self) -> Option<&SoundReport> {
        self.report.as_ref()
    }

    fn frames(&self, time: Duration) -> u64 {
        let ns = u64::try_from(time.as_nanos()).unwrap_or(0);
        nearest_frame(crate::time::Nanos::new(ns), self.rate_hz)
    }

    /// Waits until the clock of the device is known, for a port that follows it.
    fn lock(&self, running: &Running) {
        let began = Instant::now();
        while !running.clock_is_locked()
            && began.elapsed() < LOCKING
            && running.error().is_none()
            && !self.stop.load(Ordering::Relaxed)
        {
            thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Lane for SoundLane {
    fn begin(&mut self) -> Result<(), LaneError> {
        let Some((device, feed)) = self.idle.take() else {
            return Ok(());
        };
        let running = device.start(feed).map_err(|e| failed(&e))?;
        if let Some((cell, offset_ms)) = self.follower.take() {
            self.lock(&running);
            // Ahead of what the driver may ask for at once.
            let ahead = 4 * running.tally().buffers.1 + self.frames(LEAD);
            let start = self.shared.made.load(Ordering::Acquire) + ahead;
            self.shared.start.store(start, Ordering::Release);
            let heard = start + self.delay as u64;
            cell.set(Some(running.clock(heard, offset_ms)));
        } else {
            let start = self.frames(LEAD);
            self.shared.start.store(start, Ordering::Release);
        }
        self.running = Some(running);
        Ok(())
    }

    fn offer(&mut self, timed: &Timed) -> Offer {
        let Some(queue) = &self.queue else {
            return Offer::Ended;
        };
        let start = self.shared.start.load(Ordering::Acquire);
        let made = self.shared.made.load(Ordering::Acquire);
        let reached = if start == NOT_YET {
            0
        } else {
            made.saturating_sub(start)
        };
        let frame = nearest_frame(timed.at, self.rate_hz);
        if frame > reached + HORIZON * u64::from(self.rate_hz) {
            return Offer::Full;
        }
        let cue = Cue {
            frame,
            part: timed.part,
            channel: timed.channel,
            message: timed.message,
        };
        match queue.try_send(cue) {
            Ok(()) => Offer::Taken,
            Err(TrySendError::Full(_)) => Offer::Full,
            Err(TrySendError::Disconnected(_)) => Offer::Ended,
        }
    }

    fn finish(&mut self) {
        self.queue = None;
    }

    fn is_over(&mut self) -> Result<bool, LaneError> {
        let Some(running) = &self.running else {
            return Ok(false);
        };
        match running.state() {
            State::Playing => return Ok(false),
            State::Over => return Ok(true),
            State::Panicked => return Err(failed(&DeviceError::Feed)),
            State::Vanished(_) => {}
        }
        let Some(running) = self.running.take() else {
            return Ok(false);
        };
        match running.go_on(PATIENCE, &self.stop) {
            Ok(running) => {
                self.running = Some(running);
                self.changes += 1;
                Ok(false)
            }
            Err(lost) => Err(failed(&lost.error)),
        }
    }

    fn close(&mut self) -> Result<(), LaneError> {
        self.queue = None;
        self.idle = None;
        let Some(running) = self.running.take() else {
            return Ok(());
        };
        let (device, rate_hz) = (running.name().to_owned(), running.rate());
        let Closed { tally, in_time, .. } = running.stop();
        self.report = Some(SoundReport {
            device,
            rate_hz,
            tally,
            late: self.shared.late.load(Ordering::Relaxed),
            changes: self.changes,
        });
        if in_time {
            Ok(())
        } else {
            Err(failed(&DeviceError::Blocked))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::{Channel, Header, KeyNumber, Message, PartId, PartInfo, Velocity};

    fn header() -> Header {
        Header {
            title: "test".to_owned(),
            seed: 1,
            parts: vec![PartInfo {
                name: "click",
                channel: Channel::PERCUSSION,
                program: None,
                rank: 0,
                pulse: true,
                level: 100,
                pan: 0,
            }],
        }
    }

    fn cue(frame: u64) -> Cue {
        Cue {
            frame,
            part: PartId(0),
            channel: Channel::PERCUSSION,
            message: Message::NoteOn {
                key: KeyNumber::clamped(76),
                velocity: Velocity::clamped(100),
            },
        }
    }

    /// Frames at which sound begins after silence, when the callback asks for `sizes` in turn.
    fn onsets(cues: &[Cue], start: u64, sizes: &[usize], limited: bool) -> (Vec<u64>, bool, u64) {
        let (queue, taken) = bounded(64);
        let shared = Arc::new(Shared {
            start: AtomicU64::new(start),
            made: AtomicU64::new(0),
            late: AtomicU64::new(0),
        });
        let desk = Desk::new(&header(), 48_000, 1.0, limited);
        let delay = desk.delay() as u64;
        let mut feed = LiveDesk::new(desk, taken, Arc::clone(&shared));
        for cue in cues {
            queue.send(*cue).unwrap();
        }
        drop(queue);
        let mut found = Vec::new();
        let (mut at, mut silent) = (0u64, 100);
        for turn in 0..2000 {
            if feed.is_over() {
                break;
            }
            let mut frames = vec![0.0f32; 2 * sizes[turn % sizes.len()]];
            let before = assert_no_alloc::violation_count();
            assert_no_alloc::assert_no_alloc(|| feed.fill(&mut frames));
            assert_eq!(assert_no_alloc::violation_count(), before);
            for frame in frames.chunks(2) {
                if frame == [0.0, 0.0] {
                    silent += 1;
                } else {
                    if silent >= 100 {
                        found.push(at - delay);
                    }
                    silent = 0;
                }
                at += 1;
            }
        }
        (found, feed.is_over(), shared.late.load(Ordering::Relaxed))
    }

    #[test]
    fn every_message_is_heard_on_its_frame() {
        let cues = [cue(0), cue(24_000), cue(48_001), cue(90_000)];
        for sizes in [&[512][..], &[64], &[1024, 3, 777], &[4096 / 4]] {
            for limited in [false, true] {
                let (found, over, late) = onsets(&cues, 7_200, sizes, limited);
                assert_eq!(found, [7_200, 31_200, 55_201, 97_200], "{sizes:?}");
                assert!(over);
                assert_eq!(late, 0);
            }
        }
    }

    #[test]
    fn what_comes_late_is_heard_at_once_and_counted() {
        let (queue, taken) = bounded(64);
        let shared = Arc::new(Shared {
            start: AtomicU64::new(0),
            made: AtomicU64::new(0),
            late: AtomicU64::new(0),
        });
        let desk = Desk::new(&header(), 48_000, 1.0, false);
        let mut feed = LiveDesk::new(desk, taken, Arc::clone(&shared));
        let mut frames = vec![0.0f32; 512];
        feed.fill(&mut frames);
        assert!(!feed.is_over());
        queue.send(cue(100)).unwrap();
        feed.fill(&mut frames);
        assert!(frames[0] != 0.0);
        assert_eq!(shared.late.load(Ordering::Relaxed), 1);
        assert_eq!(shared.made.load(Ordering::Relaxed), 512);
    }

    #[test]
    fn nothing_sounds_before_a_start_is_set() {
        let (queue, taken) = bounded(64);
        let shared = Arc::new(Shared {
            start: AtomicU64::new(NOT_YET),
            made: AtomicU64::new(0),
            late: AtomicU64::new(0),
        });
        let desk = Desk::new(&header(), 48_000, 1.0, false);
        let mut feed = LiveDesk::new(desk, taken, Arc::clone(&shared));
        queue.send(cue(0)).unwrap();
        let mut frames = vec![0.0f32; 512];
        feed.fill(&mut frames);
        assert!(frames.iter().all(|s| *s == 0.0));
        shared.start.store(300, Ordering::Relaxed);
        feed.fill(&mut frames);
        assert!(frames[..88].iter().all(|s| *s == 0.0));
        assert!(frames[88] != 0.0);
    }
}
