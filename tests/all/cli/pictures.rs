//! Pictures as files: those of the README, and what is refused.

use super::*;

#[test]
fn the_pictures_of_the_readme_are_what_the_program_draws() {
    let readme = std::fs::read_to_string(crate::root().join("README.md")).unwrap();
    for (name, arguments) in [
        ("shapes", &["neck", "A minor pentatonic"][..]),
        (
            "boxes",
            &["neck", "C", "Am", "F", "G7", "--show", "fingers"],
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let file = format!("{name}.svg");
        let ran = run(folder.path(), &[arguments, &["-o", &file]].concat());
        assert_eq!(ran.good(), format!("wrote {file}\n"));
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

#[test]
fn what_cannot_be_drawn_is_refused() {
    let refused = |arguments: &[&str]| fresh(arguments).refused();
    insta::assert_snapshot!(refused(&["neck", "C", "-o", "c.gif"]), @"
    Error: a picture is a .svg or .png file, found `c.gif`.
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
