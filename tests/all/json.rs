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

/// A log with takes of both kinds, so that every field is there.
pub(crate) fn filled_log(path: &str) {
    log_of(path, "scale");
}

/// The same with takes of this exercise.
pub(crate) fn log_of(path: &str, exercise: &str) {
    use fivefold::log::{FactRecord, Log, Moment, Pace, Player, Take, TakeAsk, Word};
    let remember = |_: Option<FactRecord>, _: &str, day| {
        Some(FactRecord {
            stability_days: 1.0,
            difficulty: 5.0,
            day,
            reviews: 2,
            failed: 1,
        })
    };
    let mut log = Log::open(std::path::Path::new(path), Box::new(remember)).unwrap();
    let pace = |can| {
        Some(Pace {
            can,
            doubt: 4.0,
            practice: can - 6.0,
        })
    };
    for day in 0..14_i64 {
        let ask = TakeAsk {
            fact: "G on string 6".to_owned(),
            asked: "G on string 6".to_owned(),
            answer: "string 6 fret 3".to_owned(),
            outcome: "wrong".to_owned(),
            came: Some("fret 4".to_owned()),
            after_ticks: Some(960),
        };
        log.add(&Take {
            player: Player::default(),
            began: Moment {
                unix_seconds: (20_000 + day) * 86_400,
                offset_seconds: 3600,
            },
            seconds: 90,
            exercise: exercise.to_owned(),
            title: "Scale".to_owned(),
            document: "title = \"Scale\"".to_owned(),
            seed: 1,
            key: Some("A minor".to_owned()),
            set: None,
            plan: "60".to_owned(),
            tempo_milli: Some(60_000),
            word: Some(if day == 0 { Word::Missed } else { Word::Clean }),
            before: pace(60.0),
            after: pace(61.0 + f64::from(u8::try_from(day).unwrap())),
            asks: vec![ask],
        })
        .unwrap();
    }
}

#[test]
fn every_field_has_its_row() {
    let set = "A minor pentatonic";
    let chart = "| Am | Dm7 | N.C. | E7 |";
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a.mid");
    let file = file.to_str().unwrap();
    let log = folder.path().join("log.sqlite");
    let log = log.to_str().unwrap();
    filled_log(log);
    let cases: [(&str, &[&[&str]]); 11] = [
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
                &["list", "grooves"],
                &["list", "routines"],
                &["list", "tunings"],
                &["list", "parts"],
                &["list", "settings"],
                &["list", "voices"],
                &["list", "controls"],
            ],
        ),
        ("play", &[&["play", chart, "-o", file]]),
        (
            "drill",
            &[
                &["drill", "roots", "--show", "--no-log", "--seed", "1"],
                &["drill", "scale", set, "--show", "--no-log", "--seed", "1"],
            ],
        ),
        (
            "practice",
            &[&["practice", "first-half-hour", "--show", "--no-log"]],
        ),
        (
            "log",
            &[
                &["log", "--log", log],
                &["log", "--log", log, "--players"],
                &["log", "--log", log, "--withdraw", "1"],
            ],
        ),
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
