//! Short turns: the items of a routine go round, instead of one whole item after the other.
//!
//! Studies of players do not agree on it: Carter and Grahn ("Optimizing music learning", Frontiers in Psychology 7, 2016)
//! found turns better where ratings of ten clarinet players differed; others found no difference.

use super::routine::{Item, What};

/// The same items in turns of at most so many minutes each, 1 or more: all take a turn, then all take the next. Minutes of
/// practice stay the same, item by item; a rest comes after as many minutes of practice as before. What an item says is said
/// in its first turn.
///
/// ```
/// use fivefold::practice::{Routine, in_turns};
/// let routine = Routine::read(
///     "items = [{drill = \"roots\", minutes = 3}, {rest = \"sit\", minutes = 1}, {drill = \"changes\", minutes = 2}]",
/// )?;
/// let turns = in_turns(&routine.items, 2);
/// let told: Vec<_> = turns.iter().map(|item| (item.what.text(), item.minutes)).collect();
/// assert_eq!(told, [("roots", 2), ("changes", 2), ("sit", 1), ("roots", 1)]);
/// # Ok::<(), fivefold::chart::Problems>(())
/// ```
#[must_use]
pub fn in_turns(items: &[Item], minutes: u32) -> Vec<Item> {
    let minutes = minutes.max(1);
    // The rests, each with the minutes of practice before it, and what is left of the others.
    let (mut rests, mut left) = (Vec::new(), Vec::new());
    let mut before = 0;
    for item in items {
        if let What::Rest(_) = item.what {
            rests.push((before, item));
        } else {
            before += item.minutes;
            left.push(item.clone());
        }
    }
    let mut rests = rests.into_iter().peekable();
    let mut turns: Vec<Item> = Vec::new();
    let mut practiced = 0;
    let mut rest = |practiced: u32, turns: &mut Vec<Item>| {
        while let Some((_, item)) = rests.next_if(|(before, _)| *before <= practiced) {
            turns.push(item.clone());
        }
    };
    while !left.is_empty() {
        for item in &mut left {
            rest(practiced, &mut turns);
            let turn = item.minutes.min(minutes);
            turns.push(Item {
                minutes: turn,
                ..item.clone()
            });
            item.minutes -= turn;
            item.say = None;
            practiced += turn;
        }
        left.retain(|item| item.minutes > 0);
    }
    rest(practiced, &mut turns);
    turns
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(what: What, minutes: u32) -> Item {
        Item {
            what,
            minutes,
            goal: None,
            say: Some("so".to_owned()),
            span: 0..0,
        }
    }

    fn drill(name: &str, minutes: u32) -> Item {
        item(What::Drill(name.to_owned()), minutes)
    }

    fn told(items: &[Item]) -> Vec<String> {
        let one = |item: &Item| format!("{} {}", item.what.text(), item.minutes);
        items.iter().map(one).collect()
    }

    #[test]
    fn all_take_a_turn_before_one_takes_its_next() {
        let items = [drill("a", 5), drill("b", 2), drill("c", 3)];
        let turns = in_turns(&items, 2);
        assert_eq!(told(&turns), ["a 2", "b 2", "c 2", "a 2", "c 1", "a 1"]);
        let said: Vec<bool> = turns.iter().map(|item| item.say.is_some()).collect();
        assert_eq!(said, [true, true, true, false, false, false]);
        // Turns that hold the longest item change nothing.
        assert_eq!(in_turns(&items, 5), items);
        assert_eq!(in_turns(&[], 5), []);
    }

    proptest::proptest! {
        #[test]
        fn minutes_and_rests_stay(
            lengths in proptest::collection::vec((1u32..10, proptest::bool::ANY), 0..12),
            minutes in 1u32..6,
        ) {
            let make = |(at, (length, rest)): (usize, &(u32, bool))| {
                let name = at.to_string();
                item(if *rest { What::Rest(name) } else { What::Drill(name) }, *length)
            };
            let items: Vec<Item> = lengths.iter().enumerate().map(make).collect();
            let turns = in_turns(&items, minutes);
            let total = |items: &[Item], name: &str| -> u32 {
                items.iter().filter(|item| item.what.text() == name).map(|item| item.minutes).sum()
            };
            for item in &items {
                let name = item.what.text();
                proptest::prop_assert_eq!(total(&items, name), total(&turns, name));
            }
            let mut practiced = 0;
            let mut before = Vec::new();
            for turn in &turns {
                if let What::Rest(_) = turn.what {
                    before.push(practiced);
                } else {
                    proptest::prop_assert!(turn.minutes <= minutes);
                    practiced += turn.minutes;
                }
            }
            let mut asked = 0;
            let mut rests = before.iter();
            for item in &items {
                if let What::Rest(_) = item.what {
                    // At the first end of a turn that is no earlier.
                    let at = *rests.next().unwrap();
                    proptest::prop_assert!(at >= asked && at < asked + minutes);
                } else {
                    asked += item.minutes;
                }
            }
        }
    }
}
