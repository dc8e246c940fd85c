//! Pictures of the stage for the README, drawn from the screens themselves. Where one of them differs from its file under
//! `examples`, the test fails; with `FIVEFOLD_PICTURES=write` it writes the file.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use ratatui::buffer::Cell;
use ratatui::style::Color;

use super::*;
use crate::arrange::{Arrangement, Excerpt};
use crate::chart::Piece;
use crate::live::Moment;
use crate::time::{Nanos, TempoCursor};
use crate::view::StageMaker;

/// A cell in the units of the picture.
const WIDE: usize = 8;
const HIGH: usize = 16;

const DARK: &str = "#15191d";

fn color(color: Color) -> &'static str {
    match color {
        Color::Reset => "#e6e3da",
        Color::Cyan => "#58b7d0",
        Color::Green => "#86c26b",
        Color::Red => "#dd7266",
        other => panic!("{other} is no color of the stage"),
    }
}

/// What a character of the Block Elements fills: rectangles in eighths of a cell, as left, top, width and height.
fn blocks(symbol: &str) -> Option<Vec<(usize, usize, usize, usize)>> {
    let c = symbol.chars().next()?;
    let quarters = |bits: usize| {
        let all = [(0, 0), (4, 0), (0, 4), (4, 4)];
        let filled = all.iter().zip([1, 2, 4, 8]);
        let filled = filled.filter(|(_, bit)| bits & bit != 0);
        filled.map(|((x, y), _)| (*x, *y, 4, 4)).collect()
    };
    Some(match c {
        ' ' => Vec::new(),
        '\u{2580}' => vec![(0, 0, 8, 4)],
        '\u{2581}'..='\u{2588}' => {
            let eighths = usize::try_from(u32::from(c) - 0x2580).ok()?;
            vec![(0, 8 - eighths, 8, eighths)]
        }
        '\u{258C}' => vec![(0, 0, 4, 8)],
        '\u{2590}' => vec![(4, 0, 4, 8)],
        '\u{2594}' => vec![(0, 0, 8, 1)],
        '\u{2596}' => quarters(4),
        '\u{2597}' => quarters(8),
        '\u{2598}' => quarters(1),
        '\u{2599}' => quarters(13),
        '\u{259A}' => quarters(9),
        '\u{259B}' => quarters(7),
        '\u{259C}' => quarters(11),
        '\u{259D}' => quarters(2),
        '\u{259E}' => quarters(6),
        '\u{259F}' => quarters(14),
        _ => return None,
    })
}

/// The cells of a row from one on that go on with the same blocks, or with text, in the same color.
fn run(buffer: &Buffer, x: u16, y: u16) -> Vec<&Cell> {
    let first = &buffer[(x, y)];
    let same = |cell: &&Cell| {
        let alike = match blocks(first.symbol()) {
            Some(_) => cell.symbol() == first.symbol(),
            // A text goes on over single spaces.
            None => blocks(cell.symbol()).is_none_or(|blocks| blocks.is_empty()),
        };
        alike && cell.fg == first.fg
    };
    let cells = (x..buffer.area.width).map(|x| &buffer[(x, y)]);
    cells.take_while(same).collect()
}

/// A screen as SVG 1.1.
fn svg(buffer: &Buffer, name: &str) -> String {
    let (columns, rows) = (
        usize::from(buffer.area.width),
        usize::from(buffer.area.height),
    );
    let (width, height) = ((columns + 2) * WIDE, (rows + 1) * HIGH);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"{name}\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"{DARK}\"/>\n\
         <g font-family=\"monospace\" font-size=\"13\" shape-rendering=\"crispEdges\">\n"
    );
    for y in 0..buffer.area.height {
        let mut x = 0;
        while x < buffer.area.width {
            let cells = run(buffer, x, y);
            let (left, top) = (
                (usize::from(x) + 1) * WIDE,
                usize::from(y) * HIGH + HIGH / 2,
            );
            let fill = color(cells[0].fg);
            match blocks(cells[0].symbol()) {
                Some(blocks) => {
                    // A block that fills its cell from left to right goes on.
                    let whole = blocks.iter().all(|(_, _, wide, _)| *wide == 8);
                    let each = if whole { 1 } else { cells.len() };
                    let count = if whole { cells.len() } else { 1 };
                    for (number, (bx, by, wide, high)) in
                        (0..each).flat_map(|n| blocks.iter().map(move |block| (n, block)))
                    {
                        let _ = writeln!(
                            out,
                            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\"/>",
                            left + number * WIDE + bx * WIDE / 8,
                            top + by * HIGH / 8,
                            wide * WIDE * count / 8,
                            high * HIGH / 8
                        );
                    }
                }
                None => {
                    let text: String = cells.iter().map(|cell| cell.symbol()).collect();
                    let text = text.trim_end();
                    let escaped = text.replace('&', "&amp;").replace('<', "&lt;");
                    let _ = writeln!(
                        out,
                        "<text x=\"{left}\" y=\"{}\" textLength=\"{}\" xml:space=\"preserve\" fill=\"{fill}\">{escaped}</text>",
                        top + 12,
                        text.chars().count() * WIDE,
                    );
                }
            }
            x += u16::try_from(cells.len()).unwrap();
        }
    }
    out + "</g>\n</svg>\n"
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("examples")
        .join(name)
}

/// Holds a screen to its picture.
fn hold(name: &str, about: &str, stage: &Stage, columns: u16, rows: u16) {
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    draw_stage(stage, Look::Colored, area, &mut buffer);
    let drawn = svg(&buffer, about);
    if std::env::var_os("FIVEFOLD_PICTURES").is_some_and(|how| how == "write") {
        std::fs::write(file(name), &drawn).unwrap();
    }
    let kept = std::fs::read_to_string(file(name)).unwrap_or_default();
    assert!(
        kept == drawn,
        "examples/{name} is not what the stage shows; FIVEFOLD_PICTURES=write cargo test --lib picture writes it"
    );
}

/// The stage of a ready chart at the third beat of a bar.
fn of_chart(chart: &str, number: i64) -> Stage {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(chart);
    let text = std::fs::read_to_string(path).unwrap();
    let (piece, _) = Piece::read(&text).unwrap();
    let form = piece.unfold().unwrap();
    let arrangement = Arrangement::new(&piece, form.clone(), Excerpt::default()).unwrap();
    let journey = arrangement.journey();
    let bar = journey.bar(number).unwrap();
    let tempo = TempoCursor::new(journey.map()).tempo_at(journey.grid().bar(number).unwrap().start);
    let mut moment = Moment::first(bar, tempo, Nanos::ZERO);
    moment.ticks = 2 * 960;
    StageMaker::new(&piece, &form, arrangement).stage(&moment)
}

#[test]
fn the_stage_of_a_ready_chart() {
    let stage = of_chart("progressions/minor/low-tide.toml", 22);
    hold(
        "stage.svg",
        "The stage while a piece plays",
        &stage,
        160,
        50,
    );
}

#[test]
fn the_stage_of_a_drill() {
    let stage = Stage {
        ask: Some(StageAsk {
            text: "G on string 6?".to_owned(),
            how: None,
            answer: None,
            judged: Some("right, at once".to_owned()),
        }),
        said: Some("space pause, ? all keys, q stops, arrows tempo, n next".to_owned()),
        ..of_chart("progressions/minor/low-tide.toml", 1)
    };
    hold(
        "stage-ask.svg",
        "The stage while a drill asks",
        &stage,
        100,
        30,
    );
}
