//! Jams that must not change: the same seed gives the same bytes, and the written document plays the same again.

use std::path::Path;
use std::process::{Command, Stdio};

use tempfile::TempDir;

use crate::golden::compare;

/// Runs the program in a folder; it must succeed without a warning.
fn run(folder: &Path, arguments: &[&str]) {
    let output = Command::new(env!("CARGO_BIN_EXE_fivefold"))
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert_eq!(
        (output.status.code(), &*complaint),
        (Some(0), ""),
        "{arguments:?}"
    );
}

fn bytes(folder: &Path, name: &str) -> Vec<u8> {
    std::fs::read(folder.join(name)).unwrap()
}

/// Writes a jam as file, events and document, with the text `more` at the end of the document. Gives the three.
fn written(options: &[&str], more: &str) -> [Vec<u8>; 3] {
    let folder = TempDir::new().unwrap();
    let folder = folder.path();
    let files = ["-o", "x.mid", "-o", "x.jsonl", "-o", "x.toml"];
    run(folder, &[&["jam"], options, &files].concat());
    if more.is_empty() {
        run(folder, &["play", "x.toml", "-o", "again.mid"]);
        assert!(
            bytes(folder, "again.mid") == bytes(folder, "x.mid"),
            "{options:?}"
        );
    } else {
        let document = String::from_utf8(bytes(folder, "x.toml")).unwrap() + more;
        std::fs::write(folder.join("x.toml"), document).unwrap();
        run(
            folder,
            &["play", "x.toml", "--force", "-o", "x.mid", "-o", "x.jsonl"],
        );
    }
    // The progression in the document keeps the rule the document names.
    run(folder, &["check", "x.toml"]);
    ["x.mid", "x.jsonl", "x.toml"].map(|name| bytes(folder, name))
}

fn pinned(name: &str, options: &[&str], more: &str) {
    let found = written(options, more);
    for (ending, bytes) in ["mid", "jsonl", "toml"].iter().zip(&found) {
        compare(&format!("{name}.{ending}"), bytes);
    }
    assert!(
        found == written(options, more),
        "{name}: the same seed, other bytes"
    );
}

#[test]
fn a_plain_jam_is_the_same_to_the_byte() {
    let options = ["--set", "A minor pentatonic", "--seed", "7", "--times", "1"];
    pinned("jam-plain", &options, "");
}

#[test]
fn a_swung_blues_with_guitars_and_a_walk_is_the_same_to_the_byte() {
    let options = [
        "--set",
        "E minor blues",
        "--fit",
        "blues",
        "--chords",
        "sevenths",
        "--seed",
        "3",
        "--length",
        "12",
        "--times",
        "1",
        "--feel",
        "swing 2:1",
        "--parts",
        "click,bass,strum,guide",
    ];
    pinned(
        "jam-blues",
        &options,
        "\n[parts.bass]\nline = \"walking\"\n",
    );
}

#[test]
fn a_jam_through_keys_in_six_eight_is_the_same_to_the_byte() {
    let options = [
        "--set",
        "D hirajoshi",
        "--fit",
        "home",
        "--seed",
        "11",
        "--length",
        "4",
        "--rhythm",
        "half bar",
        "--meter",
        "6/8",
        "--keys",
        "D minor, A minor",
        "--tempo",
        "60 to 72 by 4 every 2 bars",
        "--parts",
        "click,bass,strum,guide",
    ];
    pinned("jam-keys", &options, "\n[parts.bass]\nline = \"walking\"\n");
}

#[test]
fn every_written_document_plays_the_same_again() {
    let sets = [
        "C major pentatonic",
        "F# minor pentatonic",
        "Bb dominant pentatonic",
        "E in-sen",
    ];
    let meters = ["4/4", "3/4", "6/8", "7/8 = 2+2+3", "5/4"];
    for (seed, set) in (1..).zip(sets) {
        let meter = meters[seed % meters.len()];
        let seed = seed.to_string();
        let parts = "click,pads,bass,kit,drone,strum,guide";
        for keys in ["fourths", "shuffle"] {
            let options = [
                "--set",
                set,
                "--seed",
                &seed,
                "--length",
                "4",
                "--fit",
                "clear",
                "--meter",
                meter,
                "--keys",
                keys,
                "--parts",
                parts,
                "--count-in",
                "2",
            ];
            written(&options, "");
        }
    }
}

#[test]
fn a_jam_keeps_its_rule_to_the_last_bar() {
    // Over hirajoshi, in and in-sen no chord on the tonic is clear, and over iwato none is inside.
    for (set, rule) in [
        ("A hirajoshi", "clear"),
        ("D in", "clear"),
        ("E in-sen", "clear"),
        ("B iwato", "inside"),
        ("B iwato", "clear"),
        ("E minor blues", "blues"),
    ] {
        for seed in ["1", "2", "3", "4"] {
            let options = ["--set", set, "--fit", rule, "--seed", seed, "--length", "4"];
            written(&options, "");
        }
    }
}
