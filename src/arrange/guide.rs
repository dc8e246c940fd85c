//! The guide: a line that runs through a shape of the set.

use super::Note;
use crate::chart::{FormBar, GuideSettings, Run};
use crate::event::{KeyNumber, Velocity};
use crate::neck::{Neck, NeckError, Position, StringNumber, root_shape};
use crate::theory::{Chord, Scale};
use crate::time::Beat;

/// Widest leap of the line, in semitones.
const WIDEST: u8 = 12;
/// Most notes that are planned at once, so that a long form takes little memory.
const WINDOW: usize = 1024;

/// What the line pays: for leaving its way, and for each place of the shape it skips then, where it leads back to its first note; for
/// leaving it by an octave; where a chord begins on a note that is not of it; where a bar does.
const TURN: u32 = 4;
const SKIP: u32 = 1;
const OCTAVE: u32 = 8;
const OUTSIDE_CHORD: u32 = 40;
const OUTSIDE_BAR: u32 = 6;
/// A cost no way is worth: a leap that is too wide.
const NEVER: u32 = 100_000_000;

/// The keys that come before and after a line.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct GuideEnds {
    /// The key it follows; without one it begins where its way does, or near there.
    pub(super) before: Option<u8>,
    /// The key it leads to; without one its own first, since a run may be played again.
    pub(super) after: Option<u8>,
}

/// The line of a run of bars.
#[derive(Clone, Debug)]
pub(super) struct GuideLine {
    /// The positions of the shape from the lowest up.
    shape: Vec<Position>,
    /// The place in the shape of each note of the run.
    line: Vec<u8>,
    /// How many notes come before each bar.
    before: Vec<usize>,
    notes: Option<u32>,
}

impl GuideLine {
    /// The line through the shape that begins at the root on the string asked for.
    pub(super) fn new(
        set: &Scale,
        neck: &Neck,
        settings: &GuideSettings,
        bars: &[FormBar],
        ends: GuideEnds,
    ) -> Result<GuideLine, NeckError> {
        let shape = root_shape(set, neck, StringNumber::new(settings.string)?, false)?;
        let shape: Vec<Position> = shape.positions().to_vec();
        let mut plan: Vec<Step> = Vec::new();
        let mut before = Vec::with_capacity(bars.len());
        let mut sounding = None;
        for bar in bars {
            before.push(plan.len());
            steps(bar, settings.notes, &shape, &mut sounding, &mut plan);
        }
        let line = if settings.meets_chords {
            Way::new(settings.run, &shape).line(&plan, ends)
        } else {
            let run = settings.run.order(shape.len());
            let places: Vec<u8> = run.iter().filter_map(|i| u8::try_from(*i).ok()).collect();
            places.iter().copied().cycle().take(plan.len()).collect()
        };
        Ok(GuideLine {
            shape,
            line,
            before,
            notes: settings.notes,
        })
    }

    fn key(&self, note: usize) -> Option<u8> {
        let place = self.line.get(note)?;
        let position = self.shape.get(usize::from(*place))?;
        Some(position.midi)
    }

    /// The first key of the line, where it has one.
    pub(super) fn first(&self) -> Option<u8> {
        self.key(0)
    }

    /// The last key of the line, where it has one.
    pub(super) fn last(&self) -> Option<u8> {
        self.key(self.line.len().checked_sub(1)?)
    }

    /// The last key before the `index`th bar of the run.
    pub(super) fn before(&self, index: usize) -> Option<u8> {
        self.key(self.before.get(index)?.checked_sub(1)?)
    }

    /// A note to end on, near the key `before` it: the root of `chord` where the shape has it, else another of its tones.
    pub(super) fn last_note(
        &self,
        chord: &Chord,
        before: Option<u8>,
        offset_ticks: u64,
        length_ticks: u64,
    ) -> Option<Note> {
        let from = before.or_else(|| self.shape.first().map(|position| position.midi))?;
        let near = |wanted: &[u8]| {
            let found = self
                .shape
                .iter()
                .filter(|p| wanted.contains(&(p.midi % 12)));
            found.min_by_key(|p| (p.midi.abs_diff(from), p.midi))
        };
        let root = chord.root().pitch_class().value();
        let tones: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
        let position = near(&[root]).or_else(|| near(&tones))?;
        Some(Note {
            offset_ticks,
            length_ticks: super::shortened(length_ticks),
            key: KeyNumber::clamped(i32::from(position.midi)),
            velocity: Velocity::clamped(84),
            degree: Some(position.degree),
        })
    }

    /// The notes of the `index`th bar of the run.
    pub(super) fn notes(&self, bar: &FormBar, index: usize) -> Vec<Note> {
        let Some(before) = self.before.get(index) else {
            return Vec::new();
        };
        let mut found = Vec::new();
        for (beat, count) in beats(bar, self.notes) {
            for i in 0..count {
                let (from, to) = (
                    beat.length_ticks * i / count,
                    beat.length_ticks * (i + 1) / count,
                );
                let place = self.line.get(before + found.len());
                let Some(position) = place.and_then(|p| self.shape.get(usize::from(*p))) else {
                    continue;
                };
                found.push(Note {
                    offset_ticks: beat.offset_ticks + from,
                    length_ticks: super::shortened(to - from),
                    key: KeyNumber::clamped(i32::from(position.midi)),
                    velocity: Velocity::clamped(if i == 0 { 84 } else { 74 }),
                    degree: Some(position.degree),
                });
            }
        }
        found
    }
}

/// The beats of a bar, each with how many notes it has.
fn beats(bar: &FormBar, notes: Option<u32>) -> impl Iterator<Item = (Beat, u64)> + use<> {
    let meter = bar.meter;
    meter.beats().map(move |beat| {
        let usual = if !meter.groups().is_empty() {
            beat.length_ticks / meter.unit_ticks()
        } else if meter.is_compound() {
            3
        } else {
            2
        };
        (beat, notes.map_or(usual, |n| u64::from(n.max(1))))
    })
}

/// A note of the line before its place is known.
#[derive(Clone, Debug, Default)]
struct Step {
    /// Whether it is the first of a beat: there the line may leave its way.
    on_beat: bool,
    /// What each place of the shape costs; empty where any is as good.
    costs: Vec<u32>,
}

impl Step {
    fn cost(&self, place: u8) -> u32 {
        self.costs.get(usize::from(place)).copied().unwrap_or(0)
    }
}

/// Adds the notes of a bar. `sounding` is the chord of the bar before.
fn steps<'a>(
    bar: &'a FormBar,
    notes: Option<u32>,
    shape: &[Position],
    sounding: &mut Option<&'a Chord>,
    plan: &mut Vec<Step>,
) {
    for (beat, count) in beats(bar, notes) {
        let mut placed = bar.chords.iter();
        let placed = placed.rfind(|c| c.offset_ticks <= beat.offset_ticks);
        let chord = placed.and_then(|placed| placed.harmony.chord());
        let changes = std::mem::replace(sounding, chord) != chord;
        let outside = match (changes, beat.offset_ticks) {
            (true, _) => OUTSIDE_CHORD,
            (false, 0) => OUTSIDE_BAR,
            _ => 0,
        };
        let costs = chord.filter(|_| outside > 0).map(|chord| {
            let tones: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
            let cost = |p: &Position| {
                if tones.contains(&(p.midi % 12)) {
                    0
                } else {
                    outside
                }
            };
            shape.iter().map(cost).collect()
        });
        for i in 0..count {
            plan.push(Step {
                on_beat: i == 0,
                costs: if i == 0 {
                    costs.clone().unwrap_or_default()
                } else {
                    Vec::new()
                },
            });
        }
    }
}

/// Where a window begins.
#[derive(Clone, Copy, Debug)]
enum Start {
    /// Near a key, or near the beginning of the way.
    Near(Option<u8>),
    /// At this place of the way.
    At(usize),
    /// After this place.
    After(usize),
}

/// The way of a run through the shape, and the leaps by which the line may leave it.
struct Way {
    /// Places of the shape; its end joins its beginning.
    cycle: Vec<u8>,
    keys: Vec<u8>,
    /// By the place in the way: where else to go from there, and what that costs.
    leaps: Vec<Vec<(usize, u32)>>,
}

impl Way {
    fn new(run: Run, shape: &[Position]) -> Way {
        let keys: Vec<u8> = shape.iter().map(|p| p.midi).collect();
        let order = run.order(keys.len());
        let cycle: Vec<u8> = order.iter().filter_map(|i| u8::try_from(*i).ok()).collect();
        let cycle = bridged(&cycle, &keys);
        let size = match run {
            Run::Up | Run::Down | Run::Both => 1,
            Run::Thirds => 2,
            Run::Threes => 3,
            Run::Fours => 4,
        };
        // A group is not left before its end, and begun at its beginning.
        let whole = cycle.len().is_multiple_of(size);
        let begins = |at: usize| !whole || at.is_multiple_of(size);
        let key = |at: usize| keys.get(usize::from(cycle[at])).copied().unwrap_or(0);
        let leaps = (0..cycle.len()).map(|from| {
            if !begins((from + 1) % cycle.len()) {
                return Vec::new();
            }
            let to = (0..cycle.len()).filter(|to| begins(*to) && *to != (from + 1) % cycle.len());
            let cost = |to: usize| match cycle[from].abs_diff(cycle[to]) {
                step @ 1..=2 => Some((to, TURN + SKIP * u32::from(step - 1))),
                _ if key(from).abs_diff(key(to)) == WIDEST => Some((to, OCTAVE)),
                _ => None,
            };
            to.filter_map(cost).collect()
        });
        Way {
            leaps: leaps.collect(),
            cycle,
            keys,
        }
    }

    /// Semitones from a place of the shape to a key.
    fn leap(&self, from: u8, to: u8) -> u8 {
        let key = self.keys.get(usize::from(from)).copied();
        key.map_or(0, |key| key.abs_diff(to))
    }

    /// The places of the notes of a run: the way that costs least, window by window.
    fn line(&self, plan: &[Step], ends: GuideEnds) -> Vec<u8> {
        let mut line: Vec<u8> = Vec::with_capacity(plan.len());
        let mut at: Option<usize> = None;
        let mut from = 0;
        while from < plan.len() && !self.cycle.is_empty() {
            let to = plan.len().min(from + WINDOW);
            let start = match at {
                Some(at) => Start::After(at),
                None => Start::Near(ends.before),
            };
            let window = &plan[from..to];
            let first = |at: usize| self.keys.get(usize::from(self.cycle[at])).copied();
            let found = if to < plan.len() {
                self.window(window, start, None)
            } else if let Some(after) = ends.after {
                self.window(window, start, Some(after))
            } else if let Some(place) = line.first() {
                let after = self.keys.get(usize::from(*place)).copied();
                self.window(window, start, after)
            } else {
                // The beginning is chosen before the end that leads to it.
                match self.window(window, start, None).first().copied() {
                    Some(begun) => self.window(window, Start::At(begun), first(begun)),
                    None => Vec::new(),
                }
            };
            line.extend(found.iter().map(|at| self.cycle[*at]));
            at = found.last().copied();
            from = to;
        }
        line
    }

    /// What the first note costs at a place of the cycle.
    fn beginning(&self, start: Start, first: &Step, at: usize) -> u32 {
        let place = self.cycle[at];
        let before = (at + self.cycle.len() - 1) % self.cycle.len();
        match start {
            Start::At(begun) if begun == at => 0,
            // Within a group no line begins.
            _ if self.leaps[before].is_empty() => NEVER,
            Start::Near(Some(key)) if self.leap(place, key) <= WIDEST => {
                u32::from(self.leap(place, key)) + first.cost(place)
            }
            Start::Near(None) => {
                SKIP * u32::from(place.abs_diff(self.cycle[0])) + first.cost(place)
            }
            _ => NEVER,
        }
    }

    /// The way through one window that costs least: places of the cycle. Where it `leads_to` a key, it ends an octave from it at
    /// most.
    fn window(&self, plan: &[Step], start: Start, leads_to: Option<u8>) -> Vec<usize> {
        let Some((first, rest)) = plan.split_first() else {
            return Vec::new();
        };
        let count = self.cycle.len();
        let mut trail: Vec<Vec<u16>> = Vec::with_capacity(plan.len());
        let mut costs: Vec<u32> = if let Start::After(before) = start {
            let mut costs = vec![NEVER; count];
            costs[before] = 0;
            self.advance(&mut costs, first, &mut trail);
            costs
        } else {
            (0..count)
                .map(|at| self.beginning(start, first, at))
                .collect()
        };
        for step in rest {
            self.advance(&mut costs, step, &mut trail);
        }
        if let Some(key) = leads_to {
            for (cost, last) in costs.iter_mut().zip(&self.cycle) {
                let leap = self.leap(*last, key);
                *cost += if leap > WIDEST {
                    NEVER
                } else {
                    u32::from(leap) / 4
                };
            }
        }
        let mut at = (0..count).min_by_key(|at| costs[*at]).unwrap_or(0);
        let mut found = vec![at];
        for ways in trail.iter().rev() {
            at = usize::from(ways[at]);
            found.push(at);
        }
        if let Start::After(_) = start {
            found.pop();
        }
        found.reverse();
        found
    }

    /// Goes a note on: what each place of the cycle then costs, and from where it is reached best.
    fn advance(&self, costs: &mut Vec<u32>, step: &Step, trail: &mut Vec<Vec<u16>>) {
        let count = self.cycle.len();
        let mut next = vec![u32::MAX; count];
        let mut ways = vec![0; count];
        for (from, cost) in costs.iter().enumerate() {
            let on = [((from + 1) % count, 0)];
            let leaps = if step.on_beat {
                self.leaps[from].as_slice()
            } else {
                &[]
            };
            for (to, more) in on.iter().chain(leaps) {
                let all = cost + more + step.cost(self.cycle[*to]);
                if all < next[*to] {
                    next[*to] = all;
                    ways[*to] = u16::try_from(from).unwrap_or(0);
                }
            }
        }
        trail.push(ways);
        *costs = next;
    }
}

/// The way with a leap of more than an octave parted: at the end of a run the line goes back by the widest leaps that are left.
fn bridged(cycle: &[u8], keys: &[u8]) -> Vec<u8> {
    let key = |place: u8| keys.get(usize::from(place)).copied().unwrap_or(0);
    let mut found = Vec::with_capacity(cycle.len() + 2);
    for (at, place) in cycle.iter().enumerate() {
        found.push(*place);
        let to = cycle[(at + 1) % cycle.len()];
        let mut from = *place;
        while key(from).abs_diff(key(to)) > WIDEST {
            let near = (0u8..)
                .zip(keys)
                .filter(|(_, k)| k.abs_diff(key(from)) <= WIDEST);
            let Some((nearest, _)) = near.min_by_key(|(_, k)| k.abs_diff(key(to))) else {
                break;
            };
            if nearest == from {
                break;
            }
            found.push(nearest);
            from = nearest;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Parts, Piece, Run};

    fn line(chart: &str, settings: &GuideSettings) -> Vec<Vec<(u64, u8, String)>> {
        let set = Scale::read("A minor pentatonic").unwrap();
        let bars = Piece::read_inline(chart).unwrap().0.unfold().unwrap().pass;
        let line = GuideLine::new(
            &set,
            &Neck::standard(),
            settings,
            &bars,
            GuideEnds::default(),
        )
        .unwrap();
        let shown = |(i, bar): (usize, &FormBar)| {
            let notes = line.notes(bar, i);
            notes
                .iter()
                .map(|n| (n.offset_ticks, n.key.get(), n.degree.unwrap().to_string()))
                .collect()
        };
        bars.iter().enumerate().map(shown).collect()
    }

    #[test]
    fn the_line_runs_on_over_bar_lines_and_names_its_degrees() {
        let settings = GuideSettings {
            run: Run::Up,
            notes: Some(2),
            ..Parts::default().guide
        };
        let bars = line("| Am | (3/4) Am |", &settings);
        // From A2 on the sixth string, fret 5: A C D E G A C D ... and back by octaves.
        let keys: Vec<u8> = bars.concat().iter().map(|n| n.1).collect();
        assert_eq!(
            keys,
            [45, 48, 50, 52, 55, 57, 60, 62, 64, 67, 69, 72, 60, 48]
        );
        let degrees: Vec<String> = bars[0].iter().map(|n| n.2.clone()).collect();
        assert_eq!(degrees, ["1", "b3", "4", "5", "b7", "1", "b3", "4"]);
        assert_eq!(bars[0][1].0, 480);
        // Over D minor, the bar begins on D or A instead of E.
        let bars = line("| Am | (3/4) Dm |", &settings);
        assert!([2, 9].contains(&(bars[1][0].1 % 12)), "{bars:?}");
    }

    #[test]
    fn a_long_line_is_one_over_its_windows() {
        let settings = GuideSettings {
            notes: Some(8),
            ..Parts::default().guide
        };
        let chart = format!("{}|", "| Am | Dm | G | C ".repeat(30));
        let keys: Vec<u8> = line(&chart, &settings)
            .concat()
            .iter()
            .map(|n| n.1)
            .collect();
        assert!(keys.len() > 3 * WINDOW, "{}", keys.len());
        let wide = keys.windows(2).filter(|w| w[0].abs_diff(w[1]) > WIDEST);
        assert_eq!(wide.count(), 0);
        assert!(keys[keys.len() - 1].abs_diff(keys[0]) <= WIDEST);
    }

    #[test]
    fn a_compound_beat_is_shared_evenly() {
        let settings = GuideSettings {
            run: Run::Up,
            notes: None,
            string: 5,
            ..Parts::default().guide
        };
        let bars = line("| (6/8) Am |", &settings);
        let at: Vec<u64> = bars[0].iter().map(|n| n.0).collect();
        assert_eq!(at, [0, 480, 960, 1440, 1920, 2400]);
        // The fifth-string root shape begins at fret 12.
        assert_eq!(bars[0][0].1, 57);
    }
}
