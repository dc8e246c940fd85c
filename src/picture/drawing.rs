//! A drawing: lines, shapes and words at places on a page. Places are in points (1/72 inch) from the upper left corner,
//! down and to the right.

/// Raised letters are so much smaller, and so much higher by the body of the letters before.
pub(super) const RAISED_SIZE: f32 = 0.7;
pub(super) const RAISED_RISE: f32 = 0.34;

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

/// A stretch of words of one size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// The letters, with the signs of music in place of `b` and `#`.
    pub text: String,
    /// Whether they are smaller and higher, as the figures of a chord symbol are.
    pub raised: bool,
}

/// What words say: stretches one behind the other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Text(Vec<Run>);

impl Text {
    /// The stretches.
    pub fn runs(&self) -> &[Run] {
        &self.0
    }

    /// Whether it has no letters.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|run| run.text.is_empty())
    }

    /// All letters, as if of one size.
    pub fn plain(&self) -> String {
        self.0.iter().map(|run| run.text.as_str()).collect()
    }

    /// Adds a stretch; what is like the one before becomes part of it.
    pub fn push(&mut self, text: &str, raised: bool) {
        match self.0.last_mut() {
            Some(last) if last.raised == raised => last.text.push_str(text),
            _ => self.0.push(Run {
                text: text.to_owned(),
                raised,
            }),
        }
    }
}

impl From<String> for Text {
    fn from(text: String) -> Self {
        Text(vec![Run {
            text,
            raised: false,
        }])
    }
}

impl From<&str> for Text {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
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
    /// What they say.
    pub text: Text,
}

impl Words {
    /// Words that begin at a place.
    pub fn new(text: impl Into<Text>, size_pt: f32, face: Face, at: (f32, f32), ink: Ink) -> Words {
        Words {
            at,
            size_pt,
            face,
            anchor: Anchor::Start,
            ink,
            text: text.into(),
        }
    }

    /// The same, with another point of them at their place.
    #[must_use]
    pub fn anchored(self, anchor: Anchor) -> Words {
        Words { anchor, ..self }
    }
}

/// What a group of things is to somebody who has it read aloud, or copies its text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// A heading, of level 1 or lower.
    Heading(u8),
    /// A paragraph.
    Paragraph,
    /// A picture: what it shows, in words.
    Figure(String),
    /// Something drawn that stands for a few letters.
    Sign(String),
    /// What is not read aloud: numbers of pages, lines to write on.
    Ornament,
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
    /// A line through several points.
    Track {
        /// The points, in their order.
        points: Vec<(f32, f32)>,
        /// How wide it is.
        width_pt: f32,
        /// How dark it is.
        ink: Ink,
    },
    /// A shape with straight sides.
    Shape {
        /// Its corners, in their order.
        points: Vec<(f32, f32)>,
        /// What it is filled with.
        fill: Ink,
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
        /// How wide the edge is.
        edge_pt: f32,
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
    /// Several things that are one thing to a reader.
    Group {
        /// What they are.
        role: Role,
        /// They themselves.
        items: Vec<Item>,
    },
}

impl Item {
    /// The same, so many times as large, and then moved.
    fn placed(&self, (dx, dy): (f32, f32), scale: f32) -> Item {
        let place = |(x, y): (f32, f32)| (x * scale + dx, y * scale + dy);
        let mut same = self.clone();
        match &mut same {
            Item::Line {
                from, to, width_pt, ..
            } => {
                (*from, *to) = (place(*from), place(*to));
                *width_pt *= scale;
            }
            Item::Track {
                points, width_pt, ..
            } => {
                points.iter_mut().for_each(|point| *point = place(*point));
                *width_pt *= scale;
            }
            Item::Shape { points, .. } => {
                points.iter_mut().for_each(|point| *point = place(*point));
            }
            Item::Round {
                center,
                radius_pt,
                edge_pt,
                ..
            } => {
                *center = place(*center);
                *radius_pt *= scale;
                *edge_pt *= scale;
            }
            Item::Block {
                corner,
                size,
                round_pt,
                ..
            } => {
                *corner = place(*corner);
                *size = (size.0 * scale, size.1 * scale);
                *round_pt *= scale;
            }
            Item::Words(words) => {
                words.at = place(words.at);
                words.size_pt *= scale;
            }
            Item::Group { items, .. } => {
                for item in items {
                    *item = item.placed((dx, dy), scale);
                }
            }
        }
        same
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
            .extend(other.items.iter().map(|item| item.placed(at, 1.0)));
    }

    /// The same, so many times as large.
    #[must_use]
    pub fn scaled(&self, scale: f32) -> Drawing {
        Drawing {
            width_pt: self.width_pt * scale,
            height_pt: self.height_pt * scale,
            items: self
                .items
                .iter()
                .map(|item| item.placed((0.0, 0.0), scale))
                .collect(),
            ..self.clone()
        }
    }

    /// Makes one group of all that is drawn.
    #[must_use]
    pub fn grouped(mut self, role: Role) -> Drawing {
        let items = std::mem::take(&mut self.items);
        self.group(role, items);
        self
    }

    /// Makes one figure of all that is drawn, described by what it shows.
    #[must_use]
    pub fn figure(self) -> Drawing {
        let about = self.about.clone();
        self.grouped(Role::Figure(about))
    }

    /// Adds a group, unless it is empty.
    pub fn group(&mut self, role: Role, items: Vec<Item>) {
        if !items.is_empty() {
            self.items.push(Item::Group { role, items });
        }
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
