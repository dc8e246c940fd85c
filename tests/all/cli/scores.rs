//! Scores of notation programs, and MIDI files to click to.

use super::*;

fn bytes(folder: &TempDir, name: &str) -> Vec<u8> {
    std::fs::read(folder.path().join(name)).unwrap()
}

#[test]
fn a_score_packed_or_not_plays_the_same_as_its_piece() {
    let folder = TempDir::new().unwrap();
    let chart = "| Am7 |: D9 / G7 / :| N.C. |";
    let files = ["-o", "a.mid", "-o", "a.musicxml", "-o", "a.MXL"];
    let out = run(folder.path(), &[&["play", chart], &files[..]].concat()).good();
    insta::assert_snapshot!(out, @"
    wrote a.mid: 4 tracks, count-in of 1 bar, 4 bars, ending of 1 bar, 62 notes, 0:16.0, seed 1
    wrote a.musicxml: the score, 4 measures
    wrote a.MXL: the score, 4 measures
    ");
    for score in ["a.musicxml", "a.MXL"] {
        run(folder.path(), &["play", score, "-o", "b.mid", "--force"]).good();
        assert_eq!(bytes(&folder, "b.mid"), bytes(&folder, "a.mid"), "{score}");
        let piped = with_input(&["check", "-"], &bytes(&folder, score)).good();
        assert!(piped.contains("| Am7"), "{piped}");
    }
    let error = run(folder.path(), &["play", "a.MXL", "--meter", "3/4"]).refused();
    assert!(
        error.contains("is a score, and says its meter itself"),
        "{error}"
    );
    let error = run(
        folder.path(),
        &["play", chart, "--bars", "2", "-o", "c.mxl"],
    )
    .refused();
    assert!(error.contains("a score holds the whole piece"), "{error}");
}

#[test]
fn what_is_no_score_is_refused_by_name() {
    let folder = TempDir::new().unwrap();
    write(
        folder.path(),
        "a.xml",
        "<?xml version=\"1.0\"?><score-timewise/>",
    );
    let error = run(folder.path(), &["check", "a.xml"]).refused();
    assert!(error.contains("found `score-timewise`"), "{error}");
    assert!(error.contains("export it as score-partwise"), "{error}");
    write(folder.path(), "b.mxl", b"PK\x03\x04nothing");
    let error = run(folder.path(), &["check", "b.mxl"]).refused();
    assert!(error.contains("b.mxl: the archive is broken"), "{error}");
}

#[test]
fn a_midi_file_is_clicked_to() {
    let folder = TempDir::new().unwrap();
    let plan = ["--tempo", "60 to 90", "--count-in", "0"];
    let piece = ["play", "| Am | (3/4) D | (4/4) E |", "-o", "a.mid"];
    run(folder.path(), &[&piece[..], &plan[..]].concat()).good();
    let out = run(folder.path(), &["click", "a.mid", "-o", "b.mid"]).good();
    assert!(
        out.starts_with("wrote b.mid: 2 tracks, 4 bars, 15 notes"),
        "{out}"
    );
    // The click of the click is the same.
    run(folder.path(), &["click", "b.mid", "-o", "c.mid"]).good();
    assert_eq!(bytes(&folder, "c.mid"), bytes(&folder, "b.mid"));
    let twice = run(
        folder.path(),
        &["click", "a.mid", "--times", "2", "-o", "d.mid"],
    )
    .good();
    assert!(twice.contains("8 bars, 30 notes"), "{twice}");
    let error = run(folder.path(), &["click", "a.mid", "--meter", "3/4"]).refused();
    assert!(error.contains("says its meters itself"), "{error}");
    let error = run(folder.path(), &["click", "a.mid", "-o", "a.toml"]).refused();
    assert!(error.contains("are finer"), "{error}");
    let error = run(folder.path(), &["play", "a.mid"]).refused();
    assert!(error.contains("`fivefold click a.mid`"), "{error}");
    write(folder.path(), "e.mid", &bytes(&folder, "a.mid")[..40]);
    let error = run(folder.path(), &["click", "e.mid", "-o", "f.mid"]).refused();
    assert!(
        error.contains("e.mid: the file is broken at byte 15"),
        "{error}"
    );
}
