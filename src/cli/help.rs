//! How help and screens are laid out: the options most people want first, all of it as wide as the terminal.

use clap::{Command, CommandFactory};

use super::Arguments;

/// The heading of what every command has.
pub(super) const EVERYWHERE: &str = "In every command";

/// The width of help where the terminal's is unknown, and its maximum.
const WIDEST_HELP: usize = 100;

/// The least width: below it nothing gets narrower.
const NARROWEST: usize = 40;

/// The options most people want of each command, by the names of their fields, in the order in which they are shown. They
/// stand first and without a heading of their own; all others have one.
const COMMON: [(&str, &[&str]); 13] = [
    (
        "play",
        &[
            "output", "port", "sound", "tempo", "key", "times", "duration", "looped", "parts",
            "set",
        ],
    ),
    (
        "click",
        &[
            "output",
            "port",
            "sound",
            "duration",
            "bars",
            "meter",
            "feel",
            "subdivide",
            "beats",
            "silent",
        ],
    ),
    (
        "jam",
        &[
            "set", "home", "fit", "level", "length", "seed", "tempo", "keys", "endless", "show",
            "output",
        ],
    ),
    (
        "check",
        &[
            "set", "home", "fit", "key", "tempo", "times", "duration", "bars", "from", "to",
        ],
    ),
    (
        "drill roots",
        &["notes", "strings", "asks", "duration", "beats", "tempo"],
    ),
    (
        "drill scale",
        &[
            "keys", "run", "notes", "string", "over", "hide", "times", "tempo",
        ],
    ),
    (
        "drill degrees",
        &["ask", "string", "asks", "duration", "beats", "tempo"],
    ),
    ("practice", &["from", "to", "turns", "show", "who"]),
    (
        "log",
        &["who", "since", "csv", "withdraw", "forget", "copy"],
    ),
    ("chord", &["key"]),
    ("scale", &["chords", "home"]),
    (
        "neck",
        &["tuning", "capo", "frets", "left", "show", "map", "roots"],
    ),
    ("pedals", &["file"]),
];

/// The command line, its options in groups; help is as wide as the terminal.
pub(super) fn command_line(columns: Option<usize>) -> Command {
    let width = columns.unwrap_or(WIDEST_HELP).clamp(NARROWEST, WIDEST_HELP);
    let whole = Arguments::command().term_width(width);
    // A click has one part.
    let whole = whole.mut_subcommand("click", |click| {
        click.mut_arg("part", |part| {
            part.help("A setting of the click, such as click.level=80; may be repeated; `fivefold list settings` has them all")
        })
    });
    COMMON.iter().fold(whole, |whole, (name, common)| {
        let grouped = |command: Command| grouped(command, common);
        match name.split_once(' ') {
            Some((outer, inner)) => {
                whole.mut_subcommand(outer, |outer| outer.mut_subcommand(inner, grouped))
            }
            None => whole.mut_subcommand(*name, grouped),
        }
    })
}

/// A command with these of its options first, without a heading.
fn grouped(command: Command, common: &[&str]) -> Command {
    command.mut_args(|arg| {
        match common.iter().position(|id| arg.get_id().as_str() == *id) {
            Some(place) => arg.help_heading(None::<&str>).display_order(place),
            // Positional arguments come above all options.
            None if arg.is_positional() => arg.help_heading(None::<&str>),
            None => arg,
        }
    })
}

/// Columns of the terminal: from the environment, else from the terminal; `None` if neither has it, as in a pipe.
pub(super) fn columns(is_terminal: bool) -> Option<usize> {
    let said = std::env::var("COLUMNS").ok();
    let said = said.and_then(|text| text.trim().parse::<usize>().ok());
    let seen = || {
        let (width, _) = is_terminal.then(terminal_size::terminal_size).flatten()?;
        Some(usize::from(width.0))
    };
    let found = said.filter(|n| *n > 0).or_else(seen).filter(|n| *n > 0)?;
    Some(found.max(NARROWEST))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_common_option_is_one_of_its_command() {
        let whole = command_line(None);
        for (name, common) in COMMON {
            let mut command = &whole;
            for word in name.split(' ') {
                command = command.find_subcommand(word).unwrap();
            }
            for id in common {
                let found = command.get_arguments().find(|a| a.get_id() == *id);
                let arg = found.unwrap_or_else(|| panic!("{name} has no {id}"));
                assert_eq!(arg.get_help_heading(), None, "{name} {id}");
            }
            for arg in command.get_arguments().filter(|a| !a.is_positional()) {
                let first = common.iter().any(|id| arg.get_id() == *id);
                assert_eq!(arg.get_help_heading().is_none(), first, "{name} {arg}");
            }
        }
    }
}
