//! A stretch of the neck with what lies on it, drawn along the strings or as an upright box.

use super::drawing::{Anchor, Drawing, Face, Ink, Item, Words};

/// From one string to the next, and from one fret to the next, drawn along the strings.
const STRING_PT: f32 = 24.0;
const FRET_PT: f32 = 42.0;
/// The same in an upright box.
const BOX_STRING_PT: f32 = 22.0;
const BOX_FRET_PT: f32 = 28.0;
/// The edge of a ring.
const EDGE_PT: f32 = 1.4;
/// Half the size of a stop: rings and squares.
const STOP_PT: f32 = 9.5;
/// The letters on a stop; so much smaller for three letters.
const LABEL_PT: f32 = 12.0;
const SMALL_LABEL: f32 = 0.75;
/// Names of strings and numbers of frets.
const SIDE_PT: f32 = 10.0;
/// Room for them, and for what sounds open.
const NAMES_PT: f32 = 22.0;
const OPEN_PT: f32 = 26.0;
const NUMBERS_PT: f32 = 18.0;
const BOX_NUMBERS_PT: f32 = 27.0;
/// Clear paper around all.
const MARGIN_PT: f32 = 8.0;
const NUT_PT: f32 = 4.0;

/// How large an upright box is drawn, in points.
struct BoxSize {
    string_pt: f32,
    fret_pt: f32,
    stop_pt: f32,
    /// How wide the edge of a ring is.
    edge_pt: f32,
    label_pt: f32,
    side_pt: f32,
    /// Room at the left, for numbers of frets.
    numbers_pt: f32,
    margin_pt: f32,
    /// Names below the strings, and a number at every fret, not at the first alone.
    named: bool,
}

/// By itself, to be read across a room.
const LARGE_BOX: BoxSize = BoxSize {
    string_pt: BOX_STRING_PT,
    fret_pt: BOX_FRET_PT,
    stop_pt: STOP_PT,
    edge_pt: EDGE_PT,
    label_pt: LABEL_PT,
    side_pt: SIDE_PT,
    numbers_pt: BOX_NUMBERS_PT,
    margin_pt: MARGIN_PT,
    named: true,
};

/// In a row of many, on a sheet.
const SMALL_BOX: BoxSize = BoxSize {
    string_pt: 10.0,
    fret_pt: 13.0,
    stop_pt: 4.6,
    edge_pt: 0.9,
    label_pt: 7.0,
    side_pt: 7.0,
    numbers_pt: 15.0,
    margin_pt: 2.0,
    named: false,
};

/// What lies on a string at a fret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stop {
    /// The string, counted from 0, the lowest.
    pub string: usize,
    /// The fret, counted from the capo; 0 beside the nut.
    pub fret: u8,
    /// What is written on it: a degree, a note or a finger.
    pub label: String,
    /// Whether it is the root.
    pub root: bool,
}

/// A stretch of the neck with what lies on it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Board {
    /// The names of the strings, the lowest first.
    pub strings: Vec<String>,
    /// The lowest fret that is drawn, 1 or more.
    pub from: u8,
    /// The highest.
    pub to: u8,
    /// What sounds.
    pub stops: Vec<Stop>,
    /// Strings that are not played, counted from 0, the lowest.
    pub muted: Vec<usize>,
    /// Fingers laid flat: the fret, and the lowest and highest string, counted from 0.
    pub barres: Vec<(u8, usize, usize)>,
    /// Inlays at frets: how many.
    pub inlays: Vec<(u8, u8)>,
    /// Mirrored, for a left-handed player.
    pub left: bool,
    /// What it shows, for those who cannot see it.
    pub about: String,
}

#[allow(clippy::cast_precision_loss)] // at most 36
fn f(count: usize) -> f32 {
    count as f32
}

impl Board {
    fn frets(&self) -> usize {
        usize::from((self.to + 1).saturating_sub(self.from))
    }

    /// The same, drawn no further than to a fret.
    #[must_use]
    pub fn up_to(mut self, fret: u8) -> Board {
        self.to = self.to.min(fret);
        self.inlays.retain(|(inlay, _)| *inlay <= fret);
        self
    }

    /// A ring or a square with its label.
    fn stop(drawing: &mut Drawing, stop: &Stop, size: &BoxSize, (x, y): (f32, f32)) {
        let half = size.stop_pt;
        let ink = if stop.root {
            drawing.items.push(Item::Block {
                corner: (x - half, y - half),
                size: (2.0 * half, 2.0 * half),
                round_pt: 1.5,
                fill: Ink::Black,
            });
            Ink::White
        } else {
            drawing.items.push(Item::Round {
                center: (x, y),
                radius_pt: half,
                fill: Ink::White,
                edge: Ink::Black,
                edge_pt: size.edge_pt,
            });
            Ink::Black
        };
        let size_pt = if stop.label.chars().count() > 2 {
            size.label_pt * SMALL_LABEL
        } else {
            size.label_pt
        };
        drawing.words(Words {
            at: (x, y + size_pt * 0.36),
            size_pt,
            face: Face::Bold,
            anchor: Anchor::Middle,
            ink,
            text: stop.label.as_str().into(),
        });
    }

    fn side(text: String, at: (f32, f32), anchor: Anchor) -> Words {
        let at = (at.0, at.1 + SIDE_PT * 0.36);
        Words::new(text, SIDE_PT, Face::Plain, at, Ink::Gray).anchored(anchor)
    }

    /// How wide and how dark the line before the first fret that is drawn is: the nut, or a fret.
    fn nut(&self) -> (f32, Ink) {
        if self.from == 1 {
            (NUT_PT, Ink::Black)
        } else {
            (1.0, Ink::Gray)
        }
    }

    /// Puts down what lies on the board: strings that are not played, fingers laid flat, and what sounds. `place` gives the
    /// point on a string at a fret, or beside the nut.
    fn put_on(
        &self,
        drawing: &mut Drawing,
        size: &BoxSize,
        place: &dyn Fn(usize, Option<u8>) -> (f32, f32),
    ) {
        let drawn = |fret: u8| (self.from..=self.to).contains(&fret);
        for string in &self.muted {
            let at = place(*string, None);
            drawing.words(Words {
                at: (at.0, at.1 + size.side_pt * 0.36),
                size_pt: size.side_pt,
                face: Face::Bold,
                ink: Ink::Black,
                ..Self::side("x".to_owned(), at, Anchor::Middle)
            });
        }
        let half = size.stop_pt * 0.6;
        for (fret, low, high) in self.barres.iter().filter(|barre| drawn(barre.0)) {
            let (a, b) = (place(*low, Some(*fret)), place(*high, Some(*fret)));
            drawing.items.push(Item::Block {
                corner: (a.0.min(b.0) - half, a.1.min(b.1) - half),
                size: (
                    (a.0 - b.0).abs() + 2.0 * half,
                    (a.1 - b.1).abs() + 2.0 * half,
                ),
                round_pt: half,
                fill: Ink::Light,
            });
        }
        for stop in &self.stops {
            let fret = (stop.fret > 0).then_some(stop.fret);
            if fret.is_none_or(drawn) {
                Self::stop(drawing, stop, size, place(stop.string, fret));
            }
        }
    }

    /// The board along the strings: the highest string on top, as a player sees it looking down; the nut at the left, for a
    /// left-handed player at the right.
    pub fn along(&self) -> Drawing {
        let (strings, frets) = (self.strings.len(), self.frets());
        let beside = !self.muted.is_empty() || self.stops.iter().any(|stop| stop.fret == 0);
        let head = MARGIN_PT + NAMES_PT + if beside { OPEN_PT } else { 0.0 };
        let width = head + f(frets) * FRET_PT + MARGIN_PT + 6.0;
        let top = MARGIN_PT + NUMBERS_PT + STOP_PT;
        let bottom = top + f(strings.saturating_sub(1)) * STRING_PT;
        let mut drawing = Drawing {
            width_pt: width,
            height_pt: bottom + STOP_PT + NUMBERS_PT + MARGIN_PT,
            about: self.about.clone(),
            ..Drawing::default()
        };
        let x = |from_nut: f32| {
            if self.left {
                width - from_nut
            } else {
                from_nut
            }
        };
        let y = |string: usize| bottom - f(string) * STRING_PT;
        let wire = |fret: usize| x(head + f(fret) * FRET_PT);
        for fret in 1..=frets {
            drawing.line((wire(fret), top), (wire(fret), bottom), 1.0, Ink::Gray);
        }
        let (nut, ink) = self.nut();
        drawing.line((wire(0), top), (wire(0), bottom), nut, ink);
        for string in 0..strings {
            // Lower strings are thicker.
            let thick = 0.8 + 0.25 * f(strings - 1 - string);
            drawing.line(
                (wire(0), y(string)),
                (x(width - MARGIN_PT), y(string)),
                thick,
                Ink::Gray,
            );
        }
        let middle = |fret: u8| x(head + (f32::from(fret - self.from) + 0.5) * FRET_PT);
        for fret in self.from..=self.to {
            let at = (middle(fret), MARGIN_PT + NUMBERS_PT / 2.0);
            drawing.words(Self::side(format!("{fret}fr"), at, Anchor::Middle));
        }
        for (fret, count) in &self.inlays {
            if !(self.from..=self.to).contains(fret) {
                continue;
            }
            for one in 0..*count {
                let aside = (f32::from(one) - f32::from(count - 1) / 2.0) * 9.0;
                drawing.items.push(Item::Round {
                    center: (middle(*fret) + aside, bottom + STOP_PT + NUMBERS_PT / 2.0),
                    radius_pt: 2.2,
                    fill: Ink::Gray,
                    edge: Ink::Gray,
                    edge_pt: EDGE_PT,
                });
            }
        }
        let open = x(MARGIN_PT + NAMES_PT + OPEN_PT / 2.0 - 2.0);
        for (string, name) in self.strings.iter().enumerate() {
            let anchor = if self.left {
                Anchor::End
            } else {
                Anchor::Start
            };
            drawing.words(Self::side(name.clone(), (x(MARGIN_PT), y(string)), anchor));
        }
        let place = |string, fret: Option<u8>| (fret.map_or(open, middle), y(string));
        self.put_on(&mut drawing, &LARGE_BOX, &place);
        drawing
    }

    /// The board as an upright box: the nut on top, the lowest string at the left, for a left-handed player at the right.
    pub fn upright(&self) -> Drawing {
        self.boxed(&LARGE_BOX)
    }

    /// The same for a row of many: smaller, with the number of its first fret alone, where that is not the first of the neck.
    pub fn small(&self) -> Drawing {
        self.boxed(&SMALL_BOX)
    }

    fn boxed(&self, size: &BoxSize) -> Drawing {
        let (strings, frets) = (self.strings.len(), self.frets());
        let (margin, stop) = (size.margin_pt, size.stop_pt);
        let left = margin + size.numbers_pt + stop;
        let width = left + f(strings.saturating_sub(1)) * size.string_pt + stop + margin + 4.0;
        let top = margin + 2.0 * stop + if size.named { 6.0 } else { 3.0 };
        let bottom = top + f(frets) * size.fret_pt;
        let below = if size.named { NUMBERS_PT } else { 1.0 };
        let mut drawing = Drawing {
            width_pt: width,
            height_pt: bottom + below + margin,
            about: self.about.clone(),
            ..Drawing::default()
        };
        let last = strings.saturating_sub(1);
        let x = |string: usize| {
            let place = if self.left {
                last - string.min(last)
            } else {
                string
            };
            left + f(place) * size.string_pt
        };
        let wire = |fret: usize| top + f(fret) * size.fret_pt;
        for fret in 1..=frets {
            drawing.line((x(0), wire(fret)), (x(last), wire(fret)), 1.0, Ink::Gray);
        }
        let (nut, ink) = self.nut();
        let nut = if size.named { nut } else { nut.min(2.5) };
        drawing.line((x(0), wire(0)), (x(last), wire(0)), nut, ink);
        for (string, name) in self.strings.iter().enumerate() {
            let thick = 0.8 + 0.2 * f(last - string);
            let thick = if size.named { thick } else { 0.8 };
            drawing.line((x(string), top), (x(string), bottom), thick, Ink::Gray);
            if size.named {
                let at = (x(string), bottom + NUMBERS_PT / 2.0 + 2.0);
                drawing.words(Self::side(name.clone(), at, Anchor::Middle));
            }
        }
        let middle = |fret: u8| top + (f32::from(fret - self.from) + 0.5) * size.fret_pt;
        let numbered = |fret: &u8| size.named || (*fret == self.from && *fret > 1);
        for fret in (self.from..=self.to).filter(numbered) {
            let apart = if size.named { 6.0 } else { 3.0 };
            let at = (left - stop - apart, middle(fret) + size.side_pt * 0.36);
            drawing.words(Words {
                at,
                size_pt: size.side_pt,
                ..Self::side(format!("{fret}fr"), at, Anchor::End)
            });
        }
        let open = top - stop - if size.named { 4.0 } else { 2.0 };
        let place = |string, fret: Option<u8>| (x(string), fret.map_or(open, middle));
        self.put_on(&mut drawing, size, &place);
        drawing
    }
}
