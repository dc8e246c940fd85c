//! What may be in a palette: the chords that rule, kind, level and wishes leave, and the ways to begin and to end.

use std::sync::Arc;

use super::counts::Third;
use super::net::MOST_CHORDS;
use super::request::{Flavor, Level, Request, WishError, WishKind};
use super::table::{Candidate, Table, classes};
use super::vocabulary::Quality;
use super::weights::{BLUES_CHORD, OWN_ROOT, WITH_THIRD, color_weight, degree_weight, last_weight};
use crate::chart::FitRule;
use crate::theory::Chord;

/// A chord as it may be chosen for the palette.
#[derive(Clone, Debug)]
pub(super) struct Choice {
    pub(super) candidate: Arc<Candidate>,
    pub(super) weight: u128,
}

impl Choice {
    /// Pitch classes as bits: chords that sound the same count as one.
    pub(super) fn sounds(&self) -> u16 {
        self.candidate.chordal.classes
    }

    /// Whether it is a color of another chord on its root: the two are no change.
    fn is_color_of(&self, other: &Choice) -> bool {
        self.candidate.chordal.is_color_of(other.candidate.chordal)
    }

    /// Semitones of the root above the tonic, 0 to 11.
    fn root(&self) -> usize {
        usize::from(self.candidate.chordal.root % 12)
    }
}

/// A value for each number of chords, from none to the most a palette holds.
type BySize = [u128; MOST_CHORDS + 1];

/// One way to begin, and what may join it.
#[derive(Clone, Debug)]
pub(super) struct Start {
    /// The first chord.
    pub(super) choice: Choice,
    /// Weight of the first chord, and of the last one where it is drawn with the first.
    pub(super) weight: u128,
    /// Chords that must be in the palette besides; the last chord first, if it is another.
    pub(super) needed: Vec<Choice>,
    /// Which chord of the palette comes last, if that is asked for or drawn with the first.
    pub(super) end: Option<usize>,
    /// The total weight of all ways to take so many more chords.
    more: BySize,
    /// The number of ways to take so many more chords.
    ways: BySize,
}

impl Start {
    /// A beginning on `first` that ends on `last`.
    fn new(pool: &Pool<'_>, wished: &Wished, first: Choice, last: Option<&Choice>) -> Start {
        let mut needed: Vec<Choice> = Vec::new();
        for other in last.into_iter().chain(&wished.with) {
            let mut known = std::iter::once(&first).chain(&needed);
            if known.all(|c| c.sounds() != other.sounds()) {
                needed.push(other.clone());
            }
        }
        let mut tallies = pool.tallies;
        let there: Vec<&Choice> = std::iter::once(&first).chain(&needed).collect();
        for known in &there {
            // The same notes may have another root in the pool.
            let mut choices = pool.choices.iter();
            let same = choices.find(|c| c.sounds() == known.sounds());
            for root in same.map(Choice::root).into_iter().chain([known.root()]) {
                let all = pool.choices.iter();
                let own: Vec<&Choice> = all.filter(|c| c.root() == root).collect();
                tallies[root] = Group::new(&own, &there, root).tally();
            }
        }
        Start {
            end: last.map(|last| usize::from(last.sounds() != first.sounds())),
            weight: first.weight,
            more: product(tallies.iter().map(Tally::taking)),
            ways: product(tallies.iter().map(Tally::ways)),
            needed,
            choice: first,
        }
    }

    /// The weight of all palettes of so many chords with this beginning.
    pub(super) fn palettes(&self, size: usize) -> u128 {
        let more = size.checked_sub(1 + self.needed.len());
        more.map_or(0, |more| self.weight * self.more[more])
    }

    /// The number of palettes of so many chords with this beginning.
    pub(super) fn ways(&self, size: usize) -> u128 {
        let more = size.checked_sub(1 + self.needed.len());
        more.map_or(0, |more| self.ways[more])
    }

    /// The chords that are in every palette with this beginning.
    fn there(&self) -> impl Iterator<Item = &Choice> {
        std::iter::once(&self.choice).chain(&self.needed)
    }

    /// Whether a palette, the first chord first, begins like this.
    pub(super) fn begins(&self, palette: &[Chord]) -> bool {
        palette.len() > self.needed.len()
            && (self.there().zip(palette)).all(|(c, chord)| c.candidate.chord == *chord)
    }

    /// The chords that may join this beginning, by root.
    pub(super) fn others<'a>(&self, choices: &'a [Choice]) -> Vec<Group<'a>> {
        let there: Vec<&Choice> = self.there().collect();
        (0..12)
            .map(|root| {
                let members: Vec<&Choice> = choices.iter().filter(|c| c.root() == root).collect();
                Group::new(&members, &there, root)
            })
            .collect()
    }
}

/// The chords on one root, counted and weighed.
#[derive(Clone, Copy, Default)]
struct Tally {
    count: u128,
    /// The sum of their weights.
    sum: u128,
    /// How many pairs of them there are, and the sum of the products of their weights.
    pairs: u128,
    products: u128,
    /// Whether a chord on this root is in the palette already.
    occupied: bool,
}

impl Tally {
    /// Weight of taking none, one, two of the chords, whichever these are. A second chord counts one in `SAME_ROOT`,
    /// which is `OWN_ROOT` squared, of what it would on a root of its own.
    fn taking(&self) -> [u128; 3] {
        let own = u128::from(OWN_ROOT);
        if self.occupied {
            [own, self.sum, 0]
        } else {
            [1, own * self.sum, self.products]
        }
    }

    /// In how many ways none, one, two of the chords can be taken.
    fn ways(&self) -> [u128; 3] {
        [1, self.count, if self.occupied { 0 } else { self.pairs }]
    }
}

/// Adds one more root, from which none, one or two chords are taken.
fn joined(sums: &BySize, taking: [u128; 3]) -> BySize {
    std::array::from_fn(|size| {
        let ways = taking.iter().enumerate().take(size + 1);
        ways.map(|(count, weight)| weight * sums[size - count])
            .sum()
    })
}

/// All roots together.
fn product(roots: impl Iterator<Item = [u128; 3]>) -> BySize {
    roots.fold(NOTHING, |sums, taking| joined(&sums, taking))
}

/// No root yet: one way to take no chord.
const NOTHING: BySize = [1, 0, 0, 0, 0, 0, 0];

/// Chords on one root, of which a palette takes none, one, or (rarely) two.
pub(super) struct Group<'a> {
    pub(super) members: Vec<&'a Choice>,
    /// Whether a chord on this root is in the palette already.
    occupied: bool,
}

impl<'a> Group<'a> {
    /// Of the chords on a root those that can join the ones that are there.
    fn new(members: &[&'a Choice], there: &[&Choice], root: usize) -> Self {
        let joins = |c: &Choice| {
            let mut there = there.iter();
            there.all(|t| t.sounds() != c.sounds() && !t.is_color_of(c))
        };
        Group {
            members: members.iter().copied().filter(|c| joins(c)).collect(),
            occupied: there.iter().any(|t| t.root() == root),
        }
    }

    fn tally(&self) -> Tally {
        let (mut pairs, mut products) = (0, 0);
        if !self.occupied {
            for (a, b) in self.pairs() {
                pairs += 1;
                products += a.weight * b.weight;
            }
        }
        Tally {
            count: self.members.len() as u128,
            sum: self.members.iter().map(|c| c.weight).sum(),
            pairs,
            products,
            occupied: self.occupied,
        }
    }

    /// Weight of taking none, one, two of them, whichever these are.
    pub(super) fn taking(&self) -> [u128; 3] {
        self.tally().taking()
    }

    /// The weight of taking just these members.
    pub(super) fn weight(&self, taken: &[&Choice]) -> u128 {
        let product: u128 = taken.iter().map(|c| c.weight).product();
        let own = u128::from(OWN_ROOT);
        match (self.occupied, taken.len()) {
            (true, 0) | (false, 1) => own * product,
            _ => product,
        }
    }

    /// Every pair of the members, in order; without those of which one chord is a color of the other.
    pub(super) fn pairs(&self) -> impl Iterator<Item = (&'a Choice, &'a Choice)> + Clone {
        let members = &self.members;
        members
            .iter()
            .enumerate()
            .flat_map(|(i, a)| members[i + 1..].iter().map(move |b| (*a, *b)))
            .filter(|(a, b)| !a.is_color_of(b))
    }
}

/// Sums of the weights of all ways to take `0..=MOST_CHORDS` chords of the groups from each on.
pub(super) fn sums(groups: &[Group<'_>]) -> Vec<BySize> {
    let mut sums = vec![NOTHING];
    for group in groups.iter().rev() {
        let next = joined(&sums[sums.len() - 1], group.taking());
        sums.push(next);
    }
    sums.reverse();
    sums
}

/// Candidates as the wishes leave them.
pub(super) struct Pool<'a> {
    table: &'a Table,
    request: &'a Request,
    /// The chords, no two with the same pitch classes.
    pub(super) choices: Vec<Choice>,
    /// The same, by root.
    tallies: [Tally; 12],
    /// By root, how often the chords were counted in songs.
    counted: [u64; 12],
    /// Whether they are to fill a form of the blues.
    in_form: bool,
}

impl Pool<'_> {
    /// The chords there are.
    pub(super) const fn table(&self) -> &Table {
        self.table
    }

    /// Whether home has a minor third.
    pub(super) fn third(&self) -> Third {
        self.table.third()
    }

    /// How many different chords are asked for.
    pub(super) fn different(&self) -> Option<usize> {
        self.request.different.map(usize::from)
    }

    /// Every chord that may stand in a blues and that kind and wishes leave, under each of its names.
    pub(super) fn in_blues(&self, jazz: bool) -> Vec<Choice> {
        let request = self.request;
        let kind = |q: &Quality| match request.flavor {
            Flavor::Any => true,
            Flavor::Triads => q.is_triad(),
            Flavor::Sevenths => q.is_seventh_chord(),
        };
        let left = |c: &Candidate| {
            let mut without = request.without.iter();
            without.all(|w| classes(w) != c.chordal.classes)
        };
        let all = self.table.in_blues(jazz);
        let own = all.filter(|c| kind(c.quality) && left(c)).cloned();
        own.map(|c| self.choice(c)).collect()
    }

    /// The weight of a chord in a palette.
    pub(super) fn weight(&self, candidate: &Candidate) -> u128 {
        let own = self.table.rule == FitRule::Blues && !candidate.fit.home();
        // In a blues a seventh on the first, fourth or fifth is as plain as a triad.
        let color = match candidate.quality.color {
            _ if own && candidate.quality.is_plain() => 0,
            color => color,
        };
        let color = color_weight(self.request.level, color);
        let suffix = candidate.quality.suffix;
        let root = candidate.chordal.root;
        let counted = self.counted[usize::from(root % 12)];
        let degree = degree_weight(self.third(), root, suffix, counted);
        let third = if candidate.quality.third {
            WITH_THIRD
        } else {
            1
        };
        let blues = if own { BLUES_CHORD } else { 1 };
        u128::from((color * degree * third * blues / WITH_THIRD).max(1))
    }

    fn choice(&self, candidate: Candidate) -> Choice {
        Choice {
            weight: self.weight(&candidate),
            candidate: Arc::new(candidate),
        }
    }

    /// A chord that is wished for by name.
    fn named(&self, wish: WishKind, chord: &Chord) -> Result<Choice, WishError> {
        if self
            .request
            .without
            .iter()
            .any(|c| classes(c) == classes(chord))
        {
            return Err(WishError::new(
                wish,
                format!("{chord} is wished for, and left out as well"),
                format!("drop one of the two wishes for {chord}"),
            ));
        }
        match self.table.named(chord, self.in_form) {
            Ok(candidate) => Ok(self.choice(candidate)),
            Err(fit) => Err(WishError::new(
                wish,
                format!(
                    "{chord} does not fit: {}",
                    fit.reason(self.table.rule).unwrap_or_default()
                ),
                format!(
                    "choose one that fits, such as {}, or another rule",
                    self.examples()
                ),
            )),
        }
    }

    fn examples(&self) -> String {
        let mut plain: Vec<&Candidate> = self.table.candidates.iter().collect();
        plain.sort_by_key(|c| c.quality.color);
        plain
            .iter()
            .take(4)
            .map(|c| c.chord.to_string())
            .collect::<Vec<_>>()
            .join(", ")
    }
}

/// The chords that rule, kind, level and `--without` leave, for a form of the blues or for phrases.
///
/// # Errors
/// When one of these leaves too few.
pub(super) fn pool<'a>(
    table: &'a Table,
    request: &'a Request,
    in_form: bool,
) -> Result<Pool<'a>, WishError> {
    if table.candidates.is_empty() {
        let (rule, set) = (table.rule.name(), table.set.name());
        return Err(WishError::new(
            WishKind::Rule,
            format!("no chord of the vocabulary fits over {set} by the rule {rule}"),
            "choose another rule: inside, clear, home, home with V or blues",
        ));
    }
    let mut found = of_kind(table, request)?;
    found.retain(|c| {
        let mut without = request.without.iter();
        without.all(|w| classes(w) != c.chordal.classes)
    });
    if found.is_empty() && request.with.is_empty() && request.start.is_none() {
        return Err(WishError::new(
            WishKind::Without,
            "no chord is left",
            "leave out fewer chords",
        ));
    }
    let mut pool = Pool {
        table,
        request,
        choices: Vec::new(),
        tallies: [Tally::default(); 12],
        counted: [0; 12],
        in_form,
    };
    let found = of_level(found, request);
    for candidate in &found {
        let root = candidate.chordal.root;
        let own = table.third().quality(root, candidate.quality.suffix);
        pool.counted[usize::from(root % 12)] += own.unwrap_or(0);
    }
    let choices = found.into_iter();
    pool.choices = choices.map(|c| pool.choice(c)).collect();
    for root in 0..12 {
        let own: Vec<&Choice> = pool.choices.iter().filter(|c| c.root() == root).collect();
        pool.tallies[root] = Group::new(&own, &[], root).tally();
    }
    Ok(pool)
}

/// The chords of the kind that is asked for. 7sus4 joins the sevenths where there are fewer than two.
fn of_kind(table: &Table, request: &Request) -> Result<Vec<Candidate>, WishError> {
    let (noun, found) = match request.flavor {
        Flavor::Any => return Ok(table.candidates.clone()),
        Flavor::Triads => ("triad", table.of_kind(Quality::is_triad)),
        Flavor::Sevenths => {
            let mut found = table.of_kind(Quality::is_seventh_chord);
            if found.len() < 2 {
                found = table.of_kind(|q| q.is_seventh_chord() || q.is_suspended_seventh());
            }
            ("seventh chord or 7sus4", found)
        }
    };
    let least = if request.different == Some(1) { 1 } else { 2 };
    if found.len() >= least {
        return Ok(found);
    }
    let (rule, set) = (table.rule.name(), table.set.name());
    let message = match found.first() {
        None => format!("no {noun} fits over {set} by the rule {rule}"),
        Some(only) => format!(
            "{} is the only {noun} that fits over {set} by the rule {rule}, and a progression needs two",
            only.chord
        ),
    };
    let help = match table.rule {
        FitRule::Inside | FitRule::Clear => {
            "ask for any kind of chord, or admit more by the rule home"
        }
        FitRule::Home | FitRule::HomeWithFive | FitRule::Blues => "ask for any kind of chord",
    };
    Err(WishError::new(WishKind::Flavor, message, help))
}

/// The chords of the level that is asked for. At the plain one these are major, minor and seventh chords; power chords
/// join where that is too few, then all others. A chord on the tonic joins if none of these is on it.
fn of_level(found: Vec<Candidate>, request: &Request) -> Vec<Candidate> {
    if request.level != Level::Plain {
        return found;
    }
    let tiers: [fn(&Quality) -> bool; 2] =
        [Quality::is_plain, |q| q.is_plain() || q.is_power_chord()];
    let mut kept = tiers
        .iter()
        .map(|tier| -> Vec<Candidate> {
            found.iter().filter(|c| tier(c.quality)).cloned().collect()
        })
        .find(|kept| enough(kept, request))
        .unwrap_or_else(|| found.clone());
    let on_tonic = |c: &&Candidate| c.chordal.root == 0;
    if !kept.iter().any(|c| on_tonic(&c)) {
        let home = found.iter().filter(on_tonic);
        kept.extend(home.min_by_key(|c| c.quality.color).cloned());
    }
    kept
}

/// Whether these chords are enough for a progression: three roots, or two chords of the kind that is asked for, and as
/// many different chords as are asked for.
fn enough(chords: &[Candidate], request: &Request) -> bool {
    let mut on = [0usize; 12];
    for chord in chords {
        on[usize::from(chord.chordal.root % 12)] += 1;
    }
    let roots = on.iter().filter(|n| **n > 0).count();
    // A palette takes at most two chords of a root.
    let most: usize = on.iter().map(|n| (*n).min(2)).sum();
    let wanted = usize::from(request.different.unwrap_or(0));
    match request.flavor {
        Flavor::Any => roots >= 3 && most >= wanted,
        Flavor::Triads | Flavor::Sevenths => chords.len() >= 2 && most >= wanted,
    }
}

/// The chords that are wished for by name.
pub(super) struct Wished {
    begin: Option<Choice>,
    end: Option<Choice>,
    with: Vec<Choice>,
}

impl Wished {
    /// # Errors
    /// When the rule does not admit one, or it is to be left out as well.
    pub(super) fn new(pool: &Pool<'_>) -> Result<Wished, WishError> {
        let request = pool.request;
        let one = |wish, chord: &Option<Chord>| {
            let chord = chord.as_ref();
            chord.map(|c| pool.named(wish, c)).transpose()
        };
        let end = one(WishKind::End, &request.end)?;
        let begin = one(WishKind::Start, &request.start)?;
        let mut with: Vec<Choice> = Vec::new();
        for chord in &request.with {
            let choice = pool.named(WishKind::With, chord)?;
            if with.iter().all(|c| c.sounds() != choice.sounds()) {
                with.push(choice);
            }
        }
        Ok(Wished { begin, end, with })
    }

    /// The first chord, where it is asked for.
    pub(super) const fn begin(&self) -> Option<&Choice> {
        self.begin.as_ref()
    }

    /// The last chord, where it is asked for.
    pub(super) const fn end(&self) -> Option<&Choice> {
        self.end.as_ref()
    }

    /// Every chord that is asked for.
    pub(super) fn all(&self) -> impl Iterator<Item = &Choice> {
        self.begin.iter().chain(&self.end).chain(&self.with)
    }

    /// Whether the last chord is left to chance.
    pub(super) fn end_is_free(&self) -> bool {
        self.end.is_none()
    }
}

/// The chords a progression may begin with.
fn firsts(pool: &Pool<'_>, wished: &Wished) -> Vec<Choice> {
    let on_tonic = |c: &&Choice| c.candidate.chordal.root == 0;
    match (&wished.begin, &wished.end) {
        (Some(begin), _) => return vec![begin.clone()],
        // A last chord on the tonic is the first as well.
        (None, Some(end)) if on_tonic(&end) => return vec![end.clone()],
        _ => {}
    }
    let named = wished.with.iter().filter(on_tonic).cloned();
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
        let all = pool.choices.iter().chain(&wished.with);
        tonics = all.cloned().collect();
    }
    let end = wished.end.as_ref();
    tonics.retain(|c| end.is_none_or(|end| end.sounds() != c.sounds()));
    tonics
}

/// The ways to begin, with whatever last chord is wished for or comes up.
///
/// # Errors
/// When nothing is left to begin with, or more chords are wished for than a palette holds.
pub(super) fn starts(pool: &Pool<'_>, wished: &Wished) -> Result<Vec<Start>, WishError> {
    let firsts = firsts(pool, wished);
    if firsts.is_empty() {
        return Err(WishError::new(
            WishKind::Without,
            "no chord is left to begin with",
            "leave out fewer chords, or name the first one",
        ));
    }
    let found: Vec<Start> = firsts
        .into_iter()
        .map(|first| Start::new(pool, wished, first, wished.end.as_ref()))
        .collect();
    if found.iter().all(|s| 1 + s.needed.len() > MOST_CHORDS) {
        let message = format!(
            "a progression has at most {MOST_CHORDS} different chords, its first and last among them"
        );
        return Err(WishError::new(
            WishKind::With,
            message,
            "wish for fewer chords",
        ));
    }
    Ok(found)
}

/// Into how many parts the weight of a last root is shared among its chords.
const ROOT_SHARES: u128 = 64;

/// The ways to begin together with the ways to end: on a chord that leads home, or at times on the first one again. None
/// where no chord leads home.
pub(super) fn leading_starts(pool: &Pool<'_>, wished: &Wished) -> Vec<Start> {
    let bars = pool.request.bars;
    let ending = |up: u8, bars: u32| last_weight(pool.third(), up, bars);
    let mut found: Vec<Start> = Vec::new();
    for first in firsts(pool, wished) {
        let unnamed = pool.choices.iter().filter(|c| {
            let mut with = wished.with.iter();
            with.all(|w| w.sounds() != c.sounds())
        });
        for last in wished.with.iter().chain(unnamed) {
            let up = (12 + last.candidate.chordal.root - first.candidate.chordal.root) % 12;
            let color = |c: &Choice| c.sounds() != last.sounds() && c.is_color_of(last);
            let named = wished.with.iter().any(|w| w.sounds() == last.sounds());
            let taken = !named && std::iter::once(&first).chain(&wished.with).any(color);
            let Some(weight) =
                ending(up, bars).filter(|_| last.sounds() != first.sounds() && !taken)
            else {
                continue;
            };
            let mut start = Start::new(pool, wished, first.clone(), Some(last));
            // The root is weighed as it was counted, and shared among its chords as these are weighed.
            let root: u128 = pool.tallies[last.root()].sum;
            let own = last.weight * ROOT_SHARES / root.max(1);
            start.weight *= weight * own.max(1);
            found.push(start);
        }
    }
    if !found.is_empty() {
        let again = firsts(pool, wished).into_iter();
        found.extend(again.map(|first| Start::new(pool, wished, first.clone(), Some(&first))));
    }
    found.retain(|s| s.needed.len() < MOST_CHORDS);
    found
}
