//! Where errors say they are: inside the text that was given, on character boundaries.

use std::ffi::OsString;
use std::io::empty;

use proptest::prelude::*;

use fivefold::cli::Streams;

/// Every reader of a text on the command line: the arguments, `TEXT` standing for the text, and the name errors give it.
/// Nothing here plays or writes a file: a good call names a folder that does not exist.
const READERS: [(&str, &[&str]); 32] = [
    ("SYMBOL", &["chord", "TEXT"]),
    ("--key", &["chord", "V7", "--key=TEXT"]),
    ("SET", &["scale", "TEXT"]),
    ("--home", &["scale", "A minor pentatonic", "--home=TEXT"]),
    ("SET-or-CHORD", &["neck", "TEXT"]),
    ("--tuning", &["neck", "Am", "--tuning=TEXT"]),
    ("chart", &["check", "| TEXT |"]),
    ("chart", &["check", "[A] | Am |\n[TEXT] | Dm |"]),
    ("--key", &["check", "| Am |", "--key=TEXT"]),
    ("--tempo", &["check", "| Am |", "--tempo=TEXT"]),
    ("--for", &["check", "| Am |", "--for=TEXT"]),
    ("--tuning", &["check", "| Am |", "--tuning=TEXT"]),
    ("--set", &["check", "| Am |", "--set=TEXT"]),
    (
        "--home",
        &["check", "| Am |", "--set=A minor pentatonic", "--home=TEXT"],
    ),
    ("--part", &["check", "| Am |", "--part=TEXT"]),
    ("--part", &["check", "| Am |", "--part=pads.rhythm=TEXT"]),
    (
        "--part",
        &[
            "check",
            "| Am |",
            "--part=kit.level=3",
            "--part=bass.TEXT=1",
        ],
    ),
    ("--part", &["check", "| Am |", "--part=click.beats=[TEXT"]),
    ("--parts", &["check", "| Am |", "--parts=TEXT"]),
    ("--from", &["check", "| Am |", "--from=TEXT"]),
    ("PLAN", &["click", "TEXT", "-o", "none/x.mid"]),
    (
        "--meter",
        &["click", "90", "--meter=TEXT", "-o", "none/x.mid"],
    ),
    (
        "--feel",
        &["click", "90", "--feel=TEXT", "-o", "none/x.mid"],
    ),
    (
        "--silent",
        &["click", "90", "--silent=TEXT", "-o", "none/x.mid"],
    ),
    ("--set", &["jam", "--set=TEXT", "--show"]),
    (
        "--home",
        &["jam", "--set=A minor pentatonic", "--home=TEXT", "--show"],
    ),
    (
        "--start",
        &["jam", "--set=A minor pentatonic", "--start=TEXT", "--show"],
    ),
    (
        "--end",
        &["jam", "--set=A minor pentatonic", "--end=TEXT", "--show"],
    ),
    (
        "--with",
        &[
            "jam",
            "--set=A minor pentatonic",
            "--with=Am, TEXT,C",
            "--show",
        ],
    ),
    (
        "--without",
        &[
            "jam",
            "--set=A minor pentatonic",
            "--without=TEXT",
            "--show",
        ],
    ),
    (
        "--keys",
        &["jam", "--set=A minor pentatonic", "--keys=TEXT", "--show"],
    ),
    (
        "--meter",
        &["jam", "--set=A minor pentatonic", "--meter=TEXT", "--show"],
    ),
];

/// The error stream of the program for these arguments.
fn said(arguments: &[String]) -> String {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let program = ["fivefold".to_owned()];
    let all = program.iter().chain(arguments).map(OsString::from);
    fivefold::cli::run(all, &mut Streams::piped(&mut out, &mut err, &mut empty()));
    String::from_utf8(err).unwrap()
}

/// The values of an option, or the argument that stands by itself, that an error of this name may be about.
fn given<'a>(name: &str, arguments: &'a [String]) -> Vec<&'a str> {
    let option = format!("{name}=");
    if name.starts_with("--") {
        arguments
            .iter()
            .filter_map(|a| a.strip_prefix(&option))
            .collect()
    } else {
        // Behind the command and `--json`.
        arguments
            .iter()
            .skip(2)
            .take(1)
            .map(String::as_str)
            .collect()
    }
}

fn spans_lie_in(name: &str, pattern: &[&str], text: &str) -> Result<usize, TestCaseError> {
    let mut arguments: Vec<String> = pattern.iter().map(|a| a.replace("TEXT", text)).collect();
    arguments.insert(1, "--json".to_owned());
    let mut spans = 0;
    for line in said(&arguments).lines() {
        let error: serde_json::Value = serde_json::from_str(line).unwrap();
        let Some(span) = error["span"].as_array() else {
            continue;
        };
        let at = |i: usize| usize::try_from(span[i].as_u64().unwrap()).unwrap();
        let file = error["file"].as_str().unwrap();
        let file = file.trim_matches(['<', '>']);
        // An option may also show that something is wrong with the chart.
        prop_assert!(file == name || file == "chart", "{arguments:?} {error}");
        let inside = |given: &&str| given.get(at(0)..at(1)).is_some();
        prop_assert!(
            given(file, &arguments).iter().any(inside),
            "{arguments:?} {error}"
        );
        spans += 1;
    }
    Ok(spans)
}

/// Texts of many kinds: empty, white space, wide characters, near what is right, and long.
fn text() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "A",
        "minor",
        "pentatonic",
        "\u{266D}",
        "b",
        "#",
        "\u{1F3B8}",
        "e\u{301}",
        " ",
        "\t",
        "\u{A0}",
        "\u{3000}",
        "7/8",
        " = 2+2+3",
        "72",
        " to ",
        " by ",
        " every 8 bars",
        ",",
        "for",
        "90 s",
        "1",
        "b3",
        "5",
        "Am7",
        "(b9,#11)",
        "/E",
        "V7/V",
        "swing 2:1",
        "D A D G B E",
        "\"",
        "'",
        "\\",
        "]",
        "=",
        ".",
        "\n",
        "\u{9B}",
        "\u{1B}[2J",
        "|",
        "%",
        "-",
        "+",
        "\u{130}",
        "\u{DF}",
        "\u{FB01}",
        "standard",
        "3 on 1 off",
        "fourths",
        "x",
        "o",
    ]);
    let words = || prop::collection::vec(word.clone(), 0..8).prop_map(|w| w.concat());
    prop_oneof![
        6 => words(),
        2 => "\\PC{0,12}",
        1 => (words(), 50usize..400).prop_map(|(word, times)| word.repeat(times)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn an_error_is_told_inside_the_text_it_is_about(
        reader in prop::sample::select(READERS.to_vec()),
        text in text(),
    ) {
        spans_lie_in(reader.0, reader.1, &text)?;
    }
}

/// Every reader must report a place for some of these, or the property above proves nothing.
#[test]
fn readers_of_options_tell_places() {
    let placeless = ["--parts", "--from", "--silent", "--tuning"];
    for (name, pattern) in READERS {
        let spans: usize = [
            "bass.q=\u{1F3B8}",
            "volum",
            "\u{1F3B8}x\u{1F3B8}",
            "A \u{266D}\u{1F3B8}",
            "",
            "\u{A0}q\u{1F3B8} q",
        ]
        .iter()
        .map(|text| spans_lie_in(name, pattern, text).unwrap())
        .sum();
        assert!(spans > 0 || placeless.contains(&name), "{pattern:?}");
    }
}

/// An error in one chord of a list once underlined the whole list.
#[test]
fn a_chord_of_a_list_is_told_where_it_stands() {
    let arguments = [
        "jam",
        "--json",
        "--set=A minor pentatonic",
        "--with=Am,  C\u{266F}q",
    ];
    let error: serde_json::Value =
        serde_json::from_str(said(&arguments.map(str::to_owned)).trim()).unwrap();
    let span: Vec<u64> = serde_json::from_value(error["span"].clone()).unwrap();
    assert_eq!(
        &"Am,  C\u{266F}q"[usize::try_from(span[0]).unwrap()..usize::try_from(span[1]).unwrap()],
        "q"
    );
}
