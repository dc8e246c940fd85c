//! Every field of JSON has its row in `DEVELOPERS.md`.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::{in_process, root};

/// What a command writes with `--json`, results and errors.
fn written(arguments: &[&str]) -> Vec<Value> {
    let (out, err, _) = in_process(&[arguments, &["--json"]].concat());
    let text = out + &err;
    let found: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert!(!found.is_empty(), "{arguments:?}");
    found
}

fn keys(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                found.insert(key.clone());
                keys(value, found);
            }
        }
        Value::Array(values) => values.iter().for_each(|value| keys(value, found)),
        _ => {}
    }
}

/// The fields in the table of DEVELOPERS.md for a command.
fn documented(command: &str) -> BTreeSet<String> {
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let section = text.split("\n## JSON of the commands\n").nth(1).unwrap();
    let section = section.split("\n## ").next().unwrap();
    let rows = section.lines().filter_map(|line| {
        let cells: Vec<&str> = line.split(" | ").collect();
        (cells.len() == 3 && cells[0] == format!("| {command}")).then(|| cells[1].to_owned())
    });
    rows.flat_map(|names| {
        let names: Vec<String> = names
            .split(", ")
            .map(|n| n.trim_matches('`').to_owned())
            .collect();
        names
    })
    .collect()
}

#[test]
fn every_field_has_its_row() {
    let set = "A minor pentatonic";
    let chart = "| Am | Dm7 | N.C. | E7 |";
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.mid");
    let file = file.to_str().unwrap();
    let cases: [(&str, &[&[&str]]); 8] = [
        ("chord", &[&["chord", "C7/E"], &["chord", "N.C."]]),
        (
            "scale",
            &[&["scale", set, "--chords"], &["scale", "A minor"]],
        ),
        (
            "neck",
            &[
                &["neck", set, "--open"],
                &["neck", "F", "--places", "3"],
                &["neck", "--roots"],
            ],
        ),
        (
            "check",
            &[
                &["check", chart, "--set", set],
                &["check", chart, "--times", "endless"],
                &["check", "low-tide"],
            ],
        ),
        (
            "jam",
            &[
                &["jam", "--set", set, "--seed", "1", "--show"],
                // With notes that rub.
                &["jam", "--set", "Ab blues", "--seed", "1", "--show"],
                &[
                    "jam",
                    "--set",
                    set,
                    "--seed",
                    "1",
                    "--show",
                    "--why",
                    "--likeliest",
                    "2",
                    "--keys",
                    "fourths",
                ],
            ],
        ),
        (
            "list",
            &[
                &["list", "charts"],
                &["list", "sets"],
                &["list", "tunings"],
                &["list", "parts"],
                &["list", "settings"],
                &["list", "voices"],
                &["list", "controls"],
            ],
        ),
        ("play", &[&["play", chart, "-o", file]]),
        (
            "error",
            &[&["chord", "H"], &["nope"], &["neck", "C", "--capo", "40"]],
        ),
    ];
    for (command, calls) in cases {
        let mut found = BTreeSet::new();
        for call in calls {
            written(call)
                .iter()
                .for_each(|value| keys(value, &mut found));
        }
        // `check low-tide` says on the error stream that it is a ready chart.
        let documented = documented(command);
        let missing: Vec<&String> = found.difference(&documented).collect();
        assert!(missing.is_empty(), "{command} has no row for {missing:?}");
        let gone: Vec<&String> = documented.difference(&found).collect();
        assert!(gone.is_empty(), "{command} has no field {gone:?}");
    }
}
