//! The follower against made-up devices, and with a player that obeys it.

mod device;

use proptest::prelude::*;
use rand::SeedableRng;
use rand::rngs::Xoshiro256PlusPlus;

use self::device::{Device, Look, MS, Player, SECOND, Tremble, evenly, play};
use super::pulses::{BANDWIDTH, TREMBLE_NS};
use super::*;

/// The worst error of the follower, which must know the time throughout, and that of the player.
fn worst(looks: &[Look], from: f64, to: f64) -> (f64, f64) {
    let looks = looks.iter().filter(|l| (from..to).contains(&l.ns));
    looks.fold((0.0, 0.0), |(follower, player), l| {
        let off = l.follower_off.map_or(f64::INFINITY, f64::abs);
        (off.max(follower), l.player_off.abs().max(player))
    })
}

/// The worst error of the player.
fn worst_player(looks: &[Look], from: f64, to: f64) -> f64 {
    worst(looks, from, to).1
}

/// A player nearer than this, in nanoseconds, is with the device: less than can be heard.
const SETTLED: f64 = 3.0 * MS;

/// How many pulses it takes until the follower is locked.
fn pulses_to_lock(device: &Device) -> usize {
    let mut follower = Follower::default();
    let locked = device.comes.iter().position(|at| {
        follower.heard(instant(*at), System::Clock);
        follower.state(instant(*at)) == FollowState::Locked
    });
    locked.unwrap() + 1
}

/// When the last look came at which the follower, or the player, was farther off, as a time of the device's.
fn settled_at(looks: &[Look], limit: f64) -> (f64, f64) {
    looks.iter().fold((0.0, 0.0), |(follower, player), l| {
        let off = l.follower_off.map_or(f64::INFINITY, f64::abs);
        (
            if off > limit { l.ns } else { follower },
            if l.player_off.abs() > limit {
                l.ns
            } else {
                player
            },
        )
    })
}

/// The settled gains for phase and period, from what the module says of them: b = a^2 / (2 - a) and
/// b / sqrt(1 - a) = w^2, by bisection.
fn settled_gains() -> (f64, f64) {
    let w = std::f64::consts::TAU * BANDWIDTH / 24.0;
    let (mut low, mut high) = (0.0, 0.9);
    for _ in 0..100 {
        let a: f64 = f64::midpoint(low, high);
        if a * a / (2.0 - a) / (1.0 - a).sqrt() < w * w {
            low = a;
        } else {
            high = a;
        }
    }
    (low, low * low / (2.0 - low))
}

const PULSE_120: f64 = 60.0 * SECOND / 24.0 / 120.0;

#[test]
fn the_settled_loop_has_the_gains_and_the_noise_that_theory_gives_it() {
    let (a, b) = settled_gains();
    // Variance of the outputs of a loop with fixed gains for white noise of variance 1 (the sum of the squares of its
    // response to a single error, in closed form).
    let common = a * (4.0 - 2.0 * a - b);
    let phase_variance = (2.0 * a * a + 2.0 * b - 3.0 * a * b) / common;
    let period_variance = 2.0 * b * b / common;

    // The same from how the loop answers a single pulse that is 1 ms late.
    let mut even = PulseLoop::default();
    (0..2000_u32).for_each(|i| even.pulse(f64::from(i) * PULSE_120));
    let mut late = even;
    let (mut first, mut phase_sum, mut period_sum) = (None, 0.0, 0.0);
    for i in 2000..4000_u32 {
        let due = f64::from(i) * PULSE_120;
        even.pulse(due);
        late.pulse(if i == 2000 { due + MS } else { due });
        let phase = (late.at_ns() - even.at_ns()) / MS;
        let period = (late.period_ns().unwrap() - even.period_ns().unwrap()) / MS;
        first.get_or_insert((phase, period));
        phase_sum += phase * phase;
        period_sum += period * period;
    }
    let (first_phase, first_period) = first.unwrap();
    assert!(
        (first_phase - a).abs() < 1e-6 && (first_period - b).abs() < 1e-6,
        "{first:?} for {a} {b}"
    );
    assert!(
        (phase_sum - phase_variance).abs() < 1e-4 * phase_variance,
        "{phase_sum} for {phase_variance}"
    );
    assert!(
        (period_sum - period_variance).abs() < 1e-4 * period_variance,
        "{period_sum} for {period_variance}"
    );

    // And from noise itself.
    let mut chance = Xoshiro256PlusPlus::seed_from_u64(3);
    let noise = TREMBLE_NS * TREMBLE_NS / 3.0;
    let mut noisy = PulseLoop::default();
    let (mut phase_sum, mut period_sum) = (0.0, 0.0);
    for i in 0..200_000_u32 {
        let due = f64::from(i) * PULSE_120;
        noisy.pulse(due + (2.0 * evenly(&mut chance) - 1.0) * TREMBLE_NS);
        if i >= 1000 {
            phase_sum += (noisy.at_ns() - due).powi(2) / noise;
            period_sum += (noisy.period_ns().unwrap() - PULSE_120).powi(2) / noise;
        }
    }
    let (phase, period) = (phase_sum / 199_000.0, period_sum / 199_000.0);
    println!(
        "a {a:.4} b {b:.5}; phase {phase:.4} for {phase_variance:.4}; period {period:.6} for {period_variance:.6}"
    );
    assert!(
        (phase / phase_variance - 1.0).abs() < 0.08,
        "{phase} for {phase_variance}"
    );
    assert!(
        (period / period_variance - 1.0).abs() < 0.15,
        "{period} for {period_variance}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_steady_clock_is_locked_within_a_quarter_note_and_kept(
        tempo in 20.0..400.0, ms in 0.0..=2.0, seed: u64, every in prop::sample::select(vec![1.0, 5.0, 10.0, 30.0]),
    ) {
        let device = Device::new(24 * 120, |_| tempo, Tremble::Even(ms), seed);
        prop_assert!(pulses_to_lock(&device) <= 24);
        let every = f64::min(every, 15_000.0 / tempo);
        let (looks, player) = play(&device, 24, every, &[]);
        prop_assert_eq!(player.actions.len(), 1);
        // From two quarter notes after the player began.
        let (follower, played) = worst(&looks, device.due[72], f64::INFINITY);
        prop_assert!(follower < 0.05 * MS + 0.9 * ms * MS, "{}", follower);
        prop_assert!(played < 0.05 * MS + 0.9 * ms * MS, "{}", played);
        let settled = looks.iter().filter(|l| l.ns > device.due[24]);
        prop_assert!(settled.clone().all(|l| l.state == FollowState::Locked));
    }

    #[test]
    fn over_a_bus_the_error_is_the_mean_delay(tempo in 20.0..400.0, seed: u64) {
        let device = Device::new(24 * 120, |_| tempo, Tremble::Bus, seed);
        prop_assert!(pulses_to_lock(&device) <= 24);
        let (looks, _) = play(&device, 24, 10.0, &[]);
        let looks = looks.iter().filter(|l| l.ns > device.due[72]);
        for look in looks {
            // Half a millisecond, and a twentieth of another.
            let off = look.player_off - 0.55 * MS;
            prop_assert!(off.abs() < 0.9 * MS, "{}", off);
        }
    }
}

#[test]
fn an_hour_of_a_trembling_clock_drifts_nowhere() {
    for (tempo, ppm, ms, limit) in [
        (120.0, 200.0, 2.0, 2.0),
        (120.0, -200.0, 1.0, 1.0),
        (93.0, 200.0, 0.5, 0.5),
        (400.0, 200.0, 2.0, 2.0),
    ] {
        let true_tempo = tempo * (1.0 + ppm * 1e-6);
        // Three thousand six hundred seconds.
        let pulses = u32::try_from(instant(tempo * 60.0 * 24.0).get()).unwrap();
        let device = Device::new(pulses, |_| true_tempo, Tremble::Even(ms), 11);
        let (looks, player) = play(&device, 24, 10.0, &[]);
        let (follower, played) = worst(&looks, device.due[72], f64::INFINITY);
        let mean = |looks: &[Look]| {
            let sum: f64 = looks.iter().map(|l| l.player_off).sum();
            sum / float(looks.len() as u64)
        };
        let tenth = looks.len() / 10;
        let drift = mean(&looks[looks.len() - tenth..]) - mean(&looks[tenth..2 * tenth]);
        println!(
            "{tempo}, {ms} ms: follower {:.2} ms, player {:.2} ms, drift {:.4} ms",
            follower / MS,
            played / MS,
            drift / MS
        );
        assert!(follower < limit * MS && played < limit * MS);
        assert!(drift.abs() < 0.02 * MS, "{drift}");
        assert_eq!((player.actions.len(), player.jumps), (1, 0));
        let us = player.follower.us_per_quarter().unwrap();
        // Five standard deviations of the period, 0.0131 of the tremble's.
        let off_ms = (us - 60e6 / true_tempo) / 24e3;
        assert!(off_ms.abs() < 5.0 * 0.0131 * ms / 3.0_f64.sqrt(), "{us}");
    }
}

#[test]
fn a_step_of_the_tempo_is_followed_within_three_quarter_notes() {
    // From, to, and how far off the player may be meanwhile, in milliseconds.
    for (from, to, most) in [
        (120.0, 121.0, 4.0),
        (120.0, 126.0, 16.0),
        (126.0, 120.0, 16.0),
        (60.0, 63.0, 25.0),
        (300.0, 320.0, 9.0),
        (120.0, 180.0, 40.0),
        (60.0, 240.0, 80.0),
    ] {
        for tremble in [Tremble::Even(0.5), Tremble::Even(2.0), Tremble::Bus] {
            let (mut quarters, mut off) = (0.0_f64, 0.0_f64);
            for seed in 0..50 {
                let tempo = |quarter| if quarter < 40.0 { from } else { to };
                let device = Device::new(24 * 80, tempo, tremble, seed);
                let (looks, player) = play(&device, 24, 10.0, &[]);
                let step = device.due[40 * 24];
                let (_, player_at) = settled_at(&looks[200..], SETTLED);
                quarters = quarters.max((player_at - step) / (60.0 * SECOND / to));
                off = off.max(worst_player(&looks, step, f64::INFINITY));
                assert_eq!(player.jumps, 0);
            }
            let told = format!(
                "{from} to {to}, {tremble:?}: {quarters:.2} quarters, {:.1} ms",
                off / MS
            );
            println!("{told}");
            assert!(quarters < 3.0, "{told}");
            assert!(off < most * MS, "{told}");
        }
    }
}

#[test]
fn a_ramp_of_the_tempo_is_followed_with_a_small_lag() {
    // From, to, over how many quarter notes, and how far off the player may be on the way, in milliseconds.
    for (from, to, over, most) in [
        (80.0, 140.0, 64_u16, 8.0),
        (120.0, 90.0, 8, 12.0),
        (120.0, 60.0, 16, 25.0),
        (120.0, 60.0, 4, 50.0),
    ] {
        for tremble in [Tremble::Even(0.5), Tremble::Even(2.0), Tremble::Bus] {
            let (mut quarters, mut off) = (0.0_f64, 0.0_f64);
            for seed in 0..50 {
                let tempo =
                    |q: f64| from + (to - from) * ((q - 40.0) / f64::from(over)).clamp(0.0, 1.0);
                let device = Device::new(24 * 160, tempo, tremble, seed);
                let (looks, player) = play(&device, 24, 10.0, &[]);
                let (begin, end) = (
                    device.due[40 * 24],
                    device.due[(40 + usize::from(over)) * 24],
                );
                off = off.max(worst_player(&looks, begin, end));
                let (_, player_at) = settled_at(&looks[200..], SETTLED);
                quarters = quarters.max((player_at - end) / (60.0 * SECOND / to));
                assert_eq!(player.jumps, 0);
            }
            let told = format!(
                "{from} to {to} over {over}, {tremble:?}: {:.1} ms, {quarters:.2} quarters",
                off / MS
            );
            println!("{told}");
            assert!(off < most * MS, "{told}");
            assert!(quarters < 2.5, "{told}");
        }
    }
}

#[test]
fn pulses_that_come_late_in_a_heap_move_neither_tempo_nor_phase() {
    for tempo in [20.0, 60.0, 120.0, 200.0, 400.0] {
        for stall_ms in [30.0, 100.0, 400.0] {
            let (mut follower, mut player) = (0.0_f64, 0.0_f64);
            for seed in 0..50_u8 {
                let device = Device::new(24 * 60, |_| tempo, Tremble::Even(2.0), u64::from(seed));
                let from = device.due[1000] + 0.31 * MS * f64::from(seed);
                let device = device.stall(from, from + stall_ms * MS);
                let (looks, done) = play(&device, 24, 10.0, &[]);
                let (off, played) = worst(&looks, device.due[72], f64::INFINITY);
                (follower, player) = (follower.max(off), player.max(played));
                assert_eq!((done.actions.len(), done.jumps), (1, 0));
            }
            let told = format!(
                "{tempo}, {stall_ms} ms: {:.2} {:.2} ms",
                follower / MS,
                player / MS
            );
            println!("{told}");
            assert!(follower < SETTLED && player < SETTLED, "{told}");
        }
    }
}

#[test]
fn a_heap_after_a_silence_is_counted_too() {
    for tempo in [60.0, 120.0, 400.0] {
        let device = Device::new(24 * 60, |_| tempo, Tremble::Even(2.0), 5);
        let from = device.due[800];
        let device = device.stall(from, from + 1200.0 * MS);
        let (looks, player) = play(&device, 24, 10.0, &[]);
        let told = &player.actions[1..];
        assert!(
            matches!(
                told,
                [FollowAction::Lost { .. }, FollowAction::Heard { .. }]
            ),
            "{told:?}"
        );
        let after = from + 1200.0 * MS + 2.0 * 60.0 * SECOND / tempo;
        let (follower, played) = worst(&looks, after, f64::INFINITY);
        println!("{tempo}: {:.2} {:.2} ms", follower / MS, played / MS);
        assert!(
            follower < SETTLED && played < SETTLED,
            "{follower} {played}"
        );
    }
}

#[test]
fn a_clock_that_trembles_more_is_followed_less_closely() {
    for (tempo, ms, limit) in [
        (60.0, 4.0, 5.0),
        (120.0, 4.0, 5.0),
        (200.0, 4.0, 5.0),
        (120.0, 6.0, 7.0),
    ] {
        let mut off = 0.0_f64;
        for seed in 0..50 {
            let device = Device::new(24 * 240, |_| tempo, Tremble::Even(ms), seed);
            let (looks, player) = play(&device, 48, 10.0, &[]);
            off = off.max(worst_player(&looks, device.due[144], f64::INFINITY));
            assert_eq!((player.actions.len(), player.jumps), (1, 0));
        }
        println!("{tempo}, {ms} ms: {:.2} ms", off / MS);
        assert!(off < limit * MS, "{off}");
    }
}

#[test]
fn a_pulse_lost_is_a_pulse_and_not_more() {
    for tempo in [20.0, 60.0, 120.0, 200.0, 400.0] {
        for tremble in [Tremble::Even(0.5), Tremble::Even(2.0), Tremble::Bus] {
            let (mut first, mut second) = (0.0_f64, 0.0_f64);
            for seed in 0..50 {
                let device = Device::new(24 * 60, |_| tempo, tremble, seed);
                // By the count, that is where the device is thought to be: what `play` takes for true.
                let (looks, player) = play(&device, 24, 10.0, &[700, 1000, 1001]);
                let quarter = 60.0 * SECOND / tempo;
                let from = device.due[700] + 2.0 * quarter;
                first = first.max(worst_player(&looks, from, device.due[999]));
                let from = device.due[1001] + 2.0 * quarter;
                second = second.max(worst_player(&looks, from, f64::INFINITY));
                assert_eq!((player.actions.len(), player.jumps), (1, 0));
            }
            let told = format!(
                "{tempo}, {tremble:?}: {:.2} {:.2} ms",
                first / MS,
                second / MS
            );
            println!("{told}");
            assert!(first < SETTLED && second < SETTLED, "{told}");
        }
    }
}

#[test]
fn a_doubled_pulse_is_counted_and_leaves_the_tempo() {
    let mut follower = Follower::default();
    follower.heard(Nanos::ZERO, System::Start);
    let at = |i: u32| instant(f64::from(i) * PULSE_120);
    for i in 0..96 {
        follower.heard(at(i), System::Clock);
        if i == 48 {
            follower.heard(at(i), System::Clock);
        }
    }
    let us = follower.us_per_quarter().unwrap();
    assert!((us - 500_000.0).abs() < 100.0, "{us}");
    let ticks = follower.ticks_at(at(95)).unwrap();
    assert!((ticks - 96.0 * 40.0).abs() < 0.2, "{ticks}");
}

/// A follower that heard 48 pulses at 120 while the device stood, and when the next is due.
fn warm() -> (Follower, f64) {
    let mut follower = Follower::default();
    let mut at = SECOND;
    for _ in 0..48 {
        follower.heard(instant(at), System::Clock);
        at += PULSE_120;
    }
    (follower, at)
}

/// Hears pulses and answers the time after the last.
fn pulses(follower: &mut Follower, mut at: f64, count: u32) -> f64 {
    for _ in 0..count {
        follower.heard(instant(at), System::Clock);
        at += PULSE_120;
    }
    at
}

fn actions(follower: &mut Follower, now: f64) -> Vec<FollowAction> {
    std::iter::from_fn(|| follower.next_action(instant(now))).collect()
}

#[test]
fn states_from_silence_to_locked_to_lost() {
    let mut follower = Follower::default();
    let mut at = SECOND;
    assert_eq!(follower.state(instant(at)), FollowState::Silent);
    assert_eq!(follower.us_per_quarter(), None);
    at = pulses(&mut follower, at, 5);
    assert_eq!(follower.state(instant(at)), FollowState::Learning);
    assert_eq!(follower.us_per_quarter(), None);
    at = pulses(&mut follower, at, 19);
    assert_eq!(follower.state(instant(at)), FollowState::Locked);
    let last = at - PULSE_120;
    assert_eq!(
        follower.state(instant(last + 500.0 * MS)),
        FollowState::Locked
    );
    assert_eq!(
        follower.state(instant(last + 500.1 * MS)),
        FollowState::Lost
    );
    // It stood: nothing to do.
    assert_eq!(actions(&mut follower, last + SECOND), []);
    assert!(!follower.moves());
    // At 20 a minute six pulses are 750 ms.
    let mut slow = Follower::default();
    (0..48_u64).for_each(|i| slow.heard(Nanos::new(i * 125_000_000), System::Clock));
    let last = 47.0 * 125.0 * MS;
    assert_eq!(slow.state(instant(last + 749.0 * MS)), FollowState::Locked);
    assert_eq!(slow.state(instant(last + 751.0 * MS)), FollowState::Lost);
}

#[test]
fn start_stop_and_continue_in_the_middle_of_a_bar() {
    let (mut follower, due) = warm();
    follower.heard(instant(due - 3.0 * MS), System::Start);
    assert!(follower.moves());
    assert_eq!(actions(&mut follower, due - 2.0 * MS), []);
    assert_eq!(follower.ticks_at(instant(due)), None);
    let next = pulses(&mut follower, due, 1);
    let begin = |at: f64, ticks| FollowAction::Begin {
        at: instant(at),
        ticks,
    };
    assert_eq!(actions(&mut follower, due), [begin(due, 0)]);
    // 31 more pulses, a quarter note and a third, and ten more while it stands.
    let next = pulses(&mut follower, next, 31);
    assert!((follower.ticks_at(instant(next)).unwrap() - 32.0 * 40.0).abs() < 0.01);
    let stop = next - 5.0 * MS;
    follower.heard(instant(stop), System::Stop);
    assert_eq!(
        actions(&mut follower, stop),
        [FollowAction::Stand { at: instant(stop) }]
    );
    assert!(!follower.moves());
    assert_eq!(follower.ticks_at(instant(next)), None);
    let next = pulses(&mut follower, next, 10);
    follower.heard(instant(next - MS), System::Continue);
    pulses(&mut follower, next, 1);
    assert_eq!(actions(&mut follower, next), [begin(next, 32 * 40)]);
    assert!(follower.ticks_at(instant(next)).unwrap().abs() < 0.01);
}

#[test]
fn a_song_position_is_where_continue_begins_and_start_is_the_beginning() {
    for (message, ticks) in [(System::Continue, 7 * 240), (System::Start, 0)] {
        let (mut follower, due) = warm();
        follower.heard(instant(due - 3.0 * MS), System::Position(7));
        assert!(!follower.moves());
        follower.heard(instant(due - 2.0 * MS), message);
        pulses(&mut follower, due, 1);
        let begin = FollowAction::Begin {
            at: instant(due),
            ticks,
        };
        assert_eq!(actions(&mut follower, due), [begin]);
    }
    // While it moves: taken up with the next pulse, and nothing to do where it is there anyway.
    let (mut follower, due) = warm();
    follower.heard(instant(due), System::Start);
    let next = pulses(&mut follower, due, 12);
    assert_eq!(actions(&mut follower, next).len(), 1);
    follower.heard(instant(next - MS), System::Position(2));
    follower.heard(instant(next - MS), System::Continue);
    let next = pulses(&mut follower, next, 4);
    assert_eq!(actions(&mut follower, next), []);
    follower.heard(instant(next - MS), System::Position(100));
    pulses(&mut follower, next, 1);
    let begin = FollowAction::Begin {
        at: instant(next),
        ticks: 100 * 240,
    };
    assert_eq!(actions(&mut follower, next), [begin]);
}

#[test]
fn what_does_not_change_anything_is_no_action() {
    let (mut follower, due) = warm();
    follower.heard(instant(due), System::Stop);
    // Start and Stop with no pulse between them.
    follower.heard(instant(due), System::Start);
    follower.heard(instant(due), System::Stop);
    assert!(!follower.moves());
    let next = pulses(&mut follower, due, 3);
    assert_eq!(actions(&mut follower, next), []);
}

#[test]
fn a_clock_that_is_lost_is_told_once_and_goes_on_from_its_count() {
    for asked in [true, false] {
        let (mut follower, due) = warm();
        follower.heard(instant(due), System::Start);
        let next = pulses(&mut follower, due, 30);
        assert_eq!(actions(&mut follower, next).len(), 1);
        let last = next - PULSE_120;
        let lost = FollowAction::Lost {
            at: instant(last + 500.0 * MS),
        };
        let back = last + 2.0 * SECOND;
        let mut told = vec![];
        if asked {
            assert_eq!(actions(&mut follower, last + 499.0 * MS), []);
            assert!(follower.ticks_at(instant(last + 499.0 * MS)).is_some());
            told = actions(&mut follower, last + SECOND);
            assert_eq!(told, [lost]);
            assert_eq!(actions(&mut follower, last + SECOND), []);
        }
        assert_eq!(follower.tempo_for(instant(last + SECOND), 0.0), None);
        assert!(follower.moves());
        let next = pulses(&mut follower, back, 1);
        told.extend(actions(&mut follower, back));
        assert_eq!(told, [lost, FollowAction::Heard { at: instant(back) }]);
        // At once where the count is, at the tempo that was known.
        assert!((follower.ticks_at(instant(next)).unwrap() - 31.0 * 40.0).abs() < 0.01);
        assert_eq!(follower.state(instant(next)), FollowState::Learning);
        let next = pulses(&mut follower, next, 23);
        assert_eq!(follower.state(instant(next)), FollowState::Locked);
        // To stand when told is no loss.
        follower.heard(instant(next), System::Stop);
        let stand = FollowAction::Stand { at: instant(next) };
        assert_eq!(actions(&mut follower, next + SECOND), [stand]);
    }
}

#[test]
fn a_device_that_is_silent_while_it_stands_begins_at_the_tempo_it_had() {
    let (mut follower, due) = warm();
    let later = due + 60.0 * SECOND;
    follower.heard(instant(later - MS), System::Start);
    let next = pulses(&mut follower, later, 1);
    let begin = FollowAction::Begin {
        at: instant(later),
        ticks: 0,
    };
    assert_eq!(actions(&mut follower, later), [begin]);
    assert!((follower.ticks_at(instant(next)).unwrap() - 40.0).abs() < 0.01);
    // Meanwhile it was set to 90: known again after a sixteenth of pulses that are no row of 120.
    let (mut follower, due) = warm();
    let later = due + 60.0 * SECOND;
    follower.heard(instant(later - MS), System::Start);
    let pulse = 60.0 * SECOND / 24.0 / 90.0;
    (0..12_u32).for_each(|i| follower.heard(instant(later + f64::from(i) * pulse), System::Clock));
    let us = follower.us_per_quarter().unwrap();
    assert!((us - 60e6 / 90.0).abs() < 100.0, "{us}");
    let ticks = follower.ticks_at(instant(later + 12.0 * pulse)).unwrap();
    assert!((ticks - 480.0).abs() < 0.1, "{ticks}");
}

#[test]
fn what_a_port_held_back_before_it_was_opened_does_not_spoil_the_start() {
    for heap in [1, 2, 5, 6, 7, 30] {
        let mut follower = Follower::default();
        (0..heap).for_each(|_| follower.heard(instant(SECOND), System::Clock));
        pulses(&mut follower, SECOND + 7.0 * MS, 30);
        let us = follower.us_per_quarter().unwrap();
        assert!((us - 500_000.0).abs() < 500.0, "{heap}: {us}");
    }
}

#[test]
fn of_too_many_actions_the_last_are_kept() {
    let (mut follower, mut due) = warm();
    for _ in 0..10 {
        follower.heard(instant(due), System::Start);
        due = pulses(&mut follower, due, 1);
        follower.heard(instant(due - MS), System::Stop);
    }
    let told = actions(&mut follower, due);
    assert_eq!(told.len(), 8);
    assert_eq!(
        told.last(),
        Some(&FollowAction::Stand {
            at: instant(due - MS)
        })
    );
}

/// The error of a player in quarter notes, asked as often as said, until `quarters` have passed.
fn caught_up(error: f64, every_quarters: f64, quarters: f64) -> Vec<f64> {
    let (mut follower, due) = warm();
    follower.heard(instant(due), System::Start);
    pulses(&mut follower, due, 240);
    assert_eq!(actions(&mut follower, due).len(), 1);
    let (mut player, quarter) = (Player::new(), 24.0 * PULSE_120);
    player.playing = true;
    // The clock runs on for a quarter note or so through the silence that is still no loss.
    let begin = due + 240.0 * PULSE_120 - 1.5 * PULSE_120;
    player.follower = follower;
    player.from = begin;
    player.played = player.follower.ticks_at(instant(begin)).unwrap() - 960.0 * error;
    let mut errors = vec![];
    let mut past = 0.0;
    while past <= quarters {
        let at = begin + past * quarter;
        player.look(at);
        errors.push(player.follower.ticks_at(instant(at)).unwrap() / 960.0 - player.played / 960.0);
        past += every_quarters;
    }
    assert_eq!(player.jumps, 0);
    errors
}

#[test]
fn an_error_is_gone_within_a_quarter_note_without_overshoot() {
    for error in [0.08, -0.08, 0.02, -0.001] {
        for every in [0.002, 0.02, 0.125, 0.25] {
            let errors = caught_up(error, every, 0.98);
            for pair in errors.windows(2) {
                let shrinks = (0.0..1.0).contains(&(pair[1] / pair[0])) || pair[1].abs() < 1e-5;
                assert!(shrinks, "{error} {every}: {errors:?}");
            }
            // e^-3 = 0.05 where it is asked all the time, less where it is asked seldom.
            let left = errors.last().unwrap() / error;
            assert!(left.abs() < 0.08, "{error} {every}: {left}");
        }
    }
}

#[test]
fn nothing_lurches_and_what_is_far_off_is_jumped_over() {
    let (mut follower, due) = warm();
    follower.heard(instant(due), System::Start);
    let next = pulses(&mut follower, due, 96);
    let now = instant(next);
    let us = |error_ticks: f64| match follower.tempo_for(now, 96.0 * 40.0 - error_ticks) {
        Some(Steering::Tempo(tempo)) => Some(tempo.us_per_quarter()),
        Some(Steering::Jump { ticks, tempo }) => {
            assert!((ticks - 96.0 * 40.0).abs() < 0.01);
            assert_eq!(tempo.us_per_quarter(), 500_000);
            None
        }
        None => panic!("the clock runs"),
    };
    assert_eq!(us(0.0), Some(500_000));
    // Behind by a thirtieth of a quarter note: a tenth faster; ahead: a tenth slower.
    assert_eq!(us(32.0), Some(454_545));
    assert_eq!(us(-32.0), Some(555_556));
    assert_eq!((us(500.0), us(959.0)), (Some(400_000), Some(400_000)));
    assert_eq!((us(-500.0), us(-959.0)), (Some(666_667), Some(666_667)));
    assert_eq!((us(961.0), us(-961.0)), (None, None));
}

fn message() -> impl Strategy<Value = System> {
    prop_oneof![
        6 => Just(System::Clock),
        1 => Just(System::Start),
        1 => Just(System::Continue),
        1 => Just(System::Stop),
        1 => (0..=System::LAST_POSITION).prop_map(System::Position),
    ]
}

proptest! {
    #[test]
    fn whatever_comes_actions_alternate_and_answers_are_numbers(
        messages in prop::collection::vec((prop_oneof![
            8 => 0u64..30_000_000, 1 => 0u64..2_000_000_000, 1 => 0..u64::MAX / 100,
        ], message()), 0..400),
    ) {
        let mut follower = Follower::default();
        let mut at = 0_u64;
        let (mut moves, mut lost) = (false, false);
        for (wait, message) in messages {
            at = at.saturating_add(wait);
            follower.heard(Nanos::new(at), message);
            while let Some(action) = follower.next_action(Nanos::new(at)) {
                match action {
                    FollowAction::Begin { .. } => moves = true,
                    FollowAction::Stand { .. } => {
                        prop_assert!(std::mem::take(&mut moves));
                        lost = false;
                    }
                    FollowAction::Lost { .. } => {
                        prop_assert!(moves && !lost);
                        lost = true;
                    }
                    FollowAction::Heard { .. } => prop_assert!(std::mem::take(&mut lost)),
                }
            }
            prop_assert!(follower.moves() || !moves);
            let ticks = follower.ticks_at(Nanos::new(at));
            prop_assert!(ticks.is_none_or(f64::is_finite));
            prop_assert!(ticks.is_none() || moves);
            prop_assert!(follower.us_per_quarter().is_none_or(|us| (100e3..4e6).contains(&us)));
        }
    }
}

#[test]
#[cfg(debug_assertions)]
fn following_takes_no_memory() {
    let mut follower = Follower::default();
    let before = assert_no_alloc::violation_count();
    let answered = assert_no_alloc::assert_no_alloc(|| {
        let (mut at, mut answered) = (SECOND, 0_u32);
        for i in 0..3000_u32 {
            let message = match i % 500 {
                100 => System::Start,
                300 => System::Stop,
                301 => System::Position(12),
                302 => System::Continue,
                _ => System::Clock,
            };
            at += if i % 700 == 0 { SECOND } else { PULSE_120 };
            follower.heard(instant(at), message);
            while follower.next_action(instant(at)).is_some() {}
            answered += u32::from(follower.tempo_for(instant(at), f64::from(i)).is_some());
        }
        answered
    });
    assert_eq!(assert_no_alloc::violation_count(), before);
    assert!(answered > 1000, "{answered}");
}
