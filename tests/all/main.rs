//! Everything that is tested from outside the crate, a module a topic.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test that unwraps says where it failed; its numbers are small"
)]

mod charts;
mod cli;
mod documents;
mod golden;
mod jam;
mod jams;
mod json;
mod keys;
mod layers;
mod live;
mod neck;
mod readme;
mod sets;
mod sinks;
mod sound;
mod tempo;
mod theory;

use std::path::{Path, PathBuf};

/// The project's folder.
fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
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
