//! Every chord that may be used over a set, under a rule.

use super::counts::Third;
use super::fit::{Fit, fit, is_jazz_chord};
use super::vocabulary::{Quality, vocabulary};
use super::weights::Chordal;
use crate::chart::FitRule;
use crate::theory::{Chord, Degree, Harmony, PitchClass, PitchName, Scale};

/// A chord that may be used.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The chord under its plainest name.
    pub chord: Chord,
    /// Its quality in the vocabulary.
    pub quality: &'static Quality,
    /// Its root above the tonic of the set, as a degree.
    pub degree: Degree,
    /// How it lies over the set.
    pub fit: Fit,
    /// Whether its root is in the home scale.
    pub root_at_home: bool,
    pub(super) chordal: Chordal,
}

/// The chords that a rule admits over a set, no two with the same pitch classes.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// The set that the chords are fitted to.
    pub set: Scale,
    /// The scale it is heard in.
    pub home: Scale,
    /// The rule that admits the chords.
    pub rule: FitRule,
    /// The chords that the rule admits, one for each set of pitch classes.
    pub candidates: Vec<Candidate>,
    /// Every chord the rule admits, under each of its names.
    admitted: Vec<Candidate>,
    /// The chords that it admits inside a jazz blues alone.
    in_jazz: Vec<Candidate>,
}

/// Degrees of the twelve semitones above a tonic where the home scale has none of its own (common practice).
const CHROMATIC: [(u8, i8); 12] = [
    (1, 0),
    (2, -1),
    (2, 0),
    (3, -1),
    (3, 0),
    (4, 0),
    (4, 1),
    (5, 0),
    (6, -1),
    (6, 0),
    (7, -1),
    (7, 0),
];

/// Roots from the most to the least at home, to choose among names of equal pitch classes.
const ROOTS: [u8; 12] = [0, 5, 7, 9, 3, 2, 10, 8, 4, 11, 1, 6];

/// Every chord of the vocabulary on every root, as it would be spelled over the set, with how it lies. The order is by
/// root, then as in the vocabulary.
pub fn all_chords(set: &Scale, home: &Scale) -> Vec<Candidate> {
    let tonic = set.root();
    let mut found = Vec::with_capacity(12 * vocabulary().len());
    for (up, (number, alter)) in (0u8..).zip(CHROMATIC) {
        let at_home = home
            .degrees()
            .iter()
            .find(|d| d.semitones().rem_euclid(12) == i32::from(up));
        let Some(degree) = at_home.copied().or(Degree::new(number, alter).ok()) else {
            continue;
        };
        let root: PitchName = degree.above(tonic).simplified();
        for quality in vocabulary() {
            let Ok(chord) = Chord::new(root, quality.all_degrees(), None) else {
                continue;
            };
            found.push(Candidate {
                fit: fit(&Harmony::Chord(chord), set, home),
                chordal: Chordal {
                    root: up,
                    classes: classes(&chord),
                },
                root_at_home: at_home.is_some(),
                chord,
                quality,
                degree,
            });
        }
    }
    found
}

/// Pitch classes as bits.
pub(super) fn classes(chord: &Chord) -> u16 {
    chord
        .pitch_classes()
        .iter()
        .map(|c: &PitchClass| 1u16 << c.value())
        .sum()
}

/// Of chords with equal pitch classes the one with the plainest name, on the root most at home; by root, then by how
/// plain they are.
fn once_each(mut chords: Vec<Candidate>) -> Vec<Candidate> {
    let rank = |c: &Candidate| {
        let root = ROOTS.iter().position(|r| *r == c.chordal.root);
        (c.chordal.classes, c.quality.color, !c.quality.third, root)
    };
    chords.sort_by_key(rank);
    chords.dedup_by_key(|c| c.chordal.classes);
    chords.sort_by_key(|c| (c.chordal.root, c.quality.color, c.quality.suffix));
    chords
}

impl Table {
    /// The chords `rule` admits over `set` heard in `home`; none if the rule does not cover the set.
    pub fn new(set: &Scale, home: &Scale, rule: FitRule) -> Table {
        let (admitted, others): (Vec<Candidate>, Vec<Candidate>) = all_chords(set, home)
            .into_iter()
            .partition(|c| c.fit.admits(rule) == Some(true));
        let jazz = |c: &Candidate| c.fit.blues == Some(false) && is_jazz_chord(&c.chord, set);
        let mut in_jazz = others;
        in_jazz.retain(|c| rule == FitRule::Blues && jazz(c));
        for candidate in &mut in_jazz {
            candidate.fit.blues = Some(true);
        }
        Table {
            set: *set,
            home: *home,
            rule,
            candidates: once_each(admitted.clone()),
            admitted,
            in_jazz,
        }
    }

    /// Every chord that may stand in a blues: those that the rule admits and, inside a jazz form, the others of the form.
    pub(super) fn in_blues(&self, jazz: bool) -> impl Iterator<Item = &Candidate> {
        let more = jazz.then_some(&self.in_jazz).into_iter().flatten();
        self.admitted.iter().chain(more)
    }

    /// The chords of a kind, no two with the same pitch classes. A chord is found under a name of that kind, even where
    /// another name of the same notes is plainer: Bm7b5 among the sevenths, not Dm6.
    pub(super) fn of_kind(&self, is: impl Fn(&Quality) -> bool) -> Vec<Candidate> {
        let kind = self.admitted.iter().filter(|c| is(c.quality));
        once_each(kind.cloned().collect())
    }

    /// The plainest chord on the tonic that the rule admits: one with a third before others, then the one of fewer notes.
    /// Chords are taken under their plainest names: Am7#5 is heard as Fadd9, and is no home.
    pub(super) fn on_tonic(&self) -> Option<Chord> {
        let own = self.candidates.iter().filter(|c| c.chordal.root == 0);
        let plain = |c: &&Candidate| {
            let tones = c.chordal.classes.count_ones();
            (c.quality.color, !c.quality.third, tones)
        };
        own.min_by_key(plain).map(|c| c.chord)
    }

    /// Whether home has a minor third.
    pub(super) fn third(&self) -> Third {
        let third = self.set.root().pitch_class().up(3);
        match self.home.contains(third) && !self.home.contains(third.up(1)) {
            true => Third::Minor,
            false => Third::Major,
        }
    }

    /// The note so many semitones above the tonic, as the chords are spelled.
    pub(super) fn root_of(&self, up: u8) -> PitchName {
        let own = self.home.notes().into_iter();
        let own = own.chain(self.set.notes()).find(|note| {
            let tonic = i32::from(self.set.root().pitch_class().value());
            note.pitch_class().up(-tonic).value() == up
        });
        let (number, alter) = CHROMATIC[usize::from(up % 12)];
        let degree = Degree::new(number, alter).unwrap_or(Degree::ROOT);
        own.unwrap_or_else(|| degree.above(self.set.root()).simplified())
    }

    /// A chord by its name, if the rule admits it: with the pitch classes of a candidate, but under the name given. In a
    /// form of the blues the chords of a jazz one are admitted as well.
    pub(super) fn named(&self, chord: &Chord, in_form: bool) -> Result<Candidate, Fit> {
        let mut jazz = self.in_jazz.iter();
        let same = |c: &&Candidate| {
            c.chordal.classes == classes(chord)
                && c.chord.root().pitch_class() == chord.root().pitch_class()
        };
        if let Some(own) = jazz
            .find(same)
            .filter(|_| in_form && chord.slash().is_none())
        {
            return Ok(Candidate {
                chord: *chord,
                ..own.clone()
            });
        }
        let found = fit(&Harmony::Chord(*chord), &self.set, &self.home);
        if found.admits(self.rule) != Some(true) {
            return Err(found);
        }
        let up = chord
            .root()
            .pitch_class()
            .up(-i32::from(self.set.root().pitch_class().value()))
            .value();
        let like = self
            .candidates
            .iter()
            .find(|c| c.chordal.classes == classes(chord));
        let other = vocabulary()
            .iter()
            .rfind(|q| q.seventh == chord.seventh().is_some());
        let Some(quality) = like.map(|c| c.quality).or(other) else {
            return Err(found);
        };
        let number = CHROMATIC[usize::from(up)];
        Ok(Candidate {
            chord: *chord,
            quality,
            degree: Degree::new(number.0, number.1).unwrap_or(Degree::ROOT),
            root_at_home: self.home.contains(chord.root().pitch_class()),
            chordal: Chordal {
                root: up,
                classes: classes(chord),
            },
            fit: found,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(set: &str, rule: FitRule) -> Vec<String> {
        let set = Scale::read(set).unwrap();
        let table = Table::new(&set, &set.home().unwrap(), rule);
        table
            .candidates
            .iter()
            .map(|c| c.chord.to_string())
            .collect()
    }

    #[test]
    fn inside_the_minor_pentatonic() {
        // An independent enumeration lists, for the minor pentatonic: 5 on 1 b3 4 b7; maj b3; min 1; sus2 on b3 4 b7;
        // sus4 on 1 4 b7; 6, add9, 6/9 on b3; m7, m(add4), m7(add11) on 1; 7sus4 on 1 4; 7sus2, 9sus4 on 4; sus2+4 on
        // 4 b7. Here each set of pitch classes once, under its plainest name.
        assert_eq!(
            names("A minor pentatonic", FitRule::Inside).join(" "),
            "Am A5 Am7 Asus4 A7sus4 Am(add11) Am7(add11) C C5 Csus2 Cadd9 D5 Dsus4 D7sus4 G5"
        );
    }

    #[test]
    fn no_two_candidates_sound_the_same() {
        for set in [
            "A minor pentatonic",
            "C major blues",
            "E hirajoshi",
            "G dominant pentatonic",
            "D 1 2 4 5 b7",
        ] {
            for rule in [FitRule::Inside, FitRule::Clear, FitRule::Home] {
                let set = Scale::read(set).unwrap();
                let table = Table::new(&set, &set.home().unwrap(), rule);
                let mut sounds: Vec<u16> =
                    table.candidates.iter().map(|c| c.chordal.classes).collect();
                let count = sounds.len();
                sounds.sort_unstable();
                sounds.dedup();
                assert_eq!(sounds.len(), count);
                assert!(
                    table
                        .candidates
                        .iter()
                        .all(|c| c.fit.admits(rule) == Some(true))
                );
            }
        }
    }
}
