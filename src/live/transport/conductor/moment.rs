//! What is heard at an instant, for whoever shows it.

use super::Conductor;
use super::led::Leader;
use super::state::State;
use super::supply::{Entered, Handed};
use crate::event::{Bar, PartId};
use crate::live::following::FollowState;
use crate::live::reporting::PlayedAt;
use crate::live::transport::Lane;
use crate::time::{Nanos, Tempo};

/// Parts whose muting is told.
const TOLD_PARTS: u8 = 32;

/// What is heard at an instant: what was played a little before, by the latency of the device.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Which run of bars: each jump and each turn of a loop begins a new one.
    pub run: u32,
    /// The bar that is heard.
    pub bar: Bar,
    /// Ticks since its bar line.
    pub ticks: u64,
    /// The bars that come after it, as far as they are known: jumps and turns of a loop count.
    pub next: [Option<Bar>; 2],
    /// The tempo there, changes of the listener's included.
    pub tempo: Tempo,
    /// When this is, by the time of the first lane.
    pub at: Nanos,
    /// Whether it is paused, for whatever reason.
    pub paused: bool,
    /// The lane whose port is gone, by its place in the list: it is waited for.
    pub gone: Option<usize>,
    /// What is known of the clock that is followed, where one is.
    pub followed: Option<FollowState>,
    /// How often the sound broke off until now: dropouts, stalls of the machine.
    pub dropouts: u64,
    /// How many messages came so late that it can be heard.
    pub heard_late: u64,
    /// So many semitones higher than written, as it was asked for: from the next chord on.
    pub semitones: i8,
    /// The same of the chord that plays, which may be heard a little later.
    pub in_force: i8,
    /// The loop that plays: its first and its last bar.
    pub looped: Option<(i64, i64)>,
    /// Parts that are muted, a bit for each of the first 32 by its number.
    muted: u32,
}

/// What a piece does at a moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Activity {
    /// It plays, count-in and ending included.
    #[default]
    Plays,
    /// The listener has paused it.
    Paused,
    /// It waits for a port that is gone, or for the device that leads.
    Waits,
}

impl Moment {
    /// Whether it plays, and if not, who lets it go on.
    #[must_use]
    pub fn activity(&self) -> Activity {
        match (self.paused, self.gone, self.followed) {
            (_, Some(_), _) | (true, None, Some(_)) => Activity::Waits,
            (true, None, None) => Activity::Paused,
            (false, None, _) => Activity::Plays,
        }
    }

    /// The beginning of a bar in which nothing was asked for yet.
    #[must_use]
    pub fn first(bar: Bar, tempo: Tempo, at: Nanos) -> Moment {
        Moment {
            run: 0,
            bar,
            ticks: 0,
            next: [None; 2],
            tempo,
            at,
            paused: false,
            gone: None,
            followed: None,
            dropouts: 0,
            heard_late: 0,
            semitones: 0,
            in_force: 0,
            looped: None,
            muted: 0,
        }
    }

    /// Whether a part is muted; of parts beyond the first 32 it is not told.
    #[must_use]
    pub fn is_muted(&self, part: PartId) -> bool {
        part.0 < TOLD_PARTS && self.muted & (1 << part.0) != 0
    }
}

/// Who is shown what is heard, if anyone.
#[derive(Default)]
pub(super) struct Shown<'a>(Option<&'a mut dyn FnMut(&Moment)>);

impl<'a> Shown<'a> {
    pub(super) fn to(take: &'a mut dyn FnMut(&Moment)) -> Self {
        Shown(Some(take))
    }
}

impl Conductor<'_, '_> {
    /// Shows what is heard now, once anything is.
    pub(super) fn show_moment(&mut self) {
        if self.shown.0.is_none() {
            return;
        }
        if let Some(moment) = self.moment()
            && let Some(take) = &mut self.shown.0
        {
            take(&moment);
        }
    }

    fn moment(&self) -> Option<Moment> {
        let now = self.lanes.first().and_then(Lane::time)?;
        let here = self.map.at(now)?;
        let (index, bar) = self.heard_bar(&here)?;
        let lanes = || self.lanes.each.iter();
        let muted = (0..TOLD_PARTS).filter(|part| self.settings.is_muted(PartId(*part)));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held at zero
        let tick = here.tick.max(0.0) as u64;
        Some(Moment {
            run: here.run,
            bar,
            ticks: tick.saturating_sub(bar.start.get()),
            next: self.bars_after(here.run, index),
            tempo: here.tempo,
            at: now,
            paused: here.paused || self.state.is_paused(),
            gone: match self.state {
                State::Lost { lane, .. } => Some(lane),
                State::Playing | State::Paused { .. } => None,
            },
            followed: self.leader.as_ref().map(Leader::state),
            dropouts: lanes().map(|lane| lane.dropouts()).sum(),
            heard_late: lanes().map(|lane| lane.heard_late()).sum(),
            semitones: self.settings.semitones,
            in_force: self.lanes.here().map_or(0, |here| here.semitones),
            looped: self.loops.playing,
            muted: muted.fold(0, |bits, part| bits | 1 << part),
        })
    }

    /// The bar in which a place lies, with its place in the run.
    fn heard_bar(&self, here: &PlayedAt) -> Option<(u32, Bar)> {
        #[allow(clippy::cast_precision_loss)] // exact for centuries
        let begun = |handed: &&Handed| handed.bar.start.get() as f64 <= here.tick;
        let bars = self.supply.handed_in(here.run);
        // Before its first bar line it is the first.
        let found = bars.clone().filter(begun).last().or(bars.clone().next())?;
        Some((found.index, found.bar))
    }

    /// The bars after one of a run.
    fn bars_after(&self, run: u32, index: u32) -> [Option<Bar>; 2] {
        let newest = self.supply.run;
        let later = (run + 1..=newest.number).flat_map(|run| self.supply.handed_in(run));
        // What is left of a run that is left by a jump is not heard.
        let left = newest.number > run && newest.entered == Entered::ByJump;
        let rest = self.supply.handed_in(run);
        let rest = rest.filter(|handed| handed.index > index && !left);
        let mut next = rest.chain(later).map(|handed| handed.bar);
        [next.next(), next.next()]
    }
}
