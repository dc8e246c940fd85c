#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::found::{Easiest, Found};
use super::tones::{Strictness, Tones};
use super::{HandModel, Neck, Search};
use crate::theory::symbol;

/// The easiest shapes, parts of others among them.
fn easiest(text: &str, neck: &Neck, hand: &HandModel, limit: usize) -> Vec<Found> {
    let harmony = symbol::read(text).unwrap();
    let tones = Tones::new(harmony.chord().unwrap(), Strictness::Full);
    let mut found = Easiest::new(limit);
    Search::new(&tones, neck, hand).run(&mut found);
    found.list.into_sorted_vec()
}

/// The search leaves branches by a lower bound on effort: none that leads to one of the easiest.
#[test]
fn the_bound_leaves_no_easy_shape_out() {
    let (neck, hand) = (Neck::standard(), HandModel::default());
    let wide = hand.with_span(5).unwrap().with_inner_mutes(2);
    let mut compared = 0;
    for root in ["C", "C#", "E", "F", "G", "A", "B"] {
        for suffix in [
            "", "m", "5", "7", "m7", "maj7", "sus4", "dim", "6", "9", "m11", "/E",
        ] {
            for hand in [hand, wide, hand.with_barre(false), hand.with_open(false)] {
                let text = format!("{root}{suffix}");
                let all = easiest(&text, &neck, &hand, usize::MAX);
                for limit in [1, 2, 5, 12] {
                    let few = easiest(&text, &neck, &hand, limit);
                    assert!(few == all[..limit.min(all.len())], "{text} {limit}");
                    compared += few.len();
                }
            }
        }
    }
    assert!(compared > 5000, "{compared}");
}
