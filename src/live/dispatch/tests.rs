mod table;

use crossbeam_channel::{Sender, bounded};
use proptest::prelude::*;

use super::*;
use crate::event::{Channel, KeyNumber, PartId, PartMessage, Velocity};

const QUARTER: u64 = 960;

fn ch(number: u8) -> Channel {
    Channel::new(number).unwrap()
}

fn on(tick: u64, part: u8, channel: u8, key: i32) -> Entry {
    Entry::Message {
        tick: Tick::new(tick),
        message: PartMessage {
            part: PartId(part),
            channel: ch(channel),
            message: Message::NoteOn {
                key: KeyNumber::clamped(key),
                velocity: Velocity::clamped(90),
            },
        },
    }
}

fn off(tick: u64, part: u8, channel: u8, key: i32) -> Entry {
    Entry::Message {
        tick: Tick::new(tick),
        message: PartMessage {
            part: PartId(part),
            channel: ch(channel),
            message: Message::NoteOff {
                key: KeyNumber::clamped(key),
            },
        },
    }
}

/// Bars of 4/4 from bar `from`, in ticks of the piece: a chord on channel 1 (part 1) held to the bar line, a click on
/// every beat (part 0). The chord's key tells the bar.
fn bars(queue: &Sender<Item>, run: u32, from: u64, count: u64, us: u64) {
    let put = |entry| queue.send(Item { run, entry }).unwrap();
    let start = from * 4 * QUARTER;
    put(Entry::Origin {
        tick: Tick::new(start),
        song: Some(start),
    });
    put(Entry::Tempo {
        tick: Tick::new(start),
        tempo: Tempo::new(us).unwrap(),
    });
    for bar in from..from + count {
        let line = bar * 4 * QUARTER;
        let key = 40 + i32::try_from(bar % 40).unwrap();
        if bar > from {
            put(off(line, 1, 1, 40 + i32::try_from((bar - 1) % 40).unwrap()));
        }
        put(Entry::Bar {
            tick: Tick::new(line),
            end: Tick::new(line + 4 * QUARTER),
            song: Some(line),
            then: None,
        });
        put(Entry::Chord {
            tick: Tick::new(line),
        });
        put(on(line, 0, 10, 76));
        put(on(line, 1, 1, key));
        put(off(line + 60, 0, 10, 76));
        for beat in 1..4 {
            put(on(line + beat * QUARTER, 0, 10, 77));
            put(off(line + beat * QUARTER + 60, 0, 10, 77));
        }
    }
}

fn end(queue: &Sender<Item>, run: u32, bar: u64) {
    let tick = Tick::new(bar * 4 * QUARTER);
    queue
        .send(Item {
            run,
            entry: Entry::End { tick },
        })
        .unwrap();
}

/// Plays all bars that were sent.
fn all(dispatcher: &mut Dispatcher) -> Vec<Timed<Outgoing>> {
    let mut sent = Vec::new();
    while dispatcher.due().is_some() {
        sent.extend(dispatcher.step());
    }
    sent
}

fn note(sent: &Timed<Outgoing>) -> Option<(PartId, Channel, Message)> {
    match sent.what {
        Outgoing::Part(PartMessage {
            part,
            channel,
            message,
        }) => Some((part, channel, message)),
        Outgoing::System(_) => None,
    }
}

/// Times in milliseconds, `+` for a note on and `-` for a note off, and the key; of one channel.
fn shown(sent: &[Timed<Outgoing>], channel: u8) -> String {
    let of = |message: Message| match message {
        Message::NoteOn { key, .. } => format!("+{}", key.get()),
        Message::NoteOff { key } => format!("-{}", key.get()),
        _ => "?".to_owned(),
    };
    sent.iter()
        .filter_map(|s| note(s).map(|(_, c, message)| (s.at, c, message)))
        .filter(|(_, c, _)| *c == ch(channel))
        .map(|(at, _, message)| format!("{}{}", at.get() / 1_000_000, of(message)))
        .collect::<Vec<_>>()
        .join(" ")
}

fn wish(dispatcher: &mut Dispatcher, ms: u64, wish: Wish) {
    let at = Nanos::new(ms * 1_000_000);
    assert!(dispatcher.wish(Timed { at, what: wish }));
}

/// Two bars at 120: a beat is 500 ms.
fn two_bars() -> Dispatcher {
    let (queue, taken) = bounded(200);
    bars(&queue, 0, 0, 2, 500_000);
    end(&queue, 0, 2);
    Dispatcher::new(taken)
}

#[test]
fn entries_come_at_their_times() {
    let mut d = two_bars();
    let sent = all(&mut d);
    assert!(d.is_over());
    assert_eq!(shown(&sent, 1), "0+40 2000-40 2000+41 4000-41");
    assert_eq!(
        shown(&sent, 10),
        "0+76 31-76 500+77 531-77 1000+77 1031-77 1500+77 1531-77 \
         2000+76 2031-76 2500+77 2531-77 3000+77 3031-77 3500+77 3531-77"
    );
    assert_eq!(d.place(), (0, 2));
}

#[test]
fn a_pause_ends_what_sounds_and_strikes_it_again() {
    let mut d = two_bars();
    wish(&mut d, 1200, Wish::Pause);
    wish(&mut d, 5000, Wish::Resume);
    let sent = all(&mut d);
    // 3800 ms later from there on.
    assert_eq!(
        shown(&sent, 1),
        "0+40 1200-40 5000+40 5800-40 5800+41 7800-41"
    );
    assert!(shown(&sent, 10).contains("1031-77 5300+77"));
}

#[test]
fn a_tempo_scales_what_is_left_from_the_moment_on() {
    let mut d = two_bars();
    wish(&mut d, 1000, Wish::Tempo(2_000_000));
    let sent = all(&mut d);
    // Half a bar at 500 ms a beat, then 250.
    assert_eq!(shown(&sent, 1), "0+40 1500-40 1500+41 2500-41");
    assert_eq!(d.tick_at(Nanos::new(1_500_000_000)), Tick::new(4 * QUARTER));
}

#[test]
fn a_silenced_part_ends_at_once_and_comes_back_with_its_next_note() {
    let mut d = two_bars();
    wish(&mut d, 700, Wish::Mute(PartId(1)));
    wish(&mut d, 1900, Wish::Unmute(PartId(1)));
    let sent = all(&mut d);
    assert_eq!(shown(&sent, 1), "0+40 700-40 2000+41 4000-41");
    assert_eq!(shown(&sent, 10).matches('+').count(), 8);
}

#[test]
fn a_transposition_waits_for_the_next_chord_and_leaves_percussion() {
    let mut d = two_bars();
    wish(&mut d, 700, Wish::Transpose(3));
    let sent = all(&mut d);
    assert_eq!(shown(&sent, 1), "0+40 2000-40 2000+44 4000-44");
    assert!(!shown(&sent, 10).contains("79"));
}

#[test]
fn a_jump_leaves_at_the_next_bar_line_for_a_new_origin() {
    let (queue, taken) = bounded(200);
    bars(&queue, 0, 0, 4, 500_000);
    let mut d = Dispatcher::new(taken);
    wish(
        &mut d,
        700,
        Wish::Leave {
            run: 1,
            song: 10 * 4 * QUARTER,
        },
    );
    bars(&queue, 1, 10, 1, 600_000);
    end(&queue, 1, 11);
    let sent = all(&mut d);
    // The bar line at 2000 ms, then bar 10 at 600 ms a beat.
    assert_eq!(shown(&sent, 1), "0+40 2000-40 2000+50 4400-50");
    assert_eq!(
        d.tick_at(Nanos::new(2_600_000_000)),
        Tick::new(41 * QUARTER)
    );
    assert!(d.is_over());
}

#[test]
fn a_turn_goes_over_into_the_next_run() {
    let (queue, taken) = bounded(400);
    for run in 0..3 {
        bars(&queue, run, 5, 1, 500_000);
        let tick = Tick::new(6 * 4 * QUARTER);
        let entry = if run == 2 {
            Entry::End { tick }
        } else {
            Entry::Turn { tick }
        };
        queue.send(Item { run, entry }).unwrap();
    }
    let mut d = Dispatcher::new(taken);
    let sent = all(&mut d);
    assert_eq!(
        shown(&sent, 1),
        "0+45 2000-45 2000+45 4000-45 4000+45 6000-45"
    );
}

#[test]
fn what_is_long_past_is_not_rattled_off() {
    let mut d = two_bars();
    let mut sent = Vec::new();
    // It plays until 600 ms, then the machine sleeps until 9 s.
    while d.due().is_some_and(|at| at.get() < 600_000_000) {
        sent.extend(d.step());
    }
    assert!(
        !d.look_for_stall(Nanos::new(1_400_000_000)),
        "400 ms are no stall"
    );
    assert!(d.look_for_stall(Nanos::new(9_000_000_000)));
    assert!(
        !d.look_for_stall(Nanos::new(9_000_000_000)),
        "once is enough"
    );
    sent.extend(all(&mut d));
    // What sounds ends when it wakes; the rest of the bar is left out, and the next one follows at once.
    assert_eq!(shown(&sent, 1), "0+40 9000-40 9000+41 11000-41");
    assert_eq!(
        shown(&sent, 10),
        "0+76 31-76 500+77 531-77 9000+76 9031-76 9500+77 9531-77 10000+77 10031-77 10500+77 10531-77"
    );
}

#[test]
fn a_stall_in_the_last_bar_leads_to_the_end() {
    let mut d = two_bars();
    let mut sent = Vec::new();
    while d.due().is_some_and(|at| at.get() < 2_600_000_000) {
        sent.extend(d.step());
    }
    assert!(d.look_for_stall(Nanos::new(60_000_000_000)));
    sent.extend(all(&mut d));
    assert!(d.is_over());
    assert_eq!(shown(&sent, 1), "0+40 2000-40 2000+41 60000-41");
}

#[test]
fn a_stop_ends_all_that_sounds() {
    let mut d = two_bars();
    let mut sent = Vec::new();
    while d.due().is_some_and(|at| at.get() < 600_000_000) {
        sent.extend(d.step());
    }
    d.stop(Nanos::new(600_000_000));
    sent.extend(all(&mut d));
    assert!(d.is_over());
    assert_eq!(shown(&sent, 1), "0+40 600-40");
}

/// Notes that sound after all of this, by channel and key; none may be ended that does not sound.
fn sounding(sent: &[Timed<Outgoing>]) -> usize {
    let mut notes = std::collections::HashMap::new();
    for s in sent {
        let Some((_, channel, message)) = note(s) else {
            continue;
        };
        match message {
            Message::NoteOn { key, .. } => *notes.entry((channel, key)).or_insert(0) += 1,
            Message::NoteOff { key } => {
                let count = notes.entry((channel, key)).or_insert(0);
                assert!(*count > 0, "{s:?} ends nothing");
                *count -= 1;
            }
            _ => {}
        }
    }
    notes.values().sum()
}

fn a_wish() -> impl Strategy<Value = (u64, u8, u16)> {
    (1u64..8000, 0u8..8, 0u16..1000)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// Hours of bars with a wish every few seconds: nothing hangs, nothing is ended twice, times never run backwards,
    /// nothing sounds while it is paused or is silenced, and each message is where plain arithmetic puts it.
    #[test]
    fn whatever_is_wished_no_note_hangs(wishes in proptest::collection::vec(a_wish(), 1..400)) {
        let (queue, taken) = bounded(1 << 14);
        let mut d = Dispatcher::new(taken);
        let mut sent: Vec<Timed<Outgoing>> = Vec::new();
        let (mut now, mut run, mut bar) = (0u64, 0u32, 0u64);
        bars(&queue, run, bar, 6, 500_000);
        let mut paused: Option<u64> = None;
        let mut silent = false;
        for (after, kind, number) in wishes {
            let until = now + after * 1_000_000;
            let from = sent.len();
            while d.due().is_some_and(|at| at.get() < until) {
                sent.extend(d.step());
            }
            for s in &sent[from..] {
                let Some((part, _, message)) = note(s) else { continue };
                let is_on = matches!(message, Message::NoteOn { .. });
                prop_assert!(paused.is_none() || !is_on, "{s:?} while it is paused since {paused:?}");
                prop_assert!(!(silent && is_on && part == PartId(1)), "{s:?} is silenced");
            }
            now = until;
            let at = Nanos::new(now);
            let asked = match kind {
                0 => { paused = paused.or(Some(now)); Wish::Pause }
                1 | 2 => { paused = None; Wish::Resume }
                3 => Wish::Tempo(500_000 + u32::from(number) * 1000),
                4 => Wish::Transpose(i8::try_from(number % 25).unwrap() - 12),
                5 => { silent = true; Wish::Mute(PartId(1)) }
                6 => { silent = false; Wish::Unmute(PartId(1)) }
                _ => {
                    run += 1;
                    bar = u64::from(number);
                    Wish::Leave { run, song: bar * 4 * QUARTER }
                }
            };
            let taken = d.wish(Timed { at, what: asked });
            prop_assert!(taken);
            // The wish takes effect now; it may only end or strike notes.
            while d.due().is_some_and(|due| due.get() <= now) {
                sent.extend(d.step());
            }
            if kind == 7 || queue.len() < 60 {
                if kind != 7 {
                    run += 1;
                    bar += 6;
                    // The bars that are ready play out, then the next run.
                    let taken = d.wish(Timed { at, what: Wish::Leave { run, song: bar * 4 * QUARTER } });
                    prop_assert!(taken);
                }
                bars(&queue, run, bar, 12, 500_000);
            }
        }
        if let Some(at) = d.due() {
            now = now.max(at.get());
        }
        d.stop(Nanos::new(now));
        sent.extend(all(&mut d));
        prop_assert!(d.is_over());
        prop_assert_eq!(sounding(&sent), 0);
        for pair in sent.windows(2) {
            prop_assert!(pair[0].at <= pair[1].at, "{:?} before {:?}", pair[0], pair[1]);
        }
    }
}

/// Messages of the clock with their times in tenths of a millisecond: `P` a pulse, `S` start, `C` continue, `X` stop, a number a
/// position. Pulses that follow each other in even steps are shown as `first..last/count`.
fn clock(sent: &[Timed<Outgoing>]) -> String {
    let mut shown: Vec<String> = Vec::new();
    let mut pulses: Vec<u64> = Vec::new();
    let flush = |pulses: &mut Vec<u64>, shown: &mut Vec<String>| {
        match pulses.as_slice() {
            [] => {}
            [one] => shown.push(format!("{one}P")),
            [first, .., last] => shown.push(format!("{first}..{last}P/{}", pulses.len())),
        }
        pulses.clear();
    };
    for s in sent {
        let Outgoing::System(message) = s.what else {
            continue;
        };
        let at = s.at.get() / 100_000;
        if message == System::Clock {
            pulses.push(at);
            continue;
        }
        flush(&mut pulses, &mut shown);
        shown.push(match message {
            System::Start => format!("{at}S"),
            System::Continue => format!("{at}C"),
            System::Stop => format!("{at}X"),
            System::Position(to) => format!("{at}@{to}"),
            System::Clock => unreachable!(),
        });
    }
    flush(&mut pulses, &mut shown);
    shown.join(" ")
}

#[test]
fn a_follower_that_stood_between_two_runs_starts_with_the_second() {
    let (queue, taken) = bounded(200);
    bars(&queue, 0, 0, 2, 500_000);
    let mut d = Dispatcher::new(taken).with_clock();
    let (song, skip) = (Some(8 * 4 * QUARTER), 0);
    wish(&mut d, 1000, Wish::Begin { run: 1, song, skip });
    wish(&mut d, 1001, Wish::Pause);
    wish(&mut d, 1500, Wish::Resume);
    let mut sent = all(&mut d);
    bars(&queue, 1, 8, 1, 500_000);
    end(&queue, 1, 9);
    sent.extend(all(&mut d));
    let told = clock(&sent);
    assert!(told.contains("10000X 10000@128 10000C 10010X"), "{told}");
    assert!(
        told.contains("15000@128 15000C 15000..34791P/96 35000X"),
        "{told}"
    );
}

#[test]
fn a_follower_hears_nothing_of_a_pause_in_what_a_stall_left_out() {
    let mut d = two_bars().with_clock();
    let mut sent = Vec::new();
    while d.due().is_some_and(|at| at.get() < 600_000_000) {
        sent.extend(d.step());
    }
    assert!(d.look_for_stall(Nanos::new(9_000_000_000)));
    wish(&mut d, 9_000, Wish::Pause);
    wish(&mut d, 9_500, Wish::Resume);
    sent.extend(all(&mut d));
    let told = clock(&sent);
    assert!(told.contains("90000X 95000@16 95000C 95000"), "{told}");
}

#[test]
fn the_clock_starts_runs_and_stops() {
    let mut d = two_bars().with_clock();
    // The follower is told before the first pulse is due.
    assert_eq!(d.before(), Some(System::Start));
    assert_eq!(d.before(), None);
    let sent = all(&mut d);
    // 24 pulses a beat of 500 ms, the first with the first note, none on the last bar line.
    assert_eq!(clock(&sent), "0..39791P/192 40000X");
    // At one instant the clock goes first.
    let at_once: Vec<&Timed<Outgoing>> = sent
        .iter()
        .filter(|s| s.at.get() == 2_000_000_000)
        .collect();
    assert_eq!(at_once[0].what, Outgoing::System(System::Clock));
    assert_eq!(at_once.len(), 4);
}

#[test]
fn a_follower_stands_through_the_count_in_and_starts_with_bar_one() {
    let (queue, taken) = bounded(200);
    let put = |entry| queue.send(Item { run: 0, entry }).unwrap();
    let line = |bar: u64| Tick::new(bar * 4 * QUARTER);
    put(Entry::Origin {
        tick: line(0),
        song: None,
    });
    put(Entry::Tempo {
        tick: line(0),
        tempo: Tempo::new(500_000).unwrap(),
    });
    put(Entry::Bar {
        tick: line(0),
        end: line(1),
        song: None,
        then: Some(0),
    });
    put(Entry::Bar {
        tick: line(1),
        end: line(2),
        song: Some(0),
        then: None,
    });
    put(Entry::End { tick: line(2) });
    let mut d = Dispatcher::new(taken).with_clock();
    assert_eq!(d.before(), None);
    let sent = all(&mut d);
    // Half a pulse before bar 1, 20 ticks of 0.52 ms.
    assert_eq!(clock(&sent), "0..19791P/96 19895S 20000..39791P/96 40000X");
}

#[test]
fn a_jump_is_told_before_its_bar_line_and_a_pause_stops_the_follower() {
    let (queue, taken) = bounded(400);
    bars(&queue, 0, 0, 4, 500_000);
    let mut d = Dispatcher::new(taken).with_clock();
    let song = 10 * 4 * QUARTER;
    wish(&mut d, 700, Wish::Leave { run: 1, song });
    bars(&queue, 1, 10, 1, 600_000);
    end(&queue, 1, 11);
    wish(&mut d, 2_510, Wish::Pause);
    wish(&mut d, 3_000, Wish::Resume);
    let sent = all(&mut d);
    // Bar 11 lies 160 sixteenths after bar 1. The pause comes 10 ms after a pulse, so the next is 15 ms after going on.
    assert_eq!(
        clock(&sent),
        "0S 0..19791P/96 19895X 19895@160 19895C 20000..25000P/21 25100X 30000C 30150..48650P/75 48900X"
    );
}

#[test]
fn a_place_without_a_song_position_is_not_told() {
    // Bar 1025 of 4/4 begins at sixteenth 16 384, one more than there are.
    for (bar, untold) in [(1023, 0), (1024, 1)] {
        let (queue, taken) = bounded(400);
        bars(&queue, 0, 0, 4, 500_000);
        let mut d = Dispatcher::new(taken).with_clock();
        let song = bar * 4 * QUARTER;
        wish(&mut d, 700, Wish::Leave { run: 1, song });
        bars(&queue, 1, bar, 1, 500_000);
        end(&queue, 1, bar + 1);
        let sent = all(&mut d);
        let told = format!(
            "0S 0..19791P/96 19895X 19895@{} 19895C 20000..39791P/96 40000X",
            bar * 16
        );
        let shown = clock(&sent);
        if untold == 0 {
            assert_eq!(shown, told);
        } else {
            assert_eq!(
                shown, "0S 0..39791P/192 40000X",
                "pulses go on as if nothing had happened"
            );
        }
        assert_eq!(d.untold(), untold);
    }
}

#[test]
fn late_pulses_are_no_burst_and_none_is_left_out() {
    let mut d = two_bars().with_clock();
    let (mut now, mut went) = (0u64, Vec::new());
    let mut held = false;
    while let Some(due) = {
        d.look_for_stall(Nanos::new(now));
        d.due()
    } {
        now = now.max(due.get());
        if now >= 1_000_000_000 && !held {
            // The machine does nothing for 300 ms.
            held = true;
            now += 300_000_000;
            continue;
        }
        if let Some(Timed {
            what: Outgoing::System(System::Clock),
            ..
        }) = d.step()
        {
            went.push(now);
        }
    }
    assert_eq!(went.len(), 192);
    let least = went.windows(2).map(|w| w[1] - w[0]).min().unwrap();
    assert!(least >= 10_400_000, "{least} ns between two pulses");
    // Twice as fast as usual, so the grid is reached again after another 300 ms.
    let on_grid = |i: usize| went[i].abs_diff(i as u64 * 500_000_000 / 24) < 2;
    assert!((0..48).all(on_grid));
    assert!(!on_grid(50) && (80..192).all(on_grid), "{went:?}");
}

#[test]
fn a_stall_is_told_to_the_follower() {
    let mut d = two_bars().with_clock();
    let mut sent = Vec::new();
    while d.due().is_some_and(|at| at.get() < 600_000_000) {
        sent.extend(d.step());
    }
    assert!(d.look_for_stall(Nanos::new(9_000_000_000)));
    sent.extend(all(&mut d));
    assert_eq!(
        clock(&sent),
        "0S 0..5833P/29 90000X 90000@16 90000C 90000..109791P/96 110000X"
    );
}

#[test]
fn a_run_begun_at_once_leaves_in_mid_bar_even_while_it_stands() {
    for stands in [false, true] {
        let (queue, taken) = bounded(400);
        bars(&queue, 0, 0, 4, 500_000);
        let mut d = Dispatcher::new(taken).with_clock();
        let mut sent = Vec::new();
        if stands {
            wish(&mut d, 1_200, Wish::Pause);
        }
        let song = Some(5 * 4 * QUARTER);
        wish(
            &mut d,
            3_300,
            Wish::Begin {
                run: 1,
                song,
                skip: 0,
            },
        );
        while d.due().is_some_and(|at| at.get() < 3_300_000_000) {
            sent.extend(d.step());
        }
        bars(&queue, 1, 5, 1, 500_000);
        end(&queue, 1, 6);
        sent.extend(all(&mut d));
        let shown = shown(&sent, 1);
        let wanted = if stands {
            "0+40 1200-40 3300+45 5300-45"
        } else {
            // With the first whole tick.
            "0+40 2000-40 2000+41 3300-41 3300+45 5300-45"
        };
        assert_eq!(shown, wanted);
        // The pulse before went at 3291.7 ms: the first of the run waits for half a period.
        let first = if stands {
            "@80 33000C 33000"
        } else {
            "@80 33000C 33020"
        };
        assert!(clock(&sent).contains(first), "{}", clock(&sent));
    }
}

#[test]
fn two_pulses_are_never_nearer_than_at_twice_the_tempo() {
    // A pulse takes 20.83 ms; what is wished comes everywhere in between. A tempo was 0.01 ms from the pulse before it.
    for tenths in 0..210 {
        for tempo in [None, Some(1_500_000), Some(700_000)] {
            let (queue, taken) = bounded(400);
            bars(&queue, 0, 0, 2, 500_000);
            let mut d = Dispatcher::new(taken).with_clock();
            let at = Nanos::new(1_000_000_000 + tenths * 100_000 + 5_000);
            let song = Some(5 * 4 * QUARTER);
            let (wish, period_us) = match tempo {
                None => (
                    Wish::Begin {
                        run: 1,
                        song,
                        skip: 0,
                    },
                    20_833,
                ),
                Some(share) => (
                    Wish::Tempo(share),
                    20_833 * 1_000_000 / u64::from(share.max(1_000_000)),
                ),
            };
            d.wish(Timed { at, what: wish });
            let mut sent = Vec::new();
            while d.due().is_some_and(|due| due <= at) {
                sent.extend(d.step());
            }
            if tempo.is_none() {
                bars(&queue, 1, 5, 1, 500_000);
                end(&queue, 1, 6);
            } else {
                end(&queue, 0, 2);
            }
            sent.extend(all(&mut d));
            let pulses: Vec<u64> = sent
                .iter()
                .filter(|s| s.what == Outgoing::System(System::Clock))
                .map(|s| s.at.get())
                .collect();
            assert!(pulses.len() > 100, "{}", pulses.len());
            for pair in pulses.windows(2) {
                let gap_us = (pair[1] - pair[0]) / 1000;
                assert!(2 * gap_us + 2 >= period_us, "{tenths} {tempo:?}: {gap_us}");
            }
        }
    }
}

#[test]
fn programs_of_a_run_that_was_left_are_sent_all_the_same() {
    let (queue, taken) = bounded(400);
    let tick = Tick::ZERO;
    let program = Entry::Message {
        tick,
        message: PartMessage {
            part: PartId(1),
            channel: ch(1),
            message: Message::Program(89),
        },
    };
    for entry in [
        Entry::Origin {
            tick,
            song: Some(0),
        },
        program,
        on(0, 1, 1, 60),
    ] {
        queue.send(Item { run: 0, entry }).unwrap();
    }
    let mut d = Dispatcher::new(taken);
    wish(&mut d, 0, Wish::Leave { run: 1, song: 0 });
    bars(&queue, 1, 3, 1, 500_000);
    end(&queue, 1, 4);
    let sent = all(&mut d);
    assert_eq!(
        note(&sent[0]).map(|(_, _, message)| message),
        Some(Message::Program(89))
    );
    assert_eq!(shown(&sent, 1), "0? 0+43 2000-43");
}

#[test]
fn another_devices_tempo_holds_until_the_plan_is_wished_for() {
    let mut d = two_bars();
    wish(&mut d, 0, Wish::Follow(Tempo::new(1_000_000).unwrap()));
    wish(&mut d, 4_000, Wish::Tempo(3_000_000));
    let sent = all(&mut d);
    // A bar at a second a beat, whatever the plan says; then the plan at three times its tempo.
    assert_eq!(shown(&sent, 1), "0+40 4000-40 4000+41 4666-41");
}

#[test]
fn a_run_begun_in_mid_bar_strikes_what_is_held_there() {
    let (queue, taken) = bounded(400);
    bars(&queue, 0, 0, 1, 500_000);
    let mut d = Dispatcher::new(taken).with_clock();
    let (song, skip) = (Some(5 * 4 * QUARTER), 2 * QUARTER + 480);
    wish(&mut d, 700, Wish::Begin { run: 1, song, skip });
    bars(&queue, 1, 5, 2, 500_000);
    end(&queue, 1, 7);
    let sent = all(&mut d);
    // Bar 6 from the middle of its third beat: the fourth comes half a beat later, the next bar after another.
    assert_eq!(
        shown(&sent, 1),
        "0+40 700-40 700+45 1450-45 1450+46 3450-46"
    );
    assert!(shown(&sent, 10).contains(" 950+77 981-77 1450+76"));
    // Sixteenth 80 begins the bar; ten more are passed over.
    assert!(clock(&sent).contains("@90 7000C 7000"), "{}", clock(&sent));
}
