//! A source whose bars somebody looks at as they are taken.

use crate::event::{Bar, Event, Header, Landmarks, Source};
use crate::time::Tick;

/// Gives what its source gives; `see` is shown each bar that is taken, `None` at the end, with the end of the piece.
pub(super) struct Watched<'a, F> {
    source: &'a mut dyn Source,
    see: F,
}

impl<'a, F: FnMut(Option<&Bar>, Option<Tick>)> Watched<'a, F> {
    pub(super) fn new(source: &'a mut dyn Source, see: F) -> Self {
        Watched { source, see }
    }
}

impl<F: FnMut(Option<&Bar>, Option<Tick>)> Source for Watched<'_, F> {
    fn header(&self) -> &Header {
        self.source.header()
    }

    fn end(&self) -> Option<Tick> {
        self.source.end()
    }

    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<Bar> {
        let bar = self.source.next_bar(events);
        (self.see)(bar.as_ref(), self.source.end());
        bar
    }

    fn seek(&mut self, number: i64) -> bool {
        self.source.seek(number)
    }

    fn landmarks(&self, number: i64) -> Option<Landmarks> {
        self.source.landmarks(number)
    }

    fn bar_at(&self, song_ticks: u64) -> Option<i64> {
        self.source.bar_at(song_ticks)
    }

    fn count_in(&mut self, number: i64, events: &mut Vec<Event>) -> Option<Bar> {
        self.source.count_in(number, events)
    }
}
