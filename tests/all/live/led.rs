//! A piece led by another device's clock, and strokes of a player, on a clock that jumps.

use std::sync::atomic::AtomicBool;

use crossbeam_channel::bounded;
use fivefold::event::{Channel, KeyNumber, Message, Velocity};
use fivefold::live::{
    Bias, Conductor, Control, FollowState, Lane, Notice, Pace, Performed, Recorded, RecordingPort,
    SteppedLane, VirtualClock,
};
use fivefold::midi::{Heard, System, wire_bytes};
use fivefold::time::Nanos;
use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

use super::{arranged, piece};

/// Input of the program, and when it comes.
#[derive(Clone, Copy, Debug)]
enum Cue {
    /// From the other device.
    Device(System),
    /// A key of the player's instrument, struck.
    Note,
    /// What the listener asks for.
    Ask(Control),
    /// The space bar.
    Space,
    /// What is heard is interrupted, as by a dropout.
    Dropout,
}

struct Played {
    sent: Vec<Recorded>,
    performed: Performed,
    told: Vec<Notice>,
}

/// Plays until `end`.
fn play(end: u64, mut cues: Vec<(u64, Cue)>, led: bool, check: Option<(bool, u32, i64)>) -> Played {
    let clock = VirtualClock::default();
    let port = RecordingPort::new(&clock);
    let lane = SteppedLane::new(port.clone(), &clock);
    let (mut held, stop) = (lane.clone(), AtomicBool::new(false));
    let mut source = arranged(&piece());
    let mut lanes: [&mut dyn Lane; 1] = [&mut held];
    let (device, from_device) = bounded(64);
    let (player, from_player) = bounded(64);
    let (ask, asked) = bounded(64);
    let mut told = Vec::new();
    let mut tell = |what| told.push(what);
    let mut conductor = Conductor::new(&mut source, &mut lanes, &stop)
        .asked_by(&asked)
        .notifying(&mut tell);
    if led {
        conductor = conductor.led_by(&from_device);
    }
    if let Some((midi, each_beat, delay_ns)) = check {
        conductor = conductor.checking(midi.then_some(&from_player), each_beat, delay_ns);
    }
    cues.sort_by_key(|(at, _)| *at);
    let mut cues = cues.into_iter().peekable();
    let mut now = 0;
    while now < end && conductor.turn().unwrap() {
        now = cues.peek().map_or(end, |(at, _)| *at).min(now + 5_000_000);
        lane.play_until(Nanos::new(now));
        while let Some((at, cue)) = cues.next_if(|(at, _)| *at <= now) {
            let at = lane.instant(Nanos::new(at));
            match cue {
                Cue::Device(message) => {
                    let bytes = message.bytes();
                    device.send(Heard { at, bytes }).unwrap();
                }
                Cue::Note => {
                    let key = KeyNumber::clamped(60);
                    let velocity = Velocity::clamped(80);
                    let bytes =
                        wire_bytes(Channel::new(1).unwrap(), Message::NoteOn { key, velocity });
                    player.send(Heard { at, bytes }).unwrap();
                }
                Cue::Ask(control) => ask.send(control).unwrap(),
                Cue::Space => ask.send(Control::Stroke(at)).unwrap(),
                Cue::Dropout => lane.interrupt(),
            }
        }
    }
    stop.store(true, std::sync::atomic::Ordering::Relaxed);
    let (performed, outcome) = conductor.play();
    outcome.unwrap();
    Played {
        sent: port.sent(),
        performed,
        told,
    }
}

/// Times of the beats that were heard, by the click.
fn clicks(sent: &[Recorded]) -> Vec<u64> {
    let is = |r: &&Recorded| r.bytes[0] == 0x99 && [76, 77].contains(&r.bytes[1]);
    sent.iter().filter(is).map(|r| r.at.get()).collect()
}

/// Pulses from `from` on, `period` apart, each up to two milliseconds late.
fn pulses(from: u64, period: u64, count: u64, seed: u64) -> Vec<(u64, Cue)> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let late = move |n: u64| from + n * period + random.next_u64() % 2_000_000;
    (0..count)
        .map(late)
        .map(|at| (at, Cue::Device(System::Clock)))
        .collect()
}

#[test]
fn a_piece_is_where_the_device_that_leads_it_is() {
    // 100 a minute, whatever the plan says (90 and more); it starts after a quarter of pulses.
    let period = 25_000_000;
    let begins = 1_000_000_000 + 24 * period;
    let mut cues = pulses(1_000_000_000, period, 24 * 40, 5);
    cues.push((begins - 5_000_000, Cue::Device(System::Start)));
    // What the listener asks of the tempo is refused.
    cues.push((
        9_000_000_000,
        Cue::Ask(Control::Tempo(Pace::Beats(140_000))),
    ));
    let played = play(20_000_000_000, cues, true, None);
    // No count-in: the device begins with bar 1. On average its pulses come a millisecond late.
    let clicks = clicks(&played.sent);
    assert!(
        clicks[0] >= begins && clicks[0] < begins + 12_000_000,
        "{clicks:?}"
    );
    assert!(clicks.len() > 28);
    for (beat, at) in (0u64..).zip(&clicks).skip(2) {
        let wanted = begins + beat * 24 * period + 1_000_000;
        assert!(
            at.abs_diff(wanted) < 2_000_000,
            "beat {beat}: {at} for {wanted}"
        );
    }
    let told = &played.told;
    assert!(
        told.contains(&Notice::Led(1)) && told.contains(&Notice::TempoIsLed),
        "{told:?}"
    );
    assert!(
        told.contains(&Notice::Clock(FollowState::Locked)),
        "{told:?}"
    );
}

#[test]
fn a_device_that_stops_and_goes_elsewhere_is_followed() {
    let period = 20_000_000;
    let mut cues = pulses(1_000_000_000, period, 24 * 60, 6);
    let mut device = |at, message| cues.push((at, Cue::Device(message)));
    device(1_490_000_000, System::Start);
    device(6_010_000_000, System::Stop);
    // Sixteenth 70 is the second half of the second beat of bar 5.
    device(7_000_000_000, System::Position(70));
    device(7_010_000_000, System::Continue);
    let played = play(12_000_000_000, cues, true, None);
    let between = played
        .sent
        .iter()
        .filter(|r| r.bytes[0] >> 4 == 9 && (6_020_000_000..7_010_000_000).contains(&r.at.get()));
    assert_eq!(
        between.count(),
        0,
        "nothing is struck while the device stands"
    );
    let after: Vec<u64> = clicks(&played.sent)
        .into_iter()
        .filter(|at| *at > 7_000_000_000)
        .collect();
    // The first pulse after it, at 7.02 s or so, is the middle of a beat; the next beat comes 12 pulses later.
    let wanted = 7_020_000_000 + 12 * period + 1_000_000;
    assert!(after[0].abs_diff(wanted) < 12_000_000, "{after:?}");
    assert!(
        after[3].abs_diff(wanted + 3 * 24 * period) < 2_000_000,
        "{after:?}"
    );
    assert!(played.told.contains(&Notice::Led(5)), "{:?}", played.told);
}

#[test]
fn a_clock_that_is_lost_stands_the_piece_still_until_it_comes_back() {
    let period = 20_000_000;
    let mut cues = pulses(1_000_000_000, period, 24 * 8, 7);
    cues.push((1_490_000_000, Cue::Device(System::Start)));
    // The last pulse comes at 4.82 s, the next ones three seconds later.
    cues.extend(pulses(7_840_000_000, period, 24 * 8, 8));
    let played = play(11_000_000_000, cues, true, None);
    let struck = |from: u64, to: u64| {
        let at = |r: &&Recorded| r.bytes[0] >> 4 == 9 && (from..to).contains(&r.at.get());
        played.sent.iter().filter(at).count()
    };
    // Half a second without a pulse is what it takes to call it lost.
    assert_eq!(struck(5_350_000_000, 7_800_000_000), 0);
    assert!(struck(7_800_000_000, 9_000_000_000) > 4);
    let states: Vec<&Notice> = played
        .told
        .iter()
        .filter(|t| matches!(t, Notice::Clock(_)))
        .collect();
    assert!(
        states.contains(&&Notice::Clock(FollowState::Lost)),
        "{states:?}"
    );
    assert_eq!(states.last(), Some(&&Notice::Clock(FollowState::Locked)));
}

#[test]
fn strokes_are_compared_with_the_beats_they_are_meant_for() {
    // The piece is at 90 for two bars after a bar of count-in, then at 100.
    let beat = |n: u64| {
        let (slow, fast) = (666_667_000, 600_000_000);
        4 * slow + n.min(8) * slow + n.saturating_sub(8) * fast
    };
    // The input is 4 ms slow. On the first three beats the player is 6 ms late, on the fourth 20 ms early; one beat is left
    // out, one is struck twice, one stroke lies between two beats, and one comes in the count-in.
    let mut cues = vec![
        (beat(0) - 1_333_000_000, Cue::Note),
        (beat(9) + 300_000_000, Cue::Note),
    ];
    for n in (0..16).filter(|n| *n != 5) {
        let off: i64 = if n % 4 == 3 { -20_000_000 } else { 6_000_000 };
        let at = beat(n).saturating_add_signed(off + 4_000_000);
        cues.push((at, Cue::Note));
        if n == 6 {
            cues.push((at + 15_000_000, Cue::Note));
        }
    }
    let player = play(
        beat(15) + 500_000_000,
        cues,
        false,
        Some((true, 1, 4_000_000)),
    )
    .performed
    .player
    .unwrap();
    assert_eq!((player.strokes, player.places, player.missed), (15, 16, 1));
    assert_eq!((player.doubled, player.outliers, player.early), (1, 1, 4));
    assert!(!player.coarse);
    let means: Vec<i64> = player
        .at_places
        .iter()
        .map(|p| (p.mean_ns + 500) / 1000)
        .collect();
    assert!(
        means
            .iter()
            .zip([6000, 6000, 6000, -20_000])
            .all(|(a, b)| a.abs_diff(b) <= 1),
        "{means:?}"
    );
    let mean = (11 * 6_000_000 - 4 * 20_000_000) / 15;
    assert!(player.mean_ns.unwrap().abs_diff(mean) < 1000, "{player:?}");
}

#[test]
fn strokes_around_a_dropout_are_not_held_against_the_player() {
    let beat = |n: u64| {
        let (slow, fast) = (666_667_000, 600_000_000);
        4 * slow + n.min(8) * slow + n.saturating_sub(8) * fast
    };
    // The player is 2 ms late. The sound drops out for 120 ms just before beat 8, and the player goes with the sound.
    let late = |n| if n == 8 { 122_000_000 } else { 2_000_000 };
    let mut cues: Vec<(u64, Cue)> = (0..16).map(|n| (beat(n) + late(n), Cue::Note)).collect();
    cues.push((beat(8) - 20_000_000, Cue::Dropout));
    let check = Some((true, 1, 0));
    let player = play(beat(15) + 500_000_000, cues.clone(), false, check);
    let player = player.performed.player.unwrap();
    assert_eq!((player.interruptions, player.withheld), (1, 2));
    assert!(
        (600_000_000..1_000_000_000).contains(&player.not_judged_ns),
        "{player:?}"
    );
    // The interruption covers two places, give or take one.
    assert_eq!((player.strokes, player.outliers), (14, 0));
    assert!(player.missed <= 1, "{player:?}");
    assert!(
        player.mean_ns.unwrap().abs_diff(2_000_000) < 1000,
        "{player:?}"
    );
    assert_eq!(player.bias, Some(Bias::On));
    // If the dropout were not known, the player would be called late.
    cues.pop();
    let player = play(beat(15) + 500_000_000, cues, false, check);
    let player = player.performed.player.unwrap();
    assert_eq!(
        (player.interruptions, player.withheld, player.not_judged_ns),
        (0, 0, 0)
    );
    assert!(player.mean_ns.unwrap() > 9_000_000, "{player:?}");
}

#[test]
fn the_space_bar_counts_as_coarse_and_halves_of_a_beat_are_places_too() {
    let beat = |n: u64| (4 + n) * 666_667_000;
    let mut cues = Vec::new();
    for n in 0..8 {
        cues.push((beat(n) + 2_000_000, Cue::Space));
        cues.push((beat(n) + 333_333_500 + 8_000_000, Cue::Space));
    }
    let player = play(beat(7) + 500_000_000, cues, false, Some((false, 2, 0)))
        .performed
        .player
        .unwrap();
    assert!(player.coarse);
    assert_eq!((player.strokes, player.places, player.missed), (16, 16, 0));
    let halves: Vec<(u32, u32, i64)> = player
        .at_places
        .iter()
        .map(|p| (p.beat, p.part, (p.mean_ns + 500_000) / 1_000_000))
        .collect();
    assert_eq!(halves[..4], [(1, 1, 2), (1, 2, 8), (2, 1, 2), (2, 2, 8)]);
}
