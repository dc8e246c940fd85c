//! The pedal file: listed, changed, refused, and used.

use super::*;

const FILE: &str = "# mine\n[pedals]\n\"control 64 on channel 1\" = \"pause or go on\"\n\"note 36 on channel 10\" = \"tap\"\n\
                    \"note 38 on channel 10\" = \"tap\"\n";

/// A folder with a pedal file in it.
fn folder(text: &str) -> TempDir {
    let folder = TempDir::new().unwrap();
    write(folder.path(), "pedals.toml", text);
    folder
}

#[test]
fn what_is_bound_is_listed_with_its_place() {
    let folder = folder(FILE);
    let listed = run(folder.path(), &["pedals", "--file", "pedals.toml"]).good();
    insta::assert_snapshot!(listed, @"
    control 64 on channel 1  pause or go on
    note 36 on channel 10    tap
    note 38 on channel 10    tap
    kept in pedals.toml
    ");
    let listed = run(
        folder.path(),
        &["pedals", "--file", "pedals.toml", "--json"],
    )
    .good();
    let listed: serde_json::Value = serde_json::from_str(&listed).unwrap();
    assert_eq!(listed["pedals"][1]["message"], "note 36 on channel 10");
    assert_eq!(listed["pedals"][1]["command"], "tap");
    assert_eq!(listed["file"], "pedals.toml");
    let none = run(folder.path(), &["pedals", "--file", "none.toml"]).good();
    assert_eq!(none, "no pedal is bound yet\nkept in none.toml\n");
}

#[cfg(not(windows))]
#[test]
fn the_usual_place_is_in_the_folder_for_settings() {
    let folder = TempDir::new().unwrap();
    std::fs::create_dir(folder.path().join("fivefold")).unwrap();
    write(&folder.path().join("fivefold"), "pedals.toml", FILE);
    let settings = |folder: &Path, arguments: &[&str]| {
        let mut command = command(folder, arguments);
        finish(command.env("XDG_CONFIG_HOME", folder).output().unwrap())
    };
    let listed = settings(folder.path(), &["pedals"]).good();
    let path = folder.path().join("fivefold/pedals.toml");
    assert!(listed.ends_with(&format!("kept in {}\n", path.display())));
    settings(folder.path(), &["pedals", "forget", "tap"]).good();
    let kept = std::fs::read_to_string(path).unwrap();
    assert!(kept.contains("pause") && !kept.contains("tap"));
}

#[test]
fn a_binding_is_forgotten_by_its_message_or_its_command() {
    let folder = folder(FILE);
    let forget = |what| {
        let arguments = ["pedals", "forget", what, "--file", "pedals.toml"];
        run(folder.path(), &arguments)
    };
    let said = forget("control  64 on channel 1").good();
    assert_eq!(said, "control 64 on channel 1: forgotten\n");
    let said = forget("tap").good();
    assert_eq!(
        said,
        "note 36 on channel 10: forgotten\nnote 38 on channel 10: forgotten\n"
    );
    let kept = std::fs::read_to_string(folder.path().join("pedals.toml")).unwrap();
    assert_eq!(kept, "# mine\n[pedals]\n");
    let twice = forget("tap").refused();
    assert!(twice.contains("`tap`"), "{twice}");
    assert_eq!(names(folder.path()), ["pedals.toml"]);
}

#[test]
fn a_file_with_mistakes_is_refused_with_all_of_them_and_stays() {
    let text = "[pedals]\n\"contol 64 on channel 1\" = \"tap\"\nstart = \"dance\"\n";
    let folder = folder(text);
    for arguments in [
        &["pedals"][..],
        &["pedals", "forget", "tap"],
        &["pedals", "learn", "tap", "--from", "no port is called so"],
    ] {
        let arguments = [arguments, &["--file", "pedals.toml", "--json"]].concat();
        let errors = run(folder.path(), &arguments).errors();
        let codes: Vec<&str> = errors.iter().map(|e| e["code"].as_str().unwrap()).collect();
        assert_eq!(codes, ["pedals-message", "pedals-command"]);
        assert_eq!(errors[1]["line"], 3);
        assert_eq!(errors[1]["file"], "pedals.toml");
    }
    let kept = std::fs::read_to_string(folder.path().join("pedals.toml")).unwrap();
    assert_eq!(kept, text);
}

#[test]
fn what_cannot_be_learned_is_said_before_anything_is_pressed() {
    let folder = TempDir::new().unwrap();
    let learn = |command, port| {
        let arguments = [
            "pedals", "learn", command, "--from", port, "--file", "new.toml",
        ];
        run(folder.path(), &arguments).refused()
    };
    let said = learn("dance", "1");
    assert!(
        said.contains("`dance` is no command") && said.contains("dance\n    ~~~~~"),
        "{said}"
    );
    let said = learn("tap", "no port is called so");
    assert!(
        said.starts_with("Error: ") && said.contains("input"),
        "{said}"
    );
    assert!(names(folder.path()).is_empty());
}

#[test]
fn playing_with_pedals_needs_some_that_are_bound() {
    let folder = folder("[pedals]\n");
    let play = |more: &[&str]| {
        let arguments = [&["play", "| Am |"], more].concat();
        run(folder.path(), &arguments).refused()
    };
    assert!(play(&["--pedals", "1", "-o", "x.mid"]).contains("--output"));
    assert!(play(&["--pedal-file", "pedals.toml"]).contains("--pedals"));
    let broken = play(&["--pedals", "1", "--pedal-file", "pedals.toml"]);
    assert!(!broken.is_empty());
}
