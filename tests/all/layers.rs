//! The rooms of the house: each imports only from rooms above it, and no files of a room need one another.

mod paths;
mod systems;

use std::path::Path;

use self::paths::Tree;
use crate::root;

/// Rooms in order, the lowest first.
const ROOMS: [&str; 20] = [
    "diagnostic",
    "theory",
    "time",
    "event",
    "neck",
    "groove",
    "chart",
    "generate",
    "drill",
    "arrange",
    "practice",
    "midi",
    "notation",
    "live",
    "sound",
    "log",
    "view",
    "picture",
    "sheet",
    "cli",
];

/// Rooms that must know nothing of music: they see events and time.
const DEAF: [&str; 3] = ["midi", "live", "sound"];

/// Known import cycles that stay for now: the folder and its files.
const CIRCLES: [(&str, &[&str]); 0] = [];

fn rust_files(folder: &Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// The files of `src`: the path from there, parted by `/`, and the text.
fn source_files() -> Vec<(String, String)> {
    let source = root().join("src");
    let mut files = Vec::new();
    rust_files(&source, &mut files);
    assert!(files.len() > 40, "{}", files.len());
    let named = files.iter().map(|file| {
        let path = file.strip_prefix(&source).unwrap();
        let parts: Vec<_> = path.iter().map(|part| part.to_str().unwrap()).collect();
        (parts.join("/"), std::fs::read_to_string(file).unwrap())
    });
    named.collect()
}

/// All modules of `src`.
fn whole_tree() -> Tree {
    Tree::new(&source_files())
}

#[test]
fn every_room_imports_only_from_rooms_before_it() {
    let rank = |room: &str| ROOMS.iter().position(|r| *r == room);
    let mut seen = 0;
    for (from, to) in whole_tree().pairs() {
        let (Some(room), Some(other)) = (from.first(), to.first()) else {
            continue;
        };
        let file = from.join("/");
        let own = rank(room).unwrap_or_else(|| panic!("{file} is in no room"));
        if room == other {
            continue;
        }
        let theirs = rank(other).unwrap_or_else(|| panic!("{other} is no room"));
        seen += 1;
        assert!(theirs < own, "{file} imports from {other}");
        if DEAF.contains(&room.as_str()) {
            let allowed = ["diagnostic", "time", "event", "midi", "live"].contains(&other.as_str());
            assert!(allowed, "{file} imports from {other}");
        }
    }
    assert!(seen > 60, "{seen}");
}

#[test]
fn no_files_of_a_room_need_one_another() {
    let mut circles = whole_tree().circles();
    circles.retain(|circle| {
        !CIRCLES
            .iter()
            .any(|(folder, files)| *folder == circle.folder && circle.files == *files)
    });
    assert!(circles.is_empty(), "{circles:#?}");
}

#[test]
fn theory_to_practice_do_no_input_or_output() {
    let mut files = Vec::new();
    for room in [
        "theory", "time", "event", "neck", "groove", "chart", "generate", "drill", "arrange",
        "practice",
    ] {
        rust_files(&root().join("src").join(room), &mut files);
    }
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        for word in [
            "std::fs",
            "std::io",
            "std::net",
            "std::env",
            "std::process",
            "println!",
            "eprintln!",
        ] {
            assert!(!text.contains(word), "{} has {word}", file.display());
        }
    }
}

/// The files that the README's commands write: the words after `-o`.
fn written_by_the_readme() -> Vec<String> {
    let text = std::fs::read_to_string(root().join("README.md")).unwrap();
    let commands = text.lines().filter(|line| line.starts_with("$ "));
    commands
        .flat_map(|line| line.split(" -o ").skip(1))
        .filter_map(|rest| rest.split_whitespace().next())
        .map(|name| name.trim_matches('\'').to_owned())
        .collect()
}

/// The top level as git tracks it. In a folder that is no checkout, such as an unpacked archive, all that lies there
/// but what the README's commands write.
fn top_level() -> Vec<String> {
    let listed = std::process::Command::new("git")
        .args(["ls-files", "-z"])
        .current_dir(root())
        .output();
    if let Ok(listed) = listed
        && listed.status.success()
        && !listed.stdout.is_empty()
    {
        let listed = String::from_utf8(listed.stdout).unwrap();
        let mut names: Vec<String> = listed
            .split_terminator('\0')
            .map(|path| path.split('/').next().unwrap_or(path).to_owned())
            .collect();
        names.dedup();
        return names;
    }
    let written = written_by_the_readme();
    std::fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !written.contains(name))
        .collect()
}

#[test]
fn the_top_level_holds_what_it_should() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "progressions",
        "tests",
        "examples",
        "target",
    ];
    let names = top_level();
    assert!(names.iter().any(|name| name == "src"), "{names:?}");
    for name in names {
        assert!(
            name.starts_with('.') || allowed.contains(&name.as_str()),
            "{name}"
        );
    }
}

#[test]
fn git_ignores_what_the_readme_writes() {
    let written = written_by_the_readme();
    assert!(written.contains(&"low-tide.mid".to_owned()), "{written:?}");
    let ignored = std::fs::read_to_string(root().join(".gitignore")).unwrap();
    for name in written {
        let ending = name.rsplit('.').next().unwrap_or("");
        let lines = [format!("/*.{ending}"), format!("/{name}")];
        assert!(
            ignored.lines().any(|l| lines.iter().any(|m| m == l)),
            "{name}"
        );
    }
}

#[test]
fn no_file_of_code_is_longer_than_eight_hundred_lines() {
    let mut files = Vec::new();
    rust_files(&root().join("src"), &mut files);
    for file in files.iter().filter(|f| !f.ends_with("tests.rs")) {
        let text = std::fs::read_to_string(file).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap();
        let lines = code
            .lines()
            .filter(|l| !l.trim().is_empty() && !l.trim_start().starts_with("//"))
            .count();
        assert!(lines <= 800, "{}: {lines}", file.display());
    }
}

/// What a `Cargo.toml` says of release builds.
fn release_profile(path: &str) -> toml::Table {
    let text = std::fs::read_to_string(crate::root().join(path)).unwrap();
    let manifest: toml::Table = text.parse().unwrap();
    manifest["profile"]["release"].as_table().unwrap().clone()
}

#[test]
fn fuzz_targets_use_the_release_build_of_what_they_depend_on() {
    let [mut own, mut fuzzed] = ["Cargo.toml", "tests/fuzz/Cargo.toml"].map(release_profile);
    let library = |profile: &mut toml::Table| {
        let packages = profile["package"].as_table_mut().unwrap();
        packages.remove("fivefold").unwrap()
    };
    let (built, looked_through) = (library(&mut own), library(&mut fuzzed));
    assert_eq!(built["opt-level"], looked_through["opt-level"]);
    assert!(looked_through["overflow-checks"].as_bool().unwrap());
    assert!(own["package"].as_table().unwrap().len() > 20);
    assert_eq!(own, fuzzed);
}
