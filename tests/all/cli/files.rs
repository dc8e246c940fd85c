//! What is written, and what is left alone.

use super::*;

#[test]
fn several_files_in_one_run() {
    let folder = TempDir::new().unwrap();
    let out = run(
        folder.path(),
        &[
            "play",
            "| Am | Dm |",
            "-o",
            "a.mid",
            "-o",
            "a.jsonl",
            "--output",
            "a.TOML",
        ],
    )
    .good();
    insta::assert_snapshot!(out, @"
    wrote a.mid: 4 tracks, count-in of 1 bar, 2 bars, ending of 1 bar, 38 notes, 0:10.7, seed 1
    wrote a.jsonl: the event stream, seed 1
    wrote a.TOML: the document, seed 1
    ");
    assert_eq!(names(folder.path()), ["a.TOML", "a.jsonl", "a.mid"]);
    let midi = std::fs::read(folder.path().join("a.mid")).unwrap();
    assert!(midi.starts_with(b"MThd"));
    let lines = std::fs::read_to_string(folder.path().join("a.jsonl")).unwrap();
    let kinds: Vec<serde_json::Value> = lines
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    assert_eq!(
        (&kinds[0]["kind"], &kinds.last().unwrap()["kind"]),
        (&"header".into(), &"end".into())
    );
    // The document plays the same.
    run(folder.path(), &["play", "a.TOML", "-o", "b.mid"]).good();
    let title = |bytes: &[u8]| bytes.len();
    let again = std::fs::read(folder.path().join("b.mid")).unwrap();
    assert_eq!((title(&again), again), (title(&midi), midi));
}

/// Long work is told in `cli/progress.rs`, by a clock that is made.
#[test]
fn short_work_tells_no_progress_in_a_pipe() {
    let folder = TempDir::new().unwrap();
    for name in ["a.mid", "a.jsonl", "-"] {
        let mut command = command(folder.path(), &["play", "| Am |", "-o", name]);
        let output = command.output().unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.success(), "{err}");
        assert!(!err.contains(['\r', '%', '\u{1B}']), "{err}");
    }
}

#[test]
fn a_click_is_written_and_its_document_reads_back() {
    let folder = TempDir::new().unwrap();
    run(
        folder.path(),
        &[
            "click",
            "92",
            "--meter",
            "7/8 = 2+2+3",
            "--beats",
            "1,3",
            "-o",
            "c.toml",
        ],
    )
    .good();
    let text = run(folder.path(), &["check", "c.toml"]).good();
    assert!(
        text.contains("7/8 = 2+2+3, tempo 92") && text.contains("until stopped, parts click"),
        "{text}"
    );
    run(
        folder.path(),
        &["click", "92", "--bars", "4", "-o", "c.mid"],
    )
    .good();
    let error = run(folder.path(), &["click", "92", "-o", "d.mid"]).refused();
    insta::assert_snapshot!(error, @"
    Error: an endless piece cannot be written to a file.
      Say how much of it: `--for 10min` or `--bars 64`.
    ");
    assert_eq!(names(folder.path()), ["c.mid", "c.toml"]);
}

/// A document of a moved piece says by how much, and sounds as the moved piece does.
#[test]
fn a_moved_piece_is_written_so_that_it_sounds_the_same() {
    let folder = TempDir::new().unwrap();
    write(
        folder.path(),
        "a.toml",
        "key = \"A minor\"\ntempo = 80\n[sections]\nA = \"| i | bVI | E7 | C/G |\"\n",
    );
    for options in [
        &["--key", "D minor"][..],
        &["--key", "G# minor"],
        &["--key", "Eb minor"],
        &["--key", "D# minor"],
        &["--key", "Bb"],
        &["--transpose", "-5"],
        &[
            "--tempo",
            "80%",
            "--times",
            "3",
            "--parts",
            "click,drone",
            "--count-in",
            "2",
        ],
    ] {
        let check = run(folder.path(), &[&["check", "a.toml"], options].concat()).good();
        run(
            folder.path(),
            &[&["play", "a.toml", "-o", "b.toml", "--force"], options].concat(),
        )
        .good();
        assert_eq!(
            run(folder.path(), &["check", "b.toml"]).good(),
            check,
            "{options:?}"
        );
    }
}

#[test]
fn files_that_exist_are_replaced_only_when_asked() {
    let folder = TempDir::new().unwrap();
    write(folder.path(), "a.mid", "old");
    let error = run(
        folder.path(),
        &["play", "| Am |", "-o", "b.mid", "-o", "a.mid"],
    )
    .refused();
    insta::assert_snapshot!(error, @"
    Error: a.mid exists.
      Choose another name, or add `--force` to replace it.
    ");
    // Everything is checked before anything is written.
    assert_eq!(names(folder.path()), ["a.mid"]);
    assert_eq!(std::fs::read(folder.path().join("a.mid")).unwrap(), b"old");
    run(folder.path(), &["play", "| Am |", "-o", "a.mid", "--force"]).good();
    assert!(
        std::fs::read(folder.path().join("a.mid"))
            .unwrap()
            .starts_with(b"MThd")
    );
}

#[test]
fn files_that_cannot_be_written() {
    let folder = TempDir::new().unwrap();
    std::fs::create_dir(folder.path().join("dir.mid")).unwrap();
    let mut all = String::new();
    for arguments in [
        &["-o", "a.ogg"][..],
        &["-o", "a"],
        &["-o", "no/a.mid"],
        &["-o", "dir.mid"],
        &["-o", "dir.mid", "--force"],
        &["-o", "a.mid", "-o", "a.mid"],
        &["-o", "a.mid", "--times", "endless"],
        &["-o", "a.mid", "-o", "a.toml", "--bars", "4"],
        &["-o", "a.toml", "--from", "1"],
    ] {
        all.push_str(&run(folder.path(), &[&["play", "| Am |"], arguments].concat()).refused());
    }
    insta::assert_snapshot!(all, @"
    Error: a file to write ends in .mid .wav .flac .jsonl .toml .musicxml .mxl .pdf .html .svg or .png, found `.ogg`.
      Write `-o a.wav`.
    Error: a file to write ends in .mid .wav .flac .jsonl .toml .musicxml .mxl .pdf .html .svg or .png, found no ending.
      Write `-o a.mid`.
    Error: there is no folder no.
      Make it first, or name a file in another.
    Error: dir.mid exists.
      It is a folder: name a file in it.
    Error: dir.mid exists.
      It is a folder: name a file in it.
    Error: a.mid is named twice.
      Give each file its own name.
    Error: an endless piece cannot be written to a file.
      Say how much of it: `--for 10min` or `--bars 64`.
    Error: a document holds the whole piece, and `--bars` asks for a part of it.
      Leave `--bars` out, or write a.toml by itself.
    Error: a document holds the whole piece, and `--from` asks for a part of it.
      Leave `--from` out, or write a.toml by itself.
    ");
    assert_eq!(names(folder.path()), ["dir.mid"]);
    // An endless piece can be written as a document, a part of it as a file.
    run(
        folder.path(),
        &["play", "| Am |", "--times", "endless", "-o", "e.toml"],
    )
    .good();
    run(
        folder.path(),
        &["play", "e.toml", "--for", "10s", "-o", "e.mid"],
    )
    .good();
}

/// A disk that fills up while a file is written, as a limit on the size of files makes it.
#[cfg(unix)]
#[test]
fn a_failed_write_leaves_the_old_file() {
    let folder = TempDir::new().unwrap();
    for name in ["a.jsonl", "a.mid"] {
        write(folder.path(), name, "old");
        let script = format!(
            "trap '' XFSZ; ulimit -f 1; exec \"$0\" play '| Am | Dm |' --times 400 --force -o {name}"
        );
        let output = Command::new("sh")
            .args(["-c", &script, PROGRAM])
            .current_dir(folder.path())
            .output()
            .unwrap();
        let error = finish(output).refused();
        assert!(error.starts_with("Error: cannot "), "{error}");
        assert_eq!(std::fs::read(folder.path().join(name)).unwrap(), b"old");
    }
    assert_eq!(names(folder.path()), ["a.jsonl", "a.mid"]);
}

/// Runs inside this process, with a person at the terminal who answers.
fn at_terminal(path: &Path, answer: &str) -> (u8, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let arguments = ["fivefold", "play", "| Am |", "-o", path.to_str().unwrap()];
    let status = fivefold::cli::run(
        arguments.iter().map(Into::into),
        &mut fivefold::cli::Streams {
            out: &mut out,
            err: &mut err,
            input: &mut answer.as_bytes(),
            out_is_terminal: true,
            err_is_terminal: true,
            input_is_terminal: true,
        },
    );
    (status, String::from_utf8(err).unwrap())
}

#[test]
fn at_a_terminal_the_program_asks() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("a.mid");
    for answer in ["n\n", "\n", "", "what?\n"] {
        write(folder.path(), "a.mid", "old");
        let (status, err) = at_terminal(&path, answer);
        assert_eq!(status, 2);
        assert!(err.contains("a.mid exists. Replace it? [y/N] "), "{err}");
        assert!(err.contains("Nothing was written"), "{err}");
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
    }
    for answer in ["y\n", "Yes\n", " y \r\n"] {
        write(folder.path(), "a.mid", "old");
        assert_eq!(at_terminal(&path, answer).0, 0);
        assert!(std::fs::read(&path).unwrap().starts_with(b"MThd"));
    }
}

/// Waits until a program has opened a file, or has ended.
#[cfg(unix)]
fn until_it_writes(child: &mut std::process::Child, folder: &Path) {
    while names(folder).is_empty() && child.try_wait().unwrap().is_none() {
        std::thread::yield_now();
    }
}

/// Lets these signals end the processes that are started from now on. A shell has what it runs in the background ignore
/// some, which is handed on; what has a handler is not.
#[cfg(unix)]
fn signals_end(signals: &[rustix::process::Signal]) {
    for signal in signals {
        let always = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(true));
        signal_hook::flag::register_conditional_default(signal.as_raw(), always).unwrap();
    }
}

/// A signal at any moment ends the process and leaves no unfinished file.
#[cfg(unix)]
#[test]
fn a_signal_leaves_no_unfinished_file() {
    use rustix::process::{Pid, Signal, kill_process};
    use std::os::unix::process::ExitStatusExt;

    const LONG: [&str; 2] = ["| Am | Dm |", "--times=40000"];
    const LOOP: [&str; 2] = ["|: Am | Dm :|x200", "--loop"];
    let signals = [Signal::INT, Signal::TERM, Signal::HUP];
    signals_end(&signals);
    for signal in signals {
        // A loop is spooled before anything of it is in the file.
        for (file, piece, moment) in [
            ("a.mid", LONG, None),
            ("a.flac", LONG, None),
            ("a.wav", LOOP, None),
        ]
        .into_iter()
        .chain((0..12).map(|ms| ("a.mid", LONG, Some(ms))))
        .chain((0..12).map(|step| ("a.wav", LOOP, Some(8 * step))))
        {
            let folder = TempDir::new().unwrap();
            let mut child = command(
                folder.path(),
                &[&["play"][..], &piece, &["-o", file]].concat(),
            )
            .env("TMPDIR", folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
            match moment {
                Some(ms) => std::thread::sleep(std::time::Duration::from_millis(ms)),
                // While it writes, unless it has finished by then.
                None => until_it_writes(&mut child, folder.path()),
            }
            if child.try_wait().unwrap().is_none() {
                kill_process(Pid::from_child(&child), signal).unwrap();
            }
            let status = child.wait().unwrap();
            let left = names(folder.path());
            assert!(left.iter().all(|name| name == file), "{left:?}");
            if !status.success() {
                assert_eq!(status.signal(), Some(signal.as_raw()), "{status:?}");
            }
        }
    }
}

/// A signal that was ignored at the start, as by `nohup`, stays ignored.
#[cfg(target_os = "linux")]
#[test]
fn a_signal_that_is_ignored_stays_ignored() {
    let folder = TempDir::new().unwrap();
    let script = "trap '' HUP; exec \"$0\" play '| Am | Dm |' --times 4000 -o a.mid";
    let mut child = Command::new("sh")
        .args(["-c", script, PROGRAM])
        .current_dir(folder.path())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    until_it_writes(&mut child, folder.path());
    if child.try_wait().unwrap().is_none() {
        let pid = rustix::process::Pid::from_child(&child);
        rustix::process::kill_process(pid, rustix::process::Signal::HUP).unwrap();
    }
    assert!(child.wait().unwrap().success());
    assert_eq!(names(folder.path()), ["a.mid"]);
}

#[cfg(unix)]
#[test]
fn files_have_the_permissions_of_the_umask_or_of_those_they_replace() {
    use std::os::unix::fs::PermissionsExt;
    let folder = TempDir::new().unwrap();
    let mode = |name: &str| {
        let found = std::fs::metadata(folder.path().join(name)).unwrap();
        found.permissions().mode() & 0o777
    };
    let written = |umask: &str, name: &str| {
        let script = format!("umask {umask}; exec \"$0\" play '| Am |' --force -o {name}");
        let mut command = Command::new("sh");
        command.args(["-c", &script, PROGRAM]);
        finish(command.current_dir(folder.path()).output().unwrap()).good();
        mode(name)
    };
    assert_eq!(written("022", "a.mid"), 0o644);
    assert_eq!(written("077", "b.mid"), 0o600);
    assert_eq!(written("002", "c.jsonl"), 0o664);
    assert_eq!(written("077", "a.mid"), 0o644);
}

#[cfg(unix)]
#[test]
fn links_are_followed_and_what_is_no_file_is_refused() {
    use std::os::unix::fs::symlink;
    let folder = TempDir::new().unwrap();
    let path = |name: &str| folder.path().join(name);
    std::fs::create_dir(path("far")).unwrap();
    write(folder.path(), "far/real.mid", "old");
    symlink("far/real.mid", path("link.mid")).unwrap();
    symlink("link.mid", path("again.mid")).unwrap();
    symlink("far/new.mid", path("empty.mid")).unwrap();
    let play = |options: &[&str]| run(folder.path(), &[&["play", "| Am |"], options].concat());
    for name in ["link.mid", "again.mid", "empty.mid"] {
        play(&["--force", "-o", name]).good();
        assert!(path(name).is_symlink(), "{name}");
        assert!(std::fs::read(path(name)).unwrap().starts_with(b"MThd"));
    }
    assert_eq!(names(&path("far")), ["new.mid", "real.mid"]);
    symlink("loop.mid", path("loop.mid")).unwrap();
    symlink("/dev/null", path("null.mid")).unwrap();
    let made = Command::new("mkfifo").arg(path("pipe.mid")).status();
    assert!(made.unwrap().success());
    let errors = [
        play(&["--force", "-o", "null.mid"]).refused(),
        play(&["-o", "pipe.mid"]).refused(),
        play(&["-o", "loop.mid"]).refused(),
        play(&["--force", "-o", "link.mid", "-o", "far/real.mid"]).refused(),
    ];
    insta::assert_snapshot!(errors.concat(), @"
    Error: null.mid is a device, not a file.
      Name a file: it is written whole, and then takes its place.
    Error: pipe.mid is a pipe, not a file.
      Name a file: it is written whole, and then takes its place.
    Error: loop.mid is a link that leads in a circle, not a file.
      Name a file: it is written whole, and then takes its place.
    Error: far/real.mid is named twice.
      Give each file its own name.
    ");
}
