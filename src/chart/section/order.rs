//! The order in which repeats and endings play the bars.

use std::ops::Range;

use super::raw::RawBar;
use super::{MOST_BARS, too_many_bars};
use crate::chart::Problem;
use crate::chart::scan::MOST_REPEATS;

struct Order<'a, 'p> {
    raw: &'a [RawBar<'a>],
    played: Vec<usize>,
    full: bool,
    problems: &'p mut Vec<Problem>,
}

impl Order<'_, '_> {
    fn play(&mut self, bars: Range<usize>) {
        if self.full {
            return;
        }
        if self.played.len() + bars.len() > MOST_BARS {
            self.full = true;
            let span = self.raw[bars.start].span.clone();
            self.problems.push(too_many_bars(span));
            return;
        }
        self.played.extend(bars);
    }

    fn wrong(
        &mut self,
        code: &'static str,
        span: &Range<usize>,
        message: impl Into<String>,
        help: &str,
    ) {
        self.problems
            .push(Problem::error(code, span.clone(), message, help));
    }
}

/// Puts the bars into playing order: repeats do not nest, endings belong to the repeat they follow.
pub(super) fn play_order(raw: &[RawBar<'_>], problems: &mut Vec<Problem>) -> Vec<usize> {
    let mut order = Order {
        raw,
        played: Vec::with_capacity(raw.len()),
        full: false,
        problems,
    };
    // Where the repeat that is open began, and whether a `|:` said so.
    let mut start = 0;
    let mut open: Option<usize> = None;
    let mut first_repeat = true;
    // How many `:|` are still to come of repeats already reported.
    let mut excused = 0;
    let mut at = 0;
    while at < raw.len() {
        let bar = &raw[at];
        if let Some(mark) = &bar.opens {
            if open.is_some() {
                order.wrong(
                    "chart-repeat-nested",
                    mark,
                    "a repeat begins inside another",
                    "close the first with `:|` before opening the next",
                );
                excused += 1;
            }
            order.play(start..at);
            start = at;
            open = Some(at);
        }
        if bar.ending.is_some() {
            if open.is_none() && !first_repeat {
                let span = bar
                    .ending
                    .as_ref()
                    .map_or(bar.span.clone(), |e| e.1.clone());
                order.wrong(
                    "chart-ending-alone",
                    &span,
                    "an ending follows no repeat",
                    "open the repeat with `|:`",
                );
            }
            at = endings(&mut order, start, at);
            start = at;
            open = None;
            first_repeat = false;
            continue;
        }
        if let Some((times, span)) = &bar.closes {
            if open.is_none() && !first_repeat && excused > 0 {
                excused -= 1;
            } else if open.is_none() && !first_repeat {
                order.wrong(
                    "chart-repeat-unopened",
                    span,
                    "`:|` closes a repeat that was not opened",
                    "write `|:` where the repeat begins; only the first of a section may be left out",
                );
            }
            for _ in 0..*times {
                order.play(start..at + 1);
            }
            start = at + 1;
            open = None;
            first_repeat = false;
        }
        at += 1;
    }
    if let Some(at) = open {
        let span = raw[at].opens.clone().unwrap_or(raw[at].span.clone());
        order.wrong(
            "chart-repeat-unclosed",
            &span,
            "a repeat is not closed",
            "write `:|` at its end",
        );
    }
    order.play(start..raw.len());
    order.played
}

/// An ending: its numbers, its bars, and where it is marked.
struct Found<'a> {
    numbers: &'a [u32],
    bars: Range<usize>,
    mark: &'a Range<usize>,
    /// The `:|` at its end.
    closed: Option<&'a (u32, Range<usize>)>,
}

/// The endings that follow each other from bar `first` on.
fn find_endings<'a>(raw: &'a [RawBar<'a>], first: usize) -> Vec<Found<'a>> {
    let mut found = Vec::new();
    let mut at = first;
    while let Some((numbers, mark)) = raw.get(at).and_then(|bar| bar.ending.as_ref()) {
        if at > first && raw[at].opens.is_some() {
            break;
        }
        // To the bar that closes it, or before the next ending or repeat.
        let mut end = at;
        while raw[end].closes.is_none()
            && raw
                .get(end + 1)
                .is_some_and(|next| next.ending.is_none() && next.opens.is_none())
        {
            end += 1;
        }
        found.push(Found {
            numbers,
            bars: at..end + 1,
            mark,
            closed: raw[end].closes.as_ref(),
        });
        at = end + 1;
    }
    found
}

/// Plays a body and its endings; returns the bar after the last ending.
fn endings(order: &mut Order<'_, '_>, body: usize, first: usize) -> usize {
    let found = find_endings(order.raw, first);
    let wrong = order.problems.len();
    check_endings(order, &found);
    let behind = found.last().map_or(first + 1, |last| last.bars.end);
    if order.problems.len() > wrong {
        return behind;
    }
    let most = found.iter().flat_map(|f| f.numbers).max();
    for pass in 1..=most.copied().unwrap_or(1) {
        order.play(body..first);
        if let Some(ending) = found.iter().find(|f| f.numbers.contains(&pass)) {
            order.play(ending.bars.clone());
        }
        if order.full {
            break;
        }
    }
    behind
}

/// Reports endings that are not closed, closed too often, or numbered with gaps; one problem at a time.
fn check_endings(order: &mut Order<'_, '_>, found: &[Found<'_>]) {
    let [before @ .., last] = found else { return };
    for ending in before.iter().filter(|e| e.closed.is_none()) {
        order.wrong(
            "chart-ending-open",
            ending.mark,
            "an ending before the last is not closed",
            "close every ending but the last with `:|`",
        );
    }
    for (times, span) in found.iter().filter_map(|e| e.closed) {
        if *times != 2 {
            order.wrong(
                "chart-ending-times",
                span,
                "endings say by their numbers how often",
                "write `:|` without `x`, and `[1.2.` for an ending played twice",
            );
        }
    }
    if before.is_empty() {
        let next = last.numbers.iter().max().map_or(2, |n| n.saturating_add(1));
        order.wrong(
            "chart-ending-single",
            last.mark,
            "an ending stands alone",
            &format!("close it with `:|` and begin the next behind that: `:|[{next}. D |`"),
        );
        return;
    }
    if let Some((_, span)) = last.closed {
        order.wrong(
            "chart-ending-last",
            span,
            "the last ending is closed like a repeat",
            "end the last ending with `|`: only the endings before it go back",
        );
    }
    let mut numbers: Vec<(u32, &Range<usize>)> = found
        .iter()
        .flat_map(|f| f.numbers.iter().map(|n| (*n, f.mark)))
        .collect();
    // Stable sort: of two endings with one number, the later is the duplicate.
    numbers.sort_by_key(|n| n.0);
    for (expected, (number, mark)) in (1u32..).zip(&numbers) {
        let message = match number.cmp(&expected) {
            std::cmp::Ordering::Equal => continue,
            _ if *number == 0 => "endings are numbered from 1, found 0".to_owned(),
            std::cmp::Ordering::Less => format!("ending {number} is written twice"),
            std::cmp::Ordering::Greater => format!("ending {expected} is missing"),
        };
        order.wrong(
            "chart-ending-numbers",
            mark,
            message,
            "number the endings 1, 2, 3 without a gap, each number once",
        );
        return;
    }
    let most = numbers.last().map_or(1, |n| n.0);
    if most > MOST_REPEATS {
        let message = format!("a repeat is played 2 to {MOST_REPEATS} times, found ending {most}");
        order.wrong(
            "chart-repeat-times",
            last.mark,
            message,
            "write fewer endings",
        );
    }
    if last.numbers != [most] {
        order.wrong(
            "chart-ending-order",
            last.mark,
            "the last ending has the last number and no other",
            "give an ending that is played several times a `:|`, and the last its own number",
        );
    }
}
