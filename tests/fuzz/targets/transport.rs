//! What a listener asks for while it plays, given to the dispatcher: nothing hangs, nothing goes back in time, and no
//! note is left sounding.

#![no_main]

use std::collections::BTreeSet;

use crossbeam_channel::{Sender, unbounded};
use fivefold::event::{Channel, KeyNumber, Message, PartId, PartMessage, Velocity};
use fivefold::live::{Dispatcher, Entry, Item, Outgoing, Wish};
use fivefold::time::{Nanos, Tempo, Tick, Timed};
use libfuzzer_sys::fuzz_target;

const BAR: u64 = 4 * 960;

/// More steps than any input can need.
const MOST_STEPS: u32 = 200_000;

/// Bars of a run as a conductor gives them: a chord that is held to the bar line, and clicks.
fn bars(queue: &Sender<Item>, run: u32, from: u64, count: u64) {
    let put = |entry| queue.send(Item { run, entry }).unwrap_or_default();
    let start = Tick::new(from * BAR);
    let song = Some(from * BAR);
    put(Entry::Origin { tick: start, song });
    if let Ok(tempo) = Tempo::new(300_000 + 50_000 * (from % 8)) {
        put(Entry::Tempo { tick: start, tempo });
    }
    for bar in from..from + count {
        let line = bar * BAR;
        let message = |at, part, channel, message| {
            if let Ok(channel) = Channel::new(channel) {
                put(Entry::Message {
                    tick: Tick::new(at),
                    message: PartMessage {
                        part: PartId(part),
                        channel,
                        message,
                    },
                });
            }
        };
        let key = |bar: u64| KeyNumber::clamped(40 + i32::try_from(bar % 40).unwrap_or(0));
        let velocity = Velocity::clamped(90);
        if bar > from {
            message(line, 1, 1, Message::NoteOff { key: key(bar - 1) });
        }
        put(Entry::Bar {
            tick: Tick::new(line),
            end: Tick::new(line + BAR),
            song: Some(line),
            then: None,
        });
        put(Entry::Chord {
            tick: Tick::new(line),
        });
        let note = key(bar);
        message(
            line,
            1,
            1,
            Message::NoteOn {
                key: note,
                velocity,
            },
        );
        for beat in 0..4 {
            let at = line + beat * 960;
            let click = KeyNumber::clamped(76);
            message(
                at,
                0,
                10,
                Message::NoteOn {
                    key: click,
                    velocity,
                },
            );
            message(at + 60, 0, 10, Message::NoteOff { key: click });
        }
    }
    let line = Tick::new((from + count) * BAR);
    let last = KeyNumber::clamped(40 + i32::try_from((from + count - 1) % 40).unwrap_or(0));
    if let Ok(channel) = Channel::new(1) {
        put(Entry::Message {
            tick: line,
            message: PartMessage {
                part: PartId(1),
                channel,
                message: Message::NoteOff { key: last },
            },
        });
    }
    put(Entry::End { tick: line });
}

/// What was heard so far.
#[derive(Default)]
struct Heard {
    sounding: BTreeSet<(u8, u8)>,
    latest: Nanos,
    steps: u32,
}

impl Heard {
    /// Plays what is due before `until`, or all that is known to come.
    fn play(&mut self, dispatcher: &mut Dispatcher, until: Option<Nanos>) {
        while let Some(at) = dispatcher.due() {
            if until.is_some_and(|until| at >= until) {
                break;
            }
            self.steps += 1;
            assert!(self.steps < MOST_STEPS, "it hangs");
            let Some(sent) = dispatcher.step() else {
                continue;
            };
            let Outgoing::Part(PartMessage {
                channel, message, ..
            }) = sent.what
            else {
                continue;
            };
            assert!(sent.at >= self.latest, "{:?} after {:?}", sent, self.latest);
            self.latest = sent.at;
            match message {
                Message::NoteOn { key, .. } => {
                    let new = self.sounding.insert((channel.number(), key.get()));
                    assert!(new, "{sent:?} sounds already");
                }
                Message::NoteOff { key } => {
                    self.sounding.remove(&(channel.number(), key.get()));
                }
                _ => {}
            }
        }
    }
}

fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else {
        return;
    };
    let (queue, entries) = unbounded();
    let mut dispatcher = Dispatcher::new(entries);
    if first & 1 != 0 {
        dispatcher = dispatcher.with_clock();
    }
    while dispatcher.before().is_some() {}
    let mut heard = Heard::default();
    let (mut run, mut now) = (0, 0);
    bars(&queue, run, 0, u64::from(first >> 4) + 1);
    for asked in rest.chunks_exact(3).take(48) {
        let (what, value, wait) = (asked[0], asked[1], u64::from(asked[2]));
        now += wait * wait * 50_000;
        let at = Nanos::new(now);
        if what & 0x80 != 0 {
            // A thread that slept: what is due is looked at late.
            if what & 0x40 != 0 {
                dispatcher.look_for_stall(at);
            } else {
                dispatcher.look(at);
            }
        }
        heard.play(&mut dispatcher, Some(at));
        let bar = u64::from(value % 32);
        let wish = match what & 0x0f {
            0 => Wish::Pause,
            1 => Wish::Resume,
            2 => Wish::Tempo(100_000 + u32::from(value) * 38_000),
            3 | 4 => Wish::Follow(Tempo::clamped(200_000.0 + f64::from(value) * 4_000.0)),
            5 => Wish::Transpose(i8::try_from(value % 49).unwrap_or(0) - 24),
            6 if value & 2 != 0 => Wish::Mute(PartId(value & 1)),
            6 => Wish::Unmute(PartId(value & 1)),
            7 | 8 => {
                run += 1;
                Wish::Leave {
                    run,
                    song: bar * BAR,
                }
            }
            9 | 10 => {
                run += 1;
                Wish::Begin {
                    run,
                    song: (value & 0x40 == 0).then_some(bar * BAR),
                    skip: if value & 0x80 != 0 {
                        u64::from(value) * 15
                    } else {
                        0
                    },
                }
            }
            _ => continue,
        };
        if dispatcher.wish(Timed { at, what: wish })
            && matches!(wish, Wish::Leave { .. } | Wish::Begin { .. })
        {
            bars(&queue, run, bar, 4);
        }
    }
    heard.play(&mut dispatcher, Some(Nanos::new(now + 10_000_000_000)));
    dispatcher.stop(Nanos::new(now + 10_000_000_000));
    heard.play(&mut dispatcher, None);
    assert!(heard.sounding.is_empty(), "{:?} sound on", heard.sounding);
});
