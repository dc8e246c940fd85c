//! What a document plays: inline charts, held chords, other keys, the last bar.

use super::*;

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
    let (_, reading) = Piece::read(text).unwrap();
    insta::assert_snapshot!(shown(text, &reading.warnings), @"
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
fn a_piece_is_moved_and_spelled_in_its_new_key() {
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
