//! Shapes of sets and chords as boards.

use super::board::{Board, Stop};
use super::signs::signs;
use crate::neck::{ChordShape, Finger, Fret, Neck, Position, ScaleShape, StringNumber};
use crate::theory::Degree;
use crate::view::{NeckLabels, NeckStyle, window};

/// Width of a page with several boards: landscape A4 (297 mm) less its margins.
pub const PAGE_PT: f32 = 800.0;

/// The index of a string, counted from 0, the lowest.
fn index(neck: &Neck, string: StringNumber) -> usize {
    neck.string_count() - usize::from(string.value()).min(neck.string_count())
}

fn label(position: &Position, finger: Option<Finger>, labels: NeckLabels) -> String {
    match labels {
        NeckLabels::Degrees => signs(&position.degree.to_string()),
        NeckLabels::Notes => signs(&position.note.to_string()),
        NeckLabels::Fingers => finger.map_or("o".to_owned(), |finger| finger.to_string()),
    }
}

/// The board of these positions between two frets.
fn board(
    neck: &Neck,
    positions: &[Position],
    fingers: impl Iterator<Item = Option<Finger>>,
    frets: (Fret, Fret),
    style: NeckStyle,
) -> Board {
    let (from, to) = (frets.0.value().max(1), frets.1.value());
    let stops: Vec<Stop> = positions
        .iter()
        .zip(fingers)
        .map(|(position, finger)| Stop {
            string: index(neck, position.string),
            fret: position.fret.value(),
            label: label(position, finger, style.labels),
            root: position.degree == Degree::ROOT,
        })
        .collect();
    let inlay = |fret: u8| Some((fret, neck.markers_at(Fret::new(fret).ok()?)));
    Board {
        strings: neck
            .strings()
            .map(|string| {
                let pitch = neck.tuning().pitch(string);
                pitch.map_or(String::new(), |pitch| signs(&pitch.name().to_string()))
            })
            .collect(),
        from,
        to,
        about: in_words(neck, positions),
        stops,
        inlays: (from..=to)
            .filter_map(inlay)
            .filter(|(_, n)| *n > 0)
            .collect(),
        left: style.left,
        ..Board::default()
    }
}

/// What lies where, string by string from the lowest: `string 6: fret 5 A (1), fret 8 C (b3)`.
fn in_words(neck: &Neck, positions: &[Position]) -> String {
    let on = |string: StringNumber| {
        let mine = positions.iter().filter(|p| p.string == string);
        let found: Vec<String> = mine
            .map(|p| format!("fret {} {} ({})", p.fret.value(), p.note, p.degree))
            .collect();
        (!found.is_empty()).then(|| format!("string {}: {}", string.value(), found.join(", ")))
    };
    neck.strings().filter_map(on).collect::<Vec<_>>().join("; ")
}

/// The board of a shape of a set.
pub fn scale_board(shape: &ScaleShape, neck: &Neck, style: NeckStyle) -> Board {
    let frets = window(neck, shape.positions());
    board(
        neck,
        shape.positions(),
        shape.fingers().iter().copied(),
        frets,
        style,
    )
}

/// The board of a shape of a chord.
pub fn chord_board(shape: &ChordShape, neck: &Neck, style: NeckStyle) -> Board {
    let sounding = shape.frets().iter().zip(shape.fingers());
    let fingers = sounding
        .filter(|(fret, _)| fret.is_some())
        .map(|(_, finger)| *finger);
    let frets = window(neck, shape.positions());
    let strings = shape.frets().iter().enumerate();
    Board {
        muted: strings
            .filter(|(_, fret)| fret.is_none())
            .map(|(at, _)| at)
            .collect(),
        barres: shape
            .barres()
            .iter()
            .map(|barre| {
                (
                    barre.fret.value(),
                    index(neck, barre.from),
                    index(neck, barre.to),
                )
            })
            .collect(),
        ..board(neck, shape.positions(), fingers, frets, style)
    }
}

/// Every position on the whole neck.
pub fn whole_board(positions: &[Position], neck: &Neck, style: NeckStyle) -> Board {
    // Fingers belong to a shape.
    let labels = match style.labels {
        NeckLabels::Fingers => NeckLabels::Degrees,
        labels => labels,
    };
    let style = NeckStyle { labels, ..style };
    let frets = (Fret::OPEN, neck.last_fret());
    board(neck, positions, std::iter::repeat(None), frets, style)
}

/// What is written on the strings, in a line below the title.
pub fn legend(neck: &Neck, style: NeckStyle) -> String {
    let what = match style.labels {
        NeckLabels::Degrees => "degrees",
        NeckLabels::Notes => "notes",
        NeckLabels::Fingers => "fingers",
    };
    let mut out = format!("{what}; the root is a square");
    if neck.tuning().name() != Some("standard") {
        out += &format!("; tuning {}", signs(&neck.tuning().to_string()));
    }
    if !neck.capo().is_open() {
        out += &format!("; capo {}, frets count from it", neck.capo());
    }
    if style.left {
        out += "; left-handed";
    }
    out
}
