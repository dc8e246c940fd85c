//! A drawing: lines, shapes and words at places on a page. Places are in points (1/72 inch) from the upper left corner,
//! down and to the right.

/// How wide the edge of a round shape is.
pub(super) const EDGE_PT: f32 = 1.4;

/// How dark something is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Black: what must be read.
    Black,
    /// Gray: strings, frets, captions.
    Gray,
    /// A light gray to lay under other things.
    Light,
    /// White: the paper itself.
    White,
}

impl Ink {
    /// Red, green and blue alike, 0 to 255.
    pub const fn level(self) -> u8 {
        match self {
            Ink::Black => 0x00,
            Ink::Gray => 0x59,
            Ink::Light => 0xD9,
            Ink::White => 0xFF,
        }
    }
}

/// The letters that words are set in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// For captions.
    Plain,
    /// For titles and what stands on the strings.
    Bold,
}

/// Which point of the words their place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Their left end.
    Start,
    /// Their middle.
    Middle,
    /// Their right end.
    End,
}

/// Words on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// Place of the anchor on the line that the letters stand on.
    pub at: (f32, f32),
    /// Height of the letters' body in points.
    pub size_pt: f32,
    /// The letters.
    pub face: Face,
    /// What lies at the place.
    pub anchor: Anchor,
    /// How dark they are.
    pub ink: Ink,
    /// The words, with the signs of music in place of `b` and `#`.
    pub text: String,
}

/// One thing that is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A straight line.
    Line {
        /// Where it begins.
        from: (f32, f32),
        /// Where it ends.
        to: (f32, f32),
        /// How wide it is.
        width_pt: f32,
        /// How dark it is.
        ink: Ink,
    },
    /// A round shape.
    Round {
        /// Its middle.
        center: (f32, f32),
        /// From the middle to the edge.
        radius_pt: f32,
        /// What it is filled with.
        fill: Ink,
        /// Its edge.
        edge: Ink,
    },
    /// A rectangle with sides along the page.
    Block {
        /// Its upper left corner.
        corner: (f32, f32),
        /// Width and height.
        size: (f32, f32),
        /// How far its corners are rounded.
        round_pt: f32,
        /// What it is filled with.
        fill: Ink,
    },
    /// Words.
    Words(Words),
}

impl Item {
    fn moved(&self, (dx, dy): (f32, f32)) -> Item {
        let place = |(x, y): (f32, f32)| (x + dx, y + dy);
        match self.clone() {
            Item::Line {
                from,
                to,
                width_pt,
                ink,
            } => Item::Line {
                from: place(from),
                to: place(to),
                width_pt,
                ink,
            },
            Item::Round {
                center,
                radius_pt,
                fill,
                edge,
            } => Item::Round {
                center: place(center),
                radius_pt,
                fill,
                edge,
            },
            Item::Block {
                corner,
                size,
                round_pt,
                fill,
            } => Item::Block {
                corner: place(corner),
                size,
                round_pt,
                fill,
            },
            Item::Words(words) => Item::Words(Words {
                at: place(words.at),
                ..words
            }),
        }
    }
}

/// A drawing and what it shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Width in points.
    pub width_pt: f32,
    /// Height in points.
    pub height_pt: f32,
    /// What it is, in a few words.
    pub title: String,
    /// What it shows, for those who cannot see it.
    pub about: String,
    /// What is drawn, the lowest first.
    pub items: Vec<Item>,
}

impl Drawing {
    /// Draws another drawing into this one, its upper left corner at a place.
    pub fn put(&mut self, other: &Drawing, at: (f32, f32)) {
        self.items
            .extend(other.items.iter().map(|item| item.moved(at)));
    }

    pub(super) fn line(&mut self, from: (f32, f32), to: (f32, f32), width_pt: f32, ink: Ink) {
        self.items.push(Item::Line {
            from,
            to,
            width_pt,
            ink,
        });
    }

    pub(super) fn words(&mut self, words: Words) {
        if !words.text.is_empty() {
            self.items.push(Item::Words(words));
        }
    }
}
