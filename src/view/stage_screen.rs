//! The stage drawn in a terminal, for a player who stands two meters away.
//!
//! Only characters of ASCII and of Unicode's Block Elements are drawn, but for what the piece itself is named.

mod card;
mod large;
mod layout;
mod letters;
mod lines;
mod look;
mod neck;
mod plan;

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Modifier, Style};

pub(crate) use self::card::{StageCard, draw_card, draw_page};
use self::large::draw_large;
use self::layout::{MEDIUM, Rows};
use self::lines::{draw_lines, wrapped};
pub(crate) use self::look::{Look, fits};
use self::neck::draw_neck;
use self::plan::draw_plan;
use crate::diagnostic::counted;

use super::stage::{Stage, StageAsk, StageChord, StageState, moved_by, whole};

/// Draws a stage. In an area that is too small nothing is drawn.
pub(crate) fn draw_stage(stage: &Stage, look: Look, area: Rect, buffer: &mut Buffer) {
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
    let parts = parts(stage, inner);
    let count = |lines: &[String]| u16::try_from(lines.len()).unwrap_or(u16::MAX);
    // Whether the place is in large letters decides whether it stands beside the title.
    let (mut heads, mut sizes) = (
        wrapped(&stage.title, inner.width, 1),
        Rows::of(stage, inner, count(&parts) + 2),
    );
    if sizes.place == 0 {
        heads = head(stage, inner.width);
        sizes = Rows::of(stage, inner, count(&parts) + count(&heads) + 1);
        sizes.place = 0;
    }
    let neck = stage.neck.as_ref().zip(sizes.neck);
    let neck_rows = neck.map_or(0, |(neck, height)| neck::neck_rows(neck, height));
    let rows = Layout::vertical([
        Constraint::Length(count(&heads)),
        Constraint::Length(sizes.place),
        Constraint::Length(sizes.main_label),
        Constraint::Fill(1),
        Constraint::Length(sizes.label),
        Constraint::Length(sizes.next),
        Constraint::Length(sizes.label),
        Constraint::Length(sizes.beats),
        Constraint::Length(sizes.label),
        Constraint::Length(sizes.foot),
        Constraint::Length(neck_rows),
        Constraint::Length(count(&parts)),
        Constraint::Length(1),
    ]);
    let [
        head,
        place_at,
        main_label,
        main,
        next_label,
        next,
        beats_label,
        beats,
        foot_label,
        foot,
        neck_at,
        parts_at,
        said_at,
    ] = rows.areas(inner);
    draw_head(stage, &heads, head, look, buffer);
    if sizes.place > 0 {
        draw_large(&place(stage), place_at, Style::new(), buffer);
    }
    match &stage.ask {
        Some(ask) => {
            draw_ask(ask, (main_label, main), (next_label, next), look, buffer);
        }
        None if stage.has_no_chords() => {
            draw_count((main_label, main), (next_label, next), stage, look, buffer);
        }
        None => {
            draw_now(stage, main_label, main, look, buffer);
            draw_next(stage, next_label, next, look, buffer);
        }
    }
    draw_beats(stage, beats_label, beats, look, buffer);
    draw_foot(stage, foot_label, foot, buffer);
    if let Some((neck, height)) = neck {
        draw_neck(neck, height, neck_at, buffer);
    }
    let muted = stage.parts.iter().any(|(_, heard)| !heard);
    let style = if muted { look.silent() } else { Style::new() };
    draw_lines(&parts, parts_at, style, buffer);
    if let Some(said) = &stage.said {
        let said = wrapped(said, said_at.width, 1);
        draw_lines(&said, said_at, Style::new(), buffer);
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

/// The title, with the place where that is small; in place of the title what went wrong so that it could be heard.
fn draw_head(stage: &Stage, heads: &[String], area: Rect, look: Look, buffer: &mut Buffer) {
    draw_lines(heads, area, Style::new(), buffer);
    let Some(trouble) = stage.trouble else { return };
    let light = "\u{2588}".repeat(6);
    let text = format!("{light} {} {light}", trouble.words());
    let text = wrapped(&text, area.width, 1);
    let style = look.silent().add_modifier(Modifier::BOLD);
    for line in &text {
        let wide = u16::try_from(lines::columns(line)).unwrap_or(u16::MAX);
        // A blank between it and what is left of the place.
        let at = Rect {
            width: wide.saturating_add(1).min(area.width),
            height: 1,
            ..area
        };
        for position in at.positions() {
            buffer[position].set_char(' ');
        }
        draw_lines(std::slice::from_ref(line), at, style, buffer);
    }
}

/// Where in the piece: `bar 12 of 64, verse, pass 2, A minor, loop 9 to 16`.
fn place(stage: &Stage) -> String {
    let place = &stage.place;
    let mut items = vec![match place.of {
        _ if place.bar < 1 => "count-in".to_owned(),
        _ if place.counts_in => format!("count-in to bar {}", place.bar),
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
        None if stage.place.counts_in => ("first", stage.next.first(), look.next()),
        None => ("now", None, Style::new()),
    };
    draw_lines(&[what.to_owned()], label, Style::new(), buffer);
    let name = chord.map_or("-", |chord| &chord.name);
    draw_large(name, area, style.add_modifier(Modifier::BOLD), buffer);
}

/// The chord that comes next, and when; the one after it in small letters.
fn draw_next(stage: &Stage, label: Rect, area: Rect, look: Look, buffer: &mut Buffer) {
    let first = usize::from(stage.chord.is_none() && stage.place.counts_in);
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
    let text = [Some(head.to_owned()), Some(then), moves(stage)];
    let text: Vec<String> = text.into_iter().flatten().collect();
    let text = text.join("  ");
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

/// A transposition that is not heard yet: `2 semitones higher in 3 beats`.
fn moves(stage: &Stage) -> Option<String> {
    let moves = stage.moves?;
    let how = moved_by(moves.semitones);
    Some(match moves.beats {
        Some(0) => format!("{how} in this beat"),
        Some(beats) => format!("{how} in {}", counted(beats, "beat")),
        None => format!("{how} at the next chord"),
    })
}

/// What a drill asks, and below it what came of it.
fn draw_ask(
    ask: &StageAsk,
    (label, area): (Rect, Rect),
    (below_label, below): (Rect, Rect),
    look: Look,
    buffer: &mut Buffer,
) {
    let how = ask.how.clone().unwrap_or_else(|| "asked".to_owned());
    draw_lines(&wrapped(&how, label.width, 1), label, Style::new(), buffer);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    draw_large(&ask.text, area, bold, buffer);
    let outcome = [ask.answer.clone(), ask.judged.clone()];
    let outcome: Vec<String> = outcome.into_iter().flatten().collect();
    if below_label.height == 0 {
        // One row for both: how to answer, then the outcome.
        let text = match (&ask.how, outcome.is_empty()) {
            (Some(how), true) => how.clone(),
            _ => outcome.join("  "),
        };
        return draw_lines(&wrapped(&text, below.width, 1), below, look.next(), buffer);
    }
    let head = match (&ask.answer, &ask.judged) {
        (None, None) => "",
        (Some(_), _) => "answer",
        (None, Some(_)) => "you",
    };
    draw_lines(&[head.to_owned()], below_label, Style::new(), buffer);
    draw_large(&outcome.join("  "), below, look.next(), buffer);
}

/// Without chords the tempo is the largest, and below it the bar.
fn draw_count(
    (label, area): (Rect, Rect),
    (below_label, below): (Rect, Rect),
    stage: &Stage,
    look: Look,
    buffer: &mut Buffer,
) {
    let head = |text: &str, at: Rect, buffer: &mut Buffer| {
        draw_lines(&[text.to_owned()], at, Style::new(), buffer);
    };
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let tempo = whole(stage.tempo_milli).to_string();
    head("tempo", label, buffer);
    draw_large(&tempo, area, bold, buffer);
    let place = match stage.place.of {
        _ if stage.place.counts_in => "count-in".to_owned(),
        Some(of) => format!("{}/{of}", stage.place.bar),
        None => stage.place.bar.to_string(),
    };
    head("bar", below_label, buffer);
    let place = match below_label.height {
        0 if stage.place.bar >= 1 => format!("bar {place}"),
        _ => place,
    };
    draw_large(&place, below, look.next(), buffer);
}

/// A mark for each beat: the one that is heard is filled, the others are a line at the bottom. Where no mark may move, only
/// how many there are. While it does not play, why.
fn draw_beats(stage: &Stage, label: Rect, area: Rect, look: Look, buffer: &mut Buffer) {
    let (text, instead) = match &stage.state {
        StageState::Plays if stage.beat_moves => {
            (format!("beat {} of {}", stage.beat, stage.beats), None)
        }
        StageState::Plays => (counted(u64::from(stage.beats), "beat"), None),
        StageState::Paused => ("space goes on".to_owned(), Some("paused")),
        StageState::Waits(what) => (format!("for {what}"), Some("waits")),
    };
    draw_lines(&wrapped(&text, label.width, 1), label, Style::new(), buffer);
    if let Some(instead) = instead {
        let small = label.height == 0;
        let instead = if small {
            format!("{instead}: {text}")
        } else {
            instead.to_owned()
        };
        return draw_large(&instead, area, look.silent(), buffer);
    }
    let beats = u16::try_from(stage.beats).unwrap_or(u16::MAX).max(1);
    let gap = u16::from(area.width / beats > 1);
    let wide = (area.width / beats).saturating_sub(gap).max(1);
    for (beat, at) in (1..=stage.beats).zip((0..area.width).step_by(usize::from(wide + gap))) {
        let is_heard = stage.beat_moves && beat == stage.beat;
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
    // Without chords the tempo is the largest thing already.
    let tempo = (!stage.has_no_chords()).then(|| whole(stage.tempo_milli).to_string());
    let (beside, gap) = if tempo.is_some() { (1, 2) } else { (0, 0) };
    let [left, _, right] = Layout::horizontal([
        Constraint::Fill(beside),
        Constraint::Length(gap),
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
        let text = tempo.map_or(String::new(), |tempo| format!("tempo {tempo}"));
        let text = wrapped(&text, left.width, 1);
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
    if let Some(tempo) = tempo {
        draw_lines(&["tempo".to_owned()], label(left), Style::new(), buffer);
        draw_large(&tempo, left, Style::new(), buffer);
    }
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

#[cfg(test)]
mod tests;
