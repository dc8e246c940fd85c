//! What lies on the neck as one page of boards.

use super::Lying;
use crate::neck::Neck;
use crate::picture::{
    Captioned, Drawing, PAGE_PT, chord_board, legend, page_of, scale_board, signs, whole_board,
};
use crate::view::NeckStyle;

/// All of it on one page: the shapes of one set or chord below its name, several each below their own names.
pub(super) fn page(found: &[Lying], neck: &Neck, style: NeckStyle) -> Drawing {
    let alone = found.len() == 1;
    let boards: Vec<Captioned> = found
        .iter()
        .flat_map(|one| boards(one, alone, neck, style))
        .collect();
    let mut names: Vec<String> = found.iter().map(name).collect();
    names.dedup();
    let title = match &names[..] {
        [first, rest @ ..] if rest.len() > 4 => format!("{first} and {} more", rest.len()),
        names => names.join(", "),
    };
    page_of(&signs(&title), &legend(neck, style), &boards, PAGE_PT)
}

fn name(lying: &Lying) -> String {
    match lying {
        Lying::Set(set, _) | Lying::WholeSet(set, _) => set.name(),
        Lying::Chord(chord, _) | Lying::WholeChord(chord, _) => chord.to_string(),
    }
}

/// The boards of one set or chord, the first captioned with its name where it does not stand alone.
fn boards(lying: &Lying, alone: bool, neck: &Neck, style: NeckStyle) -> Vec<Captioned> {
    let captioned = |text: String, drawing: Drawing| {
        let caption = match (alone, text.as_str()) {
            (true, _) => text,
            (false, "") => name(lying),
            (false, text) => format!("{}, {text}", name(lying)),
        };
        Captioned {
            caption: signs(&caption),
            drawing,
        }
    };
    match lying {
        Lying::Set(_, shapes) => shapes
            .iter()
            .map(|shape| {
                let from = shape.lowest().map_or(String::new(), |lowest| {
                    let string = lowest.string.value();
                    if alone {
                        format!("from {} on string {string}", lowest.note)
                    } else {
                        format!("string {string}")
                    }
                });
                captioned(from, scale_board(shape, neck, style).along())
            })
            .collect(),
        Lying::Chord(_, shapes) => shapes
            .iter()
            .map(|shape| {
                let frets = if alone {
                    shape.frets_text()
                } else {
                    String::new()
                };
                captioned(frets, chord_board(shape, neck, style).upright())
            })
            .collect(),
        Lying::WholeSet(_, positions) | Lying::WholeChord(_, positions) => {
            let board = whole_board(positions, neck, style);
            vec![captioned("every position".to_owned(), board.along())]
        }
    }
}
