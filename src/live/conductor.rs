//! Pulls bars for the lanes and does what the listener asks: this is the main thread while it plays.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use crossbeam_channel::Receiver;

use super::dispatch::{Entry, Item, TimedWish, Wish};
use super::player::{Lane, LaneError, Offer};
use crate::event::{Bar, Body, Event, PartId, Source};
use crate::time::{Nanos, Tick};

/// Bars that lie ready beyond the one that plays.
const AHEAD: u32 = 2;

/// Pause between two looks at lanes and controls.
const LOOK: Duration = Duration::from_millis(2);

/// Where several lanes play, a wish takes effect so much later than the time the first has reached, so that it comes to
/// all of them before.
const TOGETHER: Nanos = Nanos::new(30_000_000);

/// What a listener can ask for while it plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Control {
    /// Stand still, or go on where it stands still.
    Pause(bool),
    /// Play the plan at this many thousandths of its tempo, 100 to 10 000.
    Tempo(u32),
    /// Move everything pitched by so many semitones, -24 to 24, from the next chord on.
    Transpose(i8),
    /// Silence a part, or bring it back.
    Silence(PartId, bool),
    /// Go to this bar, counted from 1, at the next bar line.
    Go(i64),
    /// From the last of these bars go back to the first, again and again; `None` ends that.
    Loop(Option<(i64, i64)>),
    /// Stop.
    Stop,
}

/// Plays `source` on all `lanes` to its end, or until a stop: `stop` is set, or asked for through `controls`. Then all
/// lanes are closed. Answers how many bars were handed over, count-in included.
///
/// # Errors
/// The first failure of a lane; the others are closed all the same, and `stop` is set.
pub fn play_on(
    source: &mut dyn Source,
    lanes: &mut [&mut dyn Lane],
    controls: Option<&Receiver<Control>>,
    stop: &AtomicBool,
) -> Result<u64, LaneError> {
    // A fault while bars are made must not leave notes sounding: the lanes are closed first.
    let mut conductor = Conductor {
        source,
        lanes,
        stop,
        run: 0,
        bars_of_run: 0,
        begins: true,
        jumped: false,
        circle: None,
        exhausted: false,
        begun: false,
        bars: 0,
        end: Tick::ZERO,
        events: Vec::new(),
    };
    let played = catch_unwind(AssertUnwindSafe(|| conductor.play(controls)));
    if !matches!(played, Ok(Ok(_))) {
        stop.store(true, Ordering::Relaxed);
    }
    let (mut outcome, fault) = match played {
        Ok(outcome) => (outcome, None),
        Err(fault) => (Ok(0), Some(fault)),
    };
    for lane in conductor.lanes.iter_mut() {
        if let Err(e) = lane.close()
            && outcome.is_ok()
        {
            outcome = Err(e);
        }
    }
    if let Some(fault) = fault {
        resume_unwind(fault);
    }
    outcome
}

struct Conductor<'a, 'b> {
    source: &'a mut dyn Source,
    lanes: &'a mut [&'b mut dyn Lane],
    stop: &'a AtomicBool,
    /// The run of bars that is handed over; each jump begins a new one.
    run: u32,
    bars_of_run: u32,
    /// Whether the next bar is the first of its run.
    begins: bool,
    /// Whether a jump was asked for, which makes this the next run whatever lies before.
    jumped: bool,
    /// First and last bar of a loop.
    circle: Option<(i64, i64)>,
    /// The source has no more bars.
    exhausted: bool,
    begun: bool,
    bars: u64,
    /// The last bar line handed over.
    end: Tick,
    events: Vec<Event>,
}

impl Conductor<'_, '_> {
    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn play(&mut self, controls: Option<&Receiver<Control>>) -> Result<u64, LaneError> {
        while !self.stopped() {
            while let Some(control) = controls.and_then(|c| c.try_recv().ok()) {
                self.control(control);
            }
            if !self.exhausted && self.wants_bar() {
                self.pull()?;
                if self.bars_of_run < AHEAD {
                    continue;
                }
            }
            self.begin()?;
            let mut over = true;
            let mut broken = false;
            for lane in self.lanes.iter_mut() {
                let lane_is_over = lane.is_over()?;
                over &= lane_is_over;
                broken |= lane_is_over && !self.exhausted;
            }
            if over || broken {
                // A lane that is over too early tells why when it is closed.
                break;
            }
            thread::sleep(LOOK);
        }
        self.begin()?;
        Ok(self.bars)
    }

    fn begin(&mut self) -> Result<(), LaneError> {
        if !std::mem::replace(&mut self.begun, true) {
            for lane in self.lanes.iter_mut() {
                lane.begin()?;
            }
        }
        Ok(())
    }

    /// Whether some lane will soon have played what it was given.
    fn wants_bar(&self) -> bool {
        self.lanes.iter().any(|lane| {
            let (run, passed) = lane.place();
            if run == self.run {
                self.bars_of_run < passed + AHEAD
            } else {
                // Of short loops no more than one lies ready.
                (self.jumped || run + 1 == self.run) && self.bars_of_run < AHEAD
            }
        })
    }

    fn pull(&mut self) -> Result<(), LaneError> {
        let mut events = std::mem::take(&mut self.events);
        match self.source.next_bar(&mut events) {
            Some(bar) => self.hand_over(&bar, &events)?,
            None => {
                self.exhausted = true;
                self.offer(Entry::End { tick: self.end })?;
            }
        }
        events.clear();
        self.events = events;
        Ok(())
    }

    fn hand_over(&mut self, bar: &Bar, events: &[Event]) -> Result<(), LaneError> {
        if std::mem::take(&mut self.begins) {
            self.offer(Entry::Origin { tick: bar.start })?;
        }
        self.bars += 1;
        self.bars_of_run += 1;
        self.offer(Entry::Bar { tick: bar.start })?;
        for event in events {
            let tick = event.tick;
            let entry = match &event.body {
                Body::Channel {
                    part,
                    channel,
                    message,
                } => Entry::Message {
                    tick,
                    part: *part,
                    channel: *channel,
                    message: *message,
                },
                Body::Tempo(tempo) => Entry::Tempo {
                    tick,
                    tempo: *tempo,
                },
                Body::Marker(_) => Entry::Chord { tick },
                Body::Meter(_) | Body::Key(_) | Body::Lyric { .. } => continue,
            };
            self.offer(entry)?;
        }
        self.end = bar.end();
        if let Some((first, last)) = self.circle
            && bar.number == last
            && self.source.seek(first)
        {
            self.offer(Entry::Turn { tick: self.end })?;
            self.next_run();
            self.jumped = false;
        }
        Ok(())
    }

    fn next_run(&mut self) {
        self.run += 1;
        self.bars_of_run = 0;
        self.begins = true;
        self.exhausted = false;
    }

    fn offer(&mut self, entry: Entry) -> Result<(), LaneError> {
        let item = Item {
            run: self.run,
            entry,
        };
        for i in 0..self.lanes.len() {
            while self.lanes[i].offer(item) == Offer::Full && !self.stopped() {
                self.begin()?;
                for lane in self.lanes.iter_mut() {
                    if lane.is_over()? {
                        return Ok(());
                    }
                }
                thread::sleep(LOOK);
            }
        }
        Ok(())
    }

    fn wish(&mut self, wish: Wish) {
        let at = match &*self.lanes {
            [_] | [] => Nanos::ZERO,
            [first, ..] => Nanos::new(first.now().get() + TOGETHER.get()),
        };
        for lane in self.lanes.iter_mut() {
            lane.wish(TimedWish { at, wish });
        }
    }

    fn control(&mut self, control: Control) {
        match control {
            Control::Pause(true) => self.wish(Wish::Pause),
            Control::Pause(false) => self.wish(Wish::GoOn),
            Control::Tempo(thousandths) => self.wish(Wish::Tempo(thousandths)),
            Control::Transpose(semitones) => self.wish(Wish::Transpose(semitones)),
            Control::Silence(part, silent) => self.wish(Wish::Silence(part, silent)),
            Control::Go(bar) => {
                if self.source.seek(bar) {
                    self.next_run();
                    self.jumped = true;
                    self.wish(Wish::Leave(self.run));
                }
            }
            Control::Loop(circle) => {
                self.circle = circle;
            }
            Control::Stop => self.stop.store(true, Ordering::Relaxed),
        }
    }
}

#[cfg(test)]
mod tests;
