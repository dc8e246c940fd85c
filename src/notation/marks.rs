//! Repeats and endings: from the order in which bars are played to the marks at their bar lines, and back.

use std::ops::Range;

use super::order;
use super::raw::RawMeasure;
use crate::chart::MOST_BARS;

/// The marks at the bar lines of one written bar.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Marks {
    /// A repeat begins before it.
    pub(crate) opens: bool,
    /// A repeat ends behind it; how often it is played in all, where no endings say so.
    pub(crate) closes: Option<u32>,
    /// An ending begins before it: the times it is played, counted from 1.
    pub(crate) ending: Option<Vec<u32>>,
    /// That ending, or the one begun earlier, ends behind it: its numbers.
    pub(crate) ending_ends: Option<Vec<u32>>,
}

/// An ending: its bars and the times it is played.
struct Ending {
    bars: Range<usize>,
    times: Vec<u32>,
}

/// The marks that play `count` bars in this order, each bar at least once; `None` where no marks do.
pub(crate) fn marks(count: usize, order: &[usize]) -> Option<Vec<Marks>> {
    let mut found = vec![Marks::default(); count];
    let mut at = 0;
    let mut bar = 0;
    while at < order.len() {
        if order[at] != bar {
            return None;
        }
        let length = run(order, at);
        let next = at + length;
        let Some(&start) = order.get(next) else {
            bar += length;
            break;
        };
        let last = bar + length - 1;
        if start < bar || start > last {
            return None;
        }
        let first = at + (start - bar);
        (at, bar) = repeat(&mut found, order, first, last)?;
    }
    (bar == count && play(&found) == order).then_some(found)
}

/// How many places from `at` on go from bar to bar.
fn run(order: &[usize], at: usize) -> usize {
    let steps = order[at..].windows(2);
    1 + steps.take_while(|pair| pair[1] == pair[0] + 1).count()
}

/// Marks the repeat whose first time begins at the place `first` of the order and ends with bar `last`; gives the place and
/// the bar behind it.
fn repeat(
    found: &mut [Marks],
    order: &[usize],
    first: usize,
    last: usize,
) -> Option<(usize, usize)> {
    let start = order[first];
    let whole = last - start + 1;
    let mut at = first + whole;
    let mut endings = vec![Ending {
        bars: start..last + 1,
        times: vec![1],
    }];
    let mut time = 1;
    while order.get(at) == Some(&start) {
        time += 1;
        let length = run(order, at).min(whole);
        at += length;
        if length == whole {
            endings[0].times.push(time);
            continue;
        }
        // It leaves the bars of the first time for an ending of its own.
        let body = start + length;
        if endings.len() == 1 {
            endings[0].bars.start = body;
        }
        if endings[0].bars.start != body {
            return None;
        }
        let from = *order.get(at)?;
        let after = at + run(order, at);
        if let Some(known) = endings.iter_mut().skip(1).find(|e| e.bars.start == from) {
            known.times.push(time);
            at += known.bars.len();
            continue;
        }
        if from != endings.last()?.bars.end {
            return None;
        }
        // One that goes back ends there; the last has no end of its own.
        let goes_back = order.get(after) == Some(&start);
        let longest = endings[0].bars.len();
        let room = order
            .get(after)
            .map_or(usize::MAX, |next| next.saturating_sub(from));
        let length = match goes_back {
            true => after - at,
            false => longest.min(after - at).min(room.max(1)),
        };
        endings.push(Ending {
            bars: from..from + length,
            times: vec![time],
        });
        at += length;
        if !goes_back {
            break;
        }
    }
    let end = endings.last()?.bars.end;
    found.get_mut(start)?.opens = true;
    if let [only] = &*endings {
        found.get_mut(last)?.closes = Some(u32::try_from(only.times.len()).ok()?);
        return Some((at, end));
    }
    let count = endings.len();
    for (place, ending) in endings.into_iter().enumerate() {
        let behind = found.get_mut(ending.bars.end.checked_sub(1)?)?;
        behind.ending_ends = Some(ending.times.clone());
        behind.closes = (place + 1 < count).then_some(2);
        found.get_mut(ending.bars.start)?.ending = Some(ending.times);
    }
    Some((at, end))
}

/// The order in which the marks play the bars.
pub(crate) fn play(marks: &[Marks]) -> Vec<usize> {
    let measure = |mark: &Marks| RawMeasure {
        opens: mark.opens,
        closes: mark.closes,
        ending: mark.ending.clone(),
        ending_ends: mark.ending_ends.is_some(),
        ..RawMeasure::default()
    };
    let measures: Vec<RawMeasure> = marks.iter().map(measure).collect();
    order::order(&measures, MOST_BARS).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::read_section;
    use crate::time::Meter;

    fn order(chart: &str) -> (usize, Vec<usize>) {
        let mut problems = Vec::new();
        let section = read_section(chart, Meter::COMMON, &mut problems);
        assert!(problems.is_empty(), "{problems:?}");
        (section.bars.len(), section.order)
    }

    #[test]
    fn every_repeat_of_a_chart_has_marks_that_play_it() {
        for (chart, repeats) in [
            ("| C | D |", 0),
            ("|: C | D :|", 1),
            ("| C | D :| E |", 1),
            ("| C |: D | E :|x4 F |", 1),
            ("|: C :| D |: E | F :|x3", 2),
            ("|: C | D |[1. E :|[2. F |", 1),
            ("| A |: C | D |[1. E | E :|[2. F | G | A |", 1),
            ("|: C |[1.2. E :|[3. F | G |", 1),
            ("|: C |[1.3. E :|[2. D :|[4. F | G |: A :| B |", 2),
            ("|: C |[1. E :|[2. F |: G |[1. A :|[2. B |", 2),
        ] {
            let (count, order) = order(chart);
            let found = marks(count, &order).unwrap_or_else(|| panic!("{chart}: {order:?}"));
            assert_eq!(found.iter().filter(|m| m.opens).count(), repeats, "{chart}");
            assert_eq!(play(&found), order, "{chart}");
        }
    }

    #[test]
    fn orders_that_no_repeat_makes_have_none() {
        for (count, order) in [
            (3, &[0, 2][..]),
            (2, &[1, 0]),
            (3, &[0, 1]),
            (4, &[0, 1, 2, 0, 3, 0, 1]),
            (3, &[0, 1, 0, 1, 2, 0, 1, 2]),
        ] {
            assert_eq!(marks(count, order), None, "{order:?}");
        }
    }
}
