//! Values of options.

use std::num::IntErrorKind;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::chart::Part;
use crate::cli::failure::{Failure, read_value};
use crate::diagnostic::or;
use crate::theory::nearest;
use crate::time::{Feel, Meter, TempoPlan};

/// Advice for a numeral without a key on the command line.
pub(in crate::cli) const NEEDS_KEY: &str = "give a key, `--key 'A minor'` or in a document `key = \"A minor\"`, or write the chord in letters";

/// The last bar there can be: the longest form, as often as it can be played.
pub(in crate::cli) const MOST_BAR: i64 = 10_000_000_000;

/// Words that mean 0.
const NONE: [&str; 4] = ["no", "none", "off", "false"];

/// A whole number of an option, within its range.
pub(in crate::cli) fn number(option: &str, text: &str, min: i64, max: i64) -> Result<i64, Failure> {
    let range = if max == i64::MAX {
        format!("{min} or more")
    } else {
        format!("{min} to {max}")
    };
    text.trim()
        .parse::<i64>()
        .ok()
        .filter(|n| (min..=max).contains(n))
        .ok_or_else(|| {
            Failure::new(
                "option-range",
                format!("`--{option}` is a whole number, {range}, found `{text}`"),
                match option {
                    "times" => {
                        let count = counted(option, text).filter(|n| (min..=max).contains(n));
                        let count = count.unwrap_or(2);
                        format!("write `--times {count}` or `--times endless`")
                    }
                    _ => {
                        // The nearest number in the range; for text that is no number, a form.
                        let near = match text.trim().parse::<i64>() {
                            Ok(n) => Some(n.clamp(min, max)),
                            Err(e) if *e.kind() == IntErrorKind::PosOverflow => Some(max),
                            Err(e) if *e.kind() == IntErrorKind::NegOverflow => Some(min),
                            Err(_) if min == 0 && NONE.contains(&text.trim()) => Some(0),
                            Err(_) => counted(option, text).filter(|n| (min..=max).contains(n)),
                        };
                        match near {
                            Some(near) => format!("write `--{option} {near}`"),
                            None => format!("write a number, such as `--{option} {}`", min.max(1)),
                        }
                    }
                },
            )
        })
}

/// Numbers in words, from 1.
const IN_WORDS: [&str; 12] = [
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
];

/// Names of notes, with how many there are to a quarter.
const NOTE_VALUES: [(&str, i64); 10] = [
    ("quarters", 1),
    ("quarter", 1),
    ("eighths", 2),
    ("eighth", 2),
    ("8ths", 2),
    ("triplets", 3),
    ("triplet", 3),
    ("sixteenths", 4),
    ("sixteenth", 4),
    ("16ths", 4),
];

/// The number that a text without one alone means: `x3`, `4 bars`, `2nd`, `three`, and for notes to a beat `eighths`.
fn counted(option: &str, text: &str) -> Option<i64> {
    let text = text.trim().to_lowercase();
    if option == "subdivide" || option == "notes" {
        let known = NOTE_VALUES.iter().find(|(name, _)| *name == text);
        return known.map(|(_, count)| *count);
    }
    if let Some(at) = IN_WORDS.iter().position(|word| *word == text) {
        return i64::try_from(at + 1).ok();
    }
    let text = text.strip_prefix(['x', '\u{d7}']).unwrap_or(&text).trim();
    let end = text
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(text.len());
    let units: &[&str] = match option {
        "turns" => &["", "m", "min", "minutes"],
        "capo" | "frets" => &["", "fret", "st", "nd", "rd", "th"],
        _ => &[
            "", "x", "\u{d7}", "times", "bar", "bars", "beat", "beats", "st", "nd", "rd", "th",
        ],
    };
    let unit = text[end..].trim();
    text[..end].parse().ok().filter(|_| units.contains(&unit))
}

/// A new seed for each call, short enough to type.
pub(in crate::cli) fn fresh_seed() -> u64 {
    let now = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |d| d.as_nanos());
    u64::try_from(now / 1000 % 1_000_000).unwrap_or(0)
}

/// The meter of `--meter`.
pub(in crate::cli) fn meter(text: &str) -> Result<Meter, Failure> {
    read_value("--meter", text, Meter::read)
}

/// The feel of `--feel`, which goes with the meter.
pub(in crate::cli) fn feel(text: &str, meter: &Meter) -> Result<Feel, Failure> {
    read_value("--feel", text, |text| {
        Feel::read(text).and_then(|feel| feel.check(meter).map(|()| feel))
    })
}

/// Whole hundredths, with or without their sign: `80%`, `80`.
pub(in crate::cli) fn percent(text: &str) -> Option<u32> {
    let digits = text.trim().strip_suffix('%').unwrap_or(text.trim());
    digits.trim().parse().ok()
}

/// The value of an option that takes one of several names.
pub(in crate::cli) fn choice<T: Copy>(
    option: &str,
    text: &str,
    choices: &[(&str, T)],
) -> Result<T, Failure> {
    if let Some((_, value)) = choices.iter().find(|(name, _)| *name == text.trim()) {
        return Ok(*value);
    }
    let names: Vec<String> = choices
        .iter()
        .map(|(name, _)| format!("`{name}`"))
        .collect();
    let has = |name: &str| choices.iter().any(|(known, _)| *known == name);
    let meant = CHOICES
        .iter()
        .find(|(of, word, name)| *of == option && *word == text.trim() && has(name));
    let near = meant
        .map(|(_, _, name)| *name)
        .or_else(|| nearest(text, choices.iter().map(|c| c.0)));
    let name = near.unwrap_or(choices[0].0);
    let said = if name.contains(' ') {
        format!("`--{option} '{name}'`")
    } else {
        format!("`--{option} {name}`")
    };
    Err(Failure::new(
        "option-choice",
        format!("`--{option}` is {}, found `{text}`", or(&names)),
        match near {
            Some(_) => format!("write {said}"),
            None => format!("write one of these, such as {said}"),
        },
    ))
}

/// Words that are typed for a choice of another name: the option, the word, and the choice.
const CHOICES: [(&str, &str, &str); 24] = [
    ("run", "ascending", "up"),
    ("run", "descending", "down"),
    ("run", "up down", "both"),
    ("run", "up,down", "both"),
    ("run", "up and down", "both"),
    ("step", "strumming", "strum"),
    ("notes", "markers", "marked"),
    ("notes", "dots", "marked"),
    ("notes", "letters", "natural"),
    ("notes", "chromatic", "all"),
    ("ask", "identify", "name"),
    ("over", "chords", "backing"),
    ("over", "metronome", "click"),
    ("pace", "slow", "slower"),
    ("pace", "fast", "faster"),
    ("pace", "quick", "faster"),
    ("pace", "same", "hold"),
    ("level", "easy", "plain"),
    ("level", "simple", "plain"),
    ("level", "jazz", "rich"),
    ("fit", "strict", "inside"),
    ("order", "default", "usual"),
    ("order", "standard", "usual"),
    ("rhythm", "half bars", "half bar"),
];

/// A tempo plan that fits the meter.
pub(in crate::cli) fn read_plan(
    option: &str,
    text: &str,
    meter: &Meter,
) -> Result<TempoPlan, Failure> {
    read_value(option, text, |text| {
        TempoPlan::read(text).and_then(|plan| plan.check(meter).map(|()| plan))
    })
}

/// Words that are typed for a part of another name.
const PARTS: [(&str, Part); 14] = [
    ("metronome", Part::Click),
    ("chords", Part::Pads),
    ("pad", Part::Pads),
    ("piano", Part::Pads),
    ("keys", Part::Pads),
    ("strings", Part::Pads),
    ("drums", Part::Kit),
    ("drum", Part::Kit),
    ("percussion", Part::Kit),
    ("guitar", Part::Strum),
    ("strumming", Part::Strum),
    ("melody", Part::Guide),
    ("line", Part::Guide),
    ("tonic", Part::Drone),
];

/// The part that a word stands for which is not its name.
pub(in crate::cli) fn part_meant(word: &str) -> Option<Part> {
    let word = word.to_lowercase();
    let known = PARTS.iter().find(|(typed, _)| *typed == word);
    known
        .map(|(_, part)| *part)
        .or_else(|| Part::of(nearest(&word, Part::ALL.map(Part::name))?))
}

/// The parts of `--parts`, with commas or spaces between.
pub(super) fn parts(text: &str) -> Result<Vec<Part>, Failure> {
    let words = text.split([',', ' ']).filter(|word| !word.is_empty());
    let words: Vec<&str> = words.collect();
    let names = Part::ALL.map(Part::name).join(", ");
    let help = format!("parts are {names}: `--parts click,bass`");
    if words.is_empty() {
        let message = "`--parts` names no part";
        return Err(Failure::new("option-parts", message, help));
    }
    let Some(unknown) = words.iter().find(|word| Part::of(word).is_none()) else {
        return Ok(words.into_iter().filter_map(Part::of).collect());
    };
    let meant = words
        .iter()
        .map(|word| Part::of(word).or_else(|| part_meant(word)));
    let meant: Option<Vec<&str>> = meant.map(|part| part.map(Part::name)).collect();
    let help = match meant {
        Some(parts) => format!("write `--parts {}`", parts.join(",")),
        None => help,
    };
    let message = format!("there is no part `{unknown}`");
    Err(Failure::new("option-parts", message, help))
}
