//! Progressions in three exact draws: the phrase plan, the palette, the sequence.

use std::collections::HashMap;

use super::chance::{Chance, Odds};
use super::counts::Third;
use super::filled::{blues_forms, wants_form};
use super::form::Form;
use super::net::{MOST_CHORDS, Net, Steps};
use super::pool::{Choice, Pool, Start, Wished, leading_starts, pool, starts, sums};
use super::request::{Request, WishError, WishKind};
use super::shape::{PhrasePlan, plans};
use super::stock::{TURNED, loops};
use super::table::{Candidate, Table, classes};
use super::weights::{
    DIFFERENT, DIFFERENT_IN_TWO, STEPS, Step, all_steps, first_again, phrases, stay,
};
use crate::chart::FitRule;
use crate::theory::Chord;

/// A drawn progression.
#[derive(Clone, Debug, PartialEq)]
pub struct Progression {
    /// Which plan it follows; see [`Generator::plan`].
    pub plan: usize,
    /// The chords it uses, the first chord first.
    pub palette: Vec<Chord>,
    /// For each bar, which chords of the palette it has, one after the other. A chord that is held on stands there again.
    pub bars: Vec<Vec<usize>>,
    /// For each place of a plan of phrases, which chord of the palette; none in a form.
    places: Vec<usize>,
    /// How likely the plan was.
    pub plan_odds: Odds,
    /// How likely so many different chords were, given the plan.
    pub size_odds: Odds,
    /// How likely the palette was, given how many.
    pub palette_odds: Odds,
    /// How likely the sequence was, given plan and palette.
    pub sequence_odds: Odds,
}

impl Progression {
    /// The chords bar by bar.
    pub fn chords_by_bar(&self) -> Vec<Vec<Chord>> {
        let chord = |place: &usize| self.palette.get(*place).copied();
        let bar = |bar: &Vec<usize>| bar.iter().filter_map(chord).collect();
        self.bars.iter().map(bar).collect()
    }
}

/// What a progression follows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// Bars to a phrase.
    pub phrase_bars: u32,
    /// The phrases by letter, an apostrophe where the end is varied, such as `A A B A'`; or the name of a form, such as
    /// `plain blues`.
    pub form: String,
    /// Whether it is a form by its name.
    pub named: bool,
}

/// Draws progressions for a request.
pub struct Generator {
    plans: Vec<PhrasePlan>,
    nets: Vec<Net>,
    choices: Vec<Choice>,
    starts: Vec<Start>,
    /// Forms, which come behind the plans.
    forms: Vec<Form>,
    /// For each plan, how many different chords it can have.
    sizes: Vec<Sizes>,
    /// The weight of each end.
    end_weights: [u64; 3],
    third: Third,
    /// The weights of steps, by the two roots.
    step_weights: [[u64; 12]; 12],
    blues: bool,
}

impl Generator {
    /// Prepares the draws. The last chord leads home where nothing else is wished for and one of those that fit does.
    ///
    /// # Errors
    /// When a wish leaves nothing to choose from: the first that does, in the order bars, set and rule, kind of chord,
    /// chords left out, last chord, first chord, chords to use, how many different.
    pub fn new(table: &Table, request: &Request) -> Result<Generator, WishError> {
        let all = all_plans(request)?;
        let in_form = wants_form(table, request)?;
        let pool = pool(table, request, in_form)?;
        let wished = Wished::new(&pool)?;
        let free = starts(&pool, &wished)?;
        let mut generator = Generator {
            nets: all.iter().map(Net::new).collect(),
            plans: all,
            choices: pool.choices.clone(),
            starts: Vec::new(),
            forms: Vec::new(),
            sizes: Vec::new(),
            end_weights: [1; 3],
            third: table.third(),
            step_weights: all_steps(table.third()),
            blues: table.rule == FitRule::Blues,
        };
        if in_form {
            (generator.plans, generator.nets) = (Vec::new(), Vec::new());
            generator.forms = blues_forms(&pool, request, &wished)?;
            return Ok(generator);
        }
        let stock = loops(&pool, request, &wished);
        generator.draw_among(&pool, request, &wished, free)?;
        generator.add(stock, request.bars);
        Ok(generator)
    }

    /// Prepares the draws of phrases.
    fn draw_among(
        &mut self,
        pool: &Pool<'_>,
        request: &Request,
        wished: &Wished,
        free: Vec<Start>,
    ) -> Result<(), WishError> {
        let generator = self;
        if wished.end_is_free() {
            generator.starts = leading_starts(pool, wished);
            let again = first_again(generator.third, request.bars);
            generator.end_weights = [0, again, 100 - again];
            if generator.measure(request).is_ok() {
                return Ok(());
            }
        }
        generator.starts = free;
        generator.end_weights = [1; 3];
        generator.measure(request)
    }

    /// Adds loops to the plans, so that each weighs as its songs against all phrases together.
    fn add(&mut self, stock: Vec<Form>, bars: u32) {
        if stock.is_empty() {
            return;
        }
        let all: u64 = self.plans.iter().map(|p| p.weight).sum();
        for plan in &mut self.plans {
            plan.weight *= TURNED * phrases(self.third, bars);
        }
        self.forms = stock;
        for form in &mut self.forms {
            form.weight *= all;
        }
    }

    /// Which numbers of different chords each plan can have; plans that can have none are dropped. If nothing fits,
    /// nothing is changed.
    fn measure(&mut self, request: &Request) -> Result<(), WishError> {
        let begun = self.ends_begun();
        // How a plan can end with so many different chords.
        let ends = |net: &Net, size: usize| -> [bool; 3] {
            let mut can = [false; 3];
            for end in &begun[size - 1] {
                can[end_slot(*end)] |= net.can(&self.possible(size), size, *end);
            }
            can
        };
        let fill = |weights: [u64; MOST_CHORDS]| -> Vec<Sizes> {
            let can = |net: &Net| -> Ends<bool> {
                std::array::from_fn(|i| match weights[i] {
                    0 => [false; 3],
                    _ => ends(net, i + 1),
                })
            };
            let can: Vec<Ends<bool>> = self.nets.iter().map(can).collect();
            let short = request.bars <= 2;
            let scaled = short.then(|| self.first_again_elsewhere(&can)).flatten();
            let row = |can: &Ends<bool>| match scaled {
                Some(ends) => Sizes::end_first(weights, ends, can),
                None => Sizes::new(weights, self.end_weights, can),
            };
            can.iter().map(row).collect()
        };
        let only = |number: usize| std::array::from_fn(|i| u64::from(i + 1 == number));
        let tries = match (request.different, request.bars) {
            (Some(number), _) => vec![only(usize::from(number))],
            // Two chords, or one, only where more are impossible.
            (None, ..=2) => vec![DIFFERENT_IN_TWO, only(2), only(1)],
            (None, _) => vec![DIFFERENT, only(2), only(1)],
        };
        let rows = tries.into_iter().map(fill);
        let Some(mut rows) = rows.into_iter().find(|rows| rows.iter().any(Sizes::some)) else {
            return Err(too_many(request));
        };
        let mut keep = rows.iter().map(Sizes::some);
        self.plans.retain(|_| keep.next().unwrap_or(false));
        let mut keep = rows.iter().map(Sizes::some);
        self.nets.retain(|_| keep.next().unwrap_or(false));
        rows.retain(Sizes::some);
        self.sizes = rows;
        Ok(())
    }

    /// Where some plans cannot end on their first chord, as two bars of one chord each, the weights of the ends for the
    /// others, so that all together end there as often as counted; at most nine times of ten.
    fn first_again_elsewhere(&self, can: &[Ends<bool>]) -> Option<[u64; 3]> {
        let [free, again, other] = self.end_weights;
        let all: u64 = self.plans.iter().map(|p| p.weight).sum();
        let plans = self.plans.iter().zip(can);
        let own = plans.filter(|(_, can)| can.iter().any(|ends| ends[1]));
        let own: u64 = own.map(|(plan, _)| plan.weight).sum();
        if free > 0 || own == 0 || own == all {
            return None;
        }
        let again_there = (again * all / own).min((again + other) * 9 / 10);
        Some([free, again_there, again + other - again_there])
    }

    /// For each number of different chords, from 1, where the last chord of the palettes of that size may come from: the
    /// same for nearly all beginnings.
    fn ends_begun(&self) -> [Vec<Option<usize>>; MOST_CHORDS] {
        std::array::from_fn(|i| {
            let starts = self.starts.iter().filter(|s| s.palettes(i + 1) > 0);
            let mut ends: Vec<Option<usize>> = starts.map(|s| s.end).collect();
            ends.sort_unstable();
            ends.dedup();
            ends
        })
    }

    /// How many sequences a plan has over so many chords, whatever they are.
    fn ways(&self, net: &Net, size: usize, end: Option<usize>) -> u128 {
        net.sums(&self.possible(size), size, end).total()
    }

    /// The steps between so many chords: each possible one counts once, however likely it is.
    fn possible(&self, size: usize) -> Steps {
        let mut steps: Steps = [[[1; MOST_CHORDS]; MOST_CHORDS]; STEPS];
        for (kind, rows) in Step::ALL.iter().zip(&mut steps) {
            for (i, row) in rows.iter_mut().enumerate() {
                row[i] = self.staying(*kind, size).min(1);
            }
        }
        steps
    }

    fn staying(&self, kind: Step, chords: usize) -> u64 {
        // Only a last chord that was asked for, or drawn with the first, may equal it.
        let free = self.starts.iter().all(|s| s.end.is_none());
        if free && kind == Step::Home && chords > 1 {
            0
        } else {
            stay(kind, chords, self.blues)
        }
    }

    /// The plan of a progression.
    pub fn plan(&self, progression: &Progression) -> Option<Plan> {
        let form = || {
            let at = progression.plan.checked_sub(self.plans.len())?;
            self.forms.get(at).map(|form| Plan {
                phrase_bars: form.phrase_bars,
                form: form.name.clone(),
                named: true,
            })
        };
        let phrases = self.plans.get(progression.plan).map(|plan| Plan {
            phrase_bars: plan.phrase_bars,
            form: plan.form.clone(),
            named: false,
        });
        phrases.or_else(form)
    }

    /// The chords of a progression, one after the other; one that is held on counts once.
    pub fn chords(&self, progression: &Progression) -> Vec<Chord> {
        let Some(plan) = self.plans.get(progression.plan) else {
            return progression.chords_by_bar().concat();
        };
        let chord = |place: &usize| {
            let own = progression.places.get(*place)?;
            progression.palette.get(*own).copied()
        };
        plan.places.iter().filter_map(chord).collect()
    }

    /// The number of ways to draw a progression: plans times palettes times sequences. Saturates at the largest number
    /// of its type.
    pub fn count(&self) -> u128 {
        // Sequences depend on a beginning by the place of its last chord alone.
        let mut palettes: HashMap<(usize, Option<usize>), u128> = HashMap::new();
        for start in &self.starts {
            for size in 1..=MOST_CHORDS {
                let all = palettes.entry((size, start.end)).or_default();
                *all = all.saturating_add(start.ways(size));
            }
        }
        let mut total = 0u128;
        for (net, sizes) in self.nets.iter().zip(&self.sizes) {
            for ((size, end), palettes) in &palettes {
                if sizes.ends[size - 1][end_slot(*end)] > 0 && *palettes > 0 {
                    let ways = self.ways(net, *size, *end);
                    total = total.saturating_add(palettes.saturating_mul(ways));
                }
            }
        }
        let forms = self.forms.iter().map(Form::count);
        forms.fold(total, u128::saturating_add)
    }

    fn steps(&self, palette: &[&Candidate]) -> Steps {
        let mut steps: Steps = [[[0; MOST_CHORDS]; MOST_CHORDS]; STEPS];
        for (kind, rows) in Step::ALL.iter().zip(&mut steps) {
            let staying = self.staying(*kind, palette.len());
            for (i, from) in palette.iter().enumerate() {
                for (j, to) in palette.iter().enumerate() {
                    rows[i][j] = if i == j {
                        staying
                    } else {
                        let row = &self.step_weights[usize::from(from.chordal.root % 12)];
                        row[usize::from(to.chordal.root % 12)]
                    };
                }
            }
        }
        steps
    }

    /// Draws the progression of this seed and number (the pass it is played in). The same seed and number give the
    /// same progression.
    ///
    /// Each draw comes from its exact distribution, without retries. There is always one.
    pub fn draw(&self, seed: u64, number: u64) -> Option<Progression> {
        let chance = |purpose: &str| Chance::new(seed, purpose, "progression", number, 0);
        let phrases = self.plans.iter().map(|p| p.weight);
        let weights = phrases.chain(self.forms.iter().map(|f| f.weight));
        let weights = weights.map(u128::from);
        let plan = chance("plan").weighted(weights.clone())?;
        let plan_odds = Odds {
            share: weights.clone().nth(plan)?,
            total: weights.sum(),
        };
        if let Some(form) = plan.checked_sub(self.plans.len()) {
            let drawn = self.forms.get(form)?.draw(chance)?;
            return Some(Progression {
                plan,
                plan_odds,
                size_odds: drawn.size_odds,
                palette_odds: drawn.palette_odds,
                sequence_odds: drawn.sequence_odds,
                palette: drawn.palette.iter().map(|c| c.candidate.chord).collect(),
                bars: drawn.bars,
                places: Vec::new(),
            });
        }
        let sizes = self.sizes[plan].weights.iter().map(|w| u128::from(*w));
        let size = chance("size").weighted(sizes.clone())? + 1;
        let (start, palette, ends) = self.draw_palette(plan, size, &mut chance("palette"))?;
        let net = &self.nets[plan];
        let steps = self.steps(&palette);
        let sums = net.sums(&steps, size, start.end);
        let (places, share) = net.draw(&sums, &steps, start.end, &mut chance("sequence"))?;
        Some(Progression {
            plan,
            plan_odds,
            size_odds: Odds {
                share: u128::from(self.sizes[plan].weights[size - 1]),
                total: sizes.sum(),
            },
            palette_odds: Odds {
                share: u128::from(self.sizes[plan].ends[size - 1][end_slot(start.end)])
                    * self.palette_weight(&palette, start),
                total: ends * self.palettes(size, end_slot(start.end)),
            },
            sequence_odds: Odds {
                share,
                total: sums.total(),
            },
            palette: palette.iter().map(|c| c.chord).collect(),
            bars: self.plans[plan].bars_of(&places),
            places,
        })
    }

    /// The weight of a palette with its beginning.
    fn palette_weight(&self, palette: &[&Candidate], start: &Start) -> u128 {
        let has = |choice: &&Choice| {
            palette
                .iter()
                .any(|c| std::ptr::eq(*c, &raw const *choice.candidate))
        };
        let groups = start.others(&self.choices);
        let weights = groups.iter().map(|group| {
            let members = group.members.iter().copied().filter(has);
            group.weight(&members.collect::<Vec<_>>())
        });
        start.weight * weights.product::<u128>()
    }

    /// The weight of all palettes of so many chords with this end.
    fn palettes(&self, size: usize, slot: usize) -> u128 {
        let own = self.starts.iter().filter(|s| end_slot(s.end) == slot);
        own.map(|s| s.palettes(size)).sum()
    }

    /// How a progression over a plan begins and which chords it has; and the weight of all ends it can have.
    fn draw_palette(
        &self,
        plan: usize,
        size: usize,
        chance: &mut Chance,
    ) -> Option<(&Start, Vec<&Candidate>, u128)> {
        let ends = self.sizes.get(plan)?.ends.get(size.checked_sub(1)?)?;
        let ends = ends.map(u128::from);
        let slot = chance.weighted(ends.iter().copied())?;
        let starts = self.starts.iter().map(|s| match end_slot(s.end) == slot {
            true => s.palettes(size),
            false => 0,
        });
        let start = &self.starts[chance.weighted(starts)?];
        let groups = start.others(&self.choices);
        let sums = sums(&groups);
        let mut palette: Vec<&Candidate> = vec![&*start.choice.candidate];
        palette.extend(start.needed.iter().map(|c| &*c.candidate));
        let mut left = size.checked_sub(palette.len())?;
        for (i, group) in groups.iter().enumerate() {
            if left == 0 {
                break;
            }
            let taking = group.taking();
            let counts = taking.iter().enumerate().take(left + 1);
            let count = chance
                .weighted(counts.map(|(count, weight)| weight * sums[i + 1][left - count]))?;
            match count {
                1 => {
                    let one = chance.weighted(group.members.iter().map(|c| c.weight))?;
                    palette.push(&*group.members[one].candidate);
                }
                2 => {
                    let two = chance.weighted(group.pairs().map(|(a, b)| a.weight * b.weight))?;
                    let (a, b) = group.pairs().nth(two)?;
                    palette.extend([&*a.candidate, &*b.candidate]);
                }
                _ => {}
            }
            left -= count;
        }
        (left == 0).then_some((start, palette, ends.iter().sum()))
    }

    /// All chords a palette may hold.
    fn all(&self) -> impl Iterator<Item = &Candidate> {
        let wished = self.starts.iter();
        let wished = wished.flat_map(|s| std::iter::once(&s.choice).chain(&s.needed));
        let all = wished.chain(&self.choices);
        let all = all.map(|choice| &*choice.candidate);
        all.chain(self.forms.iter().flat_map(Form::chords))
    }

    /// The beginning a progression was drawn from.
    fn start_of(&self, progression: &Progression) -> Option<&Start> {
        let last = progression.bars.last().and_then(|bar| bar.last());
        let mut starts = self.starts.iter();
        starts.find(|s| {
            let ends = s.end.is_none_or(|end| Some(&end) == last);
            ends && s.begins(&progression.palette)
        })
    }

    /// The likeliest sequences over the plan, the palette and the last chord of a progression, at most `most`, the
    /// likeliest first. Where no chord of the set leads home, the last chord is free.
    pub fn likeliest(&self, progression: &Progression, most: usize) -> Vec<(Vec<Chord>, Odds)> {
        if let Some(form) = progression.plan.checked_sub(self.plans.len()) {
            return self.likeliest_in(form, progression, most);
        }
        let find = |chord: &Chord| self.all().find(|c| c.chord == *chord);
        let palette: Vec<&Candidate> = progression.palette.iter().filter_map(find).collect();
        let Some(start) = self.start_of(progression) else {
            return Vec::new();
        };
        let steps = self.steps(&palette);
        let net = &self.nets[progression.plan];
        let total = net.sums(&steps, palette.len(), start.end).total();
        let plan = &self.plans[progression.plan];
        net.likeliest(&steps, palette.len(), start.end, most)
            .into_iter()
            .map(|(places, share)| {
                let chords = plan
                    .places
                    .iter()
                    .map(|p| palette[places[*p]].chord)
                    .collect();
                (chords, Odds { share, total })
            })
            .collect()
    }

    /// The same over a form.
    fn likeliest_in(
        &self,
        form: usize,
        progression: &Progression,
        most: usize,
    ) -> Vec<(Vec<Chord>, Odds)> {
        let Some(form) = self.forms.get(form) else {
            return Vec::new();
        };
        let sounds: Vec<u16> = progression.palette.iter().map(classes).collect();
        let all = form.sequences(&sounds);
        let total = all.iter().map(|(_, share)| share).sum();
        let one = |(bars, share): (Vec<Vec<usize>>, u128)| {
            let chords = bars.concat().into_iter().map(|at| progression.palette[at]);
            (chords.collect(), Odds { share, total })
        };
        all.into_iter().take(most).map(one).collect()
    }

    /// Every sequence over the plan and palette of a progression with its weight, by brute force: for tests on short
    /// lengths.
    #[cfg(test)]
    fn brute_force(&self, progression: &Progression) -> Vec<(Vec<usize>, u128)> {
        let find = |chord: &Chord| self.all().find(|c| c.chord == *chord);
        let palette: Vec<&Candidate> = progression.palette.iter().filter_map(find).collect();
        let steps = self.steps(&palette);
        let start = self.start_of(progression).unwrap();
        let plan = &self.plans[progression.plan];
        let (n, k) = (plan.place_count, palette.len());
        let mut found = Vec::new();
        for code in 0..k.pow(u32::try_from(n).unwrap()) {
            let places: Vec<usize> = (0..n)
                .map(|i| code / k.pow(u32::try_from(i).unwrap()) % k)
                .collect();
            let last = places[*plan.places.last().unwrap()];
            if places[0] != 0
                || start.end.is_some_and(|end| end != last)
                || (0..k).any(|c| !places.contains(&c))
            {
                continue;
            }
            let kind = |k: &Step| Step::ALL.iter().position(|x| x == k).unwrap();
            let weight = plan
                .steps
                .iter()
                .map(|(a, b, step)| u128::from(steps[kind(step)][places[*a]][places[*b]]))
                .product();
            if weight > 0 {
                found.push((places, weight));
            }
        }
        found
    }
}

/// Something for each number of different chords (from 1) and each end, by [`end_slot`].
type Ends<T> = [[T; 3]; MOST_CHORDS];

/// What a plan can have, for each number of different chords (from 1).
#[derive(Clone, Copy, Debug)]
struct Sizes {
    /// How likely each number is.
    weights: [u64; MOST_CHORDS],
    /// How likely each end is then, by [`end_slot`].
    ends: Ends<u64>,
}

impl Sizes {
    /// The number first, then an end that it can have.
    fn new(numbers: [u64; MOST_CHORDS], ends: [u64; 3], can: &Ends<bool>) -> Sizes {
        let ends = can.map(|can| std::array::from_fn(|end| ends[end] * u64::from(can[end])));
        let some = |i: usize| ends[i].iter().any(|weight| *weight > 0);
        let weights = std::array::from_fn(|i| numbers[i] * u64::from(some(i)));
        Sizes { weights, ends }
    }

    /// The end first, then a number that can have it: a number of chords with which a plan can end in one way alone does
    /// not bring more of these ends. The two together have one weight; a number has the sum of its own.
    fn end_first(numbers: [u64; MOST_CHORDS], ends: [u64; 3], can: &Ends<bool>) -> Sizes {
        // All numbers that can have an end, weighed together.
        let with_end: [u64; 3] = std::array::from_fn(|end| {
            let own = numbers.iter().zip(can).filter(|(_, can)| can[end]);
            own.map(|(weight, _)| weight).sum()
        });
        let others = |end: usize| -> u64 {
            let others = (0..3).filter(|other| *other != end);
            others.map(|other| with_end[other].max(1)).product()
        };
        let both = |i: usize, end: usize| ends[end] * numbers[i] * others(end);
        let ends: Ends<u64> = std::array::from_fn(|i| {
            std::array::from_fn(|end| both(i, end) * u64::from(can[i][end]))
        });
        let weights = ends.map(|ends| ends.iter().sum());
        Sizes { weights, ends }
    }

    /// Whether the plan can have any.
    fn some(&self) -> bool {
        self.weights.iter().any(|w| *w > 0)
    }
}

/// Where the last chord of a progression comes from: the sequence, the first chord, or another of its own.
fn end_slot(end: Option<usize>) -> usize {
    match end {
        None => 0,
        Some(0) => 1,
        Some(_) => 2,
    }
}

/// The plans for the bars that are asked for.
fn all_plans(request: &Request) -> Result<Vec<PhrasePlan>, WishError> {
    let bars = request.bars;
    if !(1..=64).contains(&bars) {
        let message = format!("a progression has 1 to 64 bars, found {bars}");
        return Err(WishError::new(WishKind::Bars, message, "ask for 8 bars"));
    }
    let all = plans(bars, request.rhythm);
    if !all.is_empty() {
        return Ok(all);
    }
    let message = match request.rhythm.slots(bars) {
        None => format!("{bars} bars have no chord every two bars"),
        Some(slots) => format!("{slots} chords in {bars} bars have no plan of phrases"),
    };
    let help = "choose 4, 8, 12 or 16 bars";
    Err(WishError::new(WishKind::Bars, message, help))
}

/// No plan has as many different chords as are wished for.
fn too_many(request: &Request) -> WishError {
    let bars = request.bars;
    match request.different {
        Some(n) => WishError::new(
            WishKind::Different,
            format!("no progression of {bars} bars has {n} different chords with the other wishes"),
            "choose fewer different chords, more bars, or drop another wish",
        ),
        None => WishError::new(
            WishKind::With,
            format!("no progression of {bars} bars holds all the chords wished for"),
            "wish for fewer chords or more bars",
        ),
    }
}

#[cfg(test)]
mod form_tests;
#[cfg(test)]
mod tests;
