//! A piece, read, changed, unfolded and arranged.

use super::values::NEEDS_KEY;
use super::wanted::{Spot, Wanted};
use crate::arrange::{ArrangeError, Arrangement, Excerpt, JamPasses, pass_count};
use crate::chart::{Form, Piece, Places, Problem, SourceText, Times};
use crate::cli::Context;
use crate::cli::failure::{Failure, rendered};
use crate::cli::goal::WrittenPlan;
use crate::cli::usage::in_shell;
use crate::theory::nearest;
use crate::time::{Clockwork, Length, Nanos, Tempo};

/// Where a piece comes from: a text, and the places in it of what is checked later.
pub(in crate::cli) struct Origin {
    pub(in crate::cli) source: SourceText,
    pub(in crate::cli) places: Places,
}

impl Spot {
    /// The bar: a section's by its name.
    fn bar(
        &self,
        option: &str,
        sections: &[Section],
        of: fn(&Section) -> u64,
    ) -> Result<u64, Failure> {
        let name = match self {
            Spot::Bar(bar) => return Ok(*bar),
            Spot::Section(name) => name,
        };
        if let Some(section) = sections.iter().find(|section| section.name == *name) {
            return Ok(of(section));
        }
        let names: Vec<&str> = sections.iter().map(|s| s.name.as_str()).collect();
        let near = nearest(name, names.iter().copied()).or(names.first().copied());
        Err(Failure::new(
            "option-section",
            format!(
                "`--{option}` is a bar or a section, {}, found `{name}`",
                names.join(", ")
            ),
            match near {
                Some(near) => format!("write `--{option} {}`", in_shell(near)),
                None => format!("write `--{option} 1`"),
            },
        ))
    }
}

impl From<SourceText> for Origin {
    /// A text that says nothing of the kind.
    fn from(source: SourceText) -> Self {
        let places = Places::default();
        Origin { source, places }
    }
}

/// A piece with its form and its arrangement.
pub(in crate::cli) struct Prepared {
    pub(in crate::cli) piece: Piece,
    form: Form,
    excerpt_options: Vec<&'static str>,
    /// Whether it is to be repeated without a seam.
    pub(in crate::cli) looped: bool,
    /// Whether it ends exactly after the time that was asked for.
    pub(in crate::cli) exact: bool,
    plan: WrittenPlan,
    /// Before its first bar; what plays takes a copy.
    arrangement: Arrangement,
}

/// A section where it is first played.
struct Section {
    name: String,
    first: u64,
    last: u64,
}

impl Prepared {
    /// Unfolds and arranges a piece that all changes were made to.
    pub(super) fn new(
        mut piece: Piece,
        wanted: &Wanted,
        origin: Origin,
        passes: impl FnOnce(&Piece) -> Option<JamPasses>,
    ) -> Result<Prepared, Failure> {
        let plan = wanted.written_plan(&piece, &origin);
        let form = piece.unfold().map_err(|mut problems| {
            for problem in problems.iter_mut().filter(|p| p.code == "needs-key") {
                problem.help = NEEDS_KEY.to_owned();
            }
            Failure::text(origin.source.clone(), problems)
        })?;
        let sections = sections(&form);
        let spot = |option, spot: &Option<Spot>, bar: fn(&Section) -> u64| {
            let spot = spot.as_ref();
            spot.map(|spot| spot.bar(option, &sections, bar))
                .transpose()
        };
        let mut excerpt = Excerpt {
            from: spot("from", &wanted.from, |section| section.first)?,
            to: spot("to", &wanted.to, |section| section.last)?,
            length: wanted.length,
            exact: wanted.exact,
        };
        if wanted.looped && excerpt == Excerpt::default() && piece.times != Times::Endless {
            // What is played again and again is voiced around: as many passes of a piece without end.
            let passes = pass_count(&piece)
                .map_err(|e| origin.wrong(e))?
                .unwrap_or(1);
            let bars = passes.saturating_mul(form.pass.len() as u64);
            excerpt.from = Some(form.intro.len() as u64 + 1);
            excerpt.length = Some(Length::bars(bars.max(1)));
            piece.times = Times::Endless;
        }
        let made = match passes(&piece) {
            Some(passes) => Arrangement::made(&piece, form.clone(), Box::new(passes), excerpt),
            None => Arrangement::new(&piece, form.clone(), excerpt),
        };
        let arrangement = made.map_err(|e| origin.wrong(e))?;
        Ok(Prepared {
            piece,
            form,
            excerpt_options: wanted.excerpt_options.clone(),
            looped: wanted.looped,
            exact: wanted.exact,
            plan,
            arrangement,
        })
    }

    /// The sections by name, each with its first bar in the first pass, counted from 1.
    pub(in crate::cli) fn sections(&self) -> Vec<(String, i64)> {
        let sections = sections(&self.form).into_iter();
        let bar = |number: u64| i64::try_from(number).unwrap_or(i64::MAX);
        sections.map(|s| (s.name, bar(s.first))).collect()
    }

    /// How long the piece is, count-in included; `None` without end.
    pub(in crate::cli) fn duration(&self) -> Option<Nanos> {
        let journey = self.arrangement.journey();
        let end = journey.end()?;
        let mut clock = Clockwork::new(Tempo::DEFAULT);
        for (tick, tempo) in journey.tempo_pairs() {
            clock.change(tick, tempo);
        }
        Some(clock.at(end))
    }

    /// The same, its tempo plan written in a text of its own.
    pub(in crate::cli) fn planned_in(mut self, source: SourceText) -> Self {
        self.plan.span = 0..source.text.len();
        self.plan.source = source;
        self
    }

    /// Says where the tempo plan does not come to its last tempo.
    pub(in crate::cli) fn warn_of_goal(&self, context: &mut Context<'_, '_>) {
        if let Some(warning) = self
            .plan
            .warning(&self.piece, &self.form, &self.arrangement)
        {
            let text = rendered(&[warning], &self.plan.source, context);
            context.say_rendered(&text);
        }
    }

    /// The options that choose a part of the piece to play, which a document does not hold.
    pub(in crate::cli) fn excerpt_options(&self) -> &[&'static str] {
        &self.excerpt_options
    }

    /// The arrangement, from its first bar. It was made once; a copy shares what was planned.
    pub(in crate::cli) fn arrangement(&self) -> Arrangement {
        self.arrangement.clone()
    }
}

impl Origin {
    /// What is wrong with an arrangement, in the text where that is written there.
    fn wrong(&self, error: ArrangeError) -> Failure {
        let span = match &error {
            ArrangeError::Keys(_) | ArrangeError::KeysNeedKey => self.places.keys.clone(),
            _ => 0..0,
        };
        if span.is_empty() {
            return error.into();
        }
        Failure::text(self.source.clone(), vec![Problem::of(&error, span)])
    }
}

/// The sections by name, each with its first and last bar in the first pass, counted from 1.
fn sections(form: &Form) -> Vec<Section> {
    let mut found: Vec<Section> = Vec::new();
    let mut goes_on = false;
    for (bar, number) in form.intro.iter().chain(&*form.pass).zip(1..) {
        let name = bar.section.to_string();
        if bar.opens_section {
            goes_on = !found.iter().any(|known| known.name == name);
            if goes_on {
                let (first, last) = (number, number);
                found.push(Section { name, first, last });
                continue;
            }
        }
        if let Some(section) = found.last_mut().filter(|_| goes_on) {
            section.last = number;
        }
    }
    found
}
