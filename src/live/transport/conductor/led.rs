//! Following another device's clock.

use std::time::Instant;

use crossbeam_channel::Receiver;

use super::state::{CountIn, State};
use super::{Conductor, Notice, Wish};
use crate::live::following::{FollowAction, FollowState, Follower, Steering};
use crate::live::transport::Lane;
use crate::midi::{Heard, System};
use crate::time::{Nanos, TICKS_PER_QUARTER, Tempo, Timed};

/// Ticks between two corrections of the tempo: three pulses. Steering needs a correction each sixteenth at least; more
/// would only fill the map as played.
const STEERED_TICKS: u64 = TICKS_PER_QUARTER / 8;

/// What is known of the other device.
pub(super) struct Leader<'a> {
    heard: &'a Receiver<Heard>,
    follower: Follower,
    state: FollowState,
    begun: Option<Begun>,
    steered: Option<Nanos>,
    tempo: Option<Tempo>,
}

/// Where the piece began with the device.
struct Begun {
    /// With this run.
    run: u32,
    /// So many ticks into the song.
    from: u64,
    /// Ticks that had been played when that run began, once that is known.
    before: Option<f64>,
}

impl<'a> Leader<'a> {
    pub(super) fn new(heard: &'a Receiver<Heard>) -> Self {
        Leader {
            heard,
            follower: Follower::default(),
            state: FollowState::Silent,
            begun: None,
            steered: None,
            tempo: None,
        }
    }

    /// What is known of the other device.
    pub(super) fn state(&self) -> FollowState {
        self.state
    }
}

impl Conductor<'_, '_> {
    /// The time at which a wish asked for now takes effect.
    fn soon(&self) -> Option<Nanos> {
        let first = self.lanes.first()?;
        let now = first.time()?.max(first.now());
        Some(match self.lanes.each.len() {
            0 | 1 => now,
            _ => self.lanes.together(now),
        })
    }

    /// Reads the other device and follows it.
    pub(super) fn follow(&mut self) {
        let Some(mut leader) = self.leader.take() else {
            return;
        };
        if !self.lanes.have_begun() {
            // Nothing sounds before the other device begins.
            self.state = State::Paused { at: None };
            for lane in self.lanes.each.iter_mut() {
                lane.wish(Timed {
                    at: Nanos::ZERO,
                    what: Wish::Pause,
                });
            }
        } else if let Some(now) = self.lanes.first().and_then(Lane::time) {
            while let Ok(heard) = leader.heard.try_recv() {
                if let Some(message) = System::read(heard.bytes.as_slice()) {
                    let at = self.time_of(heard.at).unwrap_or(now);
                    leader.follower.heard(at, message);
                }
            }
            while let Some(action) = leader.follower.next_action(now) {
                self.obey(&mut leader, action);
            }
            let state = leader.follower.state(now);
            if state != leader.state {
                leader.state = state;
                self.notify(Notice::Clock(state));
            }
            let tempo = leader.tempo.unwrap_or(Tempo::DEFAULT);
            let pause_ns =
                u64::from(tempo.us_per_quarter()) * 1000 * STEERED_TICKS / TICKS_PER_QUARTER;
            let due = leader
                .steered
                .is_none_or(|at| now.get() >= at.get() + pause_ns);
            if due && !self.state.is_paused() {
                leader.steered = Some(now);
                self.steer(&mut leader);
            }
        }
        self.leader = Some(leader);
    }

    fn time_of(&self, instant: Instant) -> Option<Nanos> {
        self.lanes.first()?.time_at(instant)
    }

    fn obey(&mut self, leader: &mut Leader<'_>, action: FollowAction) {
        match action {
            FollowAction::Begin { ticks, .. } => self.begin_in_song(leader, ticks),
            FollowAction::Pause { .. } | FollowAction::Lost { .. } => self.pause_playing(),
            FollowAction::Heard { .. } => {
                if leader.begun.is_some() {
                    self.resume();
                }
            }
        }
    }

    /// Begins so many ticks after bar 1, now.
    fn begin_in_song(&mut self, leader: &mut Leader<'_>, ticks: u64) {
        if self.is_lost() {
            return;
        }
        let bar = self.source.bar_at(ticks);
        let begins = bar.and_then(|bar| self.song(bar));
        let (Some(bar), Some(begins)) = (bar, begins) else {
            self.pause_playing();
            self.notify(Notice::NoBar);
            return;
        };
        self.state = State::Playing;
        self.led_tempo(leader, leader.follower.us_per_quarter());
        self.begin(bar, CountIn::Without, ticks - begins, Notice::Led(bar));
        leader.begun = Some(Begun {
            run: self.supply.run.number,
            from: ticks,
            before: None,
        });
    }

    /// Plays at the device's tempo, so that the piece is where the device is.
    fn steer(&mut self, leader: &mut Leader<'_>) {
        let Some(at) = self.soon() else { return };
        if let Some(Begun {
            run,
            before: before @ None,
            ..
        }) = &mut leader.begun
        {
            // The first passage of that run tells.
            let first = self
                .map
                .passages()
                .iter()
                .rev()
                .skip_while(|p| p.run > *run);
            let first = first.take_while(|p| p.run == *run && !p.paused).last();
            #[allow(clippy::cast_precision_loss)] // exact for centuries
            let played = first.map(|first| first.played.get() as f64);
            *before = played;
        }
        let begun = leader.begun.as_ref();
        let played = begun
            .and_then(|begun| begun.before)
            .and_then(|before| Some(self.map.at(at)?.played - before));
        let steering = played.and_then(|played| leader.follower.tempo_for(at, played));
        match (steering, begun.map(|begun| begun.from)) {
            (Some(Steering::Tempo(tempo)), _) => self.lead(leader, tempo),
            (Some(Steering::Jump { ticks, .. }), Some(from)) => {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                // to the nearest tick, never below 0
                let ticks = ticks.max(0.0).round() as u64;
                self.begin_in_song(leader, from + ticks);
            }
            // The device is stopped, or never started: its tempo counts all the same.
            _ => self.led_tempo(leader, leader.follower.us_per_quarter()),
        }
    }

    fn led_tempo(&mut self, leader: &mut Leader<'_>, us: Option<f64>) {
        if let Some(us) = us {
            self.lead(leader, Tempo::clamped(us));
        }
    }

    fn lead(&mut self, leader: &mut Leader<'_>, tempo: Tempo) {
        if leader.tempo.replace(tempo) != Some(tempo) {
            self.wish(Wish::Follow(tempo), None);
        }
    }
}
