//! Words that people type for options, commands and values that have another name here.

use crate::chart::Part;
use crate::cli::options::part_meant;

/// Words that are typed for an option of another name. The first row whose option the command has is taken.
const OPTIONS: [(&str, &str); 65] = [
    ("bpm", "tempo"),
    ("speed", "tempo"),
    ("swing", "feel"),
    ("time-signature", "meter"),
    ("time-sig", "meter"),
    ("timesig", "meter"),
    ("signature", "meter"),
    ("minutes", "for"),
    ("duration", "for"),
    ("time", "for"),
    ("length", "for"),
    ("repeat", "times"),
    ("repeats", "times"),
    ("passes", "times"),
    ("rounds", "times"),
    ("start", "from"),
    ("begin", "from"),
    ("end", "to"),
    ("rate", "sample-rate"),
    ("samplerate", "sample-rate"),
    ("bits", "samples"),
    // The log has all three.
    ("export", "csv"),
    ("save", "copy"),
    ("out", "output"),
    ("save", "output"),
    ("export", "output"),
    ("pdf", "output"),
    ("sheet", "output"),
    ("svg", "output"),
    ("png", "output"),
    ("html", "output"),
    ("file", "output"),
    ("write", "output"),
    ("midi", "output"),
    ("wav", "output"),
    ("flac", "output"),
    ("mp3", "output"),
    ("audio", "output"),
    ("backup", "copy"),
    ("only", "parts"),
    ("instruments", "parts"),
    ("scale", "set"),
    ("mode", "home"),
    ("no-count-in", "count-in 0"),
    ("countin", "count-in"),
    ("left-handed", "left"),
    ("lefty", "left"),
    ("string", "from-string"),
    ("overwrite", "force"),
    ("one-track", "single-track"),
    ("volume", "gain"),
    ("subdivision", "subdivide"),
    ("subdivisions", "subdivide"),
    ("sub", "subdivide"),
    ("gap", "silent"),
    ("gaps", "silent"),
    ("player", "who"),
    ("name", "who"),
    ("user", "who"),
    ("student", "who"),
    ("delete", "withdraw"),
    ("remove", "withdraw"),
    ("undo", "withdraw"),
    ("practise", "practice"),
    ("order", "keys"),
];

/// The option that a word stands for, of those that `has` tells of: with a value where that is all of it.
pub(super) fn option(word: &str, has: impl Fn(&str) -> bool) -> Option<&'static str> {
    let rows = OPTIONS.iter().filter(|(typed, _)| *typed == word);
    let mut meant = rows.map(|(_, meant)| *meant);
    meant.find(|meant| has(meant.split(' ').next().unwrap_or(meant)))
}

/// Whether a word is typed for one of the places of a set or a chord on the neck.
pub(super) fn is_place(word: &str) -> bool {
    [
        "box",
        "boxes",
        "position",
        "positions",
        "pattern",
        "patterns",
    ]
    .contains(&word)
}

/// Words that are typed for a command of another name, with what stands behind `fivefold`.
const COMMANDS: [(&str, &str); 28] = [
    ("metronome", "click"),
    ("exercise", "drill"),
    ("exercises", "drill"),
    ("routine", "practice"),
    ("backing", "jam"),
    ("fretboard", "neck"),
    ("shapes", "neck"),
    ("export", "play"),
    ("convert", "play"),
    ("render", "play"),
    ("show", "check"),
    ("view", "check"),
    ("stats", "log"),
    ("history", "log"),
    ("progress", "log"),
    ("devices", "ports"),
    ("midi", "ports"),
    ("songs", "list charts"),
    ("charts", "list charts"),
    ("sets", "list sets"),
    ("routines", "list routines"),
    ("tunings", "list tunings"),
    ("parts", "list parts"),
    ("settings", "list settings"),
    ("voices", "list voices"),
    ("sounds", "list voices"),
    ("controls", "list controls"),
    ("version", "--version"),
];

/// What to type behind `fivefold` for a word that is no command.
pub(super) fn command(word: &str) -> Option<&'static str> {
    COMMANDS
        .iter()
        .find(|(typed, _)| *typed == word)
        .map(|(_, meant)| *meant)
}

/// Words that are typed for a command of a command, each with the command it belongs to; empty where that alone does it.
const BELOW: [(&str, &str, &str); 17] = [
    ("drill", "chords", "changes"),
    ("drill", "chord", "changes"),
    ("drill", "change", "changes"),
    ("drill", "notes", "roots"),
    ("drill", "fretboard", "roots"),
    ("drill", "neck", "roots"),
    ("drill", "intervals", "degrees"),
    ("drill", "shapes", "scale"),
    ("drill", "set", "scale"),
    ("pedals", "add", "learn"),
    ("pedals", "bind", "learn"),
    ("pedals", "assign", "learn"),
    ("pedals", "delete", "forget"),
    ("pedals", "remove", "forget"),
    ("pedals", "unbind", "forget"),
    ("pedals", "list", ""),
    ("pedals", "show", ""),
];

/// The command of `command` that a word stands for.
pub(super) fn below(command: &str, word: &str) -> Option<&'static str> {
    BELOW
        .iter()
        .find(|(parent, typed, _)| *parent == command && *typed == word)
        .map(|(_, _, meant)| *meant)
}

/// Things that `list` does not list, with what shows them.
const NOT_LISTED: [(&str, &str); 13] = [
    ("songs", "fivefold list charts"),
    ("pieces", "fivefold list charts"),
    ("programs", "fivefold list voices"),
    ("sounds", "fivefold list voices"),
    ("instruments", "fivefold list voices"),
    ("modes", "fivefold list sets"),
    ("chords", "fivefold chord Am7"),
    ("shapes", "fivefold neck Am7"),
    ("pedals", "fivefold pedals"),
    ("ports", "fivefold ports"),
    ("players", "fivefold log --players"),
    ("drills", "fivefold drill --help"),
    ("commands", "fivefold --help"),
];

/// The command that shows what `list` does not.
pub(super) fn not_listed(word: &str) -> Option<&'static str> {
    NOT_LISTED
        .iter()
        .find(|(typed, _)| *typed == word)
        .map(|(_, meant)| *meant)
}

/// The setting that an option such as `--no-bass`, `--mute bass` or `--drums` stands for.
pub(super) fn part_setting(option: &str, value: Option<&str>) -> Option<String> {
    let named = |word: &str| Part::of(word).or_else(|| part_meant(word));
    let (part, plays) = match option {
        "mute" | "without" => (named(value?)?, false),
        "solo" => return Some(format!("--parts {}", named(value?)?.name())),
        _ => match option.strip_prefix("no-") {
            Some(word) => (named(word)?, false),
            None => (named(option)?, true),
        },
    };
    Some(format!("--part {}.on={plays}", part.name()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_stands_for_an_option_that_there_is() {
        assert_eq!(option("export", |name| name == "csv"), Some("csv"));
        assert_eq!(option("export", |name| name != "csv"), Some("output"));
        assert_eq!(option("no-count-in", |_| true), Some("count-in 0"));
        assert_eq!(option("bpm", |name| name == "plan"), None);
    }

    #[test]
    fn parts_are_named_in_several_ways() {
        let said = |option, value| part_setting(option, value);
        assert_eq!(
            said("no-bass", None).as_deref(),
            Some("--part bass.on=false")
        );
        assert_eq!(said("drums", None).as_deref(), Some("--part kit.on=true"));
        assert_eq!(
            said("mute", Some("bass")).as_deref(),
            Some("--part bass.on=false")
        );
        assert_eq!(said("solo", Some("drums")).as_deref(), Some("--parts kit"));
        assert_eq!(said("mute", None), None);
        assert_eq!(said("no-fun", None), None);
    }
}
