#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::theory::symbol;

fn shapes(text: &str, most: usize) -> Vec<ChordShape> {
    let harmony = symbol::read(text).unwrap();
    chord_shapes(
        harmony.chord().unwrap(),
        &Neck::standard(),
        &HandModel::default(),
        most,
    )
}

#[test]
fn show() {
    for text in [
        "C", "A", "Am", "G", "E", "Em", "D", "Dm", "F", "Fm", "F7", "Fm7", "Bb", "Bbm", "Bb7",
        "Bbm7", "C7", "G7", "D7", "A7", "E7", "Am7", "Cmaj7", "B", "Bm", "F#m", "C9", "C13",
        "C7alt", "C6/9", "Cm7b5", "Cdim7", "C/G", "Am/G", "D/F#", "E5", "G5", "C5", "Csus4",
        "Caug", "Cmaj13", "C7#9", "E7#9", "Am/F#",
    ] {
        let list: Vec<String> = shapes(text, 8)
            .iter()
            .map(|s| {
                format!(
                    "{} {} {}",
                    s.frets_text(),
                    s.fingers_text(),
                    s.effort_hundredths()
                )
            })
            .collect();
        println!("{text}: {}", list.join(" | "));
    }
    let list: Vec<String> = shapes("C", 40)
        .iter()
        .map(|s| format!("{} {}", s.frets_text(), s.effort_hundredths()))
        .collect();
    println!("{}", list.join(" | "));
}
