//! The options that change a piece, their good and their bad values.

use super::*;

/// The lines of the chart that `check` prints, without numbers and times.
fn bars(arguments: &[&str]) -> String {
    let text = fresh(&[&["check"], arguments].concat()).good();
    let lines = text
        .lines()
        .filter_map(|line| line.find('|').map(|at| line[at..].to_owned()));
    let all = lines.collect::<Vec<_>>().join(" ");
    all.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn heading(arguments: &[&str]) -> String {
    let text = fresh(&[&["check"], arguments].concat()).good();
    text.lines().take(3).collect::<Vec<_>>().join("; ")
}

#[test]
fn keys_and_transposition() {
    assert_eq!(
        bars(&["| i | bVII |", "--key", "A minor"]),
        "| Am | G | | Am |"
    );
    assert_eq!(bars(&["| 1 | 57 |", "--key", "Bb"]), "| Bb | F7 | | Bb |");
    assert_eq!(
        bars(&["| Am | G |", "--transpose", "3"]),
        "| Cm | Bb | | Cm |"
    );
    assert_eq!(
        bars(&["| Am | G |", "--transpose", "-2"]),
        "| Gm | F | | Gm |"
    );
    assert_eq!(bars(&["| Am | G |", "--transpose=-2"]), "| Gm | F | | Gm |");
    // Letters without a key have none to move from: the key is the one they are in.
    assert_eq!(bars(&["| Am | G |", "--key", "G"]), "| Am | G | | G |");
}

#[test]
fn a_document_moves_to_another_key_of_its_mode() {
    let folder = TempDir::new().unwrap();
    write(
        folder.path(),
        "a.toml",
        "key = \"A minor\"\n[sections]\nA = \"| Am | bVI | E7 |\"\n",
    );
    let moved = |key: &str| run(folder.path(), &["check", "a.toml", "--key", key]);
    assert!(moved("D minor").good().contains("| Dm   | Bb   | A7   |"));
    // A note alone keeps the mode.
    let text = moved("C#").good();
    assert!(
        text.contains("C# minor") && text.contains("| C#m  | A    | G#7  |"),
        "{text}"
    );
    insta::assert_snapshot!(moved("C major").refused(), @"
    Error in `--key`: a piece in A minor moves to a key of the same mode, found C major.
        C major
        ~~~~~~~
      Write `--key 'C minor'`.
    ");
    insta::assert_snapshot!(moved("D dorian").refused(), @"
    Error in `--key`: a piece in A minor moves to a key of the same mode, found D dorian.
        D dorian
        ~~~~~~~~
      Write `--key 'D minor'`.
    ");
}

#[test]
fn tempo_and_times() {
    assert_eq!(
        heading(&[
            "| Am |",
            "--tempo",
            "72 to 96 by 4 every 8 bars",
            "--times",
            "49"
        ]),
        "chart; 4/4, tempo 72 to 96 by 4 every 8 bars; count-in of 1 bar, 49 bars, ending of 1 bar, parts click pads bass, seed 1"
    );
    // Of the 90 a chart without a tempo has.
    assert!(heading(&["| Am |", "--tempo", "80%"]).contains("tempo 72;"));
    assert!(heading(&["| Am |", "--tempo", "33.3%"]).contains("tempo 29.97;"));
    assert!(heading(&["| Am |", "--times", "3"]).contains(" 3 bars, ending of 1 bar,"));
    assert!(heading(&["| Am |", "--times", "endless"]).contains("until stopped"));
    assert!(
        heading(&["| Am |", "--count-in", "0", "--seed", "9"])
            .ends_with("; 1 bar, ending of 1 bar, parts click pads bass, seed 9")
    );
    assert!(heading(&["| Am |", "--parts", "bass, click"]).contains("parts click bass,"));
    assert!(heading(&["| Am |", "--parts", "kit"]).contains("parts kit,"));
}

#[test]
fn excerpts() {
    assert_eq!(
        bars(&["| Am | Dm | G | C |", "--from", "2", "--to", "3"]),
        "| Dm | G |"
    );
    assert_eq!(
        bars(&["| Am | Dm | G | C |", "--from", "4"]),
        "| C | | Am |"
    );
    let text = fresh(&["check", "| Am | Dm |", "--bars", "5"]).good();
    assert!(
        text.contains("5 bars") && !text.contains("[ending]"),
        "{text}"
    );
    // At 90 a bar lasts 2.67 s: eight bars reach 20 s.
    let text = fresh(&["check", "| Am | Dm |", "--for", "20s"]).good();
    assert!(text.contains("count-in of 1 bar, 8 bars"), "{text}");
    let text = fresh(&["check", "| Am | Dm |", "--for", "1min"]).good();
    assert!(text.contains("count-in of 1 bar, 23 bars"), "{text}");
}

#[test]
fn bad_values_are_refused() {
    let mut all = String::new();
    for options in [
        ["--tempo", "0%"],
        ["--tempo", "500%"],
        ["--tempo", "%"],
        ["--tempo", "-80%"],
        ["--tempo", "1e3"],
        ["--tempo", "5%%"],
        ["--key", ""],
        ["--transpose", "25"],
        ["--transpose", "-25"],
        ["--transpose", "up"],
        ["--times", "0"],
        ["--times", "forever"],
        ["--times", "-1"],
        ["--for", "0s"],
        ["--for", "ten minutes"],
        ["--bars", "0"],
        ["--bars", "99999999"],
        ["--from", "0"],
        ["--from", "9"],
        ["--to", "9"],
        ["--count-in", "9"],
        ["--seed", "x"],
        ["--parts", "click,piano"],
        ["--parts", ","],
    ] {
        let option = format!("{}={}", options[0], options[1]);
        let error = fresh(&["check", "| Am |", &option]).refused();
        let lines: Vec<&str> = error
            .lines()
            .filter(|l| l.starts_with("Error") || (l.starts_with("  ") && !l.starts_with("    ")))
            .map(str::trim)
            .collect();
        all.push_str(&format!("{option}\n  {}\n", lines.join("\n  ")));
    }
    insta::assert_snapshot!(all, @"
    --tempo=0%
      Error: a share of the tempo is 10% to 400%, found `0%`.
      Write `--tempo 80%`.
    --tempo=500%
      Error: a share of the tempo is 10% to 400%, found `500%`.
      Write `--tempo 80%`.
    --tempo=%
      Error: a share of the tempo is 10% to 400%, found `%`.
      Write `--tempo 80%`.
    --tempo=-80%
      Error: a share of the tempo is 10% to 400%, found `-80%`.
      Write `--tempo 80%`.
    --tempo=1e3
      Error in `--tempo`: expected `for`, `to`, `,` or the end, found `e`.
      Write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`.
    --tempo=5%%
      Error: a share of the tempo is 10% to 400%, found `5%%`.
      Write `--tempo 80%`.
    --key=
      Error in `--key`: expected a key, found nothing.
      Write a key such as `A minor`, `Am`, `Bb` or `D dorian`.
    --transpose=25
      Error: `--transpose` is a whole number, -24 to 24, found `25`.
      Write `--transpose 24`.
    --transpose=-25
      Error: `--transpose` is a whole number, -24 to 24, found `-25`.
      Write `--transpose -24`.
    --transpose=up
      Error: `--transpose` is a whole number, -24 to 24, found `up`.
      Write `--transpose 1`.
    --times=0
      Error: `--times` is a whole number, 1 to 100000, found `0`.
      Write `--times 2` or `--times endless`.
    --times=forever
      Error: `--times` is a whole number, 1 to 100000, found `forever`.
      Write `--times 2` or `--times endless`.
    --times=-1
      Error: `--times` is a whole number, 1 to 100000, found `-1`.
      Write `--times 2` or `--times endless`.
    --for=0s
      Error in `--for`: a length is above 0 and at most 1000000, found 0.
      Write a number of bars, beats, s or min: `8 bars`, `90 s`, `2.5 min`.
    --for=ten minutes
      Error in `--for`: expected a length such as 8 bars, found `ten`.
      Write a number of bars, beats, s or min: `8 bars`, `90 s`, `2.5 min`.
    --bars=0
      Error: `--bars` is a whole number, 1 to 10000000, found `0`.
      Write `--bars 1`.
    --bars=99999999
      Error: `--bars` is a whole number, 1 to 10000000, found `99999999`.
      Write `--bars 10000000`.
    --from=0
      Error: `--from` is a whole number, 1 to 10000000000, found `0`.
      Write `--from 1`.
    --from=9
      Error: the piece has bar 1 and an ending, bar 2, found 9.
      Choose a bar from 1 to 2.
    --to=9
      Error: the piece has bar 1 and an ending, bar 2, found 9.
      Choose a bar from 1 to 2.
    --count-in=9
      Error: `--count-in` is a whole number, 0 to 8, found `9`.
      Write `--count-in 8`.
    --seed=x
      Error: `--seed` is a whole number, 0 or more, found `x`.
      Write `--seed 1`.
    --parts=click,piano
      Error: there is no part `piano`.
      Parts are click, pads, bass, kit, drone, strum, guide: `--parts click,bass`.
    --parts=,
      Error: `--parts` names no part.
      Parts are click, pads, bass, kit, drone, strum, guide: `--parts click,bass`.
    ");
}

#[test]
fn clashing_options_name_each_other() {
    for (options, first, second) in [
        (&["--transpose=1", "--key=C"][..], "--transpose", "--key"),
        (&["--for=1min", "--bars=3"], "--for", "--bars"),
        (&["--for=1min", "--times=3"], "--for", "--times"),
        (&["--for=1min", "--to=3"], "--for", "--to"),
        (&["--bars=1", "--times=3"], "--bars", "--times"),
        (&["--bars=1", "--to=3"], "--bars", "--to"),
        (&["--from=2", "--to=1"], "--from", "--to"),
    ] {
        let error = fresh(&[&["check", "| Am | Dm |"], options].concat()).refused();
        assert!(error.contains(first) && error.contains(second), "{error}");
    }
    let error = fresh(&["play", "| Am |", "-o", "a.mid", "--port", "x"]).refused();
    assert!(
        error.contains("--output") && error.contains("--port"),
        "{error}"
    );
}

#[test]
fn numerals_without_a_key_point_to_the_option() {
    insta::assert_snapshot!(fresh(&["check", "| V7 |"]).refused(), @r#"
    Error in the chart: `V7` needs a key.
        | V7 |
          ~~
      Give a key, `--key 'A minor'` or in a document `key = "A minor"`, or write the chord in letters.
    "#);
    insta::assert_snapshot!(fresh(&["chord", "V7"]).refused(), @r#"
    Error: `V7` needs a key.
        V7
        ~~
      Give a key, `--key 'A minor'` or in a document `key = "A minor"`, or write the chord in letters.
    "#);
    let ran = fresh(&["check", "| i | III |", "--key", "A minor"]);
    assert_eq!(ran.status, 0);
    assert!(
        ran.err
            .starts_with("Warning in the chart: `III` in A minor is C#"),
        "{}",
        ran.err
    );
    assert!(ran.out.contains("| Am   | C#   |"));
}
