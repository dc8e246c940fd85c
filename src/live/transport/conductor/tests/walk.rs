//! Random walks through what can be asked for, with what must hold wherever they lead.

use proptest::prelude::*;

use super::*;
/// One of all that can be asked for.
fn a_control() -> impl Strategy<Value = Control> {
    let bar = -1i64..20;
    prop_oneof![
        4 => Just(Control::Pause),
        4 => Just(Control::Resume),
        4 => Just(Control::PauseOrResume),
        2 => Just(Control::CountIn),
        1 => (400_000u32..3_000_000).prop_map(|share| Control::Tempo(Pace::Share(share))),
        1 => (-200_000i32..200_000).prop_map(|more| Control::Tempo(Pace::ShareBy(more))),
        1 => (-30i8..30).prop_map(Control::Transpose),
        1 => Just(Control::MuteOrUnmute(PartId(0))),
        3 => bar.clone().prop_map(Control::Go),
        1 => (-4i64..4).prop_map(Control::GoBy),
        1 => Just(Control::Next),
        1 => Just(Control::Again),
        3 => (bar.clone(), 0i64..4).prop_map(|(first, more)| Control::Loop(Some((first, first + more)))),
        2 => Just(Control::Loop(None)),
        1 => Just(Control::LoopFromHere),
        1 => Just(Control::LoopToHere),
    ]
}

/// What sounds, from the bytes that were sent.
fn sounding(port: &RecordingPort) -> std::collections::HashSet<(u8, u8)> {
    let mut down = std::collections::HashSet::new();
    for sent in port.sent() {
        let at = (sent.bytes[0] & 15, *sent.bytes.get(1).unwrap_or(&0));
        match sent.bytes[0] >> 4 {
            9 => assert!(down.insert(at), "{at:?} sounds already"),
            8 => assert!(down.remove(&at), "{at:?} ends, and does not sound"),
            _ => {}
        }
    }
    down
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn wherever_a_walk_leads_lane_and_conductor_agree(
        asks in proptest::collection::vec((a_control(), 0u64..900), 1..60),
        clock_goes_out in any::<bool>(),
    ) {
        let clock = VirtualClock::default();
        let port = RecordingPort::new(&clock);
        let lane = if clock_goes_out {
            SteppedLane::with_clock(port.clone(), &clock)
        } else {
            SteppedLane::new(port.clone(), &clock)
        };
        let mut held = lane.clone();
        let mut lanes: [&mut dyn Lane; 1] = [&mut held];
        let mut source = Bars::new(16);
        let stop = AtomicBool::new(false);
        let (send, receive) = bounded(16);
        let told = std::cell::RefCell::new(Vec::new());
        let mut tell = |what| told.borrow_mut().push(what);
        let mut conductor = Conductor::new(&mut source, &mut lanes, &stop)
            .asked_by(&receive)
            .notifying(&mut tell);
        let mut now = 0u64;
        let pulses = || port.sent().iter().filter(|sent| sent.bytes[0] == 0xF8).count();
        'walk: for (control, wait) in asks {
            send.send(control).unwrap();
            // In small steps: a lane that is not looked after for long runs out of bars.
            for _ in 0..=wait / 20 {
                let (stood, before) = (lane.place().paused, pulses());
                if !conductor.turn().unwrap() {
                    break 'walk;
                }
                now += 20_000_000;
                lane.play_until(Nanos::new(now));
                let stands = stood && lane.place().paused;
                prop_assert!(!stands || pulses() == before, "pulses while it stands");
            }
            let here = lane.place();
            prop_assert!(here.run <= conductor.supply.run.number);
            prop_assert_eq!(here.paused, conductor.state.is_paused(), "after {:?}", control);
            if here.paused {
                prop_assert!(sounding(&port).is_empty(), "sounds while it stands, after {control:?}");
            }
            // The last notice is true.
            let last = told.borrow().iter().rev().find(|told| matches!(told, Notice::Paused | Notice::Resumed | Notice::CountsIn(_))).copied();
            let stands = last == Some(Notice::Paused);
            prop_assert_eq!(stands, conductor.state.is_paused(), "told {:?} after {:?}", last, control);
            // Few bars are queued ahead.
            let ready = conductor.supply.handed_in(conductor.supply.run.number).count();
            prop_assert!(here.run != conductor.supply.run.number || ready <= here.bars as usize + 2);
        }
        stop.store(true, Ordering::Relaxed);
        conductor.play().1.unwrap();
        prop_assert!(sounding(&port).is_empty(), "sounds on");
        let sent = port.sent();
        for pair in sent.windows(2) {
            prop_assert!(pair[0].at <= pair[1].at);
        }
        if clock_goes_out {
            let moving = sent.iter().fold(false, |moving, sent| match sent.bytes[0] {
                0xFA | 0xFB => true,
                0xFC => false,
                _ => moving,
            });
            prop_assert!(!moving, "a follower of the clock moves on");
        }
    }
}
