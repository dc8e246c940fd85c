//! Pieces that are too short for their tempo plan: the warning, and whether its advice helps.

use super::*;

/// A document of four bars to a pass with lines at its head.
fn document(head: &str) -> String {
    format!("key = \"A minor\"\n{head}\n[sections]\nA = \"| Am | F | C | G |\"\n")
}

/// The warning about the plan of `a.toml`, which holds `text`: message, help, and the bytes underlined.
fn warning(text: &str, arguments: &[&str]) -> Option<(String, String, String)> {
    let folder = TempDir::new().unwrap();
    write(folder.path(), "a.toml", text);
    let ran = run(
        folder.path(),
        &[&["--json", "check", "a.toml"], arguments].concat(),
    );
    assert_eq!(ran.status, 0, "{ran:?}");
    let mut lines = ran.err.lines().map(|line| {
        let found: serde_json::Value = serde_json::from_str(line).unwrap();
        assert_eq!(
            (&found["code"], &found["severity"]),
            (&"tempo-goal".into(), &"warning".into())
        );
        let text = |name: &str| found[name].as_str().unwrap().to_owned();
        let at = |i: usize| found["span"][i].as_u64().unwrap() as usize;
        let plan = arguments.iter().skip_while(|a| **a != "--tempo").nth(1);
        let source = match found["file"].as_str().unwrap() {
            "<--tempo>" => *plan.unwrap(),
            _ => text_of(folder.path()),
        };
        let meant = source[at(0)..at(1)].to_owned();
        (text("message"), text("help"), meant)
    });
    let first = lines.next();
    assert_eq!(lines.next(), None);
    first
}

/// The text of `a.toml`, kept for the length of the test.
fn text_of(folder: &Path) -> &'static str {
    let text = std::fs::read_to_string(folder.join("a.toml")).unwrap();
    Box::leak(text.into_boxed_str())
}

/// A document with a line of its head set.
fn with_line(text: &str, line: &str) -> String {
    let key = line.split('=').next().unwrap();
    let rest: Vec<&str> = text.lines().filter(|l| !l.starts_with(key)).collect();
    format!("{line}\n{}\n", rest.join("\n"))
}

/// Arguments with an option set.
fn with_option(arguments: &[&str], option: &str) -> Vec<String> {
    let (name, value) = option.split_once(' ').unwrap();
    let mut found: Vec<String> = arguments.iter().map(ToString::to_string).collect();
    match found.iter().position(|a| a == name) {
        Some(at) => found[at + 1] = value.to_owned(),
        None => found.extend([name.to_owned(), value.to_owned()]),
    }
    found
}

/// What the advice says to write, in each of the ways it offers: lines of the document, and options.
fn ways(help: &str) -> Vec<(Vec<String>, Vec<String>)> {
    let pieces: Vec<&str> = help.split('`').skip(1).step_by(2).collect();
    let (options, lines): (Vec<&str>, Vec<&str>) = pieces.iter().partition(|p| p.starts_with("--"));
    let owned = |pieces: &[&str]| pieces.iter().map(ToString::to_string).collect::<Vec<_>>();
    let plan: Vec<&str> = lines
        .iter()
        .copied()
        .filter(|l| l.starts_with("plan"))
        .collect();
    if lines.len() > plan.len() {
        vec![(owned(&lines), Vec::new()), (owned(&plan), owned(&options))]
    } else {
        vec![(owned(&lines), owned(&options))]
    }
}

/// The warning once an advice was taken.
fn followed(
    text: &str,
    arguments: &[&str],
    (lines, options): &(Vec<String>, Vec<String>),
) -> Option<(String, String, String)> {
    let text = lines
        .iter()
        .fold(text.to_owned(), |text, line| with_line(&text, line));
    let mut arguments: Vec<String> = arguments.iter().map(ToString::to_string).collect();
    for option in options {
        let borrowed: Vec<&str> = arguments.iter().map(String::as_str).collect();
        arguments = with_option(&borrowed, option);
    }
    let borrowed: Vec<&str> = arguments.iter().map(String::as_str).collect();
    warning(&text, &borrowed)
}

/// An advice with its number of times or bars one lower.
fn one_less((lines, options): &(Vec<String>, Vec<String>)) -> Option<(Vec<String>, Vec<String>)> {
    let lower = |text: &String| {
        let (head, number) = text.rsplit_once(' ')?;
        let counted = head.starts_with("times") || ["--times", "--bars"].contains(&head);
        let number = number.parse::<u64>().ok().filter(|_| counted)?;
        Some(format!(
            "{head} {}",
            number.checked_sub(1).filter(|n| *n > 0)?
        ))
    };
    let changed = lines.iter().chain(options).any(|t| lower(t).is_some());
    let all = |texts: &[String]| {
        texts
            .iter()
            .map(|t| lower(t).unwrap_or(t.clone()))
            .collect::<Vec<_>>()
    };
    changed.then(|| (all(lines), all(options)))
}

/// Each piece with its plan, and what is said of it.
const SHORT: [(&str, &[&str], &str, &str); 21] = [
    (
        "tempo = \"72 to 96 by 4 every 8 bars\"\ntimes = 10",
        &[],
        "the piece ends at 88; the tempo plan goes to 96",
        "the plan takes 13 passes: write `times = 13` in the document, or `--times 13`",
    ),
    (
        "tempo = \"72 to 96 by 4 every 8 bars\"\ntimes = 10",
        &["--times", "2"],
        "the piece ends at 72; the tempo plan goes to 96",
        "the plan takes 13 passes: write `--times 13`",
    ),
    // A share of the plan is reported in the tempi that are played.
    (
        "tempo = \"72 to 96 by 4 every 8 bars\"\ntimes = 10",
        &["--tempo", "75%"],
        "the piece ends at 66; the tempo plan goes to 72",
        "the plan takes 13 passes: write `times = 13` in the document, or `--times 13`",
    ),
    (
        "tempo = 80\ntimes = 2",
        &["--tempo", "60 to 75 by 5 every 4 bars"],
        "the piece ends at 65; the tempo plan goes to 75",
        "the plan takes 4 passes: write `times = 4` in the document, or `--times 4`",
    ),
    (
        "tempo = \"96 to 72 by 8 every 4 bars\"\ntimes = 2",
        &[],
        "the piece ends at 88; the tempo plan goes to 72",
        "the plan takes 4 passes: write `times = 4` in the document, or `--times 4`",
    ),
    (
        "tempo = \"60 to 76 by 8 back 4 every 4 bars\"\ntimes = 3",
        &[],
        "the piece comes to 68 and ends at 64; the tempo plan goes to 76",
        "the plan takes 6 passes: write `times = 6` in the document, or `--times 6`",
    ),
    // A ramp that ends with the piece counts as played.
    (
        "tempo = \"60 to 90 over 17 bars\"\ntimes = 4",
        &[],
        "the piece ends at 88.01; the tempo plan goes to 90",
        "the plan takes 5 passes: write `times = 5` in the document, or `--times 5`",
    ),
    (
        "tempo = \"60 to 90 over 30 s\"",
        &[],
        "the piece ends at 74.09; the tempo plan goes to 90",
        "the plan takes 3 passes: write `times = 3` in the document, or `--times 3`",
    ),
    (
        "tempo = \"60 to 120 by 30 every 1 min\"\ntimes = 5",
        &[],
        "the piece ends at 90; the tempo plan goes to 120",
        "the plan takes 10 passes: write `times = 10` in the document, or `--times 10`",
    ),
    // The last of several stretches is the goal, a lower one too.
    (
        "tempo = \"60 to 80 over 8 bars, 100 for 4 bars, 72\"\ntimes = 3",
        &[],
        "the piece ends at 100; the tempo plan goes to 72",
        "the plan takes 4 passes: write `times = 4` in the document, or `--times 4`",
    ),
    (
        "tempo = \"90 for 8 bars, 60 for 8 bars, 90\"",
        &[],
        "the piece ends before the tempo plan comes to its last tempo, 90",
        "the plan takes 5 passes: write `times = 5` in the document, or `--times 5`",
    ),
    (
        "tempo = \"60 to 80 over 8 bars, 80\"\ntimes = 1",
        &[],
        "the piece ends at 69.84; the tempo plan goes to 80",
        "the plan takes 2 passes: write `times = 2` in the document, or `--times 2`",
    ),
    (
        "tempo = \"72 to 96 by 12 every 2 bars\"\nplan = \"each pass\"\ntimes = 2",
        &[],
        "each pass ends at 84; the tempo plan goes to 96",
        "the plan takes 5 bars, and a pass has 4: write `plan = \"once\"` in the document",
    ),
    (
        "tempo = \"72 to 96 by 12 every 4 bars\"\nplan = \"each pass\"\ntimes = 2",
        &[],
        "each pass ends at 72; the tempo plan goes to 96",
        "the plan takes 9 bars, and a pass has 4: write `plan = \"once\"` in the document and `times = 3` in the document, or `--times 3`",
    ),
    (
        "tempo = \"72 to 96 by 12 every 4 bars\"\nplan = \"each pass\"",
        &["--bars", "8"],
        "each pass ends at 72; the tempo plan goes to 96",
        "the plan takes 9 bars, and a pass has 4: write `plan = \"once\"` in the document and `--bars 9`",
    ),
    // One turn through the keys has twelve passes.
    (
        "tempo = \"60 to 90 by 10 every 16 bars\"\nkeys = \"fourths\"",
        &[],
        "the piece ends at 80; the tempo plan goes to 90",
        "the plan takes 13 passes, and one turn through the keys has 12: write `times = 2` in the document, or `--times 2`",
    ),
    (
        "tempo = \"60 to 90 by 10 every 4 bars\"",
        &["--bars", "12"],
        "what is played ends at 80; the tempo plan goes to 90",
        "the plan takes 13 bars: write `--bars 13`",
    ),
    (
        "tempo = \"60 to 90 by 10 every 4 bars\"",
        &["--from", "3", "--bars", "6"],
        "what is played ends at 70; the tempo plan goes to 90",
        "the plan takes 11 bars: write `--bars 11`",
    ),
    (
        "tempo = \"60 to 90 by 10 every 4 bars\"",
        &["--for", "20s"],
        "what is played ends at 70; the tempo plan goes to 90",
        "the plan takes 0:41.7: write `--for 42s`",
    ),
    (
        "meter = \"6/8\"\ntempo = \"52 to 64 by 4 every 4 bars\"\ntimes = 3",
        &[],
        "the piece ends at 60; the tempo plan goes to 64",
        "the plan takes 4 passes: write `times = 4` in the document, or `--times 4`",
    ),
    (
        "tempo = \"60 to 90 by 10 every 8 bars\"\ntimes = 2",
        &["--from", "5"],
        "the piece ends at 60; the tempo plan goes to 90",
        "the plan takes 7 passes: write `times = 7` in the document, or `--times 7`",
    ),
];

#[test]
fn a_piece_too_short_for_its_plan_says_so_and_its_advice_helps() {
    for (head, arguments, message, help) in SHORT {
        let text = document(head);
        let (said, helps, meant) = warning(&text, arguments).expect(head);
        assert_eq!((said.as_str(), helps.as_str()), (message, help), "{head}");
        let plan = arguments
            .iter()
            .skip_while(|a| **a != "--tempo")
            .nth(1)
            .filter(|plan| !plan.ends_with('%'));
        match plan {
            Some(plan) => assert_eq!(meant, *plan),
            None => assert!(head.contains(&format!("tempo = {meant}")), "{meant}"),
        }
        for way in ways(&helps) {
            assert_eq!(followed(&text, arguments, &way), None, "{head}: {way:?}");
            if let Some(less) = one_less(&way) {
                assert!(
                    followed(&text, arguments, &less).is_some(),
                    "{head}: {less:?}"
                );
            }
        }
    }
}

#[test]
fn a_plan_that_is_played_and_a_piece_without_end_say_nothing() {
    let cases: [(&str, &[&str]); 14] = [
        ("tempo = 90", &[]),
        // With `--exact` and `--loop` a part of the plan is asked for.
        (
            "tempo = \"60 to 90 by 10 every 16 bars\"",
            &["--for", "1min", "--exact"],
        ),
        (
            "tempo = \"60 to 90 by 10 every 4 bars\"\ntimes = 2",
            &["--loop"],
        ),
        ("tempo = \"72 to 96 by 4 every 8 bars\"\ntimes = 13", &[]),
        ("tempo = \"60 to 90 over 16 bars\"\ntimes = 4", &[]),
        ("tempo = \"60 to 90 over 16 bars, 90\"\ntimes = 4", &[]),
        ("tempo = \"72 for 4 bars\"", &[]),
        (
            "tempo = \"72 to 96 by 12 every 1 bars\"\nplan = \"each pass\"",
            &[],
        ),
        (
            "tempo = \"72 to 96 by 4 every 8 bars\"\ntimes = \"endless\"",
            &[],
        ),
        (
            "tempo = \"72 to 96 by 4 every 8 bars\"\nplan = \"each pass\"\ntimes = \"endless\"",
            &[],
        ),
        (
            "tempo = \"72 to 96 by 4 every 8 bars\"",
            &["--times", "endless"],
        ),
        // With `--to` a part of the piece is asked for.
        ("tempo = \"72 to 96 by 4 every 8 bars\"", &["--to", "3"]),
        ("tempo = \"60 to 90 by 10 every 4 bars\"", &["--bars", "13"]),
        (
            "tempo = \"60 to 90 by 10 every 4 bars\"\ntimes = 4",
            &["--from", "14", "--bars", "1"],
        ),
    ];
    for (head, arguments) in cases {
        let found = warning(&document(head), arguments);
        assert_eq!(found, None, "{head} {arguments:?}");
    }
}

#[test]
fn a_plan_that_nothing_can_reach_is_to_be_shorter() {
    let head = "tempo = \"60 to 61 by 0.001 every 1000000 bars\"";
    let shorter = "the plan is longer than any piece: write larger or shorter steps";
    let options: [&[&str]; 3] = [&[], &["--bars", "9"], &["--for", "9s"]];
    for arguments in options {
        let (_, help, _) = warning(&document(head), arguments).unwrap();
        assert_eq!(help, shorter);
    }
}

#[test]
fn playing_and_writing_warn_as_checking_does() {
    let folder = TempDir::new().unwrap();
    let text = document("tempo = \"72 to 96 by 4 every 8 bars\"\ntimes = 2");
    write(folder.path(), "a.toml", &text);
    let ran = run(folder.path(), &["play", "a.toml", "-o", "a.mid"]);
    assert_eq!(ran.status, 0);
    insta::assert_snapshot!(ran.err, @r#"
    Warning in line 2 of a.toml: the piece ends at 72; the tempo plan goes to 96.
        tempo = "72 to 96 by 4 every 8 bars"
                ~~~~~~~~~~~~~~~~~~~~~~~~~~~~
      The plan takes 13 passes: write `times = 13` in the document, or `--times 13`.
    "#);
    let ran = run(
        folder.path(),
        &[
            "click",
            "60 to 90 by 10 every 4 bars",
            "--bars",
            "12",
            "-o",
            "b.mid",
        ],
    );
    insta::assert_snapshot!(ran.err, @"
    Warning: what is played ends at 80; the tempo plan goes to 90.
        60 to 90 by 10 every 4 bars
        ~~~~~~~~~~~~~~~~~~~~~~~~~~~
      The plan takes 13 bars: write `--bars 13`.
    ");
    let jam = [
        "jam",
        "--set",
        "A minor pentatonic",
        "--seed",
        "1",
        "--times",
        "1",
    ];
    let plan = ["--tempo", "60 to 90 by 10 every 8 bars", "-o", "c.mid"];
    let ran = run(folder.path(), &[&jam[..], &plan[..]].concat());
    insta::assert_snapshot!(ran.err, @"
    Warning in `--tempo`: the piece ends at 60; the tempo plan goes to 90.
        60 to 90 by 10 every 8 bars
        ~~~~~~~~~~~~~~~~~~~~~~~~~~~
      The plan takes 4 passes: write `--times 4`.
    ");
}
