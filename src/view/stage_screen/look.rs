//! Colors, and where there is room.

use ratatui::layout::Rect;
use ratatui::style::{Color, Style};

/// Columns and rows below which nothing is drawn.
const LEAST: (u16, u16) = (40, 12);

/// Whether colors are used. Nothing is told by color alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    /// One color, that of the terminal.
    Plain,
    /// Three colors of the terminal's own palette beside its plain one.
    Colored,
}

impl Look {
    /// With colors, or without.
    pub(crate) const fn of(colored: bool) -> Look {
        if colored { Look::Colored } else { Look::Plain }
    }

    fn colored(self, color: Color) -> Style {
        match self {
            Look::Plain => Style::new(),
            Look::Colored => Style::new().fg(color),
        }
    }

    /// The chord to come.
    pub(super) fn next(self) -> Style {
        self.colored(Color::Cyan)
    }

    /// The beat that is heard.
    pub(super) fn beat(self) -> Style {
        self.colored(Color::Green)
    }

    /// What is not heard: parts that are muted, and everything while it is paused.
    pub(super) fn silent(self) -> Style {
        self.colored(Color::Red)
    }
}

/// Whether an area is large enough to draw a stage in it: 40 columns and 12 rows.
pub(crate) const fn fits(area: Rect) -> bool {
    area.width >= LEAST.0 && area.height >= LEAST.1
}
