//! What is refused: the text, what is underlined, the code, the message and the help.

use super::*;
use crate::chart::Piece;

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
fn lines_that_may_be_bars() {
    insta::assert_snapshot!(wrong(&[
        "| C | F\nG | D |",
        "C | F\nG | D\nA",
        "| C F\nG |",
        "| C\nF\nG\nD |",
        "| C | %\n% | D |",
        "| C / / /\nF / / / |",
        // A word that is no chord is reported as such.
        "| C | F\nX | D |",
    ]), @"
    | C | F~G | D |
          ^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `F | G` for a bar a line, or `F G` on one line for one bar

    C | F~G | D~A
        ^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `F | G` for a bar a line, or `F G` on one line for one bar
              ^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `D | A` for a bar a line, or `D A` on one line for one bar

    | C F~G |
      ^^^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `C F | G`, with a bar line at the end of each line

    | C~F~G~D |
      ^^^^^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `C | F | G | D` for a bar a line, or `C F G D` on one line for one bar

    | C | %~% | D |
          ^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `% | %`, with a bar line at the end of each line

    | C / / /~F / / / |
      ^^^^^^^^^^^^^^^ chart-line-end
      a line ends without a bar line, and the next begins without one
      write `C / / / | F / / /`, with a bar line at the end of each line

    | C | F~X | D |
            ^ no-root
      expected a root A to G, found `X`
      begin with a root such as `A` or `F#`, a numeral such as `IV` or a number such as `4`
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
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord

    ||
    ^^ chart-empty
      a chart has no bars
      write bars between bar lines: `| Am7 | D9 / G7 / | % |`

    | | |
    ^^^ chart-empty-bar
      a bar is empty
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord
      ^^^ chart-empty-bar
      a bar is empty
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord

    | Am | | Dm |
         ^^^ chart-empty-bar
      a bar is empty
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord

    | Am | | | Dm |
         ^^^ chart-empty-bar
      a bar is empty
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord
           ^^^ chart-empty-bar
      a bar is empty
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord

    | Am | (3/4) | Dm |
         ^^^^^^^^^ chart-empty-bar
      a bar is empty
      write `| N.C. |` for silence, `| % |` for the bar before, or a `/` a beat to hold the chord

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
      write the number behind the sign, as in `| Am :|x3`

    |: A :| 3x | B |
            ^^ chart-repeat-times
      how often a repeat is played stands in its sign, found `3x`
      write the number behind the sign, as in `| Am :|x3`
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
fn signs_of_other_notations() {
    insta::assert_snapshot!(wrong(&[
        "| Am7 - Dm7 |",
        "| Am . . . |",
        "| Am, Dm |",
        "| Am | ./. |",
        "| Am | .% |",
        "|: Am : |",
        "| Am | \\ |",
        "| Am (x2) |",
        "| Am |x4",
        "| (Am) |",
        "| [3/4] Am |",
        "| Am \u{2192} Dm |",
    ]), @r"
    | Am7 - Dm7 |
          ^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `-`
      write chords with spaces between them, and `/` for a beat that holds the chord

    | Am . . . |
         ^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `.`
      write chords with spaces between them, and `/` for a beat that holds the chord

    | Am, Dm |
      ^^^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `Am,`
      write `Am` and a space

    | Am | ./. |
           ^^^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `./.`
      write `%` for the bar before

    | Am | .% |
           ^^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `.%`
      write `%` for the bar before

    |: Am : |
    ^^ chart-repeat-unclosed
      a repeat is not closed
      write `:|` at its end
          ^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `:`
      write `|:` or `:|` without a space

    | Am | \ |
           ^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `\`
      write chords with spaces between them, and `/` for a beat that holds the chord

    | Am (x2) |
         ^^^^ chart-repeat-times
      how often a repeat is played stands in its sign, found `(x2)`
      write the number behind the sign, as in `| Am :|x2`

    | Am |x4
          ^^ chart-repeat-times
      how often a repeat is played stands in its sign, found `x4`
      write the number behind the sign, as in `| Am :|x4`

    | (Am) |
      ^^^^ chart-bracket
      a bracket stands right behind its chord, or holds a meter, found `(Am)`
      write `Am` without brackets

    | [3/4] Am |
      ^^^^^ chart-meter-place
      a meter stands in round brackets, found `[3/4]`
      write `(3/4)` right behind the bar line

    | Am → Dm |
         ^ chart-sign
      a bar is made of chords, `/`, `%` and `N.C.`, found `→`
      write chords with spaces between them, and `/` for a beat that holds the chord
    ");
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
      ^ note-name
      a root is named by a letter A to G, found `H`
      write `B`

    | am |
      ^^ lower-case-root
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
    ]), @"
    | (3/5) Am |
      ^^^^^ meter-lower-number
      the lower number of a meter is 1, 2, 4, 8, 16 or 32, found 5
      write the note that is counted: 4 for quarters, 8 for eighths

    | (0/4) Am |
      ^^^^^ meter-upper-number
      the upper number of a meter is 1 to 32, found 0
      write `4/4`, `3/4`, `6/8` or `7/8 = 2+2+3`

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
    ");
}

/// A hundred bars of 32 chords each, played 990 times, once took 1.2 GB.
#[test]
fn more_chords_than_anybody_plays_are_refused() {
    let full = "(32/4) ".to_owned() + &"C D E F ".repeat(8);
    let similes = format!("| {full}{}|", "| % ".repeat(MOST_BARS - 1));
    let (text, mut problems) = (similes, Vec::new());
    let section = read_section(&text, Meter::COMMON, &mut problems);
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].code, "chart-too-long");
    assert_eq!(problems[0].message, "a form has at most 20000 chords");
    assert_eq!(&text[problems[0].span.clone()], "%");
    assert_eq!(section.chords(), MOST_CHORDS);

    let repeated = format!("|: {full}| {full}| {full}| {full}| {full}| {full}| {full}:|x999");
    for text in [
        repeated.clone(),
        format!("[A] {repeated}"),
        format!(
            "[A] {}\n[B] {}",
            repeated.replace("999", "50"),
            repeated.replace("999", "50")
        ),
    ] {
        let wrong = Piece::read_inline(&text).unwrap_err();
        assert_eq!(wrong[0].message, "a form has at most 20000 chords");
    }
    // A section of acceptable length, played too often by the form.
    let document = format!(
        "form = \"A A A\"\n[sections]\nA = \"{}\"\n",
        repeated.replace("999", "40")
    );
    let (piece, _) = Piece::read(&document).unwrap();
    let wrong = piece.unfold().unwrap_err();
    assert_eq!(wrong[0].message, "a form has at most 20000 chords");
    // Signs that hold a chord are kept until their bar is read, and are counted too.
    let held = "| C".to_owned() + &" /".repeat(1999) + " ";
    let mut problems = Vec::new();
    read_section(&held.repeat(500), Meter::COMMON, &mut problems);
    assert!(
        problems
            .iter()
            .any(|p| p.message == "a form has at most 20000 chords")
    );
}
