//! Where a piece is read from.

use fivefold::chart::MOST_BYTES;

use super::*;

const DOCUMENT: &str = "title = \"Low tide\"\n[sections]\nA = \"| Am | Dm |\"\n";

#[test]
fn documents_and_charts_from_everywhere() {
    let folder = TempDir::new().unwrap();
    write(folder.path(), "a.toml", DOCUMENT);
    write(folder.path(), "bom.toml", format!("\u{FEFF}{DOCUMENT}"));
    write(folder.path(), "crlf.toml", DOCUMENT.replace('\n', "\r\n"));
    write(folder.path(), "chart.txt", "[verse]\n| Am | Dm |\n");
    write(folder.path(), "bom.txt", "\u{FEFF}| Am | Dm |\n");
    let from_file = run(folder.path(), &["check", "a.toml"]).good();
    for same in ["bom.toml", "crlf.toml"] {
        assert_eq!(
            run(folder.path(), &["check", same]).good(),
            from_file,
            "{same}"
        );
    }
    assert_eq!(
        with_input(&["check", "-"], DOCUMENT.as_bytes()).good(),
        from_file
    );
    let inline = fresh(&["check", "| Am | Dm |"]).good();
    assert_eq!(run(folder.path(), &["check", "bom.txt"]).good(), inline);
    assert_eq!(with_input(&["check", "-"], b"\n| Am | Dm |").good(), inline);
    assert_eq!(with_input(&["check", "-"], b"|: Am | Dm :|").status, 0);
    for chart in [
        "Am | Dm",
        "(4/4) Am | Dm |",
        "\n\n  |Am|\n|Dm|\n",
        "[A] | Am | Dm |",
    ] {
        assert_eq!(
            with_input(&["check", "-"], chart.as_bytes()).good(),
            inline,
            "{chart}"
        );
    }
    let named = run(folder.path(), &["check", "chart.txt"]).good();
    assert_eq!(named, inline.replace("[A]", "[verse]"));
}

#[test]
fn what_cannot_be_read_is_named() {
    let folder = TempDir::new().unwrap();
    std::fs::create_dir(folder.path().join("set")).unwrap();
    write(folder.path(), "latin.toml", b"title = \"Caf\xE9\"\n");
    write(folder.path(), "utf16.toml", b"\xFF\xFEt\0");
    write(folder.path(), "empty.toml", "");
    write(folder.path(), "binary.toml", [0u8, 1, 2]);
    let mut all = String::new();
    for name in [
        "none.toml",
        "set",
        "latin.toml",
        "utf16.toml",
        "empty.toml",
        "binary.toml",
        "Am Dm",
        "",
    ] {
        all.push_str(&run(folder.path(), &["check", name]).refused());
    }
    insta::assert_snapshot!(all, @r#"
    Error: cannot read none.toml: No such file or directory.
      Give a document, a chart with bar lines in it: '| Am7 | D9 |', or the name of a ready chart: `fivefold list charts` shows them.
    Error: cannot read set: Is a directory.
      Give a document in it, such as `low-tide.toml`.
    Error: latin.toml is no UTF-8 text: byte 13 is not.
      Save it as UTF-8.
    Error: utf16.toml is no UTF-8 text: byte 1 is not.
      Save it as UTF-8.
    Error in line 1 of empty.toml: a document has no sections.
      Write `[sections]` and below it `A = "| Am7 | Dm7 |"`.
    Error in line 1 of binary.toml: invalid unquoted key, expected letters, numbers, `-`, `_`.
        ␀␁␂
        ~~~
      A document is TOML: `key = "A minor"`, sections under `[sections]`.
    Error in line 1 of binary.toml: key with no value, expected `=`.
        ␀␁␂
           ~
      A document is TOML: `key = "A minor"`, sections under `[sections]`.
    Error: cannot read Am Dm: No such file or directory.
      Write bar lines around chords: '| Am | Dm |'.
    Error: the name of the piece is empty.
      Give a document, a chart with bar lines in it: '| Am7 | D9 |', or the name of a ready chart: `fivefold list charts` shows them.
    "#);
}

#[test]
fn too_much_is_refused_with_its_size() {
    let most = "# x\n".repeat(MOST_BYTES / 4);
    let error = with_input_of(&["check", "-", "--json"], format!("{most}\n").into_bytes());
    assert!(error.contains("\"input-size\""), "{error}");
    let error = with_input_of(&["check", "-", "--json"], most.into_bytes());
    assert!(error.contains("\"document-sections\""), "{error}");
    // A file of another kind is told as that, however long it is.
    let recording = [b"RIFF".to_vec(), vec![0; MOST_BYTES]].concat();
    let error = with_input_of(&["check", "-", "--json"], recording);
    assert!(error.contains("\"input-kind\""), "{error}");
}

/// Like `with_input`, for a program that may stop reading before all is written.
fn with_input_of(arguments: &[&str], input: Vec<u8>) -> String {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("input");
    std::fs::write(&file, input).unwrap();
    let mut command = command(folder.path(), arguments);
    command.stdin(std::fs::File::open(file).unwrap());
    finish(command.output().unwrap()).refused()
}

#[test]
fn errors_as_json() {
    let errors = fresh(&["check", "| Am | X | | Xm |", "--json"]).errors();
    let codes: Vec<&str> = errors.iter().map(|e| e["code"].as_str().unwrap()).collect();
    assert_eq!(codes, ["no-root", "chart-empty-bar", "no-root"]);
    assert_eq!(errors[0]["file"], "<chart>");
    assert_eq!(
        (&errors[0]["line"], &errors[0]["column"]),
        (&1.into(), &8.into())
    );
    assert_eq!(errors[0]["span"], serde_json::json!([7, 8]));
    let nowhere = fresh(&["check", "none.toml", "--json"]).errors();
    assert_eq!(
        (&nowhere[0]["code"], &nowhere[0]["span"]),
        (&"input".into(), &serde_json::Value::Null)
    );
    let usage = fresh(&["check", "--json"]).errors();
    insta::assert_snapshot!(usage[0], @r#"{"code":"usage","column":null,"file":null,"help":"write for example `fivefold check first-twelve`","line":null,"message":"`fivefold check` needs `PIECE`","severity":"error","span":null}"#);
    assert_eq!(fresh(&["--json", "nope"]).errors()[0]["code"], "usage");
    assert_eq!(
        fresh(&["chord", "H", "--json"]).errors()[0]["code"],
        "note-name"
    );
    assert_eq!(
        fresh(&["scale", "A minro", "--json"]).errors()[0]["file"],
        "<SET>"
    );
    assert_eq!(
        fresh(&["click", "fast", "--json"]).errors()[0]["code"],
        "plan-tempo"
    );
    assert_eq!(
        fresh(&["click", "92", "--silent", "x", "--json"]).errors()[0]["code"],
        "click-silent"
    );
    let ran = fresh(&["check", "| i | III |", "--key", "A minor", "--json"]);
    let warning: serde_json::Value = serde_json::from_str(&ran.err).unwrap();
    assert_eq!((ran.status, &warning["severity"]), (0, &"warning".into()));
}

#[test]
fn answers_as_json() {
    let value = |arguments: &[&str]| -> serde_json::Value {
        serde_json::from_str(&fresh(arguments).good()).unwrap()
    };
    assert_eq!(
        value(&["chord", "Am7", "--json"])["tones"],
        serde_json::json!(["A", "C", "E", "G"])
    );
    assert_eq!(
        value(&["--json", "chord", "V7/V", "--key", "A major"])["symbol"],
        "B7"
    );
    assert_eq!(
        value(&["scale", "A minor pentatonic", "--json"])["root"],
        "A"
    );
    let check = value(&["check", "| Am |", "--json"]);
    assert_eq!(
        (&check["version"], &check["bars"][1]["chords"][0]["symbol"]),
        (&1.into(), &"Am".into())
    );
    let written = value(&["play", "| Am |", "-o", "a.mid", "--json"]);
    assert_eq!(written["written"], "a.mid");
}

/// What a document or a file is called may hold anything; on its way to a terminal it steers nothing.
#[test]
fn controls_in_texts_of_others_are_shown() {
    let folder = TempDir::new().unwrap();
    let steers = |c: char| {
        (c.is_control() && c != '\n')
            || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
    };
    let document = |chart: &str| {
        format!(
            "title = \"a\\u001B[2J\\u009B\\u202Eb\"\n[sections]\n\"A\\u001B\\u009B\\u2066\" = \"{chart}\"\n"
        )
    };
    let name = "x\u{1B}\u{9B}\u{2067}.toml";
    write(folder.path(), name, document("| Am |"));
    let wrong = "y\u{1B}\u{9B}\u{2067}.toml";
    write(folder.path(), wrong, document("| \u{9B}Am\u{202E} |"));
    let fine = [
        &["check", name][..],
        &["check", name, "--json"],
        &["play", name, "-o", "a.jsonl"],
        &["play", name, "-o", "b\u{9B}.mid"],
        &["play", name, "--json", "-o", "c\u{9B}.mid"],
    ];
    for arguments in fine {
        let out = run(folder.path(), arguments).good();
        assert!(!out.contains(steers), "{out:?}");
    }
    let events = std::fs::read_to_string(folder.path().join("a.jsonl")).unwrap();
    assert!(!events.contains(steers), "{events:?}");
    let refused = [
        &["check", wrong][..],
        &["check", wrong, "--json"],
        &["play", name, "-o", "none\u{9B}\u{202A}/a.mid"],
        &["check", "| \u{9B}\u{1B}[2J\u{202B} |"],
    ];
    for arguments in refused {
        let error = run(folder.path(), arguments).refused();
        assert!(!error.contains(steers), "{error:?}");
    }
}

/// Once the next change of a tempo that never changes was looked for without end.
#[test]
fn an_endless_piece_whose_plan_starts_again_is_checked() {
    let document =
        "plan = \"each pass\"\ntimes = \"endless\"\ntempo = 90\n[sections]\nA = \"| Am | Dm |\"\n";
    for json in [&[][..], &["--json"]] {
        let out = with_input(&[&["check", "-"], json].concat(), document.as_bytes()).good();
        assert!(out.contains("Dm"), "{out}");
    }
}
