use std::time::Duration;

use crossbeam_channel::bounded;

use super::*;
use crate::event::{Channel, KeyNumber, Message, PartId, PartMessage, Velocity};
#[cfg(debug_assertions)]
use crate::live::sending::live_stream;
#[cfg(debug_assertions)]
use crate::live::{Entry, Item, Offer, Wish};
use crate::live::{Fault, Outgoing, RecordingPort, VirtualClock};
use crate::time::Timed;
#[cfg(debug_assertions)]
use crate::time::{Tempo, Tick};

fn channel(number: u8) -> Channel {
    Channel::new(number).unwrap()
}

fn due(at: u64, number: u8, message: Message) -> Timed<Outgoing> {
    Timed {
        at: Nanos::new(at),
        what: Outgoing::Part(PartMessage {
            part: PartId(0),
            channel: channel(number),
            message,
        }),
    }
}

fn on(at: u64, number: u8, key: i32) -> Timed<Outgoing> {
    let message = Message::NoteOn {
        key: KeyNumber::clamped(key),
        velocity: Velocity::clamped(90),
    };
    due(at, number, message)
}

fn off(at: u64, number: u8, key: i32) -> Timed<Outgoing> {
    let message = Message::NoteOff {
        key: KeyNumber::clamped(key),
    };
    due(at, number, message)
}

/// Runs a sender over a queue that is already full and closed.
fn run(queued: &[Timed<Outgoing>], port: RecordingPort, clock: VirtualClock) -> Report {
    let (send, receive) = bounded(queued.len().max(1));
    for message in queued {
        send.send(*message).unwrap();
    }
    drop(send);
    Sender::new(port, clock, Arc::new(AtomicBool::new(false))).run(&receive)
}

fn shown(port: &RecordingPort) -> Vec<String> {
    port.sent()
        .iter()
        .map(|r| {
            let bytes: Vec<String> = r.bytes.iter().map(|b| format!("{b:02X}")).collect();
            format!("{} {}", r.at.get(), bytes.join(" "))
        })
        .collect()
}

#[test]
fn messages_go_out_at_their_deadlines_and_in_order() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let report = run(&[on(5, 1, 60), off(9, 1, 60)], port.clone(), clock);
    assert_eq!(report.stopped, Stopped::End);
    assert_eq!(
        (report.sent, report.worst_late_ns, report.late_beyond_1_ms),
        (2, 0, 0)
    );
    assert_eq!(
        shown(&port),
        [
            "5 90 3C 5A",
            "9 80 3C 40",
            "9 B0 40 00",
            "9 B0 7B 00",
            "9 B0 78 00"
        ]
    );
}

#[test]
fn lateness_is_told_and_nothing_is_dropped() {
    let clock = VirtualClock::oversleeping(2_000_000);
    let port = RecordingPort::new(&clock);
    let report = run(
        &[on(1_000, 1, 60), off(1_500, 1, 60), on(9_000_000, 1, 61)],
        port.clone(),
        clock,
    );
    assert_eq!(report.sent, 3);
    assert_eq!(report.worst_late_ns, 2_000_000);
    assert_eq!(report.late_beyond_1_ms, 3);
    let receipt = report.receipt;
    assert_eq!(receipt.sent, 3);
    assert_eq!(receipt.at_call.worst_ns, 2_000_000);
    assert_eq!(receipt.at_call.beyond_1_ms, 3);
    assert_eq!(receipt.at_return, receipt.at_call);
    assert_eq!((receipt.early, receipt.refused, receipt.dropped), (0, 0, 0));
    assert_eq!(receipt.span_ns, 8_999_000);
    assert_eq!(receipt.drift_ppb, Some(0));
    assert_eq!(receipt.granted, None);
}

/// A clock that ends every wait too soon.
struct Hasty(VirtualClock);

impl Clock for Hasty {
    fn now(&self) -> Nanos {
        Nanos::new(self.0.now().get() - 1)
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        self.0.wait_until(deadline, stop)
    }

    fn idle(&self) {}

    fn woke_late_ns(&self) -> Option<u64> {
        Some(77)
    }
}

#[test]
fn the_receipt_tells_of_early_messages_sleeps_and_what_was_granted() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let (send, receive) = bounded(2);
    send.send(on(5, 1, 60)).unwrap();
    send.send(off(9, 1, 60)).unwrap();
    drop(send);
    let sender = Sender::new(port, Hasty(clock), Arc::new(AtomicBool::new(false)));
    let receipt = sender.granted(Granted::NOTHING).run(&receive).receipt;
    assert_eq!(receipt.early, 2);
    assert_eq!((receipt.wake.count, receipt.wake.worst_ns), (2, 77));
    assert_eq!(receipt.granted, Some(Granted::NOTHING));
}

/// A port that takes everything and keeps nothing.
struct Sink;

impl OutputPort for Sink {
    fn send(&mut self, _: &[u8]) -> Result<(), PortError> {
        Ok(())
    }
}

#[test]
#[cfg(debug_assertions)]
fn sending_takes_no_memory() {
    let (send, receive) = bounded(2000);
    for i in 0..1000 {
        send.send(on(i * 20_000, 10, 36)).unwrap();
        send.send(off(i * 20_000 + 7, 10, 36)).unwrap();
    }
    drop(send);
    let clock = crate::live::MonotonicClock::starting_in(Duration::from_millis(1));
    let mut sender = Sender::new(Sink, clock, Arc::new(AtomicBool::new(false)));
    let before = assert_no_alloc::violation_count();
    let news = AtomicBool::new(false);
    let mut stream = Plain {
        queue: &receive,
        next: None,
    };
    let stopped = assert_no_alloc::assert_no_alloc(|| sender.send_all(&mut stream, &news));
    assert_eq!(assert_no_alloc::violation_count(), before);
    assert_eq!(stopped, Stopped::End);
    assert_eq!(sender.run(&receive).sent, 2000);
}

/// Bars of sixteenths, with the clock: some 160 messages a bar.
#[cfg(debug_assertions)]
fn bar_of(offer: &mut dyn FnMut(Entry), bar: u64) {
    let line = |bar: u64| Tick::new(bar * 3840);
    if bar == 0 {
        offer(Entry::Origin {
            tick: line(0),
            song: Some(0),
        });
    }
    offer(Entry::Bar {
        tick: line(bar),
        end: line(bar + 1),
        song: Some(bar * 3840),
        then: None,
    });
    for sixteenth in 0..16 {
        let tick = line(bar) + sixteenth * 240;
        offer(Entry::Chord { tick });
        for (ticks, is_on) in [(0, true), (100, false)] {
            for (part, number, key) in [(0, 10, 76), (1, 1, 60)] {
                let key = KeyNumber::clamped(key);
                let velocity = Velocity::clamped(90);
                offer(Entry::Message {
                    tick: tick + ticks,
                    message: PartMessage {
                        part: PartId(part),
                        channel: channel(number),
                        message: if is_on {
                            Message::NoteOn { key, velocity }
                        } else {
                            Message::NoteOff { key }
                        },
                    },
                });
            }
        }
    }
}

#[test]
#[cfg(debug_assertions)]
fn a_million_messages_and_wishes_among_them_take_no_memory() {
    let clock = VirtualClock::default();
    let (live, mut lines) = live_stream();
    let mut live = live.with_clock();
    let mut sender = Sender::new(Sink, clock.clone(), Arc::new(AtomicBool::new(false)));
    let never = AtomicBool::new(false);
    let before = assert_no_alloc::violation_count();
    for bar in 0..7200 {
        bar_of(
            &mut |entry| assert_eq!(lines.offer(Item { run: 0, entry }), Offer::Taken),
            bar,
        );
        let wish = match bar % 8 {
            1 => Wish::Pause,
            2 => Wish::Resume,
            3 => Wish::Tempo(1_000_000 + u32::try_from(bar).unwrap()),
            4 => Wish::Transpose(i8::try_from(bar % 12).unwrap()),
            5 => Wish::Mute(PartId(1)),
            6 => Wish::Unmute(PartId(1)),
            _ => Wish::Follow(Tempo::DEFAULT),
        };
        let at = Nanos::ZERO;
        lines.wish(Timed { at, what: wish });
        live.shared.news.store(true, Ordering::Release);
        assert_no_alloc::assert_no_alloc(|| {
            // Pulses would go on for ever.
            while live.waiting() > 0 && matches!(live.due(&|| clock.now()), Due::At(_)) {
                sender.turn(&mut live, &never);
            }
        });
        while lines.passage().is_some() {}
    }
    assert_eq!(assert_no_alloc::violation_count(), before);
    let report = sender.finish(Stopped::End);
    assert!(report.sent > 1_000_000, "{}", report.sent);
    assert_eq!((report.receipt.early, report.receipt.dropped), (0, 0));
}

#[test]
fn a_note_left_open_is_ended_and_a_doubled_one_twice() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    run(
        &[on(0, 10, 36), on(1, 2, 40), on(2, 2, 40)],
        port.clone(),
        clock,
    );
    let sent = shown(&port);
    assert_eq!(
        sent[3..],
        [
            "2 81 28 40",
            "2 81 28 40",
            "2 89 24 40",
            "2 B1 40 00",
            "2 B1 7B 00",
            "2 B1 78 00",
            "2 B9 40 00",
            "2 B9 7B 00",
            "2 B9 78 00"
        ]
    );
}

/// After this, no channel has a key down: note-offs balance note-ons.
fn assert_silent(port: &RecordingPort) {
    let mut down = std::collections::HashMap::new();
    for recorded in port.sent() {
        let (kind, at) = (
            recorded.bytes[0] & 0xF0,
            (recorded.bytes[0] & 0x0F, recorded.bytes[1]),
        );
        match kind {
            0x90 => *down.entry(at).or_insert(0) += 1,
            0x80 => *down.entry(at).or_insert(0) -= 1,
            _ => {}
        }
    }
    // A note-off more than needed (for a message the port broke off at) does no harm.
    assert!(down.values().all(|n| *n <= 0), "{down:?}");
}

#[test]
fn a_stop_silences() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let stop = Arc::new(AtomicBool::new(false));
    let (send, receive) = bounded(8);
    send.send(on(0, 1, 60)).unwrap();
    send.send(on(0, 1, 64)).unwrap();
    let sender = Sender::new(port.clone(), clock, Arc::clone(&stop));
    let thread = std::thread::spawn(move || sender.run(&receive));
    while port.sent().len() < 2 {
        std::thread::sleep(Duration::from_millis(1));
    }
    stop.store(true, Ordering::Relaxed);
    let report = thread.join().unwrap();
    assert_eq!(report.stopped, Stopped::Asked);
    assert_eq!(port.sent().len(), 2 + 2 + 3);
    assert_silent(&port);
}

#[test]
fn a_port_that_fails_is_reported_and_asked_to_be_silent_all_the_same() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock).failing(1, Fault::Gone);
    let report = run(
        &[on(0, 1, 60), on(1, 1, 64), off(2, 1, 60)],
        port.clone(),
        clock,
    );
    assert_eq!(
        report.stopped,
        Stopped::Failed(PortError::Send("the device is gone".to_owned()))
    );
    assert_eq!(report.sent, 1);
    let receipt = report.receipt;
    // Offered each millisecond for a second, then given up with what waits behind it.
    assert_eq!((receipt.refused, receipt.dropped), (1002, 2));
}

/// A port that refuses everything between two times of its clock.
#[derive(Clone)]
struct Sulking {
    port: RecordingPort,
    clock: VirtualClock,
    from: u64,
    to: u64,
}

impl OutputPort for Sulking {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        if (self.from..self.to).contains(&self.clock.now().get()) {
            return Err(PortError::Send("no room".to_owned()));
        }
        self.port.send(bytes)
    }
}

const MS: u64 = 1_000_000;

/// Plays `queued` to a port that refuses from one time to another, and stops at a third.
fn sulking(
    queued: &[Timed<Outgoing>],
    refuses: std::ops::Range<u64>,
    stop_at: u64,
) -> (Report, RecordingPort) {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let stop = Arc::new(AtomicBool::new(false));
    let sulking = Sulking {
        port: port.clone(),
        clock: clock.clone(),
        from: refuses.start,
        to: refuses.end,
    };
    let (send, receive) = bounded(queued.len());
    for message in queued {
        send.send(*message).unwrap();
    }
    let stopping = Stopping {
        clock,
        stop: Arc::clone(&stop),
        at: Nanos::new(stop_at),
    };
    (Sender::new(sulking, stopping, stop).run(&receive), port)
}

/// A clock on which a stop is asked for at a time.
struct Stopping {
    clock: VirtualClock,
    stop: Arc<AtomicBool>,
    at: Nanos,
}

impl Clock for Stopping {
    fn now(&self) -> Nanos {
        self.clock.now()
    }

    fn wait_until(&self, deadline: Nanos, stop: &AtomicBool) -> bool {
        if deadline >= self.at {
            self.stop.store(true, Ordering::SeqCst);
        }
        self.clock.wait_until(deadline, stop)
    }

    fn idle(&self) {
        self.stop.store(true, Ordering::SeqCst);
    }
}

#[test]
fn a_note_off_that_is_refused_while_silencing_is_offered_again() {
    // From the stop on the driver takes nothing for 1.5 s; the lane has two seconds.
    let queued = [on(0, 1, 60), on(0, 10, 36), on(900 * MS, 1, 64)];
    let (report, port) = sulking(&queued, 500 * MS..2000 * MS, 500 * MS);
    assert_eq!(report.stopped, Stopped::Asked);
    assert_silent(&port);
    assert!(shown(&port).iter().any(|line| line.ends_with("B0 78 00")));
}

#[test]
fn a_stop_while_a_note_off_is_refused_leaves_it_owed() {
    let queued = [on(0, 1, 60), off(100 * MS, 1, 60)];
    let (report, port) = sulking(&queued, 100 * MS..140 * MS, 110 * MS);
    assert_eq!(report.stopped, Stopped::Asked);
    assert_silent(&port);
}

#[test]
fn a_driver_that_refuses_for_half_a_second_has_not_lost_its_port() {
    let queued = [
        on(0, 1, 60),
        off(100 * MS, 1, 60),
        on(700 * MS, 1, 62),
        off(800 * MS, 1, 62),
    ];
    let (report, port) = sulking(&queued, 50 * MS..600 * MS, 5000 * MS);
    assert_eq!(report.stopped, Stopped::Asked);
    assert_eq!((report.sent, report.receipt.dropped), (4, 0));
    assert_silent(&port);
}

/// The sending thread keeps its lead: time 0 comes only when it can send.
#[test]
fn time_is_reckoned_from_when_the_thread_is_ready_and_never_runs_ahead() {
    use crate::live::{Lane, PortLane};
    let stop = Arc::new(AtomicBool::new(false));
    let slow = || -> Box<dyn Clock> {
        // As if the system took long to lock memory.
        std::thread::sleep(Duration::from_millis(200));
        Box::new(crate::live::MonotonicClock::starting_in(Duration::ZERO))
    };
    let began = std::time::Instant::now();
    let clock = VirtualClock::default();
    let mut lane = PortLane::new(RecordingPort::new(&clock), Box::new(slow), &stop);
    for entry in [
        crate::live::Entry::Origin {
            tick: crate::time::Tick::ZERO,
            song: None,
        },
        crate::live::Entry::End {
            tick: crate::time::Tick::new(960 * 1000),
        },
    ] {
        lane.offer(crate::live::Item { run: 0, entry });
    }
    lane.begin().unwrap();
    while lane.time().is_none() || lane.now() == Nanos::ZERO {
        std::thread::sleep(Duration::from_millis(1));
    }
    // The end is due in eight minutes, and the time reported is now.
    let since = Nanos::new(u64::try_from(began.elapsed().as_nanos()).unwrap());
    assert!(lane.now() <= since, "{:?} {since:?}", lane.now());
    assert!(lane.time().unwrap() <= since);
    stop.store(true, Ordering::SeqCst);
    lane.close().unwrap();
}

#[test]
fn a_panic_on_the_way_silences() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock).failing(2, Fault::Panic);
    let fake = port.clone();
    let result =
        std::thread::spawn(move || run(&[on(0, 1, 60), on(1, 1, 64), on(2, 1, 67)], fake, clock))
            .join();
    assert!(result.is_err());
    assert_silent(&port);
    assert!(shown(&port).iter().any(|line| line.ends_with("B0 7B 00")));
}

#[test]
fn the_monotonic_clock_never_wakes_early() {
    let clock = crate::live::MonotonicClock::starting_in(Duration::ZERO);
    let stop = AtomicBool::new(false);
    for i in 1..20 {
        let deadline = Nanos::new(i * 700_000);
        assert!(clock.wait_until(deadline, &stop));
        assert!(clock.now() >= deadline);
    }
    stop.store(true, Ordering::Relaxed);
    assert!(!clock.wait_until(Nanos::new(u64::MAX / 2), &stop));
}
