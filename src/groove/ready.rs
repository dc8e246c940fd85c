//! The grooves that come with the program.

use std::sync::LazyLock;

use toml::de::DeTable;

use super::error::GrooveError;
use super::groove::{Groove, GrooveParts, Meters};
use super::plain::PLAIN;
use super::read::read_groove;
use crate::theory::nearest;
use crate::time::{Feel, Meter, SwingUnit};

macro_rules! ready {
    ($name:literal, $file:literal) => {
        ($name, include_str!(concat!("ready/", $file, ".toml")))
    };
}

/// Names and texts, by meter and use.
const TEXTS: [(&str, &str); 17] = [
    ready!("rock eighths", "rock-eighths"),
    ready!("half-time", "half-time"),
    ready!("four on the floor", "four-on-the-floor"),
    ready!("stomp", "stomp"),
    ready!("funk sixteenths", "funk-sixteenths"),
    ready!("shuffle", "shuffle"),
    ready!("swing", "swing"),
    ready!("slow blues", "slow-blues"),
    ready!("ballad", "ballad"),
    ready!("bossa", "bossa"),
    ready!("one-drop", "one-drop"),
    ready!("train", "train"),
    ready!("two-beat", "two-beat"),
    ready!("folk waltz", "folk-waltz"),
    ready!("jazz waltz", "jazz-waltz"),
    ready!("six-eight ballad", "six-eight-ballad"),
    ready!("grouped", "grouped"),
];

/// The written ones, and last the plain one.
static READY: LazyLock<Vec<Groove>> = LazyLock::new(|| {
    let written = TEXTS.iter().filter_map(|(name, text)| of_text(name, text));
    written.chain([plain()]).collect()
});

/// `None` where the text does not read: a test reads all of them.
fn of_text(name: &str, text: &str) -> Option<Groove> {
    let (table, errors) = DeTable::parse_recoverable(text);
    let ready = |_: &str| Ok(plain());
    let read = read_groove(table.get_ref(), 0..text.len(), Meter::COMMON, &ready);
    let named = |groove: Groove| {
        let parts = GrooveParts {
            name: name.to_owned(),
            ..groove.parts().clone()
        };
        Groove::new(parts).ok()
    };
    read.ok().filter(|_| errors.is_empty()).and_then(named)
}

fn plain() -> Groove {
    Groove::unchecked(GrooveParts {
        name: PLAIN.to_owned(),
        about: "kick and snare on the beats, made for every meter".to_owned(),
        meters: Meters::All,
        ..GrooveParts::empty(Meter::COMMON)
    })
}

/// The grooves that come with the program, each with its name; the last one suits every meter.
pub fn ready_grooves() -> &'static [Groove] {
    &READY
}

/// The groove of a name, in upper or lower case, with spaces or hyphens.
///
/// ```
/// use fivefold::groove::ready_groove;
/// assert_eq!(ready_groove("Rock-Eighths")?.parts().name, "rock eighths");
/// assert!(ready_groove("polka").is_err());
/// # Ok::<(), fivefold::groove::GrooveError>(())
/// ```
///
/// # Errors
/// When no groove has the name, with the nearest one.
pub fn ready_groove(name: &str) -> Result<Groove, GrooveError> {
    let plainly = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
    let wanted = plainly(name);
    let found = READY
        .iter()
        .find(|groove| plainly(&groove.parts().name) == wanted);
    found.cloned().ok_or_else(|| {
        let names = || READY.iter().map(|groove| groove.parts().name.as_str());
        GrooveError::Name {
            found: name.to_owned(),
            meant: match nearest(name, names()) {
                Some(near) => vec![near.to_owned()],
                None => names().map(str::to_owned).collect(),
            },
        }
    })
}

/// Whether `groove` suits a meter and a feel.
///
/// # Errors
/// When it does not, with grooves that do.
pub fn check_groove(groove: &Groove, meter: &Meter, feel: Option<Feel>) -> Result<(), GrooveError> {
    let suited = |more: &dyn Fn(&Groove) -> bool| -> Vec<String> {
        let suited = READY
            .iter()
            .filter(|groove| groove.suits(meter) && more(groove));
        suited.map(|groove| groove.parts().name.clone()).collect()
    };
    let named = || match groove.parts().name.as_str() {
        "" => "the groove of the document".to_owned(),
        name => format!("the groove {name}"),
    };
    if !groove.suits(meter) {
        return Err(GrooveError::Meter {
            groove: named(),
            meter: *meter,
            suited: suited(&|_| true),
        });
    }
    let unit = feel.and_then(|feel| feel.unit());
    if unit.is_some() && groove.is_in_threes(meter) {
        return Err(GrooveError::Threes { groove: named() });
    }
    if unit == Some(SwingUnit::Sixteenths) && !groove.has_sixteenths(meter) {
        return Err(GrooveError::NoSixteenths {
            groove: named(),
            suited: suited(&|groove| groove.has_sixteenths(meter) && !groove.is_in_threes(meter)),
        });
    }
    Ok(())
}

/// The groove of a piece that names none: by its meter, and by what swings.
pub fn usual_groove(meter: &Meter, feel: Option<Feel>) -> Groove {
    let swung = feel.and_then(|feel| feel.unit());
    let name = match (meter.numerator(), meter.denominator(), swung) {
        _ if !meter.groups().is_empty() => "grouped",
        (4, 4, Some(SwingUnit::Eighths)) => "shuffle",
        (4, 4, Some(SwingUnit::Sixteenths)) => "funk sixteenths",
        (4, 4, None) => "rock eighths",
        (3, 4, Some(SwingUnit::Eighths)) => "jazz waltz",
        (3, 4, None) => "folk waltz",
        (6, 8, None) => "six-eight ballad",
        (12, 8, None) => "slow blues",
        (2, 4 | 2, None) => "two-beat",
        _ => PLAIN,
    };
    ready_groove(name).unwrap_or_else(|_| plain())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_ready_groove_reads_and_says_what_it_is() {
        for (name, text) in TEXTS {
            let (table, errors) = DeTable::parse_recoverable(text);
            assert!(errors.is_empty(), "{name}: {errors:?}");
            let ready = |_: &str| Ok(plain());
            let read = read_groove(table.get_ref(), 0..text.len(), Meter::COMMON, &ready);
            let groove = read.unwrap_or_else(|faults| panic!("{name}: {faults:?}"));
            let parts = groove.parts();
            assert!(!parts.about.is_empty() && parts.tempo.is_some(), "{name}");
        }
        assert_eq!(ready_grooves().len(), TEXTS.len() + 1);
    }

    #[test]
    fn every_meter_has_a_usual_groove_that_suits_it() {
        for text in [
            "4/4",
            "3/4",
            "2/4",
            "2/2",
            "5/4",
            "6/8",
            "9/8",
            "12/8",
            "7/8",
            "7/8 = 2+2+3",
            "5/4 = 3+2",
            "8/8 = 3+3+2",
            "1/4",
            "32/32",
        ] {
            let meter = Meter::read(text).unwrap();
            for feel in [None, Some(Feel::Straight), Feel::read("swing").ok()] {
                let feel = feel.filter(|feel| feel.check(&meter).is_ok());
                let groove = usual_groove(&meter, feel);
                assert_eq!(check_groove(&groove, &meter, feel), Ok(()), "{text}");
            }
        }
        let usual = |meter: &str| {
            let meter = Meter::read(meter).unwrap();
            usual_groove(&meter, None).parts().name.clone()
        };
        assert_eq!(
            ["4/4", "3/4", "6/8", "7/8 = 2+2+3", "9/8"].map(usual),
            [
                "rock eighths",
                "folk waltz",
                "six-eight ballad",
                "grouped",
                "plain"
            ]
        );
    }

    #[test]
    fn what_does_not_suit_is_refused_with_names_that_do() {
        let (four, three) = (Meter::COMMON, Meter::read("3/4").unwrap());
        let refused = |groove: &str, meter: &Meter, feel: &str| {
            let groove = ready_groove(groove).unwrap();
            let error = check_groove(&groove, meter, Feel::read(feel).ok()).unwrap_err();
            use crate::diagnostic::Diagnostic;
            format!("{error}: {}", error.help())
        };
        assert_eq!(
            refused("shuffle", &three, "straight"),
            "the groove shuffle is no groove for 3/4: write `folk waltz`, `jazz waltz` or `plain`"
        );
        assert_eq!(
            refused("slow-blues", &four, "swing"),
            "the groove slow blues parts the beat in three already and does not swing: leave the feel out"
        );
        assert_eq!(
            refused("bossa", &four, "swing 16ths"),
            "the groove bossa has no sixteenths that could swing: write `funk sixteenths` or `train`"
        );
    }
}
