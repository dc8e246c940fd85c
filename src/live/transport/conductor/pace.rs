//! What is set while it plays: the tempo, the transposition, which parts are muted.

use std::time::Instant;

use super::{Conductor, Notice};
use crate::event::PartId;
use crate::live::dispatch::Wish;
use crate::live::transport::Pace;
use crate::live::transport::Tapping;
use crate::time::{Meter, Nanos, TICKS_PER_QUARTER, Tempo};

/// The least and the most that the plan may be scaled by, in millionths.
const SHARES: std::ops::RangeInclusive<u128> = 100_000..=10_000_000;

/// Microseconds a quarter at the fastest tempo of a plan (960 quarter notes a minute) and the slowest (3.6).
const QUARTERS_US: std::ops::RangeInclusive<u128> = 62_500..=16_666_667;

/// What was asked for, and holds until something else is.
pub(super) struct Settings {
    /// The share of the plan at which it plays.
    millionths: u32,
    pub(super) semitones: i8,
    muted: [bool; 256],
    /// Ticks of what the tempo counts.
    unit_ticks: u64,
    tapping: Tapping,
    /// What taps are timed from.
    epoch: Instant,
}

impl Settings {
    pub(super) fn new() -> Self {
        Settings {
            millionths: 1_000_000,
            semitones: 0,
            muted: [false; 256],
            unit_ticks: TICKS_PER_QUARTER,
            tapping: Tapping::default(),
            epoch: Instant::now(),
        }
    }

    /// The tempo counts the beats of this meter.
    pub(super) fn count_beats_of(&mut self, meter: Meter) {
        self.unit_ticks = meter.tempo_unit_ticks();
    }

    pub(super) fn is_muted(&self, part: PartId) -> bool {
        self.muted[usize::from(part.0)]
    }
}

impl Conductor<'_, '_> {
    pub(super) fn transpose(&mut self, semitones: i16) {
        let semitones = i8::try_from(semitones.clamp(-24, 24)).unwrap_or(0);
        self.settings.semitones = semitones;
        let notice = Notice::Transposed(semitones);
        self.wish(Wish::Transpose(semitones), Some(notice));
    }

    pub(super) fn mute(&mut self, part: PartId) {
        self.settings.muted[usize::from(part.0)] = true;
        self.wish(Wish::Mute(part), Some(Notice::Muted(part)));
    }

    pub(super) fn unmute(&mut self, part: PartId) {
        self.settings.muted[usize::from(part.0)] = false;
        self.wish(Wish::Unmute(part), Some(Notice::Unmuted(part)));
    }

    /// The plan's tempo where it plays now.
    fn plan(&self) -> Tempo {
        let here = self.lanes.here();
        here.map_or(Tempo::DEFAULT, |here| here.plan)
    }

    /// A beat of the plan's tempo where it plays now, in nanoseconds.
    fn plan_beat_ns(&self) -> u128 {
        u128::from(self.plan().us_per_quarter()) * 1000 * u128::from(self.settings.unit_ticks)
            / u128::from(TICKS_PER_QUARTER)
    }

    /// Thousandths of a beat a minute at a share of the plan.
    fn milli_beats(&self, millionths: u128) -> u128 {
        // 60 s in ns, times 1000, times the share.
        60_000_000_000_000 * millionths / (self.plan_beat_ns().max(1) * 1_000_000)
    }

    pub(super) fn pace(&mut self, pace: Pace) {
        let now = u128::from(self.settings.millionths);
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
            self.notify(Notice::TempoLimit);
            return;
        };
        self.settings.millionths = share;
        let milli = u32::try_from((self.milli_beats(millionths * 10) + 5) / 10).unwrap_or(0);
        let notice = Notice::Tempo {
            milli_beats: milli,
            millionths: share,
        };
        self.wish(Wish::Tempo(share), Some(notice));
    }

    pub(super) fn tap(&mut self, at: Instant) {
        // Taps are compared with each other only, so any clock will do.
        let since = at.saturating_duration_since(self.settings.epoch);
        let at = Nanos::new(u64::try_from(since.as_nanos()).unwrap_or(u64::MAX));
        let Some(interval) = self.settings.tapping.tap(at) else {
            self.notify(Notice::Tapped);
            return;
        };
        let exact = self.plan_beat_ns() * 1_000_000;
        let beat = u128::from(interval.get()).max(1);
        self.share((exact + beat / 2) / beat);
    }
}
