//! The stage drawn in a terminal, for a player who stands two meters away.
//!
//! Only characters of ASCII and of Unicode's Block Elements are drawn, but for what the piece itself is named.

mod letters;
mod lines;
mod plan;

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};

use self::letters::Letters;
use self::lines::{draw_lines, wrapped};
use self::plan::draw_plan;
use super::stage::{Stage, StageChord, whole};

/// Columns and rows below which nothing is drawn.
const LEAST: (u16, u16) = (40, 12);

/// Rows from which on things other than the chord are in large letters, and from which on they have room to spare.
const MEDIUM: u16 = 24;
const LARGE: u16 = 40;

/// Whether colors are used. Nothing is told by color alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    /// One color, that of the terminal.
    Plain,
    /// Three colors of the terminal's own palette beside its plain one.
    Colored,
}

impl Look {
    fn colored(self, color: Color) -> Style {
        match self {
            Look::Plain => Style::new(),
            Look::Colored => Style::new().fg(color),
        }
    }

    /// The chord to come.
    fn next(self) -> Style {
        self.colored(Color::Cyan)
    }

    /// The beat that is heard.
    fn beat(self) -> Style {
        self.colored(Color::Green)
    }

    /// What is not heard: parts that are muted, and everything while it is paused.
    fn silent(self) -> Style {
        self.colored(Color::Red)
    }
}

/// Whether an area is large enough to draw a stage in it: 40 columns and 12 rows.
pub(crate) const fn fits(area: Rect) -> bool {
    area.width >= LEAST.0 && area.height >= LEAST.1
}

/// Draws a stage; `said` is what the last command did. In an area that is too small nothing is drawn.
pub(crate) fn draw_stage(
    stage: &Stage,
    said: Option<&str>,
    look: Look,
    area: Rect,
    buffer: &mut Buffer,
) {
    let area = area.intersection(buffer.area);
    if !fits(area) {
        return;
    }
    // A column stays free at either side.
    let inner = Rect {
        x: area.x + 1,
        width: area.width - 2,
        ..area
    };
    let heads = head(stage, inner.width);
    let parts = parts(stage, inner);
    let sizes = Sizes::of(area.height);
    let count = |lines: &[String]| u16::try_from(lines.len()).unwrap_or(u16::MAX);
    let rows = Layout::vertical([
        Constraint::Length(count(&heads)),
        Constraint::Length(sizes.now_label),
        Constraint::Fill(1),
        Constraint::Length(sizes.label),
        Constraint::Length(sizes.next),
        Constraint::Length(sizes.label),
        Constraint::Length(sizes.beats),
        Constraint::Length(sizes.label),
        Constraint::Length(sizes.foot),
        Constraint::Length(count(&parts)),
        Constraint::Length(1),
    ]);
    let [
        head,
        now_label,
        now,
        next_label,
        next,
        beats_label,
        beats,
        foot_label,
        foot,
        parts_at,
        said_at,
    ] = rows.areas(inner);
    draw_lines(&heads, head, Style::new(), buffer);
    draw_now(stage, now_label, now, look, buffer);
    draw_next(stage, next_label, next, look, buffer);
    draw_beats(stage, beats_label, beats, look, buffer);
    draw_foot(stage, foot_label, foot, buffer);
    let muted = stage.parts.iter().any(|(_, heard)| !heard);
    let style = if muted { look.silent() } else { Style::new() };
    draw_lines(&parts, parts_at, style, buffer);
    if let Some(said) = said {
        draw_lines(
            &wrapped(said, said_at.width, 1),
            said_at,
            Style::new(),
            buffer,
        );
    }
}

/// Rows of each part of the screen.
struct Sizes {
    /// A line of small text above the chord.
    now_label: u16,
    /// A line of small text above each other part.
    label: u16,
    next: u16,
    beats: u16,
    foot: u16,
}

impl Sizes {
    const fn of(rows: u16) -> Sizes {
        let (now_label, label, next, beats, foot) = match rows {
            LARGE.. => (1, 1, 11, 4, 4),
            MEDIUM..LARGE => (0, 1, 4, 2, 4),
            _ => (0, 0, 1, 1, 1),
        };
        Sizes {
            now_label,
            label,
            next,
            beats,
            foot,
        }
    }
}

/// The title and the place: one line where they fit beside each other, else up to three.
fn head(stage: &Stage, width: u16) -> Vec<String> {
    let place = place(stage);
    let columns = usize::from(width);
    let title = wrapped(&stage.title, width, 1);
    let taken = title.iter().map(|line| lines::columns(line)).sum::<usize>();
    if taken + lines::columns(&place) + 2 <= columns {
        let title = title.concat();
        let gap = columns - taken - lines::columns(&place);
        return vec![format!("{title}{}{place}", " ".repeat(gap))];
    }
    let mut all = title;
    all.extend(wrapped(&place, width, 2));
    all
}

/// Where in the piece: `bar 12 of 64, verse, pass 2, A minor, loop 9 to 16`.
fn place(stage: &Stage) -> String {
    let place = &stage.place;
    let mut items = vec![match place.of {
        _ if place.bar < 1 => "count-in".to_owned(),
        Some(of) => format!("bar {} of {of}", place.bar),
        None => format!("bar {}", place.bar),
    }];
    if let Some((first, last)) = stage.looped {
        items.push(format!("loop {first} to {last}"));
    }
    items.extend(place.section.clone());
    items.extend(place.pass.map(|pass| format!("pass {pass}")));
    items.extend(place.key.clone());
    items.join(", ")
}

/// The parts in up to two lines, those that are not heard first: `muted: bass; heard: click, pads`.
fn parts(stage: &Stage, area: Rect) -> Vec<String> {
    let named = |heard: bool| {
        let parts = stage
            .parts
            .iter()
            .filter(|(_, is_heard)| *is_heard == heard);
        let names: Vec<&str> = parts.map(|(name, _)| *name).collect();
        (!names.is_empty()).then(|| names.join(", "))
    };
    let muted = named(false).map(|names| format!("muted: {names}"));
    let heard = named(true).map(|names| format!("heard: {names}"));
    let told: Vec<String> = muted.into_iter().chain(heard).collect();
    let most = if area.height < MEDIUM { 1 } else { 2 };
    wrapped(&told.join("; "), area.width, most)
}

/// The chord now; in a count-in the first one that will be heard.
fn draw_now(stage: &Stage, label: Rect, area: Rect, look: Look, buffer: &mut Buffer) {
    let (what, chord, style) = match &stage.chord {
        Some(chord) => ("now", Some(chord), Style::new()),
        None if stage.place.bar < 1 => ("first", stage.next.first(), look.next()),
        None => ("now", None, Style::new()),
    };
    draw_lines(&[what.to_owned()], label, Style::new(), buffer);
    let name = chord.map_or("-", |chord| &chord.name);
    draw_large(name, area, style.add_modifier(Modifier::BOLD), buffer);
}

/// The chord that comes next, and when; the one after it in small letters.
fn draw_next(stage: &Stage, label: Rect, area: Rect, look: Look, buffer: &mut Buffer) {
    let first = usize::from(stage.chord.is_none() && stage.place.bar < 1);
    let Some(next) = stage.next.get(first) else {
        // In a count-in before a piece of one chord, that chord is already shown.
        let when = stage.next.first().filter(|_| first == 1).map(when);
        let text = when.unwrap_or_else(|| "no other chord".to_owned());
        return draw_large(&text, area, look.next(), buffer);
    };
    let when = match (first, stage.next.first()) {
        (1, Some(chord)) => when(chord),
        _ => when(next),
    };
    let then = stage.next.get(first + 1);
    let then = then.map_or(String::new(), |then| format!("then {}", then.name));
    if label.height == 0 {
        let text = if first == 1 {
            format!("{when}, then {}", next.name)
        } else {
            format!("next {} {when}  {then}", next.name)
        };
        return draw_lines(&wrapped(&text, area.width, 1), area, look.next(), buffer);
    }
    let [left, _, right] = Layout::horizontal([
        Constraint::Fill(3),
        Constraint::Length(2),
        Constraint::Fill(2),
    ])
    .areas(area);
    if let (1, Some(chord)) = (first, stage.next.first()) {
        let above = Rect {
            x: right.x,
            width: right.width,
            ..label
        };
        let text = wrapped(&format!("{} begins", chord.name), above.width, 1);
        draw_lines(&text, above, Style::new(), buffer);
    }
    let head = if first == 1 { "then" } else { "next" };
    let text = format!("{head}  {then}");
    let above = Rect {
        width: left.width,
        ..label
    };
    draw_lines(
        &wrapped(text.trim_end(), above.width, 1),
        above,
        Style::new(),
        buffer,
    );
    draw_large(&next.name, left, look.next(), buffer);
    draw_large(&when, right, look.next(), buffer);
}

/// When a chord comes: `in 2 bars`, `in 1 beat`; beats within two bars.
fn when(chord: &StageChord) -> String {
    match (chord.bars, chord.beats) {
        (2.., _) => format!("in {} bars", chord.bars),
        (_, 0) => "in this beat".to_owned(),
        (_, 1) => "in 1 beat".to_owned(),
        (_, beats) => format!("in {beats} beats"),
    }
}

/// A mark for each beat: the one that is heard is filled, the others are a line at the bottom. While it is paused, that
/// word.
fn draw_beats(stage: &Stage, label: Rect, area: Rect, look: Look, buffer: &mut Buffer) {
    let text = format!("beat {} of {}", stage.beat, stage.beats);
    draw_lines(&wrapped(&text, label.width, 1), label, Style::new(), buffer);
    if stage.paused {
        return draw_large("paused", area, look.silent(), buffer);
    }
    let beats = u16::try_from(stage.beats).unwrap_or(u16::MAX).max(1);
    let gap = u16::from(area.width / beats > 1);
    let wide = (area.width / beats).saturating_sub(gap).max(1);
    for (beat, at) in (1..=stage.beats).zip((0..area.width).step_by(usize::from(wide + gap))) {
        let is_heard = beat == stage.beat;
        let mark = Rect {
            x: area.x + at,
            width: wide,
            ..area
        };
        let (mark, filled, style) = if is_heard {
            (mark, '\u{2588}', look.beat())
        } else {
            let bottom = Rect {
                y: area.bottom().saturating_sub(1),
                height: 1,
                ..mark
            };
            (bottom, '\u{2581}', Style::new())
        };
        for position in mark.intersection(area).positions() {
            buffer[position].set_char(filled).set_style(style);
        }
    }
}

/// The tempo and the plan.
fn draw_foot(stage: &Stage, label: Rect, area: Rect, buffer: &mut Buffer) {
    let tempo = whole(stage.tempo_milli).to_string();
    let [left, _, right] = Layout::horizontal([
        Constraint::Fill(1),
        Constraint::Length(2),
        Constraint::Fill(2),
    ])
    .areas(area);
    let label = |at: Rect| Rect {
        x: at.x,
        width: at.width,
        ..label
    };
    let range = stage.plan.as_ref().and_then(plan::range);
    let range = range.map(|(low, high)| format!("plan {} to {}", whole(low), whole(high)));
    if label(left).height == 0 {
        let text = wrapped(&format!("tempo {tempo}"), left.width, 1);
        draw_lines(&text, left, Style::new(), buffer);
        let Some((plan, range)) = stage.plan.as_ref().zip(range) else {
            return;
        };
        let [words, curve] =
            Layout::horizontal([Constraint::Max(15), Constraint::Fill(1)]).areas(right);
        draw_lines(
            &wrapped(&range, words.width, 1),
            words,
            Style::new(),
            buffer,
        );
        return draw_plan(plan, curve, buffer);
    }
    draw_lines(&["tempo".to_owned()], label(left), Style::new(), buffer);
    draw_large(&tempo, left, Style::new(), buffer);
    if let Some((plan, range)) = stage.plan.as_ref().zip(range) {
        draw_lines(
            &wrapped(&range, right.width, 1),
            label(right),
            Style::new(),
            buffer,
        );
        draw_plan(plan, right, buffer);
    }
}

/// A text in the largest letters that an area holds, in the middle of its height, else as plain text.
fn draw_large(text: &str, area: Rect, style: Style, buffer: &mut Buffer) {
    match Letters::largest(text, area.width, area.height) {
        Some(letters) => {
            let above = (area.height - letters.height()) / 2;
            let at = Rect {
                y: area.y + above,
                height: area.height - above,
                ..area
            };
            letters.draw(at, style, buffer);
        }
        None => draw_lines(&wrapped(text, area.width, area.height), area, style, buffer),
    }
}

#[cfg(test)]
mod tests;
