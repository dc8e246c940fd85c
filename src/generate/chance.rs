//! Random choices that are the same for the same seed, wherever playing starts.

use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

/// How likely a choice was: `share` of `total`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Odds {
    /// Weight of the choice.
    pub share: u128,
    /// Weight of all choices together.
    pub total: u128,
}

impl Odds {
    /// As a number from 0 to 1, for printing.
    #[allow(clippy::cast_precision_loss)]
    pub fn probability(&self) -> f64 {
        if self.total == 0 {
            0.0
        } else {
            self.share as f64 / self.total as f64
        }
    }
}

/// Random choices of one part in one bar for one purpose.
///
/// Seeded by all of these together, so a bar is the same however it is reached and whatever else plays. The
/// generator is one whose stream is documented as portable; ranges are our own integer code over it.
pub struct Chance(Xoshiro256PlusPlus);

impl Chance {
    /// The choices of `part` for `purpose` in a bar of a pass.
    pub fn new(seed: u64, purpose: &str, part: &str, pass: u64, bar: u64) -> Self {
        let mut state = Fnv::default();
        state.number(seed);
        state.bytes(purpose.as_bytes());
        state.bytes(part.as_bytes());
        state.number(pass);
        state.number(bar);
        Chance(Xoshiro256PlusPlus::seed_from_u64(state.0))
    }

    /// A whole number from 0 to `below - 1`, all equally likely (0 where `below` is 0).
    pub fn below(&mut self, below: u64) -> u64 {
        if below < 2 {
            return 0;
        }
        // Draws above the largest multiple of `below` are rejected; otherwise small numbers would be favored.
        let limit = u64::MAX - (u64::MAX % below + 1) % below;
        loop {
            let draw = self.0.next_u64();
            if draw <= limit {
                return draw % below;
            }
        }
    }

    /// The same for wide numbers.
    pub fn below_wide(&mut self, below: u128) -> u128 {
        if let Ok(narrow) = u64::try_from(below) {
            return u128::from(self.below(narrow));
        }
        let limit = u128::MAX - (u128::MAX % below + 1) % below;
        loop {
            let draw = (u128::from(self.0.next_u64()) << 64) | u128::from(self.0.next_u64());
            if draw <= limit {
                return draw % below;
            }
        }
    }

    /// One of several by whole weights: its place, `None` where all weights are 0.
    pub fn weighted(&mut self, weights: impl Iterator<Item = u128> + Clone) -> Option<usize> {
        let total: u128 = weights.clone().sum();
        if total == 0 {
            return None;
        }
        let mut left = self.below_wide(total);
        for (i, weight) in weights.enumerate() {
            if left < weight {
                return Some(i);
            }
            left -= weight;
        }
        None
    }

    /// A whole number from `-most` to `most`.
    pub fn around(&mut self, most: u32) -> i32 {
        let most = i32::try_from(most).unwrap_or(0);
        i32::try_from(self.below(u64::from(most.unsigned_abs()) * 2 + 1)).unwrap_or(0) - most
    }
}

/// The 64-bit FNV-1a hash (published constants), to fold many numbers into one seed.
struct Fnv(u64);

impl Default for Fnv {
    fn default() -> Self {
        Fnv(0xcbf2_9ce4_8422_2325)
    }
}

impl Fnv {
    fn bytes(&mut self, bytes: &[u8]) {
        for byte in bytes.iter().chain(&[0xFF]) {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    fn number(&mut self, number: u64) {
        self.bytes(&number.to_le_bytes());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stream_is_pinned() {
        let mut chance = Chance::new(7, "velocity", "bass", 2, 3);
        let drawn: Vec<u64> = (0..6).map(|_| chance.below(100)).collect();
        assert_eq!(drawn, PINNED);
        let mut again = Chance::new(7, "velocity", "bass", 2, 3);
        assert_eq!((0..6).map(|_| again.below(100)).collect::<Vec<_>>(), drawn);
    }

    /// Our own values: changing them changes every generated piece, which is a breaking change.
    const PINNED: [u64; 6] = [11, 96, 26, 82, 17, 83];

    #[test]
    fn every_value_is_about_as_likely() {
        let mut counts = [0u32; 7];
        for bar in 0..7000 {
            counts[usize::try_from(Chance::new(1, "test", "x", 0, bar).below(7)).unwrap()] += 1;
        }
        // Chi-squared with 6 degrees of freedom: 22.46 is passed by chance once in a thousand (handbook value).
        let chi: f64 = counts
            .iter()
            .map(|c| (f64::from(*c) - 1000.0).powi(2) / 1000.0)
            .sum();
        assert!(chi < 22.46, "{counts:?}: {chi}");
    }
}
