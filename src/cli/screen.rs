//! The stage on the whole terminal, drawn by a thread of its own.
//!
//! Whoever plays leaves what is heard in a place that is never waited for: where the drawing thread has it, the next look
//! is soon enough. A terminal that takes nothing holds up that thread alone.

mod terminal;

use std::io::{self, BufWriter};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, TryLockError};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, bounded};
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{Clear, ClearType};
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::{Terminal, TerminalOptions, Viewport};

use super::{is_dumb, lock};
use crate::live::Moment;
use crate::view::{
    Look, Stage, StageAsk, StageCard, StageMaker, StageState, draw_card, draw_page, draw_stage,
    stage_fits,
};

/// The name of the thread that draws.
const DRAWING: &str = "stage";

/// From picture to picture.
const FRAME: Duration = Duration::from_millis(33);

/// How long whoever ends waits for the last picture: a terminal may take nothing.
const PATIENCE: Duration = Duration::from_millis(500);

/// How long a message stays, in which the keys are not named, and how long a page does.
const SAID: Duration = Duration::from_secs(6);
const READ: Duration = Duration::from_secs(30);

/// What is drawn, as others have left it.
#[derive(Default)]
struct Shared {
    moment: Mutex<Option<Moment>>,
    /// What was said last, and the line that is being typed.
    words: Mutex<Words>,
    /// What a drill asks.
    ask: Mutex<Option<StageAsk>>,
    /// Held while something is written to the terminal.
    drawing: Mutex<Drawing>,
    /// The terminal is to be taken again.
    again: AtomicBool,
    /// The terminal has or had another size.
    resized: AtomicBool,
    over: AtomicBool,
}

impl Shared {
    /// Gives the terminal back, if it takes that within [`PATIENCE`].
    fn give_back(&self) {
        // To end is to go on, where Ctrl-S has stopped the output.
        if !terminal::takes_output() {
            terminal::let_flow();
        }
        let since = Instant::now();
        while since.elapsed() < PATIENCE {
            let mut drawing = match self.drawing.try_lock() {
                Ok(drawing) => drawing,
                Err(TryLockError::Poisoned(drawing)) => drawing.into_inner(),
                Err(TryLockError::WouldBlock) => {
                    thread::sleep(Duration::from_millis(1));
                    continue;
                }
            };
            if *drawing == Drawing::Shown && terminal::takes_output() {
                terminal::give_back();
                *drawing = Drawing::Left;
            }
            if *drawing != Drawing::Shown {
                *drawing = Drawing::Left;
                return;
            }
            drop(drawing);
            thread::sleep(Duration::from_millis(1));
        }
    }
}

#[derive(Default)]
struct Words {
    said: Option<(String, Instant)>,
    typed: Option<String>,
    /// A text of several lines.
    page: Option<(Vec<String>, Instant)>,
}

impl Words {
    fn say(&mut self, text: &str, now: Instant) {
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        if let [line] = &lines[..] {
            self.said = Some((line.clone(), now));
            self.page = None;
        } else {
            self.page = Some((lines, now));
        }
    }

    fn type_line(&mut self, line: Option<&str>) {
        self.typed = line.map(str::to_owned);
        self.page = None;
    }

    /// The line at the bottom.
    fn line(&self, now: Instant) -> Option<String> {
        let typed = self.typed.as_ref().map(|line| format!("> {line}"));
        let said = self.said.as_ref();
        let said = said.filter(|(_, since)| now.saturating_duration_since(*since) < SAID);
        typed.or_else(|| said.map(|(line, _)| line.clone()))
    }

    /// The page over the stage.
    fn page(&self, now: Instant) -> Option<Vec<String>> {
        let page = self.page.as_ref();
        let page = page.filter(|(_, since)| now.saturating_duration_since(*since) < READ);
        page.map(|(lines, _)| lines.clone())
    }
}

/// Whether the terminal is ours.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
enum Drawing {
    /// Before the first picture, while another process has the terminal, and after it was given back: all of it is drawn
    /// anew.
    #[default]
    Fresh,
    /// It holds the last picture.
    Shown,
    /// It was given back, until [`enter`].
    Left,
}

/// The stage that is shown, if one is.
static SHOWN: Mutex<Option<Arc<Shared>>> = Mutex::new(None);

/// Something to choose while nothing plays.
pub(super) struct Card {
    /// What is asked.
    pub(super) question: String,
    /// What the keys mean, each by itself.
    pub(super) keys: Vec<String>,
    /// When it is over by itself.
    pub(super) until: Option<Instant>,
}

/// What the keys mean in a state, in a line; `None` where none are taken.
pub(super) type SayKeys = Box<dyn Fn(&StageState) -> Option<String> + Send>;

/// What is drawn.
enum Content {
    /// The stage, with what the keys mean.
    Stage(Box<StageMaker>, SayKeys),
    Card(Card),
}

/// A picture to be drawn.
#[derive(PartialEq)]
enum Frame {
    Stage(Box<Stage>, Option<Vec<String>>),
    Card(StageCard),
}

impl Content {
    /// The picture now; `None` before there is anything to show.
    fn frame(&mut self, shared: &Shared) -> Option<Frame> {
        let now = Instant::now();
        match self {
            Content::Stage(maker, keys) => {
                let moment = *lock(&shared.moment);
                let stage = without_ticks(match moment {
                    Some(moment) => maker.stage(&moment),
                    None => maker.before()?,
                });
                let (said, page) = {
                    let words = lock(&shared.words);
                    (words.line(now), words.page(now))
                };
                let ask = lock(&shared.ask).clone();
                let said = said.or_else(|| keys(&stage.state));
                Some(Frame::Stage(Box::new(Stage { said, ask, ..stage }), page))
            }
            Content::Card(card) => {
                let words = lock(&shared.words).line(now);
                let left = card.until.map(|until| until.saturating_duration_since(now));
                Some(Frame::Card(StageCard {
                    question: card.question.clone(),
                    keys: card.keys.clone(),
                    // The second that has begun counts.
                    seconds_left: left.map(|left| left.as_millis().div_ceil(1000)),
                    said: words,
                }))
            }
        }
    }
}

/// A stage without what changes from moment to moment and is not drawn: so the pictures between two beats are the same.
fn without_ticks(mut stage: Stage) -> Stage {
    for chord in stage.chord.iter_mut().chain(&mut stage.next) {
        chord.ticks = 0;
    }
    stage
}

/// The stage as long as this is kept; then the terminal is as it was.
pub(super) struct Screen {
    shared: Arc<Shared>,
    over: Receiver<()>,
}

/// Whether a stage can be shown on a terminal that errors go to: it is large enough, more than a dumb one, and not another
/// job's.
pub(super) fn has_room() -> bool {
    let fits = terminal::whole().is_some_and(stage_fits);
    fits && !is_dumb(std::env::var_os("TERM")) && terminal::in_front()
}

impl Screen {
    /// Shows stages on the terminal, with what the keys mean; `None` where no thread can be had.
    pub(super) fn of_stage(maker: StageMaker, keys: SayKeys, look: Look) -> Option<Screen> {
        Screen::begin(Content::Stage(Box::new(maker), keys), look)
    }

    /// Shows a card on the terminal.
    pub(super) fn of_card(card: Card, look: Look) -> Option<Screen> {
        Screen::begin(Content::Card(card), look)
    }

    fn begin(content: Content, look: Look) -> Option<Screen> {
        let shared = Arc::new(Shared::default());
        let (done, over) = bounded(1);
        let drawn = Arc::clone(&shared);
        let thread = thread::Builder::new().name(DRAWING.to_owned());
        let draw = move || {
            draw(&drawn, content, look);
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
        if !terminal::takes_output() {
            terminal::let_flow();
        }
        let _ = self.over.recv_timeout(PATIENCE);
        // Until now whoever ends the process by force has to give the terminal back.
        lock(&SHOWN).take();
    }
}

fn shown() -> Option<Arc<Shared>> {
    lock(&SHOWN).clone()
}

/// Shows a message on the stage; false where none is shown.
pub(super) fn say(text: &str) -> bool {
    let Some(shared) = shown() else { return false };
    lock(&shared.words).say(text, Instant::now());
    true
}

/// Shows the line that is being typed, or that none is; false where no stage is shown.
pub(super) fn typed(line: Option<&str>) -> bool {
    let Some(shared) = shown() else { return false };
    lock(&shared.words).type_line(line);
    true
}

/// Shows what a drill asks, and what came of it. Never waits; false where no stage is shown.
pub(super) fn ask(ask: Option<StageAsk>) -> bool {
    let Some(shared) = shown() else { return false };
    *lock(&shared.ask) = ask;
    true
}

/// Gives the terminal back: before the process is suspended, or ended by force. Nothing happens where no stage is shown.
pub(super) fn leave() {
    let Some(shared) = shown() else { return };
    // A fault while it draws: nobody else will give the terminal back.
    if thread::current().name() == Some(DRAWING) {
        return terminal::give_back();
    }
    shared.give_back();
}

/// Takes the terminal again: after [`leave`], or where another process may have had it. Never waits.
pub(super) fn enter() {
    if let Some(shared) = shown() {
        shared.again.store(true, Ordering::Release);
    }
}

/// Draws all of it anew: the terminal has another size, or had one for a while, and has lost what did not fit. Never waits.
pub(super) fn resized() {
    if let Some(shared) = shown() {
        shared.resized.store(true, Ordering::Release);
    }
}

/// A picture of a fixed size. The library would ask the terminal for the place of its cursor when it clears a picture or
/// follows another size, and the answer would be taken for keys; so each size gets a picture of its own.
fn picture(area: Rect) -> io::Result<Picture> {
    execute!(io::stderr(), Clear(ClearType::All))?;
    let viewport = Viewport::Fixed(area);
    Terminal::with_options(
        CrosstermBackend::new(BufWriter::with_capacity(AT_ONCE, io::stderr())),
        TerminalOptions { viewport },
    )
}

type Picture = Terminal<CrosstermBackend<BufWriter<io::Stderr>>>;

/// Bytes that are written at once: more than a picture has.
const AT_ONCE: usize = 1 << 18;

/// What the terminal shows.
struct Painted {
    area: Rect,
    picture: Picture,
    /// `None` before the first.
    frame: Option<Frame>,
}

impl Painted {
    /// A terminal of this size that is blank.
    fn nothing(area: Rect) -> io::Result<Painted> {
        Ok(Painted {
            area,
            picture: picture(area)?,
            frame: None,
        })
    }

    /// Draws what has changed. Most frames are those of before, and cost nothing.
    fn paint(&mut self, frame: Frame, look: Look) -> io::Result<()> {
        if self.frame.as_ref() != Some(&frame) {
            let area = self.area;
            self.picture
                .draw(|out| show(&frame, look, area, out.buffer_mut()))?;
            self.frame = Some(frame);
        }
        Ok(())
    }
}

/// Draws until it is over, then gives the terminal back.
fn draw(shared: &Shared, mut content: Content, look: Look) {
    let mut last: Option<Painted> = None;
    while !shared.over.load(Ordering::Acquire) {
        let frame = content.frame(shared);
        let mut drawing = lock(&shared.drawing);
        if shared.again.swap(false, Ordering::AcqRel) {
            *drawing = Drawing::Fresh;
        }
        if shared.resized.swap(false, Ordering::AcqRel) {
            last = None;
        }
        let in_front = terminal::in_front();
        if *drawing == Drawing::Shown && !in_front {
            // The shell has taken it, and this process goes on.
            terminal::give_back();
            *drawing = Drawing::Fresh;
        }
        if let (Some(frame), Some(area)) = (frame, terminal::whole())
            && in_front
            && *drawing != Drawing::Left
        {
            if *drawing == Drawing::Fresh {
                terminal::take();
                *drawing = Drawing::Shown;
                last = None;
            }
            if last.as_ref().is_none_or(|last| last.area != area) {
                last = Painted::nothing(area).ok();
            }
            if let Some(last) = &mut last {
                // An error is that of a terminal that is gone.
                let _ = last.paint(frame, look);
            }
        }
        drop(drawing);
        thread::sleep(FRAME);
    }
    let mut drawing = lock(&shared.drawing);
    if *drawing == Drawing::Shown {
        terminal::give_back();
    }
    *drawing = Drawing::Left;
}

/// Draws a picture; where it does not fit, its first words in lines.
fn show(frame: &Frame, look: Look, area: Rect, buffer: &mut Buffer) {
    match frame {
        Frame::Stage(stage, page) if stage_fits(area) => {
            draw_stage(stage, look, area, buffer);
            if let Some(page) = page {
                draw_page(page, area, buffer);
            }
        }
        Frame::Card(card) if stage_fits(area) => draw_card(card, look, area, buffer),
        Frame::Stage(stage, _) => {
            let first = first_line(stage);
            in_lines(
                &[first, stage.said.clone().unwrap_or_default()],
                area,
                buffer,
            );
        }
        Frame::Card(card) => {
            let said = card.said.clone().unwrap_or_default();
            in_lines(
                &[card.question.clone(), card.keys.join(", "), said],
                area,
                buffer,
            );
        }
    }
}

/// The stage in a line: what is asked, or the chord with bar and beat; why it does not play.
fn first_line(stage: &Stage) -> String {
    let state = match stage.state {
        StageState::Plays => "",
        StageState::Paused => "  paused",
        StageState::Waits(_) => "  waits",
    };
    let what = match (&stage.ask, &stage.chord) {
        (Some(ask), _) => &ask.text,
        (None, Some(chord)) => &chord.name,
        (None, None) => "-",
    };
    format!("{what}  {}.{}{state}", stage.place.bar, stage.beat)
}

fn in_lines(lines: &[String], area: Rect, buffer: &mut Buffer) {
    for (y, line) in (0..area.height).zip(lines) {
        buffer.set_stringn(0, y, line, usize::from(area.width), Style::new());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_pass_and_pages_are_put_away() {
        let began = Instant::now();
        let after = |seconds| began + Duration::from_secs(seconds);
        let mut words = Words::default();
        assert_eq!(words.line(began), None);
        words.say("bass is silent", began);
        assert_eq!(words.line(after(5)).as_deref(), Some("bass is silent"));
        assert_eq!(words.line(after(6)), None);
        words.say("one\ntwo", after(7));
        assert_eq!(words.page(after(8)).map(|lines| lines.len()), Some(2));
        assert_eq!(words.page(after(37)), None);
        // A line that is typed puts a page away and stays until it is entered.
        words.type_line(Some("go 5"));
        assert_eq!(words.page(after(8)), None);
        assert_eq!(words.line(after(100)).as_deref(), Some("> go 5"));
        words.type_line(None);
        assert_eq!(words.line(after(100)), None);
    }
}
