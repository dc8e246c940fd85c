//! The filter behind [`Follower`](super::Follower): smoothed arrival times of pulses.

/// Pulses of the MIDI clock to a quarter note (MIDI 1.0, system real time).
pub(super) const PULSES_PER_QUARTER: u32 = 24;

/// Bandwidth of the settled loop, in cycles a quarter note: slower changes are followed, faster ones are taken for
/// jitter. In pulses, not in seconds, since changes of tempo are counted in beats.
pub(super) const BANDWIDTH: f64 = 0.3;

/// The assumed bound on jitter, in nanoseconds to either side: its initial and least value.
pub(super) const JITTER_NS: f64 = 2_000_000.0;

/// The largest value of that bound, however many outliers come.
const MOST_JITTER_NS: f64 = 8_000_000.0;

/// An outlier or two among pulses that come in time widen what counts as jitter by this factor,
const WIDEN: f64 = 1.1;

/// and a pulse in time narrows it by this: it holds where one pulse of a hundred is an outlier, ln(1.1) / 0.00095.
const NARROW: f64 = 1.0 - 0.000_95;

/// The phase counts as known when its variance is this share of a pulse's: to 0.55 ms where pulses jitter by 2 ms.
const LOCKED: f64 = 0.23;

/// A pulse farther off than jitter and the phase be wrong by so many standard deviations is an outlier.
const SURELY: f64 = 4.0;

/// So many outliers in a row are not chance: a pulse was lost, or the tempo has changed. A sixteenth.
const ROW: usize = 6;

/// After so many pulses, a quarter note, of outliers that are neither a burst nor evenly spaced: begin anew, and raise
/// the bound on jitter by half.
const HOPELESS: u32 = 24;
const HOPELESS_WIDEN: f64 = 1.5;

/// The largest jitter (a standard deviation) at which outliers still count as evenly spaced, as a multiple of the bound
/// on jitter.
const ROUGHEST: f64 = 1.25;

/// Periods of a pulse that are believed, in nanoseconds: 500 to 16 quarter notes a minute. The range that is promised,
/// 400 to 20, and room for an estimate to be off.
const SHORTEST_NS: f64 = 5_000_000.0;
const LONGEST_NS: f64 = 156_250_000.0;

/// The shortest first interval that is believed: 6.25 ms, the pulse of 400 a minute, with jitter at both ends.
const FIRST_NS: f64 = 2_000_000.0;

/// Weight of the newest error in the mean of the last errors, each taken by its own standard deviation.
const BIAS_WEIGHT: f64 = 0.125;

/// A mean of the last errors beyond this is not chance: four of its standard deviations, which are sqrt(weight / (2 -
/// weight)) = 0.258 where errors are independent.
const BIAS: f64 = 1.03;

/// How many pulses are still relied on when errors are biased to one side: half a quarter note.
const REMEMBERED: f64 = 12.0;

/// A gap is only recognized after so many pulses on time: before that, jitter may be larger than is known yet.
const QUIET: u32 = 12;

/// The most a gap may differ from a whole number of periods, as a share of a period.
const HOLE_SLACK: f64 = 0.25;

/// Uncertainty of the period after a silence, as a share.
const SILENCE_DOUBT: f64 = 0.01;

/// A delay-locked loop of second order over the arrivals of pulses. Pure: it is given instants and reads no clock.
///
/// It is the Kalman filter of a phase that is measured with jitter and a period that wanders. Its settled gains a for
/// the phase and b for the period obey b = a^2 / (2 - a) (Benedict and Bordner 1962), and the wandering is chosen so
/// that b / sqrt(1 - a) is the square of w = 2 pi x bandwidth / 24: nearly a = sqrt(2) w, b = w^2, the damping of
/// F. Adriaensen, "Using a DLL to filter time", Linux Audio Conference 2005.
///
/// The bound on jitter is learned too, from 2 ms up, so that one pulse of a hundred is beyond it. Three things are not
/// jitter and are handled differently. A pulse far from its time is an outlier and moves nothing. Six evenly spaced
/// outliers in a row are believed: the phase is taken from them, and the period too, except where they are off by half
/// a period or more and their own period does not clearly differ: then a pulse was lost. Errors biased to one side for
/// long mean a changing tempo: the loop then forgets all but the last half quarter note, that is, it becomes as wide as
/// it was early on.
#[derive(Clone, Copy, Debug)]
pub(super) struct PulseLoop {
    /// The number of the newest pulse, from 1.
    number: u64,
    /// When it should have come, by all that is known.
    at_ns: f64,
    period_ns: f64,
    /// Variance of the phase, covariance, variance of the period.
    doubt: [f64; 3],
    /// How many pulses were taken in since the loop began.
    known: u32,
    bias: f64,
    /// The bound on jitter.
    jitter_ns: f64,
    /// When the newest pulse came.
    came_ns: f64,
    /// Outliers in a row, and when the last of them came, the newest last.
    outliers: u32,
    strange: [f64; ROW],
    /// Outliers that were not a burst, since a pulse came in time.
    hopeless: u32,
    /// So many whole periods were missing before the newest pulse, an outlier.
    hole: Option<u32>,
    /// Pulses in a row that came in time.
    in_time: u32,
}

impl Default for PulseLoop {
    fn default() -> Self {
        PulseLoop {
            number: 0,
            at_ns: 0.0,
            period_ns: 0.0,
            doubt: [0.0; 3],
            known: 0,
            bias: 0.0,
            jitter_ns: JITTER_NS,
            came_ns: 0.0,
            outliers: 0,
            strange: [0.0; ROW],
            hopeless: 0,
            hole: None,
            in_time: 0,
        }
    }
}

/// Variances and covariance of phase and period, from a straight line through the last `n` of evenly spaced arrivals,
/// each with a variance of `noise` (least squares; the phase is that at the last).
fn of_line(n: f64, noise: f64) -> [f64; 3] {
    [
        2.0 * (2.0 * n - 1.0) / (n * (n + 1.0)) * noise,
        6.0 / (n * (n + 1.0)) * noise,
        12.0 / (n * (n * n - 1.0)) * noise,
    ]
}

/// A straight line through a row of arrivals.
struct Line {
    /// At the last.
    at_ns: f64,
    period_ns: f64,
    /// Root of the mean square of what is off the line, for the six less two that are free.
    rough_ns: f64,
}

impl Line {
    fn through(row: &[f64; ROW]) -> Self {
        // Places -2.5 to 2.5; the sum of their squares is 17.5.
        let place = |i: u8| f64::from(i) - 2.5;
        let mean = row.iter().sum::<f64>() / 6.0;
        let each = || (0u8..).zip(row);
        let slope = each().map(|(i, t)| place(i) * (t - mean)).sum::<f64>() / 17.5;
        let off = each().map(|(i, t)| (t - mean - place(i) * slope).powi(2));
        Line {
            at_ns: mean + 2.5 * slope,
            period_ns: slope,
            rough_ns: (off.sum::<f64>() / 4.0).sqrt(),
        }
    }
}

impl PulseLoop {
    /// Takes in a pulse that came at `ns`. Returns how many before it are now known to be lost; they are counted.
    pub(super) fn pulse(&mut self, ns: f64) -> u32 {
        self.number += 1;
        let mut lost = self.fill_hole(ns);
        match self.known {
            0 => self.begin(ns),
            1 => self.second(ns),
            _ => lost += self.later(ns),
        }
        self.number += u64::from(lost);
        self.came_ns = ns;
        lost
    }

    /// A gap of whole periods, and a second pulse that is as far off and one period after the first: pulses were lost.
    /// Late ones would come in a burst, and with another tempo each would be farther off.
    fn fill_hole(&mut self, ns: f64) -> u32 {
        let before = self.hole.take();
        let jitter = self.jitter_ns / self.period_ns;
        let slack = jitter.min(HOLE_SLACK);
        // Two pulses that only jitter must not be taken for a gap.
        if !self.roughly_known() || 2.0 * jitter > 1.0 - slack {
            return 0;
        }
        let missing = self.missing(ns, slack);
        let in_heap = ns - self.came_ns < 0.5 * self.period_ns;
        if missing == 0 || in_heap {
            return 0;
        }
        if before != Some(missing) {
            self.hole = (self.in_time >= QUIET).then_some(missing);
            return 0;
        }
        let periods = f64::from(missing);
        self.at_ns += periods * self.period_ns;
        let [phase, both, period] = self.doubt;
        self.doubt = [
            phase + 2.0 * periods * both + periods * periods * period,
            both + periods * period,
            period,
        ];
        self.outliers = 0;
        missing
    }

    /// By how many whole periods a pulse at `ns` comes too late; 0 if that is not a whole number, give or take `slack`.
    fn missing(&self, ns: f64, slack: f64) -> u32 {
        let late = (ns - self.at_ns) / self.period_ns - 1.0;
        let whole = late.round();
        if !(1.0..=f64::from(PULSES_PER_QUARTER)).contains(&whole) || (late - whole).abs() > slack {
            return 0;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 1 to 24
        let whole = whole as u32;
        whole
    }

    /// Takes in a pulse that came at `ns` after a silence: the phase is taken from it, the period is what it was.
    pub(super) fn after_silence(&mut self, ns: f64) {
        self.hole = None;
        if self.known < 2 {
            self.pulse(ns);
            return;
        }
        self.number += 1;
        self.at_ns = ns;
        self.came_ns = ns;
        let doubt = SILENCE_DOUBT * self.period_ns;
        self.doubt = [self.noise(), 0.0, self.doubt[2].max(doubt * doubt)];
        self.bias = 0.0;
        self.outliers = 0;
        self.hopeless = 0;
    }

    /// The variance of an arrival with uniform jitter: a third of the square of the bound.
    fn noise(&self) -> f64 {
        self.jitter_ns * self.jitter_ns / 3.0
    }

    /// Scales the bound on jitter, within limits. All variances are scaled with it, which leaves the gains as they are.
    fn widen(&mut self, factor: f64) {
        let jitter = (self.jitter_ns * factor).clamp(JITTER_NS, MOST_JITTER_NS);
        let factor = jitter / self.jitter_ns;
        self.jitter_ns = jitter;
        self.doubt = self.doubt.map(|doubt| doubt * factor * factor);
    }

    fn begin(&mut self, ns: f64) {
        self.at_ns = ns;
        self.known = 1;
        self.bias = 0.0;
        self.outliers = 0;
        self.hopeless = 0;
    }

    fn second(&mut self, ns: f64) {
        let interval = ns - self.at_ns;
        if !(FIRST_NS..=LONGEST_NS).contains(&interval) {
            return self.begin(ns);
        }
        self.at_ns = ns;
        self.period_ns = interval;
        self.doubt = of_line(2.0, self.noise());
        self.known = 2;
    }

    /// Returns how many pulses were lost, judged by a row of outliers.
    fn later(&mut self, ns: f64) -> u32 {
        let predicted = self.at_ns + self.period_ns;
        let [phase, both, period] = self.doubt;
        let phase = phase + 2.0 * both + period;
        let both = both + period;
        let w = std::f64::consts::TAU * BANDWIDTH / f64::from(PULSES_PER_QUARTER);
        let noise = self.noise();
        let period = period + w.powi(4) * noise;
        self.at_ns = predicted;
        self.doubt = [phase, both, period];

        let error = ns - predicted;
        // The end of a burst may come near its time by chance.
        let in_heap = self.outliers > 0 && ns - self.came_ns < 0.5 * self.period_ns;
        if in_heap || error.abs() > self.jitter_ns + SURELY * phase.sqrt() {
            self.hopeless += u32::from(!in_heap);
            return self.outlier(ns);
        }
        self.hopeless = 0;
        self.in_time = self.in_time.saturating_add(1);
        self.known = self.known.saturating_add(1);
        let spread = phase + noise;
        let (to_phase, to_period) = (phase / spread, both / spread);
        self.at_ns = predicted + to_phase * error;
        self.period_ns = (self.period_ns + to_period * error).clamp(SHORTEST_NS, LONGEST_NS);
        self.doubt = [
            phase * (1.0 - to_phase),
            both * (1.0 - to_phase),
            period - to_period * both,
        ];
        self.bias += BIAS_WEIGHT * (error / spread.sqrt() - self.bias);
        if self.bias.abs() > BIAS {
            self.forget();
        }
        let few = (1..=2).contains(&std::mem::take(&mut self.outliers));
        self.widen(if few { WIDEN } else { NARROW });
        0
    }

    /// Keeps only what the last pulses say.
    fn forget(&mut self) {
        let doubt = of_line(REMEMBERED, self.noise());
        if self.doubt[2] < doubt[2] {
            self.doubt = doubt;
        }
        self.bias = 0.0;
    }

    fn outlier(&mut self, ns: f64) -> u32 {
        self.in_time = 0;
        self.outliers = self.outliers.saturating_add(1);
        self.strange.rotate_left(1);
        self.strange[ROW - 1] = ns;
        if !self.outliers_in_a_row() {
            return 0;
        }
        let line = Line::through(&self.strange);
        let believed = (SHORTEST_NS..=LONGEST_NS).contains(&line.period_ns);
        if !believed || line.rough_ns > ROUGHEST * self.jitter_ns {
            if self.hopeless >= HOPELESS {
                self.widen(HOPELESS_WIDEN);
                self.begin(ns);
            }
            return 0;
        }
        let mut lost = 0;
        let of_row = of_line(6.0, self.noise());
        let surely = 3.0 * (of_row[2] + self.doubt[2]).sqrt();
        let differs = (line.period_ns - self.period_ns).abs() > surely;
        // Pulses that were lost, or came twice, shift the row by whole periods; a tempo that changes, by less at first.
        let shifted = (line.at_ns - self.at_ns).abs() > 0.5 * self.period_ns;
        if differs || !shifted {
            self.at_ns = line.at_ns;
            self.period_ns = line.period_ns;
            self.doubt = of_row;
            self.known = 6;
        } else {
            // The tempo is the same: the middle of the row is right, and half a row has passed since.
            if self.jitter_ns < HOLE_SLACK * self.period_ns {
                lost = self.missing(line.at_ns + self.period_ns, HOLE_SLACK);
            }
            self.at_ns = line.at_ns + 2.5 * (self.period_ns - line.period_ns);
            let period = self.doubt[2];
            self.doubt = [self.noise() / 6.0 + 6.25 * period, 2.5 * period, period];
        }
        self.bias = 0.0;
        self.outliers = 0;
        lost
    }

    fn outliers_in_a_row(&self) -> bool {
        usize::try_from(self.outliers).is_ok_and(|n| n >= ROW)
    }

    /// Whether the phase is known well.
    pub(super) fn locked(&self) -> bool {
        self.roughly_known() && self.doubt[0] < LOCKED * self.noise() && !self.outliers_in_a_row()
    }

    /// Whether a sixteenth was heard, so that the tempo is known to a percent or two.
    pub(super) fn roughly_known(&self) -> bool {
        self.known >= 6
    }

    /// The number of the newest pulse, from 1; 0 before the first.
    pub(super) fn number(&self) -> u64 {
        self.number
    }

    /// When the newest pulse should have come, in nanoseconds.
    pub(super) fn at_ns(&self) -> f64 {
        self.at_ns
    }

    /// From pulse to pulse, in nanoseconds; `None` before two were heard.
    pub(super) fn period_ns(&self) -> Option<f64> {
        (self.known >= 2).then_some(self.period_ns)
    }

    /// How many pulses after the newest an instant lies.
    pub(super) fn pulses_after(&self, ns: f64) -> Option<f64> {
        self.period_ns().map(|period| (ns - self.at_ns) / period)
    }
}
