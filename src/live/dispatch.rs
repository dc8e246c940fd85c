//! What is due next, and what the listener's wishes make of it.
//!
//! A [`Dispatcher`] takes bars of entries in ticks and gives messages at times. It knows no thread, no port and no device:
//! whoever plays asks when the next thing is due, waits, and takes it. Wishes (pause, tempo, a part silenced) come with the
//! time at which they take effect, so that several lanes with the same entries and wishes do the same at the same time.
//!
//! Time is summed as everywhere: whole ticks, whole microseconds a quarter, from an origin. A pause moves the origin on by
//! its length; a jump starts a new one at the bar line; a change of tempo is a new pair of tick and tempo. The past is never
//! computed again, so there is no drift between origins.

use crossbeam_channel::{Receiver, TryRecvError};

use crate::event::{Channel, KeyNumber, Message, PartId, Velocity};
use crate::time::{Clockwork, Nanos, Tempo, Tick};

/// Something in a bar, in the order of ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// A new origin: `tick` is played at once, or at the bar line where the one before was left.
    Origin {
        /// The tick of the first bar that follows.
        tick: Tick,
    },
    /// The tempo from here on, as the plan has it.
    Tempo {
        /// Where.
        tick: Tick,
        /// What.
        tempo: Tempo,
    },
    /// A bar line.
    Bar {
        /// Where.
        tick: Tick,
    },
    /// A chord begins: the place where a transposition takes effect.
    Chord {
        /// Where.
        tick: Tick,
    },
    /// A message of a part.
    Message {
        /// Where.
        tick: Tick,
        /// Whose.
        part: PartId,
        /// On which channel.
        channel: Channel,
        /// What, as written.
        message: Message,
    },
    /// A bar line after which the next run follows, whatever its ticks.
    Turn {
        /// Where.
        tick: Tick,
    },
    /// The end of the piece.
    End {
        /// Where.
        tick: Tick,
    },
}

impl Entry {
    fn tick(&self) -> Tick {
        match self {
            Entry::Origin { tick }
            | Entry::Tempo { tick, .. }
            | Entry::Bar { tick }
            | Entry::Chord { tick }
            | Entry::Message { tick, .. }
            | Entry::Turn { tick }
            | Entry::End { tick } => *tick,
        }
    }
}

/// An entry, and the run of bars it belongs to: each jump begins a new one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Item {
    /// Which run, counted from 0.
    pub run: u32,
    /// What.
    pub entry: Entry,
}

/// What a listener wishes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// Stand still; what sounds ends.
    Pause,
    /// Go on where it stood; what was held is struck again.
    GoOn,
    /// Play the plan at this many thousandths of its tempo, 100 to 10 000.
    Tempo(u32),
    /// Move everything pitched by so many semitones (0 as written), from the next chord on.
    Transpose(i8),
    /// Silence a part (what of it sounds ends), or bring it back with its next note.
    Silence(PartId, bool),
    /// At the next bar line leave for this run, whose entries come through the queue.
    Leave(u32),
}

/// A wish and when it takes effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimedWish {
    /// When; at once where that is past.
    pub at: Nanos,
    /// What.
    pub wish: Wish,
}

impl TimedWish {
    /// The same wish, not before `now`.
    #[must_use]
    pub fn not_before(self, now: Nanos) -> Self {
        TimedWish {
            at: self.at.max(now),
            ..self
        }
    }
}

/// What is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sent {
    /// When it was due.
    pub at: Nanos,
    /// Whose.
    pub part: PartId,
    /// On which channel.
    pub channel: Channel,
    /// What.
    pub message: Message,
}

/// What is later than this is no unrest of the machine but a stall.
pub const STALL: Nanos = Nanos::new(500_000_000);

/// Wishes that may wait at once.
const WISHES: usize = 32;

/// A note that sounds, or was held when a pause came.
#[derive(Clone, Copy, Debug)]
struct Note {
    count: u8,
    /// The key that was sent, which a transposition may have moved.
    sent: u8,
    velocity: u8,
    part: u8,
    /// Whether it is to be struck again when it goes on.
    again: bool,
}

const NO_NOTE: Note = Note {
    count: 0,
    sent: 0,
    velocity: 0,
    part: 0,
    again: false,
};

/// What is being done to notes, one at each step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sweep {
    /// End all that sounds, to be struck again later.
    Hold,
    /// End all that sounds.
    End,
    /// End what sounds of a part.
    EndPart(u8),
    /// Strike again what was held.
    Strike,
}

/// Where it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Playing,
    /// The bar line at which a run was left, while the first entry of the next has not come.
    Between(Nanos),
    Over,
}

/// Gives out entries at their times; see the module.
///
/// # Real time
/// Allocates nothing after it was made, locks nothing, never waits.
pub struct Dispatcher {
    queue: Receiver<Item>,
    next: Option<Item>,
    run: u32,
    /// The run to leave for at the next bar line.
    leaving: Option<u32>,
    state: State,
    /// Since when it stands still.
    paused: Option<Nanos>,
    /// The time of the origin, its tick, and the sum from there.
    origin: Nanos,
    first: Tick,
    clock: Clockwork,
    plan: Tempo,
    thousandths: u32,
    shift: i8,
    wanted_shift: i8,
    silent: [bool; 256],
    notes: Box<[[Note; 128]; 16]>,
    sweep: Option<(Sweep, usize)>,
    /// When what is swept is due.
    sweep_at: Nanos,
    wishes: [Option<TimedWish>; WISHES],
    bars: u32,
    /// The time of what was done last.
    latest: Nanos,
    /// Whether it is about to stand still for a stall.
    stalled: bool,
}

impl Dispatcher {
    /// A dispatcher for what comes through `queue`. Time 0 is the first origin's.
    pub fn new(queue: Receiver<Item>) -> Self {
        Dispatcher {
            queue,
            next: None,
            run: 0,
            leaving: None,
            state: State::Between(Nanos::ZERO),
            paused: None,
            origin: Nanos::ZERO,
            first: Tick::ZERO,
            clock: Clockwork::new(Tempo::DEFAULT),
            plan: Tempo::DEFAULT,
            thousandths: 1000,
            shift: 0,
            wanted_shift: 0,
            silent: [false; 256],
            notes: Box::new([[NO_NOTE; 128]; 16]),
            sweep: None,
            sweep_at: Nanos::ZERO,
            wishes: [None; WISHES],
            bars: 0,
            latest: Nanos::ZERO,
            stalled: false,
        }
    }

    /// Takes a wish; they take effect in the order of their times, at one time in the order in which they came. Answers
    /// whether there was room.
    pub fn wish(&mut self, wish: TimedWish) -> bool {
        let Some(end) = self.wishes.iter().position(Option::is_none) else {
            return false;
        };
        let mut at = end;
        while at > 0 && self.wishes[at - 1].is_some_and(|w| w.at > wish.at) {
            self.wishes[at] = self.wishes[at - 1];
            at -= 1;
        }
        self.wishes[at] = Some(wish);
        true
    }

    /// Entries that wait.
    pub fn waiting(&self) -> usize {
        self.queue.len() + usize::from(self.next.is_some())
    }

    /// Whether the end was reached.
    pub fn is_over(&self) -> bool {
        self.state == State::Over && self.sweep.is_none()
    }

    /// The run that plays, or is waited for, and how many of its bar lines were passed.
    pub fn place(&self) -> (u32, u32) {
        (self.run, self.bars)
    }

    /// Whether it stands still.
    pub fn is_paused(&self) -> bool {
        self.paused.is_some()
    }

    /// The last tick whose time is not after `at`, in ticks of the run that plays.
    pub fn tick_at(&self, at: Nanos) -> Tick {
        let at = self.paused.map_or(at, |since| since.min(at));
        let after = self.first_tick_from(Nanos::new(at.get().saturating_add(1)));
        self.first + after.get().saturating_sub(1)
    }

    /// When the next thing is due; `None` while nothing is known to come.
    pub fn due(&mut self) -> Option<Nanos> {
        if self.sweep.is_some() {
            return Some(self.sweep_at);
        }
        let wish = self.wishes[0].map(|w| w.at);
        let entry = self.entry_due();
        match (wish, entry) {
            (Some(wish), Some(entry)) => Some(wish.min(entry)),
            (wish, entry) => wish.or(entry),
        }
    }

    /// Does what is due next, and gives what is to be sent, if anything. To be called when its time has come; where
    /// nothing is due it does nothing.
    pub fn step(&mut self) -> Option<Sent> {
        if let Some((sweep, at)) = self.sweep {
            return self.swept(sweep, at);
        }
        let entry = self.entry_due();
        if let Some(wish) = self.wishes[0]
            && entry.is_none_or(|entry| wish.at <= entry)
        {
            self.wishes.rotate_left(1);
            self.wishes[WISHES - 1] = None;
            self.latest = self.latest.max(wish.at);
            self.grant(TimedWish {
                at: self.latest,
                ..wish
            });
            return None;
        }
        let due = entry?;
        if self.sweep.is_some() {
            return None;
        }
        self.latest = self.latest.max(due);
        let item = self.next.take()?;
        self.take(item.entry, due)
    }

    /// To be called before [`Dispatcher::due`] by whoever may have slept: where what is due is later than [`STALL`], as after
    /// a suspended machine, it is not rattled off. What sounds ends, and the piece goes on from there as after a pause of
    /// that length. Answers whether that was so.
    pub fn catch_up(&mut self, now: Nanos) -> bool {
        if self.stalled || self.paused.is_some() || self.sweep.is_some() {
            return false;
        }
        let Some(due) = self.due() else { return false };
        if due.get().saturating_add(STALL.get()) >= now.get() {
            return false;
        }
        // Before what is due, so that nothing of it is played in the past.
        let at = due;
        self.stalled = true;
        self.wish(TimedWish {
            at,
            wish: Wish::Pause,
        }) && self.wish(TimedWish {
            at: now,
            wish: Wish::GoOn,
        })
    }

    /// Ends all that sounds; then everything is over.
    pub fn stop(&mut self, at: Nanos) {
        self.state = State::Over;
        self.begin(Sweep::End, at);
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
                // What was left is thrown away.
                self.next = None;
                continue;
            }
            if let State::Between(line) = self.state {
                // Of a later run the wish to leave for it will come.
                let begins = item.run == self.run && matches!(item.entry, Entry::Origin { .. });
                return begins.then_some(line);
            }
            if item.run > self.run {
                // No bar line is left to leave at.
                let run = self.leaving.filter(|run| *run == item.run)?;
                self.leave(run, self.latest);
                return Some(self.sweep_at);
            }
            return Some(self.time_of(item.entry.tick()));
        }
    }

    fn time_of(&self, tick: Tick) -> Nanos {
        let gone = Tick::new(tick.saturating_since(self.first));
        Nanos::new(self.origin.get() + self.clock.at(gone).get())
    }

    /// The first tick since the origin whose time is not before `at`.
    fn first_tick_from(&self, at: Nanos) -> Tick {
        let gone = Nanos::new(at.get().saturating_sub(self.origin.get()));
        let (mut low, mut high) = (0u64, 1u64);
        while self.clock.at(Tick::new(high)) < gone {
            low = high;
            high *= 2;
        }
        while low < high {
            let middle = low + (high - low) / 2;
            if self.clock.at(Tick::new(middle)) < gone {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        Tick::new(low)
    }

    fn scaled(&self) -> Tempo {
        let us = u64::from(self.plan.us_per_quarter()) * 1000;
        let each = u64::from(self.thousandths);
        let us = (us + each / 2) / each;
        Tempo::new(us).unwrap_or(self.plan)
    }

    fn begin(&mut self, sweep: Sweep, at: Nanos) {
        self.sweep = Some((sweep, 0));
        self.sweep_at = at;
    }

    fn grant(&mut self, wish: TimedWish) {
        let at = wish.at;
        match wish.wish {
            Wish::Pause => {
                if self.paused.is_none() && self.state != State::Over {
                    self.paused = Some(at);
                    self.begin(Sweep::Hold, at);
                }
            }
            Wish::GoOn => {
                self.stalled = false;
                if let Some(since) = self.paused.take() {
                    let stood = at.get().saturating_sub(since.get());
                    self.origin = Nanos::new(self.origin.get() + stood);
                    if let State::Between(line) = &mut self.state {
                        *line = (*line).max(at);
                    }
                    self.begin(Sweep::Strike, at);
                }
            }
            Wish::Tempo(thousandths) => {
                self.thousandths = thousandths.clamp(100, 10_000);
                let at = self.paused.unwrap_or(at);
                let tick = self.first_tick_from(at);
                let tempo = self.scaled();
                self.clock.change(tick, tempo);
            }
            Wish::Transpose(semitones) => self.wanted_shift = semitones,
            Wish::Silence(part, silent) => {
                self.silent[usize::from(part.0)] = silent;
                if silent {
                    self.begin(Sweep::EndPart(part.0), at);
                }
            }
            Wish::Leave(run) => {
                if let State::Between(line) = &mut self.state {
                    // The run it was to go on with never came.
                    *line = (*line).max(at);
                    self.run = run;
                    self.bars = 0;
                } else {
                    self.leaving = Some(run);
                }
            }
        }
    }

    fn take(&mut self, entry: Entry, due: Nanos) -> Option<Sent> {
        match entry {
            Entry::Origin { tick } => {
                self.origin = due;
                self.first = tick;
                self.clock = Clockwork::new(self.scaled());
                self.state = State::Playing;
                self.shift = self.wanted_shift;
                None
            }
            Entry::Tempo { tick, tempo } => {
                self.plan = tempo;
                let gone = Tick::new(tick.saturating_since(self.first));
                let tempo = self.scaled();
                self.clock.change(gone, tempo);
                None
            }
            Entry::Bar { tick } => {
                self.bars += 1;
                if let Some(run) = self.leaving
                    && tick > self.first
                {
                    self.leave(run, due);
                }
                None
            }
            Entry::Turn { .. } => {
                let run = self.leaving.unwrap_or(self.run + 1);
                self.leave(run, due);
                None
            }
            Entry::Chord { .. } => {
                self.shift = self.wanted_shift;
                None
            }
            Entry::Message {
                part,
                channel,
                message,
                ..
            } => {
                let message = self.message(part, channel, message)?;
                Some(Sent {
                    at: due,
                    part,
                    channel,
                    message,
                })
            }
            Entry::End { .. } => {
                self.state = State::Over;
                self.begin(Sweep::End, due);
                None
            }
        }
    }

    fn leave(&mut self, run: u32, line: Nanos) {
        self.leaving = None;
        self.run = run;
        self.bars = 0;
        self.state = State::Between(line);
        self.begin(Sweep::End, line);
    }

    /// What a message becomes: silenced, moved, or as it is.
    fn message(&mut self, part: PartId, channel: Channel, message: Message) -> Option<Message> {
        let notes = &mut self.notes[usize::from(channel.nibble())];
        match message {
            Message::NoteOn { key, velocity } => {
                if self.silent[usize::from(part.0)] {
                    return None;
                }
                let note = &mut notes[usize::from(key.get())];
                let key = if channel == Channel::PERCUSSION {
                    key
                } else {
                    KeyNumber::clamped(i32::from(key.get()) + i32::from(self.shift))
                };
                *note = Note {
                    count: note.count.saturating_add(1),
                    sent: key.get(),
                    velocity: velocity.get(),
                    part: part.0,
                    again: false,
                };
                Some(Message::NoteOn { key, velocity })
            }
            Message::NoteOff { key } => {
                let note = &mut notes[usize::from(key.get())];
                note.again = false;
                if note.count == 0 {
                    // It ended before: by a pause, a jump, or because its part was silenced.
                    return None;
                }
                note.count -= 1;
                Some(Message::NoteOff {
                    key: KeyNumber::clamped(i32::from(note.sent)),
                })
            }
            other => Some(other),
        }
    }

    /// The next note that a sweep ends or strikes.
    fn swept(&mut self, sweep: Sweep, from: usize) -> Option<Sent> {
        for at in from..16 * 128 {
            let (nibble, key) = (at / 128, at % 128);
            let Ok(channel) = Channel::new(u8::try_from(nibble + 1).unwrap_or(1)) else {
                continue;
            };
            let note = &mut self.notes[nibble][key];
            let message = match sweep {
                Sweep::Strike if note.again => {
                    note.again = false;
                    if self.silent[usize::from(note.part)] {
                        continue;
                    }
                    note.count = 1;
                    Message::NoteOn {
                        key: KeyNumber::clamped(i32::from(note.sent)),
                        velocity: Velocity::clamped(i32::from(note.velocity)),
                    }
                }
                Sweep::Strike => continue,
                _ if note.count == 0 => continue,
                Sweep::EndPart(part) if part != note.part => continue,
                _ => {
                    note.count -= 1;
                    // What rings by itself is not struck again.
                    note.again = sweep == Sweep::Hold && channel != Channel::PERCUSSION;
                    Message::NoteOff {
                        key: KeyNumber::clamped(i32::from(note.sent)),
                    }
                }
            };
            let part = PartId(note.part);
            let more = note.count > 0 && !matches!(message, Message::NoteOn { .. });
            self.sweep = Some((sweep, if more { at } else { at + 1 }));
            return Some(Sent {
                at: self.sweep_at,
                part,
                channel,
                message,
            });
        }
        self.sweep = None;
        None
    }
}

#[cfg(test)]
mod tests;
