//! The drills over a set, as pieces that play and as commands.

use std::path::Path;
use std::process::{Command, Output, Stdio};

use fivefold::arrange::{Arrangement, Excerpt};
use fivefold::chart::Run;
use fivefold::drill::{Degrees, DegreesAsk, Over, ScaleLine, Scales};
use fivefold::event::{Body, Source};
use fivefold::log::{Log, Moment, Player, Take};
use fivefold::neck::{Neck, StringNumber, Tuning};
use fivefold::theory::{KeyOrder, Letter, PitchName, ScaleFormula, ScaleKind};
use fivefold::time::TempoPlan;
use tempfile::TempDir;

fn scales(kind: ScaleKind, neck: Neck, string: u8) -> Scales {
    Scales {
        neck,
        set: ScaleFormula::named(kind).on(PitchName::natural(Letter::A)),
        string: StringNumber::new(string).unwrap(),
        run: Run::Both,
        notes: 2,
        keys: Some(KeyOrder::Fourths),
        times: 1,
        over: Over::Backing,
        line: ScaleLine::Played,
        seed: 5,
    }
}

/// Every named set from both root strings, through all twelve keys, on several necks.
#[test]
fn every_scale_can_be_played_in_every_key() {
    for tuning in ["standard", "D A D G B E", "D G D G B D", "half step down"] {
        let neck = Neck::of(Tuning::read(tuning).unwrap());
        for kind in ScaleKind::all() {
            for string in [6, 5] {
                let drill = scales(*kind, neck, string);
                let exercise = drill.exercise(TempoPlan::steady(60), &|_| 0).unwrap();
                let piece = &exercise.piece;
                let form = piece.unfold().unwrap();
                let arranged = Arrangement::new(piece, form, Excerpt::default());
                let name = &exercise.name;
                assert!(arranged.is_ok(), "{tuning} {name}: {:?}", arranged.err());
            }
        }
    }
}

/// The degrees that are sung, bar by bar from bar 1.
fn sung(drill: &Scales) -> Vec<String> {
    let piece = drill.exercise(TempoPlan::steady(60), &|_| 0).unwrap().piece;
    let form = piece.unfold().unwrap();
    let mut arrangement = Arrangement::new(&piece, form, Excerpt::default()).unwrap();
    let mut events = Vec::new();
    while arrangement.next_bar(&mut events).is_some() {}
    let lyrics = events.iter().filter_map(|event| match &event.body {
        Body::Lyric { text, .. } => Some(text.to_string()),
        _ => None,
    });
    lyrics.collect()
}

#[test]
fn the_run_is_sung_by_its_degrees_or_not_at_all() {
    let played = scales(ScaleKind::MinorPentatonic, Neck::standard(), 6);
    let sung_degrees = sung(&played);
    // Common practice: up the first shape of the minor pentatonic and back, two notes a string.
    assert_eq!(
        sung_degrees[..23].join(" "),
        "1 b3 4 5 b7 1 b3 4 5 b7 1 b3 1 b7 5 4 b3 1 b7 5 4 b3 1"
    );
    // Eight notes in each of four bars in twelve keys, and the one that is held at the end.
    assert_eq!(sung_degrees.len(), 12 * 4 * 8 + 1);
    let hidden = Scales {
        line: ScaleLine::Hidden,
        ..played
    };
    assert_eq!(sung(&hidden), [""; 0]);
}

#[test]
fn degrees_can_be_asked_on_every_neck_over_the_held_root() {
    for tuning in ["standard", "D A D G B E", "E A D G", "B E A D G B E"] {
        let neck = Neck::of(Tuning::read(tuning).unwrap());
        for kind in ScaleKind::all() {
            for (_, ask) in DegreesAsk::NAMES {
                let drill = Degrees {
                    neck,
                    set: ScaleFormula::named(*kind).on(PitchName::natural(Letter::F)),
                    string: neck.strings().next_back().unwrap(),
                    ask,
                    beats: 4,
                    tempo: TempoPlan::steady(60),
                    seed: 5,
                };
                let piece = drill.exercise(&drill.all().unwrap()).unwrap().piece;
                let form = piece.unfold().unwrap();
                let mut arrangement = Arrangement::new(&piece, form, Excerpt::default()).unwrap();
                let header = arrangement.header();
                let drone = header.parts.iter().position(|part| part.name == "drone");
                assert!(drone.is_some(), "{tuning} {kind:?}");
                let mut events = Vec::new();
                while arrangement.next_bar(&mut events).is_some() {}
                let asked = events.iter().filter(|e| matches!(e.body, Body::Ask(_)));
                assert_eq!(asked.count(), piece.asks.len());
            }
        }
    }
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_fivefold"))
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A log in which these keys of the minor pentatonic were played, each so many seconds.
fn practiced(path: &Path, keys: &[(&str, u32)]) {
    let mut log = Log::open(path, Box::new(|before, _, _| before)).unwrap();
    for (key, seconds) in keys {
        let take = Take {
            player: Player::default(),
            began: Moment {
                unix_seconds: 1_700_000_000,
                offset_seconds: 0,
            },
            seconds: *seconds,
            exercise: "scale".to_owned(),
            title: "Scale".to_owned(),
            document: String::new(),
            seed: 1,
            key: Some((*key).to_owned()),
            set: Some("A minor pentatonic".to_owned()),
            plan: "60".to_owned(),
            tempo_milli: None,
            word: None,
            before: None,
            after: None,
            asks: Vec::new(),
        };
        log.add(&take).unwrap();
    }
}

#[test]
fn the_least_practiced_keys_come_from_the_log_and_stay_in_the_document() {
    let folder = TempDir::new().unwrap();
    let folder = folder.path();
    let log = folder.join("log.sqlite");
    let every = "A minor, D minor, G minor, C minor, F minor, Bb minor, G# minor, C# minor, F# minor, B minor, E minor";
    // A hundred seconds each, more of A and C, and none of Eb.
    practiced(&log, &[(every, 1100), ("A minor", 60), ("C minor", 5)]);
    let drill = ["drill", "scale", "A minor pentatonic", "--seed", "4"];
    let least = ["--keys", "least practised"];
    let make = |more: &[&str]| run(folder, &[&drill[..], &least, more].concat());
    let made = make(&["--log", "log.sqlite", "-o", "a.toml", "-o", "a.mid"]);
    assert!(made.status.success(), "{}", said(&made));
    let order = "keys    Eb D G F Bb G# C# F# B E C A\n";
    let told = said(&made);
    assert!(told.contains(order), "{told}");
    let text = std::fs::read_to_string(folder.join("a.toml")).unwrap();
    let keys = "keys = \"Eb minor, D minor, G minor, F minor, Bb minor, G# minor, C# minor, F# minor, B minor, E minor, C minor, A minor\"";
    assert!(text.contains(keys), "{text}");
    // Later practice changes neither the document nor what is made of it.
    practiced(&log, &[("Eb minor", 5000)]);
    let again = run(folder, &["play", "a.toml", "-o", "b.toml", "-o", "b.mid"]);
    assert!(again.status.success(), "{}", said(&again));
    let bytes = |name: &str| std::fs::read(folder.join(name)).unwrap();
    assert_eq!(bytes("a.toml"), bytes("b.toml"));
    assert_eq!(bytes("a.mid"), bytes("b.mid"));
    // Another player has played nothing: the order is that of fourths.
    let other = make(&["--log", "log.sqlite", "--who", "Bea", "--show"]);
    let told = said(&other);
    assert!(told.contains("keys    A D G C F Bb"), "{told}");
    let refused = make(&["--no-log", "--show"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(said(&refused).contains("not known without a log"));
}

#[test]
fn the_same_seed_makes_the_same_drill() {
    let folder = TempDir::new().unwrap();
    let folder = folder.path();
    for (drill, name) in [
        (
            &["scale", "minor pentatonic", "--keys", "shuffle"][..],
            "scale",
        ),
        (&["degrees", "minor pentatonic"], "find"),
        (&["degrees", "minor blues", "--ask", "name"], "name"),
    ] {
        let make = |seed: &str, file: &str| {
            let rest = ["--no-log", "--seed", seed, "-o", file, "--force"];
            let made = run(folder, &[&["drill"], drill, &rest].concat());
            assert!(made.status.success(), "{}", said(&made));
            std::fs::read(folder.join(file)).unwrap()
        };
        for kind in ["mid", "toml", "jsonl"] {
            let file = format!("{name}.{kind}");
            assert_eq!(make("7", &file), make("7", &file), "{file}");
            assert_ne!(make("7", &file), make("8", &file), "{file}");
        }
    }
}

#[test]
fn keys_may_be_notes_alone_and_the_root_of_the_set_is_left_aside() {
    let folder = TempDir::new().unwrap();
    let show = |keys: &str| {
        let drill = ["drill", "scale", "E minor blues", "--no-log", "--show"];
        let shown = run(folder.path(), &[&drill[..], &["--keys", keys]].concat());
        assert!(shown.status.success(), "{}", said(&shown));
        String::from_utf8(shown.stdout).unwrap()
    };
    let several = show("A, D, G");
    assert!(
        several.contains("keys = \"A minor, D minor, G minor\""),
        "{several}"
    );
    assert!(several.contains("set = \"A minor blues\""), "{several}");
    // One key alone is no order.
    let one = show("D");
    assert!(one.contains("set = \"D minor blues\""), "{one}");
    assert!(!one.contains("keys"), "{one}");
}
