//! Lengths in ticks as notes: a value, dots, and a tuplet where it needs one.

/// The names of note values and their ticks, the longest first.
const VALUES: [(&str, u64); 7] = [
    ("whole", 3840),
    ("half", 1920),
    ("quarter", 960),
    ("eighth", 480),
    ("16th", 240),
    ("32nd", 120),
    ("64th", 60),
];

/// Tuplets: so many notes in the time of so many.
const TUPLETS: [(u8, u8); 9] = [
    (3, 2),
    (5, 4),
    (6, 4),
    (7, 4),
    (7, 8),
    (2, 3),
    (4, 3),
    (8, 6),
    (9, 8),
];

/// A note value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Value {
    /// Its length in ticks.
    pub(crate) ticks: u64,
    /// Its name in the schema.
    pub(crate) name: &'static str,
    /// How many dots, 0 to 2.
    pub(crate) dots: u8,
    /// So many in the time of so many.
    pub(crate) tuplet: Option<(u8, u8)>,
}

/// The value of a length that is one note without a tuplet.
pub(crate) fn plain(ticks: u64) -> Option<Value> {
    VALUES.iter().find_map(|(name, value)| {
        let dots = match ticks {
            _ if ticks == *value => 0,
            _ if 2 * ticks == 3 * value => 1,
            _ if 4 * ticks == 7 * value => 2,
            _ => return None,
        };
        Some(Value {
            ticks,
            name,
            dots,
            tuplet: None,
        })
    })
}

/// The notes, tied to one another, that fill a length; empty where no values do.
pub(crate) fn values(ticks: u64) -> Vec<Value> {
    if let Some(value) = plain(ticks) {
        return vec![value];
    }
    for (actual, normal) in TUPLETS {
        let scaled = ticks * u64::from(actual);
        if scaled.is_multiple_of(u64::from(normal))
            && let Some(value) = plain(scaled / u64::from(normal))
            && value.dots == 0
        {
            let tuplet = Some((actual, normal));
            return vec![Value {
                ticks,
                tuplet,
                ..value
            }];
        }
    }
    // Tied: the longest plain value first.
    let mut rest = ticks;
    let mut found = Vec::new();
    for (name, value) in VALUES {
        while rest >= value && found.len() < 16 {
            found.push(Value {
                ticks: value,
                name,
                dots: 0,
                tuplet: None,
            });
            rest -= value;
        }
    }
    if rest == 0 { found } else { Vec::new() }
}

/// The ticks of a note value with dots; `None` for a name that a tempo is not counted in.
pub(crate) fn ticks(name: &str, dots: u64) -> Option<u64> {
    let value = VALUES.iter().find(|value| value.0 == name)?.1;
    match dots {
        0 => Some(value),
        1 => Some(value / 2 * 3),
        2 => Some(value / 4 * 7),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_the_notes_that_players_write() {
        let said = |ticks| {
            let notes = values(ticks).into_iter().map(|value| {
                let dots = ".".repeat(usize::from(value.dots));
                let tuplet = value.tuplet.map(|(a, n)| format!(" {a}:{n}"));
                format!("{}{dots}{}", value.name, tuplet.unwrap_or_default())
            });
            notes.collect::<Vec<_>>().join(" ")
        };
        assert_eq!(said(960), "quarter");
        assert_eq!(said(1440), "quarter.");
        assert_eq!(said(1680), "quarter..");
        assert_eq!(said(320), "eighth 3:2");
        assert_eq!(said(640), "quarter 3:2");
        assert_eq!(said(192), "16th 5:4");
        assert_eq!(said(160), "16th 3:2");
        assert_eq!(said(2400), "half eighth");
        assert_eq!(said(720), "eighth.");
        assert_eq!(said(1), "");
        for beat in [960, 1440, 1920, 480, 2400] {
            for count in 1..=9 {
                let length = beat / count;
                let sum: u64 = values(length).iter().map(|value| value.ticks).sum();
                assert!(sum == length || sum == 0, "{beat} {count}");
            }
        }
    }
}
