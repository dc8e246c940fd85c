//! The letters of pictures: Open Sans for words (Apache License 2.0) and Bravura for the signs of music (SIL Open Font
//! License 1.1). Both lie in `faces` with their licenses.

use ttf_parser::{Face as Outlines, GlyphId};

use super::drawing::{Anchor, Face, Words};

const PLAIN: &[u8] = include_bytes!("faces/OpenSans-Regular.ttf");
const BOLD: &[u8] = include_bytes!("faces/OpenSans-Bold.ttf");
const MUSIC: &[u8] = include_bytes!("faces/Bravura.otf");

/// The signs that Bravura has and Open Sans has not.
const SIGNS: [char; 3] = ['\u{266D}', '\u{266E}', '\u{266F}'];
/// Signs of music are drawn larger than the letters beside them, and higher, so that they look alike.
const SIGN_SIZE: f32 = 1.35;
const SIGN_RISE: f32 = 0.28;

/// A letter as it is set: which font, which glyph, how far it reaches.
pub(super) struct Set<'a> {
    pub(super) font: &'a Outlines<'static>,
    pub(super) glyph: GlyphId,
    /// From the left end of the words to the letter's own left end.
    pub(super) x_pt: f32,
    /// How far it is raised.
    pub(super) rise_pt: f32,
    /// Points to a unit of the font.
    pub(super) scale: f32,
}

/// The letters, read once.
pub(super) struct Faces {
    plain: Option<Outlines<'static>>,
    bold: Option<Outlines<'static>>,
    music: Option<Outlines<'static>>,
}

impl Faces {
    /// The letters that come with the program.
    pub(super) fn new() -> Self {
        let read = |bytes| Outlines::parse(bytes, 0).ok();
        Faces {
            plain: read(PLAIN),
            bold: read(BOLD),
            music: read(MUSIC),
        }
    }

    /// The letters of words, set one behind the other; a letter that no font has is set as the empty box of its font.
    pub(super) fn set(&self, words: &Words) -> (Vec<Set<'_>>, f32) {
        let letters = match words.face {
            Face::Plain => &self.plain,
            Face::Bold => &self.bold,
        };
        let mut x_pt = 0.0;
        let mut found = Vec::new();
        for letter in words.text.chars() {
            let sign = SIGNS.contains(&letter);
            let (font, size, rise) = if sign {
                (
                    &self.music,
                    words.size_pt * SIGN_SIZE,
                    words.size_pt * SIGN_RISE,
                )
            } else {
                (letters, words.size_pt, 0.0)
            };
            let Some(font) = font else { continue };
            let glyph = font.glyph_index(letter).unwrap_or(GlyphId(0));
            let scale = size / f32::from(font.units_per_em());
            let advance = f32::from(font.glyph_hor_advance(glyph).unwrap_or(0)) * scale;
            found.push(Set {
                font,
                glyph,
                x_pt,
                rise_pt: rise,
                scale,
            });
            x_pt += advance;
        }
        (found, x_pt)
    }

    /// The left end of words.
    pub(super) fn left_pt(&self, words: &Words) -> f32 {
        let (_, width) = self.set(words);
        words.at.0
            - match words.anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => width / 2.0,
                Anchor::End => width,
            }
    }
}
