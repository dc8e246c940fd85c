//! A stretch of the neck with what lies on it, drawn along the strings or as an upright box.

use super::drawing::{Anchor, Drawing, Face, Ink, Item, Words};

/// From one string to the next, and from one fret to the next, drawn along the strings.
const STRING_PT: f32 = 24.0;
const FRET_PT: f32 = 42.0;
/// The same in an upright box.
const BOX_STRING_PT: f32 = 22.0;
const BOX_FRET_PT: f32 = 28.0;
/// Half the size of a stop: rings and squares.
const STOP_PT: f32 = 9.5;
/// The letters on a stop; smaller for three letters.
const LABEL_PT: f32 = 12.0;
const SMALL_LABEL_PT: f32 = 9.0;
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

    /// A ring or a square with its label.
    fn stop(drawing: &mut Drawing, stop: &Stop, (x, y): (f32, f32)) {
        let ink = if stop.root {
            drawing.items.push(Item::Block {
                corner: (x - STOP_PT, y - STOP_PT),
                size: (2.0 * STOP_PT, 2.0 * STOP_PT),
                round_pt: 1.5,
                fill: Ink::Black,
            });
            Ink::White
        } else {
            drawing.items.push(Item::Round {
                center: (x, y),
                radius_pt: STOP_PT,
                fill: Ink::White,
                edge: Ink::Black,
            });
            Ink::Black
        };
        let size_pt = if stop.label.chars().count() > 2 {
            SMALL_LABEL_PT
        } else {
            LABEL_PT
        };
        drawing.words(Words {
            at: (x, y + size_pt * 0.36),
            size_pt,
            face: Face::Bold,
            anchor: Anchor::Middle,
            ink,
            text: stop.label.clone(),
        });
    }

    fn side(text: String, at: (f32, f32), anchor: Anchor) -> Words {
        Words {
            at: (at.0, at.1 + SIDE_PT * 0.36),
            size_pt: SIDE_PT,
            face: Face::Plain,
            anchor,
            ink: Ink::Gray,
            text,
        }
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
    fn put_on(&self, drawing: &mut Drawing, place: &dyn Fn(usize, Option<u8>) -> (f32, f32)) {
        let drawn = |fret: u8| (self.from..=self.to).contains(&fret);
        for string in &self.muted {
            drawing.words(Words {
                face: Face::Bold,
                ink: Ink::Black,
                ..Self::side("x".to_owned(), place(*string, None), Anchor::Middle)
            });
        }
        let half = STOP_PT * 0.6;
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
                Self::stop(drawing, stop, place(stop.string, fret));
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
        self.put_on(&mut drawing, &|string, fret| {
            (fret.map_or(open, middle), y(string))
        });
        drawing
    }

    /// The board as an upright box: the nut on top, the lowest string at the left, for a left-handed player at the right.
    pub fn upright(&self) -> Drawing {
        let (strings, frets) = (self.strings.len(), self.frets());
        let left = MARGIN_PT + BOX_NUMBERS_PT + STOP_PT;
        let width = left + f(strings.saturating_sub(1)) * BOX_STRING_PT + STOP_PT + MARGIN_PT + 4.0;
        let top = MARGIN_PT + 2.0 * STOP_PT + 6.0;
        let bottom = top + f(frets) * BOX_FRET_PT;
        let mut drawing = Drawing {
            width_pt: width,
            height_pt: bottom + NUMBERS_PT + MARGIN_PT,
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
            left + f(place) * BOX_STRING_PT
        };
        let wire = |fret: usize| top + f(fret) * BOX_FRET_PT;
        for fret in 1..=frets {
            drawing.line((x(0), wire(fret)), (x(last), wire(fret)), 1.0, Ink::Gray);
        }
        let (nut, ink) = self.nut();
        drawing.line((x(0), wire(0)), (x(last), wire(0)), nut, ink);
        for (string, name) in self.strings.iter().enumerate() {
            let thick = 0.8 + 0.2 * f(last - string);
            drawing.line((x(string), top), (x(string), bottom), thick, Ink::Gray);
            let at = (x(string), bottom + NUMBERS_PT / 2.0 + 2.0);
            drawing.words(Self::side(name.clone(), at, Anchor::Middle));
        }
        let middle = |fret: u8| top + (f32::from(fret - self.from) + 0.5) * BOX_FRET_PT;
        for fret in self.from..=self.to {
            let at = (left - STOP_PT - 6.0, middle(fret));
            drawing.words(Self::side(format!("{fret}fr"), at, Anchor::End));
        }
        let open = top - STOP_PT - 4.0;
        self.put_on(&mut drawing, &|string, fret| {
            (x(string), fret.map_or(open, middle))
        });
        drawing
    }
}
