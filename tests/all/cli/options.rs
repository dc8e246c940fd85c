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
    // A share of 90, the tempo of a chart that has none.
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

/// Bars with a last one and a number of times, or a length, are played again and again, as a chart of these bars is.
#[test]
fn bars_go_round() {
    let chart = "| Am | Dm | G | C |";
    let notes = |arguments: &[&str]| {
        let folder = TempDir::new().unwrap();
        let call = [&["play"], arguments, &["-o", "a.jsonl"]].concat();
        assert_eq!(run(folder.path(), &call).status, 0, "{arguments:?}");
        let lines = std::fs::read_to_string(folder.path().join("a.jsonl")).unwrap();
        let notes = lines.lines().filter(|line| line.contains("note"));
        notes.map(str::to_owned).collect::<Vec<_>>()
    };
    for rounds in [
        &["--times", "3"][..],
        &["--bars", "5"],
        &["--for", "20s"],
        &["--for", "20s", "--exact"],
    ] {
        let part = notes(&[&[chart, "--from", "2", "--to", "3"], rounds].concat());
        let alone = notes(&[&["| Dm | G |"], rounds].concat());
        assert!(!part.is_empty());
        // Only that a chart by itself, played so many times, ends on its tonic.
        if rounds[0] == "--times" {
            assert!(alone.len() > part.len());
        } else {
            assert_eq!(part, alone, "{rounds:?}");
        }
    }
    let sections = "[A] | Am | G |\n[B] | F | E7 | F |";
    let out = heading(&[sections, "--from", "B", "--to", "B", "--times", "4"]);
    assert!(out.contains("count-in of 1 bar, 12 bars,"), "{out}");
    // What is held into the first bar is struck there.
    let held = bars(&[
        "| Am | / / Dm / |",
        "--from",
        "2",
        "--to",
        "2",
        "--times",
        "1",
    ]);
    assert_eq!(held, bars(&["| Am / Dm / |", "--to", "1"]));
    // A plan climbs over the rounds.
    let plan = ["--tempo", "60 to 90 by 10 every 2 bars", "--times", "2"];
    let short = fresh(&[&["check", chart, "--from", "2", "--to", "3"][..], &plan].concat());
    let err = &short.err;
    assert!(err.contains("write `--times 4`"), "{err}");
    let error = fresh(&["check", chart, "--to", "9", "--times", "2"]).refused();
    assert!(error.contains("1 to 4, found 9"), "{error}");
    let error = fresh(&["check", chart, "--from", "3", "--to", "2", "--times", "2"]).refused();
    assert!(error.contains("`--from 2 --to 3`"), "{error}");
    let endless = [
        "jam",
        "--set",
        "A minor pentatonic",
        "--endless",
        "--to",
        "2",
    ];
    let error = fresh(&[&endless[..], &["--for", "1min", "-o", "a.mid"]].concat()).refused();
    assert!(error.contains("Leave `--endless` or `--to` out"), "{error}");
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
      Write a number, such as `--transpose 1`.
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
      Error in `--for`: a length is above 0 and at most 1000000 bars, beats, s or min, found 0.
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
      Write a number, such as `--seed 1`.
    --parts=click,piano
      Error: there is no part `piano`.
      Write `--parts click,pads`.
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
        (&["--bars=1", "--times=3"], "--bars", "--times"),
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

/// Options say what the keys of a document say.
#[test]
fn a_piece_is_asked_for_as_its_document_would_say_it() {
    let said = |arguments: &[&str]| fresh(&[&["check"], arguments].concat()).good();
    let chart = "| i | V | i |";
    let keyed = ["--key", "A minor"];
    let in_three = said(&[&[chart, "--meter", "3/4"], &keyed[..]].concat());
    assert!(in_three.contains("A minor, 3/4,"), "{in_three}");
    let swung = said(&[&[chart, "--feel", "swing 2:1"], &keyed[..]].concat());
    assert!(swung.contains("swing 2:1"), "{swung}");
    let moved = said(&[&[chart, "--keys", "Am, Dm"], &keyed[..]].concat());
    assert!(
        moved.contains("D minor") && moved.contains("| Dm   | A    | Dm   |"),
        "{moved}"
    );
    let ran = fresh(&[
        "check",
        "| Am | E7 |",
        "--set",
        "A minor pentatonic",
        "--fit",
        "inside",
    ]);
    assert_eq!(ran.status, 1);
    assert!(ran.out.contains("not inside: E7"), "{}", ran.out);
    // With `play` it is a warning, and the piece is played.
    let folder = TempDir::new().unwrap();
    let set = [
        "--set",
        "A minor pentatonic",
        "--fit",
        "inside",
        "-o",
        "a.toml",
    ];
    let ran = run(
        folder.path(),
        &[&["play", "| Am | E7 |"], &set[..]].concat(),
    );
    assert_eq!(
        (ran.status, ran.err.contains("not inside: E7")),
        (0, true),
        "{}",
        ran.err
    );
    let document = std::fs::read_to_string(folder.path().join("a.toml")).unwrap();
    assert!(document.contains("fit = \"inside\""), "{document}");
    for (arguments, help) in [
        (&["| Am | G |", "--keys", "fourths"][..], "--key 'A minor'"),
        (&["low-tide", "--meter", "3/4"], "leave `--meter` out"),
        (&["| i |", "--key", "Am", "--keys", "fourthy"], "fourths"),
        (&["(6/8) | Am |", "--feel", "swing 2:1"], "the feel out"),
    ] {
        let error = fresh(&[&["check"], arguments].concat()).refused();
        assert!(
            error.to_lowercase().contains(&help.to_lowercase()),
            "{arguments:?} {error}"
        );
    }
}

#[test]
fn an_excerpt_begins_and_ends_at_a_section() {
    let chart = "[A] | Am | G |\n[B] | F | E7 | F | E7 |\n[C] | C | C |";
    let bars = |arguments: &[&str]| {
        let all = [&["play", chart][..], arguments].concat();
        let folder = TempDir::new().unwrap();
        let out = run(folder.path(), &[&all[..], &["-o", "a.mid"]].concat()).good();
        let bars = out.split(", ").find_map(|part| part.strip_suffix(" bars"));
        bars.map(str::to_owned).unwrap_or(out)
    };
    assert_eq!(bars(&["--from", "B", "--to", "B"]), "4");
    assert_eq!(bars(&["--from", "B", "--to", "8"]), "6");
    assert_eq!(bars(&["--from", "1", "--to", "B"]), "6");
    let error = fresh(&["play", chart, "--from", "X", "-o", "a.mid"]).refused();
    assert!(
        error.contains("a bar or a section, A, B, C, found `X`"),
        "{error}"
    );
    assert!(error.contains("Write `--from A`."), "{error}");
}

/// Several pieces are read before the first is heard, and one file does not hold them.
#[test]
fn several_pieces_are_read_first() {
    let error = fresh(&["play", "low-tide", "| X |", "--port", "none is called so"]).refused();
    assert!(error.contains("found `X`"), "{error}");
    let error = fresh(&["play", "low-tide", "| Am |", "-o", "a.mid"]).refused();
    assert!(error.contains("`-o` is for one"), "{error}");
    let error = fresh(&["play", "low-tide", "| Am |", "--receipt", "a.json"]).refused();
    assert!(error.contains("`--receipt` is for one"), "{error}");
}

#[test]
fn a_midi_file_goes_into_a_pipe() {
    let folder = TempDir::new().unwrap();
    let play = |to| {
        command(folder.path(), &["play", "| Am | G |", "-o", to])
            .output()
            .unwrap()
    };
    let piped = play("-");
    assert!(play("a.mid").status.success());
    let file = std::fs::read(folder.path().join("a.mid")).unwrap();
    assert_eq!(piped.stdout, file);
    assert!(
        String::from_utf8(piped.stderr)
            .unwrap()
            .starts_with("wrote a MIDI file: ")
    );
    let error = run(folder.path(), &["play", "| Am |", "-o", "-", "--json"]).refused();
    assert!(error.contains("-o piece.mid"), "{error}");
    // The report of a jam would be written into the file.
    let jam = [
        "jam",
        "--set",
        "A minor pentatonic",
        "--seed",
        "1",
        "-o",
        "-",
    ];
    let jammed = command(folder.path(), &jam).output().unwrap();
    assert!(jammed.stdout.starts_with(b"MThd"));
}

/// Numbers of all commands are refused in the same words.
#[test]
fn numbers_out_of_range_are_answered_alike() {
    for (arguments, message, help) in [
        (
            &["check", "| Am |", "--count-in", "9"][..],
            "`--count-in` is a whole number, 0 to 8, found `9`.",
            "Write `--count-in 8`.",
        ),
        (
            &["check", "| Am |", "--capo", "99"],
            "`--capo` is a whole number, 0 to 12, found `99`.",
            "Write `--capo 12`.",
        ),
        (
            &["neck", "C", "--capo", "99"],
            "`--capo` is a whole number, 0 to 21, found `99`.",
            "Write `--capo 21`.",
        ),
        (
            &["neck", "C", "--frets", "0"],
            "`--frets` is a whole number, 1 to 36, found `0`.",
            "Write `--frets 1`.",
        ),
        (
            &["neck", "C", "--places", "x"],
            "`--places` is a whole number, 1 to 50, found `x`.",
            "Write a number, such as `--places 1`.",
        ),
        (
            &["neck", "A minor", "--from-string", "7"],
            "`--from-string` is a whole number, 1 to 6, found `7`.",
            "Write `--from-string 6`.",
        ),
        (
            &["click", "60", "--subdivide", "9"],
            "`--subdivide` is a whole number, 1 to 8, found `9`.",
            "Write `--subdivide 8`.",
        ),
        (
            &["click", "60", "--beats", "2,5"],
            "4/4 has beats 1 to 4, found `5`.",
            "Write beats of the meter: `--beats 2`.",
        ),
    ] {
        let error = fresh(arguments).refused();
        assert_eq!(
            error,
            format!("Error: {message}\n  {help}\n"),
            "{arguments:?}"
        );
    }
}

#[test]
fn a_ritardando_lengthens_the_end() {
    let lasts = |more: &[&str]| {
        let all = [
            &[
                "play",
                "| C | G |",
                "--times",
                "4",
                "--tempo",
                "120",
                "-o",
                "a.mid",
            ],
            more,
        ];
        let text = fresh(&all.concat()).good();
        let length = text
            .split(", ")
            .find(|part| part.contains(':') && !part.contains(' '));
        length.unwrap_or_else(|| panic!("{text}")).to_owned()
    };
    // A count-in of 2 s, 8 bars of 2 s, a held bar of 2 s.
    assert_eq!(lasts(&[]), "0:20.0");
    // Bars 7 and 8 last 4 s x 1.5 (1 - 0.6^2) / (1 - 0.6^3) = 4.898 s, the held bar 2 s / 0.6.
    assert_eq!(lasts(&["--ritardando", "2 bars"]), "0:22.2");
    // A loop has none.
    let looped = ["--ritardando", "2 bars", "--loop"];
    assert_eq!(lasts(&looped), lasts(&looped[2..]));
    let wrong = fresh(&["play", "| C |", "--ritardando", "9 bars", "-o", "a.mid"]).refused();
    insta::assert_snapshot!(wrong, @"
    Error in `--ritardando`: a ritardando takes 1 to 8 bars and comes to 30% to 95% of the tempo, found `9 bars`.
        9 bars
        ~~~~~~
      Write `2 bars`, or `2 bars to 60%`.
    ");
}

#[test]
fn a_feel_that_the_groove_does_not_suit_is_refused() {
    let refused = fresh(&["check", "tide-table", "--feel", "swing 2:1 16ths"]).refused();
    insta::assert_snapshot!(refused, @"
    the ready chart grooves/tide-table
    Error in `--feel`: the groove bossa has no sixteenths that could swing.
        swing 2:1 16ths
        ~~~~~~~~~~~~~~~
      Write `swing 2:1`, or add `--groove 'funk sixteenths'`.
    ");
    let refused = fresh(&[
        "check",
        "minor-twelve",
        "--groove",
        "slow blues",
        "--feel",
        "swing 2:1",
    ])
    .refused();
    assert!(refused.contains("swing"), "{refused}");
    let played = fresh(&[
        "check",
        "tide-table",
        "--feel",
        "swing 2:1 16ths",
        "--groove",
        "funk sixteenths",
    ]);
    assert_eq!(played.status, 0, "{}", played.err);
}
