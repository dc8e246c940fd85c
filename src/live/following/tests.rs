//! The follower against simulated devices, and with a player that obeys it.

mod accuracy;
mod device;

use proptest::prelude::*;

use self::device::{MS, Player, SECOND};
use super::*;

const PULSE_120: f64 = 60.0 * SECOND / 24.0 / 120.0;

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

/// Hears pulses and returns the time after the last.
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
    // It was stopped: nothing to do.
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
        [FollowAction::Pause { at: instant(stop) }]
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
    // Start while it moves is the beginning too.
    let (mut follower, due) = warm();
    follower.heard(instant(due), System::Start);
    let next = pulses(&mut follower, due, 9);
    assert_eq!(actions(&mut follower, next).len(), 1);
    follower.heard(instant(next), System::Start);
    pulses(&mut follower, next, 1);
    let at = instant(next);
    assert_eq!(
        actions(&mut follower, next),
        [FollowAction::Begin { at, ticks: 0 }]
    );
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
fn a_message_from_before_the_last_pulse_counts_as_that() {
    let (mut follower, due) = warm();
    follower.heard(instant(due), System::Start);
    pulses(&mut follower, due, 1);
    assert_eq!(actions(&mut follower, due).len(), 1);
    follower.heard(instant(due - 90.0 * MS), System::Stop);
    let at = instant(due);
    assert_eq!(actions(&mut follower, due), [FollowAction::Pause { at }]);
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
        // A clock that was stopped is not lost.
        follower.heard(instant(next), System::Stop);
        let stand = FollowAction::Pause { at: instant(next) };
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
    // Meanwhile it was set to 90: known again after a sixteenth of pulses that do not fit 120.
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
        Some(&FollowAction::Pause {
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
                    FollowAction::Pause { .. } => {
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
