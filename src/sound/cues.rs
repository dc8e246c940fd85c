//! Events of a source as messages at frames.

use crate::event::{Body, Event, PartMessage, Source, Stopwatch};
use crate::time::{Nanos, Timed};

/// The frame nearest to a time, at `rate_hz` frames a second.
pub fn nearest_frame(at: Nanos, rate_hz: u32) -> u64 {
    let frames = (u128::from(at.get()) * u128::from(rate_hz) + 500_000_000) / 1_000_000_000;
    u64::try_from(frames).unwrap_or(u64::MAX)
}

/// Pulls bars of a source and gives their messages in order. It holds one bar.
pub(super) struct Cues<'a> {
    source: &'a mut dyn Source,
    rate_hz: u32,
    watch: Stopwatch,
    bar: std::collections::VecDeque<Timed<PartMessage>>,
    events: Vec<Event>,
    /// Where the last bar pulled ends.
    end: u64,
    over: bool,
}

impl<'a> Cues<'a> {
    pub(super) fn new(source: &'a mut dyn Source, rate_hz: u32) -> Self {
        Cues {
            source,
            rate_hz,
            watch: Stopwatch::default(),
            bar: std::collections::VecDeque::new(),
            events: Vec::new(),
            end: 0,
            over: false,
        }
    }

    /// The next message, without taking it; `None` when the source has ended.
    pub(super) fn peek(&mut self) -> Option<Timed<PartMessage>> {
        while self.bar.is_empty() && !self.over {
            self.pull();
        }
        self.bar.front().copied()
    }

    pub(super) fn next(&mut self) -> Option<Timed<PartMessage>> {
        self.peek();
        self.bar.pop_front()
    }

    /// The frame at which the piece ends; known when [`Cues::peek`] gives nothing more.
    pub(super) fn end(&self) -> u64 {
        self.end
    }

    fn pull(&mut self) {
        let Some(bar) = self.source.next_bar(&mut self.events) else {
            self.over = true;
            return;
        };
        for event in self.events.drain(..) {
            let at = self.watch.read(&event);
            if let Body::Channel(message) = event.body {
                self.bar.push_back(Timed { at, what: message });
            }
        }
        let end = self.watch.at(self.source.end_of(&bar));
        self.end = nearest_frame(end, self.rate_hz);
    }
}
