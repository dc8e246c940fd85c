use std::sync::Arc;

use crossbeam_channel::bounded;

use super::*;
use crate::event::{Channel, Header, KeyNumber, Landmarks, Message, PartId, PartInfo, Velocity};
use crate::live::{Pace, PortLane, RecordingPort, VirtualClock};
use crate::time::{BarSpan, Meter, Region, Tempo};

/// Bars of 4/4 at 120 without end or with one; each has one note from bar line to bar line, whose key is the bar's number.
struct Bars {
    header: Header,
    next: i64,
    last: i64,
    open: Option<i64>,
}

impl Bars {
    fn new(last: i64) -> Self {
        let part = PartInfo {
            name: "pads",
            channel: Channel::new(1).unwrap(),
            program: Some(0),
            rank: 0,
            pulse: false,
            level: 100,
            pan: 0,
        };
        Bars {
            header: Header {
                title: "bars".to_owned(),
                seed: 1,
                parts: vec![part],
            },
            next: 1,
            last,
            open: None,
        }
    }
}

fn key(bar: i64) -> KeyNumber {
    KeyNumber::clamped(i32::try_from(bar).unwrap())
}

impl Source for Bars {
    fn header(&self) -> &Header {
        &self.header
    }
    fn end(&self) -> Option<Tick> {
        None
    }
    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<Bar> {
        let number = self.next;
        if number > self.last {
            return None;
        }
        self.next += 1;
        let start = Tick::new((u64::try_from(number).unwrap() - 1) * 3840);
        let mut note = |tick, message| {
            events.push(Event::of_part(
                tick,
                PartId(0),
                Channel::new(1).unwrap(),
                message,
            ));
        };
        if let Some(open) = self.open.replace(number) {
            note(start, Message::NoteOff { key: key(open) });
        }
        let velocity = Velocity::clamped(90);
        note(
            start,
            Message::NoteOn {
                key: key(number),
                velocity,
            },
        );
        if number == self.last {
            note(start + 3840, Message::NoteOff { key: key(number) });
        }
        events.insert(
            0,
            Event {
                tick: start,
                body: Body::Tempo(Tempo::new(500_000).unwrap()),
            },
        );
        Some(BarSpan {
            number,
            start,
            meter: Meter::COMMON,
            region: Region::Pass { pass: 0, bar: 0 },
        })
    }
    fn seek(&mut self, number: i64) -> bool {
        let known = (1..=self.last).contains(&number);
        if known {
            self.next = number;
        }
        known
    }
    fn landmarks(&self, number: i64) -> Option<Landmarks> {
        let ticks = u64::try_from(number - 1)
            .ok()
            .filter(|_| number <= self.last)?
            * 3840;
        // Passes of four bars.
        let pass = (number - 1) / 4 * 4 + 1;
        Some(Landmarks {
            song_ticks: Some(ticks),
            pass,
            next_pass: (pass + 4 <= self.last).then_some(pass + 4),
        })
    }
    fn bar_at(&self, song_ticks: u64) -> Option<i64> {
        let bar = i64::try_from(song_ticks / 3840).ok()? + 1;
        (bar <= self.last).then_some(bar)
    }
    fn count_in(&mut self, number: i64, events: &mut Vec<Event>) -> Option<Bar> {
        let start = Tick::new((u64::try_from(number).ok()? - 1) * 3840);
        for beat in 0..4 {
            let key = KeyNumber::clamped(120);
            let velocity = Velocity::clamped(90);
            let mut note = |ticks, message| {
                let tick = start + ticks;
                events.push(Event::of_part(
                    tick,
                    PartId(0),
                    Channel::PERCUSSION,
                    message,
                ));
            };
            note(beat * 960, Message::NoteOn { key, velocity });
            note(beat * 960 + 60, Message::NoteOff { key });
        }
        Some(BarSpan {
            number,
            start,
            meter: Meter::COMMON,
            region: Region::CountIn { bar: 0 },
        })
    }
    fn transpose(&mut self, _: i32) {}
    fn mute(&mut self, _: PartId, _: bool) {}
    fn scale_tempo(&mut self, _: u32) {}
}

/// What a recording port got, as bars and the milliseconds at which their notes began; nothing may be left sounding.
fn played(source: &mut Bars, controls: &[Control]) -> Vec<(u8, u64)> {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let stop = Arc::new(AtomicBool::new(false));
    let (send, receive) = bounded(16);
    for control in controls {
        send.send(*control).unwrap();
    }
    let mut lane = PortLane::new(port.clone(), Box::new(move || Box::new(clock)), &stop);
    play_on(source, &mut [&mut lane], Some(&receive), &stop).unwrap();
    let mut down = std::collections::HashSet::new();
    let mut begun = Vec::new();
    for sent in port.sent() {
        match sent.bytes[0] >> 4 {
            9 => {
                assert!(down.insert(sent.bytes[1]));
                begun.push((sent.bytes[1], sent.at.get() / 1_000_000));
            }
            8 => assert!(down.remove(&sent.bytes[1])),
            _ => {}
        }
    }
    assert!(down.is_empty());
    begun
}

#[test]
fn bars_are_played_to_the_end() {
    assert_eq!(
        played(&mut Bars::new(4), &[]),
        [(1, 0), (2, 2000), (3, 4000), (4, 6000)]
    );
}

#[test]
fn a_jump_asked_for_before_the_start_leaves_at_the_first_bar_line() {
    // Asked for while nothing plays yet: the piece begins there.
    let begun = played(&mut Bars::new(9), &[Control::Go(8)]);
    assert_eq!(begun, [(8, 0), (9, 2000)]);
}

#[test]
fn a_bar_that_is_not_there_changes_nothing() {
    let begun = played(&mut Bars::new(2), &[Control::Go(12)]);
    assert_eq!(begun, [(1, 0), (2, 2000)]);
}

#[test]
fn tempo_and_transposition_reach_the_lane() {
    let begun = played(&mut Bars::new(3), &[Control::Tempo(Pace::Share(2_000_000))]);
    assert_eq!(begun, [(1, 0), (2, 1000), (3, 2000)]);
}

#[test]
fn a_loop_goes_round_until_it_is_stopped() {
    // A loop has no end; the port breaks off after some messages and so ends it.
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock).failing(41, crate::live::Fault::Gone);
    let stop = Arc::new(AtomicBool::new(false));
    let (send, receive) = bounded(16);
    send.send(Control::Loop(Some((2, 3)))).unwrap();
    let mut lane = PortLane::new(port.clone(), Box::new(move || Box::new(clock)), &stop);
    let mut source = Bars::new(9);
    assert!(play_on(&mut source, &mut [&mut lane], Some(&receive), &stop).is_err());
    let begun: Vec<(u8, u64)> = port
        .sent()
        .iter()
        .filter(|s| s.bytes[0] >> 4 == 9)
        .map(|s| (s.bytes[1], s.at.get() / 1_000_000))
        .collect();
    assert!(begun.len() >= 20, "{begun:?}");
    for (i, (bar, at)) in begun.iter().enumerate() {
        let wanted = if i == 0 { 1 } else { 2 + (i + 1) % 2 };
        assert_eq!(usize::from(*bar), wanted, "{begun:?}");
        assert_eq!(*at, 2000 * i as u64, "{begun:?}");
    }
}
