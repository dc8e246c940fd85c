//! What is played in each pass: the same, the same in other keys, or something new each time.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, OnceLock};

use super::bass::{BassKeys, walk_roots};
use super::drone::drone;
use super::error::ArrangeError;
use super::guide::{GuideEnds, GuideLine};
use super::hands::Hands;
use super::phrase::Phrases;
use super::run::{Run, plan};
use super::strum::{StrumShapes, shapes};
use super::voicing::{Ends, Register, Voicing};
use crate::chart::{BassLine, Form, FormBar, Parts, Piece, Times, Timing, Variation};
use crate::generate::key_order;
use crate::groove::{Groove, usual_groove};
use crate::neck::Neck;
use crate::theory::{Key, PitchName, Scale};
use crate::time::{Feel, Meter};

/// The bars of a run in the key they sound in.
#[derive(Clone, Debug, PartialEq)]
pub struct PassScore {
    /// The bars of the run, in order.
    pub bars: Arc<Vec<FormBar>>,
    /// The key, where there is one.
    pub key: Option<Key>,
    /// The set to play over them.
    pub set: Option<Scale>,
}

/// Makes the bars of a pass: always the same for the same pass, and always as many in the same meters.
pub trait PassMaker: Send + Sync {
    /// The bars of pass `index`, counted from 0.
    fn pass(&self, index: u64) -> PassScore;
}

/// Where the passes come from.
#[derive(Clone)]
pub(super) enum Passes {
    /// All are the same.
    Same(PassScore),
    /// One after the other, and again.
    Turns(Vec<PassScore>),
    /// Made one by one.
    Made(Arc<dyn PassMaker>),
}

/// Intro, passes, ending.
#[derive(Clone)]
pub(super) struct Score {
    pub(super) intro: PassScore,
    pub(super) passes: Passes,
    pub(super) ending: PassScore,
}

impl PassScore {
    /// The same in another key, its set with it. One without a key stays as it is.
    #[must_use]
    pub fn moved_to(&self, key: Key) -> PassScore {
        let Some(from) = self.key else {
            return self.clone();
        };
        let by = from.interval_to(&key);
        let mut bars = self.bars.to_vec();
        bars.iter_mut().for_each(|bar| bar.transpose(by));
        PassScore {
            bars: Arc::new(bars),
            key: Some(key),
            set: self.set.map(|set| set.moved(by)),
        }
    }
}

/// How many passes a piece has: `times`, each in all of its keys; `None` without end.
///
/// # Errors
/// When the piece goes through keys that it cannot move to, or has none to begin with.
pub fn pass_count(piece: &Piece) -> Result<Option<u64>, ArrangeError> {
    let round = turns(piece)?.map_or(1, |keys| keys.len() as u64);
    Ok(match piece.times {
        Times::Count(count) => Some(u64::from(count) * round),
        Times::Endless => None,
    })
}

/// The keys of a piece that goes through some, in order.
fn turns(piece: &Piece) -> Result<Option<Vec<Key>>, ArrangeError> {
    let Some(order) = &piece.keys else {
        return Ok(None);
    };
    let first = piece.sounding_key().ok_or(ArrangeError::KeysNeedKey)?;
    order.check(&first)?;
    Ok(Some(key_order(order, &first, piece.seed, &|_| 0)))
}

impl Score {
    /// The score of a piece, its passes in the keys it asks for.
    pub(super) fn new(piece: &Piece, form: Form) -> Result<Score, ArrangeError> {
        let key = piece.sounding_key();
        let set = piece.set.map(|set| match piece.key_interval() {
            Some(by) => set.moved(by),
            None => set,
        });
        let score = |bars: Arc<Vec<FormBar>>| PassScore { bars, key, set };
        let (intro, pass, mut ending) = (score(form.intro), score(form.pass), score(form.ending));
        let passes = match turns(piece)? {
            None => Passes::Same(pass),
            Some(keys) => {
                let turns: Vec<PassScore> = keys.iter().map(|key| pass.moved_to(*key)).collect();
                // The ending stays in the key of the last pass.
                if let Some(last) = turns.last().and_then(|turn| turn.key) {
                    ending = ending.moved_to(last);
                }
                Passes::Turns(turns)
            }
        };
        Ok(Score {
            intro,
            passes,
            ending,
        })
    }

    /// The bars of a pass.
    pub(super) fn pass(&self, index: u64) -> PassScore {
        match &self.passes {
            Passes::Same(pass) => pass.clone(),
            Passes::Turns(turns) => {
                let at = usize::try_from(index % (turns.len() as u64).max(1)).unwrap_or(0);
                turns.get(at).cloned().unwrap_or_else(|| self.intro.clone())
            }
            Passes::Made(maker) => maker.pass(index),
        }
    }

    /// How many passes make one turn: the number of keys, else 1.
    pub(super) fn turn(&self) -> u64 {
        match &self.passes {
            Passes::Turns(turns) => turns.len() as u64,
            _ => 1,
        }
    }

    /// Whether all passes are the same.
    pub(super) fn is_same(&self) -> bool {
        matches!(self.passes, Passes::Same(_))
    }
}

/// What is needed to plan any run of a piece.
#[derive(Clone)]
pub(super) struct Planner {
    pub(super) settings: Parts,
    pub(super) register: Register,
    pub(super) neck: Neck,
    pub(super) variation: Variation,
    pub(super) feel: Feel,
    /// What moves notes from their places; nothing where all is exact.
    pub(super) hands: Option<Hands>,
    /// The grooves of all meters that come up.
    grooves: HashMap<Meter, Groove>,
    /// Whether the guide runs through the set: where the piece asks for something, it plays that.
    guide_runs: bool,
}

impl Planner {
    /// For the bars of `form`, and what is made in its meters.
    pub(super) fn new(piece: &Piece, form: &Form) -> Result<Planner, ArrangeError> {
        let pads = &piece.parts.pads;
        let voices = usize::try_from(pads.voices).unwrap_or(4);
        Ok(Planner {
            settings: piece.parts.clone(),
            register: Register {
                low: pads.low,
                high: pads.high,
                voices,
            },
            neck: piece.neck()?,
            variation: piece.variation,
            feel: piece.sounding_feel(),
            hands: (piece.timing == Timing::Loose).then(|| Hands::new(piece.seed)),
            grooves: form
                .bars()
                .map(|bar| bar.meter)
                .chain([piece.meter])
                .collect::<HashSet<Meter>>()
                .into_iter()
                .map(|meter| (meter, piece.groove_in(&meter)))
                .collect(),
            guide_runs: piece.asks.is_empty(),
        })
    }

    /// The groove of bars in a meter.
    pub(super) fn groove(&self, meter: &Meter) -> Groove {
        let known = self.grooves.get(meter).cloned();
        known.unwrap_or_else(|| usual_groove(meter, Some(self.feel)))
    }

    /// What is strummed in a run: found when it is first asked for. The bass asks too, whether the strum plays or not, so that
    /// leaving a part out changes no other.
    pub(super) fn strum<'a>(&self, planned: &'a Planned) -> &'a StrumShapes {
        let bars = &planned.score.bars;
        planned.strum.get_or_init(|| {
            let of_groove =
                |meter: &Meter, lifted: bool| self.groove(meter).figure(meter, 0, lifted).strum;
            shapes(bars, &self.settings.strum, &self.neck, &of_groove)
        })
    }

    /// Whether the bass walks from chord to chord, in all meters.
    pub(super) fn walks(&self) -> bool {
        match self.settings.bass.line {
            BassLine::Walking => true,
            BassLine::Groove => self.grooves.values().all(Groove::walks),
            BassLine::Roots | BassLine::RootFifth => false,
        }
    }

    /// The roots of a walk, by bar and chord: found when they are first asked for. Where the strum has its lowest string, none lies.
    pub(super) fn walk_roots<'a>(&self, planned: &'a Planned) -> &'a [Vec<Option<i32>>] {
        planned.walk.get_or_init(|| {
            let strum = self.strum(planned);
            let bars = planned.score.bars.iter().zip(&planned.run.bass).enumerate();
            let keys = bars.flat_map(|(at, (bar, keys))| {
                let placed = bar.chords.iter().zip(keys);
                placed.filter_map(move |(placed, keys)| {
                    Some(((*keys)?, strum.lowest(at, bar, placed.offset_ticks)))
                })
            });
            let mut roots = walk_roots(keys).into_iter();
            let of_bar = |keys: &Vec<Option<BassKeys>>| {
                let each = keys.iter().map(|keys| keys.and_then(|_| roots.next()));
                each.collect()
            };
            planned.run.bass.iter().map(of_bar).collect()
        })
    }

    /// The key of the lowest open string.
    pub(super) fn lowest_string(&self) -> i32 {
        let keys = self.neck.tuning().keys();
        keys.min().map_or(i32::MAX, i32::from) + i32::from(self.neck.capo().value())
    }

    /// Plans a run of bars.
    pub(super) fn plan(
        &self,
        score: PassScore,
        ends: &Ends,
        bass_before: Option<i32>,
        guide_ends: GuideEnds,
    ) -> Result<Planned, ArrangeError> {
        let strike = self.settings.pads.strike;
        let run = plan(&score.bars, &self.register, strike, ends, bass_before);
        let tonic = score
            .key
            .map(|k| k.tonic())
            .or_else(|| first_root(&score.bars));
        let runs = self.settings.guide.common.on && self.guide_runs;
        let guide = if runs && !score.bars.is_empty() {
            let set = score.set.as_ref().ok_or(ArrangeError::GuideNeedsSet)?;
            Some(GuideLine::new(
                set,
                &self.neck,
                &self.settings.guide,
                &score.bars,
                guide_ends,
            )?)
        } else {
            None
        };
        Ok(Planned {
            drone: tonic
                .map(|tonic| drone(&self.settings.drone, tonic))
                .unwrap_or_default(),
            phrases: Phrases::new(&score.bars),
            run,
            strum: OnceLock::new(),
            walk: OnceLock::new(),
            guide,
            score,
        })
    }
}

/// A run with what every part plays in it.
pub(super) struct Planned {
    pub(super) score: PassScore,
    pub(super) run: Run,
    pub(super) phrases: Phrases,
    pub(super) drone: Vec<i32>,
    strum: OnceLock<StrumShapes>,
    walk: OnceLock<Vec<Vec<Option<i32>>>>,
    pub(super) guide: Option<GuideLine>,
}

impl Planned {
    pub(super) fn last(&self) -> Option<Voicing> {
        self.run.last().cloned()
    }

    /// The first key of the guide.
    pub(super) fn first_of_guide(&self) -> Option<u8> {
        self.guide.as_ref().and_then(GuideLine::first)
    }

    /// The last key of the guide.
    pub(super) fn last_of_guide(&self) -> Option<u8> {
        self.guide.as_ref().and_then(GuideLine::last)
    }

    pub(super) fn last_bass(&self) -> Option<i32> {
        self.run.last_bass()
    }

    /// The first root of the bass.
    pub(super) fn first_bass(&self) -> Option<i32> {
        let mut keys = self.run.bass.iter().flatten().flatten();
        keys.next().map(|keys| keys.root)
    }

    /// The bar and the place in it of the chord that follows a chord in the run.
    pub(super) fn next_chord(&self, bar: usize, chord: usize) -> Option<(usize, usize)> {
        let bars = self.run.bass.iter().enumerate().skip(bar);
        let mut places = bars.flat_map(|(at, keys)| {
            let sounding = keys.iter().enumerate().filter(|(_, keys)| keys.is_some());
            sounding.map(move |(i, _)| (at, i))
        });
        places.find(|place| *place > (bar, chord))
    }

    /// The root that follows a chord of a bar in the run; `None` after its last chord.
    pub(super) fn next_root(&self, bar: usize, chord: usize) -> Option<i32> {
        let rest = self.run.bass[bar]
            .iter()
            .skip(chord + 1)
            .chain(self.run.bass[bar + 1..].iter().flatten());
        let mut keys = rest.flatten();
        keys.next().map(|keys: &BassKeys| keys.root)
    }
}

fn first_root(bars: &[FormBar]) -> Option<PitchName> {
    bars.iter()
        .flat_map(|bar| &bar.chords)
        .find_map(|c| c.harmony.chord())
        .map(|c| c.root())
}
