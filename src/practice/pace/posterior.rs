//! The posterior over a grid of tempos and slopes.

use super::super::units::{Bpm, CleanShare, Outcome};

/// Cells of a slope, from the slowest tempo to the fastest, evenly spaced in the logarithm.
const TEMPOS: usize = 601;

/// Scales of the curve in natural-log tempo, evenly spaced in the logarithm from 0.03 to 0.15. A small scale is a steep
/// curve: at 0.03 a tempo 16 % higher brings clean takes from nine in ten down to one in ten, at 0.15 twice the tempo.
const SCALES: [f64; 7] = [0.03, 0.0392, 0.0513, 0.0671, 0.0877, 0.1147, 0.15];

/// Share of takes that fail by a slip, at any tempo.
const LAPSE: f64 = 0.04;

/// The least weight of a cell. It keeps a tempo possible that hundreds of takes spoke against, so that nothing vanishes
/// to 0 for good.
const LEAST_WEIGHT: f64 = 1e-9;

/// Weights over (scale, tempo at which the share `target` of takes is clean). They sum to 1, but for the least weights.
///
/// The curve is `P(clean at t) = (1 - lapse) / (1 + e^((ln t - m) / scale))`, a logistic in log tempo. Its place is given
/// not by the midpoint `m` but by the tempo of the target share, since takes are played there: place and scale are then
/// nearly independent.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Posterior {
    target: CleanShare,
    /// A row of `TEMPOS` for each scale.
    weights: Vec<f64>,
}

fn slowest() -> f64 {
    libm::log(Bpm::SLOWEST.value())
}

/// Distance of two cells in log tempo, just under 0.005.
fn spacing() -> f64 {
    (libm::log(Bpm::FASTEST.value()) - slowest()) / (cells_as_number() - 1.0)
}

#[allow(clippy::cast_precision_loss)] // 601
const fn cells_as_number() -> f64 {
    TEMPOS as f64
}

/// Log tempos of the cells, the slowest first.
fn log_tempos() -> impl Iterator<Item = f64> {
    let (first, step) = (slowest(), spacing());
    (0..TEMPOS).scan(0.0, move |place, _| {
        let at = first + *place * step;
        *place += 1.0;
        Some(at)
    })
}

/// How many scales above the tempo of this share the midpoint of the curve lies.
fn offset(share: CleanShare) -> f64 {
    libm::log(share.value() / (1.0 - LAPSE - share.value()))
}

impl Posterior {
    /// Before any take: a normal distribution of log tempo around `log_tempo`, every scale as likely.
    pub(super) fn new(log_tempo: f64, doubt: f64, target: CleanShare) -> Self {
        let mut posterior = Posterior {
            target,
            weights: normal(log_tempo, doubt).repeat(SCALES.len()),
        };
        posterior.normalize();
        posterior
    }

    /// Takes in the outcome of a take at a tempo, by Bayes's rule. `Nearly` counts as half of each: its likelihood is
    /// the geometric mean of both.
    pub(super) fn update(&mut self, log_tempo: f64, outcome: Outcome) {
        let offset = offset(self.target);
        let (first, step) = (slowest(), spacing());
        for (row, scale) in self.weights.chunks_exact_mut(TEMPOS).zip(SCALES) {
            // e^((t - m) / scale) from cell to cell: a product instead of an exponential. The largest is e^100.
            let mut odds = libm::exp((log_tempo - first) / scale - offset);
            let ratio = libm::exp(-step / scale);
            for weight in row {
                let clean = (1.0 - LAPSE) / (1.0 + odds);
                *weight *= match outcome {
                    Outcome::Clean => clean,
                    Outcome::Nearly => libm::sqrt(clean * (1.0 - clean)),
                    Outcome::Missed => 1.0 - clean,
                };
                odds *= ratio;
            }
        }
        self.normalize();
    }

    /// A random walk of log tempo with this standard deviation. At the ends of the grid it turns back.
    pub(super) fn diffuse(&mut self, sd: f64) {
        let kernel = kernel(sd / spacing());
        let reach = kernel.len() - 1;
        let mut padded = Vec::with_capacity(TEMPOS + 2 * reach);
        for row in self.weights.chunks_exact_mut(TEMPOS) {
            padded.clear();
            // Mirrored at both ends; the kernel is shorter than the grid.
            padded.extend(row[1..=reach].iter().rev());
            padded.extend_from_slice(row);
            padded.extend(row[TEMPOS - 1 - reach..TEMPOS - 1].iter().rev());
            for (cell, window) in row.iter_mut().zip(padded.windows(2 * reach + 1)) {
                let sides = window[..reach].iter().rev().zip(&window[reach + 1..]);
                let spread: f64 = kernel[1..]
                    .iter()
                    .zip(sides)
                    .map(|(share, (left, right))| share * (left + right))
                    .sum();
                *cell = kernel[0] * window[reach] + spread;
            }
        }
        self.normalize();
    }

    /// Moves this share of the weight of each scale to a normal distribution around the mean.
    pub(super) fn jump(&mut self, share: f64, sd: f64) {
        let mean = self.mean(self.target);
        let normal = normal(mean, sd);
        for row in self.weights.chunks_exact_mut(TEMPOS) {
            let total: f64 = row.iter().sum();
            for (weight, anew) in row.iter_mut().zip(&normal) {
                *weight = (1.0 - share) * *weight + share * total * anew;
            }
        }
        self.normalize();
    }

    /// The log tempo at which `share` of takes is clean: its mean.
    pub(super) fn mean(&self, share: CleanShare) -> f64 {
        let (first, step) = (slowest(), spacing());
        let down = self.down(share);
        let rows = self.weights.chunks_exact(TEMPOS).zip(SCALES);
        rows.map(|(row, scale)| {
            let (mut cell, mut sum, mut total) = (0.0, 0.0, 0.0);
            for weight in row {
                sum += weight * cell;
                total += weight;
                cell += 1.0;
            }
            sum * step + total * (first - scale * down)
        })
        .sum()
    }

    /// The limits between which the same lies with a probability of 0.8, a tenth on either side.
    pub(super) fn limits(&self, share: CleanShare) -> (f64, f64) {
        let (first, step) = (slowest(), spacing());
        let down = self.down(share);
        let sums = self.running_sums();
        let below = |log_tempo: f64| -> f64 {
            let rows = sums.chunks_exact(TEMPOS + 1).zip(SCALES);
            // Cell i holds all between half a spacing below its tempo and half above.
            rows.map(|(row, scale)| at_place(row, (log_tempo + scale * down - first) / step + 0.5))
                .sum()
        };
        (crossing(&below, 0.1), crossing(&below, 0.9))
    }

    /// How many scales the tempo of a share lies below that of the target.
    fn down(&self, share: CleanShare) -> f64 {
        offset(share) - offset(self.target)
    }

    /// For each scale the weights summed from the slowest tempo on, 0 first.
    fn running_sums(&self) -> Vec<f64> {
        let mut sums = Vec::with_capacity(self.weights.len() + SCALES.len());
        for row in self.weights.chunks_exact(TEMPOS) {
            let mut sum = 0.0;
            sums.push(sum);
            for weight in row {
                sum += weight;
                sums.push(sum);
            }
        }
        sums
    }

    fn normalize(&mut self) {
        let total: f64 = self.weights.iter().sum();
        for weight in &mut self.weights {
            *weight = (*weight / total).max(LEAST_WEIGHT);
        }
    }
}

/// Shares of a normal distribution over the cells; they sum to 1.
fn normal(mean: f64, sd: f64) -> Vec<f64> {
    let mut row: Vec<f64> = log_tempos()
        .map(|at| {
            let z = (at - mean) / sd;
            libm::exp(-0.5 * z * z)
        })
        .collect();
    let total: f64 = row.iter().sum();
    for share in &mut row {
        *share /= total;
    }
    row
}

/// Shares of a normal distribution by distance in cells, the middle first; with their mirror image they sum to 1.
fn kernel(sd_cells: f64) -> Vec<f64> {
    // Four standard deviations; the cast saturates.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let reach = (4.0 * sd_cells).ceil().clamp(1.0, cells_as_number() - 1.0) as usize;
    let mut shares: Vec<f64> = (0..=reach)
        .scan(0.0, |distance, _| {
            let z = *distance / sd_cells;
            *distance += 1.0;
            Some(libm::exp(-0.5 * z * z))
        })
        .collect();
    let total = 2.0 * shares.iter().sum::<f64>() - shares[0];
    for share in &mut shares {
        *share /= total;
    }
    shares
}

/// A running sum at a place between its entries, on a straight line; 0 before it, its last entry behind it.
fn at_place(sums: &[f64], place: f64) -> f64 {
    let place = place.clamp(0.0, cells_as_number());
    // The clamp keeps the cast inside the row.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let entry = (place.floor() as usize).min(TEMPOS - 1);
    let part = place - place.floor().min(cells_as_number() - 1.0);
    sums[entry] + part * (sums[entry + 1] - sums[entry])
}

/// Where a rising sum reaches `level`, by halving: 40 times leave less than 1e-11.
fn crossing(below: &impl Fn(f64) -> f64, level: f64) -> f64 {
    // Beyond the grid by more than 0.15 times 4.5, the widest scale times the widest distance of two shares.
    let (mut low, mut high) = (slowest() - 1.0, libm::log(Bpm::FASTEST.value()) + 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if below(middle) < level {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
