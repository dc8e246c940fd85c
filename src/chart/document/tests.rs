//! Documents, key by key.

mod forms;
mod good;
mod laws;

use super::*;
use crate::chart::{BassLine, ClickBeats, PadStrike, Parts, Silence, SourceText};
use crate::event::{Channel, KeyNumber};

const SECTIONS: &str = "\n[sections]\nA = \"| Am | Dm |\"\n";

/// The piece of a document without warnings.
fn good(text: &str) -> Piece {
    match Piece::read(text) {
        Ok((piece, reading)) => {
            assert_eq!(reading.warnings, [], "{text}");
            piece
        }
        Err(problems) => panic!("{text}\n{problems:#?}"),
    }
}

#[test]
fn places_of_what_is_checked_later_are_told() {
    let text = format!("tempo = \"60 to 90\"\nkeys = 'fourths'\n{SECTIONS}");
    let (_, Reading { places, .. }) = Piece::read(&text).unwrap();
    assert_eq!(&text[places.tempo], "\"60 to 90\"");
    assert_eq!(&text[places.keys], "'fourths'");
    let (_, reading) = Piece::read(SECTIONS).unwrap();
    assert_eq!(reading, Reading::default());
}

/// The piece of these lines and a section A.
fn with(lines: &str) -> Piece {
    good(&format!("{lines}{SECTIONS}"))
}

/// What is wrong: line, column and underlined text, the code, the message and the help.
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
        "tempo = \"72 to\"",
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
        "ritardando = \"2 beats\"",
        "ritardando = \"2 bars to 20%\"",
        "times = \"forever\"",
        "times = \"Endless\"",
        "times = \"2\"",
    ]), @r#"
    1:8 [H minor] note-name
      a tonic is named by a letter A to G, found `H minor`
      write `B minor`
    1:8 [A minro] unknown-mode
      expected major, minor or a mode, found `minro`
      write `A major`, `A minor` or dorian, phrygian, lydian, mixolydian or locrian
    1:8 [] empty-key
      expected a key, found nothing
      write a key such as `A minor`, `Am`, `Bb` or `D dorian`
    1:10 [4/5] meter-lower-number
      the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 5
      write the note that is counted: 4 for quarters, 8 for eighths
    1:10 [44] meter-form
      a meter is written like 4/4 or 7/8 = 2+2+3, found `44`
      write `4/4`, `3/4`, `6/8` or `7/8 = 2+2+3`
    1:10 [7/8 = 2+2+2] meter-group-sum
      the groups of a meter add up to its upper number 7, found 6
      write groups that fill the bar, such as 2+2+3
    1:9 [swung] feel-form
      a feel is `straight` or a swing such as `swing 2:1`, found `swung`
      write `swing 2:1`, `swing 3:2 16ths` or `straight`
    1:9 [swing 1:2] swing-ratio
      a swing ratio lies between 1:1 and 9:1, found 1:2
      write `swing 2:1`, `swing 3:2 16ths` or `straight`
    2:9 [swing 2:1] swing-meter
      6/8 cannot swing its eighths
      leave the feel out: the beat of a compound meter is in threes already
    1:10 [fast] plan-tempo
      expected a tempo in beats a minute, found `fast`
      write `72`, `72 for 8 bars, 96`, `72 to 96 over 16 bars` or `72 to 96 by 4 every 8 bars`
    1:13 [to] plan-tempo
      expected a tempo in beats a minute, found the end
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
      write `"once"` or `"each pass"`
    1:8 [A minor pentatonik] unknown-scale
      expected a known scale, found `minor pentatonik`
      write `A minor pentatonic`
    1:9 [A] no-scale-name
      expected a scale after A, found nothing
      write a name, as in `A minor pentatonic`, or degrees, as in `A 1 b3 4 5 b7`
    1:7 ["inzide"] document-choice
      `fit` is "inside", "clear", "home", "home with V" or "blues", found "inzide"
      write `"inside"`
    1:10 ["tonik"] document-choice
      `ending` is "tonic" or "none", found "tonik"
      write `"tonic"`
    1:15 [2 beats] document-ritardando
      a ritardando takes 1 to 8 bars and comes to 30% to 95% of the tempo, found `2 beats`
      write `2 bars`, or `2 bars to 60%`
    1:15 [2 bars to 20%] document-ritardando
      a ritardando takes 1 to 8 bars and comes to 30% to 95% of the tempo, found `2 bars to 20%`
      write `2 bars`, or `2 bars to 60%`
    1:9 ["forever"] document-times
      `times` is a number or "endless", found "forever"
      write `2` or `"endless"`
    1:9 ["Endless"] document-times
      `times` is a number or "endless", found "Endless"
      write `2` or `"endless"`
    1:9 ["2"] document-times
      `times` is a number or "endless", found "2"
      write `2`
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
      write a number, such as `1`
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
      write a number, such as `1`
    1:13 [25] document-range
      `transpose` is -24 to 24, found 25
      write a whole number, -24 to 24
    1:13 [1.0] document-type
      `transpose` is a whole number, -24 to 24, found a decimal number
      write `1`
    1:8 [13] document-range
      `capo` is 0 to 12, found 13
      write a whole number, 0 to 12
    1:9 [5] document-type
      `title` is a text, found a whole number
      write `"Low tide"`
    1:7 [true] document-type
      `key` is a text, found true or false
      write `"A minor"`
    1:9 [4.4] document-type
      `meter` is a text, found a decimal number
      write `"4/4"`
    1:9 [1979-05-27] document-type
      `meter` is a text, found a date
      write `"4/4"`
    1:8 [[]] document-type
      `feel` is a text, found a list
      write `"swing 2:1"`
    1:9 [[72, 96]] document-type
      `tempo` is a text, found a list
      write `"72 to 96 by 4 every 8 bars"`
    1:8 [["A"]] document-type
      `form` is a text, found a list
      write `"A"`
    1:9 [1] document-type
      `parts` is a table, found a whole number
      write `[parts]` on a line of its own
    1:15 [true] document-type
      `parts.click` is a table, found true or false
      write `[parts.click]` on a line of its own
    1:18 [1] document-type
      `parts.click.on` is true or false, found a whole number
      write `true`
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
      write its chart: `"| Am |"`
    2:1 ["verse one"] document-section-name
      a section name is one word, found `verse one`
      write `A`, `verse` or `B2`
    2:1 [""] document-section-name
      a section name is one word, found ``
      write `A`, `verse` or `B2`
    1:1 [[sections.A]] document-type
      section A is a text, found a table
      write its chart: `"| Am7 | Dm7 |"`
    1:1 [[[sections]]] document-type
      `sections` is a table, found a list
      write `[sections]` on a line of its own
    "#);
}

#[test]
fn parts_that_are_wrong() {
    insta::assert_snapshot!(wrong(&[
        "[parts.clik]",
        "[parts.flute]",
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
        "[parts.bass]\nline = \"running\"",
        "[parts.click]\nsilent = \"1 in 1\"",
        "[parts.pads]\nrhythm = \". . . .\"",
        "[parts.strum]\nstrokes = \"D X U\"",
        "[parts.strum]\nsection_strokes = \"s s s s\"",
        "[parts.strum]\nsection_strokes = { Z = \"s s s s\" }",
        "[parts.strum]\nsection_strokes = { A = \"\" }",
        "[parts.strum]\nsection_strokes = { A = 4 }",
        "[parts.strum]\nshape = \"far\"",
        "[parts.strum]\nspread_ms = 41",
        "[parts.strum]\none_string = 1",
        "[parts.guide]\nrun = \"sideways\"",
        "[parts.guide]\nstring = 4",
        "[parts.guide]\nnotes = 9",
        "[parts.drone]\nnotes = \"fifth\"",
        "[parts.kit]\nlevle = 3",
    ]), @r#"
    1:8 [clik] document-key
      unknown part `parts.clik`
      write `click`
    1:8 [flute] document-key
      unknown part `parts.flute`
      known are click, pads, bass, kit, drone, strum, guide
    2:9 [[0]] click-beats
      `parts.click.beats` lists beats from 1 to 32
      write `[2, 4]` or `"all"`
    2:9 [[]] click-beats
      `parts.click.beats` lists beats from 1 to 32
      write `[2, 4]` or `"all"`
    2:9 ["two"] document-type
      `parts.click.beats` is a list of beats or "all", found a text
      write `[2, 4]`
    2:9 [["2"]] click-beats
      `parts.click.beats` lists beats from 1 to 32
      write `[2, 4]` or `"all"`
    2:9 [2] document-type
      `parts.click.beats` is a list of beats or "all", found a whole number
      write `[2]`
    2:10 ["3 off 1 on"] click-silent
      silent bars are written like "3 on 1 off" or "1 in 4", found "3 off 1 on"
      write how many bars click and how many are silent, each 1 to 64, a chance of 1 in 2 to 64, or "none"
    2:10 ["0 on 1 off"] click-silent
      silent bars are written like "3 on 1 off" or "1 in 4", found "0 on 1 off"
      write how many bars click and how many are silent, each 1 to 64, a chance of 1 in 2 to 64, or "none"
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
      write `"G2"`, for example; C4 is middle C
    2:8 ["C3"] pads-register
      the register of the pads spans at least 16 semitones
      write a higher `high` or a lower `low`, such as "E5" and "E3"
    2:10 ["beat"] document-choice
      `parts.pads.strike` is "bar" or "change", found "beat"
      write `"bar"`
    1:8 [pads] part-channel
      pads and bass are both on channel 2
      give each pitched part its own channel
    1:8 [pads] part-channel
      channel 10 is for percussion, and pads has pitches
      choose another channel, 1 to 16
    2:11 [17] document-range
      `parts.pads.channel` is 1 to 16, found 17
      write a whole number, 1 to 16
    2:8 ["running"] document-choice
      `parts.bass.line` is "groove", "roots", "root and fifth" or "walking", found "running"
      write `"groove"`, `"roots"`, `"root and fifth"` or `"walking"`
    2:10 ["1 in 1"] click-silent
      silent bars are written like "3 on 1 off" or "1 in 4", found "1 in 1"
      write how many bars click and how many are silent, each 1 to 64, a chance of 1 in 2 to 64, or "none"
    2:10 [". . . ."] part-rhythm
      a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found ". . . ."
      write `"D . D U . U D U"`
    2:11 ["D X U"] part-rhythm
      a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found "D X U"
      write `"D . D U . U D U"`
    2:19 ["s s s s"] document-type
      `parts.strum.section_strokes` is a table, found a text
      write `{ A = "s s s s" }`
    2:21 [Z] part-section
      `parts.strum.section_strokes` names a section, found `Z`
      write `A`
    2:25 [""] part-rhythm
      a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found ""
      write `"D . D U . U D U"`
    2:25 [4] part-rhythm
      a rhythm has 1 to 32 places D U m x s . - o with at least one stroke, found "a whole number"
      write `"D . D U . U D U"`
    2:9 ["far"] document-choice
      `parts.strum.shape` is "near" or "easiest", found "far"
      write `"near"` or `"easiest"`
    2:13 [41] document-range
      `parts.strum.spread_ms` is 0 to 40, found 41
      write a whole number, 0 to 40
    2:14 [1] document-type
      `parts.strum.one_string` is true or false, found a whole number
      write `true`
    2:7 ["sideways"] document-choice
      `parts.guide.run` is "up", "down", "both", "thirds", "groups of three" or "groups of four", found "sideways"
      write `"up"`, `"down"`, `"both"`, `"thirds"`, `"groups of three"` or `"groups of four"`
    2:10 [4] document-range
      `parts.guide.string` is 5 to 6, found 4
      write a whole number, 5 to 6
    2:9 [9] document-range
      `parts.guide.notes` is 1 to 8, found 9
      write a whole number, 1 to 8
    2:9 ["fifth"] document-choice
      `parts.drone.notes` is "tonic" or "tonic and fifth", found "fifth"
      write `"tonic"` or `"tonic and fifth"`
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

/// Found by fuzzing: a value that was never written got the place behind its first quotation mark, beyond the text.
#[test]
fn what_is_made_of_broken_toml_has_its_place_in_the_text() {
    for text in [
        "set=",
        "set = ",
        "key = \n",
        "set = \u{266D}",
        "set = \"\\u\u{266D}",
        "tempo = '",
    ] {
        for problem in Piece::read(text).unwrap_err() {
            assert!(
                text.get(problem.span.clone()).is_some(),
                "{text}: {problem:?}"
            );
        }
    }
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
      write `"A"`
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
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord
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
    3:8 [H] note-name
      a tonic is named by a letter A to G, found `H`
      write `B`
    4:11 [C] form-section
      the form names a section C, which is not written
      write `B`, or add a section C
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
    let text = format!("[sections]\nA = \"{}|\"", "| X ".repeat(6_000));
    let problems = Piece::read(&text).unwrap_err();
    assert_eq!(problems.len(), MOST_PROBLEMS + 1);
    let last = &problems[MOST_PROBLEMS];
    assert_eq!(
        (last.code, &*last.message),
        ("more-errors", "there are 5950 more errors behind this")
    );
    let names = format!("form = \"{}\"{SECTIONS}", "Z ".repeat(100_000));
    assert!(Piece::read(&names).unwrap_err().len() <= MOST_PROBLEMS + 1);
    let numerals = format!("[sections]\nA = \"{}|\"", "| V ".repeat(6_000));
    assert_eq!(good(&numerals).unfold().unwrap_err().len(), MOST_PROBLEMS);
}

#[test]
fn large_texts_and_long_forms_are_refused() {
    let large = format!("title = \"{}\"", "x".repeat(MOST_BYTES));
    let problems = Piece::read(&large).unwrap_err();
    assert_eq!((problems.len(), problems[0].code), (1, "document-size"));
    assert_eq!(Piece::read_inline(&large).unwrap_err(), problems);
    let charts: String = ('A'..='C')
        .map(|n| format!("{n} = \"{}|\"\n", "|: C :|x999".repeat(4)))
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
        Some("  the sections of a document have at most 10000 bars")
    );
    let long = good(&format!(
        "form = \"{}\"\n[sections]\nA = \"| C :|x999\"",
        "A ".repeat(11)
    ));
    let problems = long.unfold().unwrap_err();
    assert_eq!(
        (problems.len(), problems[0].code, &*problems[0].message),
        (1, "chart-too-long", "a form has at most 10000 bars")
    );
}
