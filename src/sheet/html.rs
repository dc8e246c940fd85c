//! A sheet as HTML: one file without script and without anything loaded from elsewhere, to be read on a phone or printed.

use std::fmt::Write;

use super::content::{CAUTIONS, Sheet, SheetBar, SheetChord, SheetSection};
use super::figures;
use crate::picture::{Drawing, Text, escaped, svg_within};

/// Colors in the light and in the dark, each pair with a contrast of at least 7 to 1 (by the formula of WCAG 2.2); grids that
/// become narrow; on paper black on white, and no section cut that fits a page.
const STYLE: &str = "\
:root{color-scheme:light dark;--ink:#111;--gray:#555;--light:#d9d9d9;--paper:#fff}\
@media(prefers-color-scheme:dark){:root{--ink:#f2f2f2;--gray:#b8b8b8;--light:#555;--paper:#161616}}\
*{box-sizing:border-box}\
body{margin:0 auto;max-width:52rem;padding:1rem;background:var(--paper);color:var(--ink);\
font:1rem/1.5 system-ui,'Open Sans','Noto Sans','DejaVu Sans',sans-serif}\
h1{font-size:1.6rem;line-height:1.2;margin:0 0 .5rem;overflow-wrap:anywhere}\
h2{font-size:1.05rem;margin:1.2rem 0 .3rem;overflow-wrap:anywhere}\
dl{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;margin:.5rem 0}dl div{overflow-wrap:anywhere}\
dt,dd{display:inline;margin:0}dt{font-weight:700}\
.bars{list-style:none;margin:.3rem 0;padding:0;display:grid;grid-template-columns:repeat(4,1fr);row-gap:.6rem}\
@media(max-width:34rem){.bars{grid-template-columns:repeat(2,1fr)}}\
.bars li{position:relative;border-left:1px solid var(--ink);padding:.35rem .2rem .35rem .6rem;min-height:2.6rem}\
.bars li:last-child{border-right:3px double var(--ink)}\
.bars li.opens{border-left:5px double var(--ink)}.bars li.closes{border-right:5px double var(--ink)}\
.row{display:grid;align-items:baseline}.row>span{grid-row:1;white-space:nowrap}\
.symbol{font-weight:700;font-size:1.15rem}.symbol sup{font-size:.7em;line-height:0}\
.numeral{display:block;font-size:.8rem;color:var(--gray)}\
.mark{font-size:.8rem;font-weight:700;margin-right:.3rem}\
figure{margin:.3rem 0;max-width:100%;overflow-x:auto}figcaption{font-weight:700}\
.boxes{display:flex;flex-wrap:wrap;gap:.6rem 1.2rem;list-style:none;margin:0;padding:0}\
a{color:inherit}li p{margin:.1rem 0}svg{max-width:100%;height:auto}.wide svg{min-width:34rem}@media print{.wide svg{min-width:0}}\
.sr{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}\
.form{display:none}\
@media print{:root{--ink:#000;--gray:#444;--light:#ccc;--paper:#fff}body{max-width:none;padding:0;font-size:10.5pt}\
.form{display:flex;gap:2rem;justify-content:flex-end}.form span{min-width:12rem;border-bottom:1px solid #000}\
section,figure,.bars li{break-inside:avoid}h2{break-after:avoid}}\
@page{margin:15mm}";

/// An item of a folder of files.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct IndexItem {
    /// What it is.
    pub title: String,
    /// How long it takes.
    pub about: String,
    /// What its teacher says about it.
    pub say: Option<String>,
    /// Its files, beside the page: names of letters, digits, hyphens and points.
    pub files: Vec<String>,
}

/// A page that lists the files of a folder, to be opened in it.
pub fn index_html(title: &str, about: &str, items: &[IndexItem]) -> String {
    let mut out = head(title);
    if !about.is_empty() {
        let _ = writeln!(out, "<p dir=\"auto\">{}</p>", escaped(about));
    }
    out += "<ol>\n";
    for item in items {
        let _ = write!(
            out,
            "<li>{}, {}",
            escaped(&item.title),
            escaped(&item.about)
        );
        if let Some(say) = &item.say {
            let _ = write!(out, "<p dir=\"auto\">{}</p>", escaped(say));
        }
        if !item.files.is_empty() {
            let link = |file: &String| {
                let kind = file.rsplit('.').next().unwrap_or("");
                let what = match kind {
                    "pdf" => "sheet",
                    "wav" => "sound",
                    "mid" => "MIDI",
                    other => other,
                };
                format!("<a href=\"{}\">{what}</a>", escaped(file))
            };
            let links: Vec<String> = item.files.iter().map(link).collect();
            let _ = write!(out, "<p>{}</p>", links.join(" \u{B7} "));
        }
        out += "</li>\n";
    }
    out += "</ol>\n";
    let _ = write!(
        out,
        "<p>{}</p>\n</main>\n</body>\n</html>\n",
        CAUTIONS.join(" ")
    );
    out
}

/// The head of a page, and its title.
fn head(title: &str) -> String {
    let title = if title.trim().is_empty() {
        "untitled"
    } else {
        title
    };
    let title = escaped(title);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n\
         <div class=\"form\" aria-hidden=\"true\"><span>Name</span><span>Date</span></div>\n\
         <h1 dir=\"auto\">{title}</h1>\n"
    )
}

/// The sheet as an HTML document.
pub fn to_html(sheet: &Sheet) -> String {
    let mut out = head(&sheet.title);
    out += "<dl>\n";
    for (label, text) in &sheet.facts {
        let _ = writeln!(
            out,
            "<div><dt>{label}</dt> <dd>{}</dd></div>",
            escaped(text)
        );
    }
    out += "</dl>\n";
    if let Some(curve) = &sheet.tempo {
        figure(&mut out, None, &figures::tempo(curve, (520.0, 90.0)));
    }
    for section in &sheet.sections {
        write_section(&mut out, section);
    }
    if !sheet.boxes.is_empty() {
        out += "<section>\n<h2>Chords</h2>\n<ul class=\"boxes\">\n";
        for one in &sheet.boxes {
            out += "<li>";
            figure(&mut out, Some(&one.caption), &one.board.small().scaled(1.3));
            out += "</li>\n";
        }
        out += "</ul>\n</section>\n";
    }
    if let Some(neck) = &sheet.neck {
        let _ = write!(out, "<section>\n<h2>{}</h2>\n", set(&neck.caption));
        wide_figure(&mut out, &neck.board.along());
        let _ = writeln!(
            out,
            "<p>The neck shows {}.</p>\n</section>",
            escaped(&sheet.legend)
        );
    }
    if let Some(answers) = &sheet.answers {
        let _ = write!(out, "<section>\n<h2>{}</h2>\n", set(&answers.caption));
        wide_figure(&mut out, &answers.board.along());
        out += "</section>\n";
    }
    for one in &sheet.record {
        let _ = write!(out, "<section>\n<h2>{}</h2>\n", escaped(&one.caption));
        wide_figure(&mut out, &one.drawing);
        out += "</section>\n";
    }
    lines(&mut out, "Over the chords", &sheet.fit);
    if let Some(strum) = &sheet.strum {
        figure(&mut out, None, &figures::strum(strum, 320.0));
    }
    lines(&mut out, "What to do", &sheet.tasks);
    let cautions: Vec<String> = sheet
        .cautions
        .iter()
        .map(|line| (*line).to_owned())
        .collect();
    lines(&mut out, "Take care", &cautions);
    out += "</main>\n</body>\n</html>\n";
    out
}

fn lines(out: &mut String, head: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    let _ = write!(out, "<section>\n<h2>{head}</h2>\n");
    for line in lines {
        let _ = writeln!(out, "<p>{}</p>", escaped(line));
    }
    *out += "</section>\n";
}

fn figure(out: &mut String, caption: Option<&Text>, drawing: &Drawing) {
    *out += "<figure>";
    if let Some(caption) = caption {
        let _ = write!(
            out,
            "<figcaption class=\"symbol\">{}</figcaption>",
            set(caption)
        );
    }
    *out += &svg_within(drawing);
    *out += "</figure>\n";
}

/// A figure that stays large enough to be read on a phone: it is moved to the side there, by keys too.
fn wide_figure(out: &mut String, drawing: &Drawing) {
    let _ = writeln!(
        out,
        "<figure class=\"wide\" tabindex=\"0\">{}</figure>",
        svg_within(drawing)
    );
}

/// A text with its raised stretches.
fn set(text: &Text) -> String {
    let run = |run: &crate::picture::Run| match run.raised {
        true => format!("<sup>{}</sup>", escaped(&run.text)),
        false => escaped(&run.text),
    };
    text.runs().iter().map(run).collect()
}

fn write_section(out: &mut String, section: &SheetSection) {
    let _ = write!(
        out,
        "<section>\n<h2 dir=\"auto\">{}</h2>\n<ol class=\"bars\">\n",
        escaped(&section.name)
    );
    for bar in &section.bars {
        write_bar(out, bar);
    }
    *out += "</ol>\n</section>\n";
}

fn write_bar(out: &mut String, bar: &SheetBar) {
    let classes: Vec<&str> = [
        (bar.marks.opens, "opens"),
        (bar.marks.closes.is_some(), "closes"),
    ]
    .into_iter()
    .filter_map(|(is, class)| is.then_some(class))
    .collect();
    *out += &match classes.is_empty() {
        true => "<li>".to_owned(),
        false => format!("<li class=\"{}\">", classes.join(" ")),
    };
    if bar.marks.opens {
        *out += "<span class=\"sr\">Repeat from here. </span>";
    }
    if !bar.marks.ending.is_empty() {
        let numbers: Vec<String> = bar.marks.ending.iter().map(|n| format!("{n}.")).collect();
        let numbers = numbers.join(" ");
        let _ = write!(
            out,
            "<span class=\"mark\"><span class=\"sr\">Ending </span>{numbers}</span>"
        );
    }
    if let Some(meter) = &bar.meter {
        let _ = write!(out, "<span class=\"mark\">{meter}</span>");
    }
    let numerals = bar.chords.iter().any(|chord| chord.numeral.is_some());
    if bar.marks.simile {
        *out += "<span class=\"symbol\">%<span class=\"sr\"> the bar before, again</span></span>";
    } else {
        let _ = write!(
            out,
            "<div class=\"row\" style=\"grid-template-columns:repeat({},1fr)\">",
            bar.beats.max(1)
        );
        for chord in &bar.chords {
            write_chord(out, chord, bar.slashed, numerals);
        }
        *out += "</div>";
    }
    if let Some(times) = bar.marks.closes {
        *out += &match times {
            2 => "<span class=\"sr\"> Go back, once.</span>".to_owned(),
            times => format!(
                "<span class=\"mark\"><span class=\"sr\">Go back, played in all </span>\u{D7}{times}</span>"
            ),
        };
    }
    *out += "</li>\n";
}

fn write_chord(out: &mut String, chord: &SheetChord, slashed: bool, numerals: bool) {
    let column =
        |beat: u32, beats: u32| format!("style=\"grid-column:{}/span {}\"", beat + 1, beats.max(1));
    let beats = if slashed { 1 } else { chord.beats };
    let _ = write!(
        out,
        "<span {}><span class=\"symbol\">{}</span>",
        column(chord.beat, beats),
        set(&chord.symbol)
    );
    if let Some(numeral) = &chord.numeral {
        let _ = write!(out, " <span class=\"numeral\">{}</span>", set(numeral));
    } else if numerals {
        *out += "<span class=\"numeral\">\u{A0}</span>";
    }
    *out += "</span> ";
    if slashed {
        for later in 1..chord.beats {
            let _ = write!(out, "<span {}>/</span> ", column(chord.beat + later, 1));
        }
    }
}
