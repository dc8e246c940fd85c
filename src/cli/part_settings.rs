//! Settings of parts on the command line: `--part bass.line=walking`.

use std::ops::Range;

use super::failure::Failure;
use super::shell::in_shell;
use crate::chart::{Piece, Problem, SourceText, place_of};

/// One setting, and its place in the document made of all of them.
struct Setting<'a> {
    /// All that was typed.
    text: &'a str,
    /// Bytes of `text`.
    part: Range<usize>,
    /// Bytes of `text`.
    key: Range<usize>,
    /// Bytes of `text`.
    value: Range<usize>,
    /// Where the line `key = value` begins in the document.
    line: usize,
}

impl<'a> Setting<'a> {
    fn read(text: &'a str) -> Result<Self, Failure> {
        let parted = text
            .split_once('=')
            .and_then(|(path, value)| Some((path.trim().split_once('.')?, value.trim())));
        let word =
            |t: &str| !t.is_empty() && t.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
        match parted {
            Some(((part, key), value)) if word(part) && word(key) => Ok(Setting {
                text,
                part: place_of(part, text),
                key: place_of(key, text),
                value: place_of(value, text),
                line: 0,
            }),
            _ => Err(Failure::new(
                "option-part",
                format!("`--part` is a part, a key and a value, found `{text}`"),
                "write `--part bass.line=walking`",
            )),
        }
    }

    fn part(&self) -> &'a str {
        &self.text[self.part.clone()]
    }

    fn key(&self) -> &'a str {
        &self.text[self.key.clone()]
    }

    /// Whether the value stands in the document as it was typed: a number, true or false, a list, a table, a text in
    /// quotes.
    /// Anything else is put in quotes.
    fn is_verbatim(&self) -> bool {
        let value = &self.text[self.value.clone()];
        value.parse::<i64>().is_ok()
            || matches!(value, "true" | "false")
            || value.starts_with(['[', '{', '"'])
    }

    fn written(&self) -> String {
        let value = &self.text[self.value.clone()];
        let key = self.key();
        if self.is_verbatim() {
            format!("{key} = {value}\n")
        } else {
            let value = toml::Value::String(value.to_owned());
            format!("{key} = {value}\n")
        }
    }

    /// Where a place of the document's line was typed.
    fn typed(&self, place: Range<usize>) -> Range<usize> {
        let key_end = self.line + self.key.len();
        if place.end <= key_end {
            let at = |byte: usize| self.key.start + byte.saturating_sub(self.line);
            return at(place.start)..at(place.end);
        }
        let value = key_end + " = ".len();
        if !self.is_verbatim() {
            return self.value.clone();
        }
        let at = |byte: usize| (self.value.start + byte.saturating_sub(value)).min(self.value.end);
        at(place.start)..at(place.end)
    }
}

/// Changes the parts of a piece by settings, each a part, a key and a value.
pub(super) fn change(texts: &[String], piece: &mut Piece) -> Result<(), Failure> {
    let mut settings: Vec<Setting<'_>> = texts
        .iter()
        .map(|text| Setting::read(text))
        .collect::<Result<_, _>>()?;
    // A table may occur only once, so the settings of a part are grouped.
    settings.sort_by_key(Setting::part);
    let mut document = String::new();
    let mut part = "";
    for setting in &mut settings {
        if setting.part() != part {
            part = setting.part();
            document += &format!("[parts.{part}]\n");
        }
        setting.line = document.len();
        document += &setting.written();
    }
    piece
        .change_parts(&document)
        .map_err(|problems| said_of(&settings, problems.into()))
}

/// The problems of the document as problems of the settings it was made of.
fn said_of(settings: &[Setting<'_>], problems: Vec<Problem>) -> Failure {
    let mut found: Vec<Vec<Problem>> = settings.iter().map(|_| Vec::new()).collect();
    for problem in problems {
        let start = problem.span.start;
        // Of the last line that begins before it; or of the first line below it, where it is the name of a part.
        let before = settings.iter().rposition(|s| {
            let end = s.line + s.written().len();
            s.line <= start && start < end
        });
        let below = settings.iter().position(|s| s.line > start);
        let at = before.or(below).unwrap_or(settings.len() - 1);
        let setting = &settings[at];
        let problem = problem.placed(|span| match before {
            Some(_) => setting.typed(span),
            None => setting.part.clone(),
        });
        let mut help = as_option(&problem.help, setting);
        if setting.key() == "program" && problem.code != "document-key" {
            help += "; `fivefold list voices` has them by name";
        }
        found[at].push(problem.advising(help));
    }
    let texts = settings.iter().zip(found).filter(|(_, p)| !p.is_empty());
    Failure::Texts(
        texts
            .map(|(setting, problems)| (SourceText::new("<--part>", setting.text), problems))
            .collect(),
    )
}

/// Advice for the value of a document's line in the words of the option: `"walking"` is `--part bass.line=walking`.
fn as_option(help: &str, setting: &Setting<'_>) -> String {
    let path = &setting.text[setting.part.start..setting.key.end];
    let is_value = |piece: &str| {
        piece.starts_with(['"', '['])
            || matches!(piece, "true" | "false")
            || piece.parse::<i64>().is_ok()
    };
    let pieces = help.split('`').enumerate();
    let said = pieces.map(|(i, piece)| {
        if i % 2 == 0 || !is_value(piece) {
            return piece.to_owned();
        }
        let setting = format!("{path}={}", piece.trim_matches('"'));
        format!("--part {}", in_shell(&setting))
    });
    said.collect::<Vec<_>>().join("`")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is wrong with settings, each with the piece of text that is meant.
    fn wrong(texts: &[&str]) -> Vec<String> {
        let texts: Vec<String> = texts.iter().map(|t| (*t).to_owned()).collect();
        match change(&texts, &mut Piece::default()) {
            Err(Failure::Texts(texts)) => texts
                .iter()
                .flat_map(|(source, problems)| problems.iter().map(move |p| (source, p)))
                .map(|(source, p)| {
                    format!(
                        "{}: `{}` {}",
                        source.text,
                        &source.text[p.span.clone()],
                        p.code
                    )
                })
                .collect(),
            Err(Failure::Plain { code, .. }) => vec![code.to_owned()],
            _ => Vec::new(),
        }
    }

    #[test]
    fn problems_lie_in_the_setting_that_is_meant() {
        assert_eq!(wrong(&["bass.line=walking", "pads.voices=3"]), [""; 0]);
        assert_eq!(
            wrong(&[
                "pads.voices=9",
                "kit.level = 3",
                " bass.line = \u{1F3B8} ",
                "bass.lines=walking"
            ]),
            [
                " bass.line = \u{1F3B8} : `\u{1F3B8}` document-choice",
                "bass.lines=walking: `lines` document-key",
                "pads.voices=9: `9` document-range",
            ]
        );
        assert_eq!(
            wrong(&["piano.level=3"]),
            ["piano.level=3: `piano` document-key"]
        );
        assert_eq!(
            wrong(&["click.beats=[2, 99]", "click.silent=\"\u{266D}\""]),
            [
                "click.beats=[2, 99]: `[2, 99]` click-beats",
                "click.silent=\"\u{266D}\": `\"\u{266D}\"` click-silent",
            ]
        );
        assert_eq!(wrong(&["bass.line"]), ["option-part"]);
    }
}
