//! Errors in a command line, shown like all other errors.
//!
//! The option parser knows what was typed and what there is; its sentences and tips are not shown, since its tips often
//! do not work.

mod meant;

use std::ffi::OsString;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, Error};

use super::shell::in_shell;
use crate::chart::{Problem, has_bar_line, ready_chart};
use crate::diagnostic::or;
use crate::theory::{Compared, Scale, ScaleFormula, figure, in_words, nearest, symbol};
use crate::time::{Meter, TempoPlan};
use crate::view::shown;

/// The problem behind a parser's error; `None` for help and version, which are not errors, and for the help that stands
/// for a command that is missing.
pub(super) fn problem(error: &Error, arguments: &[OsString], program: &Command) -> Option<Problem> {
    if !error.use_stderr() || error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        return None;
    }
    let typed = Typed::new(arguments, program);
    let (message, help) = match error.kind() {
        ErrorKind::UnknownArgument => typed.unknown(&text(error, ContextKind::InvalidArg)?),
        ErrorKind::InvalidSubcommand => {
            typed.no_command(&text(error, ContextKind::InvalidSubcommand)?)
        }
        ErrorKind::MissingRequiredArgument => {
            typed.missing(&texts(error, ContextKind::InvalidArg)?)
        }
        ErrorKind::InvalidValue => {
            let option = text(error, ContextKind::InvalidArg)?;
            let values = texts(error, ContextKind::ValidValue).unwrap_or_default();
            typed.value(&option, &text(error, ContextKind::InvalidValue)?, &values)
        }
        ErrorKind::ArgumentConflict => {
            let prior = texts(error, ContextKind::PriorArg).unwrap_or_default();
            conflict(&text(error, ContextKind::InvalidArg)?, &prior)
        }
        ErrorKind::TooManyValues => {
            let option = text(error, ContextKind::InvalidArg)?;
            let found = text(error, ContextKind::InvalidValue)?;
            (
                format!("`{}` takes no value, found `{found}`", name(&option)),
                format!("write `{}`", name(&option)),
            )
        }
        ErrorKind::NoEquals => {
            let option = text(error, ContextKind::InvalidArg)?;
            (
                format!("`{}` takes its value behind `=`", name(&option)),
                format!("write `{}=NAME`", name(&option)),
            )
        }
        _ => return Some(typed.other(error)),
    };
    Some(Problem::error("usage", 0..0, message, help))
}

fn text(error: &Error, kind: ContextKind) -> Option<String> {
    texts(error, kind)?.into_iter().next()
}

/// What the parser knows of a kind, safe to show.
fn texts(error: &Error, kind: ContextKind) -> Option<Vec<String>> {
    match error.get(kind)? {
        ContextValue::String(text) => Some(vec![shown(text).into_owned()]),
        ContextValue::Strings(texts) => {
            Some(texts.iter().map(|text| shown(text).into_owned()).collect())
        }
        _ => None,
    }
}

/// `--tempo` of `--tempo <PLAN>`, `--sound` of `--sound[=<DEVICE>]`, `PIECE` of `<PIECE>`.
fn name(argument: &str) -> &str {
    let values = [" <", " [<", "[=<", "=<"];
    let ends = values.iter().filter_map(|begin| argument.find(begin));
    let end = ends.min().unwrap_or(argument.len());
    argument[..end].trim_matches(['<', '>', '.'])
}

/// Two options that do not go together, or one that is given twice.
fn conflict(option: &str, prior: &[String]) -> (String, String) {
    let option = name(option);
    let message = match prior.first().map(|prior| name(prior)) {
        Some(prior) if prior != option => format!("`{option}` and `{prior}` do not go together"),
        _ => format!("`{option}` is given twice"),
    };
    (message, "leave one of the two out".to_owned())
}

/// What was typed, and the command it was typed for.
struct Typed<'a> {
    words: Vec<String>,
    program: &'a Command,
    /// The command and where its name stands among the words; none where there is no such command.
    command: Option<(usize, &'a Command)>,
    /// The command as it was called, such as `fivefold play`.
    called: String,
}

impl<'a> Typed<'a> {
    fn new(arguments: &[OsString], program: &'a Command) -> Typed<'a> {
        let words = arguments.iter().skip(1);
        let words: Vec<String> = words.map(|a| a.to_string_lossy().into_owned()).collect();
        let mut called = "fivefold".to_owned();
        let mut command: Option<(usize, &Command)> = None;
        for (at, word) in words.iter().enumerate() {
            let parent = command.map_or(program, |(_, command)| command);
            let found = parent.get_subcommands().find(|c| c.get_name() == word);
            if let Some(found) = found {
                called += &format!(" {word}");
                command = Some((at, found));
            } else if command.is_some() {
                // A command of its own follows at once.
                break;
            }
        }
        Typed {
            words,
            program,
            command,
            called,
        }
    }

    fn called(&self) -> &str {
        &self.called
    }

    fn see_help(&self) -> String {
        format!("`{} --help` shows what there is", self.called())
    }

    /// Whether the command, or every command, has a long option.
    fn has(&self, option: &str) -> bool {
        let command = self.command.map_or(self.program, |(_, command)| command);
        let mut all = long_options(command).chain(long_options(self.program));
        all.any(|long| long == option)
    }

    /// An option or a word too many.
    fn unknown(&self, found: &str) -> (String, String) {
        let called = self.called();
        if !found.starts_with('-') || found == "-" {
            let message = format!("`{called}` takes no further word, found `{found}`");
            let help = self.in_quotes(found).or_else(|| self.as_option(found));
            return (message, help.unwrap_or_else(|| self.see_help()));
        }
        let found = self.as_typed(name(found));
        let bare = found.trim_start_matches('-');
        let plan = self.as_plan(bare);
        let help = plan.or_else(|| self.meant_option(found, bare));
        let help = help.unwrap_or_else(|| {
            let has = |command: &&Command| long_options(command).any(|long| long == bare);
            let others = self.program.get_subcommands().filter(has);
            // What several commands have does not say which was meant.
            let has_it = match others.map(Command::get_name).collect::<Vec<_>>().as_slice() {
                [other] => Some(format!("the command {other} has it; ")),
                _ => None,
            };
            has_it.unwrap_or_default() + &self.see_help()
        });
        (format!("`{called}` has no option `{found}`"), help)
    }

    /// The word behind the one that was typed so.
    fn behind(&self, typed: &str) -> Option<&str> {
        let at = self.words.iter().position(|word| word == typed)?;
        let next = self.words.get(at + 1)?;
        (!next.starts_with('-')).then_some(next)
    }

    /// Advice for an option of another name; `bare` is it without hyphens.
    fn meant_option(&self, found: &str, bare: &str) -> Option<String> {
        if let Some(shapes) = self.as_shapes(found, bare) {
            return Some(shapes);
        }
        let value = self.behind(found);
        let is_meter = value.is_some_and(|value| value.contains('/'));
        let known = match meant::option(bare, |option| self.has(option)) {
            Some("for") if is_meter && self.has("meter") => Some("meter"),
            known => known,
        };
        if known.is_none()
            && self.has("parts")
            && let Some(setting) = meant::part_setting(bare, value)
        {
            return Some(format!("write `{setting}`"));
        }
        let near = || {
            // One letter more, less or other, or two swapped: a shorter word may be any.
            let command = self.command.map_or(self.program, |(_, command)| command);
            let all = long_options(command).chain(long_options(self.program));
            let near = nearest(bare, all)?;
            // Behind one hyphen may be a value, such as `-bass`.
            let changes = if found.starts_with("--") { 1 } else { 0 };
            (bare.len() > 3 && Compared::new(bare).within(near, changes).is_some()).then_some(near)
        };
        match known.or_else(near)? {
            "output" => {
                let sound = ["wav", "mp3", "audio"].contains(&bare);
                let pictures = ["neck", "chord", "scale", "log"];
                let draws = pictures.iter().any(|name| self.called().ends_with(name));
                let file = match bare {
                    "pdf" | "sheet" => "lesson.pdf",
                    "svg" | "png" if !draws => "lesson.svg",
                    "html" => "lesson.html",
                    _ if draws => "picture.svg",
                    "flac" => "piece.flac",
                    _ if sound => "piece.wav",
                    _ => "piece.mid",
                };
                Some(format!("write `-o {file}`, or another name of a file"))
            }
            option => Some(format!("write `--{option}`")),
        }
    }

    /// Advice for a place on the neck, which is no option: what shows all of them.
    fn as_shapes(&self, found: &str, bare: &str) -> Option<String> {
        let (command, _) = self.command?;
        if self.called() != "fivefold neck" || !meant::is_place(bare) {
            return None;
        }
        let given = |word: &String| word == found || word.starts_with(&format!("{found}="));
        let at = self.words.iter().position(given)?;
        let value = usize::from(self.behind(found).is_some());
        let mut rest = self.words[command + 1..at].to_vec();
        rest.extend_from_slice(self.words.get(at + 1 + value..)?);
        let mut named = rest.iter().filter(|word| !word.starts_with('-')).peekable();
        named.peek()?;
        // As `neck` reads it: one word that is a chord is the chord.
        let is_chord = named.any(|word| !word.contains(' ') && symbol::read(word).is_ok());
        let option = if is_chord { "--places 9" } else { "--shapes" };
        let rest: Vec<_> = rest.iter().map(|word| in_shell(word)).collect();
        let what = rest.join(" ");
        let shapes = if is_chord {
            "more shapes"
        } else {
            "all shapes"
        };
        Some(format!(
            "write `fivefold neck {what} {option}`, which shows {shapes} along the neck"
        ))
    }

    /// Advice for the tempo of a click, which is no option.
    fn as_plan(&self, bare: &str) -> Option<String> {
        let tempo = bare == "tempo" || meant::option(bare, |name| name == "tempo").is_some();
        if self.called() != "fivefold click" || !tempo {
            return None;
        }
        let value = self.behind(&format!("--{bare}")).unwrap_or("92");
        let plan = TempoPlan::read(value).map_or("92", |_| value);
        Some(format!(
            "write the tempo without an option: `fivefold click {}`",
            in_shell(plan)
        ))
    }

    /// Advice for a word, with those that belong to it, that is the value of an option of the command.
    fn as_option(&self, found: &str) -> Option<String> {
        let (begin, at, end) = self.run_of(found)?;
        let told = |begin: usize| {
            let joined = self.words[begin..end].join(" ");
            let option = self.option_for(&joined)?;
            let mut words: Vec<String> = vec!["fivefold".to_owned()];
            words.extend(self.words[..begin].iter().map(|word| in_shell(word)));
            words.push(format!("--{option} {}", in_shell(&joined)));
            words.extend(self.words[end..].iter().map(|word| in_shell(word)));
            Some(format!("write `{}`", words.join(" ")))
        };
        told(begin).or_else(|| told(at))
    }

    /// The option of the command, not given yet, that takes such a value.
    fn option_for(&self, value: &str) -> Option<&'static str> {
        let is_set = ScaleFormula::read_rooted(value).is_ok();
        let is_meter = Meter::read(value).is_ok();
        let is_name = self.called() == "fivefold log" && value.starts_with(char::is_uppercase);
        let takes = [
            ("set", is_set),
            ("shape", is_set),
            ("meter", is_meter),
            ("who", is_name),
        ];
        let free = |option: &str| self.has(option) && !self.words.contains(&format!("--{option}"));
        let mut takes = takes.into_iter();
        takes
            .find(|(option, fits)| *fits && free(option))
            .map(|(option, _)| option)
    }

    /// The words around `found` that are no options: where they begin, where it stands, and where they end.
    fn run_of(&self, found: &str) -> Option<(usize, usize, usize)> {
        let (command, _) = self.command?;
        let at = (command + 1..self.words.len()).find(|at| self.words[*at] == found)?;
        let is_word = |at: &usize| !self.words[*at].starts_with('-');
        let begin = (command + 1..at + 1).rev().take_while(is_word).last()?;
        let end = (at..self.words.len()).take_while(is_word).last()? + 1;
        Some((begin, at, end))
    }

    /// The word that an option stands in: of `-tempo` the parser complains of `-t`.
    fn as_typed<'t>(&'t self, found: &'t str) -> &'t str {
        let single = found.len() == 2 && found.starts_with('-');
        let longer = |word: &&String| single && word.starts_with(found) && !word.contains('=');
        self.words.iter().find(longer).map_or(found, |word| word)
    }

    /// The command with the words around `found` as one, where they belong to one that was meant so.
    fn in_quotes(&self, found: &str) -> Option<String> {
        let (begin, at, end) = self.run_of(found)?;
        if begin == at {
            return None;
        }
        let mut words: Vec<String> = vec!["fivefold".to_owned()];
        words.extend(self.words[..begin].iter().map(|word| in_shell(word)));
        let joined = self.words[begin..end].join(" ");
        let belongs = ScaleFormula::read_rooted(&joined).is_ok()
            || TempoPlan::read(&joined).is_ok()
            || figure::read(&joined).is_ok()
            || in_words(&joined).is_some()
            || has_bar_line(&joined);
        if !belongs {
            return None;
        }
        words.push(in_shell(&joined));
        words.extend(self.words[end..].iter().map(|word| in_shell(word)));
        Some(format!(
            "put what belongs together in quotes: `{}`",
            words.join(" ")
        ))
    }

    /// The first word is not a command. What it is may show which was meant.
    fn no_command(&self, found: &str) -> (String, String) {
        let quoted = in_shell(found);
        let parent = self.command.map_or(self.program, |(_, command)| command);
        let names: Vec<&str> = parent.get_subcommands().map(Command::get_name).collect();
        if let Some((_, command)) = self.command {
            let called = self.called();
            let near = meant::below(command.get_name(), found)
                .or_else(|| nearest(found, names.iter().copied()));
            let help = match near {
                Some("") => format!("write `{called}`"),
                Some(near) => format!("write `{called} {near}`"),
                None if names.is_empty() => self.see_help(),
                None => format!("there are {}; {}", names.join(", "), self.see_help()),
            };
            return (format!("`{called}` has no command `{found}`"), help);
        }
        let help = if found.contains('|') || ready_chart(found).is_some() {
            format!("write `fivefold play {quoted}`")
        } else if Scale::read(found).is_ok() {
            format!(
                "write `fivefold jam --set {quoted}` to hear chords over it, `fivefold scale {quoted}` to see its notes"
            )
        } else if let Some(meant) = meant::command(&found.to_lowercase()) {
            format!("write `fivefold {meant}`")
        } else if let Some(near) = nearest(&found.to_lowercase(), names) {
            format!("write `fivefold {near}`")
        } else if ScaleFormula::read(found).is_ok() {
            format!("write `fivefold jam --set {quoted}` to hear chords over it")
        } else if symbol::read(found).is_ok() {
            format!("write `fivefold chord {quoted}`")
        } else {
            "`fivefold --help` shows the commands".to_owned()
        };
        (format!("there is no command `{found}`"), help)
    }

    /// Something is missing; the first example of the command shows where it stands.
    fn missing(&self, missing: &[String]) -> (String, String) {
        let called = self.called();
        let names: Vec<&str> = missing.iter().map(|argument| name(argument)).collect();
        let listed = names.iter().map(|name| format!("`{name}`"));
        let listed = listed.collect::<Vec<_>>().join(" and ");
        let example = self.command.and_then(|(_, command)| example(command));
        let help = match example {
            Some(example)
                if names
                    .iter()
                    .all(|n| !n.starts_with('-') || example.contains(n)) =>
            {
                format!("write for example `{example}`")
            }
            _ => format!("add {}", missing.join(" and ").replace(['<', '>'], "")),
        };
        (format!("`{called}` needs {listed}"), help)
    }

    /// A value that is not one of the choices, or is missing.
    fn value(&self, option: &str, found: &str, values: &[String]) -> (String, String) {
        let option = name(option);
        let quoted: Vec<String> = values.iter().map(|value| format!("`{value}`")).collect();
        let listed = or(&quoted);
        let near = nearest(&found.to_lowercase(), values.iter().map(String::as_str));
        let message = match (found, values) {
            ("", []) => format!("`{option}` needs a value"),
            ("", _) => format!("`{option}` is {listed}, found nothing"),
            _ => format!("`{option}` is {listed}, found `{found}`"),
        };
        let shown_by = match self.called() {
            "fivefold list" => meant::not_listed(&found.to_lowercase()),
            _ => None,
        };
        let help = match near {
            _ if shown_by.is_some() => format!("write `{}`", shown_by.unwrap_or_default()),
            Some(value) if option.starts_with('-') => format!("write `{option} {value}`"),
            Some(value) => format!("write `{} {value}`", self.called()),
            None => self.see_help(),
        };
        (message, help)
    }

    /// What the parser says about everything else, without its tips.
    fn other(&self, error: &Error) -> Problem {
        let option = text(error, ContextKind::InvalidArg);
        let value = text(error, ContextKind::InvalidValue);
        let message = match (&option, &value, error.kind()) {
            (Some(option), Some(value), ErrorKind::ValueValidation) => {
                format!("`{}` cannot be `{value}`", name(option))
            }
            _ => {
                let said = error.render().to_string();
                let first = said.split("\n\n").next().unwrap_or_default();
                let words: Vec<&str> = first.split_whitespace().collect();
                words.join(" ").trim_start_matches("error: ").to_owned()
            }
        };
        Problem::error("usage", 0..0, message, self.see_help())
    }
}

/// The long options of a command, without hyphens.
fn long_options(command: &Command) -> impl Iterator<Item = &str> {
    command.get_arguments().filter_map(clap::Arg::get_long)
}

/// The first example in the help of a command.
fn example(command: &Command) -> Option<String> {
    let help = command.get_after_help()?.to_string();
    let line = help.lines().map(str::trim);
    line.into_iter()
        .find(|line| line.starts_with("fivefold "))
        .map(str::to_owned)
}
