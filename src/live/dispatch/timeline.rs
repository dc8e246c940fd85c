//! Where a piece is in time: played ticks, however it jumps, and how the tempo plan was changed.

use crossbeam_channel::Sender;

use crate::time::{Clockwork, Nanos, Tempo, Tick};

/// How the piece goes from one moment on. The map as played is made of these.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Passage {
    /// The time from which it holds.
    pub at: Nanos,
    /// The first tick from then on, counted as they are played: count-in included, whatever was jumped over or repeated.
    pub played: Tick,
    /// When that tick comes, unless something changes before.
    pub tick_at: Nanos,
    /// Which run of bars plays.
    pub run: u32,
    /// Which tick of the piece it is.
    pub tick: Tick,
    /// How fast it goes.
    pub tempo: Tempo,
    /// Whether it is paused from here on, until the next passage.
    pub paused: bool,
}

/// Whether the piece goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Motion {
    Moves,
    Paused,
}

/// The sum of time. Ticks are counted as they are played, without gaps: a jump changes which tick of the piece is
/// played, not how many have been. A pause moves the origin by its length. So nothing is ever rounded twice, and
/// without its pauses what was played is a tempo map like any other.
#[derive(Debug)]
pub(super) struct Timeline {
    origin: Nanos,
    clock: Clockwork,
    run: u32,
    /// The tick of the piece with which the run began, and the played tick it was played at.
    first: Tick,
    base: Tick,
    tell: Option<Sender<Passage>>,
}

impl Timeline {
    pub(super) fn new(tempo: Tempo) -> Self {
        Timeline {
            origin: Nanos::ZERO,
            clock: Clockwork::new(tempo),
            run: 0,
            first: Tick::ZERO,
            base: Tick::ZERO,
            tell: None,
        }
    }

    /// Reports every change. If nobody takes the reports out, the newest are lost; nothing waits.
    pub(super) fn tell(&mut self, tell: Sender<Passage>) {
        self.tell = Some(tell);
    }

    /// The tick of the piece with which the run began.
    pub(super) fn first(&self) -> Tick {
        self.first
    }

    /// How many ticks have been played when `tick` of the run comes.
    pub(super) fn played(&self, tick: Tick) -> Tick {
        self.base + tick.saturating_since(self.first)
    }

    /// The tick of the run that comes when so many have been played.
    fn tick(&self, played: Tick) -> Tick {
        self.first + played.saturating_since(self.base)
    }

    /// The time of a tick of the run.
    pub(super) fn time_of(&self, tick: Tick) -> Nanos {
        self.time_of_played(self.played(tick))
    }

    /// The time of a played tick, not before the last change of tempo.
    pub(super) fn time_of_played(&self, played: Tick) -> Nanos {
        Nanos::new(self.origin.get() + self.clock.at(played).get())
    }

    /// The first played tick whose time is not before `at`.
    pub(super) fn first_from(&self, at: Nanos) -> Tick {
        let gone = Nanos::new(at.get().saturating_sub(self.origin.get()));
        let tick = self.clock.tick_at(gone);
        if self.clock.at(tick) < gone {
            tick + 1
        } else {
            tick
        }
    }

    /// The last tick of the run whose time is not after `at`.
    pub(super) fn tick_at(&self, at: Nanos) -> Tick {
        let gone = Nanos::new(at.get().saturating_sub(self.origin.get()));
        self.tick(self.clock.tick_at(gone))
    }

    fn say(&self, at: Nanos, played: Tick, motion: Motion) {
        if let Some(tell) = &self.tell {
            let _ = tell.try_send(Passage {
                at,
                played,
                tick_at: self.time_of_played(played),
                run: self.run,
                tick: self.tick(played),
                tempo: self.clock.tempo(),
                paused: motion == Motion::Paused,
            });
        }
    }

    /// Plays `run` from its tick `first` on at `at`, when `played` ticks have been played. What lies between the time of
    /// the last of them and `at` is a gap, as a pause is.
    pub(super) fn turn(&mut self, run: u32, first: Tick, played: Tick, at: Nanos) {
        let reached = self.time_of_played(played);
        // A run begins with a whole tick: where it was paused in the middle of one, the pause begins with that tick.
        self.say(reached, played, Motion::Paused);
        self.origin = Nanos::new(self.origin.get() + at.get().saturating_sub(reached.get()));
        self.run = run;
        self.first = first;
        self.base = played;
        self.say(at, played, Motion::Moves);
    }

    /// Plays at `tempo` from a played tick on.
    pub(super) fn change(&mut self, played: Tick, tempo: Tempo) {
        if self.clock.tempo() != tempo {
            self.clock.change(played, tempo);
            self.say(self.time_of_played(played), played, Motion::Moves);
        }
    }

    /// Will play at `tempo` when it goes on; it is paused since `since`.
    pub(super) fn change_while_paused(&mut self, since: Nanos, tempo: Tempo) {
        let played = self.first_from(since);
        if self.clock.tempo() != tempo {
            self.clock.change(played, tempo);
            self.say(since, played, Motion::Paused);
        }
    }

    /// Pauses at `at`.
    pub(super) fn pause(&self, at: Nanos) {
        self.say(at, self.first_from(at), Motion::Paused);
    }

    /// Goes on at `at`, after it was paused since `since`.
    pub(super) fn resume(&mut self, since: Nanos, at: Nanos) {
        let paused = at.get().saturating_sub(since.get());
        self.origin = Nanos::new(self.origin.get() + paused);
        self.say(at, self.first_from(at), Motion::Moves);
    }
}
