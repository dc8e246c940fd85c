//! What people and programs see, pinned.

use super::*;
use crate::arrange::{Arrangement, Excerpt};
use crate::chart::{Piece, SourceText};
use crate::theory::{Key, Scale, figure};

/// The problems of a document as they are shown without color.
fn rendered(name: &str, text: &str) -> String {
    let problems = match Piece::read(text) {
        Ok((piece, reading)) => match piece.unfold() {
            Ok(_) => reading.warnings.into(),
            Err(problems) => problems,
        },
        Err(problems) => problems,
    };
    assert!(!problems.is_empty());
    render_problems(&problems, &SourceText::new(name, text), false)
}

fn rendered_chart(text: &str) -> String {
    let problems = match Piece::read_inline(text) {
        Ok((piece, _)) => piece.unfold().unwrap_err(),
        Err(problems) => problems,
    };
    render_problems(&problems, &SourceText::new("<chart>", text), false)
}

#[test]
fn a_chart_inside_a_text_of_several_lines() {
    let text = "title = \"Low tide\"\n\n[sections]\nA = \"\"\"\n| Am7 | Fmaj7 |\n| Dm7 | Gsus5 | % |\n\"\"\"\nB = \"| C |\"\n";
    insta::assert_snapshot!(rendered("low-tide.toml", text), @"
    Error in line 6 of low-tide.toml: expected `sus2` or `sus4`, found `sus5`.
        | Dm7 | Gsus5 | % |
                 ~~~~
      Write `sus2` or `sus4`.
    ");
}

#[test]
fn an_inline_chart() {
    insta::assert_snapshot!(rendered_chart("| Am7 | Dm7 G7 C |"), @"
    Error in the chart: 3 chords do not share the 4 beats of 4/4 evenly.
        | Am7 | Dm7 G7 C |
                ~~~~~~~~
      Write each beat, a chord or a `/`: `| Dm7 / G7 C |`.
    ");
    insta::assert_snapshot!(rendered_chart("| i | bVII |"), @r#"
    Error in the chart: `i` needs a key.
        | i | bVII |
          ~
      Give a key, such as `key = "A minor"`, or write the chord in letters.
    Error in the chart: `bVII` needs a key.
        | i | bVII |
              ~~~~
      Give a key, such as `key = "A minor"`, or write the chord in letters.
    "#);
    insta::assert_snapshot!(rendered_chart("|: Am | Dm |"), @"
    Error in the chart: a repeat is not closed.
        |: Am | Dm |
        ~~
      Write `:|` at its end.
    ");
    insta::assert_snapshot!(rendered_chart("| Am | | Xm |"), @"
    Error in the chart: a bar is empty.
        | Am | | Xm |
             ~~~
      Write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord.
    Error in the chart: expected a root A to G, found `X`.
        | Am | | Xm |
                 ~
      Begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`.
    ");
}

#[test]
fn columns_count_characters() {
    let text = "[sections]\n\"Stra\u{DF}e\" = \"| B\u{266D}m | E\u{266D}7 | H |\"\n";
    insta::assert_snapshot!(rendered("lied.toml", text), @r#"
    Error in line 2 of lied.toml: a root is named by a letter A to G, found `H`.
        "Straße" = "| B♭m | E♭7 | H |"
                                  ~
      Write `B`.
    "#);
}

#[test]
fn problems_of_several_lines_keys_and_syntax() {
    insta::assert_snapshot!(rendered("a.toml", "tmepo = 72\r\n[sections]\r\nA = \"\"\"\r\n| Am | Dm |\r\nG |\r\n\"\"\"\r\n"), @"
    Error in line 1 of a.toml: unknown key `tmepo`.
        tmepo = 72
        ~~~~~
      Write `tempo`.
    ");
    insta::assert_snapshot!(rendered("a.toml", "[sections]\nA = \"\"\"| Am Dm\nG |\"\"\""), @r#"
    Error in line 2 of a.toml: a line ends without a bar line, and the next begins without one.
        A = """| Am Dm
                 ~~~~~
        G |"""
        ~
      Write `Am Dm | G`, with a bar line at the end of each line.
    "#);
    insta::assert_snapshot!(rendered("a.toml", "title = \"Low tide"), @r#"
    Error in line 1 of a.toml: invalid basic string, expected `"`.
        title = "Low tide
                         ~
      A document is TOML: `key = "A minor"`, sections under `[sections]`.
    "#);
    insta::assert_snapshot!(rendered("empty.toml", ""), @r#"
    Error in line 1 of empty.toml: a document has no sections.
      Write `[sections]` and below it `A = "| Am7 | Dm7 |"`.
    "#);
    insta::assert_snapshot!(rendered("a.toml", "key = \"A minor\"\n[sections]\nA = \"| i | III |\""), @r#"
    Warning in line 3 of a.toml: `III` in A minor is C#; for C write `bIII`.
        A = "| i | III |"
                   ~~~
      Numerals count from the major scale, in minor keys too.
    "#);
    insta::assert_snapshot!(rendered("a.toml", "feel = \"swing 2:1\"\n[sections]\nA = \"| Am | (6/8) Dm |\""), @r#"
    Error in line 3 of a.toml: 6/8 cannot swing its eighths.
        A = "| Am | (6/8) Dm |"
                          ~~
      Leave the feel out: the beat of a compound meter is in threes already.
    "#);
}

/// A line of many thousand characters is cut: nobody reads it, and a terminal should not have to show it.
#[test]
fn long_lines_are_named_but_not_shown() {
    let chart = format!("| C |\n{}| X |", "| Am ".repeat(3000));
    insta::assert_snapshot!(rendered_chart(&chart), @"
    Error in line 2 of the chart: expected a root A to G, found `X`.
        ...| Am | Am | Am | Am | Am | Am | X |
                                           ~
      Begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`.
    ");
    let chart = format!("| {} |", "x".repeat(1 << 20));
    assert!(rendered_chart(&chart).len() < 2000);
    // A problem late in a long text is shown with its own line alone.
    let chart = format!("{}| X |\n| C |", "| Am |\n".repeat(9_000));
    insta::assert_snapshot!(rendered_chart(&chart), @"
    Error in line 9001 of the chart: expected a root A to G, found `X`.
        | X |
          ~
      Begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`.
    ");
}

/// Tabs and controls in what is quoted do not reach the terminal as such, and the caret stays in its place.
#[test]
fn controls_and_tabs() {
    insta::assert_snapshot!(rendered("a.toml", "[sections]\nA = \"|\tAm\t| X\t|\"\n"), @r#"
    Error in line 2 of a.toml: expected a root A to G, found `X`.
        A = "| Am | X |"
                    ~
      Begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`.
    "#);
    let shown = rendered_chart("| Am\u{1B}[2J | \u{7}X |");
    assert!(!shown.contains(['\u{1B}', '\u{7}']), "{shown:?}");
    insta::assert_snapshot!(shown, @"
    Error in the chart: expected a chord suffix, found `�[2J`.
        | Am␛[2J | ␇X |
            ~~~~
      Write a suffix such as `m7`, `maj7`, `9`, `sus4`, `dim`, `add9` or `7b9`.
    Error in the chart: expected a root A to G, found `�`.
        | Am␛[2J | ␇X |
                   ~
      Begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`.
    ");
}

#[test]
fn color_changes_no_word() {
    let text = "[sections]\nA = \"| X |\"";
    let problems = Piece::read(text).unwrap_err();
    let source = SourceText::new("a.toml", text);
    let colored = render_problems(&problems, &source, true);
    assert!(colored.contains("\u{1B}["));
    let mut plain = String::new();
    let mut rest = colored.as_str();
    while let Some((before, behind)) = rest.split_once("\u{1B}[") {
        plain.push_str(before);
        rest = behind.split_once('m').unwrap().1;
    }
    plain.push_str(rest);
    assert_eq!(plain, render_problems(&problems, &source, false));
}

#[test]
fn problems_as_json() {
    let text = "[sections]\nA = \"| B\u{266D}m | X |\"\n";
    let problems = Piece::read(text).unwrap_err();
    let line = problem_json(&problems[0], &SourceText::new("a.toml", text));
    insta::assert_snapshot!(line, @r#"{"code":"no-root","severity":"error","file":"a.toml","line":2,"column":14,"span":[26,27],"message":"expected a root A to G, found `X`","help":"begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`"}"#);
}

fn arranged(text: &str, excerpt: Excerpt) -> (Piece, Arrangement) {
    let (piece, _) = Piece::read(text).unwrap();
    let form = piece.unfold().unwrap();
    let arrangement = Arrangement::new(&piece, form, excerpt).unwrap();
    (piece, arrangement)
}

fn check_text(text: &str, excerpt: Excerpt) -> String {
    let (piece, arrangement) = arranged(text, excerpt);
    let report = CheckReport {
        piece: &piece,
        arrangement: &arrangement,
    };
    let mut out = Vec::new();
    write_check_text(&report, None, &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

fn check_json(text: &str, excerpt: Excerpt) -> String {
    let (piece, arrangement) = arranged(text, excerpt);
    let report = CheckReport {
        piece: &piece,
        arrangement: &arrangement,
    };
    let mut out = Vec::new();
    write_check_json(&report, &mut out).unwrap();
    let text = String::from_utf8(out).unwrap();
    serde_json::from_str::<serde_json::Value>(&text).unwrap();
    // One bar a line, so that it can be read.
    text.replace("{\"index\"", "\n{\"index\"")
        .replace("],\"dur", "\n],\"dur")
}

const PIECE: &str = "\
title = \"Low tide\"
key = \"A minor\"
feel = \"swing 2:1\"
tempo = \"60 to 120 by 60 every 4 bars\"
set = \"A minor pentatonic\"
times = 2
[sections]
intro = \"| E7 |\"
A = \"| i | iv bVII | (3/4) Fmaj7 / G/B | / / C |\"
";

#[test]
fn the_form_as_text() {
    insta::assert_snapshot!(check_text(PIECE, Excerpt::default()), @"
    Low tide
    A minor, 4/4, swing 2:1, tempo 60 to 120 by 60 every 4 bars
    count-in of 1 bar, 9 bars, ending of 1 bar, parts click pads bass, seed 1
    [intro]
        1    0:04.0      60  | E7          |
    [A]
        2    0:08.0      60  | Am          | Dm G        | (3/4) Fmaj7 / G/B | / / C       |
    pass 2 from bar 6, 0:20.5, tempo 120
    [ending]
       10    0:27.5     120  | (3/4) Am          |
    end      0:29.0
    set    A minor pentatonic: A C D E G, heard in A minor
           E7     -      -     -    blues  A rubs on G#, C rubs on B
           Am     inside clear home blues
           Dm     -      clear home blues
           G      -      -     home blues  C rubs on B
           Fmaj7  -      clear home blues
           G/B    -      -     home blues  C rubs on B
           C      inside clear home blues
    ");
    let endless = "times = \"endless\"\n[parts.click]\non = false\n[sections]\nA = \"|: C :|x3\"\nB = \"| N.C. | F G |\"";
    insta::assert_snapshot!(check_text(endless, Excerpt::default()), @"
    untitled
    4/4, tempo 90
    until stopped, parts pads bass, seed 1
    [A]
        1    0:00.0      90  | C    | C    | C    |
    [B]
        4    0:08.0      90  | N.C. | F G  |
    pass 2 from bar 6, 0:13.3, tempo 90
    pass 3 from bar 11, 0:26.7, tempo 90
    pass 4 from bar 16, 0:40.0, tempo 90
    pass 5 from bar 21, 0:53.3, tempo 90
    pass 6 from bar 26, 1:06.7, tempo 90
    pass 7 from bar 31, 1:20.0, tempo 90
    pass 8 from bar 36, 1:33.3, tempo 90
    pass 9 from bar 41, 1:46.7, tempo 90
    pass 10 from bar 46, 2:00.0, tempo 90
    pass 11 from bar 51, 2:13.3, tempo 90
    pass 12 from bar 56, 2:26.7, tempo 90
    pass 13 from bar 61, 2:40.0, tempo 90
    pass 14 from bar 66, 2:53.3, tempo 90
    pass 15 from bar 71, 3:06.7, tempo 90
    pass 16 from bar 76, 3:20.0, tempo 90
    pass 17 from bar 81, 3:33.3, tempo 90
      and so on
    ");
    let long = "times = 40\n[sections]\nA = \"| C |\"";
    insta::assert_snapshot!(check_text(long, Excerpt::default()), @"
    untitled
    4/4, tempo 90
    count-in of 1 bar, 40 bars, ending of 1 bar, parts click pads bass, seed 1
    [A]
        1    0:02.7      90  | C    |
    pass 2 from bar 2, 0:05.3, tempo 90
    pass 3 from bar 3, 0:08.0, tempo 90
    pass 4 from bar 4, 0:10.7, tempo 90
    pass 5 from bar 5, 0:13.3, tempo 90
    pass 6 from bar 6, 0:16.0, tempo 90
    pass 7 from bar 7, 0:18.7, tempo 90
    pass 8 from bar 8, 0:21.3, tempo 90
    pass 9 from bar 9, 0:24.0, tempo 90
    pass 10 from bar 10, 0:26.7, tempo 90
    pass 11 from bar 11, 0:29.3, tempo 90
    pass 12 from bar 12, 0:32.0, tempo 90
    pass 13 from bar 13, 0:34.7, tempo 90
    pass 14 from bar 14, 0:37.3, tempo 90
    pass 15 from bar 15, 0:40.0, tempo 90
    pass 16 from bar 16, 0:42.7, tempo 90
    pass 17 from bar 17, 0:45.3, tempo 90
      and so on
    pass 40 from bar 40, 1:46.7, tempo 90
    [ending]
       41    1:49.3      90  | C    |
    end      1:52.0
    ");
    let part = Excerpt {
        from: Some(3),
        to: Some(7),
        ..Excerpt::default()
    };
    insta::assert_snapshot!(check_text(PIECE, part), @"
    Low tide
    A minor, 4/4, swing 2:1, tempo 60 to 120 by 60 every 4 bars
    count-in of 1 bar, 5 bars, parts click pads bass, seed 1
    [A]
        3    0:04.0      60  | Dm G        | (3/4) Fmaj7 / G/B | / / C       |
    pass 2 from bar 6, 0:12.5, tempo 120
    end      0:16.5
    set    A minor pentatonic: A C D E G, heard in A minor
           Dm     -      clear home blues
           G      -      -     home blues  C rubs on B
           Fmaj7  -      clear home blues
           G/B    -      -     home blues  C rubs on B
           C      inside clear home blues
    ");
}

/// What `check` prints for a form can be typed in again.
#[test]
fn the_form_as_text_reads_back() {
    let text = "ending = \"none\"\n[sections]\nA = \"| Am | Dm / G / | / / C / | / | N.C. | (3/4) F/A G7(b9, #11) / |\"\n\
                B = \"| (3/4) C | (4/4) D | C D E F |\"\nC = \"| (6/8) C D | (4/4) / / / Am |\"\n";
    let text = text.replace("| / |", "| / / / / |");
    let shown = check_text(&text, Excerpt::default());
    let chart: String = shown
        .lines()
        .filter_map(|line| match line.find('|') {
            Some(at) => Some(format!("{}\n", &line[at..])),
            None if line.starts_with('[') => Some(format!("{line}\n")),
            None => None,
        })
        .collect();
    let (piece, _) = Piece::read_inline(&chart).unwrap();
    let form = piece.unfold().unwrap();
    let (_, arrangement) = arranged(&text, Excerpt::default());
    let region = crate::time::Region::Pass { pass: 0, bar: 0 };
    assert_eq!(form.pass, arrangement.score_of(region).unwrap().bars);
}

#[test]
fn the_form_as_json() {
    insta::assert_snapshot!(check_json(PIECE, Excerpt::default()), @r#"
    {"version":1,"title":"Low tide","key":"A minor","meter":"4/4","ticks_per_quarter":960,"seed":1,"count_in_bars":1,"piece_bars":9,"ending_bars":1,"tempo_map":[{"tick":0,"us_per_quarter":1000000},{"tick":18240,"us_per_quarter":500000}],"bars":[
    {"index":0,"pass":null,"section":"count-in","meter":"4/4","start_tick":0,"start_ns":0,"duration_ticks":3840,"chords":[]},
    {"index":1,"pass":null,"section":"intro","meter":"4/4","start_tick":3840,"start_ns":4000000000,"duration_ticks":3840,"chords":[{"symbol":"E7","tick":3840,"duration_ticks":3840,"beat":1,"root":"E","bass":"E","tones":["E","G#","B","D"],"pitch_classes":[2,4,8,11],"fit":{"inside":false,"clear":false,"home":false,"blues":true,"rubs":[{"note":"A","against":"G#"},{"note":"C","against":"B"}]}}]},
    {"index":2,"pass":1,"section":"A","meter":"4/4","start_tick":7680,"start_ns":8000000000,"duration_ticks":3840,"chords":[{"symbol":"Am","tick":7680,"duration_ticks":3840,"beat":1,"root":"A","bass":"A","tones":["A","C","E"],"pitch_classes":[0,4,9],"fit":{"inside":true,"clear":true,"home":true,"blues":true,"rubs":[]}}]},
    {"index":3,"pass":1,"section":"A","meter":"4/4","start_tick":11520,"start_ns":12000000000,"duration_ticks":3840,"chords":[{"symbol":"Dm","tick":11520,"duration_ticks":1920,"beat":1,"root":"D","bass":"D","tones":["D","F","A"],"pitch_classes":[2,5,9],"fit":{"inside":false,"clear":true,"home":true,"blues":true,"rubs":[]}},{"symbol":"G","tick":13440,"duration_ticks":1920,"beat":3,"root":"G","bass":"G","tones":["G","B","D"],"pitch_classes":[2,7,11],"fit":{"inside":false,"clear":false,"home":true,"blues":true,"rubs":[{"note":"C","against":"B"}]}}]},
    {"index":4,"pass":1,"section":"A","meter":"3/4","start_tick":15360,"start_ns":16000000000,"duration_ticks":2880,"chords":[{"symbol":"Fmaj7","tick":15360,"duration_ticks":1920,"beat":1,"root":"F","bass":"F","tones":["F","A","C","E"],"pitch_classes":[0,4,5,9],"fit":{"inside":false,"clear":true,"home":true,"blues":true,"rubs":[]}},{"symbol":"G/B","tick":17280,"duration_ticks":960,"beat":3,"root":"G","bass":"B","tones":["G","B","D"],"pitch_classes":[2,7,11],"fit":{"inside":false,"clear":false,"home":true,"blues":true,"rubs":[{"note":"C","against":"B"}]}}]},
    {"index":5,"pass":1,"section":"A","meter":"3/4","start_tick":18240,"start_ns":19000000000,"duration_ticks":2880,"chords":[{"symbol":"G/B","tick":18240,"duration_ticks":1920,"beat":1,"root":"G","bass":"B","tones":["G","B","D"],"pitch_classes":[2,7,11],"fit":{"inside":false,"clear":false,"home":true,"blues":true,"rubs":[{"note":"C","against":"B"}]}},{"symbol":"C","tick":20160,"duration_ticks":960,"beat":3,"root":"C","bass":"C","tones":["C","E","G"],"pitch_classes":[0,4,7],"fit":{"inside":true,"clear":true,"home":true,"blues":true,"rubs":[]}}]},
    {"index":6,"pass":2,"section":"A","meter":"4/4","start_tick":21120,"start_ns":20500000000,"duration_ticks":3840,"chords":[{"symbol":"Am","tick":21120,"duration_ticks":3840,"beat":1,"root":"A","bass":"A","tones":["A","C","E"],"pitch_classes":[0,4,9],"fit":{"inside":true,"clear":true,"home":true,"blues":true,"rubs":[]}}]},
    {"index":7,"pass":2,"section":"A","meter":"4/4","start_tick":24960,"start_ns":22500000000,"duration_ticks":3840,"chords":[{"symbol":"Dm","tick":24960,"duration_ticks":1920,"beat":1,"root":"D","bass":"D","tones":["D","F","A"],"pitch_classes":[2,5,9],"fit":{"inside":false,"clear":true,"home":true,"blues":true,"rubs":[]}},{"symbol":"G","tick":26880,"duration_ticks":1920,"beat":3,"root":"G","bass":"G","tones":["G","B","D"],"pitch_classes":[2,7,11],"fit":{"inside":false,"clear":false,"home":true,"blues":true,"rubs":[{"note":"C","against":"B"}]}}]},
    {"index":8,"pass":2,"section":"A","meter":"3/4","start_tick":28800,"start_ns":24500000000,"duration_ticks":2880,"chords":[{"symbol":"Fmaj7","tick":28800,"duration_ticks":1920,"beat":1,"root":"F","bass":"F","tones":["F","A","C","E"],"pitch_classes":[0,4,5,9],"fit":{"inside":false,"clear":true,"home":true,"blues":true,"rubs":[]}},{"symbol":"G/B","tick":30720,"duration_ticks":960,"beat":3,"root":"G","bass":"B","tones":["G","B","D"],"pitch_classes":[2,7,11],"fit":{"inside":false,"clear":false,"home":true,"blues":true,"rubs":[{"note":"C","against":"B"}]}}]},
    {"index":9,"pass":2,"section":"A","meter":"3/4","start_tick":31680,"start_ns":26000000000,"duration_ticks":2880,"chords":[{"symbol":"G/B","tick":31680,"duration_ticks":1920,"beat":1,"root":"G","bass":"B","tones":["G","B","D"],"pitch_classes":[2,7,11],"fit":{"inside":false,"clear":false,"home":true,"blues":true,"rubs":[{"note":"C","against":"B"}]}},{"symbol":"C","tick":33600,"duration_ticks":960,"beat":3,"root":"C","bass":"C","tones":["C","E","G"],"pitch_classes":[0,4,7],"fit":{"inside":true,"clear":true,"home":true,"blues":true,"rubs":[]}}]},
    {"index":10,"pass":null,"section":"ending","meter":"3/4","start_tick":34560,"start_ns":27500000000,"duration_ticks":2880,"chords":[{"symbol":"Am","tick":34560,"duration_ticks":2880,"beat":1,"root":"A","bass":"A","tones":["A","C","E"],"pitch_classes":[0,4,9],"fit":{"inside":true,"clear":true,"home":true,"blues":true,"rubs":[]}}]}
    ],"duration_ticks":37440,"duration_ns":29000000000}
    "#);
    let endless = "times = \"endless\"\n[sections]\nA = \"| N.C. | C |\"";
    insta::assert_snapshot!(check_json(endless, Excerpt::default()), @r#"
    {"version":1,"title":"untitled","key":null,"meter":"4/4","ticks_per_quarter":960,"seed":1,"count_in_bars":1,"piece_bars":null,"ending_bars":0,"tempo_map":[{"tick":0,"us_per_quarter":666667}],"bars":[
    {"index":0,"pass":null,"section":"count-in","meter":"4/4","start_tick":0,"start_ns":0,"duration_ticks":3840,"chords":[]},
    {"index":1,"pass":1,"section":"A","meter":"4/4","start_tick":3840,"start_ns":2666668000,"duration_ticks":3840,"chords":[{"symbol":"N.C.","tick":3840,"duration_ticks":3840,"beat":1,"root":null,"bass":null,"tones":[],"pitch_classes":[]}]},
    {"index":2,"pass":1,"section":"A","meter":"4/4","start_tick":7680,"start_ns":5333336000,"duration_ticks":3840,"chords":[{"symbol":"C","tick":7680,"duration_ticks":3840,"beat":1,"root":"C","bass":"C","tones":["C","E","G"],"pitch_classes":[0,4,7]}]}
    ],"duration_ticks":null,"duration_ns":null}
    "#);
}

fn chord(text: &str, key: Option<&str>) -> ChordView {
    let key = key.map(|k| Key::read(k).unwrap());
    ChordView::new(&figure::read(text).unwrap().resolve(key.as_ref()).unwrap())
}

/// The fields and their order are an interface.
#[test]
fn chords_and_scales() {
    let json = |text, key| serde_json::to_string(&chord(text, key)).unwrap();
    insta::assert_snapshot!(json("Am7/G", None), @r#"{"symbol":"Am7/G","root":"A","bass":"G","kind":"minor-seventh","tones":["A","C","E","G"],"degrees":["1","b3","5","b7"],"pitch_classes":[0,4,7,9]}"#);
    insta::assert_snapshot!(json("V7/V", Some("Bb major")), @r#"{"symbol":"C7","root":"C","bass":"C","kind":"dominant","tones":["C","E","G","Bb"],"degrees":["1","3","5","b7"],"pitch_classes":[0,4,7,10]}"#);
    insta::assert_snapshot!(json("N.C.", None), @r#"{"symbol":"N.C.","root":null,"bass":null,"kind":"none","tones":[],"degrees":[],"pitch_classes":[]}"#);
    insta::assert_snapshot!(chord("C7(b9,#11)/E", None).text(), @"
    C7b9#11/E  dominant
    root     C
    bass     E
    notes    C  E  G  Bb  Db  F#
    degrees  1  3  5  b7  b9  #11
    ");
    insta::assert_snapshot!(chord("NC", None).text(), @"N.C.  none");
    let scale = |text| ScaleView::new(&Scale::read(text).unwrap(), None);
    insta::assert_snapshot!(serde_json::to_string(&scale("A minor pentatonic")).unwrap(), @r#"{"name":"A minor pentatonic","root":"A","notes":["A","C","D","E","G"],"degrees":["1","b3","4","5","b7"],"pitch_classes":[9,0,2,4,7],"home":"A minor"}"#);
    insta::assert_snapshot!(serde_json::to_string(&scale("C# 1 b3 4 5 b7")).unwrap(), @r#"{"name":"C# minor pentatonic","root":"C#","notes":["C#","E","F#","G#","B"],"degrees":["1","b3","4","5","b7"],"pitch_classes":[1,4,6,8,11],"home":"C# minor"}"#);
    insta::assert_snapshot!(serde_json::to_string(&scale("D dorian")).unwrap(), @r#"{"name":"D dorian","root":"D","notes":["D","E","F","G","A","B","C"],"degrees":["1","2","b3","4","5","6","b7"],"pitch_classes":[2,4,5,7,9,11,0]}"#);
    insta::assert_snapshot!(scale("Bb major pentatonic").text(), @"
    Bb major pentatonic
    notes    Bb  C  D  F  G
    degrees  1   2  3  5  6
    home     Bb major
    ");
}
