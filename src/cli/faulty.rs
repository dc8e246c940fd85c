//! A source that fails when it is told to: only in the program that the end-to-end check of live MIDI builds.

use crate::event::{Bar, Event, Header, Landmarks, Source};
use crate::time::Tick;

/// The variable that names how many bars come before the fault.
const VARIABLE: &str = "FIVEFOLD_PANIC_AFTER_BARS";

/// Panics in place of a bar.
pub(super) struct Faulty<'a> {
    source: &'a mut dyn Source,
    bars_left: Option<u64>,
}

impl<'a> Faulty<'a> {
    /// Gives the bars of `source`, as many as the variable says where it is set.
    pub(super) fn new(source: &'a mut dyn Source) -> Self {
        let bars_left = std::env::var(VARIABLE).ok();
        Faulty {
            source,
            bars_left: bars_left.and_then(|bars| bars.parse().ok()),
        }
    }
}

impl Source for Faulty<'_> {
    fn header(&self) -> &Header {
        self.source.header()
    }

    fn end(&self) -> Option<Tick> {
        self.source.end()
    }

    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<Bar> {
        if let Some(left) = &mut self.bars_left {
            *left = left
                .checked_sub(1)
                .unwrap_or_else(|| panic!("as {VARIABLE} asked for"));
        }
        self.source.next_bar(events)
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
