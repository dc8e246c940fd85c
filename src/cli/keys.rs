//! Single keys of the terminal, while it plays.
//!
//! The terminal passes keys on one by one without echo; everything else stays as it was, so Ctrl-C and Ctrl-Z work as
//! always, and output needs no other line ends. [`enter`] and [`leave`] may be called at any time, from any thread:
//! around a suspension, and before the process is ended by force.

mod board;

use std::sync::Mutex;

use crossbeam_channel::Sender;

use super::controls::Names;
use super::saying;
use super::screen;
use super::{is_dumb, lock};
use crate::live::Control;

use self::board::{Action, Board};
pub(super) use self::board::{CONTROLS, first_line};

/// Acts on keys. What is asked for when nobody listens any more is lost.
fn act(actions: Vec<Action>, controls: &Sender<Control>) {
    for action in actions {
        match action {
            Action::Do(control) => drop(controls.send(control)),
            Action::Say(text) => saying::say(&text),
            Action::Line(text) => {
                saying::show_line(&text);
            }
            Action::Closed => {
                saying::close_line();
            }
        }
    }
}

/// Who takes the keys now: a thread that waits for a key cannot be stopped, so one thread serves all that follow.
static TAKING: Mutex<Option<(Board, Sender<Control>)>> = Mutex::new(None);

/// The terminal gives single keys as long as this is kept.
pub(super) struct Mode {
    _private: (),
}

impl Drop for Mode {
    fn drop(&mut self) {
        lock(&TAKING).take();
        terminal::end();
        saying::close_line();
    }
}

/// Takes single keys on a thread of its own, and sends what they ask for to `controls`. `None` where the terminal
/// cannot give single keys; then nothing has changed.
pub(super) fn begin(names: &Names, strokes: bool, controls: &Sender<Control>) -> Option<Mode> {
    static WATCHED: Mutex<bool> = Mutex::new(false);
    if is_dumb(std::env::var_os("TERM")) || !terminal::begin() {
        return None;
    }
    // From here on the terminal must be restored.
    let mode = Mode { _private: () };
    *lock(&TAKING) = Some((Board::new(names.clone(), strokes), controls.clone()));
    let mut watched = lock(&WATCHED);
    if !*watched {
        let thread = std::thread::Builder::new().name("keys".to_owned());
        thread.spawn(terminal::watch).ok()?;
        *watched = true;
    }
    Some(mode)
}

/// Takes the terminal back after [`leave`]: when the process goes on. False when it does not have the terminal, or never
/// took single keys.
pub(super) fn enter() -> bool {
    let taken = terminal::enter();
    screen::enter();
    taken
}

/// Takes the terminal once more where it is taken: another process may have set it as it wants, while this one was stopped by a
/// signal that it cannot hear.
pub(super) fn again() {
    screen::enter();
    terminal::again();
}

/// Gives the terminal back as it was: before the process is suspended, or ended by force. Nothing happens where single keys
/// are not taken.
pub(super) fn leave() {
    screen::leave();
    terminal::leave();
}

#[cfg(unix)]
mod terminal {
    use std::io;
    use std::sync::Mutex;
    use std::thread;
    use std::time::{Duration, Instant};

    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::io::Errno;
    use rustix::termios::{
        LocalModes, OptionalActions, SpecialCodeIndex, Termios, tcgetattr, tcgetpgrp, tcsetattr,
    };

    use super::{Action, Board, TAKING, act, lock, saying};
    use crate::cli::watcher::{self, Deed, Modes};

    /// The state of the terminal.
    struct State {
        /// Whether single keys are wanted.
        wanted: bool,
        /// Whether they are suspended for now.
        left: bool,
        /// How it was before, while single keys are taken.
        before: Option<Termios>,
    }

    static STATE: Mutex<State> = Mutex::new(State {
        wanted: false,
        left: false,
        before: None,
    });

    /// How often a process in the background looks whether it was brought to the front.
    const LOOK: Duration = Duration::from_millis(200);

    /// Whether this process has the terminal: one in the background that changes or reads it is stopped.
    fn in_front() -> bool {
        tcgetpgrp(io::stdin()).is_ok_and(|group| group == rustix::process::getpgrp())
    }

    pub(super) fn begin() -> bool {
        {
            let mut state = lock(&STATE);
            state.wanted = true;
            state.left = false;
        }
        // In the background it takes the keys once it is brought to the front; reading lines there would stop it.
        let begun = enter() || (tcgetpgrp(io::stdin()).is_ok() && !in_front());
        if !begun {
            end();
        }
        begun
    }

    pub(super) fn end() {
        leave();
        lock(&STATE).wanted = false;
    }

    pub(super) fn enter() -> bool {
        let mut state = lock(&STATE);
        if !state.wanted {
            return false;
        }
        // In the background too, from which it may be brought to the front.
        state.left = false;
        if !in_front() {
            return false;
        }
        if state.before.is_none() {
            let Ok(before) = set_single() else {
                return false;
            };
            watcher::tell(Deed::KeysTaken(Modes {
                input: before.input_modes.bits().into(),
                local: before.local_modes.bits().into(),
                least: before.special_codes[SpecialCodeIndex::VMIN],
                wait: before.special_codes[SpecialCodeIndex::VTIME],
            }));
            state.before = Some(before);
        }
        saying::show_again();
        true
    }

    /// Sets the terminal to single keys; gives how it was before.
    fn set_single() -> rustix::io::Result<Termios> {
        let stdin = io::stdin();
        let before = tcgetattr(&stdin)?;
        let mut now = before.clone();
        // Signals, line ends of what is written, and flow control stay as they are.
        now.local_modes &= !(LocalModes::ICANON | LocalModes::ECHO);
        now.special_codes[SpecialCodeIndex::VMIN] = 1;
        now.special_codes[SpecialCodeIndex::VTIME] = 0;
        tcsetattr(&stdin, OptionalActions::Now, &now)?;
        Ok(before)
    }

    /// Sets single keys once more, where they are taken.
    pub(super) fn again() {
        let state = lock(&STATE);
        if state.before.is_some() && in_front() {
            // How it was before is known from the first time.
            let _ = set_single();
        }
    }

    pub(super) fn leave() {
        let mut state = lock(&STATE);
        state.left = true;
        // In the background the terminal belongs to another process, which has set it as it wants.
        if let Some(before) = state.before.take()
            && in_front()
        {
            let _ = tcsetattr(io::stdin(), OptionalActions::Now, &before);
        }
        watcher::tell(Deed::KeysLeft);
    }

    /// Whether keys can be read now. Brought back to the front, single keys are taken again.
    fn ready() -> bool {
        if !in_front() {
            return false;
        }
        let (again, left) = {
            let state = lock(&STATE);
            (state.wanted && state.before.is_none(), state.left)
        };
        !left && (!again || enter())
    }

    /// What the board of whoever takes the keys now makes of something; `None` where nobody does.
    fn ask(make: impl FnOnce(&mut Board) -> Vec<Action>) {
        let taken = lock(&TAKING)
            .as_mut()
            .map(|(board, controls)| (make(board), controls.clone()));
        if let Some((actions, controls)) = taken {
            act(actions, &controls);
        }
    }

    /// Reads keys until the terminal is gone.
    pub(super) fn watch() {
        let stdin = io::stdin();
        let mut bytes = [0; 1024];
        loop {
            if !ready() {
                thread::sleep(LOOK);
                continue;
            }
            let wait = lock(&TAKING)
                .as_ref()
                .and_then(|(board, _)| board.patience(Instant::now()));
            let wait = wait.map(|wait| Timespec {
                tv_sec: i64::try_from(wait.as_secs()).unwrap_or(i64::MAX),
                tv_nsec: i64::from(wait.subsec_nanos()),
            });
            match poll(&mut [PollFd::new(&stdin, PollFlags::IN)], wait.as_ref()) {
                Ok(0) => ask(|board| board.give_up(Instant::now())),
                // Meanwhile the keys may belong to somebody else.
                Ok(_) if !ready() => continue,
                Ok(_) => match rustix::io::read(&stdin, &mut bytes) {
                    Ok(0) => return,
                    Ok(n) => {
                        let at = Instant::now();
                        ask(|board| board.take(&bytes[..n], at));
                    }
                    Err(Errno::INTR | Errno::AGAIN) => continue,
                    Err(_) => return,
                },
                Err(Errno::INTR) => continue,
                Err(_) => return,
            }
        }
    }
}

/// Where terminals work differently, only lines are read.
#[cfg(not(unix))]
mod terminal {
    pub(super) fn begin() -> bool {
        false
    }

    pub(super) fn end() {}

    pub(super) fn enter() -> bool {
        false
    }

    pub(super) fn again() {}

    pub(super) fn leave() {}

    pub(super) fn watch() {}
}
