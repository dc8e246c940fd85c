//! Progressions in three exact draws: the phrase plan, the palette, the sequence.

use super::Chance;
use super::net::{MOST_CHORDS, Net, Steps};
use super::request::{Flavour, Request, Rhythm, WishError};
use super::shape::{PhrasePlan, plans};
use super::table::{Candidate, Table, classes};
use super::weights::{
    BLUES_CHORD, COLOUR, DIFFERENT, OWN_ROOT, ROOT_AT_HOME, Step, WITH_THIRD, stay, step,
};
use crate::chart::FitRule;
use crate::theory::Chord;

/// How likely a choice was: `share` of `total`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Odds {
    /// Weight of the choice.
    pub share: u128,
    /// Weight of all choices together.
    pub total: u128,
}

impl Odds {
    /// As a number from 0 to 1, for printing.
    #[allow(clippy::cast_precision_loss)]
    pub fn probability(&self) -> f64 {
        if self.total == 0 {
            0.0
        } else {
            self.share as f64 / self.total as f64
        }
    }
}

/// A drawn progression.
#[derive(Clone, Debug, PartialEq)]
pub struct Progression {
    /// Which of [`Generator::plans`] it follows.
    pub plan: usize,
    /// The chords it uses, the first chord first.
    pub palette: Vec<Chord>,
    /// For each place of the plan, which chord of the palette.
    pub places: Vec<usize>,
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
    /// The chords slot by slot.
    pub fn chords(&self, plan: &PhrasePlan) -> Vec<Chord> {
        plan.places
            .iter()
            .map(|place| self.palette[self.places[*place]])
            .collect()
    }
}

/// A chord as it may be chosen for the palette.
#[derive(Clone, Debug)]
struct Choice {
    candidate: Candidate,
    weight: u128,
}

/// One way to begin, and what may join it.
#[derive(Clone, Debug)]
struct Start {
    choice: Choice,
    /// Chords that must be in the palette besides; the last chord first, if it is another.
    needed: Vec<Choice>,
    /// Chords that may be, by root.
    others: Vec<Group>,
    /// The weights of all ways to take so many chords of the groups from each on.
    sums: Vec<[u128; MOST_CHORDS + 1]>,
    /// Which chord of the palette comes last, if that is wished.
    end: Option<usize>,
}

impl Start {
    /// The weight of all palettes of so many chords with this beginning.
    fn palettes(&self, size: usize) -> u128 {
        let Some(more) = size.checked_sub(1 + self.needed.len()) else {
            return 0;
        };
        self.choice.weight * self.sums[0][more]
    }
}

/// Draws progressions for a request.
pub struct Generator {
    plans: Vec<PhrasePlan>,
    nets: Vec<Net>,
    starts: Vec<Start>,
    /// For each plan, the weight of each number of different chords (from 1).
    sizes: Vec<[u64; MOST_CHORDS]>,
    end_wished: bool,
    blues: bool,
    rhythm: Rhythm,
}

/// Chords on one root, of which a palette takes none, one, or (rarely) two.
#[derive(Clone, Debug)]
struct Group {
    members: Vec<Choice>,
    /// Weight of taking none, one, two of them, whichever these are.
    taking: [u128; 3],
    /// Whether a chord on this root is in the palette already.
    occupied: bool,
}

impl Group {
    fn new(members: Vec<Choice>, occupied: bool) -> Group {
        let one: u128 = members.iter().map(|c| c.weight).sum();
        let two: u128 = pairs(&members).map(|(a, b)| a.weight * b.weight).sum();
        // A second chord counts one in SAME_ROOT, which is OWN_ROOT squared, of what it would on a root of its own.
        let own = u128::from(OWN_ROOT);
        let taking = if occupied {
            [own, one, 0]
        } else {
            [1, own * one, two]
        };
        Group {
            members,
            taking,
            occupied,
        }
    }

    /// The weight of taking just these members.
    fn weight(&self, taken: &[&Choice]) -> u128 {
        let product: u128 = taken.iter().map(|c| c.weight).product();
        let own = u128::from(OWN_ROOT);
        match (self.occupied, taken.len()) {
            (true, 0) | (false, 1) => own * product,
            _ => product,
        }
    }
}

/// Every pair of chords, in order.
fn pairs(members: &[Choice]) -> impl Iterator<Item = (&Choice, &Choice)> + Clone {
    members
        .iter()
        .enumerate()
        .flat_map(|(i, a)| members[i + 1..].iter().map(move |b| (a, b)))
}

/// Sums of the weights of all ways to take `0..=MOST_CHORDS` chords of the groups from each on.
fn sums(groups: &[Group]) -> Vec<[u128; MOST_CHORDS + 1]> {
    let mut sums = vec![[0u128; MOST_CHORDS + 1]; groups.len() + 1];
    sums[groups.len()][0] = 1;
    for i in (0..groups.len()).rev() {
        for size in 0..=MOST_CHORDS {
            let ways = groups[i]
                .taking
                .iter()
                .enumerate()
                .filter(|(count, _)| *count <= size);
            sums[i][size] = ways
                .map(|(count, weight)| weight * sums[i + 1][size - count])
                .sum();
        }
    }
    sums
}

/// Candidates as the wishes leave them.
struct Pool<'a> {
    table: &'a Table,
    request: &'a Request,
    choices: Vec<Choice>,
}

impl Pool<'_> {
    fn weight(&self, candidate: &Candidate) -> u128 {
        let row = COLOUR[usize::from(self.request.adventure.min(3))];
        let colour = row[usize::from(candidate.quality.colour.min(3))];
        let home = if candidate.root_at_home {
            ROOT_AT_HOME
        } else {
            1
        };
        let third = if candidate.quality.third {
            WITH_THIRD
        } else {
            1
        };
        let blues = if self.table.rule == FitRule::Blues && !candidate.fit.home() {
            BLUES_CHORD
        } else {
            1
        };
        u128::from((colour * home * third * blues / WITH_THIRD).max(1))
    }

    fn choice(&self, candidate: Candidate) -> Choice {
        Choice {
            weight: self.weight(&candidate),
            candidate,
        }
    }

    /// A chord that is wished for by name.
    fn named(&self, wish: &'static str, chord: &Chord) -> Result<Choice, WishError> {
        if self
            .request
            .without
            .iter()
            .any(|c| classes(c) == classes(chord))
        {
            return Err(WishError::new(
                wish,
                format!("{wish} asks for {chord}, and --without leaves it out"),
                format!("drop one of the two wishes for {chord}"),
            ));
        }
        match self.table.named(chord) {
            Ok(candidate) => Ok(self.choice(candidate)),
            Err(fit) => Err(WishError::new(
                wish,
                format!(
                    "{wish} asks for {chord}, which does not fit: {}",
                    fit.reason(self.table.rule).unwrap_or_default()
                ),
                format!(
                    "choose one that fits, such as {}, or another --fit",
                    self.examples()
                ),
            )),
        }
    }

    fn examples(&self) -> String {
        let mut plain: Vec<&Candidate> = self.table.candidates.iter().collect();
        plain.sort_by_key(|c| c.quality.colour);
        plain
            .iter()
            .take(4)
            .map(|c| c.chord.to_string())
            .collect::<Vec<_>>()
            .join(", ")
    }
}

impl Generator {
    /// Prepares the draws.
    ///
    /// # Errors
    /// When a wish leaves nothing to choose from: the first that does, in the order bars, set and rule, kind of chord,
    /// chords left out, first chord, last chord, chords to use, how many different.
    pub fn new(table: &Table, request: &Request) -> Result<Generator, WishError> {
        if !(1..=64).contains(&request.bars) {
            let message = format!("--length is 1 to 64 bars, found {}", request.bars);
            return Err(WishError::new("--length", message, "write `--length 8`"));
        }
        let all = plans(request.bars, request.rhythm);
        if all.is_empty() {
            let message = match request.rhythm.slots(request.bars) {
                None => format!("{} bars have no chord every two bars", request.bars),
                Some(slots) => format!(
                    "{slots} chords in {} bars have no plan of phrases",
                    request.bars
                ),
            };
            return Err(WishError::new(
                "--length",
                message,
                "choose 4, 8, 12 or 16 bars",
            ));
        }
        let pool = pool(table, request)?;
        let starts = starts(&pool)?;
        let mut generator = Generator {
            nets: all.iter().map(Net::new).collect(),
            plans: all,
            starts,
            sizes: Vec::new(),
            end_wished: request.end.is_some(),
            blues: table.rule == FitRule::Blues,
            rhythm: request.rhythm,
        };
        generator.measure(request)?;
        Ok(generator)
    }

    /// Which numbers of different chords each plan can have; plans that can have none are dropped.
    fn measure(&mut self, request: &Request) -> Result<(), WishError> {
        let wished = request.different.map(usize::from);
        let mut kept = Vec::new();
        for (at, net) in self.nets.iter().enumerate() {
            let mut row = [0; MOST_CHORDS];
            for size in 1..=MOST_CHORDS {
                if wished.is_some_and(|w| w != size) {
                    continue;
                }
                // Where the last chord comes from is the same for nearly all beginnings.
                let mut ends: Vec<Option<usize>> = self
                    .starts
                    .iter()
                    .filter(|s| s.palettes(size) > 0)
                    .map(|s| s.end)
                    .collect();
                ends.sort_unstable();
                ends.dedup();
                if !ends.is_empty() && ends.iter().all(|end| self.ways(net, size, *end) > 0) {
                    row[size - 1] = if wished.is_some() {
                        1
                    } else {
                        DIFFERENT[size - 1]
                    };
                }
            }
            kept.push((at, row));
        }
        if kept.iter().all(|(_, row)| row.iter().all(|w| *w == 0)) && wished.is_none() {
            // Only one chord is to be had: a vamp.
            for (at, row) in &mut kept {
                let start =
                    |s: &Start| s.palettes(1) > 0 && self.ways(&self.nets[*at], 1, s.end) > 0;
                row[0] = u64::from(self.starts.iter().any(start));
            }
        }
        kept.retain(|(_, row)| row.iter().any(|w| *w > 0));
        if kept.is_empty() {
            let (wish, help) = match wished {
                Some(_) => (
                    "--different",
                    "choose fewer different chords, more bars, or drop another wish",
                ),
                None => ("--with", "wish for fewer chords or more bars"),
            };
            let message = match wished {
                Some(n) => format!(
                    "{wish} {n}: no progression of {} bars has so many different chords with the other wishes",
                    request.bars
                ),
                None => format!(
                    "no progression of {} bars holds all the chords wished for",
                    request.bars
                ),
            };
            return Err(WishError::new(wish, message, help));
        }
        self.plans = kept.iter().map(|(at, _)| self.plans[*at].clone()).collect();
        self.nets = kept.iter().map(|(at, _)| self.nets[*at].clone()).collect();
        self.sizes = kept.into_iter().map(|(_, row)| row).collect();
        Ok(())
    }

    /// How many sequences a plan has over so many chords, whatever they are.
    fn ways(&self, net: &Net, size: usize, end: Option<usize>) -> u128 {
        let mut steps: Steps = [[[1; MOST_CHORDS]; MOST_CHORDS]; 4];
        for (kind, rows) in Step::ALL.iter().zip(&mut steps) {
            for (i, row) in rows.iter_mut().enumerate() {
                // Counted, not weighed: a step there is counts once, however likely it is.
                row[i] = self.staying(*kind, size).min(1);
            }
        }
        net.sums(&steps, size, end).total()
    }

    fn staying(&self, kind: Step, chords: usize) -> u64 {
        // A last chord that is wished for may be the first again.
        if self.end_wished && kind == Step::Home {
            1
        } else {
            stay(kind, chords, self.blues)
        }
    }

    /// The phrase plans there are to choose from.
    pub fn plans(&self) -> &[PhrasePlan] {
        &self.plans
    }

    /// How often chords change.
    pub fn rhythm(&self) -> Rhythm {
        self.rhythm
    }

    /// In how many ways a progression can come about: plans times palettes times sequences. The largest number there
    /// is, where there are more.
    pub fn count(&self) -> u128 {
        let mut total = 0u128;
        for (net, sizes) in self.nets.iter().zip(&self.sizes) {
            for size in (1..=MOST_CHORDS).filter(|s| sizes[s - 1] > 0) {
                for start in &self.starts {
                    let Some(more) = size.checked_sub(1 + start.needed.len()) else {
                        continue;
                    };
                    let palettes = ways_to_take(&start.others, more);
                    total = total
                        .saturating_add(palettes.saturating_mul(self.ways(net, size, start.end)));
                }
            }
        }
        total
    }

    fn steps(&self, palette: &[&Candidate]) -> Steps {
        let mut steps: Steps = [[[0; MOST_CHORDS]; MOST_CHORDS]; 4];
        for (kind, rows) in Step::ALL.iter().zip(&mut steps) {
            for (i, from) in palette.iter().enumerate() {
                for (j, to) in palette.iter().enumerate() {
                    rows[i][j] = if i == j {
                        self.staying(*kind, palette.len())
                    } else {
                        step(*kind, from.chordal, to.chordal)
                    };
                }
            }
        }
        steps
    }

    /// Draws the progression of this seed and number (the pass it is played in). The same seed and number give the
    /// same progression.
    ///
    /// Each draw comes from its exact distribution, and nothing is drawn twice. There is always one.
    pub fn draw(&self, seed: u64, number: u64) -> Option<Progression> {
        let chance = |purpose: &str| Chance::new(seed, purpose, "progression", number, 0);
        let weights = self.plans.iter().map(|p| u128::from(p.weight));
        let plan = chance("plan").weighted(weights.clone())?;
        let sizes = self.sizes[plan].iter().map(|w| u128::from(*w));
        let size = chance("size").weighted(sizes.clone())? + 1;
        let (start, palette) = self.draw_palette(size, &mut chance("palette"))?;
        let net = &self.nets[plan];
        let steps = self.steps(&palette);
        let sums = net.sums(&steps, size, start.end);
        let (places, share) = net.draw(&sums, &steps, start.end, &mut chance("sequence"))?;
        Some(Progression {
            plan,
            plan_odds: Odds {
                share: u128::from(self.plans[plan].weight),
                total: weights.sum(),
            },
            size_odds: Odds {
                share: u128::from(self.sizes[plan][size - 1]),
                total: sizes.sum(),
            },
            palette_odds: Odds {
                share: Self::palette_weight(&palette, start),
                total: self.starts.iter().map(|s| s.palettes(size)).sum(),
            },
            sequence_odds: Odds {
                share,
                total: sums.total(),
            },
            palette: palette.iter().map(|c| c.chord).collect(),
            places,
        })
    }

    /// The weight of a palette with its beginning.
    fn palette_weight(palette: &[&Candidate], start: &Start) -> u128 {
        let has = |choice: &&Choice| {
            palette
                .iter()
                .any(|c| std::ptr::eq(*c, &raw const choice.candidate))
        };
        let groups = start.others.iter();
        let weights =
            groups.map(|group| group.weight(&group.members.iter().filter(has).collect::<Vec<_>>()));
        start.choice.weight * weights.product::<u128>()
    }

    fn draw_palette(&self, size: usize, chance: &mut Chance) -> Option<(&Start, Vec<&Candidate>)> {
        let start = &self.starts[chance.weighted(self.starts.iter().map(|s| s.palettes(size)))?];
        let mut palette: Vec<&Candidate> = vec![&start.choice.candidate];
        palette.extend(start.needed.iter().map(|c| &c.candidate));
        let mut left = size - palette.len();
        for (i, group) in start.others.iter().enumerate() {
            if left == 0 {
                break;
            }
            let counts = group.taking.iter().enumerate().take(left + 1);
            let count = chance
                .weighted(counts.map(|(count, weight)| weight * start.sums[i + 1][left - count]))?;
            match count {
                1 => {
                    let one = chance.weighted(group.members.iter().map(|c| c.weight))?;
                    palette.push(&group.members[one].candidate);
                }
                2 => {
                    let two =
                        chance.weighted(pairs(&group.members).map(|(a, b)| a.weight * b.weight))?;
                    let (a, b) = pairs(&group.members).nth(two)?;
                    palette.extend([&a.candidate, &b.candidate]);
                }
                _ => {}
            }
            left -= count;
        }
        (left == 0).then_some((start, palette))
    }

    /// All chords a palette may hold.
    fn all(&self) -> impl Iterator<Item = &Candidate> {
        self.starts
            .iter()
            .flat_map(|s| {
                let others = s.others.iter().flat_map(|group| &group.members);
                std::iter::once(&s.choice).chain(&s.needed).chain(others)
            })
            .map(|choice| &choice.candidate)
    }

    /// The likeliest sequences over the plan and the palette of a progression, at most `most`, the likeliest first.
    pub fn likeliest(&self, progression: &Progression, most: usize) -> Vec<(Vec<Chord>, Odds)> {
        let find = |chord: &Chord| self.all().find(|c| c.chord == *chord);
        let palette: Vec<&Candidate> = progression.palette.iter().filter_map(find).collect();
        let Some(start) = self
            .starts
            .iter()
            .find(|s| Some(&s.choice.candidate.chord) == progression.palette.first())
        else {
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

    /// Every sequence over the plan and palette of a progression with its weight, by brute force: for tests on short
    /// lengths.
    #[cfg(test)]
    fn brute_force(&self, progression: &Progression) -> Vec<(Vec<usize>, u128)> {
        let find = |chord: &Chord| self.all().find(|c| c.chord == *chord);
        let palette: Vec<&Candidate> = progression.palette.iter().filter_map(find).collect();
        let steps = self.steps(&palette);
        let start = self
            .starts
            .iter()
            .find(|s| s.choice.candidate.chord == progression.palette[0])
            .unwrap();
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

/// In how many ways so many chords can be taken of groups, at most two of each.
fn ways_to_take(groups: &[Group], count: usize) -> u128 {
    let mut ways = [0u128; MOST_CHORDS + 1];
    ways[0] = 1;
    for group in groups {
        let n = group.members.len() as u128;
        let pairs = if group.occupied {
            0
        } else {
            n * n.saturating_sub(1) / 2
        };
        for size in (1..=MOST_CHORDS).rev() {
            let two = if size > 1 { ways[size - 2] * pairs } else { 0 };
            ways[size] += ways[size - 1] * n + two;
        }
    }
    ways.get(count).copied().unwrap_or(0)
}

fn pool<'a>(table: &'a Table, request: &'a Request) -> Result<Pool<'a>, WishError> {
    let set = table.set.name();
    if table.candidates.is_empty() {
        let message = format!(
            "--fit {}: no chord of the vocabulary fits over {set}",
            table.rule.name()
        );
        return Err(WishError::new(
            "--fit",
            message,
            "choose another rule: inside, clear, home or blues",
        ));
    }
    let mut pool = Pool {
        table,
        request,
        choices: Vec::new(),
    };
    let flavoured = table.candidates.iter().filter(|c| match request.flavour {
        Flavour::Any => true,
        Flavour::Triads => !c.quality.seventh,
        Flavour::Sevenths => c.quality.seventh,
    });
    pool.choices = flavoured.map(|c| pool.choice(c.clone())).collect();
    if pool.choices.is_empty() {
        let name = Flavour::NAMES
            .iter()
            .find(|f| f.1 == request.flavour)
            .map_or("", |f| f.0);
        let message = format!("--chords {name}: none of the chords that fit over {set} is one");
        return Err(WishError::new("--chords", message, "write `--chords any`"));
    }
    pool.choices.retain(|c| {
        request
            .without
            .iter()
            .all(|w| classes(w) != c.candidate.chordal.classes)
    });
    if pool.choices.is_empty() && request.with.is_empty() && request.start.is_none() {
        return Err(WishError::new(
            "--without",
            "--without leaves no chord",
            "leave out fewer chords",
        ));
    }
    Ok(pool)
}

/// The chords that may join a beginning, by root.
fn groups(choices: &[Choice], first: &Choice, needed: &[Choice]) -> Vec<Group> {
    let there: Vec<&Choice> = std::iter::once(first).chain(needed).collect();
    let sounds = |c: &Choice| c.candidate.chordal.classes;
    (0..12u8)
        .filter_map(|root| {
            let members: Vec<Choice> = choices
                .iter()
                .filter(|c| c.candidate.chordal.root == root)
                .filter(|c| there.iter().all(|t| sounds(t) != sounds(c)))
                .cloned()
                .collect();
            let taken = there.iter().any(|t| t.candidate.chordal.root == root);
            (!members.is_empty()).then(|| Group::new(members, taken))
        })
        .collect()
}

/// The ways to begin.
fn starts(pool: &Pool<'_>) -> Result<Vec<Start>, WishError> {
    let request = pool.request;
    let sounds = |c: &Choice| c.candidate.chordal.classes;
    let end = request
        .end
        .as_ref()
        .map(|c| pool.named("--end", c))
        .transpose()?;
    let begin = request
        .start
        .as_ref()
        .map(|c| pool.named("--start", c))
        .transpose()?;
    let mut with: Vec<Choice> = Vec::new();
    for chord in &request.with {
        let choice = pool.named("--with", chord)?;
        if with.iter().all(|c| sounds(c) != sounds(&choice)) {
            with.push(choice);
        }
    }
    let on_tonic = |c: &&Choice| c.candidate.chordal.root == 0;
    let firsts: Vec<Choice> = match (&begin, &end) {
        (Some(begin), _) => vec![begin.clone()],
        // A last chord on the tonic is the first as well.
        (None, Some(end)) if on_tonic(&end) => vec![end.clone()],
        _ => {
            let named = with.iter().filter(on_tonic).cloned();
            let mut tonics: Vec<Choice> = named.collect();
            if tonics.is_empty() {
                tonics = pool.choices.iter().filter(on_tonic).cloned().collect();
            }
            // Home is a chord with a third and a plain fifth, where there is one.
            let settled = |c: &Choice| {
                let fifth = c.candidate.chord.fifth().is_some_and(|d| d.alter() == 0);
                c.candidate.quality.third && fifth
            };
            if tonics.iter().any(settled) {
                tonics.retain(settled);
            }
            if tonics.is_empty() {
                // Nothing on the tonic fits: the beginning is free.
                tonics = pool.choices.iter().chain(&with).cloned().collect();
            }
            tonics.retain(|c| end.as_ref().is_none_or(|end| sounds(end) != sounds(c)));
            tonics
        }
    };
    if firsts.is_empty() {
        return Err(WishError::new(
            "--without",
            "no chord is left to begin with",
            "leave out fewer chords, or name one with --start",
        ));
    }
    let start = |choice: Choice| {
        let mut needed: Vec<Choice> = Vec::new();
        for other in end.iter().chain(&with) {
            let known = std::iter::once(&choice)
                .chain(&needed)
                .any(|c| sounds(c) == sounds(other));
            if !known {
                needed.push(other.clone());
            }
        }
        let last = end
            .as_ref()
            .map(|end| usize::from(sounds(end) != sounds(&choice)));
        let others = groups(&pool.choices, &choice, &needed);
        Start {
            sums: sums(&others),
            needed,
            others,
            end: last,
            choice,
        }
    };
    let found: Vec<Start> = firsts.into_iter().map(start).collect();
    if found.iter().all(|s| 1 + s.needed.len() > MOST_CHORDS) {
        let message = format!(
            "--with asks for more than {MOST_CHORDS} different chords, with first and last"
        );
        return Err(WishError::new("--with", message, "wish for fewer chords"));
    }
    Ok(found)
}

#[cfg(test)]
mod tests;
