//! What the stage asks of the terminal that errors go to.

use std::io::{self, Write};

use ratatui::crossterm::cursor::{Hide, Show};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen};
use ratatui::layout::Rect;

use crate::cli::watcher::{self, Deed};

pub(super) use self::system::{in_front, let_flow, takes_output};

/// The whole terminal; `None` where it has no size.
pub(super) fn whole() -> Option<Rect> {
    let (width, height) = terminal_size::terminal_size_of(io::stderr())?;
    Some(Rect::new(0, 0, width.0, height.0))
}

/// Takes the terminal: another screen than that of the shell, without a cursor. Errors are ignored: it may be gone.
pub(super) fn take() {
    watcher::tell(Deed::StageShown);
    let _ = execute!(io::stderr(), EnterAlternateScreen, Hide);
}

/// Gives the terminal back: the screen of the shell, with a cursor.
pub(super) fn give_back() {
    let _ = execute!(io::stderr(), LeaveAlternateScreen, Show);
    let _ = io::stderr().flush();
    watcher::tell(Deed::StageLeft);
}

#[cfg(unix)]
mod system {
    use std::io;

    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::process::getpgrp;
    use rustix::termios::{Action, tcflow, tcgetpgrp};

    /// Whether the terminal is this process's to draw on: in the background it is the shell's. One that no shell hands out
    /// belongs to whoever draws.
    pub(in crate::cli::screen) fn in_front() -> bool {
        tcgetpgrp(io::stderr()).map_or(true, |group| group == getpgrp())
    }

    /// Whether the terminal takes output at once.
    pub(in crate::cli::screen) fn takes_output() -> bool {
        let stderr = io::stderr();
        let mut asked = [PollFd::new(&stderr, PollFlags::OUT)];
        let at_once = Timespec {
            tv_sec: 0,
            tv_nsec: 0,
        };
        // What is wrong with it, a write will tell at once too.
        !matches!(poll(&mut asked, Some(&at_once)), Ok(0))
    }

    /// Lets output go on that was stopped by Ctrl-S, as the terminal itself does at Ctrl-C. From the background it would stop
    /// this process.
    pub(in crate::cli::screen) fn let_flow() {
        if in_front() {
            // Linux lets go on only what was stopped in the same way.
            let _ = tcflow(io::stderr(), Action::OOff);
            let _ = tcflow(io::stderr(), Action::OOn);
        }
    }
}

#[cfg(not(unix))]
mod system {
    /// Elsewhere there is no background.
    pub(in crate::cli::screen) fn in_front() -> bool {
        true
    }

    /// Whether the terminal takes output at once: elsewhere nobody tells.
    pub(in crate::cli::screen) fn takes_output() -> bool {
        true
    }

    /// Elsewhere a stopped console goes on with any key.
    pub(in crate::cli::screen) fn let_flow() {}
}
