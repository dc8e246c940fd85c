//! How close the click is to a clock that is followed, on this machine's own clock. By hand, since no test may depend on what
//! else the machine does: `cargo test --release --test all closeness -- --ignored --nocapture`.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::unbounded;
use fivefold::chart::Piece;
use fivefold::live::{Conductor, Lane, MonotonicClock, PortLane};
use fivefold::midi::{Heard, OutputPort, PortError, System};
use rand::rngs::Xoshiro256PlusPlus;
use rand::{RngExt, SeedableRng};

use super::arranged;

/// A message, and when it reached the port.
type Stamped = (Instant, Vec<u8>);

/// A port that notes when each message reached it.
#[derive(Clone, Default)]
struct Stamps(Arc<Mutex<Vec<Stamped>>>);

impl OutputPort for Stamps {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.0
            .lock()
            .unwrap()
            .push((Instant::now(), bytes.to_vec()));
        Ok(())
    }
}

/// Milliseconds between each click and the beat of a device at 120 whose pulses come up to `jitter_us` early or late: the
/// mean, the standard deviation, and the farthest. The first eight beats are left out, in which the clock is learned.
fn distances(jitter_us: i64, beats: u32) -> [f64; 3] {
    let period = Duration::from_nanos(500_000_000 / 24);
    let (device, heard) = unbounded();
    let stop = Arc::new(AtomicBool::new(false));
    let port = Stamps::default();
    let clock = || MonotonicClock::starting_in(Duration::from_millis(50));
    let mut lane = PortLane::new(port.clone(), Box::new(move || Box::new(clock())), &stop).prompt();
    let piece =
        Piece::read("tempo = 100\ntimes = \"endless\"\n[sections]\nA = \"| Am7 | Fmaj7 |\"\n");
    let piece = piece.unwrap_or_else(|e| panic!("{e:?}")).0;
    let mut source = arranged(&piece);
    let begins = Instant::now() + Duration::from_millis(400);
    let ended = Arc::clone(&stop);
    let player = thread::spawn(move || {
        let mut chance = Xoshiro256PlusPlus::seed_from_u64(7);
        let at = begins - Duration::from_millis(10);
        let bytes = System::Start.bytes();
        device.send(Heard { at, bytes }).unwrap();
        for pulse in 0..24 * beats {
            let off = chance.random_range(-jitter_us..=jitter_us);
            let at = begins + period * pulse;
            let at = if off < 0 {
                at - Duration::from_micros(off.unsigned_abs())
            } else {
                at + Duration::from_micros(off.unsigned_abs())
            };
            thread::sleep(at.saturating_duration_since(Instant::now()));
            let bytes = System::Clock.bytes();
            device.send(Heard { at, bytes }).unwrap();
        }
        ended.store(true, Ordering::Relaxed);
    });
    let mut lanes: [&mut dyn Lane; 1] = [&mut lane];
    let (_, outcome) = Conductor::new(&mut source, &mut lanes, &stop)
        .led_by(&heard)
        .play();
    outcome.unwrap();
    player.join().unwrap();
    let clicks = port.0.lock().unwrap().clone();
    let beat = period * 24;
    let off: Vec<f64> = clicks
        .iter()
        .filter(|(_, bytes)| bytes[0] == 0x99 && [76, 77].contains(&bytes[1]))
        .map(|(at, _)| (at.duration_since(begins) + beat / 2).as_secs_f64())
        .map(|since| (since.rem_euclid(beat.as_secs_f64()), since))
        .filter(|(_, since)| *since > 8.5 * beat.as_secs_f64())
        .map(|(rest, _)| (rest - beat.as_secs_f64() / 2.0) * 1e3)
        .collect();
    assert!(off.len() > 20, "{} clicks", off.len());
    let n = f64::from(u32::try_from(off.len()).unwrap());
    let mean = off.iter().sum::<f64>() / n;
    let spread = (off.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
    [
        mean,
        spread,
        off.iter().map(|x| x.abs()).fold(0.0, f64::max),
    ]
}

#[test]
#[ignore = "measures on the machine's own clock, by hand"]
fn how_close_the_click_is_to_a_clock_that_is_followed() {
    for jitter_us in [0, 2_000] {
        let [mean, spread, farthest] = distances(jitter_us, 60);
        println!(
            "jitter {jitter_us} us: mean {mean:.2} ms, spread {spread:.2} ms, farthest {farthest:.2} ms"
        );
    }
}
