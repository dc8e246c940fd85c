//! Drawings as the pages of a PDF file: selectable text, the letters embedded, and tags that say what is a heading, a paragraph
//! and a picture (PDF 1.7 by the rules of PDF/UA-1, ISO 14289-1, as far as the crate that writes it can check them).

use std::collections::BTreeMap;
use std::num::NonZeroU16;

use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::outline::Outline;
use krilla::page::PageSettings;
use krilla::paint::{Fill, LineJoin, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ContentTag, Identifier, Node, SpanTag, Tag, TagGroup, TagTree};
use krilla::text::{Font as Embedded, GlyphId, KrillaGlyph};

use super::drawing::{Anchor, Drawing, Face, Ink, Item, Role, Words};
use super::faces::{Faces, Font, Letter, left_of};
use super::outline::{Step, painted};

/// The pages as the bytes of a PDF file. Its title is that of the first page.
///
/// # Errors
/// When a page has no size, or when what is drawn breaks a rule of PDF/UA-1; in words.
pub fn write_pdf(pages: &[Drawing]) -> Result<Vec<u8>, String> {
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|e| format!("{e:?}"))?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    });
    let mut pen = Pen::new();
    let mut tags = TagTree::new().with_lang(Some("en".to_owned()));
    for page in pages {
        let settings = PageSettings::from_wh(page.width_pt, page.height_pt)
            .ok_or_else(|| "a page has no size".to_owned())?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        for item in &page.items {
            pen.draw(&mut surface, item, &mut Place::Page(&mut tags));
        }
        surface.finish();
        sheet.finish();
    }
    let title = pages.first().map_or("", |page| page.title.as_str());
    let title = if title.trim().is_empty() {
        "untitled"
    } else {
        title
    };
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .language("en".to_owned())
            .creator("fivefold".to_owned()),
    );
    document.set_outline(Outline::new());
    document.set_tag_tree(tags);
    document.finish().map_err(|e| format!("{e:?}"))
}

/// Where what is drawn belongs in the tree of tags.
enum Place<'a> {
    /// Beside the other things of the page.
    Page(&'a mut TagTree),
    /// In a heading or a paragraph.
    Within(&'a mut TagGroup),
    /// In something that is tagged as a whole.
    Tagged,
}

impl Place<'_> {
    fn push(&mut self, node: impl Into<Node>) {
        match self {
            Place::Page(tree) => tree.push(node),
            Place::Within(group) => group.push(node),
            Place::Tagged => {}
        }
    }

    /// Words beside other things of a page are a paragraph.
    fn push_words(&mut self, words: Identifier) {
        match self {
            Place::Page(tree) => {
                tree.push(TagGroup::with_children(Tag::P, vec![words.into()]));
            }
            other => other.push(words),
        }
    }
}

fn level(level: u8) -> NonZeroU16 {
    NonZeroU16::new(u16::from(level)).unwrap_or(NonZeroU16::MIN)
}

/// The words of a group.
fn said(items: &[Item]) -> String {
    let words = items.iter().map(|item| match item {
        Item::Words(words) => words.text.plain(),
        Item::Group { items, .. } => said(items),
        _ => String::new(),
    });
    let words: Vec<String> = words.filter(|words| !words.is_empty()).collect();
    words.join(" ")
}

/// What draws, with the letters it has embedded.
struct Pen {
    faces: Faces,
    fonts: BTreeMap<Font, Embedded>,
}

impl Pen {
    fn new() -> Self {
        let all = [Font::Plain, Font::Bold, Font::Music];
        let embedded = |font: Font| Some((font, Embedded::new(font.bytes().into(), 0)?));
        Pen {
            faces: Faces::new(),
            fonts: all.into_iter().filter_map(embedded).collect(),
        }
    }

    fn draw(&mut self, surface: &mut Surface<'_>, item: &Item, place: &mut Place<'_>) {
        match item {
            Item::Group { role, items } => self.group(surface, role, items, place),
            Item::Words(words) => {
                if matches!(place, Place::Tagged) {
                    self.words(surface, words);
                    return;
                }
                let plain = words.text.plain();
                let tag = SpanTag::empty().with_actual_text(Some(&plain));
                let tag = if words.text.runs().len() > 1 {
                    tag
                } else {
                    SpanTag::empty()
                };
                let id = surface.start_tagged(ContentTag::Span(tag));
                self.words(surface, words);
                surface.end_tagged();
                place.push_words(id);
            }
            shape => {
                let ornament = !matches!(place, Place::Tagged);
                if ornament {
                    surface.start_tagged(ContentTag::Artifact(Artifact::default()));
                }
                draw_shape(surface, shape);
                if ornament {
                    surface.end_tagged();
                }
            }
        }
    }

    fn group(
        &mut self,
        surface: &mut Surface<'_>,
        role: &Role,
        items: &[Item],
        place: &mut Place<'_>,
    ) {
        match role {
            _ if matches!(place, Place::Tagged) => {
                for item in items {
                    self.draw(surface, item, &mut Place::Tagged);
                }
            }
            Role::Heading(_) | Role::Paragraph => {
                let mut group = match role {
                    Role::Heading(n) => TagGroup::new(Tag::Hn(level(*n), Some(said(items)))),
                    _ => TagGroup::new(Tag::P),
                };
                for item in items {
                    self.draw(surface, item, &mut Place::Within(&mut group));
                }
                place.push(group);
            }
            Role::Figure(about) => {
                let id = surface.start_tagged(ContentTag::Other);
                for item in items {
                    self.draw(surface, item, &mut Place::Tagged);
                }
                surface.end_tagged();
                let tag = Tag::Figure(Some(about.clone()));
                place.push(TagGroup::with_children(tag, vec![id.into()]));
            }
            Role::Ornament => {
                surface.start_tagged(ContentTag::Artifact(Artifact::default()));
                for item in items {
                    self.draw(surface, item, &mut Place::Tagged);
                }
                surface.end_tagged();
            }
            Role::Sign(text) => {
                let tag = SpanTag::empty().with_actual_text(Some(text));
                let id = surface.start_tagged(ContentTag::Span(tag));
                if !items.iter().any(|item| matches!(item, Item::Words(_))) {
                    self.stand_in(surface, items);
                }
                for item in items {
                    self.draw(surface, item, &mut Place::Tagged);
                }
                surface.end_tagged();
                place.push_words(id);
            }
        }
    }

    /// A letter so small that the first line of a sign covers it: readers place the text of a sign where its first letter is,
    /// and leave it out where there is none.
    fn stand_in(&mut self, surface: &mut Surface<'_>, items: &[Item]) {
        let middle = items.iter().find_map(|item| match item {
            Item::Line { from, to, .. } => Some((from.0.midpoint(to.0), from.1.midpoint(to.1))),
            _ => None,
        });
        if let Some(at) = middle {
            let letter = Words::new("|", 1.0, Face::Plain, at, Ink::Black);
            self.words(surface, &letter.anchored(Anchor::Middle));
        }
    }

    fn words(&self, surface: &mut Surface<'_>, words: &Words) {
        let (letters, width) = self.faces.set(words);
        let left = words.at.0 + left_of(words.anchor, width);
        surface.set_stroke(None);
        surface.set_fill(Some(filled(words.ink)));
        let alike = |a: &Letter, b: &Letter| {
            (a.font, a.size_pt, a.rise_pt) == (b.font, b.size_pt, b.rise_pt)
        };
        for run in letters.chunk_by(alike) {
            let Some(first) = run.first() else { continue };
            let Some(font) = self.fonts.get(&first.font) else {
                continue;
            };
            let mut text = String::new();
            let glyphs: Vec<KrillaGlyph> = run
                .iter()
                .map(|letter| {
                    let from = text.len();
                    text.push(letter.letter);
                    KrillaGlyph::new(
                        GlyphId::new(u32::from(letter.glyph.0)),
                        letter.advance_pt / letter.size_pt,
                        0.0,
                        0.0,
                        0.0,
                        from..text.len(),
                        None,
                    )
                })
                .collect();
            let at = Point::from_xy(left + first.x_pt, words.at.1 - first.rise_pt);
            surface.draw_glyphs(at, &glyphs, font.clone(), &text, first.size_pt, false);
        }
    }
}

fn filled(ink: Ink) -> Fill {
    Fill {
        paint: luma::Color::new(ink.level()).into(),
        ..Fill::default()
    }
}

fn draw_shape(surface: &mut Surface<'_>, item: &Item) {
    let Some(painted) = painted(item) else { return };
    let Some(path) = path_of(&painted.outline) else {
        return;
    };
    surface.set_fill(painted.fill.map(filled));
    surface.set_stroke(painted.edge.map(|(ink, width)| Stroke {
        paint: luma::Color::new(ink.level()).into(),
        width,
        line_join: LineJoin::Round,
        ..Stroke::default()
    }));
    surface.draw_path(&path);
}

/// An outline as a path.
fn path_of(outline: &[Step]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for step in outline {
        match *step {
            Step::To((x, y)) => path.move_to(x, y),
            Step::Line((x, y)) => path.line_to(x, y),
            Step::Curve([a, b], (x, y)) => path.cubic_to(a.0, a.1, b.0, b.1, x, y),
            Step::Close => path.close(),
        }
    }
    path.finish()
}
