//! The order in which a player goes through the measures of a score: repeats, endings, da capo, dal segno, coda.

use super::raw::RawMeasure;

/// An ending: its last measure and its numbers.
type Ending<'a> = (usize, &'a [u32]);

/// The measures in playing order; `None` where they are more than `most`.
///
/// A jump is taken once, and after it no repeats are played and endings are the last ones (common practice).
pub(super) fn order(measures: &[RawMeasure], most: usize) -> Option<Vec<usize>> {
    let endings = endings(measures);
    let mut played = Vec::new();
    let mut taken = vec![false; measures.len()];
    let (mut at, mut start, mut time) = (0, 0, 1);
    let mut jumped = false;
    while let Some(here) = measures.get(at) {
        if here.opens && start != at {
            (start, time) = (at, 1);
        }
        if let Some((last, numbers)) = endings[at] {
            let wanted = if jumped {
                is_last(&endings, last)
            } else {
                numbers.contains(&time)
            };
            if !wanted {
                at = last + 1;
                continue;
            }
        }
        if played.len() >= most {
            return None;
        }
        played.push(at);
        let find = |found: fn(&RawMeasure) -> bool| measures.iter().position(found);
        if jumped && here.jumps.fine {
            break;
        }
        if jumped
            && here.jumps.to_coda
            && let Some(coda) = measures
                .iter()
                .rposition(|m| m.jumps.coda)
                .filter(|c| *c > at)
        {
            (at, start, time) = (coda, coda, 1);
            continue;
        }
        if let Some(times) = here.closes.filter(|_| !jumped) {
            let in_ending = endings[start..=at].iter().any(Option::is_some);
            let again = if in_ending {
                has_time(&endings, start, measures, time + 1)
            } else {
                time < times
            };
            if again {
                (at, time) = (start, time + 1);
                continue;
            }
        }
        if here.closes.is_some() || here.ending_ends {
            (start, time) = (at + 1, 1);
        }
        let goal = match &here.jumps {
            jumps if jumps.dal_segno => find(|m| m.jumps.segno),
            jumps if jumps.da_capo => Some(0),
            _ => None,
        };
        if let Some(goal) = goal.filter(|_| !taken[at]) {
            taken[at] = true;
            jumped = true;
            (at, start, time) = (goal, goal, 1);
            continue;
        }
        at += 1;
    }
    Some(played)
}

/// The endings by the measure they begin with.
fn endings(measures: &[RawMeasure]) -> Vec<Option<Ending<'_>>> {
    let ending = |at: usize| {
        let numbers = measures[at].ending.as_deref()?;
        let mut last = at;
        while !measures[last].ending_ends
            && measures[last].closes.is_none()
            && measures
                .get(last + 1)
                .is_some_and(|next| next.ending.is_none() && !next.opens)
        {
            last += 1;
        }
        Some((last, numbers))
    };
    (0..measures.len()).map(ending).collect()
}

/// Whether no other ending follows one.
fn is_last(endings: &[Option<Ending<'_>>], last: usize) -> bool {
    endings.get(last + 1).is_none_or(Option::is_none)
}

/// Whether one of the endings of the repeat that began at `start` is played at this time.
fn has_time(
    endings: &[Option<Ending<'_>>],
    start: usize,
    measures: &[RawMeasure],
    time: u32,
) -> bool {
    let rest = (start..measures.len()).take_while(|at| *at == start || !measures[*at].opens);
    let mut numbers = rest.filter_map(|at| endings[at]);
    numbers.any(|(_, numbers)| numbers.contains(&time))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Measures of a line such as `|: a b [1. c :| [2. d |`; a letter is a measure, a capital word a jump behind it.
    fn played(line: &str) -> String {
        let mut measures: Vec<RawMeasure> = Vec::new();
        let (mut opens, mut ending, mut segno, mut coda) = (false, None, false, false);
        let mut names = Vec::new();
        for word in line.split_whitespace() {
            let last = measures.last_mut();
            match word {
                "|:" => opens = true,
                "SEGNO" => segno = true,
                "CODA" => coda = true,
                _ if word.starts_with('[') => {
                    let numbers = word[1..].split('.').filter_map(|n| n.parse().ok());
                    ending = Some(numbers.collect());
                }
                _ if word.starts_with(":|") => {
                    last.unwrap().closes = Some(word[2..].parse().unwrap_or(2));
                }
                "|" => last.unwrap().ending_ends = true,
                "DC" => last.unwrap().jumps.da_capo = true,
                "DS" => last.unwrap().jumps.dal_segno = true,
                "TOCODA" => last.unwrap().jumps.to_coda = true,
                "FINE" => last.unwrap().jumps.fine = true,
                name => {
                    names.push(name);
                    let mut measure = RawMeasure {
                        opens: std::mem::take(&mut opens),
                        ending: ending.take(),
                        ..RawMeasure::default()
                    };
                    measure.jumps.segno = std::mem::take(&mut segno);
                    measure.jumps.coda = std::mem::take(&mut coda);
                    measures.push(measure);
                }
            }
        }
        let order = order(&measures, 100).unwrap();
        order.into_iter().map(|at| names[at]).collect()
    }

    #[test]
    fn measures_are_played_as_players_do() {
        assert_eq!(played("a b :| c"), "ababc");
        assert_eq!(played("a |: b c :|3 d"), "abcbcbcd");
        assert_eq!(played("|: a [1. b :| [2. c | d"), "abacd");
        assert_eq!(played("|: a [1.2. b :| [3. c | d :|"), "ababacdd");
        assert_eq!(played("|: a [1. b :| [2. c :| d"), "abacd");
        assert_eq!(played("a b FINE c DC"), "abcab");
        assert_eq!(played("a SEGNO b TOCODA c DS CODA d e"), "abcbde");
        assert_eq!(played("a b TOCODA c DC CODA d"), "abcabd");
        assert_eq!(played("|: a b :| c FINE d DC"), "ababcdabc");
        assert_eq!(played("|: a [1. b :| [2. c FINE | d DC"), "abacdac");
        assert_eq!(played("a DC b DC"), "aabab");
        // A repeat without end and a jump to nowhere go on.
        assert_eq!(played("|: a b"), "ab");
        assert_eq!(played("a DS b"), "ab");
    }

    #[test]
    fn more_measures_than_wanted_are_none() {
        let long = RawMeasure {
            closes: Some(1000),
            ..RawMeasure::default()
        };
        assert_eq!(order(&[long], 100), None);
    }
}
