//! How long the sending path takes without a driver: `cargo bench --bench live`.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use crossbeam_channel::{Receiver, bounded};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use fivefold::event::{Channel, KeyNumber, Message, PartId, PartMessage, Velocity};
use fivefold::live::{Dispatcher, Entry, Item, Margin, MonotonicClock, Outgoing, Recorder, Sender};
use fivefold::midi::{OutputPort, PortError};
use fivefold::time::{Nanos, Tick, Timed};

fn main() {
    divan::main();
}

/// A driver that takes no time.
struct NoDriver;

impl OutputPort for NoDriver {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        black_box(bytes);
        Ok(())
    }
}

const EVENTS: u64 = 16_384;

/// Notes that begin and end, all due at once.
fn full_queue() -> Receiver<Timed<Outgoing>> {
    let (send, receive) = bounded(usize::try_from(EVENTS).unwrap_or(usize::MAX));
    let channel = Channel::new(10).unwrap_or_else(|e| unreachable!("{e}"));
    let key = KeyNumber::clamped(36);
    for i in 0..EVENTS {
        let message = if i % 2 == 0 {
            Message::NoteOn {
                key,
                velocity: Velocity::clamped(90),
            }
        } else {
            Message::NoteOff { key }
        };
        let at = Nanos::new(i);
        let part = PartId(0);
        let queued = Timed {
            at,
            what: Outgoing::Part(PartMessage {
                part,
                channel,
                message,
            }),
        };
        send.send(queued).unwrap_or_else(|e| unreachable!("{e}"));
    }
    receive
}

/// From the queue to the driver, the record included; the deadlines are past, so nothing is waited for.
#[divan::bench]
fn from_the_queue_to_the_driver(bencher: Bencher<'_, '_>) {
    bencher
        .counter(ItemsCount::new(EVENTS))
        .with_inputs(|| {
            let clock = MonotonicClock::starting_in(Duration::ZERO);
            let stop = Arc::new(AtomicBool::new(false));
            (Sender::new(NoDriver, clock, stop), full_queue())
        })
        .bench_values(|(sender, queue)| sender.run(&queue));
}

/// Sixteenths of two parts, in ticks, as many as a queue holds, all in one bar.
fn full_bar() -> (Receiver<Item>, u64) {
    let (send, receive) = bounded(1 << 15);
    let put = |entry| {
        let item = Item { run: 0, entry };
        send.send(item).unwrap_or_else(|e| unreachable!("{e}"));
    };
    let channel = |number| Channel::new(number).unwrap_or_else(|e| unreachable!("{e}"));
    let line = |tick| Tick::new(tick);
    put(Entry::Origin {
        tick: line(0),
        song: Some(0),
    });
    put(Entry::Bar {
        tick: line(0),
        end: line(EVENTS * 60),
        song: Some(0),
        then: None,
    });
    for sixteenth in 0..EVENTS / 4 {
        for (ticks, is_on) in [(0, true), (100, false)] {
            for (part, number, key) in [(0, 10, 76), (1, 1, 60)] {
                let key = KeyNumber::clamped(key);
                put(Entry::Message {
                    tick: line(sixteenth * 240 + ticks),
                    message: PartMessage {
                        part: PartId(part),
                        channel: channel(number),
                        message: if is_on {
                            Message::NoteOn {
                                key,
                                velocity: Velocity::clamped(90),
                            }
                        } else {
                            Message::NoteOff { key }
                        },
                    },
                });
            }
        }
    }
    // Six pulses a sixteenth besides.
    (receive, EVENTS + EVENTS / 4 * 6)
}

/// What becomes of an entry: its time, the clock between, what is silenced or moved.
#[divan::bench]
fn from_ticks_to_messages_with_the_clock(bencher: Bencher<'_, '_>) {
    let (_, count) = full_bar();
    bencher
        .counter(ItemsCount::new(count))
        .with_inputs(|| Dispatcher::new(full_bar().0).with_clock())
        .bench_values(|mut dispatcher| {
            while dispatcher.waiting() > 0 && dispatcher.due().is_some() {
                black_box(dispatcher.step());
            }
        });
}

/// One message in the record.
#[divan::bench]
fn one_message_in_the_record(bencher: Bencher<'_, '_>) {
    let mut recorder = Recorder::default();
    let mut at = 0;
    bencher.bench_local(|| {
        at += 20_833_333;
        let late = at % 300_000;
        recorder.sent(
            Nanos::new(at),
            Nanos::new(at + late),
            Nanos::new(at + late + 2_000),
        );
        recorder.woke(late);
    });
}

/// One sleep noted and the margin learned anew.
#[divan::bench]
fn the_margin_learned_anew(bencher: Bencher<'_, '_>) {
    let mut margin = Margin::default();
    let mut late = 0;
    bencher.bench_local(|| {
        late = (late + 7_919) % 300_000;
        margin.note(late);
        margin.get()
    });
}
