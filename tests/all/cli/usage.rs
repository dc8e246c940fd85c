//! Help, examples, color, completions, ports and pipes.

use super::*;

/// Splits a line of an example as a shell would, as far as the examples go: words and single quotes.
fn words(line: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (i, part) in line.split('\'').enumerate() {
        if i % 2 == 1 {
            found.push(part.to_owned());
        } else {
            found.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    found
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The commands that `--help` lists.
fn commands() -> Vec<String> {
    let help = fresh(&["--help"]).good();
    let list = help.split("Commands:\n").nth(1).unwrap();
    let names: Vec<String> = list
        .lines()
        .take_while(|line| !line.is_empty())
        .map(|line| line.split_whitespace().next().unwrap().to_owned())
        .collect();
    assert!(names.len() >= 7, "{names:?}");
    names
}

/// Every example in the help runs as it is written; those that play are written to a file instead.
#[test]
fn examples_run() {
    let folder = TempDir::new().unwrap();
    copy(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("progressions"),
        &folder.path().join("progressions"),
    );
    let mut helps = vec![fresh(&["--help"]).good()];
    for name in commands().into_iter().filter(|name| name != "help") {
        let help = fresh(&[&name, "--help"]).good();
        assert_eq!(fresh(&[&name, "-h"]).status, 0);
        assert!(
            help.contains("Examples:\n  fivefold "),
            "{name} shows no example"
        );
        helps.push(help);
    }
    let log = folder.path().join("log.sqlite");
    crate::json::filled_log(log.to_str().unwrap());
    let routine = "[[items]]\nrest = \"stretch\"\nminutes = 1\n";
    std::fs::write(folder.path().join("tuesday.toml"), routine).unwrap();
    // What others wrote.
    let song = ["play", "| Am | G |", "-o", "song.mid", "-o", "song.mxl"];
    run(folder.path(), &song).good();
    let mut ran = 0;
    for line in helps.iter().flat_map(|help| help.lines()) {
        let Some(example) = line.strip_prefix("  fivefold ") else {
            continue;
        };
        let mut arguments = words(example);
        if let Some(at) = arguments.iter().position(|a| a == ">") {
            arguments.truncate(at);
        }
        for option in ["--port", "--pedals", "--follow", "--strokes"] {
            if let Some(at) = arguments.iter().position(|a| a == option) {
                arguments.drain(at..at + 2);
            }
        }
        // No test needs a device.
        arguments.retain(|a| {
            !a.starts_with("--sound=") && !["--sound", "--clock"].contains(&a.as_str())
        });
        let shown = arguments.iter().any(|a| a == "--show");
        let plays = ["play", "click", "jam"].contains(&arguments[0].as_str()) && !shown;
        if plays && !arguments.iter().any(|a| a == "-o") {
            let part = arguments.iter().any(|a| a == "--for" || a == "--bars");
            let name = if part { "example.mid" } else { "example.toml" };
            arguments.extend(["-o".to_owned(), name.to_owned(), "--force".to_owned()]);
        } else if plays {
            arguments.push("--force".to_owned());
        }
        // A drill and a routine are shown; nobody answers here.
        if ["drill", "practice"].contains(&arguments[0].as_str()) {
            if let Some(at) = arguments.iter().position(|a| a == "--to") {
                arguments.drain(at..at + 2);
            }
            let written = arguments.iter().any(|a| a == "-o");
            let more = ["--show", "--no-log"];
            let more = if written { &more[1..] } else { &more };
            arguments.extend(more.iter().map(|a| (*a).to_owned()));
        }
        // Its takes are made below.
        if arguments[0] == "log" {
            arguments.extend(["--log".to_owned(), log.display().to_string()]);
        }
        // These need a device, or somebody who presses a pedal.
        if ["ports", "pedals"].contains(&arguments[0].as_str()) {
            continue;
        }
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let ran_one = run(folder.path(), &arguments);
        // A remark says that a ready chart is played; drills tell what is to be held.
        let told = example.starts_with("drill ");
        let lines = ran_one.err.split_inclusive('\n');
        let said: String = lines
            .filter(|line| !line.starts_with("the ready chart ") && !told)
            .collect();
        assert_eq!((ran_one.status, said.as_str()), (0, ""), "{example}");
        assert!(!ran_one.out.is_empty(), "{example}");
        ran += 1;
    }
    assert!(ran >= 15, "{ran}");
}

#[test]
fn help_and_version_are_results_and_misuse_is_an_error() {
    assert!(fresh(&["--version"]).good().starts_with("fivefold "));
    assert!(fresh(&["--help"]).good().contains("turn the volume down"));
    for wrong in [
        &[][..],
        &["nope"],
        &["check"],
        &["check", "--nope"],
        &["chord"],
        &["completions", "sh"],
        &["check", "|A|", "|B|"],
    ] {
        let error = fresh(wrong).refused();
        assert!(
            error.contains("Usage") || error.contains("`fivefold "),
            "{wrong:?} {error}"
        );
    }
    assert!(fresh(&["pley", "| Am |"]).refused().contains("play"));
    assert!(
        fresh(&["check", "| Am |", "--tmepo", "80"])
            .refused()
            .contains("--tempo")
    );
}

#[test]
fn completions_for_every_shell() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = fresh(&["completions", shell]).good();
        for word in ["fivefold", "check", "transpose"] {
            assert!(script.contains(word), "{shell} {word}");
        }
    }
}

#[test]
fn color_is_used_when_asked_for() {
    let colored = |arguments: &[&str]| {
        fresh(&[&["check", "| H |"], arguments].concat())
            .refused()
            .contains('\u{1B}')
    };
    assert!(!colored(&[]));
    assert!(colored(&["--color", "always"]));
    assert!(colored(&["--color=always"]));
    assert!(!colored(&["--color", "never"]));
    assert!(!colored(&["--color", "auto"]));
    let error = fresh(&["--color", "always", "nope"]).refused();
    assert!(error.contains('\u{1B}'));
    let error = fresh(&["check", "none.toml", "--color", "always"]).refused();
    assert!(error.contains('\u{1B}'));
    // JSON has no color.
    assert!(!colored(&["--color", "always", "--json"]));
}

/// Runs inside this process with streams that say they are terminals.
fn with_terminals(
    arguments: &[&str],
    out_is_terminal: bool,
    err_is_terminal: bool,
) -> (String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    fivefold::cli::run(
        std::iter::once("fivefold")
            .chain(arguments.iter().copied())
            .map(Into::into),
        &mut fivefold::cli::Streams {
            out: &mut out,
            err: &mut err,
            input: &mut std::io::empty(),
            out_is_terminal,
            err_is_terminal,
            input_is_terminal: false,
        },
    );
    (
        String::from_utf8(out).unwrap(),
        String::from_utf8(err).unwrap(),
    )
}

/// Help that goes into a pipe once had the color of the terminal that errors go to.
#[test]
fn help_into_a_pipe_has_no_color() {
    let (out, _) = with_terminals(&["--help"], false, true);
    assert!(out.contains("Usage") && !out.contains('\u{1B}'));
    let (_, err) = with_terminals(&["check", "| H |", "--color", "never"], true, true);
    assert!(!err.contains('\u{1B}'));
}

/// No port has this name, with or without ports, and the advice names another way.
#[test]
fn without_a_port_the_way_out_is_a_file() {
    let error = fresh(&["play", "| Am |", "--port", "no port is called so"]).refused();
    assert!(
        error.starts_with("Error: ") && error.contains("-o piece.mid"),
        "{error}"
    );
    let errors = fresh(&["play", "| Am |", "--port", "no port is called so", "--json"]).errors();
    assert!(errors[0]["code"].as_str().unwrap().starts_with("port-"));
    let ran = fresh(&["ports"]);
    match ran.status {
        0 => assert!(!ran.out.is_empty()),
        _ => assert!(ran.refused().contains("-o piece.mid")),
    }
}

/// An input that is missing is told whether or not there is a device to play to, and before one is opened.
#[test]
fn a_missing_input_is_told_first() {
    for option in ["--follow", "--strokes", "--pedals"] {
        let call = ["play", "| Am |", option, "no such input", "--json"];
        let error = &fresh(&call).errors()[0];
        assert!(
            error["message"].as_str().unwrap().contains("MIDI input"),
            "{option}: {error}"
        );
    }
}

/// A reader that closes the pipe is no failure.
#[cfg(unix)]
#[test]
fn a_closed_pipe_ends_quietly() {
    use std::io::Read;
    for arguments in [
        &["check", "|: Am | Dm :|x999", "--json"][..],
        &["check", "|: Am | Dm :|x999"],
        &["chord", "Am7"],
        &["scale", "A minor pentatonic", "--json"],
        &["completions", "zsh"],
        &["--help"],
    ] {
        let mut child = command(&std::env::temp_dir(), arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut error = String::new();
        child
            .stderr
            .take()
            .unwrap()
            .read_to_string(&mut error)
            .unwrap();
        let status = child.wait().unwrap();
        assert_eq!(
            (status.code(), error.as_str()),
            (Some(0), ""),
            "{arguments:?}"
        );
    }
}

/// A closed error stream does not hold the result back.
#[cfg(unix)]
#[test]
fn a_closed_error_stream_keeps_no_result_back() {
    let mut child = command(
        &std::env::temp_dir(),
        &["check", "| i | III |", "--key", "A minor"],
    )
    .stdout(Stdio::piped())
    .stderr(Stdio::piped())
    .spawn()
    .unwrap();
    drop(child.stderr.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(
        String::from_utf8(output.stdout)
            .unwrap()
            .contains("| Am   | C#   |")
    );
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_a_failure() {
    let full = std::fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = command(&std::env::temp_dir(), &["check", "| Am |"])
        .stdout(full)
        .output()
        .unwrap();
    let error = finish(output).refused();
    assert!(
        error.starts_with("Error: cannot write the results: "),
        "{error}"
    );
}
