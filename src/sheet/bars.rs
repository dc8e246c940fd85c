//! The chart of a sheet: lines of bars with repeats and endings as musicians write them.
//!
//! Every sign that is drawn stands for its letters in the chart notation, so that the text of a page, copied or read aloud, is
//! the chart.

use super::content::{Sheet, SheetBar, SheetChord};
use super::setting::{Block, Density, cut};
use crate::picture::{Anchor, Drawing, Face, Faces, Ink, Item, Role, Words};
use crate::time::Meter;

/// Columns of a line. A bar takes one, or two or all where its chords need them.
const COLUMNS: usize = 4;
const WIDTHS: [usize; 3] = [1, 2, COLUMNS];
/// The smallest share of their size that chords may be set in so that more bars go on a line.
const LEAST: f32 = 0.62;
/// Where chords stand between the upper and the lower end of a bar line.
const BASE: f32 = 0.73;
const NUMERAL_PT: f32 = 9.0;
const SLASH_PT: f32 = 11.0;
/// From a chord to the stroke of its next beat, so that it is not read as its bass.
const SLASH_APART_PT: f32 = 6.0;
/// Clear paper in a bar: before its chords, between two, and for its meter.
const PAD_PT: f32 = 7.0;
const REPEAT_PAD_PT: f32 = 15.0;
const APART_PT: f32 = 4.0;
const METER_PT: f32 = 14.0;
/// Room above bar lines for endings and how often is repeated.
const ABOVE_PT: f32 = 13.0;
const NAME_PT: f32 = 12.0;
/// The longest name that stands before a line, in letters, and its room.
const SHORT: usize = 2;
const GUTTER_PT: f32 = 28.0;

/// The sections as lines that are not cut; the name of a section stays with its first line.
pub(super) fn sections(sheet: &Sheet, width: f32, density: &Density, faces: &Faces) -> Vec<Block> {
    let all = || sheet.sections.iter().flat_map(|section| &section.bars);
    let numerals = all().any(|bar| bar.chords.iter().any(|chord| chord.numeral.is_some()));
    // Short names stand before the first line of their section, long ones above it.
    let named = sheet.sections.len() > 1 || sheet.sections.iter().any(|one| one.name != "A");
    let short = sheet
        .sections
        .iter()
        .all(|one| one.name.chars().count() <= SHORT);
    let gutter = if named && short { GUTTER_PT } else { 0.0 };
    let column_pt = (width - gutter) / f(COLUMNS);
    let wide = |bar: &SheetBar| {
        let least = least_width(bar, density, faces);
        let fits = |columns: &&usize| least <= f(**columns) * column_pt;
        WIDTHS.iter().find(fits).copied().unwrap_or(COLUMNS)
    };
    let mut blocks = Vec::new();
    let count = sheet.sections.len();
    for (index, section) in sheet.sections.iter().enumerate() {
        if named && !short {
            let drawing = name(&section.name, width, faces);
            blocks.push(Block {
                drawing,
                space_pt: 7.0,
                keeps: true,
            });
        }
        let lines = lines(&section.bars, &wide);
        let mut in_ending = false;
        for (number, bars) in lines.iter().enumerate() {
            let line = Line {
                bars,
                column_pt,
                numerals,
                density,
                faces,
                last_of_section: number + 1 == lines.len(),
                last_of_all: number + 1 == lines.len() && index + 1 == count,
            };
            let drawn = line.draw(width - gutter, &mut in_ending);
            let mut drawing = Drawing {
                width_pt: width,
                height_pt: drawn.height_pt,
                ..Drawing::default()
            };
            if number == 0 && gutter > 0.0 {
                let name = name(&section.name, GUTTER_PT, faces);
                let middle = drawn.height_pt - line.below() - density.tall_pt / 2.0;
                drawing.put(&name, (0.0, middle - name.height_pt / 2.0));
            }
            drawing.put(&drawn, (gutter, 0.0));
            let space = match (number, gutter > 0.0) {
                (0, true) => 9.0,
                (0, false) => 2.0,
                _ => 5.0,
            };
            blocks.push(Block::new(drawing, space));
        }
    }
    blocks
}

/// A bar, the column it begins in, and how many it takes.
type Placed<'a> = (&'a SheetBar, usize, usize);

/// Bars on lines of so many columns, each of as many as it needs.
fn lines<'a>(bars: &'a [SheetBar], wide: &dyn Fn(&SheetBar) -> usize) -> Vec<Vec<Placed<'a>>> {
    let mut lines: Vec<Vec<Placed<'a>>> = Vec::new();
    let mut at = COLUMNS;
    for bar in bars {
        let columns = wide(bar);
        if at + columns > COLUMNS {
            lines.push(Vec::new());
            at = 0;
        }
        if let Some(line) = lines.last_mut() {
            line.push((bar, at, columns));
        }
        at += columns;
    }
    lines
}

#[allow(clippy::cast_precision_loss)] // beats and bars of a line
fn f(count: usize) -> f32 {
    count as f32
}

/// A section's name in a frame.
fn name(text: &str, width: f32, faces: &Faces) -> Drawing {
    let mut words = Words::new(text, NAME_PT, Face::Bold, (5.0, NAME_PT + 1.0), Ink::Black);
    cut(&mut words, width - 12.0, faces);
    let right = faces.width_pt(&words) + 10.0;
    let (top, bottom) = (0.5, NAME_PT + 5.5);
    let mut drawing = Drawing {
        width_pt: width,
        height_pt: bottom + 1.0,
        ..Drawing::default()
    };
    drawing.items.push(Item::Track {
        points: vec![
            (0.5, top),
            (right, top),
            (right, bottom),
            (0.5, bottom),
            (0.5, top),
        ],
        width_pt: 0.8,
        ink: Ink::Black,
    });
    drawing.group(Role::Heading(2), vec![Item::Words(words)]);
    drawing
}

fn symbol(chord: &SheetChord, size_pt: f32) -> Words {
    Words::new(
        chord.symbol.clone(),
        size_pt,
        Face::Bold,
        (0.0, 0.0),
        Ink::Black,
    )
}

/// Clear paper before the chords of a bar.
fn pad(bar: &SheetBar) -> f32 {
    let sides = if bar.marks.opens {
        REPEAT_PAD_PT
    } else {
        PAD_PT
    };
    sides + bar.meter.map_or(0.0, |_| METER_PT)
}

fn behind(bar: &SheetBar) -> f32 {
    if bar.marks.closes.is_some() {
        REPEAT_PAD_PT
    } else {
        APART_PT
    }
}

/// How wide a bar has to be for its chords in their smallest letters.
fn least_width(bar: &SheetBar, density: &Density, faces: &Faces) -> f32 {
    let chords: f32 = bar
        .chords
        .iter()
        .map(|chord| faces.width_pt(&symbol(chord, density.symbol_pt)) * LEAST + APART_PT)
        .sum();
    pad(bar) + chords + behind(bar)
}

/// A line of the chart.
struct Line<'a> {
    bars: &'a [Placed<'a>],
    column_pt: f32,
    numerals: bool,
    density: &'a Density,
    faces: &'a Faces,
    last_of_section: bool,
    last_of_all: bool,
}

/// What a bar line does.
#[derive(Clone, Copy)]
struct BarLine {
    closes: Option<u32>,
    opens: bool,
    double: bool,
    last: bool,
}

impl Line<'_> {
    /// Room below the bar lines.
    fn below(&self) -> f32 {
        if self.numerals { NUMERAL_PT + 3.0 } else { 1.0 }
    }

    /// `in_ending` tells whether the line begins within an ending, and then whether it ends in one.
    fn draw(&self, width: f32, in_ending: &mut bool) -> Drawing {
        let above = |(bar, ..): &Placed<'_>| {
            !bar.marks.ending.is_empty() || bar.marks.closes.is_some_and(|times| times > 2)
        };
        let top = if *in_ending || self.bars.iter().any(above) {
            ABOVE_PT
        } else {
            2.0
        };
        let mut items = Vec::new();
        let (mut right, mut closes) = (0.0, None);
        for (index, (bar, column, columns)) in self.bars.iter().enumerate() {
            let left = f(*column) * self.column_pt;
            let line = BarLine {
                closes,
                opens: bar.marks.opens,
                double: false,
                last: false,
            };
            bar_line(&mut items, (left, top), self.density.tall_pt, line);
            right = f(column + columns) * self.column_pt;
            closes = bar.marks.closes;
            self.ending(&mut items, index, (left, right, top), in_ending);
            self.chords(&mut items, bar, (left, right, top));
        }
        let line = BarLine {
            closes,
            opens: false,
            double: self.last_of_section && !self.last_of_all,
            last: self.last_of_all,
        };
        bar_line(&mut items, (right, top), self.density.tall_pt, line);
        let mut drawing = Drawing {
            width_pt: width,
            height_pt: top + self.density.tall_pt + self.below(),
            ..Drawing::default()
        };
        drawing.group(Role::Paragraph, items);
        drawing
    }

    /// The bracket over an ending: from its first bar to where it goes back, or to the end of its last bar.
    fn ending(
        &self,
        items: &mut Vec<Item>,
        index: usize,
        (left, right, top): (f32, f32, f32),
        in_ending: &mut bool,
    ) {
        let Some((bar, ..)) = self.bars.get(index) else {
            return;
        };
        let begins = !bar.marks.ending.is_empty();
        if begins {
            *in_ending = true;
            let numbers: Vec<String> = bar.marks.ending.iter().map(|n| format!("{n}.")).collect();
            let words = Words::new(
                numbers.join(" "),
                8.0,
                Face::Bold,
                (left + 5.0, top - 3.5),
                Ink::Black,
            );
            let sign = Role::Sign(format!("[{}", numbers.concat()));
            items.push(Item::Group {
                role: sign,
                items: vec![Item::Words(words)],
            });
        }
        if !*in_ending {
            return;
        }
        let y = top - ABOVE_PT + 1.5;
        let line = |from, to| Item::Line {
            from,
            to,
            width_pt: 0.8,
            ink: Ink::Black,
        };
        let right = right - 3.0;
        items.push(line(
            (left + if begins { 1.0 } else { -3.0 }, y),
            (right, y),
        ));
        if begins {
            items.push(line((left + 1.0, y), (left + 1.0, top - 1.5)));
        }
        let next = self.bars.get(index + 1);
        let over = next.map_or(self.last_of_section, |(next, ..)| {
            !next.marks.ending.is_empty() || next.marks.opens
        });
        if bar.marks.closes.is_some() || over {
            *in_ending = false;
            if bar.marks.closes.is_some() {
                items.push(line((right, y), (right, top - 1.5)));
            }
        }
    }

    fn chords(&self, items: &mut Vec<Item>, bar: &SheetBar, (left, right, top): (f32, f32, f32)) {
        if let Some(meter) = &bar.meter {
            let x = left
                + if bar.marks.opens {
                    REPEAT_PAD_PT
                } else {
                    PAD_PT - 2.0
                };
            items.push(meter_sign(meter, (x, top), self.density.tall_pt));
        }
        let from = left + pad(bar);
        let room = right - from - behind(bar);
        if bar.marks.simile {
            items.push(simile((
                from + room / 2.0 - PAD_PT / 2.0,
                top + self.density.tall_pt / 2.0,
            )));
            return;
        }
        let beat = room / f(bar.beats.max(1) as usize);
        // One size for all chords of a bar: so small that none reaches the next.
        let wide: Vec<f32> = bar
            .chords
            .iter()
            .map(|chord| self.faces.width_pt(&symbol(chord, self.density.symbol_pt)))
            .collect();
        let fits = |(chord, wide): (&SheetChord, &f32)| {
            (f(chord.beats as usize) * beat - APART_PT) / wide.max(0.1)
        };
        let by_beats = bar.chords.iter().zip(&wide).map(fits).fold(1.0, f32::min);
        let all: f32 = wide.iter().sum::<f32>() + APART_PT * f(wide.len());
        let packed = by_beats < LEAST;
        let scale = if packed {
            let apart = APART_PT * f(wide.len());
            ((room - apart).max(room * 0.5) / (all - apart).max(0.1)).min(1.0)
        } else {
            by_beats
        };
        let mut next = from;
        for (chord, wide) in bar.chords.iter().zip(&wide) {
            let at = if packed {
                next
            } else {
                from + f(chord.beat as usize) * beat
            };
            let y = top + self.density.tall_pt * BASE;
            items.push(Item::Words(Words {
                at: (at, y),
                ..symbol(chord, self.density.symbol_pt * scale)
            }));
            self.numeral(
                items,
                chord,
                (at, top),
                (wide * scale + APART_PT).max(beat * f(chord.beats as usize)),
            );
            next = at + wide * scale + APART_PT.min(room / f(2 * bar.chords.len().max(1)));
            if bar.slashed && !packed {
                let behind = at + wide * scale;
                for later in 1..chord.beats {
                    let x = from + f((chord.beat + later) as usize) * beat;
                    // A stroke under a chord is left out of the picture, not of the text.
                    let place = x.max(behind + SLASH_APART_PT);
                    items.push(Item::Words(Words::new(
                        "/",
                        SLASH_PT,
                        Face::Plain,
                        (place, y - 1.0),
                        Ink::Gray,
                    )));
                }
            }
        }
    }

    fn numeral(&self, items: &mut Vec<Item>, chord: &SheetChord, (x, top): (f32, f32), room: f32) {
        let Some(numeral) = &chord.numeral else {
            return;
        };
        let at = (x, top + self.density.tall_pt + NUMERAL_PT - 0.5);
        let mut words = Words::new(numeral.clone(), NUMERAL_PT, Face::Plain, at, Ink::Gray);
        let wide = self.faces.width_pt(&words);
        if wide > room {
            words.size_pt *= room / wide;
        }
        items.push(Item::Words(words));
    }
}

/// A meter as two numbers over one another.
fn meter_sign(meter: &Meter, (x, top): (f32, f32), tall: f32) -> Item {
    let number = |text: String, y| {
        let words = Words::new(text, 10.0, Face::Bold, (x + 5.0, y), Ink::Black);
        Item::Words(words.anchored(Anchor::Middle))
    };
    Item::Group {
        role: Role::Sign(format!("({meter})")),
        items: vec![
            number(meter.numerator().to_string(), top + tall * 0.44),
            number(meter.denominator().to_string(), top + tall * 0.88),
        ],
    }
}

/// The sign for the bar before once more: a slanted stroke between two points.
fn simile((x, y): (f32, f32)) -> Item {
    let point = |dx: f32, dy: f32| Item::Round {
        center: (x + dx, y + dy),
        radius_pt: 1.5,
        fill: Ink::Black,
        edge: Ink::Black,
        edge_pt: 0.2,
    };
    Item::Group {
        role: Role::Sign("%".to_owned()),
        items: vec![
            Item::Line {
                from: (x - 5.0, y + 5.5),
                to: (x + 5.0, y - 5.5),
                width_pt: 2.4,
                ink: Ink::Black,
            },
            point(-5.0, -3.0),
            point(5.0, 3.0),
        ],
    }
}

/// A bar line, with thick strokes and points where it repeats.
fn bar_line(items: &mut Vec<Item>, (x, top): (f32, f32), tall: f32, line: BarLine) {
    let bottom = top + tall;
    let stroke = |x: f32, width_pt: f32| Item::Line {
        from: (x, top),
        to: (x, bottom),
        width_pt,
        ink: Ink::Black,
    };
    let points = |x: f32| {
        [-4.0, 4.0].map(|up| Item::Round {
            center: (x, top + tall / 2.0 + up),
            radius_pt: 1.4,
            fill: Ink::Black,
            edge: Ink::Black,
            edge_pt: 0.2,
        })
    };
    let mut drawn = vec![];
    let mut text = String::new();
    if let Some(times) = line.closes {
        drawn.push(stroke(x - 1.2, 2.4));
        drawn.push(stroke(x - 4.2, 0.8));
        drawn.extend(points(x - 7.6));
        text += ":|";
        if times > 2 {
            text += &format!("x{times}");
            let (text, at) = (format!("\u{D7}{times}"), (x - 1.0, top - 3.0));
            let words = Words::new(text, 9.0, Face::Bold, at, Ink::Black);
            drawn.push(Item::Words(words.anchored(Anchor::End)));
        }
    }
    if line.opens {
        let from = if line.closes.is_some() { 2.4 } else { 1.2 };
        drawn.push(stroke(x + from, 2.4));
        drawn.push(stroke(x + from + 3.0, 0.8));
        drawn.extend(points(x + from + 6.4));
        text += match line.closes {
            None => "|:",
            Some(2) => ":",
            Some(_) => " |:",
        };
    }
    if text.is_empty() {
        text.push('|');
        if line.last {
            drawn.push(stroke(x - 1.2, 2.4));
            drawn.push(stroke(x - 4.4, 0.8));
        } else {
            drawn.push(stroke(x, 0.9));
            if line.double {
                drawn.push(stroke(x - 2.6, 0.9));
            }
        }
    }
    items.push(Item::Group {
        role: Role::Sign(text),
        items: drawn,
    });
}
