//! How a chord lies over a set.

use super::blues::{Blues, JAZZ_CHORDS, SKELETONS, WaysRead};
use super::vocabulary::vocabulary;
use crate::chart::FitRule;
use crate::theory::{Chord, Harmony, PitchClass, PitchName, Scale};

/// A note of the set that is not a chord tone and lies a semitone above one: held, it rubs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Rub {
    /// The note of the set.
    pub note: PitchName,
    /// The chord tone a semitone below it.
    pub against: PitchName,
}

/// How a chord lies over a set, with what the rules look at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fit {
    /// Chord tones that are not in the set.
    pub outside_set: Vec<PitchName>,
    /// Chord tones that are not in the home scale.
    pub outside_home: Vec<PitchName>,
    /// Notes of the set that are chord tones.
    pub shared: Vec<PitchName>,
    /// Notes of the set that rub.
    pub rubs: Vec<Rub>,
    /// Whether it is the major chord on the fifth of a minor home, of which only the third is outside home.
    pub major_five: bool,
    /// Whether the blues convention admits it; `None` over a set it does not cover.
    pub blues: Option<bool>,
}

impl Fit {
    /// Every chord tone is in the set.
    pub fn inside(&self) -> bool {
        self.outside_set.is_empty()
    }

    /// Every chord tone is in the home scale, and no note of the set rubs.
    pub fn clear(&self) -> bool {
        self.home() && self.rubs.is_empty()
    }

    /// Every chord tone is in the home scale.
    pub fn home(&self) -> bool {
        self.outside_home.is_empty()
    }

    /// Whether a rule admits the chord; `None` for the blues rule over a set it does not cover.
    pub fn admits(&self, rule: FitRule) -> Option<bool> {
        match rule {
            FitRule::Inside => Some(self.inside()),
            FitRule::Clear => Some(self.clear()),
            FitRule::Home => Some(self.home()),
            FitRule::HomeWithFive => Some(self.home() || self.major_five),
            FitRule::Blues => self.blues,
        }
    }

    /// Why a rule does not admit the chord, in one clause; `None` where it does.
    pub fn reason(&self, rule: FitRule) -> Option<String> {
        let list = |notes: &[PitchName]| {
            notes
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join(" ")
        };
        if self.admits(rule) == Some(true) {
            return None;
        }
        Some(match rule {
            FitRule::Inside => format!("{} not in the set", list(&self.outside_set)),
            FitRule::Blues if self.blues.is_none() => {
                "the blues rule is for minor and major pentatonic and blues sets".to_owned()
            }
            FitRule::Clear if self.home() => {
                let rubs: Vec<String> = self
                    .rubs
                    .iter()
                    .map(|r| format!("{} over {}", r.note, r.against))
                    .collect();
                format!("{} rubs", rubs.join(", "))
            }
            FitRule::Clear | FitRule::Home | FitRule::HomeWithFive | FitRule::Blues => {
                format!("{} not in the home scale", list(&self.outside_home))
            }
        })
    }
}

/// The tones of a chord, its slash bass among them.
fn tones(chord: &Chord) -> Vec<PitchName> {
    let mut tones = chord.tones();
    if let Some(bass) = chord.slash()
        && !tones.iter().any(|t| t.pitch_class() == bass.pitch_class())
    {
        tones.push(bass);
    }
    tones
}

/// How `harmony` lies over `set`, heard in `home`.
///
/// Notes are compared by sound, not by spelling. N.C. always fits.
///
/// ```
/// use fivefold::generate::fit;
/// use fivefold::theory::{Scale, symbol};
/// let set = Scale::read("A minor pentatonic")?;
/// let home = set.home().expect("it has one");
/// let g = fit(&symbol::read("G")?, &set, &home);
/// // B is not in the set, and the set's C lies a semitone above it.
/// assert!(!g.inside() && g.home() && !g.clear());
/// assert_eq!(g.rubs[0].note.to_string(), "C");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn fit(harmony: &Harmony, set: &Scale, home: &Scale) -> Fit {
    let notes = set.notes();
    let Some(chord) = harmony.chord() else {
        let blues = speaks_of(set).then_some(true);
        return Fit {
            outside_set: vec![],
            outside_home: vec![],
            shared: vec![],
            rubs: vec![],
            major_five: false,
            blues,
        };
    };
    let tones = tones(chord);
    let sounds = |class: PitchClass| tones.iter().find(|t| t.pitch_class() == class).copied();
    let outside = |scale: &Scale| {
        tones
            .iter()
            .copied()
            .filter(|t| !scale.contains(t.pitch_class()))
            .collect()
    };
    let rubs = notes
        .iter()
        .filter(|note| sounds(note.pitch_class()).is_none())
        .filter_map(|note| {
            sounds(note.pitch_class().up(-1)).map(|against| Rub {
                note: *note,
                against,
            })
        })
        .collect();
    let mut found = Fit {
        outside_set: outside(set),
        outside_home: outside(home),
        shared: notes
            .iter()
            .copied()
            .filter(|n| sounds(n.pitch_class()).is_some())
            .collect(),
        rubs,
        major_five: false,
        blues: None,
    };
    found.major_five = found.outside_home.len() == 1 && is_major_five(chord, set, home);
    if speaks_of(set) {
        found.blues = Some(found.home() || is_blues_chord(chord, set, home));
    }
    found
}

/// Whether the blues convention covers a set: minor and major pentatonic, and the blues hexatonics.
fn speaks_of(set: &Scale) -> bool {
    set.kind().is_some_and(|kind| kind.is_blues())
}

/// Number and alteration of the degrees of a major chord, 6, 7, 9 and 13, rising.
const DOMINANT: [&[(u8, i8)]; 5] = [
    &[(1, 0), (3, 0), (5, 0)],
    &[(1, 0), (3, 0), (5, 0), (6, 0)],
    &[(1, 0), (3, 0), (5, 0), (7, -1)],
    &[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0)],
    &[(1, 0), (3, 0), (5, 0), (7, -1), (9, 0), (13, 0)],
];

/// The same of 7#9.
const SHARP_NINE: [(u8, i8); 5] = [(1, 0), (3, 0), (5, 0), (7, -1), (9, 1)];

/// The same of 7.
const SEVEN: [(u8, i8); 4] = [(1, 0), (3, 0), (5, 0), (7, -1)];

/// Semitones of the root of a chord above the root of a set, 0 to 11.
fn root_above(chord: &Chord, set: &Scale) -> u8 {
    let tonic = i32::from(set.root().pitch_class().value());
    chord.root().pitch_class().up(-tonic).value()
}

/// Number and alteration of the degrees of a chord.
fn degrees(chord: &Chord) -> Vec<(u8, i8)> {
    let degrees = chord.degrees().iter();
    degrees.map(|d| (d.number(), d.alter())).collect()
}

/// Major, 6, 7, 9 and 13 on the first, fourth and fifth degree; 7#9 on the first and fifth, and 7 on the flat sixth, over
/// a set with a minor third (common practice).
fn is_blues_chord(chord: &Chord, set: &Scale, home: &Scale) -> bool {
    let from = root_above(chord, set);
    let minor = set.kind().is_some_and(|kind| kind.is_minor());
    let degrees = degrees(chord);
    let dominant = DOMINANT.contains(&degrees.as_slice());
    let bass_fits = chord.slash().is_none_or(|bass| {
        home.contains(bass.pitch_class()) || chord.pitch_classes().contains(&bass.pitch_class())
    });
    let sharp_nine = minor && degrees == SHARP_NINE;
    let flat_six = minor && degrees == SEVEN && from == 8;
    bass_fits
        && (dominant && matches!(from, 0 | 5 | 7)
            || sharp_nine && matches!(from, 0 | 7)
            || flat_six)
}

/// Whether a chord is major or a 7 chord on the fifth of a minor home: a convention of minor keys, which raise the seventh
/// note there (common practice).
fn is_major_five(chord: &Chord, set: &Scale, home: &Scale) -> bool {
    let tonic = set.root().pitch_class();
    let minor = home.contains(tonic.up(3)) && !home.contains(tonic.up(4));
    let degrees = degrees(chord);
    let major = degrees == SEVEN || degrees == SEVEN[..3];
    minor && home.contains(tonic.up(7)) && root_above(chord, set) == 7 && major
}

/// How the chords of a section lie over `set`, heard in `home`: bar by bar, chord by chord.
///
/// It is as [`fit`] has it, with one exception: where the bars are a jazz blues by their roots, the blues rule admits the
/// chords that belong to it, which are #IVdim7, VI7 and ii7.
pub fn fit_bars(bars: &[Vec<Harmony>], set: &Scale, home: &Scale) -> Vec<Vec<Fit>> {
    let jazz = speaks_of(set) && is_jazz_form(bars, set);
    let one = |harmony: &Harmony| {
        let mut found = fit(harmony, set, home);
        if jazz && harmony.chord().is_some_and(|c| is_jazz_chord(c, set)) {
            found.blues = Some(true);
        }
        found
    };
    let bar = |bar: &Vec<Harmony>| bar.iter().map(one).collect();
    bars.iter().map(bar).collect()
}

/// Whether a chord is one that the blues rule admits inside a jazz form alone.
pub(super) fn is_jazz_chord(chord: &Chord, set: &Scale) -> bool {
    let own = degrees(chord);
    let from = root_above(chord, set);
    let is = |suffix: &str| {
        let quality = vocabulary().iter().find(|q| q.suffix == suffix);
        quality.is_some_and(|q| own.first() == Some(&(1, 0)) && own.get(1..) == Some(q.degrees))
    };
    let mut chords = JAZZ_CHORDS.iter();
    chord.slash().is_none() && chords.any(|(up, suffix)| *up == from && is(suffix))
}

/// Whether bars have the roots of a jazz form, each bar one of the ways that the form has for it.
fn is_jazz_form(bars: &[Vec<Harmony>], set: &Scale) -> bool {
    let roots: Vec<Vec<u8>> = bars
        .iter()
        .map(|bar| {
            let chords = bar.iter().filter_map(Harmony::chord);
            chords.map(|chord| root_above(chord, set)).collect()
        })
        .collect();
    let jazz = |ways: &WaysRead, at: usize| {
        ways.iter().any(|(_, own)| {
            let own: Vec<Vec<u8>> = own
                .iter()
                .map(|bar| bar.iter().map(|role| role.up).collect())
                .collect();
            roots.get(at..at + own.len()) == Some(own.as_slice())
        })
    };
    SKELETONS
        .iter()
        .filter(|s| s.blues == Blues::Jazz && usize::try_from(s.bars) == Ok(bars.len()))
        .any(|skeleton| {
            let mut at = 0;
            skeleton.parts_read().iter().all(|ways| {
                let here = at;
                at += ways.first().map_or(0, |way| way.1.len());
                jazz(ways, here)
            })
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::theory::symbol;

    fn of(chord: &str, set: &str) -> Fit {
        let set = Scale::read(set).unwrap();
        fit(&symbol::read(chord).unwrap(), &set, &set.home().unwrap())
    }

    fn rubs(chord: &str, set: &str) -> String {
        of(chord, set)
            .rubs
            .iter()
            .map(|r| format!("{}/{}", r.note, r.against))
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn avoid_notes_over_the_tonic_minor_pentatonic() {
        // Nettles and Graf's test (a scale note a semitone above a chord tone), worked out by definition.
        for chord in [
            "Am", "Am7", "C", "Cmaj7", "F", "Fmaj7", "Dm", "Dm7", "A5", "C5", "D5", "F5", "G5",
        ] {
            assert_eq!(rubs(chord, "A minor pentatonic"), "", "{chord}");
        }
        for chord in ["Em", "Em7", "E5", "G", "G7", "Bm7b5"] {
            assert_eq!(
                rubs(chord, "A minor pentatonic").split('/').next(),
                Some("C"),
                "{chord}"
            );
        }
        assert_eq!(rubs("D7", "A minor pentatonic"), "G/F#");
        assert_eq!(rubs("E7", "A minor pentatonic"), "A/G# C/B");
        assert_eq!(rubs("A7", "A minor pentatonic"), "D/C#");
    }

    #[test]
    fn avoid_notes_over_the_tonic_major_pentatonic() {
        for chord in [
            "C", "Cmaj7", "Dm", "Dm7", "F", "Fmaj7", "Am", "Am7", "C7", "Bb",
        ] {
            assert_eq!(rubs(chord, "C major pentatonic"), "", "{chord}");
        }
        for chord in ["G", "G7", "Em", "Em7", "Bm7b5"] {
            assert_eq!(
                rubs(chord, "C major pentatonic").split('/').next(),
                Some("C"),
                "{chord}"
            );
        }
        assert_eq!(rubs("F7", "C major pentatonic"), "E/Eb");
    }

    #[test]
    fn avoid_notes_of_the_seven_modes_as_published() {
        // A public table of chord scales: I 4, ii 6, iii 2 and 6, IV none, V 4, vi 6, vii 2, each a degree of its mode.
        for (chord, mode, avoid) in [
            ("Cmaj7", "C major", &["F"][..]),
            ("Dm7", "D dorian", &["B"]),
            ("Em7", "E phrygian", &["F", "C"]),
            ("Fmaj7", "F lydian", &[]),
            ("G7", "G mixolydian", &["C"]),
            ("Am7", "A minor", &["F"]),
            ("Bm7b5", "B locrian", &["C"]),
        ] {
            let found: Vec<String> = of(chord, mode)
                .rubs
                .iter()
                .map(|r| r.note.to_string())
                .collect();
            // Dorian's sixth is the published exception: it lies a semitone below a chord tone, not above one.
            let expected: Vec<&str> = avoid
                .iter()
                .copied()
                .filter(|n| !(chord == "Dm7" && *n == "B"))
                .collect();
            assert_eq!(found, expected, "{chord}");
        }
    }

    #[test]
    fn the_rules_are_not_nested() {
        let f = of("G", "A minor pentatonic");
        assert!(!f.inside() && !f.clear() && f.home() && f.blues == Some(true));
        let f = of("Fmaj7", "A minor pentatonic");
        assert!(!f.inside() && f.clear() && f.home());
        let f = of("D7", "A minor pentatonic");
        assert!(!f.inside() && !f.home() && f.blues == Some(true));
        let f = of("A7#9", "A minor pentatonic");
        assert!(f.blues == Some(true));
        let f = of("D7#9", "A minor pentatonic");
        assert!(f.blues == Some(false));
        // Inside an in scale, a rub is still a rub.
        let f = of("Fm", "C in");
        assert!(f.inside() && !f.clear());
        assert_eq!(of("C7", "C hirajoshi").blues, None);
    }

    #[test]
    fn a_slash_bass_is_a_chord_tone_and_silence_fits() {
        assert!(of("Am7/G", "A minor pentatonic").inside());
        assert!(!of("C/B", "A minor pentatonic").inside());
        let silence = of("N.C.", "A minor pentatonic");
        assert!(
            silence.inside() && silence.clear() && silence.home() && silence.blues == Some(true)
        );
    }

    #[test]
    fn the_major_chord_on_the_fifth_is_an_exception_of_its_rule_alone() {
        let with_five = |chord, set| of(chord, set).admits(FitRule::HomeWithFive) == Some(true);
        for chord in ["E", "E7", "Em", "Am", "G7", "E7/B"] {
            assert!(with_five(chord, "A minor pentatonic"), "{chord}");
        }
        for chord in ["E9", "E7b9", "B7", "A7", "Eaug", "E/F#", "D7"] {
            let home = of(chord, "A minor pentatonic").home();
            assert_eq!(with_five(chord, "A minor pentatonic"), home, "{chord}");
        }
        assert!(!of("E7", "A minor pentatonic").home());
        // What rubs is told as elsewhere.
        assert_eq!(rubs("E7", "A minor pentatonic"), "A/G# C/B");
        // Home in dorian is minor as well; phrygian lacks the B, and a major home has the chord anyway.
        let dorian = Scale::read("A dorian").unwrap();
        let set = Scale::read("A minor pentatonic").unwrap();
        assert!(fit(&symbol::read("E7").unwrap(), &set, &dorian).major_five);
        assert!(!with_five("E7", "A in"));
        assert!(!of("G7", "C major pentatonic").major_five);
        let f = of("B7", "A minor pentatonic");
        let reason = f.reason(FitRule::HomeWithFive).unwrap();
        assert_eq!(reason, "D# F# not in the home scale");
    }

    #[test]
    fn reasons_name_the_notes() {
        let f = of("E7", "A minor pentatonic");
        assert_eq!(f.reason(FitRule::Inside).unwrap(), "G# B not in the set");
        assert_eq!(f.reason(FitRule::Home).unwrap(), "G# not in the home scale");
        assert_eq!(
            f.reason(FitRule::Clear).unwrap(),
            "G# not in the home scale"
        );
        let f = of("G", "A minor pentatonic");
        assert_eq!(f.reason(FitRule::Clear).unwrap(), "C over B rubs");
        assert_eq!(of("Am", "A minor pentatonic").reason(FitRule::Inside), None);
    }
}
