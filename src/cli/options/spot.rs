//! Places in a piece that are named on the command line.

use std::sync::Arc;

use super::values::{MOST_BAR, number};
use crate::arrange::{ArrangeError, ExcerptError};
use crate::chart::{Form, FormBar};
use crate::cli::failure::Failure;
use crate::cli::shell::in_shell;
use crate::theory::nearest;

/// Where an excerpt begins or ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Spot {
    /// A bar, counted from 1.
    Bar(u64),
    /// A section, where it is first played.
    Section(String),
}

impl Spot {
    /// Reads a bar or the name of a section.
    pub(super) fn read(option: &str, text: Option<&String>) -> Result<Option<Spot>, Failure> {
        let Some(text) = text else { return Ok(None) };
        let counts = |c: char| c.is_ascii_digit() || c == '-' || c == '+';
        if !text.trim().is_empty() && !text.trim().starts_with(counts) {
            return Ok(Some(Spot::Section(text.trim().to_owned())));
        }
        let bar = number(option, text, 1, MOST_BAR)?;
        Ok(Some(Spot::Bar(u64::try_from(bar).unwrap_or(1))))
    }

    /// The bar: a section's by its name.
    pub(super) fn bar(
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
        let near = nearest(name, names.iter().copied());
        Err(Failure::new(
            "option-section",
            format!(
                "`--{option}` is a bar or a section, {}, found `{name}`",
                names.join(", ")
            ),
            match (near, names.first()) {
                (Some(near), _) => format!("write `--{option} {}`", in_shell(near)),
                (None, Some(first)) => {
                    format!(
                        "write one of these, such as `--{option} {}`",
                        in_shell(first)
                    )
                }
                (None, None) => format!("write a bar, such as `--{option} 1`"),
            },
        ))
    }
}

/// A form of these bars of intro and first pass, counted from 1, to be played again and again, without an ending.
pub(super) fn rounds(form: &Form, from: u64, to: u64) -> Result<Form, Failure> {
    if to < from {
        return Err(ArrangeError::Excerpt(ExcerptError::Backwards { from, to }).into());
    }
    let bars = form.intro.iter().chain(&*form.pass);
    let place = |bar: u64| usize::try_from(bar - 1).unwrap_or(usize::MAX);
    let last = bars.clone().count();
    if place(to) >= last {
        return Err(Failure::new(
            "option-rounds",
            format!(
                "bars that are played in rounds are those of the first pass, 1 to {last}, found {to}"
            ),
            format!("write `--to {last}`, or leave out how long they are played"),
        ));
    }
    let bars = bars.skip(place(from)).take(place(to) + 1 - place(from));
    let mut pass: Vec<FormBar> = bars.cloned().collect();
    if let Some(first) = pass.first_mut() {
        first.opens_section = true;
        // What is held into the first bar is struck there.
        if let Some(chord) = first.chords.first_mut() {
            chord.held = false;
        }
    }
    Ok(Form {
        pass: Arc::new(pass),
        ..Form::default()
    })
}

/// A section where it is first played.
pub(super) struct Section {
    pub(super) name: String,
    pub(super) first: u64,
    pub(super) last: u64,
}

/// The sections by name, each with its first and last bar in the first pass, counted from 1.
pub(super) fn sections(form: &Form) -> Vec<Section> {
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
