//! Laws of the program's own readers, which hold for any input: for their property tests and for `tests/fuzz`, which
//! cannot reach into the program.

use std::time::Instant;

use super::controls::{self, Names};
use super::pedals::file::{PedalFile, check_command};
use super::pedals::pressed::{Pedal, Presses};

/// Most bindings of a file that are changed one by one.
const MOST_CHANGED: usize = 4;

/// A line that is typed while it plays: a command, or an error with bytes of the line.
///
/// # Panics
/// If that does not hold.
pub fn command(line: &str) {
    let names = Names::named(
        vec!["click", "pads", "bass"],
        vec![("A".to_owned(), 1), ("br\u{FC}cke".to_owned(), 9)],
        Some(16),
    );
    match controls::read(line, &names, Instant::now()) {
        // A line that is right for one piece is right for a pedal, which is bound before there is one.
        Ok(found) => assert_eq!(found.is_some(), check_command(line).is_ok()),
        Err(wrong) => {
            assert!(line.get(wrong.span.clone()).is_some(), "{:?}", wrong.span);
            assert!(!wrong.message.is_empty() && !wrong.help().is_empty());
            let said = wrong.to_string();
            assert!(!said.chars().any(char::is_control), "{said:?}");
        }
    }
}

/// A pedal file: errors with spans of the text, or bindings that can be added and taken away and leave the others alone.
///
/// # Panics
/// If that does not hold.
pub fn pedal_file(text: &str) {
    let file = match PedalFile::read(text) {
        Ok(file) => file,
        Err(problems) => {
            assert!(!problems.is_empty());
            for problem in problems {
                let span = problem.span.clone();
                assert!(text.get(span.clone()).is_some(), "{span:?}");
                assert!(!problem.message.is_empty() && !problem.help.is_empty());
            }
            return;
        }
    };
    let mut pedals: Vec<Pedal> = file.bindings().iter().map(|b| b.pedal).collect();
    for binding in file.bindings() {
        assert_eq!(check_command(&binding.command), Ok(()));
        prints_and_reads(binding.pedal);
    }
    let others_stay = |changed: &PedalFile, but: Pedal| {
        for binding in file.bindings().iter().filter(|b| b.pedal != but) {
            assert_eq!(changed.command(binding.pedal), Some(&*binding.command));
        }
    };
    assert!(again(&file.without(&pedals)).bindings().is_empty());
    pedals.truncate(MOST_CHANGED);
    pedals.push(Pedal::Reset);
    for pedal in pedals {
        let with = again(&file.with(pedal, "silence or bring bass"));
        assert_eq!(with.command(pedal), Some("silence or bring bass"));
        others_stay(&with, pedal);
        let without = again(&file.without(&[pedal]));
        assert_eq!(without.command(pedal), None);
        others_stay(&without, pedal);
    }
}

/// Messages of a MIDI input, three bytes each: what one of them presses can be written to a pedal file.
///
/// # Panics
/// If that does not hold.
pub fn presses(bytes: &[u8]) {
    let mut presses = Presses::default();
    for message in bytes.chunks(3) {
        if let Some(pedal) = presses.hear(message) {
            prints_and_reads(pedal);
        }
    }
}

fn prints_and_reads(pedal: Pedal) {
    let printed = pedal.to_string();
    assert_eq!(Pedal::read(&printed).ok(), Some(pedal), "{printed}");
}

/// A text that was written here is read.
fn again(text: &str) -> PedalFile {
    PedalFile::read(text).unwrap_or_else(|wrong| panic!("{wrong:?} in\n{text}"))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// A line of a pedal file, right or nearly.
    fn binding() -> impl Strategy<Value = String> {
        let pedal = prop_oneof![
            Just("start".to_owned()),
            Just("stop".to_owned()),
            "\"note [0-9]{1,2} on channel 1\"",
        ];
        let command = prop::sample::select(vec![
            "\"next\"",
            "'go on'",
            "\"go \u{F6}n\"",
            "\"\\u0074ap\"",
            "'''tap'''",
            "\"\"\"\ntap\"\"\"",
            "5",
        ]);
        (pedal, command, "( # .{0,4})?").prop_map(|(p, c, rest)| format!("{p} = {c}{rest}"))
    }

    proptest! {
        #[test]
        fn any_line_is_a_command_or_an_error_with_a_place(
            first in "(tempo|go|loop|silence|transpose|bring)?[ \u{2003}]{0,2}",
            second in "([+-]?[0-9.%]{1,4}|[a-z\u{FC}]{1,6}|.{0,20}) ?",
            third in ".{0,4}",
        ) {
            command(&format!("{first}{second}{third}"));
        }

        #[test]
        fn any_pedal_file_keeps_the_laws(lines in prop::collection::vec(binding(), 0..4), inline: bool) {
            if inline {
                pedal_file(&format!("pedals = {{ {} }}\n", lines.join(", ")));
            } else {
                pedal_file(&format!("[pedals]\n{}", lines.join("\n")));
            }
        }

        #[test]
        fn any_text_is_a_pedal_file_or_problems_with_places(text in "(\\[pedals\\]\n)?.{0,80}") {
            pedal_file(&text);
        }

        #[test]
        fn any_press_can_be_written(bytes in prop::collection::vec(any::<u8>(), 0..60)) {
            presses(&bytes);
        }
    }

    /// The second key stands on the line on which the first value ends, and its own value goes on in the next line: the
    /// lines to be taken away overlap. Taking both away panicked.
    #[test]
    fn bindings_that_share_lines_are_forgotten() {
        pedal_file("pedals = { start = \"next\", stop = \"\"\"\ntap\"\"\" }\n");
    }
}
