//! Chords as MusicXML says them: a kind, and degrees that are added, altered or left out.

use crate::theory::{Chord, ChordKind, Degree};

/// What is done with a degree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Change {
    /// It comes beside those of the kind; it counts from a dominant chord, whose seventh is flat.
    Add,
    /// That of the kind is raised or lowered by so many semitones.
    Alter,
    /// That of the kind is left out.
    Subtract,
}

impl Change {
    /// The word of the schema.
    pub(crate) const fn as_str(self) -> &'static str {
        match self {
            Change::Add => "add",
            Change::Alter => "alter",
            Change::Subtract => "subtract",
        }
    }

    /// The change of a word of the schema.
    pub(crate) fn read(text: &str) -> Option<Change> {
        let all = [Change::Add, Change::Alter, Change::Subtract];
        all.into_iter().find(|change| change.as_str() == text)
    }
}

/// One degree of a chord symbol.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Modifier {
    /// The number of the degree, 1 to 13.
    pub(crate) number: u8,
    /// Semitones, from what [`Change`] says.
    pub(crate) alter: i8,
    /// What is done with it.
    pub(crate) change: Change,
}

/// The alteration that a dominant chord has at a number: its seventh is flat.
const fn dominant(number: u8) -> i8 {
    if number == 7 { -1 } else { 0 }
}

/// The degrees of a kind; the root alone where it has none.
fn members(kind: ChordKind) -> &'static [Degree] {
    let members = kind.members();
    if members.is_empty() {
        &[Degree::ROOT]
    } else {
        members
    }
}

/// The kind that a score names for a chord, and the degrees that make its tones of it.
///
/// Readers differ about an added seventh: by the schema it is flat, for some it is not. So a chord with a seventh is of a kind
/// that has it: `C7sus4` is a dominant chord whose third is left out.
pub(crate) fn parts(chord: &Chord) -> (ChordKind, Vec<Modifier>) {
    let kind = chord.kind();
    let own = modifiers(chord, kind);
    let adds = |modifiers: &[Modifier]| {
        let mut seventh = modifiers.iter().filter(|m| m.number == 7);
        seventh.any(|m| m.change == Change::Add)
    };
    if !adds(&own) {
        return (kind, own);
    }
    let minor = chord.third().is_some_and(|third| third.alter() < 0);
    let kind = match (chord.seventh().map(Degree::alter), minor) {
        (Some(-2), _) => ChordKind::DiminishedSeventh,
        (Some(-1), true) => ChordKind::MinorSeventh,
        (Some(0), true) => ChordKind::MajorMinor,
        (Some(0), false) => ChordKind::MajorSeventh,
        _ => ChordKind::Dominant,
    };
    (kind, modifiers(chord, kind))
}

/// The degrees that make the tones of a chord from those of a kind.
fn modifiers(chord: &Chord, kind: ChordKind) -> Vec<Modifier> {
    let members = members(kind);
    let mut found = Vec::new();
    for number in 1..=13 {
        let at = |degree: &&Degree| degree.number() == number;
        let member = members.iter().find(at).map(|degree| degree.alter());
        let mut wanted: Vec<i8> = chord
            .degrees()
            .iter()
            .filter(at)
            .map(|d| d.alter())
            .collect();
        let mut push = |alter, change| {
            found.push(Modifier {
                number,
                alter,
                change,
            });
        };
        if let Some(has) = member {
            match wanted.iter().position(|alter| *alter == has) {
                Some(place) => drop(wanted.remove(place)),
                None if wanted.is_empty() => push(0, Change::Subtract),
                None => push(wanted.remove(0) - has, Change::Alter),
            }
        }
        for alter in wanted {
            push(alter - dominant(number), Change::Add);
        }
    }
    found
}

/// The degrees of a kind after all changes; `None` where one is no degree that chords have.
pub(crate) fn degrees(kind: ChordKind, modifiers: &[Modifier]) -> Option<Vec<Degree>> {
    let mut found: Vec<Degree> = members(kind).to_vec();
    for modifier in modifiers {
        let number = modifier.number;
        let place = found.iter().position(|degree| degree.number() == number);
        match (modifier.change, place) {
            (Change::Subtract, Some(place)) => drop(found.remove(place)),
            (Change::Subtract, None) => {}
            (Change::Alter, Some(place)) => {
                let alter = found[place].alter().checked_add(modifier.alter)?;
                found[place] = Degree::new(number, alter).ok()?;
            }
            // An alteration of what is not there adds it.
            (Change::Add | Change::Alter, _) => {
                let alter = dominant(number).checked_add(modifier.alter)?;
                found.push(Degree::new(number, alter).ok()?);
            }
        }
    }
    Some(found)
}

/// The kind of a name of the schema; `None` for the names without members and for `none`.
pub(crate) fn kind_named(name: &str) -> Option<ChordKind> {
    let mut all = ChordKind::all().chain([ChordKind::Other]);
    all.find(|kind| kind.as_str() == name)
}

/// The symbol of a chord behind its root and before its bass.
pub(crate) fn suffix(chord: &Chord) -> String {
    let whole = chord.with_bass(None).to_string();
    let root = chord.root().to_string();
    whole.strip_prefix(&root).unwrap_or_default().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::symbol;

    #[test]
    fn kinds_and_degrees_make_the_tones_of_every_symbol() {
        let table = include_str!("../../tests/reference/chord_symbols.tsv");
        let mut seen = 0;
        for line in table.lines().filter(|line| !line.starts_with('#')) {
            let Some(Ok(harmony)) = line.split('\t').next().map(symbol::read) else {
                continue;
            };
            let Some(chord) = harmony.chord() else {
                continue;
            };
            let (kind, modifiers) = parts(chord);
            let made = degrees(kind, &modifiers).unwrap();
            let again = Chord::new(chord.root(), made, chord.slash()).unwrap();
            assert_eq!(again, *chord, "{line}");
            seen += 1;
        }
        assert!(seen > 100, "{seen}");
    }

    #[test]
    fn degrees_are_worded_as_the_schema_does() {
        let said = |text: &str| {
            let chord = *symbol::read(text).unwrap().chord().unwrap();
            let (kind, modifiers) = parts(&chord);
            let words = modifiers.into_iter();
            let words = words.map(|m| format!("{} {} {}", m.change.as_str(), m.number, m.alter));
            (kind.as_str(), words.collect::<Vec<_>>().join(", "))
        };
        assert_eq!(said("Am7"), ("minor-seventh", String::new()));
        assert_eq!(said("C7b9"), ("dominant", "add 9 -1".to_owned()));
        assert_eq!(said("C11"), ("dominant-11th", "subtract 3 0".to_owned()));
        assert_eq!(said("C13"), ("dominant-13th", "subtract 11 0".to_owned()));
        let third_left_out = "subtract 3 0, add 4 0".to_owned();
        assert_eq!(said("Csus4"), ("suspended-fourth", String::new()));
        assert_eq!(said("C7sus4"), ("dominant", third_left_out.clone()));
        assert_eq!(said("Cmaj7sus4"), ("major-seventh", third_left_out));
        assert_eq!(said("Cmaj7b5"), ("major-seventh", "alter 5 -1".to_owned()));
    }
}
