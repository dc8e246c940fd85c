//! Nothing that others wrote steers a terminal: with colors, without, and as JSON.

use std::ffi::OsString;

use super::*;

/// Text that can control a terminal: escape sequences, controls in one character, and characters that
/// change the direction of text. The first looks like a color of ours.
const STEERS: [&str; 6] = [
    "\u{1B}[35;7m",
    "\u{1B}]0;t\u{7}",
    "\u{1B}[2J",
    "\u{9B}35;7m",
    "\u{202E}",
    "\u{7F}\u{90}\r",
];

/// Characters that control a terminal. Only line ends, tabs and our own colors may be in the output.
fn foreign(text: &str) -> Option<String> {
    let mut rest = text;
    while let Some(at) = rest.find(|c: char| {
        (c.is_control() && c != '\n' && c != '\t')
            || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
    }) {
        rest = &rest[at..];
        let numbers = rest.strip_prefix("\u{1B}[").unwrap_or("");
        let end = numbers.find(|c: char| !c.is_ascii_digit() && c != ';').unwrap_or(0);
        if !numbers[end..].starts_with('m') || numbers.starts_with("35;7") {
            return Some(rest.chars().take(12).collect::<String>().escape_debug().to_string());
        }
        rest = &numbers[end..];
    }
    None
}

/// Calls that quote what they are given, `TEXT` standing for it.
const CALLS: [&[&str]; 26] = [
    &["TEXT"],
    &["--TEXT"],
    &["-TEXT"],
    &["check", "--TEXT"],
    &["check", "--keyTEXT=A"],
    &["check", "--key=A", "--key=TEXT", "| Am |"],
    &["check", "| Am |", "TEXT"],
    &["check", "TEXT"],
    &["check", "| Am TEXT |"],
    &["check", "[TEXT] | Am |"],
    &["check", "| Am |", "--tempo=TEXT"],
    &["check", "| Am |", "--parts=TEXT"],
    &["check", "| Am |", "--part=TEXT"],
    &["check", "| Am |", "--part=bass.line=TEXT"],
    &["check", "| Am |", "--from=TEXT"],
    &["check", "| Am |", "--tuning=TEXT"],
    &["check", "titled.toml"],
    &["check", "titled.toml", "--key=q"],
    &["chord", "AmTEXT"],
    &["scale", "A TEXT"],
    &["neck", "TEXT"],
    &["jam", "--set=TEXT", "--show"],
    &["click", "90", "--subdivide=TEXT"],
    &["completions", "TEXT"],
    &["play", "| Am |", "-o", "TEXT.mid"],
    &["play", "| Am |", "-o", "none/TEXT.mid"],
];

#[test]
fn nothing_that_was_given_steers_a_terminal() {
    let folder = TempDir::new().unwrap();
    for steer in STEERS {
        let quoted = toml::Value::String(format!("a{steer}b")).to_string();
        let document = format!("title = {quoted}\n[sections]\n\"x{}\" = \"| Am |\"\n", "y");
        write(folder.path(), "titled.toml", document);
        for call in CALLS {
            for manner in [
                &[][..],
                &["--color", "always"],
                &["--json"],
                &["--json", "--color=always"],
            ] {
                let text = format!("x{steer}y");
                let mut all: Vec<String> = call.iter().map(|a| a.replace("TEXT", &text)).collect();
                // First in the text, where it is read even if the rest is not.
                all.splice(0..0, manner.iter().map(|a| (*a).to_owned()));
                let all: Vec<&str> = all.iter().map(String::as_str).collect();
                let ran = run(folder.path(), &all);
                for stream in [&ran.out, &ran.err] {
                    assert_eq!(foreign(stream), None, "{all:?}\n{stream:?}");
                }
                // The text is still quoted, with its controls escaped.
                let silent = ran.status != 0 && ran.err.is_empty();
                assert!(!silent, "{all:?}");
            }
        }
    }
}

/// The option parser drops controls from its errors without colors; we still quote them.
#[test]
fn an_unknown_option_is_told_as_it_was_typed() {
    for (color, json) in [("never", false), ("always", false), ("never", true)] {
        let mut arguments = vec!["--color", color, "check", "--a\u{1B}[31mb\u{9B}c"];
        if json {
            arguments.push("--json");
        }
        let error = fresh(&arguments).refused();
        let told = if json {
            "--a\\\\u{1b}[31mb\\\\u{9b}c"
        } else {
            "--a\\u{1b}[31mb\\u{9b}c"
        };
        assert!(error.contains(told), "{error}");
    }
    let colors = fresh(&["--color", "always", "check", "--nope"]).refused();
    assert!(
        colors.contains("\u{1B}[") && colors.contains("--nope"),
        "{colors:?}"
    );
}

/// Arguments that are no text at all.
#[cfg(unix)]
#[test]
fn bytes_that_are_no_text_steer_nothing() {
    use std::os::unix::ffi::OsStringExt;
    let folder = TempDir::new().unwrap();
    for call in [
        &["check", "\u{1}"][..],
        &["\u{1}"],
        &["check", "--\u{1}"],
        &["play", "| Am |", "-o", "\u{1}.mid"],
    ] {
        for color in ["always", "never"] {
            let mut command = command(folder.path(), &["--color", color]);
            for argument in call {
                let bytes = argument.replace('\u{1}', "\u{1B}[2J").into_bytes();
                command.arg(OsString::from_vec([&bytes[..], &[0x9B, 0xFF]].concat()));
            }
            let output = command.output().unwrap();
            for stream in [output.stdout, output.stderr] {
                let text = String::from_utf8(stream).unwrap();
                assert_eq!(foreign(&text), None, "{call:?}\n{text:?}");
            }
        }
    }
}
