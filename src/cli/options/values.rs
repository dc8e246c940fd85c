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
                    "times" => "write `--times 2` or `--times endless`".to_owned(),
                    _ => {
                        // The nearest number in the range; for text that is no number, a form.
                        let near = match text.trim().parse::<i64>() {
                            Ok(n) => Some(n.clamp(min, max)),
                            Err(e) if *e.kind() == IntErrorKind::PosOverflow => Some(max),
                            Err(e) if *e.kind() == IntErrorKind::NegOverflow => Some(min),
                            Err(_) if min == 0 && NONE.contains(&text.trim()) => Some(0),
                            Err(_) => None,
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
    let near = nearest(text, choices.iter().map(|c| c.0)).unwrap_or(choices[0].0);
    Err(Failure::new(
        "option-choice",
        format!("`--{option}` is {}, found `{text}`", or(&names)),
        format!(
            "write `--{option} {}`",
            if near.contains(' ') {
                format!("'{near}'")
            } else {
                near.to_owned()
            }
        ),
    ))
}

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

/// The parts of `--parts`.
pub(super) fn parts(text: &str) -> Result<Vec<Part>, Failure> {
    let names = Part::ALL.map(Part::name).join(", ");
    let help = format!("parts are {names}: `--parts click,bass`");
    let mut wanted: Vec<Part> = Vec::new();
    for word in text.split(',').map(str::trim).filter(|w| !w.is_empty()) {
        let Some(part) = Part::of(word) else {
            let message = format!("there is no part `{word}`");
            return Err(Failure::new("option-parts", message, help));
        };
        wanted.push(part);
    }
    if wanted.is_empty() {
        let message = "`--parts` names no part";
        return Err(Failure::new("option-parts", message, help));
    }
    Ok(wanted)
}
