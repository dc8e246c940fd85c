//! The stage on the whole terminal, drawn by a thread of its own.
//!
//! Whoever plays leaves what is heard in a place that is never waited for: where the drawing thread has it, the next look
//! is soon enough. A terminal that takes nothing holds up that thread alone.

use std::io::{self, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, bounded};
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::cursor::{Hide, Show};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen};
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::{Terminal, TerminalOptions, Viewport};

use super::lock;
use crate::live::Moment;
use crate::view::{Look, Stage, StageMaker, draw_stage, stage_fits};

/// The name of the thread that draws.
const DRAWING: &str = "stage";

/// From picture to picture.
const FRAME: Duration = Duration::from_millis(33);

/// How long whoever ends waits for the last picture: a terminal may take nothing.
const PATIENCE: Duration = Duration::from_millis(500);

/// What is drawn, as others have left it.
#[derive(Default)]
struct Shared {
    moment: Mutex<Option<Moment>>,
    /// What was said last, and the line that is being typed.
    words: Mutex<Words>,
    /// Held while something is written to the terminal.
    drawing: Mutex<Drawing>,
    over: AtomicBool,
}

#[derive(Default)]
struct Words {
    said: Option<String>,
    typed: Option<String>,
}

impl Words {
    /// The line at the bottom.
    fn line(&self) -> Option<String> {
        let typed = self.typed.as_ref().map(|line| format!("> {line}"));
        typed.or_else(|| self.said.clone())
    }
}

/// Whether the terminal is ours.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
enum Drawing {
    /// Before the first picture, and after the terminal was given back: all of it is drawn anew.
    #[default]
    Fresh,
    /// It holds the last picture.
    Shown,
    /// It was given back, until [`enter`].
    Left,
}

/// The stage that is shown, if one is.
static SHOWN: Mutex<Option<Arc<Shared>>> = Mutex::new(None);

/// The stage as long as this is kept; then the terminal is as it was.
pub(super) struct Screen {
    shared: Arc<Shared>,
    over: Receiver<()>,
}

impl Screen {
    /// Shows stages on the terminal; `None` where it is too small, or no thread can be had.
    pub(super) fn begin(maker: StageMaker, look: Look) -> Option<Screen> {
        if !stage_fits(whole()?) {
            return None;
        }
        let shared = Arc::new(Shared::default());
        let (done, over) = bounded(1);
        let drawn = Arc::clone(&shared);
        let thread = thread::Builder::new().name(DRAWING.to_owned());
        let draw = move || {
            draw(&drawn, maker, look);
            let _ = done.send(());
        };
        thread.spawn(draw).ok()?;
        *lock(&SHOWN) = Some(Arc::clone(&shared));
        Some(Screen { shared, over })
    }

    /// Leaves what is heard to be drawn. Never waits.
    pub(super) fn show(&self, moment: &Moment) {
        if let Ok(mut newest) = self.shared.moment.try_lock() {
            *newest = Some(*moment);
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        self.shared.over.store(true, Ordering::Release);
        lock(&SHOWN).take();
        let _ = self.over.recv_timeout(PATIENCE);
    }
}

fn shown() -> Option<Arc<Shared>> {
    lock(&SHOWN).clone()
}

/// Shows a message on the stage; false where none is shown.
pub(super) fn say(text: &str) -> bool {
    let Some(shared) = shown() else { return false };
    lock(&shared.words).said = Some(text.lines().last().unwrap_or_default().to_owned());
    true
}

/// Shows the line that is being typed, or that none is; false where no stage is shown.
pub(super) fn typed(line: Option<&str>) -> bool {
    let Some(shared) = shown() else { return false };
    lock(&shared.words).typed = line.map(str::to_owned);
    true
}

/// Gives the terminal back: before the process is suspended, or ended by force. Nothing happens where no stage is shown.
pub(super) fn leave() {
    let Some(shared) = shown() else { return };
    // A fault while it draws: nobody else will give the terminal back.
    if thread::current().name() == Some(DRAWING) {
        let _ = execute!(io::stderr(), LeaveAlternateScreen, Show);
        return;
    }
    let since = Instant::now();
    while since.elapsed() < PATIENCE {
        if let Ok(mut drawing) = shared.drawing.try_lock() {
            if *drawing == Drawing::Shown {
                let _ = execute!(io::stderr(), LeaveAlternateScreen, Show);
            }
            *drawing = Drawing::Left;
            return;
        }
        thread::sleep(Duration::from_millis(1));
    }
}

/// Takes the terminal again after [`leave`].
pub(super) fn enter() {
    if let Some(shared) = shown() {
        *lock(&shared.drawing) = Drawing::Fresh;
    }
}

/// The whole terminal.
fn whole() -> Option<Rect> {
    let (width, height) = ratatui::crossterm::terminal::size().ok()?;
    Some(Rect::new(0, 0, width, height))
}

/// A picture of a fixed size. The library would ask the terminal for the place of its cursor when it clears a picture or
/// follows another size, and the answer would be taken for keys; so each size gets a picture of its own.
fn picture(area: Rect) -> io::Result<Picture> {
    execute!(io::stderr(), Clear(ClearType::All))?;
    let viewport = Viewport::Fixed(area);
    Terminal::with_options(
        CrosstermBackend::new(io::stderr()),
        TerminalOptions { viewport },
    )
}

type Picture = Terminal<CrosstermBackend<io::Stderr>>;

/// Draws until it is over, then gives the terminal back.
fn draw(shared: &Shared, mut maker: StageMaker, look: Look) {
    let mut last: Option<(Rect, Picture)> = None;
    while !shared.over.load(Ordering::Acquire) {
        let moment = *lock(&shared.moment);
        let mut drawing = lock(&shared.drawing);
        if let (Some(moment), Some(area)) = (moment, whole())
            && *drawing != Drawing::Left
        {
            if *drawing == Drawing::Fresh {
                let _ = execute!(io::stderr(), EnterAlternateScreen, Hide);
                *drawing = Drawing::Shown;
                last = None;
            }
            if last.as_ref().is_none_or(|(before, _)| *before != area) {
                last = picture(area).ok().map(|picture| (area, picture));
            }
            let stage = maker.stage(&moment);
            let words = lock(&shared.words).line();
            if let Some((_, picture)) = &mut last {
                let _ = picture.draw(|frame| {
                    let area = frame.area();
                    show(&stage, words.as_deref(), look, area, frame.buffer_mut());
                });
            }
        }
        drop(drawing);
        thread::sleep(FRAME);
    }
    let drawing = lock(&shared.drawing);
    if *drawing == Drawing::Shown {
        let _ = execute!(io::stderr(), LeaveAlternateScreen, Show);
        let _ = io::stderr().flush();
    }
}

/// Draws the stage; where it does not fit, the chord and the line that was said last.
fn show(stage: &Stage, words: Option<&str>, look: Look, area: Rect, buffer: &mut Buffer) {
    if stage_fits(area) {
        return draw_stage(stage, words, look, area, buffer);
    }
    let chord = stage.chord.as_ref().map_or("-", |chord| &chord.name);
    let lines = [
        format!("{chord}  {}.{}", stage.place.bar, stage.beat),
        words.unwrap_or_default().to_owned(),
    ];
    for (y, line) in (0..area.height).zip(&lines) {
        buffer.set_stringn(0, y, line, usize::from(area.width), Style::new());
    }
}
