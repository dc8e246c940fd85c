//! The notation, construct by construct. What is played is shown as a short string: bars between `|`, each chord with
//! a `/` for each further beat it has; a bar that begins with `/` holds the chord before.

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
fn beats_that_do_not_add_up() {
    insta::assert_snapshot!(wrong(&[
        "| Am Dm G |",
        "| Am Dm G C F |",
        "| Am / / |",
        "| Am / / / / |",
        "| / Am / |",
        "| C | / |",
        "| C | / / / / / |",
        "| / / / / | / Am / / |",
        "| C | F | Am Dm G | C Am / |",
    ]), @"
    | Am Dm G |
      ^^^^^^^ chart-uneven
      3 chords do not share the 4 beats of 4/4 evenly
      write each beat, a chord or a `/`: `| Am / Dm G |`

    | Am Dm G C F |
      ^^^^^^^^^^^ chart-uneven
      5 chords do not share the 4 beats of 4/4 evenly
      write at most 4 chords in a bar of 4/4

    | Am / / |
      ^^^^^^ chart-beat-count
      a bar of 4/4 has 4 beats, 3 are written
      write each beat, a chord or a `/`: `| Am / / / |`

    | Am / / / / |
      ^^^^^^^^^^ chart-beat-count
      a bar of 4/4 has 4 beats, 5 are written
      write each beat, a chord or a `/`: `| Am / / / |`

    | / Am / |
      ^^^^^^ chart-beat-count
      a bar of 4/4 has 4 beats, 3 are written
      write each beat, a chord or a `/`: `| / Am / / |`

    | C | / |
          ^ chart-beat-count
      a bar of 4/4 has 4 beats, 1 is written
      write one `/` a beat: `| / / / / |`

    | C | / / / / / |
          ^^^^^^^^^ chart-beat-count
      a bar of 4/4 has 4 beats, 5 are written
      write one `/` a beat: `| / / / / |`

    | / / / / | / Am / / |
      ^ chart-hold-first
      `/` has no chord before it to hold
      write the chord

    | C | F | Am Dm G | C Am / |
              ^^^^^^^ chart-uneven
      3 chords do not share the 4 beats of 4/4 evenly
      write each beat, a chord or a `/`: `| Am / Dm G |`
                        ^^^^^^ chart-beat-count
      a bar of 4/4 has 4 beats, 3 are written
      write each beat, a chord or a `/`: `| C / Am / |`
    ");
    insta::assert_snapshot!(wrong_in("6/8", &["| C D E |", "| C / / |"]), @"
    | C D E |
      ^^^^^ chart-uneven
      3 chords do not share the 2 beats of 6/8 evenly
      write at most 2 chords in a bar of 6/8

    | C / / |
      ^^^^^ chart-beat-count
      a bar of 6/8 has 2 beats, 3 are written
      write each beat, a chord or a `/`: `| C / |`
    ");
    insta::assert_snapshot!(wrong_in("7/8 = 2+2+3", &["| C D |"]), @"
    | C D |
      ^^^ chart-uneven
      2 chords do not share the 3 beats of 7/8 = 2+2+3 evenly
      write each beat, a chord or a `/`: `| C / D |`
    ");
    insta::assert_snapshot!(wrong_in("3/4", &["| C D |", "| (4/4) C | (3/4) C D |"]), @"
    | C D |
      ^^^ chart-uneven
      2 chords do not share the 3 beats of 3/4 evenly
      write each beat, a chord or a `/`: `| C / D |`

    | (4/4) C | (3/4) C D |
                      ^^^ chart-uneven
      2 chords do not share the 3 beats of 3/4 evenly
      write each beat, a chord or a `/`: `| C / D |`
    ");
    insta::assert_snapshot!(wrong_in("7/8", &["| C D |"]), @"
    | C D |
      ^^^ chart-uneven
      2 chords do not share the 7 beats of 7/8 evenly
      write each beat, a chord or a `/`: `| C / / / D / / |`
    ");
}

#[test]
fn empty_bars_and_charts() {
    insta::assert_snapshot!(wrong(&[
        "", " \n ", "|", "| |", "||", "| | |",
        "| Am | | Dm |",
        "| Am | | | Dm |",
        "| Am | (3/4) | Dm |",
        "Am Dm G C",
        "Am\nDm",
        "| Am | (3/4)",
    ]), @"
    ^ chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`

     ~ 
    ^ chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`

    |
    ^ chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`

    | |
    ^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord

    ||
    ^^ chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`

    | | |
    ^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord
      ^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord

    | Am | | Dm |
         ^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord

    | Am | | | Dm |
         ^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord
           ^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord

    | Am | (3/4) | Dm |
         ^^^^^^^^^ chart-empty-bar
      a bar is empty
      write `N.C.` for silence, `%` for the bar before, or a `/` a beat to hold the chord

    Am Dm G C
    ^^^^^^^^^ chart-no-bar-line
      a chart has no bar lines
      write `| Am | Dm | G | C |`

    Am~Dm
    ^^^^^ chart-no-bar-line
      a chart has no bar lines
      write `| Am | Dm |`

    | Am | (3/4)
           ^^^^^ chart-meter-place
      a meter stands before no bar
      write the bar behind it, or leave it out
    ");
}

#[test]
fn percent_signs_with_nothing_to_repeat() {
    insta::assert_snapshot!(wrong(&[
        "| % | Am |",
        "| Am % |",
        "| Am | %% |",
        "| Am | % / / / |",
        "|: Am |[1. Dm :|[2. % |",
        "| Am | (3/4) % |",
        "| Am | %x |",
    ]), @"
    | % | Am |
      ^ chart-simile-first
      `%` has no bar before it to repeat
      write the bar out

    | Am % |
      ^^^^ chart-simile-alone
      `%` stands alone in its bar
      write the chords out

    | Am | %% |
           ^^ chart-simile-alone
      `%` stands alone in its bar
      write the chords out

    | Am | % / / / |
           ^^^^^^^ chart-simile-alone
      `%` stands alone in its bar
      write the chords out

    |: Am |[1. Dm :|[2. % |
                        ^ chart-simile-ending
      `%` cannot be the first bar of an ending: the bar before it changes
      write the bar out

    | Am | (3/4) % |
                 ^ chart-simile-meter
      `%` repeats a bar of 4/4, but the meter here is 3/4
      write the bar out

    | Am | %x |
           ^^ chart-simile-alone
      `%` stands alone in its bar
      write the chords out
    ");
}

#[test]
fn repeats_that_do_not_close() {
    insta::assert_snapshot!(wrong(&[
        "|: A | B |",
        "|: A |: B :| C :|",
        "|: A :| B :|",
        "| A |: B :| C :| D |",
        ":| A |",
        "|: :| A |",
        "| A |: :| B |",
        "|: A :| :|",
        "| A |:",
        "|: A :|:",
        "|: A :|x1 B |",
        "|: A :|x | B |",
        "|: A :|x1000",
        "|: A :|x99999999999999999999",
        "|: A :| x3",
        "|: A :| 3x | B |",
    ]), @"
    |: A | B |
    ^^ chart-repeat-unclosed
      a repeat is not closed
      write `:|` at its end

    |: A |: B :| C :|
         ^^ chart-repeat-nested
      a repeat begins inside another
      close the first with `:|` before opening the next

    |: A :| B :|
              ^^ chart-repeat-unopened
      `:|` closes a repeat that was not opened
      write `|:` where the repeat begins; only the first of a section may be left out

    | A |: B :| C :| D |
                  ^^ chart-repeat-unopened
      `:|` closes a repeat that was not opened
      write `|:` where the repeat begins; only the first of a section may be left out

    :| A |
    ^^ chart-repeat-nothing
      there is nothing to repeat
      write the bars to repeat before `:|`

    |: :| A |
       ^^ chart-repeat-nothing
      there is nothing to repeat
      write the bars to repeat before `:|`

    | A |: :| B |
           ^^ chart-repeat-nothing
      there is nothing to repeat
      write the bars to repeat before `:|`

    |: A :| :|
            ^^ chart-repeat-nothing
      there is nothing to repeat
      write the bars to repeat before `:|`

    | A |:
        ^^ chart-repeat-unclosed
      a repeat is opened but has no bars
      write the bars to repeat and `:|`, or end with `|`

    |: A :|:
         ^^^ chart-repeat-unclosed
      a repeat is opened but has no bars
      write the bars to repeat and `:|`, or end with `|`

    |: A :|x1 B |
         ^^^^ chart-repeat-times
      a repeat is played 2 to 999 times, found `:|x1`
      write how often in all, such as `:|x3`

    |: A :|x | B |
         ^^^ chart-repeat-times
      a repeat is played 2 to 999 times, found `:|x`
      write how often in all, such as `:|x3`

    |: A :|x1000
         ^^^^^^^ chart-repeat-times
      a repeat is played 2 to 999 times, found `:|x1000`
      write how often in all, such as `:|x3`

    |: A :|x99999999999999999999
         ^^^^^^^^^^^^^^^^^^^^^^^ chart-repeat-times
      a repeat is played 2 to 999 times, found `:|x99999999999999999999`
      write how often in all, such as `:|x3`

    |: A :| x3
            ^^ chart-repeat-times
      how often a repeat is played stands in its sign, found `x3`
      write `:|x3` without a space

    |: A :| 3x | B |
            ^^ chart-repeat-times
      how often a repeat is played stands in its sign, found `3x`
      write `:|x3` without a space
    ");
}

#[test]
fn endings_that_do_not_add_up() {
    insta::assert_snapshot!(wrong(&[
        "|: A |[1. B :|[3. C |",
        "|: A |[1. B :|[1. C |",
        "|: A |[2. B :|[3. C |",
        "|: A |[1. B |[2. C |",
        "|: A |[1. B :|[2. C :|",
        "|: A |[1. B :|[2. C :| D |",
        "|: A |[1. B :| C |",
        "| A |[1. B |",
        "|: A |[1. B :|[2.3. C |",
        "|: A |[2. B :|[1. C |",
        "|: A |[1. B :|x3[2. C |",
        "|: A :| B |[1. C :|[2. D |",
        "|: A |[1. :|[2. C |",
        "|: A |[1. B :|[2.",
        "|: A [1. B :|[2. C |",
        "|: A |[1 B :|[2 C |",
        "|: A |1. B :|2. C |",
        "|: A |[1] B :|[2] C |",
        "|: A |[1.2 B :|[3. C |",
        "|: A |[1.2.0. B :|[3. C |",
    ]), @"
    |: A |[1. B :|[3. C |
                  ^^^ chart-ending-numbers
      ending 2 is missing
      number the endings 1, 2, 3 without a gap, each number once

    |: A |[1. B :|[1. C |
                  ^^^ chart-ending-numbers
      ending 1 is written twice
      number the endings 1, 2, 3 without a gap, each number once

    |: A |[2. B :|[3. C |
          ^^^ chart-ending-numbers
      ending 1 is missing
      number the endings 1, 2, 3 without a gap, each number once

    |: A |[1. B |[2. C |
          ^^^ chart-ending-open
      an ending before the last is not closed
      close every ending but the last with `:|`

    |: A |[1. B :|[2. C :|
                        ^^ chart-ending-last
      the last ending is closed like a repeat
      end the last ending with `|`: only the endings before it go back

    |: A |[1. B :|[2. C :| D |
                        ^^ chart-ending-last
      the last ending is closed like a repeat
      end the last ending with `|`: only the endings before it go back

    |: A |[1. B :| C |
          ^^^ chart-ending-single
      an ending stands alone
      close it with `:|` and begin the next behind that: `:|[2. D |`

    | A |[1. B |
         ^^^ chart-ending-single
      an ending stands alone
      close it with `:|` and begin the next behind that: `:|[2. D |`

    |: A |[1. B :|[2.3. C |
                  ^^^^^ chart-ending-order
      the last ending has the last number and no other
      give an ending that is played several times a `:|`, and the last its own number

    |: A |[2. B :|[1. C |
                  ^^^ chart-ending-order
      the last ending has the last number and no other
      give an ending that is played several times a `:|`, and the last its own number

    |: A |[1. B :|x3[2. C |
                ^^^^ chart-ending-times
      endings say by their numbers how often
      write `:|` without `x`, and `[1.2.` for an ending played twice

    |: A :| B |[1. C :|[2. D |
               ^^^ chart-ending-alone
      an ending follows no repeat
      open the repeat with `|:`

    |: A |[1. :|[2. C |
          ^^^ chart-ending-empty
      an ending has no bars
      write its bars behind it: `[2. D |`

    |: A |[1. B :|[2.
                  ^^^ chart-ending-empty
      an ending has no bars
      write its bars behind it: `[2. D |`

    |: A [1. B :|[2. C |
         ^^^ chart-ending-place
      an ending begins at a bar line
      write it right behind one: `:|[2. D |`

    |: A |[1 B :|[2 C |
          ^^ chart-ending-form
      an ending is marked by its number and a point, found `[1`
      write `[1. Am |`, or `[1.2. Am |` for an ending played twice
                 ^^ chart-ending-form
      an ending is marked by its number and a point, found `[2`
      write `[1. Am |`, or `[1.2. Am |` for an ending played twice

    |: A |1. B :|2. C |
          ^^ chart-ending-form
      an ending is marked by a bracket, its number and a point, found `1.`
      write `[1.` right behind the bar line
                 ^^ chart-ending-form
      an ending is marked by a bracket, its number and a point, found `2.`
      write `[2.` right behind the bar line

    |: A |[1] B :|[2] C |
          ^^^ chart-ending-form
      an ending is marked by its number and a point, found `[1]`
      write `[1. Am |`, or `[1.2. Am |` for an ending played twice
                  ^^^ chart-ending-form
      an ending is marked by its number and a point, found `[2]`
      write `[1. Am |`, or `[1.2. Am |` for an ending played twice

    |: A |[1.2 B :|[3. C |
          ^^^^ chart-ending-form
      an ending is marked by its number and a point, found `[1.2`
      write `[1. Am |`, or `[1.2. Am |` for an ending played twice

    |: A |[1.2.0. B :|[3. C |
          ^^^^^^^ chart-ending-numbers
      endings are numbered from 1, found 0
      number the endings 1, 2, 3 without a gap, each number once
    ");
}

#[test]
fn signs_of_printed_music() {
    insta::assert_snapshot!(wrong(&[
        "| Am | D.C. |",
        "| Am | Dm D.S. al Coda |",
        "| Am | DC al Fine |",
        "| Am | Fine |",
        "| Segno | Am | To Coda |",
        "| \u{1D10B} Am | Dm |",
        "| [B] Am | Dm |",
        "| Am | Dm | [Chorus] | C |",
        "[verse one] | Am |",
        "| Am /// |",
        "| Am //// |",
        "| Am /G |",
        "| /Am |",
        "| Am/ Dm |",
    ]), @r#"
    | Am | D.C. |
           ^^^^ chart-jump
      `D.C.` is a jump (from the beginning), which a chart does not have
      name the sections and write their order: `form = "A B A"`

    | Am | Dm D.S. al Coda |
              ^^^^ chart-jump
      `D.S.` is a jump (from the sign), which a chart does not have
      name the sections and write their order: `form = "A B A"`

    | Am | DC al Fine |
           ^^ chart-jump
      `DC` is a jump (from the beginning), which a chart does not have
      name the sections and write their order: `form = "A B A"`

    | Am | Fine |
           ^^^^ chart-jump
      `Fine` is a jump (the end of a jump), which a chart does not have
      name the sections and write their order: `form = "A B A"`

    | Segno | Am | To Coda |
      ^^^^^ chart-jump
      `Segno` is a jump (a place to jump to), which a chart does not have
      name the sections and write their order: `form = "A B A"`
                      ^^^^ chart-jump
      `Coda` is a jump (a place to jump to), which a chart does not have
      name the sections and write their order: `form = "A B A"`

    | 𝄋 Am | Dm |
      ^ chart-jump
      `𝄋` is a jump (a place to jump to), which a chart does not have
      name the sections and write their order: `form = "A B A"`

    | [B] Am | Dm |
      ^^^ chart-section-place
      a section name begins a line and a bar line follows it, found `[B]`
      write `[B] | Am | Dm |` on a line of its own; in a document write `B = "| Am | Dm |"` under `[sections]`

    | Am | Dm | [Chorus] | C |
                ^^^^^^^^ chart-section-place
      a section name begins a line and a bar line follows it, found `[Chorus]`
      write `[Chorus] | Am | Dm |` on a line of its own; in a document write `B = "| Am | Dm |"` under `[sections]`

    [verse one] | Am |
    ^^^^^^ chart-section-place
      a section name is one word in brackets, found `[verse`
      write `[verse] | Am | Dm |` on a line of its own

    | Am /// |
         ^^^ chart-slash
      a `/` that holds a beat stands by itself, found `///`
      write `/ / /`

    | Am //// |
         ^^^^ chart-slash
      a `/` that holds a beat stands by itself, found `////`
      write `/ / / /`

    | Am /G |
         ^^ chart-slash
      a `/` that holds a beat stands by itself, found `/G`
      write `Am/G` for a bass, or `/ G` for a beat held and a chord

    | /Am |
      ^^^ chart-slash
      a `/` that holds a beat stands by itself, found `/Am`
      write a space behind a `/` that holds a beat

    | Am/ Dm |
        ^ no-bass
      expected a bass note after `/`, found nothing
      write a note after the slash, as in `Am/G`, or take the slash away
    "#);
}

#[test]
fn chords_that_are_none() {
    insta::assert_snapshot!(wrong(&[
        "| H |",
        "| am |",
        "| Am7 D9 | Fmja7 |",
        "| C2 |",
        "| B\u{266D}m7 | Xm |",
        "| C7(b9 | C7b9) |",
        "| viiX | 8 |",
        "|Am\t| Q |\n| Z |",
        "| C7 (b9) |",
        "| (b9) |",
        "| C7 (b9 |",
    ]), @"
    | H |
      ^ no-root
      expected a root A to G, found `H`
      the note between Bb and C is `B`

    | am |
      ^ lower-case-root
      expected a root in upper case, found `a`
      write `Am`

    | Am7 D9 | Fmja7 |
                 ^^^ unknown-suffix
      expected a chord suffix, found `ja7`
      write a suffix such as `m7`, `maj7`, `9`, `sus4`, `dim`, `add9` or `7b9`

    | C2 |
       ^ plain-two
      the suffix `2` means different chords to different players
      write `Csus2` for 1 2 5 or `Cadd9` to keep the third

    | B♭m7 | Xm |
             ^ no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`

    | C7(b9 | C7b9) |
        ^ open-bracket
      expected `)`, found the end of the chord
      close the bracket, as in `C7(b9)`
                  ^ stray-bracket
      expected `(` before `)`
      take the `)` away or write `(` before it, as in `C7(b9)`

    | viiX | 8 |
         ^ unknown-suffix
      expected a chord suffix, found `X`
      write a suffix such as `m7`, `maj7`, `9`, `sus4`, `dim`, `add9` or `7b9`
             ^ number-range
      expected a number from 1 to 7, found `8`
      write a number from 1 to 7 first, then its suffix, as in `57` for V7

    |Am~| Q |~| Z |
          ^ no-root
      expected a root A to G, found `Q`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
                ^ no-root
      expected a root A to G, found `Z`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`

    | C7 (b9) |
         ^^^^ chart-bracket
      a bracket stands right behind its chord, or holds a meter, found `(b9)`
      write `C7(b9)` without a space

    | (b9) |
      ^^^^ chart-bracket
      a bracket stands right behind its chord, or holds a meter, found `(b9)`
      write `C7(b9)` for a chord, `| (3/4) Am |` for a meter

    | C7 (b9 |
         ^^^ chart-bracket
      a bracket stands right behind its chord, or holds a meter, found `(b9`
      write `C7(b9)` for a chord, `| (3/4) Am |` for a meter
    ");
}

#[test]
fn meters_that_are_none_or_out_of_place() {
    insta::assert_snapshot!(wrong(&[
        "| (3/5) Am |",
        "| (0/4) Am |",
        "| Am (3/4) |",
        "| (3/4) (4/4) Am |",
        "| (7/8 = 2+2) Am |",
        "| (3/ 4) Am Dm |",
    ]), @r#"
    | (3/5) Am |
      ^^^^^ meter-lower-number
      the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 5
      write the note that is counted: 4 for quarters, 8 for eighths

    | (0/4) Am |
      ^^^^^ meter-upper-number
      the upper number of a meter is 1 to 32, found 0
      write "4/4", "3/4", "6/8" or "7/8 = 2+2+3"

    | Am (3/4) |
         ^^^^^ chart-meter-place
      the meter changes at the start of a bar
      write it right behind the bar line: `| (3/4) Am |`

    | (3/4) (4/4) Am |
            ^^^^^ chart-meter-twice
      the meter changes twice in one bar
      leave one of the two meters out

    | (7/8 = 2+2) Am |
      ^^^^^^^^^^^ meter-group-sum
      the groups of a meter add up to its upper number 7, found 4
      write groups that fill the bar, such as 2+2+3

    | (3/ 4) Am Dm |
             ^^^^^ chart-uneven
      2 chords do not share the 3 beats of 3/4 evenly
      write each beat, a chord or a `/`: `| Am / Dm |`
    "#);
}

#[test]
fn a_form_has_its_limit() {
    let long = format!("|: A | B | {}|", "C :|x999 |: D ".repeat(60));
    let mut problems = Vec::new();
    read_section(&long, Meter::COMMON, &mut problems);
    let problem = problems.first().unwrap();
    assert_eq!(problem.code, "chart-repeat-unclosed");
    let long = "|: A | B :|x999".repeat(51);
    let mut problems = Vec::new();
    let section = read_section(&long, Meter::COMMON, &mut problems);
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].message, "a form has at most 100000 bars");
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
