//! Sheets: what stands on them is the piece, and all of it lies on the paper.

use fivefold::chart::read_section;
use fivefold::picture::{Captioned, Drawing, Faces, Item, Role, Words, pace_picture, write_pdf};
use fivefold::sheet::{Paper, Sheet, SheetStyle, long_page, pages, to_html};
use fivefold::theory::{Harmony, Key, numeral, symbol};
use fivefold::{Arrangement, Excerpt, Piece};

use crate::pictures::flat;

fn sheet_in(text: &str, style: SheetStyle) -> Sheet {
    let (piece, _) = Piece::read(text).unwrap_or_else(|e| panic!("{text}: {e:?}"));
    sheet_of(&piece, style)
}

fn sheet_of(piece: &Piece, style: SheetStyle) -> Sheet {
    let form = piece.unfold().unwrap();
    let arrangement = Arrangement::new(piece, form.clone(), Excerpt::default()).unwrap();
    Sheet::new(piece, &form, &arrangement, style).unwrap()
}

/// Where the letters of words lie: left, top, right, bottom. A letter reaches at most 0.8 of its body above its line and 0.25
/// below it; raised ones reach higher.
fn extent(words: &Words, faces: &Faces) -> (f32, f32, f32, f32) {
    use fivefold::picture::Anchor;
    let wide = faces.width_pt(words);
    let left = words.at.0
        - match words.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => wide / 2.0,
            Anchor::End => wide,
        };
    (
        left,
        words.at.1 - 0.8 * words.size_pt,
        left + wide,
        words.at.1 + 0.25 * words.size_pt,
    )
}

/// The lowest and highest places that an item takes.
fn reach(item: &Item, faces: &Faces) -> (f32, f32, f32, f32) {
    let around = |points: &[(f32, f32)]| {
        points.iter().fold(
            (f32::MAX, f32::MAX, f32::MIN, f32::MIN),
            |(a, b, c, d), (x, y)| (a.min(*x), b.min(*y), c.max(*x), d.max(*y)),
        )
    };
    match item {
        Item::Line { from, to, .. } => around(&[*from, *to]),
        Item::Track { points, .. } | Item::Shape { points, .. } => around(points),
        Item::Round {
            center, radius_pt, ..
        } => around(&[
            (center.0 - radius_pt, center.1 - radius_pt),
            (center.0 + radius_pt, center.1 + radius_pt),
        ]),
        Item::Block { corner, size, .. } => {
            around(&[*corner, (corner.0 + size.0, corner.1 + size.1)])
        }
        Item::Words(words) => extent(words, faces),
        Item::Group { items, .. } => {
            let all = items.iter().map(|item| reach(item, faces));
            all.fold((f32::MAX, f32::MAX, f32::MIN, f32::MIN), |a, b| {
                (a.0.min(b.0), a.1.min(b.1), a.2.max(b.2), a.3.max(b.3))
            })
        }
    }
}

/// Nothing is outside the margins that printers need, and no words lie over other words.
fn well_set(pages: &[Drawing], faces: &Faces, what: &str) {
    const CLEAR_PT: f32 = 12.0;
    for (number, page) in pages.iter().enumerate() {
        let all = flat(&page.items);
        let mut words = Vec::new();
        for item in all {
            let (left, top, right, bottom) = reach(item, faces);
            assert!(
                left >= CLEAR_PT
                    && top >= CLEAR_PT
                    && right <= page.width_pt - CLEAR_PT
                    && bottom <= page.height_pt - CLEAR_PT,
                "{what}, page {}: {item:?} lies outside: {left} {top} {right} {bottom}",
                number + 1
            );
            if let Item::Words(one) = item {
                words.push((one, (left, top, right, bottom)));
            }
        }
        for (index, (one, a)) in words.iter().enumerate() {
            for (other, b) in &words[..index] {
                let across = a.2.min(b.2) - a.0.max(b.0);
                let down = a.3.min(b.3) - a.1.max(b.1);
                assert!(
                    across <= 0.6 || down <= 0.25 * one.size_pt.min(other.size_pt) + 2.0,
                    "{what}, page {}: {:?} and {:?} overlap by {across} and {down}",
                    number + 1,
                    one.text.plain(),
                    other.text.plain()
                );
            }
        }
    }
}

/// The chart of pages as it is copied or read aloud: each section with its name, a line a line.
fn chart_text(pages: &[Drawing]) -> Vec<(String, Vec<String>)> {
    fn said(item: &Item, out: &mut Vec<String>) {
        match item {
            Item::Words(words) => out.push(words.text.plain()),
            Item::Group {
                role: Role::Sign(text),
                ..
            } => out.push(text.clone()),
            Item::Group { items, .. } => items.iter().for_each(|item| said(item, out)),
            _ => {}
        }
    }
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    let mut heading = String::new();
    for item in pages.iter().flat_map(|page| &page.items) {
        let Item::Group { role, items } = item else {
            continue;
        };
        let mut words = Vec::new();
        said(item, &mut words);
        let text = words.join(" ");
        let text = text.replace('\u{266D}', "b").replace('\u{266F}', "#");
        let bar_line =
            |role: &Role| matches!(role, Role::Sign(sign) if sign.starts_with(['|', ':']));
        match role {
            Role::Heading(2) => heading = text,
            Role::Paragraph if matches!(&items[..], [Item::Group { role, .. }, ..] if bar_line(role)) => {
                match found.last_mut() {
                    Some((name, lines)) if *name == heading => lines.push(text),
                    _ => found.push((heading.clone(), vec![text])),
                }
            }
            _ => {}
        }
    }
    found
}

/// Lines one behind the other: of the two bar lines where they meet one is left, and both where they repeat.
fn joined(lines: &[String]) -> String {
    let mut text = String::new();
    for line in lines {
        let rest = match line.strip_prefix("| ") {
            Some(rest) if !text.is_empty() => rest,
            _ if text.ends_with('|') && !text.ends_with(":|") && line.starts_with("|:") => {
                text.pop();
                line
            }
            _ => line,
        };
        if !text.is_empty() {
            text.push(' ');
        }
        text += rest;
    }
    text
}

const SIXTEEN: &str = r#"
title = "Two lamps in a window"
key = "G major"
meter = "4/4"
tempo = "66 to 96 by 6 every 16 bars"
set = "G major pentatonic"
form = "A B"
times = 6
[sections]
A = "| G | Em7 | Cadd9 | D | G | Em7 | Cadd9 | D7sus4 |"
B = "| Am7 | Bm7 | C | D | Am7 | Bm7 | Cmaj7 | D7 |"
[parts.strum]
strokes = "D . D U . U D U"
"#;

#[test]
fn sixteen_bars_with_boxes_and_neck_are_one_page() {
    let faces = Faces::new();
    for numerals in [false, true] {
        let sheet = sheet_in(
            SIXTEEN,
            SheetStyle {
                numerals,
                left: false,
            },
        );
        assert!(sheet.boxes.len() >= 8 && sheet.neck.is_some() && sheet.strum.is_some());
        assert!(sheet.tempo.is_some());
        for (name, paper) in Paper::NAMES {
            let pages = pages(&sheet, paper, &faces);
            assert_eq!(pages.len(), 1, "{name}, numerals {numerals}");
            assert_eq!((pages[0].width_pt, pages[0].height_pt), paper.size_pt());
            well_set(&pages, &faces, name);
        }
    }
}

const NINETY_SIX: &str = r#"
title = "Six rooms"
key = "Bb major"
tempo = "90"
groove = "bossa"
set = "Bb major pentatonic"
form = "A B C D E F"
[sections]
A = "|: Bbmaj7 | Gm7 | Cm7 | F7 | Dm7 | G7(b9) | Cm7 F7 | Bb6 :|x3 Cm7 | F7 | Bb6 | % | Ebmaj7 | Edim7 | Bb/F | G7 |"
B = "|: Ebmaj7 | Edim7 | Bb/F | G7 |[1. Cm7 | F7sus4 | Dm7b5 | G7(b9,#11) :|[2. Cm7 | F7 | Bb6 | % | Gm7 | C7 | Cm7 | F7 |"
C = "| (3/4) Gm | Gm/F | Em7b5 | Ebmaj7 | (4/4) Cm7 Cm7/Bb Am7b5 D7 | Gm / D7 / | / Gm / / | Gm N.C. / / | Gm | % | Cm | % | D7 | % | Gm | % |"
D = "| Ebmaj7 | Dm7 | Cm7 | Bb6 | Ebmaj7 | Dm7 | Cm7 | F7 | Ebmaj7 | Dm7 | Cm7 | Bb6 | Ebmaj7 | Dm7 | Cm7 | F7 |"
E = "| Bb7 | Eb7 | Bb7 | % | Eb7 | % | Bb7 | G7 | Cm7 | F7 | Bb7 G7 | Cm7 F7 | Bb7 | % | Eb7 | % |"
F = "|: Gm7 C7 :|: Cm7 F7 :| Bb6 | % | Gm7 | % | Cm7 | % | F7 | % | Dm7 | % | G7 | % | Cm7 | F7 |"
"#;

#[test]
fn ninety_six_bars_are_cut_between_lines_and_read_back_as_their_chart() {
    let faces = Faces::new();
    let sheet = sheet_in(NINETY_SIX, SheetStyle::default());
    let written: usize = sheet
        .sections
        .iter()
        .map(|section| section.bars.len())
        .sum();
    assert_eq!(written, 96);
    let pages = pages(&sheet, Paper::A4, &faces);
    assert!(pages.len() >= 2, "{}", pages.len());
    well_set(&pages, &faces, "96 bars");
    // A line is on one page; the name of a section has a line below it on the same page.
    for page in &pages {
        let last = page.items.iter().rev().find_map(|item| match item {
            Item::Group { role, .. } if *role != Role::Ornament => Some(role.clone()),
            _ => None,
        });
        assert!(
            !matches!(last, Some(Role::Heading(_))),
            "a page ends with a heading"
        );
    }
    let written: Vec<String> = chart_text(&pages)
        .iter()
        .map(|(name, lines)| format!("[{name}]\n{}", lines.join("\n")))
        .collect();
    insta::assert_snapshot!(written.join("\n"), @"
    [A]
    |: Bbmaj7 | Gm7 | Cm7 | F7 |
    | Dm7 | G7b9 | Cm7 F7 | Bb6 :|x3
    | Cm7 | F7 | Bb6 | % |
    | Ebmaj7 | Edim7 | Bb/F | G7 |
    [B]
    |: Ebmaj7 | Edim7 | Bb/F | G7 |
    | [1. Cm7 | F7sus4 | Dm7b5 | G7b9#11 :|
    | [2. Cm7 | F7 | Bb6 | % |
    | Gm7 | C7 | Cm7 | F7 |
    [C]
    | (3/4) Gm | Gm/F | Em7b5 | Ebmaj7 |
    | (4/4) Cm7 Cm7/Bb Am7b5 D7 | Gm D7 | / Gm / / |
    | Gm N.C. / / | Gm | % | Cm |
    | % | D7 | % | Gm |
    | % |
    [D]
    | Ebmaj7 | Dm7 | Cm7 | Bb6 |
    | Ebmaj7 | Dm7 | Cm7 | F7 |
    | Ebmaj7 | Dm7 | Cm7 | Bb6 |
    | Ebmaj7 | Dm7 | Cm7 | F7 |
    [E]
    | Bb7 | Eb7 | Bb7 | % |
    | Eb7 | % | Bb7 | G7 |
    | Cm7 | F7 | Bb7 G7 | Cm7 F7 |
    | Bb7 | % | Eb7 | % |
    [F]
    |: Gm7 C7 :|: Cm7 F7 :| Bb6 | % |
    | Gm7 | % | Cm7 | % |
    | F7 | % | Dm7 | % |
    | G7 | % | Cm7 | F7 |
    ");
}

#[test]
fn every_ready_chart_stands_on_its_sheet_as_it_is_written() {
    let faces = Faces::new();
    let mut seen = 0;
    for path in crate::ready_charts() {
        let text = std::fs::read_to_string(&path).unwrap();
        let name = path.display().to_string();
        let (piece, _) = Piece::read(&text).unwrap();
        let sheet = sheet_of(&piece, SheetStyle::default());
        let all = pages(&sheet, Paper::Letter, &faces);
        assert!(all.len() <= 2, "{name} takes {} pages", all.len());
        well_set(&all, &faces, &name);
        for (section, lines) in chart_text(&all) {
            let section = if sheet.sections.len() == 1 {
                &sheet.sections[0].name
            } else {
                &section
            };
            let (.., written) = piece
                .sections
                .iter()
                .find(|(name, ..)| name == section)
                .unwrap();
            // Read once more they are the same bars in the same order.
            let text = joined(&lines);
            let mut problems = Vec::new();
            let read = read_section(&text, piece.meter, &mut problems);
            assert!(problems.is_empty(), "{name}: {text}: {problems:?}");
            assert_eq!(read.order, written.order, "{name}: {text}");
            let beats = |section: &fivefold::chart::Section| -> Vec<Vec<(u32, u32)>> {
                let cells = |bar: &fivefold::chart::WrittenBar| {
                    bar.cells
                        .iter()
                        .map(|cell| (cell.beat, cell.beats))
                        .collect()
                };
                section.bars.iter().map(cells).collect()
            };
            assert_eq!(beats(&read), beats(written), "{name}: {text}");
            seen += 1;
        }
    }
    assert!(seen >= 60, "{seen}");
}

/// Titles and names that have broken pages: markup, length, right to left, letters that no font here has, control characters.
const HOSTILE: [&str; 6] = [
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "a title that goes on and on, a title that goes on and on, a title that goes on and on, a title that goes on and on, a title that goes on and on, a title that goes on and on, and then some more of it, twice over",
    "Donaudampfschifffahrtsgesellschaftskapitänsmützenabzeichenhalterungsschraubenschlüsselaufbewahrungskastendeckelscharnierölkännchenverschlusskappenhersteller",
    "\u{5E9}\u{5D9}\u{5E8} \u{202E}abc\u{202C} \u{627}\u{644}\u{644}\u{62D}\u{646}",
    "\u{1F3B8}\u{1F468}\u{200D}\u{1F3A4}\u{1F1EF}\u{1F1F5}",
    "]]> --> &amp; \"quoted\" 'too' \u{1B}[31m",
];

#[test]
fn no_title_and_no_name_leaves_the_paper_or_runs() {
    let faces = Faces::new();
    for text in HOSTILE {
        let quoted = serde_json::to_string(text).unwrap();
        let name = serde_json::to_string(&text.chars().take(60).collect::<String>()).unwrap();
        let toml = format!(
            "title = {quoted}\nkey = \"C\"\n[sections]\n{name} = \"| C | Am7 | F | G7 |\"\nB = \"| C |\"\n"
        );
        let named = Piece::read(&toml);
        // A name that a section may not have is left to the reader, who refuses it.
        let plain = || {
            Piece::read(&format!(
                "title = {quoted}\n[sections]\nA = \"| C | Am7 |\"\n"
            ))
        };
        let (piece, _) = named.or_else(|_| plain()).unwrap();
        let sheet = sheet_of(&piece, SheetStyle::default());
        for (paper_name, paper) in Paper::NAMES {
            let all = pages(&sheet, paper, &faces);
            well_set(&all, &faces, &format!("{text} on {paper_name}"));
            let pdf = write_pdf(&all).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert!(pdf.starts_with(b"%PDF-"));
        }
        well_set(&[long_page(&sheet, Paper::A4, &faces)], &faces, text);
        let html = to_html(&sheet);
        let lower = html.to_lowercase();
        for live in [
            "<script",
            "<img",
            "javascript:",
            "<iframe",
            "<object",
            "<link",
        ] {
            assert!(!lower.contains(live), "{text}: {live}");
        }
        assert!(!html.contains('\u{1B}'));
    }
}

#[test]
fn what_the_log_shows_stands_on_the_paper() {
    let faces = Faces::new();
    let takes: Vec<(i64, f64, f64)> = (0..14).map(|day| (day, 60.0 + day as f64, 4.0)).collect();
    let pace = Captioned {
        caption: "Pace so far".to_owned(),
        drawing: pace_picture(&takes),
    };
    let chart = "[sections]\nA = \"| Am | C | Am | C |\"\n";
    let sheet = sheet_in(chart, SheetStyle::default()).with_record(vec![pace; 9]);
    for (name, paper) in Paper::NAMES {
        let all = pages(&sheet, paper, &faces);
        assert!(all.len() > 1, "nine plots are more than a page");
        well_set(&all, &faces, name);
    }
    assert_eq!(to_html(&sheet).matches("Pace over 14 takes").count(), 9);
}

#[test]
fn numerals_read_back_as_the_chords_they_stand_for() {
    let keys = [
        "C major", "A minor", "F# minor", "Eb major", "Gb major", "D minor",
    ];
    let symbols = [
        "C",
        "Am7",
        "F#m7b5",
        "Bbmaj7",
        "G7(b9,#11)",
        "Esus4",
        "Bdim7",
        "Caug",
        "Ebm6",
        "D9",
        "Ab13",
        "Dbm11",
        "E5",
        "Cadd9",
        "Fm(add9)",
        "CmMaj7",
        "G7sus4",
        "A6/9",
        "D7alt",
        "Bdim",
    ];
    let mut read = 0;
    for key in keys.map(|key| Key::read(key).unwrap()) {
        for text in symbols {
            let chord = *symbol::read(text).unwrap().chord().unwrap();
            let Some(roman) = numeral::roman(&chord, &key) else {
                continue;
            };
            let back = numeral::read_roman(&roman).unwrap().resolve(&key).unwrap();
            assert_eq!(back, Harmony::Chord(chord), "{text} in {key} is {roman}");
            read += 1;
        }
    }
    assert!(read > 100, "{read}");
}

#[test]
fn a_sheet_says_what_the_piece_holds() {
    let sheet = sheet_in(
        SIXTEEN,
        SheetStyle {
            numerals: true,
            left: true,
        },
    );
    let facts: Vec<String> = sheet
        .facts
        .iter()
        .map(|(label, text)| format!("{label}: {text}"))
        .collect();
    insta::assert_snapshot!(facts.join("\n"), @"
    Key: G major
    Meter: 4/4
    Tempo: 66 to 96 by 6 every 16 bars
    Form: A B, 6 times, then the last chord for a bar
    Time: 4:55.3
    ");
    // In a pentatonic of G the note G lies a semitone above the third of D and the fifth of Bm.
    insta::assert_snapshot!(sheet.fit.join("\n"), @"
    No note of the set rubs over G, Em7, Cadd9, D7sus4, Am7, C, Cmaj7.
    Over D: G rubs on F♯.
    Over Bm7: G rubs on F♯.
    Over D7: G rubs on F♯.
    ");
    insta::assert_snapshot!(sheet.tasks.join("\n"), @"
    Play the notes of G major pentatonic over the chords. The squares are the root: begin and end on one.
    Play each chord string by string first; then strum it; then change in time.
    Start at 66; the goal is 96. Stay where it is clean.
    ");
    let strum = sheet.strum.unwrap();
    assert_eq!(strum.counts, ["1", "&", "2", "&", "3", "&", "4", "&"]);
    assert!(sheet.boxes.iter().all(|one| one.board.left));
    let curve = sheet.tempo.unwrap();
    // By 6 every 16 bars from 66 to 96: six plateaus, each a step of its own.
    let tempi: Vec<f32> = curve.steps.iter().map(|(_, tempo)| tempo.round()).collect();
    assert_eq!(tempi, [66.0, 72.0, 78.0, 84.0, 90.0, 96.0]);
    let bars: Vec<f32> = curve.steps.iter().map(|(bar, _)| *bar).collect();
    assert_eq!(bars, [0.0, 16.0, 32.0, 48.0, 64.0, 80.0]);
}
