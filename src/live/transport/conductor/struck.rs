//! The check of the player's timing: which place of the bar each stroke was meant for.

use std::collections::VecDeque;
use std::time::Instant;

use crossbeam_channel::Receiver;

use super::Conductor;
use super::supply::Handed;
use crate::event::Bar;
use crate::live::reporting::{PlayedAt, PlayerTiming, Stroke, Strokes};
use crate::live::transport::Lane;
use crate::midi::Heard;
use crate::time::{Nanos, Region, TICKS_PER_QUARTER};

/// A stroke is judged so long after it was heard, in nanoseconds, once it is certain what was played then.
const LATER_NS: u64 = 100_000_000;

/// The least time after an interruption for which strokes are not judged, in nanoseconds. A device's clock is often
/// re-established only half a second after it jumped.
const SETTLING_NS: u64 = 700_000_000;

/// Interruptions that are remembered, until the strokes in them were heard.
const REMEMBERED: usize = 8;

/// Strokes that may wait to be judged.
const WAITING: usize = 256;

/// What is known of the player's strokes.
pub(super) struct StrokeCheck<'a> {
    heard: Option<&'a Receiver<Heard>>,
    each_beat: u32,
    delay_ns: i64,
    strokes: Strokes,
    waiting: VecDeque<Instant>,
    /// The bar that began last: its run and its place in that.
    began: Option<(u32, u32)>,
    /// How often the lane was interrupted so far.
    interruptions: u64,
    /// The newest interruptions, whose end may be open.
    interrupted: VecDeque<Interruption>,
}

/// An interruption, around which it is not known what the player heard.
#[derive(Clone, Copy, Debug)]
struct Interruption {
    since: Nanos,
    /// When all is well again; `None` until then.
    until: Option<Nanos>,
}

impl Interruption {
    fn holds(&self, at: Nanos) -> bool {
        at >= self.since && self.until.is_none_or(|until| at < until)
    }
}

impl<'a> StrokeCheck<'a> {
    pub(super) fn new(heard: Option<&'a Receiver<Heard>>, each_beat: u32, delay_ns: i64) -> Self {
        let strokes = Strokes::new(delay_ns);
        StrokeCheck {
            strokes: if heard.is_none() {
                strokes.coarse()
            } else {
                strokes
            },
            heard,
            each_beat: each_beat.max(1),
            delay_ns,
            waiting: VecDeque::with_capacity(WAITING),
            began: None,
            interruptions: 0,
            interrupted: VecDeque::with_capacity(REMEMBERED),
        }
    }

    pub(super) fn struck_by_key(&mut self, at: Instant) {
        if self.waiting.len() < WAITING {
            self.waiting.push_back(at);
        }
    }

    fn listen(&mut self) {
        while let Some(heard) = self.heard.and_then(|heard| heard.try_recv().ok()) {
            if heard.note_on().is_some() {
                self.struck_by_key(heard.at);
            }
        }
    }

    /// A bar has begun; the player is not asked to play in a count-in.
    pub(super) fn bar_began(&mut self, place: (u32, u32), bar: &Bar) {
        if self.began.replace(place) != Some(place) && !is_count_in(bar) {
            let places = u64::from(bar.meter.beat_count()) * u64::from(self.each_beat);
            self.strokes.passed(places);
        }
    }

    pub(super) fn timing(self) -> PlayerTiming {
        self.strokes.timing()
    }
}

fn is_count_in(bar: &Bar) -> bool {
    matches!(bar.region, Region::CountIn { .. })
}

/// A place of a bar at which a stroke is due, in ticks from its beginning.
struct Place {
    ticks: f64,
    gap_ticks: f64,
    beat: u32,
    part: u32,
}

#[allow(clippy::cast_precision_loss)] // ticks of a bar
fn float(ticks: u64) -> f64 {
    ticks as f64
}

/// The places of a bar, and the first of the next.
fn places(bar: &Bar, each_beat: u32) -> impl Iterator<Item = Place> {
    let parts = move |(beat, length, offset): (u32, f64, f64)| {
        (0..each_beat).map(move |part| Place {
            ticks: offset + length * f64::from(part) / f64::from(each_beat),
            gap_ticks: length / f64::from(each_beat),
            beat,
            part: part + 1,
        })
    };
    let first = bar.meter.beats().next();
    let first_ticks = first.map_or(TICKS_PER_QUARTER, |beat| beat.length_ticks);
    let next = Place {
        ticks: float(bar.meter.bar_ticks()),
        gap_ticks: float(first_ticks) / f64::from(each_beat),
        beat: 1,
        part: 1,
    };
    (1u32..)
        .zip(bar.meter.beats())
        .map(|(number, beat)| (number, float(beat.length_ticks), float(beat.offset_ticks)))
        .flat_map(parts)
        .chain(std::iter::once(next))
}

impl Conductor<'_, '_> {
    /// Judges the strokes that were heard some time ago.
    pub(super) fn hear_strokes(&mut self) {
        self.judge_strokes_before(LATER_NS);
    }

    /// Judges all strokes that were heard: playing is over.
    pub(super) fn hear_last_strokes(&mut self) {
        self.judge_strokes_before(0);
        let now = self.lanes.first().and_then(Lane::time);
        if let Some(mut check) = self.check.take() {
            if let Some(now) = now {
                self.end_interruption(&mut check, now);
            }
            self.check = Some(check);
        }
    }

    fn judge_strokes_before(&mut self, later_ns: u64) {
        let Some(mut check) = self.check.take() else {
            return;
        };
        check.listen();
        let now = self.lanes.first().and_then(Lane::time);
        if let Some(now) = now {
            self.look_for_interruptions(&mut check, now);
        }
        while let Some(instant) = check.waiting.front() {
            let at = self.lanes.first().and_then(|lane| lane.time_at(*instant));
            let Some((at, now)) = at.zip(now) else {
                // Before the start.
                check.waiting.pop_front();
                continue;
            };
            if now.get() < at.get() + later_ns {
                break;
            }
            check.waiting.pop_front();
            if check.interrupted.iter().any(|one| one.holds(at)) {
                check.strokes.withhold();
            } else if let Some(stroke) = self.judge(&check, at) {
                check.strokes.note(&stroke);
            }
        }
        self.check = Some(check);
    }

    /// Notes when the sound is interrupted, and when all is well again.
    fn look_for_interruptions(&self, check: &mut StrokeCheck<'_>, now: Nanos) {
        let Some(lane) = self.lanes.first() else {
            return;
        };
        let count = lane.interruptions();
        if count != check.interruptions {
            check.interruptions = count;
            // One that comes before the last is over extends that.
            if check
                .interrupted
                .back()
                .is_none_or(|last| last.until.is_some())
            {
                if check.interrupted.len() == REMEMBERED {
                    check.interrupted.pop_front();
                }
                check.interrupted.push_back(Interruption {
                    since: Nanos::new(now.get().saturating_sub(LATER_NS)),
                    until: None,
                });
                check.strokes.interrupted();
            }
        }
        let settled = |last: &Interruption| now.get() > last.since.get() + LATER_NS + SETTLING_NS;
        if lane.time_is_known() && check.interrupted.back().is_some_and(settled) {
            self.end_interruption(check, now);
        }
    }

    /// The last interruption is over, if it was not before.
    fn end_interruption(&self, check: &mut StrokeCheck<'_>, now: Nanos) {
        if let Some(last) = check.interrupted.back_mut()
            && last.until.is_none()
        {
            last.until = Some(now);
            let places = self.places_between(last.since, now, check.each_beat);
            let lost = now.get().saturating_sub(last.since.get());
            check.strokes.not_judged(Nanos::new(lost), places);
        }
    }

    /// About how many places passed between two times, by the bar that plays.
    fn places_between(&self, since: Nanos, until: Nanos, each_beat: u32) -> u64 {
        let bar = self.here.filter(|bar| !is_count_in(bar));
        let (Some(bar), Some(from), Some(to)) = (bar, self.map.at(since), self.map.at(until))
        else {
            return 0;
        };
        let places = f64::from(bar.meter.beat_count()) * f64::from(each_beat);
        let bars = (to.played - from.played).max(0.0) / float(bar.meter.bar_ticks());
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // never below zero
        let passed = (bars * places).round() as u64;
        passed
    }

    /// The stroke heard at `at`; `None` where nothing was playing.
    fn judge(&self, check: &StrokeCheck<'_>, at: Nanos) -> Option<Stroke> {
        let played = Nanos::new(at.get().checked_add_signed(-check.delay_ns)?);
        let here = self.map.at(played).filter(|here| !here.paused)?;
        let bar = self.bar_of(&here)?;
        let tick = here.tick - float(bar.start.get());
        let nearest = places(&bar, check.each_beat).min_by(|a, b| {
            let off = |place: &Place| (tick - place.ticks).abs();
            off(a).total_cmp(&off(b))
        })?;
        let next = nearest.ticks >= float(bar.meter.bar_ticks());
        // In a count-in only a stroke early for the bar after it counts.
        if is_count_in(&bar) && !next {
            return None;
        }
        let ns = |ticks: f64| {
            ticks * f64::from(here.tempo.us_per_quarter()) * 1000.0 / float(TICKS_PER_QUARTER)
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within a bar
        Some(Stroke {
            offset_ns: ns(tick - nearest.ticks).round() as i64 + check.delay_ns,
            bar: bar.number + i64::from(next),
            beat: nearest.beat,
            part: nearest.part,
            parts: check.each_beat,
            gap_ns: ns(nearest.gap_ticks).round() as u64,
            at,
        })
    }

    fn bar_of(&self, here: &PlayedAt) -> Option<Bar> {
        let holds = |handed: &&Handed| {
            let bar = &handed.bar;
            here.tick >= float(bar.start.get()) && here.tick < float(bar.end().get())
        };
        self.supply
            .handed_in(here.run)
            .find(holds)
            .map(|handed| handed.bar)
    }
}
