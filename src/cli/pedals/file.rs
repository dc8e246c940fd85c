//! The pedal file: what is bound to what.

use std::collections::BTreeSet;
use std::ops::Range;
use std::time::Instant;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::pressed::Pedal;
use crate::chart::Problem;
use crate::cli::answers;
use crate::cli::controls::{self, Names, NoCommand};
use crate::theory::nearest;

/// Largest pedal file that is read, in bytes.
const MOST_BYTES: usize = 1 << 20;

/// Most problems that are reported at once.
const MOST_PROBLEMS: usize = 50;

/// The one table of the file.
const TABLE: &str = "pedals";

/// What a new file begins with.
const HEAD: &str = "# What a pedal does while it plays: `fivefold pedals learn` adds a line, `fivefold pedals forget` takes one away.\n\n[pedals]\n";

/// What a pedal does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::cli) struct Binding {
    /// What is pressed.
    pub(in crate::cli) pedal: Pedal,
    /// The line it stands for.
    pub(in crate::cli) command: String,
}

/// A pedal file as it was read.
#[derive(Clone, Debug, Default)]
pub(in crate::cli) struct PedalFile {
    text: String,
    bindings: Vec<Binding>,
    /// Bytes of key and value of each.
    places: Vec<(Range<usize>, Range<usize>)>,
}

/// Whether a line is a command in some piece.
///
/// # Errors
/// What is wrong, with the bytes of the line that are.
pub(in crate::cli) fn check_command(line: &str) -> Result<(), NoCommand> {
    // Pressed after a take.
    if answers::is_verdict(line.trim()) {
        return Ok(());
    }
    match controls::read(line, &Names::any(), Instant::now()) {
        Ok(Some(_)) => Ok(()),
        Ok(None) => Err(NoCommand::all(line, "a command is missing")),
        Err(mut wrong) => {
            if line.trim() == "help" {
                "`help` is no command for a pedal".clone_into(&mut wrong.message);
            }
            Err(wrong)
        }
    }
}

impl PedalFile {
    /// Reads a file.
    ///
    /// # Errors
    /// Every problem found, with spans of `text`.
    pub(in crate::cli) fn read(text: &str) -> Result<Self, Vec<Problem>> {
        if text.len() > MOST_BYTES {
            let message = format!(
                "a pedal file has at most {MOST_BYTES} bytes, found {}",
                text.len()
            );
            let help = "leave out what is no binding";
            return Err(vec![Problem::error("pedals-size", 0..0, message, help)]);
        }
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut problems: Vec<Problem> = errors.iter().map(broken).collect();
        let mut file = PedalFile {
            text: text.to_owned(),
            ..PedalFile::default()
        };
        for (key, value) in table.get_ref() {
            let name = key.get_ref().as_ref();
            match value.get_ref() {
                DeValue::Table(bound) if name == TABLE => file.take(bound, &mut problems),
                _ if name == TABLE => problems.push(Problem::error(
                    "pedals-type",
                    value.span(),
                    format!("`{TABLE}` is a table"),
                    "write `[pedals]` on a line of its own, and below it `\"control 64 on channel 1\" = \"pause or go on\"`",
                )),
                _ => problems.push(Problem::error(
                    "pedals-key",
                    key.span(),
                    format!("unknown key `{name}`"),
                    match nearest(name, [TABLE]) {
                        Some(near) => format!("write `{near}`"),
                        None => "bindings stand below `[pedals]`".to_owned(),
                    },
                )),
            }
        }
        problems.sort_by_key(|p| (p.span.start, p.span.end));
        problems.truncate(MOST_PROBLEMS);
        if problems.is_empty() {
            Ok(file)
        } else {
            Err(problems)
        }
    }

    fn take(&mut self, bound: &DeTable<'_>, problems: &mut Vec<Problem>) {
        let mut known = BTreeSet::new();
        let mut found: Vec<_> = bound.iter().collect();
        found.sort_by_key(|(key, _)| key.span().start);
        for (key, value) in found {
            let pedal = match Pedal::read(key.get_ref()) {
                Ok(pedal) if known.insert(pedal) => Some(pedal),
                Ok(pedal) => {
                    problems.push(Problem::error(
                        "pedals-twice",
                        key.span(),
                        format!("`{pedal}` is bound twice"),
                        "leave one of the two out",
                    ));
                    None
                }
                Err(wrong) => {
                    let (code, span) = ("pedals-message", key.span());
                    problems.push(Problem::error(code, span, wrong.message, wrong.help));
                    None
                }
            };
            let command = command(&self.text, value, problems);
            if let (Some(pedal), Some(command)) = (pedal, command) {
                self.bindings.push(Binding { pedal, command });
                self.places.push((key.span(), value.span()));
            }
        }
    }

    /// What is bound, in the order of the file.
    pub(in crate::cli) fn bindings(&self) -> &[Binding] {
        &self.bindings
    }

    /// The command of a pedal.
    pub(in crate::cli) fn command(&self, pedal: Pedal) -> Option<&str> {
        let found = self.bindings.iter().find(|b| b.pedal == pedal)?;
        Some(&found.command)
    }

    /// The text of a file with `pedal` bound to `command` as well; everything else stays.
    pub(in crate::cli) fn with(&self, pedal: Pedal, command: &str) -> String {
        let mut wanted = self.bindings.clone();
        let at = self.bindings.iter().position(|b| b.pedal == pedal);
        let mut text = self.text.clone();
        match at {
            Some(at) => {
                command.clone_into(&mut wanted[at].command);
                text.replace_range(self.places[at].1.clone(), &quoted(command));
            }
            None => {
                let command = command.to_owned();
                let line = binding_line(pedal, &command);
                wanted.push(Binding { pedal, command });
                // Behind the last binding, else below the head of the table.
                let last = self.places.iter().map(|(_, value)| value.end).max();
                let place = last.or_else(|| text.find("[pedals]"));
                match place {
                    Some(at) => {
                        let end = text[at..].find('\n').map(|newline| at + newline + 1);
                        match end {
                            Some(end) => text.insert_str(end, &line),
                            None => text = format!("{text}\n{line}"),
                        }
                    }
                    None if text.trim().is_empty() => text = format!("{HEAD}{line}"),
                    None => text = format!("{text}\n[pedals]\n{line}"),
                }
            }
        }
        settled(text, &wanted)
    }

    /// The text of a file without these pedals; everything else stays.
    pub(in crate::cli) fn without(&self, pedals: &[Pedal]) -> String {
        let mut wanted = self.bindings.clone();
        wanted.retain(|b| !pedals.contains(&b.pedal));
        let mut gone: Vec<Range<usize>> = self
            .bindings
            .iter()
            .zip(&self.places)
            .filter(|(b, _)| pedals.contains(&b.pedal))
            .map(|(_, (key, value))| {
                let start = self.text[..key.start].rfind('\n').map_or(0, |i| i + 1);
                let end = self.text[value.end..].find('\n');
                start..end.map_or(self.text.len(), |i| value.end + i + 1)
            })
            .collect();
        gone.sort_by_key(|range| range.start);
        // Lines may be shared: by the bindings of a table in one line, and by a value that goes on in the next.
        let mut text = String::new();
        let mut kept = 0;
        for range in gone {
            text.push_str(self.text.get(kept..range.start).unwrap_or(""));
            kept = kept.max(range.end);
        }
        text.push_str(&self.text[kept..]);
        settled(text, &wanted)
    }
}

/// `text`, if it binds what is `wanted`; else a new text that does, without anything else. A table need not be written
/// line by line.
fn settled(text: String, wanted: &[Binding]) -> String {
    let same = PedalFile::read(&text).is_ok_and(|file| {
        file.bindings.len() == wanted.len()
            && wanted
                .iter()
                .all(|b| file.command(b.pedal) == Some(&b.command))
    });
    if same {
        return text;
    }
    let lines = wanted.iter().map(|b| binding_line(b.pedal, &b.command));
    lines.fold(HEAD.to_owned(), |text, line| text + &line)
}

fn binding_line(pedal: Pedal, command: &str) -> String {
    format!("\"{pedal}\" = {}\n", quoted(command))
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// The command that a value holds; errors in it go to `problems`.
fn command(
    text: &str,
    value: &Spanned<DeValue<'_>>,
    problems: &mut Vec<Problem>,
) -> Option<String> {
    let mut wrong = |code, span, message: String, help| {
        problems.push(Problem::error(code, span, message, help));
        None
    };
    let DeValue::String(line) = value.get_ref() else {
        return wrong(
            "pedals-type",
            value.span(),
            "a pedal stands for a command in quotes".to_owned(),
            "write `\"pause or go on\"`".to_owned(),
        );
    };
    match check_command(line) {
        Ok(()) => Some(line.trim().to_owned()),
        Err(found) => {
            let span = place_in(text, value.span(), line, &found.span);
            let help = found.help();
            wrong("pedals-command", span, found.message, help)
        }
    }
}

/// Where in the file the bytes `part` of a value stand: all of the `value` where nothing is left of its parts, and where an
/// escape makes the line in the file another than the one it means.
fn place_in(text: &str, value: Range<usize>, line: &str, part: &Range<usize>) -> Range<usize> {
    let inner = value.start + 1..value.end.saturating_sub(1);
    if part.is_empty() || text.get(inner.clone()) != Some(line) {
        return value;
    }
    inner.start + part.start..inner.start + part.end
}

/// What is no TOML, in our words where the mistake is a common one.
fn broken(e: &toml::de::Error) -> Problem {
    let span = e.span().unwrap_or(0..0);
    let message = e.message().lines().collect::<Vec<_>>().join(", ");
    if message.contains("duplicate key") {
        let help = "leave one of the two out";
        return Problem::error("toml", span, "this message is bound twice", help);
    }
    let help = "a pedal file is TOML: below `[pedals]` lines such as `\"control 64 on channel 1\" = \"pause or go on\"`";
    Problem::error("toml", span, message, help)
}

#[cfg(test)]
mod tests;
