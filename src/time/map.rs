//! The tempo map: the plan turned into whole microseconds per quarter note, once.

mod goal;

use std::sync::Arc;

pub use self::goal::Goal;
use super::bend::Bend;
use super::plan::{Rate, Shape, rungs};
use super::{
    Amount, Clockwork, Grid, Length, Nanos, PlanRepeat, Ritardando, TICKS_PER_QUARTER, Tempo,
    TempoPlan, Tick,
};

/// Thousandths of a quarter a minute, times 960, that one minute of microseconds is divided by.
const MINUTE_SCALED: u128 = 60_000_000 * 1000 * TICKS_PER_QUARTER as u128;

/// A piece of the map: from `start` ticks after the plan's origin.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Segment {
    start: u64,
    /// `None` for the last, which holds.
    end: Option<u64>,
    course: Course,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Course {
    Flat(Tempo),
    Bent(Bend),
}

/// The tempo map of a piece: at which tick which tempo begins.
///
/// These pairs are what a MIDI file holds and what live playing counts by. A plateau is one pair, the nearest whole
/// number of microseconds. A ramp is cut into steps; each step carries the rounding of those before it, so every bar
/// line lies within a microsecond of the closed form counted from the ramp's start, and every tick within a
/// millisecond.
///
/// A map needs no more memory than its plan: pairs are made lazily, so an endless piece whose plan starts again in each
/// pass is no larger.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoMap {
    /// The plan from bar 1.
    once: Vec<Segment>,
    /// The plan from the start of a pass, where it starts again with each.
    each: Option<Vec<Segment>>,
    bar_one: Tick,
    first_pass: Tick,
    pass_ticks: u64,
    passes: Option<u64>,
    /// From the first tick of the map on: the ritardando, which takes the place of the plan from where it begins.
    close: Option<Vec<Segment>>,
    /// Steps of ramps end on multiples of this from the origin, as every bar line does.
    lattice_ticks: u64,
}

fn flat(scaled: u64) -> Tempo {
    let scaled = u128::from(scaled.max(1));
    let us = (MINUTE_SCALED + scaled / 2) / scaled;
    Tempo::new(u64::try_from(us).unwrap_or(u64::MAX)).unwrap_or(Tempo::SLOWEST)
}

#[allow(clippy::cast_precision_loss)]
fn qpm(scaled: u64) -> f64 {
    scaled as f64 / (1000 * TICKS_PER_QUARTER) as f64
}

/// Where musical lengths end, seen from the start of bar 1 or of a pass.
struct Ruler<'a> {
    grid: &'a Grid,
    origin: Tick,
}

impl Ruler<'_> {
    fn tick_after(&self, from: u64, length: Length) -> u64 {
        let start = self.origin + from;
        let end = match length.amount() {
            Amount::Bars => self.grid.bar_at_or_beyond(start).and_then(|bar| {
                // A stretch that begins inside a bar keeps its distance from the bar line.
                let bars = i64::try_from(length.count()).ok()?;
                let end = self.grid.bar_or_beyond(bar.number.checked_add(bars)?)?;
                Some(end.start + (start - bar.start))
            }),
            Amount::Beats => self.beats_after(start, length.count()),
            Amount::Seconds => Some(start),
        };
        end.map_or(u64::MAX / 4, |end| end.saturating_since(self.origin))
    }

    /// `count` beats after `start`; a start inside a beat keeps its distance from the beat.
    fn beats_after(&self, start: Tick, mut count: u64) -> Option<Tick> {
        let mut bar = self.grid.bar_at_or_beyond(start)?;
        let within = start - bar.start;
        let first = bar
            .meter
            .beats()
            .filter(|b| b.offset_ticks <= within)
            .last()?;
        let inside = within - first.offset_ticks;
        count += bar
            .meter
            .beats()
            .take_while(|b| b.offset_ticks < first.offset_ticks)
            .count() as u64;
        loop {
            let beats = u64::from(bar.meter.beat_count());
            if count < beats {
                let beat = u32::try_from(count).ok()?;
                return Some(bar.start + bar.meter.beat_offset_ticks(beat) + inside);
            }
            count -= beats;
            bar = self.grid.bar_or_beyond(bar.number + 1)?;
        }
    }
}

#[allow(clippy::cast_precision_loss)]
fn seconds(length: Length) -> f64 {
    length.count() as f64 / 1000.0
}

/// Ticks that fill `length` seconds at a tempo, to the nearest.
fn ticks_in(length: Length, tempo: Tempo) -> u64 {
    let us = u128::from(tempo.us_per_quarter());
    let ticks = (u128::from(length.count()) * 1000 * u128::from(TICKS_PER_QUARTER) + us / 2) / us;
    u64::try_from(ticks).unwrap_or(u64::MAX / 4).max(1)
}

fn lay_out(plan: &TempoPlan, ruler: &Ruler<'_>, unit_ticks: u64) -> Vec<Segment> {
    let mut found: Vec<Segment> = Vec::new();
    let mut at = 0u64;
    let scaled = |rate: Rate| rate.scaled_quarters(unit_ticks);
    let plateau = |found: &mut Vec<Segment>, at: &mut u64, tempo: Tempo, length: Option<Length>| {
        let end = length.map(|length| match length.amount() {
            Amount::Seconds => *at + ticks_in(length, tempo),
            _ => ruler.tick_after(*at, length).max(*at + 1),
        });
        found.push(Segment {
            start: *at,
            end,
            course: Course::Flat(tempo),
        });
        *at = end.unwrap_or(*at);
    };
    for stretch in plan.stretches() {
        match &stretch.shape {
            Shape::Exact { tempo, ticks } => {
                let end = ticks.map(|ticks| at.saturating_add(ticks));
                found.push(Segment {
                    start: at,
                    end,
                    course: Course::Flat(*tempo),
                });
                at = end.unwrap_or(at);
            }
            Shape::Hold { rate, length } => {
                plateau(&mut found, &mut at, flat(scaled(*rate)), *length)
            }
            Shape::Ladder {
                from,
                to,
                by,
                back,
                every,
            } => {
                for milli in rungs(from.milli(), to.milli(), *by, *back) {
                    plateau(
                        &mut found,
                        &mut at,
                        flat(scaled(from.with_milli(milli))),
                        Some(*every),
                    );
                }
            }
            // Over the whole piece: the caller has put in its length.
            Shape::Ramp {
                from, over: None, ..
            } => plateau(&mut found, &mut at, flat(scaled(*from)), None),
            Shape::Ramp {
                from,
                to,
                over: Some(over),
            } => {
                let (b0, b1) = (scaled(*from), scaled(*to));
                let (end, bend) = match over.amount() {
                    Amount::Seconds => {
                        let span = seconds(*over);
                        // The ramp covers its mean tempo times its length.
                        let quarters = (qpm(b0) + qpm(b1)) / 2.0 * span / 60.0;
                        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                        #[allow(clippy::cast_precision_loss)]
                        let ticks = ((quarters * TICKS_PER_QUARTER as f64).round() as u64).max(1);
                        (at + ticks, Bend::in_time(qpm(b0), qpm(b1), span))
                    }
                    _ => {
                        let end = ruler.tick_after(at, *over).max(at + 1);
                        (end, Bend::per_quarter(qpm(b0), qpm(b1), end - at))
                    }
                };
                let course = if b0 == b1 {
                    Course::Flat(flat(b0))
                } else {
                    Course::Bent(bend)
                };
                found.push(Segment {
                    start: at,
                    end: Some(end),
                    course,
                });
                at = end;
                // It arrives at its target, which holds until the next stretch begins.
                found.push(Segment {
                    start: at,
                    end: Some(at),
                    course: Course::Flat(flat(b1)),
                });
            }
        }
    }
    // The last tempo holds.
    if let Some(segment) = found.last_mut()
        && let Course::Flat(_) = segment.course
    {
        segment.end = None;
    }
    found
}

impl TempoMap {
    /// The map of `plan` over the bars of `grid`.
    ///
    /// The count-in has the first tempo; the plan starts at bar 1 and, with [`PlanRepeat::EachPass`], again at the
    /// start of each pass. Check the plan first ([`TempoPlan::check`]): a tempo no file can hold is brought to the
    /// nearest that it can.
    pub fn new(plan: &TempoPlan, repeat: PlanRepeat, grid: &Grid) -> Self {
        let unit_ticks = grid.first_meter().tempo_unit_ticks();
        let lay = |origin| lay_out(plan, &Ruler { grid, origin }, unit_ticks);
        let once = lay(grid.bar_one());
        let each = (repeat == PlanRepeat::EachPass).then(|| lay(grid.first_pass()));
        let whole = 4 * TICKS_PER_QUARTER;
        TempoMap {
            once,
            each,
            bar_one: grid.bar_one(),
            first_pass: grid.first_pass(),
            pass_ticks: grid.pass_ticks(),
            passes: grid.passes(),
            close: None,
            lattice_ticks: (whole / u64::from(grid.finest_denominator())).min(TICKS_PER_QUARTER),
        }
    }

    /// The same map with `ritardando` before the last bar of `grid`, which keeps the tempo that it comes to.
    ///
    /// It takes as many bars as there are between bar 1 and the last bar, if they are fewer. A piece without end, and one
    /// of a single bar, have none.
    #[must_use]
    pub fn slowing(mut self, ritardando: Ritardando, grid: &Grid) -> Self {
        let Some((start, end)) = before_last(grid, ritardando.bars()) else {
            return self;
        };
        let plain = Arc::new(self.clone());
        let tempo = TempoCursor::new(&plain).tempo_at(start);
        #[allow(clippy::cast_precision_loss)] // below 2^24
        let from = 60e6 / tempo.us_per_quarter() as f64;
        let to = from * f64::from(ritardando.percent()) / 100.0;
        self.close = Some(vec![
            Segment {
                start: start.get(),
                end: Some(end.get()),
                course: Course::Bent(Bend::to_end(from, to, end.saturating_since(start))),
            },
            Segment {
                start: end.get(),
                end: None,
                course: Course::Flat(Tempo::clamped(60e6 / to)),
            },
        ]);
        self
    }

    /// The tick at which the ritardando begins.
    fn close_start(&self) -> Option<Tick> {
        let first = self.close.as_ref()?.first()?;
        Some(Tick::new(first.start))
    }

    /// The map of one tempo throughout.
    pub fn steady(tempo: Tempo) -> Self {
        TempoMap {
            once: vec![Segment {
                start: 0,
                end: None,
                course: Course::Flat(tempo),
            }],
            each: None,
            bar_one: Tick::ZERO,
            first_pass: Tick::ZERO,
            pass_ticks: 1,
            passes: Some(0),
            close: None,
            lattice_ticks: TICKS_PER_QUARTER,
        }
    }

    /// The pairs in order, from tick 0: never two at one tick, and never the same tempo twice in a row but where
    /// the plan starts again.
    ///
    /// Without end where the plan starts again in each of endless passes.
    pub fn pairs(self: &Arc<Self>) -> Pairs {
        Pairs {
            map: Arc::clone(self),
            in_each: None,
            closing: false,
            segment: 0,
            ramp: None,
            first: true,
            last: None,
            anew: true,
            pending: None,
        }
    }
}

/// Where a ritardando over so many bars begins, and the bar line before the last bar, where it ends.
fn before_last(grid: &Grid, bars: u8) -> Option<(Tick, Tick)> {
    let last = i64::try_from(grid.last_bar()?).ok()?;
    let first = (last - i64::from(bars)).max(1);
    let (start, end) = (grid.bar(first)?.start, grid.bar(last)?.start);
    (start < end).then_some((start, end))
}

/// A ramp on its way: exact time gone in microsecond-ticks (1/960 us).
#[derive(Clone, Copy, Debug)]
struct RampState {
    at: u64,
    gone: u64,
}

/// The pairs of a [`TempoMap`], made one by one.
#[derive(Clone, Debug)]
pub struct Pairs {
    map: Arc<TempoMap>,
    /// The pass whose plan is read, where it starts again with each.
    in_each: Option<u64>,
    /// Whether the ritardando is read.
    closing: bool,
    segment: usize,
    ramp: Option<RampState>,
    first: bool,
    last: Option<Tempo>,
    /// The next pair is the first since a start of the plan.
    anew: bool,
    pending: Option<Pair>,
}

/// Tick, tempo, and whether it is the first since a start of the plan.
type Pair = (Tick, Tempo, bool);

impl Pairs {
    fn origin(&self) -> Tick {
        match self.in_each {
            _ if self.closing => Tick::ZERO,
            Some(pass) => self.map.first_pass + pass * self.map.pass_ticks,
            None => self.map.bar_one,
        }
    }

    /// Where the plan now read is cut off by its next start.
    fn cut(&self) -> Option<Tick> {
        self.map.each.as_ref().filter(|_| !self.closing)?;
        let next = self.in_each.map_or(0, |pass| pass + 1);
        let played = self.map.passes.is_none_or(|passes| next < passes);
        played.then(|| self.map.first_pass + next * self.map.pass_ticks)
    }

    fn restart(&mut self) {
        self.in_each = Some(self.in_each.map_or(0, |pass| pass + 1));
        self.segment = 0;
        self.ramp = None;
        // Repeated at each start, so that the search for a change ends even if the plan never changes.
        self.anew = true;
    }

    /// Goes on with the ritardando.
    fn close(&mut self) {
        self.closing = true;
        self.segment = 0;
        self.ramp = None;
    }

    /// The next pair, equal neighbors included.
    fn raw(&mut self) -> Option<Pair> {
        loop {
            let origin = self.origin();
            let cut = self.cut();
            let close = self.map.close_start().filter(|_| !self.closing);
            let segments = match (&self.map.close, &self.map.each, self.in_each) {
                (Some(close), ..) if self.closing => close,
                (_, Some(each), Some(_)) => each,
                _ => &self.map.once,
            };
            let Some(segment) = segments.get(self.segment).copied() else {
                match (cut, close) {
                    (Some(_), _) => self.restart(),
                    (None, Some(_)) => self.close(),
                    (None, None) => return None,
                }
                continue;
            };
            let start = origin + self.ramp.map_or(segment.start, |ramp| ramp.at);
            if close.is_some_and(|close| start >= close && cut.is_none_or(|cut| close < cut)) {
                self.close();
                continue;
            }
            if cut.is_some_and(|cut| start >= cut) {
                self.restart();
                continue;
            }
            match segment.course {
                Course::Flat(tempo) => {
                    self.segment += 1;
                    return Some((start, tempo, std::mem::take(&mut self.anew)));
                }
                Course::Bent(bend) => {
                    let end = segment.end.unwrap_or(segment.start);
                    let state = self.ramp.unwrap_or(RampState {
                        at: segment.start,
                        gone: 0,
                    });
                    if state.at >= end {
                        self.ramp = None;
                        self.segment += 1;
                        continue;
                    }
                    let lattice = self.map.lattice_ticks;
                    let cell_end = ((state.at / lattice + 1) * lattice).min(end);
                    let from_start = |tick: u64| tick - segment.start;
                    let step = bend.step_ticks(from_start(state.at), from_start(cell_end));
                    let next = step_end(state.at, step, cell_end);
                    // The time elapsed by the closed form, in 1/960 us, less what has elapsed already.
                    #[allow(clippy::cast_precision_loss)]
                    let due = bend.seconds(from_start(next)) * 1e6 * TICKS_PER_QUARTER as f64;
                    #[allow(clippy::cast_precision_loss)]
                    let tempo =
                        Tempo::clamped((due - state.gone as f64) / (next - state.at) as f64);
                    let gone = state.gone + u64::from(tempo.us_per_quarter()) * (next - state.at);
                    self.ramp = Some(RampState { at: next, gone });
                    return Some((start, tempo, std::mem::take(&mut self.anew)));
                }
            }
        }
    }
}

/// The end of a step of `step` ticks that begins at `at`: on the next multiple of `step`, at most `cell_end`.
fn step_end(at: u64, step: u64, cell_end: u64) -> u64 {
    ((at / step + 1) * step).min(cell_end)
}

impl Iterator for Pairs {
    type Item = (Tick, Tempo);

    fn next(&mut self) -> Option<(Tick, Tempo)> {
        let mut current = match self.pending.take() {
            Some(pair) => pair,
            None => self.raw()?,
        };
        loop {
            // Of two pairs at one tick only the later counts.
            let following = self.raw();
            match following {
                Some(next) if next.0 <= current.0 => {
                    current = (current.0, next.1, current.2 | next.2)
                }
                other => {
                    self.pending = other;
                    if self.first {
                        self.first = false;
                        current.0 = Tick::ZERO;
                    }
                    if current.2 || self.last != Some(current.1) {
                        self.last = Some(current.1);
                        return Some((current.0, current.1));
                    }
                    current = self.pending.take()?;
                }
            }
        }
    }
}

/// Ticks to time and back along a map, fastest when asked in order.
#[derive(Clone, Debug)]
pub struct TempoCursor {
    map: Arc<TempoMap>,
    pairs: Pairs,
    next: Option<(Tick, Tempo)>,
    clock: Clockwork,
}

impl TempoCursor {
    /// A cursor at tick 0.
    pub fn new(map: &Arc<TempoMap>) -> Self {
        let mut pairs = map.pairs();
        let first = pairs.next().map_or(Tempo::DEFAULT, |(_, tempo)| tempo);
        let next = pairs.next();
        TempoCursor {
            map: Arc::clone(map),
            pairs,
            next,
            clock: Clockwork::new(first),
        }
    }

    fn step(&mut self) {
        if let Some((tick, tempo)) = self.next {
            self.clock.change(tick, tempo);
            self.next = self.pairs.next();
        }
    }

    /// The time of `tick`. Asking for an earlier tick than before walks the map from its start again.
    pub fn at(&mut self, tick: Tick) -> Nanos {
        if tick < self.clock.since() {
            *self = TempoCursor::new(&self.map);
        }
        while self.next.is_some_and(|(at, _)| at <= tick) {
            self.step();
        }
        self.clock.at(tick)
    }

    /// The tempo in force at `tick`.
    pub fn tempo_at(&mut self, tick: Tick) -> Tempo {
        self.at(tick);
        self.clock.tempo()
    }

    /// The last tick whose time is not after `instant`.
    pub fn tick_at(&mut self, instant: Nanos) -> Tick {
        if instant < self.clock.at(self.clock.since()) {
            *self = TempoCursor::new(&self.map);
        }
        while let Some((at, _)) = self.next {
            if self.clock.at(at) > instant {
                break;
            }
            self.step();
        }
        self.clock.tick_at(instant)
    }
}

#[cfg(test)]
mod tests;
