//! The callback without a device.

use super::*;
use crate::diagnostic::Diagnostic;

struct Bench {
    player: Player,
    shared: Arc<Shared>,
    published: Arc<Published>,
    returned: Receiver<Box<dyn Feed>>,
}

fn bench(channels: usize, feed: impl Feed + 'static) -> Bench {
    let Carried {
        epoch,
        published,
        handed,
    } = Carried::new();
    let shared = Arc::new(Shared::new(epoch, handed));
    let (home, returned) = bounded(1);
    let player = Player {
        feed: Some(Box::new(feed)),
        home,
        shared: Arc::clone(&shared),
        published: Arc::clone(&published),
        measured: DelayLocked::new(48_000),
        rate: 48_000,
        channels,
        scratch: vec![0.0; 2 * CHUNK],
        output: Output::Playing,
        is_quiet: false,
    };
    Bench {
        player,
        shared,
        published,
        returned,
    }
}

impl Bench {
    /// What the device gets for `frames` frames.
    fn play<T: SizedSample + FromSample<f32> + Clone>(&mut self, frames: usize) -> Vec<T> {
        // The driver's buffer may hold anything.
        let mut out = vec![T::from_sample_(0.7); frames * self.player.channels];
        self.player.callback(&mut out, Duration::from_millis(20));
        out
    }
}

/// Left counts frames up in thousandths, right is half of it.
fn counting() -> impl Feed {
    let mut n = 0.0_f32;
    move |frames: &mut [f32]| {
        for frame in frames.chunks_exact_mut(2) {
            frame[0] = n / 1000.0;
            frame[1] = n / 2000.0;
            n = (n + 1.0) % 1000.0;
        }
    }
}

/// Half of full scale on both sides, for a number of frames.
struct Half {
    left: usize,
}

impl Feed for Half {
    fn fill(&mut self, frames: &mut [f32]) {
        for frame in frames.chunks_exact_mut(2).take(self.left) {
            frame.fill(0.5);
        }
        self.left -= self.left.min(frames.len() / 2);
    }

    fn is_over(&self) -> bool {
        self.left == 0
    }
}

#[test]
fn stereo_goes_into_any_number_of_channels() {
    let out: Vec<f32> = bench(2, counting()).play(3);
    assert_eq!(out, [0.0, 0.0, 0.001, 0.0005, 0.002, 0.001]);
    let out: Vec<f32> = bench(1, counting()).play(3);
    assert_eq!(out, [0.0, 0.00075, 0.0015]);
    let out: Vec<f32> = bench(4, counting()).play(2);
    assert_eq!(out, [0.0, 0.0, 0.0, 0.0, 0.001, 0.0005, 0.0, 0.0]);
}

#[test]
fn buffers_of_any_size_hold_every_frame_once() {
    let mut bench = bench(2, counting());
    let mut next = 0_u16;
    for frames in [1, 64, 1024, 1025, 5000, 3] {
        let out: Vec<f32> = bench.play(frames);
        for frame in out.chunks_exact(2) {
            assert_eq!(frame[0], f32::from(next) / 1000.0);
            next = (next + 1) % 1000;
        }
    }
    assert_eq!(bench.shared.handed.load(Ordering::Relaxed), 7117);
    assert_eq!(bench.shared.callbacks.load(Ordering::Relaxed), 6);
    assert_eq!(bench.published.read().unwrap().handed, 7117);
}

#[test]
fn every_kind_of_sample_has_its_zero_and_its_full_scale() {
    fn of<T: SizedSample + FromSample<f32>>(x: f32) -> T {
        let mut frame = [T::from_sample_(0.3); 2];
        place(&mut frame, x, x, steps(T::FORMAT));
        frame[0]
    }
    assert_eq!(
        [0.0, 1.0, -1.0, 9.0, -9.0].map(of::<i8>),
        [0, 127, -128, 127, -128]
    );
    assert_eq!([0.0, 1.0, -1.0, 9.0].map(of::<u8>), [128, 255, 0, 255]);
    assert_eq!(
        [0.0, 1.0, -1.0, 9.0].map(of::<i16>),
        [0, 32767, -32768, 32767]
    );
    assert_eq!([0.0, 1.0, -1.0].map(of::<u16>), [32768, 65535, 0]);
    let i24 = [0.0, 1.0, -1.0].map(|x| of::<I24>(x).inner());
    assert_eq!(i24, [0, 0x7f_ffff, -0x80_0000]);
    let u24 = [0.0, 1.0, -1.0].map(|x| of::<U24>(x).inner());
    assert_eq!(u24, [0x80_0000, 0xff_ffff, 0]);
    assert_eq!([0.0, -1.0].map(of::<i32>), [0, i32::MIN]);
    assert!(of::<i32>(1.0) > i32::MAX - 256);
    assert_eq!([0.0, -1.0].map(of::<u32>), [1 << 31, 0]);
    assert!(of::<u32>(1.0) > u32::MAX - 256);
    assert_eq!([0.0, -1.0].map(of::<i64>), [0, i64::MIN]);
    assert!(of::<i64>(1.0) > 0);
    assert_eq!(of::<u64>(0.0), 1 << 63);
    assert_eq!([0.25, -9.0].map(of::<f32>), [0.25, -1.0]);
    assert_eq!([0.25, -9.0].map(of::<f64>), [0.25, -1.0]);
    // NaN is silence, and coarse samples are rounded to the nearest.
    assert_eq!(of::<i16>(f32::NAN), 0);
    assert_eq!([0.6, -0.6, 1.4].map(|x| of::<i16>(x / 32768.0)), [1, -1, 1]);
    assert_eq!(of::<u8>(0.6 / 128.0), 129);
}

#[test]
fn a_panic_of_the_feed_is_silence_and_is_told() {
    let mut calls = 0;
    let mut bench = bench(2, move |frames: &mut [f32]| {
        calls += 1;
        frames.fill(0.5);
        assert!(calls < 2, "meant to happen");
    });
    assert_eq!(bench.play::<f32>(2), [0.5; 4]);
    assert_eq!(bench.play::<f32>(2), [0.0; 4]);
    assert_eq!(bench.play::<f32>(2), [0.0; 4]);
    assert_eq!(bench.shared.feed_end(), FeedEnd::Panicked);
}

#[test]
fn a_feed_that_is_over_is_followed_by_silence() {
    let mut bench = bench(2, Half { left: 30 });
    let out: Vec<f32> = bench.play(20);
    assert_eq!(out, [0.5; 40]);
    assert_eq!(bench.shared.feed_end(), FeedEnd::None);
    let out: Vec<f32> = bench.play(20);
    assert_eq!(out[..20], [0.5; 20]);
    assert_eq!(out[20..], [0.0; 20]);
    assert_eq!(bench.shared.feed_end(), FeedEnd::Over);
    assert_eq!(bench.shared.silent_from.load(Ordering::Relaxed), 40);
    assert_eq!(bench.play::<f32>(4), [0.0; 8]);
}

#[test]
fn a_stop_fades_to_nothing_without_a_jump() {
    let mut bench = bench(2, Half { left: 100_000 });
    bench.play::<f32>(512);
    bench.shared.closing.store(true, Ordering::Relaxed);
    let mut out: Vec<f32> = vec![0.5, 0.5];
    for _ in 0..3 {
        out.extend(bench.play::<f32>(256));
    }
    for pair in out.chunks_exact(2).collect::<Vec<_>>().windows(2) {
        let step = pair[0][0] - pair[1][0];
        assert!((-1e-6..=0.5 / 400.0).contains(&step), "{step}");
    }
    assert_eq!(out[out.len() - 1], 0.0);
    // The fade is a hundredth of a second.
    assert!(out[2 * 400] > 0.0);
    assert_eq!(out[2 * 481..], vec![0.0; out.len() - 2 * 481]);
    assert_eq!(
        bench.shared.silent_from.load(Ordering::Relaxed),
        512 + 2 * 256
    );
    assert_eq!(bench.shared.feed_end(), FeedEnd::Faded);
}

/// A feed that ends while it is faded is over, and what it makes last is faded too.
#[test]
fn a_feed_may_end_in_the_fade() {
    let mut bench = bench(2, Half { left: 100 });
    bench.shared.closing.store(true, Ordering::Relaxed);
    let out: Vec<f32> = bench.play(200);
    assert!(out[2 * 99] > 0.0 && out[2 * 99] < 0.5 * 0.9);
    assert_eq!(bench.shared.feed_end(), FeedEnd::Over);
    assert_eq!(bench.shared.silent_from.load(Ordering::Relaxed), 200);
}

#[test]
fn states_are_told_through_numbers() {
    for feed_end in [
        FeedEnd::None,
        FeedEnd::Faded,
        FeedEnd::Over,
        FeedEnd::Panicked,
    ] {
        assert_eq!(FeedEnd::of(feed_end as u8), feed_end);
    }
    for health in [Health::Good, Health::Gone, Health::OnlyErrors] {
        assert_eq!(Health::of(health as u8), health);
    }
}

#[test]
fn the_feed_comes_home_when_the_stream_is_dropped() {
    let mut bench = bench(2, counting());
    bench.play::<f32>(10);
    let Bench {
        player, returned, ..
    } = bench;
    drop(player);
    let mut feed = returned.try_recv().expect("the feed");
    let mut frame = [0.0; 2];
    feed.fill(&mut frame);
    assert_eq!(frame, [0.01, 0.005]);
}

#[cfg(debug_assertions)]
#[test]
fn the_callback_allocates_nothing() {
    use assert_no_alloc::violation_count;

    let mut bench = bench(2, counting());
    let mut out = vec![0_i16; 2 * 3000];
    bench.player.callback(&mut out, Duration::ZERO);
    let before = violation_count();
    for _ in 0..50 {
        bench.player.callback(&mut out, Duration::ZERO);
    }
    assert_eq!(violation_count() - before, 0);

    // The check itself works.
    let mut bad = self::bench(2, |frames: &mut [f32]| {
        frames[0] = vec![0.5_f32; frames.len()][1];
    });
    bad.player.callback(&mut out, Duration::ZERO);
    assert!(violation_count() > before);
}

#[test]
fn errors_of_the_driver_are_sorted() {
    let shared = Shared::new(Instant::now(), 0);
    for kind in [
        ErrorKind::Xrun,
        ErrorKind::Xrun,
        ErrorKind::BackendError,
        ErrorKind::RealtimeDenied,
        ErrorKind::DeviceChanged,
    ] {
        driver_erred(&shared, kind);
    }
    assert_eq!(shared.xruns.load(Ordering::Relaxed), 2);
    assert_eq!(shared.other_errors.load(Ordering::Relaxed), 1);
    assert_eq!(shared.health(), Health::Good);
    for kind in [
        ErrorKind::DeviceNotAvailable,
        ErrorKind::StreamInvalidated,
        ErrorKind::HostUnavailable,
    ] {
        let shared = Shared::new(Instant::now(), 0);
        driver_erred(&shared, kind);
        assert_eq!(shared.health(), Health::Gone, "{kind:?}");
    }
}

#[test]
fn nothing_but_errors_is_a_device_that_is_gone() {
    let shared = Shared::new(Instant::now(), 0);
    // Just below the pause between errors of a row, then to the brim.
    shared
        .errors_in_a_row
        .store(MOST_ERRORS - 1, Ordering::Relaxed);
    driver_erred(&shared, ErrorKind::Xrun);
    assert_eq!(shared.health(), Health::Good);
    driver_erred(&shared, ErrorKind::Xrun);
    assert_eq!(shared.health(), Health::OnlyErrors);
    // Once a device is gone, other errors add nothing.
    driver_erred(&shared, ErrorKind::DeviceNotAvailable);
    driver_erred(&shared, ErrorKind::Xrun);
    assert_eq!(shared.health(), Health::Gone);
}

/// A handle on a simulated stream.
fn running(shared: Shared, published: Published) -> Running {
    Running {
        stream: None,
        name: "card".to_owned(),
        rate: 48_000,
        channels: 2,
        buffer: None,
        shared: Arc::new(shared),
        published: Arc::new(published),
        returned: bounded(1).1,
    }
}

#[test]
fn the_state_tells_a_silent_device_from_one_that_plays() {
    let ago = Duration::from_secs(5);
    let epoch = Instant::now()
        .checked_sub(ago)
        .expect("a machine on for five seconds");
    let running = running(Shared::new(epoch, 0), Published::default());
    assert_eq!(running.state(), State::Playing);
    running.shared.called_ns.store(0, Ordering::Relaxed);
    assert!(matches!(running.state(), State::Vanished(_)));
    assert_eq!(running.error().unwrap().code(), "sound-gone");
    assert_eq!(
        running.error().unwrap().to_string(),
        "the audio device `card` is gone (it has asked for no sound for 3 seconds)"
    );
}

#[test]
fn it_is_over_when_the_last_frame_was_heard() {
    let published = Published::default();
    let shared = Shared::new(Instant::now(), 0);
    shared.end(FeedEnd::Over, 1000);
    let running = running(shared, published);
    let heard = |at_ns| {
        running.published.publish(super::super::AudioMap {
            frame: 1000,
            at_ns,
            ns_per_frame: 1e6,
            handed: 2000,
        });
    };
    // Frame 1000 is heard in an hour; or was an hour before the epoch, and the device has stopped since.
    assert_eq!(running.heard(), 0);
    heard(3600e9);
    assert_eq!(running.state(), State::Playing);
    assert_eq!(running.heard(), 0);
    heard(-3600e9);
    assert_eq!(running.state(), State::Over);
    assert_eq!(running.heard(), 2000);
}

#[test]
fn going_on_without_the_feed_or_after_a_panic_is_refused() {
    let stop = AtomicBool::new(false);
    let lost = running(Shared::new(Instant::now(), 0), Published::default())
        .go_on(Duration::ZERO, &stop)
        .err()
        .unwrap();
    assert_eq!(lost.error, DeviceError::Blocked);
    assert!(lost.feed.is_none());

    let (home, returned) = bounded(1);
    let feed: Box<dyn Feed> = Box::new(counting());
    assert!(home.try_send(feed).is_ok());
    let mut panicked = running(Shared::new(Instant::now(), 0), Published::default());
    panicked.returned = returned;
    panicked.shared.end(FeedEnd::Panicked, 0);
    let lost = panicked.go_on(Duration::ZERO, &stop).err().unwrap();
    assert_eq!(lost.error, DeviceError::Feed);
    assert!(lost.feed.is_some());
}
