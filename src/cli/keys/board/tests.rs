use super::*;
use proptest::prelude::*;

fn board(strokes: bool) -> Board {
    let parts = vec!["click", "pads", "bass"];
    Board::new(
        Names::named(parts, vec![("B".to_owned(), 5)], Some(16)),
        strokes,
    )
}

fn keys(bytes: &[u8]) -> Vec<Key> {
    let mut decoder = Decoder::default();
    let mut found = decoder.feed(bytes);
    found.extend(decoder.give_up());
    found
}

/// What is asked for, all else left out.
fn asked(actions: &[Action]) -> Vec<Control> {
    let control = |action: &Action| match action {
        Action::Do(control) => Some(*control),
        _ => None,
    };
    actions.iter().filter_map(control).collect()
}

/// The same for keys pressed one by one.
fn typed(board: &mut Board, text: &str, at: Instant) -> Vec<Action> {
    let mut actions = Vec::new();
    for c in text.chars() {
        actions.extend(board.take(c.encode_utf8(&mut [0; 4]).as_bytes(), at));
    }
    actions
}

#[test]
fn bytes_are_keys() {
    assert_eq!(
        keys(b"a \r\n\x7F\x08\x15"),
        [
            Key::Char('a'),
            Key::Char(' '),
            Key::Enter,
            Key::Enter,
            Key::Back,
            Key::Back,
            Key::Wipe,
        ]
    );
    assert_eq!(
        keys(b"\x1B[A\x1B[B\x1B[C\x1B[D"),
        [Key::Up, Key::Down, Key::Right, Key::Left]
    );
    assert_eq!(keys(b"\x1BOA\x1BOD"), [Key::Up, Key::Left]);
    // With Shift or Ctrl.
    assert_eq!(keys(b"\x1B[1;5A"), [Key::Up]);
    assert_eq!(
        keys("\u{E9}\u{266D}".as_bytes()),
        [Key::Char('\u{E9}'), Key::Char('\u{266D}')]
    );
}

#[test]
fn keys_that_mean_nothing_are_no_others() {
    // Delete, F5, Ctrl-D, a bell, and Alt with q, which is not q.
    for bytes in [&b"\x1B[3~"[..], b"\x1B[15~", b"\x04", b"\x07", b"\x1Bq"] {
        assert_eq!(keys(bytes), [Key::Other], "{bytes:?}");
    }
    assert_eq!(keys(b"\x1B"), [Key::Escape]);
    assert_eq!(keys(b"\x1B\x1B[A"), [Key::Escape, Key::Up]);
    assert_eq!(keys(b"\x1B["), [Key::Other]);
    assert_eq!(
        keys(b"\x1B[1\x07q"),
        [Key::Other, Key::Other, Key::Char('q')]
    );
    assert_eq!(keys(b"\xFF\xC3q"), [Key::Other, Key::Other, Key::Char('q')]);
}

proptest! {
    #[test]
    fn bytes_may_come_in_any_pieces(
        parts in proptest::collection::vec(
            prop_oneof![
                "[ -~\u{E9}\u{266D}]".prop_map(String::into_bytes),
                Just(b"\x1B[A".to_vec()), Just(b"\x1B[1;5D".to_vec()), Just(b"\x1BOB".to_vec()),
                proptest::collection::vec(any::<u8>(), 1..4),
            ], 0..12),
        cuts in proptest::collection::vec(any::<bool>(), 80),
    ) {
        let bytes = parts.concat();
        let mut decoder = Decoder::default();
        let mut found = Vec::new();
        let mut from = 0;
        for at in 1..=bytes.len() {
            if at == bytes.len() || cuts[at % cuts.len()] {
                found.extend(decoder.feed(&bytes[from..at]));
                from = at;
            }
        }
        found.extend(decoder.give_up());
        prop_assert_eq!(found, keys(&bytes));
    }

    #[test]
    fn any_bytes_are_survived_and_nothing_piles_up(
        reads in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..64), 0..20),
    ) {
        let mut board = board(false);
        for bytes in reads {
            board.take(&bytes, Instant::now());
            prop_assert!(board.decoder.rest.len() <= MOST_BYTES + 3);
            prop_assert!(board.line.as_ref().is_none_or(|line| line.chars().count() <= MOST_CHARS));
        }
    }
}

#[test]
fn each_key_asks_for_what_it_says() {
    let at = Instant::now();
    let beats = |n| Control::Tempo(Pace::BeatsBy(n));
    let mut board = board(false);
    assert_eq!(
        asked(&typed(&mut board, " pcqthlnabeo13", at)),
        [
            Control::PauseOrResume,
            Control::PauseOrResume,
            Control::CountIn,
            Control::Stop,
            Control::Tap(at),
            Control::TransposeBy(1),
            Control::TransposeBy(-1),
            Control::Next,
            Control::Again,
            Control::LoopFromHere,
            Control::LoopToHere,
            Control::Loop(None),
            Control::MuteOrUnmute(PartId(0)),
            Control::MuteOrUnmute(PartId(2)),
        ]
    );
    let arrows = board.take(b"\x1B[A\x1B[B\x1B[C\x1B[D", at);
    assert_eq!(
        asked(&arrows),
        [beats(5000), beats(-5000), beats(1000), beats(-1000)]
    );
}

#[test]
fn where_strokes_are_judged_the_space_bar_strikes() {
    let at = Instant::now();
    let mut board = board(true);
    let found = asked(&typed(&mut board, " p", at));
    assert_eq!(found, [Control::Stroke(at), Control::PauseOrResume]);
    assert!(first_line(&Names::any(), true).contains("p pause"));
}

#[test]
fn what_is_no_key_says_where_they_are() {
    let at = Instant::now();
    let mut board = board(false);
    let said: Vec<String> = typed(&mut board, "x4?", at)
        .into_iter()
        .map(|action| match action {
            Action::Say(text) => text,
            other => panic!("{other:?}"),
        })
        .collect();
    insta::assert_snapshot!(said.join("\n"), @"
    `x` is no key; ? shows them
    no part 4 plays; there are 1 click, 2 pads, 3 bass
    space pauses and goes on, c counts in, q stops
    up, down 5 beats a minute more, less; right, left 1 beat; t taps the tempo
    h, l a semitone higher, lower; n next pass, a again
    b, e loop from here, to here; o loop off; g a bar or section to go to
    1 click, 2 pads, 3 bass: silences or brings back
    Enter opens a line for any command, Esc leaves it
    ");
    insta::assert_snapshot!(first_line(&Names::any(), false), @"
    keys: space pause, arrows tempo, t tap, c count in, q stop, ? all keys
    ");
    assert!(
        first_line(&Names::any(), true).len() <= 79
            && said.iter().flat_map(|s| s.lines()).all(|l| l.len() <= 79)
    );
}

#[test]
fn a_line_takes_any_command() {
    let at = Instant::now();
    let mut board = board(false);
    let line = |text: &str| Action::Line(text.to_owned());
    assert_eq!(typed(&mut board, "\r", at), [line("")]);
    // Keys are letters now.
    let actions = typed(&mut board, "tempp\x7Fo 80%", at);
    assert_eq!(actions.last(), Some(&line("tempo 80%")));
    assert_eq!(asked(&actions), []);
    assert_eq!(
        typed(&mut board, "\r", at),
        [
            Action::Closed,
            Action::Do(Control::Tempo(Pace::Share(800_000)))
        ]
    );
    // Keys are keys again.
    assert_eq!(asked(&typed(&mut board, "n", at)), [Control::Next]);
    assert_eq!(asked(&typed(&mut board, "gB\r", at)), [Control::Go(5)]);
    assert_eq!(
        typed(&mut board, "\rx\x15\r", at),
        [line(""), line("x"), line(""), Action::Closed]
    );
    let wrong = typed(&mut board, "gX\r", at);
    assert!(matches!(wrong.last(), Some(Action::Say(text)) if text.contains("no section")));
}

#[test]
fn escape_leaves_a_line() {
    let at = Instant::now();
    let mut board = board(false);
    typed(&mut board, "\rstop", at);
    assert_eq!(board.take(b"\x1B", at), []);
    assert!(board.patience(at).is_some());
    assert_eq!(board.give_up(at), [Action::Closed]);
    assert!(board.patience(at).is_none());
    // An arrow in a line does nothing, in however many pieces it comes.
    typed(&mut board, "\rx", at);
    assert_eq!(board.take(b"\x1B", at), []);
    assert_eq!(board.take(b"[", at), []);
    assert_eq!(board.take(b"A", at), []);
    assert_eq!(board.line.as_deref(), Some("x"));
}

#[test]
fn a_line_has_an_end() {
    let at = Instant::now();
    let mut board = board(false);
    typed(&mut board, "\r", at);
    typed(&mut board, &"x".repeat(1000), at);
    assert_eq!(board.line.as_ref().map(String::len), Some(MOST_CHARS));
}

#[test]
fn what_is_pasted_is_not_taken_for_keys() {
    let at = Instant::now();
    let mut board = board(false);
    let actions = board.take(b"a quiet note\nstop\nq", at);
    assert!(
        matches!(actions.as_slice(), [Action::Say(_)]),
        "{actions:?}"
    );
    // A key held down while the program was busy is not a paste.
    assert_eq!(asked(&board.take(&b"\x1B[C".repeat(20), at)).len(), 20);
    // In a line it is a line; nothing behind it counts.
    typed(&mut board, "\r", at);
    assert_eq!(
        asked(&board.take(b"tempo +2\nstop\nqqqq", at)),
        [Control::Tempo(Pace::BeatsBy(2000))]
    );
    assert_eq!(board.line, None);
}

/// Every line of the list is one, every key of it does what its line does, and no key is missing.
#[test]
fn the_list_of_controls_is_what_the_keys_do() {
    let at = Instant::now();
    let names = Names::named(vec!["bass"], vec![("B".to_owned(), 5)], Some(16));
    let mut board = Board::new(names.clone(), false);
    let bytes = |key: &str| {
        match key {
            "space" => " ",
            "up" => "\x1B[A",
            "down" => "\x1B[B",
            "right" => "\x1B[C",
            "left" => "\x1B[D",
            "1 to 9" => "1",
            other => other,
        }
        .to_owned()
    };
    let mut named = Vec::new();
    for control in &CONTROLS {
        let line = controls::read(control.line, &names, at).ok().flatten();
        assert_eq!(line.is_none(), control.line == "help", "{}", control.line);
        for key in control.key.split(", ").filter(|key| !key.is_empty()) {
            let key = bytes(key);
            let found = asked(&board.take(key.as_bytes(), at));
            named.push(key.clone());
            if key == "g" {
                // It opens a line for the bar.
                let found = asked(&typed(&mut board, "5\r", at));
                assert_eq!(found, [line.unwrap()]);
            } else if key != "?" {
                assert_eq!(found, [line.unwrap()], "{key}");
            }
        }
    }
    for key in (' '..='~').filter(|key| !key.is_ascii_digit()) {
        let mut board = Board::new(names.clone(), false);
        let acts = board.take(key.to_string().as_bytes(), at);
        let none = acts
            .iter()
            .any(|act| matches!(act, Action::Say(text) if text.contains("is no key")));
        assert_eq!(none, !named.contains(&key.to_string()), "{key:?}");
    }
}

/// A board over a piece that asks, and where its answers go.
fn asking() -> (Board, std::sync::Arc<Answers>) {
    let answers = std::sync::Arc::new(Answers::default());
    let names = Names::named(vec!["click", "pads", "bass"], Vec::new(), Some(16));
    let board = Board::new(names.answering(Some(answers.clone())), false);
    (board, answers)
}

/// The answers that were given, in order.
fn given(actions: &[Action], answers: &Answers) -> Vec<String> {
    let deed = |control: Control| match control {
        Control::Respond { id, .. } => Some(format!("{:?}", answers.deed(id)?)),
        _ => None,
    };
    asked(actions).into_iter().filter_map(deed).collect()
}

#[test]
fn while_a_fret_is_asked_for_digits_are_the_answer() {
    let at = Instant::now();
    let (mut board, answers) = asking();
    // Nothing is asked: a digit that comes too late silences no part.
    let late = typed(&mut board, "3", at);
    assert!(matches!(&late[..], [Action::Say(text)] if text.starts_with("nothing is asked now")));
    answers.want(Wanted::Fret);
    assert_eq!(given(&typed(&mut board, "5", at), &answers), ["Fret(5)"]);
    // 1, 2 and 3 may go on.
    assert_eq!(given(&typed(&mut board, "1", at), &answers), [""; 0]);
    assert!(board.patience(at) <= Some(SECOND_DIGIT) && board.patience(at).is_some());
    assert_eq!(given(&typed(&mut board, "2", at), &answers), ["Fret(12)"]);
    // Enter ends it, and so do 0.8 seconds.
    assert_eq!(given(&typed(&mut board, "3\r", at), &answers), ["Fret(3)"]);
    typed(&mut board, "2", at);
    let before = at + SECOND_DIGIT / 2;
    assert_eq!(given(&board.give_up(before), &answers), [""; 0]);
    assert_eq!(
        given(&board.give_up(at + SECOND_DIGIT), &answers),
        ["Fret(2)"]
    );
    assert_eq!(board.patience(at), None);
    // Taken back; the other keys stay what they are.
    typed(&mut board, "1\x7F", at);
    assert_eq!(board.patience(at), None);
    assert_eq!(asked(&typed(&mut board, "p", at)), [Control::PauseOrResume]);
    // An answer that has begun counts when another key comes.
    let actions = typed(&mut board, "1q", at);
    assert_eq!(given(&actions, &answers), ["Fret(1)"]);
    assert_eq!(asked(&actions).last(), Some(&Control::Stop));
    // What was begun when the time was over is dropped.
    typed(&mut board, "1", at);
    answers.want(Wanted::Nothing);
    assert_eq!(asked(&typed(&mut board, "2", at)), []);
}

#[test]
fn the_time_of_an_answer_is_that_of_its_first_key() {
    let at = Instant::now();
    let (mut board, answers) = asking();
    answers.want(Wanted::Fret);
    typed(&mut board, "1", at);
    let later = at + SECOND_DIGIT / 4;
    let actions = typed(&mut board, "0", later);
    assert!(asked(&actions).contains(&Control::Respond { id: 0, at }));
}

#[test]
fn while_a_degree_is_asked_for_accidentals_and_a_digit_are_the_answer() {
    let at = Instant::now();
    let (mut board, answers) = asking();
    answers.want(Wanted::Word);
    for (keys, answer) in [("5", "5"), ("b3", "b3"), ("#4", "#4"), ("bb7", "bb7")] {
        let wanted = format!("Word({answer:?})");
        assert_eq!(given(&typed(&mut board, keys, at), &answers), [wanted]);
    }
    // b is part of an answer here, and no loop.
    assert_eq!(asked(&typed(&mut board, "b", at)), []);
}

#[test]
fn after_a_take_keys_say_how_it_was() {
    let at = Instant::now();
    let answers = std::sync::Arc::new(Answers::choosing(&crate::cli::answers::VERDICTS));
    let names = Names::named(Vec::new(), Vec::new(), None);
    let mut board = Board::new(names.answering(Some(answers.clone())), false);
    for (key, word) in [("y", "clean"), (" ", "nearly"), ("m", "missed")] {
        let wanted = format!("Word({word:?})");
        assert_eq!(given(&typed(&mut board, key, at), &answers), [wanted]);
    }
    assert_eq!(asked(&typed(&mut board, "q", at)), [Control::Stop]);
    let other = typed(&mut board, "x", at);
    let say = Action::Say("y clean, space nearly, m missed, q leaves it".to_owned());
    assert_eq!(other, [say]);
    // No line opens here, and an arrow changes no tempo.
    assert_eq!(typed(&mut board, "\r", at), []);
    assert_eq!(board.take(b"\x1B[A", at), []);
}

#[test]
fn while_changes_are_marked_keys_mark_and_p_pauses() {
    let at = Instant::now();
    let answers = std::sync::Arc::new(Answers::marking());
    let names = Names::named(vec!["click"], Vec::new(), Some(16));
    let names = names.answering(Some(answers.clone()));
    let keys = "keys: space stroke, m missed, q leaves it, p pauses and goes on";
    assert_eq!(first_line(&names, false), keys);
    let mut board = Board::new(names, false);
    let marks = given(&typed(&mut board, " m ", at), &answers);
    assert_eq!(
        marks,
        ["Word(\"stroke\")", "Word(\"missed\")", "Word(\"stroke\")"]
    );
    assert_eq!(asked(&typed(&mut board, "p", at)), [Control::PauseOrResume]);
    assert_eq!(asked(&typed(&mut board, "q", at)), [Control::Stop]);
    // Nothing makes the minute longer or shorter.
    for key in ["t", "n", "c", "b", "1", "\r", "?"] {
        assert_eq!(asked(&typed(&mut board, key, at)), [], "{key}");
    }
    assert_eq!(board.take(b"\x1B[A", at), []);
}
