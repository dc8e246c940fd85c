//! A process that gives the terminal back where the program cannot: it was killed, or it had to end while the terminal took
//! nothing.
//!
//! Nothing in a process that is killed can act, and a shell restores at best the modes of the terminal, not its screen and
//! its cursor. So before the first stage the program starts itself once more, with [`WORD`] as its only argument. That
//! process, the watcher, reads from a pipe what the program does to the terminal: a [`Deed`] in each line. The system closes
//! the pipe when the program ends, whatever it ends of; then the watcher undoes what was not undone, and ends too. After an
//! orderly end nothing is left to undo.
//!
//! The watcher has a session of its own: no key of the terminal reaches it, nor a signal to the job that the program is, and
//! it may set the terminal while a shell has it. It holds open the pipe and the terminal, and nothing else.

use std::ffi::OsString;
use std::fmt;

pub(super) use self::system::{allow, begin, run, tell};

/// The argument that makes the program a watcher; no command is called so.
const WORD: &str = "give-the-terminal-back";

/// Whether these arguments make the program a watcher.
pub(super) fn is_wanted(arguments: impl Iterator<Item = OsString>) -> bool {
    arguments.skip(1).eq([WORD])
}

/// How the terminal was before single keys were taken, in the numbers of the system (termios(3)).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Modes {
    /// The input modes, which are left as they are.
    pub(super) input: u64,
    /// The local modes.
    pub(super) local: u64,
    /// The least number of bytes that a read gives.
    pub(super) least: u8,
    /// How long a read waits for more, in tenths of a second.
    pub(super) wait: u8,
}

/// What the program does to the terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Deed {
    /// It is about to show the stage.
    StageShown,
    /// The screen of the shell is shown again.
    StageLeft,
    /// It takes single keys; so it was before.
    KeysTaken(Modes),
    /// The modes are as they were.
    KeysLeft,
}

impl fmt::Display for Deed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Deed::StageShown => f.write_str("stage shown"),
            Deed::StageLeft => f.write_str("stage left"),
            Deed::KeysTaken(before) => {
                let Modes {
                    input,
                    local,
                    least,
                    wait,
                } = before;
                write!(f, "keys taken {input} {local} {least} {wait}")
            }
            Deed::KeysLeft => f.write_str("keys left"),
        }
    }
}

impl Deed {
    /// Reads back what [`fmt::Display`] writes; `None` for anything else.
    fn read(line: &str) -> Option<Deed> {
        let words: Vec<&str> = line.split(' ').collect();
        Some(match words[..] {
            ["stage", "shown"] => Deed::StageShown,
            ["stage", "left"] => Deed::StageLeft,
            ["keys", "taken", input, local, least, wait] => Deed::KeysTaken(Modes {
                input: input.parse().ok()?,
                local: local.parse().ok()?,
                least: least.parse().ok()?,
                wait: wait.parse().ok()?,
            }),
            ["keys", "left"] => Deed::KeysLeft,
            _ => return None,
        })
    }
}

/// What the program has done to the terminal and has not undone.
#[derive(Debug, Default, PartialEq, Eq)]
struct Held {
    stage: bool,
    keys: Option<Modes>,
}

impl Held {
    fn note(&mut self, deed: Deed) {
        match deed {
            Deed::StageShown => self.stage = true,
            Deed::StageLeft => self.stage = false,
            Deed::KeysTaken(before) => self.keys = Some(before),
            Deed::KeysLeft => self.keys = None,
        }
    }
}

#[cfg(unix)]
mod system {
    use std::io::{self, IsTerminal, Write};
    use std::os::fd::AsFd;
    use std::os::unix::process::CommandExt;
    use std::path::PathBuf;
    use std::process::{ChildStdin, Command, Stdio};
    use std::sync::Mutex;
    use std::sync::atomic::{AtomicBool, Ordering};

    use ratatui::crossterm::cursor::Show;
    use ratatui::crossterm::execute;
    use ratatui::crossterm::style::ResetColor;
    use ratatui::crossterm::terminal::LeaveAlternateScreen;
    use rustix::process::setsid;
    use rustix::termios::{
        InputModes, LocalModes, OptionalActions, SpecialCodeIndex, tcgetattr, tcsetattr,
    };

    use super::{Deed, Held, Modes, WORD};
    use crate::cli::lock;

    /// Whether this process is the program, which may start itself: a test is not.
    static ALLOWED: AtomicBool = AtomicBool::new(false);

    /// Where the watcher reads.
    static PIPE: Mutex<Option<ChildStdin>> = Mutex::new(None);

    /// From now on [`begin`] does what it says.
    pub(in crate::cli) fn allow() {
        ALLOWED.store(true, Ordering::Release);
    }

    /// Starts the watcher, if none watches. Where none can be started, the program does without.
    pub(in crate::cli) fn begin() {
        let mut pipe = lock(&PIPE);
        if pipe.is_none() && ALLOWED.load(Ordering::Acquire) {
            *pipe = start().ok();
        }
    }

    fn start() -> io::Result<ChildStdin> {
        let (stdin, stderr) = (io::stdin(), io::stderr());
        // The terminal that keys come from, and the one that the stage is shown on.
        let keys = match stdin.is_terminal() {
            true => Stdio::from(stdin.as_fd().try_clone_to_owned()?),
            false => Stdio::null(),
        };
        let stage = Stdio::from(stderr.as_fd().try_clone_to_owned()?);
        let mut watcher = Command::new(program()?)
            .arg0(env!("CARGO_PKG_NAME"))
            .arg(WORD)
            .current_dir("/")
            .stdin(Stdio::piped())
            .stdout(keys)
            .stderr(stage)
            .spawn()?;
        let pipe = watcher.stdin.take();
        pipe.ok_or_else(|| io::ErrorKind::BrokenPipe.into())
    }

    /// This program, also where its file was replaced meanwhile.
    fn program() -> io::Result<PathBuf> {
        if cfg!(target_os = "linux") {
            Ok(PathBuf::from("/proc/self/exe"))
        } else {
            std::env::current_exe()
        }
    }

    /// Tells the watcher, if one watches. Errors are ignored: it may have been killed.
    pub(in crate::cli) fn tell(deed: Deed) {
        if let Some(pipe) = &mut *lock(&PIPE) {
            let _ = pipe.write_all(format!("{deed}\n").as_bytes());
        }
    }

    /// What the watcher does until its end.
    pub(in crate::cli) fn run() {
        // Somebody at a terminal has typed the word: there is nothing to watch.
        if setsid().is_err() {
            return;
        }
        let mut held = Held::default();
        for line in io::stdin().lines() {
            let Ok(line) = line else { break };
            Deed::read(&line).into_iter().for_each(|d| held.note(d));
        }
        // The modes first: the shell will read them.
        if let Some(before) = held.keys {
            let _ = restore(before);
        }
        if held.stage {
            let _ = execute!(io::stderr(), LeaveAlternateScreen, ResetColor, Show);
        }
    }

    /// Sets the terminal as it was before, where it still is as the program has set it: a shell that edits lines itself also
    /// changes the input modes, and one that restores the terminal needs no help.
    fn restore(before: Modes) -> rustix::io::Result<()> {
        let terminal = io::stdout();
        let mut now = tcgetattr(&terminal)?;
        let line = LocalModes::ICANON | LocalModes::ECHO;
        let bits = |bits: u64| bits.try_into().unwrap_or_default();
        if now.local_modes.intersects(line)
            || now.input_modes != InputModes::from_bits_retain(bits(before.input))
        {
            return Ok(());
        }
        now.local_modes |= LocalModes::from_bits_retain(bits(before.local)) & line;
        now.special_codes[SpecialCodeIndex::VMIN] = before.least;
        now.special_codes[SpecialCodeIndex::VTIME] = before.wait;
        tcsetattr(&terminal, OptionalActions::Now, &now)
    }
}

/// Elsewhere a console forgets what a program did to it.
#[cfg(not(unix))]
mod system {
    use super::Deed;

    pub(in crate::cli) fn allow() {}

    pub(in crate::cli) fn begin() {}

    pub(in crate::cli) fn tell(_: Deed) {}

    pub(in crate::cli) fn run() {}
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEFORE: Modes = Modes {
        input: 17_664,
        local: 35_387,
        least: 1,
        wait: 0,
    };

    #[test]
    fn deeds_are_read_as_they_are_written() {
        let deeds = [
            Deed::StageShown,
            Deed::StageLeft,
            Deed::KeysTaken(BEFORE),
            Deed::KeysLeft,
        ];
        for deed in deeds {
            assert_eq!(Deed::read(&deed.to_string()), Some(deed));
        }
        for line in ["", "stage", "keys taken 1 2 3", "keys taken 1 2 3 256"] {
            assert_eq!(Deed::read(line), None, "{line}");
        }
    }

    #[test]
    fn what_was_undone_is_not_undone_again() {
        let mut held = Held::default();
        held.note(Deed::KeysTaken(BEFORE));
        held.note(Deed::StageShown);
        let all = Held {
            stage: true,
            keys: Some(BEFORE),
        };
        assert_eq!(held, all);
        held.note(Deed::StageLeft);
        held.note(Deed::KeysLeft);
        assert_eq!(held, Held::default());
    }

    #[test]
    fn only_the_word_alone_makes_a_watcher() {
        let wanted = |words: &[&str]| is_wanted(words.iter().map(OsString::from));
        assert!(wanted(&["fivefold", WORD]));
        assert!(!wanted(&["fivefold"]));
        assert!(!wanted(&[WORD]));
        assert!(!wanted(&["fivefold", WORD, "--help"]));
        assert!(!wanted(&["fivefold", "play", WORD]));
    }
}
