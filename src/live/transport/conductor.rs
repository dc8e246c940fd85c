//! Pulls bars for the lanes and does what the listener asks: this is the main thread while it plays.

mod asked;
mod cues;
mod lanes;
mod led;
mod moment;
mod notice;
mod pace;
mod state;
mod struck;
mod supply;
mod wishes;

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::Receiver;

use self::cues::Cues;
use self::lanes::Lanes;
use self::led::Leader;
use self::moment::Shown;
pub use self::moment::{Activity, Moment};
pub use self::notice::Notice;
use self::notice::Notices;
use self::pace::Settings;
use self::state::{CountIn, Jump, Loops, State, Then};
use self::struck::StrokeCheck;
use self::supply::{Entered, Supply};
use super::control::Control;
use super::lane::{Condition, Lane, LaneError, Offer};
use crate::event::{Bar, Body, Event, Source};
use crate::live::dispatch::{Entry, Item, Wish};
use crate::live::reporting::{PlayedMap, PlayerTiming};
use crate::midi::Heard;

/// Pause between two looks at lanes and controls.
const LOOK: Duration = Duration::from_millis(2);

/// How long lanes may take to pause before the program is suspended.
const PAUSING: Duration = Duration::from_millis(250);

/// Suspends the program, as the terminal does.
struct Suspension<'a> {
    asked: &'a AtomicBool,
    suspend: &'a mut dyn FnMut(),
}

/// How playing went.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Performed {
    /// Bars handed to the lanes, count-in included.
    pub bars: u64,
    /// The map as played.
    pub map: PlayedMap,
    /// How the player's strokes lay, where that was checked.
    pub player: Option<PlayerTiming>,
}

/// Plays a source on lanes; see [`Conductor::play`].
pub struct Conductor<'a, 'b> {
    source: &'a mut dyn Source,
    lanes: Lanes<'a, 'b>,
    supply: Supply,
    state: State,
    /// Where it is to go once all that was asked for in this turn is known.
    jump: Option<Jump>,
    loops: Loops,
    /// How it goes on after a pause.
    after_pause: CountIn,
    settings: Settings,
    /// The bar that plays, and the map as played.
    here: Option<Bar>,
    map: PlayedMap,
    stop: &'a AtomicBool,
    controls: Option<&'a Receiver<Control>>,
    notices: Notices<'a>,
    suspension: Option<Suspension<'a>>,
    leader: Option<Leader<'a>>,
    check: Option<StrokeCheck<'a>>,
    cues: Cues,
    shown: Shown<'a>,
}

/// Plays `source` on all `lanes` to its end, or until a stop: `stop` is set, or asked for through `controls`. Then all
/// lanes are closed. Returns how many bars were handed over, count-in included.
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
            lanes: Lanes::new(lanes),
            supply: Supply::new(),
            state: State::Playing,
            jump: None,
            loops: Loops::default(),
            after_pause: CountIn::Without,
            settings: Settings::new(),
            here: None,
            map: PlayedMap::default(),
            stop,
            controls: None,
            notices: Notices::default(),
            suspension: None,
            leader: None,
            check: None,
            cues: Cues::default(),
            shown: Shown::default(),
        }
    }

    /// The same, doing what comes through `controls`.
    #[must_use]
    pub fn asked_by(mut self, controls: &'a Receiver<Control>) -> Self {
        self.controls = Some(controls);
        self
    }

    /// The same; `take` is given every notice.
    #[must_use]
    pub fn notifying(mut self, take: &'a mut dyn FnMut(Notice)) -> Self {
        self.notices = Notices::to(take);
        self
    }

    /// The same; `take` is shown what is heard, some hundred times a second.
    #[must_use]
    pub fn showing(mut self, take: &'a mut dyn FnMut(&Moment)) -> Self {
        self.shown = Shown::to(take);
        self
    }

    /// The same; when `asked` is set the piece is paused, `suspend` is called, and when that returns it goes on.
    #[must_use]
    pub fn suspended_by(mut self, asked: &'a AtomicBool, suspend: &'a mut dyn FnMut()) -> Self {
        self.suspension = Some(Suspension { asked, suspend });
        self
    }

    /// The same; after a pause or a suspension the bar begins again after a bar of count-in.
    #[must_use]
    pub fn counting_in_after_pauses(mut self) -> Self {
        self.after_pause = CountIn::With;
        self
    }

    /// The same, following the MIDI clock that comes through `heard`: the piece begins when the other device does, pauses
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

    /// Plays, and closes all lanes however it ends. Returns what was played, and the first failure of a lane, after which
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
            self.lanes.begin()
        }));
        if !matches!(played, Ok(Ok(()))) {
            self.stop.store(true, Ordering::Relaxed);
        }
        let closed = self.lanes.close();
        let outcome = match played {
            Ok(outcome) => outcome.and(closed),
            Err(fault) => resume_unwind(fault),
        };
        self.listen();
        self.tell_last_cues();
        self.hear_last_strokes();
        let performed = Performed {
            bars: self.supply.bars,
            map: self.map,
            player: self.check.map(StrokeCheck::timing),
        };
        (performed, outcome)
    }

    /// Does what there is to do now; returns whether there will be more. [`Conductor::play`] calls it in a loop; public
    /// for callers that drive clock and lanes by hand.
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
        self.hear_strokes();
        while let Some(control) = self.controls.and_then(|c| c.try_recv().ok()) {
            self.control(control);
        }
        self.tell_cues();
        self.show_moment();
        self.make_jump();
        self.suspend();
        while self.is_short() && !self.stopped() {
            self.pull()?;
        }
        self.lanes.begin()?;
        self.hand_over_wishes();
        let ended = self.lanes.ended()?;
        // One that has ended too early tells why when it is closed.
        let over = ended == self.lanes.each.len() || (ended > 0 && !self.supply.run.exhausted);
        Ok(!(over || self.stopped()))
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn notify(&mut self, notice: Notice) {
        self.notices.give(notice);
    }

    /// Sends a wish to all lanes; when all have taken it, the notice is given.
    fn wish(&mut self, wish: Wish, notice: Option<Notice>) {
        self.lanes.wishes.push(wish, notice);
        self.hand_over_wishes();
    }

    fn hand_over_wishes(&mut self) {
        self.lanes.hand_over_wishes(&mut self.notices);
    }

    /// Reads what the lanes have done.
    fn listen(&mut self) {
        let mut lanes = self.lanes.each.iter_mut();
        if let Some(first) = lanes.next() {
            while let Some(passage) = first.passage() {
                self.map.push(passage);
            }
        }
        // The others report the same.
        for lane in lanes {
            while lane.passage().is_some() {}
        }
        let Some(here) = self.lanes.here() else {
            return;
        };
        let mut handed = self.supply.handed_in(here.run);
        if let Some(handed) = handed.find(|handed| handed.index == here.bars) {
            self.here = Some(handed.bar);
            if let Some(check) = &mut self.check {
                check.bar_began((handed.run, handed.index), &handed.bar);
            }
        }
    }

    /// Looks after lanes whose port has gone or come back.
    fn tend(&mut self) {
        for i in 0..self.lanes.each.len() {
            match self.lanes.each[i].condition() {
                Condition::Fine => {}
                Condition::Gone => self.lose(i),
                Condition::Back => {
                    self.lanes.each[i].settle();
                    self.notify(Notice::Back(i));
                    self.find_again(i);
                }
            }
        }
    }

    /// A lane's port is gone.
    fn lose(&mut self, lane: usize) {
        let then = match self.state {
            State::Playing => Then::Play,
            State::Paused { .. } => Then::Pause,
            State::Lost { .. } => return,
        };
        self.notify(Notice::Gone(lane));
        self.pause_playing();
        let at = self.state.at_mut().and_then(|at| *at);
        self.state = State::Lost { lane, then, at };
    }

    /// It is back.
    fn find_again(&mut self, back: usize) {
        if let State::Lost { lane, then, at } = self.state
            && lane == back
        {
            self.state = State::Paused { at };
            // Where it was paused before, the listener says when to go on.
            if then == Then::Play {
                self.resume_at_bar(CountIn::With);
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
        let was_paused = self.state.is_paused();
        self.pause_playing();
        let waited = Instant::now();
        while self.lanes.have_begun()
            && !self.lanes.each.iter().all(|lane| lane.place().paused)
            && waited.elapsed() < PAUSING
        {
            self.hand_over_wishes();
            thread::sleep(LOOK);
        }
        if let Some(suspension) = &mut self.suspension {
            (suspension.suspend)();
        }
        if !was_paused {
            self.resume();
            self.make_jump();
        }
    }

    /// Whether some lane will soon have played what it was given, and there is more.
    fn is_short(&self) -> bool {
        let supply = &self.supply;
        let mut lanes = self.lanes.each.iter();
        !supply.run.exhausted && lanes.any(|lane| supply.is_short_at(&lane.place()))
    }

    fn pull(&mut self) -> Result<(), LaneError> {
        let mut events = Vec::new();
        match self.source.next_bar(&mut events) {
            Some(bar) => self.hand_over(&bar, &events),
            None => {
                self.supply.run.exhausted = true;
                let tick = self.supply.end;
                self.offer(Entry::End { tick })
            }
        }
    }

    /// Song ticks of a bar, `None` in the count-in.
    fn song(&self, number: i64) -> Option<u64> {
        self.source.landmarks(number).and_then(|l| l.song_ticks)
    }

    fn hand_over(&mut self, bar: &Bar, events: &[Event]) -> Result<(), LaneError> {
        if self.supply.bars == 0 {
            self.settings.count_beats_of(bar.meter);
        }
        let song = self.song(bar.number);
        if self.supply.run.bars == 0 {
            let tick = bar.start;
            self.offer(Entry::Origin { tick, song })?;
        }
        let turn = self.loops.turn(bar.number);
        // A follower of the clock is told of a turn, and of bar 1 after a count-in.
        let then = match turn {
            Some(first) => self.song(first),
            None if song.is_none() => self.song(bar.number + 1).or(self.after_count_in(bar)),
            None => None,
        };
        self.enter(bar, song, then, events)?;
        let end = self.source.end_of(bar);
        self.supply.end = end;
        if let Some(first) = turn
            && self.source.seek(first)
        {
            self.offer(Entry::Turn { tick: end })?;
            self.supply.next_run(Entered::InTurn);
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
        self.supply.note(bar);
        self.offer(Entry::Bar {
            tick: bar.start,
            end: self.source.end_of(bar),
            song,
            then,
        })?;
        for event in events {
            let tick = event.tick;
            let entry = match event.body {
                Body::Channel(message) => Entry::Message { tick, message },
                Body::Tempo(tempo) => Entry::Tempo { tick, tempo },
                Body::Marker(_) => Entry::Chord { tick },
                Body::Ask(_) | Body::Answer(_) => {
                    self.cues.hand_over(self.supply.run.number, event);
                    continue;
                }
                Body::Meter(_) | Body::Key(_) | Body::Lyric { .. } => continue,
            };
            self.offer(entry)?;
        }
        Ok(())
    }

    fn offer(&mut self, entry: Entry) -> Result<(), LaneError> {
        let item = Item {
            run: self.supply.run.number,
            entry,
        };
        for i in 0..self.lanes.each.len() {
            while self.lanes.each[i].offer(item) == Offer::Full && !self.stopped() {
                self.lanes.begin()?;
                // A lane makes room once it knows that its queued bars were left.
                self.hand_over_wishes();
                if self.lanes.ended()? > 0 {
                    return Ok(());
                }
                thread::sleep(LOOK);
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
