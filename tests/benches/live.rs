//! How long the sending path takes without a driver: `cargo bench --bench live`.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use crossbeam_channel::{Receiver, bounded};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use fivefold::event::{Channel, KeyNumber, Message, PartId, Velocity};
use fivefold::live::{Margin, MonotonicClock, Outgoing, Queued, Recorder, Sender};
use fivefold::midi::{OutputPort, PortError};
use fivefold::time::Nanos;

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
fn full_queue() -> Receiver<Queued> {
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
        let queued = Queued {
            at,
            what: Outgoing::Part {
                part,
                channel,
                message,
            },
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
