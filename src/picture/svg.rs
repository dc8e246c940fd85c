//! A drawing as SVG 1.1: shapes and live text, nothing that runs and nothing that is loaded from elsewhere.

use std::fmt::Write;

use super::drawing::{Anchor, Drawing, Face, Ink, Item, RAISED_RISE, RAISED_SIZE, Role, Words};

/// Text for XML and HTML: the five characters that mean something there, and no control characters.
pub fn escaped(text: &str) -> String {
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
    let _ = write!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\"{weight} fill=\"{}\">",
        n(words.at.0),
        n(words.at.1),
        n(words.size_pt),
        color(words.ink),
    );
    let mut raised = false;
    for run in words.text.runs() {
        // What follows a raised stretch comes down again.
        let up = words.size_pt * RAISED_RISE;
        let _ = match (raised, run.raised) {
            (false, false) => write!(out, "{}", escaped(&run.text)),
            (_, true) => write!(
                out,
                "<tspan dy=\"{}\" font-size=\"{}\">{}</tspan>",
                n(-up),
                n(words.size_pt * RAISED_SIZE),
                escaped(&run.text)
            ),
            (true, false) => {
                write!(
                    out,
                    "<tspan dy=\"{}\">{}</tspan>",
                    n(up),
                    escaped(&run.text)
                )
            }
        };
        raised = run.raised;
    }
    *out += "</text>\n";
}

fn draw(out: &mut String, item: &Item) {
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
            edge_pt,
        } => writeln!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>",
            n(center.0),
            n(center.1),
            n(*radius_pt),
            color(*fill),
            color(*edge),
            n(*edge_pt)
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
        Item::Track {
            points,
            width_pt,
            ink,
        } => writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"/>",
            places(points),
            color(*ink),
            n(*width_pt)
        ),
        Item::Shape { points, fill } => writeln!(
            out,
            "<polygon points=\"{}\" fill=\"{}\"/>",
            places(points),
            color(*fill)
        ),
        Item::Words(text) => {
            words(out, text);
            Ok(())
        }
        Item::Group { role, items } => {
            *out += &match role {
                Role::Figure(about) | Role::Sign(about) => {
                    format!("<g role=\"img\" aria-label=\"{}\">\n", escaped(about))
                }
                Role::Heading(level) => {
                    format!("<g role=\"heading\" aria-level=\"{level}\">\n")
                }
                Role::Paragraph => "<g>\n".to_owned(),
                Role::Ornament => "<g aria-hidden=\"true\">\n".to_owned(),
            };
            for one in items {
                draw(out, one);
            }
            writeln!(out, "</g>")
        }
    };
}

fn places(points: &[(f32, f32)]) -> String {
    let one = |(x, y): &(f32, f32)| format!("{},{}", n(*x), n(*y));
    points.iter().map(one).collect::<Vec<_>>().join(" ")
}

/// The drawing as an SVG element within HTML, read aloud as one picture; its colors are variables of the page: `--ink`, `--gray`,
/// `--light`, `--paper`.
pub fn svg_within(drawing: &Drawing) -> String {
    let (width, height) = (n(drawing.width_pt), n(drawing.height_pt));
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" aria-label=\"{}\">\n",
        escaped(&drawing.about)
    );
    let mut within = String::new();
    for one in &drawing.items {
        draw(&mut within, one);
    }
    for (ink, name) in [
        (Ink::Black, "ink"),
        (Ink::Gray, "gray"),
        (Ink::Light, "light"),
        (Ink::White, "paper"),
    ] {
        within = within.replace(
            &format!("\"{}\"", color(ink)),
            &format!("\"var(--{name})\""),
        );
    }
    out += &within;
    out += "</svg>";
    out
}

/// The drawing as an SVG document, with its title and what it shows as text for screen readers.
pub fn to_svg(drawing: &Drawing) -> String {
    let (width, height) = (n(drawing.width_pt), n(drawing.height_pt));
    // What has headings and figures of its own is not one picture.
    let role = if drawing
        .items
        .iter()
        .any(|item| matches!(item, Item::Group { .. }))
    {
        "role=\"document\" aria-labelledby=\"title\""
    } else {
        "role=\"img\" aria-labelledby=\"title about\""
    };
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}pt\" height=\"{height}pt\" viewBox=\"0 0 {width} {height}\" \
         {role} font-family=\"'Open Sans', 'Noto Sans', 'DejaVu Sans', sans-serif\">\n\
         <title id=\"title\">{}</title>\n<desc id=\"about\">{}</desc>\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n",
        escaped(&drawing.title),
        escaped(&drawing.about)
    );
    for one in &drawing.items {
        draw(&mut out, one);
    }
    out += "</svg>\n";
    out
}
