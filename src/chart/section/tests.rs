//! The notation, construct by construct. What is played is shown as a short string: bars between `|`, each chord with
//! a `/` for each further beat it has; a bar that begins with `/` holds the chord before.

mod wrong;

use proptest::prelude::*;

use super::*;

/// The bars in playing order.
fn played(text: &str, meter: &str) -> String {
    let mut problems = Vec::new();
    let section = read_section(text, Meter::read(meter).unwrap(), &mut problems);
    assert_eq!(problems, [], "{text}");
    let bar = |bar: &WrittenBar| -> String {
        let mut words = Vec::new();
        for cell in &bar.cells {
            words.push(match &cell.content {
                Content::Hold => "/".to_owned(),
                Content::Figure(Figure::Symbol(harmony)) => harmony.to_string(),
                Content::Figure(Figure::Relative(numeral)) => numeral.as_str().to_owned(),
            });
            words.extend((1..cell.beats).map(|_| "/".to_owned()));
        }
        words.join(" ")
    };
    let bars: Vec<String> = section
        .order
        .iter()
        .map(|i| bar(&section.bars[*i]))
        .collect();
    bars.join(" | ")
}

/// What is played, the words of each bar alone: for the order of bars.
fn order(text: &str) -> String {
    let bars = played(text, "1/4");
    bars.replace(" |", "")
}

/// What is wrong: the text, what is underlined, the code, the message and the help.
fn wrong(texts: &[&str]) -> String {
    wrong_in("4/4", texts)
}

fn wrong_in(meter: &str, texts: &[&str]) -> String {
    let mut out = String::new();
    for text in texts {
        let mut problems = Vec::new();
        read_section(text, Meter::read(meter).unwrap(), &mut problems);
        assert!(!problems.is_empty(), "{text} is not refused");
        let shown = text.replace(['\n', '\t'], "~");
        out.push_str(&format!("\n{shown}\n"));
        for p in problems {
            assert!(!p.help.is_empty() && !p.message.ends_with('.'), "{p:?}");
            let before = text[..p.span.start].chars().count();
            let width = text[p.span.clone()].chars().count().max(1);
            out.push_str(&format!(
                "{}{} {}\n  {}\n  {}\n",
                " ".repeat(before),
                "^".repeat(width),
                p.code,
                p.message,
                p.help
            ));
        }
    }
    out
}

#[test]
fn chords_share_a_bar_evenly() {
    assert_eq!(played("| Am7 |", "4/4"), "Am7 / / /");
    assert_eq!(played("| Am7 D9 |", "4/4"), "Am7 / D9 /");
    assert_eq!(played("| C D E F |", "4/4"), "C D E F");
    assert_eq!(played("| C |", "3/4"), "C / /");
    assert_eq!(played("| C D E |", "3/4"), "C D E");
    // The beat of a compound meter is the dotted note.
    assert_eq!(played("| C D |", "6/8"), "C D");
    assert_eq!(played("| C | D E F |", "9/8"), "C / / | D E F");
    assert_eq!(played("| C D | E |", "12/8"), "C / D / | E / / /");
    // A group is a beat; without groups each eighth is one.
    assert_eq!(played("| C | D E F |", "7/8 = 2+2+3"), "C / / | D E F");
    assert_eq!(played("| C D |", "5/4 = 3+2"), "C D");
    assert_eq!(played("| C |", "7/8"), "C / / / / / /");
    assert_eq!(played("| C D |", "2/2"), "C D");
    assert_eq!(played("| C |", "1/1"), "C");
}

#[test]
fn slashes_count_beats() {
    assert_eq!(played("| Am7 D9 / / |", "4/4"), "Am7 D9 / /");
    assert_eq!(played("| Am7 / / D9 |", "4/4"), "Am7 / / D9");
    assert_eq!(played("| Am7 / D9 / |", "4/4"), "Am7 / D9 /");
    assert_eq!(played("| C / / | / / / |", "3/4"), "C / / | / / /");
    assert_eq!(played("| C | / / D / |", "4/4"), "C / / / | / / D /");
    assert_eq!(played("| C / | / D |", "6/8"), "C / | / D");
    assert_eq!(played("| C / D |", "7/8 = 2+2+3"), "C / D");
    // A glued slash belongs to the chord.
    assert_eq!(played("| Am/G F/A |", "4/4"), "Am/G / F/A /");
    assert_eq!(played("| 1/3 V7/V |", "4/4"), "1/3 / V7/V /");
    assert_eq!(played("| Am/G / F / |", "4/4"), "Am/G / F /");
}

#[test]
fn a_percent_sign_is_the_written_bar_before() {
    assert_eq!(
        played("| Am D | % | % |", "4/4"),
        "Am / D / | Am / D / | Am / D /"
    );
    assert_eq!(
        played("| C | (3/4) D | % |", "4/4"),
        "C / / / | D / / | D / /"
    );
    // The bar before as it is written, also where a repeat begins with it.
    assert_eq!(order("| C |: % | D :|"), "C C D C D");
    assert_eq!(order("| C |[1. D :|[2. E | % |"), "C D C E E");
    assert_eq!(played("|Am|%|\n|%|Dm|", "1/4"), "Am | Am | Am | Dm");
}

#[test]
fn repeats() {
    assert_eq!(order("|: A | B :|"), "A B A B");
    assert_eq!(order("| A | B :|"), "A B A B");
    assert_eq!(order("A | B :|"), "A B A B");
    assert_eq!(order("|: A | B :|x3"), "A B A B A B");
    assert_eq!(order("|: A :|x3|: B :|"), "A A A B B");
    assert_eq!(order("|: A | B :|: C :|"), "A B A B C C");
    assert_eq!(order("|: A :| |: B :|"), "A A B B");
    assert_eq!(order("|: A :|\n|: B :|"), "A A B B");
    assert_eq!(order("|: A :||: B :|"), "A A B B");
    assert_eq!(order("|: A :| B |: C :| D |"), "A A B C C D");
    // Plain bars before a repeat that begins inside the chart are played once.
    assert_eq!(order("| A | B |: C :| D |"), "A B C C D");
    assert_eq!(order("| A | B ||: C :|| D |"), "A B C C D");
    // The repeat sign may stand behind a bar line, or alone on the next line.
    assert_eq!(order("|: A | B | :|"), "A B A B");
    assert_eq!(order("|: A | B |\n:|"), "A B A B");
    assert_eq!(order("| A | |: B :| | C |"), "A B B C");
    assert_eq!(order("|: A :| || C |]"), "A A C");
    assert_eq!(order("|: A | B :|x2 C"), "A B A B C");
}

#[test]
fn endings() {
    assert_eq!(order("|: A |[1. B :|[2. C |"), "A B A C");
    assert_eq!(order("| A |[1. B :|[2. C |"), "A B A C");
    assert_eq!(
        order("|: A | B |[1. C | D :|[2. E | F |"),
        "A B C D A B E F"
    );
    assert_eq!(order("|: A |[1.2. B :|[3. C |"), "A B A B A C");
    assert_eq!(order("|: A |[1. B :|[2. C :|[3. D |"), "A B A C A D");
    assert_eq!(order("|: A |[1.3. B :|[2. C :|[4. D |"), "A B A C A B A D");
    assert_eq!(order("|: A |[1. B :| [2. C ||"), "A B A C");
    assert_eq!(order("|: A |\n|[1. B :|\n|[2. C |"), "A B A C");
    // After the last ending the music goes on.
    assert_eq!(order("|: A |[1. B :|[2. C | D | E |"), "A B A C D E");
    assert_eq!(order("|: A |[1. B :|[2. C |: D :| E |"), "A B A C D D E");
    assert_eq!(
        order("| G |: A |[1. B :|[2. C |: D |[1. E :|[2. F |"),
        "G A B A C D E D F"
    );
    assert_eq!(order("|: A :|: B |[1. C :|[2. D |"), "A A B C B D");
}

#[test]
fn meters_change_in_written_order() {
    assert_eq!(
        played("| C | (3/4) D | E | (4/4) F |", "4/4"),
        "C / / / | D / / | E / / | F / / /"
    );
    assert_eq!(played("(3/4) | C | D |", "4/4"), "C / / | D / /");
    assert_eq!(played("(3/4) C | D |", "4/4"), "C / / | D / /");
    assert_eq!(played("| C |(7/8 = 2+2+3)D E F|", "4/4"), "C / / / | D E F");
    // Written order: the meter of the last written bar does not come back to the first when it is repeated.
    assert_eq!(
        played("|: C | (3/4) D :|", "4/4"),
        "C / / / | D / / | C / / / | D / /"
    );
}

#[test]
fn chords_of_every_notation_and_none() {
    assert_eq!(
        played("| C7(b9, #11) | N.C. | NC | C:maj7 |", "1/4"),
        "C7b9#11 | N.C. | N.C. | Cmaj7"
    );
    assert_eq!(
        played("| Am | bVII7 | 57 | F#m7b5/E |", "1/4"),
        "Am | bVII7 | 57 | F#m7b5/E"
    );
    assert_eq!(played("| C | Am V | 1 4 |", "2/4"), "C / | Am V | 1 4");
}

/// A bar line at either end of a line break closes the bar. Without one the bar goes on, where no line of it could be a
/// bar by itself.
#[test]
fn a_bar_goes_over_a_line_end_where_that_has_one_meaning() {
    for (lines, bars) in [
        ("| C | F\n| G |", "| C | F | G |"),
        ("| C | F |\nG |", "| C | F | G |"),
        ("| C | F |\n| G |", "| C | F | G |"),
        ("| C | F\n\n|: G :|", "| C | F |: G :|"),
        ("| C F /\nG | D |", "| C F / G | D |"),
        ("| C / F\n/ | D |", "| C / F / | D |"),
        ("| C F G\n\nD | A |", "| C F G D | A |"),
        ("| C\n/\n/ / | D |", "| C / / / | D |"),
    ] {
        assert_eq!(played(lines, "4/4"), played(bars, "4/4"), "{lines:?}");
    }
}

#[test]
fn charts_are_written_loosely() {
    let plain = "Am / / / | Dm / / /";
    for text in [
        "| Am | Dm |",
        "|Am|Dm|",
        "Am|Dm",
        "| Am | Dm",
        "Am | Dm |",
        "|| Am || Dm |]",
        "  | Am | Dm |  \n\n",
        "\t|\tAm\t|\tDm\t|\t",
        "\r\n| Am |\r\n| Dm |\r\n",
        "| Am\n| Dm\n",
        "| Am |\n\n\n| Dm |",
        "| Am |\n|\n| Dm |",
        "| Am\n\n/ / / | Dm |",
        "|\u{A0}Am\u{A0}|\u{2003}Dm |",
    ] {
        assert_eq!(played(text, "4/4"), plain, "{text:?}");
    }
    assert_eq!(played("||: Am :||", "1/4"), "Am | Am");
    assert_eq!(played("|:Am|Dm:|", "1/4"), "Am | Dm | Am | Dm");
}

#[test]
fn a_form_has_its_limit() {
    let long = format!("|: A | B | {}|", "C :|x999 |: D ".repeat(6));
    let mut problems = Vec::new();
    read_section(&long, Meter::COMMON, &mut problems);
    let problem = problems.first().unwrap();
    assert_eq!(problem.code, "chart-repeat-unclosed");
    let long = "|: A | B :|x999".repeat(6);
    let mut problems = Vec::new();
    let section = read_section(&long, Meter::COMMON, &mut problems);
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].message, "a form has at most 10000 bars");
    assert!(section.order.len() <= MOST_BARS);
    let written = "|A".repeat(MOST_BARS + 2);
    let mut problems = Vec::new();
    read_section(&written, Meter::COMMON, &mut problems);
    assert_eq!(problems[0].code, "chart-too-long");
}

/// Text in the shape of a chart, good and bad.
fn chart_like() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "|",
        "|",
        "|",
        "| ",
        " |",
        "|:",
        ":|",
        ":|x3",
        ":|x",
        ":|:",
        "||",
        "|]",
        "[1.",
        "[2.",
        "[1.2.",
        "[3.",
        "%",
        "/",
        " / ",
        "Am",
        "C7(b9, #11)",
        "D/F#",
        "V7/V",
        "57",
        "N.C.",
        "(3/4)",
        "(7/8 = 2+2+3)",
        "(",
        ")",
        "\n",
        " ",
        "\u{A0}",
        "B\u{266D}",
        "[A]",
        "D.C.",
        "x3",
        "\u{1F3B8}",
    ]);
    prop::collection::vec(piece, 0..24).prop_map(|v| v.join(" "))
}

fn check(text: &str, meter: Meter) -> Result<(), TestCaseError> {
    let mut problems = Vec::new();
    let section = read_section(text, meter, &mut problems);
    for p in &problems {
        prop_assert!(text.get(p.span.clone()).is_some(), "{p:?}");
        prop_assert!(!p.code.is_empty() && !p.message.is_empty() && !p.help.is_empty());
    }
    if !problems.is_empty() {
        return Ok(());
    }
    prop_assert!(!section.bars.is_empty());
    let mut unplayed = vec![true; section.bars.len()];
    for i in &section.order {
        unplayed[*i] = false;
    }
    prop_assert!(!unplayed.contains(&true), "a bar is never played");
    for bar in &section.bars {
        let mut beat = 0;
        for cell in &bar.cells {
            prop_assert_eq!(cell.beat, beat);
            prop_assert!(cell.beats > 0 && text.get(cell.span.clone()).is_some());
            beat += cell.beats;
        }
        prop_assert_eq!(beat, bar.meter.beat_count());
        prop_assert!(text.get(bar.span.clone()).is_some());
    }
    Ok(())
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in ".{0,60}|[|:%/x\\[\\]0-9.()A-G \n]{0,60}") {
        check(&text, Meter::COMMON)?;
    }

    #[test]
    fn any_chart_is_read_or_refused(text in chart_like(), upper in 1u8..=12, power in 0u32..4) {
        check(&text, Meter::new(upper, 1 << power).unwrap())?;
    }

    #[test]
    fn any_meter_mark_is_read_or_refused(mark in "[0-9]{0,3} ?/ ?[0-9]{0,3}( ?= ?[0-9+]{0,9})?|.{0,12}", good in 1u8..=32) {
        check(&format!("| ({mark}) Am | Dm |"), Meter::COMMON)?;
        let text = format!("| C | ({good}/4) Am | % |");
        check(&text, Meter::COMMON)?;
        let section = read_section(&text, Meter::COMMON, &mut Vec::new());
        let meters: Vec<u8> = section.bars.iter().map(|bar| bar.meter.numerator()).collect();
        prop_assert_eq!(meters, [4, good, good]);
    }
}

/// Each mistake takes some hundred bytes; three million of them took 450 MB.
#[test]
fn a_chart_of_nothing_but_mistakes_is_not_read_to_its_end() {
    for sign in ["|", ":|", "[1.", ":|x0"] {
        let mut problems = Vec::new();
        read_section(&sign.repeat(100_000), Meter::COMMON, &mut problems);
        assert!(
            !problems.is_empty() && problems.len() < 4100,
            "{}",
            problems.len()
        );
    }
}

#[test]
fn marks_at_the_lines_of_a_bar_are_kept_as_written() {
    let text = "| C |: F | % :|x3 Am |: G |[1.3. D :|[2. E :|[4. C |";
    let section = read_section(text, Meter::COMMON, &mut Vec::new());
    let mark = |at: usize| section.bars[at].marks.clone();
    let plain = Marks::default;
    let opens = Marks {
        opens: true,
        ..plain()
    };
    assert_eq!((mark(0), mark(1)), (plain(), opens.clone()));
    let closes = Some(3);
    assert_eq!(
        mark(2),
        Marks {
            closes,
            simile: true,
            ..plain()
        }
    );
    assert_eq!((mark(3), mark(4)), (plain(), opens));
    let endings: Vec<Vec<u32>> = (5..8).map(|at| mark(at).ending).collect();
    assert_eq!(endings, [vec![1, 3], vec![2], vec![4]]);
    assert_eq!(
        (mark(5).closes, mark(6).closes, mark(7).closes),
        (Some(2), Some(2), None)
    );
}
