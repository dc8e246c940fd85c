//! Pictures as files: those of the README, and what is refused.

use super::*;
use crate::json::log_of;

#[test]
fn the_pictures_of_the_readme_are_what_the_program_draws() {
    let readme = std::fs::read_to_string(crate::root().join("README.md")).unwrap();
    for (name, arguments) in [
        ("shapes", &["neck", "A minor pentatonic"][..]),
        (
            "boxes",
            &["neck", "C", "Am", "F", "G7", "--show", "fingers"],
        ),
        ("lesson", &["play", "low-tide", "--numerals"]),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let file = format!("{name}.svg");
        let ran = run(folder.path(), &[arguments, &["-o", &file]].concat());
        assert!(
            ran.status == 0 && ran.out.starts_with(&format!("wrote {file}")),
            "{ran:?}"
        );
        let drawn = std::fs::read_to_string(folder.path().join(&file)).unwrap();
        let kept = crate::root().join("examples").join(&file);
        if std::env::var_os("FIVEFOLD_BLESS").is_some() {
            std::fs::write(&kept, &drawn).unwrap();
        }
        assert!(
            std::fs::read_to_string(kept).unwrap() == drawn,
            "{file} is another"
        );
        assert!(readme.contains(&format!("(examples/{file})")));
    }
}

/// The same bytes on every machine: the crate that writes them puts in no time and no chance.
#[test]
fn the_sheet_of_the_readme_is_what_the_program_writes() {
    let folder = tempfile::tempdir().unwrap();
    let ran = run(
        folder.path(),
        &["play", "low-tide", "--numerals", "-o", "lesson.pdf"],
    );
    assert_eq!(
        (ran.status, ran.out.as_str()),
        (0, "wrote lesson.pdf: the sheet, 1 page\n")
    );
    let written = std::fs::read(folder.path().join("lesson.pdf")).unwrap();
    let kept = crate::root().join("examples/lesson.pdf");
    if std::env::var_os("FIVEFOLD_BLESS").is_some() {
        std::fs::write(&kept, &written).unwrap();
    }
    assert!(
        std::fs::read(kept).unwrap() == written,
        "examples/lesson.pdf is another"
    );
}

#[test]
fn sheets_are_written_in_four_kinds_and_what_they_cannot_hold_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let chart = "| C | Am | F | G7 |";
    let all = ["-o", "s.pdf", "-o", "s.html", "-o", "s.svg", "-o", "s.png"];
    let ran = run(
        folder.path(),
        &[&["play", chart, "--paper", "Letter"][..], &all].concat(),
    );
    insta::assert_snapshot!(ran.good(), @"
    wrote s.pdf: the sheet, 1 page
    wrote s.html: the sheet, a page for a browser
    wrote s.svg: the sheet, one long page
    wrote s.png: the sheet, one long page
    ");
    let first = |name: &str| std::fs::read(folder.path().join(name)).unwrap()[..5].to_vec();
    assert_eq!(first("s.pdf"), b"%PDF-");
    assert_eq!(first("s.html"), b"<!DOC");
    assert_eq!(first("s.svg"), b"<svg ");
    assert_eq!(first("s.png"), b"\x89PNG\r");
    let refused = |arguments: &[&str]| fresh(arguments).refused();
    insta::assert_snapshot!(refused(&["play", chart, "--numerals", "-o", "s.pdf"]), @"
    Error: numerals count from the tonic of a key, and the piece has none.
      Add `--key`, or leave `--numerals` out.
    ");
    insta::assert_snapshot!(refused(&["play", chart, "--paper", "A5", "-o", "s.pdf"]), @"
    Error: `--paper` is `A4` or `Letter`, found `A5`.
      Write `--paper A4`.
    ");
    // Titles in letters that are not carried along are told, once.
    let title = "title = \"\u{5E9}\u{5D9}\u{5E8}\"\n[sections]\nA = \"| C |\"\n";
    std::fs::write(folder.path().join("t.toml"), title).unwrap();
    let ran = run(folder.path(), &["play", "t.toml", "-o", "t.pdf"]);
    assert!(
        ran.err
            .contains("a lozenge stands there; `-o t.html` has them"),
        "{}",
        ran.err
    );
}

#[test]
fn chords_scales_and_the_log_are_drawn() {
    let folder = tempfile::tempdir().unwrap();
    for arguments in [
        &["chord", "Am7", "-o", "chord.svg"][..],
        &["scale", "A minor pentatonic", "-o", "scale.pdf"],
        &["drill", "roots", "--no-log", "-o", "roots.png"],
    ] {
        let file = arguments.last().unwrap();
        let ran = run(folder.path(), arguments);
        assert!(
            ran.good().contains(&format!("wrote {file}")),
            "{arguments:?}"
        );
        assert!(folder.path().join(file).is_file());
    }
    insta::assert_snapshot!(fresh(&["chord", "N.C.", "-o", "c.svg"]).refused(), @"
    Error: no chord has no shape to draw.
      Leave `-o` out, or name a chord.
    ");
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let refused = |arguments: &[&str]| fresh(arguments).refused();
    insta::assert_snapshot!(refused(&["neck", "C", "-o", "c.gif"]), @"
    Error: a picture is a .svg, .png or .pdf file, found `c.gif`.
      Write `-o c.svg`.
    ");
    insta::assert_snapshot!(refused(&["neck", "--roots", "-o", "roots.svg"]), @"
    Error: the notes on the two lowest strings are a table, not a picture.
      Leave `-o` out, or name a set or a chord.
    ");
    insta::assert_snapshot!(refused(&["neck", "C", "--keys", "fourths"]), @"
    Error: expected a set with --keys, found `C`.
      Leave --keys out, or write a set, such as `A minor pentatonic`.
    ");
}

#[test]
fn the_sheet_of_a_drill_shows_the_pace_so_far_where_it_is_wished_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.sqlite");
    let path = path.to_str().unwrap();
    log_of(path, "changes Am C, led, 4 beats");
    let drill = ["drill", "changes", "Am", "C", "--log", path];
    let written = |more: &[&str]| {
        let ran = run(folder.path(), &[&drill[..], more].concat());
        assert!(ran.status == 0 && ran.out.contains("wrote"), "{}", ran.err);
        let file = folder.path().join(more[1]);
        (std::fs::read_to_string(file).unwrap(), ran.err)
    };
    let (with, _) = written(&["-o", "with.html", "-o", "with.pdf", "--so-far"]);
    assert!(with.contains("<h2>Pace so far") && with.contains("Pace over 14 takes: from 61 to 74"));
    assert!(folder.path().join("with.pdf").is_file());
    let (without, _) = written(&["-o", "without.html"]);
    assert!(!without.contains("Pace over"));
    // Another player has none yet.
    let (none, told) = written(&["-o", "none.svg", "--so-far", "--who", "Ada"]);
    assert!(!none.contains("Pace over"));
    assert!(
        told.contains("the log has no pace of this exercise"),
        "{told}"
    );
    // It is for a file.
    for (more, named) in [
        (&["--so-far"][..], "--output"),
        (&["--so-far", "--show"], "--so-far"),
    ] {
        let ran = run(folder.path(), &[&drill[..], more].concat());
        assert!(ran.refused().contains(named), "{more:?}");
    }
}

#[test]
fn a_hand_out_shows_the_pace_so_far_where_it_is_wished_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.sqlite");
    let path = path.to_str().unwrap();
    log_of(path, "changes Am C, led, 4 beats");
    let drill = "changes Am C --seed 1";
    let routine = format!("title = \"R\"\n[[items]]\ndrill = \"{drill}\"\nminutes = 1\n");
    std::fs::write(folder.path().join("r.toml"), routine).unwrap();
    let file = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
    let to = |more: &[&str]| {
        let ran = run(
            folder.path(),
            &[&["practice", "r.toml", "--to"], more].concat(),
        );
        assert!(ran.status == 0, "{}", ran.err);
    };
    let sheet = "01-drill-changes-am-c-seed-1.pdf";
    to(&["with", "--so-far", "--log", path]);
    to(&["without", "--log", path]);
    // As the drill by itself writes it.
    let alone = |name: &str, more: &[&str]| {
        let words: Vec<&str> = ["drill"].into_iter().chain(drill.split(' ')).collect();
        let ran = run(folder.path(), &[&words, &["-o", name][..], more].concat());
        assert!(ran.status == 0, "{}", ran.err);
        file(name)
    };
    let so_far = alone("so-far.pdf", &["--so-far", "--log", path]);
    assert!(file(&format!("with/{sheet}")) == so_far);
    let plain = alone("plain.pdf", &["--no-log"]);
    assert!(file(&format!("without/{sheet}")) == plain && plain != so_far);
    // Chords of what is handed out are not the player's own from then on.
    let ran = run(
        folder.path(),
        &["drill", "changes", "--show", "--log", path],
    );
    assert!(ran.err.contains("open major forms"), "{}", ran.err);
    for (more, named) in [
        (&["--so-far"][..], "--to"),
        (&["--to", "x", "--so-far", "--no-log"], "--so-far"),
    ] {
        let ran = run(folder.path(), &[&["practice", "r.toml"], more].concat());
        assert!(ran.refused().contains(named), "{more:?}");
    }
}
