//! Pictures of necks and boxes beside the positions they are drawn from.

use std::collections::BTreeSet;

use fivefold::neck::{Fret, HandModel, Neck, Tuning, chord_shapes, linked_shapes};
use fivefold::picture::{
    Board, Captioned, Drawing, Item, PAGE_PT, chord_board, page_of, scale_board, signs, to_svg,
    write_png,
};
use fivefold::theory::{Scale, symbol};
use fivefold::view::{NeckLabels, NeckStyle};

const TUNINGS: [&str; 4] = ["standard", "drop D", "DADGAD", "B E A D F# B"];
const LABELS: [NeckLabels; 3] = [NeckLabels::Degrees, NeckLabels::Notes, NeckLabels::Fingers];

fn necks() -> Vec<Neck> {
    let of = |tuning: &&str, capo: u8| {
        let tuning = Tuning::read(tuning).unwrap();
        Neck::new(tuning, Fret::new(22).unwrap(), Fret::new(capo).unwrap()).unwrap()
    };
    let all = TUNINGS
        .iter()
        .flat_map(|tuning| [of(tuning, 0), of(tuning, 3)]);
    all.collect()
}

/// What is drawn, groups opened.
pub(crate) fn flat(items: &[Item]) -> Vec<&Item> {
    items
        .iter()
        .flat_map(|item| match item {
            Item::Group { items, .. } => flat(items),
            other => vec![other],
        })
        .collect()
}

/// What is written on rings and squares, with the place of each: left to right or from the top.
fn stops(drawing: &Drawing) -> Vec<((f32, f32), bool, String)> {
    let mut found = Vec::new();
    for two in flat(&drawing.items).windows(2) {
        let Item::Words(words) = two[1] else {
            continue;
        };
        match two[0] {
            Item::Block { corner, size, .. } if (size.0 - size.1).abs() < 0.01 => {
                let center = (corner.0 + size.0 / 2.0, corner.1 + size.1 / 2.0);
                if (center.0 - words.at.0).abs() < 0.01 {
                    found.push((center, true, words.text.plain()));
                }
            }
            Item::Round { center, .. } if (center.0 - words.at.0).abs() < 0.01 => {
                found.push((*center, false, words.text.plain()));
            }
            _ => {}
        }
    }
    found
}

/// Everything lies on the page, and no two stops touch.
fn well_placed(drawing: &Drawing, what: &str) {
    let inside = |(x, y): (f32, f32)| {
        (0.0..=drawing.width_pt).contains(&x) && (0.0..=drawing.height_pt).contains(&y)
    };
    for item in flat(&drawing.items) {
        let good = match item {
            Item::Line { from, to, .. } => inside(*from) && inside(*to),
            Item::Round {
                center, radius_pt, ..
            } => {
                inside((center.0 - radius_pt, center.1 - radius_pt))
                    && inside((center.0 + radius_pt, center.1 + radius_pt))
            }
            Item::Block { corner, size, .. } => {
                inside(*corner) && inside((corner.0 + size.0, corner.1 + size.1))
            }
            Item::Words(words) => inside(words.at),
            Item::Track { points, .. } | Item::Shape { points, .. } => {
                points.iter().all(|point| inside(*point))
            }
            Item::Group { .. } => true,
        };
        assert!(good, "{what}: {item:?} lies outside");
    }
    let stops = stops(drawing);
    for (i, (a, ..)) in stops.iter().enumerate() {
        for (b, ..) in &stops[..i] {
            let apart = (a.0 - b.0).hypot(a.1 - b.1);
            assert!(apart > 19.0, "{what}: {a:?} and {b:?}");
        }
    }
}

/// Places are in the order of strings and frets: along the strings, and in an upright box.
fn in_order(board: &Board, upright: bool, what: &str) {
    let drawing = if upright {
        board.upright()
    } else {
        board.along()
    };
    well_placed(&drawing, what);
    let drawn = stops(&drawing);
    assert_eq!(drawn.len(), board.stops.len(), "{what}");
    for (i, ((x, y), root, label)) in drawn.iter().enumerate() {
        let stop = &board.stops[i];
        assert_eq!((*root, label), (stop.root, &stop.label), "{what}");
        for (j, ((other_x, other_y), ..)) in drawn.iter().enumerate() {
            let other = &board.stops[j];
            let (along, across) = if upright {
                (y - other_y, x - other_x)
            } else {
                (x - other_x, other_y - y)
            };
            let mirror = if board.left { -1.0 } else { 1.0 };
            let (along, across) = if upright {
                (along, across * mirror)
            } else {
                (along * mirror, across)
            };
            let frets = i32::from(stop.fret) - i32::from(other.fret);
            let strings =
                i32::try_from(stop.string).unwrap() - i32::try_from(other.string).unwrap();
            let sign = |v: f32| if v.abs() < 0.5 { 0 } else { v.signum() as i32 };
            assert_eq!(sign(along), frets.signum(), "{what}: {stop:?} {other:?}");
            assert_eq!(sign(across), strings.signum(), "{what}: {stop:?} {other:?}");
        }
    }
}

#[test]
fn boards_of_sets_hold_what_the_shapes_hold() {
    let mut drawn = 0;
    for neck in necks() {
        for name in [
            "A minor pentatonic",
            "Eb major pentatonic",
            "F# minor blues",
        ] {
            let set = Scale::read(name).unwrap();
            for (open, left, labels) in [
                (false, false, LABELS[0]),
                (true, true, LABELS[1]),
                (true, false, LABELS[2]),
            ] {
                let style = NeckStyle {
                    labels,
                    left,
                    columns: None,
                };
                let Ok(shapes) = linked_shapes(&set, &neck, open) else {
                    continue;
                };
                for shape in &shapes {
                    let board = scale_board(shape, &neck, style);
                    let what = format!("{name} {} {left}", neck.tuning());
                    in_order(&board, false, &what);
                    let expected: BTreeSet<(usize, u8, bool)> = shape
                        .positions()
                        .iter()
                        .map(|p| {
                            let string = neck.string_count() - usize::from(p.string.value());
                            (
                                string,
                                p.fret.value(),
                                p.midi % 12 == set.root().pitch_class().value(),
                            )
                        })
                        .collect();
                    let found: BTreeSet<(usize, u8, bool)> = board
                        .stops
                        .iter()
                        .map(|s| (s.string, s.fret, s.root))
                        .collect();
                    assert_eq!(found, expected, "{what}");
                    drawn += 1;
                }
            }
        }
    }
    assert!(drawn > 200, "{drawn}");
}

#[test]
fn boards_of_chords_hold_what_the_shapes_hold() {
    let mut drawn = 0;
    for neck in necks() {
        for symbol in ["C", "F#m7b5", "Bb13", "Esus4", "Am/G"] {
            let chord = *symbol::read(symbol).unwrap().chord().unwrap();
            for (left, labels) in [(false, LABELS[0]), (true, LABELS[2])] {
                let style = NeckStyle {
                    labels,
                    left,
                    columns: None,
                };
                for shape in chord_shapes(&chord, &neck, &HandModel::default(), 6) {
                    let board = chord_board(&shape, &neck, style);
                    let what = format!("{symbol} {} {left}", shape.frets_text());
                    in_order(&board, true, &what);
                    let muted = shape.frets().iter().filter(|f| f.is_none()).count();
                    let crosses = board
                        .upright()
                        .items
                        .iter()
                        .filter(|item| matches!(item, Item::Words(w) if w.text.plain() == "x"))
                        .count();
                    assert_eq!((board.muted.len(), crosses), (muted, muted), "{what}");
                    assert_eq!(board.stops.len() + muted, neck.string_count(), "{what}");
                    drawn += 1;
                }
            }
        }
    }
    assert!(drawn > 300, "{drawn}");
}

#[test]
fn pages_keep_their_boards_apart_and_their_words_inside() {
    let neck = Neck::standard();
    let set = Scale::read("A minor pentatonic").unwrap();
    let style = NeckStyle::default();
    for (shapes, long) in [(1, false), (5, false), (12, true)] {
        let all = linked_shapes(&set, &neck, false).unwrap();
        let boards: Vec<Captioned> = all
            .iter()
            .cycle()
            .take(shapes)
            .map(|shape| Captioned {
                caption: if long {
                    "a caption that is far longer than its board is wide, and goes on".to_owned()
                } else {
                    "from A".to_owned()
                },
                drawing: scale_board(shape, &neck, style).along(),
            })
            .collect();
        let page = page_of("A minor pentatonic", "degrees", &boards, PAGE_PT);
        well_placed(&page, &format!("{shapes}"));
        assert_eq!(
            stops(&page).len(),
            boards
                .iter()
                .map(|b| stops(&b.drawing).len())
                .sum::<usize>()
        );
    }
}

/// The elements of an SVG text with their depth; panics where it is not well formed.
fn elements(svg: &str) -> Vec<String> {
    let mut open: Vec<String> = Vec::new();
    let mut all = Vec::new();
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        assert!(!rest[..at].contains('>'), "{}", &rest[..at]);
        let end = rest[at..].find('>').expect("a tag ends") + at;
        let tag = &rest[at + 1..end];
        let name = tag
            .trim_start_matches('/')
            .split([' ', '/'])
            .next()
            .unwrap()
            .to_owned();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name));
        } else {
            all.push(name.clone());
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty());
    all
}

#[test]
fn whatever_the_title_says_nothing_of_it_runs() {
    let wild = [
        "<script>alert(1)</script>",
        "\u{202E}\u{5D0}\u{5D1}",
        "\u{1F3B8}",
        "a\u{0}b\u{7}",
        "]]>&\"'",
        &"x".repeat(200),
    ];
    for title in wild {
        let drawing = page_of(title, title, &[], PAGE_PT);
        let svg = to_svg(&drawing);
        let names: BTreeSet<String> = elements(&svg).into_iter().collect();
        let known = [
            "svg", "title", "desc", "g", "rect", "text", "line", "circle",
        ];
        assert!(
            names.iter().all(|name| known.contains(&name.as_str())),
            "{names:?}"
        );
        assert!(!svg.chars().any(|c| c.is_control() && c != '\n'));
        assert!(write_png(&drawing, 1.0).is_ok());
    }
    assert!(write_png(&page_of("x", "", &[], PAGE_PT), 1e6).is_err());
    assert!(write_png(&Drawing::default(), 1.0).is_err());
}

#[test]
fn a_png_shows_squares_black_and_rings_white() {
    // Decoded by the same crate that wrote it; its numbers are the file's.
    let neck = Neck::standard();
    let set = Scale::read("A minor pentatonic").unwrap();
    let shape = &linked_shapes(&set, &neck, false).unwrap()[0];
    let drawing = scale_board(shape, &neck, NeckStyle::default()).along();
    let png = write_png(&drawing, 3.0).unwrap();
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let pixels = tiny_skia::Pixmap::decode_png(&png).unwrap();
    for ((x, y), root, label) in stops(&drawing) {
        // Inside the edge, beside the label.
        let at = |dx: f32| {
            pixels
                .pixel(((x + dx) * 3.0) as u32, ((y - 7.0) * 3.0) as u32)
                .unwrap()
        };
        let level = at(0.0).red();
        assert_eq!(level < 128, root, "{label}: {level}");
    }
}

#[test]
fn signs_stand_for_flats_and_sharps_and_nothing_else() {
    for (typed, shown) in [
        ("Bb", "B♭"),
        ("Bbmaj7", "B♭maj7"),
        ("C#m7b5", "C♯m7♭5"),
        ("b3", "♭3"),
        ("bb7", "♭♭7"),
        ("#4", "♯4"),
        ("bVII", "♭VII"),
        ("7(b9,#11)", "7(♭9,♯11)"),
        ("Ebb", "E♭♭"),
        ("Ab/Eb", "A♭/E♭"),
        ("a bobbin", "a bobbin"),
        ("minor blues", "minor blues"),
        ("Gabby", "Gabby"),
        ("Abby Abm", "Abby A♭m"),
        ("Abbm7b5", "A♭♭m7♭5"),
    ] {
        assert_eq!(signs(typed), shown);
    }
}
