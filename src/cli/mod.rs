//! The program: one file per command.
//!
//! [`run`] takes arguments and streams and gives an exit status; it is the only place that prints.

#![warn(clippy::too_many_lines)]

mod answers;
mod asking;
mod check;
mod chord;
mod click;
mod completions;
mod controls;
mod drill;
mod ending;
mod failure;
#[cfg(feature = "jack")]
mod faulty;
mod fit;
mod goal;
mod help;
mod hint;
mod jam;
// Single keys are taken where the terminal is a Unix one.
#[cfg_attr(not(unix), allow(dead_code))]
mod keys;
#[cfg(any(fuzzing, test))]
pub mod laws;
mod list;
mod live;
mod log;
mod neck;
mod options;
mod part_settings;
mod pedals;
mod picture;
mod piece;
mod piece_text;
mod play;
mod ports;
mod practice;
mod progress;
mod record;
mod replacing;
mod saying;
mod scale;
mod screen;
mod sheet;
mod shell;
mod signals;
mod sink;
mod sound;
mod standing;
mod steering;
mod usage;
mod watched;
// Only terminals of Unix are to be given back.
#[cfg_attr(not(unix), allow(dead_code))]
mod watcher;

use std::cell::Cell;
use std::ffi::OsString;
use std::io::{self, BufRead, IsTerminal, Write};
use std::process::ExitCode;
use std::rc::Rc;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use clap::{ArgAction, FromArgMatches, Parser, Subcommand, ValueEnum};

use self::failure::{Failure, plain_json};
use self::help::{EVERYWHERE, columns, command_line};
use self::progress::{Job, Outside, bar_columns};
use crate::view::{Folded, Manner, Shown, render_plain, shown_lines};

/// Chords, five-note sets and tempo plans as timed MIDI, for guitar practice.
#[derive(Parser)]
#[command(name = "fivefold", version, long_version = LETTERS, about, after_help = EXAMPLES, before_help = BEGIN)]
#[command(disable_help_flag = true, disable_version_flag = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Answer in JSON, errors too
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    json: bool,
    /// Color: auto, always or never
    #[arg(
        long,
        global = true,
        help_heading = EVERYWHERE,
        value_name = "WHEN",
        default_value = "auto",
        hide_default_value = true,
        hide_possible_values = true
    )]
    color: When,
    /// Print this help
    #[arg(short, long, global = true, help_heading = EVERYWHERE, action = ArgAction::Help)]
    help: Option<bool>,
    /// Print the version
    #[arg(short = 'V', long, help_heading = EVERYWHERE, action = ArgAction::Version)]
    version: Option<bool>,
}

/// The version, and whose letters the pictures are set in.
const LETTERS: &str = concat!(
    env!("CARGO_PKG_VERSION"),
    "\nPictures are set in Open Sans (c) Google (Apache License 2.0)\n\
     and Bravura (c) Steinberg (SIL Open Font License 1.1)."
);

const BEGIN: &str = "\
Hear a loop over a scale, see where it lies on the neck, and
climb over a ready chart:
  fivefold jam --set 'A minor pentatonic'
  fivefold neck 'A minor pentatonic'
  fivefold play low-tide";

const EXAMPLES: &str = "\
Examples:
  fivefold list charts
  fivefold play low-tide -o tide.mid
  fivefold play '| Am7 | D9 |' --tempo '72 to 80' --times 6
  fivefold click 92 --meter '7/8 = 2+2+3'
  fivefold check '| i | bVII | V7 |' --key 'A minor'
  fivefold chord F#maj7

Before you press play: turn the volume down, above all in
headphones, and bring it up from there. If a hand or arm
hurts, tingles or goes numb, stop and rest, and ask a
licensed clinician; this program gives no medical advice.";

/// `auto`, `always` or `never`.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum When {
    Auto,
    Always,
    Never,
}

#[derive(Subcommand)]
enum Command {
    /// Play a chart or a document, or write it to files
    Play(Box<play::Arguments>),
    /// Play the click alone
    Click(Box<click::Arguments>),
    /// Make chords that fit a set of notes, and play them
    Jam(Box<jam::Arguments>),
    /// Play an exercise, and see how it went
    Drill(drill::Arguments),
    /// Practice a routine: scales, degrees, changes, roots, rests
    Practice(Box<practice::Arguments>),
    /// Read a piece and show its form and timing without sounding
    Check(Box<check::Arguments>),
    /// Show what a chord symbol means
    Chord(chord::Arguments),
    /// Show the notes of a scale, or of a set of five notes
    Scale(scale::Arguments),
    /// Show where a set of notes or a chord lies on the neck
    Neck(neck::Arguments),
    /// List charts, sets of notes, routines, tunings, parts, settings, voices or controls
    List(list::Arguments),
    /// Show what was practiced, how it went, and what is due
    Log(log::Arguments),
    /// List the MIDI ports and audio outputs
    Ports(ports::Arguments),
    /// Bind pedals and pads to commands, and show what is bound
    Pedals(pedals::Arguments),
    /// Print a completion script for a shell
    Completions(completions::Arguments),
}

/// Where the program reads and writes, and which of these are terminals.
pub struct Streams<'a> {
    /// Standard output: results only.
    pub out: &'a mut dyn Write,
    /// Standard error: messages, warnings and progress.
    pub err: &'a mut dyn Write,
    /// What is typed or piped in.
    pub input: &'a mut dyn BufRead,
    /// Whether a person sees the results.
    pub out_is_terminal: bool,
    /// Whether a person sees everything else.
    pub err_is_terminal: bool,
    /// Whether a person types.
    pub input_is_terminal: bool,
}

impl<'a> Streams<'a> {
    /// Streams of which none is a terminal.
    pub fn piped(
        out: &'a mut dyn Write,
        err: &'a mut dyn Write,
        input: &'a mut dyn BufRead,
    ) -> Self {
        Streams {
            out,
            err,
            input,
            out_is_terminal: false,
            err_is_terminal: false,
            input_is_terminal: false,
        }
    }
}

/// What every command needs.
struct Context<'a, 'b> {
    streams: &'a mut Streams<'b>,
    json: bool,
    color: bool,
    /// Columns of the terminal that results are shown in; `None` where it is none.
    columns: Option<usize>,
    /// The same of everything else.
    err_columns: Option<usize>,
    /// How the streams escape.
    out_manner: Rc<Cell<Manner>>,
    err_manner: Rc<Cell<Manner>>,
    /// What was played last, and how it ended.
    played: Option<sink::Played>,
    how: Option<live::How>,
    /// What progress is shown by, and of what.
    outside: &'a Outside<'a>,
    job: Job,
}

impl<'a, 'b> Context<'a, 'b> {
    /// Plain text, and no terminal.
    fn plain(streams: &'a mut Streams<'b>, outside: &'a Outside<'a>) -> Self {
        Context {
            streams,
            json: false,
            color: false,
            columns: None,
            err_columns: None,
            out_manner: Rc::new(Cell::new(Manner::Text)),
            err_manner: Rc::new(Cell::new(Manner::Text)),
            played: None,
            how: None,
            outside,
            job: Job::None,
        }
    }
}

impl Context<'_, '_> {
    /// Shows a result for people, in lines that fit.
    fn show(&mut self, text: &str) -> io::Result<()> {
        Folded::new(&mut *self.streams.out, self.columns).write_all(text.as_bytes())
    }

    /// Asks the person at the terminal; yes is `y` or `yes`, anything else is no.
    fn confirm(&mut self, question: &str) -> io::Result<bool> {
        write!(self.streams.err, "{question} [y/N] ")?;
        self.streams.err.flush()?;
        let mut answer = String::new();
        self.streams.input.read_line(&mut answer)?;
        let answer = answer.trim().to_ascii_lowercase();
        Ok(matches!(answer.as_str(), "y" | "yes"))
    }

    /// Writes a file to the standard output, as it is.
    fn write_bytes(&mut self, bytes: &[u8]) -> io::Result<()> {
        let before = self.out_manner.replace(Manner::Bytes);
        let out = &mut self.streams.out;
        let written = out.write_all(bytes).and_then(|()| out.flush());
        self.out_manner.set(before);
        written
    }

    /// Writes to standard error, with our own colors and all foreign controls escaped. Errors are ignored: the stream
    /// may be closed.
    fn say_rendered(&mut self, text: &str) {
        let before = self.err_manner.get();
        if self.color && !self.json {
            self.err_manner.set(Manner::Colored);
        }
        // JSON is for programs, which read it line by line.
        let told_in = self.err_columns.filter(|_| !self.json);
        let mut err = Folded::new(&mut *self.streams.err, told_in);
        let _ = err.write_all(text.as_bytes());
        self.err_manner.set(before);
    }
}

/// The program on the process's own arguments and streams.
pub fn main() -> ExitCode {
    if watcher::is_wanted(std::env::args_os()) {
        watcher::run();
        return ExitCode::SUCCESS;
    }
    watcher::allow();
    let (stdout, stderr, stdin) = (io::stdout(), io::stderr(), io::stdin());
    let (out_is_terminal, err_is_terminal, input_is_terminal) = (
        stdout.is_terminal(),
        stderr.is_terminal(),
        stdin.is_terminal(),
    );
    let mut out = io::LineWriter::new(stdout.lock());
    // Not locked either: that thread reports errors in commands.
    let mut err = stderr;
    let mut streams = Streams {
        out: &mut out,
        err: &mut err,
        // Not locked: while it plays, another thread reads commands.
        input: &mut io::BufReader::new(stdin),
        out_is_terminal,
        err_is_terminal,
        input_is_terminal,
    };
    ExitCode::from(run(std::env::args_os(), &mut streams))
}

/// Runs the program: 0 done, 1 done and the answer is no, 2 wrong use, bad input or a failed device.
pub fn run(arguments: impl Iterator<Item = OsString>, streams: &mut Streams<'_>) -> u8 {
    let (began, err_is_terminal) = (Instant::now(), streams.err_is_terminal);
    let outside = Outside {
        elapsed: &|| began.elapsed(),
        bar_columns: &|| bar_columns(err_is_terminal),
    };
    run_outside(arguments.collect(), streams, &outside)
}

/// The same, with what progress is shown by.
fn run_outside(arguments: Vec<OsString>, streams: &mut Streams<'_>, outside: &Outside<'_>) -> u8 {
    let when = When::of(&arguments);
    let seen = columns(streams.out_is_terminal || streams.err_is_terminal);
    let parsed = command_line(seen).try_get_matches_from(&arguments);
    let parsed = match parsed.and_then(|matches| Arguments::from_arg_matches(&matches)) {
        Ok(parsed) => parsed,
        Err(e) => return not_parsed(&e, &arguments, when, streams),
    };
    let color = color(when, streams.err_is_terminal);
    let manner = if parsed.json {
        Manner::Json
    } else {
        Manner::Text
    };
    let mut out = Shown::new(&mut *streams.out, manner);
    let mut err = Shown::new(&mut *streams.err, manner);
    let (out_manner, err_manner) = (out.manner(), err.manner());
    let mut streams = Streams {
        out: &mut out,
        err: &mut err,
        input: &mut *streams.input,
        ..*streams
    };
    let shown_in = columns(streams.out_is_terminal);
    let told_in = columns(streams.err_is_terminal);
    let mut context = Context {
        streams: &mut streams,
        json: parsed.json,
        color,
        columns: shown_in,
        err_columns: told_in,
        out_manner,
        err_manner,
        played: None,
        how: None,
        outside,
        job: Job::None,
    };
    let result = dispatch(&parsed.command, &mut context);
    let result = result.and_then(|()| Ok(context.streams.out.flush()?));
    match result {
        Ok(()) => 0,
        Err(failure) => failure.report(&mut context),
    }
}

/// Does what a command asks.
fn dispatch(command: &Command, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    match command {
        Command::Play(arguments) => play::run(arguments, context),
        Command::Click(arguments) => click::run(arguments, context),
        Command::Jam(arguments) => jam::run(arguments, context),
        Command::Practice(arguments) => practice::run(arguments, context),
        Command::Drill(arguments) => drill::run(arguments, context),
        Command::Check(arguments) => check::run(arguments, context),
        Command::Chord(arguments) => chord::run(arguments, context),
        Command::Scale(arguments) => scale::run(arguments, context),
        Command::Neck(arguments) => neck::run(arguments, context),
        Command::List(arguments) => list::run(arguments, context),
        Command::Log(arguments) => log::run(arguments, context),
        Command::Ports(arguments) => ports::run(arguments, context),
        Command::Pedals(arguments) => pedals::run(arguments, context),
        Command::Completions(arguments) => completions::run(arguments, context),
    }
}

/// Shows help and version as results, and what is wrong with the arguments as an error.
fn not_parsed(
    e: &clap::Error,
    arguments: &[OsString],
    when: When,
    streams: &mut Streams<'_>,
) -> u8 {
    let json = arguments.iter().any(|a| a == "--json");
    if let Some(problem) = usage::problem(e, arguments, &command_line(None)) {
        let (text, manner) = if json {
            let (message, help) = (&problem.message, &problem.help);
            (plain_json(problem.code, message, help), Manner::Json)
        } else {
            let colored = color(when, streams.err_is_terminal);
            (render_plain(&problem, colored), Manner::Colored)
        };
        let told_in = columns(streams.err_is_terminal).filter(|_| !json);
        let mut err = Shown::new(&mut *streams.err, manner);
        let _ = Folded::new(&mut err, told_in).write_all(text.as_bytes());
        return 2;
    }
    let (stream, is_terminal, status): (&mut dyn Write, bool, u8) = if e.use_stderr() {
        (streams.err, streams.err_is_terminal, 2)
    } else {
        (streams.out, streams.out_is_terminal, 0)
    };
    let rendered = e.render();
    let text = if color(when, is_terminal) {
        shown_lines(&rendered.ansi().to_string(), Manner::Colored)
    } else {
        shown_lines(&rendered.to_string(), Manner::Text)
    };
    let _ = stream
        .write_all(text.as_bytes())
        .and_then(|()| stream.flush());
    status
}

impl When {
    /// What `--color` says, before the arguments are parsed: errors of parsing want their color too.
    fn of(arguments: &[OsString]) -> When {
        let texts: Vec<&str> = arguments
            .iter()
            .take_while(|a| *a != "--")
            .filter_map(|a| a.to_str())
            .collect();
        let said =
            texts
                .iter()
                .enumerate()
                .find_map(|(i, text)| match text.strip_prefix("--color") {
                    Some("") => texts.get(i + 1).copied(),
                    Some(rest) => rest.strip_prefix('='),
                    None => None,
                });
        match said {
            Some("always") => When::Always,
            Some("never") => When::Never,
            _ => When::Auto,
        }
    }
}

/// The one place that decides on color: as asked for, else only for a terminal where nothing forbids it.
fn color(when: When, is_terminal: bool) -> bool {
    let variable = |name| std::env::var_os(name);
    match when {
        When::Always => true,
        When::Never => false,
        When::Auto => is_terminal && !forbidden(variable("NO_COLOR"), variable("TERM")),
    }
}

/// Whether the terminal says that it can do nothing but lines: `TERM=dumb`.
fn is_dumb(term: Option<OsString>) -> bool {
    term.is_some_and(|term| term == "dumb")
}

/// What a lock holds, whatever became of who held it.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whether the environment forbids color: `NO_COLOR` that is not empty, `TERM=dumb`.
fn forbidden(no_color: Option<OsString>, term: Option<OsString>) -> bool {
    no_color.is_some_and(|v| !v.is_empty()) || is_dumb(term)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn surroundings_that_forbid_color() {
        let some = |text: &str| Some(OsString::from(text));
        assert!(!forbidden(None, None));
        assert!(!forbidden(some(""), some("xterm")));
        assert!(forbidden(some("1"), some("xterm")));
        assert!(forbidden(some("0"), None));
        assert!(forbidden(None, some("dumb")));
    }

    #[test]
    fn color_is_known_before_the_arguments_are_read() {
        let of = |arguments: &[&str]| {
            let arguments: Vec<OsString> = arguments.iter().map(OsString::from).collect();
            match When::of(&arguments) {
                When::Always => "always",
                When::Never => "never",
                When::Auto => "auto",
            }
        };
        assert_eq!(of(&["fivefold", "check"]), "auto");
        assert_eq!(of(&["fivefold", "--color", "always", "check"]), "always");
        assert_eq!(of(&["fivefold", "check", "--color=never"]), "never");
        assert_eq!(of(&["fivefold", "--colored", "always"]), "auto");
        assert_eq!(of(&["fivefold", "--color"]), "auto");
        // What follows `--` is not an option.
        assert_eq!(of(&["fivefold", "check", "--", "--color=always"]), "auto");
    }
}
