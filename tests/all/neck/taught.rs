//! Chord shapes as they are taught (common practice) against the shapes the search puts first.

use std::collections::BTreeSet;

use fivefold::neck::{ChordShape, Neck, StringNumber};

use super::{chord, shapes};

/// The table by which the weights of the hand were set.
const TAUGHT: &str = include_str!("../../reference/chord_shapes.tsv");

/// Another one, by which they were not set.
const MORE: &str = include_str!("../../reference/chord_shapes_more.tsv");

/// Chords of the first table with another shape first, that shape, and why the weights prefer it.
const OTHERS: [(&str, &str, &str); 4] = [
    (
        "Bmaj7",
        "x21302",
        "four fingers beside one open string, like x21202 of B7, which is taught",
    ),
    (
        "Bsus4",
        "799977",
        "x24452 has a barre, three fingers and a stretch over four frets",
    ),
    (
        "Eadd9",
        "022102",
        "024100 has open strings beside the fourth fret",
    ),
    (
        "C9",
        "x32330",
        "an open third in place of the fifth, which needs a finger laid flat",
    ),
];

/// The same for the second table.
const MORE_OTHERS: [(&str, &str, &str); 7] = [
    (
        "F#m7b5",
        "232252",
        "2x221x leaves out a string between and one above",
    ),
    (
        "Bdim7",
        "x23131",
        "x2313x with the index laid down to the highest string",
    ),
    ("Fdim7", "123131", "xx3434 sounds on four strings"),
    (
        "Csus2",
        "x35533",
        "the open shapes have C and D side by side at the bottom",
    ),
    (
        "Gm6",
        "010030",
        "3x2333 leaves out a string between; two fingers make up for the bass",
    ),
    (
        "Bm6",
        "x2x132",
        "x20102 has a minor third at the bottom, which weighs as much as a muted string and a finger",
    ),
    (
        "F9",
        "101011",
        "open strings in place of a barre, with three fingers and the index on one fret",
    ),
];

/// The rows of a table: symbol and accepted shapes.
fn rows(table: &str) -> Vec<(&str, Vec<&str>)> {
    let lines = table.lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| {
            let (symbol, accepted) = line.split_once('\t').unwrap();
            (symbol, accepted.split(' ').collect())
        })
        .collect()
}

/// Chords whose first shape is not an accepted one, with that shape.
fn others(table: &str) -> Vec<(&str, String)> {
    rows(table)
        .into_iter()
        .map(|(symbol, accepted)| (symbol, accepted, shapes(symbol, 1)[0].frets_text()))
        .filter(|(_, accepted, first)| !accepted.contains(&first.as_str()))
        .map(|(symbol, _, first)| (symbol, first))
        .collect()
}

#[test]
fn the_shape_that_is_taught_comes_first() {
    assert_eq!((rows(TAUGHT).len(), rows(MORE).len()), (84, 33));
    for (table, known) in [(TAUGHT, &OTHERS[..]), (MORE, &MORE_OTHERS)] {
        let known: Vec<(&str, String)> = known
            .iter()
            .map(|(symbol, first, _)| (*symbol, (*first).to_owned()))
            .collect();
        assert_eq!(others(table), known);
    }
}

/// The place of a shape in the whole list of its chord, counted from 1.
fn place(all: &[ChordShape], frets: &str) -> Option<usize> {
    let at = all.iter().position(|shape| shape.frets_text() == frets);
    at.map(|at| at + 1)
}

#[test]
fn no_shape_that_is_taught_is_lost() {
    let (mut last, mut parts) = ((0, String::new()), Vec::new());
    for (symbol, accepted) in rows(TAUGHT) {
        let all = shapes(symbol, usize::MAX);
        for frets in accepted {
            let name = format!("{symbol} {frets}");
            match place(&all, frets) {
                Some(place) => last = last.max((place, name)),
                None => parts.push(name),
            }
        }
    }
    assert_eq!(last, (7, "Bm7 x20202".to_owned()));
    // Not listed beside 330013 and x32333, of which they are parts.
    assert_eq!(parts, ["Gsus4 3x0013", "C9 x3233x"]);
    assert_eq!(place(&shapes("Gsus4", 1), "330013"), Some(1));
    assert_eq!(place(&shapes("C9", 2), "x32333"), Some(2));
}

/// Every way of sounding all strings from one with the root up to the highest with no more than four fingers, each on a
/// string of its own, within three frets: what any hand can hold.
fn full_shapes(symbol: &str, neck: &Neck) -> BTreeSet<Vec<u8>> {
    let chord = chord(symbol);
    let classes: BTreeSet<u8> = chord
        .tones()
        .iter()
        .map(|t| t.pitch_class().value())
        .collect();
    let root = chord.root().pitch_class().value();
    let mut found = BTreeSet::new();
    for lowest in 4..=6_u8 {
        for low in 1..=12 {
            let mut begun: Vec<Vec<u8>> = vec![Vec::new()];
            for string in (1..=lowest).rev() {
                let open = neck
                    .midi(StringNumber::new(string).unwrap(), super::fret(0))
                    .unwrap();
                let frets: Vec<u8> = [0, low, low + 1, low + 2]
                    .into_iter()
                    .filter(|fret| classes.contains(&((open + fret) % 12)))
                    .filter(|fret| string < lowest || (open + fret) % 12 == root)
                    .collect();
                begun = begun
                    .iter()
                    .flat_map(|held| {
                        let longer = |fret: &u8| [held.as_slice(), &[*fret]].concat();
                        frets.iter().map(longer).collect::<Vec<_>>()
                    })
                    .collect();
            }
            found.extend(begun.into_iter().filter(|held| {
                let pressed = held.iter().filter(|fret| **fret > 0).count();
                let sounding = (1..=lowest).rev().zip(held).map(|(string, fret)| {
                    let string = StringNumber::new(string).unwrap();
                    neck.midi(string, super::fret(*fret)).unwrap() % 12
                });
                let lowest_held = held.iter().filter(|fret| **fret > 0).min();
                pressed <= 4
                    && lowest_held.is_none_or(|fret| *fret == low)
                    && sounding.collect::<BTreeSet<u8>>() == classes
            }));
        }
    }
    found
}

#[test]
fn every_full_shape_that_a_hand_can_hold_is_listed() {
    let neck = Neck::standard();
    let mut count = 0;
    for (symbol, _) in rows(TAUGHT) {
        let listed: BTreeSet<Vec<u8>> = shapes(symbol, usize::MAX)
            .iter()
            .map(|shape| shape.frets().iter().flatten().map(|f| f.value()).collect())
            .collect();
        for held in full_shapes(symbol, &neck) {
            assert!(listed.contains(&held), "{symbol} {held:?}");
            count += 1;
        }
    }
    assert!(count > 500, "{count}");
}
