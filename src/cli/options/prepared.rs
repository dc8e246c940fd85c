//! A piece, read, changed, unfolded and arranged.

use super::spot::sections;
use crate::arrange::{Arrangement, Timer};
use crate::chart::{Form, Piece, SourceText};
use crate::cli::Context;
use crate::cli::failure::rendered;
use crate::cli::goal::WrittenPlan;
use crate::time::Nanos;

/// A piece with its form and its arrangement.
pub(in crate::cli) struct Prepared {
    pub(in crate::cli) piece: Piece,
    pub(super) form: Form,
    pub(super) excerpt_options: Vec<&'static str>,
    /// Whether it loops without a seam (`--loop`).
    pub(in crate::cli) looped: bool,
    /// Whether it ends at the exact time (`--exact`).
    pub(in crate::cli) exact: bool,
    pub(super) plan: WrittenPlan,
    /// At its first bar; each player takes a copy.
    pub(super) arrangement: Arrangement,
}

impl Prepared {
    /// The sections by name, each with its first bar in the first pass, counted from 1.
    pub(in crate::cli) fn sections(&self) -> Vec<(String, i64)> {
        let sections = sections(&self.form).into_iter();
        let bar = |number: u64| i64::try_from(number).unwrap_or(i64::MAX);
        sections.map(|s| (s.name, bar(s.first))).collect()
    }

    /// The form, unfolded.
    pub(in crate::cli) fn form(&self) -> &Form {
        &self.form
    }

    /// How long the piece is, count-in included; `None` without end.
    pub(in crate::cli) fn duration(&self) -> Option<Nanos> {
        let journey = self.arrangement.journey();
        Some(Timer::of(journey).at(journey.end()?))
    }

    /// The same, with its tempo plan in a text of its own.
    pub(in crate::cli) fn planned_in(mut self, source: SourceText) -> Self {
        self.plan.span = 0..source.text.len();
        self.plan.source = source;
        self
    }

    /// Warns if the piece ends before the tempo plan reaches its last tempo.
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
