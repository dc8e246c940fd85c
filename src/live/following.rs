//! Following another device: its MIDI clock, and how to play in step with it.
//!
//! [`Follower`] is given each message and its time of arrival. It knows where the other device is and returns, as data,
//! what to do about it; the player does that on another thread. Nothing here reads a clock.

mod pulses;

use self::pulses::{PULSES_PER_QUARTER, PulseLoop};
use crate::midi::System;
use crate::time::{Nanos, TICKS_PER_QUARTER, Tempo};

/// Ticks from pulse to pulse.
const TICKS_PER_PULSE: u64 = TICKS_PER_QUARTER / PULSES_PER_QUARTER as u64;

/// Pulses to a step of the song position, a sixteenth (MIDI 1.0, song position pointer).
const PULSES_PER_POSITION: u64 = 6;

/// A silence longer than this, in nanoseconds, means that the clock is lost: 24 pulses at 120 quarter notes a minute.
const SILENCE_NS: u64 = 500_000_000;

/// And longer than so many pulses, at slow tempi.
const SILENCE_PULSES: f64 = 6.0;

/// The silence at the slowest tempo, 20 a minute, for when the tempo is not known yet: six pulses of 125 ms.
const LONGEST_SILENCE_NS: u64 = 750_000_000;

/// How many actions wait to be taken at most.
const WAITING: usize = 8;

/// Time constant of the phase correction in quarter notes: an error falls to a twentieth within one.
const CATCH_UP_QUARTERS: f64 = 1.0 / 3.0;

/// The largest tempo correction for catching up, as a share of the clock's tempo.
const MOST_CORRECTION: f64 = 0.25;

/// An error beyond this, in quarter notes, is jumped over.
const JUMP_QUARTERS: f64 = 1.0;

/// What is known of the other device's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FollowState {
    /// No pulse has come yet.
    Silent,
    /// Pulses are heard, too few to rely on.
    Learning,
    /// Tempo and phase are known.
    Locked,
    /// No pulse came for half a second, or for six pulses where these take longer.
    Lost,
}

/// What to do about a message, or about its absence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FollowAction {
    /// Play from a song position.
    Begin {
        /// When that position was due: the first pulse after the message, smoothed. It is past.
        at: Nanos,
        /// The position, in ticks from the beginning of bar 1.
        ticks: u64,
    },
    /// Pause: the other device has stopped.
    Pause {
        /// When the message came.
        at: Nanos,
    },
    /// Pulses stopped although the device sent no Stop.
    Lost {
        /// When the silence became too long.
        at: Nanos,
    },
    /// After [`FollowAction::Lost`], pulses come again. The position goes on from where it was lost.
    Heard {
        /// When the first came.
        at: Nanos,
    },
}

/// How to play on in step with the clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Steering {
    /// At this tempo, until asked again.
    Tempo(Tempo),
    /// The error is more than a quarter note: jump.
    Jump {
        /// To here, in ticks since the last [`FollowAction::Begin`].
        ticks: f64,
        /// And on at this tempo, the clock's own.
        tempo: Tempo,
    },
}

/// A queue of actions, oldest first. When full, the oldest are dropped, since later ones overrule them.
#[derive(Clone, Copy, Debug)]
struct Actions {
    kept: [Option<FollowAction>; WAITING],
}

impl Actions {
    fn push(&mut self, action: FollowAction) {
        if self.kept[WAITING - 1].is_some() {
            self.pop();
        }
        if let Some(free) = self.kept.iter_mut().find(|place| place.is_none()) {
            *free = Some(action);
        }
    }

    fn pop(&mut self) -> Option<FollowAction> {
        let first = self.kept[0].take();
        self.kept.rotate_left(1);
        first
    }
}

/// Follows the MIDI clock of another device, from 20 to 400 quarter notes a minute.
///
/// Pulses are counted, as in every follower: the count is the position, and pulses that come late in a burst are all
/// counted. Where whole periods are missing and the pulses after them are on time, those in between were lost and are
/// counted too. Arrival times are smoothed by a second-order loop, 0.3 cycles a quarter note wide, which locks within
/// 24 pulses. Of a jitter of 2 ms to either side at most 1.5 ms was left in an hour, 0.28 of it as a standard
/// deviation. A constant delay in transmission cannot be detected: the device is taken to be as late as its pulses are
/// on average.
///
/// # Real time
/// Fixed in size; no method allocates or blocks.
///
/// ```
/// use fivefold::live::{FollowAction, Follower};
/// use fivefold::midi::System;
/// use fivefold::time::Nanos;
/// let mut follower = Follower::default();
/// follower.heard(Nanos::new(5), System::Position(4));
/// follower.heard(Nanos::new(6), System::Continue);
/// assert_eq!(follower.next_action(Nanos::new(7)), None);
/// follower.heard(Nanos::new(8), System::Clock);
/// let begin = FollowAction::Begin { at: Nanos::new(8), ticks: 960 };
/// assert_eq!(follower.next_action(Nanos::new(9)), Some(begin));
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Follower {
    pulses: PulseLoop,
    /// When the newest pulse came.
    newest: Option<Nanos>,
    /// The position of the next pulse, in pulses from the beginning of the song.
    position: u64,
    /// Whether the next pulse begins.
    armed: bool,
    motion: Motion,
    actions: Actions,
}

/// Whether the device moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Motion {
    Stopped,
    Moving {
        /// The number of the pulse that began.
        begun: u64,
        /// Whether a loss was told that is not over.
        lost: bool,
    },
}

impl Default for Follower {
    fn default() -> Self {
        Follower {
            pulses: PulseLoop::default(),
            newest: None,
            position: 0,
            armed: false,
            motion: Motion::Stopped,
            actions: Actions {
                kept: [None; WAITING],
            },
        }
    }
}

#[allow(clippy::cast_precision_loss)] // exact for 104 days of nanoseconds
fn float(n: u64) -> f64 {
    n as f64
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // saturates, which is what is wanted
fn instant(ns: f64) -> Nanos {
    Nanos::new(ns.round().max(0.0) as u64)
}

impl Follower {
    /// Takes in a message that came at `at`, a time of any monotonic clock. Messages must be given in order of arrival;
    /// a time before the last pulse counts as that.
    ///
    /// Start is position 0 and Continue the position where it stood, both from the next pulse on. A position received
    /// while moving takes effect with the next pulse, unless that pulse is there anyway; Continue while moving and Stop
    /// while stopped change nothing.
    pub fn heard(&mut self, at: Nanos, message: System) {
        let at = self.newest.map_or(at, |newest| newest.max(at));
        match message {
            System::Clock => self.pulse(at),
            System::Start => {
                self.position = 0;
                self.armed = true;
            }
            System::Continue => self.armed |= self.motion == Motion::Stopped,
            System::Stop => {
                self.armed = false;
                if std::mem::replace(&mut self.motion, Motion::Stopped) != Motion::Stopped {
                    self.actions.push(FollowAction::Pause { at });
                }
            }
            System::Position(sixteenths) => {
                let position = u64::from(sixteenths) * PULSES_PER_POSITION;
                self.armed |= self.motion != Motion::Stopped && position != self.position;
                self.position = position;
            }
        }
    }

    fn pulse(&mut self, at: Nanos) {
        self.look(at);
        if self.silent_too_long(at) {
            self.pulses.after_silence(float(at.get()));
        } else {
            let lost = u64::from(self.pulses.pulse(float(at.get())));
            if self.motion != Motion::Stopped {
                self.position += lost;
            }
        }
        self.newest = Some(at);
        if let Motion::Moving { lost, .. } = &mut self.motion
            && std::mem::take(lost)
        {
            self.actions.push(FollowAction::Heard { at });
        }
        if std::mem::take(&mut self.armed) {
            self.motion = Motion::Moving {
                begun: self.pulses.number(),
                lost: false,
            };
            let due = if self.pulses.locked() {
                instant(self.pulses.at_ns())
            } else {
                at
            };
            self.actions.push(FollowAction::Begin {
                at: due,
                ticks: self.position * TICKS_PER_PULSE,
            });
        }
        if self.motion != Motion::Stopped {
            self.position += 1;
        }
    }

    /// Notices a loss.
    fn look(&mut self, now: Nanos) {
        let silent = self.silent_too_long(now);
        if let Motion::Moving { lost, .. } = &mut self.motion
            && silent
            && !std::mem::replace(lost, true)
            && let Some(at) = self.patience_ends()
        {
            self.actions.push(FollowAction::Lost { at });
        }
    }

    /// When the silence since the newest pulse becomes too long.
    fn patience_ends(&self) -> Option<Nanos> {
        let patience = self.pulses.period_ns().map_or(LONGEST_SILENCE_NS, |ns| {
            instant(ns * SILENCE_PULSES).get().max(SILENCE_NS)
        });
        let newest = self.newest?;
        Some(Nanos::new(newest.get().saturating_add(patience)))
    }

    fn silent_too_long(&self, now: Nanos) -> bool {
        self.patience_ends().is_some_and(|end| now > end)
    }

    /// The next thing to do, the oldest first; `None` where there is nothing. Also detects at `now` that the clock is
    /// lost: ask every ten milliseconds or so.
    ///
    /// A clock counts as lost only while it moves; many devices send no pulses while stopped.
    pub fn next_action(&mut self, now: Nanos) -> Option<FollowAction> {
        self.look(now);
        self.actions.pop()
    }

    /// What is known of the clock at `now`.
    pub fn state(&self, now: Nanos) -> FollowState {
        if self.newest.is_none() {
            FollowState::Silent
        } else if self.silent_too_long(now) {
            FollowState::Lost
        } else if self.pulses.locked() {
            FollowState::Locked
        } else {
            FollowState::Learning
        }
    }

    /// Whether the device moves, or will with the next pulse: Start or Continue came since the last Stop.
    pub fn moves(&self) -> bool {
        self.armed || self.motion != Motion::Stopped
    }

    /// The tempo of the clock in microseconds per quarter note; `None` before six pulses, a sixteenth, were heard. What
    /// is known of it stays when the clock is lost.
    pub fn us_per_quarter(&self) -> Option<f64> {
        let period = self.pulses.period_ns()?;
        let known = self.pulses.roughly_known();
        known.then_some(period * f64::from(PULSES_PER_QUARTER) / 1e3)
    }

    /// How many ticks after the last [`FollowAction::Begin`] the device is at `at`, by the smoothed clock; below zero for
    /// an instant before that.
    ///
    /// `None` while it is stopped, before six pulses were heard, and once the clock is lost. Until then it runs on
    /// through a silence at the last tempo.
    pub fn ticks_at(&self, at: Nanos) -> Option<f64> {
        let Motion::Moving { begun, .. } = self.motion else {
            return None;
        };
        if !self.pulses.roughly_known() || self.silent_too_long(at) {
            return None;
        }
        let counted = float(self.pulses.number() - begun);
        let after = self.pulses.pulses_after(float(at.get()))?;
        Some((counted + after) * float(TICKS_PER_PULSE))
    }

    /// How to play from `at` on, where `played_ticks` ticks will have been played since the last
    /// [`FollowAction::Begin`].
    ///
    /// The tempo is that of the clock times 1 + e / T, with e the error in quarter notes and T a third of one: an error
    /// falls to a twentieth within a quarter note and never overshoots, however often it is asked, at least every
    /// sixteenth. It is at most a quarter faster or slower than the clock, to avoid a lurch; so an error of half a
    /// quarter note takes two to correct.
    ///
    /// `None` where [`Follower::ticks_at`] is: play on or stop, as you like.
    pub fn tempo_for(&self, at: Nanos, played_ticks: f64) -> Option<Steering> {
        let ticks = self.ticks_at(at)?;
        let own_us = self.us_per_quarter()?;
        let error = (ticks - played_ticks) / float(TICKS_PER_QUARTER);
        if error.abs() > JUMP_QUARTERS {
            return Some(Steering::Jump {
                ticks,
                tempo: Tempo::clamped(own_us),
            });
        }
        let correction = (error / CATCH_UP_QUARTERS).clamp(-MOST_CORRECTION, MOST_CORRECTION);
        let us = own_us / (1.0 + correction);
        Some(Steering::Tempo(Tempo::clamped(us)))
    }
}

#[cfg(test)]
mod tests;
