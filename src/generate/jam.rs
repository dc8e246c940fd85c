//! Jams: progressions over a set, each as a piece or as bars of a chart.

use std::fmt::Write;
use std::sync::Arc;

use super::fit::fit;
use super::progression::{Generator, Progression};
use super::request::{Request, Rhythm, WishError, WishKind};
use super::table::Table;
use crate::chart::{FitRule, FormBar, Piece, PlacedChord, Section, Times};
use crate::theory::{Chord, Harmony, Key, Mode, Scale, ScaleFormula, ScaleKind};
use crate::time::{Feel, Meter};

/// What a jam is played over, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    /// The set that the chords are fitted to.
    pub set: Scale,
    /// The scale it is heard in, if not the usual one.
    pub home: Option<Scale>,
    /// The rule the chords keep.
    pub rule: FitRule,
    /// The meter of every bar.
    pub meter: Meter,
    /// Straight, or how it swings.
    pub feel: Option<Feel>,
    /// Seed of every draw.
    pub seed: u64,
}

impl Ground {
    /// Over a set in its usual home: chords inside the set, in 4/4, played straight.
    pub const fn new(set: Scale, seed: u64) -> Ground {
        Ground {
            set,
            home: None,
            rule: FitRule::Inside,
            meter: Meter::COMMON,
            feel: None,
            seed,
        }
    }

    /// The scale the set is heard in; a set that has none is its own home.
    pub fn home(&self) -> Scale {
        let usual = || self.set.home().unwrap_or(self.set);
        self.home.unwrap_or_else(usual)
    }
}

/// Progressions over a set, a new one for each pass.
///
/// ```
/// use std::sync::Arc;
/// use fivefold::arrange::{Arrangement, Excerpt, JamPasses};
/// use fivefold::chart::Times;
/// use fivefold::event::Source;
/// use fivefold::generate::{Ground, Jam, Request};
/// use fivefold::theory::Scale;
///
/// let ground = Ground::new(Scale::read("A minor pentatonic")?, 7);
/// let jam = Arc::new(Jam::new(ground, &Request::default())?);
/// let piece = jam.piece(&jam.draw(0).expect("a progression"), Times::Endless);
/// let form = piece.unfold().expect("letters need no key");
/// let passes = Box::new(JamPasses::new(jam, &piece));
/// let mut endless = Arrangement::made(&piece, form, passes, Excerpt::default())?;
/// let mut events = Vec::new();
/// while endless.next_bar(&mut events).is_some_and(|bar| bar.number < 1000) {}
/// assert!(!events.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Jam {
    ground: Ground,
    table: Table,
    generator: Generator,
}

impl Jam {
    /// The jam whose chords fit the ground and meet the wishes.
    ///
    /// # Errors
    /// The first wish that leaves nothing to choose from; two chords to a bar of an odd number of beats.
    pub fn new(ground: Ground, request: &Request) -> Result<Jam, WishError> {
        let (meter, beats) = (ground.meter, ground.meter.beat_count());
        if request.rhythm == Rhythm::HalfBar && !beats.is_multiple_of(2) {
            let message = format!("two chords do not share the {beats} beats of {meter} evenly");
            return Err(WishError::new(
                WishKind::Rhythm,
                message,
                "ask for a chord a bar",
            ));
        }
        let mut request = request.clone();
        if request.rhythm == Rhythm::Mixed && !beats.is_multiple_of(2) {
            // No bar can be shared by two chords.
            request.rhythm = Rhythm::Bar;
        }
        let mut ground = ground;
        let asked = request
            .start
            .iter()
            .chain(&request.end)
            .chain(&request.with);
        let five =
            |chord: &Chord| fit(&Harmony::Chord(*chord), &ground.set, &ground.home()).major_five;
        if ground.rule == FitRule::Home && asked.into_iter().any(five) {
            // The wish is an exception with a name, which the document keeps.
            ground.rule = FitRule::HomeWithFive;
        }
        let table = Table::new(&ground.set, &ground.home(), ground.rule);
        let generator = Generator::new(&table, &request)?;
        Ok(Jam {
            ground,
            table,
            generator,
        })
    }

    /// The ground it is played over.
    pub const fn ground(&self) -> &Ground {
        &self.ground
    }

    /// The table of chords that may be used.
    pub const fn table(&self) -> &Table {
        &self.table
    }

    /// The generator that draws the progressions.
    pub const fn generator(&self) -> &Generator {
        &self.generator
    }

    /// The progression of a pass, counted from 0; `None` where none is left to draw.
    pub fn draw(&self, pass: u64) -> Option<Progression> {
        self.generator.draw(self.ground.seed, pass)
    }

    /// A piece of this progression in every pass. If the piece has an end and its tonic chord does not keep the rule, it
    /// ends on the plainest chord on the tonic that does, or else on its first chord.
    pub fn piece(&self, progression: &Progression, times: Times) -> Piece {
        let ground = &self.ground;
        let bars = progression.chords_by_bar();
        let chords = bars.concat();
        let key = key_of(&ground.set, &ground.home());
        let section = |name: &str, bars: &[Vec<Chord>]| {
            let own = bars.iter();
            let own = own.map(|bar| bar.iter().copied().map(Harmony::Chord).collect());
            let section = Section::of_bars(ground.meter, own);
            (name.to_owned(), chart_text(bars), section)
        };
        let mut sections = vec![section("A", &bars)];
        if let (true, Some(first)) = (times != Times::Endless, chords.first())
            && !self.ends_on_tonic(&chords, key.as_ref())
        {
            let last = self.table.on_tonic().unwrap_or(*first);
            sections.push(section("ending", &[vec![last]]));
        }
        Piece {
            title: format!("Jam {} over {}", ground.seed, ground.set.name()),
            key,
            meter: ground.meter,
            feel: ground.feel,
            set: Some(ground.set),
            home: ground.home,
            fit: Some(ground.rule),
            form: vec!["A".to_owned()],
            times,
            sections,
            seed: ground.seed,
            ..Piece::default()
        }
    }

    /// Whether the final tonic chord of a piece keeps the rule: over some sets none does.
    fn ends_on_tonic(&self, chords: &[Chord], key: Option<&Key>) -> bool {
        let Some(key) = key else { return true };
        let there = |c: &Chord| c.root() == key.tonic() && c.slash().is_none();
        let ground = &self.ground;
        let keeps = |triad: Chord| {
            let fit = fit(&Harmony::Chord(triad), &ground.set, &ground.home());
            fit.admits(ground.rule) == Some(true)
        };
        chords.iter().any(there) || Chord::triad(key.tonic(), key.is_minor()).is_some_and(keeps)
    }
}

/// The key a set is heard in: its root, in the mode of its home scale.
pub fn key_of(set: &Scale, home: &Scale) -> Option<Key> {
    Key::new(set.root(), mode_of(&home.formula())).ok()
}

/// The mode of a home scale. One without a mode of its own is major or minor by its third.
pub fn mode_of(home: &ScaleFormula) -> Mode {
    let by_third = || {
        let minor = home.degrees().iter().any(|d| d.semitones() == 3);
        if minor { Mode::Minor } else { Mode::Major }
    };
    home.kind()
        .and_then(ScaleKind::mode)
        .unwrap_or_else(by_third)
}

/// The chords of bars in the chart notation, four bars to a line.
pub fn chart_text(bars: &[Vec<Chord>]) -> String {
    let mut text = String::new();
    for (i, bar) in bars.iter().enumerate() {
        if i % 4 == 0 {
            text.push_str(if i == 0 { "|" } else { "\n|" });
        }
        let names: Vec<String> = bar.iter().map(ToString::to_string).collect();
        let _ = write!(text, " {} |", names.join(" "));
    }
    text
}

impl Generator {
    /// The bars of a progression in a meter, as a chart has them.
    pub fn form_bars(
        &self,
        progression: &Progression,
        meter: Meter,
        section: &str,
    ) -> Vec<FormBar> {
        let section: Arc<str> = section.into();
        let beats = meter.beat_count();
        progression
            .chords_by_bar()
            .iter()
            .enumerate()
            .map(|(i, chords)| {
                let share = beats / u32::try_from(chords.len()).unwrap_or(1).max(1);
                let placed = (0u32..).zip(chords).map(|(at, chord)| {
                    let offset_ticks = meter.beat_offset_ticks(at * share);
                    PlacedChord {
                        harmony: Harmony::Chord(*chord),
                        beat: at * share,
                        offset_ticks,
                        length_ticks: meter.beat_offset_ticks((at + 1) * share) - offset_ticks,
                        held: false,
                    }
                });
                FormBar {
                    section: Arc::clone(&section),
                    opens_section: i == 0,
                    meter,
                    chords: placed.collect(),
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_jam_is_the_piece_its_chart_reads_as() {
        for (set, rule, rhythm) in [
            ("A minor pentatonic", FitRule::Inside, Rhythm::Bar),
            ("A minor pentatonic", FitRule::Home, Rhythm::HalfBar),
            ("E minor pentatonic", FitRule::Clear, Rhythm::TwoBars),
        ] {
            let ground = Ground {
                rule,
                ..Ground::new(Scale::read(set).unwrap(), 3)
            };
            let request = Request {
                rhythm,
                ..Request::default()
            };
            let jam = Jam::new(ground, &request).unwrap();
            let piece = jam.piece(&jam.draw(0).unwrap(), Times::Count(4));
            let (read, _) = Piece::read(&piece.to_document()).unwrap();
            assert_eq!(read.to_document(), piece.to_document(), "{set}");
            assert_eq!(read.unfold().unwrap(), piece.unfold().unwrap(), "{set}");
        }
    }

    #[test]
    fn where_the_tonic_chord_fails_the_plainest_on_the_tonic_ends() {
        for (set, rule, start, last) in [
            // Neither G major nor G minor is in the set.
            (
                "G suspended pentatonic",
                FitRule::Inside,
                Some("F"),
                Some("G5"),
            ),
            // No chord on A is clear, nor is one on B inside: the first chord ends.
            ("A hirajoshi", FitRule::Clear, None, None),
            ("B iwato", FitRule::Inside, None, None),
        ] {
            let chord = |text| *crate::theory::symbol::read(text).unwrap().chord().unwrap();
            let request = Request {
                start: start.map(chord),
                different: Some(2),
                ..Request::default()
            };
            let mut ended = 0;
            for seed in 0..20 {
                let ground = Ground {
                    rule,
                    ..Ground::new(Scale::read(set).unwrap(), seed)
                };
                let jam = Jam::new(ground, &request).unwrap();
                let drawn = jam.draw(0).unwrap();
                let piece = jam.piece(&drawn, Times::Count(2));
                let Some((_, text, _)) = piece.sections.iter().find(|s| s.0 == "ending") else {
                    // A chord on the tonic stands in the progression.
                    let tonic = jam.ground().set.root();
                    assert!(drawn.palette.iter().any(|c| c.root() == tonic), "{set}");
                    continue;
                };
                let first = drawn.palette[0].to_string();
                assert_eq!(*text, format!("| {} |", last.unwrap_or(&first)), "{set}");
                ended += 1;
            }
            assert!(ended > 3, "{set}: {ended}");
        }
    }

    #[test]
    fn a_wish_for_the_major_five_of_minor_names_the_exception() {
        let ground = |rule| Ground {
            rule,
            ..Ground::new(Scale::read("A minor pentatonic").unwrap(), 1)
        };
        let wish = |text: &str| Request {
            with: vec![*crate::theory::symbol::read(text).unwrap().chord().unwrap()],
            ..Request::default()
        };
        let rule = |rule, text| Jam::new(ground(rule), &wish(text)).map(|j| j.ground().rule);
        assert_eq!(rule(FitRule::Home, "E7"), Ok(FitRule::HomeWithFive));
        assert_eq!(rule(FitRule::Home, "F"), Ok(FitRule::Home));
        assert!(rule(FitRule::Clear, "E7").is_err() && rule(FitRule::Home, "B7").is_err());
        // By its name the rule draws it unasked.
        let jam = Jam::new(ground(FitRule::HomeWithFive), &Request::default()).unwrap();
        let has = |pass| {
            let chords = jam.draw(pass).unwrap().palette;
            chords
                .iter()
                .any(|c| ["E", "E7"].contains(&c.to_string().as_str()))
        };
        let with = (0..200).filter(|pass| has(*pass)).count();
        assert!((20..180).contains(&with), "{with}");
    }

    #[test]
    fn sets_are_heard_in_the_mode_of_their_home() {
        let key = |text: &str| {
            let set = Scale::read(text).unwrap();
            key_of(&set, &set.home().unwrap()).unwrap().to_string()
        };
        assert_eq!(key("A minor pentatonic"), "A minor");
        assert_eq!(key("C major pentatonic"), "C major");
        assert_eq!(key("D kumoi"), "D dorian");
        assert_eq!(key("E in-sen"), "E phrygian");
        assert_eq!(key("G dominant pentatonic"), "G mixolydian");
        assert_eq!(key("B iwato"), "B locrian");
        assert_eq!(key("A minor blues"), "A minor");
        assert_eq!(key("C major blues"), "C mixolydian");
    }
}
