//! Ticks, nanoseconds, tempo, and the exact sum that joins them.

use std::fmt;
use std::ops::{Add, AddAssign, Sub};

/// Ticks to the quarter note, in every piece and every file this crate writes.
///
/// 960 is divisible by 24 (the MIDI clock, 40 ticks a pulse), by 3 and by 5, so triplets and quintuplets of
/// eighths fall on whole ticks.
pub const TICKS_PER_QUARTER: u64 = 960;

/// A position in musical time: ticks since the start of the count-in, from 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tick(u64);

impl Tick {
    /// The start of the piece, count-in included.
    pub const ZERO: Tick = Tick(0);

    /// The position `ticks` after the start.
    pub const fn new(ticks: u64) -> Self {
        Tick(ticks)
    }

    /// Ticks since the start.
    pub const fn get(self) -> u64 {
        self.0
    }

    /// Ticks from `earlier` to here, 0 where `earlier` is later.
    pub const fn saturating_since(self, earlier: Tick) -> u64 {
        self.0.saturating_sub(earlier.0)
    }
}

impl Add<u64> for Tick {
    type Output = Tick;
    fn add(self, ticks: u64) -> Tick {
        Tick(self.0 + ticks)
    }
}

impl AddAssign<u64> for Tick {
    fn add_assign(&mut self, ticks: u64) {
        self.0 += ticks;
    }
}

impl Sub for Tick {
    type Output = u64;
    fn sub(self, earlier: Tick) -> u64 {
        self.0 - earlier.0
    }
}

impl fmt::Display for Tick {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A position in physical time: nanoseconds since the start of the piece.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Nanos(u64);

impl Nanos {
    /// The start of the piece.
    pub const ZERO: Nanos = Nanos(0);

    /// `ns` nanoseconds after the start.
    pub const fn new(ns: u64) -> Self {
        Nanos(ns)
    }

    /// Nanoseconds since the start.
    pub const fn get(self) -> u64 {
        self.0
    }

    /// The same in seconds, for printing.
    #[allow(clippy::cast_precision_loss)]
    pub fn as_secs_f64(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// The same as a [`std::time::Duration`].
    pub const fn as_duration(self) -> std::time::Duration {
        std::time::Duration::from_nanos(self.0)
    }
}

/// A tempo as a MIDI file holds it: whole microseconds per quarter note, 1 to 16 777 215 (24 bits).
///
/// Source of the range: Standard MIDI Files 1.0, the Set Tempo meta event. 0 is excluded, since music would then take
/// no time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tempo(u32);

/// A tempo outside what a MIDI file can hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a tempo is 1 to 16777215 microseconds per quarter note, found {0}")]
pub struct TempoError(pub u64);

impl Tempo {
    /// The slowest tempo a MIDI file can hold, about 3.576 quarter notes a minute.
    pub const SLOWEST: Tempo = Tempo(0x00FF_FFFF);

    /// 120 quarter notes a minute, the default of a file without a tempo.
    pub const DEFAULT: Tempo = Tempo(500_000);

    /// A tempo of `us` microseconds per quarter note.
    ///
    /// # Errors
    /// When `us` is 0 or above 16 777 215.
    pub fn new(us: u64) -> Result<Self, TempoError> {
        match u32::try_from(us) {
            Ok(v) if (1..=Self::SLOWEST.0).contains(&v) => Ok(Tempo(v)),
            _ => Err(TempoError(us)),
        }
    }

    /// The nearest tempo a file can hold.
    pub fn clamped(us: f64) -> Self {
        // The cast of a float saturates, and the clamp keeps it inside 24 bits.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        Tempo(us.round().clamp(1.0, f64::from(Self::SLOWEST.0)) as u32)
    }

    /// Microseconds per quarter note.
    pub const fn us_per_quarter(self) -> u32 {
        self.0
    }

    /// Thousandths of a beat a minute, where a beat is `unit_ticks` ticks (960: quarter notes), to the nearest; a beat of
    /// no ticks counts as one.
    pub fn milli_a_minute(self, unit_ticks: u64) -> u64 {
        let minute = 60_000_000 * 1000 * TICKS_PER_QUARTER;
        let beat = u64::from(self.0).saturating_mul(unit_ticks.max(1));
        minute.saturating_add(beat / 2) / beat
    }

    /// Quarter notes a minute, for printing.
    pub fn quarters_per_minute(self) -> f64 {
        60e6 / f64::from(self.0)
    }
}

/// Parts of a nanosecond in which time is summed: a tick lasts `us * 1000 / 960` ns, which is `us * 25` of
/// these, a whole number.
const UNITS_PER_NANO: u64 = 24;
const UNITS_PER_US_TICK: u64 = 25;

/// The exact sum of musical time: a position, the tempo from there on, and the time elapsed so far.
///
/// Time is summed in 1/24 ns, in which every tick of every tempo is a whole number, and rounded (half up) only
/// when read. 24 hours are 2.1e15 of them; a `u64` holds 24 years.
///
/// ```
/// use fivefold::time::{Clockwork, Nanos, Tempo, Tick};
/// let mut clock = Clockwork::new(Tempo::new(500_000)?);
/// // 64 quarter notes of 960 ticks at 120 a minute: 32 seconds.
/// assert_eq!(clock.at(Tick::new(64 * 960)), Nanos::new(32_000_000_000));
/// clock.change(Tick::new(960), Tempo::new(1_000_000)?);
/// assert_eq!(clock.at(Tick::new(1920)), Nanos::new(1_500_000_000));
/// # Ok::<(), fivefold::time::TempoError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Clockwork {
    tick: Tick,
    units: u64,
    tempo: Tempo,
}

impl Clockwork {
    /// A clock at tick 0 and time 0.
    pub const fn new(tempo: Tempo) -> Self {
        Clockwork {
            tick: Tick::ZERO,
            units: 0,
            tempo,
        }
    }

    /// The tempo now in force.
    pub const fn tempo(&self) -> Tempo {
        self.tempo
    }

    /// The tick at which it came into force.
    pub const fn since(&self) -> Tick {
        self.tick
    }

    /// Changes the tempo at `tick`, which must not lie before the last change; an earlier one counts as that.
    pub const fn change(&mut self, tick: Tick, tempo: Tempo) {
        self.units = self.units_at(tick);
        if tick.0 > self.tick.0 {
            self.tick = tick;
        }
        self.tempo = tempo;
    }

    const fn units_at(&self, tick: Tick) -> u64 {
        self.units + tick.saturating_since(self.tick) * (self.tempo.0 as u64) * UNITS_PER_US_TICK
    }

    /// The time of `tick`, rounded to the nearest nanosecond; a tick before the last tempo change gets the time
    /// of that change.
    pub const fn at(&self, tick: Tick) -> Nanos {
        Nanos((self.units_at(tick) + UNITS_PER_NANO / 2) / UNITS_PER_NANO)
    }

    /// The last tick whose time is not after `instant`, at the tempo now in force; the tick of the last change
    /// where `instant` lies before it.
    pub const fn tick_at(&self, instant: Nanos) -> Tick {
        // at(tick) <= instant  <=>  units_at(tick) + 12 < (instant + 1) * 24
        let bound = (instant.0 + 1) * UNITS_PER_NANO - UNITS_PER_NANO / 2;
        if bound <= self.units + 1 {
            return self.tick;
        }
        Tick(self.tick.0 + (bound - 1 - self.units) / (self.tempo.0 as u64 * UNITS_PER_US_TICK))
    }

    /// The last tick whose exact time is not after `instant`, at the tempo now in force, and what is left from there to
    /// `instant`: in 1/960 us, less than a tick lasts. The tick of the last change, and nothing, where `instant` lies
    /// before it.
    ///
    /// What is left is rounded down to 1/960 us; of a whole number of milliseconds it is exact.
    pub(crate) const fn split_at(&self, instant: Nanos) -> (Tick, u64) {
        let us_ticks = (instant.0 * UNITS_PER_NANO).saturating_sub(self.units) / UNITS_PER_US_TICK;
        let us = self.tempo.0 as u64;
        (Tick(self.tick.0 + us_ticks / us), us_ticks % us)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn smf_standard_example_of_a_tempo_map() {
        // Standard MIDI Files 1.0: 6144 ticks at 96 a quarter and 500 000 us are 32 000 ms; here in 960ths.
        let clock = Clockwork::new(Tempo::DEFAULT);
        assert_eq!(clock.at(Tick::new(6144 * 10)), Nanos::new(32_000_000_000));
    }

    #[test]
    fn tempo_range_is_that_of_24_bits() {
        assert!(Tempo::new(0).is_err());
        assert!(Tempo::new(16_777_215).is_ok());
        assert_eq!(
            Tempo::new(16_777_216).unwrap_err().to_string(),
            "a tempo is 1 to 16777215 microseconds per quarter note, found 16777216"
        );
    }

    proptest::proptest! {
        #[test]
        fn tick_to_time_and_back_is_identity(us in 62_500u64..=16_777_215, tick in 0u64..1_000_000_000) {
            let clock = Clockwork::new(Tempo::new(us).unwrap());
            let tick = Tick::new(tick);
            proptest::prop_assert_eq!(clock.tick_at(clock.at(tick)), tick);
        }

        #[test]
        fn an_instant_is_whole_ticks_and_what_is_left(us in 62_500u64..=16_777_215, ms in 500u64..10_000_000) {
            let mut clock = Clockwork::new(Tempo::DEFAULT);
            clock.change(Tick::new(960), Tempo::new(us).unwrap());
            let (tick, left) = clock.split_at(Nanos::new(ms * 1_000_000));
            proptest::prop_assert!(left < us);
            // In 1/960 us: the first quarter note, the ticks behind it, and what is left.
            let sum = 960 * 500_000 + (tick.get() - 960) * us + left;
            proptest::prop_assert_eq!(sum, ms * 960_000);
        }

        #[test]
        fn back_conversion_gives_the_last_tick_not_after(us in 62_500u64..=16_777_215, ns in 0u64..10_000_000_000_000) {
            let mut clock = Clockwork::new(Tempo::DEFAULT);
            clock.change(Tick::new(960), Tempo::new(us).unwrap());
            let ns = Nanos::new(ns + 500_000_000);
            let tick = clock.tick_at(ns);
            proptest::prop_assert!(clock.at(tick) <= ns);
            proptest::prop_assert!(clock.at(tick + 1) > ns);
        }
    }
}
