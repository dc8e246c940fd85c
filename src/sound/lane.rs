//! An audio device as a lane of live playing.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Sender, bounded};

use super::audio_clock::AudioClock;
use super::cues::nearest_frame;
use super::desk::Desk;
use super::device::{Device, DeviceError};
use super::stream::{Closed, Feed, Running, State, Tally};

use crate::live::{
    Ends, Here, Intake, Item, Lane, LaneError, Offer, Outgoing, Passage, Place, Wish, channels,
};
use crate::time::{Nanos, Timed};

/// Silence before the first sound: devices drop some as they start.
const LEAD: Duration = Duration::from_millis(150);

/// How long to wait for the device's clock to be known, when a port follows it.
const LOCKING: Duration = Duration::from_secs(8);

/// How long to look for another device when one has vanished.
const PATIENCE: Duration = Duration::from_secs(2);

/// The value of a start that is not set yet.
const NOT_YET: u64 = u64::MAX;

/// State shared by the callback and the lane.
#[derive(Debug)]
struct Shared {
    /// The frame of the device at which time 0 is heard by the desk.
    start: AtomicU64,
    /// Frames made since the device began.
    made: AtomicU64,
    /// Messages that came after their frame.
    late: AtomicU64,
    place: Place,
}

impl Shared {
    fn new(start: u64) -> Arc<Self> {
        Arc::new(Shared {
            start: AtomicU64::new(start),
            made: AtomicU64::new(0),
            late: AtomicU64::new(0),
            place: Place::default(),
        })
    }
}

/// The desk behind the callback.
struct LiveDesk {
    desk: Desk,
    intake: Intake,
    rate_hz: u32,
    made: u64,
    /// Frames of the limiter's delay still to be heard, once all is silent.
    after: usize,
    over: bool,
    shared: Arc<Shared>,
}

impl LiveDesk {
    fn new(desk: Desk, intake: Intake, rate_hz: u32, shared: Arc<Shared>) -> Self {
        LiveDesk {
            after: desk.delay(),
            desk,
            intake,
            rate_hz,
            made: 0,
            over: false,
            shared,
        }
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
        let now = time_of(self.made.saturating_sub(start), self.rate_hz);
        self.intake.dispatcher.look(now);
        self.intake.take_wishes(now);
        while done < frames.len() {
            let mut n = frames.len() - done;
            if let Some(due) = self.intake.dispatcher.due() {
                let at = start.saturating_add(nearest_frame(due, self.rate_hz));
                if at <= self.made {
                    if let Some(sent) = self.intake.dispatcher.step() {
                        if at < self.made {
                            self.shared.late.fetch_add(1, Ordering::Relaxed);
                        }
                        if let Outgoing::Part(message) = sent.what {
                            self.desk.message(message);
                        }
                    }
                    continue;
                }
                n = n.min(usize::try_from(at - self.made).unwrap_or(n));
            }
            self.desk.render(&mut frames[done..done + n]);
            self.made += n as u64;
            done += n;
        }
        self.shared.place.tell(&self.intake.dispatcher);
        if self.intake.dispatcher.is_over() && self.desk.engine().is_silent() {
            self.over = self.after == 0;
            self.after = self.after.saturating_sub(frames.len());
        }
    }
}

/// The time of a frame counted from time 0.
fn time_of(frame: u64, rate_hz: u32) -> Nanos {
    let ns = u128::from(frame) * 1_000_000_000 / u128::from(rate_hz.max(1));
    Nanos::new(u64::try_from(ns).unwrap_or(u64::MAX))
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
    ends: Ends,
    /// Knows what is heard at an instant.
    heard: Option<AudioClock>,
    phase: Phase,
    rate_hz: u32,
    delay: usize,
    shared: Arc<Shared>,
    stop: Arc<AtomicBool>,
    changes: u32,
}

/// The stage of a lane's life.
enum Phase {
    Idle(Box<Idle>),
    Running(Running),
    /// It was closed; what was played, unless it never began or its device was lost.
    Closed(Option<SoundReport>),
}

/// What it needs to begin.
struct Idle {
    device: Device,
    feed: Box<LiveDesk>,
    /// Where the clock goes for a port that follows, and its offset in milliseconds.
    follower: Option<(Sender<AudioClock>, f64)>,
}

impl SoundLane {
    /// A lane to `device` for a desk that was made for its rate. `stop` ends it early.
    pub fn new(device: Device, desk: Desk, stop: &Arc<AtomicBool>) -> Self {
        let (intake, ends) = channels();
        let shared = Shared::new(NOT_YET);
        let rate_hz = device.rate();
        let delay = desk.delay();
        let feed = LiveDesk::new(desk, intake, rate_hz, Arc::clone(&shared));
        SoundLane {
            ends,
            heard: None,
            phase: Phase::Idle(Box::new(Idle {
                device,
                feed: Box::new(feed),
                follower: None,
            })),
            rate_hz,
            delay,
            shared,
            stop: Arc::clone(stop),
            changes: 0,
        }
    }

    /// What gives a port that follows this device its clock, once the lane has begun. The port's messages come
    /// `offset_ms` milliseconds later than what is heard here at the same time; earlier where negative.
    pub fn lead(&mut self, offset_ms: f64) -> impl FnOnce() -> Option<AudioClock> + use<> {
        let (give, take) = bounded(1);
        if let Phase::Idle(idle) = &mut self.phase {
            idle.follower = Some((give, offset_ms));
        }
        move || take.try_recv().ok()
    }

    fn running(&self) -> Option<&Running> {
        match &self.phase {
            Phase::Running(running) => Some(running),
            Phase::Idle(_) | Phase::Closed(_) => None,
        }
    }

    /// Takes the running device, to close it. A lane that has not begun is closed too.
    fn take_running(&mut self) -> Option<Running> {
        match std::mem::replace(&mut self.phase, Phase::Closed(None)) {
            Phase::Running(running) => Some(running),
            Phase::Idle(_) => None,
            closed @ Phase::Closed(_) => {
                self.phase = closed;
                None
            }
        }
    }

    /// How long the newest sound takes to be heard, as the driver says; zero before it has said so.
    pub fn latency(&self) -> Duration {
        self.running()
            .map_or(Duration::ZERO, |running| running.tally().latency)
    }

    /// What was played, once the lane is closed.
    pub fn report(&self) -> Option<&SoundReport> {
        match &self.phase {
            Phase::Closed(report) => report.as_ref(),
            Phase::Idle(_) | Phase::Running(_) => None,
        }
    }

    fn frames(&self, time: Duration) -> u64 {
        let ns = u64::try_from(time.as_nanos()).unwrap_or(0);
        nearest_frame(Nanos::new(ns), self.rate_hz)
    }

    /// Waits until the device's clock is known, for a port that follows it.
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
        let idle = match std::mem::replace(&mut self.phase, Phase::Closed(None)) {
            Phase::Idle(idle) => *idle,
            begun => {
                self.phase = begun;
                return Ok(());
            }
        };
        let running = idle
            .device
            .start(idle.feed)
            .map_err(|e| LaneError::of(&e))?;
        if let Some((give, offset_ms)) = idle.follower {
            self.lock(&running);
            // Ahead of what the driver may ask for at once.
            let ahead = 4 * running.tally().buffers.1 + self.frames(LEAD);
            let start = self.shared.made.load(Ordering::Acquire) + ahead;
            self.shared.start.store(start, Ordering::Release);
            let heard = start + self.delay as u64;
            let _ = give.try_send(running.clock(heard, offset_ms));
            self.heard = Some(running.clock(heard, 0.0));
        } else {
            let start = self.frames(LEAD);
            self.shared.start.store(start, Ordering::Release);
            self.heard = Some(running.clock(start + self.delay as u64, 0.0));
        }
        self.phase = Phase::Running(running);
        Ok(())
    }

    fn offer(&mut self, item: Item) -> Offer {
        self.ends.offer(item)
    }

    fn room(&self) -> usize {
        self.ends.room()
    }

    fn wish(&mut self, wish: Timed<Wish>) {
        self.ends.wish(wish);
    }

    fn now(&self) -> Nanos {
        let start = self.shared.start.load(Ordering::Acquire);
        let made = self.shared.made.load(Ordering::Acquire);
        if start == NOT_YET {
            return Nanos::ZERO;
        }
        time_of(made.saturating_sub(start), self.rate_hz)
    }

    fn grain(&self) -> Nanos {
        let frames = self.running().map_or(0, |r| r.tally().buffers.1);
        time_of(frames, self.rate_hz)
    }

    fn time_at(&self, instant: Instant) -> Option<Nanos> {
        self.heard.as_ref()?.heard_at(instant)
    }

    fn interruptions(&self) -> u64 {
        let before = u64::from(self.changes);
        self.running().map_or(before, |running| {
            let tally = running.tally();
            before + tally.xruns + tally.stalls
        })
    }

    fn dropouts(&self) -> u64 {
        let now = self.running().map_or(0, |running| running.tally().xruns);
        u64::from(self.changes) + now
    }

    fn time_is_known(&self) -> bool {
        self.running().is_some_and(Running::clock_is_locked)
    }

    fn place(&self) -> Here {
        self.shared.place.get()
    }

    fn passage(&mut self) -> Option<Passage> {
        self.ends.passage()
    }

    fn is_over(&mut self) -> Result<bool, LaneError> {
        let Some(running) = self.running() else {
            return Ok(false);
        };
        match running.state() {
            State::Playing => return Ok(false),
            State::Over => return Ok(true),
            State::Panicked => return Err(LaneError::of(&DeviceError::Feed)),
            State::Vanished(_) => {}
        }
        let Some(running) = self.take_running() else {
            return Ok(false);
        };
        match running.go_on(PATIENCE, &self.stop) {
            Ok(running) => {
                self.phase = Phase::Running(running);
                self.changes += 1;
                Ok(false)
            }
            Err(lost) => Err(LaneError::of(&lost.error)),
        }
    }

    fn close(&mut self) -> Result<(), LaneError> {
        self.ends.close();
        let Some(running) = self.take_running() else {
            return Ok(());
        };
        let (device, rate_hz) = (running.name().to_owned(), running.rate());
        let Closed { tally, in_time, .. } = running.stop();
        self.phase = Phase::Closed(Some(SoundReport {
            device,
            rate_hz,
            tally,
            late: self.shared.late.load(Ordering::Relaxed),
            changes: self.changes,
        }));
        if in_time {
            Ok(())
        } else {
            Err(LaneError::of(&DeviceError::Blocked))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::{
        Channel, Header, KeyNumber, Message, PartId, PartInfo, PartMessage, Velocity,
    };
    use crate::live::{Entry, Wish};
    use crate::sound::Peaks;
    use crate::time::Tick;

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

    /// A click at a tick; a quarter lasts half a second.
    fn click(tick: u64) -> Item {
        let entry = Entry::Message {
            tick: Tick::new(tick),
            message: PartMessage {
                part: PartId(0),
                channel: Channel::PERCUSSION,
                message: Message::NoteOn {
                    key: KeyNumber::clamped(76),
                    velocity: Velocity::clamped(100),
                },
            },
        };
        Item { run: 0, entry }
    }

    struct Bench {
        feed: LiveDesk,
        ends: Ends,
        shared: Arc<Shared>,
    }

    fn bench(start: u64, peaks: Peaks) -> Bench {
        let (intake, ends) = channels();
        let shared = Shared::new(start);
        let desk = Desk::new(&header(), 48_000, 1.0, peaks);
        let feed = LiveDesk::new(desk, intake, 48_000, Arc::clone(&shared));
        let origin = Entry::Origin {
            tick: Tick::ZERO,
            song: Some(0),
        };
        let mut bench = Bench { feed, ends, shared };
        bench.put(Item {
            run: 0,
            entry: origin,
        });
        bench
    }

    impl Bench {
        fn put(&mut self, item: Item) {
            assert_eq!(self.ends.offer(item), Offer::Taken);
        }
    }

    /// Frames at which sound begins after silence, when the callback asks for `sizes` in turn.
    fn onsets(bench: &mut Bench, sizes: &[usize]) -> Vec<u64> {
        let delay = bench.feed.desk.delay() as u64;
        let mut found = Vec::new();
        let (mut at, mut silent) = (0u64, 100);
        for turn in 0..2000 {
            if bench.feed.is_over() {
                break;
            }
            let mut frames = vec![0.0f32; 2 * sizes[turn % sizes.len()]];
            let before = assert_no_alloc::violation_count();
            assert_no_alloc::assert_no_alloc(|| bench.feed.fill(&mut frames));
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
        found
    }

    #[test]
    fn every_message_is_heard_on_its_frame() {
        for sizes in [&[512][..], &[64], &[1024, 3, 777], &[4096 / 4]] {
            for peaks in [Peaks::Untouched, Peaks::Limited] {
                let mut bench = bench(7_200, peaks);
                for tick in [0, 960, 1921, 3600] {
                    bench.put(click(tick));
                }
                bench.ends.close();
                let found = onsets(&mut bench, sizes);
                // 25 frames a tick.
                assert_eq!(found, [7_200, 31_200, 55_225, 97_200], "{sizes:?}");
                assert!(bench.feed.is_over());
                assert_eq!(bench.shared.late.load(Ordering::Relaxed), 0);
            }
        }
    }

    #[test]
    fn a_pause_and_a_tempo_take_effect_on_their_frame() {
        let mut bench = bench(0, Peaks::Untouched);
        for beat in 0..4 {
            bench.put(click(beat * 960));
        }
        bench.ends.close();
        for (ms, wish) in [
            (700, Wish::Pause),
            (2000, Wish::Resume),
            (2000, Wish::Tempo(2_000_000)),
        ] {
            let at = Nanos::new(ms * 1_000_000);
            bench.ends.wish(Timed { at, what: wish });
        }
        // Beat 2 was 300 ms away when it stood still; at twice the tempo it is 150, and then 250 to the next.
        let found = onsets(&mut bench, &[512]);
        assert_eq!(found, [0, 24_000, 48 * 2150, 48 * 2400]);
    }

    #[test]
    fn what_comes_late_is_heard_at_once_and_counted() {
        let mut bench = bench(0, Peaks::Untouched);
        let mut frames = vec![0.0f32; 512];
        bench.feed.fill(&mut frames);
        assert!(!bench.feed.is_over());
        bench.put(click(4));
        bench.feed.fill(&mut frames);
        assert!(frames[0] != 0.0);
        assert_eq!(bench.shared.late.load(Ordering::Relaxed), 1);
        assert_eq!(bench.shared.made.load(Ordering::Relaxed), 512);
    }

    #[test]
    fn nothing_sounds_before_a_start_is_set() {
        let mut bench = bench(NOT_YET, Peaks::Untouched);
        bench.put(click(0));
        let mut frames = vec![0.0f32; 512];
        bench.feed.fill(&mut frames);
        assert!(frames.iter().all(|s| *s == 0.0));
        bench.shared.start.store(300, Ordering::Relaxed);
        bench.feed.fill(&mut frames);
        assert!(frames[..88].iter().all(|s| *s == 0.0));
        assert!(frames[88] != 0.0);
    }
}
