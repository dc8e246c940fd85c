//! A bar of the groove as it is played: with its strokes that come at times, its fill, and where it stands in the piece.
//!
//! What comes at times is drawn once for the whole band, so that bass and kick do it together.

use super::fill::fill;
use super::phrase::{Place, Role};
use crate::chart::Variation;
use crate::generate::Chance;
use crate::groove::{BassFigure, BassMark, Figure, Groove, Hit, KitVoice, Meters, Pattern};
use crate::time::{Meter, SwingUnit, TICKS_PER_QUARTER};

/// Where in the piece a bar is, as far as the band cares.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// Before the first pass; the last bar of it leads on.
    Intro {
        /// Whether it is the last bar.
        last: bool,
    },
    /// In a pass.
    Pass,
    /// The very last bar, which is held.
    Final,
}

/// What a bar of the groove needs to know.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting<'a> {
    pub(super) groove: &'a Groove,
    pub(super) meter: &'a Meter,
    pub(super) place: Place,
    pub(super) stage: Stage,
    pub(super) variation: Variation,
    /// The notes that swing.
    pub(super) swung: Option<SwingUnit>,
}

/// A bar as the band plays it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct BandBar {
    /// The strokes of the kit, in their order.
    pub(super) hits: Vec<Hit>,
    /// What the bass does: only what comes in this bar.
    pub(super) bass: BassFigure,
    pub(super) strum: Pattern,
    /// The rhythm of the pads; `None` for held chords.
    pub(super) pads: Option<Pattern>,
    /// Where the backbeat falls, in ticks from the bar line: the strum leans on it. Empty in the plain groove.
    pub(super) backbeat: Vec<u64>,
    /// Whether all are struck once and held.
    pub(super) held: bool,
    /// Whether the strum has the strokes of a lifted section.
    pub(super) lifted: bool,
}

/// Of a hundred bars inside a phrase, how many have a kick or snare more than the groove; and of fourth bars.
const ADDED: u64 = 52;
const ADDED_FOURTH: u64 = 75;
/// Of a hundred soft strokes that come at times, how many come.
const SOFT: u64 = 45;
/// Of a hundred fourth bars, how many end with a short fill; and of last bars, with a fill.
const SHORT_FILLS: u64 = 40;
const FILLS: u64 = 93;
/// Of a hundred phrases inside a section, how many begin with a crash (after a tom run 29 to 38 do in the data of the fills).
const CRASHES: u64 = 35;

/// The bar as it is played.
pub(super) fn band_bar(setting: &Setting<'_>, chance: &mut Chance) -> BandBar {
    let place = setting.place;
    let full = setting.variation == Variation::Full;
    let lifted = full && place.lifted;
    let figure = setting
        .groove
        .figure(setting.meter, place.of_section, lifted);
    let backbeat = if setting.groove.parts().meters == Meters::All {
        Vec::new()
    } else {
        backbeats(&figure.hits)
    };
    let times = if full {
        Times::drawn(&figure, place.role, chance)
    } else {
        Times::default()
    };
    let (mut hits, bass) = (times.hits(&figure.hits), times.bass(&figure.bass));
    if setting.stage == Stage::Final {
        return BandBar {
            hits: last_stroke(&hits),
            bass,
            strum: figure.strum,
            pads: None,
            backbeat,
            held: true,
            lifted,
        };
    }
    if setting.variation != Variation::None {
        if let Stage::Intro { last: false } = setting.stage
            && full
        {
            hits.retain(|hit| hit.voice.keeps_time() || hit.voice == KitVoice::Kick);
        }
        if place.after_fill && (place.opens_section || chance.below(100) < CRASHES) {
            crash(&mut hits);
        }
        lead_on(setting, &mut hits, chance);
    }
    BandBar {
        hits,
        bass,
        strum: figure.strum,
        pads: figure.pads,
        backbeat,
        held: false,
        lifted,
    }
}

/// Where snare or side stick fall in every bar, loud.
fn backbeats(hits: &[Hit]) -> Vec<u64> {
    let loud = |hit: &&Hit| {
        hit.always && !hit.ghost && matches!(hit.voice, KitVoice::Snare | KitVoice::SideStick)
    };
    hits.iter()
        .filter(loud)
        .map(|hit| hit.offset_ticks)
        .collect()
}

/// Puts the fill of the bar in the place of what it covers.
fn lead_on(setting: &Setting<'_>, hits: &mut Vec<Hit>, chance: &mut Chance) {
    let role = match setting.stage {
        Stage::Intro { last: true } => Role::Last,
        Stage::Intro { last: false } | Stage::Final => return,
        Stage::Pass => setting.place.role,
    };
    let wanted = match role {
        Role::Inner => 0,
        Role::Fourth if setting.variation == Variation::Fills => 0,
        Role::Fourth => SHORT_FILLS,
        Role::Last => FILLS,
    };
    if chance.below(100) >= wanted {
        return;
    }
    let in_threes = setting.groove.is_in_threes(setting.meter);
    let Some(mut fill) = fill(setting.meter, role, in_threes, chance) else {
        return;
    };
    if setting.swung == Some(SwingUnit::Eighths) {
        swing_fill(&mut fill.hits);
    }
    let foot = |hit: &Hit| hit.voice == KitVoice::FootHat;
    hits.retain(|hit| hit.offset_ticks < fill.from_ticks || foot(hit));
    hits.extend(fill.hits);
    hits.sort_by_key(|hit| (hit.offset_ticks, hit.voice));
}

/// Swung, the first three sixteenths of a beat are its thirds, and the fourth would fall between: what is there is left
/// out, but the last stroke, on which a fill ends, comes a sixteenth earlier, in the place of what is there.
fn swing_fill(hits: &mut Vec<Hit>) {
    let sixteenth = TICKS_PER_QUARTER / 4;
    let between = |hit: &Hit| hit.offset_ticks % TICKS_PER_QUARTER == 3 * sixteenth;
    let end = hits.last().copied().filter(between);
    hits.retain(|hit| !between(hit));
    if let Some(end) = end {
        let offset_ticks = end.offset_ticks - sixteenth;
        hits.retain(|hit| hit.offset_ticks < offset_ticks);
        hits.push(Hit {
            offset_ticks,
            ..end
        });
    }
}

/// A crash, with the kick below it, in the place of what keeps time there.
fn crash(hits: &mut Vec<Hit>) {
    hits.retain(|hit| hit.offset_ticks > 0 || !hit.voice.keeps_time());
    let at_start = |voice: KitVoice| Hit::stroke(0, voice, voice.touch()[0]);
    if !hits
        .iter()
        .any(|hit| hit.offset_ticks == 0 && hit.voice == KitVoice::Kick)
    {
        hits.insert(0, at_start(KitVoice::Kick));
    }
    hits.push(at_start(KitVoice::Crash));
    hits.sort_by_key(|hit| (hit.offset_ticks, hit.voice));
}

/// The one stroke of a last bar: kick and crash.
fn last_stroke(hits: &[Hit]) -> Vec<Hit> {
    let loudest = hits.iter().filter(|hit| hit.voice == KitVoice::Kick);
    let velocity = loudest.map(|hit| hit.velocity).max();
    let kick = velocity.unwrap_or(KitVoice::Kick.touch()[0]);
    vec![
        Hit::stroke(0, KitVoice::Kick, kick),
        Hit::stroke(0, KitVoice::Crash, KitVoice::Crash.touch()[0]),
    ]
}

/// The strokes that come at times and do in this bar, by their places.
#[derive(Debug, Default)]
struct Times {
    /// Kicks and loud snares.
    loud: Vec<u64>,
    /// Ghosts, and what keeps time.
    soft: Vec<u64>,
}

impl Times {
    fn drawn(figure: &Figure, role: Role, chance: &mut Chance) -> Times {
        let is_loud = |hit: &Hit| !hit.ghost && !hit.voice.keeps_time();
        let at_times = || figure.hits.iter().filter(|hit| !hit.always);
        let offsets = |loud: bool| {
            let mut found: Vec<u64> = at_times()
                .filter(|hit| is_loud(hit) == loud)
                .map(|hit| hit.offset_ticks)
                .collect();
            if let BassFigure::Steps(steps) = &figure.bass {
                let mark = if loud {
                    BassMark::RootAtTimes
                } else {
                    BassMark::DeadAtTimes
                };
                found.extend(
                    steps
                        .iter()
                        .filter(|s| s.mark == mark)
                        .map(|s| s.offset_ticks),
                );
            }
            found.sort_unstable();
            found.dedup();
            found
        };
        let mut loud = offsets(true);
        let wanted = if role == Role::Fourth {
            ADDED_FOURTH
        } else {
            ADDED
        };
        let count = if chance.below(100) < wanted {
            1 + u64::from(chance.below(4) == 0)
        } else {
            0
        };
        while loud.len() as u64 > count {
            let out = chance.below(loud.len() as u64);
            loud.remove(usize::try_from(out).unwrap_or(0));
        }
        let mut soft = offsets(false);
        soft.retain(|_| chance.below(100) < SOFT);
        Times { loud, soft }
    }

    fn hits(&self, hits: &[Hit]) -> Vec<Hit> {
        let comes = |hit: &&Hit| {
            let times = if hit.ghost || hit.voice.keeps_time() {
                &self.soft
            } else {
                &self.loud
            };
            hit.always || times.contains(&hit.offset_ticks)
        };
        let mut found: Vec<Hit> = hits.iter().filter(comes).copied().collect();
        // An open hat takes the place of the closed one.
        let open: Vec<u64> = found
            .iter()
            .filter(|hit| hit.voice == KitVoice::OpenHat)
            .map(|hit| hit.offset_ticks)
            .collect();
        found.retain(|hit| hit.voice != KitVoice::Hat || !open.contains(&hit.offset_ticks));
        found
    }

    fn bass(&self, bass: &BassFigure) -> BassFigure {
        let BassFigure::Steps(steps) = bass else {
            return bass.clone();
        };
        let comes = steps.iter().filter(|step| match step.mark {
            BassMark::RootAtTimes => self.loud.contains(&step.offset_ticks),
            BassMark::DeadAtTimes => self.soft.contains(&step.offset_ticks),
            _ => true,
        });
        BassFigure::Steps(comes.copied().collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::groove::ready_groove;

    /// The last bar of a phrase, without what comes at times.
    fn led_on(swung: Option<SwingUnit>, seed: u64) -> Vec<Hit> {
        let setting = Setting {
            groove: &ready_groove("rock eighths").unwrap(),
            meter: &Meter::COMMON,
            place: Place {
                role: Role::Last,
                after_fill: false,
                opens_section: false,
                lifted: false,
                of_section: 7,
            },
            stage: Stage::Pass,
            variation: Variation::Fills,
            swung,
        };
        band_bar(&setting, &mut Chance::new(seed, "fill", "test", 0, 0)).hits
    }

    #[test]
    fn a_swung_fill_keeps_the_stroke_on_which_it_ends() {
        let sixteenth = TICKS_PER_QUARTER / 4;
        let mut moved = 0;
        for seed in 0..200 {
            let straight = *led_on(None, seed).last().unwrap();
            let swung = led_on(Some(SwingUnit::Eighths), seed);
            let end = swung.last().unwrap();
            let between = straight.offset_ticks % TICKS_PER_QUARTER == 3 * sixteenth;
            let at = straight.offset_ticks - u64::from(between) * sixteenth;
            let wanted = (at, straight.voice, straight.velocity);
            assert_eq!(
                (end.offset_ticks, end.voice, end.velocity),
                wanted,
                "{seed}"
            );
            moved += u32::from(between);
        }
        assert!(moved > 20, "{moved}");
    }
}
