//! The trait by which a sink pulls bars of events.

use super::{Body, Event, Header};
use crate::time::{BarSpan, Clockwork, Nanos, Region, Tempo, Tick};

/// One delivered bar.
pub type Bar = BarSpan;

/// The position of a bar in the piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Landmarks {
    /// Ticks from bar 1 to this bar; `None` in the count-in.
    pub song_ticks: Option<u64>,
    /// The first bar of the same pass (or of the intro or ending).
    pub pass: i64,
    /// The first bar of the next pass, if there is one: an ending is none.
    pub next_pass: Option<i64>,
}

/// Gives a piece bar by bar, as written. What a listener asks for (a tempo, a transposition, a part muted) is done by
/// the player, at once however many bars are ready.
///
/// A bar holds the events whose tick lies in it (from its bar line to just before the next), in the order on the wire;
/// a note that sounds across the bar line has its note-off in a later bar. The last bar also holds what lies on the
/// last bar line, so that nothing sounds after it. If a piece ends within a bar, its end counts as the last bar line.
pub trait Source {
    /// The title, the seed and the parts.
    fn header(&self) -> &Header;

    /// The last bar line, or where within its last bar the piece ends; `None` while the piece has no end.
    fn end(&self) -> Option<Tick>;

    /// Where a bar that it gave ends: at its bar line, or at the end of the piece within it.
    fn end_of(&self, bar: &Bar) -> Tick {
        let end = self.end();
        let counted = matches!(bar.region, Region::CountIn { .. });
        end.filter(|_| !counted)
            .map_or(bar.end(), |end| end.min(bar.end()))
    }

    /// Appends the events of the next bar to `events` and returns which bar it was; `None` after the last.
    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<Bar>;

    /// Goes on from bar `number` (1 is the first after the count-in). Notes still open are ended at the bar line
    /// before which the jump was made. The ticks that follow are those of that bar: the sink starts a new origin.
    ///
    /// Returns whether the piece has such a bar; where it has none, nothing changes.
    fn seek(&mut self, number: i64) -> bool;

    /// The position of bar `number`; `None` if there is no such bar.
    ///
    /// A source without random access to bars returns `None` for all.
    fn landmarks(&self, number: i64) -> Option<Landmarks> {
        let _ = number;
        None
    }

    /// The bar so many song ticks after the beginning of bar 1; `None` past the end, and where it is not known.
    fn bar_at(&self, song_ticks: u64) -> Option<i64> {
        let _ = song_ticks;
        None
    }

    /// Appends a bar of count-in to `events`, in the tempo and the meter of bar `number` and with the ticks of that
    /// bar, and returns that bar. The next bar to be played does not change. `None` where there is no such bar, or no
    /// click.
    fn count_in(&mut self, number: i64, events: &mut Vec<Event>) -> Option<Bar> {
        let _ = (number, events);
        None
    }
}

/// Reads the time of events off their tempo changes, in the order they come.
///
/// Every sink uses this one sum, so all of them give an event the same nanosecond.
#[derive(Clone, Copy, Debug)]
pub struct Stopwatch {
    clock: Clockwork,
}

impl Default for Stopwatch {
    fn default() -> Self {
        Stopwatch {
            clock: Clockwork::new(Tempo::DEFAULT),
        }
    }
}

impl Stopwatch {
    /// The time of `event`; a tempo change counts from here on.
    pub fn read(&mut self, event: &Event) -> Nanos {
        let now = self.clock.at(event.tick);
        if let Body::Tempo(tempo) = event.body {
            self.clock.change(event.tick, tempo);
        }
        now
    }

    /// The time of a tick not before the last event.
    pub fn at(&self, tick: Tick) -> Nanos {
        self.clock.at(tick)
    }
}
