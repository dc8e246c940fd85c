//! Forms: progressions whose bars are known by their degrees, with exact sums over all ways to play and to fill them.
//!
//! A form has parts one after the other, and each part has ways, which are bars of roles (a root and a third). A
//! progression over it is drawn in the same three draws as one over phrases: how many roles are used, which of them and
//! the chord of each, then the way of each part. For each set of roles the weights of all ways that use just these are
//! summed beforehand, so no draw is rejected and repeated.

use super::chance::{Chance, Odds};
use super::net::MOST_CHORDS;
use super::numerals::{Kind, Role};
use super::pool::{Choice, Pool, Wished};
use super::request::WishKind;
use super::table::Candidate;

/// A form before it is filled.
pub(super) struct Outline<'a> {
    pub(super) name: String,
    pub(super) phrase_bars: u32,
    pub(super) weight: u64,
    /// For each part its ways: the weight, and the bars.
    pub(super) parts: Vec<Vec<(u64, Vec<Vec<Role>>)>>,
    /// The chords there are for a role that names its chord, beside those of the pool.
    pub(super) named: Vec<Choice>,
    /// The weight of a chord in a role; 0 where it has no place there.
    pub(super) weigh: &'a dyn Fn(&Role, &Candidate) -> u128,
}

/// A form, filled with the chords that may stand in it.
#[derive(Clone, Debug)]
pub struct Form {
    /// What it is called, such as `plain blues`.
    pub name: String,
    /// Bars to a phrase.
    pub phrase_bars: u32,
    /// How likely it is, against the other plans.
    pub weight: u64,
    roles: Vec<Role>,
    parts: Vec<Vec<Way>>,
    /// For each role the chords it may have.
    fills: Vec<Vec<Choice>>,
    /// For each set of roles, as bits: the weight of all ways that use just these, and how many these are.
    sums: Vec<Sum>,
}

#[derive(Clone, Debug)]
struct Way {
    weight: u128,
    /// For each bar, the roles of its chords.
    bars: Vec<Vec<usize>>,
    /// The roles it uses, as bits.
    roles: usize,
}

#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    weight: u128,
    count: u128,
}

/// What a form cannot have; later ones are found out later.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Missing {
    /// No chord that may be used fits this role.
    Role(Role),
    /// A wish that leaves no way to play it.
    Wish(WishKind),
}

impl Missing {
    /// How far a form came before it failed.
    pub(super) fn rank(&self) -> usize {
        match self {
            Missing::Role(_) => 0,
            Missing::Wish(WishKind::End) => 1,
            Missing::Wish(WishKind::Start) => 2,
            Missing::Wish(WishKind::With) => 3,
            Missing::Wish(_) => 4,
        }
    }
}

/// A progression drawn over a form.
pub(super) struct Drawn<'a> {
    /// Its chords, the first one first.
    pub(super) palette: Vec<&'a Choice>,
    /// For each bar, which chords of the palette it has.
    pub(super) bars: Vec<Vec<usize>>,
    pub(super) size_odds: Odds,
    pub(super) palette_odds: Odds,
    pub(super) sequence_odds: Odds,
}

/// Whether a chord may stand in a role.
fn suits(role: &Role, candidate: &Candidate) -> bool {
    let third = candidate.chord.third().map(|d| d.alter());
    candidate.chordal.root == role.up
        && match role.kind {
            Kind::Major => third != Some(-1),
            Kind::Minor => third != Some(0),
            Kind::Exactly(suffix) => candidate.quality.suffix == suffix,
        }
}

impl Form {
    /// Fills an outline with what the pool has, as the wishes want it.
    pub(super) fn new(
        outline: &Outline<'_>,
        pool: &Pool<'_>,
        wished: &Wished,
    ) -> Result<Form, Missing> {
        let mut roles: Vec<Role> = Vec::new();
        for role in outline
            .parts
            .iter()
            .flatten()
            .flat_map(|(_, bars)| bars.iter().flatten())
        {
            if !roles.contains(role) {
                roles.push(*role);
            }
        }
        let mut form = Form {
            name: outline.name.clone(),
            phrase_bars: outline.phrase_bars,
            weight: outline.weight,
            parts: Vec::new(),
            fills: roles.iter().map(|role| fill(role, outline, pool)).collect(),
            sums: Vec::new(),
            roles,
        };
        form.part_sounds();
        let required = form.pin(wished);
        for ways in &outline.parts {
            form.parts.push(form.ways(ways)?);
        }
        form.keep_ends(wished)?;
        let required = required.ok_or(Missing::Wish(WishKind::With))?;
        form.sum();
        form.keep(|roles| roles & required == required, WishKind::With)?;
        let different = pool.different();
        let size = |roles: usize| roles.count_ones() as usize;
        form.keep(
            |roles| different.map_or(size(roles) <= MOST_CHORDS, |n| size(roles) == n),
            WishKind::Different,
        )?;
        Ok(form)
    }

    /// Leaves a sound to the role that has no other: D6 does not stand beside Bm7.
    fn part_sounds(&mut self) {
        let exact = |role: &Role| matches!(role.kind, Kind::Exactly(_));
        let own = self.roles.iter().zip(&self.fills);
        let own = own.filter(|(role, _)| exact(role));
        let taken: Vec<u16> = own
            .flat_map(|(_, fill)| fill.iter().map(Choice::sounds))
            .collect();
        for (_, fill) in self
            .roles
            .iter()
            .zip(&mut self.fills)
            .filter(|(r, _)| !exact(r))
        {
            fill.retain(|c| !taken.contains(&c.sounds()));
        }
    }

    /// Gives the roles of chords that are wished for these chords alone. Gives the roles that must be used, as bits;
    /// `None` where a chord has no role.
    fn pin(&mut self, wished: &Wished) -> Option<usize> {
        let mut required = 0;
        let mut all = true;
        let mut pinned = 0usize;
        for choice in wished.all() {
            let own = self.roles.iter().position(|r| suits(r, &choice.candidate));
            let Some(role) = own else {
                all = false;
                continue;
            };
            let bit = 1usize << role;
            let sounds = choice.sounds();
            if pinned & bit != 0 {
                all &= self.fills[role].iter().all(|c| c.sounds() == sounds);
                continue;
            }
            pinned |= bit;
            required |= bit;
            for fill in &mut self.fills {
                fill.retain(|c| c.sounds() != sounds);
            }
            self.fills[role] = vec![Choice {
                weight: 1,
                ..choice.clone()
            }];
        }
        all.then_some(required)
    }

    /// The ways of a part whose roles all have a chord.
    fn ways(&self, ways: &[(u64, Vec<Vec<Role>>)]) -> Result<Vec<Way>, Missing> {
        let at = |role: &Role| self.roles.iter().position(|r| r == role).unwrap_or(0);
        let mut found = Vec::new();
        let mut missing = None;
        for (weight, bars) in ways {
            let places: Vec<Vec<usize>> = bars
                .iter()
                .map(|bar| bar.iter().map(at).collect())
                .collect();
            let mut used = places.iter().flatten();
            match used.find(|role| self.fills[**role].is_empty()) {
                Some(role) => missing = missing.or(Some(self.roles[*role])),
                None => found.push(Way {
                    weight: u128::from(*weight),
                    roles: places.iter().flatten().fold(0, |all, role| all | 1 << role),
                    bars: places,
                }),
            }
        }
        match missing {
            Some(role) if found.is_empty() => Err(Missing::Role(role)),
            _ => Ok(found),
        }
    }

    /// Keeps the ways that begin and end as is wished.
    fn keep_ends(&mut self, wished: &Wished) -> Result<(), Missing> {
        let fills = &self.fills;
        let is = |role: Option<&usize>, choice: &Choice| {
            let fill = role.map(|role| &fills[*role]);
            fill.is_some_and(|fill| fill.iter().any(|c| c.sounds() == choice.sounds()))
        };
        if let (Some(end), Some(last)) = (wished.end(), self.parts.last_mut()) {
            last.retain(|way| is(way.bars.last().and_then(|bar| bar.last()), end));
            if last.is_empty() {
                return Err(Missing::Wish(WishKind::End));
            }
        }
        if let (Some(begin), Some(first)) = (wished.begin(), self.parts.first_mut()) {
            first.retain(|way| is(way.bars.first().and_then(|bar| bar.first()), begin));
            if first.is_empty() {
                return Err(Missing::Wish(WishKind::Start));
            }
        }
        Ok(())
    }

    /// Sums the weights of all ways to play it, by the roles these use.
    fn sum(&mut self) {
        let none = vec![Sum::default(); 1 << self.roles.len()];
        let mut sums = none.clone();
        sums[0] = Sum {
            weight: 1,
            count: 1,
        };
        for ways in &self.parts {
            let mut next = none.clone();
            for (used, sum) in sums.iter().enumerate().filter(|(_, sum)| sum.count > 0) {
                for way in ways {
                    let to = &mut next[used | way.roles];
                    to.weight += sum.weight * way.weight;
                    to.count += sum.count;
                }
            }
            sums = next;
        }
        self.sums = sums;
    }

    /// Keeps the sets of roles that hold; an error where none does.
    fn keep(&mut self, holds: impl Fn(usize) -> bool, wish: WishKind) -> Result<(), Missing> {
        for (roles, sum) in self.sums.iter_mut().enumerate() {
            if !holds(roles) {
                *sum = Sum::default();
            }
        }
        match self.sums.iter().any(|sum| sum.count > 0) {
            true => Ok(()),
            false => Err(Missing::Wish(wish)),
        }
    }

    /// The weight of all ways that use so many roles.
    fn of_size(&self, size: usize) -> u128 {
        let sums = self.sums.iter().enumerate();
        let own = sums.filter(|(roles, _)| roles.count_ones() as usize == size);
        own.map(|(_, sum)| sum.weight).sum()
    }

    /// The weight of all chords of a role together.
    fn filling(&self, role: usize) -> u128 {
        self.fills[role].iter().map(|c| c.weight).sum()
    }

    /// The number of progressions over it.
    pub(super) fn count(&self) -> u128 {
        let sums = self.sums.iter().enumerate();
        let all = sums.map(|(roles, sum)| {
            let fills = self.fills.iter().enumerate();
            let own = fills.filter(|(role, _)| roles >> role & 1 == 1);
            own.fold(sum.count, |ways, (_, fill)| {
                ways.saturating_mul(fill.len() as u128)
            })
        });
        all.fold(0, u128::saturating_add)
    }

    /// For each part and each set of roles used before it, the weight of all ways to go on that use just `roles` in the
    /// end.
    fn completions(&self, roles: usize) -> Vec<Vec<u128>> {
        let mut last = vec![0; roles + 1];
        last[roles] = 1;
        let mut tables = vec![last];
        for ways in self.parts.iter().rev() {
            let later = &tables[tables.len() - 1];
            let mut table = vec![0; roles + 1];
            for (used, sum) in table
                .iter_mut()
                .enumerate()
                .filter(|(u, _)| u & !roles == 0)
            {
                let own = ways.iter().filter(|way| way.roles & !roles == 0);
                *sum = own.map(|way| way.weight * later[used | way.roles]).sum();
            }
            tables.push(table);
        }
        tables.reverse();
        tables
    }

    /// Draws a progression: each of the three draws from its exact distribution.
    pub(super) fn draw(&self, chance: impl Fn(&str) -> Chance) -> Option<Drawn<'_>> {
        let sizes = (0..=self.roles.len()).map(|size| self.of_size(size));
        let size = chance("size").weighted(sizes.clone())?;
        let own = |roles: usize| match roles.count_ones() as usize == size {
            true => self.sums[roles].weight,
            false => 0,
        };
        let mut palette_chance = chance("palette");
        let roles = palette_chance.weighted((0..self.sums.len()).map(own))?;
        let mut chosen: Vec<(usize, &Choice)> = Vec::with_capacity(size);
        for role in (0..self.roles.len()).filter(|role| roles >> role & 1 == 1) {
            let fill = &self.fills[role];
            let one = palette_chance.weighted(fill.iter().map(|c| c.weight))?;
            chosen.push((role, &fill[one]));
        }
        let (bars, share) = self.draw_ways(roles, &mut chance("sequence"))?;
        let first = *bars.first()?.first()?;
        chosen.sort_by_key(|(role, _)| *role != first);
        let place = |role: &usize| chosen.iter().position(|(own, _)| own == role).unwrap_or(0);
        let fillings = (0..self.roles.len()).map(|role| {
            let own = chosen.iter().find(|(own, _)| *own == role);
            own.map_or_else(|| self.filling(role).max(1), |(_, choice)| choice.weight)
        });
        let total = (0..self.roles.len()).map(|role| self.filling(role).max(1));
        Some(Drawn {
            bars: bars
                .iter()
                .map(|bar| bar.iter().map(place).collect())
                .collect(),
            size_odds: Odds {
                share: self.of_size(size),
                total: sizes.sum(),
            },
            palette_odds: Odds {
                share: self.sums[roles].weight * fillings.product::<u128>(),
                total: self.of_size(size) * total.product::<u128>(),
            },
            sequence_odds: Odds {
                share,
                total: self.sums[roles].weight,
            },
            palette: chosen.into_iter().map(|(_, choice)| choice).collect(),
        })
    }

    /// The way of each part, so that just these roles are used; and the weight of all together.
    fn draw_ways(&self, roles: usize, chance: &mut Chance) -> Option<(Vec<Vec<usize>>, u128)> {
        let later = self.completions(roles);
        let (mut used, mut share) = (0, 1);
        let mut bars = Vec::new();
        for (part, ways) in self.parts.iter().enumerate() {
            let weights = ways.iter().map(|way| match way.roles & !roles {
                0 => way.weight * later[part + 1][used | way.roles],
                _ => 0,
            });
            let way = &ways[chance.weighted(weights)?];
            used |= way.roles;
            share *= way.weight;
            bars.extend(way.bars.iter().cloned());
        }
        Some((bars, share))
    }

    /// Every sequence over the chords of a progression with its weight, the heaviest first: for each bar the places of its
    /// chords in the palette.
    pub(super) fn sequences(&self, palette: &[u16]) -> Vec<(Vec<Vec<usize>>, u128)> {
        let place = |role: usize| {
            let mut fill = self.fills[role].iter();
            fill.find_map(|c| palette.iter().position(|p| *p == c.sounds()))
        };
        let mut found: Vec<(Vec<Vec<usize>>, u128)> = vec![(Vec::new(), 1)];
        for ways in &self.parts {
            let mut longer = Vec::new();
            for (bars, weight) in &found {
                for way in ways {
                    let more: Option<Vec<Vec<usize>>> = way
                        .bars
                        .iter()
                        .map(|bar| bar.iter().map(|role| place(*role)).collect())
                        .collect();
                    if let Some(more) = more {
                        longer.push(([bars.clone(), more].concat(), weight * way.weight));
                    }
                }
            }
            found = longer;
        }
        let all = |bars: &Vec<Vec<usize>>| {
            (0..palette.len()).all(|place| bars.iter().flatten().any(|p| *p == place))
        };
        found.retain(|(bars, _)| all(bars));
        found.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
        found
    }

    /// Every chord that may stand in it.
    pub(super) fn chords(&self) -> impl Iterator<Item = &Candidate> {
        self.fills.iter().flatten().map(|choice| &*choice.candidate)
    }
}

/// The chords that a role may have.
fn fill(role: &Role, outline: &Outline<'_>, pool: &Pool<'_>) -> Vec<Choice> {
    let named: &[Choice] = match role.kind {
        Kind::Exactly(_) => &outline.named,
        _ => &[],
    };
    let mut found: Vec<Choice> = Vec::new();
    for choice in pool.choices.iter().chain(named) {
        let weight = (outline.weigh)(role, &choice.candidate);
        let known = found.iter().any(|c| c.sounds() == choice.sounds());
        if weight > 0 && !known && suits(role, &choice.candidate) {
            found.push(Choice {
                weight,
                candidate: choice.candidate.clone(),
            });
        }
    }
    found
}
