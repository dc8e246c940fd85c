//! A complete piece: chart, meter, tempo plan, feel, parts.

use std::ops::Range;
use std::sync::Arc;

use super::problem::MOST_PROBLEMS;
use super::section::{Content, Section};
use super::{Ask, Form, FormBar, Part, Parts, PlacedChord, Problem, Timing, Variation};
use crate::groove::{Groove, GrooveError, check_groove, usual_groove};
use crate::neck::{DEFAULT_FRETS, Fret, Neck, NeckError, Tuning};
use crate::theory::numeral::Numeral;
use crate::theory::{Chord, Figure, Harmony, Interval, Key, KeyOrder, PitchName, Scale};
use crate::time::{Feel, Grid, Meter, PlanRepeat, Ritardando, TempoPlan};

/// How often the form is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Times {
    /// So many passes, 1 to 100 000.
    Count(u32),
    /// Repeat until stopped.
    Endless,
}

/// What follows the last pass where the document has no `ending` section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Ending {
    /// A tonic chord, held for one bar.
    #[default]
    Tonic,
    /// No ending: the piece stops with the last pass.
    None,
}

/// The rule by which chords are allowed over a set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FitRule {
    /// Every chord tone is in the set.
    Inside,
    /// Chord tones in the home scale, and no rub.
    Clear,
    /// Chord tones in the home scale.
    Home,
    /// The same, and over a minor home the major chord on the fifth, plain or with its seventh.
    HomeWithFive,
    /// What a blues allows.
    Blues,
}

impl FitRule {
    /// All rules by the names people type.
    pub const NAMES: [(&'static str, FitRule); 5] = [
        FitRule::Inside.named(),
        FitRule::Clear.named(),
        FitRule::Home.named(),
        FitRule::HomeWithFive.named(),
        FitRule::Blues.named(),
    ];

    /// The name people type.
    pub const fn name(self) -> &'static str {
        match self {
            FitRule::Inside => "inside",
            FitRule::Clear => "clear",
            FitRule::Home => "home",
            FitRule::HomeWithFive => "home with V",
            FitRule::Blues => "blues",
        }
    }

    const fn named(self) -> (&'static str, FitRule) {
        (self.name(), self)
    }
}

/// A complete piece, as described by a document.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// The title, shown and written into files.
    pub title: String,
    /// The key the chart is written in.
    pub key: Option<Key>,
    /// The meter each section starts in.
    pub meter: Meter,
    /// Straight, or how it swings; by default as its groove does.
    pub feel: Option<Feel>,
    /// The rhythm its parts share; by default the usual one of each meter.
    pub groove: Option<Groove>,
    /// How far its bars differ from one another.
    pub variation: Variation,
    /// Whether the band plays exactly on its places.
    pub timing: Timing,
    /// The tempo plan.
    pub tempo: TempoPlan,
    /// Whether the plan starts again in each pass.
    pub plan: PlanRepeat,
    /// The set to play over it.
    pub set: Option<Scale>,
    /// The scale the set is heard in, if not the usual one.
    pub home: Option<Scale>,
    /// The rule the chords keep.
    pub fit: Option<FitRule>,
    /// Section names in playing order, without `intro` and `ending`.
    pub form: Vec<String>,
    /// How often the form is played.
    pub times: Times,
    /// Keys to play the passes in.
    pub keys: Option<KeyOrder>,
    /// The sections by name, with their text, in written order.
    pub sections: Vec<(String, String, Section)>,
    /// The settings of every part.
    pub parts: Parts,
    /// Seed of every random choice.
    pub seed: u64,
    /// Fret of the capo.
    pub capo: u8,
    /// Tuning of the guitar; standard where there is none.
    pub tuning: Option<Tuning>,
    /// Semitones everything is moved by, -24 to 24.
    pub transpose: i32,
    /// A key to move to, instead of by semitones.
    pub target: Option<Key>,
    /// What follows the last pass.
    pub ending: Ending,
    /// How it slows down before its last bar.
    pub ritardando: Option<Ritardando>,
    /// What is asked of the player, in any order.
    pub asks: Vec<Ask>,
}

/// What a reader found in addition to the piece.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Reading {
    /// Problems that do not keep the text from being read, in the order of the text.
    pub warnings: Vec<Problem>,
    /// Where the text has values that only later rooms can check.
    pub places: Places,
}

/// Where a text has values that only later rooms can check: byte ranges, empty if the value is missing. Bars and chords
/// know their places themselves.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Places {
    /// The bytes of the value of `tempo`.
    pub tempo: Range<usize>,
    /// The bytes of the value of `keys`.
    pub keys: Range<usize>,
}

/// The section played once before the first pass.
pub(super) const INTRO: &str = "intro";
/// The section played once after the last pass.
pub(super) const ENDING: &str = "ending";

impl Piece {
    /// A piece of one tempo without chords: `bars` bars of `meter`, for a click alone.
    pub fn click(meter: Meter, tempo: TempoPlan) -> Self {
        let mut parts = Parts::default();
        for part in Part::ALL {
            parts.common_mut(part).on = part == Part::Click;
        }
        let section = Section::of_bars(meter, [vec![Harmony::NoChord]]);
        Piece {
            title: "click".to_owned(),
            meter,
            tempo,
            form: vec!["A".to_owned()],
            sections: vec![("A".to_owned(), "| N.C. |".to_owned(), section)],
            parts,
            ending: Ending::None,
            ritardando: None,
            ..Piece::default()
        }
    }

    /// The scale a set is heard in: the one the piece names, as far above its set, or the set's own; a set that has none
    /// is its own home.
    pub fn home_of(&self, set: &Scale) -> Scale {
        let named = match (&self.home, &self.set) {
            (Some(home), Some(own)) => {
                let up = Interval::between(own.root(), home.root());
                Some(home.with_root(set.root()).moved(up))
            }
            (home, _) => *home,
        };
        named.or_else(|| set.home()).unwrap_or(*set)
    }

    /// The key the piece sounds in, once moved.
    pub fn sounding_key(&self) -> Option<Key> {
        match (&self.target, &self.key) {
            (Some(target), _) => Some(*target),
            (None, Some(key)) if self.transpose != 0 => Some(key.transposed(self.transpose)),
            (None, key) => *key,
        }
    }

    /// How it swings: as it says, or as its groove does in its meter.
    pub fn sounding_feel(&self) -> Feel {
        let of_groove = || self.groove.as_ref().map(|groove| groove.parts().feel);
        self.feel
            .or_else(|| of_groove().filter(|feel| feel.check(&self.meter).is_ok()))
            .unwrap_or_default()
    }

    /// The groove of a bar in `meter`: the one it names where that suits, or the usual one.
    pub fn groove_in(&self, meter: &Meter) -> Groove {
        let named = self.groove.as_ref().filter(|groove| groove.suits(meter));
        named
            .cloned()
            .unwrap_or_else(|| usual_groove(meter, Some(self.sounding_feel())))
    }

    /// Whether its groove suits its meter and its feel.
    ///
    /// # Errors
    /// When it does not, with grooves that do.
    pub fn check_groove(&self) -> Result<(), GrooveError> {
        match &self.groove {
            Some(groove) => check_groove(groove, &self.meter, self.feel),
            // The usual groove of a meter has no sixteenths unless these swing.
            None => Ok(()),
        }
    }

    /// The neck it is played on: of its tuning, with its capo.
    ///
    /// # Errors
    /// When the capo lies at no fret of it.
    pub fn neck(&self) -> Result<Neck, NeckError> {
        let tuning = self.tuning.unwrap_or_else(Tuning::standard);
        Neck::new(tuning, DEFAULT_FRETS, Fret::new(self.capo)?)
    }

    /// Warnings about numerals that may not mean what their writer thinks: none without a key.
    pub fn cautions(&self) -> Vec<Problem> {
        let Some(key) = &self.key else {
            return Vec::new();
        };
        let mut sixth_said = false;
        let bars = self
            .sections
            .iter()
            .flat_map(|(_, _, section)| &section.bars);
        let cells = bars.flat_map(|bar| &bar.cells);
        let cautions = cells.filter_map(|cell| {
            let Content::Figure(Figure::Relative(numeral)) = &cell.content else {
                return None;
            };
            let caution = numeral_caution(numeral, key, cell.span.clone())?;
            // A matter of notation: reported once, for the first.
            let again = caution.code == SIXTH && std::mem::replace(&mut sixth_said, true);
            (!again).then_some(caution)
        });
        cautions.take(MOST_PROBLEMS).collect()
    }

    /// How far the piece moves from the key it is written in; `None` where it stays, or has no key.
    pub fn key_interval(&self) -> Option<Interval> {
        let (from, to) = (self.key?, self.sounding_key()?);
        (from != to).then(|| from.interval_to(&to))
    }

    /// How chords move from the written to the sounding key.
    fn interval(&self, form: &Form) -> Option<Interval> {
        match self.key {
            Some(_) => self.key_interval(),
            None if self.transpose == 0 => None,
            None => plainest_interval(form.bars(), self.transpose),
        }
    }

    /// Moves the chords to the sounding key.
    pub(super) fn move_chords(&self, form: &mut Form) {
        let Some(interval) = self.interval(form) else {
            return;
        };
        let runs = [&mut form.intro, &mut form.pass, &mut form.ending];
        let bars = runs.into_iter().flat_map(Arc::make_mut);
        bars.for_each(|bar| bar.transpose(interval));
    }

    /// The last bar: the tonic chord as the chart first has it, or the tonic triad; without a key the first chord.
    pub(super) fn tonic_bar(&self, form: &Form) -> Option<FormBar> {
        let last = form.pass.last()?;
        let mut chords = form
            .pass
            .iter()
            .flat_map(|bar| &bar.chords)
            .filter(|c| c.harmony.chord().is_some());
        let harmony = match self.sounding_key() {
            Some(key) => {
                let on_tonic = |c: &&PlacedChord| {
                    c.harmony
                        .chord()
                        .is_some_and(|c| c.root() == key.tonic() && c.slash().is_none())
                };
                chords
                    .clone()
                    .find(on_tonic)
                    .map(|c| c.harmony)
                    .or_else(|| {
                        chords.next()?;
                        Chord::triad(key.tonic(), key.is_minor()).map(Harmony::Chord)
                    })
            }
            None => chords.next().map(|c| c.harmony),
        }?;
        let chord = PlacedChord {
            harmony,
            beat: 0,
            offset_ticks: 0,
            length_ticks: last.meter.bar_ticks(),
            held: false,
        };
        Some(FormBar {
            section: ENDING.into(),
            opens_section: true,
            meter: last.meter,
            chords: vec![chord],
        })
    }

    /// The bar lines of the piece, its form played `passes` times (`None`: without end).
    pub fn grid(&self, form: &Form, passes: Option<u64>) -> Grid {
        let meters = |bars: &[FormBar]| bars.iter().map(|bar| bar.meter).collect();
        let count_in = if self.parts.click.common.on {
            u64::from(self.parts.click.count_in)
        } else {
            0
        };
        Grid::new(
            count_in,
            meters(&form.intro),
            meters(&form.pass),
            passes,
            meters(&form.ending),
        )
    }
}

/// The code of a warning about a sixth.
const SIXTH: &str = "numeral-sixth";

/// A warning, at `span`, about a numeral that may not mean what its writer thinks.
pub(crate) fn numeral_caution(numeral: &Numeral, key: &Key, span: Range<usize>) -> Option<Problem> {
    if let Some(caution) = numeral.caution(key) {
        let help = "numerals count from the major scale, in minor keys too";
        return Some(Problem::warning("numeral-minor", span, caution, help));
    }
    let caution = numeral.sixth_caution(key)?;
    let help = "write the number for the inversion; leave the numeral for the sixth";
    Some(Problem::warning(SIXTH, span, caution, help))
}

/// The interval of so many semitones, octaves left out, by which the roots of these bars get the fewest accidentals: how
/// chords are spelled that are moved without a key.
pub(crate) fn plainest_interval<'a>(
    bars: impl Iterator<Item = &'a FormBar>,
    semitones: i32,
) -> Option<Interval> {
    let mut roots: Vec<PitchName> = Vec::new();
    for bar in bars {
        for chord in bar.chords.iter().filter_map(|c| c.harmony.chord()) {
            if !roots.contains(&chord.root()) {
                roots.push(chord.root());
            }
        }
    }
    let semitones = semitones.rem_euclid(12);
    let cost = |interval: &Interval| -> u32 {
        roots
            .iter()
            .map(|r| u32::from(r.up(*interval).alter().unsigned_abs()))
            .sum()
    };
    let steps = STEPS
        .get(usize::try_from(semitones).unwrap_or(0))
        .copied()
        .unwrap_or(&[0]);
    steps
        .iter()
        .map(|steps| Interval::new(*steps, semitones))
        .min_by_key(cost)
}

/// Diatonic steps of the intervals of 0 to 11 semitones, the commoner first.
const STEPS: [&[i32]; 12] = [
    &[0],
    &[1, 0],
    &[1],
    &[2, 1],
    &[2],
    &[3],
    &[3, 4],
    &[4],
    &[5, 4],
    &[5],
    &[6, 5],
    &[6],
];

impl Default for Piece {
    fn default() -> Self {
        Piece {
            title: "untitled".to_owned(),
            key: None,
            meter: Meter::COMMON,
            feel: None,
            groove: None,
            variation: Variation::Full,
            timing: Timing::Exact,
            tempo: TempoPlan::steady(90),
            plan: PlanRepeat::Once,
            set: None,
            home: None,
            fit: None,
            form: Vec::new(),
            times: Times::Count(1),
            keys: None,
            sections: Vec::new(),
            parts: Parts::default(),
            seed: 1,
            capo: 0,
            tuning: None,
            transpose: 0,
            target: None,
            ending: Ending::Tonic,
            ritardando: None,
            asks: Vec::new(),
        }
    }
}
