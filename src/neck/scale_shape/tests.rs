#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::*;
use crate::diagnostic::Diagnostic;
use crate::neck::Tuning;

/// The frets of each string from the lowest up.
fn frets(shape: &ScaleShape, neck: &Neck) -> String {
    let list = |string| {
        let frets: Vec<String> = shape
            .frets_on(string)
            .iter()
            .map(ToString::to_string)
            .collect();
        frets.join("-")
    };
    neck.strings().map(list).collect::<Vec<_>>().join(" ")
}

fn fingers(shape: &ScaleShape) -> String {
    let digit = |finger: &Option<Finger>| finger.map_or("0".to_owned(), |f| f.to_string());
    shape.fingers().iter().map(digit).collect()
}

fn root(text: &str, string: u8, open: bool) -> Result<ScaleShape, NeckError> {
    let scale = Scale::read(text).unwrap();
    root_shape(
        &scale,
        &Neck::standard(),
        StringNumber::new(string).unwrap(),
        open,
    )
}

#[test]
fn root_shapes_are_those_that_are_taught() {
    for (text, string, expected) in [
        ("A minor pentatonic", 6, "5-8 5-7 5-7 5-7 5-8 5-8"),
        ("A minor pentatonic", 5, " 12-15 12-14 12-14 13-15 12-15"),
        (
            "E minor pentatonic",
            6,
            "12-15 12-14 12-14 12-14 12-15 12-15",
        ),
        ("C minor pentatonic", 5, " 3-6 3-5 3-5 4-6 3-6"),
        ("F minor pentatonic", 6, "1-4 1-3 1-3 1-3 1-4 1-4"),
        ("A major pentatonic", 6, "5-7 4-7 4-7 4-6 5-7 5-7"),
        (
            "F major pentatonic",
            6,
            "13-15 12-15 12-15 12-14 13-15 13-15",
        ),
        ("A major", 6, "5-7 4-5-7 4-6-7 4-6-7 5-7 4-5-7"),
        ("A minor", 6, "5-7-8 5-7-8 5-7 4-5-7 5-6-8 5-7-8"),
        ("A minor blues", 6, "5-8 5-6-7 5-7 5-7-8 5-8 5-8"),
    ] {
        let shape = root(text, string, false).unwrap();
        assert_eq!(
            frets(&shape, &Neck::standard()),
            expected,
            "{text} {string}"
        );
    }
    let open = root("E minor pentatonic", 6, true).unwrap();
    assert_eq!(frets(&open, &Neck::standard()), "0-3 0-2 0-2 0-2 0-3 0-3");
    assert_eq!(fingers(&open), "030202020303");
    let shape = root("A minor pentatonic", 6, false).unwrap();
    assert_eq!(fingers(&shape), "141313131414");
    assert_eq!(shape.name(), "from 1 on string 6");
    let shape = root("A minor pentatonic", 5, false).unwrap();
    assert_eq!(fingers(&shape), "1413132414");
}

#[test]
fn the_five_shapes_of_the_five_note_set_hang_together() {
    let scale = Scale::read("A minor pentatonic").unwrap();
    let neck = Neck::standard();
    let shapes = linked_shapes(&scale, &neck, false).unwrap();
    let shown: Vec<String> = shapes
        .iter()
        .map(|shape| format!("{}: {}", shape.name(), frets(shape, &neck)))
        .collect();
    insta::assert_snapshot!(shown.join("\n"), @r"
    from b7 on string 6: 3-5 3-5 2-5 2-5 3-5 3-5
    from 1 on string 6: 5-8 5-7 5-7 5-7 5-8 5-8
    from b3 on string 6: 8-10 7-10 7-10 7-9 8-10 8-10
    from 4 on string 6: 10-12 10-12 10-12 9-12 10-13 10-12
    from 5 on string 6: 12-15 12-15 12-14 12-14 13-15 12-15
    ");
}

#[test]
fn a_shape_off_the_neck_is_answered() {
    let mut shown = String::new();
    let scale = Scale::read("A minor pentatonic").unwrap();
    let fret = |value| Fret::new(value).unwrap();
    for (frets, capo, string, open) in [
        (12, 0, 5, false),
        (14, 0, 5, false),
        (7, 0, 6, false),
        (22, 13, 5, false),
        (24, 12, 5, false),
        (2, 0, 5, true),
        (22, 0, 7, false),
        (22, 0, 8, true),
    ] {
        let neck = Neck::new(Tuning::standard(), fret(frets), fret(capo)).unwrap();
        let string = StringNumber::new(string).unwrap();
        let error = root_shape(&scale, &neck, string, open).unwrap_err();
        shown += &format!("[{}] {error} / {}\n", error.code(), error.help());
    }
    insta::assert_snapshot!(shown, @r"
    [shape-off-neck] expected a neck of at least 15 frets for A minor pentatonic from string 5, found 12 / allow open strings, or begin from another string
    [shape-off-neck] expected a neck of at least 15 frets for A minor pentatonic from string 5, found 14 / allow open strings, or begin from another string
    [shape-off-neck] expected a neck of at least 8 frets for A minor pentatonic from string 6, found 7 / begin from another string, or give the neck 8 frets
    [shape-off-neck] expected a neck of at least 27 frets for A minor pentatonic from string 5, found 22 / put the capo lower, or begin from another string
    [shape-off-neck] expected a neck of at least 27 frets for A minor pentatonic from string 5, found 24 / allow open strings, or begin from another string
    [shape-off-neck] expected a neck of at least 3 frets for A minor pentatonic from string 5, found 2 / begin from another string, or give the neck 3 frets
    [no-such-string] expected a string from 1 to 6, found 7 / write a string from 1, the highest, to 6, the lowest
    [no-such-string] expected a string from 1 to 6, found 8 / write a string from 1, the highest, to 6, the lowest
    ");
}
