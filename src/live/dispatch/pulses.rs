//! The MIDI clock sent out: pulses, and how a follower is told that the piece begins, jumps or stops.
//!
//! There are 24 pulses to the quarter note, one every 40 ticks, with the same sums as the notes. A start, or a jump
//! (stop, song position, continue), is sent half a pulse before the pulse it refers to, since a follower moves with the
//! next pulse and needs a moment to find its place. Song positions count sixteenths from bar 1, not from the count-in:
//! during the count-in pulses run while the follower is stopped, so that it knows the tempo.

use crate::midi::System;
use crate::time::{Nanos, TICKS_PER_QUARTER, Tick};

/// Ticks between two pulses.
const PULSE: u64 = TICKS_PER_QUARTER / 24;

/// Ticks before a bar line at which a jump there is announced.
const BEFORE: u64 = PULSE / 2;

/// A pulse sent this much later than it was free to go, in nanoseconds, was delayed by the machine.
const LATE_NS: u64 = 1_000_000;

/// Ticks in a unit of the song position, a sixteenth.
const SIXTEENTH: u64 = TICKS_PER_QUARTER / 4;

/// The song position of a place so many ticks after bar 1; `None` between sixteenths and beyond the last there is.
fn position(song_ticks: u64) -> Option<u16> {
    let sixteenths = song_ticks / SIXTEENTH;
    (song_ticks.is_multiple_of(SIXTEENTH) && sixteenths <= u64::from(System::LAST_POSITION))
        .then(|| u16::try_from(sixteenths).ok())
        .flatten()
}

/// What a follower was told of the place at the next bar line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Announced {
    /// Nothing: the next bar follows.
    Nothing,
    /// A count-in, in which it is stopped.
    CountIn,
    /// So many song ticks.
    Song(u64),
}

impl From<Option<u64>> for Announced {
    fn from(target: Option<u64>) -> Self {
        target.map_or(Announced::CountIn, Announced::Song)
    }
}

/// See the module. Song ticks of `None` mean the count-in.
#[derive(Debug)]
pub(super) struct Pulses {
    /// The played tick of the next pulse.
    next: Tick,
    /// Whether the follower was told to move.
    moving: bool,
    /// What must be sent at once, in order.
    saying: [Option<System>; 3],
    /// What the follower was told of the end of this bar.
    announced: Announced,
    /// Whether a run has begun. Before that nothing is left, and the first origin tells where the piece begins.
    begun: bool,
    /// Jumps that could not be sent to the follower.
    untold: u32,
    /// When the last pulse went.
    last: Option<Nanos>,
    /// Whether pulses are behind because the machine was late, not because the grid restarted.
    behind: bool,
}

impl Pulses {
    pub(super) fn new() -> Self {
        Pulses {
            next: Tick::ZERO,
            moving: false,
            saying: [None; 3],
            announced: Announced::Nothing,
            begun: false,
            untold: 0,
            last: None,
            behind: false,
        }
    }

    /// Jumps that could not be sent to the follower, since their place has no song position.
    pub(super) fn untold(&self) -> u32 {
        self.untold
    }

    /// Whether something is to be sent at once.
    pub(super) fn speaks(&self) -> bool {
        self.saying[0].is_some()
    }

    /// The next message that is to be sent at once.
    pub(super) fn said(&mut self) -> Option<System> {
        let said = self.saying[0];
        self.saying.rotate_left(1);
        self.saying[2] = None;
        said
    }

    fn say(&mut self, message: System) {
        if let Some(free) = self.saying.iter_mut().find(|s| s.is_none()) {
            *free = Some(message);
        }
    }

    /// The follower is stopped from now on.
    pub(super) fn stop(&mut self) {
        // What it was told of a bar line to come is void.
        self.announced = Announced::Nothing;
        if std::mem::take(&mut self.moving) {
            self.say(System::Stop);
        }
    }

    /// The follower goes on where it was stopped.
    pub(super) fn resume(&mut self) {
        if !std::mem::replace(&mut self.moving, true) {
            self.say(System::Continue);
        }
    }

    /// When the follower is to be told where the piece goes at the end of the bar: the played tick of that.
    pub(super) fn announcing(&self, end: Tick, target: Option<u64>) -> Option<Tick> {
        let at = Tick::new(end.get().saturating_sub(BEFORE));
        (self.announced != target.into() && self.next > at).then_some(at)
    }

    /// Tells the follower that with the pulse at played tick `line` the piece is at `target`.
    pub(super) fn announce(&mut self, target: Option<u64>, line: Tick) {
        let Some(ticks) = target else {
            self.stop();
            self.announced = target.into();
            self.next = line;
            return;
        };
        let Some(at) = position(ticks) else {
            self.untold += 1;
            self.announced = target.into();
            if !std::mem::replace(&mut self.moving, true) {
                self.next = line;
                self.say(System::Continue);
            }
            return;
        };
        self.stop();
        self.announced = target.into();
        self.next = line;
        self.moving = true;
        if at == 0 {
            self.say(System::Start);
        } else {
            self.say(System::Position(at));
            self.say(System::Continue);
        }
    }

    /// Tells it unless that was done.
    pub(super) fn announce_once(&mut self, target: Option<u64>, line: Tick) {
        if self.announced != target.into() {
            self.announce(target, line);
        }
    }

    /// The piece is at `target` from played tick `line` on, whether that was told or not.
    pub(super) fn turned(&mut self, target: Option<u64>, line: Tick) {
        self.announce_once(target, line);
        self.announced = Announced::Nothing;
    }

    /// Whether a run has begun.
    pub(super) fn has_begun(&self) -> bool {
        self.begun
    }

    /// A run begins at `target` with played tick `line`. Where the follower was told when the one before was left, it is
    /// not told again, unless it was stopped meanwhile.
    pub(super) fn begin(&mut self, target: Option<u64>, line: Tick) {
        self.begun = true;
        self.turned(target, line);
    }

    /// A run is left for `target` at played tick `line`.
    pub(super) fn leave(&mut self, target: Option<u64>, line: Tick) {
        if self.begun {
            self.announce_once(target, line);
        }
    }

    /// A bar begins where the one before it ended.
    pub(super) fn straight(&mut self) {
        self.announced = Announced::Nothing;
    }

    /// The played tick of the next pulse.
    pub(super) fn next(&self) -> Tick {
        self.next
    }

    /// When a pulse may go whose time by the grid is `grid`, where a quarter note takes `quarter_us` microseconds.
    /// Pulses are never closer together than at twice the tempo: late ones never come as a burst, and where the grid
    /// restarts just after a pulse, the next ones come at twice the tempo until they are back on the grid.
    pub(super) fn free(&self, grid: Nanos, quarter_us: u32) -> Nanos {
        match self.last {
            Some(last) => grid.max(Nanos::new(last.get() + u64::from(quarter_us) * 1000 / 48)),
            None => grid,
        }
    }

    /// Sends the next pulse now. By the grid it was due at `grid`; it was free to go at `free`. Returns the due time
    /// for the receipt: a pulse delayed by the machine is measured from the grid.
    pub(super) fn pulse(&mut self, grid: Nanos, free: Nanos, now: Nanos) -> (Nanos, System) {
        let due = if self.behind { grid } else { free };
        self.behind = now.get() > free.get() + LATE_NS || (self.behind && free > grid);
        self.next += PULSE;
        self.last = Some(now);
        (due, System::Clock)
    }
}
