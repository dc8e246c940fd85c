//! `fivefold neck`, from its arguments to what it writes.

use crate::in_process as fivefold;

fn good(arguments: &[&str]) -> String {
    let (out, err, status) = fivefold(arguments);
    assert_eq!((err.as_str(), status), ("", 0), "{arguments:?}");
    out
}

#[test]
fn a_set_is_drawn_from_both_roots() {
    insta::assert_snapshot!(good(&["neck", "A minor pentatonic"]), @"
    A minor pentatonic  A C D E G
    degrees on the strings, the root in brackets

    from A on string 6
    frets 5-8 5-7 5-7 5-7 5-8 5-8  (low E to high E)
                    5fr   6fr   7fr   8fr
    high E        :-[1]-+-----+-----+-b3--+
         B        :--5--+-----+-----+-b7--+
         G        :-b3--+-----+--4--+-----+
         D        :-b7--+-----+-[1]-+-----+
         A        :--4--+-----+--5--+-----+
     low E        :-[1]-+-----+-----+-b3--+
                     *           *

    from A on string 5
    frets 12-15 12-14 12-14 13-15 12-15  (A to high E)
                   12fr  13fr  14fr  15fr
    high E        :--5--+-----+-----+-b7--+
         B        :-----+-b3--+-----+--4--+
         G        :-b7--+-----+-[1]-+-----+
         D        :--4--+-----+--5--+-----+
         A        :-[1]-+-----+-----+-b3--+
     low E        :-----+-----+-----+-----+
                    **                 *
    ");
}

#[test]
fn a_chord_is_drawn_with_its_easiest_shapes() {
    insta::assert_snapshot!(good(&["neck", "C", "--places", "2"]), @"
    C  C E G
    degrees on the strings, the root in brackets

    frets x32010  fingers -32-1-  (low E to high E)
    notes C E G C E
                    1fr   2fr   3fr   4fr
    high E     3 ||-----+-----+-----+-----+
         B       ||-[1]-+-----+-----+-----+
         G     5 ||-----+-----+-----+-----+
         D       ||-----+--3--+-----+-----+
         A       ||-----+-----+-[1]-+-----+
     low E     x ||-----+-----+-----+-----+
                                 *

    frets x32013  fingers -32-14  (low E to high E)
    notes C E G C G
                    1fr   2fr   3fr   4fr
    high E       ||-----+-----+--5--+-----+
         B       ||-[1]-+-----+-----+-----+
         G     5 ||-----+-----+-----+-----+
         D       ||-----+--3--+-----+-----+
         A       ||-----+-----+-[1]-+-----+
     low E     x ||-----+-----+-----+-----+
                                 *
    ");
    insta::assert_snapshot!(good(&["neck", "Bb7", "--places", "1", "--closed", "--show", "fingers"]), @r"
    Bb7  Bb D F Ab
    fingers on the strings, the root in brackets

    frets x13131  fingers -12131  (low E to high E)
    notes Bb F Ab D F
                    1fr   2fr   3fr   4fr
    high E       ||--1--+-----+-----+-----+
         B       ||-----+-----+--3--+-----+
         G       ||--1--+-----+-----+-----+
         D       ||-----+-----+--2--+-----+
         A       ||-[1]-+-----+-----+-----+
     low E     x ||-----+-----+-----+-----+
                                 *
    ");
}

#[test]
fn one_word_that_is_a_chord_is_the_chord() {
    assert!(good(&["neck", "Am", "--places", "1"]).starts_with("Am  A C E\n"));
    assert!(good(&["neck", "A minor"]).starts_with("A minor  A B C D E F G\n"));
    assert!(good(&["neck", "Am pentatonic"]).starts_with("A minor pentatonic  A C D E G\n"));
}

#[test]
fn a_neck_may_be_tuned_clamped_and_mirrored() {
    insta::assert_snapshot!(
        good(&["neck", "A", "--capo", "2", "--show", "notes", "--places", "1"]),
        @"
    A  A C# E
    capo 2, frets count from it; played as G
    notes on the strings, the root in brackets

    frets 320003  fingers 21---3  (low E to high E)
    notes A C# E A C# A
                    1fr   2fr   3fr   4fr
    high E       ||-----+-----+-[A]-+-----+
         B    C# ||-----+-----+-----+-----+
         G   [A] ||-----+-----+-----+-----+
         D     E ||-----+-----+-----+-----+
         A       ||-----+-C#--+-----+-----+
     low E       ||-----+-----+-[A]-+-----+
                     *           *
    "
    );
    insta::assert_snapshot!(
        good(&["neck", "G minor pentatonic", "--left", "--from-string", "5", "--tuning", "half step down"]),
        @r"
    G minor pentatonic  G Bb C D F
    tuning Eb2 Ab2 Db3 Gb3 Bb3 Eb4, half step down
    degrees on the strings, the root in brackets
    left-handed: the nut is at the right

    from G on string 5
    frets 11-14 11-13 11-13 12-14 11-14  (Ab to high Eb)
     14fr  13fr  12fr  11fr
    +-b7--+-----+-----+--5--:       high Eb
    +--4--+-----+-b3--+-----:            Bb
    +-----+-[1]-+-----+-b7--:            Gb
    +-----+--5--+-----+--4--:            Db
    +-b3--+-----+-----+-[1]-:            Ab
    +-----+-----+-----+-----:        low Eb
                  **
    "
    );
    insta::assert_snapshot!(
        good(&["neck", "E minor pentatonic", "--open", "--from-string", "6", "--show", "fingers"]),
        @r"
    E minor pentatonic  E G A B D
    fingers on the strings, the root in brackets

    from E on string 6
    frets 0-3 0-2 0-2 0-2 0-3 0-3  (low E to high E)
                    1fr   2fr   3fr   4fr
    high E   [o] ||-----+-----+--3--+-----+
         B     o ||-----+-----+--3--+-----+
         G     o ||-----+--2--+-----+-----+
         D     o ||-----+-[2]-+-----+-----+
         A     o ||-----+--2--+-----+-----+
     low E   [o] ||-----+-----+--3--+-----+
                                 *
    "
    );
}

#[test]
fn every_position_and_the_linked_shapes() {
    insta::assert_snapshot!(good(&["neck", "D 1 2 4 5 b7", "--map", "--frets", "14"]), @"
    D suspended pentatonic, every position
    degrees on the strings, the root in brackets

                    1fr   2fr   3fr   4fr   5fr   6fr   7fr   8fr   9fr  10fr  11fr  12fr
    high E     2 ||-----+-----+--4--+-----+--5--+-----+-----+-b7--+-----+-[1]-+-----+--2--+
         B       ||-b7--+-----+-[1]-+-----+--2--+-----+-----+--4--+-----+--5--+-----+-----+
         G     4 ||-----+--5--+-----+-----+-b7--+-----+-[1]-+-----+--2--+-----+-----+--4--+
         D   [1] ||-----+--2--+-----+-----+--4--+-----+--5--+-----+-----+-b7--+-----+-[1]-+
         A     5 ||-----+-----+-b7--+-----+-[1]-+-----+--2--+-----+-----+--4--+-----+--5--+
     low E     2 ||-----+-----+--4--+-----+--5--+-----+-----+-b7--+-----+-[1]-+-----+--2--+
                                 *           *           *           *                **

                   13fr  14fr
    high E        :-----+-----+
         B        :-b7--+-----+
         G        :-----+--5--+
         D        :-----+--2--+
         A        :-----+-----+
     low E        :-----+-----+
    ");
    let linked = good(&["neck", "A minor pentatonic", "--shapes"]);
    let names: Vec<&str> = linked
        .lines()
        .filter(|line| line.starts_with("fr"))
        .collect();
    insta::assert_snapshot!(names.join("\n"), @r"
    from G on string 6
    frets 3-5 3-5 2-5 2-5 3-5 3-5  (low E to high E)
    from A on string 6
    frets 5-8 5-7 5-7 5-7 5-8 5-8  (low E to high E)
    from C on string 6
    frets 8-10 7-10 7-10 7-9 8-10 8-10  (low E to high E)
    from D on string 6
    frets 10-12 10-12 10-12 9-12 10-13 10-12  (low E to high E)
    from E on string 6
    frets 12-15 12-15 12-14 12-14 13-15 12-15  (low E to high E)
    ");
}

/// Once it had an `o`, an open string, at every fret.
#[test]
fn a_map_has_no_fingers() {
    let (out, err, status) = fivefold(&["neck", "A", "--map", "--show", "fingers"]);
    assert_eq!((out.as_str(), status), ("", 2));
    assert!(
        err.contains("has no fingers") && err.contains("--show degrees"),
        "{err}"
    );
}

/// In a drawing a number is a degree or a finger and nothing else: frets have `fr` behind theirs.
#[test]
fn a_digit_in_a_drawing_means_one_thing() {
    for (show, digits) in [("degrees", "1234567"), ("fingers", "1234"), ("notes", "")] {
        for left in [&[][..], &["--left"]] {
            let what = ["neck", "A minor pentatonic", "--show", show];
            let text = good(&[&what[..], left].concat());
            let mut rows = 0;
            for row in text.lines().filter(|l| l.contains("-+")) {
                rows += 1;
                let found = row.chars().filter(char::is_ascii_digit);
                assert!(found.clone().all(|c| digits.contains(c)), "{row}");
            }
            let heads = text
                .lines()
                .filter(|l| l.contains("fr  ") && !l.contains("frets"));
            for head in heads {
                assert!(head.split_whitespace().all(|n| n.ends_with("fr")), "{head}");
            }
            assert_eq!(rows, 12, "{text}");
            assert!(text.contains('['), "{text}");
        }
    }
}

#[test]
fn roots_on_the_two_lowest_strings() {
    insta::assert_snapshot!(good(&["neck", "--roots", "--frets", "15"]), @r"
    fret  string 6  string 5
       0  E         A
       1  F         A# Bb
       2  F# Gb     B
       3  G         C         *
       4  G# Ab     C# Db
       5  A         D         *
       6  A# Bb     D# Eb
       7  B         E         *
       8  C         F
       9  C# Db     F# Gb     *
      10  D         G
      11  D# Eb     G# Ab
      12  E         A         **
      13  F         A# Bb
      14  F# Gb     B
      15  G         C         *
    ");
    // For the other hand the lower string is at the right, as the line above says.
    insta::assert_snapshot!(good(&["neck", "--roots", "--frets", "3", "--left"]), @r"
    left-handed: the lower string is at the right
    fret  string 5  string 6
       0  A         E
       1  A# Bb     F
       2  B         F# Gb
       3  C         G         *
    ");
    let json: serde_json::Value =
        serde_json::from_str(&good(&["neck", "--roots", "--json"])).unwrap();
    assert_eq!(json["roots"].as_array().unwrap().len(), 46);
    assert_eq!(json["roots"][6]["names"], serde_json::json!(["A#", "Bb"]));
}

#[test]
fn json_has_positions_and_shapes() {
    let read = |arguments: &[&str]| -> serde_json::Value {
        serde_json::from_str(&good(arguments)).unwrap()
    };
    let set = read(&["neck", "A minor pentatonic", "--from-string", "6", "--json"]);
    assert_eq!(
        set["positions"][1],
        serde_json::json!({"string": 6, "fret": 3, "note": "G", "degree": "b7", "midi": 43})
    );
    let shape = &set["shapes"][0];
    assert_eq!(shape["name"], "from 1 on string 6");
    assert_eq!(shape["root_string"], 6);
    assert_eq!(
        shape["lowest"],
        serde_json::json!({"string": 6, "degree": "1"})
    );
    assert_eq!(
        shape["frets"],
        serde_json::json!([[5, 8], [5, 7], [5, 7], [5, 7], [5, 8], [5, 8]])
    );
    assert_eq!(
        shape["fingers"],
        serde_json::json!([[1, 4], [1, 3], [1, 3], [1, 3], [1, 4], [1, 4]])
    );
    assert_eq!(shape["positions"].as_array().unwrap().len(), 12);
    let chord = read(&["neck", "F", "--places", "1", "--json"]);
    let shape = &chord["shapes"][0];
    assert_eq!(shape["name"], "133211");
    assert_eq!(shape["frets"], serde_json::json!([1, 3, 3, 2, 1, 1]));
    assert_eq!(shape["fingers"], serde_json::json!([1, 3, 4, 2, 1, 1]));
    assert_eq!(
        shape["barres"],
        serde_json::json!([{"finger": 1, "fret": 1, "from": 6, "to": 1}])
    );
    assert_eq!(shape["left_out"], serde_json::json!([]));
    let open = read(&["neck", "C", "--places", "1", "--json"]);
    assert_eq!(
        open["shapes"][0]["frets"],
        serde_json::json!([null, 3, 2, 0, 1, 0])
    );
}

#[test]
fn the_examples_of_the_help_run() {
    let help = good(&["neck", "--help"]);
    let mut run = 0;
    for line in help.lines() {
        let Some(example) = line.trim().strip_prefix("fivefold ") else {
            continue;
        };
        let mut arguments: Vec<&str> = Vec::new();
        for (at, part) in example.split('\'').enumerate() {
            match at % 2 {
                0 => arguments.extend(part.split_whitespace()),
                _ => arguments.push(part),
            }
        }
        // Pictures go into a folder of their own.
        let folder = tempfile::tempdir().unwrap();
        let output = arguments.iter().position(|argument| *argument == "-o");
        let file = output.map(|at| folder.path().join(arguments[at + 1]));
        if let (Some(at), Some(file)) = (output, &file) {
            arguments[at + 1] = file.to_str().unwrap();
        }
        assert!(!good(&arguments).is_empty());
        assert!(file.is_none_or(|file| file.exists()), "{example}");
        run += 1;
    }
    assert!(run >= 8, "{run}");
}

#[test]
fn bad_input_is_answered_with_what_to_write() {
    let mut shown = String::new();
    let set = "A minor pentatonic";
    let cases: [&[&str]; 26] = [
        &["X"],
        &[""],
        &["am"],
        &["IV"],
        &["Am77"],
        &["A minr pentatonic"],
        &["A pentatonic"],
        &["N.C."],
        &[set, "--tuning", "dorp d"],
        &[set, "--tuning", "banjo"],
        &[set, "--tuning", "EADGBe"],
        &["C", "--tuning", "EAD"],
        &["C", "--tuning", "E4 B3 G3 D3 A2 E2"],
        &["C", "--capo", "22"],
        &["C", "--capo", "400"],
        &["C", "--frets", "0"],
        &["C", "--frets", "99"],
        &["C", "--frets", "1"],
        &[set, "--from-string", "9"],
        &[set, "--from-string", "7"],
        &[set, "--from-string", "5", "--frets", "14"],
        &[set, "--from-string", "5", "--capo", "13", "--frets", "24"],
        &[
            "Eb minor pentatonic",
            "--from-string",
            "5",
            "--capo",
            "7",
            "--frets",
            "9",
        ],
        &["C", "--shapes"],
        &["C", "--open"],
        &["A minor", "--places", "3"],
    ];
    for arguments in cases {
        let all: Vec<&str> = std::iter::once("neck")
            .chain(arguments.iter().copied())
            .chain(std::iter::once("--json"))
            .collect();
        let (out, err, status) = fivefold(&all);
        assert_eq!((out.as_str(), status), ("", 2), "{arguments:?}");
        let json: serde_json::Value = serde_json::from_str(&err).unwrap();
        let field = |name: &str| json[name].as_str().unwrap_or("").to_owned();
        shown += &format!(
            "{}\n  [{}] {}\n  {}\n",
            arguments.join(" "),
            field("code"),
            field("message"),
            field("help")
        );
    }
    insta::assert_snapshot!(shown, @"
    X
      [no-set-or-chord] expected a set or a chord, found `X`
      for a set write a root and a name, such as `A minor pentatonic`; for a chord write a root and a suffix, such as `Am7`

      [no-set-or-chord] expected a set or a chord, found nothing
      for a set write a root and a name, such as `A minor pentatonic`; for a chord write a root and a suffix, such as `Am7`
    am
      [no-set-or-chord] expected a set or a chord, found `am`
      for a set write `A minor`; for a chord write `Am`
    IV
      [no-set-or-chord] expected a set or a chord, found `IV`
      for a set write a root and a name, such as `A minor pentatonic`; for a chord write a root and a suffix, such as `Am7`
    Am77
      [no-set-or-chord] expected a set or a chord, found `Am77`
      for a set write a root and a name, such as `A minor pentatonic`; for a chord write a suffix such as `m7`, `maj7`, `9`, `sus4`, `dim`, `add9` or `7b9`
    A minr pentatonic
      [no-set-or-chord] expected a set or a chord, found `A minr pentatonic`
      for a set write `A minor pentatonic`; for a chord join the parts, as in `C7b9`, or put them in brackets, as in `C7(b9, #11)`
    A pentatonic
      [no-set-or-chord] expected a set or a chord, found `A pentatonic`
      for a set write `A major pentatonic` or `A minor pentatonic`; for a chord join the parts, as in `C7b9`, or put them in brackets, as in `C7(b9, #11)`
    N.C.
      [no-chord-to-show] expected a set or a chord, found no chord, `N.C.`
      write a set, such as `A minor pentatonic`, or a chord, such as `Am`
    A minor pentatonic --tuning dorp d
      [unknown-tuning] expected a known tuning or the notes of the open strings, found `dorp d`
      write `drop d`
    A minor pentatonic --tuning banjo
      [unknown-tuning] expected a known tuning or the notes of the open strings, found `banjo`
      write a name, such as `standard` or `drop d`, or the notes, such as `D A D G B E`
    A minor pentatonic --tuning EADGBe
      [tuning-note] expected a note A to G in upper case, found `e`
      write `EADGBE`
    C --tuning EAD
      [string-count] expected 4 to 8 strings, found 3
      write one note for each string from the lowest up, such as `D A D G B E`
    C --tuning E4 B3 G3 D3 A2 E2
      [falling-strings] expected a string no lower than E4, found B3
      write the strings the other way round, from the lowest to the highest
    C --capo 22
      [option-range] `--capo` is a whole number, 0 to 21, found `22`
      write `--capo 21`
    C --capo 400
      [option-range] `--capo` is a whole number, 0 to 21, found `400`
      write `--capo 21`
    C --frets 0
      [option-range] `--frets` is a whole number, 1 to 36, found `0`
      write `--frets 1`
    C --frets 99
      [option-range] `--frets` is a whole number, 1 to 36, found `99`
      write `--frets 36`
    C --frets 1
      [no-chord-shape] expected a shape of C that the hand can hold, found none
      write a chord with fewer notes or without its bass, or give the neck more frets
    A minor pentatonic --from-string 9
      [option-range] `--from-string` is a whole number, 1 to 6, found `9`
      write `--from-string 6`
    A minor pentatonic --from-string 7
      [option-range] `--from-string` is a whole number, 1 to 6, found `7`
      write `--from-string 6`
    A minor pentatonic --from-string 5 --frets 14
      [shape-off-neck] expected a neck of at least 15 frets for A minor pentatonic from string 5, found 14
      allow open strings, or begin from another string
    A minor pentatonic --from-string 5 --capo 13 --frets 24
      [shape-off-neck] expected a neck of at least 27 frets for A minor pentatonic from string 5, found 24
      put the capo lower, or begin from another string
    Eb minor pentatonic --from-string 5 --capo 7 --frets 9
      [shape-off-neck] expected a neck of at least 21 frets for Eb minor pentatonic from string 5, found 9
      put the capo lower, or begin from another string
    C --shapes
      [option-for-other] expected a set with --shapes, found `C`
      leave --shapes out, or write a set, such as `A minor pentatonic`
    C --open
      [option-for-other] expected a set with --open, found `C`
      leave --open out, or write a set, such as `A minor pentatonic`
    A minor --places 3
      [option-for-other] expected a chord with --places, found `A minor`
      leave --places out, or write a chord, such as `Am`
    ");
}

#[test]
fn clashes_name_both_options() {
    for (one, other) in [
        ("--shapes", "--from-string=6"),
        ("--open", "--closed"),
        ("--map", "--shapes"),
    ] {
        let (_, err, status) = fivefold(&["neck", "A minor pentatonic", one, other]);
        assert_eq!(status, 2);
        let name = other.split('=').next().unwrap();
        assert!(err.contains(one) && err.contains(name), "{err}");
    }
    let (_, err, status) = fivefold(&["neck"]);
    assert_eq!(status, 2);
    assert!(err.contains("SET-or-CHORD"), "{err}");
    let (_, err, _) = fivefold(&["neck", "C", "--places", "0"]);
    assert!(
        err.contains("`--places` is a whole number, 1 to 50"),
        "{err}"
    );
}
