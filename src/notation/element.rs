//! Elements of a score, read one after the other within limits.

use std::ops::Range;

use quick_xml::Reader;
use quick_xml::escape::unescape;
use quick_xml::events::{BytesStart, Event};

use super::FIELD;
use crate::chart::Problem;

/// Deepest nesting of elements; a score has about twelve levels.
const DEEPEST: usize = 64;
/// Most elements of a score.
const MOST_ELEMENTS: usize = 4_000_000;
/// Most elements of one measure, or of what stands before the first.
const MOST_IN_ONE: usize = 50_000;

/// The name under which processing instructions for this program are found; no element can have it.
pub(super) const INSTRUCTION: &str = "?";

/// An element with all that it holds.
#[derive(Clone, Debug, Default)]
pub(super) struct Element {
    /// A processing instruction for this program is an element without content named [`INSTRUCTION`].
    pub(super) name: String,
    pub(super) attributes: Vec<(String, String)>,
    pub(super) text: String,
    pub(super) children: Vec<Element>,
    /// The bytes of its start tag.
    pub(super) span: Range<usize>,
}

impl Element {
    /// The value of an attribute.
    pub(super) fn attribute(&self, name: &str) -> Option<&str> {
        let found = self.attributes.iter().find(|(known, _)| known == name);
        found.map(|(_, value)| value.as_str())
    }

    /// The children of a name.
    pub(super) fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Element> {
        self.children.iter().filter(move |child| child.name == name)
    }

    /// The first child of a name.
    pub(super) fn child(&self, name: &str) -> Option<&Element> {
        self.children.iter().find(|child| child.name == name)
    }

    /// The text of the first child of a name, without white space around it.
    pub(super) fn text_of(&self, name: &str) -> Option<&str> {
        self.child(name).map(|child| child.text.trim())
    }

    /// The number that is the text of the first child of a name.
    pub(super) fn number_of<T: std::str::FromStr>(&self, name: &str) -> Option<T> {
        self.text_of(name)?.parse().ok()
    }
}

/// What comes next at the level of the reader.
pub(super) enum Next {
    /// An element begins.
    Start(Element),
    /// An element without content.
    Empty(Element),
    /// The element that was open ends.
    End,
    /// The text is over.
    Eof,
}

/// Reads elements. All that is not an element, its text or an instruction for this program is passed over; a document type
/// with definitions of its own is refused, and no entity but the five of XML is known, so nothing is fetched and nothing
/// grows.
pub(super) struct Elements<'a> {
    reader: Reader<&'a [u8]>,
    text: &'a str,
    depth: usize,
    seen: usize,
}

fn refuse(span: Range<usize>, code: &'static str, message: String, help: &str) -> Problem {
    Problem::error(code, span, message, help)
}

impl<'a> Elements<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Elements {
            reader: Reader::from_str(text),
            text,
            depth: 0,
            seen: 0,
        }
    }

    /// A place that is inside the text and on whole characters.
    fn place(&self, from: usize) -> Range<usize> {
        let bound = |mut at: usize| {
            at = at.min(self.text.len());
            while !self.text.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        let start = bound(from);
        start..bound(self.position()).max(start)
    }

    fn position(&self) -> usize {
        usize::try_from(self.reader.buffer_position()).unwrap_or(usize::MAX)
    }

    fn broken(&self, from: usize, what: &dyn std::fmt::Display) -> Problem {
        let help = "export it again from the program it is from";
        refuse(
            self.place(from),
            "score-xml",
            format!("the score is broken here: {what}"),
            help,
        )
    }

    fn element(&mut self, start: &BytesStart<'_>, from: usize) -> Result<Element, Problem> {
        self.seen += 1;
        if self.seen > MOST_ELEMENTS {
            return Err(refuse(
                self.place(from),
                "score-size",
                format!("a score has at most {MOST_ELEMENTS} elements, and this has more"),
                "export fewer parts, or fewer measures",
            ));
        }
        let mut attributes = Vec::new();
        for attribute in start.attributes() {
            let attribute = attribute.map_err(|e| self.broken(from, &e))?;
            let raw: &str = attribute.value.as_ref();
            let value = unescape(raw).map_err(|e| self.broken(from, &e))?;
            let name: &str = attribute.key.as_ref();
            attributes.push((name.to_owned(), value.into_owned()));
        }
        let name = start.name();
        let name: &str = name.as_ref();
        Ok(Element {
            name: name.to_owned(),
            attributes,
            span: self.place(from),
            ..Element::default()
        })
    }

    fn deeper(&mut self, from: usize) -> Result<(), Problem> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(refuse(
                self.place(from),
                "score-depth",
                format!("elements of a score lie at most {DEEPEST} deep in one another"),
                "export it again from the program it is from",
            ));
        }
        Ok(())
    }

    /// The next element or end; text is added to `text`.
    pub(super) fn next(&mut self, text: &mut String) -> Result<Next, Problem> {
        loop {
            let from = self.position();
            let event = self.reader.read_event();
            match event.map_err(|e| self.broken(from, &e))? {
                Event::Start(start) => {
                    let element = self.element(&start, from)?;
                    self.deeper(from)?;
                    return Ok(Next::Start(element));
                }
                Event::Empty(start) => return Ok(Next::Empty(self.element(&start, from)?)),
                Event::End(_) => {
                    self.depth = self.depth.saturating_sub(1);
                    return Ok(Next::End);
                }
                Event::Eof if self.depth > 0 => {
                    return Err(self.broken(from, &"it ends before its last element does"));
                }
                Event::Eof => return Ok(Next::Eof),
                Event::Text(found) => text.push_str(&found.xml10_content()),
                Event::CData(found) => text.push_str(&found.xml10_content()),
                Event::GeneralRef(found) => {
                    let name: &str = &found.xml10_content();
                    let known = unescape(&format!("&{name};")).map(std::borrow::Cow::into_owned);
                    text.push_str(&known.map_err(|e| self.broken(from, &e))?);
                }
                Event::DocType(found) => {
                    let inner: &str = &found.xml10_content();
                    if inner.contains('[') {
                        return Err(refuse(
                            self.place(from),
                            "score-doctype",
                            "the document type has definitions of its own, which are not read"
                                .to_owned(),
                            "take what stands in its square brackets out, and the brackets",
                        ));
                    }
                }
                Event::PI(found) if found.target() == FIELD && self.depth > 0 => {
                    let instruction = BytesStart::new(INSTRUCTION);
                    let element = self.element(&instruction, from)?;
                    let text = found.content().to_owned();
                    return Ok(Next::Empty(Element { text, ..element }));
                }
                Event::Comment(_) | Event::Decl(_) | Event::PI(_) => {}
            }
        }
    }

    /// Reads all that an element holds, to its end.
    pub(super) fn fill(&mut self, root: Element) -> Result<Element, Problem> {
        let most = self.seen + MOST_IN_ONE;
        let mut open = vec![root];
        loop {
            let mut text = String::new();
            let next = self.next(&mut text)?;
            if let Some(last) = open.last_mut() {
                last.text.push_str(&text);
            }
            if self.seen > most {
                let span = open.first().map_or(0..0, |root| root.span.clone());
                return Err(refuse(
                    span,
                    "score-size",
                    format!("a measure has at most {MOST_IN_ONE} elements, and this has more"),
                    "export it again from the program it is from",
                ));
            }
            let done = match next {
                Next::Start(element) => {
                    open.push(element);
                    continue;
                }
                Next::Empty(element) => element,
                Next::End => match open.pop() {
                    Some(element) if open.is_empty() => return Ok(element),
                    Some(element) => element,
                    None => return Ok(Element::default()),
                },
                Next::Eof => return Ok(open.into_iter().next().unwrap_or_default()),
            };
            if let Some(parent) = open.last_mut() {
                parent.children.push(done);
            }
        }
    }

    /// Passes over all that an element holds.
    pub(super) fn skip(&mut self) -> Result<(), Problem> {
        let until = self.depth.saturating_sub(1);
        let mut text = String::new();
        while self.depth > until {
            text.clear();
            if let Next::Eof = self.next(&mut text)? {
                break;
            }
        }
        Ok(())
    }
}
