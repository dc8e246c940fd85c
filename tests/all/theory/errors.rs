//! What wrong figures are answered with.

use fivefold::Diagnostic;
use fivefold::theory::{Figure, figure, symbol};

/// Wrong figures and their answers, one a line: text, bytes in question, code, message, help.
const WRONG_FIGURES: &str = include_str!("wrong_figures.tsv");

#[test]
fn wrong_figures_are_answered() {
    let mut differences = String::new();
    let mut rows = 0;
    for row in WRONG_FIGURES.lines().filter(|line| !line.starts_with("# ")) {
        let text = row.split('\t').next().unwrap();
        rows += 1;
        let answer = match figure::read(text) {
            Ok(figure) => format!("{text}\tis read as {figure:?}"),
            Err(error) => {
                let marked = text.get(error.span().unwrap()).unwrap();
                assert!(!marked.is_empty(), "{text}");
                format!(
                    "{text}\t{marked}\t{}\t{error}\t{}",
                    error.code(),
                    error.help()
                )
            }
        };
        if answer != row {
            differences += &format!("{answer}\n");
        }
    }
    assert!(
        differences.is_empty(),
        "answers that differ from the table:\n{differences}"
    );
    assert!(rows >= 400, "{rows} wrong figures");
}

#[test]
fn the_empty_and_the_endless_are_answered() {
    let empty = symbol::read("").unwrap_err();
    assert_eq!((empty.code(), empty.span().unwrap()), ("empty-chord", 0..0));
    assert_eq!(
        empty.help(),
        "write a chord such as `Am7`, or `N.C.` for none"
    );
    let long = symbol::read(&format!("C7{}", "(b9)".repeat(100))).unwrap_err();
    assert_eq!(
        (long.code(), long.span().unwrap()),
        ("chord-too-long", 0..402)
    );
    assert_eq!(
        long.to_string(),
        "expected a chord of at most 100 bytes, found 402"
    );
    let many = symbol::read("C:(1,b2,2,b3,3,4,#4,5,b6,6,b7,7,b9,9,b10,10,11,12)").unwrap_err();
    assert_eq!(many.code(), "too-many-degrees");
}

#[test]
fn a_numeral_without_a_key_is_answered() {
    let figure = figure::read("bVII7").unwrap();
    assert!(matches!(figure, Figure::Relative(_)));
    let error = figure.resolve(None).unwrap_err();
    assert_eq!((error.code(), error.span().unwrap()), ("needs-key", 0..5));
    assert_eq!(error.to_string(), "`bVII7` needs a key");
    assert_eq!(
        error.help(),
        "give a key, such as `key = \"A minor\"`, or write the chord in letters"
    );
}
