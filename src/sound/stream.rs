//! A device that plays: the callback, and the handle on it.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use assert_no_alloc::assert_no_alloc;
use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{ErrorKind, FromSample, I24, SampleFormat, SizedSample, U24};
use crossbeam_channel::{Receiver, Sender, bounded};

use super::audio_clock::{AudioClock, DelayLocked, Published, float, whole};
use super::device::{Device, DeviceError, ask, cause, open_device};
use crate::live::raise_audio_thread;
use crate::midi::Quiet;

/// What makes the sound.
pub trait Feed: Send {
    /// Fills `frames` with the next sound: interleaved stereo, full scale at 1. The slice is zeroed before and of even
    /// length, at most 2048 samples.
    ///
    /// # Real time
    /// Called by the audio driver; must not allocate, lock, wait, print or touch files. A panic is caught: from then on
    /// there is silence, and [`Running::state`] tells.
    fn fill(&mut self, frames: &mut [f32]);

    /// Whether the sound has come to its end; asked after each [`Feed::fill`]. From then on there is silence.
    fn is_over(&self) -> bool {
        false
    }
}

impl<F: FnMut(&mut [f32]) + Send> Feed for F {
    fn fill(&mut self, frames: &mut [f32]) {
        self(frames);
    }
}

/// Frames asked of the feed at once.
const CHUNK: usize = 1024;

/// A stop fades the sound out over a second divided by this.
const FADE: u32 = 100;

/// A device that has not asked for sound for so long is gone. A sound server may well stall for two seconds as it starts.
const SILENT: Duration = Duration::from_secs(3);

/// Errors in a row, with no sound asked for in between, that mean the device is gone.
const MOST_ERRORS: u32 = 200;

/// How long closing may take, even when the driver blocks.
const CLOSING: Duration = Duration::from_secs(2);

/// How long a stop waits for the fade to be heard.
const FADING: Duration = Duration::from_secs(1);

/// How long to wait between two searches for another device.
const LOOK: Duration = Duration::from_millis(250);

const NEVER: u64 = u64::MAX;

/// How the sound of a feed ended, as the callback tells it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
enum FeedEnd {
    /// It has not ended.
    None,
    /// A stop was asked for, and the fade is over.
    Faded,
    /// The feed came to its end.
    Over,
    /// The feed panicked.
    Panicked,
}

impl FeedEnd {
    fn of(number: u8) -> Self {
        let all = [
            FeedEnd::None,
            FeedEnd::Faded,
            FeedEnd::Over,
            FeedEnd::Panicked,
        ];
        let found = all.into_iter().find(|feed_end| *feed_end as u8 == number);
        found.unwrap_or(FeedEnd::None)
    }
}

/// What the driver's errors say about the device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
enum Health {
    /// Nothing that would stop playing.
    Good,
    /// The system no longer has it.
    Gone,
    /// It returns only errors.
    OnlyErrors,
}

impl Health {
    fn of(number: u8) -> Self {
        let all = [Health::Good, Health::Gone, Health::OnlyErrors];
        let found = all.into_iter().find(|health| *health as u8 == number);
        found.unwrap_or(Health::Good)
    }
}

/// What the callback reports to other threads.
struct Shared {
    epoch: Instant,
    /// Nanoseconds since the epoch of the newest callback, or of the start.
    called_ns: AtomicU64,
    callbacks: AtomicU64,
    handed: AtomicU64,
    latency_ns: AtomicU64,
    smallest: AtomicU64,
    largest: AtomicU64,
    xruns: AtomicU64,
    other_errors: AtomicU64,
    errors_in_a_row: AtomicU32,
    stalls: AtomicU64,
    locked: AtomicBool,
    /// A [`Health`], stored as its number.
    health: AtomicU8,
    closing: AtomicBool,
    /// A [`FeedEnd`]; stored after `silent_from`.
    feed_end: AtomicU8,
    /// The frame from which there is silence, where the sound was faded or is over.
    silent_from: AtomicU64,
}

impl Shared {
    fn new(epoch: Instant, handed: u64) -> Self {
        let zero = || AtomicU64::new(0);
        Shared {
            epoch,
            called_ns: AtomicU64::new(since(epoch)),
            callbacks: zero(),
            handed: AtomicU64::new(handed),
            latency_ns: zero(),
            smallest: AtomicU64::new(NEVER),
            largest: zero(),
            xruns: zero(),
            other_errors: zero(),
            errors_in_a_row: AtomicU32::new(0),
            stalls: zero(),
            locked: AtomicBool::new(false),
            health: AtomicU8::new(Health::Good as u8),
            closing: AtomicBool::new(false),
            feed_end: AtomicU8::new(FeedEnd::None as u8),
            silent_from: AtomicU64::new(NEVER),
        }
    }

    fn feed_end(&self) -> FeedEnd {
        FeedEnd::of(self.feed_end.load(Ordering::Acquire))
    }

    /// Tells that the sound has ended, with silence from frame `from`.
    fn end(&self, feed_end: FeedEnd, from: u64) {
        self.silent_from.store(from, Ordering::Relaxed);
        self.feed_end.store(feed_end as u8, Ordering::Release);
    }

    fn health(&self) -> Health {
        Health::of(self.health.load(Ordering::Acquire))
    }

    fn mark_gone(&self) {
        self.health.store(Health::Gone as u8, Ordering::Release);
    }

    /// Marks the device as returning only errors, unless it is known to be gone.
    fn mark_only_errors(&self) {
        let (good, errs) = (Health::Good as u8, Health::OnlyErrors as u8);
        let _ = self
            .health
            .compare_exchange(good, errs, Ordering::AcqRel, Ordering::Acquire);
    }
}

fn since(epoch: Instant) -> u64 {
    nanos(Instant::now().saturating_duration_since(epoch))
}

fn nanos(d: Duration) -> u64 {
    u64::try_from(d.as_nanos()).unwrap_or(u64::MAX)
}

/// Whether the sound of the feed is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Output {
    Playing,
    /// A stop was asked for.
    Fading {
        /// Frames left of the fade.
        left: u32,
    },
    Silent,
}

/// State owned by the callback.
struct Player {
    feed: Option<Box<dyn Feed>>,
    /// Where the feed goes when the callback is dropped, so that it outlives the device.
    home: Sender<Box<dyn Feed>>,
    shared: Arc<Shared>,
    published: Arc<Published>,
    measured: DelayLocked,
    rate: u32,
    channels: usize,
    scratch: Vec<f32>,
    output: Output,
    /// Whether the system library's messages are kept off the terminal, which the first call does.
    is_quiet: bool,
}

impl Player {
    /// One callback. `latency` is how much later than now the first frame of `out` is heard.
    ///
    /// # Real time
    /// Does not allocate, lock or wait, but for the first call, which keeps the system library's messages off the
    /// terminal, and a panic of the feed.
    fn callback<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T], latency: Duration) {
        let now = since(self.shared.epoch);
        if !self.is_quiet {
            self.is_quiet = true;
            let _quiet = Quiet::new();
        }
        assert_no_alloc(|| self.fill(out, now, nanos(latency)));
    }

    fn fill<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T], now: u64, latency: u64) {
        let channels = self.channels.max(1);
        let begin = self.shared.handed.load(Ordering::Relaxed);
        let frames = out.len() / channels;
        self.tell(begin, frames, now, latency);
        let steps = steps(T::FORMAT);
        let mut at = begin;
        for part in out.chunks_mut(CHUNK * channels) {
            let frames = part.len() / channels;
            self.make(frames, at);
            at += frames as u64;
            for (frame, stereo) in part.chunks_mut(channels).zip(self.scratch.chunks_exact(2)) {
                place(frame, stereo[0], stereo[1], steps);
            }
        }
        self.shared.handed.store(at, Ordering::Release);
        if let Some(map) = self.measured.map(at) {
            self.published.publish(map);
        }
    }

    /// Counts the callback, and passes its time to the clock.
    fn tell(&mut self, begin: u64, frames: usize, now: u64, latency: u64) {
        let shared = &self.shared;
        self.measured.observe(begin, float(now) + float(latency));
        shared.called_ns.store(now, Ordering::Relaxed);
        shared.callbacks.fetch_add(1, Ordering::Relaxed);
        shared.latency_ns.store(latency, Ordering::Relaxed);
        shared.smallest.fetch_min(frames as u64, Ordering::Relaxed);
        shared.largest.fetch_max(frames as u64, Ordering::Relaxed);
        shared.errors_in_a_row.store(0, Ordering::Relaxed);
        let stalls = u64::from(self.measured.anchored().saturating_sub(1));
        shared.stalls.store(stalls, Ordering::Relaxed);
        shared
            .locked
            .store(self.measured.locked(), Ordering::Relaxed);
    }

    /// Makes the next frames into the scratch buffer; `at` is the number of the first.
    fn make(&mut self, frames: usize, at: u64) {
        let stereo = &mut self.scratch[..2 * frames];
        stereo.fill(0.0);
        if self.output == Output::Silent {
            return;
        }
        let Some(feed) = self.feed.as_mut() else {
            return;
        };
        let is_over = match catch_unwind(AssertUnwindSafe(|| {
            feed.fill(stereo);
            feed.is_over()
        })) {
            Ok(is_over) => is_over,
            Err(payload) => {
                // Freeing it might panic again.
                std::mem::forget(payload);
                stereo.fill(0.0);
                self.fall_silent(FeedEnd::Panicked, at);
                return;
            }
        };
        let length = (self.rate / FADE).max(1);
        if self.output == Output::Playing && self.shared.closing.load(Ordering::Relaxed) {
            self.output = Output::Fading { left: length };
        }
        let end = at + frames as u64;
        if let Output::Fading { left } = &mut self.output {
            fade(stereo, left, length);
            if *left == 0 && !is_over {
                self.fall_silent(FeedEnd::Faded, end);
            }
        }
        if is_over {
            self.fall_silent(FeedEnd::Over, end);
        }
    }

    fn fall_silent(&mut self, feed_end: FeedEnd, from: u64) {
        self.output = Output::Silent;
        self.shared.end(feed_end, from);
    }
}

/// Continues a fade of `length` frames with `left` to go.
fn fade(stereo: &mut [f32], left: &mut u32, length: u32) {
    #[allow(clippy::cast_precision_loss)] // a few thousand frames
    for frame in stereo.chunks_exact_mut(2) {
        *left = left.saturating_sub(1);
        let gain = *left as f32 / length as f32;
        frame[0] *= gain;
        frame[1] *= gain;
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        if let Some(feed) = self.feed.take() {
            let _ = self.home.try_send(feed);
        }
    }
}

/// How many steps there are between zero and full scale, where samples are coarse enough for rounding to matter.
fn steps(format: SampleFormat) -> Option<f32> {
    match format {
        SampleFormat::I8 | SampleFormat::U8 => Some(128.0),
        SampleFormat::I16 | SampleFormat::U16 => Some(32768.0),
        _ => None,
    }
}

/// The largest number below 1 in 24 bits; full scale itself does not fit whole-number samples.
const BELOW_ONE: f32 = 1.0 - f32::EPSILON / 2.0;

fn sample<T: FromSample<f32>>(x: f32, steps: Option<f32>) -> T {
    // NaN becomes silence.
    let x = if x.is_nan() {
        0.0
    } else {
        x.clamp(-1.0, BELOW_ONE)
    };
    T::from_sample_(match steps {
        Some(steps) => ((x * steps).round() / steps).min(1.0 - 1.0 / steps),
        None => x,
    })
}

/// Puts a stereo pair into a frame of any number of channels.
fn place<T: FromSample<f32> + Copy>(frame: &mut [T], left: f32, right: f32, steps: Option<f32>) {
    match frame {
        [mono] => *mono = sample(0.5 * (left + right), steps),
        [first, second, others @ ..] => {
            *first = sample(left, steps);
            *second = sample(right, steps);
            others.fill(sample(0.0, steps));
        }
        [] => {}
    }
}

/// What a stream takes over from the one before it.
struct Carried {
    epoch: Instant,
    published: Arc<Published>,
    handed: u64,
}

impl Carried {
    fn new() -> Self {
        Carried {
            epoch: Instant::now(),
            published: Arc::new(Published::default()),
            handed: 0,
        }
    }
}

/// Why playing could not go on, and the feed where the driver gave it back.
pub struct Lost {
    /// Why it could not go on.
    pub error: DeviceError,
    /// What made the sound; `None` where the driver never gave it back.
    pub feed: Option<Box<dyn Feed>>,
}

impl Device {
    /// Begins to play what `feed` makes, at the [`rate`](Device::rate) of the device.
    ///
    /// # Errors
    /// When the device cannot be opened after all.
    pub fn start(self, feed: Box<dyn Feed>) -> Result<Running, DeviceError> {
        begin(self, feed, Carried::new()).map_err(|lost| lost.error)
    }
}

/// Starts a stream. The feed comes back with the error.
fn begin(device: Device, feed: Box<dyn Feed>, carried: Carried) -> Result<Running, Lost> {
    let _quiet = Quiet::new();
    let (home, returned) = bounded(1);
    let Carried {
        epoch,
        published,
        handed,
    } = carried;
    let shared = Arc::new(Shared::new(epoch, handed));
    let player = Player {
        feed: Some(feed),
        home,
        shared: Arc::clone(&shared),
        published: Arc::clone(&published),
        measured: DelayLocked::new(device.rate),
        rate: device.rate,
        channels: usize::from(device.channels),
        scratch: vec![0.0; 2 * CHUNK],
        output: Output::Playing,
        is_quiet: false,
    };
    let started = build(&device, player, Arc::clone(&shared)).and_then(|stream| {
        stream.play()?;
        Ok(stream)
    });
    match started {
        Ok(stream) => {
            shared.called_ns.store(since(epoch), Ordering::Relaxed);
            Ok(Running {
                stream: Some(stream),
                name: device.name,
                rate: device.rate,
                channels: device.channels,
                buffer: device.buffer,
                shared,
                published,
                returned,
            })
        }
        Err(e) => Err(Lost {
            error: DeviceError::Open {
                name: device.name,
                cause: cause(&e),
            },
            feed: returned.try_recv().ok(),
        }),
    }
}

fn build(
    device: &Device,
    player: Player,
    shared: Arc<Shared>,
) -> Result<cpal::Stream, cpal::Error> {
    match device.format {
        SampleFormat::I8 => build_as::<i8>(device, player, shared),
        SampleFormat::I16 => build_as::<i16>(device, player, shared),
        SampleFormat::I24 => build_as::<I24>(device, player, shared),
        SampleFormat::I32 => build_as::<i32>(device, player, shared),
        SampleFormat::I64 => build_as::<i64>(device, player, shared),
        SampleFormat::U8 => build_as::<u8>(device, player, shared),
        SampleFormat::U16 => build_as::<u16>(device, player, shared),
        SampleFormat::U24 => build_as::<U24>(device, player, shared),
        SampleFormat::U32 => build_as::<u32>(device, player, shared),
        SampleFormat::U64 => build_as::<u64>(device, player, shared),
        SampleFormat::F32 => build_as::<f32>(device, player, shared),
        SampleFormat::F64 => build_as::<f64>(device, player, shared),
        // `open_device` lets no other kind through; a newer cpal may know more.
        _ => Err(ErrorKind::UnsupportedConfig.into()),
    }
}

fn build_as<T: SizedSample + FromSample<f32>>(
    device: &Device,
    mut player: Player,
    shared: Arc<Shared>,
) -> Result<cpal::Stream, cpal::Error> {
    let config = cpal::StreamConfig {
        channels: device.channels,
        sample_rate: device.rate,
        buffer_size: device
            .buffer
            .map_or(cpal::BufferSize::Default, cpal::BufferSize::Fixed),
    };
    let mut raised = false;
    device.device.build_output_stream(
        config,
        move |out: &mut [T], info: &cpal::OutputCallbackInfo| {
            if !raised {
                raised = true;
                let _ = raise_audio_thread();
            }
            let times = info.timestamp();
            player.callback(out, times.playback.duration_since(times.callback));
        },
        move |error| driver_erred(&shared, error.kind()),
        Some(Duration::from_millis(500)),
    )
}

/// Counts an error of the driver. A dropout or a rare error does not stop the stream.
fn driver_erred(shared: &Shared, kind: ErrorKind) {
    match kind {
        ErrorKind::DeviceNotAvailable
        | ErrorKind::HostUnavailable
        | ErrorKind::StreamInvalidated => {
            shared.mark_gone();
        }
        ErrorKind::Xrun => {
            shared.xruns.fetch_add(1, Ordering::Relaxed);
        }
        ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => return,
        _ => {
            shared.other_errors.fetch_add(1, Ordering::Relaxed);
        }
    }
    let row = shared.errors_in_a_row.fetch_add(1, Ordering::Relaxed);
    if row >= MOST_ERRORS {
        shared.mark_only_errors();
    }
    if row >= 20 {
        // The driver's loop does not wait between errors; this keeps it from using a whole core.
        thread::sleep(Duration::from_millis(5));
    }
}

/// The state of a device that plays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// Sound is being played.
    Playing,
    /// The feed has come to its end, and everything was heard.
    Over,
    /// The feed panicked; there is silence.
    Panicked,
    /// The device is gone, and why.
    Vanished(String),
}

/// Counts of what was played.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Frames handed to the device.
    pub frames: u64,
    /// How often the device asked for sound.
    pub callbacks: u64,
    /// Frames of the smallest and of the largest buffer; zero before the first.
    pub buffers: (u64, u64),
    /// Dropouts: times the device ran out of sound, as the driver counts them.
    pub xruns: u64,
    /// Other errors of the driver that stopped nothing.
    pub other_errors: u64,
    /// Times the device stalled or jumped, and its clock was started anew.
    pub stalls: u64,
    /// How long the newest sound takes to be heard, as the driver says.
    pub latency: Duration,
}

/// How a device was closed.
pub struct Closed {
    /// What made the sound; `None` where the driver never gave it back.
    pub feed: Option<Box<dyn Feed>>,
    /// Whether the driver let go in time. If not, a thread still waits for it, and ends with the program.
    pub in_time: bool,
    /// What was played.
    pub tally: Tally,
}

/// A device that plays. Dropping it stops it at once, in the middle of a waveform; [`Running::stop`] fades first.
pub struct Running {
    /// `None` once it is being closed.
    stream: Option<cpal::Stream>,
    name: String,
    rate: u32,
    channels: u16,
    buffer: Option<u32>,
    shared: Arc<Shared>,
    published: Arc<Published>,
    returned: Receiver<Box<dyn Feed>>,
}

impl Running {
    /// The name of the device.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Channels of the device.
    pub fn channels(&self) -> u16 {
        self.channels
    }

    /// What was played so far.
    pub fn tally(&self) -> Tally {
        let shared = &self.shared;
        let smallest = shared.smallest.load(Ordering::Relaxed);
        Tally {
            frames: shared.handed.load(Ordering::Acquire),
            callbacks: shared.callbacks.load(Ordering::Relaxed),
            buffers: (
                if smallest == NEVER { 0 } else { smallest },
                shared.largest.load(Ordering::Relaxed),
            ),
            xruns: shared.xruns.load(Ordering::Relaxed),
            other_errors: shared.other_errors.load(Ordering::Relaxed),
            stalls: shared.stalls.load(Ordering::Relaxed),
            latency: Duration::from_nanos(shared.latency_ns.load(Ordering::Relaxed)),
        }
    }

    /// Frames heard so far, by the clock of the device; never more than were handed over.
    pub fn heard(&self) -> u64 {
        let Some(map) = self.published.read() else {
            return 0;
        };
        let frame = map.frame_at(float(since(self.shared.epoch)));
        whole(frame).min(map.handed)
    }

    /// Whether the clock of the device is known to a millisecond.
    pub fn clock_is_locked(&self) -> bool {
        self.shared.locked.load(Ordering::Relaxed)
    }

    /// The clock of this device, whose time 0 is when frame `start` is heard; see [`AudioClock::new`] for `offset_ms`.
    /// It lives on through [`Running::go_on`].
    pub fn clock(&self, start: u64, offset_ms: f64) -> AudioClock {
        AudioClock::new(
            Arc::clone(&self.published),
            self.shared.epoch,
            self.rate,
            start,
            offset_ms,
        )
    }

    /// Its state now.
    pub fn state(&self) -> State {
        let shared = &self.shared;
        match shared.feed_end() {
            FeedEnd::Panicked => return State::Panicked,
            FeedEnd::Over if self.silence_is_heard() => return State::Over,
            _ => {}
        }
        match shared.health() {
            Health::Gone => return State::Vanished("the system no longer has it".to_owned()),
            Health::OnlyErrors => {
                return State::Vanished("it answers with nothing but errors".to_owned());
            }
            Health::Good => {}
        }
        let quiet = since(shared.epoch).saturating_sub(shared.called_ns.load(Ordering::Relaxed));
        if Duration::from_nanos(quiet) > SILENT {
            return State::Vanished(format!(
                "it has asked for no sound for {} seconds",
                SILENT.as_secs()
            ));
        }
        State::Playing
    }

    /// Its state as an error; `None` while it plays and when it is over.
    pub fn error(&self) -> Option<DeviceError> {
        match self.state() {
            State::Playing | State::Over => None,
            State::Panicked => Some(DeviceError::Feed),
            State::Vanished(cause) => Some(DeviceError::Vanished {
                name: self.name.clone(),
                cause,
            }),
        }
    }

    /// Whether the last frame before the final silence has been heard.
    fn silence_is_heard(&self) -> bool {
        if !matches!(self.shared.feed_end(), FeedEnd::Faded | FeedEnd::Over) {
            return false;
        }
        let from = self.shared.silent_from.load(Ordering::Relaxed);
        self.published
            .read()
            .is_some_and(|map| map.frame_at(float(since(self.shared.epoch))) >= float(from))
    }

    /// Fades out within ten milliseconds, waits until that was heard (for a second at most) and closes the device.
    ///
    /// Takes at most three seconds, even when the driver blocks.
    pub fn stop(mut self) -> Closed {
        self.shared.closing.store(true, Ordering::Release);
        let began = Instant::now();
        while self.state() == State::Playing && !self.silence_is_heard() && began.elapsed() < FADING
        {
            thread::sleep(Duration::from_millis(2));
        }
        self.close()
    }

    /// Closes the device on a thread of its own, since a driver may block.
    fn close(&mut self) -> Closed {
        let stream = self.stream.take();
        let in_time = stream.is_none_or(|stream| ask(CLOSING, move || drop(stream)).is_some());
        Closed {
            feed: self.returned.try_recv().ok(),
            in_time,
            tally: self.tally(),
        }
    }

    /// After the device has vanished: opens the default device at the same rate and goes on with the same feed, where
    /// the last buffer ended. Looks for a device until `patience` is over or `stop` is set.
    ///
    /// Frames handed over but not yet heard are lost. Clocks made by [`Running::clock`] hold meanwhile, then go on by
    /// the new device. The counts of [`Running::tally`] begin anew, but for the frames.
    ///
    /// # Errors
    /// When the old driver did not give the feed back, the feed had panicked, or there is no device that plays at this
    /// rate. The feed comes with the error, where there is one, so that the caller may do something else with it; the
    /// clocks stay where they are, so any thread waiting on one must be stopped.
    pub fn go_on(mut self, patience: Duration, stop: &AtomicBool) -> Result<Running, Lost> {
        let gone = self.error().unwrap_or_else(|| DeviceError::Vanished {
            name: self.name.clone(),
            cause: "it was given up".to_owned(),
        });
        let closed = self.close();
        let Some(mut feed) = closed.feed else {
            return Err(Lost {
                error: DeviceError::Blocked,
                feed: None,
            });
        };
        if gone == DeviceError::Feed {
            return Err(Lost {
                error: gone,
                feed: Some(feed),
            });
        }
        let began = Instant::now();
        loop {
            let carried = Carried {
                epoch: self.shared.epoch,
                published: Arc::clone(&self.published),
                handed: closed.tally.frames,
            };
            let opened = open_device(None)
                .and_then(|device| device.at_rate(self.rate))
                .map(|device| device.with_buffer(self.buffer));
            let lost = match opened {
                Ok(device) => match begin(device, feed, carried) {
                    Ok(running) => return Ok(running),
                    Err(lost) => lost,
                },
                Err(error) => Lost {
                    error,
                    feed: Some(feed),
                },
            };
            let Some(saved) = lost.feed else {
                return Err(lost);
            };
            feed = saved;
            if began.elapsed() >= patience || stop.load(Ordering::Relaxed) {
                return Err(Lost {
                    // The first error says more than that no other device was found. One that was found and does not fit is
                    // told.
                    error: match lost.error {
                        other @ (DeviceError::Rate { .. } | DeviceError::Format { .. }) => other,
                        _ => gone,
                    },
                    feed: Some(feed),
                });
            }
            thread::sleep(LOOK);
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if self.stream.is_some() {
            let _ = self.close();
        }
    }
}

#[cfg(test)]
mod tests;
