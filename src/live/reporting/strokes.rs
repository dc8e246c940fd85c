//! How a player's strokes lie about the places of the beat.

use hdrhistogram::Histogram;
use serde::Serialize;

use super::receipt::AUDIBLE_NS;
use crate::time::Nanos;

/// Strokes for one place that follow each other within this, in nanoseconds, are one: a chord, or two pads at once. No
/// player divides a beat so finely: the fastest division is about 100 ms (London 2004, by course notes).
pub const DOUBLED_NS: u64 = 30_000_000;

/// A stroke farther from its place than a third of the gap between places is an outlier. It may be meant for another
/// place, and a few such strokes would dominate the spread.
const ASTRAY_PARTS: u128 = 3;

/// How many different places of the bar are told apart; strokes at more still count for all the rest.
const PLACES: usize = 64;

/// The fewest strokes by which a bias is judged. Two standard errors are then 91 of 100 (Student's t, 7 degrees of
/// freedom), against 95 for many.
const JUDGED: u64 = 8;

/// So many standard errors from zero is taken to be more than chance.
const SURELY: f64 = 2.0;

/// The smallest shift of one note in an even row that listeners notice, in nanoseconds: 6 ms where notes are less than
/// about 240 ms apart, 2.5 % of the gap above (Friberg and Sundberg 1995; the abstract was read). Nothing smaller is
/// called early or late, however certain it is.
pub fn noticed_ns(gap_ns: u64) -> u64 {
    AUDIBLE_NS.max(gap_ns / 40)
}

/// The largest offset the quantiles resolve, in nanoseconds; larger ones count as this.
const FARTHEST_NS: u64 = 4_000_000_000;

const NS_PER_MINUTE: f64 = 60e9;

/// One stroke of the player, as it was heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stroke {
    /// How long after its place it was heard, in nanoseconds, the delay of the input included; negative for early. The
    /// place is the nearest to when it was played: when it was heard, less the delay.
    pub offset_ns: i64,
    /// The bar of the place.
    pub bar: i64,
    /// The beat of the place in its bar, from 1.
    pub beat: u32,
    /// Which part of the beat the place is, from 1.
    pub part: u32,
    /// In how many parts the beat is divided, from 1.
    pub parts: u32,
    /// From place to place around here, in nanoseconds.
    pub gap_ns: u64,
    /// When it was heard, since the start.
    pub at: Nanos,
}

/// A stroke that counts, and where it lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CountedStroke {
    /// The bar of its place, as the piece counts bars.
    pub bar: i64,
    /// The beat of its place in the bar, from 1.
    pub beat: u32,
    /// Which part of the beat the place is, from 1.
    pub part: u32,
    /// How late it was, in nanoseconds, after the stated delay was taken off; negative for early.
    pub offset_ns: i64,
    /// From place to place around here, in nanoseconds.
    pub gap_ns: u64,
}

/// To which side strokes are biased.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Bias {
    /// Their mean is early by more than two of its standard errors and by more than [`noticed_ns`].
    Early,
    /// Neither is certain and large enough to be noticed.
    On,
    /// Their mean is late by more than two of its standard errors and by more than [`noticed_ns`].
    Late,
}

/// Whether strokes come later and later.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Trend {
    /// How much later they come each minute, in nanoseconds: the slope of the straight line through offset over time, by
    /// least squares. Negative where they come earlier and earlier.
    pub ns_per_minute: i64,
    /// Its standard error.
    pub error_ns_per_minute: u64,
    /// Whether it is beyond two standard errors: otherwise it may be chance.
    pub certain: bool,
}

/// How the strokes at one place of the bar lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct PlaceTiming {
    /// The beat, from 1.
    pub beat: u32,
    /// Which part of the beat, from 1.
    pub part: u32,
    /// In how many parts the beat is divided.
    pub parts: u32,
    /// How many strokes were counted.
    pub count: u64,
    /// Their mean, in nanoseconds; negative for early.
    pub mean_ns: i64,
    /// Their standard deviation, in nanoseconds; not known of one.
    pub spread_ns: Option<u64>,
    /// To which side they are biased; not judged of fewer than eight. Of twenty places judged, one is judged wrongly by chance.
    pub bias: Option<Bias>,
}

impl PlaceTiming {
    /// Which place it is: `beat 2`, or `beat 2, part 3 of 4`.
    pub(crate) fn name(&self) -> String {
        match (self.part, self.parts) {
            (1, _) => format!("beat {}", self.beat),
            (part, parts) => format!("beat {}, part {part} of {parts}", self.beat),
        }
    }
}

/// How a player's strokes lie: plain data, the same in text and JSON.
///
/// Serialized, the names of the fields are an interface; what is not known is `null`. Times are in nanoseconds, after
/// the stated delay was taken off; negative is early. Standard errors assume independent strokes. Players drift back
/// and forth a little, so true errors are somewhat larger.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlayerTiming {
    /// The strokes that count one by one, the first 2048 of them.
    #[serde(skip)]
    pub counted: Vec<CountedStroke>,
    /// Strokes that count: at most one per place, and near it.
    pub strokes: u64,
    /// Strokes farther than a third of the gap from any place, or at one that had its stroke.
    pub outliers: u64,
    /// Strokes within 30 ms after another at the same place.
    pub doubled: u64,
    /// How often the sound was interrupted, as by a dropout.
    pub interruptions: u64,
    /// Strokes around interruptions, which are not counted.
    pub withheld: u64,
    /// How long it was not known, around interruptions, what was heard.
    pub not_judged_ns: u64,
    /// Places that passed, those around interruptions left out.
    pub places: u64,
    /// Places without a stroke that counts.
    pub missed: u64,
    /// The delay of the input that was taken off.
    pub latency_ns: i64,
    /// Whether the input adds tens of milliseconds of varying delay: a computer's keyboard, with its repeat, through a
    /// terminal.
    pub coarse: bool,
    /// From place to place, on average.
    pub gap_ns: Option<u64>,
    /// The mean offset, in nanoseconds; negative is early.
    pub mean_ns: Option<i64>,
    /// To which side the mean is biased; not judged of fewer than eight.
    pub bias: Option<Bias>,
    /// The standard deviation, for n - 1.
    pub spread_ns: Option<u64>,
    /// Half are at or before this. Quantiles are exact to 0.1 % up to four seconds.
    pub median_ns: Option<i64>,
    /// A tenth is at or before this.
    pub low_ns: Option<i64>,
    /// Nine tenths are at or before this.
    pub high_ns: Option<i64>,
    /// How many are early.
    pub early: u64,
    /// Whether they come later and later; not judged of fewer than eight.
    pub trend: Option<Trend>,
    /// The places of the bar, in order.
    pub at_places: Vec<PlaceTiming>,
}

/// Running mean and sum of squares about it (Welford 1962), which loses nothing to rounding however many there are.
#[derive(Clone, Copy, Debug, Default)]
struct Spread {
    count: u64,
    mean: f64,
    squares: f64,
}

#[allow(clippy::cast_precision_loss)] // exact for 104 days of nanoseconds
fn float(n: u64) -> f64 {
    n as f64
}

#[allow(clippy::cast_possible_truncation)] // saturates, which is what is wanted
fn whole(x: f64) -> i64 {
    x.round() as i64
}

impl Spread {
    fn note(&mut self, x: f64) {
        self.count += 1;
        let off = x - self.mean;
        self.mean += off / float(self.count);
        self.squares += off * (x - self.mean);
    }

    /// The standard deviation.
    fn deviation(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.squares / float(self.count - 1)).sqrt())
    }

    fn mean_ns(&self) -> Option<i64> {
        (self.count > 0).then(|| whole(self.mean))
    }

    fn spread_ns(&self) -> Option<u64> {
        self.deviation().map(|ns| whole(ns).unsigned_abs())
    }

    /// To which side it is biased, where places are so far apart.
    fn bias(&self, gap_ns: u64) -> Option<Bias> {
        if self.count < JUDGED {
            return None;
        }
        let error = self.deviation()? / float(self.count).sqrt();
        let least = (SURELY * error).max(float(noticed_ns(gap_ns)));
        Some(if self.mean < -least {
            Bias::Early
        } else if self.mean > least {
            Bias::Late
        } else {
            Bias::On
        })
    }
}

/// Running least squares of offset over time (the same recursion for the product).
#[derive(Clone, Copy, Debug, Default)]
struct Line {
    times: Spread,
    offsets: Spread,
    products: f64,
}

impl Line {
    fn note(&mut self, time: f64, offset: f64) {
        let off = time - self.times.mean;
        self.times.note(time);
        self.offsets.note(offset);
        self.products += off * (offset - self.offsets.mean);
    }

    /// With S the sums about the means: the slope is Stx / Stt, its variance (Sxx - slope Stx) / ((n - 2) Stt).
    fn trend(&self) -> Option<Trend> {
        if self.times.count < JUDGED || self.times.squares <= 0.0 {
            return None;
        }
        let slope = self.products / self.times.squares;
        let left = (self.offsets.squares - slope * self.products).max(0.0);
        let variance = left / float(self.times.count - 2) / self.times.squares;
        let error = variance.sqrt();
        Some(Trend {
            ns_per_minute: whole(slope * NS_PER_MINUTE),
            error_ns_per_minute: whole(error * NS_PER_MINUTE).unsigned_abs(),
            certain: slope.abs() > SURELY * error,
        })
    }
}

/// Offsets to either side of a place, for quantiles.
#[derive(Debug)]
struct Sides {
    early: Histogram<u32>,
    /// Those of 0 among them.
    late: Histogram<u32>,
    least: i64,
    most: i64,
}

impl Sides {
    fn new() -> Self {
        let histogram = match Histogram::new_with_bounds(1, FARTHEST_NS, 3) {
            Ok(histogram) => histogram,
            Err(e) => unreachable!("from 1 ns to 4 s in three digits: {e}"),
        };
        Sides {
            early: histogram.clone(),
            late: histogram,
            least: i64::MAX,
            most: i64::MIN,
        }
    }

    fn note(&mut self, offset: i64) {
        let side = if offset < 0 {
            &mut self.early
        } else {
            &mut self.late
        };
        side.saturating_record(offset.unsigned_abs());
        self.least = self.least.min(offset);
        self.most = self.most.max(offset);
    }

    /// The least offset that so many tenths of all are at or before.
    fn tenths(&self, tenths: u64) -> Option<i64> {
        let early = self.early.len();
        let rank = ((early + self.late.len()) * tenths).div_ceil(10).max(1);
        let found = if rank <= early {
            // The earliest are the last on their side.
            of_rank(&self.early, early - rank + 1)?.checked_neg()?
        } else {
            of_rank(&self.late, rank - early)?
        };
        Some(found.clamp(self.least, self.most))
    }
}

/// The value of the given rank, from 1; `None` where there are fewer.
fn of_rank(histogram: &Histogram<u32>, rank: u64) -> Option<i64> {
    let mut count = 0;
    let found = histogram.iter_recorded().find(|value| {
        count += value.count_since_last_iteration();
        count >= rank
    })?;
    i64::try_from(found.value_iterated_to()).ok()
}

/// A place in the bar: beat, part, parts.
type Place = (u32, u32, u32);

/// The newest stroke.
#[derive(Clone, Copy, Debug)]
struct Newest {
    bar: i64,
    place: Place,
    at: Nanos,
    /// Whether the place had a stroke that counts.
    had: bool,
}

/// Strokes that are kept one by one: those of half an hour at a stroke a second.
const KEPT: usize = 2048;

/// Collects strokes, from which a [`PlayerTiming`] is made. It takes a third of a megabyte, however long the player plays.
#[derive(Debug)]
pub struct Strokes {
    latency_ns: i64,
    coarse: bool,
    outliers: u64,
    doubled: u64,
    interruptions: u64,
    withheld: u64,
    not_judged_ns: u64,
    places: u64,
    early: u64,
    gaps: Spread,
    line: Line,
    sides: Sides,
    /// At most [`PLACES`], for which there is room from the start.
    at_places: Vec<(Place, Spread)>,
    newest: Option<Newest>,
    /// At most [`KEPT`], for which there is room from the start.
    counted: Vec<CountedStroke>,
}

impl Strokes {
    /// An empty collection for an input that is `latency_ns` nanoseconds late: so much is taken off every offset.
    pub fn new(latency_ns: i64) -> Self {
        Strokes {
            latency_ns,
            coarse: false,
            outliers: 0,
            doubled: 0,
            interruptions: 0,
            withheld: 0,
            not_judged_ns: 0,
            places: 0,
            early: 0,
            gaps: Spread::default(),
            line: Line::default(),
            sides: Sides::new(),
            at_places: Vec::with_capacity(PLACES),
            newest: None,
            counted: Vec::with_capacity(KEPT),
        }
    }

    /// The same for an input whose delay is some tens of milliseconds and varies, such as a computer's keyboard. It
    /// changes only what is reported.
    #[must_use]
    pub fn coarse(mut self) -> Self {
        self.coarse = true;
        self
    }

    /// So many places passed at which a stroke was due.
    pub fn passed(&mut self, places: u64) {
        self.places += places;
    }

    /// What the player plays to was interrupted.
    pub fn interrupted(&mut self) {
        self.interruptions += 1;
    }

    /// A stroke that came while it was not known what was heard: it is not counted.
    pub fn withhold(&mut self) {
        self.withheld += 1;
    }

    /// It was not known what was heard for this long; about so many places passed meanwhile, which do not count as
    /// missed.
    pub fn not_judged(&mut self, length: Nanos, places: u64) {
        self.not_judged_ns += length.get();
        self.places = self.places.saturating_sub(places);
    }

    /// Takes in a stroke; strokes must come in the order in which they were heard.
    ///
    /// The first at a place that is not an outlier counts. Another within 30 ms of the last at the same place is a
    /// double.
    ///
    /// # Real time
    /// Does not allocate; takes some tens of nanoseconds.
    pub fn note(&mut self, stroke: &Stroke) {
        let place = (stroke.beat, stroke.part, stroke.parts);
        let before = self
            .newest
            .filter(|newest| newest.place == place && newest.bar == stroke.bar);
        let since = |at: Nanos| stroke.at.get().saturating_sub(at.get());
        let doubled = before.is_some_and(|newest| since(newest.at) <= DOUBLED_NS);
        let had = before.is_some_and(|newest| newest.had);
        let offset = stroke.offset_ns.saturating_sub(self.latency_ns);
        let far = u128::from(offset.unsigned_abs()) * ASTRAY_PARTS > u128::from(stroke.gap_ns);
        let counts = !doubled && !had && !far;
        self.newest = Some(Newest {
            bar: stroke.bar,
            place,
            at: stroke.at,
            had: had || counts,
        });
        if counts {
            self.count(place, offset, stroke);
        } else if doubled {
            self.doubled += 1;
        } else {
            self.outliers += 1;
        }
    }

    #[allow(clippy::cast_precision_loss)] // exact for 104 days
    fn count(&mut self, place: Place, offset: i64, stroke: &Stroke) {
        if self.counted.len() < KEPT {
            self.counted.push(CountedStroke {
                bar: stroke.bar,
                beat: stroke.beat,
                part: stroke.part,
                offset_ns: offset,
                gap_ns: stroke.gap_ns,
            });
        }
        let ns = offset as f64;
        self.early += u64::from(offset < 0);
        self.gaps.note(float(stroke.gap_ns));
        self.line.note(float(stroke.at.get()), ns);
        self.sides.note(offset);
        if let Some((_, spread)) = self.at_places.iter_mut().find(|(at, _)| *at == place) {
            spread.note(ns);
        } else if self.at_places.len() < PLACES {
            let mut spread = Spread::default();
            spread.note(ns);
            self.at_places.push((place, spread));
        }
    }

    /// How the strokes so far lie.
    ///
    /// # Real time
    /// Allocates, and looks through the whole record: not while a deadline is near.
    pub fn timing(&self) -> PlayerTiming {
        let all = &self.line.offsets;
        let gap_ns = self.gaps.mean_ns().map(i64::unsigned_abs);
        let gap = gap_ns.unwrap_or(0);
        let timing = |((beat, part, parts), spread): &(Place, Spread)| PlaceTiming {
            beat: *beat,
            part: *part,
            parts: *parts,
            count: spread.count,
            mean_ns: whole(spread.mean),
            spread_ns: spread.spread_ns(),
            bias: spread.bias(gap),
        };
        let mut at_places: Vec<PlaceTiming> = self.at_places.iter().map(timing).collect();
        at_places.sort_by(|a, b| {
            let within = |p: &PlaceTiming| u64::from(p.part.saturating_sub(1));
            let by_part = (within(a) * u64::from(b.parts)).cmp(&(within(b) * u64::from(a.parts)));
            a.beat
                .cmp(&b.beat)
                .then(by_part)
                .then(a.parts.cmp(&b.parts))
        });
        PlayerTiming {
            counted: self.counted.clone(),
            strokes: all.count,
            outliers: self.outliers,
            doubled: self.doubled,
            interruptions: self.interruptions,
            withheld: self.withheld,
            not_judged_ns: self.not_judged_ns,
            places: self.places,
            missed: self.places.saturating_sub(all.count),
            latency_ns: self.latency_ns,
            coarse: self.coarse,
            gap_ns,
            mean_ns: all.mean_ns(),
            bias: all.bias(gap),
            spread_ns: all.spread_ns(),
            median_ns: self.sides.tenths(5),
            low_ns: self.sides.tenths(1),
            high_ns: self.sides.tenths(9),
            early: self.early,
            trend: self.line.trend(),
            at_places,
        }
    }
}

#[cfg(test)]
mod tests;
