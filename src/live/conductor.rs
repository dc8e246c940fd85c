//! Pulls bars for the lanes and does what the listener asks: this is the main thread while it plays.

mod asked;
mod led;
mod struck;
mod wishes;

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::Receiver;

use self::led::Leader;
use self::struck::StrokeCheck;
use self::wishes::Wishes;
use super::control::Control;
use super::dispatch::{Entry, Item, Wish};
use super::follow::FollowState;
use super::lane::{Condition, Lane, LaneError, Offer};
use super::played::PlayedMap;
use super::strokes::PlayerTiming;
use super::tap::Tapping;
use crate::event::{Bar, Body, Event, Source};
use crate::midi::Heard;
use crate::time::{TICKS_PER_QUARTER, Tick};

/// Bars that lie ready beyond the one that plays.
const AHEAD: u32 = 2;

/// Pause between two looks at lanes and controls.
const LOOK: Duration = Duration::from_millis(2);

/// Where several lanes play, a wish takes effect so much later than what the first may have reached, so that it comes to all
/// of them before.
const TOGETHER_NS: u64 = 5_000_000;

/// How long lanes may take to stand still before the program is suspended.
const STANDING: Duration = Duration::from_millis(250);

/// Bars handed over that are remembered.
const REMEMBERED: usize = 64;

/// What the listener is told while it plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// The tempo is now so many thousandths of a beat a minute, the plan's times so many millionths.
    Tempo {
        /// Thousandths of a beat a minute.
        milli_beats: u32,
        /// Millionths of the plan.
        millionths: u32,
    },
    /// What was asked for is beyond what can be played.
    TempoLimit,
    /// There is no bar to go to.
    NoBar,
    /// It stands still.
    Stands,
    /// It goes on.
    GoesOn,
    /// These bars are played again and again.
    Loops {
        /// The first.
        first: i64,
        /// The last.
        last: i64,
    },
    /// The bar that is the first of a loop to come.
    Marked(i64),
    /// What this lane plays to is gone; the piece stands still until it is back.
    Gone(usize),
    /// It is back.
    Back(usize),
    /// What is known of the clock that is followed has changed.
    Clock(FollowState),
    /// The other device has begun to play, or plays from another place: from this bar.
    Led(i64),
    /// Another device leads: the tempo is its.
    TempoIsLed,
}

/// A bar handed over.
#[derive(Clone, Copy, Debug)]
struct Handed {
    run: u32,
    /// Its place in the run, counted from 1.
    index: u32,
    bar: Bar,
}

/// Where the piece is to go. Of what is asked for in one turn the last holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Going {
    /// To this bar at the next bar line.
    Leave {
        bar: i64,
        /// Whether that is for the sake of a loop.
        for_loop: bool,
    },
    /// To this bar now, with a count-in where wanted and possible.
    Begin { bar: i64, counted: bool },
}

/// How a program is suspended, as by the terminal.
struct Suspension<'a> {
    asked: &'a AtomicBool,
    suspend: &'a mut dyn FnMut(),
}

/// How playing went.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Performed {
    /// Bars handed to the lanes, count-in included.
    pub bars: u64,
    /// What was made of the plan.
    pub map: PlayedMap,
    /// How the player's strokes lay, where that was checked.
    pub player: Option<PlayerTiming>,
}

/// Plays a source on lanes; see [`Conductor::play`].
pub struct Conductor<'a, 'b> {
    source: &'a mut dyn Source,
    lanes: &'a mut [&'b mut dyn Lane],
    stop: &'a AtomicBool,
    controls: Option<&'a Receiver<Control>>,
    told: Option<&'a mut dyn FnMut(Told)>,
    suspension: Option<Suspension<'a>>,
    leader: Option<Leader<'a>>,
    check: Option<StrokeCheck<'a>>,
    /// The run of bars that is handed over; each jump begins a new one.
    run: u32,
    bars_of_run: u32,
    /// Whether the next bar is the first of its run.
    begins: bool,
    /// Whether a jump was asked for, which makes this the next run whatever lies before.
    jumped: bool,
    /// Where it is to go once all that was asked for in this turn is known.
    going: Option<Going>,
    /// First and last bar of a loop.
    circle: Option<(i64, i64)>,
    /// The first bar of a loop that is being marked.
    mark: Option<i64>,
    /// The source has no more bars.
    exhausted: bool,
    begun: bool,
    bars: u64,
    /// The last bar line handed over.
    end: Tick,
    events: Vec<Event>,
    handed: VecDeque<Handed>,
    /// The bar that plays.
    here: Option<Bar>,
    /// Ticks of what the tempo counts.
    unit_ticks: u64,
    millionths: u32,
    semitones: i8,
    silent: [bool; 256],
    stands: bool,
    /// The lane whose port is gone, and whether it stood still before that.
    gone: Option<(usize, bool)>,
    /// Where it goes on, when it was sent elsewhere while it stood.
    parked: Option<i64>,
    tapping: Tapping,
    /// What taps are timed from.
    epoch: Instant,
    map: PlayedMap,
    wishes: Wishes,
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
    let mut conductor = Conductor::new(source, lanes, stop);
    if let Some(controls) = controls {
        conductor = conductor.asked_by(controls);
    }
    let (performed, outcome) = conductor.play();
    outcome.map(|()| performed.bars)
}

impl<'a, 'b> Conductor<'a, 'b> {
    /// Will play `source` on all `lanes`, until its end or until `stop` is set.
    pub fn new(
        source: &'a mut dyn Source,
        lanes: &'a mut [&'b mut dyn Lane],
        stop: &'a AtomicBool,
    ) -> Self {
        Conductor {
            source,
            lanes,
            stop,
            controls: None,
            told: None,
            suspension: None,
            leader: None,
            check: None,
            run: 0,
            bars_of_run: 0,
            begins: true,
            jumped: false,
            going: None,
            circle: None,
            mark: None,
            exhausted: false,
            begun: false,
            bars: 0,
            end: Tick::ZERO,
            events: Vec::new(),
            handed: VecDeque::new(),
            here: None,
            unit_ticks: TICKS_PER_QUARTER,
            millionths: 1_000_000,
            semitones: 0,
            silent: [false; 256],
            stands: false,
            gone: None,
            parked: None,
            tapping: Tapping::default(),
            epoch: Instant::now(),
            map: PlayedMap::default(),
            wishes: Wishes::default(),
        }
    }

    /// The same, doing what comes through `controls`.
    #[must_use]
    pub fn asked_by(mut self, controls: &'a Receiver<Control>) -> Self {
        self.controls = Some(controls);
        self
    }

    /// The same, telling what becomes of it.
    #[must_use]
    pub fn telling(mut self, told: &'a mut dyn FnMut(Told)) -> Self {
        self.told = Some(told);
        self
    }

    /// The same; when `asked` is set the piece stands still, `suspend` is called, and when that returns it goes on.
    #[must_use]
    pub fn suspended_by(mut self, asked: &'a AtomicBool, suspend: &'a mut dyn FnMut()) -> Self {
        self.suspension = Some(Suspension { asked, suspend });
        self
    }

    /// The same, following the MIDI clock that comes through `heard`: the piece begins when the other device does, stands
    /// when it does, goes where it goes, and has its tempo.
    #[must_use]
    pub fn led_by(mut self, heard: &'a Receiver<Heard>) -> Self {
        self.leader = Some(Leader::new(heard));
        self
    }

    /// The same, checking how the player's strokes lie: those that come as notes through `heard`, if anything does, and as
    /// [`Control::Stroke`]. `each_beat` places in a beat are played to; the input's delay is taken off, in nanoseconds.
    #[must_use]
    pub fn checking(
        mut self,
        heard: Option<&'a Receiver<Heard>>,
        each_beat: u32,
        delay_ns: i64,
    ) -> Self {
        self.check = Some(StrokeCheck::new(heard, each_beat, delay_ns));
        self
    }

    /// Plays, and closes all lanes however it ends. Answers what was played, and the first failure of a lane, after which
    /// `stop` is set.
    ///
    /// # Panics
    /// When making bars does; the lanes are closed before.
    pub fn play(mut self) -> (Performed, Result<(), LaneError>) {
        // A fault while bars are made must not leave notes sounding: the lanes are closed first.
        let played = catch_unwind(AssertUnwindSafe(|| {
            while self.turn()? {
                thread::sleep(LOOK);
            }
            self.begin()
        }));
        if !matches!(played, Ok(Ok(_))) {
            self.stop.store(true, Ordering::Relaxed);
        }
        let (mut outcome, fault) = match played {
            Ok(outcome) => (outcome, None),
            Err(fault) => (Ok(()), Some(fault)),
        };
        for lane in self.lanes.iter_mut() {
            if let Err(e) = lane.close()
                && outcome.is_ok()
            {
                outcome = Err(e);
            }
        }
        if let Some(fault) = fault {
            resume_unwind(fault);
        }
        self.listen();
        self.hear_strokes(true);
        let performed = Performed {
            bars: self.bars,
            map: self.map,
            player: self.check.map(StrokeCheck::timing),
        };
        (performed, outcome)
    }

    /// Does what there is to do now; answers whether there will be more. [`Conductor::play`] calls it again and again;
    /// for whoever drives clock and lanes by hand.
    ///
    /// # Errors
    /// When a lane fails.
    pub fn turn(&mut self) -> Result<bool, LaneError> {
        if self.stopped() {
            return Ok(false);
        }
        self.listen();
        self.tend();
        self.follow();
        self.hear_strokes(false);
        while let Some(control) = self.controls.and_then(|c| c.try_recv().ok()) {
            self.control(control);
        }
        self.go();
        self.suspend();
        while !self.exhausted && self.wants_bar() && !self.stopped() {
            self.pull()?;
        }
        self.begin()?;
        self.hand_over_wishes();
        let mut over = true;
        let mut broken = false;
        for lane in self.lanes.iter_mut() {
            let lane_is_over = lane.is_over()?;
            over &= lane_is_over;
            broken |= lane_is_over && !self.exhausted;
        }
        // A lane that is over too early tells why when it is closed.
        Ok(!(over || broken || self.stopped()))
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn tell(&mut self, told: Told) {
        if let Some(tell) = &mut self.told {
            tell(told);
        }
    }

    /// Hears what the lanes have done.
    fn listen(&mut self) {
        let mut first = true;
        for lane in self.lanes.iter_mut() {
            while let Some(passage) = lane.passage() {
                if first {
                    self.map.push(passage);
                }
            }
            first = false;
        }
        let Some(lane) = self.lanes.first() else {
            return;
        };
        let place = lane.place();
        let playing = |h: &&Handed| h.run == place.run && h.index == place.bars;
        if let Some(handed) = self.handed.iter().find(playing) {
            let place = (handed.run, handed.index);
            self.here = Some(handed.bar);
            if let Some(check) = &mut self.check {
                check.bar_began(place, &handed.bar);
            }
        }
    }

    /// Looks after lanes whose port has gone or come back.
    fn tend(&mut self) {
        for i in 0..self.lanes.len() {
            match self.lanes[i].condition() {
                Condition::Fine => {}
                Condition::Gone => {
                    if self.gone.is_none() {
                        self.gone = Some((i, self.stands));
                        self.tell(Told::Gone(i));
                        self.stand();
                    }
                }
                Condition::Back => {
                    self.lanes[i].settle();
                    self.tell(Told::Back(i));
                    // Where it stood before, the listener says when to go on.
                    let stood = self.gone.take().is_some_and(|(_, stood)| stood);
                    if !stood {
                        self.go_on_at_bar(true);
                    }
                }
            }
        }
    }

    fn suspend(&mut self) {
        let asked = self
            .suspension
            .as_ref()
            .is_some_and(|s| s.asked.swap(false, Ordering::AcqRel));
        if !asked {
            return;
        }
        let stood = self.stands;
        self.stand();
        let waited = Instant::now();
        while self.begun
            && !self.lanes.iter().all(|lane| lane.place().stands)
            && waited.elapsed() < STANDING
        {
            self.hand_over_wishes();
            thread::sleep(LOOK);
        }
        if let Some(suspension) = &mut self.suspension {
            (suspension.suspend)();
        }
        if !stood {
            self.go_on();
            self.go();
        }
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
            let place = lane.place();
            if place.run == self.run {
                self.bars_of_run < place.bars + AHEAD
            } else {
                // Of short loops no more than one lies ready.
                (self.jumped || place.run + 1 == self.run) && self.bars_of_run < AHEAD
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

    /// Song ticks of a bar, `None` in the count-in.
    fn song(&self, number: i64) -> Option<u64> {
        self.source.landmarks(number).and_then(|l| l.song_ticks)
    }

    fn hand_over(&mut self, bar: &Bar, events: &[Event]) -> Result<(), LaneError> {
        if self.bars == 0 {
            self.unit_ticks = bar.meter.tempo_unit_ticks();
        }
        let song = self.song(bar.number);
        if std::mem::take(&mut self.begins) {
            self.offer(Entry::Origin {
                tick: bar.start,
                song,
            })?;
        }
        let turn = self.circle.filter(|(_, last)| bar.number == *last);
        let turn = turn.map(|(first, _)| first);
        // A follower of the clock is told of a turn, and of bar 1 after a count-in.
        let then = match turn {
            Some(first) => self.song(first),
            None if song.is_none() => self.song(bar.number + 1).or(self.after_count_in(bar)),
            None => None,
        };
        self.enter(bar, song, then, events)?;
        self.end = bar.end();
        if let Some(first) = turn
            && self.source.seek(first)
        {
            self.offer(Entry::Turn { tick: self.end })?;
            self.next_run();
            self.jumped = false;
        }
        Ok(())
    }

    /// Song ticks of the bar that a count-in bar leads to, where that is not bar 1.
    fn after_count_in(&self, bar: &Bar) -> Option<u64> {
        let landmarks = self.source.landmarks(bar.number)?;
        (bar.number == 0).then(|| self.song(landmarks.next_pass?))?
    }

    /// Hands over the entries of a bar.
    fn enter(
        &mut self,
        bar: &Bar,
        song: Option<u64>,
        then: Option<u64>,
        events: &[Event],
    ) -> Result<(), LaneError> {
        self.bars += 1;
        self.bars_of_run += 1;
        self.handed.push_back(Handed {
            run: self.run,
            index: self.bars_of_run,
            bar: *bar,
        });
        if self.handed.len() > REMEMBERED {
            self.handed.pop_front();
        }
        self.offer(Entry::Bar {
            tick: bar.start,
            end: bar.end(),
            song,
            then,
        })?;
        for event in events {
            let tick = event.tick;
            let entry = match &event.body {
                Body::Channel(message) => Entry::Message {
                    tick,
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
                // A lane makes room once it knows that what lies ready was left.
                self.hand_over_wishes();
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
}

#[cfg(test)]
mod tests;
