use super::*;
use crate::chart::SourceText;
use crate::view::render_problems;
use proptest::prelude::*;

const GOOD: &str = "# mine\n[pedals]\n\"control 64 on channel 1\" = \"pause or go on\" # left\n\
                    \"Note 60 on channel 10\" = 'go bridge'\n\n# the end\n";

const SUSTAIN: Pedal = Pedal::Control(0, 64);

fn bound(text: &str) -> Vec<String> {
    let file = PedalFile::read(text).unwrap();
    let line = |b: &Binding| format!("{}: {}", b.pedal, b.command);
    file.bindings().iter().map(line).collect()
}

fn said(text: &str) -> String {
    let problems = PedalFile::read(text).unwrap_err();
    render_problems(&problems, &SourceText::new("pedals.toml", text), false)
}

#[test]
fn a_file_is_read_in_its_order() {
    assert_eq!(
        bound(GOOD),
        [
            "control 64 on channel 1: pause or go on",
            "note 60 on channel 10: go bridge"
        ]
    );
    assert!(bound("").is_empty());
    assert!(bound("[pedals]").is_empty());
    assert_eq!(
        bound("pedals = { start = 'go on', stop = 'pause' }"),
        ["start: go on", "stop: pause"]
    );
}

#[test]
fn what_is_wrong_is_said_at_its_place_all_in_one_run() {
    insta::assert_snapshot!(said(
        "pedal = 1\n[pedals]\n\"contrl 64 on channel 1\" = \"pause\"\n\"note 60 on channel 17\" = \"dance\"\n\
         start = 5\nSTART = \"tempo fast\"\n\"song 1\" = \"help\"\n\"song 2\" = \"\"\n"
    ), @r#"
    Error in line 1 of pedals.toml: unknown key `pedal`.
        pedal = 1
        ~~~~~
      Write `pedals`.
    Error in line 3 of pedals.toml: `contrl 64 on channel 1` is no MIDI message.
        "contrl 64 on channel 1" = "pause"
        ~~~~~~~~~~~~~~~~~~~~~~~~
      The first word may be `control`: write `note 60 on channel 10`, `control 64 on channel 1`, `program 5 on channel 1`, `pitch wheel on channel 1`, `pressure on channel 1`, `pressure of note 60 on channel 1`, `song 3`, `song position`, `start`, `continue`, `stop`, `tune request` or `reset`.
    Error in line 4 of pedals.toml: a channel is 1 to 16, found `17`.
        "note 60 on channel 17" = "dance"
        ~~~~~~~~~~~~~~~~~~~~~~~
      Write a number from 1 to 16.
    Error in line 4 of pedals.toml: `dance` is no command.
        "note 60 on channel 17" = "dance"
                                   ~~~~~
      There are pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off.
    Error in line 5 of pedals.toml: a pedal stands for a command in quotes.
        start = 5
                ~
      Write `"pause or go on"`.
    Error in line 6 of pedals.toml: `start` is bound twice.
        START = "tempo fast"
        ~~~~~
      Leave one of the two out.
    Error in line 6 of pedals.toml: `tempo` takes beats a minute such as 96, a change such as +2, or a share such as 80% or +2%, found `fast`.
        START = "tempo fast"
                       ~~~~
      There are pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off.
    Error in line 7 of pedals.toml: `help` is no command for a pedal.
        "song 1" = "help"
                    ~~~~
      There are pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off.
    Error in line 8 of pedals.toml: a command is missing.
        "song 2" = ""
                   ~~
      There are pause, go on, count in, stop, tempo 96, tempo +2, tempo 80%, tap, transpose +3, higher, lower, silence bass, bring bass, go 5, go B, go +1, next, again, loop 5 8, loop from here, loop to here, loop off.
    "#);
    insta::assert_snapshot!(said("pedals = 3\n\"start\" = \"pause\"\n"), @r#"
    Error in line 1 of pedals.toml: `pedals` is a table.
        pedals = 3
                 ~
      Write `[pedals]` on a line of its own, and below it `"control 64 on channel 1" = "pause or go on"`.
    Error in line 2 of pedals.toml: unknown key `start`.
        "start" = "pause"
        ~~~~~~~
      Bindings stand below `[pedals]`.
    "#);
}

#[test]
fn what_is_no_toml_is_said_at_its_place() {
    insta::assert_snapshot!(said("[pedals]\nstart = pause\nstop = \"stop\"\nstop = \"pause\"\n"), @r#"
    Error in line 2 of pedals.toml: string values must be quoted, expected literal string.
        start = pause
                ~~~~~
      A pedal file is TOML: below `[pedals]` lines such as `"control 64 on channel 1" = "pause or go on"`.
    Error in line 4 of pedals.toml: this message is bound twice.
        stop = "pause"
        ~~~~
      Leave one of the two out.
    "#);
}

#[test]
fn a_part_or_a_section_that_a_piece_may_have_is_no_error() {
    for line in [
        "silence kit",
        "bring back pads",
        "go B",
        "go 99",
        "loop A 7",
        "loop 7 A",
        "loop 1 999",
    ] {
        assert_eq!(check_command(line), Ok(()), "{line}");
    }
    assert!(check_command("silence").is_err());
    assert!(check_command("go +x").is_err());
}

#[test]
fn learning_adds_a_line_and_keeps_the_rest() {
    let learned = |text: &str, pedal| PedalFile::read(text).unwrap().with(pedal, "next");
    insta::assert_snapshot!(learned(GOOD, Pedal::Start), @r#"
    # mine
    [pedals]
    "control 64 on channel 1" = "pause or go on" # left
    "Note 60 on channel 10" = 'go bridge'
    "start" = "next"

    # the end
    "#);
    insta::assert_snapshot!(learned(GOOD, SUSTAIN), @r#"
    # mine
    [pedals]
    "control 64 on channel 1" = "next" # left
    "Note 60 on channel 10" = 'go bridge'

    # the end
    "#);
    insta::assert_snapshot!(learned("", SUSTAIN), @r#"
    # What a pedal does while it plays: `fivefold pedals learn` adds a line, `fivefold pedals forget` takes one away.

    [pedals]
    "control 64 on channel 1" = "next"
    "#);
    insta::assert_snapshot!(learned("# none yet\n[pedals]", SUSTAIN), @r#"
    # none yet
    [pedals]
    "control 64 on channel 1" = "next"
    "#);
    insta::assert_snapshot!(learned("pedals = { start = 'go on' } # both\n", SUSTAIN), @r#"
    # What a pedal does while it plays: `fivefold pedals learn` adds a line, `fivefold pedals forget` takes one away.

    [pedals]
    "start" = "go on"
    "control 64 on channel 1" = "next"
    "#);
}

#[test]
fn forgetting_takes_a_line_away_and_keeps_the_rest() {
    let file = PedalFile::read(GOOD).unwrap();
    insta::assert_snapshot!(file.without(&[SUSTAIN]), @r#"
    # mine
    [pedals]
    "Note 60 on channel 10" = 'go bridge'

    # the end
    "#);
    insta::assert_snapshot!(file.without(&[SUSTAIN, Pedal::Note(9, 60)]), @"
    # mine
    [pedals]

    # the end
    ");
    let file = PedalFile::read("pedals = { start = 'go on', stop = 'pause' }\n").unwrap();
    insta::assert_snapshot!(file.without(&[Pedal::Stop]), @r#"
    # What a pedal does while it plays: `fivefold pedals learn` adds a line, `fivefold pedals forget` takes one away.

    [pedals]
    "start" = "go on"
    "#);
}

proptest! {
    #[test]
    fn what_was_learned_is_read_and_what_was_forgotten_is_not(
        keys in proptest::collection::vec(0u8..8, 0..20),
    ) {
        let mut text = String::new();
        for key in keys {
            let pedal = Pedal::Note(0, key);
            text = PedalFile::read(&text).unwrap().with(pedal, "next");
            let file = PedalFile::read(&text).unwrap();
            prop_assert_eq!(file.command(pedal), Some("next"));
            if key % 2 == 0 {
                text = file.without(&[pedal]);
                let file = PedalFile::read(&text).unwrap();
                prop_assert_eq!(file.command(pedal), None);
            }
        }
        prop_assert!(PedalFile::read(&text).unwrap().bindings().iter().all(|b| b.command == "next"));
    }
}
