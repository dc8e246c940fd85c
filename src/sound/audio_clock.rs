//! The clock of the audio device, so that a MIDI port keeps time with the sound card instead of the processor.
//!
//! Each callback of the device reports which frame its buffer begins with and when that frame will be heard. Those
//! instants jitter by milliseconds; a second-order delay-locked loop smooths them (F. Adriaensen, "Using a DLL to
//! filter time", Linux Audio Conference 2005). [`DelayLocked`] is that loop, [`AudioMap`] what it knows at one time,
//! [`Published`] hands the map from the callback to other threads, and [`AudioClock`] is the clock they wait on.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering, fence};
use std::thread;
use std::time::{Duration, Instant};

use crate::live::{Clock, Waiting};
use crate::time::Nanos;

/// Bandwidth of the loop once it is settled, in hertz: a late callback of 2 ms then moves it by 0.03 ms, and a crystal
/// that is 100 ppm off is followed without a lasting error.
const BANDWIDTH_HZ: f64 = 0.02;

/// Jitter of the callbacks, as a standard deviation in nanoseconds (2 ms to either side, evenly).
const JITTER_NS: f64 = 1_150_000.0;

/// How far the rate of a device may be from what it says, as a standard deviation.
const RATE_DEVIATION: f64 = 200e-6;

/// Farthest that the measured rate may go from what the device says.
const RATE_LIMIT: f64 = 2000e-6;

/// An instant farther off than this, in nanoseconds, is an outlier: the callback was held up.
const OUTLIER_NS: f64 = 6_000_000.0;

/// Outliers that go on for this long, in nanoseconds of sound, are not chance: the device has restarted its count.
const OUTLIERS_NS: f64 = 500_000_000.0;

/// An instant farther off than this, in nanoseconds, is a stall, whatever comes after it.
const STALL_NS: f64 = 300_000_000.0;

/// The loop is locked when its phase is known to this, in nanoseconds (a standard deviation).
const LOCKED_NS: f64 = 250_000.0;

/// How long the clock runs on beyond what was handed to the device, in nanoseconds, before it holds.
const HOLD_NS: f64 = 50_000_000.0;

const NS: f64 = 1e9;

/// What is known of the audio clock at one time: when a frame is heard, and how long a frame takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AudioMap {
    /// A frame, counted from the first that was handed to the device.
    pub frame: u64,
    /// When it is heard, in nanoseconds of the monotonic clock since an epoch the owner chose.
    pub at_ns: f64,
    /// How long a frame takes, in nanoseconds.
    pub ns_per_frame: f64,
    /// Frames handed to the device.
    pub handed: u64,
}

#[allow(clippy::cast_precision_loss)] // 2^53 frames are six thousand years, 2^53 ns a hundred days
pub(super) fn float(n: u64) -> f64 {
    n as f64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates, which is what is wanted
pub(super) fn whole(x: f64) -> u64 {
    x.max(0.0) as u64
}

impl AudioMap {
    /// When a frame is heard, in nanoseconds since the epoch.
    pub fn instant_of(&self, frame: f64) -> f64 {
        self.at_ns + (frame - float(self.frame)) * self.ns_per_frame
    }

    /// Which frame is heard at an instant in nanoseconds since the epoch. Never more than 50 ms beyond the
    /// frames handed over: with nothing more to play the device has stopped, and its clock with it.
    pub fn frame_at(&self, ns: f64) -> f64 {
        let free = float(self.frame) + (ns - self.at_ns) / self.ns_per_frame;
        free.min(self.last_frame())
    }

    fn last_frame(&self) -> f64 {
        float(self.handed) + HOLD_NS / self.ns_per_frame
    }
}

/// The delay-locked loop. Pure: it is given instants and reads no clock.
///
/// The settled loop is Adriaensen's with the damping he gives: with w = 2 pi x bandwidth x length of the buffer, the
/// phase takes sqrt(2) w of each error, the rate w squared. That loop is also what a Kalman filter of phase and rate
/// settles to when the rate wanders; so the gains follow the covariance of that filter, which makes them wide at first
/// and lets the loop lock within seconds instead of minutes.
#[derive(Clone, Copy, Debug)]
pub struct DelayLocked {
    nominal: f64,
    ns_per_frame: f64,
    /// `None` before the first callback.
    track: Option<Track>,
    anchored: u32,
}

/// What the loop knows of the newest buffer.
#[derive(Clone, Copy, Debug)]
struct Track {
    /// Its first frame.
    frame: u64,
    /// When that is heard, in nanoseconds since the epoch.
    at_ns: f64,
    /// Variance of the phase, covariance of phase and rate, variance of the rate.
    variance: [f64; 3],
    /// Instants taken in since the loop began anew.
    taken: u32,
    /// Outliers since the last instant that was taken in.
    outliers: u32,
    /// Nanoseconds of sound that these outliers began.
    outliers_ns: f64,
}

impl DelayLocked {
    /// A loop for a device with a nominal `rate` in frames a second.
    pub fn new(rate: u32) -> Self {
        let nominal = NS / f64::from(rate.max(1));
        DelayLocked {
            nominal,
            ns_per_frame: nominal,
            track: None,
            anchored: 0,
        }
    }

    /// Takes in a callback: its buffer begins with `frame`, which is heard at `ns`. Frames count up without gaps from
    /// buffer to buffer, whether or not they are heard.
    ///
    /// # Real time
    /// Arithmetic only.
    pub fn observe(&mut self, frame: u64, ns: f64) {
        let Some(track) = self.track else {
            let deviation = RATE_DEVIATION * self.nominal;
            self.anchor(frame, ns, deviation * deviation);
            return;
        };
        let n = float(frame.saturating_sub(track.frame));
        let mut track = self.predicted(track, frame, n);
        let error = ns - track.at_ns;
        if error.abs() > STALL_NS {
            self.anchor(frame, ns, track.variance[2]);
            return;
        }
        if error.abs() > OUTLIER_NS {
            track.outliers += 1;
            track.outliers_ns += n * self.nominal;
            let many = track.outliers > track.taken || track.outliers_ns > OUTLIERS_NS;
            if track.outliers >= 3 && many {
                self.anchor(frame, ns, track.variance[2]);
            } else {
                self.track = Some(track);
            }
            return;
        }
        track.outliers = 0;
        track.outliers_ns = 0.0;
        track.taken = track.taken.saturating_add(1);
        let [phase, both, rate] = track.variance;
        let noise = JITTER_NS * JITTER_NS;
        let to_phase = phase / (phase + noise);
        let to_rate = both / (phase + noise);
        track.at_ns += to_phase * error;
        let limit = RATE_LIMIT * self.nominal;
        self.ns_per_frame =
            (self.ns_per_frame + to_rate * error).clamp(self.nominal - limit, self.nominal + limit);
        track.variance = [
            phase * (1.0 - to_phase),
            both * (1.0 - to_phase),
            rate - to_rate * both,
        ];
        self.track = Some(track);
    }

    /// The track `n` frames on, at `frame`, before anything is known of it.
    fn predicted(&self, track: Track, frame: u64, n: f64) -> Track {
        let [phase, both, rate] = track.variance;
        let noise = JITTER_NS * JITTER_NS;
        // A wandering of the rate that settles the gains at the bandwidth.
        let w = std::f64::consts::TAU * BANDWIDTH_HZ * n * self.nominal / NS;
        let wander = if n > 0.0 {
            w.powi(4) * noise / (n * n)
        } else {
            0.0
        };
        Track {
            frame,
            at_ns: track.at_ns + n * self.ns_per_frame,
            variance: [
                phase + n * (2.0 * both + n * rate),
                both + n * rate,
                rate + wander,
            ],
            ..track
        }
    }

    /// Begins anew at an instant, keeping what was learned of the rate.
    fn anchor(&mut self, frame: u64, ns: f64, rate_variance: f64) {
        self.track = Some(Track {
            frame,
            at_ns: ns,
            variance: [JITTER_NS * JITTER_NS, 0.0, rate_variance],
            taken: 1,
            outliers: 0,
            outliers_ns: 0.0,
        });
        self.anchored = self.anchored.saturating_add(1);
    }

    /// Whether the map is good to a millisecond.
    pub fn locked(&self) -> bool {
        self.track
            .is_some_and(|t| t.variance[0] < LOCKED_NS * LOCKED_NS && t.outliers < 3)
    }

    /// How often the loop began anew: once for the first callback, and once for each stall.
    pub fn anchored(&self) -> u32 {
        self.anchored
    }

    /// The map, where `handed` frames are with the device; `None` before the first callback.
    pub fn map(&self, handed: u64) -> Option<AudioMap> {
        let track = self.track?;
        Some(AudioMap {
            frame: track.frame,
            at_ns: track.at_ns,
            ns_per_frame: self.ns_per_frame,
            handed,
        })
    }
}

/// The newest map, written by one thread and read by any: a sequence lock of atomics.
#[derive(Debug, Default)]
pub struct Published {
    /// Odd while it is being written; zero before the first.
    turn: AtomicU64,
    frame: AtomicU64,
    at_ns: AtomicU64,
    ns_per_frame: AtomicU64,
    handed: AtomicU64,
}

impl Published {
    /// Publishes a map. One thread at a time may call it.
    ///
    /// # Real time
    /// A few stores; does not block.
    pub fn publish(&self, map: AudioMap) {
        let turn = self.turn.load(Ordering::Relaxed);
        self.turn.store(turn.wrapping_add(1), Ordering::Relaxed);
        fence(Ordering::Release);
        self.frame.store(map.frame, Ordering::Relaxed);
        self.at_ns.store(map.at_ns.to_bits(), Ordering::Relaxed);
        self.ns_per_frame
            .store(map.ns_per_frame.to_bits(), Ordering::Relaxed);
        self.handed.store(map.handed, Ordering::Relaxed);
        self.turn.store(turn.wrapping_add(2), Ordering::Release);
    }

    /// The newest map; `None` before the first.
    ///
    /// # Real time
    /// Reads again while a map is being written, which takes nanoseconds; yields where the writer was interrupted.
    pub fn read(&self) -> Option<AudioMap> {
        let mut tries = 0_u32;
        loop {
            let turn = self.turn.load(Ordering::Acquire);
            if turn == 0 {
                return None;
            }
            if turn.is_multiple_of(2) {
                let map = AudioMap {
                    frame: self.frame.load(Ordering::Relaxed),
                    at_ns: f64::from_bits(self.at_ns.load(Ordering::Relaxed)),
                    ns_per_frame: f64::from_bits(self.ns_per_frame.load(Ordering::Relaxed)),
                    handed: self.handed.load(Ordering::Relaxed),
                };
                fence(Ordering::Acquire);
                if self.turn.load(Ordering::Relaxed) == turn {
                    return Some(map);
                }
            }
            tries += 1;
            if tries.is_multiple_of(256) {
                thread::yield_now();
            } else {
                std::hint::spin_loop();
            }
        }
    }
}

/// How long to wait for a device that has not begun, or has stalled.
const STALLED: Duration = Duration::from_millis(1);

/// The clock of an audio device: its time 0 is the moment at which a given frame is heard.
///
/// The clock does not move before the device has begun, holds while the device stalls, and never runs backwards: where
/// the map is corrected backwards it holds until the device has caught up.
#[derive(Debug)]
pub struct AudioClock {
    published: Arc<Published>,
    epoch: Instant,
    start: f64,
    /// Frames a second, as the device says: what the frames of a piece are counted by.
    rate: f64,
    offset_ns: f64,
    latest: AtomicU64,
    waiting: Waiting,
}

impl AudioClock {
    /// A clock by the maps in `published`, whose instants count from `epoch`.
    ///
    /// Its time 0 is when frame `start` is heard; `rate` frames are a second. `offset_ms` is what the listener adds:
    /// where sound leaves the speaker that much later than the device says, give it as a positive number, and
    /// everything timed by this clock comes that much later.
    pub fn new(
        published: Arc<Published>,
        epoch: Instant,
        rate: u32,
        start: u64,
        offset_ms: f64,
    ) -> Self {
        AudioClock {
            published,
            epoch,
            start: float(start),
            rate: f64::from(rate.max(1)),
            offset_ns: offset_ms * 1e6,
            latest: AtomicU64::new(0),
            waiting: Waiting::default(),
        }
    }

    /// The time at an instant in nanoseconds since the epoch, below zero before the start. Not yet kept from running
    /// backwards.
    fn position(&self, map: &AudioMap, ns: f64) -> f64 {
        (map.frame_at(ns - self.offset_ns) - self.start) * NS / self.rate
    }

    /// The time at an instant in nanoseconds since the epoch, and whether time 0 has come.
    fn time_at(&self, ns: f64) -> (Nanos, bool) {
        let Some(map) = self.published.read() else {
            return (Nanos::ZERO, false);
        };
        let position = self.position(&map, ns);
        let now = whole(position);
        let latest = self.latest.fetch_max(now, Ordering::Relaxed);
        (Nanos::new(now.max(latest)), position >= 0.0 || latest > 0)
    }

    /// How long until `deadline`, at an instant in nanoseconds since the epoch; zero when it has come.
    fn left(&self, deadline: Nanos, ns: f64) -> Duration {
        let (now, begun) = self.time_at(ns);
        if begun && now >= deadline {
            return Duration::ZERO;
        }
        let Some(map) = self.published.read() else {
            return STALLED;
        };
        let frame = self.start + float(deadline.get()) * self.rate / NS;
        let left = map.instant_of(frame) + self.offset_ns - ns;
        let held = map.frame_at(ns - self.offset_ns) >= map.last_frame();
        if held {
            return STALLED.max(Duration::from_nanos(whole(left)));
        }
        Duration::from_nanos(whole(left).max(1))
    }

    fn instant(&self) -> f64 {
        self.since_epoch(Instant::now())
    }

    #[allow(clippy::cast_precision_loss)] // exact for a hundred days
    fn since_epoch(&self, instant: Instant) -> f64 {
        instant.saturating_duration_since(self.epoch).as_nanos() as f64
    }

    /// What is heard at an instant; `None` before anything is.
    pub fn heard_at(&self, instant: Instant) -> Option<Nanos> {
        let map = self.published.read()?;
        let at = self.position(&map, self.since_epoch(instant));
        (at >= 0.0).then(|| Nanos::new(whole(at)))
    }
}

impl Clock for AudioClock {
    fn now(&self) -> Nanos {
        self.time_at(self.instant()).0
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        self.waiting
            .wait_while(stop, || self.left(deadline, self.instant()))
    }

    fn approach(&self, deadline: Nanos, news: &AtomicBool) -> bool {
        self.waiting
            .approach(news, || self.left(deadline, self.instant()))
    }

    fn woke_late_ns(&self) -> Option<u64> {
        self.waiting.woke_late_ns()
    }

    fn idle(&self) {
        thread::park_timeout(Duration::from_millis(1));
    }
}

#[cfg(test)]
mod tests;
