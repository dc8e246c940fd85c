//! Mistakes that people make, and advice that works.
//!
//! Whatever stands in backticks in an advice is typed in the place that is underlined, as the whole argument, or as the
//! option it names, and must run. Where what is meant cannot be known, an advice shows a form, and the mistake stands in
//! [`FORMS`] instead.

use super::{Ran, fresh};

/// A command with `TEXT` in the place of what is typed, and mistakes, each with what was meant; the advice must say that.
type Mistakes = (
    &'static [&'static str],
    &'static [(&'static str, &'static str)],
);

const MEANT: [Mistakes; 26] = [
    (
        &["chord", "TEXT"],
        &[
            ("H", "B"),
            ("H7", "B7"),
            ("Hm", "Bm"),
            ("Es", "Eb"),
            ("Esm7", "Ebm7"),
            ("As", "Ab"),
            ("Bes", "Bb"),
            ("Fis", "F#"),
            ("Fism", "F#m"),
            ("Cis7", "C#7"),
            ("Gis", "G#"),
            ("Des", "Db"),
            ("do", "C"),
            ("re", "D"),
            ("mi", "E"),
            ("fa", "F"),
            ("sol", "G"),
            ("la", "A"),
            ("si", "B"),
            ("sol7", "G7"),
            ("am", "Am"),
            ("am7", "Am7"),
            ("c#m", "C#m"),
            ("f", "F"),
            ("bbm7", "Bbm7"),
            ("Dis", "D#"),
            ("Ais7", "A#7"),
            ("Ges", "Gb"),
            ("Ces", "Cb"),
            ("Hm7b5", "Bm7b5"),
            ("Asmaj7", "Abmaj7"),
            ("ti", "B"),
            ("la7", "A7"),
            ("g7", "G7"),
            ("em", "Em"),
            ("d", "D"),
            ("C major 7", "Cmaj7"),
            ("C minor", "Cm"),
            ("F# minor 7", "F#m7"),
            ("C add 9", "Cadd9"),
            ("D sus", "Dsus"),
            ("Am / G", "Am/G"),
            ("C7 b9", "C7b9"),
        ],
    ),
    (
        &["chord", "TEXT", "--key", "C major"],
        &[
            ("V65", "57/7"),
            ("V43", "57/2"),
            ("V42", "57/4"),
            ("V64", "5/2"),
            ("I64", "1/5"),
            ("I63", "1/3"),
            ("ii65", "2m7/4"),
            ("IV64", "4/1"),
            ("I65", "1maj7/3"),
            ("ii\u{b0}6", "2\u{b0}/4"),
            ("vi64", "6m/3"),
            ("iii65", "3m7/5"),
            ("vi43", "6m7/3"),
            ("IV63", "4/6"),
            ("VIIb", "bVII"),
            ("IIIb7", "bIII7"),
            ("V of V", "V/V"),
        ],
    ),
    (
        &["scale", "TEXT"],
        &[
            ("H minor", "B minor"),
            ("A moll pentatonic", "A minor pentatonic"),
            ("a moll pentatonic", "A minor pentatonic"),
            ("C dur", "C major"),
            ("Fis moll", "F# minor"),
            ("Fis minor", "F# minor"),
            ("Es dorian", "Eb dorian"),
            ("a minor pentatonic", "A minor pentatonic"),
            ("A minor pentatonik", "A minor pentatonic"),
            ("A minor pentatonics", "A minor pentatonic"),
            ("A minr pentatonic", "A minor pentatonic"),
            ("C mayor", "C major"),
            ("D dorean", "D dorian"),
            ("G mixolidian", "G mixolydian"),
            ("A hirajosi", "A hirajoshi"),
            ("c major", "C major"),
            ("la minor", "A minor"),
            ("As major", "Ab major"),
            ("e minor blues", "E minor blues"),
            ("E minor bleus", "E minor blues"),
            ("A phrigian", "A phrygian"),
            ("F lidian", "F lydian"),
            ("B locrain", "B locrian"),
            ("A harmonic minr", "A harmonic minor"),
            ("A C D E G", "A minor pentatonic"),
            ("C D E F G A B", "C major"),
            ("E G A B D", "E minor pentatonic"),
            ("A B C E", "A 1 2 b3 5"),
        ],
    ),
    (
        &["check", "| i | V7 |", "--key", "TEXT"],
        &[
            ("a minor", "A minor"),
            ("a moll", "A minor"),
            ("A-moll", "A minor"),
            ("C dur", "C major"),
            ("la menor", "A minor"),
            ("Lam", "Am"),
            ("H minor", "B minor"),
            ("Fis minor", "F# minor"),
            ("Es", "Eb"),
            ("A minro", "A minor"),
            ("la minor", "A minor"),
            ("Bbb", "A"),
        ],
    ),
    (
        &["check", "TEXT"],
        &[
            ("| Am7 | H |", "B"),
            ("| Am7 | Fis |", "F#"),
            ("| am | G |", "Am"),
            ("| Am | dm |", "Dm"),
            ("| Am7 | Es7 |", "Eb7"),
            ("Verse: | Am | G |", "[Verse]"),
            ("Chorus: | Am | G |", "[Chorus]"),
            ("| Am7 | sol7 |", "G7"),
            ("| Am7 | e7 |", "E7"),
            ("| E flat | Bb |", "Eb"),
            ("| Am | B flat m7 |", "Bbm7"),
            ("| F sharp G | A |", "F#"),
        ],
    ),
    (
        &["check", "| Am | G |", "--tempo", "TEXT"],
        &[("90.1234", "90.123"), ("120.00001", "120.000")],
    ),
    (
        &[
            "check",
            "| Am | G |",
            "--fit",
            "TEXT",
            "--set",
            "A minor pentatonic",
        ],
        &[
            ("insid", "inside"),
            ("cleer", "clear"),
            ("Home", "home"),
            ("insides", "inside"),
            ("blue", "blues"),
        ],
    ),
    (
        &["check", "| Am | G |", "--times", "TEXT"],
        &[
            ("forever", "endless"),
            ("two", "2"),
            ("0", "2"),
            ("x3", "3"),
            ("3x", "3"),
            ("four", "4"),
        ],
    ),
    (
        &["check", "| Am | G |", "--count-in", "TEXT"],
        &[
            ("9", "8"),
            ("-1", "0"),
            ("no", "0"),
            ("1 bar", "1"),
            ("two", "2"),
        ],
    ),
    (
        &["check", "| Am | G |", "--capo", "TEXT"],
        &[("2nd", "2"), ("99", "12"), ("none", "0")],
    ),
    (
        &["check", "| i | V |", "--key", "Am", "--keys", "TEXT"],
        &[
            ("circle of fifths", "fifths"),
            ("fourth", "fourths"),
            ("random", "shuffle"),
            ("chromatic", "semitones"),
            ("all", "fourths"),
            ("all", "shuffle"),
            ("all 12 keys", "semitones"),
            ("12", "fifths"),
            ("Am Dm", "Am, Dm"),
            ("Am-Dm-Gm", "Am, Dm, Gm"),
        ],
    ),
    (
        &["check", "| Am | G |", "--parts", "TEXT"],
        &[
            ("drums", "kit"),
            ("click,drums", "click,kit"),
            ("click guitar", "click,strum"),
            ("metronome", "click"),
            ("bas", "bass"),
        ],
    ),
    (
        &["check", "low-tide", "--from", "TEXT"],
        &[("b", "B"), ("a", "A")],
    ),
    (
        &[
            "click", "80", "--bars", "1", "-o", "a.mid", "--beats", "TEXT",
        ],
        &[("2 and 4", "2,4"), ("2+4", "2,4"), ("off", "2,4")],
    ),
    (
        &[
            "click",
            "80",
            "--bars",
            "1",
            "-o",
            "a.mid",
            "--subdivide",
            "TEXT",
        ],
        &[("eighths", "2"), ("triplets", "3"), ("16ths", "4")],
    ),
    (
        &[
            "jam",
            "--set",
            "A minor pentatonic",
            "--show",
            "--level",
            "TEXT",
        ],
        &[("easy", "plain"), ("jazz", "rich"), ("2", "rich")],
    ),
    (
        &[
            "jam",
            "--set",
            "A minor pentatonic",
            "--show",
            "--rhythm",
            "TEXT",
        ],
        &[("2 bars", "two bars"), ("half bars", "half bar")],
    ),
    (
        &[
            "jam",
            "--set",
            "A minor pentatonic",
            "--show",
            "--start",
            "TEXT",
        ],
        &[("A minor", "Am"), ("am", "Am"), ("do", "C")],
    ),
    (
        &[
            "drill", "scale", "A minor", "--show", "--no-log", "--run", "TEXT",
        ],
        &[
            ("ascending", "up"),
            ("descending", "down"),
            ("up down", "both"),
            ("up and down", "both"),
            ("third", "thirds"),
        ],
    ),
    (
        &[
            "drill", "scale", "A minor", "--show", "--no-log", "--notes", "TEXT",
        ],
        &[("eighths", "2"), ("triplets", "3"), ("9", "8")],
    ),
    (
        &[
            "drill", "scale", "A minor", "--show", "--no-log", "--pace", "TEXT",
        ],
        &[("slow", "slower"), ("fast", "faster"), ("same", "hold")],
    ),
    (
        &[
            "drill", "scale", "A minor", "--show", "--no-log", "--keys", "TEXT",
        ],
        &[("A D G", "A, D, G"), ("circle of fourths", "fourths")],
    ),
    (
        &["drill", "changes", "--show", "--no-log", "TEXT"],
        &[("Am-C", "Am C"), ("Am>C>G", "Am C G"), ("am C", "Am")],
    ),
    (
        &["drill", "changes", "--show", "--no-log", "--step", "TEXT"],
        &[("strumming", "strum"), ("string", "strings")],
    ),
    (
        &["drill", "roots", "--show", "--no-log", "--notes", "TEXT"],
        &[
            ("naturals", "natural"),
            ("markers", "marked"),
            ("chromatic", "all"),
        ],
    ),
    (
        &["practice", "--show", "--no-log", "--turns", "TEXT"],
        &[("2min", "2"), ("0", "1"), ("three", "3")],
    ),
];

/// Mistakes of which only a form can be shown.
const FORMS: [(&[&str], &[&str]); 13] = [
    (
        &["chord", "TEXT"],
        &["X", "Cfoo", "A b9", "C2", "C4", "", "C-5", "Am/"],
    ),
    (
        &["scale", "TEXT"],
        &["A", "A foo", "minor pentatonic", "A 1 b3 4 x"],
    ),
    (
        &["check", "TEXT"],
        &[
            "| |",
            "| % |",
            "| Am Dm G |",
            "| Am :| x2 | (3/4) |",
            "| C | F\nG | D |",
            "| C / / /\nF / / / |",
            "Am Dm",
            "| Am | G |\nwalking down the line\n| C | F |",
            "Title: Low tide\n| Am | G |",
            "| Am | G |\nCapo: 2\n| Am |",
        ],
    ),
    (
        &["check", "| Am | G |", "--tempo", "TEXT"],
        &[
            "fast",
            "80 for",
            "60 to",
            "60 to 90 by",
            "60 to 90 over",
            "1000",
            "60 by 4",
            "80 beats",
        ],
    ),
    (
        &["check", "| Am | G |", "--for", "TEXT"],
        &["30", "long", "5 x", "0 s", "-5min"],
    ),
    (
        &["check", "| Am | G |", "--count-in", "TEXT"],
        &["many", "5-8"],
    ),
    (
        &["check", "| Am | G |", "--part", "TEXT"],
        &[
            "bass.line=walkin",
            "click.on=maybe",
            "pads.program=piano",
            "bass.level=80%",
            "bass=walking",
        ],
    ),
    (&["check", "low-tide", "--from", "TEXT"], &["chorus"]),
    (
        &[
            "drill", "scale", "A minor", "--show", "--no-log", "--run", "TEXT",
        ],
        &["sideways"],
    ),
    (
        &[
            "drill", "scale", "A minor", "--show", "--no-log", "--ladder", "TEXT",
        ],
        &["60 to 96", "slowly", "96 to 60 by 4"],
    ),
    (
        &["drill", "roots", "--show", "--no-log", "--strings", "TEXT"],
        &["7", "E", "6-5"],
    ),
    (
        &["drill", "roots", "--show", "--no-log", "--notes", "TEXT"],
        &["C D"],
    ),
    (
        &["drill", "roots", "--show", "--no-log", "--goal", "TEXT"],
        &["150%", "most", "0.8"],
    ),
];

fn with(template: &[&str], text: &str) -> Vec<String> {
    let typed = template
        .iter()
        .map(|word| if *word == "TEXT" { text } else { word });
    typed.map(str::to_owned).collect()
}

fn ran(arguments: &[String]) -> Ran {
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    fresh(&arguments)
}

/// The parts of an advice in backticks.
fn quoted(help: &str) -> Vec<String> {
    let ticks = help.split('`').skip(1).step_by(2);
    // A chart is quoted as in a shell.
    let charts = help.split('\'').filter(|text| text.starts_with('|'));
    ticks.chain(charts).map(str::to_owned).collect()
}

/// The ways to type an advice: in the place, as the argument, as the option it names.
fn typed(
    template: &[&str],
    text: &str,
    span: &serde_json::Value,
    advice: &str,
) -> Vec<Vec<String>> {
    let mut ways = vec![with(template, advice)];
    let place = span.as_array().map(|span| {
        let at = |i: usize| usize::try_from(span[i].as_u64().unwrap()).unwrap();
        at(0)..at(1)
    });
    if let Some(place) = place.filter(|place| text.get(place.clone()).is_some()) {
        let mut fixed = text.to_owned();
        fixed.replace_range(place.clone(), advice);
        ways.push(with(template, &fixed));
        // Where something is missing behind the place.
        let mut longer = text.to_owned();
        longer.insert_str(place.end, &format!(" {advice}"));
        ways.push(with(template, &longer));
    }
    if let Some((option, value)) = advice.split_once(' ')
        && template.contains(&option)
    {
        ways.push(with(template, value.trim_matches('\'')));
    }
    ways
}

/// The advice that is given for a mistake, and the place that is underlined.
fn advised(template: &[&str], text: &str) -> Result<(String, serde_json::Value), String> {
    let mut json = with(template, text);
    json.push("--json".to_owned());
    let answer = ran(&json);
    if answer.status != 2 {
        return Err(format!("{template:?} {text}: not refused"));
    }
    let error = &answer.errors()[0];
    let help = error["help"].as_str().unwrap().to_owned();
    Ok((help, error["span"].clone()))
}

/// What is wrong with the advice for a mistake whose meaning is known.
fn check_meant(template: &[&str], text: &str, meant: &str) -> Result<(), String> {
    let (help, span) = advised(template, text)?;
    let says = |advice: &String| {
        let value = advice
            .split_once(' ')
            .map(|(_, value)| value.trim_matches('\''));
        advice == meant || value == Some(meant)
    };
    let Some(advice) = quoted(&help).into_iter().find(says) else {
        return Err(format!("{template:?} {text}: {help}"));
    };
    let ways = typed(template, text, &span, &advice);
    if ways.iter().all(|way| ran(way).status == 2) {
        return Err(format!("{template:?} {text}: `{advice}` does not run"));
    }
    Ok(())
}

/// What is wrong with the forms that are shown for a mistake.
fn check_forms(template: &[&str], text: &str) -> Result<(), String> {
    let (help, span) = advised(template, text)?;
    let runs = |advice: &String| {
        let ways = typed(template, text, &span, advice);
        ways.iter().any(|way| ran(way).status != 2)
    };
    let forms = quoted(&help);
    if !forms.is_empty() && !forms.iter().any(runs) {
        return Err(format!("{template:?} {text}: {help}"));
    }
    Ok(())
}

#[test]
fn advice_says_what_was_meant_and_runs() {
    let mistakes = MEANT.iter().flat_map(|(template, rows)| {
        rows.iter()
            .map(move |(text, meant)| (template, text, meant))
    });
    let wrong: Vec<String> = mistakes
        .clone()
        .filter_map(|(template, text, meant)| check_meant(template, text, meant).err())
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(mistakes.count() >= 170);
}

#[test]
fn forms_that_are_shown_run_by_themselves() {
    let mistakes = FORMS
        .iter()
        .flat_map(|(template, texts)| texts.iter().map(move |text| (template, text)));
    let wrong: Vec<String> = mistakes
        .filter_map(|(template, text)| check_forms(template, text).err())
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Lines of a document as they are typed, and what is to be typed in the underlined place: the value alone, with what it
/// was meant to hold.
const LINES: [(&str, &str); 24] = [
    ("capo = \"2\"", "2"),
    ("capo = 3.0", "3"),
    ("seed = \"seven\"", "1"),
    ("keys = [\"A minor\", \"D minor\"]", "\"A minor, D minor\""),
    ("keys = [\"Am\", \"Em\", \"Dm\"]", "\"Am, Em, Dm\""),
    ("form = [\"A\", \"A\"]", "\"A A\""),
    ("form = \"\"", "\"A\""),
    (
        "tuning = [\"D\", \"A\", \"D\", \"G\", \"B\", \"E\"]",
        "\"D A D G B E\"",
    ),
    ("set = [\"A\", \"minor\"]", "\"A minor\""),
    ("set = [\"A\", 1, \"b3\", 5]", "\"A 1 b3 5\""),
    ("meter = 3", "\"4/4\""),
    ("fit = \"insid\"", "\"inside\""),
    ("fit = \"x\"", "\"clear\""),
    ("ending = \"tonik\"", "\"tonic\""),
    ("times = \"3\"", "3"),
    ("times = \"forever\"", "\"endless\""),
    ("transpose = \"Eb major\"", "\"Eb minor\""),
    (
        "[sections]\nA = [\"| Am |\", \"| Dm |\"]",
        "\"| Am |\\n| Dm |\"",
    ),
    ("[parts.click]\nbeats = \"2, 4\"", "[2, 4]"),
    ("[parts.click]\nbeats = 3", "[3]"),
    ("[parts.click]\naccents = \"maybe\"", "true"),
    ("[parts.click]\naccents = \"False\"", "false"),
    ("[parts.bass]\nline = \"walkin\"", "\"walking\""),
    ("[parts.pads]\nrhythm = \"boom\"", "\"D . D U . U D U\""),
];

/// A document with a line, and what it needs besides.
fn with_line(line: &str) -> String {
    let before = [
        ("set", "set = \"A minor pentatonic\""),
        ("key", "key = \"A minor\""),
    ];
    let before = before
        .into_iter()
        .filter(|(key, _)| !line.starts_with(&format!("{key} ")));
    let before: Vec<&str> = before.map(|(_, line)| line).collect();
    let before = before.join("\n");
    let sections = "[sections]\nA = \"| Am | Dm |\"";
    if line.starts_with("[sections]") {
        format!("{before}\n{line}\n")
    } else if line.starts_with('[') {
        format!("{before}\n{sections}\n{line}\n")
    } else {
        format!("{before}\n{line}\n{sections}\n")
    }
}

#[test]
fn advice_for_a_document_is_typed_in_the_underlined_place() {
    let folder = tempfile::TempDir::new().unwrap();
    let check = |text: &str| {
        super::write(folder.path(), "a.toml", text);
        super::run(folder.path(), &["check", "a.toml", "--json"])
    };
    for (line, meant) in LINES {
        let text = with_line(line);
        let refused = check(&text);
        assert_eq!(refused.status, 2, "{line}: {refused:?}");
        let error = &refused.errors()[0];
        let help = error["help"].as_str().unwrap();
        assert!(
            quoted(help).iter().any(|way| way == meant),
            "{line}: {help}"
        );
        for way in quoted(help) {
            let span = error["span"].as_array().unwrap();
            let at = |i: usize| usize::try_from(span[i].as_u64().unwrap()).unwrap();
            let mut text = text.clone();
            text.replace_range(at(0)..at(1), &way);
            let ran = check(&text);
            assert_ne!(ran.status, 2, "{line}: `{way}`: {}", ran.err);
        }
    }
}

/// Command lines that people type, and the command that was meant, or that shows what there is; the advice must say it,
/// and it must run.
const COMMANDS: [(&[&str], &str); 86] = [
    (&["plya", "low-tide"], "fivefold play"),
    (&["cord", "Am7"], "fivefold chord"),
    (&["scales", "A minor"], "fivefold scale"),
    (&["low-tide"], "fivefold play low-tide"),
    (&["| Am | G |"], "fivefold play '| Am | G |'"),
    (
        &["A minor pentatonic"],
        "fivefold jam --set 'A minor pentatonic'",
    ),
    (
        &["minor pentatonic"],
        "fivefold jam --set 'minor pentatonic'",
    ),
    (&["Am7"], "fivefold chord Am7"),
    (&["practise"], "fivefold practice"),
    (
        &["scale", "A", "minor", "pentatonic"],
        "fivefold scale 'A minor pentatonic'",
    ),
    (
        &["jam", "--set", "A", "minor", "pentatonic", "--show"],
        "fivefold jam --set 'A minor pentatonic' --show",
    ),
    (&["neck", "A", "minor"], "fivefold neck 'A minor'"),
    (&["chord", "E", "flat", "m7"], "fivefold chord 'E flat m7'"),
    (&["check", "low-tide", "--temp", "80"], "--tempo"),
    (&["check", "low-tide", "-tempo", "80"], "--tempo"),
    (
        &["check", "low-tide", "--key-order", "x"],
        "fivefold check --help",
    ),
    (
        &["check", "low-tide", "--subdivide", "2"],
        "fivefold check --help",
    ),
    (
        &["scale", "A minor", "--capo", "2"],
        "fivefold scale --help",
    ),
    (&["scale"], "fivefold scale 'A minor pentatonic'"),
    (&["list"], "fivefold list charts"),
    (&["list", "chart"], "fivefold list charts"),
    (&["list", "drums"], "fivefold list --help"),
    (&["completions", "sh"], "fivefold completions zsh"),
    (&["check", "low-tide", "--seed"], "fivefold check --help"),
    (&["check", "low-tide", "--bpm", "80"], "--tempo"),
    (&["check", "low-tide", "--speed", "80"], "--tempo"),
    (&["check", "low-tide", "--repeat", "2"], "--times"),
    (&["check", "low-tide", "--no-count-in"], "--count-in 0"),
    (&["check", "low-tide", "--duration", "2min"], "--for"),
    (&["check", "low-tide", "--start", "3"], "--from"),
    (&["check", "low-tide", "--foo"], "fivefold check --help"),
    (&["neck", "Am", "--left-handed"], "--left"),
    (&["neck", "A minor", "--string", "6"], "--from-string"),
    (
        &["neck", "A minor pentatonic", "--box", "1"],
        "fivefold neck 'A minor pentatonic' --shapes",
    ),
    (
        &["neck", "--position=2", "Em pentatonic", "--left"],
        "fivefold neck 'Em pentatonic' --left --shapes",
    ),
    (
        &["neck", "A minor", "--boxes"],
        "fivefold neck 'A minor' --shapes",
    ),
    (
        &["neck", "C", "--position", "5"],
        "fivefold neck C --places 9",
    ),
    (&["chord", "V65"], "fivefold chord 57/7 --key C"),
    (&["chord", "VIIb"], "fivefold chord bVII --key C"),
    (&["chord", "V of V"], "fivefold chord V/V --key C"),
    (&["check", "charts/low-tide.toml"], "low-tide"),
    (&["chord", "C", "E", "G"], "fivefold chord --help"),
    (&["pedals", "list"], "fivefold pedals"),
    (&["pedals", "bind", "pause"], "fivefold pedals learn"),
    (&["pedals", "delete", "pause"], "fivefold pedals forget"),
    (&["metronome", "80"], "fivefold click"),
    (&["tunings"], "fivefold list tunings"),
    (&["export", "low-tide"], "fivefold play"),
    (&["version"], "fivefold --version"),
    (&["--verison"], "--version"),
    (&["help", "play", "foo"], "fivefold play --help"),
    (&["drill", "root"], "fivefold drill roots"),
    (&["drill", "chords"], "fivefold drill changes"),
    (&["drill", "intervals"], "fivefold drill degrees"),
    (
        &["drill", "scale", "A", "minor", "--show", "--no-log"],
        "fivefold drill scale 'A minor' --show --no-log",
    ),
    (
        &["drill", "roots", "minor pentatonic", "--show", "--no-log"],
        "fivefold drill roots --shape 'minor pentatonic' --show --no-log",
    ),
    (&["list", "songs"], "fivefold list charts"),
    (&["list", "chords"], "fivefold chord Am7"),
    (&["list", "instruments"], "fivefold list voices"),
    (&["list", "pedals"], "fivefold pedals"),
    (
        &["jam", "A minor pentatonic", "--show"],
        "fivefold jam --set 'A minor pentatonic' --show",
    ),
    (
        &["jam", "A", "minor", "pentatonic", "--show"],
        "fivefold jam --set 'A minor pentatonic' --show",
    ),
    (
        &["click", "80", "4/4", "--bars", "1", "-o", "a.mid"],
        "fivefold click 80 --meter 4/4 --bars 1 -o a.mid",
    ),
    (
        &["click", "80", "--time", "3/4", "--bars", "1", "-o", "a.mid"],
        "--meter",
    ),
    (&["click", "60", "--tempo", "70"], "fivefold click 70"),
    (&["click", "--bpm", "80"], "fivefold click 80"),
    (
        &[
            "click",
            "80",
            "--part",
            "bass.line=walking",
            "--bars",
            "1",
            "-o",
            "a.mid",
        ],
        "--part click.level=80",
    ),
    (&["check", "low-tide", "--no-bass"], "--part bass.on=false"),
    (&["check", "low-tide", "--drums"], "--part kit.on=true"),
    (&["check", "low-tide", "--mute"], "fivefold check --help"),
    (&["check", "| Am |", "--time-signature", "3/4"], "--meter"),
    (&["play", "low", "tide"], "fivefold play low-tide"),
    (&["play", "Am", "G", "F"], "fivefold play '| Am | G | F |'"),
    (
        &["play", "A minor pentatonic"],
        "fivefold jam --set 'A minor pentatonic'",
    ),
    (&["practice", "low-tide"], "fivefold play low-tide"),
    (&["practice", "roots"], "fivefold drill roots"),
    (
        &["practice", "first half hour", "--show", "--no-log"],
        "fivefold practice first-half-hour",
    ),
    (
        &["practice", "first-half"],
        "fivefold practice first-half-hour",
    ),
    (
        &["practice", "A minor pentatonic"],
        "fivefold drill scale 'A minor pentatonic'",
    ),
    (&["log", "Ada"], "fivefold log --who Ada"),
    (&["log", "--player", "Ada"], "--who"),
    (&["log", "--export"], "--csv"),
    (&["log", "--since", "yesterday"], "--since 1d"),
    (&["log", "--since", "7"], "--since 7d"),
    (&["log", "--lines"], "fivefold log --help"),
    (&["--color", "allways", "chord", "A"], "--color always"),
];

#[test]
fn a_command_that_is_mistyped_is_answered_with_one_that_runs() {
    for (typed, meant) in COMMANDS {
        let told = fresh(typed).refused();
        let help = told.lines().last().unwrap();
        let advice = quoted(help).into_iter().find(|advice| advice == meant);
        let Some(advice) = advice else {
            panic!("{typed:?}: {help}");
        };
        // An option stands in the place of the one that was typed; a command alone shows its help.
        let words: Vec<String> = match advice.strip_prefix("fivefold ") {
            Some(rest) => in_words(rest),
            None if !advice.starts_with('-') => {
                let mut words: Vec<String> = typed.iter().map(|word| (*word).to_owned()).collect();
                *words.last_mut().unwrap() = advice.clone();
                words
            }
            None => {
                let at = typed.iter().position(|word| word.starts_with('-')).unwrap();
                let mut words: Vec<String> = typed.iter().map(|word| (*word).to_owned()).collect();
                // The option that was meant, with its value where only that was wrong.
                let same = advice.starts_with(&format!("{} ", typed[at]));
                let taken = if same { in_words(&advice).len() } else { 1 };
                words.splice(at..at + taken, in_words(&advice));
                words
            }
        };
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let rest = rest_of(&words);
        assert_eq!(
            fresh(&[&words[..], rest].concat()).status,
            0,
            "{typed:?}: {advice}"
        );
    }
}

/// What is typed behind a command so that it runs here, without playing.
fn rest_of(words: &[&str]) -> &'static [&'static str] {
    let is_help = |word: &&str| word.starts_with("--");
    let shown = words.contains(&"--show");
    match words {
        [one] if !one.starts_with('-') => &["--help"],
        ["drill" | "pedals", second] if !is_help(second) => &["--help"],
        ["play", ..] => &["-o", "a.mid"],
        ["jam", ..] if !shown => &["-o", "a.mid"],
        ["click", ..] if !words.contains(&"-o") => &["--bars", "1", "-o", "a.mid"],
        ["drill" | "practice", ..] if !shown => &["--show", "--no-log"],
        _ => &[],
    }
}

/// The words of a command line, as a shell parts them.
fn in_words(line: &str) -> Vec<String> {
    let parts = line.split('\'').enumerate();
    let words = parts.flat_map(|(i, part)| match i % 2 {
        0 => part.split_whitespace().map(str::to_owned).collect(),
        _ => vec![part.to_owned()],
    });
    words.collect()
}

/// Text with one meaning is read, and printed in our notation.
#[test]
fn what_has_one_meaning_is_read() {
    let chart = "| Am7 | Dm7 |";
    for (arguments, shown) in [
        (vec!["check", chart, "--tempo", "80bpm"], "tempo 80\n"),
        (vec!["check", chart, "--tempo", "80 BPM"], "tempo 80\n"),
        (
            vec!["check", chart, "--tempo", "60-90", "--times", "8"],
            "tempo 60 to 90\n",
        ),
        (
            vec!["check", chart, "--tempo", "60 to 120", "--times", "8"],
            "tempo 60 to 120\n",
        ),
        (
            vec![
                "check",
                chart,
                "--tempo",
                "60 \u{2013} 90 over 8 bars",
                "--times",
                "8",
            ],
            "tempo 60 to 90 over 8 bars\n",
        ),
        (vec!["check", "\u{2016} Am7 | Dm7 \u{2016}"], "| Am7"),
        (vec!["check", "\u{201c}| Am7 | Dm7 |\u{201d}"], "| Am7"),
        (vec!["check", chart, "--part", "click.accents=no"], "Am7"),
        (
            vec!["scale", "E flat minor pentatonic"],
            "Eb minor pentatonic\n",
        ),
        (vec!["scale", "F sharp major"], "F# major\n"),
        (vec!["chord", "E flat m7"], "Ebm7"),
        (vec!["chord", "C sharp"], "C#"),
        (
            vec!["check", "| i | V |", "--key", "B flat minor"],
            "Bb minor",
        ),
        (vec!["check", "| i | V |", "--key", "A-"], "A minor"),
        (vec!["chord", " Cmaj7 "], "Cmaj7"),
        (
            vec!["check", chart, "--parts", "click bass"],
            "parts click bass",
        ),
        (
            vec!["jam", "--set", "A minor", "--with", "Am F", "--show"],
            "Am",
        ),
    ] {
        let out = fresh(&arguments).good();
        assert!(out.contains(shown), "{arguments:?}: {out}");
    }
    for (length, shown) in [("1m", "1:0"), ("90 secs", "1:3"), ("1h", "1:00:0")] {
        let ran = fresh(&["play", chart, "--for", length, "-o", "a.midi"]).good();
        assert!(ran.contains(shown), "{length}: {ran}");
    }
}

/// A rise over the whole piece needs a length.
#[test]
fn a_rise_over_the_whole_piece_asks_for_a_length_where_there_is_none() {
    let rise = ["check", "| Am | G |", "--tempo", "60 to 90"];
    let error = fresh(&[&rise[..], &["--times", "endless"]].concat()).refused();
    assert!(error.contains("`60 to 90 over 32 bars`"), "{error}");
    fresh(&[&rise[..], &["--bars", "16"]].concat()).good();
    fresh(&[&rise[..], &["--for", "2min"]].concat()).good();
    let lines = fresh(&[
        "play",
        "| Am | G |",
        "--tempo",
        "60 to 90",
        "--times",
        "8",
        "-o",
        "a.jsonl",
    ]);
    assert_eq!(lines.status, 0);
}

/// What belongs to another option, or to none, is answered with a command or an option that holds it.
#[test]
fn values_at_the_wrong_place_are_answered() {
    let play = ["-o", "a.mid"];
    for (typed, advice, instead) in [
        (
            &["play", "low-tide", "--tempo", "80", "%"][..],
            "`--tempo 80%`",
            &["play", "low-tide", "--tempo", "80%"][..],
        ),
        (
            &["play", "low-tide", "--loop", "4"],
            "`--times 4`",
            &["play", "low-tide", "--times", "4"],
        ),
        (
            &["jam", "--set", "A minor", "--chords", "Am,F"],
            "`--with Am,F`",
            &["jam", "--set", "A minor", "--with", "Am,F"],
        ),
        (
            &["jam", "--set", "A minor", "--chords", "Am F"],
            "`--with 'Am F'`",
            &["jam", "--set", "A minor", "--with", "Am F"],
        ),
        (
            &["play", "low-tide", "--mute", "bass"],
            "`--part bass.on=false`",
            &["play", "low-tide", "--part", "bass.on=false"],
        ),
    ] {
        let told = fresh(typed).err;
        assert!(told.contains(advice), "{typed:?}: {told}");
        assert_eq!(fresh(&[instead, &play].concat()).status, 0, "{instead:?}");
    }
    let told = fresh(&["log", "--delete", "3"]).refused();
    assert!(told.contains("`--withdraw`"), "{told}");
    let told = fresh(&["play", "low-tide", "--lines=big"]).refused();
    assert!(told.contains("takes no value, found `big`"), "{told}");
    for command in [
        &["jam", "--set", "A minor"][..],
        &["drill", "roots", "--no-log"],
    ] {
        let told = fresh(&[command, &["--lines", "--show"]].concat()).refused();
        assert!(told.contains("do not go together"), "{told}");
    }
}

/// A click has no options for a key or parts, and its tempo is given once.
#[test]
fn a_click_has_no_key_no_parts_and_one_tempo() {
    for option in [
        "--key=A",
        "--tempo=70",
        "--parts=pads",
        "--transpose=2",
        "--capo=1",
    ] {
        let error = fresh(&["click", "60", option, "--bars", "4", "-o", "a.mid"]).refused();
        assert!(error.contains("has no option"), "{error}");
    }
}

#[test]
fn what_would_be_said_in_vain_is_refused() {
    let folder = tempfile::TempDir::new().unwrap();
    let document = |keys: &str| {
        let text =
            format!("key = \"A minor\"\nkeys = \"{keys}\"\n[sections]\nA = \"| Am7 | Dm7 |\"\n");
        super::write(folder.path(), "keys.toml", text);
    };
    document("least practised");
    let error = super::run(folder.path(), &["check", "keys.toml"]).refused();
    assert!(error.contains("a drill looks it up"), "{error}");
    document("A minor, D minor");
    let error = super::run(folder.path(), &["check", "keys.toml", "--key", "G minor"]).refused();
    assert!(error.contains("A minor, D minor"), "{error}");
    // Chords in letters stay, and the advice moves them.
    let told = super::run(
        folder.path(),
        &["check", "| Am7 | Dm7 |", "--key", "G minor"],
    );
    assert!(
        told.err.contains("`--transpose -2` instead of `--key`"),
        "{}",
        told.err
    );
    let moved = fresh(&["check", "| Am7 | Dm7 |", "--transpose", "-2"]).good();
    assert!(moved.contains("Gm7"), "{moved}");
    let warned = fresh(&["chord", "III", "--key", "A minor"]);
    assert!(
        warned.status == 0 && warned.err.contains("`bIII`"),
        "{warned:?}"
    );
    let warned = fresh(&["check", "| III | III |", "--key", "A minor"]).err;
    assert_eq!(warned.matches("`III` in A minor").count(), 2, "{warned}");
    let warned = fresh(&["check", "| I6 | IV6 |", "--key", "C"]).err;
    assert_eq!(warned.matches("Warning").count(), 1, "{warned}");
}
