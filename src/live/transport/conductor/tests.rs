mod table;
mod walk;

use std::sync::Arc;

use crossbeam_channel::bounded;

use super::*;
use crate::event::{Channel, Header, KeyNumber, Landmarks, Message, PartId, PartInfo, Velocity};
use crate::live::{Pace, PortLane, RecordingPort, SteppedLane, VirtualClock};
use crate::time::{BarSpan, Meter, Nanos, Region, Tempo, Tick};

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

/// What is asked for at which millisecond, on bars of two seconds; what begins when, as `ms+key`, and what is told. The lane
/// is driven by hand, so that each comes at its moment.
fn asked(last: i64, until_ms: u64, asks: &[(u64, Control)]) -> (String, Vec<Notice>) {
    asked_of(last, until_ms, asks, CountIn::Without)
}

/// The same, going on after pauses in this way.
fn asked_of(
    last: i64,
    until_ms: u64,
    asks: &[(u64, Control)],
    after_pause: CountIn,
) -> (String, Vec<Notice>) {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let lane = SteppedLane::new(port.clone(), &clock);
    let mut held = lane.clone();
    let mut lanes: [&mut dyn Lane; 1] = [&mut held];
    let mut source = Bars::new(last);
    let stop = AtomicBool::new(false);
    let (send, receive) = bounded(16);
    let mut told = Vec::new();
    let mut tell = |what| told.push(what);
    let mut conductor = Conductor::new(&mut source, &mut lanes, &stop)
        .asked_by(&receive)
        .notifying(&mut tell);
    if after_pause == CountIn::With {
        conductor = conductor.counting_in_after_pauses();
    }
    for ms in (0..until_ms).step_by(10) {
        for (_, control) in asks.iter().filter(|(at, _)| *at == ms) {
            send.send(*control).unwrap();
        }
        if !conductor.turn().unwrap() {
            break;
        }
        lane.play_until(Nanos::new((ms + 10) * 1_000_000));
    }
    stop.store(true, Ordering::Relaxed);
    conductor.play().1.unwrap();
    let mut down = std::collections::HashSet::new();
    let mut begun = Vec::new();
    for sent in port.sent() {
        let at = (sent.bytes[0] & 15, sent.bytes[1]);
        match sent.bytes[0] >> 4 {
            9 => {
                assert!(down.insert(at), "{at:?} sounds already");
                begun.push(format!("{}+{}", sent.at.get() / 1_000_000, sent.bytes[1]));
            }
            8 => assert!(down.remove(&at)),
            _ => {}
        }
    }
    assert!(down.is_empty());
    (begun.join(" "), told)
}

#[test]
fn the_next_pass_and_the_same_again() {
    // Passes of four bars. In bar 2 the next is asked for, in its second bar the same again.
    let (begun, told) = asked(
        40,
        15_000,
        &[(3_000, Control::Next), (7_000, Control::Again)],
    );
    assert_eq!(
        begun,
        "0+1 2000+2 4000+5 6000+6 8000+5 10000+6 12000+7 14000+8"
    );
    assert_eq!(told, [Notice::Goes(5), Notice::Goes(5)]);
    let (begun, told) = asked(6, 15_000, &[(9_000, Control::Next)]);
    assert!(begun.ends_with("8000+5 10000+6"), "{begun}");
    assert_eq!(told, [Notice::LastPass]);
}

#[test]
fn a_jump_asked_for_in_the_last_bar_is_made_at_the_end() {
    // The end is already queued by then.
    let (begun, told) = asked(4, 11_000, &[(7_900, Control::Go(2))]);
    assert_eq!(begun, "0+1 2000+2 4000+3 6000+4 8000+2 10000+3");
    assert_eq!(told, [Notice::Goes(2)]);
}

#[test]
fn a_loop_asked_for_while_it_stands_does_not_move_it() {
    // It stands in the middle of bar 2 for a second: the rest of the bar is played before the loop turns.
    let asks = [
        (3_000, Control::Pause),
        (3_500, Control::Loop(Some((2, 3)))),
        (4_000, Control::Resume),
    ];
    let (begun, _) = asked(40, 12_000, &asks);
    assert_eq!(begun, "0+1 2000+2 4000+2 5000+3 7000+2 9000+3 11000+2");
    // Ended while it is paused in the last bar of the loop, whose turn is already queued.
    let asks = [
        (500, Control::Loop(Some((2, 3)))),
        (5_000, Control::Pause),
        (5_500, Control::Loop(None)),
        (6_000, Control::Resume),
    ];
    let (begun, _) = asked(40, 10_000, &asks);
    assert_eq!(begun, "0+1 2000+2 4000+3 6000+3 7000+4 9000+5");
    // Ended, begun and ended again at once.
    let asks = [
        (500, Control::Loop(Some((2, 3)))),
        (5_000, Control::Loop(None)),
        (5_000, Control::Loop(Some((2, 3)))),
        (5_000, Control::Loop(None)),
    ];
    let (begun, _) = asked(40, 9_000, &asks);
    assert_eq!(begun, "0+1 2000+2 4000+3 6000+4 8000+5");
}

#[test]
fn a_loop_takes_the_place_of_what_lies_ready_and_of_nothing_else() {
    // A jump that was asked for just before is made all the same.
    let asks = [
        (3_000, Control::Go(10)),
        (3_100, Control::Loop(Some((10, 11)))),
    ];
    let (begun, _) = asked(40, 9_000, &asks);
    assert_eq!(begun, "0+1 2000+2 4000+10 6000+11 8000+10");
    let asks = [
        (3_000, Control::Go(10)),
        (3_000, Control::Loop(Some((10, 11)))),
    ];
    assert_eq!(asked(40, 9_000, &asks).0, begun);
    // A longer loop takes the place of a shorter one before that turns.
    let asks = [
        (500, Control::Loop(Some((2, 3)))),
        (2_500, Control::Loop(Some((2, 4)))),
    ];
    let (begun, _) = asked(40, 9_000, &asks);
    assert_eq!(begun, "0+1 2000+2 4000+3 6000+4 8000+2");
}

#[test]
fn bars_from_here() {
    let (begun, _) = asked(
        40,
        9_000,
        &[
            (500, Control::GoBy(3)),
            (2_500, Control::GoBy(0)),
            (4_500, Control::GoBy(-2)),
        ],
    );
    assert_eq!(begun, "0+1 2000+4 4000+4 6000+2 8000+3");
}

#[test]
fn a_loop_marked_while_it_plays_turns_at_the_end_of_this_bar() {
    let asks = [
        (2_500, Control::LoopFromHere),
        (6_500, Control::LoopToHere),
        (16_500, Control::Loop(None)),
    ];
    let (begun, told) = asked(40, 21_000, &asks);
    assert_eq!(
        begun,
        "0+1 2000+2 4000+3 6000+4 8000+2 10000+3 12000+4 14000+2 16000+3 18000+4 20000+5"
    );
    assert_eq!(
        told,
        [
            Notice::Marked(2),
            Notice::Loops { first: 2, last: 4 },
            Notice::LoopEnds
        ]
    );
    // In its last bar a loop is left as well.
    let asks = [
        (500, Control::Loop(Some((2, 3)))),
        (5_000, Control::Loop(None)),
    ];
    assert_eq!(asked(40, 9_000, &asks).0, "0+1 2000+2 4000+3 6000+4 8000+5");
    // And asked for in the bar before its last one, or in that, it turns there.
    for at in [3_000, 5_000] {
        let asks = [(at, Control::Loop(Some((2, 3))))];
        assert_eq!(
            asked(40, 9_000, &asks).0,
            "0+1 2000+2 4000+3 6000+2 8000+3",
            "{at}"
        );
    }
    let (_, told) = asked(4, 3_000, &[(500, Control::Loop(Some((3, 9))))]);
    assert_eq!(told, [Notice::NoBar]);
}

#[test]
fn going_on_where_it_stood_with_a_count_in_or_elsewhere() {
    let pause = (3_000, Control::Pause);
    let (begun, told) = asked(40, 8_000, &[pause, (5_000, Control::Resume)]);
    assert_eq!(begun, "0+1 2000+2 5000+2 6000+3");
    assert_eq!(told, [Notice::Paused, Notice::Resumed]);
    // A count-in of four beats, then the paused bar from its beginning.
    let (begun, told) = asked(40, 10_000, &[pause, (5_000, Control::CountIn)]);
    assert_eq!(told, [Notice::Paused, Notice::CountsIn(2)]);
    assert_eq!(
        begun,
        "0+1 2000+2 5000+120 5500+120 6000+120 6500+120 7000+2 9000+3"
    );
    // The same by going on, where that is wanted after each pause.
    let asks = [pause, (5_000, Control::Resume)];
    assert_eq!(asked_of(40, 10_000, &asks, CountIn::With), (begun, told));
    // While it plays too.
    let (begun, _) = asked(40, 7_000, &[(3_000, Control::CountIn)]);
    assert_eq!(
        begun,
        "0+1 2000+2 3000+120 3500+120 4000+120 4500+120 5000+2"
    );
    // A jump while it is paused: it goes on there, at the bar line.
    let asks = [
        pause,
        (4_000, Control::Go(9)),
        (5_000, Control::PauseOrResume),
    ];
    let (begun, told) = asked(40, 8_000, &asks);
    assert_eq!(begun, "0+1 2000+2 5000+9 7000+10");
    assert_eq!(
        told,
        [Notice::Paused, Notice::GoesOnWith(9), Notice::Resumed]
    );
    let (_, told) = asked(4, 6_000, &[pause, (4_000, Control::Go(9))]);
    assert_eq!(told, [Notice::Paused, Notice::NoBar]);
}

#[test]
fn tempi_asked_for_in_beats_and_in_shares() {
    let tempo = |milli_beats, millionths| Notice::Tempo {
        milli_beats,
        millionths,
    };
    let asks = [
        (2_000, Control::Tempo(Pace::Beats(150_000))),
        (3_600, Control::Tempo(Pace::BeatsBy(-30_000))),
        (5_600, Control::Tempo(Pace::Share(500_000))),
        (9_600, Control::Tempo(Pace::ShareBy(500_000))),
        (9_700, Control::Tempo(Pace::Beats(2_000_000))),
        (9_800, Control::Tempo(Pace::ShareBy(-2_000_000))),
    ];
    let (begun, told) = asked(40, 12_000, &asks);
    assert_eq!(begun, "0+1 2000+2 3600+3 5600+4 9600+5 11600+6");
    assert_eq!(
        told,
        [
            tempo(150_000, 1_250_000),
            tempo(120_000, 1_000_000),
            tempo(60_000, 500_000),
            tempo(120_000, 1_000_000),
            Notice::TempoLimit,
            Notice::TempoLimit,
        ]
    );
}

#[test]
fn taps_set_the_tempo_of_what_plays() {
    let epoch = Instant::now();
    let tap = |ms| Control::Tap(epoch + Duration::from_millis(ms));
    // Two taps 400 ms apart: 150 a minute.
    let (begun, told) = asked(40, 6_000, &[(1_600, tap(1_600)), (2_000, tap(2_000))]);
    assert_eq!(begun, "0+1 2000+2 3600+3 5200+4");
    assert_eq!(
        told,
        [
            Notice::Tapped,
            Notice::Tempo {
                milli_beats: 150_000,
                millionths: 1_250_000
            }
        ]
    );
}

#[test]
fn a_suspended_program_stands_still_meanwhile() {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let lane = SteppedLane::new(port.clone(), &clock);
    let mut held = lane.clone();
    let mut lanes: [&mut dyn Lane; 1] = [&mut held];
    let mut source = Bars::new(9);
    let (stop, asked) = (AtomicBool::new(false), AtomicBool::new(false));
    let mut suspended = 0;
    let mut suspend = || {
        // Nothing is sent now but the note-offs of the pause.
        lane.play_until(Nanos::new(5_000_000_000));
        suspended += 1;
    };
    let mut conductor =
        Conductor::new(&mut source, &mut lanes, &stop).suspended_by(&asked, &mut suspend);
    for ms in (0..9_000).step_by(10) {
        asked.fetch_or(ms == 3_000, Ordering::Relaxed);
        assert!(conductor.turn().unwrap());
        lane.play_until(Nanos::new((ms + 10) * 1_000_000));
    }
    stop.store(true, Ordering::Relaxed);
    conductor.play().1.unwrap();
    let shown: Vec<String> = port
        .sent()
        .iter()
        .filter(|s| matches!(s.bytes[0] >> 4, 8 | 9))
        .map(|s| {
            format!(
                "{}{}{}",
                s.at.get() / 1_000_000,
                if s.bytes[0] >> 4 == 9 { "+" } else { "-" },
                s.bytes[1]
            )
        })
        .collect();
    assert_eq!(
        shown[..8].join(" "),
        "0+1 2000-1 2000+2 3000-2 5000+2 6000-2 6000+3 8000-3"
    );
    assert_eq!(suspended, 1);
}

/// Asks for all this in one turn while the lanes do not play, as where a driver holds their threads, and then plays on. Gives
/// what each of two lanes sent.
fn flooded(asked: &[Control], seconds: u64) -> [Vec<String>; 2] {
    let clocks = [VirtualClock::default(), VirtualClock::default()];
    let ports = [0, 1].map(|i| RecordingPort::new(&clocks[i]));
    let lanes = [0, 1].map(|i| SteppedLane::new(ports[i].clone(), &clocks[i]));
    let mut held = lanes.clone();
    let [first, second] = &mut held;
    let mut both: [&mut dyn Lane; 2] = [first, second];
    let stop = AtomicBool::new(false);
    let mut source = Bars::new(i64::MAX);
    let (ask, controls) = bounded(asked.len());
    let mut conductor = Conductor::new(&mut source, &mut both, &stop).asked_by(&controls);
    for ms in (0..seconds * 1000).step_by(10) {
        if ms == 1_000 {
            for control in asked {
                ask.send(*control).unwrap();
            }
        }
        assert!(conductor.turn().unwrap());
        for lane in &lanes {
            lane.play_until(Nanos::new((ms + 10) * 1_000_000));
        }
    }
    stop.store(true, Ordering::Relaxed);
    conductor.play().1.unwrap();
    ports.map(|port| {
        let notes = port
            .sent()
            .into_iter()
            .filter(|s| matches!(s.bytes[0] >> 4, 8 | 9));
        notes
            .map(|s| {
                let sign = if s.bytes[0] >> 4 == 9 { "+" } else { "-" };
                format!("{}{sign}{}", s.at.get() / 1_000_000, s.bytes[1])
            })
            .collect()
    })
}

#[test]
fn of_ten_thousand_wishes_in_one_turn_the_last_state_holds_in_all_lanes() {
    let mut many = Vec::new();
    for i in 0..1_000i64 {
        many.extend([
            Control::Pause,
            Control::Tempo(Pace::Share(900_000 + u32::try_from(i).unwrap())),
            if i % 2 == 0 {
                Control::Mute(PartId(0))
            } else {
                Control::Unmute(PartId(0))
            },
            Control::Mute(PartId(u8::try_from(i % 200).unwrap() + 1)),
            Control::Transpose(i8::try_from(i % 12).unwrap()),
            Control::Go(50 + i % 20),
            Control::CountIn,
            Control::GoBy(3),
            Control::Loop(Some((2, 2 + i % 5))),
            Control::Loop(None),
        ]);
    }
    let last = [
        Control::Unmute(PartId(0)),
        Control::Tempo(Pace::Share(1_000_000)),
        Control::Transpose(2),
        Control::Resume,
        Control::Go(40),
    ];
    many.extend(last);
    // Pauses and count-ins begin a bar at once; where it is to be is bar 40, two semitones up.
    let [first, second] = flooded(&many, 8);
    assert!(first.iter().any(|note| note.ends_with("+42")), "{first:?}");
    let at = first.iter().position(|note| note.ends_with("+42")).unwrap();
    assert!(
        first[at + 1].ends_with("-42") && first[at + 2].ends_with("+43"),
        "{first:?}"
    );
    assert_eq!(first, second);
    // The piece stays paused, and nothing sounds.
    many.push(Control::Pause);
    let [first, second] = flooded(&many, 8);
    let (on, off): (Vec<_>, Vec<_>) = first.iter().partition(|note| note.contains('+'));
    assert_eq!(on.len(), off.len(), "{first:?}");
    let late = |note: &&String| {
        note.split(['+', '-'])
            .next()
            .unwrap()
            .parse::<u64>()
            .unwrap()
            > 1_100
    };
    assert_eq!(first.iter().filter(late).count(), 0, "{first:?}");
    assert_eq!(first, second);
}
