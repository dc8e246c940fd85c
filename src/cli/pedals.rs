//! `pedals`: what the pedals of a MIDI input do while it plays.

pub(super) mod file;
pub(super) mod pressed;

use std::ffi::OsString;
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use clap::{Args, Subcommand};
use crossbeam_channel::{Receiver, Sender, bounded};

use self::file::{PedalFile, check_command};
use self::pressed::{Pedal, Presses};
use super::Context;
use super::controls::{self, Names, NoCommand};
use super::failure::Failure;
use super::failure::cause;
use crate::chart::{Problem, SourceText};
use crate::live::Control;
use crate::midi::{Heard, PortError, SystemInput, list_inputs, open_input, replace_file};

/// Messages that may wait to be looked at.
const WAITING: usize = 256;

/// How long a pedal is waited for.
const PATIENCE: Duration = Duration::from_secs(30);

/// Least time between two remarks on what was pressed.
const REMARKS: Duration = Duration::from_secs(1);

/// Largest pedal file that is taken in, in bytes; the reader refuses less with a message of its own.
const MOST_INPUT: u64 = 2 << 20;

/// Bind pedals and pads of a MIDI input to commands, and show what is bound
#[derive(Args)]
#[command(after_help = "\
Examples:
  fivefold pedals
  fivefold pedals learn 'pause or go on' --from foot
  fivefold pedals forget 'control 64 on channel 1'
  fivefold play '| Am7 | D9 |' --pedals foot

A command is any line that can be typed while it plays, such
as tap, 'tempo +2', next, 'count in', 'loop from here' or
'silence or bring bass'. Whatever a pedal, a pad or a button
sends can be bound: a note when it is struck, a control when
it comes down.")]
pub(super) struct Arguments {
    #[command(subcommand)]
    what: Option<What>,
    /// Pedal file to use, instead of the usual one
    #[arg(long, global = true, value_name = "FILE")]
    file: Option<PathBuf>,
}

#[derive(Subcommand)]
enum What {
    /// Wait for a pedal to be pressed, and bind it to a command
    Learn {
        /// What it is to do, such as 'pause or go on'
        #[arg(value_name = "WHAT")]
        command: String,
        /// MIDI input it is on: a name, a part of one, or a number from `fivefold ports`
        #[arg(long, value_name = "PORT")]
        from: String,
    },
    /// Take a binding away
    Forget {
        /// Message, such as 'control 64 on channel 1', or command
        what: String,
    },
}

pub(super) fn run(arguments: &Arguments, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let place = Place::of(arguments.file.as_deref())?;
    match &arguments.what {
        None => list(&place, context),
        Some(What::Learn { command, from }) => learn(&place, command, from, context),
        Some(What::Forget { what }) => forget(&place, what, context),
    }
}

/// Where the bindings are kept.
struct Place {
    path: PathBuf,
    /// Whether it is the default path, whose folder is made if it is missing.
    usual: bool,
}

impl Place {
    fn of(named: Option<&Path>) -> Result<Self, Failure> {
        if let Some(path) = named {
            return Ok(Place {
                path: path.to_owned(),
                usual: false,
            });
        }
        let path = usual_path(Settings::HERE, |name| std::env::var_os(name)).ok_or_else(|| {
            Failure::new(
                "pedals-place",
                "the system names no folder for the settings of a program",
                "name a file: `--file pedals.toml`, and `--pedal-file pedals.toml` when it plays",
            )
        })?;
        Ok(Place { path, usual: true })
    }

    /// Reads the file; a missing one binds nothing, unless it was named on the command line.
    fn read(&self) -> Result<PedalFile, Failure> {
        let name = self.path.display().to_string();
        let unreadable = |e: &std::io::Error| Failure::unreadable(&name, e);
        let mut bytes = Vec::new();
        match std::fs::File::open(&self.path) {
            Ok(file) => {
                let read = file.take(MOST_INPUT).read_to_end(&mut bytes);
                read.map_err(|e| unreadable(&e))?;
            }
            Err(e) if e.kind() == ErrorKind::NotFound => {}
            Err(e) => return Err(unreadable(&e)),
        }
        let text = String::from_utf8(bytes).map_err(|_| {
            Failure::new(
                "input",
                format!("{name} is no text in UTF-8"),
                "save it as UTF-8",
            )
        })?;
        PedalFile::read(&text)
            .map_err(|problems| Failure::text(SourceText::new(name, text), problems))
    }

    fn write(&self, text: &str) -> Result<(), Failure> {
        if let Some(folder) = self.path.parent().filter(|_| self.usual) {
            std::fs::create_dir_all(folder).map_err(|e| {
                Failure::new(
                    "file",
                    format!("cannot make {}: {}", folder.display(), cause(&e)),
                    "name a file elsewhere with `--file`",
                )
            })?;
        }
        super::ending::leave_nothing()?;
        replace_file(&self.path, |file| file.write_all(text.as_bytes()))?;
        Ok(())
    }
}

/// The system's rule for where programs keep their settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Settings {
    Windows,
    /// XDG Base Directory Specification 0.8.
    Xdg,
}

impl Settings {
    const HERE: Settings = if cfg!(windows) {
        Settings::Windows
    } else {
        Settings::Xdg
    };
}

/// The usual place: in the folder the system has for the settings of programs. A relative path in a variable is ignored
/// (XDG Base Directory Specification 0.8).
fn usual_path(settings: Settings, variable: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    let folder = |name: &str| {
        variable(name)
            .map(PathBuf::from)
            .filter(|path| path.is_absolute())
    };
    let settings = match settings {
        Settings::Windows => folder("APPDATA")?,
        Settings::Xdg => {
            folder("XDG_CONFIG_HOME").or_else(|| Some(folder("HOME")?.join(".config")))?
        }
    };
    Some(settings.join("fivefold").join("pedals.toml"))
}

fn list(place: &Place, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let file = place.read()?;
    let path = place.path.display();
    if context.json {
        let bound: Vec<_> = file
            .bindings()
            .iter()
            .map(|b| serde_json::json!({ "message": b.pedal.to_string(), "command": b.command }))
            .collect();
        let line = serde_json::json!({ "file": path.to_string(), "pedals": bound });
        writeln!(context.streams.out, "{line}")?;
        return Ok(());
    }
    let out = &mut context.streams.out;
    if file.bindings().is_empty() {
        writeln!(out, "no pedal is bound yet")?;
    }
    let pedals: Vec<String> = file
        .bindings()
        .iter()
        .map(|b| b.pedal.to_string())
        .collect();
    let width = pedals.iter().map(String::len).max().unwrap_or(0);
    for (pedal, binding) in pedals.iter().zip(file.bindings()) {
        writeln!(out, "{pedal:width$}  {}", binding.command)?;
    }
    writeln!(out, "kept in {path}")?;
    Ok(())
}

fn learn(
    place: &Place,
    command: &str,
    from: &str,
    context: &mut Context<'_, '_>,
) -> Result<(), Failure> {
    let given = command;
    let command = command.split_whitespace().collect::<Vec<_>>().join(" ");
    check_command(&command).map_err(|wrong| {
        let help = wrong.help();
        let problem = Problem::error("pedals-command", 0..given.len(), wrong.message, help);
        Failure::option("COMMAND", given, problem)
    })?;
    let file = place.read()?;
    let (sender, heard) = bounded(WAITING);
    let input = open(from, sender, context)?;
    if !context.json {
        let seconds = PATIENCE.as_secs();
        let name = input.name();
        writeln!(
            context.streams.err,
            "press the pedal on {name} within {seconds} s; Ctrl-C gives up"
        )?;
        context.streams.err.flush()?;
    }
    let Some(pedal) = wait(&heard, Instant::now() + PATIENCE) else {
        return Err(Failure::new(
            "pedals-nothing",
            format!(
                "nothing was pressed on {} within {} s",
                input.name(),
                PATIENCE.as_secs()
            ),
            "check its cable, and that this is the port it is on: `fivefold ports`",
        ));
    };
    place.write(&file.with(pedal, &command))?;
    let path = place.path.display();
    let before = file.command(pedal).filter(|before| *before != command);
    if context.json {
        let line = serde_json::json!({
            "message": pedal.to_string(), "command": command, "before": before, "file": path.to_string(),
        });
        writeln!(context.streams.out, "{line}")?;
        return Ok(());
    }
    let before = before.map_or(String::new(), |before| format!(", before: {before}"));
    writeln!(context.streams.out, "{pedal}: {command}{before}")?;
    writeln!(context.streams.out, "kept in {path}")?;
    Ok(())
}

/// The first pedal that is pressed.
fn wait(heard: &Receiver<Heard>, end: Instant) -> Option<Pedal> {
    let mut presses = Presses::default();
    loop {
        let message = heard.recv_deadline(end).ok()?;
        if let Some(pedal) = presses.hear(message.bytes.as_slice()) {
            return Some(pedal);
        }
    }
}

fn forget(place: &Place, what: &str, context: &mut Context<'_, '_>) -> Result<(), Failure> {
    let file = place.read()?;
    let words = what.split_whitespace().collect::<Vec<_>>().join(" ");
    let message = Pedal::read(&words)
        .ok()
        .filter(|pedal| file.command(*pedal).is_some());
    let pedals: Vec<Pedal> = file
        .bindings()
        .iter()
        .filter(|b| match message {
            Some(pedal) => b.pedal == pedal,
            None => b.command == words,
        })
        .map(|b| b.pedal)
        .collect();
    let path = place.path.display();
    if pedals.is_empty() {
        return Err(Failure::new(
            "pedals-unbound",
            format!("`{words}` is no message and no command that is bound in {path}"),
            "see what is bound: `fivefold pedals`",
        ));
    }
    place.write(&file.without(&pedals))?;
    if context.json {
        let gone: Vec<String> = pedals.iter().map(Pedal::to_string).collect();
        let line = serde_json::json!({ "forgotten": gone, "file": path.to_string() });
        writeln!(context.streams.out, "{line}")?;
        return Ok(());
    }
    for pedal in pedals {
        writeln!(context.streams.out, "{pedal}: forgotten")?;
    }
    Ok(())
}

/// Opens an input; where that fails, the inputs there are go to the error stream.
fn open(
    port: &str,
    heard: Sender<Heard>,
    context: &mut Context<'_, '_>,
) -> Result<SystemInput, PortError> {
    let opened = open_input(port, heard);
    if opened.is_err() {
        tell_inputs(context);
    }
    opened
}

/// Lists the inputs there are, beside an error about one that is not there.
pub(super) fn tell_inputs(context: &mut Context<'_, '_>) {
    if context.json {
        return;
    }
    for port in list_inputs().unwrap_or_default() {
        let _ = writeln!(context.streams.err, "{port}");
    }
}

/// Lets the pedals of a MIDI input control playing, on a thread of its own, as long as the input is kept.
pub(super) fn attend(
    port: &str,
    file: Option<&Path>,
    names: &Names,
    controls: &Sender<Control>,
    context: &mut Context<'_, '_>,
) -> Result<SystemInput, Failure> {
    let named = file.map_or(String::new(), |path| {
        format!(" --file '{}'", path.display())
    });
    let place = Place::of(file)?;
    let file = place.read()?;
    if file.bindings().is_empty() {
        return Err(Failure::new(
            "pedals-none",
            format!("no pedal is bound in {}", place.path.display()),
            format!("bind one: `fivefold pedals learn 'pause or go on' --from '{port}'{named}`"),
        ));
    }
    let (sender, heard) = bounded(WAITING);
    let input = open(port, sender, context)?;
    let (names, sender) = (names.clone(), controls.clone());
    let thread = thread::Builder::new().name("pedals".to_owned());
    let json = context.json;
    let obeying = move || {
        let mut say = |line: &str, wrong: &NoCommand| controls::remark(line, wrong, json);
        obey(&heard, &file, &names, &sender, &mut say);
    };
    thread.spawn(obeying).map_err(|e| {
        let message = format!("the thread for pedals cannot be started ({})", cause(&e));
        Failure::new(
            "pedals-thread",
            message,
            "close other programs, or play without `--pedals`",
        )
    })?;
    Ok(input)
}

/// Turns what is pressed into what it asks for, until nobody presses or nobody listens any more.
fn obey(
    heard: &Receiver<Heard>,
    file: &PedalFile,
    names: &Names,
    controls: &Sender<Control>,
    say: &mut dyn FnMut(&str, &NoCommand),
) {
    let mut presses = Presses::default();
    let mut last: Option<Instant> = None;
    let mut remark = |at: Instant, line: &str, wrong: &NoCommand| {
        if last.is_none_or(|last| at.saturating_duration_since(last) >= REMARKS) {
            last = Some(at);
            say(line, wrong);
        }
    };
    for message in heard {
        let Some(pedal) = presses.hear(message.bytes.as_slice()) else {
            continue;
        };
        let Some(line) = file.command(pedal) else {
            let wrong = NoCommand::all("", format!("{pedal} is bound to nothing"));
            remark(message.at, "", &wrong);
            continue;
        };
        match controls::read(line, names, message.at) {
            Ok(None) => {}
            Ok(Some(control)) => {
                if controls.send(control).is_err() {
                    return;
                }
            }
            Err(mut wrong) => {
                wrong.message = format!("{pedal}: {}", wrong.message);
                remark(message.at, line, &wrong);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::midi::Bytes;

    fn heard(at: Instant, bytes: &[u8]) -> Heard {
        Heard {
            at,
            bytes: Bytes::short(bytes).unwrap(),
        }
    }

    #[test]
    fn the_usual_place_is_that_of_the_system() {
        let place = |settings, known: &[(&str, &str)]| {
            let found = usual_path(settings, |name| {
                known
                    .iter()
                    .find(|(known, _)| *known == name)
                    .map(|(_, value)| OsString::from(value))
            });
            found.map(|path| path.display().to_string())
        };
        let some = |text: &str| Some(text.to_owned());
        if cfg!(unix) {
            assert_eq!(
                place(
                    Settings::Xdg,
                    &[("XDG_CONFIG_HOME", "/x"), ("HOME", "/home/me")]
                ),
                some("/x/fivefold/pedals.toml")
            );
            for home in [
                &[("HOME", "/home/me")][..],
                &[("HOME", "/home/me"), ("XDG_CONFIG_HOME", "")],
                &[("HOME", "/home/me"), ("XDG_CONFIG_HOME", "x")],
            ] {
                assert_eq!(
                    place(Settings::Xdg, home),
                    some("/home/me/.config/fivefold/pedals.toml")
                );
            }
            assert_eq!(
                place(
                    Settings::Windows,
                    &[("APPDATA", "/data"), ("HOME", "/home/me")]
                ),
                some("/data/fivefold/pedals.toml")
            );
        }
        assert_eq!(place(Settings::Xdg, &[]), None);
        assert_eq!(place(Settings::Windows, &[("HOME", "/home/me")]), None);
    }

    #[test]
    fn the_first_press_is_what_is_learned() {
        let (sender, receiver) = bounded(8);
        let now = Instant::now();
        for bytes in [
            &[0xF8][..],
            &[0x80, 60, 64],
            &[0xB0, 64, 0],
            &[0xB0, 64, 127],
        ] {
            sender.send(heard(now, bytes)).unwrap();
        }
        let far = now + Duration::from_secs(60);
        assert_eq!(wait(&receiver, far), Some(Pedal::Control(0, 64)));
        sender.send(heard(now, &[0xF8])).unwrap();
        assert_eq!(
            wait(&receiver, Instant::now() + Duration::from_millis(5)),
            None
        );
    }

    #[test]
    fn what_is_pressed_asks_for_what_it_is_bound_to() {
        let file = PedalFile::read(
            "[pedals]\n\"control 64 on channel 1\" = \"pause or go on\"\n\"note 36 on channel 10\" = \"tap\"\n\
             \"note 37 on channel 10\" = \"silence kit\"\n",
        )
        .unwrap();
        let (sender, receiver) = bounded(100);
        let (controls, taken) = bounded(100);
        let start = Instant::now();
        let at = |ms| start + Duration::from_millis(ms);
        for (ms, bytes) in [
            (0, &[0xB0, 64, 127][..]),
            (10, &[0xB0, 64, 0]),
            (20, &[0x99, 36, 90]),
            (30, &[0x89, 36, 0]),
            // No part of that name plays; then an unbound pedal, at once and later.
            (40, &[0x99, 37, 90]),
            (50, &[0x99, 38, 90]),
            (1_039, &[0x99, 39, 90]),
            (1_040, &[0x99, 40, 90]),
            (1_050, &[0x99, 36, 90]),
        ] {
            sender.send(heard(at(ms), bytes)).unwrap();
        }
        drop(sender);
        let mut said = Vec::new();
        let names = Names::named(vec!["click", "pads", "bass"], Vec::new(), Some(16));
        obey(&receiver, &file, &names, &controls, &mut |_, wrong| {
            said.push(wrong.to_string());
        });
        let found: Vec<Control> = taken.try_iter().collect();
        assert_eq!(
            found,
            [
                Control::PauseOrResume,
                Control::Tap(at(20)),
                Control::Tap(at(1_050))
            ]
        );
        assert_eq!(
            said,
            [
                "note 37 on channel 10: no part `kit` plays; there are click, pads, bass",
                "note 40 on channel 10 is bound to nothing"
            ]
        );
    }
}
