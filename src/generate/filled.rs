//! The forms of the blues, filled with what a rule admits and the wishes leave.

use super::blues::{Blues, SKELETONS, Skeleton, quality_weight};
use super::fit::fit;
use super::form::{Form, Missing, Outline};
use super::numerals::{Kind, Role};
use super::pool::{Choice, Pool, Wished};
use super::request::{BluesWish, Request, Rhythm, WishError, WishKind};
use super::table::{Candidate, Table};
use super::vocabulary::vocabulary;
use super::weights::color_weight;
use crate::chart::FitRule;
use crate::diagnostic::or;
use crate::theory::{Chord, Harmony};

/// Whether forms of the blues are drawn: where one is asked for, or under the blues rule where it has the length.
///
/// # Errors
/// Where the form that is asked for has another length or another rhythm.
pub(super) fn wants_form(table: &Table, request: &Request) -> Result<bool, WishError> {
    let in_bars = matches!(request.rhythm, Rhythm::Mixed | Rhythm::Bar);
    match request.blues {
        BluesWish::None => Ok(false),
        BluesWish::Any => {
            let lengths = SKELETONS.iter().any(|s| s.bars == request.bars);
            Ok(table.rule == FitRule::Blues && in_bars && lengths)
        }
        BluesWish::Form(blues) => {
            let lengths = blues.lengths();
            if !lengths.contains(&request.bars) {
                let (name, bars) = (blues.name(), request.bars);
                let message = format!("a {name} blues has {} bars, found {bars}", either(&lengths));
                let help = format!("ask for {} bars", either(&lengths));
                return Err(WishError::new(WishKind::Bars, message, help));
            }
            if !in_bars {
                let message = "a blues changes its chord by the bar";
                let help = "leave the rhythm out";
                return Err(WishError::new(WishKind::Rhythm, message, help));
            }
            Ok(true)
        }
    }
}

/// `8, 12 or 16`.
fn either(lengths: &[u32]) -> String {
    let names: Vec<String> = lengths.iter().map(u32::to_string).collect();
    or(&names)
}

/// The forms that can be played as the wishes want them.
///
/// # Errors
/// Where there is none: what the one that came furthest cannot have.
pub(super) fn blues_forms(
    pool: &Pool<'_>,
    request: &Request,
    wished: &Wished,
) -> Result<Vec<Form>, WishError> {
    let (mut found, mut failed): (Vec<Form>, Option<(Missing, Blues)>) = (Vec::new(), None);
    for skeleton in SKELETONS.iter().filter(|s| s.bars == request.bars) {
        if matches!(request.blues, BluesWish::Form(wanted) if wanted != skeleton.blues) {
            continue;
        }
        match filled(skeleton, pool, request, wished) {
            Ok(form) => found.push(form),
            Err(missing) => {
                let further = |(known, _): &(Missing, Blues)| known.rank() < missing.rank();
                if failed.as_ref().is_none_or(further) {
                    failed = Some((missing, skeleton.blues));
                }
            }
        }
    }
    match failed {
        Some((missing, blues)) if found.is_empty() => {
            let mut error = unmet(pool, request, wished, &missing, blues);
            error.in_form = !matches!(error.wish, WishKind::Blues | WishKind::Flavor);
            Err(error)
        }
        _ => Ok(found),
    }
}

fn filled(
    skeleton: &Skeleton,
    pool: &Pool<'_>,
    request: &Request,
    wished: &Wished,
) -> Result<Form, Missing> {
    let split = request.rhythm == Rhythm::Mixed;
    let parts = skeleton.parts_read().iter().map(|ways| {
        let ways = ways.iter().cloned();
        ways.filter(|(_, bars)| split || bars.iter().all(|bar| bar.len() == 1))
            .collect()
    });
    let jazz = skeleton.blues == Blues::Jazz;
    let weigh = |role: &Role, candidate: &Candidate| {
        let (suffix, minor) = (candidate.quality.suffix, role.kind == Kind::Minor);
        let fifth = candidate.chord.fifth().is_some_and(|d| d.alter() == 0);
        // A blues chord has a third and a plain fifth, and no major seventh.
        let major_seventh = candidate.chord.seventh().is_some_and(|d| d.alter() == 0);
        let third = candidate.quality.third;
        match role.kind {
            Kind::Exactly(_) => 1,
            _ if !third || !fifth || major_seventh => 0,
            // All chords of jazz have a seventh.
            _ if jazz && !candidate.quality.seventh => 0,
            _ => {
                let plain = candidate.quality.is_plain();
                let color = if plain { 0 } else { candidate.quality.color };
                let weight = quality_weight(role.up, minor, suffix);
                u128::from(weight * color_weight(request.level, color))
            }
        }
    };
    let outline = Outline {
        name: format!("{} blues", skeleton.blues.name()),
        phrase_bars: 4,
        weight: skeleton.weight,
        parts: parts.collect(),
        named: pool.in_blues(jazz),
        weigh: &weigh,
    };
    Form::new(&outline, pool, wished)
}

/// The error for what no form can have.
fn unmet(
    pool: &Pool<'_>,
    request: &Request,
    wished: &Wished,
    missing: &Missing,
    blues: Blues,
) -> WishError {
    let bars = request.bars;
    let what = match request.blues {
        BluesWish::Form(blues) => format!("{} blues of {bars} bars", blues.name()),
        _ => format!("blues of {bars} bars"),
    };
    let chord = |choice: Option<&Choice>| {
        choice.map_or_else(String::new, |c| c.candidate.chord.to_string())
    };
    let other = "wish for other chords, or for no form";
    match missing {
        Missing::Role(role) => no_chord(pool, request, role, blues),
        Missing::Wish(WishKind::End) => {
            let message = format!("no {what} ends on {}", chord(wished.end()));
            WishError::new(WishKind::End, message, other)
        }
        Missing::Wish(WishKind::Start) => {
            let message = format!("no {what} begins on {}", chord(wished.begin()));
            WishError::new(WishKind::Start, message, other)
        }
        Missing::Wish(WishKind::With) => {
            let names: Vec<String> = wished.all().map(|c| chord(Some(c))).collect();
            let message = format!("no {what} holds {}", names.join(", "));
            WishError::new(WishKind::With, message, other)
        }
        Missing::Wish(_) => {
            let number = request.different.unwrap_or(0);
            let message = format!("no {what} has {number} different chords with the other wishes");
            let help = "choose another number of different chords, or wish for no form";
            WishError::new(WishKind::Different, message, help)
        }
    }
}

/// The error where a form lacks the chord of a role: the rule refuses it, or another wish leaves it out.
fn no_chord(pool: &Pool<'_>, request: &Request, role: &Role, blues: Blues) -> WishError {
    let table = pool.table();
    let suffix = match role.kind {
        Kind::Major => "7",
        Kind::Minor => "m",
        Kind::Exactly(suffix) => suffix,
    };
    let name = blues.name();
    let quality = vocabulary().iter().find(|q| q.suffix == suffix);
    let root = table.root_of(role.up);
    let chord = quality.and_then(|q| Chord::new(root, q.all_degrees(), None).ok());
    let Some(chord) = chord else {
        let message = format!("the {name} blues has no chord on {root}");
        return WishError::new(WishKind::Blues, message, "choose another form");
    };
    let found = fit(&Harmony::Chord(chord), &table.set, &table.home);
    let jazz = blues == Blues::Jazz && table.rule == FitRule::Blues;
    match found.reason(table.rule) {
        Some(reason) if !(jazz && matches!(role.kind, Kind::Exactly(_))) => WishError::new(
            WishKind::Blues,
            format!(
                "the {name} blues needs {chord}, which the rule {} refuses: {reason}",
                table.rule.name()
            ),
            "choose another form, or another rule",
        ),
        _ if request.without.is_empty() => WishError::new(
            WishKind::Flavor,
            format!("the {name} blues needs {chord} or a chord like it, which is not of the kind"),
            "ask for any kind of chord",
        ),
        _ => WishError::new(
            WishKind::Without,
            format!("the {name} blues needs {chord} or a chord like it, and none is left"),
            "leave out fewer chords, or wish for no form",
        ),
    }
}
