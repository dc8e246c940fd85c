//! Loops that songs repeat, as one more source of progressions.

use std::sync::LazyLock;

use super::counts::LOOPS;
use super::form::{Form, Outline};
use super::numerals::{Role, read_bars};
use super::pool::{Pool, Wished};
use super::request::{Request, Rhythm};
use super::table::Candidate;
use super::weights::LOOP_BARS;

/// The loops that fit the length, filled with what the rule admits and the wishes leave; each weighs as many as songs
/// repeat it.
///
/// A progression of more than four bars is to have three chords and to begin at home, as one that is drawn in phrases: of
/// the loops only those join it that do so.
pub(super) fn loops(pool: &Pool<'_>, request: &Request, wished: &Wished) -> Vec<Form> {
    let shared = match request.rhythm {
        Rhythm::Mixed => true,
        Rhythm::Bar => false,
        Rhythm::TwoBars | Rhythm::HalfBar => return Vec::new(),
    };
    let with_third = roots_with_third(pool);
    let weigh = |_: &Role, candidate: &Candidate| {
        let up = usize::from(candidate.chordal.root % 12);
        // A chord without a third stands for a numeral where there is no other.
        match candidate.quality.third || !with_third[up] {
            true => pool.weight(candidate),
            false => 0,
        }
    };
    let mut found = Vec::new();
    for (weight, once) in turned_loops(request.bars) {
        let Some(times) = times(request.bars, once.len()) else {
            continue;
        };
        let long = request.bars > LOOP_BARS && request.different.is_none();
        let wanted = !long || begins_at_home(once) && roots(once) >= 3;
        if !wanted || !shared && once.iter().any(|bar| bar.len() > 1) {
            continue;
        }
        let outline = Outline {
            name: format!("loop {}", text(once)),
            phrase_bars: u32::try_from(once.len()).unwrap_or(1),
            weight: *weight,
            parts: vec![vec![(1, vec![once.clone(); times].concat())]],
            named: Vec::new(),
            weigh: &weigh,
        };
        found.extend(Form::new(&outline, pool, wished).ok());
    }
    found
}

/// Loops with their weights.
type Weighed = Vec<(u64, Vec<Vec<Role>>)>;

/// The loops as they stand: read when first needed, and once.
static STANDING: LazyLock<Weighed> = LazyLock::new(|| {
    let own = LOOPS.iter();
    own.map(|(songs, text)| (TURNED * songs, read_bars(text)))
        .collect()
});

/// These, and each turned as well.
static TURNING: LazyLock<Weighed> = LazyLock::new(|| turned(&STANDING));

/// The loops for so many bars. What goes round at once can begin with any of its bars, so in short progressions a loop
/// comes turned as well, five times as rarely as it stands.
fn turned_loops(bars: u32) -> &'static Weighed {
    match bars {
        0..=LOOP_BARS => &TURNING,
        _ => &STANDING,
    }
}

fn turned(own: &Weighed) -> Weighed {
    let mut found = own.clone();
    for (weight, once) in own {
        for first in 1..once.len() {
            let mut turned = once.clone();
            turned.rotate_left(first);
            if let Some((known, _)) = found.iter_mut().find(|(_, bars)| *bars == turned) {
                *known += weight / TURNED;
            } else {
                found.push((weight / TURNED, turned));
            }
        }
    }
    found
}

/// How much more a loop weighs as it stands than turned.
pub(super) const TURNED: u64 = 5;

/// Bars as numerals.
fn text(bars: &[Vec<Role>]) -> String {
    let bar = |bar: &Vec<Role>| {
        let names: Vec<String> = bar.iter().map(Role::to_string).collect();
        names.join(" ")
    };
    let all: Vec<String> = bars.iter().map(bar).collect();
    all.join(" | ")
}

/// How often a loop of so many bars goes round; `None` where it does not divide the whole.
fn times(bars: u32, once: usize) -> Option<usize> {
    let bars = usize::try_from(bars).ok()?;
    (once > 0 && bars.is_multiple_of(once)).then_some(bars / once)
}

/// Whether the first chord is on the tonic.
fn begins_at_home(bars: &[Vec<Role>]) -> bool {
    let first = bars.first().and_then(|bar| bar.first());
    first.is_some_and(|role| role.up == 0)
}

/// How many roots bars have.
fn roots(bars: &[Vec<Role>]) -> usize {
    let mut on = [false; 12];
    for role in bars.iter().flatten() {
        on[usize::from(role.up % 12)] = true;
    }
    on.iter().filter(|there| **there).count()
}

/// The roots on which a chord with a third may be used.
fn roots_with_third(pool: &Pool<'_>) -> [bool; 12] {
    let mut on = [false; 12];
    for choice in pool.choices.iter().filter(|c| c.candidate.quality.third) {
        on[usize::from(choice.candidate.chordal.root % 12)] = true;
    }
    on
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::generate::numerals::Kind;

    #[test]
    fn every_loop_is_read_and_has_two_chords() {
        for (songs, text) in LOOPS {
            let bars = read_bars(text);
            let words = text.split_whitespace().filter(|w| *w != "|").count();
            assert_eq!(bars.iter().flatten().count(), words, "{text}");
            assert!([2, 4].contains(&bars.len()) && songs >= 2, "{text}");
            assert!(
                bars.iter()
                    .flatten()
                    .all(|r| !matches!(r.kind, Kind::Exactly(_)))
            );
            let first = bars[0][0];
            assert!(bars.iter().flatten().any(|role| *role != first), "{text}");
            assert_eq!(super::text(&bars), text);
            assert!(std::ptr::eq(turned_loops(2), turned_loops(4)), "read once");
            // Each once.
            assert_eq!(LOOPS.iter().filter(|l| l.1 == text).count(), 1, "{text}");
        }
    }
}
