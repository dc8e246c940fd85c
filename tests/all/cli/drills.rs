//! Drills, routines and the log, as they are typed.

use super::*;
use crate::json::filled_log;

/// The shown text with the seed and the day of this run made plain.
fn good(arguments: &[&str]) -> String {
    fresh(arguments).good()
}

#[test]
fn what_will_be_asked() {
    insta::assert_snapshot!(good(&["drill", "roots", "--show", "--seed", "3", "--asks", "4", "--no-log"]), @"
    bar   1  C on string 5  string 5 fret 3
    bar   3  B on string 6  string 6 fret 7
    bar   5  D on string 5  string 5 fret 5
    bar   7  G on string 6  string 6 fret 3
    ");
    insta::assert_snapshot!(good(&[
        "drill", "roots", "--show", "--seed", "3", "--asks", "2", "--no-log", "--shape", "minor pentatonic", "--notes",
        "beside", "--strings", "6", "--beats", "8"
    ]), @"
    bar   1  D on string 6, beside C#               string 6 fret 10
    bar   4  b3 of D minor pentatonic on string 6   string 6 fret 13
    bar   7  A# on string 6, beside A               string 6 fret 6
    bar  10  b3 of A# minor pentatonic on string 6  string 6 fret 9
    ");
    let json = good(&[
        "drill", "roots", "--show", "--seed", "3", "--asks", "4", "--no-log", "--json",
    ]);
    let value: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(value["exercise"], "roots on 6 5, marked");
    assert_eq!(value["asks"].as_array().unwrap().len(), 4);
}

#[test]
fn a_drill_is_written_like_any_piece() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("roots.toml");
    let path = path.to_str().unwrap();
    let write = [
        "drill", "roots", "--seed", "3", "--asks", "3", "-o", path, "-o", "a.mid", "-o", "a.jsonl",
    ];
    assert_eq!(run(folder.path(), &write).status, 0);
    // Written from the document, the file is the same to the byte.
    let again = ["play", path, "-o", "b.mid", "-o", "b.jsonl"];
    assert_eq!(run(folder.path(), &again).status, 0);
    for (a, b) in [("a.mid", "b.mid"), ("a.jsonl", "b.jsonl")] {
        let read = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
        assert_eq!(read(a), read(b));
    }
    // Nothing was played, so nothing is in the log.
    let log = run(folder.path(), &["log"]);
    assert!(
        log.out.starts_with("nothing is in the log of me"),
        "{}",
        log.out
    );
}

#[test]
fn mistakes_about_drills() {
    let mut told = String::new();
    for arguments in [
        &["drill", "roots", "--strings", "7"][..],
        &["drill", "roots", "--strings", "six"],
        &["drill", "roots", "--notes", "markd"],
        &["drill", "roots", "--asks", "0"],
        &["drill", "roots", "--beats", "1"],
        &["drill", "roots", "--for", "8 bars"],
        &["drill", "roots", "--goal", "eighty"],
        &["drill", "roots", "--shape", "minor pentatonik"],
        &["drill", "roots", "--who", ""],
        &["drill", "root"],
        &["log", "--since", "yesterday"],
        &["log", "--withdraw", "99"],
        &["log", "--forget", "Nobody", "--force"],
        &["log", "--forget", "Nobody"],
        &["practice", "first-half-our"],
    ] {
        told += &fresh(arguments).refused();
    }
    insta::assert_snapshot!(told, @"
    Error: a string is a number from 1, the highest, to 6, found `7`.
      Write `--strings 6,5` for the two lowest.
    Error: a string is a number from 1, the highest, to 6, found `six`.
      Write `--strings 6,5` for the two lowest.
    Error: `--notes` is `marked`, `beside`, `natural` or `all`, found `markd`.
      Write `--notes marked`.
    Error: `--asks` is a whole number, 1 to 500, found `0`.
      Write `--asks 1`.
    Error: `--beats` is a whole number, 2 to 64, found `1`.
      Write `--beats 2`.
    Error: a drill is timed in minutes or seconds, found `8 bars`.
      Write `--for 5min`.
    Error: a goal is a share from 1% to 100%, found `eighty`.
      Write `--goal 80%`.
    Error in `--shape`: expected a known scale, found `minor pentatonik`.
        minor pentatonik
        ~~~~~~~~~~~~~~~~
      Write `minor pentatonic`.
    Error in `--who`: a player's name is 1 to 64 characters in one line, found nothing.
      Write a short name, such as Ada.
    Error: `fivefold drill` has no command `root`.
      Write `fivefold drill roots`.
    Error: `--since` is so many days or weeks back or a date, found `yesterday`.
      Write `--since 1d`.
    Error: there is no take 99.
      Choose one that is listed.
    Error: there is no player Nobody.
      Choose one who is listed.
    Error: all takes of Nobody would be removed for good.
      Add `--force` to do so.
    Error: first-half-our is no file and no ready routine.
      Write `fivefold practice first-half-hour`; `fivefold list routines` shows all.
    ");
}

#[test]
fn routines_are_shown_and_their_mistakes_are_told_before_anything_plays() {
    let folder = TempDir::new().unwrap();
    let text = "title = \"Tuesday\"\nabout = \"roots\"\n[[items]]\ndrill = \"roots --notes natural\"\nminutes = 5\ngoal = 80\n\
                [[items]]\nrest = \"shake out both hands\"\nminutes = 1\n";
    std::fs::write(folder.path().join("r.toml"), text).unwrap();
    let shown = run(folder.path(), &["practice", "r.toml", "--show", "--no-log"]).good();
    insta::assert_snapshot!(shown, @"
    Tuesday, 6 minutes
    roots
     1   5 min  drill roots --notes natural, goal 80 %
     2   1 min  rest shake out both hands
    ");
    let mut told = String::new();
    for text in [
        "[[items]]\ndrill = \"roots --note marked\"\nminutes = 5\n",
        "[[items]]\ndrill = \"roots 'open\"\nminutes = 5\n",
        "[[items]]\npiece = \"low-tide --help\"\nminutes = 5\n",
        "[[items]]\nrest = \"x\"\n",
    ] {
        std::fs::write(folder.path().join("r.toml"), text).unwrap();
        told += &run(folder.path(), &["practice", "r.toml", "--show", "--no-log"]).refused();
    }
    insta::assert_snapshot!(told, @r#"
    Error in line 2 of r.toml: item 1: `fivefold drill roots` has no option `--note`.
        drill = "roots --note marked"
                ~~~~~~~~~~~~~~~~~~~~~
      Write `--notes`.
    Error in line 2 of r.toml: item 1: a quotation mark is not closed.
        drill = "roots 'open"
                ~~~~~~~~~~~~~
      Close it.
    Error in line 2 of r.toml: item 1: this shows help, and plays nothing.
        piece = "low-tide --help"
                ~~~~~~~~~~~~~~~~~
      Leave `--help` out.
    Error in line 1 of r.toml: an item has no `minutes`.
        [[items]]
        ~~~~~~~~~
      Write `minutes = 5`.
    "#);
}

#[test]
fn ready_routines_can_be_played_item_by_item() {
    for name in ["first-half-hour", "open-chords", "teacher-warm-up"] {
        // Each item is read as a command before anything is shown.
        let shown = good(&["practice", name, "--show", "--no-log"]);
        assert!(shown.lines().count() >= 5, "{shown}");
        assert!(good(&["list", "routines"]).contains(name));
    }
    insta::assert_snapshot!(good(&["practice", "first-half-hour", "--show", "--no-log"]), @"
    A first half hour, 29 minutes
    a shape of the scale, its degrees, chord changes, and roots on the two low strings
     1   6 min  drill scale 'A minor pentatonic' --string 6
     2   1 min  rest put the guitar down and shake out both hands
     3   5 min  drill degrees 'A minor pentatonic'
     4   6 min  drill changes 'Em Am'
     5   1 min  rest stand up, let the shoulders drop
     6   5 min  drill roots --notes marked
     7   5 min  piece low-tide
    ");
}

/// What is of no use for files is refused; so is a font that cannot be read, before the folder is made.
#[test]
fn a_routine_as_files_takes_what_files_have() {
    let folder = TempDir::new().unwrap();
    let to = ["practice", "first-half-hour", "--no-log", "--to", "out"];
    for option in [
        &["--port", "x"][..],
        &["--sound", "x"],
        &["--pedals", "x"],
        &["--strokes", "x"],
        &["--answers", "x"],
        &["--from", "2"],
        &["--lines"],
        &["--still"],
    ] {
        let told = run(folder.path(), &[&to[..], option].concat()).refused();
        assert!(told.contains("do not go together"), "{option:?}: {told}");
    }
    let told = run(
        folder.path(),
        &[&to[..], &["--soundfont", "none.sf2"]].concat(),
    )
    .refused();
    assert!(told.contains("`none.sf2` cannot be read"), "{told}");
    assert!(!folder.path().join("out").exists());
}

#[test]
fn a_routine_as_files() {
    let folder = TempDir::new().unwrap();
    let text = "title = \"Tuesday\"\nabout = \"roots\"\n[[items]]\ndrill = \"roots --asks 2 --seed 4\"\nminutes = 5\n\
                [[items]]\nrest = \"shake out both hands\"\nminutes = 1\n\
                [[items]]\npiece = \"'| Am | G |'\"\nminutes = 1\nsay = \"softly\"\n";
    std::fs::write(folder.path().join("tuesday.toml"), text).unwrap();
    let ran = run(
        folder.path(),
        &["practice", "tuesday.toml", "--to", "out", "--no-log"],
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    let mut names: Vec<String> = std::fs::read_dir(folder.path().join("out"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            "01-drill-roots-asks-2-seed-4.mid",
            "01-drill-roots-asks-2-seed-4.pdf",
            "01-drill-roots-asks-2-seed-4.wav",
            "03-piece-am-g.mid",
            "03-piece-am-g.pdf",
            "03-piece-am-g.wav",
            "index.html",
            "index.txt",
        ]
    );
    let index = std::fs::read_to_string(folder.path().join("out/index.txt")).unwrap();
    insta::assert_snapshot!(index, @"
    Tuesday
    7 minutes
    roots

    Turn the volume down before you start, above all in headphones. Rests belong to it: if a hand or arm hurts,
    tingles or goes numb, stop, and ask a licensed clinician.

     1. 5 minutes: drill roots --asks 2 --seed 4
        01-drill-roots-asks-2-seed-4.mid
        01-drill-roots-asks-2-seed-4.wav
        01-drill-roots-asks-2-seed-4.pdf
     2. 1 minute: rest shake out both hands
     3. 1 minute: piece '| Am | G |'
        softly
        03-piece-am-g.mid
        03-piece-am-g.wav
        03-piece-am-g.pdf
    ");
    // Every file is linked, and nothing else.
    let page = std::fs::read_to_string(folder.path().join("out/index.html")).unwrap();
    let linked: Vec<&str> = page
        .split("href=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap())
        .collect();
    assert_eq!(linked.len(), 6);
    assert!(
        linked
            .iter()
            .all(|file| names.iter().any(|name| name == file))
    );
    assert!(page.contains("<p dir=\"auto\">softly</p>"));
}

#[test]
fn the_log_on_screen_and_as_values() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("log.sqlite");
    let path = path.to_str().unwrap();
    filled_log(path);
    // What is due depends on the day of the run; the rest does not.
    let drawn = run(folder.path(), &["log", "--log", path, "-o", "pace.svg"]).good();
    assert_eq!(drawn, "wrote pace.svg\n");
    let picture = std::fs::read_to_string(folder.path().join("pace.svg")).unwrap();
    assert!(picture.contains("Pace over 14 takes"), "{picture}");
    let screen = run(folder.path(), &["log", "--log", path]).good();
    let (before, rest) = screen.split_once("\ndue: ").unwrap();
    let after = rest.split_once("\nweakest").unwrap().1;
    insta::assert_snapshot!(before, @"
    me: 21 minutes on 14 days, 0 minutes in the last seven
      scale: 14 takes, 21 minutes, 0 of 14 right

    pace, scale
       78.0             ||
       75.0          ||||o
       72.0       ||||ooo|
       69.0    ||||ooo||||
       66.0 ||||ooo||||
       63.0 |ooo||||
       60.0 o||||
       57.0 ||
      +7.0 a week, give or take 0.0
    ");
    insta::assert_snapshot!(after, @"
     notes and degrees
      G on string 6: 1 of 2 missed

    weakest keys
      A minor: 13 of 14 clean

    last takes
        14  2024-10-16  scale, 60, 0 of 1, clean
        13  2024-10-15  scale, 60, 0 of 1, clean
        12  2024-10-14  scale, 60, 0 of 1, clean
        11  2024-10-13  scale, 60, 0 of 1, clean
        10  2024-10-12  scale, 60, 0 of 1, clean
         9  2024-10-11  scale, 60, 0 of 1, clean
         8  2024-10-10  scale, 60, 0 of 1, clean
         7  2024-10-09  scale, 60, 0 of 1, clean
         6  2024-10-08  scale, 60, 0 of 1, clean
         5  2024-10-07  scale, 60, 0 of 1, clean
         4  2024-10-06  scale, 60, 0 of 1, clean
         3  2024-10-05  scale, 60, 0 of 1, clean
    ");
    let csv = run(folder.path(), &["log", "--log", path, "--csv"]).good();
    assert_eq!(csv.lines().count(), 15);
    insta::assert_snapshot!(csv.lines().take(2).collect::<Vec<_>>().join("\n"), @r#"
    take,began,offset_seconds,day,seconds,exercise,key,set,tempo,word,asked,right,withdrawn
    14,1729123200,3600,2024-10-16,90,"scale","A minor",,60,clean,1,0,false
    "#);
    // A take withdrawn, and brought back.
    assert_eq!(
        run(folder.path(), &["log", "--log", path, "--withdraw", "14"]).status,
        0
    );
    let screen = run(folder.path(), &["log", "--log", path]).good();
    assert!(
        screen.contains("13 takes") && screen.contains("withdrawn"),
        "{screen}"
    );
    assert_eq!(
        run(folder.path(), &["log", "--log", path, "--restore", "14"]).status,
        0
    );
    // A copy, which is not overwritten; then forgotten.
    let copy = ["log", "--log", path, "--copy", "copy.sqlite"];
    assert_eq!(run(folder.path(), &copy).status, 0);
    assert!(
        run(folder.path(), &copy)
            .refused()
            .contains("copy.sqlite exists")
    );
    assert_eq!(
        run(
            folder.path(),
            &["log", "--log", path, "--forget", "me", "--force"]
        )
        .status,
        0
    );
    let screen = run(folder.path(), &["log", "--log", path]).good();
    assert!(
        screen.starts_with("nothing is in the log of me"),
        "{screen}"
    );
}

#[test]
fn a_log_that_cannot_be_used_is_told_and_the_drill_goes_on() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("diary.txt");
    std::fs::write(&path, "dear diary").unwrap();
    let path = path.to_str().unwrap();
    let ran = run(
        folder.path(),
        &["drill", "roots", "--show", "--seed", "1", "--log", path],
    );
    assert_eq!(ran.status, 0);
    assert!(
        ran.err
            .contains("is not a log of this program; nothing is written down"),
        "{}",
        ran.err
    );
    assert_eq!(std::fs::read_to_string(path).unwrap(), "dear diary");
    let told = run(folder.path(), &["log", "--log", path]).refused();
    assert!(
        told.contains("Name another file; this one was left as it is"),
        "{told}"
    );
}

#[test]
fn changes_are_kept_added_to_and_taken_back() {
    let folder = TempDir::new().unwrap();
    let told = |words: &[&str]| {
        let mut all = vec!["drill", "changes", "--show", "--seed", "1"];
        all.extend(words);
        let ran = run(folder.path(), &all);
        assert_eq!(ran.status, 0, "{}", ran.err);
        ran.err.lines().next().unwrap_or("").to_owned()
    };
    let usual = "C A Am G E Em D Dm: open major forms, each followed by its open minor";
    assert_eq!(told(&[]), usual);
    assert_eq!(
        told(&["--order", "easy"]),
        "Em E Am A D Dm C G: small changes first"
    );
    assert_eq!(told(&["Am,", "C"]), "Am C: as you named them");
    let kept = "as you named them before; `--order usual` takes that back";
    assert_eq!(told(&["--add", "F"]), format!("Am C F: {kept}"));
    assert_eq!(told(&[]), format!("Am C F: {kept}"));
    // Another player has the usual ones.
    assert_eq!(told(&["--who", "Robin"]), usual);
    assert_eq!(told(&["--order", "usual"]), usual);
    assert_eq!(told(&[]), usual);
}

#[test]
fn mistakes_about_changes() {
    for (words, wanted) in [
        (
            &["C"][..],
            "changes are from chord to chord, found 1 chord.",
        ),
        (&["N.C.", "C"], "`N.C.` is no chord to hold."),
        (&["I", "IV"], "`I` needs a key."),
        (&["Q", "C"], "expected a root A to G, found `Q`."),
        (
            &["C", "Am", "--tuning", "E2 E2 E2 E2"],
            "C has no shape on this neck.",
        ),
        (
            &["--order", "odd"],
            "`--order` is `usual` or `easy`, found `odd`.",
        ),
        (
            &["--beats", "17"],
            "`--beats` is a whole number, 1 to 16, found `17`.",
        ),
        (
            &["Am", "C", "--free", "--beats", "2"],
            "`--free` and `--beats` do not go together.",
        ),
    ] {
        let mut all = vec!["drill", "changes", "--no-log", "--show"];
        all.extend(words);
        let ran = fresh(&all);
        assert_eq!(ran.status, 2, "{words:?}");
        assert!(ran.err.contains(wanted), "{words:?}: {}", ran.err);
        assert!(ran.out.is_empty());
    }
}

/// The plan that is in a document.
fn plan_of(document: &str) -> String {
    let value: toml::Table = document.parse().unwrap();
    value["tempo"].as_str().unwrap().to_owned()
}

#[test]
fn the_next_tempo_is_by_the_log_by_a_ladder_or_as_wished() {
    use fivefold::log::{Log, Moment, Player, Take, Word};
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("log.sqlite");
    let path = path.to_str().unwrap();
    let show = [
        "drill",
        "scale",
        "A minor pentatonic",
        "--seed",
        "1",
        "--show",
        "--log",
        path,
    ];
    let plan = |more: &[&str]| {
        let ran = run(folder.path(), &[&show[..], more].concat());
        assert_eq!(ran.status, 0, "{}", ran.err);
        let document = ran.out.split_once("title =").unwrap().1;
        (plan_of(&format!("title ={document}")), ran.err)
    };
    let name = run(folder.path(), &[&show[..], &["--json"]].concat()).good();
    let name: serde_json::Value = serde_json::from_str(name.lines().last().unwrap()).unwrap();
    assert_eq!(plan_of(name["document"].as_str().unwrap()), "60");
    let mut log = Log::open(std::path::Path::new(path), Box::new(|_, _, _| None)).unwrap();
    let mut add = |tempo_milli, word| {
        log.add(&Take {
            player: Player::default(),
            began: Moment {
                unix_seconds: 20_000 * 86_400,
                offset_seconds: 0,
            },
            seconds: 60,
            exercise: name["exercise"].as_str().unwrap().to_owned(),
            title: "Scale".to_owned(),
            document: String::new(),
            seed: 1,
            key: None,
            set: None,
            plan: "60".to_owned(),
            tempo_milli: Some(tempo_milli),
            word: Some(word),
            before: None,
            after: None,
            asks: Vec::new(),
        })
        .unwrap();
    };
    // A ladder starts at its foot, whatever the pace is.
    assert_eq!(plan(&["--ladder", "72 to 78 by 4 every 2"]).0, "72");
    add(72_000, Word::Clean);
    add(90_000, Word::Clean);
    let (tempo, told) = plan(&["--ladder", "72 to 78 by 4 every 2"]);
    assert_eq!(tempo, "72");
    assert!(
        told.contains("1 clean take to the next step; this take at 72"),
        "{told}"
    );
    add(72_000, Word::Clean);
    assert_eq!(plan(&["--ladder", "72 to 78 by 4 every 2"]).0, "76");
    add(76_000, Word::Missed);
    add(76_000, Word::Clean);
    add(76_000, Word::Clean);
    let (tempo, told) = plan(&["--ladder", "72 to 78 by 4 every 2"]);
    assert_eq!(tempo, "78");
    assert!(told.contains("the top of the ladder"), "{told}");
    // By the last take, at 76.
    assert_eq!(plan(&["--pace", "hold"]).0, "76");
    assert_eq!(plan(&["--pace", "faster"]).0, "79");
    assert_eq!(plan(&["--pace", "slower"]).0, "73");
    assert_eq!(plan(&["--tempo", "64"]).0, "64");
    // What the hands can do and what is practiced, at the shares asked for.
    let told = plan(&["--pace", "practice"]).1;
    let words = |told: &str| told.split(';').next().unwrap().to_owned();
    let number = |words: &str, word: &str| -> u32 {
        let rest = words.split_once(word).unwrap().1.trim();
        let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
        digits.parse().unwrap()
    };
    let usual = words(&told);
    let eager = words(&plan(&["--can", "60%", "--practice", "75%"]).1);
    assert!(
        number(&eager, "can") > number(&usual, "can"),
        "{eager} {usual}"
    );
    // The first guess is that of `--can`, so the two are nearly the same.
    let off = number(&eager, "practice").abs_diff(number(&usual, "can"));
    assert!(off <= 2, "{eager} {usual}");
}

#[test]
fn mistakes_about_the_tempo() {
    let mut told = String::new();
    for words in [
        &["--pace", "quick"][..],
        &["--ladder", "60-90"],
        &["--ladder", "90 to 60 by 4"],
        &["--ladder", "60 to 90 by 0"],
        &["--ladder", "60 to 90 by 4", "--pace", "hold"],
        &["--tempo", "80", "--ladder", "60 to 90 by 4"],
        &["--can", "99%"],
        &["--practice", "nine"],
    ] {
        let all = [
            &["drill", "scale", "A minor pentatonic", "--show", "--no-log"],
            words,
        ]
        .concat();
        told += &format!("{}\n{}", words.join(" "), fresh(&all).refused());
    }
    insta::assert_snapshot!(told, @"
    --pace quick
    Error: `--pace` is `test`, `practice`, `hold`, `faster` or `slower`, found `quick`.
      Write `--pace faster`.
    --ladder 60-90
    Error in `--ladder`: expected a ladder such as `60 to 96 by 4`, found `60-90`.
        60-90
        ~~~~~
      Write start, top and step, and how many clean takes a step needs: `60 to 96 by 4 every 3`.
    --ladder 90 to 60 by 4
    Error in `--ladder`: expected a top tempo of at least 90, where the ladder starts, found 60.
        90 to 60 by 4
        ~~~~~~~~~~~~~
      Write a top of 90 or more, or start lower.
    --ladder 60 to 90 by 0
    Error in `--ladder`: expected a step above 0 and up to 380 beats a minute, found 0.
        60 to 90 by 0
        ~~~~~~~~~~~~~
      Write the step in beats a minute, such as `4`.
    --ladder 60 to 90 by 4 --pace hold
    Error: `--ladder` and `--pace` do not go together.
      Leave one of the two out.
    --tempo 80 --ladder 60 to 90 by 4
    Error: `--tempo` and `--ladder` do not go together.
      Leave one of the two out.
    --can 99%
    Error: `--can` is a share of takes from 50% to 95%, found `99%`.
      Write `--can 75%`.
    --practice nine
    Error: `--practice` is a share of takes from 50% to 95%, found `nine`.
      Write `--practice 90%`.
    ");
}

#[test]
fn a_routine_in_turns() {
    insta::assert_snapshot!(good(&["practice", "teacher-warm-up", "--turns", "2", "--show", "--no-log"]), @"
    A teacher's warm-up, 10 minutes
    ten minutes before the first lesson: roots, a scale through the keys, and a jam
     1   2 min  drill roots --notes all --beats 3
     2   2 min  drill scale 'A minor pentatonic' --keys fourths --run thirds
     3   2 min  jam --set 'A minor pentatonic' --endless
     4   1 min  drill roots --notes all --beats 3
     5   2 min  drill scale 'A minor pentatonic' --keys fourths --run thirds
     6   1 min  jam --set 'A minor pentatonic' --endless
    ");
    let refused = fresh(&["practice", "--turns", "0", "--show"]).refused();
    assert!(refused.starts_with("Error: `--turns` is a whole number, 1 to 60, found `0`."));
}

#[test]
fn answers_sound_at_the_nanoseconds_that_are_written() {
    let folder = TempDir::new().unwrap();
    let drill = [
        "drill",
        "roots",
        "--seed",
        "3",
        "--asks",
        "5",
        "--tempo",
        "97 to 131",
        "-o",
        "roots.toml",
    ];
    assert_eq!(run(folder.path(), &drill).status, 0);
    let play = [
        "play",
        "roots.toml",
        "--parts",
        "guide",
        "--samples",
        "float",
        "-o",
        "a.jsonl",
        "-o",
        "a.wav",
    ];
    assert_eq!(run(folder.path(), &play).status, 0);
    let lines = std::fs::read_to_string(folder.path().join("a.jsonl")).unwrap();
    let answers: Vec<u64> = lines
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap())
        .filter(|line| line["kind"] == "answer")
        .map(|line| line["time_ns"].as_u64().unwrap())
        .collect();
    assert_eq!(answers.len(), 5);
    let sound = hound::WavReader::open(folder.path().join("a.wav")).unwrap();
    let rate_hz = u64::from(sound.spec().sample_rate);
    let samples: Vec<f32> = sound.into_samples::<f32>().map(Result::unwrap).collect();
    let silent = |frame: usize| samples[2 * frame] == 0.0 && samples[2 * frame + 1] == 0.0;
    // Between two answers all is silent for a while, so the first sound tells when the second begins.
    for at in answers {
        let nearest = (u128::from(at) * u128::from(rate_hz) + 500_000_000) / 1_000_000_000;
        let nearest = usize::try_from(nearest).unwrap();
        let heard = (nearest - 1000..nearest + 1000).find(|frame| !silent(*frame));
        assert_eq!(heard, Some(nearest), "{at} ns");
    }
}
