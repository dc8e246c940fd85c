//! Jams that several tests judge.

use fivefold::chart::{Piece, Times};
use fivefold::generate::{Ground, Jam, Request};
use fivefold::theory::Scale;

/// Jams over six sets in five roots, `seeds` of each: their names, and one pass of each as a piece.
pub(crate) fn jams(seeds: u64) -> Vec<(String, Piece)> {
    let sets = [
        "minor pentatonic",
        "major pentatonic",
        "dorian",
        "mixolydian",
        "hirajoshi",
        "kumoi",
    ];
    let mut found = Vec::new();
    for (at, set) in (0u64..).zip(sets) {
        for root in ["A", "C", "Eb", "F#", "G"] {
            for seed in 100 * at..100 * at + seeds {
                let set = Scale::read(&format!("{root} {set}")).unwrap();
                let Ok(jam) = Jam::new(Ground::new(set, seed), &Request::default()) else {
                    continue;
                };
                let Some(progression) = jam.draw(0) else {
                    continue;
                };
                let piece = jam.piece(&progression, Times::Count(1));
                found.push((format!("jam {seed} over {}", set.name()), piece));
            }
        }
    }
    found
}
