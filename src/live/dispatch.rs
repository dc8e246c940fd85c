//! What is due next, and what the listener's wishes make of it.
//!
//! A [`Dispatcher`] takes bars of entries in ticks and gives messages at times. It knows no thread, no port and no device:
//! whoever plays asks when the next thing is due, waits, and takes it. Wishes (pause, tempo, a part silenced) come with the
//! time at which they take effect, so that several lanes with the same entries and wishes do the same at the same time.
//!
//! Time is summed as everywhere: whole ticks, whole microseconds a quarter, from an origin. A pause moves the origin on by
//! its length; a jump changes which ticks of the piece are played next; a change of tempo is a new pair of tick and tempo.
//! The past is never computed again, so there is no drift between origins. What was made of the plan is told as it happens
//! (`Passage`).

mod entry;
mod notes;
mod pulses;
mod timeline;

use std::collections::VecDeque;

use crossbeam_channel::{Receiver, Sender, TryRecvError};

pub use self::entry::{Entry, Item, Outgoing, Sent, TimedWish, Wish};
use self::notes::{Notes, Sweep};
use self::pulses::Pulses;
pub use self::timeline::Passage;
use self::timeline::Timeline;
use crate::event::Message;
use crate::midi::System;
use crate::time::{Nanos, Tempo, Tick};

/// What is later than this is no unrest of the machine but a stall.
pub const STALL: Nanos = Nanos::new(500_000_000);

/// Wishes that may wait at once: one for each of 256 parts, and a few.
const WISHES: usize = 300;

/// Where it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Playing,
    /// A run was left, and the first entry of the next has not come.
    Between {
        /// When it is to go on.
        line: Nanos,
        /// Ticks played until then.
        played: Tick,
    },
    Over,
}

/// What is to be done next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Next {
    /// Send a message of the clock that is due at once.
    Say,
    /// Tell the follower of the clock what comes after this bar.
    Tell {
        target: u64,
        line: Tick,
    },
    Pulse,
    Sweep,
    Wish,
    Entry,
}

/// The bar that plays.
#[derive(Clone, Copy, Debug)]
struct Here {
    /// The played tick at which it ends.
    end: Tick,
    song: Option<u64>,
    then: Option<u64>,
}

/// Gives out entries at their times; see the module.
///
/// # Real time
/// Allocates nothing after it was made, locks nothing, never waits.
pub struct Dispatcher {
    queue: Receiver<Item>,
    next: Option<Item>,
    run: u32,
    /// The run to leave for at the next bar line, and its song ticks.
    leaving: Option<(u32, u64)>,
    state: State,
    /// Since when it stands still.
    paused: Option<Nanos>,
    timeline: Timeline,
    plan: Tempo,
    millionths: u32,
    /// The tempo of another device, which it follows.
    led: Option<Tempo>,
    wanted_shift: i8,
    notes: Notes,
    /// When what is swept is due.
    sweep_at: Nanos,
    /// In the order of their times.
    wishes: VecDeque<TimedWish>,
    bars: u32,
    here: Option<Here>,
    /// The time of what was done last.
    latest: Nanos,
    /// The newest time it was told.
    seen: Nanos,
    /// After a stall: ticks played before it. What was missed is passed over until the next bar.
    missed: Option<Tick>,
    /// Ticks of the first bar that are passed over, and whether that is being done.
    skip: u64,
    skipping: bool,
    pulses: Option<Pulses>,
}

impl Dispatcher {
    /// A dispatcher for what comes through `queue`. Time 0 is the first origin's.
    pub fn new(queue: Receiver<Item>) -> Self {
        Dispatcher {
            queue,
            next: None,
            run: 0,
            leaving: None,
            state: State::Between {
                line: Nanos::ZERO,
                played: Tick::ZERO,
            },
            paused: None,
            timeline: Timeline::new(Tempo::DEFAULT),
            plan: Tempo::DEFAULT,
            millionths: 1_000_000,
            led: None,
            wanted_shift: 0,
            notes: Notes::new(),
            sweep_at: Nanos::ZERO,
            wishes: VecDeque::with_capacity(WISHES),
            bars: 0,
            here: None,
            latest: Nanos::ZERO,
            seen: Nanos::ZERO,
            missed: None,
            skip: 0,
            skipping: false,
            pulses: None,
        }
    }

    /// The same, sending the MIDI clock: 24 pulses to the quarter note, start, stop, continue and song positions.
    #[must_use]
    pub fn with_clock(mut self) -> Self {
        self.pulses = Some(Pulses::new());
        self
    }

    /// The same, telling every change of the map as played. Where nobody takes them out the newest are lost.
    #[must_use]
    pub fn telling(mut self, passages: Sender<Passage>) -> Self {
        self.timeline.tell(passages);
        self
    }

    /// Takes a wish; they take effect in the order of their times, at one time in the order in which they came. Answers
    /// whether there was room.
    pub fn wish(&mut self, wish: TimedWish) -> bool {
        // Full is full: to grow would take memory.
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
        self.state == State::Over && !self.notes.sweeping() && !self.speaks()
    }

    /// The run that plays, or is waited for, and how many of its bar lines were passed.
    pub fn place(&self) -> (u32, u32) {
        (self.run, self.bars)
    }

    /// The tempo of the plan at the place that plays.
    pub fn plan(&self) -> Tempo {
        self.plan
    }

    /// Whether it stands still, and all that sounded has ended.
    pub fn stands(&self) -> bool {
        self.paused.is_some() && !self.notes.sweeping() && !self.speaks()
    }

    /// Jumps of which a follower of the MIDI clock could not be told: beyond the song position's fourteen bits, or to a place
    /// between sixteenths.
    pub fn untold(&self) -> u32 {
        self.pulses.as_ref().map_or(0, Pulses::untold)
    }

    /// The last tick whose time is not after `at`, in ticks of the run that plays.
    pub fn tick_at(&self, at: Nanos) -> Tick {
        self.timeline
            .tick_at(self.paused.map_or(at, |since| since.min(at)))
    }

    /// Tells the time. To be called before [`Dispatcher::due`] by whoever may have slept: where what is due is later than
    /// [`STALL`], as after a suspended machine, it is not rattled off. What sounds ends, and the piece goes on with the next
    /// bar. Answers whether that was so. A lane that keeps time by another's clock is not to stand still by itself: `alone`
    /// is false for it.
    pub fn look(&mut self, now: Nanos, alone: bool) -> bool {
        self.seen = self.seen.max(now);
        if !alone || !self.runs() || self.notes.sweeping() {
            return false;
        }
        let pulse = self.pulse().map(|(grid, _)| grid);
        let Some(due) = self.entry_due().into_iter().chain(pulse).min() else {
            return false;
        };
        if self.state != State::Playing || due.get().saturating_add(STALL.get()) >= now.get() {
            return false;
        }
        self.missed = Some(self.timeline.first_from(self.latest));
        self.latest = self.latest.max(now);
        self.begin(Sweep::End, self.latest);
        if let Some(pulses) = &mut self.pulses {
            pulses.stand();
        }
        true
    }

    /// What goes out before anything is due, so that a follower of the clock is ready when the first pulse comes: to be
    /// asked again until there is no more.
    pub fn before(&mut self) -> Option<System> {
        if self.here.is_some() || self.state == State::Playing {
            return None;
        }
        if self.next.is_none() {
            self.next = self.queue.try_recv().ok();
        }
        let origin = self.next.map(|item| item.entry);
        let pulses = self.pulses.as_mut()?;
        if let Some(Entry::Origin {
            song: Some(song), ..
        }) = origin
        {
            pulses.tell_once(song, Tick::ZERO);
        }
        pulses.said()
    }

    /// When the next thing is due; `None` while nothing is known to come.
    pub fn due(&mut self) -> Option<Nanos> {
        self.decide().map(|(at, _)| at)
    }

    /// Whether it plays, neither standing still nor passing over what it missed.
    fn runs(&self) -> bool {
        self.paused.is_none() && self.missed.is_none() && self.state == State::Playing
    }

    /// Ticks played at the time of an entry: after a stall, what had been played before it.
    fn played_at(&self, tick: Tick) -> Tick {
        self.missed.unwrap_or_else(|| self.timeline.played(tick))
    }

    fn speaks(&self) -> bool {
        self.pulses.as_ref().is_some_and(Pulses::speaks)
    }

    /// When the next pulse is due by the grid, and when it may go.
    fn pulse(&self) -> Option<(Nanos, Nanos)> {
        let pulses = self.pulses.as_ref()?;
        if !self.runs() {
            return None;
        }
        if let Some(Item {
            entry: Entry::End { tick },
            ..
        }) = self.next
            && pulses.next() >= self.timeline.played(tick)
        {
            return None;
        }
        let grid = self.timeline.time_of_played(pulses.next());
        let quarter_us = self.scaled().us_per_quarter();
        Some((grid, pulses.free(grid, quarter_us)))
    }

    /// When the follower is to be told what comes after this bar, and what.
    fn telling_due(&self) -> Option<(Nanos, Next)> {
        let pulses = self.pulses.as_ref()?;
        let here = self.here?;
        if !self.runs() {
            return None;
        }
        let target = self.leaving.map(|(_, song)| song).or(here.then)?;
        let at = pulses.telling(here.end, Some(target))?;
        let line = here.end;
        let at = self.timeline.time_of_played(at).max(self.latest);
        Some((at, Next::Tell { target, line }))
    }

    fn decide(&mut self) -> Option<(Nanos, Next)> {
        if self.speaks() {
            return Some((self.latest, Next::Say));
        }
        let other = if self.notes.sweeping() {
            Some((self.sweep_at, Next::Sweep))
        } else {
            let wish = self.wishes.front();
            let wish = wish.map(|w| (w.at.max(self.latest), Next::Wish));
            let entry = self.entry_due().map(|at| (at, Next::Entry));
            if self.notes.sweeping() {
                // Looking for an entry has ended a run.
                Some((self.sweep_at, Next::Sweep))
            } else {
                earlier(wish, entry)
            }
        };
        let pulse = self.pulse().map(|(_, free)| (free, Next::Pulse));
        earlier(earlier(self.telling_due(), pulse), other)
    }

    /// Does what is due next, and gives what is to be sent, if anything. To be called when its time has come; where
    /// nothing is due it does nothing.
    pub fn step(&mut self) -> Option<Sent> {
        let (at, next) = self.decide()?;
        match next {
            Next::Sweep => {
                let (part, channel, message) = self.notes.swept()?;
                Some(Sent {
                    at,
                    what: Outgoing::Part {
                        part,
                        channel,
                        message,
                    },
                })
            }
            Next::Say => self.system(at, Pulses::said),
            Next::Tell { target, line } => {
                self.latest = self.latest.max(at);
                self.system(at, |pulses| {
                    pulses.tell(Some(target), line);
                    pulses.said()
                })
            }
            Next::Pulse => {
                let grid = self.pulse().map_or(at, |(grid, _)| grid);
                self.latest = self.latest.max(at);
                let went = at.max(self.seen);
                let (due, pulse) = self.pulses.as_mut()?.pulse(grid, at, went);
                Some(Sent {
                    at: due,
                    what: Outgoing::System(pulse),
                })
            }
            Next::Wish => {
                let wish = self.wishes.pop_front()?;
                self.latest = at;
                self.grant(TimedWish { at, ..wish });
                None
            }
            Next::Entry => {
                self.latest = self.latest.max(at);
                let item = self.next.take()?;
                self.take(item.entry, at)
            }
        }
    }

    fn system(
        &mut self,
        at: Nanos,
        message: impl FnOnce(&mut Pulses) -> Option<System>,
    ) -> Option<Sent> {
        let what = Outgoing::System(message(self.pulses.as_mut()?)?);
        Some(Sent { at, what })
    }

    /// Ends all that sounds; then everything is over.
    pub fn stop(&mut self, at: Nanos) {
        self.state = State::Over;
        self.begin(Sweep::End, at);
        if let Some(pulses) = &mut self.pulses {
            pulses.stand();
        }
    }

    fn entry_due(&mut self) -> Option<Nanos> {
        if self.paused.is_some() || self.state == State::Over {
            return None;
        }
        loop {
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
                // What was left is thrown away.
                self.next = None;
                continue;
            }
            if let State::Between { line, played } = self.state {
                // Of a later run the wish to leave for it will come.
                let begins = item.run == self.run && matches!(item.entry, Entry::Origin { .. });
                let line = line.max(self.timeline.time_of_played(played));
                return begins.then_some(line);
            }
            if item.run > self.run {
                // No bar line is left to leave at.
                let (run, song) = self.leaving.filter(|(run, _)| *run == item.run)?;
                let played = self.timeline.first_from(self.latest);
                self.leave(run, self.latest, played, Some(song));
                return Some(self.sweep_at);
            }
            if self.missed.is_some() {
                return Some(self.latest);
            }
            if self.skipping && item.entry.tick() >= self.timeline.first() {
                self.skipping = false;
                self.begin(Sweep::Strike, self.latest);
                return Some(self.sweep_at);
            }
            return Some(self.timeline.time_of(item.entry.tick()));
        }
    }

    fn scaled(&self) -> Tempo {
        if let Some(led) = self.led {
            return led;
        }
        let us = u64::from(self.plan.us_per_quarter()) * 1_000_000;
        let each = u64::from(self.millionths);
        let us = (us + each / 2) / each;
        Tempo::new(us).unwrap_or(self.plan)
    }

    fn begin(&mut self, sweep: Sweep, at: Nanos) {
        self.notes.begin(sweep);
        self.sweep_at = at;
    }

    /// From `at` on the tempo is another.
    fn tempo_from(&mut self, at: Nanos) {
        let at = self.paused.unwrap_or(at);
        let played = self.timeline.first_from(at);
        let tempo = self.scaled();
        self.timeline.change(played, tempo);
    }

    fn grant(&mut self, wish: TimedWish) {
        let at = wish.at;
        match wish.wish {
            Wish::Pause => {
                if self.paused.is_none() && self.state != State::Over {
                    self.paused = Some(at);
                    self.timeline.stand(at);
                    self.begin(Sweep::Hold, at);
                    if let Some(pulses) = &mut self.pulses {
                        pulses.stand();
                    }
                }
            }
            Wish::GoOn => {
                if let Some(since) = self.paused.take() {
                    self.timeline.go_on(since, at);
                    if let State::Between { line, .. } = &mut self.state {
                        *line = (*line).max(at);
                    }
                    self.begin(Sweep::Strike, at);
                    let in_song = self.here.is_some_and(|here| here.song.is_some());
                    if let Some(pulses) = &mut self.pulses {
                        pulses.go_on(in_song && self.state == State::Playing);
                    }
                }
            }
            Wish::Tempo(millionths) => {
                self.millionths = millionths.clamp(100_000, 10_000_000);
                self.tempo_from(at);
            }
            Wish::Follow(tempo) => {
                self.led = tempo;
                self.tempo_from(at);
            }
            Wish::Transpose(semitones) => self.wanted_shift = semitones,
            Wish::Silence(part, silent) => {
                self.notes.silence(part, silent);
                self.sweep_at = at;
            }
            Wish::Leave { run, song } => match self.state {
                State::Between { line, played } => {
                    // The run it was to go on with never came.
                    self.leave(run, line.max(at), played, Some(song));
                }
                _ => self.leaving = Some((run, song)),
            },
            Wish::Begin { run, song, skip } => {
                if self.state == State::Over {
                    return;
                }
                let played = match (self.missed.take(), self.state) {
                    (Some(played), _) | (None, State::Between { played, .. }) => played,
                    _ => self.timeline.first_from(self.paused.unwrap_or(at)),
                };
                self.paused = None;
                self.leave(run, at, played, song.map(|song| song + skip));
                self.skip = skip;
            }
        }
    }

    fn take(&mut self, entry: Entry, due: Nanos) -> Option<Sent> {
        if self.skipping
            && let Entry::Message {
                part,
                channel,
                message: message @ (Message::NoteOn { .. } | Message::NoteOff { .. }),
                ..
            } = entry
        {
            self.notes.hold(part, channel, message);
            return None;
        }
        match entry {
            Entry::Origin { tick, song } => {
                let State::Between { played, .. } = self.state else {
                    return None;
                };
                let skip = std::mem::take(&mut self.skip);
                self.skipping = skip > 0;
                self.timeline.turn(self.run, tick + skip, played, due);
                let song = song.map(|song| song + skip);
                let tempo = self.scaled();
                self.timeline.change(played, tempo);
                self.state = State::Playing;
                self.notes.shift = self.wanted_shift;
                if let Some(pulses) = &mut self.pulses
                    && self.here.is_none()
                {
                    pulses.turned(song, played);
                }
                None
            }
            Entry::Tempo { tick, tempo } => {
                self.plan = tempo;
                let played = self.played_at(tick);
                let tempo = self.scaled();
                self.timeline.change(played, tempo);
                None
            }
            Entry::Bar {
                tick,
                end,
                song,
                then,
            } => {
                self.bars += 1;
                if let Some((run, song)) = self.leaving
                    && tick > self.timeline.first()
                {
                    let played = self.played_at(tick);
                    self.leave(run, due, played, Some(song));
                    return None;
                }
                if let Some(played) = self.missed.take() {
                    self.timeline.turn(self.run, tick, played, due);
                    if let Some(pulses) = &mut self.pulses {
                        pulses.turned(song, played);
                    }
                } else if let Some(pulses) = &mut self.pulses {
                    pulses.straight();
                }
                self.here = Some(Here {
                    end: self.timeline.played(end),
                    song,
                    then,
                });
                None
            }
            Entry::Turn { tick } => {
                let played = self.played_at(tick);
                let then = self.here.and_then(|here| here.then);
                let (run, song) = self
                    .leaving
                    .map_or((self.run + 1, then), |(run, song)| (run, Some(song)));
                self.leave(run, due, played, song);
                None
            }
            Entry::Chord { .. } => {
                self.notes.shift = self.wanted_shift;
                None
            }
            Entry::Message {
                part,
                channel,
                message,
                ..
            } => {
                if self.missed.is_some() && matches!(message, Message::NoteOn { .. }) {
                    return None;
                }
                let message = self.notes.message(part, channel, message)?;
                Some(Sent {
                    at: due,
                    what: Outgoing::Part {
                        part,
                        channel,
                        message,
                    },
                })
            }
            Entry::End { .. } => {
                self.state = State::Over;
                self.begin(Sweep::End, due);
                if let Some(pulses) = &mut self.pulses {
                    pulses.stand();
                }
                None
            }
        }
    }

    /// Leaves for a run at `line`, when `played` ticks have been played; it begins at `song`.
    fn leave(&mut self, run: u32, line: Nanos, played: Tick, song: Option<u64>) {
        self.leaving = None;
        self.missed = None;
        self.skip = 0;
        self.skipping = false;
        self.run = run;
        self.bars = 0;
        self.state = State::Between { line, played };
        self.begin(Sweep::End, line);
        if let Some(here) = &mut self.here {
            // Until its first bar comes, nothing is known of the end of what plays.
            *here = Here {
                end: Tick::new(u64::MAX),
                song,
                then: None,
            };
            if let Some(pulses) = &mut self.pulses {
                pulses.turned(song, played);
            }
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
