//! The README's commands run as written and print what it shows.

use std::path::Path;
use std::process::Command;

use crate::root;

/// Splits a command line as a shell does: white space, single and double quotes.
pub(crate) fn words(line: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut word: Option<String> = None;
    let mut quote = None;
    for c in line.chars() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (Some(_), c) => word.get_or_insert_default().push(c),
            (None, '\'' | '"') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, c) if c.is_whitespace() => found.extend(word.take()),
            (None, c) => word.get_or_insert_default().push(c),
        }
    }
    found.extend(word);
    found
}

/// The commands of the README's console blocks, each with the lines shown behind it.
fn commands() -> Vec<(String, String)> {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let mut found: Vec<(String, String)> = Vec::new();
    let mut inside = false;
    for line in text.lines() {
        if line.starts_with("```") {
            inside = line == "```console";
        } else if inside {
            match line.strip_prefix("$ ") {
                Some(command) => found.push((command.to_owned(), String::new())),
                None => {
                    let shown = &mut found.last_mut().unwrap().1;
                    shown.push_str(line);
                    shown.push('\n');
                }
            }
        }
    }
    found
}

/// A folder with the ready charts in it.
fn workplace() -> tempfile::TempDir {
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
    let folder = tempfile::tempdir().unwrap();
    copy(
        &root().join("progressions"),
        &folder.path().join("progressions"),
    );
    folder
}

#[test]
fn the_first_two_commands_are_the_promised_ones() {
    let commands = commands();
    assert!(commands[0].0.starts_with("cargo run --release -- "));
    assert_eq!(commands[1].0, "cargo test");
}

#[test]
fn every_command_of_the_readme_prints_what_it_shows() {
    let folder = workplace();
    let mut ran = 0;
    for (command, shown) in commands() {
        let rest = command
            .strip_prefix("cargo run --release -- ")
            .or(command.strip_prefix("fivefold "));
        let Some(rest) = rest else { continue };
        let output = Command::new(env!("CARGO_BIN_EXE_fivefold"))
            .args(words(rest))
            .current_dir(folder.path())
            .output()
            .unwrap();
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        assert!(
            output.status.success(),
            "{command}: {}",
            text(&output.stderr)
        );
        // A warning comes before the result.
        let printed = crate::without_progress(&text(&output.stderr)) + &text(&output.stdout);
        assert_eq!(printed, shown, "{command}");
        ran += 1;
    }
    assert!(ran >= 6, "{ran}");
}

#[test]
fn the_document_of_the_readme_is_a_good_one() {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let document = text
        .split("```toml\n")
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap();
    let (_, reading) = fivefold::chart::Piece::read(document).unwrap();
    assert!(reading.warnings.is_empty());
}

#[test]
fn every_command_has_its_place_in_the_readme() {
    let help = Command::new(env!("CARGO_BIN_EXE_fivefold"))
        .arg("--help")
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let list = help
        .split("Commands:")
        .nth(1)
        .unwrap()
        .split("\n\n")
        .next()
        .unwrap();
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    let mut seen = 0;
    for line in list
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("    "))
    {
        let name = line.split_whitespace().next().unwrap();
        assert!(
            readme.contains(&format!("`{name} ")) || readme.contains(&format!("`{name}`")),
            "{name}"
        );
        seen += 1;
    }
    assert!(seen >= 7, "{list}");
}
