//! The letters of pictures: Open Sans for words (Apache License 2.0) and Bravura for the signs of music (SIL Open Font
//! License 1.1). Both lie in `faces` with their licenses.

use ttf_parser::{Face as Outlines, GlyphId};

use super::drawing::{Anchor, Face, RAISED_RISE, RAISED_SIZE, Words};

const PLAIN: &[u8] = include_bytes!("faces/OpenSans-Regular.ttf");
const BOLD: &[u8] = include_bytes!("faces/OpenSans-Bold.ttf");
const MUSIC: &[u8] = include_bytes!("faces/Bravura.otf");

/// The signs that are drawn by Bravura: as they are written, the glyph (by SMuFL, which puts the triangle of a major seventh at
/// U+E873), their size beside letters, and how far they are raised by the letters' body, so that they look alike.
const SIGNS: [(char, char, f32, f32); 4] = [
    ('\u{266D}', '\u{266D}', 1.35, 0.28),
    ('\u{266E}', '\u{266E}', 1.35, 0.28),
    ('\u{266F}', '\u{266F}', 1.35, 0.28),
    ('\u{25B3}', '\u{E873}', 1.25, 0.0),
];
/// What stands for a letter that no font has.
const INSTEAD: char = '\u{25CA}';

/// Whether a letter has no form of its own: control characters, joiners, marks of direction, variants.
fn is_unseen(letter: char) -> bool {
    letter.is_control()
        || matches!(letter, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFFE}' | '\u{FFFF}')
}

/// Clear paper at both sides of a sign, by the body of the letters.
const BESIDE: f32 = 0.05;

/// Which of the fonts a letter is set in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Font {
    Plain,
    Bold,
    Music,
}

impl Font {
    /// The bytes of its file.
    #[cfg(feature = "pdf")]
    pub(super) const fn bytes(self) -> &'static [u8] {
        match self {
            Font::Plain => PLAIN,
            Font::Bold => BOLD,
            Font::Music => MUSIC,
        }
    }
}

/// A letter as it is set: which font, which glyph, how far it reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Letter {
    pub(super) letter: char,
    pub(super) font: Font,
    pub(super) glyph: GlyphId,
    /// From the left end of the words to the letter's own left end.
    pub(super) x_pt: f32,
    /// How far it reaches to the next.
    pub(super) advance_pt: f32,
    /// How far it is raised.
    pub(super) rise_pt: f32,
    /// Height of the letter's body.
    pub(super) size_pt: f32,
}

/// The letters, read once.
pub struct Faces {
    plain: Option<Outlines<'static>>,
    bold: Option<Outlines<'static>>,
    music: Option<Outlines<'static>>,
}

impl Default for Faces {
    fn default() -> Self {
        Faces::new()
    }
}

impl Faces {
    /// The letters that come with the program.
    pub fn new() -> Self {
        let read = |bytes| Outlines::parse(bytes, 0).ok();
        Faces {
            plain: read(PLAIN),
            bold: read(BOLD),
            music: read(MUSIC),
        }
    }

    /// The outlines of a font.
    pub(super) const fn outlines(&self, font: Font) -> Option<&Outlines<'static>> {
        match font {
            Font::Plain => self.plain.as_ref(),
            Font::Bold => self.bold.as_ref(),
            Font::Music => self.music.as_ref(),
        }
    }

    /// The letters of words, set one behind the other, and how wide they are in all; a letter that no font has is set as a
    /// lozenge, one that is not seen is left out.
    pub(super) fn set(&self, words: &Words) -> (Vec<Letter>, f32) {
        let letters = match words.face {
            Face::Plain => Font::Plain,
            Face::Bold => Font::Bold,
        };
        let mut x_pt = 0.0;
        let mut found = Vec::new();
        for run in words.text.runs() {
            let (body, up) = if run.raised {
                (words.size_pt * RAISED_SIZE, words.size_pt * RAISED_RISE)
            } else {
                (words.size_pt, 0.0)
            };
            for letter in run.text.chars().filter(|letter| !is_unseen(*letter)) {
                let sign = SIGNS.iter().find(|sign| sign.0 == letter);
                let (font, drawn, size_pt, rise_pt) = match sign {
                    Some((_, drawn, size, rise)) => {
                        (Font::Music, *drawn, body * size, up + body * rise)
                    }
                    None => (letters, letter, body, up),
                };
                let Some(outlines) = self.outlines(font) else {
                    continue;
                };
                let glyph = outlines
                    .glyph_index(drawn)
                    .or_else(|| outlines.glyph_index(INSTEAD))
                    .unwrap_or(GlyphId(0));
                let wide = f32::from(outlines.glyph_hor_advance(glyph).unwrap_or(0));
                // Signs of music have no clear paper of their own beside them.
                let beside = if sign.is_some() { body * BESIDE } else { 0.0 };
                x_pt += beside;
                let wide_pt = wide * size_pt / f32::from(outlines.units_per_em());
                let advance_pt = wide_pt + beside;
                found.push(Letter {
                    letter,
                    font,
                    glyph,
                    x_pt,
                    advance_pt,
                    rise_pt,
                    size_pt,
                });
                x_pt += advance_pt;
            }
        }
        (found, x_pt)
    }

    /// How wide words are, in points.
    pub fn width_pt(&self, words: &Words) -> f32 {
        self.set(words).1
    }

    /// The letters of a text that no font has, each once.
    pub fn missing(&self, text: &str) -> Vec<char> {
        let mut found = Vec::new();
        for letter in text.chars().filter(|letter| !is_unseen(*letter)) {
            let has = |font: &Option<Outlines<'_>>| {
                font.as_ref()
                    .is_some_and(|font| font.glyph_index(letter).is_some())
            };
            let known = SIGNS.iter().any(|sign| sign.0 == letter) || has(&self.plain);
            if !known && !found.contains(&letter) {
                found.push(letter);
            }
        }
        found
    }
}

/// From the anchor of words of this width to their left end.
pub(super) fn left_of(anchor: Anchor, width_pt: f32) -> f32 {
    match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => -width_pt / 2.0,
        Anchor::End => -width_pt,
    }
}
