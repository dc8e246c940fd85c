//! `list`, and ready charts by name.

use fivefold::chart::{Part, READY_CHARTS};
use serde_json::Value;

use super::{fresh, run, write};

fn json(what: &str) -> Vec<Value> {
    let mut all: Value = serde_json::from_str(&fresh(&["list", what, "--json"]).good()).unwrap();
    all[what].take().as_array().unwrap().clone()
}

#[test]
fn all_lists_have_a_line_a_thing() {
    for what in ["charts", "sets", "tunings", "parts", "voices", "controls"] {
        let listed = json(what);
        let lines = fresh(&["list", what]).good();
        // What stands above the controls ends with an empty line.
        let lines = lines.split("\n\n").last().unwrap();
        let lines = lines.lines().filter(|line| !line.ends_with(" notes"));
        assert_eq!(lines.clone().count(), listed.len(), "{what}");
        let name = if what == "controls" { "line" } else { "name" };
        for (line, thing) in lines.zip(&listed) {
            assert!(line.contains(thing[name].as_str().unwrap()), "{line}");
            assert!(line.chars().count() <= 90, "{line}");
        }
    }
    assert_eq!(json("charts").len(), READY_CHARTS.len());
    assert_eq!(json("voices").len(), 128);
    assert_eq!(json("parts").len(), Part::ALL.len());
}

/// Each set stands below the number of its notes.
#[test]
fn sets_are_listed_by_their_number_of_notes() {
    let mut notes = 0;
    let mut headings = Vec::new();
    for line in fresh(&["list", "sets"]).good().lines() {
        if let Some(count) = line.strip_suffix(" notes") {
            notes = count.parse().unwrap();
            headings.push(notes);
            continue;
        }
        let columns: Vec<&str> = line.trim().split("  ").filter(|c| !c.is_empty()).collect();
        assert_eq!(columns[1].split_whitespace().count(), notes, "{line}");
    }
    assert_eq!(headings, [5, 6, 7]);
}

#[test]
fn what_is_listed_is_taken_where_it_is_asked_for() {
    for set in json("sets") {
        fresh(&["scale", &format!("A {}", set["name"].as_str().unwrap())]).good();
    }
    for tuning in json("tunings") {
        fresh(&[
            "neck",
            "A minor pentatonic",
            "--tuning",
            tuning["name"].as_str().unwrap(),
        ])
        .good();
    }
    // The guide needs a set.
    let piece = ["check", "| Am7 | D9 |", "--set", "A minor pentatonic"];
    for part in json("parts") {
        let name = part["name"].as_str().unwrap();
        fresh(&[&piece[..], &["--parts", name]].concat()).good();
    }
    // Each setting takes its usual value.
    for setting in json("settings") {
        let name = setting["name"].as_str().unwrap();
        let value = match &setting["usually"] {
            Value::String(text) => text.clone(),
            Value::Null => continue,
            other => other.to_string(),
        };
        let setting = format!("{name}={value}");
        fresh(&[&piece[..], &["--part", &setting]].concat()).good();
    }
}

#[test]
fn settings_are_listed_with_those_of_all_parts_in_front() {
    insta::assert_snapshot!(fresh(&["list", "settings"]).good(), @r#"
    Every part has: on (true or false), level (0 to 127),
    pan (-100 left to 100 right), channel (1 to 16) and, but
    for click and kit, program (1 to 128, see `fivefold list
    voices`). Write `--part bass.level=80`, or `level = 80`
    below `[parts.bass]`.

    click.count_in         bars before bar 1: 0 to 8, usually 1
    click.accents          whether first beats, and the first notes of groups, are louder: true or false, usually true
    click.subdivide        clicks to the beat: 1 to 8, usually 1
    click.beats            which beats click; the count-in keeps all: all, or a list such as [2, 4], usually all
    click.silent           bars without click: in turn, or by chance: none, 3 on 1 off, or 1 in 4, usually none
    pads.voices            notes to a chord at most: 2 to 6, usually 4
    pads.strike            struck in every bar, or where the chord changes: bar, change, usually bar
    pads.rhythm            a rhythm to strike in instead, spread over each bar: places such as D . D U, 1 to 32
    pads.low               the lowest note: a note with its octave, usually G2
    pads.high              the highest note, at least 16 semitones above `low`: a note with its octave, usually E5
    bass.line              what it plays: groove, roots, root and fifth, walking, usually groove
    drone.notes            what it holds: tonic, tonic and fifth, usually tonic and fifth
    strum.strokes          the strokes of a bar; by the groove unless said: places such as D . D U, 1 to 32
    strum.section_strokes  other strokes in sections, by their names: a table such as { A = "s s s s" }, usually {}
    strum.shape            the shape nearest to the chord before, or always the easiest: near, easiest, usually near
    strum.spread_ms        milliseconds from string to string: 0 to 40, usually 12
    strum.one_string       a string a stroke, from the lowest up, to hear whether each rings: true or false, usually false
    guide.string           the string its root lies on: 5 to 6, usually 6
    guide.run              how it runs through the shape: up, down, both, thirds, groups of three, groups of four, usually both
    guide.notes            notes to the beat; by the meter unless said: 1 to 8
    guide.meets_chords     whether chords begin on their tones; else the run goes on: true or false, usually true
    "#);
}

#[test]
fn a_ready_chart_plays_by_name_unless_a_file_has_it() {
    let folder = tempfile::TempDir::new().unwrap();
    let here = folder.path();
    let ran = run(here, &["play", "low-tide", "-o", "a.mid"]);
    assert_eq!(ran.status, 0);
    assert!(
        ran.err.starts_with("the ready chart minor/low-tide\n"),
        "{}",
        ran.err
    );
    let whole = run(here, &["play", "Minor/Low-Tide.toml", "-o", "b.mid"]);
    assert_eq!(whole.status, 0);
    let bytes = |name: &str| std::fs::read(here.join(name)).unwrap();
    assert_eq!(bytes("a.mid"), bytes("b.mid"));
    // With `--json` there are no remarks.
    let told = run(here, &["check", "low-tide", "--json"]).good();
    assert_eq!(
        serde_json::from_str::<Value>(&told).unwrap()["title"],
        "Low tide"
    );
    write(
        here,
        "low-tide",
        "title = \"Ours\"\n[sections]\nA = \"| C |\"\n",
    );
    assert!(
        run(here, &["check", "low-tide"])
            .good()
            .starts_with("Ours\n")
    );
    insta::assert_snapshot!(fresh(&["check", "low-tied"]).refused(), @"
    Error: cannot read low-tied: No such file or directory.
      Write `low-tide` for the ready chart; `fivefold list charts` shows all.
    ");
    insta::assert_snapshot!(fresh(&["list", "chart"]).refused(), @"
    Error: `WHAT` is `charts`, `sets`, `grooves`, `routines`, `tunings`, `parts`, `settings`, `voices` or `controls`, found `chart`.
      Write `fivefold list charts`.
    ");
}
