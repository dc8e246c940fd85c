//! What the stage asks of the terminal that errors go to.

use std::io::{self, Write};

use ratatui::crossterm::cursor::{Hide, Show};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen};
use ratatui::layout::Rect;

pub(super) use self::system::in_front;

/// The whole terminal; `None` where it has no size.
pub(super) fn whole() -> Option<Rect> {
    let (width, height) = terminal_size::terminal_size_of(io::stderr())?;
    Some(Rect::new(0, 0, width.0, height.0))
}

/// Takes the terminal: another screen than that of the shell, without a cursor. Errors are ignored: it may be gone.
pub(super) fn take() {
    let _ = execute!(io::stderr(), EnterAlternateScreen, Hide);
}

/// Gives the terminal back: the screen of the shell, with a cursor.
pub(super) fn give_back() {
    let _ = execute!(io::stderr(), LeaveAlternateScreen, Show);
    let _ = io::stderr().flush();
}

#[cfg(unix)]
mod system {
    use std::io;

    use rustix::process::getpgrp;
    use rustix::termios::tcgetpgrp;

    /// Whether the terminal is this process's to draw on: in the background it is the shell's. One that no shell hands out
    /// belongs to whoever draws.
    pub(in crate::cli::screen) fn in_front() -> bool {
        tcgetpgrp(io::stderr()).map_or(true, |group| group == getpgrp())
    }
}

#[cfg(not(unix))]
mod system {
    /// Elsewhere there is no background.
    pub(in crate::cli::screen) fn in_front() -> bool {
        true
    }
}
