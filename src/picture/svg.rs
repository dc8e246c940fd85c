//! A drawing as SVG 1.1: shapes and live text, nothing that runs and nothing that is loaded from elsewhere.

use std::fmt::Write;

use super::drawing::{Anchor, Drawing, EDGE_PT, Face, Ink, Item, Words};

/// Text for XML: the five characters that mean something there, and no control characters.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => out.push('\u{FFFD}'),
            c => out.push(c),
        }
    }
    out
}

fn color(ink: Ink) -> String {
    let level = ink.level();
    format!("#{level:02x}{level:02x}{level:02x}")
}

/// Two decimals, without zeros that say nothing.
fn n(value: f32) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}

fn words(out: &mut String, words: &Words) {
    let anchor = match words.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let weight = match words.face {
        Face::Plain => "",
        Face::Bold => " font-weight=\"bold\"",
    };
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\"{weight} fill=\"{}\">{}</text>",
        n(words.at.0),
        n(words.at.1),
        n(words.size_pt),
        color(words.ink),
        escaped(&words.text)
    );
}

fn item(out: &mut String, item: &Item) {
    let _ = match item {
        Item::Line {
            from,
            to,
            width_pt,
            ink,
        } => writeln!(
            out,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>",
            n(from.0),
            n(from.1),
            n(to.0),
            n(to.1),
            color(*ink),
            n(*width_pt)
        ),
        Item::Round {
            center,
            radius_pt,
            fill,
            edge,
        } => writeln!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>",
            n(center.0),
            n(center.1),
            n(*radius_pt),
            color(*fill),
            color(*edge),
            n(EDGE_PT)
        ),
        Item::Block {
            corner,
            size,
            round_pt,
            fill,
        } => writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"{}\" fill=\"{}\"/>",
            n(corner.0),
            n(corner.1),
            n(size.0),
            n(size.1),
            n(*round_pt),
            color(*fill)
        ),
        Item::Words(text) => {
            words(out, text);
            Ok(())
        }
    };
}

/// The drawing as an SVG document, with its title and what it shows as text for screen readers.
pub fn to_svg(drawing: &Drawing) -> String {
    let (width, height) = (n(drawing.width_pt), n(drawing.height_pt));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}pt\" height=\"{height}pt\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" aria-labelledby=\"title about\" font-family=\"'Open Sans', 'Noto Sans', 'DejaVu Sans', sans-serif\">\n\
         <title id=\"title\">{}</title>\n<desc id=\"about\">{}</desc>\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n",
        escaped(&drawing.title),
        escaped(&drawing.about)
    );
    for one in &drawing.items {
        item(&mut out, one);
    }
    out += "</svg>\n";
    out
}
