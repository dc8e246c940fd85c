//! `[sections]` and `form`: the charts, and the order they are played in.

use std::collections::HashSet;
use std::ops::Range;

use toml::de::DeValue;

use super::fields::{Fields, Reader, Text, items, kind, quoted};
use super::place;
use crate::chart::piece::{ENDING, INTRO};
use crate::chart::problem::{MOST_PROBLEMS, place_of};
use crate::chart::section::too_many_chords;
use crate::chart::toml_text::StringPlaces;
use crate::chart::{MOST_BARS, MOST_CHORDS, Piece, Severity, read_section};
use crate::theory::nearest;

impl Reader<'_, '_> {
    pub(super) fn sections(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        let form = self.string(top, "form", "\"A A B A\"");
        let Some(table) = self.table(top, "sections") else {
            if top.table.get("sections").is_none() {
                self.no_sections(0..0);
            }
            return;
        };
        let (mut bars, mut chords) = (0, 0);
        let mut entries: Vec<_> = table.iter().collect();
        entries.sort_by_key(|(name, _)| name.span().start);
        for (name, value) in entries {
            let label: &str = name.get_ref();
            if label.is_empty() || label.contains(char::is_whitespace) {
                self.wrong(
                    "document-section-name",
                    name.span(),
                    format!("a section name is one word, found `{label}`"),
                    "write `A`, `verse` or `B2`",
                );
                continue;
            }
            let DeValue::String(chart) = value.get_ref() else {
                let lines = items(value.get_ref()).map(|lines| quoted(&lines.join("\n")));
                let chart = lines.unwrap_or_else(|| "\"| Am7 | Dm7 |\"".to_owned());
                self.wrong(
                    "document-type",
                    value.span(),
                    format!("section {label} is a text, found {}", kind(value.get_ref())),
                    format!("write its chart: `{chart}`"),
                );
                continue;
            };
            let places = StringPlaces::new(self.text, value.span(), chart);
            let mut found = Vec::new();
            let mut section = read_section(chart, piece.meter, &mut found);
            self.problems
                .extend(found.into_iter().map(|p| p.placed(|s| places.span(s))));
            place(&mut section, |s| places.span(s));
            bars += section.bars.len().max(section.order.len());
            if bars > MOST_BARS {
                let message = format!("the sections of a document have at most {MOST_BARS} bars");
                let help = "repeat less, or set `times` instead";
                self.wrong("chart-too-long", value.span(), message, help);
                return;
            }
            chords += section.chords();
            if chords > MOST_CHORDS {
                self.problems.push(too_many_chords(value.span()));
                return;
            }
            piece
                .sections
                .push((label.to_owned(), chart.to_string(), section));
        }
        let names: Vec<String> = piece.sections.iter().map(|s| s.0.clone()).collect();
        let playable = |n: &&String| *n != INTRO && *n != ENDING;
        match form {
            None => piece.form = names.iter().filter(playable).cloned().collect(),
            Some(form) => self.form(&form, &names, piece),
        }
        if names.is_empty() && table.is_empty() {
            self.no_sections(top.table.get("sections").map_or(0..0, |t| t.span()));
        } else if piece.form.is_empty()
            && self.problems.iter().all(|p| p.severity != Severity::Error)
        {
            let span = table.keys().map(|k| k.span()).min_by_key(|s| s.start);
            self.wrong(
                "document-form",
                span.unwrap_or(0..0),
                "a form has no sections",
                "write a section besides intro and ending: `A = \"| Am7 | Dm7 |\"`",
            );
        }
        let cautions = piece.cautions();
        self.problems.extend(cautions);
    }

    fn no_sections(&mut self, span: Range<usize>) {
        self.wrong(
            "document-sections",
            span,
            "a document has no sections",
            "write `[sections]` and below it `A = \"| Am7 | Dm7 |\"`",
        );
    }

    fn form(&mut self, form: &Text<'_>, names: &[String], piece: &mut Piece) {
        let known: HashSet<&str> = names.iter().map(String::as_str).collect();
        let before = self.problems.len();
        for word in form.value.split_whitespace() {
            if self.problems.len() - before >= MOST_PROBLEMS {
                return;
            }
            let span = form.places.span(place_of(word, form.value));
            if word == INTRO || word == ENDING {
                let message = format!("`{word}` is played once and does not belong to the form");
                self.wrong(
                    "form-section",
                    span,
                    message,
                    "leave it out: the section is played by itself",
                );
            } else if known.contains(word) {
                piece.form.push(word.to_owned());
            } else {
                let near = nearest(word, names.iter().map(String::as_str));
                let help = match near.or(names.first().map(String::as_str)) {
                    Some(near) => format!("write `{near}`, or add a section {word}"),
                    None => format!("add a section {word}"),
                };
                self.wrong(
                    "form-section",
                    span,
                    format!("the form names a section {word}, which is not written"),
                    help,
                );
            }
        }
        if form.value.trim().is_empty() {
            self.wrong(
                "document-form",
                form.token.clone(),
                "a form has no sections",
                format!("write `\"{}\"`", names.first().map_or("A", String::as_str)),
            );
        }
    }
}
