//! What is due next, and how the listener's wishes change it.
//!
//! A [`Dispatcher`] takes bars of entries in ticks and gives messages at times. It knows nothing of threads, ports or
//! devices: the caller asks when the next thing is due, waits, and takes it. Wishes (pause, tempo, a part silenced)
//! come with the time at which they take effect, so that several lanes with the same entries and wishes do the same at
//! the same time.
//!
//! Time is summed as everywhere: whole ticks, whole microseconds a quarter, from an origin. A pause moves the origin by
//! its length; a jump changes which ticks of the piece are played next; a change of tempo is a new pair of tick and
//! tempo. The past is never computed again, so there is no drift between origins. Each deviation from the plan is
//! reported as it happens (`Passage`).

mod entry;
mod notes;
mod pulses;
mod speed;
mod state;
mod timeline;

use std::collections::VecDeque;

use crossbeam_channel::{Receiver, Sender, TryRecvError};

pub use self::entry::{Entry, Item, Outgoing, Wish};
use self::notes::{Notes, Sweep};
use self::pulses::Pulses;
use self::speed::Speed;
use self::state::{Gap, Leaving, Pass, Playing, Stage, State};
pub use self::timeline::Passage;
use self::timeline::Timeline;
use crate::event::{Message, PartMessage};
use crate::midi::System;
use crate::time::{Nanos, Tempo, Tick, Timed};

/// Anything later than this is a stall, not jitter of the machine.
pub const STALL: Nanos = Nanos::new(500_000_000);

/// Capacity for waiting wishes: one for each of 256 parts, and a few.
const WISHES: usize = 300;

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Next {
    /// Send a message of the clock that is due at once.
    Say,
    /// Tell the follower of the clock what comes after this bar.
    Announce {
        target: u64,
        line: Tick,
    },
    Pulse,
    Sweep,
    Wish,
    Entry,
}

/// Gives out entries at their times; see the module.
///
/// # Real time
/// Allocates nothing once it is made, locks nothing, never waits.
pub struct Dispatcher {
    queue: Receiver<Item>,
    next: Option<Item>,
    /// The run that plays, or is waited for, and how many of its bar lines were passed.
    run: u32,
    bars: u32,
    state: State,
    timeline: Timeline,
    speed: Speed,
    notes: Notes,
    /// In the order of their times.
    wishes: VecDeque<Timed<Wish>>,
    /// The time of what was done last.
    latest: Nanos,
    /// The newest time it was told.
    seen: Nanos,
    /// The MIDI clock, where it is sent.
    pulses: Option<Pulses>,
}

impl Dispatcher {
    /// A dispatcher for what comes through `queue`. Time 0 is the first origin's.
    pub fn new(queue: Receiver<Item>) -> Self {
        Dispatcher {
            queue,
            next: None,
            run: 0,
            bars: 0,
            state: State::Moving(Stage::Waiting(Gap::default())),
            timeline: Timeline::new(Tempo::DEFAULT),
            speed: Speed::default(),
            notes: Notes::new(),
            wishes: VecDeque::with_capacity(WISHES),
            latest: Nanos::ZERO,
            seen: Nanos::ZERO,
            pulses: None,
        }
    }

    /// The same, sending the MIDI clock: 24 pulses to the quarter note, start, stop, continue and song positions.
    #[must_use]
    pub fn with_clock(mut self) -> Self {
        self.pulses = Some(Pulses::new());
        self
    }

    /// The same, reporting every change of the map as played. If nobody takes them out, the newest are lost.
    #[must_use]
    pub fn telling(mut self, passages: Sender<Passage>) -> Self {
        self.timeline.tell(passages);
        self
    }

    /// Takes a wish. Wishes take effect in order of their times, and in order of arrival at equal times. Returns
    /// whether there was room.
    pub fn wish(&mut self, wish: Timed<Wish>) -> bool {
        // Never grows, since that would allocate.
        if self.wishes.len() == WISHES {
            return false;
        }
        let at = self.wishes.partition_point(|w| w.at <= wish.at);
        self.wishes.insert(at, wish);
        true
    }

    /// Whether there is room for a wish, and for one more that the machine may make, as where a port is lost.
    pub fn has_room(&self) -> bool {
        self.wishes.len() + 1 < WISHES
    }

    /// Entries that wait.
    pub fn waiting(&self) -> usize {
        self.queue.len() + usize::from(self.next.is_some())
    }

    /// Whether the end was reached.
    pub fn is_over(&self) -> bool {
        self.state == State::Over && self.is_done()
    }

    /// The run that plays, or is waited for, and how many of its bar lines were passed.
    pub fn place(&self) -> (u32, u32) {
        (self.run, self.bars)
    }

    /// The tempo of the plan at the place that plays.
    pub fn plan(&self) -> Tempo {
        self.speed.plan
    }

    /// By how many semitones the chord is transposed that plays.
    pub fn semitones(&self) -> i8 {
        self.notes.shift()
    }

    /// Whether it is paused, and all that sounded has ended.
    pub fn is_paused(&self) -> bool {
        self.state.since().is_some() && self.is_done()
    }

    /// Whether nothing is left to be sent of a change of state.
    fn is_done(&self) -> bool {
        self.notes.sweep_at().is_none() && !self.speaks()
    }

    /// Jumps that could not be sent to a follower of the MIDI clock: beyond the song position's fourteen bits, or to a
    /// place between sixteenths.
    pub fn untold(&self) -> u32 {
        self.pulses.as_ref().map_or(0, Pulses::untold)
    }

    /// The last tick whose time is not after `at`, in ticks of the run that plays.
    pub fn tick_at(&self, at: Nanos) -> Tick {
        let since = self.state.since();
        self.timeline.tick_at(since.map_or(at, |s| s.min(at)))
    }

    /// Sets the time. A caller that may have slept calls it before [`Dispatcher::due`].
    pub fn look(&mut self, now: Nanos) {
        self.seen = self.seen.max(now);
    }

    /// Sets the time, as [`Dispatcher::look`] does, for a lane that keeps time by itself. If what is due is later than
    /// [`STALL`], as after the machine was suspended, it is skipped: what sounds ends, and the piece goes on with the
    /// next bar. Returns whether that happened. A lane that keeps time by another's clock must not do this by itself.
    pub fn look_for_stall(&mut self, now: Nanos) -> bool {
        self.look(now);
        if !self.state.runs() || self.notes.sweep_at().is_some() {
            return false;
        }
        let pulse = self.pulse().map(|(grid, _)| grid);
        let Some(due) = self.entry_due().into_iter().chain(pulse).min() else {
            return false;
        };
        if due.get().saturating_add(STALL.get()) >= now.get() {
            return false;
        }
        let played = self.timeline.first_from(self.latest);
        // Looking for an entry may have ended the run.
        let Some(playing) = self.state.playing_mut() else {
            return false;
        };
        playing.pass = Pass::Rejoining { played };
        self.latest = self.latest.max(now);
        self.end_all(self.latest);
        true
    }

    /// Ends what sounds and stops a follower of the clock.
    fn end_all(&mut self, at: Nanos) {
        self.notes.begin(Sweep::End, at);
        if let Some(pulses) = &mut self.pulses {
            pulses.stop();
        }
    }

    /// What goes out before anything is due, so that a follower of the clock is ready for the first pulse. Call it
    /// until there is no more.
    pub fn before(&mut self) -> Option<System> {
        let pulses = self.pulses.as_mut().filter(|pulses| !pulses.has_begun())?;
        if self.next.is_none() {
            self.next = self.queue.try_recv().ok();
        }
        if let Some(Entry::Origin {
            song: Some(song), ..
        }) = self.next.map(|item| item.entry)
        {
            pulses.announce_once(Some(song), Tick::ZERO);
        }
        pulses.said()
    }

    /// When the next thing is due; `None` while nothing is known.
    pub fn due(&mut self) -> Option<Nanos> {
        self.decide().map(|(at, _)| at)
    }

    fn speaks(&self) -> bool {
        self.pulses.as_ref().is_some_and(Pulses::speaks)
    }

    /// When the next pulse is due by the grid, and when it may go.
    fn pulse(&self) -> Option<(Nanos, Nanos)> {
        let pulses = self.pulses.as_ref().filter(|_| self.state.runs())?;
        if let Some(Item {
            entry: Entry::End { tick },
            ..
        }) = self.next
            && pulses.next() >= self.timeline.played(tick)
        {
            return None;
        }
        let grid = self.timeline.time_of_played(pulses.next());
        let quarter_us = self.speed.tempo().us_per_quarter();
        Some((grid, pulses.free(grid, quarter_us)))
    }

    /// When the follower is to be told what comes after this bar, and what.
    fn announcing_due(&self) -> Option<(Nanos, Next)> {
        let pulses = self.pulses.as_ref().filter(|_| self.state.runs())?;
        let playing = self.state.playing()?;
        let bar = playing.bar?;
        let target = playing.leaving.map(|leaving| leaving.song).or(bar.then)?;
        let at = pulses.announcing(bar.end, Some(target))?;
        let at = self.timeline.time_of_played(at).max(self.latest);
        let line = bar.end;
        Some((at, Next::Announce { target, line }))
    }

    fn decide(&mut self) -> Option<(Nanos, Next)> {
        if self.speaks() {
            return Some((self.latest, Next::Say));
        }
        let entry = match self.notes.sweep_at() {
            Some(_) => None,
            None => self.entry_due().map(|at| (at, Next::Entry)),
        };
        // Looking for an entry may have ended a run, and with it what sounds.
        let other = match self.notes.sweep_at() {
            Some(at) => Some((at, Next::Sweep)),
            None => {
                let wish = self.wishes.front();
                earlier(wish.map(|w| (w.at.max(self.latest), Next::Wish)), entry)
            }
        };
        let pulse = self.pulse().map(|(_, free)| (free, Next::Pulse));
        earlier(earlier(self.announcing_due(), pulse), other)
    }

    /// Does what is due next, and returns what to send, if anything. Call it when its time has come; if nothing is due
    /// it does nothing.
    pub fn step(&mut self) -> Option<Timed<Outgoing>> {
        let (at, next) = self.decide()?;
        match next {
            Next::Sweep => {
                let what = Outgoing::Part(self.notes.swept()?);
                Some(Timed { at, what })
            }
            Next::Say => self.system(at, Pulses::said),
            Next::Announce { target, line } => {
                self.latest = self.latest.max(at);
                self.system(at, |pulses| {
                    pulses.announce(Some(target), line);
                    pulses.said()
                })
            }
            Next::Pulse => {
                let grid = self.pulse().map_or(at, |(grid, _)| grid);
                self.latest = self.latest.max(at);
                let went = at.max(self.seen);
                let (due, pulse) = self.pulses.as_mut()?.pulse(grid, at, went);
                Some(Timed {
                    at: due,
                    what: Outgoing::System(pulse),
                })
            }
            Next::Wish => {
                let wish = self.wishes.pop_front()?;
                self.latest = at;
                self.grant(wish.what, at);
                None
            }
            Next::Entry => {
                self.latest = self.latest.max(at);
                let item = self.next.take()?;
                let message = self.take(item.entry, at)?;
                Some(Timed {
                    at,
                    what: Outgoing::Part(message),
                })
            }
        }
    }

    fn system(
        &mut self,
        at: Nanos,
        message: impl FnOnce(&mut Pulses) -> Option<System>,
    ) -> Option<Timed<Outgoing>> {
        let what = Outgoing::System(message(self.pulses.as_mut()?)?);
        Some(Timed { at, what })
    }

    /// Ends all that sounds; then everything is over.
    pub fn stop(&mut self, at: Nanos) {
        self.state = State::Over;
        self.end_all(at);
    }

    /// When the next entry is due. Drops entries of runs that were left, and ends a run that has no more bar lines.
    fn entry_due(&mut self) -> Option<Nanos> {
        loop {
            let State::Moving(stage) = self.state else {
                return None;
            };
            if self.next.is_none() {
                match self.queue.try_recv() {
                    Ok(item) => self.next = Some(item),
                    Err(TryRecvError::Empty) => return None,
                    Err(TryRecvError::Disconnected) => {
                        self.state = State::Over;
                        return None;
                    }
                }
            }
            let item = self.next?;
            if item.run < self.run {
                if item.entry.sets_up() {
                    return Some(self.latest);
                }
                self.next = None;
                continue;
            }
            let playing = match stage {
                Stage::Waiting(gap) => {
                    // It belongs to a later run; the wish to leave for that will come.
                    let begins = item.run == self.run && matches!(item.entry, Entry::Origin { .. });
                    let line = gap.line.max(self.timeline.time_of_played(gap.played));
                    return begins.then_some(line);
                }
                Stage::Playing(playing) => playing,
            };
            if item.run > self.run {
                // No bar line is left to leave at.
                let leaving = playing.leaving.filter(|leaving| leaving.run == item.run)?;
                let played = self.timeline.first_from(self.latest);
                self.leave_for(leaving, Gap::at(self.latest, played));
                return Some(self.latest);
            }
            return match playing.pass {
                Pass::Rejoining { .. } => Some(self.latest),
                Pass::Entering if item.entry.tick() >= self.timeline.first() => {
                    self.pass(Pass::Through);
                    self.notes.begin(Sweep::Strike, self.latest);
                    Some(self.latest)
                }
                Pass::Entering | Pass::Through => Some(self.timeline.time_of(item.entry.tick())),
            };
        }
    }

    fn pass(&mut self, pass: Pass) {
        if let Some(playing) = self.state.playing_mut() {
            playing.pass = pass;
        }
    }

    /// The tempo changes at `at`.
    fn tempo_from(&mut self, at: Nanos) {
        let tempo = self.speed.tempo();
        match self.state {
            State::Moving(_) => self.timeline.change(self.timeline.first_from(at), tempo),
            State::Paused { since, .. } => self.timeline.change_while_paused(since, tempo),
            State::Over => {}
        }
    }

    fn grant(&mut self, wish: Wish, at: Nanos) {
        match wish {
            Wish::Pause => self.pause(at),
            Wish::Resume => self.resume(at),
            Wish::Tempo(millionths) => {
                self.speed.scale(millionths);
                self.tempo_from(at);
            }
            Wish::Follow(tempo) => {
                self.speed.follow(tempo);
                self.tempo_from(at);
            }
            Wish::Transpose(semitones) => self.notes.transpose(semitones),
            Wish::Mute(part) => self.notes.mute(part, at),
            Wish::Unmute(part) => self.notes.unmute(part),
            Wish::Leave { run, song } => self.wish_to_leave(Leaving { run, song }, at),
            Wish::Begin { run, song, skip } => self.begin_run(run, song, skip, at),
        }
    }

    fn pause(&mut self, at: Nanos) {
        let State::Moving(stage) = self.state else {
            return;
        };
        self.state = State::Paused { since: at, stage };
        self.timeline.pause(at);
        self.notes.begin(Sweep::Hold, at);
        if let Some(pulses) = &mut self.pulses {
            pulses.stop();
        }
    }

    fn resume(&mut self, at: Nanos) {
        let State::Paused { since, mut stage } = self.state else {
            return;
        };
        self.timeline.resume(since, at);
        if let Stage::Waiting(gap) = &mut stage {
            gap.line = gap.line.max(at);
        }
        self.state = State::Moving(stage);
        self.notes.begin(Sweep::Strike, at);
        // In a gap, or while rejoining, nothing is sent before a follower is told the position.
        if let (Some(pulses), Stage::Playing(playing)) = (&mut self.pulses, stage)
            && playing.in_song
            && !matches!(playing.pass, Pass::Rejoining { .. })
        {
            pulses.resume();
        }
    }

    fn wish_to_leave(&mut self, leaving: Leaving, at: Nanos) {
        match self.state.stage_mut() {
            Some(Stage::Waiting(gap)) => {
                // The run it was to go on with never came.
                let gap = Gap::at(gap.line.max(at), gap.played);
                self.leave_for(leaving, gap);
            }
            Some(Stage::Playing(playing)) => playing.leaving = Some(leaving),
            None => {}
        }
    }

    fn begin_run(&mut self, run: u32, song: Option<u64>, skip: u64, at: Nanos) {
        let Some(stage) = self.state.stage_mut() else {
            return;
        };
        let played = match stage {
            Stage::Waiting(gap) => gap.played,
            Stage::Playing(Playing {
                pass: Pass::Rejoining { played },
                ..
            }) => *played,
            Stage::Playing(_) => self.timeline.first_from(self.state.since().unwrap_or(at)),
        };
        let gap = Gap {
            skip,
            ..Gap::at(at, played)
        };
        self.state = State::Moving(Stage::Waiting(gap));
        self.leave(run, gap, song.map(|song| song + skip));
    }

    /// Takes an entry whose time has come; returns the message to send, if it is one.
    fn take(&mut self, entry: Entry, due: Nanos) -> Option<PartMessage> {
        match entry {
            Entry::Origin { tick, song } => self.take_origin(tick, song, due),
            Entry::Tempo { tick, tempo } => {
                self.speed.plan = tempo;
                let played = self.played_at(tick);
                self.timeline.change(played, self.speed.tempo());
            }
            Entry::Bar {
                tick,
                end,
                song,
                then,
            } => self.take_bar(tick, end, (song, then), due),
            Entry::Turn { tick } => self.take_turn(tick, due),
            Entry::Chord { .. } => self.notes.chord(),
            Entry::Message { message, .. } => return self.take_message(message),
            Entry::End { tick } => self.take_end(tick, due),
        }
        None
    }

    /// Ticks played at the time of an entry: after a stall, what had been played before it.
    fn played_at(&self, tick: Tick) -> Tick {
        match self.state.playing().map(|playing| playing.pass) {
            Some(Pass::Rejoining { played }) => played,
            _ => self.timeline.played(tick),
        }
    }

    fn take_origin(&mut self, tick: Tick, song: Option<u64>, due: Nanos) {
        let State::Moving(Stage::Waiting(gap)) = self.state else {
            return;
        };
        let (skip, played) = (gap.skip, gap.played);
        self.timeline.turn(self.run, tick + skip, played, due);
        self.timeline.change(played, self.speed.tempo());
        self.state = State::Moving(Stage::Playing(Playing {
            pass: if skip > 0 {
                Pass::Entering
            } else {
                Pass::Through
            },
            in_song: song.is_some(),
            bar: None,
            leaving: None,
        }));
        self.notes.chord();
        if let Some(pulses) = &mut self.pulses {
            pulses.begin(song.map(|song| song + skip), played);
        }
    }

    /// A bar line; `song` has the song ticks of the bar and of what follows it.
    fn take_bar(&mut self, tick: Tick, end: Tick, song: (Option<u64>, Option<u64>), due: Nanos) {
        self.bars += 1;
        let Some(&playing) = self.state.playing() else {
            return;
        };
        if let Some(leaving) = playing.leaving
            && tick > self.timeline.first()
        {
            let played = self.played_at(tick);
            self.leave_for(leaving, Gap::at(due, played));
            return;
        }
        if let Pass::Rejoining { played } = playing.pass {
            self.timeline.turn(self.run, tick, played, due);
            self.pass(Pass::Through);
            if let Some(pulses) = &mut self.pulses {
                pulses.turned(song.0, played);
            }
        } else if let Some(pulses) = &mut self.pulses {
            pulses.straight();
        }
        let end = self.timeline.played(end);
        if let Some(playing) = self.state.playing_mut() {
            playing.in_song = song.0.is_some();
            playing.bar = Some(state::Bar { end, then: song.1 });
        }
    }

    fn take_turn(&mut self, tick: Tick, due: Nanos) {
        let Some(&playing) = self.state.playing() else {
            return;
        };
        let played = self.played_at(tick);
        let gap = Gap::at(due, played);
        match playing.leaving {
            Some(leaving) => self.leave_for(leaving, gap),
            None => self.leave(self.run + 1, gap, playing.bar.and_then(|bar| bar.then)),
        }
    }

    fn take_end(&mut self, tick: Tick, due: Nanos) {
        match self.state.playing().and_then(|playing| playing.leaving) {
            // It was already queued when the jump was asked for.
            Some(leaving) => {
                let played = self.played_at(tick);
                self.leave_for(leaving, Gap::at(due, played));
            }
            None => self.stop(due),
        }
    }

    fn take_message(&mut self, message: PartMessage) -> Option<PartMessage> {
        let is_on = matches!(message.message, Message::NoteOn { .. });
        let is_note = is_on || matches!(message.message, Message::NoteOff { .. });
        match self.state.playing().map(|playing| playing.pass) {
            Some(Pass::Entering) if is_note => {
                self.notes.hold(message);
                None
            }
            Some(Pass::Rejoining { .. }) if is_on => None,
            _ => self.notes.message(message),
        }
    }

    fn leave_for(&mut self, leaving: Leaving, gap: Gap) {
        self.leave(leaving.run, gap, Some(leaving.song));
    }

    /// Leaves for a run, which begins at `song`.
    fn leave(&mut self, run: u32, gap: Gap, song: Option<u64>) {
        self.run = run;
        self.bars = 0;
        if let Some(stage) = self.state.stage_mut() {
            *stage = Stage::Waiting(gap);
        }
        self.notes.begin(Sweep::End, gap.line);
        // While paused, nothing is sent to a follower; the origin does that.
        if let (Some(pulses), State::Moving(_)) = (&mut self.pulses, self.state) {
            pulses.leave(song, gap.played);
        }
    }
}

/// The earlier of two; the first where both are at once.
fn earlier(a: Option<(Nanos, Next)>, b: Option<(Nanos, Next)>) -> Option<(Nanos, Next)> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if a.0 <= b.0 { a } else { b }),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests;
