//! Phrase plans: which bars repeat and which vary.

use std::ops::Range;

use super::request::Rhythm;
use super::weights::Step;

/// Most places of a plan that have a chord of their own.
pub(super) const MOST_PLACES: usize = 16;

/// Slots (chord by chord) grouped into phrases of two, four or eight bars that repeat and vary.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhrasePlan {
    /// Bars to a phrase.
    pub phrase_bars: u32,
    /// The phrases by letter, an apostrophe where the end is varied: `A A B A'`.
    pub form: String,
    /// For each slot, the place whose chord it has.
    pub places: Vec<usize>,
    /// How many places there are, 1 to 16.
    pub place_count: usize,
    /// For each bar, the slots it holds: one or two, or the one that is held on from the bar before.
    pub bars: Vec<Vec<usize>>,
    /// How likely the plan is, against the others.
    pub weight: u64,
    pub(super) steps: Vec<(usize, usize, Step)>,
}

/// Forms by how many phrases they have; the varied one always comes last.
const FORMS: [(usize, &str, u64); 14] = [
    // A single phrase: through-composed, the hardest to follow.
    (1, "A", 3),
    (2, "A A'", 6),
    (2, "A B", 3),
    (2, "A A", 2),
    (3, "A A A'", 3),
    (3, "A A B", 3),
    (3, "A B A'", 3),
    (4, "A A B A'", 6),
    (4, "A B A B'", 4),
    (4, "A A A A'", 3),
    (4, "A A B B", 2),
    (8, "A A B A A A B A'", 4),
    (8, "A A A' A A A A' A'", 0),
    (8, "A B A B A B A B'", 3),
];

/// All plans for so many bars, with at least one place more than a single chord needs where there is room.
///
/// Phrases have two, four or eight bars where these divide the whole, else the whole is one phrase. A plan with more than
/// sixteen places of its own is left out.
pub fn plans(bars: u32, rhythm: Rhythm) -> Vec<PhrasePlan> {
    let Some(slots) = rhythm.slots(bars) else {
        return Vec::new();
    };
    let mut found: Vec<PhrasePlan> = Vec::new();
    let mut lengths: Vec<u32> = [2, 4, 8]
        .into_iter()
        .filter(|p| bars.is_multiple_of(*p))
        .collect();
    if !lengths.contains(&bars) {
        lengths.push(bars);
    }
    for phrase_bars in lengths {
        let phrases = usize::try_from(bars / phrase_bars).unwrap_or(1);
        let phrase_slots = slots / phrases;
        if phrase_slots == 0 || slots % phrases != 0 || (phrase_slots < 2 && slots > 1) {
            continue;
        }
        let mut forms: Vec<(String, u64)> = FORMS
            .iter()
            .filter(|(count, _, weight)| *count == phrases && *weight > 0)
            .map(|(_, form, weight)| ((*form).to_owned(), *weight))
            .collect();
        if forms.is_empty() {
            // Any other number: the same phrase, the last time varied.
            forms.push((format!("{} A'", vec!["A"; phrases - 1].join(" ")), 2));
        }
        for (form, weight) in forms {
            // Listeners count in phrases of four bars.
            let weight = weight * if phrase_bars == 4 { 2 } else { 1 };
            let whole = Layout::new(rhythm, phrase_bars, phrase_slots);
            if rhythm == Rhythm::Mixed {
                for (shared, own) in mixed(phrase_bars, bars) {
                    let layout = whole.shared(shared);
                    found.extend(PhrasePlan::new(&layout, &form, weight * own));
                }
            } else {
                found.extend(PhrasePlan::new(&whole, &form, weight));
            }
        }
    }
    found
}

/// Which bars of a phrase of so many bars have two chords, and the weight of each way. In songs one bar of six has two
/// chords or more, in loops of two bars one of five; the first bar has them as often as the last.
fn mixed(phrase_bars: u32, bars: u32) -> Vec<(Range<u32>, u64)> {
    let last = phrase_bars.saturating_sub(1)..phrase_bars;
    match phrase_bars {
        1 => vec![(0..0, 1)],
        2 if bars == 2 => vec![(0..0, 13), (0..1, 2), (last, 2), (0..2, 6)],
        2 => vec![(0..0, 2), (last, 1)],
        4 if bars == 4 => vec![(0..0, 1), (last, 10)],
        _ => vec![(0..0, 1), (last, 4)],
    }
}

/// The slots of a phrase.
#[derive(Clone, Debug)]
struct Layout {
    bars: u32,
    slots: usize,
    /// For each bar, its slots within the phrase.
    by_bar: Vec<Vec<usize>>,
    /// How many slots at the end change when it is varied: a quarter, at least one, and a shared bar as a whole.
    varied: usize,
}

impl Layout {
    fn new(rhythm: Rhythm, bars: u32, slots: usize) -> Layout {
        Layout {
            bars,
            slots,
            by_bar: bars_of(rhythm, slots),
            varied: (slots / 4).max(1),
        }
    }

    /// Of a phrase with a chord a bar: the same with two chords in these bars.
    fn shared(&self, shared: Range<u32>) -> Layout {
        let mut slots = 0;
        let by_bar: Vec<Vec<usize>> = (0..self.bars)
            .map(|bar| {
                let chords = if shared.contains(&bar) { 2 } else { 1 };
                slots += chords;
                (slots - chords..slots).collect()
            })
            .collect();
        Layout {
            slots,
            by_bar,
            // A shared bar changes as a whole.
            varied: self.varied + usize::from(shared.end == self.bars && !shared.is_empty()),
            ..self.clone()
        }
    }

    /// Whether a slot is the second of its bar.
    fn is_second(&self, slot: usize) -> bool {
        self.by_bar.iter().any(|bar| bar.get(1) == Some(&slot))
    }
}

/// The slots of each bar.
fn bars_of(rhythm: Rhythm, slots: usize) -> Vec<Vec<usize>> {
    let all = 0..slots;
    match rhythm {
        Rhythm::TwoBars => all.flat_map(|slot| [vec![slot], vec![slot]]).collect(),
        Rhythm::Mixed | Rhythm::Bar => all.map(|slot| vec![slot]).collect(),
        Rhythm::HalfBar => all.step_by(2).map(|slot| vec![slot, slot + 1]).collect(),
    }
}

impl PhrasePlan {
    /// The chords of each bar, given those of each place.
    pub(super) fn bars_of(&self, places: &[usize]) -> Vec<Vec<usize>> {
        let chord = |slot: &usize| places.get(*self.places.get(*slot)?).copied();
        let bar = |bar: &Vec<usize>| bar.iter().filter_map(chord).collect();
        self.bars.iter().map(bar).collect()
    }

    fn new(layout: &Layout, form: &str, weight: u64) -> Option<PhrasePlan> {
        let phrase_slots = layout.slots;
        let mut first_of: Vec<(char, Vec<usize>)> = Vec::new();
        let mut places: Vec<usize> = Vec::new();
        let mut count = 0;
        for word in form.split(' ') {
            let letter = word.chars().next()?;
            let known = first_of
                .iter()
                .find(|(l, _)| *l == letter)
                .map(|(_, places)| places.clone());
            let mut phrase = known.unwrap_or_default();
            let keep = match (phrase.is_empty(), word.ends_with('\'')) {
                (true, _) => 0,
                (false, true) => phrase_slots.checked_sub(layout.varied)?,
                (false, false) => phrase_slots,
            };
            phrase.truncate(keep);
            while phrase.len() < phrase_slots {
                phrase.push(count);
                count += 1;
            }
            if first_of.iter().all(|(l, _)| *l != letter) {
                first_of.push((letter, phrase.clone()));
            }
            places.extend(phrase);
        }
        let bar = |(phrase, bar): (usize, &Vec<usize>)| -> Vec<usize> {
            bar.iter()
                .map(|slot| phrase * phrase_slots + slot)
                .collect()
        };
        let phrases = 0..places.len() / phrase_slots;
        let bars = phrases.flat_map(|phrase| layout.by_bar.iter().map(move |b| (phrase, b)));
        let mut plan = PhrasePlan {
            phrase_bars: layout.bars,
            form: form.to_owned(),
            place_count: count,
            bars: bars.map(bar).collect(),
            steps: steps(&places, layout),
            places,
            weight,
        };
        plan.steps.sort_unstable();
        plan.steps.dedup();
        // Five bits a step and two and six tenths a place stay within 128.
        let bits = 5 * plan.steps.len() + (26 * count).div_ceil(10);
        (count <= MOST_PLACES && bits <= 126).then_some(plan)
    }
}

/// The steps from slot to slot and from the last to the first.
fn steps(places: &[usize], layout: &Layout) -> Vec<(usize, usize, Step)> {
    let last = places.len() - 1;
    (0..last)
        .map(|i| {
            let at = (i + 1) % layout.slots;
            let kind = match at {
                _ if layout.is_second(at) || layout.bars == 2 && at > 0 => Step::Within,
                _ => Step::Onward,
            };
            (places[i], places[i + 1], kind)
        })
        .chain([(places[last], places[0], Step::Home)])
        .filter(|(from, to, _)| from != to || last == 0)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phrases_repeat_and_vary() {
        let shown: Vec<String> = plans(8, Rhythm::Bar)
            .iter()
            .map(|p| {
                format!(
                    "{} x {}: {:?} {}",
                    p.phrase_bars, p.form, p.places, p.weight
                )
            })
            .collect();
        assert_eq!(
            shown,
            [
                "2 x A A B A': [0, 1, 0, 1, 2, 3, 0, 4] 6",
                "2 x A B A B': [0, 1, 2, 3, 0, 1, 2, 4] 4",
                "2 x A A A A': [0, 1, 0, 1, 0, 1, 0, 2] 3",
                "2 x A A B B: [0, 1, 0, 1, 2, 3, 2, 3] 2",
                "4 x A A': [0, 1, 2, 3, 0, 1, 2, 4] 12",
                "4 x A B: [0, 1, 2, 3, 4, 5, 6, 7] 6",
                "4 x A A: [0, 1, 2, 3, 0, 1, 2, 3] 4",
                "8 x A: [0, 1, 2, 3, 4, 5, 6, 7] 3",
            ]
        );
    }

    #[test]
    fn every_length_has_a_plan_and_no_plan_is_too_large() {
        for bars in 1..=64 {
            for rhythm in [Rhythm::TwoBars, Rhythm::Bar, Rhythm::HalfBar] {
                let Some(slots) = rhythm.slots(bars) else {
                    continue;
                };
                let all = plans(bars, rhythm);
                for plan in &all {
                    assert_eq!(plan.places.len(), slots);
                    assert!(plan.place_count <= MOST_PLACES && plan.weight > 0);
                    assert_eq!(plan.places.iter().max(), Some(&(plan.place_count - 1)));
                }
                if slots <= MOST_PLACES || bars % 8 == 0 {
                    assert!(!all.is_empty(), "{bars} {rhythm:?}");
                }
            }
        }
    }
}
