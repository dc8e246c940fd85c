//! The loop and the clock against simulated devices, whose true time is known.

use proptest::prelude::*;
use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

use super::*;

const RATE: u32 = 48_000;

/// A device whose crystal is off and whose callbacks jitter.
struct FakeDevice {
    /// True length of a frame in nanoseconds.
    frame_ns: f64,
    buffer: u64,
    latency_ns: f64,
    chance: Xoshiro256PlusPlus,
    /// The buffer before which the device stalls, and for how long.
    stall: Option<(u64, f64)>,
}

impl FakeDevice {
    fn new(ppm: f64, buffer: u64, latency_ms: f64, seed: u64) -> Self {
        FakeDevice {
            frame_ns: NS / f64::from(RATE) / (1.0 + ppm * 1e-6),
            buffer,
            latency_ns: latency_ms * 1e6,
            chance: Xoshiro256PlusPlus::seed_from_u64(seed),
            stall: None,
        }
    }

    /// When a frame is truly heard.
    fn heard(&self, frame: f64) -> f64 {
        let stalled = match self.stall {
            Some((at, ns)) if frame >= float(at * self.buffer) => ns,
            _ => 0.0,
        };
        1e9 + frame * self.frame_ns + stalled
    }

    /// When the device asks for the buffer that begins with a frame: up to 2 ms early or late, and now and then 20 ms
    /// late.
    fn called(&mut self, frame: u64) -> f64 {
        let even = |x: u64| float(x >> 11) / float(1 << 53);
        let tremble = 4e6 * even(self.chance.next_u64()) - 2e6;
        let late = self.chance.next_u64().is_multiple_of(700);
        self.heard(float(frame)) - self.latency_ns + tremble + if late { 20e6 } else { 0.0 }
    }
}

/// How a run went.
#[derive(Debug)]
struct Run {
    /// Seconds until the loop said it was locked, after the stall if there was one.
    lock_s: f64,
    /// The worst error of an event's deadline while it was locked, in nanoseconds.
    worst_deadline: f64,
    /// The worst error of the clock's own time while it was locked, in nanoseconds.
    worst_time: f64,
    anchored: u32,
}

/// Plays for `seconds` of the device's time. Panics where the clock runs backwards.
fn run(mut device: FakeDevice, seconds: f64) -> Run {
    let epoch = Instant::now();
    let published = Arc::new(Published::default());
    let clock = AudioClock::new(Arc::clone(&published), epoch, RATE, 0, 0.0);
    let mut measured = DelayLocked::new(RATE);
    let buffers = whole(seconds * f64::from(RATE)) / device.buffer;
    let mut done = Run {
        lock_s: f64::INFINITY,
        worst_deadline: 0.0,
        worst_time: 0.0,
        anchored: 0,
    };
    let mut latest = Nanos::ZERO;
    let mut called = device.called(0);
    for k in 0..buffers {
        let frame = k * device.buffer;
        if device.stall.is_some_and(|(at, _)| at == k) {
            done.lock_s = f64::INFINITY;
        }
        measured.observe(frame, called + device.latency_ns);
        let map = measured.map(frame + device.buffer).unwrap();
        published.publish(map);
        // Until the next callback, which never comes before this one.
        let now = called;
        let next = device.called(frame + device.buffer).max(now);
        called = next;
        if measured.locked() && done.lock_s.is_infinite() {
            let since = device
                .stall
                .map_or(0, |(at, _)| if k >= at { at } else { 0 });
            done.lock_s = float(frame - since * device.buffer) / f64::from(RATE);
        }
        for instant in [now, now + 0.5 * (next - now), next] {
            let (time, _) = clock.time_at(instant);
            assert!(time >= latest, "{time:?} after {latest:?}");
            latest = time;
            // In a stall no time is right: the frames due are not with the device yet.
            let stalling = device.stall.is_some_and(|(at, _)| k < at);
            if done.lock_s.is_finite() && !stalling {
                let truly = (instant - device.heard(float(frame))) / device.frame_ns + float(frame);
                let off = map.instant_of(truly) - instant;
                done.worst_deadline = done.worst_deadline.max(off.abs());
                let off = float(time.get()) - truly.max(0.0) * NS / f64::from(RATE);
                done.worst_time = done.worst_time.max(off.abs());
            }
        }
    }
    done.anchored = measured.anchored();
    done
}

const MS: f64 = 1e6;

#[test]
fn an_hour_of_a_trembling_device_is_mapped_to_a_millisecond() {
    for (buffer, ppm) in [(64, 100.0), (512, -100.0), (1024, 100.0), (4096, -100.0)] {
        let done = run(FakeDevice::new(ppm, buffer, 30.0, buffer), 3600.0);
        println!("{buffer} frames, {ppm} ppm: {done:?}");
        assert!(done.worst_deadline < MS, "{buffer} {ppm}: {done:?}");
        assert!(done.worst_time < MS, "{buffer} {ppm}: {done:?}");
        // Fewer, larger buffers carry less information: dozens of them are needed.
        let limit = 0.3 + 90.0 * float(buffer) / f64::from(RATE);
        assert!(done.lock_s < limit, "{buffer} {ppm}: {done:?}");
        assert_eq!(done.anchored, 1, "{buffer} {ppm}");
    }
}

#[test]
fn a_stall_is_noticed_at_once_and_the_clock_is_right_again() {
    // A sound server may take a second or two before it asks for the third or fourth buffer.
    for (buffer, at, seconds) in [
        (512, 3, 1.8),
        (1024, 4, 1.0),
        (512, 9000, 0.5),
        (256, 3, 4.0),
    ] {
        let mut device = FakeDevice::new(-80.0, buffer, 20.0, at);
        device.stall = Some((at, seconds * NS));
        let done = run(device, 300.0);
        println!("{buffer} frames, {seconds} s before buffer {at}: {done:?}");
        assert_eq!(done.anchored, 2, "{done:?}");
        assert!(done.lock_s < 1.5, "{done:?}");
        assert!(done.worst_deadline < MS, "{done:?}");
        assert!(done.worst_time < MS, "{done:?}");
    }
}

#[test]
fn a_jump_too_small_for_a_stall_is_followed_within_a_second() {
    let mut measured = DelayLocked::new(RATE);
    let ideal = |frame: u64| float(frame) * NS / f64::from(RATE);
    for k in 0..1000 {
        measured.observe(k * 512, ideal(k * 512));
    }
    // The device has lost 40 ms.
    for k in 1000..1100 {
        measured.observe(k * 512, ideal(k * 512) + 40.0 * MS);
    }
    let map = measured.map(0).unwrap();
    assert_eq!(measured.anchored(), 2);
    let off = map.instant_of(float(1100 * 512)) - ideal(1100 * 512) - 40.0 * MS;
    assert!(off.abs() < 0.1 * MS, "{off}");
    // A single late callback before that moved nothing.
    let mut calm = DelayLocked::new(RATE);
    for k in 0..1000 {
        let late = if k == 990 { 40.0 * MS } else { 0.0 };
        calm.observe(k * 512, ideal(k * 512) + late);
    }
    let off = calm.map(0).unwrap().instant_of(float(1000 * 512)) - ideal(1000 * 512);
    assert!(off.abs() < 1000.0, "{off}");
}

#[test]
fn a_first_callback_that_is_late_is_outvoted() {
    let mut measured = DelayLocked::new(RATE);
    let ideal = |frame: u64| float(frame) * NS / f64::from(RATE);
    for k in 0..20 {
        let late = if k == 0 { 20.0 * MS } else { 0.0 };
        measured.observe(k * 512, ideal(k * 512) + late);
    }
    let off = measured.map(0).unwrap().instant_of(0.0);
    assert!(off.abs() < 0.1 * MS, "{off}");
}

#[test]
fn the_settled_loop_has_the_published_gains() {
    let mut measured = DelayLocked::new(RATE);
    let frames = 1024;
    let period = float(frames) * NS / f64::from(RATE);
    let mut k = 0;
    while k < 100_000 {
        measured.observe(k * frames, float(k) * period);
        k += 1;
    }
    let before = measured;
    let mut after = measured;
    let error = 1.0 * MS;
    after.observe(k * frames, float(k) * period + error);
    let at = after.track.unwrap().at_ns;
    let w = std::f64::consts::TAU * BANDWIDTH_HZ * period / NS;
    let to_phase = (at - float(k) * period) / error;
    let to_rate = (after.ns_per_frame - before.ns_per_frame) * float(frames) / error;
    assert!(
        (to_phase / (w * 2f64.sqrt()) - 1.0).abs() < 0.02,
        "{to_phase}"
    );
    assert!((to_rate / (w * w) - 1.0).abs() < 0.02, "{to_rate}");
}

/// A clock on a map of a device of 1000 frames a second whose frame 500 is heard at 2 s.
fn simple(start: u64, offset_ms: f64, handed: u64) -> (AudioClock, Arc<Published>) {
    let published = Arc::new(Published::default());
    published.publish(AudioMap {
        frame: 500,
        at_ns: 2e9,
        ns_per_frame: 1e6,
        handed,
    });
    let clock = AudioClock::new(
        Arc::clone(&published),
        Instant::now(),
        1000,
        start,
        offset_ms,
    );
    (clock, published)
}

#[test]
fn time_zero_is_the_start_frame_and_the_offset_makes_it_later() {
    let at = |start, offset, ns| simple(start, offset, 5000).0.time_at(ns).0.get();
    assert_eq!(at(500, 0.0, 2e9), 0);
    assert_eq!(at(500, 0.0, 2.25e9), 250_000_000);
    assert_eq!(at(0, 0.0, 2.25e9), 750_000_000);
    assert_eq!(at(500, 20.0, 2.25e9), 230_000_000);
    assert_eq!(at(500, -20.0, 2.25e9), 270_000_000);
    assert_eq!(at(500, 0.0, 1.9e9), 0);
}

#[test]
fn what_is_left_follows_the_map() {
    let left = |start, offset, deadline_ms: u64, ns| {
        let (clock, _) = simple(start, offset, 5000);
        clock.left(Nanos::new(deadline_ms * 1_000_000), ns)
    };
    assert_eq!(left(500, 0.0, 100, 2e9), Duration::from_millis(100));
    assert_eq!(left(500, 30.0, 100, 2e9), Duration::from_millis(130));
    assert_eq!(left(500, 0.0, 100, 2.1e9), Duration::ZERO);
    // Time 0 is a deadline like any other, though the clock shows 0 before it.
    assert_eq!(left(500, 0.0, 0, 1.9e9), Duration::from_millis(100));
    assert_eq!(left(500, 0.0, 0, 2e9), Duration::ZERO);

    // The map is corrected during the wait: the deadline comes 7 ms later.
    let (clock, published) = simple(500, 0.0, 5000);
    let deadline = Nanos::new(100_000_000);
    assert_eq!(clock.left(deadline, 2.05e9), Duration::from_millis(50));
    published.publish(AudioMap {
        at_ns: 2.007e9,
        ..published.read().unwrap()
    });
    assert_eq!(clock.left(deadline, 2.06e9), Duration::from_millis(47));
    // It does not come before, though the uncorrected one is past.
    assert!(clock.left(deadline, 2.104e9) > Duration::ZERO);
    // The clock had shown 50 ms when it was corrected and never shows less.
    assert_eq!(clock.time_at(2.05e9).0.get(), 97_000_000);
}

#[test]
fn the_clock_holds_where_there_is_no_sound_to_go_by() {
    let published = Arc::new(Published::default());
    let clock = AudioClock::new(published, Instant::now(), 1000, 0, 0.0);
    assert_eq!(clock.time_at(5e9).0, Nanos::ZERO);
    assert_eq!(clock.left(Nanos::ZERO, 5e9), STALLED);

    // Frame 600 is the first that was not handed over: nothing is heard after 2.1 s.
    let (clock, _) = simple(500, 0.0, 600);
    assert_eq!(clock.time_at(2.1e9).0.get(), 100_000_000);
    assert_eq!(clock.time_at(9e9).0.get(), 150_000_000);
    assert_eq!(clock.left(Nanos::new(200_000_000), 9e9), STALLED);

    let stop = AtomicBool::new(true);
    assert!(!clock.wait_until(Nanos::new(u64::MAX), &stop));
}

#[test]
fn a_reader_never_sees_half_a_map() {
    let published = Arc::new(Published::default());
    let writer = {
        let published = Arc::clone(&published);
        thread::spawn(move || {
            for n in 1..=200_000_u64 {
                published.publish(AudioMap {
                    frame: n,
                    at_ns: float(n) * 3.0,
                    ns_per_frame: float(n) * 5.0,
                    handed: n * 7,
                });
            }
        })
    };
    let mut seen = 0;
    while seen < 200_000 {
        let Some(map) = published.read() else {
            continue;
        };
        assert!(map.frame >= seen);
        seen = map.frame;
        assert_eq!(map.at_ns, float(seen) * 3.0);
        assert_eq!(map.ns_per_frame, float(seen) * 5.0);
        assert_eq!(map.handed, seen * 7);
    }
    writer.join().unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn any_device_within_200_ppm_is_mapped_to_a_millisecond(
        ppm in -200.0..200.0_f64,
        buffer in 64..=4096_u64,
        latency_ms in 0.0..200.0_f64,
        seed in any::<u64>(),
    ) {
        let done = run(FakeDevice::new(ppm, buffer, latency_ms, seed), 120.0);
        prop_assert!(done.lock_s < 0.3 + 90.0 * float(buffer) / f64::from(RATE), "{done:?}");
        prop_assert!(done.worst_deadline < MS, "{done:?}");
        prop_assert!(done.worst_time < MS, "{done:?}");
    }
}
