//! What holds for every text.

use proptest::prelude::*;
use proptest::strategy::ValueTree;

use super::*;
use crate::chart::Pattern;

/// The piece without the places of its text, which printing moves.
fn bare(mut piece: Piece) -> Piece {
    for (_, _, section) in &mut piece.sections {
        place(section, |_| 0..0);
    }
    piece.sections.sort_by(|a, b| a.0.cmp(&b.0));
    piece
}

fn comes_back(piece: &Piece) -> Result<(), TestCaseError> {
    let text = piece.to_document();
    match Piece::read(&text) {
        Ok((again, _)) => prop_assert_eq!(bare(again), bare(piece.clone()), "{}", text),
        Err(problems) => prop_assert!(false, "{}\n{:#?}", text, problems),
    }
    Ok(())
}

fn settings() -> impl Strategy<Value = String> {
    let pick = |choices: &'static [&'static str]| prop::sample::select(choices.to_vec());
    let head = (
        pick(&[
            "",
            "title = \"B\u{266D} \\\"x\\\"\\n\\\\\"\n",
            "title = ''\n",
        ]),
        pick(&[
            "",
            "key = \"A minor\"\n",
            "key = \"F# mixolydian\"\n",
            "key = \"Bb\"\n",
        ]),
        pick(&[
            "",
            "meter = \"3/4\"\n",
            "meter = \"6/8\"\n",
            "meter = \"7/8 = 2+2+3\"\n",
            "meter = \"2/2\"\n",
        ]),
        pick(&[
            "",
            "feel = \"swing 2:1 16ths\"\n",
            "feel = \"swing 3.5:1\"\n",
            "feel = \"straight\"\n",
        ]),
        pick(&[
            "",
            "tempo = 72.125\n",
            "tempo = \"60 to 76 by 8 back 4 every 4 bars\"\n",
            "tempo = \"quarter = 72 for 90 s, 80 to 90 over 2.5 min, 90\"\n",
        ]),
        pick(&["", "plan = \"each pass\"\n"]),
        pick(&[
            "",
            "set = \"A minor pentatonic\"\nhome = \"A dorian\"\n",
            "set = \"C# 1 b3 4 5 b7\"\n",
            "set = \"A 1 b1 #4\"\n",
        ]),
        pick(&[
            "",
            "fit = \"clear\"\nkeys = \"A minor, D minor\"\n",
            "capo = 3\ntuning = \"D A D G B E\"\n",
        ]),
        pick(&["", "times = 3\n", "times = \"endless\"\n"]),
        (
            pick(&["", "seed = 0\n", "seed = 9223372036854775807\n"]),
            pick(&[
                "",
                "transpose = -24\n",
                "transpose = 5\n",
                "transpose = \"Eb minor\"\n",
            ]),
            pick(&["", "ending = \"none\"\n"]),
        ),
    );
    let sections = pick(&[
        "[sections]\nA = \"| Am | Dm |\"\n",
        "form = \"A A B A\"\n[sections]\nB = \"|: C |[1. F :|[2. G | / |\"\nA = '''\n| Am |\n| % |'''\nintro = \"| N.C. |\"\n",
        "[sections]\nZ = \"| C |\"\nA = \"| (4/4) D | E |\"\n",
        "[sections]\n\"B\u{266D}\" = \"| B\u{266D}m |\\n| \\tC7(b9, #11) |\"\nending = \"| C |\"\n",
    ]);
    let parts = (
        pick(&[
            "",
            "[parts.click]\ncount_in = 0\naccents = false\nsubdivide = 4\nbeats = [2, 4]\nsilent = \"3 on 1 off\"\n",
            "[parts.click]\non = false\n",
            "[parts.click]\nchannel = 3\nlevel = 1\non = false\n",
        ]),
        pick(&[
            "",
            "[parts.pads]\nprogram = 1\npan = -7\nvoices = 3\nlow = \"C3\"\nhigh = \"G5\"\nstrike = \"change\"\n",
            "[parts.pads]\non = false\nvoices = 2\n",
        ]),
        pick(&[
            "",
            "[parts.bass]\nline = \"root and fifth\"\nlevel = 0\n",
            "[parts.bass]\non = false\nline = \"root and fifth\"\n",
        ]),
        pick(&[
            "",
            "[parts.kit]\n",
            "[parts.kit]\nlevel = 3\n",
            "[parts.kit]\nlevel = 3\non = false\n",
        ]),
        pick(&[
            "",
            "[parts.drone]\n",
            "[parts.drone]\nnotes = \"tonic\"\nchannel = 12\n",
            "[parts.drone]\nnotes = \"tonic\"\non = false\n",
        ]),
    );
    (head, sections, parts).prop_map(
        |((a, b, c, d, e, f, g, h, i, (j, k, l)), s, (p, q, r, t, u))| {
            // A section key does not go with the form when it is written above other keys, so the form comes last.
            [a, b, c, d, e, f, g, h, i, j, k, l, s, p, q, r, t, u].concat()
        },
    )
}

/// Any text, with characters that TOML escapes, line ends, and marks of direction and joining.
fn words(words: &[&'static str]) -> impl Strategy<Value = String> {
    prop::sample::select(words.to_vec()).prop_map(str::to_owned)
}

fn any_text() -> impl Strategy<Value = String> {
    let odd = prop::sample::select(vec![
        "\"",
        "'",
        "\\",
        "\"\"\"",
        "'''",
        "\t",
        "\n",
        "\r\n",
        "\r",
        "\0",
        "\u{1B}[2J",
        "\u{7F}",
        "\u{85}",
        "\u{9B}",
        "\u{A0}",
        "\u{200B}",
        "\u{2028}",
        "\u{2029}",
        "\u{202E}",
        "\u{FEFF}",
        "\u{1F3B8}",
        "e\u{301}",
        " ",
        "#",
        "=",
        "[",
        "]",
        ".",
        "|",
        "\\u0041",
        "A",
    ]);
    let piece = prop_oneof![
        2 => odd.prop_map(str::to_owned),
        1 => any::<char>().prop_map(String::from),
    ];
    prop::collection::vec(piece, 0..10).prop_map(|pieces| pieces.concat())
}

/// A good chart with white space of every kind.
fn spaced_chart() -> impl Strategy<Value = String> {
    let space = prop::sample::select(vec![
        " ", "\t", "\n", "\r\n", "\r", "\u{B}", "\u{C}", "\u{85}", "\u{A0}", "\u{2028}",
        "\u{3000}", "  \n\t",
    ]);
    let bar = prop::sample::select(vec!["Am", "B\u{266D}maj7", "%", "N.C.", "Dm"]);
    prop::collection::vec((space, bar), 1..6).prop_map(|bars| {
        let bars = bars
            .iter()
            .map(|(space, bar)| format!("{space}{bar}{space}|"));
        format!("|{}", bars.collect::<String>().replacen('%', "C", 1))
    })
}

/// A text where one of a few forms is wanted.
fn setting() -> impl Strategy<Value = String> {
    prop_oneof![
        "[DUxs.o \t\u{A0}\n-]{0,40}",
        "[0-9]{1,3} (on|in) [0-9]{1,3}( off)?",
        "[A-G][#b]?[0-9]",
        any_text(),
    ]
}

/// What is written under these keys of a part is read, or refused with one of these codes.
const SETTINGS: [(&str, &str, &str); 5] = [
    ("strum", "strokes", "part-rhythm"),
    ("pads", "rhythm", "part-rhythm"),
    ("pads", "low", "pads-register"),
    ("click", "silent", "click-silent"),
    ("bass", "line", "document-choice"),
];

fn is_name(label: &str) -> bool {
    !label.is_empty() && !label.contains(char::is_whitespace)
}

fn table<'t>(table: &'t mut toml::Table, key: &str) -> &'t mut toml::Table {
    let inner = table
        .entry(key)
        .or_insert_with(|| toml::Table::new().into());
    inner.as_table_mut().unwrap()
}

fn spans_lie_within(text: &str, problems: &[Problem]) -> Result<(), TestCaseError> {
    for p in problems {
        prop_assert!(text.get(p.span.clone()).is_some(), "{:?}", p);
        prop_assert!(
            !p.code.is_empty() && !p.message.is_empty() && !p.help.is_empty(),
            "{:?}",
            p
        );
        prop_assert!(
            !p.message.contains('\n') && !p.help.contains('\n'),
            "{:?}",
            p
        );
    }
    Ok(())
}

fn check(text: &str, read: Result<(Piece, Reading), Problems>) -> Result<(), TestCaseError> {
    match read {
        Ok((piece, reading)) => {
            spans_lie_within(text, &reading.warnings)?;
            match piece.unfold() {
                Ok(form) => {
                    prop_assert!(!form.pass.is_empty());
                    for bar in form.bars() {
                        let ticks: u64 = bar.chords.iter().map(|c| c.length_ticks).sum();
                        prop_assert_eq!(ticks, bar.meter.bar_ticks());
                    }
                }
                Err(problems) => spans_lie_within(text, &problems)?,
            }
            comes_back(&piece)
        }
        Err(problems) => {
            prop_assert!(problems.iter().any(|p| p.severity == Severity::Error));
            spans_lie_within(text, &problems)
        }
    }
}

/// Text in the shape of a document.
fn document_like() -> impl Strategy<Value = String> {
    let line = prop::sample::select(vec![
        "title = \"x\"",
        "key = \"A minor\"",
        "meter = \"3/4\"",
        "meter = \"7/8 = 2+2+3\"",
        "feel = \"swing 2:1\"",
        "tempo = 72",
        "tempo = \"72 to 96 by 4 every 8 bars\"",
        "form = \"A B A\"",
        "form = \"\"\"\nA\n\"\"\"",
        "times = 99",
        "times = \"endless\"",
        "[sections]",
        "A = \"| Am | % |\"",
        "B = \"\"\"\n|: i | V7/V |[1. X :|[2. / |\n\"\"\"",
        "B = '| (6/8) C D |'",
        "A = \"\\u266D \\\" | C |\"",
        "intro = \"| 1 |\"",
        "[parts.click]",
        "beats = [1, 2]",
        "[parts]",
        "on = false",
        "[parts.pads]",
        "low = \"C9\"",
        "seed = 0x7F",
        "# c",
        "=",
        "\"\"\"",
        "[",
        "capo = 1",
        "\u{1F3B8} = 1",
        "x.y = 2",
        "transpose = -24",
    ]);
    prop::collection::vec(line, 0..14).prop_map(|lines| lines.join("\n"))
}

proptest! {
    #[test]
    fn a_piece_comes_back_from_its_document(text in settings()) {
        if let Ok((piece, _)) = Piece::read(&text) {
            comes_back(&piece)?;
        }
    }

    #[test]
    fn keys_and_tuning_are_read_as_their_own_readers_read_them(
        keys in prop_oneof![any_text(), words(&["fourths", "D minor, A minor", "shuffle"])],
        tuning in prop_oneof![any_text(), words(&["dadgad", "D A D G B E", "D#2 G#2 C#3 F#3 A#3 D#4"])],
    ) {
        let mut document: toml::Table = "[sections]\nA = \"| Am |\"\n".parse().unwrap();
        document.insert("keys".to_owned(), keys.clone().into());
        document.insert("tuning".to_owned(), tuning.clone().into());
        let text = toml::to_string(&document).unwrap();
        let (keys, tuning) = (KeyOrder::read(&keys), Tuning::read(&tuning));
        match Piece::read(&text) {
            Ok((piece, _)) => {
                prop_assert_eq!(piece.keys.as_ref(), keys.as_ref().ok());
                prop_assert_eq!(piece.tuning.as_ref(), tuning.as_ref().ok());
                comes_back(&piece)?;
            }
            Err(problems) => {
                spans_lie_within(&text, &problems)?;
                prop_assert!(keys.is_err() || tuning.is_err(), "{}\n{:#?}", text, problems);
            }
        }
    }

    #[test]
    fn any_words_of_a_document_come_back(
        base in settings(),
        title in any_text(),
        sections in prop::collection::vec((any_text(), spaced_chart()), 1..4),
        percent_milli in 10_000u64..=400_000,
    ) {
        let good = Piece::read(&base).is_ok();
        let mut document: toml::Table = base.parse().unwrap();
        document.remove("form");
        document.insert("title".to_owned(), title.clone().into());
        let charts: toml::Table = sections.iter().cloned().map(|(name, chart)| (name, chart.into())).collect();
        document.insert("sections".to_owned(), charts.into());
        let text = toml::to_string(&document).unwrap();
        let named = sections.iter().all(|(name, _)| is_name(name));
        match Piece::read(&text) {
            Ok((mut piece, _)) => {
                prop_assert!(named, "{}", text);
                prop_assert_eq!(&piece.title, &title);
                for (name, chart, _) in &piece.sections {
                    prop_assert!(sections.iter().any(|(n, c)| n == name && c == chart), "{}", text);
                }
                comes_back(&piece)?;
                piece.tempo = piece.tempo.scaled(percent_milli);
                if piece.tempo.check(&piece.meter).is_ok() {
                    comes_back(&piece)?;
                }
            }
            Err(problems) => {
                spans_lie_within(&text, &problems)?;
                let refused = problems.iter().any(|p| p.code == "document-section-name");
                prop_assert!(refused != named, "{}\n{:#?}", text, problems);
                prop_assert!(!named || !good, "{}\n{:#?}", text, problems);
            }
        }
    }

    #[test]
    fn any_setting_of_a_part_comes_back_or_is_refused(
        which in prop::sample::select(SETTINGS.to_vec()),
        value in setting(),
    ) {
        let (part, key, code) = which;
        let mut document = toml::Table::new();
        table(table(&mut document, "parts"), part).insert(key.to_owned(), value.into());
        table(&mut document, "sections").insert("A".to_owned(), "| Am |".into());
        let text = toml::to_string(&document).unwrap();
        match Piece::read(&text) {
            Ok((piece, _)) => comes_back(&piece)?,
            Err(problems) => {
                spans_lie_within(&text, &problems)?;
                prop_assert!(problems.iter().all(|p| p.code == code), "{}\n{:#?}", text, problems);
            }
        }
    }

    #[test]
    fn strokes_of_sections_come_back_or_are_refused(
        strokes in prop::collection::btree_map("[A-C]", prop_oneof!["[DUxs.o ]{1,40}", any_text()], 0..3),
        shape in prop::sample::select(vec!["near", "easiest"]),
    ) {
        let mut document = toml::Table::new();
        for name in ["A", "B"] {
            table(&mut document, "sections").insert(name.to_owned(), "| Am |".into());
        }
        let rhythms: toml::Table = strokes.iter().map(|(name, s)| (name.clone(), s.clone().into())).collect();
        let strum = table(table(&mut document, "parts"), "strum");
        strum.insert("section_strokes".to_owned(), rhythms.into());
        strum.insert("shape".to_owned(), shape.into());
        let text = toml::to_string(&document).unwrap();
        let right = strokes.iter().all(|(name, s)| name != "C" && Pattern::read(s).is_some());
        match Piece::read(&text) {
            Ok((piece, _)) => {
                prop_assert!(right, "{}", text);
                prop_assert_eq!(piece.parts.strum.in_sections.len(), strokes.len());
                comes_back(&piece)?;
            }
            Err(problems) => {
                prop_assert!(!right, "{}\n{:#?}", text, problems);
                spans_lie_within(&text, &problems)?;
                let known = |code: &str| ["part-rhythm", "part-section"].contains(&code);
                prop_assert!(problems.iter().all(|p| known(p.code)), "{}\n{:#?}", text, problems);
            }
        }
    }

    #[test]
    fn inline_charts_with_any_names_come_back(
        names in prop::collection::vec(any_text(), 1..4),
        chart in spaced_chart(),
        title in any_text(),
    ) {
        let text: String = names.iter().map(|name| format!("[{name}]\n{chart}\n")).collect();
        check(&text, Piece::read_inline(&text))?;
        if let Ok((mut piece, _)) = Piece::read_inline(&text) {
            piece.title = title;
            comes_back(&piece)?;
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in ".{0,80}|[a-z=\"\\[\\]|. \n]{0,80}") {
        check(&text, Piece::read(&text))?;
        check(&text, Piece::read_inline(&text))?;
    }

    #[test]
    fn any_document_is_read_or_refused(text in document_like()) {
        check(&text, Piece::read(&text))?;
    }

    #[test]
    fn any_inline_chart_is_read_or_refused(text in "(\\[[AB]\\]|\\[A\tB\\]|intro|\n|\\| |:\\||\\|:|Am|V7|%|/ |\\[1\\.|\\[2\\.|\\(3/4\\)| ){0,20}") {
        check(&text, Piece::read_inline(&text))?;
    }
}

/// Bars before the first name were once a section without a name where A to Z were taken, and no document may have one.
#[test]
fn bars_before_the_first_name_have_a_name_of_their_own() {
    let mut text = "| C |\n".to_owned();
    for name in ('A'..='Z').map(String::from).chain(["A1".to_owned()]) {
        text += &format!("[{name}] | Am |\n");
    }
    let (piece, _) = Piece::read_inline(&text).unwrap();
    assert_eq!(piece.form[0], "A2");
    comes_back(&piece).unwrap();
}

/// Most of the settings must be good, or the property above proves nothing.
#[test]
fn settings_are_mostly_good() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let texts = (0..100).map(|_| settings().new_tree(&mut runner).unwrap().current());
    let good = texts.filter(|text| Piece::read(text).is_ok()).count();
    assert!(good > 50, "{good}");
}
