//! What goes wrong with ports while playing, each with its outcome.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Sender, bounded};
use fivefold::live::{
    Conductor, Control, Fault, Keeper, Lane, MonotonicClock, Notice, Performed, PortLane,
    RecordingPort, Report, SteppedLane, Stopped, VirtualClock,
};
use fivefold::midi::{OutputPort, PortError, Sighting};
use fivefold::time::Nanos;

use super::{arranged, piece};

/// Keys that are down after these messages; none may go up that was not down.
fn down(sent: &[Vec<u8>]) -> usize {
    let mut keys = std::collections::HashMap::new();
    for bytes in sent {
        let at = (bytes[0] & 15, bytes.get(1).copied().unwrap_or(0));
        match bytes[0] >> 4 {
            9 => *keys.entry(at).or_insert(0) += 1,
            8 => *keys.entry(at).or_insert(0) -= 1,
            _ => {}
        }
    }
    keys.values().filter(|n| **n > 0).count()
}

#[test]
fn a_driver_that_refuses_every_tenth_message_gets_it_again_and_loses_none() {
    let play = |fault| {
        let clock = VirtualClock::default();
        let mut port = RecordingPort::new(&clock);
        if let Some(fault) = fault {
            port = port.failing(0, fault);
        }
        let lane = SteppedLane::with_clock(port.clone(), &clock);
        let (mut held, stop) = (lane.clone(), AtomicBool::new(false));
        let mut source = arranged(&piece());
        let mut lanes: [&mut dyn Lane; 1] = [&mut held];
        let mut conductor = Conductor::new(&mut source, &mut lanes, &stop);
        let mut now = 0;
        while conductor.turn().unwrap() {
            now += 100_000_000;
            lane.play_until(Nanos::new(now));
        }
        conductor.play().1.unwrap();
        let bytes: Vec<Vec<u8>> = port.sent().into_iter().map(|s| s.bytes).collect();
        (bytes, lane.report().unwrap().receipt)
    };
    let (whole, _) = play(None);
    let (sent, receipt) = play(Some(Fault::Unwilling(10)));
    // While silencing nothing is sent again, so some controllers may be missing at the end.
    let music = whole.len() - 30;
    assert_eq!(sent[..music], whole[..music]);
    assert_eq!(down(&sent), 0);
    assert_eq!(receipt.dropped, 0);
    assert!(receipt.refused > 150, "{}", receipt.refused);
    // Offered again a millisecond later.
    assert!(receipt.at_call.worst_ns <= 20_000_000, "{receipt:?}");
}

/// Messages, each with the number of the opening it came through.
type Numbered = Vec<(usize, Vec<u8>)>;

/// Whether a message is due while a port is out.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Due {
    Soon,
    Never,
}

/// A port that may be pulled out, and the one who looks after it.
#[derive(Clone)]
struct Plug {
    in_place: Arc<AtomicBool>,
    /// Whether the system lists it; its list may be behind.
    listed: Arc<AtomicBool>,
    /// Whether messages fail while it is out, or vanish as on some systems.
    fails: bool,
    /// How many messages failed.
    failed: Arc<AtomicUsize>,
    opened: Arc<AtomicUsize>,
    sent: Arc<Mutex<Numbered>>,
    number: usize,
}

impl Plug {
    fn new(fails: bool) -> Self {
        Plug {
            in_place: Arc::new(AtomicBool::new(true)),
            listed: Arc::new(AtomicBool::new(true)),
            fails,
            failed: Arc::default(),
            opened: Arc::default(),
            sent: Arc::default(),
            number: 0,
        }
    }

    /// Pulls it out. Where messages fail and one is due soon, it stays listed until that has failed.
    fn pull_out(&self, due: Due) {
        self.in_place.store(false, Ordering::SeqCst);
        if self.fails && due == Due::Soon {
            until("a failure", || self.failed.load(Ordering::SeqCst) > 0);
        }
        self.listed.store(false, Ordering::SeqCst);
    }

    fn put_back(&self) {
        self.in_place.store(true, Ordering::SeqCst);
        self.listed.store(true, Ordering::SeqCst);
    }

    /// Messages that this opening of the port got.
    fn of(&self, number: usize) -> Vec<Vec<u8>> {
        let sent = self.sent.lock().unwrap();
        let these = sent.iter().filter(|(n, _)| *n == number);
        these.map(|(_, bytes)| bytes.clone()).collect()
    }
}

impl OutputPort for Plug {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        if self.in_place.load(Ordering::SeqCst) {
            self.sent
                .lock()
                .unwrap()
                .push((self.number, bytes.to_vec()));
            Ok(())
        } else if self.fails {
            self.failed.fetch_add(1, Ordering::SeqCst);
            Err(PortError::Send("no such device".to_owned()))
        } else {
            Ok(())
        }
    }
}

impl Keeper<Plug> for Plug {
    fn look(&mut self) -> Sighting {
        if self.listed.load(Ordering::SeqCst) {
            Sighting::There
        } else {
            Sighting::Missing
        }
    }

    fn open(&mut self) -> Option<Plug> {
        let number = self.opened.fetch_add(1, Ordering::SeqCst) + 1;
        Some(Plug {
            number,
            ..self.clone()
        })
    }
}

/// Waits until a condition holds, at most half a minute, since the machine may be busy.
fn until(what: &str, mut is: impl FnMut() -> bool) {
    let began = Instant::now();
    while !is() {
        assert!(began.elapsed() < Duration::from_secs(30), "{what}");
        thread::sleep(Duration::from_millis(2));
    }
}

/// A real clock that starts now.
fn monotonic() -> Box<dyn fivefold::live::Clock> {
    Box::new(MonotonicClock::starting_in(Duration::ZERO))
}

/// The piece, played to a port that may be pulled out, on a thread of its own.
struct Playing {
    stop: Arc<AtomicBool>,
    told: Arc<Mutex<Vec<Notice>>>,
    ask: Sender<Control>,
    thread: thread::JoinHandle<(Performed, Report)>,
}

impl Playing {
    fn to(plug: &Plug) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let told: Arc<Mutex<Vec<Notice>>> = Arc::default();
        let (ask, asked) = bounded(4);
        let thread = {
            let (plug, stop, told) = (plug.clone(), Arc::clone(&stop), Arc::clone(&told));
            thread::spawn(move || {
                let mut lane = PortLane::new(plug.clone(), Box::new(monotonic), &stop)
                    .kept(Box::new(plug), Duration::from_millis(10));
                let mut source = arranged(&piece());
                let mut tell = |what| told.lock().unwrap().push(what);
                let mut lanes: [&mut dyn Lane; 1] = [&mut lane];
                let conductor = Conductor::new(&mut source, &mut lanes, &stop)
                    .asked_by(&asked)
                    .notifying(&mut tell);
                let (performed, outcome) = conductor.play();
                outcome.unwrap();
                (performed, lane.report().unwrap().clone())
            })
        };
        Playing {
            stop,
            told,
            ask,
            thread,
        }
    }

    /// How often this was told.
    fn told(&self, what: Notice) -> usize {
        self.told
            .lock()
            .unwrap()
            .iter()
            .filter(|t| **t == what)
            .count()
    }

    fn stopped(self) -> (Performed, Report) {
        self.stop.store(true, Ordering::SeqCst);
        self.thread.join().unwrap()
    }
}

#[test]
fn a_port_lost_in_mid_chord_is_waited_for_and_the_bar_begins_again() {
    for fails in [true, false] {
        let plug = Plug::new(fails);
        let playing = Playing::to(&plug);
        // The count-in of four beats at 90 takes 2.7 s; then the first chord sounds.
        let sounds = || down(&plug.of(0)) >= 4;
        until("a chord", sounds);
        plug.pull_out(Due::Soon);
        until("word that it is gone", || playing.told(Notice::Gone(0)) > 0);
        plug.put_back();
        until("word that it is back", || playing.told(Notice::Back(0)) > 0);
        let programs = |sent: &[Vec<u8>]| sent.iter().filter(|b| b[0] >> 4 == 0xC).count();
        until("music again", || plug.of(1).iter().any(|b| b[0] >> 4 == 9));
        // Notes that may still sound there are ended first, and its channels are set up as before.
        let after = plug.of(1);
        let first_note = after.iter().position(|b| b[0] >> 4 == 9).unwrap();
        assert_eq!(programs(&after[..first_note]), programs(&plug.of(0)));
        assert!(
            after[..first_note].contains(&vec![0xB0, 123, 0]),
            "{after:?}"
        );
        // A bar of count-in, then the bar in which it was lost.
        let click = |b: &Vec<u8>| b[0] == 0x99 && (b[1] == 76 || b[1] == 77);
        assert!(click(&after[first_note]));
        until("a chord", || down(&plug.of(1)) >= 4);
        let (performed, report) = playing.stopped();
        assert_eq!(down(&plug.of(1)), 0, "nothing sounds after the stop");
        assert_eq!(report.stopped, Stopped::Asked);
        assert!(fails == (report.receipt.refused > 0));
        assert_eq!(plug.opened.load(Ordering::SeqCst), 1);
        let runs: Vec<(u32, u64)> = performed
            .map
            .passages()
            .iter()
            .map(|p| (p.run, p.tick.get()))
            .collect();
        // The count-in of the piece is 3840 ticks; the bar it was lost in is the first.
        assert!(
            runs.contains(&(1, 3840)) && runs.contains(&(2, 3840)),
            "{runs:?}"
        );
    }
}

#[test]
fn where_it_stood_before_a_port_was_lost_it_stands_after_it_is_back() {
    let plug = Plug::new(true);
    let playing = Playing::to(&plug);
    until("music", || plug.of(0).iter().any(|b| b[0] >> 4 == 9));
    playing.ask.send(Control::Pause).unwrap();
    until("word that it stands", || playing.told(Notice::Paused) > 0);
    plug.pull_out(Due::Never);
    until("word that it is gone", || playing.told(Notice::Gone(0)) > 0);
    // Without the port the piece stays paused, and the listener is told again.
    playing.ask.send(Control::Resume).unwrap();
    until("the same again", || playing.told(Notice::Gone(0)) == 2);
    plug.put_back();
    until("word that it is back", || playing.told(Notice::Back(0)) > 0);
    thread::sleep(Duration::from_millis(300));
    let struck = || plug.of(1).iter().any(|b| b[0] >> 4 == 9);
    assert!(!struck() && playing.told(Notice::Resumed) == 0);
    playing.ask.send(Control::Resume).unwrap();
    until("music again", struck);
    playing.stopped();
    assert_eq!(down(&plug.of(1)), 0);
}

#[test]
fn a_driver_that_blocks_is_not_waited_for_at_the_end() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock).failing(40, Fault::Blocks(Duration::from_secs(30)));
    let stop = Arc::new(AtomicBool::new(false));
    let mut lane = PortLane::new(port.clone(), Box::new(monotonic), &stop);
    let mut source = arranged(&piece());
    let (ask, controls) = bounded(1);
    let asking = thread::spawn({
        let port = port.clone();
        move || {
            until("forty messages", || port.sent().len() >= 40);
            thread::sleep(Duration::from_millis(50));
            ask.send(Control::Stop).unwrap();
            Instant::now()
        }
    });
    let mut lanes: [&mut dyn Lane; 1] = [&mut lane];
    let (_, outcome) = Conductor::new(&mut source, &mut lanes, &stop)
        .asked_by(&controls)
        .play();
    let asked = asking.join().unwrap();
    let e = outcome.unwrap_err();
    assert_eq!(
        e.message,
        "the MIDI driver did not answer within two seconds; a note may still sound"
    );
    // Two seconds and what a busy machine adds, not the driver's thirty.
    assert!(
        asked.elapsed() < Duration::from_secs(15),
        "{:?}",
        asked.elapsed()
    );
}

#[test]
fn a_driver_that_blocks_while_playing_makes_no_burst_of_what_is_late() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock).failing(40, Fault::Blocks(Duration::from_secs(5)));
    let stop = Arc::new(AtomicBool::new(false));
    let mut lane = PortLane::new(port.clone(), Box::new(monotonic), &stop);
    let mut source = arranged(&piece());
    let watching = thread::spawn({
        let (port, stop) = (port.clone(), Arc::clone(&stop));
        move || {
            until("forty messages", || port.sent().len() >= 40);
            let before = port.sent().len();
            let began = Instant::now();
            while port.sent().len() <= before + 1 && began.elapsed() < Duration::from_secs(30) {
                thread::sleep(Duration::from_millis(5));
            }
            thread::sleep(Duration::from_millis(300));
            stop.store(true, Ordering::SeqCst);
            port.sent()[before..].to_vec()
        }
    });
    let mut lanes: [&mut dyn Lane; 1] = [&mut lane];
    let (_, outcome) = Conductor::new(&mut source, &mut lanes, &stop).play();
    outcome.unwrap();
    let after = watching.join().unwrap();
    // What sounded ends, and the next bar begins: five seconds of music would have been five hundred messages.
    assert_eq!(lane.stalls(), 1);
    assert!(after.len() < 200, "{}", after.len());
    let all: Vec<Vec<u8>> = port.sent().into_iter().map(|s| s.bytes).collect();
    assert_eq!(down(&all), 0);
}
