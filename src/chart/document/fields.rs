//! Reads the values of a TOML table: each key is asked for once, all others are reported.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::chart::problem::MOST_PROBLEMS;
use crate::chart::toml_text::StringPlaces;
use crate::chart::{Places, Problem};
use crate::diagnostic::{Diagnostic, or};
use crate::theory::nearest;

/// A text value with its places in the document.
pub(super) struct Text<'d> {
    pub(super) value: &'d str,
    pub(super) token: Range<usize>,
    pub(super) places: StringPlaces,
}

/// Reads one document; what is wrong is collected on the way.
pub(super) struct Reader<'d, 'p> {
    pub(super) text: &'d str,
    pub(super) problems: &'p mut Vec<Problem>,
    pub(super) places: Places,
}

/// A table being read: keys asked for are known, all others are errors at the end.
pub(super) struct Fields<'t, 'd> {
    pub(super) table: &'t DeTable<'d>,
    /// Empty, or `parts.click`.
    name: &'static str,
    known: Vec<&'static str>,
}

impl<'t, 'd> Fields<'t, 'd> {
    pub(super) fn new(table: &'t DeTable<'d>, name: &'static str) -> Self {
        Fields {
            table,
            name,
            known: Vec::new(),
        }
    }

    pub(super) fn get(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'d>>> {
        self.known.push(key);
        self.table.get(key)
    }

    pub(super) fn path(&self, key: &str) -> String {
        if self.name.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.name)
        }
    }
}

impl<'d> Reader<'d, '_> {
    pub(super) fn wrong(
        &mut self,
        code: &'static str,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.problems
            .push(Problem::error(code, span, message, help));
    }

    /// The problem of a text that is not read any further.
    pub(super) fn refuse(&mut self, error: &dyn Diagnostic, text: &Text<'_>) {
        let problem = match error.span() {
            Some(_) => Problem::of(error, 0..0).placed(|span| text.places.span(span)),
            // Without the quotes, as the advice is.
            None if !text.value.is_empty() => {
                Problem::of(error, text.places.span(0..text.value.len()))
            }
            None => Problem::of(error, text.token.clone()),
        };
        self.problems.push(problem);
    }

    pub(super) fn string<'t>(
        &mut self,
        fields: &mut Fields<'t, '_>,
        key: &'static str,
        example: &str,
    ) -> Option<Text<'t>> {
        let value = fields.get(key)?;
        match value.get_ref() {
            DeValue::String(s) => {
                let places = StringPlaces::new(self.text, value.span(), s);
                Some(Text {
                    value: s,
                    token: value.span(),
                    places,
                })
            }
            other => {
                // A list is the text of its items.
                let parting = if key == "keys" { ", " } else { " " };
                let joined = items(other).map(|items| quoted(&items.join(parting)));
                let example = joined.as_deref().unwrap_or(example);
                self.wrong_type(fields, key, value, "a text", example);
                None
            }
        }
    }

    pub(super) fn integer(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        min: i64,
        max: i64,
    ) -> Option<i64> {
        let value = fields.get(key)?;
        let range = if max == i64::MAX {
            format!("{min} or more")
        } else {
            format!("{min} to {max}")
        };
        let DeValue::Integer(integer) = value.get_ref() else {
            // A number in quotes, or with zeros behind a point, is that number.
            let meant = match value.get_ref() {
                DeValue::Float(number) => number.as_str().trim_end_matches('0').strip_suffix('.'),
                other => other.as_str(),
            };
            let meant = meant.and_then(|text| text.trim().parse::<i64>().ok());
            let help = match meant.filter(|n| (min..=max).contains(n)) {
                Some(meant) => format!("write `{meant}`"),
                None => format!("write a number, such as `{}`", min.max(1)),
            };
            let path = fields.path(key);
            let message = format!(
                "`{path}` is a whole number, {range}, found {}",
                kind(value.get_ref())
            );
            self.wrong("document-type", value.span(), message, help);
            return None;
        };
        let number = i64::from_str_radix(integer.as_str(), integer.radix()).ok();
        match number.filter(|n| (min..=max).contains(n)) {
            Some(number) => Some(number),
            None => {
                let path = fields.path(key);
                let found = self.text.get(value.span()).unwrap_or(integer.as_str());
                let message = format!("`{path}` is {range}, found {found}");
                self.wrong(
                    "document-range",
                    value.span(),
                    message,
                    format!("write a whole number, {range}"),
                );
                None
            }
        }
    }

    pub(super) fn boolean(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
    ) -> Option<bool> {
        let value = fields.get(key)?;
        let found = match value.get_ref() {
            DeValue::String(word) if word == "yes" || word == "on" => Some(true),
            DeValue::String(word) if word == "no" || word == "off" => Some(false),
            other => other.as_bool(),
        };
        if found.is_none() {
            let word = value.get_ref().as_str().map(str::to_lowercase);
            let no = matches!(word.as_deref(), Some("false" | "never" | "none"));
            let meant = if no { "false" } else { "true" };
            self.wrong_type(fields, key, value, "true or false", meant);
        }
        found
    }

    pub(super) fn choice<T: Copy>(
        &mut self,
        fields: &mut Fields<'_, '_>,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let text = self.string(fields, key, &format!("\"{}\"", choices[0].0))?;
        if let Some((_, value)) = choices.iter().find(|(name, _)| *name == text.value) {
            return Some(*value);
        }
        let names: Vec<String> = choices
            .iter()
            .map(|(name, _)| format!("\"{name}\""))
            .collect();
        let near = nearest(text.value, choices.iter().map(|c| c.0));
        let help = match near {
            Some(near) => format!("write `\"{near}\"`"),
            None => {
                let all: Vec<String> = names.iter().map(|n| format!("`{n}`")).collect();
                format!("write {}", or(&all))
            }
        };
        let path = fields.path(key);
        let message = format!("`{path}` is {}, found \"{}\"", or(&names), text.value);
        self.wrong("document-choice", text.token, message, help);
        None
    }

    pub(super) fn table<'t, 'v>(
        &mut self,
        fields: &mut Fields<'t, 'v>,
        key: &'static str,
    ) -> Option<&'t DeTable<'v>> {
        let value = fields.get(key)?;
        let found = value.get_ref().as_table();
        if found.is_none() {
            let path = fields.path(key);
            let message = format!("`{path}` is a table, found {}", kind(value.get_ref()));
            self.wrong(
                "document-type",
                value.span(),
                message,
                format!("write `[{path}]` on a line of its own"),
            );
        }
        found
    }

    /// A value of another type; `example` is one of the right type, as it is written in the place of this one.
    pub(super) fn wrong_type(
        &mut self,
        fields: &Fields<'_, '_>,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        expected: &str,
        example: &str,
    ) {
        let message = format!(
            "`{}` is {expected}, found {}",
            fields.path(key),
            kind(value.get_ref())
        );
        self.wrong(
            "document-type",
            value.span(),
            message,
            format!("write `{example}`"),
        );
    }

    /// Reports the keys nobody asked for.
    pub(super) fn finish(&mut self, fields: &Fields<'_, '_>) {
        let mut unknown: Vec<_> = fields
            .table
            .keys()
            .filter(|k| {
                !fields
                    .known
                    .iter()
                    .any(|known| *known == k.get_ref().as_ref())
            })
            .collect();
        unknown.sort_by_key(|k| k.span().start);
        for (i, key) in unknown.into_iter().enumerate() {
            let word: &str = key.get_ref();
            let what = if fields.name == "parts" {
                "part"
            } else {
                "key"
            };
            let meant = if i < MOST_PROBLEMS {
                meant(word, &fields.known)
            } else {
                None
            };
            let help = match meant {
                Some(near) => format!("write `{near}`"),
                None => format!("known are {}", fields.known.join(", ")),
            };
            self.wrong(
                "document-key",
                key.span(),
                format!("unknown {what} `{}`", fields.path(word)),
                help,
            );
        }
    }
}

/// The items of a list of texts and numbers, as they stand between quotes; `None` for any other value, or an empty list.
pub(super) fn items(value: &DeValue<'_>) -> Option<Vec<String>> {
    let item = |item: &Spanned<DeValue<'_>>| match item.get_ref() {
        DeValue::String(text) => Some(text.trim().to_owned()),
        DeValue::Integer(number) => Some(number.as_str().to_owned()),
        _ => None,
    };
    let items: Option<Vec<String>> = value.as_array()?.iter().map(item).collect();
    items.filter(|items| !items.is_empty())
}

/// A text on one line, in the quotes of TOML.
pub(super) fn quoted(text: &str) -> String {
    let escaped = text.replace('\\', "\\\\").replace('"', "\\\"");
    format!("\"{}\"", escaped.replace('\n', "\\n"))
}

/// Names that other programs use for a key.
const OTHER_NAMES: [(&str, &str); 16] = [
    ("bars", "sections"),
    ("bpm", "tempo"),
    ("chart", "sections"),
    ("chords", "sections"),
    ("instrument", "program"),
    ("loop", "times"),
    ("loops", "times"),
    ("name", "title"),
    ("repeat", "times"),
    ("repeats", "times"),
    ("scale", "set"),
    ("structure", "form"),
    ("swing", "feel"),
    ("time", "meter"),
    ("time_signature", "meter"),
    ("volume", "level"),
];

/// The known key that an unknown one stands for.
fn meant<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    let lower = word.to_lowercase();
    let other = OTHER_NAMES.iter().find(|(other, _)| *other == lower);
    other
        .and_then(|(_, meant)| known.iter().copied().find(|k| k == meant))
        .or_else(|| nearest(word, known.iter().copied()))
}

pub(super) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
