//! Everything that is tested from outside the crate, a module a topic.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test that unwraps says where it failed; its numbers are small"
)]

mod blues;
mod changes;
mod charts;
mod cli;
mod documents;
mod drawn;
mod drills;
mod endings;
mod golden;
mod grooves;
mod jam;
mod jams;
mod json;
mod keys;
mod layers;
mod lines;
mod live;
mod log_kills;
mod loops;
mod neck;
mod pictures;
mod readme;
mod sets;
mod sheet;
mod sinks;
mod sound;
mod tempo;
mod theory;

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use fivefold::cli::{Streams, run};

/// The project's folder.
fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Standard error without lines of progress: whether there are any depends on the speed of the machine.
fn without_progress(err: &str) -> String {
    let is_progress = |line: &&str| {
        let going = line.contains(" %, about ") || line.contains(" % of all, about ");
        going && line.ends_with(" left\n") || line.contains(": 100 %, took ")
    };
    let lines = err.split_inclusive('\n');
    lines.filter(|line| !is_progress(line)).collect()
}

/// The ready charts, in order of their paths.
fn ready_charts() -> Vec<PathBuf> {
    let mut found = Vec::new();
    for group in std::fs::read_dir(root().join("progressions")).unwrap() {
        for file in std::fs::read_dir(group.unwrap().path()).unwrap() {
            found.push(file.unwrap().path());
        }
    }
    found.sort();
    assert!(found.len() >= 12, "{}", found.len());
    found
}

/// The rows of a reference table: lines that are no comment, split at tabs.
fn reference(name: &str) -> Vec<Vec<String>> {
    let path = root().join("tests/reference").join(name);
    let text = std::fs::read_to_string(&path).unwrap();
    text.lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .map(|line| line.split('\t').map(str::to_owned).collect())
        .collect()
}

/// Runs the program: what it writes, what it complains of, its exit status.
fn in_process(arguments: &[&str]) -> (String, String, u8) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let all = std::iter::once("fivefold").chain(arguments.iter().copied());
    let status = run(
        all.map(OsString::from),
        &mut Streams::piped(&mut out, &mut err, &mut std::io::empty()),
    );
    (
        String::from_utf8(out).unwrap(),
        String::from_utf8(err).unwrap(),
        status,
    )
}
