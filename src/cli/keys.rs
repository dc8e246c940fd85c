//! Single keys of the terminal, while it plays.
//!
//! The terminal passes keys on one by one without echo; everything else stays as it was, so Ctrl-C and Ctrl-Z work as
//! always, and output needs no other line ends. [`enter`] and [`leave`] may be called at any time, from any thread:
//! around a suspension, and before the process is ended by force.

mod board;

use std::sync::{Mutex, MutexGuard, PoisonError};

use crossbeam_channel::Sender;

use super::controls::Names;
use super::saying;
use crate::live::Control;

use self::board::{Action, Board};
pub(super) use self::board::{CONTROLS, first_line, keys_of};

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Acts on keys; false when nobody listens any more.
fn act(actions: Vec<Action>, controls: &Sender<Control>) -> bool {
    for action in actions {
        match action {
            Action::Do(control) => {
                if controls.send(control).is_err() {
                    return false;
                }
            }
            Action::Say(text) => saying::say(&text),
            Action::Line(text) => {
                saying::show_line(&text);
            }
            Action::Closed => {
                saying::close_line();
            }
        }
    }
    true
}

/// The terminal gives single keys as long as this is kept.
pub(super) struct Mode {
    _private: (),
}

impl Drop for Mode {
    fn drop(&mut self) {
        terminal::end();
        saying::close_line();
    }
}

/// Takes single keys on a thread of its own, and sends what they ask for to `controls`. `None` where the terminal
/// cannot give single keys; then nothing has changed.
pub(super) fn begin(names: &Names, strokes: bool, controls: &Sender<Control>) -> Option<Mode> {
    if std::env::var_os("TERM").is_some_and(|term| term == "dumb") || !terminal::begin() {
        return None;
    }
    // From here on the terminal must be restored.
    let mode = Mode { _private: () };
    let board = Board::new(names.clone(), strokes);
    let controls = controls.clone();
    let thread = std::thread::Builder::new().name("keys".to_owned());
    thread
        .spawn(move || terminal::watch(board, &controls))
        .ok()?;
    Some(mode)
}

/// Takes the terminal back after [`leave`]: when the process goes on. False when it does not have the terminal, or never
/// took single keys.
pub(super) fn enter() -> bool {
    terminal::enter()
}

/// Gives the terminal back as it was: before the process is suspended, or ended by force. Nothing happens where single keys
/// are not taken.
pub(super) fn leave() {
    terminal::leave();
}

#[cfg(unix)]
mod terminal {
    use std::io;
    use std::sync::Mutex;
    use std::thread;
    use std::time::{Duration, Instant};

    use crossbeam_channel::Sender;
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::io::Errno;
    use rustix::termios::{
        LocalModes, OptionalActions, SpecialCodeIndex, Termios, tcgetattr, tcgetpgrp, tcsetattr,
    };

    use super::{Board, Control, act, lock, saying};

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
        if !state.wanted || !in_front() {
            return false;
        }
        state.left = false;
        if state.before.is_none() {
            let stdin = io::stdin();
            let Ok(before) = tcgetattr(&stdin) else {
                return false;
            };
            let mut now = before.clone();
            // Signals, line ends of what is written, and flow control stay as they are.
            now.local_modes &= !(LocalModes::ICANON | LocalModes::ECHO);
            now.special_codes[SpecialCodeIndex::VMIN] = 1;
            now.special_codes[SpecialCodeIndex::VTIME] = 0;
            if tcsetattr(&stdin, OptionalActions::Now, &now).is_err() {
                return false;
            }
            state.before = Some(before);
        }
        saying::show_again();
        true
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

    /// Reads keys until the terminal is gone or nobody listens any more.
    pub(super) fn watch(mut board: Board, controls: &Sender<Control>) {
        let stdin = io::stdin();
        let mut bytes = [0; 1024];
        loop {
            if !ready() {
                thread::sleep(LOOK);
                continue;
            }
            let wait = board.patience(Instant::now()).map(|wait| Timespec {
                tv_sec: i64::try_from(wait.as_secs()).unwrap_or(i64::MAX),
                tv_nsec: i64::from(wait.subsec_nanos()),
            });
            let actions = match poll(&mut [PollFd::new(&stdin, PollFlags::IN)], wait.as_ref()) {
                Ok(0) => board.give_up(Instant::now()),
                Ok(_) if !in_front() => continue,
                Ok(_) => match rustix::io::read(&stdin, &mut bytes) {
                    Ok(0) => return,
                    Ok(n) => {
                        let at = Instant::now();
                        board.take(&bytes[..n], at)
                    }
                    Err(Errno::INTR | Errno::AGAIN) => continue,
                    Err(_) => return,
                },
                Err(Errno::INTR) => continue,
                Err(_) => return,
            };
            if !act(actions, controls) {
                return;
            }
        }
    }
}

/// Where terminals work differently, only lines are read.
#[cfg(not(unix))]
mod terminal {
    use crossbeam_channel::Sender;

    use super::{Board, Control};

    pub(super) fn begin() -> bool {
        false
    }

    pub(super) fn end() {}

    pub(super) fn enter() -> bool {
        false
    }

    pub(super) fn leave() {}

    pub(super) fn watch(_: Board, _: &Sender<Control>) {}
}
