//! What is shown fits a terminal of 60 columns, and help begins with what most people want.

use super::*;

/// Columns of the narrow terminal.
const NARROW: usize = 60;
/// Lines the first options of a command may take.
const FIRST: usize = 14;

/// What a command shows in so many columns.
fn shown(columns: usize, arguments: &[&str]) -> String {
    let folder = TempDir::new().unwrap();
    let mut command = command(folder.path(), arguments);
    command.env("COLUMNS", columns.to_string());
    let ran = finish(command.output().unwrap());
    // Remarks on standard error, such as the name of a ready chart, do not count.
    assert_eq!(ran.status, 0, "{arguments:?} {}", ran.err);
    ran.out
}

/// Every command and its own commands, as they are typed before `--help`.
const COMMANDS: [&[&str]; 21] = [
    &[],
    &["play"],
    &["click"],
    &["jam"],
    &["drill"],
    &["drill", "roots"],
    &["practice"],
    &["log"],
    &["check"],
    &["chord"],
    &["scale"],
    &["neck"],
    &["list"],
    &["ports"],
    &["pedals"],
    &["pedals", "learn"],
    &["pedals", "forget"],
    &["completions"],
    &["drill", "scale"],
    &["drill", "degrees"],
    &["drill", "changes"],
];

fn too_long(text: &str) -> Vec<&str> {
    let long = |line: &&str| line.chars().count() > NARROW;
    text.lines().filter(long).collect()
}

/// The options of a help, group by group, each with its heading.
fn groups(help: &str) -> Vec<(String, Vec<String>)> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    for paragraph in help.split("\n\n") {
        let mut lines = paragraph.lines();
        let Some(heading) = lines.next() else {
            continue;
        };
        let lines: Vec<String> = lines.map(str::to_owned).collect();
        let options = lines.iter().any(|l| l.trim_start().starts_with('-'));
        if options && heading.ends_with(':') {
            found.push((heading.to_owned(), lines));
        }
    }
    found
}

#[test]
fn help_fits_and_begins_with_what_most_people_want() {
    for command in COMMANDS {
        let asked = [command, &["--help"]].concat();
        for columns in [NARROW, 80, 100] {
            let help = shown(columns, &asked);
            if columns == NARROW {
                assert_eq!(too_long(&help), [""; 0], "{command:?}");
            }
            let groups = groups(&help);
            let (heading, first) = &groups[0];
            assert!(
                first.len() <= FIRST,
                "{command:?} {columns} {heading}: {first:#?}"
            );
            // What every command has stands last, and nowhere else.
            let (heading, last) = groups.last().unwrap();
            assert_eq!(heading, "In every command:", "{command:?}");
            for option in ["--json", "--color", "--help"] {
                let at = |lines: &[String]| lines.iter().filter(|l| l.contains(option)).count();
                assert!(at(last) == 1, "{command:?} {option}");
                let before = groups.split_last().unwrap().1;
                let begins = |line: &String| line.trim_start().starts_with(option);
                assert!(
                    !before.iter().any(|(_, lines)| lines.iter().any(begins)),
                    "{command:?} {option}"
                );
            }
        }
        // The list above is all there is.
        let help = shown(NARROW, &asked);
        let list = help.split("Commands:\n").nth(1).unwrap_or_default();
        let list = list.split("\n\n").next().unwrap();
        let entry = |line: &&str| line.starts_with("  ") && !line.starts_with("   ");
        for name in list.lines().filter(entry) {
            let name = name.split_whitespace().next().unwrap();
            let below = [command, &[name]].concat();
            assert!(name == "help" || COMMANDS.contains(&&*below), "{below:?}");
        }
    }
}

/// Our own terms are explained where a help first uses them.
#[test]
fn words_of_ours_are_explained_where_they_come_first() {
    let explained: [(&[&str], &[&str]); 4] = [
        (
            &["set", "sets"],
            &[
                "set of notes",
                "sets of notes",
                "set of five notes",
                "five-note sets",
                "notes to play over",
                "notes to solo over",
            ],
        ),
        (&["home"], &["heard in"]),
        (&["rub", "rubs"], &["a semitone above a chord tone"]),
        (&["pass", "passes"], &["times through", "once through"]),
    ];
    let mut seen = [0; 4];
    for command in COMMANDS {
        let help = shown(100, &[command, &["--help"]].concat()).to_lowercase();
        let text: Vec<&str> = help.split_whitespace().collect();
        for (count, (words, meanings)) in seen.iter_mut().zip(explained) {
            let says = |w: &&str| {
                !w.starts_with(['-', '<', '['])
                    && words.contains(&w.trim_matches(|c: char| !c.is_alphanumeric()))
            };
            let Some(at) = text.iter().position(says) else {
                continue;
            };
            *count += 1;
            let near = text[at.saturating_sub(4)..(at + 16).min(text.len())].join(" ");
            assert!(
                meanings.iter().any(|m| near.contains(m)),
                "{command:?} says {words:?}: {near}"
            );
        }
    }
    assert!(seen.iter().all(|n| *n >= 1), "{seen:?}");
}

#[test]
fn screens_fit() {
    let charts = READY.map(|name| vec!["check", name]);
    let others: [&[&str]; 26] = [
        &["chord", "F#m7b5"],
        &["chord", "C13(b9,#11)/E"],
        &["scale", "A minor pentatonic"],
        &["scale", "A minor pentatonic", "--chords"],
        &["scale", "A blues", "--chords"],
        &["scale", "C# harmonic minor", "--chords"],
        &["neck", "A minor pentatonic"],
        &["neck", "Eb major pentatonic", "--shapes"],
        &["neck", "Eb major pentatonic", "--shapes", "--left"],
        &["neck", "C", "--places", "9"],
        &["neck", "C#m7b5", "--places", "9", "--show", "notes"],
        &["neck", "A", "--map"],
        &["neck", "A", "--map", "--left", "--frets", "36"],
        &["neck", "Db blues", "--tuning", "half step down"],
        &["neck", "A minor pentatonic", "--open", "--capo", "3"],
        &["neck", "C", "--tuning", "B E A D F# B E", "--show", "notes"],
        &["neck", "--roots"],
        &[
            "jam",
            "--set",
            "A minor pentatonic",
            "--seed",
            "7",
            "--show",
        ],
        &[
            "jam",
            "--set",
            "Ab blues",
            "--seed",
            "1",
            "--show",
            "--why",
            "--likeliest",
            "9",
        ],
        &[
            "jam",
            "--set",
            "A minor pentatonic",
            "--seed",
            "7",
            "--show",
            "--level",
            "bold",
            "--fit",
            "home",
        ],
        &[
            "jam", "--set", "A blues", "--seed", "3", "--show", "--fit", "blues", "--rhythm",
            "half bar",
        ],
        &[
            "jam",
            "--set",
            "F# minor pentatonic",
            "--seed",
            "3",
            "--show",
            "--keys",
            "fourths",
        ],
        &[
            "check",
            "| Bbmaj7#11 Ebm7b5 | F#m7b5/E / G7(b9,#11) / | C |",
            "--times",
            "12",
        ],
        &[
            "check",
            "| Am | Dm | E7 | Am |",
            "--set",
            "A minor pentatonic",
            "--tempo",
            "60 to 90 by 5 every 8 bars",
            "--times",
            "12",
        ],
        &["list", "charts"],
        &["list", "settings"],
    ];
    let lists = ["sets", "tunings", "parts", "voices", "controls"].map(|what| vec!["list", what]);
    let all = charts.iter().map(Vec::as_slice);
    let all = all.chain(others).chain(lists.iter().map(Vec::as_slice));
    for arguments in all {
        let text = shown(NARROW, arguments);
        assert_eq!(too_long(&text), [""; 0], "{arguments:?}");
        // In a pipe lines are whole, and JSON is one line however narrow the terminal.
        let json = shown(NARROW, &[arguments, &["--json"]].concat());
        assert_eq!(json.trim_end().lines().count(), 1, "{arguments:?}");
    }
}

/// Errors on a terminal of 40 columns: text is folded, JSON is a line each.
#[test]
fn errors_in_json_are_not_folded() {
    let folder = TempDir::new().unwrap();
    super::write(
        folder.path(),
        "wrong.toml",
        "capo = \"x\"\nmeter = \"x\"\n[sections]\nA = \"| Am | H |\"\n",
    );
    let told = |columns: &str, arguments: &[&str]| {
        let mut command = command(folder.path(), arguments);
        command.env("COLUMNS", columns);
        finish(command.output().unwrap()).err
    };
    let cases: [&[&str]; 7] = [
        &["no-command-of-such-a-name"],
        &["check", "--nope"],
        &["chord", "H"],
        &["neck", "C", "--capo", "40"],
        &["check", "wrong.toml"],
        &["play", "no-such-file.toml"],
        // A warning beside a result.
        &["chord", "III", "--key", "A minor"],
    ];
    for arguments in cases {
        let lines = |columns| told(columns, arguments).lines().count();
        assert!(lines("40") > lines("400"), "{arguments:?}");
        let json = told("40", &[arguments, &["--json"]].concat());
        assert!(!json.is_empty(), "{arguments:?}");
        for line in json.lines() {
            let error: serde_json::Value = serde_json::from_str(line).unwrap();
            assert!(error["message"].is_string(), "{arguments:?}: {line}");
            assert!(line.len() > 40, "{arguments:?}: {line}");
        }
        assert_eq!(json, told("400", &[arguments, &["--json"]].concat()));
    }
}

const READY: [&str; 4] = ["low-tide", "first-twelve", "night-bus", "slow-sail"];
