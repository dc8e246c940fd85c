//! `[sections]` and `form`: the charts, and the order they are played in.

use toml::de::DeValue;

use super::fields::{Fields, Reader, Text, kind};
use super::place;
use crate::chart::nearest::nearest;
use crate::chart::piece::{ENDING, INTRO};
use crate::chart::toml_text::StringPlaces;
use crate::chart::{Content, Piece, Problem, Section, read_section};
use crate::theory::{Figure, Key};

impl Reader<'_, '_> {
    pub(super) fn sections(&mut self, top: &mut Fields<'_, '_>, piece: &mut Piece) {
        let form = self.string(top, "form", "\"A A B A\"");
        let Some(table) = self.table(top, "sections") else {
            if top.table.get("sections").is_none() {
                self.wrong(
                    "document-sections",
                    0..0,
                    "a document has no sections",
                    "write `[sections]` and below it `A = \"| Am7 | Dm7 |\"`",
                );
            }
            return;
        };
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
                self.wrong(
                    "document-type",
                    value.span(),
                    format!("section {label} is a text, found {}", kind(value.get_ref())),
                    "write its chart: `A = \"| Am7 | Dm7 |\"`",
                );
                continue;
            };
            let places = StringPlaces::new(self.text, value.span(), chart);
            let mut found = Vec::new();
            let mut section = read_section(chart, piece.meter, &mut found);
            self.problems
                .extend(found.into_iter().map(|p| p.placed(|s| places.span(s))));
            place(&mut section, |s| places.span(s));
            if let Some(key) = &piece.key {
                self.cautions(&section, key);
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
        if piece.form.is_empty() && !names.is_empty() && self.problems.is_empty() {
            self.wrong(
                "document-form",
                0..0,
                "a form has no sections",
                "write `form = \"A\"` and a section A",
            );
        }
    }

    fn form(&mut self, form: &Text<'_>, names: &[String], piece: &mut Piece) {
        for word in form.value.split_whitespace() {
            let at = word.as_ptr() as usize - form.value.as_ptr() as usize;
            let span = form.places.span(at..at + word.len());
            if word == INTRO || word == ENDING {
                let message = format!("`{word}` is played once and does not belong to the form");
                self.wrong(
                    "form-section",
                    span,
                    message,
                    "leave it out: the section is played by itself",
                );
            } else if names.iter().any(|n| n == word) {
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
                "write `form = \"A\"`",
            );
        }
    }

    fn cautions(&mut self, section: &Section, key: &Key) {
        let mut said: Vec<String> = Vec::new();
        for cell in section.bars.iter().flat_map(|bar| &bar.cells) {
            let Content::Figure(Figure::Relative(numeral)) = &cell.content else {
                continue;
            };
            let Some(caution) = numeral.caution(key) else {
                continue;
            };
            if !said.contains(&caution) {
                self.problems.push(Problem::warning(
                    "numeral-minor",
                    cell.span.clone(),
                    caution.clone(),
                    "numerals count from the major scale, in minor keys too",
                ));
                said.push(caution);
            }
        }
    }
}
