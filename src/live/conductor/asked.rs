//! What the conductor does when it is asked for something.

use std::sync::atomic::Ordering;
use std::time::Instant;

use super::{Conductor, Entry, Going, Told, Wish};
use crate::event::PartId;
use crate::live::control::{Control, Pace};
use crate::live::lane::LaneError;
use crate::time::{Nanos, TICKS_PER_QUARTER, Tempo};

/// The least and the most that the plan may be scaled by, in millionths.
const SHARES: std::ops::RangeInclusive<u128> = 100_000..=10_000_000;

/// Microseconds a quarter at the fastest tempo of a plan (960 quarter notes a minute) and the slowest (3.6).
const QUARTERS_US: std::ops::RangeInclusive<u128> = 62_500..=16_666_667;

impl Conductor<'_, '_> {
    pub(super) fn control(&mut self, control: Control) {
        match control {
            Control::Pause => self.stand(),
            Control::GoOn => self.go_on(),
            Control::PauseOrGoOn => {
                if self.stands {
                    self.go_on();
                } else {
                    self.stand();
                }
            }
            Control::CountIn => self.go_on_at_bar(true),
            Control::Tempo(_) | Control::Tap(_) if self.leader.is_some() => {
                self.tell(Told::TempoIsLed);
            }
            Control::Tempo(pace) => self.pace(pace),
            Control::Tap(at) => self.tap(at),
            Control::Transpose(semitones) => self.transpose(i16::from(semitones)),
            Control::TransposeBy(more) => {
                self.transpose(i16::from(self.semitones) + i16::from(more));
            }
            Control::Silence(part, silent) => self.silence(part, silent),
            Control::SilenceOrBring(part) => {
                let silent = !self.silent[usize::from(part.0)];
                self.silence(part, silent);
            }
            Control::Go(bar) => self.jump(bar),
            Control::GoBy(bars) => {
                let here = self.here.map_or(1, |bar| bar.number);
                self.jump(here.saturating_add(bars).max(1));
            }
            Control::Next => {
                let here = self.here.map_or(1, |bar| bar.number);
                match self.source.landmarks(here).and_then(|l| l.next_pass) {
                    Some(bar) => self.jump(bar),
                    None => self.tell(Told::NoBar),
                }
            }
            Control::Again => {
                let here = self.here.map_or(1, |bar| bar.number);
                let bar = self.source.landmarks(here).map_or(1, |l| l.pass);
                self.jump(bar);
            }
            Control::Loop(circle) => self.circle(circle),
            Control::LoopFromHere => {
                let here = self.here.map_or(1, |bar| bar.number.max(1));
                self.mark = Some(here);
                self.tell(Told::Marked(here));
            }
            Control::LoopToHere => {
                let here = self.here.map_or(1, |bar| bar.number.max(1));
                let first = self.mark.take().unwrap_or(here);
                self.circle(Some((first.min(here), first.max(here))));
            }
            Control::Stroke(at) => {
                if let Some(check) = &mut self.check {
                    check.struck_by_key(at);
                }
            }
            Control::Stop => self.stop.store(true, Ordering::Relaxed),
        }
    }

    /// Whether a port is gone, without which nothing goes on; then that is said again.
    pub(super) fn is_gone(&mut self) -> bool {
        if let Some((lane, _)) = self.gone {
            self.tell(Told::Gone(lane));
        }
        self.gone.is_some()
    }

    /// Stands still.
    pub(super) fn stand(&mut self) {
        if !self.stands {
            self.stands = true;
            if let Some(Going::Begin { bar, .. }) = self.going {
                self.going = None;
                self.parked = Some(bar);
            }
            self.wish(Wish::Pause);
            self.tell(Told::Stands);
        }
    }

    /// Goes on where it stands, or where it was sent while it stood.
    pub(super) fn go_on(&mut self) {
        if !self.stands || self.is_gone() {
            return;
        }
        if self.parked.is_some() {
            self.go_on_at_bar(false);
        } else {
            self.stands = false;
            self.wish(Wish::GoOn);
            self.tell(Told::GoesOn);
        }
    }

    /// Goes on with the bar it stands in, from its beginning, or with the one it was sent to; with a count-in where wanted.
    pub(super) fn go_on_at_bar(&mut self, counted: bool) {
        if self.is_gone() {
            return;
        }
        let here = self.here.map_or(1, |bar| bar.number);
        let bar = self.parked.take().unwrap_or(here);
        if !self.has_bar(bar) {
            self.tell(Told::NoBar);
            return;
        }
        self.stands = false;
        self.going = Some(Going::Begin { bar, counted });
        self.tell(Told::GoesOn);
    }

    fn has_bar(&self, bar: i64) -> bool {
        self.source.landmarks(bar).is_some()
    }

    /// Goes where it was asked to in this turn.
    pub(super) fn go(&mut self) {
        match self.going.take() {
            Some(Going::Leave { bar, .. }) => self.leave(bar),
            Some(Going::Begin { bar, counted }) => self.begin_or_stop(bar, counted, 0),
            None => {}
        }
    }

    /// Begins a bar now; see [`Conductor::begin_at`].
    pub(super) fn begin_or_stop(&mut self, bar: i64, counted: bool, skip: u64) {
        if self.begin_at(bar, counted, skip).is_err() {
            // The lane says why when it is closed.
            self.stop.store(true, Ordering::Relaxed);
        }
    }

    /// Begins a bar now, whatever plays, with a count-in where wanted and possible, or so many ticks after its beginning.
    fn begin_at(&mut self, bar: i64, counted: bool, skip: u64) -> Result<(), LaneError> {
        let mut events = Vec::new();
        let count_in = (counted && bar > 0)
            .then(|| self.source.count_in(bar, &mut events))
            .flatten();
        let song = self.song(bar);
        if !self.source.seek(bar) {
            self.tell(Told::NoBar);
            return Ok(());
        }
        self.next_run();
        self.jumped = true;
        let counted = count_in.is_some();
        self.wish(Wish::Begin {
            run: self.run,
            song: if counted { None } else { song },
            skip,
        });
        if let Some(bar) = count_in {
            self.offer(Entry::Origin {
                tick: bar.start,
                song: None,
            })?;
            self.enter(&bar, None, song, &events)?;
            self.offer(Entry::Turn { tick: bar.end() })?;
            self.next_run();
        }
        Ok(())
    }

    /// Goes to a bar at the next bar line; while it stands, goes on there later.
    fn jump(&mut self, bar: i64) {
        self.jump_for(bar, false);
    }

    fn jump_for(&mut self, bar: i64, for_loop: bool) {
        if bar < 1 || !self.has_bar(bar) {
            self.tell(Told::NoBar);
        } else if self.stands {
            self.parked = Some(bar);
        } else if let Some(Going::Begin { bar: begins, .. }) = &mut self.going {
            *begins = bar;
        } else {
            self.going = Some(Going::Leave { bar, for_loop });
        }
    }

    fn leave(&mut self, bar: i64) {
        let song = self.song(bar);
        if self.source.seek(bar) {
            self.next_run();
            self.jumped = true;
            self.wish(Wish::Leave {
                run: self.run,
                song: song.unwrap_or(0),
            });
        } else {
            self.tell(Told::NoBar);
        }
    }

    fn circle(&mut self, circle: Option<(i64, i64)>) {
        let before = std::mem::replace(&mut self.circle, circle);
        let playing = self.lanes.first().map_or(0, |lane| lane.place().run);
        let here = self.here.map_or(0, |bar| bar.number);
        match circle {
            Some((first, last)) => {
                if self.source.landmarks(last).is_none() || self.source.landmarks(first).is_none() {
                    self.circle = before;
                    self.tell(Told::NoBar);
                    return;
                }
                self.tell(Told::Loops { first, last });
                // What lies ready was made without the turn.
                let ready = self.handed.iter().any(|handed| {
                    handed.run == self.run && handed.bar.number == last && here <= last
                });
                if ready || self.exhausted {
                    self.jump_for(if here >= last { first } else { here + 1 }, true);
                }
            }
            // Nothing was done for it yet.
            None if matches!(self.going, Some(Going::Leave { for_loop: true, .. })) => {
                self.going = None;
            }
            // The turn lies ready already.
            None if before.is_some() && self.run > playing && !self.jumped => {
                self.jump(here + 1);
            }
            None => {}
        }
    }

    fn transpose(&mut self, semitones: i16) {
        self.semitones = i8::try_from(semitones.clamp(-24, 24)).unwrap_or(0);
        self.wish(Wish::Transpose(self.semitones));
    }

    fn silence(&mut self, part: PartId, silent: bool) {
        self.silent[usize::from(part.0)] = silent;
        self.wish(if silent {
            Wish::Silence(part)
        } else {
            Wish::Bring(part)
        });
    }

    /// The plan's tempo where it plays now.
    fn plan(&self) -> Tempo {
        let first = self.lanes.first();
        first.map_or(Tempo::DEFAULT, |lane| lane.place().plan)
    }

    /// A beat of the plan's tempo where it plays now, in nanoseconds.
    fn plan_beat_ns(&self) -> u128 {
        u128::from(self.plan().us_per_quarter()) * 1000 * u128::from(self.unit_ticks)
            / u128::from(TICKS_PER_QUARTER)
    }

    /// Thousandths of a beat a minute at a share of the plan.
    fn milli_beats(&self, millionths: u128) -> u128 {
        // 60 s in ns, times 1000, times the share.
        60_000_000_000_000 * millionths / (self.plan_beat_ns().max(1) * 1_000_000)
    }

    fn pace(&mut self, pace: Pace) {
        let now = u128::from(self.millionths);
        let wanted = match pace {
            Pace::Share(millionths) => u128::from(millionths),
            Pace::ShareBy(more) => now.saturating_add_signed(i128::from(more)),
            Pace::Beats(milli) => self.share_for(u128::from(milli)),
            Pace::BeatsBy(more) => {
                let milli = self
                    .milli_beats(now)
                    .saturating_add_signed(i128::from(more));
                self.share_for(milli)
            }
        };
        self.share(wanted);
    }

    /// The share of the plan at which a beat is played so many thousandths of times a minute.
    fn share_for(&self, milli_beats: u128) -> u128 {
        let exact = milli_beats * self.plan_beat_ns() * 1_000_000;
        (exact + 30_000_000_000_000) / 60_000_000_000_000
    }

    fn share(&mut self, millionths: u128) {
        let quarter = u128::from(self.plan().us_per_quarter()) * 1_000_000 / millionths.max(1);
        let held = SHARES.contains(&millionths) && QUARTERS_US.contains(&quarter);
        let Some(share) = u32::try_from(millionths).ok().filter(|_| held) else {
            self.tell(Told::TempoLimit);
            return;
        };
        self.millionths = share;
        self.wish(Wish::Tempo(share));
        let milli = u32::try_from((self.milli_beats(millionths * 10) + 5) / 10).unwrap_or(0);
        self.tell(Told::Tempo {
            milli_beats: milli,
            millionths: share,
        });
    }

    fn tap(&mut self, at: Instant) {
        // Taps are compared with each other only, so any clock will do.
        let since = at.saturating_duration_since(self.epoch);
        let at = Nanos::new(u64::try_from(since.as_nanos()).unwrap_or(u64::MAX));
        let Some(interval) = self.tapping.tap(at) else {
            return;
        };
        let exact = self.plan_beat_ns() * 1_000_000;
        let beat = u128::from(interval.get()).max(1);
        self.share((exact + beat / 2) / beat);
    }
}
