//! `jam` and what `check` says of fit: every option, good and bad.

use std::collections::BTreeSet;

use fivefold::generate::fit;
use fivefold::theory::{Scale, symbol};
use serde_json::Value;

use super::*;

const SET: [&str; 5] = ["jam", "--set", "A minor pentatonic", "--seed", "7"];

/// Runs `jam` over A minor pentatonic with seed 7 in a fresh folder.
fn jam(options: &[&str]) -> Ran {
    fresh(&[&SET, options].concat())
}

/// The report as JSON, without playing.
fn report(options: &[&str]) -> Value {
    serde_json::from_str(&jam(&[options, &["--show", "--json"]].concat()).good()).unwrap()
}

fn texts(list: &Value) -> Vec<&str> {
    let list = list.as_array().unwrap();
    list.iter().map(|v| v.as_str().unwrap()).collect()
}

/// The symbols of all chords in order.
fn symbols(report: &Value) -> Vec<String> {
    let bars = report["bars"].as_array().unwrap();
    bars.iter()
        .flat_map(|bar| bar["chords"].as_array().unwrap())
        .map(|chord| chord["symbol"].as_str().unwrap().to_owned())
        .collect()
}

fn events(text: &str) -> Vec<Value> {
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

/// Runs `jam` with a file of events for its last option and reads it.
fn stream(options: &[&str]) -> Vec<Value> {
    let folder = TempDir::new().unwrap();
    run(folder.path(), &[options, &["-o", "x.jsonl"]].concat()).good();
    events(&std::fs::read_to_string(folder.path().join("x.jsonl")).unwrap())
}

fn of_kind<'a>(events: &'a [Value], kind: &str) -> Vec<&'a Value> {
    events.iter().filter(|e| e["kind"] == kind).collect()
}

#[test]
fn shown_as_text() {
    insta::assert_snapshot!(jam(&["--show", "--why", "--likeliest", "2"]).good(), @"
    A minor pentatonic: A C D E G, rule inside, seed 7
    | Am | G5 | D5 | C |
    | Am | G5 | D5 | G5 |
      bar  chord  notes of the set in the chord
        1  Am     A C E
        2  G5     D G
        3  D5     A D
        4  C      C E G
        5  Am     A C E
        6  G5     D G
        7  D5     A D
        8  G5     D G
    plan      phrases of 2 bars, A B A B' (32000 of 681700)
    palette   Am G5 C D5 (4 different: 8 of 13; these: 48.81 %)
    sequence  0.71 %
    in all    675958 ways
        1  Am D5 C D5 Am D5 C G5 (17.21 %)
        2  Am C C D5 Am C C G5 (15.89 %)
    ");
}

#[test]
fn every_good_option_does_what_it_says() {
    assert_eq!(
        symbols(&report(&["--length", "4", "--rhythm", "bar"])).len(),
        4
    );
    assert_eq!(symbols(&report(&["--length", "64"])).len(), 64);
    let two = symbols(&report(&["--rhythm", "two bars"]));
    assert!(two.chunks(2).all(|pair| pair[0] == pair[1]), "{two:?}");
    let half = report(&["--rhythm", "half bar"]);
    let bars = half["bars"].as_array().unwrap();
    assert!(
        bars.iter()
            .all(|b| b["chords"].as_array().unwrap().len() == 2)
    );
    for (kind, above) in [("triads", &[3, 5][..]), ("sevenths", &[3, 5, 7])] {
        for chord in symbols(&report(&["--fit", "home", "--chords", kind])) {
            let read = *symbol::read(&chord).unwrap().chord().unwrap();
            let numbers: Vec<u8> = read.degrees().iter().skip(1).map(|d| d.number()).collect();
            assert_eq!(numbers, above, "{kind}: {chord}");
        }
    }
    let colorful = |level: &str| -> usize {
        (0..40)
            .map(|seed| {
                let seed = seed.to_string();
                let options = ["jam", "--set", "A minor pentatonic", "--level", level];
                let rest = ["--seed", &seed, "--show", "--json"];
                let out = fresh(&[&options[..], &rest].concat()).good();
                let report: Value = serde_json::from_str(&out).unwrap();
                texts(&report["palette"]["chords"])
                    .iter()
                    .map(|c| c.len())
                    .sum::<usize>()
            })
            .sum()
    };
    let lengths = ["plain", "mild", "rich", "bold"].map(colorful);
    assert!(
        lengths.is_sorted() && lengths[0] < lengths[1],
        "{lengths:?}"
    );
    let wished = report(&[
        "--start",
        "C",
        "--end",
        "D7sus4",
        "--with",
        "Am7,G5",
        "--without",
        "Am,D5",
        "--different",
        "4",
    ]);
    let chords = symbols(&wished);
    let different: BTreeSet<&String> = chords.iter().collect();
    assert_eq!((chords[0].as_str(), chords[7].as_str()), ("C", "D7sus4"));
    assert_eq!(
        different,
        ["Am7", "C", "D7sus4", "G5"]
            .map(str::to_owned)
            .iter()
            .collect()
    );
    assert_eq!(report(&["--home", "A dorian"])["home"], "A dorian");
    for rule in ["inside", "clear", "home", "blues"] {
        let report = report(&["--fit", rule]);
        assert_eq!(report["rule"], rule);
        for bar in report["bars"].as_array().unwrap() {
            for chord in bar["chords"].as_array().unwrap() {
                assert_eq!(chord["fit"][rule], true, "{rule}: {chord}");
            }
        }
    }
    let meters = stream(&[&SET[..], &["--meter", "6/8"]].concat());
    assert_eq!(of_kind(&meters, "meter")[0]["meter"], "6/8");
    let (swung, straight) = (
        stream(&[&SET[..], &["--feel", "swing 2:1", "--parts", "guide"]].concat()),
        stream(&[&SET[..], &["--parts", "guide"]].concat()),
    );
    let second = |events: &[Value]| of_kind(events, "note_on")[1]["tick"].as_u64().unwrap();
    assert_eq!((second(&swung), second(&straight)), (640, 480));
}

#[test]
fn bad_values_are_refused() {
    let mut all = String::new();
    for option in [
        "--home=x",
        "--fit=insid",
        "--length=0",
        "--length=65",
        "--length=17",
        "--length=x",
        "--rhythm=beat",
        "--chords=ninths",
        "--level=0",
        "--level=1",
        "--level=2",
        "--level=3",
        "--level=4",
        "--level=-1",
        "--level=plane",
        "--adventure=2",
        "--adventure=mild",
        "--adventure=",
        "--start=H",
        "--start=N.C.",
        "--start=G",
        "--start=E7",
        "--end=Bb",
        "--with=C,,D5",
        "--with=F",
        "--with=",
        "--with=Am,Am7,C,D5,G5,Csus2,A5",
        "--without=x",
        "--different=0",
        "--different=7",
        "--keys=fourth",
        "--keys=",
        "--keys=D minor, C major",
        "--keys=D minor,",
        "--likeliest=101",
        "--likeliest=-1",
        "--meter=4/5",
        "--feel=swung",
        "--key=D major",
        "--key=x",
        "--transpose=25",
        "--times=0",
        "--tempo=fast",
        "--parts=piano",
        "--count-in=9",
        "--from=99",
    ] {
        let error = jam(&["--show", option]).refused();
        all.push_str(&said(option, &error));
    }
    insta::assert_snapshot!(all, @"
    --home=x
      Error in `--home`: expected a root A to G in upper case, found `x`.
      Write a root and a name, such as `A minor pentatonic`.
    --fit=insid
      Error: `--fit` is `inside`, `clear`, `home`, `home with V` or `blues`, found `insid`.
      Write `--fit inside`.
    --length=0
      Error: `--length` is a whole number, 1 to 64, found `0`.
      Write `--length 1`.
    --length=65
      Error: `--length` is a whole number, 1 to 64, found `65`.
      Write `--length 64`.
    --length=17
      Error in `--length`: 17 chords in 17 bars have no plan of phrases.
      Choose 4, 8, 12 or 16 bars.
    --length=x
      Error: `--length` is a whole number, 1 to 64, found `x`.
      Write a number, such as `--length 1`.
    --rhythm=beat
      Error: `--rhythm` is `two bars`, `bar`, `half bar` or `mixed`, found `beat`.
      Write `--rhythm bar`.
    --chords=ninths
      Error: `--chords` is `any`, `triads` or `sevenths`, found `ninths`.
      Write one of these, such as `--chords any`.
    --level=0
      Error in `--level`: a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `0`.
      Write `--level plain`.
    --level=1
      Error in `--level`: a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `1`.
      Write `--level mild`.
    --level=2
      Error in `--level`: a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `2`.
      Write `--level rich`.
    --level=3
      Error in `--level`: a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `3`.
      Write `--level bold`.
    --level=4
      Error in `--level`: a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `4`.
      Write `--level bold`.
    --level=-1
      Error in `--level`: a level is `plain`, `mild`, `rich` or `bold`, and no longer a number, found `-1`.
      Write `--level plain`.
    --level=plane
      Error: `--level` is `plain`, `mild`, `rich` or `bold`, found `plane`.
      Write `--level plain`.
    --adventure=2
      Error in `--adventure`: `--adventure` has become `--level`, which is `plain`, `mild`, `rich` or `bold`.
      Write `--level rich`.
    --adventure=mild
      Error in `--adventure`: `--adventure` has become `--level`, which is `plain`, `mild`, `rich` or `bold`.
      Write `--level mild`.
    --adventure=
      Error in `--adventure`: `--adventure` has become `--level`, which is `plain`, `mild`, `rich` or `bold`.
      Write `--level plain`.
    --start=H
      Error in `--start`: a root is named by a letter A to G, found `H`.
      Write `B`.
    --start=N.C.
      Error in `--start`: silence is no chord.
      Name a chord, such as Am7.
    --start=G
      Error in `--start`: G does not fit: B not in the set.
      Choose one that fits, such as Am, C, A5, Am7, or another rule.
    --start=E7
      Error in `--start`: E7 does not fit: G# B not in the set.
      Choose one that fits, such as Am, C, A5, Am7, or another rule.
    --end=Bb
      Error in `--end`: Bb does not fit: Bb F not in the set.
      Choose one that fits, such as Am, C, A5, Am7, or another rule.
    --with=C,,D5
      Error in `--with`: expected a chord, found nothing.
      Write a chord such as `Am7`, or `N.C.` for none.
    --with=F
      Error in `--with`: F does not fit: F not in the set.
      Choose one that fits, such as Am, C, A5, Am7, or another rule.
    --with=
      Error in `--with`: expected a chord, found nothing.
      Write a chord such as `Am7`, or `N.C.` for none.
    --with=Am,Am7,C,D5,G5,Csus2,A5
      Error in `--with`: a progression has at most 6 different chords, its first and last among them.
      Wish for fewer chords.
    --without=x
      Error in `--without`: expected a root A to G, found `x`.
      Begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`.
    --different=0
      Error: `--different` is a whole number, 1 to 6, found `0`.
      Write `--different 1`.
    --different=7
      Error: `--different` is a whole number, 1 to 6, found `7`.
      Write `--different 6`.
    --keys=fourth
      Error in `--keys`: keys are an order or a list of keys, found `fourth`.
      Write `fourths`.
    --keys=
      Error in `--keys`: keys are an order or a list of keys, found nothing.
      Write `fourths`, `fifths`, `semitones`, `shuffle`, or keys such as `A minor, D minor`.
    --keys=D minor, C major
      Error in `--keys`: a piece in A minor moves to keys of the same mode, found C major.
      Write `C minor`.
    --keys=D minor,
      Error in `--keys`: keys are an order or a list of keys, found ``.
      Write `fourths`, `fifths`, `semitones`, `shuffle`, or keys such as `A minor, D minor`.
    --likeliest=101
      Error: `--likeliest` is a whole number, 0 to 100, found `101`.
      Write `--likeliest 100`.
    --likeliest=-1
      Error: `--likeliest` is a whole number, 0 to 100, found `-1`.
      Write `--likeliest 0`.
    --meter=4/5
      Error in `--meter`: the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 5.
      Write the note that is counted: 4 for quarters, 8 for eighths.
    --feel=swung
      Error in `--feel`: a feel is `straight` or a swing such as `swing 2:1`, found `swung`.
      Write `swing 2:1`, `swing 3:2 16ths` or `straight`.
    --key=D major
      Error in `--key`: a piece in A minor moves to a key of the same mode, found D major.
      Write `--key 'D minor'`.
    --key=x
      Error in `--key`: a key begins with its tonic: expected a note letter A to G in upper case, found `x`.
      Write a key such as `A minor`, `Am`, `Bb` or `D dorian`.
    --transpose=25
      Error: `--transpose` is a whole number, -24 to 24, found `25`.
      Write `--transpose 24`.
    --times=0
      Error: `--times` is a whole number, 1 to 100000, found `0`.
      Write `--times 2` or `--times endless`.
    --tempo=fast
      Error in `--tempo`: expected a tempo in beats a minute, found `fast`.
      Write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`.
    --parts=piano
      Error: there is no part `piano`.
      Write `--parts pads`.
    --count-in=9
      Error: `--count-in` is a whole number, 0 to 8, found `9`.
      Write `--count-in 8`.
    --from=99
      Error: the piece has bars 1 to 32 and an ending, bar 33, found 99.
      Choose a bar from 1 to 33.
    ");
}

/// The sentences of an error, without the text they point at.
fn said(what: &str, error: &str) -> String {
    let lines: Vec<&str> = error
        .lines()
        .filter(|l| l.starts_with("Error") || (l.starts_with("  ") && !l.starts_with("    ")))
        .map(str::trim)
        .collect();
    assert_eq!(lines.len(), 2, "{error}");
    format!("{what}\n  {}\n", lines.join("\n  "))
}

#[test]
fn options_that_do_not_go_together_are_refused() {
    let mut all = String::new();
    for (name, options) in [
        ("half bar in 3/4", &["--rhythm=half bar", "--meter=3/4"][..]),
        ("two bars in seven", &["--rhythm=two bars", "--length=7"]),
        ("swing in 6/8", &["--feel=swing 2:1", "--meter=6/8"]),
        ("with and without", &["--with=C", "--without=C"]),
        ("start and without", &["--start=C", "--without=C"]),
        ("too few for all", &["--with=C,Am,G5", "--different=2"]),
        ("six in two bars", &["--length=2", "--different=6"]),
        ("a start without the rule", &["--fit=clear", "--start=G"]),
    ] {
        all.push_str(&said(
            name,
            &jam(&[&["--show"], options].concat()).refused(),
        ));
    }
    let blues = fresh(&["jam", "--set", "A hirajoshi", "--fit", "blues", "--show"]);
    all.push_str(&said("blues over hirajoshi", &blues.refused()));
    insta::assert_snapshot!(all, @"
    half bar in 3/4
      Error in `--rhythm`: two chords do not share the 3 beats of 3/4 evenly.
      Write `--rhythm bar`.
    two bars in seven
      Error in `--length`: 7 bars have no chord every two bars.
      Choose 4, 8, 12 or 16 bars.
    swing in 6/8
      Error in `--feel`: 6/8 cannot swing its eighths.
      Leave the feel out: the beat of a compound meter is in threes already.
    with and without
      Error in `--with`: C is wished for, and left out as well.
      Drop one of the two wishes for C.
    start and without
      Error in `--start`: C is wished for, and left out as well.
      Drop one of the two wishes for C.
    too few for all
      Error in `--different`: no progression of 8 bars has 2 different chords with the other wishes.
      Choose fewer different chords, more bars, or drop another wish.
    six in two bars
      Error in `--different`: no progression of 2 bars has 6 different chords with the other wishes.
      Choose fewer different chords, more bars, or drop another wish.
    a start without the rule
      Error in `--start`: G does not fit: C over B rubs.
      Choose one that fits, such as Am, C, Dm, F, or another rule.
    blues over hirajoshi
      Error: the blues rule is for minor and major pentatonic and blues sets.
      Choose `--fit inside`, `--fit clear` or `--fit home`.
    ");
}

#[test]
fn wishes_that_cannot_be_met_name_the_wish() {
    for (options, wish) in [
        (&["--length=17"][..], "--length"),
        (&["--start=E7"], "--start"),
        (&["--end=E7"], "--end"),
        (&["--with=E7"], "--with"),
        (&["--different=6", "--length=2"], "--different"),
        (&["--with=C", "--without=C"], "--with"),
    ] {
        let options = [&["--show", "--json"], options].concat();
        let errors = jam(&options).errors();
        assert_eq!(errors.len(), 1);
        assert_eq!(errors[0]["code"], "wish", "{options:?}");
        let file = errors[0]["file"].as_str().unwrap();
        assert_eq!(file, format!("<{wish}>"));
        assert!(!errors[0]["help"].as_str().unwrap().is_empty());
    }
}

#[test]
fn sets_by_name_by_degrees_and_not_at_all() {
    let named = |set: &str| fresh(&["jam", "--set", set, "--seed", "3", "--show", "--json"]);
    let set = |text: &str| -> String {
        let report: Value = serde_json::from_str(&named(text).good()).unwrap();
        report["set"].as_str().unwrap().to_owned()
    };
    assert_eq!(set("Bb major pentatonic"), "Bb major pentatonic");
    assert_eq!(set("D 1 2 4 5 b7"), set("D suspended pentatonic"));
    let mut all = String::new();
    for text in [
        "",
        "A",
        "minor pentatonics",
        " hirajosi",
        "pentatonic",
        "1 b3 x",
        "b minor pentatonic",
        "H minor pentatonic",
        "A minor pentatonics",
    ] {
        let ran = fresh(&["jam", "--set", text, "--show"]);
        all.push_str(&said(&format!("{text:?}"), &ran.refused()));
    }
    insta::assert_snapshot!(all, @r#"
    ""
      Error in `--set`: expected a root and a scale, found nothing.
      Write a root and a name, such as `A minor pentatonic`.
    "A"
      Error in `--set`: expected a scale after A, found nothing.
      Write a name, as in `A minor pentatonic`, or degrees, as in `A 1 b3 4 5 b7`; `fivefold list sets` shows all names.
    "minor pentatonics"
      Error in `--set`: expected a known scale, found `minor pentatonics`.
      Write `minor pentatonic`; `fivefold list sets` shows all names.
    " hirajosi"
      Error in `--set`: expected a known scale, found `hirajosi`.
      Write `hirajoshi`; `fivefold list sets` shows all names.
    "pentatonic"
      Error in `--set`: `pentatonic` may be the major or the minor one.
      Write `major pentatonic` or `minor pentatonic`.
    "1 b3 x"
      Error in `--set`: expected a degree such as b3, found `x`.
      Write degrees with their sharps or flats before them, such as `b3` or `#4`.
    "b minor pentatonic"
      Error in `--set`: expected a root A to G in upper case, found `b`.
      Write `B minor pentatonic`.
    "H minor pentatonic"
      Error in `--set`: expected a root A to G in upper case, found `H`.
      Write `B minor pentatonic`.
    "A minor pentatonics"
      Error in `--set`: expected a known scale, found `minor pentatonics`.
      Write `A minor pentatonic`; `fivefold list sets` shows all names.
    "#);
    let missing = fresh(&["jam", "--show"]).refused();
    assert!(missing.contains("--set"), "{missing}");
}

#[test]
fn a_set_without_a_root_gets_one_from_the_seed_or_the_key() {
    let drawn = |options: &[&str]| -> String {
        let arguments = ["jam", "--set", "minor pentatonic", "--show", "--json"];
        let out = fresh(&[&arguments, options].concat()).good();
        let report: Value = serde_json::from_str(&out).unwrap();
        let set = report["set"].as_str().unwrap().to_owned();
        set.strip_suffix(" minor pentatonic").unwrap().to_owned()
    };
    let mut roots = BTreeSet::new();
    for seed in 0..60 {
        let seed = seed.to_string();
        let root = drawn(&["--seed", &seed]);
        assert_eq!(drawn(&["--seed", &seed]), root);
        roots.insert(root);
    }
    assert_eq!(roots.len(), 12, "{roots:?}");
    assert_eq!(drawn(&["--key", "F# minor", "--seed", "1"]), "F#");
    assert_eq!(drawn(&["--key", "Eb", "--seed", "1"]), "Eb");
    // Only the root differs.
    let degrees = |root: &str| {
        let set = format!("{root} minor pentatonic");
        let arguments = ["jam", "--set", &set, "--seed", "7", "--show", "--json"];
        let report: Value = serde_json::from_str(&fresh(&arguments).good()).unwrap();
        let from = fivefold::theory::PitchName::read(root).unwrap();
        symbols(&report)
            .iter()
            .map(|s| {
                let chord = *symbol::read(s).unwrap().chord().unwrap();
                let up = 12 + chord.root().pitch_class().value() - from.pitch_class().value();
                (
                    up % 12,
                    s.trim_start_matches(&chord.root().to_string()).to_owned(),
                )
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(degrees("A"), degrees("Eb"));
    // A key on the root that is named is no contradiction.
    jam(&["--key", "A minor", "--show"]).good();
}

#[test]
fn the_same_seed_gives_the_same_and_a_fresh_one_is_told() {
    assert_eq!(jam(&["--show"]).good(), jam(&["--show"]).good());
    let fresh_one = fresh(&["jam", "--set", "A minor pentatonic", "--show", "--json"]).good();
    let report: Value = serde_json::from_str(&fresh_one).unwrap();
    let seed = report["seed"].as_u64().unwrap().to_string();
    let arguments = [
        "jam",
        "--set",
        "A minor pentatonic",
        "--show",
        "--json",
        "--seed",
        &seed,
    ];
    assert_eq!(fresh(&arguments).good(), fresh_one);
}

#[test]
fn json_fields_and_exact_fractions() {
    let report = report(&["--why", "--likeliest", "3"]);
    let mut fields: Vec<&String> = report.as_object().unwrap().keys().collect();
    fields.sort();
    assert_eq!(
        fields,
        [
            "bars",
            "chart",
            "count",
            "home",
            "likeliest",
            "palette",
            "plan",
            "rule",
            "seed",
            "sequence_odds",
            "set",
            "weights"
        ]
    );
    let exact = |odds: &Value| -> (u128, u128) {
        let number = |field: &str| {
            let text = odds[field].as_str().unwrap();
            assert!(text.bytes().all(|b| b.is_ascii_digit()), "{text}");
            text.parse::<u128>().unwrap()
        };
        let (share, total) = (number("share"), number("total"));
        assert!(0 < share && share <= total, "{odds}");
        let quotient = share as f64 / total as f64;
        assert!((odds["probability"].as_f64().unwrap() - quotient).abs() < 1e-12);
        (share, total)
    };
    for odds in [
        &report["plan"]["odds"],
        &report["palette"]["size_odds"],
        &report["palette"]["odds"],
        &report["sequence_odds"],
    ] {
        exact(odds);
    }
    let own = exact(&report["sequence_odds"]);
    let likeliest = report["likeliest"].as_array().unwrap();
    let odds: Vec<(u128, u128)> = likeliest.iter().map(|l| exact(&l["odds"])).collect();
    assert_eq!(odds.len(), 3);
    assert!(odds.windows(2).all(|w| w[0].0 >= w[1].0), "{odds:?}");
    assert!(odds[0].0 >= own.0);
    assert!(odds.iter().all(|o| o.1 == own.1));
    for likely in likeliest {
        let chords: BTreeSet<&str> = texts(&likely["chords"]).into_iter().collect();
        let palette: BTreeSet<&str> = texts(&report["palette"]["chords"]).into_iter().collect();
        assert_eq!(chords, palette);
    }
    assert!(report["count"].as_str().unwrap().parse::<u128>().unwrap() > 1000);
    for weight in report["weights"].as_array().unwrap() {
        assert!(weight["weight"].is_u64() && !weight["reason"].as_str().unwrap().is_empty());
    }
    // The bars are those of the chart, judged as `fit` judges them.
    let set = Scale::read("A minor pentatonic").unwrap();
    let mut text = String::new();
    for (number, bar) in (1..).zip(report["bars"].as_array().unwrap()) {
        assert_eq!(bar["bar"], number);
        let chord = &bar["chords"][0];
        let name = chord["symbol"].as_str().unwrap();
        text.push_str(&format!("| {name} "));
        let found = fit(&symbol::read(name).unwrap(), &set, &set.home().unwrap());
        let shared: Vec<String> = found.shared.iter().map(ToString::to_string).collect();
        assert_eq!(texts(&chord["shared"]), shared);
        assert_eq!(
            chord["fit"]["rubs"].as_array().unwrap().len(),
            found.rubs.len()
        );
    }
    let shown = report["chart"].as_str().unwrap().replace("|\n|", "|");
    assert_eq!(format!("{text}|"), shown);
}

#[test]
fn the_likeliest_sequences_are_the_most_there_are() {
    // All sequences of a small jam, counted: their shares add up to the total.
    let report = report(&[
        "--why",
        "--length",
        "4",
        "--different",
        "3",
        "--likeliest",
        "100",
    ]);
    let all = report["likeliest"].as_array().unwrap();
    let share = |l: &Value| {
        l["odds"]["share"]
            .as_str()
            .unwrap()
            .parse::<u128>()
            .unwrap()
    };
    let total: u128 = report["sequence_odds"]["total"]
        .as_str()
        .unwrap()
        .parse()
        .unwrap();
    assert!(all.len() < 100, "{}", all.len());
    assert_eq!(all.iter().map(share).sum::<u128>(), total);
    let different: BTreeSet<Vec<&str>> = all.iter().map(|l| texts(&l["chords"])).collect();
    assert_eq!(different.len(), all.len());
}

#[test]
fn odds_and_counts_come_only_when_asked_why() {
    let text = jam(&["--show", "--likeliest", "2"]).good();
    for word in ["plan", "palette", "sequence", "ways", "(", "%"] {
        assert!(!text.contains(word), "{word}: {text}");
    }
    assert_eq!(text.lines().count(), 3 + 9 + 2);
    let json = jam(&["--show", "--likeliest", "2", "--json"]).good();
    for field in ["odds", "count", "weights", "probability"] {
        assert!(!json.contains(field), "{field}: {json}");
    }
    let why = jam(&["--show", "--why"]).good();
    let count: u128 = why
        .lines()
        .find_map(|l| l.strip_prefix("in all")?.trim().strip_suffix(" ways"))
        .unwrap()
        .parse()
        .unwrap();
    assert!(count > 1000 && why.contains("%)"), "{why}");
}

#[test]
fn the_chords_of_every_pass_are_shown() {
    let options = ["--length", "4", "--seed", "2", "--show"];
    let keys = ["--keys", "A minor, Eb minor"];
    let text = fresh(&[&SET[..3], &options, &keys].concat()).good();
    insta::assert_snapshot!(text, @"
    A minor pentatonic: A C D E G, rule inside, seed 2
    | Am | Am | D5 | D5 |
      bar  chord  notes of the set in the chord
        1  Am     A C E
        2  Am     A C E
        3  D5     A D
        4  D5     A D
    pass 1 in A minor
    | Am | Am | D5 | D5 |
    pass 2 in Eb minor
    | Ebm | Ebm | Ab5 | Ab5 |
    ");
    let fourths = fresh(&[&SET[..3], &options, &["--keys", "fourths"]].concat()).good();
    let passes: Vec<&str> = fourths.lines().filter(|l| l.starts_with("pass ")).collect();
    assert_eq!(passes.len(), 12);
    assert_eq!(passes[11], "pass 12 in E minor");
    // An endless jam draws a new progression in each key.
    let endless = [&SET[..], &["--show", "--json", "--endless"], &keys].concat();
    let report: Value = serde_json::from_str(&fresh(&endless).good()).unwrap();
    let passes = report["passes"].as_array().unwrap();
    assert_eq!(passes.len(), 2);
    assert_eq!(passes[0]["chart"], report["chart"]);
    assert_eq!(
        (&passes[1]["pass"], &passes[1]["key"]),
        (&2.into(), &"Eb minor".into())
    );
    let moved = Scale::read("Eb minor pentatonic").unwrap();
    let second = passes[1]["chart"].as_str().unwrap();
    for name in second.split(['|', ' ', '\n']).filter(|n| !n.is_empty()) {
        let found = fit(&symbol::read(name).unwrap(), &moved, &moved.home().unwrap());
        assert!(found.inside(), "{name}");
    }
    // Without keys there is nothing to list.
    assert!(!jam(&["--show"]).good().contains("pass"));
}

#[test]
fn check_shows_the_chords_in_every_key() {
    let folder = TempDir::new().unwrap();
    let lines = "keys = \"A minor, D minor\"\ntimes = 2\nending = \"none\"";
    write(
        folder.path(),
        "a.toml",
        document(lines, "| Am | C | Dm | (3/4) E7 | Am |"),
    );
    insta::assert_snapshot!(run(folder.path(), &["check", "a.toml"]).good(), @"
    untitled
    A minor, 4/4, tempo 90
    count-in of 1 bar, 20 bars, parts click pads bass, seed 1
    [A]
        1    0:02.7      90  | Am   | C    | Dm   | (3/4) E7   |
        5    0:12.7      90  | Am   |
    pass 2 from bar 6, 0:14.7, D minor, tempo 90
    [A]
        6    0:14.7      90  | Dm   | F    | Gm   | (3/4) A7   |
       10    0:24.7      90  | Dm   |
    pass 3 from bar 11, 0:26.7, A minor, as pass 1, tempo 90
    pass 4 from bar 16, 0:38.7, D minor, as pass 2, tempo 90
    end      0:50.7
    ");
    // Of endless keys each is shown once.
    let lines = "keys = \"fourths\"\ntimes = \"endless\"";
    write(folder.path(), "b.toml", document(lines, "| Am |"));
    let text = run(folder.path(), &["check", "b.toml"]).good();
    assert!(text.contains("| Em"), "{text}");
    assert!(
        text.contains("pass 13 from bar 13, 0:34.7, A minor, as pass 1, tempo 90\n"),
        "{text}"
    );
    assert!(text.ends_with("  and so on\n"), "{text}");
}

#[test]
fn help_says_whom_each_rule_serves() {
    for command in ["jam", "check"] {
        let help = fresh(&[command, "--help"]).good();
        for (rule, person) in [
            ("inside", "beginner"),
            ("clear", "player who wants fuller chords"),
            ("home", "player who listens"),
            ("blues", "blues player"),
        ] {
            let begins = format!("  {rule} ");
            let line = help.lines().find(|l| l.starts_with(&begins));
            assert!(line.unwrap().contains(person), "{command} {rule}: {help}");
        }
    }
}

#[test]
fn showing_never_plays_nor_writes() {
    let folder = TempDir::new().unwrap();
    let options = [&SET[..], &["--show", "-o", "x.mid", "-o", "x.toml"]].concat();
    let error = run(folder.path(), &options).refused();
    assert!(
        error.contains("--show") && error.contains("--output"),
        "{error}"
    );
    assert_eq!(names(folder.path()), [] as [&str; 0]);
    run(folder.path(), &[&SET[..], &["--show"]].concat()).good();
    assert_eq!(names(folder.path()), [] as [&str; 0]);
}

#[test]
fn keys_in_every_order_are_passes() {
    let roots = |keys: &str| -> Vec<String> {
        let options = [
            "jam",
            "--set",
            "C major pentatonic",
            "--seed",
            "7",
            "--length",
            "2",
        ];
        let rest = ["--different", "2", "--keys", keys, "--count-in", "0"];
        let events = stream(&[&options[..], &rest].concat());
        of_kind(&events, "key")
            .iter()
            .map(|e| {
                assert_eq!(e["minor"], false);
                e["fifths"].as_i64().unwrap().to_string()
            })
            .collect()
    };
    assert_eq!(roots("fourths").join(" "), "0 -1 -2 -3 -4 -5 -6 5 4 3 2 1");
    assert_eq!(roots("fifths").join(" "), "0 1 2 3 4 5 6 -5 -4 -3 -2 -1");
    assert_eq!(roots("semitones").join(" "), "0 -5 2 -3 4 -1 6 1 -4 3 -2 5");
    let mut shuffled: Vec<i64> = roots("shuffle")
        .iter()
        .map(|k| k.parse().unwrap())
        .collect();
    assert_eq!(shuffled[0], 0);
    assert_eq!(roots("shuffle"), roots("shuffle"));
    shuffled.sort_unstable();
    assert_eq!(shuffled, (-6..=5).collect::<Vec<i64>>());
    assert_eq!(roots("G, D major").join(" "), "1 2");
}

/// The chords of each pass as the markers of an event stream have them, under the name of their section.
fn passes(events: &[Value]) -> Vec<(String, Vec<String>)> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    for marker in of_kind(events, "marker") {
        let text = marker["text"].as_str().unwrap();
        if text.starts_with("[jam ") {
            found.push((text.to_owned(), Vec::new()));
        } else if let Some((_, chords)) = found.last_mut() {
            chords.push(text.to_owned());
        }
    }
    found
}

#[test]
fn an_endless_jam_makes_a_new_progression_for_each_pass() {
    let options = [&SET[..], &["--endless", "--for", "2min"]].concat();
    let events = stream(&options);
    assert_eq!(events, stream(&options));
    let passes = passes(&events);
    // 2 minutes at 90 are 45 bars of 2.67 seconds, eight to a pass.
    assert_eq!(passes.len(), 6);
    let set = Scale::read("A minor pentatonic").unwrap();
    for (number, (section, chords)) in (1..).zip(&passes) {
        assert_eq!(*section, format!("[jam {number}]"));
        for chord in chords {
            let found = fit(&symbol::read(chord).unwrap(), &set, &set.home().unwrap());
            assert!(found.inside(), "{chord}");
        }
    }
    let whole: BTreeSet<&Vec<String>> = passes[..5].iter().map(|p| &p.1).collect();
    assert!(whole.len() >= 4, "{passes:?}");
    // The first pass is what is shown.
    let mut shown = symbols(&report(&[]));
    shown.dedup();
    assert_eq!(passes[0].1, shown);
    let end = of_kind(&events, "end")[0]["tick"].as_u64().unwrap();
    assert_eq!(end, 46 * 3840);
}

#[test]
fn an_endless_jam_goes_through_keys() {
    let rest = [
        "--endless",
        "--bars",
        "32",
        "--keys",
        "A minor, D minor, F minor",
    ];
    let events = stream(&[&SET[..], &rest].concat());
    let signatures: Vec<i64> = of_kind(&events, "key")
        .iter()
        .map(|e| e["fifths"].as_i64().unwrap())
        .collect();
    assert_eq!(signatures, [0, -1, -4, 0]);
    let sets =
        ["A", "D", "F", "A"].map(|root| Scale::read(&format!("{root} minor pentatonic")).unwrap());
    let passes = passes(&events);
    assert_eq!(passes.len(), 4);
    for (set, (section, chords)) in sets.iter().zip(&passes) {
        for chord in chords {
            let found = fit(&symbol::read(chord).unwrap(), set, &set.home().unwrap());
            assert!(found.inside(), "{chord} in {section} over {set}");
        }
    }
}

#[test]
fn an_endless_jam_needs_an_end_to_be_written() {
    let mut all = String::new();
    for (name, options) in [
        ("endless", &["--endless", "-o", "x.mid"][..]),
        ("times endless", &["--times", "endless", "-o", "x.jsonl"]),
        ("document", &["--endless", "-o", "x.toml"]),
        (
            "both",
            &["--endless", "--bars=8", "-o", "x.mid", "-o", "x.toml"],
        ),
        ("excerpt", &["--bars=8", "-o", "x.toml"]),
    ] {
        let folder = TempDir::new().unwrap();
        let ran = run(folder.path(), &[&SET[..], options].concat());
        assert_eq!(ran.status, 2, "{name}");
        assert_eq!(names(folder.path()), [] as [&str; 0], "{name}");
        all.push_str(&said(name, &ran.err));
    }
    insta::assert_snapshot!(all, @"
    endless
      Error: an endless piece cannot be written to a file.
      Say how much of it: `--for 10min` or `--bars 64`.
    times endless
      Error: an endless piece cannot be written to a file.
      Say how much of it: `--for 10min` or `--bars 64`.
    document
      Error: a document holds one progression, and `--endless` draws a new one for each pass: x.toml.
      Leave `--endless` out, or write a .mid or .jsonl file.
    both
      Error: a document holds one progression, and `--endless` draws a new one for each pass: x.toml.
      Leave `--endless` out, or write a .mid or .jsonl file.
    excerpt
      Error: a document holds the whole piece, and `--bars` asks for a part of it.
      Leave `--bars` out, or write x.toml by itself.
    ");
    let error = jam(&["--endless", "--times", "2", "--show"]).refused();
    assert!(
        error.contains("--times") && error.contains("--endless"),
        "{error}"
    );
}

fn document(lines: &str, chart: &str) -> String {
    format!("key = \"A minor\"\n{lines}\n[sections]\nA = \"{chart}\"\n")
}

#[test]
fn check_answers_whether_chords_fit() {
    let folder = TempDir::new().unwrap();
    let pentatonic = "set = \"A minor pentatonic\"";
    let files = [
        (
            "good",
            format!("{pentatonic}\nfit = \"inside\""),
            "| Am7 | C | D7sus4 |",
        ),
        (
            "bad",
            format!("{pentatonic}\nfit = \"inside\""),
            "| Am7 | G | Dm |",
        ),
        ("free", pentatonic.to_owned(), "| Am7 | G | Dm |"),
        (
            "other",
            "set = \"A hirajoshi\"\nfit = \"blues\"".to_owned(),
            "| Am |",
        ),
        ("none", "fit = \"inside\"".to_owned(), "| Am |"),
    ];
    for (name, lines, chart) in &files {
        write(
            folder.path(),
            &format!("{name}.toml"),
            document(lines, chart),
        );
    }
    let ran = |arguments: &[&str]| run(folder.path(), &[&["check"], arguments].concat());
    ran(&["good.toml"]).good();
    ran(&["free.toml"]).good();
    ran(&["free.toml", "--fit", "home"]).good();
    // The option goes before the document.
    ran(&["bad.toml", "--fit", "home"]).good();
    let no = |arguments: &[&str]| {
        let ran = ran(arguments);
        assert_eq!((ran.status, ran.err.as_str()), (1, ""), "{ran:?}");
        ran.out
    };
    insta::assert_snapshot!(no(&["bad.toml"]), @"
    untitled
    A minor, 4/4, tempo 90
    count-in of 1 bar, 3 bars, ending of 1 bar, parts click pads bass, seed 1
    [A]
        1    0:02.7      90  | Am7  | G    | Dm   |
    [ending]
        4    0:10.7      90  | Am7  |
    end      0:13.3
    set    A minor pentatonic: A C D E G, heard in A minor
           Am7  inside clear home blues
           G    -      -     home blues  C rubs on B
           Dm   -      clear home blues
    not inside: G in bar 2: B not in the set
    not inside: Dm in bar 3: F not in the set
    ");
    let verdicts = |arguments: &[&str]| -> String {
        let lines = no(arguments);
        let lines = lines.lines().filter(|l| l.starts_with("not "));
        lines.collect::<Vec<_>>().join("\n")
    };
    insta::assert_snapshot!(verdicts(&["free.toml", "--fit", "clear"]), @"not clear: G in bar 2: C over B rubs");
    assert_eq!(
        verdicts(&["free.toml", "--fit", "inside"]),
        verdicts(&["bad.toml"])
    );
    // In JSON each chord has its verdict.
    let report: Value = serde_json::from_str(&no(&["bad.toml", "--json"])).unwrap();
    assert_eq!(report["bars"][1]["chords"][0]["fit"]["inside"], true);
    assert_eq!(report["bars"][2]["chords"][0]["fit"]["inside"], false);
    let mut all = String::new();
    for arguments in [
        &["free.toml", "--fit", "insid"][..],
        &["other.toml"],
        &["other.toml", "--fit", "blues"],
        &["none.toml"],
        &["| Am |", "--fit", "clear"],
    ] {
        all.push_str(&said(&arguments.join(" "), &ran(arguments).refused()));
    }
    insta::assert_snapshot!(all, @"
    free.toml --fit insid
      Error: `--fit` is `inside`, `clear`, `home`, `home with V` or `blues`, found `insid`.
      Write `--fit inside`.
    other.toml
      Error: the blues rule is for minor and major pentatonic and blues sets.
      Choose `--fit inside`, `--fit clear` or `--fit home`.
    other.toml --fit blues
      Error: the blues rule is for minor and major pentatonic and blues sets.
      Choose `--fit inside`, `--fit clear` or `--fit home`.
    none.toml
      Error: a rule of fit needs a set.
      Say which: `--set 'A minor pentatonic'`.
    | Am | --fit clear
      Error: a rule of fit needs a set.
      Say which: `--set 'A minor pentatonic'`.
    ");
}

#[test]
fn check_judges_the_ending_in_its_own_key() {
    let folder = TempDir::new().unwrap();
    let lines = "set = \"A minor pentatonic\"\nkeys = \"A minor, D minor\"\nfit = \"inside\"";
    write(folder.path(), "a.toml", document(lines, "| Am | Dsus4 |"));
    run(folder.path(), &["check", "a.toml"]).good();
    let report = run(folder.path(), &["check", "a.toml", "--json"]).good();
    let report: Value = serde_json::from_str(&report).unwrap();
    let last = report["bars"].as_array().unwrap().last().unwrap();
    assert_eq!(last["chords"][0]["symbol"], "Dm");
    assert_eq!(last["chords"][0]["fit"]["inside"], true);
    // F is not in the set, and sounds as a C in the key of the last pass; C over A minor's set is another matter.
    let lines = lines.replace("D minor", "E minor");
    let ending = document(&lines, "| Am | C |") + "ending = \"| F |\"\n";
    write(folder.path(), "b.toml", ending);
    let ran = run(folder.path(), &["check", "b.toml"]);
    assert_eq!(ran.status, 1, "{ran:?}");
    let verdict = ran.out.lines().last().unwrap();
    assert_eq!(verdict, "not inside: C in bar 5: C not in the set");
}
