//! The program as it is called: what it answers, on which stream, and with which exit status.

mod drills;
mod escapes;
mod exact;
mod files;
mod goals;
mod input;
mod jam;
mod list;
mod mistakes;
mod options;
mod pedals;
mod pictures;
mod scores;
mod sound;
mod spans;
mod usage;
mod width;

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use tempfile::TempDir;

use crate::without_progress;

const PROGRAM: &str = env!("CARGO_BIN_EXE_fivefold");

/// The output and the status of a run.
#[derive(Debug)]
struct Ran {
    status: i32,
    out: String,
    err: String,
}

impl Ran {
    /// Status 0 and nothing on standard error; gives standard output.
    fn good(self) -> String {
        assert_eq!((self.status, self.err.as_str()), (0, ""), "{self:?}");
        self.out
    }

    /// Status 2 and nothing on standard output; gives standard error.
    fn refused(self) -> String {
        assert_eq!((self.status, self.out.as_str()), (2, ""), "{self:?}");
        self.err
    }

    /// The errors as JSON, with the fields there are.
    fn errors(self) -> Vec<serde_json::Value> {
        let fields = [
            "code", "column", "file", "help", "line", "message", "severity", "span",
        ];
        let errors: Vec<serde_json::Value> = self
            .refused()
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect();
        for error in &errors {
            let mut found: Vec<&String> = error.as_object().unwrap().keys().collect();
            found.sort();
            assert_eq!(found, fields);
        }
        assert!(!errors.is_empty());
        errors
    }
}

fn command(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .args(arguments)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .env("TERM", "xterm")
        // The log of whoever runs the tests is none of theirs.
        .env("XDG_DATA_HOME", folder)
        .stdin(Stdio::null());
    command
}

fn run(folder: &Path, arguments: &[&str]) -> Ran {
    finish(command(folder, arguments).output().unwrap())
}

fn finish(output: std::process::Output) -> Ran {
    Ran {
        status: output.status.code().expect("ended by no signal"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: without_progress(&String::from_utf8(output.stderr).unwrap()),
    }
}

/// Runs in a fresh folder.
fn fresh(arguments: &[&str]) -> Ran {
    run(TempDir::new().unwrap().path(), arguments)
}

fn with_input(arguments: &[&str], input: &[u8]) -> Ran {
    let folder = TempDir::new().unwrap();
    let mut child = command(folder.path(), arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input).unwrap();
    finish(child.wait_with_output().unwrap())
}

fn write(folder: &Path, name: &str, bytes: impl AsRef<[u8]>) {
    std::fs::write(folder.join(name), bytes).unwrap();
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
