//! Every row of the reference tables, made with independent libraries (their heads say which and how).

use std::fs;
use std::path::Path;

use fivefold::theory::{Harmony, Key, PitchClass, PitchName, Scale, numeral, symbol};

/// The rows of a table, each with at least so many columns; a missing or shortened table is a failure.
fn rows(name: &str, columns: usize, at_least: usize) -> Vec<Vec<String>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(name);
    let text =
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("tests/reference/{name}: {error}"));
    let rows: Vec<Vec<String>> = text
        .lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .map(|line| line.split('\t').map(str::to_owned).collect())
        .collect();
    assert!(
        rows.len() >= at_least,
        "{name} has {} rows, expected at least {at_least}",
        rows.len()
    );
    for row in &rows {
        assert!(row.len() >= columns, "{name}: {row:?}");
    }
    rows
}

fn joined<T: ToString>(items: impl IntoIterator<Item = T>) -> String {
    items
        .into_iter()
        .map(|item| item.to_string())
        .collect::<Vec<_>>()
        .join(" ")
}

fn classes(names: &str) -> Vec<PitchClass> {
    let mut classes: Vec<_> = names
        .split(' ')
        .map(|name| PitchName::read(name).unwrap().pitch_class())
        .collect();
    classes.sort_unstable();
    classes.dedup();
    classes
}

fn report(differences: &[String], rows: usize) {
    let shown = differences
        .iter()
        .take(400)
        .cloned()
        .collect::<Vec<_>>()
        .join("\n");
    assert!(
        differences.is_empty(),
        "{} of {rows} rows differ:\n{shown}",
        differences.len()
    );
}

#[test]
fn chord_symbols_agree_with_the_table() {
    let rows = rows("chord_symbols.tsv", 5, 1500);
    let mut differences = Vec::new();
    for row in &rows {
        let [symbol, root, bass, tones, pitch_classes] = [0, 1, 2, 3, 4].map(|at| row[at].as_str());
        match symbol::read(symbol) {
            Ok(Harmony::Chord(chord)) => {
                let ours = [
                    chord.root().to_string(),
                    chord.bass().to_string(),
                    joined(chord.tones()),
                    joined(chord.pitch_classes().iter().map(|class| class.value())),
                ];
                if ours != [root, bass, tones, pitch_classes] {
                    differences.push(format!(
                        "{symbol}: {} / {} -- ours {} / {}",
                        bass, tones, ours[1], ours[2]
                    ));
                }
                assert_eq!(
                    symbol::read(&chord.to_string()),
                    Ok(Harmony::Chord(chord)),
                    "{symbol}"
                );
            }
            Ok(Harmony::NoChord) => differences.push(format!("{symbol}: no chord")),
            Err(error) => differences.push(format!("{symbol}: {tones} -- {error}")),
        }
    }
    report(&differences, rows.len());
}

/// Roots that need a double accidental are respelled by us (bVI in Gb major is D, not Ebb): there only the sound counts.
#[test]
fn numerals_agree_with_the_table() {
    let rows = rows("numerals.tsv", 4, 1500);
    let mut differences = Vec::new();
    let mut respelled = 0;
    for row in &rows {
        let [key, written, root, tones] = [0, 1, 2, 3].map(|at| row[at].as_str());
        let key = Key::read(key).unwrap();
        let chord = match numeral::read_roman(written).and_then(|numeral| numeral.resolve(&key)) {
            Ok(Harmony::Chord(chord)) => chord,
            other => {
                differences.push(format!("{key} {written}: {tones} -- {other:?}"));
                continue;
            }
        };
        let expected = PitchName::read(root).unwrap();
        let same = if expected.alter().abs() > 1 {
            respelled += 1;
            chord.root() == expected.simplified() && chord.pitch_classes() == classes(tones)
        } else {
            chord.root() == expected && joined(chord.tones()) == tones
        };
        if !same {
            differences.push(format!(
                "{key} {written}: {root}: {tones} -- ours {}",
                joined(chord.tones())
            ));
        }
    }
    report(&differences, rows.len());
    assert!(respelled * 10 < rows.len(), "{respelled} roots respelled");
}

/// Names that are not in our table are checked by their degrees on the same root.
#[test]
fn scales_agree_with_the_table() {
    let rows = rows("scales.tsv", 4, 500);
    let mut differences = Vec::new();
    let mut named = 0;
    for row in &rows {
        let [name, root, degrees, notes] = [0, 1, 2, 3].map(|at| row[at].as_str());
        let by_degrees = Scale::read(&format!("{root} {degrees}")).unwrap();
        let mut scales = vec![by_degrees];
        if let Ok(scale) = Scale::read(&format!("{root} {name}")) {
            named += 1;
            assert_eq!(scale, by_degrees, "{root} {name}");
            scales.push(scale);
        }
        for scale in scales {
            if joined(scale.notes()) != notes || joined(scale.degrees()) != degrees {
                differences.push(format!(
                    "{root} {name}: {notes} -- ours {}",
                    joined(scale.notes())
                ));
            }
            assert_eq!(Scale::read(&scale.name()), Ok(scale));
        }
    }
    report(&differences, rows.len());
    assert!(named >= 350, "{named} rows are of scales we know by name");
}
