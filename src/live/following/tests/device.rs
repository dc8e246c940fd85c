//! Simulated devices, whose true time is known, and a player that obeys the follower.

use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

use super::super::*;

pub(super) const MS: f64 = 1e6;
pub(super) const SECOND: f64 = 1e9;

/// How the arrivals of pulses differ from when they were due.
#[derive(Clone, Copy, Debug)]
pub(super) enum Tremble {
    /// Evenly to either side, up to so many milliseconds.
    Even(f64),
    /// As over a bus polled every millisecond: late by up to one, and now and then by up to two more.
    Bus,
}

/// A device that sends pulses; the first is number 0.
pub(super) struct Device {
    /// When each pulse is due.
    pub(super) due: Vec<f64>,
    /// When it comes; never before the one before it.
    pub(super) comes: Vec<f64>,
}

pub(super) fn evenly(chance: &mut Xoshiro256PlusPlus) -> f64 {
    float(chance.next_u64() >> 11) / float(1 << 53)
}

impl Device {
    /// Pulses whose tempo, in quarter notes a minute, is a function of the quarter note.
    pub(super) fn new(pulses: u32, tempo: impl Fn(f64) -> f64, jitter: Tremble, seed: u64) -> Self {
        let mut chance = Xoshiro256PlusPlus::seed_from_u64(seed);
        let mut at = SECOND;
        let mut device = Device {
            due: vec![],
            comes: vec![],
        };
        for pulse in 0..pulses {
            device.due.push(at);
            let off = match jitter {
                Tremble::Even(ms) => ms * (2.0 * evenly(&mut chance) - 1.0),
                Tremble::Bus => {
                    let late = evenly(&mut chance);
                    let busy = chance.next_u64().is_multiple_of(20);
                    late + if busy { 2.0 * evenly(&mut chance) } else { 0.0 }
                }
            };
            device.comes.push(at + off * MS);
            at += 60.0 * SECOND / 24.0 / tempo(f64::from(pulse) / 24.0);
        }
        device.in_order();
        device
    }

    fn in_order(&mut self) {
        for i in 1..self.comes.len() {
            self.comes[i] = self.comes[i].max(self.comes[i - 1]);
        }
    }

    /// Nothing comes from one instant to another; then all that was held back comes at once.
    pub(super) fn stall(mut self, from: f64, to: f64) -> Self {
        for at in &mut self.comes {
            if (from..to).contains(at) {
                *at = to;
            }
        }
        self
    }

    /// When the device is at so many pulses.
    pub(super) fn time_of(&self, pulses: f64) -> f64 {
        let i = usize::try_from(instant(pulses.floor()).get()).unwrap();
        let i = i.min(self.due.len() - 2);
        let part = pulses - float(i as u64);
        self.due[i] + part * (self.due[i + 1] - self.due[i])
    }
}

/// One look at the follower and the player.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub(super) ns: f64,
    pub(super) state: FollowState,
    /// How much too late the follower takes the device to be, in nanoseconds.
    pub(super) follower_off: Option<f64>,
    /// How much too late the player plays.
    pub(super) player_off: f64,
}

/// What a caller does: ask every so often, begin when told to, and play on at the tempo that is answered.
pub(super) struct Player {
    pub(super) follower: Follower,
    pub(super) us: u32,
    pub(super) played: f64,
    pub(super) from: f64,
    pub(super) playing: bool,
    pub(super) actions: Vec<FollowAction>,
    pub(super) jumps: u32,
}

impl Player {
    pub(super) fn new() -> Self {
        Player {
            follower: Follower::default(),
            us: 500_000,
            played: 0.0,
            from: 0.0,
            playing: false,
            actions: vec![],
            jumps: 0,
        }
    }

    pub(super) fn look(&mut self, ns: f64) {
        if self.playing {
            self.played += (ns - self.from) * 960.0 / (f64::from(self.us) * 1e3);
        }
        self.from = ns;
        let now = instant(ns);
        while let Some(action) = self.follower.next_action(now) {
            self.actions.push(action);
            match action {
                FollowAction::Begin { .. } => {
                    self.playing = true;
                    self.played = 0.0;
                }
                FollowAction::Pause { .. } => self.playing = false,
                FollowAction::Lost { .. } | FollowAction::Heard { .. } => {}
            }
        }
        match self.follower.tempo_for(now, self.played) {
            Some(Steering::Tempo(tempo)) => self.us = tempo.us_per_quarter(),
            Some(Steering::Jump { ticks, tempo }) => {
                self.played = ticks;
                self.us = tempo.us_per_quarter();
                self.jumps += 1;
            }
            None => {}
        }
    }
}

/// Plays along with a device that is started before pulse `start`; pulses in `lost` do not come.
pub(super) fn play(
    device: &Device,
    start: usize,
    ask_ms: f64,
    lost: &[usize],
) -> (Vec<Look>, Player) {
    let mut player = Player::new();
    let mut looks = vec![];
    let mut next = 0;
    let last = device.comes[device.comes.len() - 1];
    let mut ns = device.comes[0] - 5.0 * MS;
    while ns < last {
        while next < device.comes.len() && device.comes[next] <= ns {
            if next == start {
                player
                    .follower
                    .heard(instant(device.comes[next]), System::Start);
            }
            if !lost.contains(&next) {
                player
                    .follower
                    .heard(instant(device.comes[next]), System::Clock);
            }
            next += 1;
        }
        player.look(ns);
        if player.playing {
            let off = |ticks: f64| {
                let pulses = ticks / 40.0 + float(start as u64);
                ns - device.time_of(pulses.max(0.0))
            };
            looks.push(Look {
                ns,
                state: player.follower.state(instant(ns)),
                follower_off: player.follower.ticks_at(instant(ns)).map(off),
                player_off: off(player.played),
            });
        }
        ns += ask_ms * MS;
    }
    (looks, player)
}
