//! What the conductor does with each control.

use std::sync::atomic::Ordering;

use super::state::{CountIn, Jump, Sake, State, Then};
use super::supply::Entered;
use super::{Conductor, Notice};
use crate::live::dispatch::{Entry, Wish};
use crate::live::transport::Control;
use crate::live::transport::LaneError;

impl Conductor<'_, '_> {
    pub(super) fn control(&mut self, control: Control) {
        match control {
            Control::Pause => self.pause(),
            // It plays already: said once more.
            Control::Resume if self.state == State::Playing => self.notify(Notice::Resumed),
            Control::Resume => self.resume(),
            Control::PauseOrResume if self.state.is_paused() => self.resume(),
            Control::PauseOrResume => self.pause(),
            Control::CountIn => self.resume_at_bar(CountIn::With),
            Control::Tempo(_) | Control::Tap(_) if self.leader.is_some() => {
                self.notify(Notice::TempoIsLed);
            }
            Control::Tempo(pace) => self.pace(pace),
            Control::Tap(at) => self.tap(at),
            Control::Transpose(semitones) => self.transpose(i16::from(semitones)),
            Control::TransposeBy(more) => {
                self.transpose(i16::from(self.settings.semitones) + i16::from(more));
            }
            Control::Mute(part) => self.mute(part),
            Control::Unmute(part) => self.unmute(part),
            Control::MuteOrUnmute(part) if self.settings.is_muted(part) => self.unmute(part),
            Control::MuteOrUnmute(part) => self.mute(part),
            Control::Go(bar) => self.go(bar),
            Control::GoBy(bars) => self.go(self.here_or_1().saturating_add(bars).max(1)),
            Control::Next => {
                let landmarks = self.source.landmarks(self.here_or_1());
                match landmarks.and_then(|l| l.next_pass) {
                    Some(bar) => self.go(bar),
                    None => self.notify(Notice::LastPass),
                }
            }
            Control::Again => {
                let landmarks = self.source.landmarks(self.here_or_1());
                self.go(landmarks.map_or(1, |l| l.pass));
            }
            Control::Loop(Some((first, last))) => self.begin_loop(first, last),
            Control::Loop(None) => self.end_loop(),
            Control::LoopFromHere => {
                let here = self.here_or_1().max(1);
                self.loops.marked = Some(here);
                self.notify(Notice::Marked(here));
            }
            Control::LoopToHere => {
                let here = self.here_or_1().max(1);
                let first = self.loops.marked.take().unwrap_or(here);
                self.begin_loop(first.min(here), first.max(here));
            }
            Control::Stroke(at) => {
                if let Some(check) = &mut self.check {
                    check.struck_by_key(at);
                }
            }
            Control::Respond { id, at } => self.cues.responded(id, at),
            Control::Stop => self.stop.store(true, Ordering::Relaxed),
        }
    }

    /// The number of the bar that plays; before the first, that one's.
    fn here_or_1(&self) -> i64 {
        self.here.map_or(1, |bar| bar.number)
    }

    fn has_bar(&self, bar: i64) -> bool {
        self.source.landmarks(bar).is_some()
    }

    /// Whether a port is gone; nothing goes on without it, and the listener is told again.
    pub(super) fn is_lost(&mut self) -> bool {
        let State::Lost { lane, .. } = self.state else {
            return false;
        };
        self.notify(Notice::Gone(lane));
        true
    }

    fn pause(&mut self) {
        match &mut self.state {
            State::Playing => self.pause_playing(),
            // It is paused already, and stays so when the port is back.
            State::Lost { then, .. } if *then == Then::Play => {
                *then = Then::Pause;
                self.notify(Notice::Paused);
            }
            State::Lost { .. } | State::Paused { .. } => self.notify(Notice::Paused),
        }
    }

    /// Pauses, where it plays.
    pub(super) fn pause_playing(&mut self) {
        if self.state == State::Playing {
            let mut at = None;
            if let Some(Jump::Begin { bar, .. }) = self.jump {
                self.jump = None;
                at = Some(bar);
            }
            self.state = State::Paused { at };
            self.wish(Wish::Pause, Some(Notice::Paused));
        }
    }

    /// Goes on where it is paused, or at the bar asked for meanwhile; after a count-in with its bar, where that is wanted.
    pub(super) fn resume(&mut self) {
        match self.state {
            State::Playing => {}
            State::Lost { .. } => {
                self.is_lost();
            }
            State::Paused { at } if at.is_some() || self.after_pause == CountIn::With => {
                self.resume_at_bar(self.after_pause);
            }
            State::Paused { .. } => {
                self.state = State::Playing;
                self.wish(Wish::Resume, Some(Notice::Resumed));
            }
        }
    }

    /// Goes on with the bar it is paused in, from its beginning, or with the bar asked for meanwhile.
    pub(super) fn resume_at_bar(&mut self, count_in: CountIn) {
        if self.is_lost() {
            return;
        }
        let sent = self.state.at_mut().and_then(Option::take);
        let bar = sent.unwrap_or(self.here_or_1());
        if !self.has_bar(bar) {
            self.notify(Notice::NoBar);
            return;
        }
        self.state = State::Playing;
        self.jump = Some(Jump::Begin { bar, count_in });
    }

    /// Goes where it was asked to in this turn.
    pub(super) fn make_jump(&mut self) {
        match self.jump.take() {
            Some(Jump::Leave { bar, sake }) => self.leave(bar, sake),
            Some(Jump::Begin { bar, count_in }) => {
                let notice = match count_in {
                    CountIn::With => Notice::CountsIn(bar),
                    CountIn::Without => Notice::Resumed,
                };
                self.begin(bar, count_in, 0, notice);
            }
            None => {}
        }
    }

    /// Begins a bar now, whatever plays, or so many ticks after its beginning; the listener is told when it does.
    pub(super) fn begin(&mut self, bar: i64, count_in: CountIn, skip: u64, notice: Notice) {
        if self.begin_at(bar, count_in, skip, notice).is_err() {
            // The lane gives the reason when it is closed.
            self.stop.store(true, Ordering::Relaxed);
        }
    }

    fn begin_at(
        &mut self,
        number: i64,
        count_in: CountIn,
        skip: u64,
        notice: Notice,
    ) -> Result<(), LaneError> {
        let mut events = Vec::new();
        let before = match count_in {
            CountIn::With if number > 0 => self.source.count_in(number, &mut events),
            CountIn::With | CountIn::Without => None,
        };
        let song = self.song(number);
        if !self.source.seek(number) {
            self.notify(Notice::NoBar);
            return Ok(());
        }
        self.supply.next_run(Entered::ByJump);
        let begin = Wish::Begin {
            run: self.supply.run.number,
            song: song.filter(|_| before.is_none()),
            skip,
        };
        self.wish(begin, Some(notice));
        if let Some(bar) = before {
            self.offer(Entry::Origin {
                tick: bar.start,
                song: None,
            })?;
            self.enter(&bar, None, song, &events)?;
            self.offer(Entry::Turn { tick: bar.end() })?;
            self.supply.next_run(Entered::ByJump);
        }
        Ok(())
    }

    /// Goes to a bar at the next bar line; while it is paused, goes on there later.
    fn go(&mut self, bar: i64) {
        if bar < 1 || !self.has_bar(bar) {
            self.notify(Notice::NoBar);
        } else if let Some(at) = self.state.at_mut() {
            *at = Some(bar);
            self.notify(Notice::GoesOnWith(bar));
        } else if let Some(Jump::Begin { bar: begins, .. }) = &mut self.jump {
            *begins = bar;
        } else {
            let sake = Sake::Asked;
            self.jump = Some(Jump::Leave { bar, sake });
        }
    }

    /// Makes this bar follow the one that plays or is paused, since the bars already handed over are wrong for a loop,
    /// or for its end. A start elsewhere, now or later, is handed over anew and needs no jump.
    fn follow_with(&mut self, bar: i64) {
        let elsewhere = match self.jump {
            None
            | Some(Jump::Leave {
                sake: Sake::Loop, ..
            }) => false,
            Some(Jump::Leave { .. } | Jump::Begin { .. }) => true,
        };
        let here = matches!(self.state, State::Playing | State::Paused { at: None });
        if here && !elsewhere && self.has_bar(bar) {
            let sake = Sake::Loop;
            self.jump = Some(Jump::Leave { bar, sake });
        }
    }

    fn leave(&mut self, bar: i64, sake: Sake) {
        let song = self.song(bar).unwrap_or(0);
        if self.source.seek(bar) {
            self.supply.next_run(Entered::ByJump);
            let run = self.supply.run.number;
            let notice = (sake == Sake::Asked).then_some(Notice::Goes(bar));
            self.wish(Wish::Leave { run, song }, notice);
        } else {
            self.notify(Notice::NoBar);
        }
    }

    fn begin_loop(&mut self, first: i64, last: i64) {
        if !self.has_bar(first) || !self.has_bar(last) {
            self.notify(Notice::NoBar);
            return;
        }
        self.loops.playing = Some((first, last));
        self.notify(Notice::Loops { first, last });
        if let Some(bar) = self.bar_before_what_is_wrong(first, last) {
            self.follow_with(bar);
        }
    }

    /// The bar that must follow the one that plays, if the bars already handed over lack the turn of this loop, or have
    /// the turn of another.
    fn bar_before_what_is_wrong(&self, first: i64, last: i64) -> Option<i64> {
        let here = self.here.map_or(0, |bar| bar.number);
        let run = self.supply.run;
        let mut handed = self
            .supply
            .handed_in(run.number)
            .map(|handed| handed.bar.number);
        let passes = handed.clone().any(|bar| bar == last);
        if run.number > self.playing_run() && run.entered == Entered::ByJump {
            let begins = handed.next()?;
            return (passes || run.exhausted).then_some(begins);
        }
        let wrong = (passes && here <= last) || run.exhausted || self.turn_lies_ready();
        wrong.then_some(if here >= last { first } else { here + 1 })
    }

    fn end_loop(&mut self) {
        let was = self.loops.playing.take();
        self.notify(match was {
            Some(_) => Notice::LoopEnds,
            None => Notice::NoLoop,
        });
        let asked_now = matches!(
            self.jump,
            Some(Jump::Leave {
                sake: Sake::Loop,
                ..
            })
        );
        if was.is_some() && self.turn_lies_ready() {
            self.follow_with(self.here.map_or(0, |bar| bar.number) + 1);
        } else if asked_now {
            // Nothing has been done for it yet.
            self.jump = None;
        }
    }

    /// Whether a loop's turn that has not come yet was handed over.
    fn turn_lies_ready(&self) -> bool {
        let run = self.supply.run;
        run.number > self.playing_run() && run.entered == Entered::InTurn
    }

    fn playing_run(&self) -> u32 {
        self.lanes.here().map_or(0, |here| here.run)
    }
}
