//! The keys of an order, one after the other.

use super::Chance;
use crate::theory::{Key, KeyOrder};

/// The keys of an order, beginning with `first` (chosen keys as they are).
///
/// `practiced` says how much a key was practiced, in any unit; it counts for [`KeyOrder::LeastPracticed`] alone, where
/// keys practiced alike keep the order of fourths.
pub fn key_order(
    order: &KeyOrder,
    first: &Key,
    seed: u64,
    practiced: &dyn Fn(&Key) -> u64,
) -> Vec<Key> {
    let by = |step: i32| -> Vec<Key> {
        (0..12)
            .map(|i| {
                let up = (step * i).rem_euclid(12);
                if up == 0 {
                    *first
                } else {
                    // Fourths lead to the flats, so the key six semitones away is a flat one.
                    let down = up > 6 || (up == 6 && step == 5);
                    first.transposed(if down { up - 12 } else { up })
                }
            })
            .collect()
    };
    match order {
        KeyOrder::Fourths => by(5),
        KeyOrder::Fifths => by(7),
        KeyOrder::Semitones => by(1),
        KeyOrder::Chosen(keys) => keys.clone(),
        KeyOrder::LeastPracticed => {
            let mut keys = by(5);
            keys.sort_by_key(practiced);
            keys
        }
        KeyOrder::Shuffle => {
            let mut keys = by(5);
            let mut chance = Chance::new(seed, "shuffle", "keys", 0, 0);
            // Fisher and Yates: every order of the other eleven is as likely.
            for i in (2..keys.len()).rev() {
                let j = 1 + usize::try_from(chance.below(i as u64)).unwrap_or(0);
                keys.swap(i, j);
            }
            keys
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(order: &str, first: &str, seed: u64) -> String {
        let first = Key::read(first).unwrap();
        let keys = key_order(&KeyOrder::read(order).unwrap(), &first, seed, &|_| 0);
        keys.iter()
            .map(|k| k.tonic().to_string())
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn orders_visit_each_key_once_in_sane_spelling() {
        assert_eq!(
            shown("fourths", "A minor", 0),
            "A D G C F Bb Eb G# C# F# B E"
        );
        assert_eq!(
            shown("fifths", "C major", 0),
            "C G D A E B F# Db Ab Eb Bb F"
        );
        assert_eq!(
            shown("semitones", "E minor", 0),
            "E F F# G G# A Bb B C C# D Eb"
        );
        assert_eq!(shown("A minor, D minor", "C major", 0), "A D");
        for seed in 0..200 {
            let order = shown("shuffle", "G major", seed);
            assert!(order.starts_with("G "), "{order}");
            let mut keys: Vec<&str> = order.split(' ').collect();
            keys.sort_unstable();
            keys.dedup();
            assert_eq!(keys.len(), 12);
        }
        assert_ne!(
            shown("shuffle", "G major", 1),
            shown("shuffle", "G major", 2)
        );
    }

    #[test]
    fn every_place_is_as_likely_for_every_key() {
        // Where the key a fourth above the first comes, over 11 places; chi-squared, 10 degrees of freedom, passed by
        // chance once in a thousand at 29.59 (handbook value).
        let mut counts = [0u32; 12];
        for seed in 0..5500 {
            let order = shown("shuffle", "C major", seed);
            counts[order.split(' ').position(|k| k == "F").unwrap()] += 1;
        }
        assert_eq!(counts[0], 0);
        let chi: f64 = counts[1..]
            .iter()
            .map(|c| (f64::from(*c) - 500.0).powi(2) / 500.0)
            .sum();
        assert!(chi < 29.59, "{counts:?}: {chi}");
    }

    #[test]
    fn the_least_practiced_comes_first() {
        let first = Key::read("C major").unwrap();
        let minutes = |k: &Key| match k.tonic().to_string().as_str() {
            "Bb" => 0,
            "F" => 3,
            _ => 10,
        };
        let keys = key_order(&KeyOrder::LeastPracticed, &first, 0, &minutes);
        let names: Vec<String> = keys.iter().take(3).map(|k| k.tonic().to_string()).collect();
        assert_eq!(names, ["Bb", "F", "C"]);
    }
}
