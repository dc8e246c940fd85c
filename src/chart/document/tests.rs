//! Documents, key by key.

use proptest::prelude::*;
use proptest::strategy::ValueTree;

use super::*;
use crate::chart::{BassLine, ClickBeats, PadStrike, Parts, Silence, SourceText};
use crate::event::{Channel, KeyNumber};

const SECTIONS: &str = "\n[sections]\nA = \"| Am | Dm |\"\n";

/// The piece of a document without warnings.
fn good(text: &str) -> Piece {
    match Piece::read(text) {
        Ok((piece, warnings)) => {
            assert_eq!(warnings, [], "{text}");
            piece
        }
        Err(problems) => panic!("{text}\n{problems:#?}"),
    }
}

/// The piece of these lines and a section A.
fn with(lines: &str) -> Piece {
    good(&format!("{lines}{SECTIONS}"))
}

/// What is wrong: line, column and text underlined, the code, the message and the help.
fn shown(text: &str, problems: &[Problem]) -> String {
    let source = SourceText::new("", text);
    let mut out = String::new();
    for p in problems {
        assert!(!p.help.is_empty() && !p.message.ends_with('.'), "{p:?}");
        let (line, column) = source.line_column(p.span.start);
        let underlined = text[p.span.clone()].replace('\n', "~");
        let level = if p.severity == Severity::Warning {
            "warning "
        } else {
            ""
        };
        out.push_str(&format!(
            "{line}:{column} [{underlined}] {level}{}\n  {}\n  {}\n",
            p.code, p.message, p.help
        ));
    }
    out
}

/// What is wrong with each of these lines above a section A.
fn wrong(lines: &[&str]) -> String {
    let texts: Vec<String> = lines.iter().map(|l| format!("{l}{SECTIONS}")).collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    wrong_documents(&texts)
}

fn wrong_documents(texts: &[&str]) -> String {
    let mut out = String::new();
    for text in texts {
        let problems = Piece::read(text)
            .err()
            .unwrap_or_else(|| panic!("not refused: {text}"));
        out.push_str(&shown(text, &problems));
    }
    out
}

/// What is wrong once the piece is unfolded.
fn wrong_form(text: &str) -> String {
    let (piece, _) = Piece::read(text).unwrap();
    shown(text, &piece.unfold().unwrap_err())
}

/// The form: intro ; pass ; ending, bars between `|`.
fn form(piece: &Piece) -> String {
    let form = piece.unfold().unwrap_or_else(|p| panic!("{p:#?}"));
    let bars = |bars: &[crate::chart::FormBar]| -> String {
        let texts: Vec<String> = bars
            .iter()
            .map(|bar| {
                let chords: Vec<String> = bar
                    .chords
                    .iter()
                    .map(|c| format!("{}{}", if c.held { "~" } else { "" }, c.harmony))
                    .collect();
                chords.join(" ")
            })
            .collect();
        texts.join(" | ")
    };
    format!(
        "{} ; {} ; {}",
        bars(&form.intro),
        bars(&form.pass),
        bars(&form.ending)
    )
}

#[test]
fn every_key_is_read() {
    let key = |t: &str| Key::read(t).unwrap();
    assert_eq!(with("title = \"Low tide\"").title, "Low tide");
    assert_eq!(with("key = \"A minor\"").key, Some(key("A minor")));
    assert_eq!(
        with("meter = \"7/8 = 2+2+3\"\nform = \"A\"")
            .meter
            .beat_count(),
        3
    );
    assert_eq!(
        with("feel = \"swing 2:1\"").feel,
        Feel::read("swing 2:1").unwrap()
    );
    assert_eq!(
        with("tempo = \"72 to 96 by 4 every 8 bars\"")
            .tempo
            .to_string(),
        "72 to 96 by 4 every 8 bars"
    );
    assert_eq!(with("tempo = 72").tempo, TempoPlan::read("72").unwrap());
    assert_eq!(with("tempo = 72.5").tempo, TempoPlan::read("72.5").unwrap());
    assert_eq!(with("plan = \"each pass\"").plan, PlanRepeat::EachPass);
    assert_eq!(with("plan = \"once\"").plan, PlanRepeat::Once);
    assert_eq!(
        with("set = \"A minor pentatonic\"").set.unwrap().name(),
        "A minor pentatonic"
    );
    assert_eq!(with("home = \"A dorian\"").home.unwrap().name(), "A dorian");
    assert_eq!(with("form = \"A A\"").form, ["A", "A"]);
    assert_eq!(with("").form, ["A"]);
    assert_eq!(with("times = 2").times, Times::Count(2));
    assert_eq!(with("times = \"endless\"").times, Times::Endless);
    assert_eq!(with("times = 0x10").times, Times::Count(16));
    assert_eq!(with("times = 1_000").times, Times::Count(1000));
    assert_eq!(with("seed = 7").seed, 7);
    assert_eq!(
        with("seed = 9223372036854775807").seed,
        9_223_372_036_854_775_807
    );
    assert_eq!(with("transpose = -3").transpose, -3);
    assert_eq!(with("capo = 0").capo, 0);
    assert_eq!(with("ending = \"none\"").ending, Ending::None);
    assert_eq!(with("ending = \"tonic\"").ending, Ending::Tonic);
}

#[test]
fn every_part_is_read() {
    let part =
        |name: &str, lines: &str| good(&format!("{SECTIONS}[parts.{name}]\n{lines}\n")).parts;
    assert_eq!(part("click", ""), Parts::default());
    assert_eq!(part("click", "count_in = 2").click.count_in, 2);
    assert!(!part("click", "accents = false").click.accents);
    assert_eq!(part("click", "subdivide = 3").click.subdivide, 3);
    assert_eq!(
        part("click", "beats = [2, 4]").click.beats,
        ClickBeats::Only(vec![2, 4])
    );
    assert_eq!(
        part("click", "beats = \"all\"").click.beats,
        ClickBeats::All
    );
    let silence = Some(Silence {
        on_bars: 3,
        off_bars: 1,
    });
    assert_eq!(
        part("click", "silent = \"3 on 1 off\"").click.silent,
        silence
    );
    assert_eq!(part("click", "silent = \"none\"").click.silent, None);
    assert!(!part("click", "on = false").click.common.on);
    let pads = part("pads", "program = 1\nlevel = 0\npan = -100\nchannel = 16\nvoices = 6\nlow = \"C3\"\nhigh = \"G5\"\nstrike = \"change\"").pads;
    assert_eq!(
        (
            pads.common.program,
            pads.common.level,
            pads.common.pan,
            pads.voices
        ),
        (Some(0), 0, -100, 6)
    );
    assert_eq!(
        (pads.low, pads.high),
        (KeyNumber::clamped(48), KeyNumber::clamped(79))
    );
    assert_eq!(
        (pads.common.channel, pads.strike),
        (Channel::new(16).unwrap(), PadStrike::Change)
    );
    assert_eq!(
        part("bass", "line = \"root and fifth\"").bass.line,
        BassLine::RootFifth
    );
    // A part that is off by default plays once it is named.
    assert!(part("kit", "").kit.common.on);
    assert!(part("drone", "").drone.common.on);
    assert!(!part("drone", "on = false").drone.common.on);
    assert!(!part("drone", "notes = \"tonic\"").drone.fifth);
}

#[test]
fn texts_that_are_none_of_what_a_key_may_say() {
    insta::assert_snapshot!(wrong(&[
        "key = \"H minor\"",
        "key = \"A minro\"",
        "key = \"\"",
        "meter = \"4/5\"",
        "meter = \"44\"",
        "meter = \"7/8 = 2+2+2\"",
        "feel = \"swung\"",
        "feel = \"swing 1:2\"",
        "meter = \"6/8\"\nfeel = \"swing 2:1\"",
        "tempo = \"fast\"",
        "tempo = \"72 to 96\"",
        "tempo = \"72 for 8 bars, 96 for 8 bars, 2000\"",
        "tempo = \"72, 96\"",
        "tempo = 0",
        "tempo = -5",
        "tempo = 1e9",
        "plan = \"every pass\"",
        "set = \"A minor pentatonik\"",
        "home = \"A\"",
        "fit = \"inzide\"",
        "ending = \"tonik\"",
        "times = \"forever\"",
        "times = \"Endless\"",
        "times = \"2\"",
    ]), @r#"
    1:8 [H] no-tonic
      expected a tonic A to G in upper case: expected a note letter A to G in upper case, found `H`
      write a key such as `A minor`, `Am`, `Bb` or `D dorian`
    1:10 [minro] unknown-mode
      expected major, minor or a mode, found `minro`
      write `A major`, `A minor` or dorian, phrygian, lydian, mixolydian or locrian
    1:8 [] empty-key
      expected a key, found nothing
      write a key such as `A minor`, `Am`, `Bb` or `D dorian`
    1:9 ["4/5"] meter-lower-number
      the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 5
      write the note that is counted: 4 for quarters, 8 for eighths
    1:9 ["44"] meter-form
      a meter is written like 4/4 or 7/8 = 2+2+3, found `44`
      write "4/4", "3/4", "6/8" or "7/8 = 2+2+3"
    1:9 ["7/8 = 2+2+2"] meter-group-sum
      the groups of a meter add up to its upper number 7, found 6
      write groups that fill the bar, such as 2+2+3
    1:8 ["swung"] feel-form
      a feel is `straight` or a swing such as `swing 2:1`, found `swung`
      write `swing 2:1`, `swing 3:2 16ths` or `straight`
    1:8 ["swing 1:2"] swing-ratio
      a swing ratio lies between 1:1 and 9:1, found 1:2
      write `swing 2:1`, `swing 3:2 16ths` or `straight`
    2:8 ["swing 2:1"] swing-meter
      6/8 cannot swing its eighths
      leave the feel out: the beat of a compound meter is in threes already
    1:10 [fast] plan-tempo
      expected a tempo in beats a minute, found `fast`
      write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`
    1:16 [96] plan-word
      expected `over` or `by`, found the end
      write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`
    1:40 [2000] plan-limit
      a tempo is 3.6 to 960 quarter notes a minute, found 2000
      write a tempo people can play to, such as 72
    1:10 [72] plan-no-length
      only the last stretch of a plan may lack its length
      write how long it lasts: `72 for 8 bars, 96`
    1:9 [0] plan-limit
      a tempo is 3.6 to 960 quarter notes a minute, found 0
      write a tempo people can play to, such as 72
    1:9 [-5] plan-tempo
      expected a tempo in beats a minute, found `-`
      write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`
    1:9 [1e9] plan-word
      expected `for`, `to`, `,` or the end, found `e`
      write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`
    1:8 ["every pass"] document-choice
      `plan` is "once" or "each pass", found "every pass"
      write `plan = "once"` or `plan = "each pass"`
    1:10 [minor pentatonik] unknown-scale
      expected a known scale, found `minor pentatonik`
      write `A minor pentatonic`
    1:9 [A] no-scale-name
      expected a scale after A, found nothing
      write a name, as in `A minor pentatonic`, or degrees, as in `A 1 b3 4 5 b7`
    1:7 ["inzide"] document-choice
      `fit` is "inside", "clear", "home" or "blues", found "inzide"
      write `fit = "inside"`
    1:10 ["tonik"] document-choice
      `ending` is "tonic" or "none", found "tonik"
      write `ending = "tonic"`
    1:9 ["forever"] document-times
      `times` is a number or "endless", found "forever"
      write `times = 2` or `times = "endless"`
    1:9 ["Endless"] document-times
      `times` is a number or "endless", found "Endless"
      write `times = 2` or `times = "endless"`
    1:9 ["2"] document-times
      `times` is a number or "endless", found "2"
      write `times = 2` or `times = "endless"`
    "#);
}

#[test]
fn numbers_out_of_range_and_values_of_the_wrong_type() {
    insta::assert_snapshot!(wrong(&[
        "times = 0",
        "times = -1",
        "times = 100001",
        "times = 99999999999999999999999999",
        "times = 1.5",
        "times = 0xFFFFFFFFFFFFFFFFFFFF",
        "seed = -1",
        "seed = 9223372036854775808",
        "seed = \"seven\"",
        "transpose = 25",
        "transpose = 1.0",
        "capo = 13",
        "title = 5",
        "key = true",
        "meter = 4.4",
        "meter = 1979-05-27",
        "feel = []",
        "tempo = [72, 96]",
        "form = [\"A\"]",
        "parts = 1",
        "parts.click = true",
        "parts.click.on = 1",
    ]), @r#"
    1:9 [0] document-range
      `times` is 1 to 100000, found 0
      write a whole number, 1 to 100000
    1:9 [-1] document-range
      `times` is 1 to 100000, found -1
      write a whole number, 1 to 100000
    1:9 [100001] document-range
      `times` is 1 to 100000, found 100001
      write a whole number, 1 to 100000
    1:9 [99999999999999999999999999] document-range
      `times` is 1 to 100000, found 99999999999999999999999999
      write a whole number, 1 to 100000
    1:9 [1.5] document-type
      `times` is a whole number, 1 to 100000, found a decimal number
      write `times = 1`
    1:9 [0xFFFFFFFFFFFFFFFFFFFF] document-range
      `times` is 1 to 100000, found 0xFFFFFFFFFFFFFFFFFFFF
      write a whole number, 1 to 100000
    1:8 [-1] document-range
      `seed` is 0 or more, found -1
      write a whole number, 0 or more
    1:8 [9223372036854775808] document-range
      `seed` is 0 or more, found 9223372036854775808
      write a whole number, 0 or more
    1:8 ["seven"] document-type
      `seed` is a whole number, 0 or more, found a text
      write `seed = 1`
    1:13 [25] document-range
      `transpose` is -24 to 24, found 25
      write a whole number, -24 to 24
    1:13 [1.0] document-type
      `transpose` is a whole number, -24 to 24, found a decimal number
      write `transpose = 1`
    1:8 [13] document-range
      `capo` is 0 to 12, found 13
      write a whole number, 0 to 12
    1:9 [5] document-type
      `title` is a text, found a whole number
      write `title = "Low tide"`
    1:7 [true] document-type
      `key` is a text, found true or false
      write `key = "A minor"`
    1:9 [4.4] document-type
      `meter` is a text, found a decimal number
      write `meter = "4/4"`
    1:9 [1979-05-27] document-type
      `meter` is a text, found a date
      write `meter = "4/4"`
    1:8 [[]] document-type
      `feel` is a text, found a list
      write `feel = "swing 2:1"`
    1:9 [[72, 96]] document-type
      `tempo` is a text, found a list
      write `tempo = "72 to 96 by 4 every 8 bars"`
    1:8 [["A"]] document-type
      `form` is a text, found a list
      write `form = "A A B A"`
    1:9 [1] document-type
      `parts` is a table, found a whole number
      write `[parts]` on a line of its own
    1:15 [true] document-type
      `parts.click` is a table, found true or false
      write `[parts.click]` on a line of its own
    1:18 [1] document-type
      `parts.click.on` is true or false, found a whole number
      write `on = true`
    "#);
    insta::assert_snapshot!(wrong_documents(&[
        "sections = \"| Am |\"",
        "[sections]\nA = [\"| Am |\"]",
        "[sections]\n\"verse one\" = \"| Am |\"",
        "[sections]\n\"\" = \"| Am |\"",
        "[sections.A]\nchart = \"| Am |\"",
        "[[sections]]\nA = \"| Am |\"",
    ]), @r#"
    1:12 ["| Am |"] document-type
      `sections` is a table, found a text
      write `[sections]` on a line of its own
    2:5 [["| Am |"]] document-type
      section A is a text, found a list
      write its chart: `A = "| Am7 | Dm7 |"`
    2:1 ["verse one"] document-section-name
      a section name is one word, found `verse one`
      write `A`, `verse` or `B2`
    2:1 [""] document-section-name
      a section name is one word, found ``
      write `A`, `verse` or `B2`
    1:1 [[sections.A]] document-type
      section A is a text, found a table
      write its chart: `A = "| Am7 | Dm7 |"`
    1:1 [[[sections]]] document-type
      `sections` is a table, found a list
      write `[sections]` on a line of its own
    "#);
}

#[test]
fn parts_that_are_wrong() {
    insta::assert_snapshot!(wrong(&[
        "[parts.clik]",
        "[parts.strum]",
        "[parts.click]\nbeats = [0]",
        "[parts.click]\nbeats = []",
        "[parts.click]\nbeats = \"two\"",
        "[parts.click]\nbeats = [\"2\"]",
        "[parts.click]\nbeats = 2",
        "[parts.click]\nsilent = \"3 off 1 on\"",
        "[parts.click]\nsilent = \"0 on 1 off\"",
        "[parts.click]\ncount_in = 9",
        "[parts.click]\nsubdivide = 0",
        "[parts.click]\nprogram = 5",
        "[parts.pads]\nprogram = 0",
        "[parts.pads]\nprogram = 129",
        "[parts.pads]\nlevel = 128",
        "[parts.pads]\npan = 101",
        "[parts.pads]\nvoices = 1",
        "[parts.pads]\nlow = \"E\"",
        "[parts.pads]\nhigh = \"C3\"",
        "[parts.pads]\nstrike = \"beat\"",
        "[parts.pads]\nchannel = 2",
        "[parts.pads]\nchannel = 10",
        "[parts.pads]\nchannel = 17",
        "[parts.bass]\nline = \"walking\"",
        "[parts.drone]\nnotes = \"fifth\"",
        "[parts.kit]\nlevle = 3",
    ]), @r#"
    1:8 [clik] document-key
      unknown part `parts.clik`
      write `click`
    1:8 [strum] document-key
      unknown part `parts.strum`
      known are click, pads, bass, kit, drone
    2:9 [[0]] click-beats
      `parts.click.beats` lists beats from 1 to 32
      write `beats = [2, 4]` or `beats = "all"`
    2:9 [[]] click-beats
      `parts.click.beats` lists beats from 1 to 32
      write `beats = [2, 4]` or `beats = "all"`
    2:9 ["two"] document-type
      `parts.click.beats` is a list of beats or "all", found a text
      write `beats = [2, 4]`
    2:9 [["2"]] click-beats
      `parts.click.beats` lists beats from 1 to 32
      write `beats = [2, 4]` or `beats = "all"`
    2:9 [2] document-type
      `parts.click.beats` is a list of beats or "all", found a whole number
      write `beats = [2, 4]`
    2:10 ["3 off 1 on"] click-silent
      silent bars are written like "3 on 1 off", found "3 off 1 on"
      write how many bars click and how many are silent, each 1 to 64, or "none"
    2:10 ["0 on 1 off"] click-silent
      silent bars are written like "3 on 1 off", found "0 on 1 off"
      write how many bars click and how many are silent, each 1 to 64, or "none"
    2:12 [9] document-range
      `parts.click.count_in` is 0 to 8, found 9
      write a whole number, 0 to 8
    2:13 [0] document-range
      `parts.click.subdivide` is 1 to 8, found 0
      write a whole number, 1 to 8
    2:1 [program] document-key
      unknown key `parts.click.program`
      known are on, level, pan, channel, count_in, accents, subdivide, beats, silent
    2:11 [0] document-range
      `parts.pads.program` is 1 to 128, found 0
      write a whole number, 1 to 128
    2:11 [129] document-range
      `parts.pads.program` is 1 to 128, found 129
      write a whole number, 1 to 128
    2:9 [128] document-range
      `parts.pads.level` is 0 to 127, found 128
      write a whole number, 0 to 127
    2:7 [101] document-range
      `parts.pads.pan` is -100 to 100, found 101
      write a whole number, -100 to 100
    2:10 [1] document-range
      `parts.pads.voices` is 2 to 6, found 1
      write a whole number, 2 to 6
    2:7 ["E"] pads-register
      `parts.pads.low` is a note with its octave, found "E"
      write "E3" (C4 is middle C)
    2:8 ["C3"] pads-register
      the register of the pads spans at least 16 semitones
      write `low = "E3"` and `high = "E5"`
    2:10 ["beat"] document-choice
      `parts.pads.strike` is "bar" or "change", found "beat"
      write `strike = "bar"`
    1:8 [pads] part-channel
      pads and bass are both on channel 2
      give each pitched part its own channel
    1:8 [pads] part-channel
      channel 10 is for percussion, and pads has pitches
      choose another channel, 1 to 16
    2:11 [17] document-range
      `parts.pads.channel` is 1 to 16, found 17
      write a whole number, 1 to 16
    2:8 ["walking"] document-choice
      `parts.bass.line` is "roots" or "root and fifth", found "walking"
      write `line = "roots"` or `line = "root and fifth"`
    2:9 ["fifth"] document-choice
      `parts.drone.notes` is "tonic" or "tonic and fifth", found "fifth"
      write `notes = "tonic"` or `notes = "tonic and fifth"`
    2:1 [levle] document-key
      unknown key `parts.kit.levle`
      write `level`
    "#);
}

#[test]
fn unknown_keys_are_named_with_the_nearest_known() {
    insta::assert_snapshot!(wrong(&[
        "tmepo = 72",
        "Title = \"x\"",
        "bpm = 72",
        "time = \"3/4\"",
        "tims = 2",
        "[part.click]",
        "[section]",
        "[parts.click]\ncountin = 1",
    ]), @"
    1:1 [tmepo] document-key
      unknown key `tmepo`
      write `tempo`
    1:1 [Title] document-key
      unknown key `Title`
      write `title`
    1:1 [bpm] document-key
      unknown key `bpm`
      write `tempo`
    1:1 [time] document-key
      unknown key `time`
      write `meter`
    1:1 [tims] document-key
      unknown key `tims`
      write `times`
    1:2 [part] document-key
      unknown key `part`
      write `parts`
    1:2 [section] document-key
      unknown key `section`
      write `sections`
    2:1 [countin] document-key
      unknown key `parts.click.countin`
      write `count_in`
    ");
}

#[test]
fn texts_that_are_no_toml() {
    insta::assert_snapshot!(wrong_documents(&[
        "title = \"Low tide",
        "title = Low tide\n[sections]\nA = \"| Am |\"",
        "tempo = 72\ntempo = 80\n[sections]\nA = \"| Am |\"",
        "[sections]\nA = | Am | Dm |",
        "[sections]\nA = \"| Am |\"\nA = \"| Dm |\"",
        "[sections\nA = \"| Am |\"",
        "key: A minor\n[sections]\nA = \"| Am |\"",
    ]), @r#"
    1:18 [] toml
      invalid basic string, expected `"`
      a document is TOML: `key = "A minor"`, sections under `[sections]`
    1:9 [Low tide] toml
      expected a text in quotes, found one without
      write `"Low tide"`
    2:1 [tempo] toml
      `tempo` is written twice
      leave one of the two out
    2:5 [| Am | Dm |] toml
      expected a text in quotes, found one without
      write `"| Am | Dm |"`
    3:1 [A] toml
      `A` is written twice
      leave one of the two out
    1:10 [] toml
      unclosed table, expected `]`
      a document is TOML: `key = "A minor"`, sections under `[sections]`
    1:4 [:] toml
      invalid unquoted key, expected letters, numbers, `-`, `_`
      a document is TOML: `key = "A minor"`, sections under `[sections]`
    1:6 [] toml
      key with no value, expected `=`
      a document is TOML: `key = "A minor"`, sections under `[sections]`
    "#);
    insta::assert_snapshot!(wrong_documents(&["", "# nothing\n", "[sections]", "title = \"x\"\n[sections]\n"]), @r#"
    1:1 [] document-sections
      a document has no sections
      write `[sections]` and below it `A = "| Am7 | Dm7 |"`
    1:1 [] document-sections
      a document has no sections
      write `[sections]` and below it `A = "| Am7 | Dm7 |"`
    1:1 [[sections]] document-sections
      a document has no sections
      write `[sections]` and below it `A = "| Am7 | Dm7 |"`
    2:1 [[sections]] document-sections
      a document has no sections
      write `[sections]` and below it `A = "| Am7 | Dm7 |"`
    "#);
}

#[test]
fn the_form_names_sections_that_are_written() {
    insta::assert_snapshot!(wrong(&[
        "form = \"A B\"",
        "form = \"a\"",
        "form = \"A intro\"",
        "form = \" \"",
        "form = \"A verse A bridge\"",
    ]), @r#"
    1:11 [B] form-section
      the form names a section B, which is not written
      write `A`, or add a section B
    1:9 [a] form-section
      the form names a section a, which is not written
      write `A`, or add a section a
    1:11 [intro] form-section
      `intro` is played once and does not belong to the form
      leave it out: the section is played by itself
    1:8 [" "] document-form
      a form has no sections
      write `form = "A"`
    1:11 [verse] form-section
      the form names a section verse, which is not written
      write `A`, or add a section verse
    1:19 [bridge] form-section
      the form names a section bridge, which is not written
      write `A`, or add a section bridge
    "#);
    insta::assert_snapshot!(wrong_documents(&[
        "[sections]\nintro = \"| Am |\"",
        "form = \"\"\"\nA\nC\"\"\"\n[sections]\nA = \"| Am |\"\nB = \"| Am |\"",
        "[sections]\nintro = \"| Am |\"\nending = \"| X |\"",
    ]), @r#"
    2:1 [intro] document-form
      a form has no sections
      write a section besides intro and ending: `A = "| Am7 | Dm7 |"`
    3:1 [C] form-section
      the form names a section C, which is not written
      write `A`, or add a section C
    3:13 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    "#);
}

/// The caret stands under the token meant, wherever the chart is written.
#[test]
fn charts_are_wrong_in_the_place_where_they_are_written() {
    insta::assert_snapshot!(wrong_documents(&[
        "[sections]\nA = \"| Am | Xm |\"",
        "[sections]\nA = '| Am | Xm |'",
        "[sections]\nA = \"\"\"\n| Am |\n| Dm | Xm |\n\"\"\"",
        "[sections]\nA = '''\n| Am |\n| Dm | Xm |'''",
        "[sections]\r\nA = \"\"\"\r\n| Am |\r\n| Dm | Xm |\r\n\"\"\"\r\n",
        "[sections]\nA = \"| B\\u266Dm | Xm |\"",
        "[sections]\nA = \"| Am |\\t\\\"m |\"",
        "[sections]\nA = \"\"\"\\\n   | Am | \\\n   Dm Dm G |\"\"\"",
        "title = \"\u{1F3B8}\"\n[sections]\n\"B\u{266D}\" = \"| B\u{266D}m | Xm |\"",
        "sections = { A = \"| Am | Xm |\", B = \"| Am | | Dm |\" }",
        "[sections]\nA = \"\"",
        "[sections]\nA = \"\"\"\n\"\"\"",
    ]), @r#"
    2:13 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    2:13 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    4:8 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    4:8 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    4:8 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    2:19 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    2:14 [\"] no-root
      expected a root A to G, found `"`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    4:4 [Dm Dm G] chart-uneven
      3 chords do not share the 4 beats of 4/4 evenly
      write each beat, a chord or a `/`: `| Dm / Dm G |`
    3:17 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    1:26 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    1:43 [| |] chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord
    2:6 [] chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`
    3:1 [] chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`
    "#);
}

#[test]
fn several_errors_come_in_one_run_in_the_order_of_the_text() {
    insta::assert_snapshot!(wrong_documents(&["\
times = 0
tmepo = 72
key = \"H\"
form = \"A C\"
capo = 2

[sections]
B = \"| Am | Xm |\"
A = \"| III | C D E |\"

[parts.pads]
voices = 9
"]), @"
    1:9 [0] document-range
      `times` is 1 to 100000, found 0
      write a whole number, 1 to 100000
    2:1 [tmepo] document-key
      unknown key `tmepo`
      write `tempo`
    3:8 [H] no-tonic
      expected a tonic A to G in upper case: expected a note letter A to G in upper case, found `H`
      write a key such as `A minor`, `Am`, `Bb` or `D dorian`
    4:11 [C] form-section
      the form names a section C, which is not written
      write `B`, or add a section C
    5:1 [capo] warning not-yet
      `capo` is kept, but this version does nothing with it
      leave it in: it will count in a later version
    8:13 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    9:14 [C D E] chart-uneven
      3 chords do not share the 4 beats of 4/4 evenly
      write each beat, a chord or a `/`: `| C / D E |`
    12:10 [9] document-range
      `parts.pads.voices` is 2 to 6, found 9
      write a whole number, 2 to 6
    ");
}

#[test]
fn no_more_errors_are_told_than_are_read() {
    let text = format!("[sections]\nA = \"{}|\"", "| X ".repeat(60_000));
    let problems = Piece::read(&text).unwrap_err();
    assert_eq!(problems.len(), MOST_PROBLEMS + 1);
    let last = &problems[MOST_PROBLEMS];
    assert_eq!(
        (last.code, &*last.message),
        ("more-errors", "there are 59950 more errors behind this")
    );
    let names = format!("form = \"{}\"{SECTIONS}", "Z ".repeat(100_000));
    assert!(Piece::read(&names).unwrap_err().len() <= MOST_PROBLEMS + 1);
    let numerals = format!("[sections]\nA = \"{}|\"", "| V ".repeat(60_000));
    assert_eq!(good(&numerals).unfold().unwrap_err().len(), MOST_PROBLEMS);
}

#[test]
fn large_texts_and_long_forms_are_refused() {
    let large = format!("title = \"{}\"", "x".repeat(MOST_BYTES));
    let problems = Piece::read(&large).unwrap_err();
    assert_eq!((problems.len(), problems[0].code), (1, "document-size"));
    assert_eq!(Piece::read_inline(&large).unwrap_err(), problems);
    let charts: String = ('A'..='C')
        .map(|n| format!("{n} = \"{}|\"\n", "|: C :|x999".repeat(45)))
        .collect();
    let problems = Piece::read(&format!("[sections]\n{charts}")).unwrap_err();
    assert_eq!(
        shown(
            "",
            &[Problem {
                span: 0..0,
                ..problems[0].clone()
            }]
        )
        .lines()
        .nth(1),
        Some("  the sections of a document have at most 100000 bars")
    );
    let long = good(&format!(
        "form = \"{}\"\n[sections]\nA = \"| C :|x999\"",
        "A ".repeat(101)
    ));
    let problems = long.unfold().unwrap_err();
    assert_eq!(
        (problems.len(), problems[0].code, &*problems[0].message),
        (1, "chart-too-long", "a form has at most 100000 bars")
    );
}

#[test]
fn what_shows_only_when_the_form_is_unfolded() {
    insta::assert_snapshot!(wrong_form("[sections]\nA = \"| Am | bVII |\"\nB = '''\n| 57 | V |\n'''"), @r#"
    2:13 [bVII] needs-key
      `bVII` needs a key
      give a key, such as `key = "A minor"`, or write the chord in letters
    4:3 [57] needs-key
      `57` needs a key
      give a key, such as `key = "A minor"`, or write the chord in letters
    4:8 [V] needs-key
      `V` needs a key
      give a key, such as `key = "A minor"`, or write the chord in letters
    "#);
    insta::assert_snapshot!(wrong_form("feel = \"swing 2:1\"\n[sections]\nA = \"| Am | (6/8) Dm C | % | (7/8) Em |\""), @"
    3:19 [Dm C] swing-meter
      6/8 cannot swing its eighths
      leave the feel out: the beat of a compound meter is in threes already
    3:36 [Em] swing-meter
      7/8 cannot swing its eighths
      write `swing 2:1 16ths`, or `straight`
    ");
    insta::assert_snapshot!(wrong_form("form = \"A B\"\nfeel = \"swing 2:1 16ths\"\n[sections]\nA = \"| Am |\"\nB = \"| (5/16) Em | (12/8) Am |\""), @"
    5:15 [Em] swing-meter
      5/16 cannot swing its 16ths
      write `straight`
    5:27 [Am] swing-meter
      12/8 cannot swing its 16ths
      leave the feel out: the beat of a compound meter is in threes already
    ");
}

#[test]
fn warnings_do_not_refuse() {
    let text = "key = \"A minor\"\ncapo = 2\nkeys = \"fourths\"\nfit = \"clear\"\ntuning = \"standard\"\n[sections]\nA = \"| i | III | VI | III7 | VII |\"\n";
    let (_, warnings) = Piece::read(text).unwrap();
    insta::assert_snapshot!(shown(text, &warnings), @"
    2:1 [capo] warning not-yet
      `capo` is kept, but this version does nothing with it
      leave it in: it will count in a later version
    3:1 [keys] warning not-yet
      `keys` is kept, but this version does nothing with it
      leave it in: it will count in a later version
    4:1 [fit] warning not-yet
      `fit` is kept, but this version does nothing with it
      leave it in: it will count in a later version
    5:1 [tuning] warning not-yet
      `tuning` is kept, but this version does nothing with it
      leave it in: it will count in a later version
    7:12 [III] warning numeral-minor
      `III` in A minor is C#; for C write `bIII`
      numerals count from the major scale, in minor keys too
    7:18 [VI] warning numeral-minor
      `VI` in A minor is F#; for F write `bVI`
      numerals count from the major scale, in minor keys too
    7:23 [III7] warning numeral-minor
      `III7` in A minor is C#7; for C7 write `bIII7`
      numerals count from the major scale, in minor keys too
    7:30 [VII] warning numeral-minor
      `VII` in A minor is G#; for G write `bVII`
      numerals count from the major scale, in minor keys too
    ");
}

#[test]
fn inline_charts() {
    let inline = |text: &str| Piece::read_inline(text).unwrap().0;
    assert_eq!(form(&inline("| Am | Dm |")), " ; Am | Dm ; Am");
    let named = inline("[A] | Am |\n[B] | Dm |\n[intro] |: C :|\n[ending] | F |");
    assert_eq!(form(&named), "C | C ; Am | Dm ; F");
    assert_eq!(form(&inline("| C |\n[B] | Dm |")), " ; C | Dm ; C");
    assert_eq!(form(&inline("| C |\n[A] | Dm |")), " ; C | Dm ; C");
    assert_eq!(inline("| C |\n[A] | Dm |").form, ["B", "A"]);
    // As `check` shows it, and as lead sheets are laid out.
    assert_eq!(
        form(&inline("[verse]\n| Am | Dm |\n\n[chorus]\n|: C :|\n")),
        " ; Am | Dm | C | C ; Am"
    );
    // Each section starts in the document's meter.
    let meters: Vec<String> = inline("[A] | (3/4) C |\n[B] | C |")
        .unfold()
        .unwrap()
        .pass
        .iter()
        .map(|b| b.meter.to_string())
        .collect();
    assert_eq!(meters, ["3/4", "4/4"]);
    let wrong = |text: &str| shown(text, &Piece::read_inline(text).unwrap_err());
    insta::assert_snapshot!([
        "", "Am Dm", "[A] | Am |\n[A] | Dm |", "[A] Am | Dm |", "[intro] | Am |", "| Am |\n[B] | % |\n[C] | X |",
        "[A] |\n[B] | C |", "| B\u{266D}m | Xm |",
    ].map(wrong).join("---\n"), @r#"
    1:1 [] chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`
    ---
    1:1 [Am Dm] chart-no-bar-line
      a chart has no bar lines
      write `| Am | Dm |`
    ---
    2:1 [[A]] chart-section-twice
      section A is written twice
      give each section its own name
    ---
    1:1 [[A]] chart-section-place
      a section name begins a line and a bar line follows it, found `[A]`
      write `[A] | Am | Dm |` on a line of its own; in a document write `B = "| Am | Dm |"` under `[sections]`
    ---
    1:1 [[intro] | Am |] document-form
      a form has no sections
      write a section besides intro and ending: `[A] | Am7 | Dm7 |`
    ---
    2:7 [%] chart-simile-first
      `%` has no bar before it to repeat
      write the bar out
    3:7 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    ---
    1:4 [ |~] chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`
    ---
    1:9 [X] no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
    "#);
}

#[test]
fn chords_are_held_over_bar_lines() {
    let piece = |chart: &str| good(&format!("ending = \"none\"\n[sections]\nA = \"{chart}\""));
    assert_eq!(
        form(&piece("| Am | / Dm / / | / / / / |")),
        " ; Am | ~Am Dm | ~Dm ; "
    );
    // In a repeat, what is held is what sounded before, not what is written before.
    assert_eq!(
        form(&piece("| C |: / / D / |[1. / / G / :|[2. / F / / |")),
        " ; C | ~C D | ~D G | ~G D | ~D F ; "
    );
    let bars = piece(
        "| Am / | (3/4) / / C |"
            .replace("Am /", "Am / / /")
            .as_str(),
    )
    .unfold()
    .unwrap()
    .pass;
    let places: Vec<(u32, u64, u64, bool)> = bars
        .iter()
        .flat_map(|b| &b.chords)
        .map(|c| (c.beat, c.offset_ticks, c.length_ticks, c.held))
        .collect();
    assert_eq!(
        places,
        [
            (0, 0, 3840, false),
            (0, 0, 1920, true),
            (2, 1920, 960, false)
        ]
    );
}

#[test]
fn a_piece_is_moved_and_spelt_in_its_new_key() {
    let moved = |head: &str, chart: &str| {
        form(&good(&format!(
            "{head}\nending = \"none\"\n[sections]\nA = \"{chart}\""
        )))
    };
    assert_eq!(
        moved("transpose = 1", "| Am | F#7 | Bb/D |"),
        " ; Bbm | G7 | Cb/Eb ; "
    );
    assert_eq!(
        moved("transpose = 2", "| C | Am/G | N.C. |"),
        " ; D | Bm/A | N.C. ; "
    );
    assert_eq!(moved("transpose = -2", "| C | F |"), " ; Bb | Eb ; ");
    assert_eq!(moved("transpose = 6", "| C | G |"), " ; F# | C# ; ");
    assert_eq!(moved("transpose = 12", "| C | G |"), " ; C | G ; ");
    assert_eq!(
        moved("key = \"A minor\"\ntranspose = 3", "| i | bVII | E7 |"),
        " ; Cm | Bb | G7 ; "
    );
    assert_eq!(
        moved("key = \"A minor\"\ntranspose = 1", "| Am | F | E7 |"),
        " ; Bbm | Gb | F7 ; "
    );
    let (mut piece, _) = Piece::read(
        "key = \"A minor\"\nending = \"none\"\n[sections]\nA = \"| Am | bVI | E7 | 5/7 |\"",
    )
    .unwrap();
    piece.target = Some(Key::read("C# minor").unwrap());
    assert_eq!(form(&piece), " ; C#m | A | G#7 | G#/B# ; ");
}

#[test]
fn the_last_bar_is_the_tonic() {
    let last = |head: &str, chart: &str| {
        let text = form(&good(&format!("{head}\n[sections]\nA = \"{chart}\"")));
        text.rsplit(" ; ").next().unwrap().to_owned()
    };
    // The tonic chord as the chart has it, or the triad of the key; without a key the first chord.
    assert_eq!(last("key = \"A minor\"", "| Dm | Am7 | Am |"), "Am7");
    assert_eq!(last("key = \"A minor\"", "| Dm | Am/C | E7 |"), "Am");
    assert_eq!(last("key = \"C major\"", "| F | G7 |"), "C");
    assert_eq!(last("key = \"D dorian\"", "| G7 |"), "Dm");
    assert_eq!(
        last("key = \"A major\"\ntranspose = 3", "| IV7 | I7 |"),
        "C7"
    );
    assert_eq!(last("", "| N.C. | Dm7 | Am |"), "Dm7");
    assert_eq!(last("key = \"C major\"", "| N.C. |"), "");
    assert_eq!(last("", "| N.C. |"), "");
    assert_eq!(last("ending = \"none\"", "| C |"), "");
    assert_eq!(last("times = \"endless\"", "| C |"), "");
    let text = "[sections]\nA = \"| C |\"\nending = \"| F | G |\"\nintro = \"| D |\"";
    assert_eq!(form(&good(text)), "D ; C ; F | G");
    let bar = good("meter = \"3/4\"\n[sections]\nA = \"| C | (5/4) G |\"")
        .unfold()
        .unwrap()
        .ending;
    assert_eq!(
        (bar[0].meter.to_string(), bar[0].chords[0].length_ticks),
        ("5/4".to_owned(), 4800)
    );
}

/// The piece without the places of its text, which printing moves.
fn bare(mut piece: Piece) -> Piece {
    for (_, _, section) in &mut piece.sections {
        place(section, |_| 0..0);
    }
    piece.tempo = TempoPlan::read(&piece.tempo.to_string()).unwrap();
    piece.sections.sort_by(|a, b| a.0.cmp(&b.0));
    piece
}

fn comes_back(piece: &Piece) -> Result<(), TestCaseError> {
    let text = piece.to_document();
    match Piece::read(&text) {
        Ok((again, _)) => prop_assert_eq!(bare(again), bare(piece.clone()), "{}", text),
        Err(problems) => prop_assert!(false, "{}\n{:#?}", text, problems),
    }
    Ok(())
}

fn settings() -> impl Strategy<Value = String> {
    let pick = |choices: &'static [&'static str]| prop::sample::select(choices.to_vec());
    let head = (
        pick(&[
            "",
            "title = \"B\u{266D} \\\"x\\\"\\n\\\\\"\n",
            "title = ''\n",
        ]),
        pick(&[
            "",
            "key = \"A minor\"\n",
            "key = \"F# mixolydian\"\n",
            "key = \"Bb\"\n",
        ]),
        pick(&[
            "",
            "meter = \"3/4\"\n",
            "meter = \"6/8\"\n",
            "meter = \"7/8 = 2+2+3\"\n",
            "meter = \"2/2\"\n",
        ]),
        pick(&[
            "",
            "feel = \"swing 2:1 16ths\"\n",
            "feel = \"swing 3.5:1\"\n",
            "feel = \"straight\"\n",
        ]),
        pick(&[
            "",
            "tempo = 72.125\n",
            "tempo = \"60 to 76 by 8 back 4 every 4 bars\"\n",
            "tempo = \"quarter = 72 for 90 s, 80 to 90 over 2.5 min, 90\"\n",
        ]),
        pick(&["", "plan = \"each pass\"\n"]),
        pick(&[
            "",
            "set = \"A minor pentatonic\"\nhome = \"A dorian\"\n",
            "set = \"C# 1 b3 4 5 b7\"\n",
        ]),
        pick(&[
            "",
            "fit = \"clear\"\nkeys = \"A minor, D minor\"\n",
            "capo = 3\ntuning = \"D A D G B E\"\n",
        ]),
        pick(&["", "times = 3\n", "times = \"endless\"\n"]),
        (
            pick(&["", "seed = 0\n", "seed = 9223372036854775807\n"]),
            pick(&["", "transpose = -24\n", "transpose = 5\n"]),
            pick(&["", "ending = \"none\"\n"]),
        ),
    );
    let sections = pick(&[
        "[sections]\nA = \"| Am | Dm |\"\n",
        "form = \"A A B A\"\n[sections]\nB = \"|: C |[1. F :|[2. G | / |\"\nA = '''\n| Am |\n| % |'''\nintro = \"| N.C. |\"\n",
        "[sections]\nZ = \"| C |\"\nA = \"| (4/4) D | E |\"\n",
        "[sections]\n\"B\u{266D}\" = \"| B\u{266D}m |\\n| \\tC7(b9, #11) |\"\nending = \"| C |\"\n",
    ]);
    let parts = (
        pick(&[
            "",
            "[parts.click]\ncount_in = 0\naccents = false\nsubdivide = 4\nbeats = [2, 4]\nsilent = \"3 on 1 off\"\n",
            "[parts.click]\non = false\n",
            "[parts.click]\nchannel = 3\nlevel = 1\non = false\n",
        ]),
        pick(&[
            "",
            "[parts.pads]\nprogram = 1\npan = -7\nvoices = 3\nlow = \"C3\"\nhigh = \"G5\"\nstrike = \"change\"\n",
            "[parts.pads]\non = false\nvoices = 2\n",
        ]),
        pick(&[
            "",
            "[parts.bass]\nline = \"root and fifth\"\nlevel = 0\n",
            "[parts.bass]\non = false\nline = \"root and fifth\"\n",
        ]),
        pick(&[
            "",
            "[parts.kit]\n",
            "[parts.kit]\nlevel = 3\n",
            "[parts.kit]\nlevel = 3\non = false\n",
        ]),
        pick(&[
            "",
            "[parts.drone]\n",
            "[parts.drone]\nnotes = \"tonic\"\nchannel = 12\n",
            "[parts.drone]\nnotes = \"tonic\"\non = false\n",
        ]),
    );
    (head, sections, parts).prop_map(
        |((a, b, c, d, e, f, g, h, i, (j, k, l)), s, (p, q, r, t, u))| {
            // A section key does not go with the form when it is written above other keys, so the form comes last.
            [a, b, c, d, e, f, g, h, i, j, k, l, s, p, q, r, t, u].concat()
        },
    )
}

fn spans_lie_within(text: &str, problems: &[Problem]) -> Result<(), TestCaseError> {
    for p in problems {
        prop_assert!(text.get(p.span.clone()).is_some(), "{:?}", p);
        prop_assert!(
            !p.code.is_empty() && !p.message.is_empty() && !p.help.is_empty(),
            "{:?}",
            p
        );
        prop_assert!(
            !p.message.contains('\n') && !p.help.contains('\n'),
            "{:?}",
            p
        );
    }
    Ok(())
}

fn check(
    text: &str,
    read: Result<(Piece, Vec<Problem>), Vec<Problem>>,
) -> Result<(), TestCaseError> {
    match read {
        Ok((piece, warnings)) => {
            spans_lie_within(text, &warnings)?;
            match piece.unfold() {
                Ok(form) => {
                    prop_assert!(!form.pass.is_empty());
                    for bar in form.bars() {
                        let ticks: u64 = bar.chords.iter().map(|c| c.length_ticks).sum();
                        prop_assert_eq!(ticks, bar.meter.bar_ticks());
                    }
                }
                Err(problems) => spans_lie_within(text, &problems)?,
            }
            comes_back(&piece)
        }
        Err(problems) => {
            prop_assert!(problems.iter().any(|p| p.severity == Severity::Error));
            spans_lie_within(text, &problems)
        }
    }
}

/// Text in the shape of a document.
fn document_like() -> impl Strategy<Value = String> {
    let line = prop::sample::select(vec![
        "title = \"x\"",
        "key = \"A minor\"",
        "meter = \"3/4\"",
        "meter = \"7/8 = 2+2+3\"",
        "feel = \"swing 2:1\"",
        "tempo = 72",
        "tempo = \"72 to 96 by 4 every 8 bars\"",
        "form = \"A B A\"",
        "form = \"\"\"\nA\n\"\"\"",
        "times = 99",
        "times = \"endless\"",
        "[sections]",
        "A = \"| Am | % |\"",
        "B = \"\"\"\n|: i | V7/V |[1. X :|[2. / |\n\"\"\"",
        "B = '| (6/8) C D |'",
        "A = \"\\u266D \\\" | C |\"",
        "intro = \"| 1 |\"",
        "[parts.click]",
        "beats = [1, 2]",
        "[parts]",
        "on = false",
        "[parts.pads]",
        "low = \"C9\"",
        "seed = 0x7F",
        "# c",
        "=",
        "\"\"\"",
        "[",
        "capo = 1",
        "\u{1F3B8} = 1",
        "x.y = 2",
        "transpose = -24",
    ]);
    prop::collection::vec(line, 0..14).prop_map(|lines| lines.join("\n"))
}

proptest! {
    #[test]
    fn a_piece_comes_back_from_its_document(text in settings()) {
        if let Ok((piece, _)) = Piece::read(&text) {
            comes_back(&piece)?;
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in ".{0,80}|[a-z=\"\\[\\]|. \n]{0,80}") {
        check(&text, Piece::read(&text))?;
        check(&text, Piece::read_inline(&text))?;
    }

    #[test]
    fn any_document_is_read_or_refused(text in document_like()) {
        check(&text, Piece::read(&text))?;
    }

    #[test]
    fn any_inline_chart_is_read_or_refused(text in "(\\[[AB]\\]|intro|\n|\\| |:\\||\\|:|Am|V7|%|/ |\\[1\\.|\\[2\\.|\\(3/4\\)| ){0,20}") {
        check(&text, Piece::read_inline(&text))?;
    }
}

/// Most of the settings must be good, or the property above shows nothing.
#[test]
fn settings_are_mostly_good() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let texts = (0..100).map(|_| settings().new_tree(&mut runner).unwrap().current());
    let good = texts.filter(|text| Piece::read(text).is_ok()).count();
    assert!(good > 50, "{good}");
}
