//! Where the bars of a run stand in their phrases: where fills lead on, and which sections are lifted.

use crate::chart::FormBar;

/// What a bar does in its phrase.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// It goes on.
    Inner,
    /// The fourth of a phrase: it differs a little.
    Fourth,
    /// The last of a phrase: a fill leads on.
    Last,
}

/// Where a bar stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) role: Role,
    /// Whether a phrase ended with the bar before.
    pub(super) after_fill: bool,
    /// Whether it is the first bar of its section.
    pub(super) opens_section: bool,
    /// Whether its section is lifted above the others.
    pub(super) lifted: bool,
    /// The bar of its section, counted from 0: grooves of two bars begin with it.
    pub(super) of_section: u64,
}

/// Bars of a phrase.
const PHRASE: u64 = 8;

/// One of so many passes of a chart without sections is lifted.
const LIFTED_TURN: u64 = 4;

/// What a bar, counted from 0, does among so many that make phrases together.
fn role(bar: u64, bars: u64) -> Role {
    let (done, left) = (bar + 1, bars - bar - 1);
    if left == 0 || (done % PHRASE == 0 && left >= PHRASE) {
        Role::Last
    } else if done % 4 == 0 && left >= 2 {
        Role::Fourth
    } else {
        Role::Inner
    }
}

/// The phrases of a run.
///
/// Sections shorter than eight bars make phrases together. A run shorter than eight bars is a loop, and its phrases go on over
/// its passes: they end where a pass ends that completes eight bars or more.
#[derive(Clone, Debug, Default)]
pub(super) struct Phrases {
    bars: Vec<Place>,
    /// Whether one section has all bars.
    of_one_section: bool,
}

impl Phrases {
    pub(super) fn new(bars: &[FormBar]) -> Phrases {
        let mut starts: Vec<usize> = (0..bars.len())
            .filter(|i| *i == 0 || bars[*i].opens_section)
            .collect();
        starts.push(bars.len());
        let mut groups: Vec<usize> = vec![0];
        for end in &starts[1..] {
            let begun = groups.last().copied().unwrap_or(0);
            if *end >= begun + 8 || *end == bars.len() {
                groups.push(*end);
            }
        }
        // A rest of less than four bars belongs to the phrase before it.
        if let [.., before, last, _] = groups[..]
            && bars.len() - last < 4
            && last > before
        {
            groups.remove(groups.len() - 2);
        }
        let first = bars.first().map(|bar| bar.section.clone());
        let mut places = Vec::with_capacity(bars.len());
        for group in groups.windows(2) {
            let length = group[1] - group[0];
            for i in 0..length {
                let bar = group[0] + i;
                let start = starts.iter().rfind(|s| **s <= bar).copied().unwrap_or(0);
                places.push(Place {
                    role: role(i as u64, length as u64),
                    after_fill: false,
                    opens_section: bar == start,
                    lifted: first.as_ref() != Some(&bars[bar].section),
                    of_section: (bar - start) as u64,
                });
            }
        }
        for i in 1..places.len() {
            places[i].after_fill = places[i - 1].role == Role::Last;
        }
        Phrases {
            of_one_section: bars.iter().all(|bar| Some(&bar.section) == first.as_ref()),
            bars: places,
        }
    }

    /// The place of a bar in pass `pass`, both counted from 0. `played_once` for an intro or an ending.
    pub(super) fn place(&self, pass: u64, bar: usize, played_once: bool) -> Option<Place> {
        let place = *self.bars.get(bar)?;
        let length = self.bars.len() as u64;
        if played_once {
            return Some(Place {
                lifted: false,
                ..place
            });
        }
        if length >= PHRASE {
            return Some(Place {
                after_fill: place.after_fill || (bar == 0 && pass > 0),
                lifted: if self.of_one_section {
                    pass % LIFTED_TURN == LIFTED_TURN - 1
                } else {
                    place.lifted
                },
                ..place
            });
        }
        let turn = length * PHRASE.div_ceil(length);
        let at = pass * length + bar as u64;
        let (turns, within) = (at / turn, at % turn);
        Some(Place {
            role: role(within, turn),
            after_fill: within == 0 && at > 0,
            lifted: turns % LIFTED_TURN == LIFTED_TURN - 1,
            // A loop of one bar goes on with the second bar of its groove.
            of_section: at,
            ..place
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Piece;

    fn shown(chart: &str, passes: u64) -> String {
        let (piece, _) = Piece::read_inline(chart).unwrap();
        let bars = piece.unfold().unwrap().pass;
        let phrases = Phrases::new(&bars);
        let sign = |place: Place| match (place.role, place.after_fill) {
            (Role::Inner, false) => '.',
            (Role::Inner, true) => '!',
            (Role::Fourth, _) => '4',
            (Role::Last, _) => 'F',
        };
        let one = |pass| {
            let places = (0..bars.len()).filter_map(|bar| phrases.place(pass, bar, false));
            places.map(sign).collect::<String>()
        };
        (0..passes).map(one).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn fills_stand_at_the_ends_of_phrases() {
        let bars = |n: usize| format!("{}|", "| C ".repeat(n));
        assert_eq!(shown(&bars(8), 2), "...4...F !..4...F");
        assert_eq!(shown(&bars(12), 1), "...4...4...F");
        assert_eq!(shown(&bars(16), 1), "...4...F!..4...F");
        assert_eq!(shown(&bars(20), 1), "...4...F!..4...4...F");
        assert_eq!(shown(&bars(4), 3), "...4 ...F !..4");
        assert_eq!(shown(&bars(3), 3), "... 4.. ..F");
        assert_eq!(shown(&bars(1), 9), ". . . 4 . . . F !");
        assert_eq!(
            shown(
                "[A] | C | C | C | C |\n[B] | G | G | G | G |\n[C] | F | F |",
                1
            ),
            "...4...4.F"
        );
        assert_eq!(
            shown(
                "[A] | C | C | C | C | C | C | C | C |\n[B] | G | G | G | G |",
                1
            ),
            "...4...F!..F"
        );
    }
}
