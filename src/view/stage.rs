//! The stage: everything that is worth showing at one instant of playing, as one plain value, and a line for each bar.

mod bar_line;
mod neck;
mod state;

use std::collections::VecDeque;
use std::sync::Arc;

use serde::Serialize;

pub(super) use self::bar_line::whole;
pub use self::bar_line::{BarLine, BarTally};
pub use self::neck::{StageMark, StageNeck, StageString};
use self::state::{Company, Troubles};
pub use self::state::{StageAsk, StageState, StageTrouble};
use crate::arrange::{Arrangement, PassScore};
use crate::chart::{Form, FormBar, Piece, plainest_interval};
use crate::diagnostic::counted;
use crate::event::{Bar, PartId, Source};
use crate::live::{FollowState, Moment};
use crate::neck::Neck;
use crate::theory::Harmony;
use crate::time::{Nanos, Region, TICKS_PER_QUARTER, TempoCursor, Tick};

/// Bars that are looked through for the chords to come.
const LOOK_AHEAD: usize = 32;

/// Passes that are kept: the one that plays and those to come, as written and as moved.
const KNOWN: usize = 8;

/// Points of the tempo plan.
const PLAN_POINTS: u64 = 48;

/// Everything that is worth showing at one instant of playing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stage {
    /// The title of the piece.
    pub title: String,
    /// Where in the piece.
    pub place: StagePlace,
    /// The beat of the bar, from 1.
    pub beat: u32,
    /// Beats in the bar.
    pub beats: u32,
    /// The chord now; `None` in a count-in, and in a piece without chords.
    pub chord: Option<StageChord>,
    /// The next two other chords, as far as they are known.
    pub next: Vec<StageChord>,
    /// The tempo now, in thousandths of what the tempo counts a minute.
    pub tempo_milli: u64,
    /// The tempo plan over the whole piece, where it changes and the piece has an end.
    pub plan: Option<StagePlan>,
    /// The loop that plays: its first and its last bar.
    pub looped: Option<(i64, i64)>,
    /// The parts, each with whether it is heard.
    pub parts: Vec<(&'static str, bool)>,
    /// Whether it plays, and what it waits for.
    pub state: StageState,
    /// A transposition that was asked for and is not heard yet.
    pub moves: Option<StageMove>,
    /// Whether a mark may move from beat to beat: not where it would light up more than three times a second.
    pub beat_moves: bool,
    /// The set on the neck, where the piece has one.
    pub neck: Option<StageNeck>,
    /// What went wrong a little before so that it could be heard.
    pub trouble: Option<StageTrouble>,
    /// What a drill asks; the maker leaves it out.
    pub ask: Option<StageAsk>,
    /// What the last command did; the maker leaves it out.
    pub said: Option<String>,
}

/// How far it is moved from the key as written: `2 semitones higher`, `as written`.
#[must_use]
pub fn moved_by(semitones: i8) -> String {
    let by = counted(u64::from(semitones.unsigned_abs()), "semitone");
    match semitones {
        0 => "as written".to_owned(),
        1.. => format!("{by} higher"),
        _ => format!("{by} lower"),
    }
}

impl Stage {
    /// Whether it has no chords: a click alone.
    #[must_use]
    pub fn has_no_chords(&self) -> bool {
        self.chord.is_none() && self.next.is_empty()
    }
}

/// A transposition that was asked for and is not heard yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct StageMove {
    /// Semitones from the key as written.
    pub semitones: i8,
    /// Beats until it is heard, at the next chord; `None` where that is too far ahead to be known.
    pub beats: Option<u64>,
}

/// Where in a piece.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StagePlace {
    /// The bar of the piece, from 1; in a count-in the one that is counted in, or 0 and below before the first.
    pub bar: i64,
    /// Whether a bar is counted in.
    pub counts_in: bool,
    /// How many bars the piece has; `None` without end.
    pub of: Option<u64>,
    /// The section, where there are several.
    pub section: Option<String>,
    /// Which pass of the form, from 1, where there are several; `None` outside of passes.
    pub pass: Option<u64>,
    /// The key it sounds in.
    pub key: Option<String>,
}

/// A chord and when.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageChord {
    /// Its symbol, as the program writes it; moved to the key that sounds.
    pub name: String,
    /// Ticks until it ends, of the chord now; until it begins, of one to come.
    pub ticks: u64,
    /// Beats that begin until then, the last one at that time or before.
    pub beats: u64,
    /// Bars that begin until then.
    pub bars: u64,
}

/// A tempo plan as points at even distances from the first bar to the end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StagePlan {
    /// Thousandths of what the tempo counts a minute.
    pub points_milli: Vec<u64>,
    /// How much of the way has passed, in thousandths.
    pub passed: u64,
}

/// Makes stages of one piece.
pub struct StageMaker {
    title: String,
    arrangement: Arrangement,
    unit_ticks: u64,
    points_milli: Vec<u64>,
    /// Whether there are chords.
    has_chords: bool,
    /// Whether there is more than one section, and more than one pass.
    has_sections: bool,
    has_passes: bool,
    /// The passes that were looked up last.
    known: VecDeque<Known>,
    /// The chord that was heard last.
    heard: Option<HeardChord>,
    neck: Option<Neck>,
    company: Company,
    troubles: Troubles,
    motion: Motion,
}

/// Whether anything may move on the stage beside what is told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Motion {
    /// The mark of the beat moves, where that does not flash.
    #[default]
    On,
    /// No mark moves.
    Off,
}

/// A chord that is heard, and how the listener has moved it: from the next chord on a transposition counts.
#[derive(Clone, Copy, PartialEq)]
struct HeardChord {
    run: u32,
    /// The bar in which its section began.
    section: i64,
    /// As it is written.
    written: Option<Harmony>,
    semitones: i8,
    /// When it was first seen.
    since: Nanos,
}

/// How long after a chord has begun the transposition in force may still become that of the chord: the thread that sends
/// says so a little after the time has passed.
const SETTLING: Nanos = Nanos::new(50_000_000);

/// Bars looked up, under what they depend on.
struct Known {
    region: Region,
    semitones: i8,
    score: PassScore,
}

/// A chord of the bars that are looked through.
struct Coming {
    written: Harmony,
    /// As the listener has moved it.
    moved: Harmony,
    begins: Ahead,
    ends: Ahead,
}

/// How far after the moment.
#[derive(Clone, Copy, Default)]
struct Ahead {
    ticks: u64,
    /// Beats that begin until then.
    beats: u64,
    /// Bars that begin until then.
    bars: u64,
}

impl Ahead {
    /// So many ticks after the bar line of `bar`. `self` is just before that line; in the bar that is heard, of which
    /// `gone` ticks have passed, it is the moment.
    fn within(self, bar: &Bar, gone: Option<u64>, offset_ticks: u64) -> Ahead {
        let is_ahead = |at: u64| at <= offset_ticks && gone.is_none_or(|gone| at > gone);
        let beats = bar.meter.beats().filter(|b| is_ahead(b.offset_ticks));
        // The line at its end is the first beat of the next bar.
        let beyond = u64::from(offset_ticks >= bar.meter.bar_ticks());
        let counted = u64::try_from(beats.count()).unwrap_or(u64::MAX);
        Ahead {
            ticks: self.ticks + offset_ticks.saturating_sub(gone.unwrap_or(0)),
            beats: self.beats + counted + beyond,
            bars: self.bars + u64::from(gone.is_none()) + beyond,
        }
    }

    /// Just before the line at the end of `bar`.
    fn past(self, bar: &Bar, gone: Option<u64>) -> Ahead {
        let line = self.within(bar, gone, bar.meter.bar_ticks());
        Ahead {
            beats: line.beats.saturating_sub(1),
            bars: line.bars.saturating_sub(1),
            ..line
        }
    }
}

impl StageMaker {
    /// Makes stages of `piece` in this form, as it is arranged.
    #[must_use]
    pub fn new(piece: &Piece, form: &Form, arrangement: Arrangement) -> StageMaker {
        let mut sections: Vec<&str> = form.pass.iter().map(|bar| &*bar.section).collect();
        sections.sort_unstable();
        sections.dedup();
        let passes = arrangement.journey().grid().passes();
        let unit_ticks = arrangement
            .journey()
            .grid()
            .first_meter()
            .tempo_unit_ticks();
        StageMaker {
            title: piece.title.clone(),
            points_milli: plan_points(&arrangement, unit_ticks),
            has_chords: form.bars().any(has_chord),
            has_sections: sections.len() > 1,
            has_passes: form.pass.len() > 1 && passes.is_none_or(|passes| passes > 1),
            arrangement,
            unit_ticks,
            known: VecDeque::with_capacity(KNOWN),
            heard: None,
            neck: piece.set.and_then(|_| piece.neck().ok()),
            company: Company::default(),
            troubles: Troubles::default(),
            motion: Motion::On,
        }
    }

    /// The same for a piece that is played to these ports and devices, and follows the clock of another one.
    #[must_use]
    pub fn playing_to(self, lanes: Vec<String>, leader: Option<String>) -> Self {
        let company = Company { lanes, leader };
        StageMaker { company, ..self }
    }

    /// The same with marks that move, or without.
    #[must_use]
    pub fn with_motion(self, motion: Motion) -> Self {
        StageMaker { motion, ..self }
    }

    /// The stage before anything is heard, where it waits for another device; `None` where it does not.
    pub fn before(&mut self) -> Option<Stage> {
        self.company.leader.as_ref()?;
        let journey = self.arrangement.journey();
        let bar = journey.bar(journey.first_bar())?;
        // The map counts ticks of the whole piece.
        let written = journey.grid().bar(journey.first_bar())?;
        let tempo = TempoCursor::new(journey.map()).tempo_at(written.start);
        let mut moment = Moment::first(bar, tempo, Nanos::ZERO);
        moment.paused = true;
        moment.followed = Some(FollowState::Silent);
        Some(self.stage(&moment))
    }

    /// The stage at a moment. Moments come in order.
    pub fn stage(&mut self, moment: &Moment) -> Stage {
        let bar = &moment.bar;
        let now = self.hear(moment);
        let beats = bar.meter.beat_count();
        let passed = bar.meter.beats().filter(|b| b.offset_ticks <= moment.ticks);
        let section = self.bar_of(bar, now).map(|bar| bar.section.to_string());
        let (has_sections, has_passes) = (self.has_sections, self.has_passes);
        let key = self.score_ahead(bar, now).and_then(|score| score.key);
        let (chord, next) = self.chords(moment, now);
        let sounds = chord.as_ref().map(|(harmony, _)| *harmony);
        let neck = self.neck_of(bar, now, sounds);
        let moves = self.moves(moment);
        let header = self.arrangement.header().parts.iter().zip(0..);
        Stage {
            title: self.title.clone(),
            place: StagePlace {
                bar: bar.number,
                counts_in: matches!(bar.region, Region::CountIn { .. }),
                of: self.arrangement.journey().last_bar(),
                section: section.filter(|_| has_sections),
                pass: pass_of(bar.region).filter(|_| has_passes),
                key: key.map(|key| key.to_string()),
            },
            beat: u32::try_from(passed.count()).unwrap_or(1).clamp(1, beats),
            beats,
            chord: chord.map(|(_, chord)| chord).filter(|_| self.has_chords),
            next,
            tempo_milli: moment.tempo.milli_a_minute(self.unit_ticks),
            plan: self.plan(moment),
            looped: moment.looped,
            parts: header
                .map(|(part, id)| (part.name, !moment.is_muted(PartId(id))))
                .collect(),
            state: self.company.state(moment),
            moves,
            beat_moves: self.motion == Motion::On && !flashes(moment),
            neck,
            trouble: self.troubles.at(moment),
            ask: None,
            said: None,
        }
    }

    /// The set of a bar on the neck, while a chord sounds.
    fn neck_of(&mut self, bar: &Bar, semitones: i8, chord: Option<Harmony>) -> Option<StageNeck> {
        let set = self.score_ahead(bar, semitones)?.set?;
        self.neck
            .as_ref()
            .map(|neck| StageNeck::of(&set, chord, neck))
    }

    /// When a transposition will be heard that is not heard yet: at the next chord, or section.
    fn moves(&mut self, moment: &Moment) -> Option<StageMove> {
        let heard = self.heard?;
        if heard.semitones == moment.semitones
            || matches!(moment.bar.region, Region::CountIn { .. })
        {
            return None;
        }
        let mut bar_at = Ahead::default();
        let mut bar = Some(moment.bar);
        for looked in 0..LOOK_AHEAD {
            let here = bar?;
            let gone = (looked == 0).then_some(moment.ticks);
            let written = self.bar_of(&here, 0)?;
            let opens = written.opens_section && looked > 0;
            let mut chords = written.chords.iter();
            let begins = chords.find(|placed| {
                let ahead = gone.is_none_or(|gone| placed.offset_ticks > gone);
                ahead && (opens || Some(placed.harmony) != heard.written)
            });
            if let Some(placed) = begins {
                let beats = bar_at.within(&here, gone, placed.offset_ticks).beats;
                return Some(StageMove {
                    semitones: moment.semitones,
                    beats: Some(beats),
                });
            }
            bar_at = bar_at.past(&here, gone);
            bar = self.after(&here, looked, moment);
        }
        Some(StageMove {
            semitones: moment.semitones,
            beats: None,
        })
    }

    /// The line of a bar that begins: bar, chords, tempo and key; `None` in a count-in.
    pub fn line(&mut self, moment: &Moment) -> Option<BarLine> {
        let key = self.score(moment.bar.region, moment.semitones)?.key;
        let has_sections = self.has_sections;
        let here = self.bar_of(&moment.bar, moment.semitones)?;
        let section = here.section.to_string();
        let opens = here.opens_section && has_sections;
        let chords = here.chords.iter();
        let chords = chords.filter_map(|placed| placed.harmony.chord());
        let chords = chords.map(ToString::to_string).collect();
        let begun = matches!(moment.bar.region, Region::Pass { bar: 0, .. });
        let pass = pass_of(moment.bar.region);
        Some(BarLine {
            bar: moment.bar.number,
            of: self.arrangement.journey().last_bar(),
            section: opens.then_some(section),
            pass: pass.filter(|_| begun && self.has_passes),
            chords,
            tempo_milli: moment.tempo.milli_a_minute(self.unit_ticks),
            key: key.map(|key| key.to_string()),
        })
    }

    /// By how many semitones the chord is moved that is heard now.
    fn hear(&mut self, moment: &Moment) -> i8 {
        let bar = self.bar_of(&moment.bar, 0);
        let chord = bar.and_then(|bar| {
            let mut begun = bar.chords.iter().rev();
            let placed = begun.find(|placed| placed.offset_ticks <= moment.ticks);
            placed.map(|placed| placed.harmony)
        });
        let opens = bar.is_some_and(|bar| bar.opens_section);
        let before = self.heard.filter(|before| before.run == moment.run);
        let heard = HeardChord {
            run: moment.run,
            section: match before {
                Some(before) if !opens => before.section,
                _ => moment.bar.number,
            },
            written: chord,
            semitones: moment.in_force,
            since: moment.at,
        };
        let same = |before: &HeardChord| {
            before.written == heard.written && before.section == heard.section
        };
        let heard = match before.filter(same) {
            Some(before) => {
                let age = moment.at.get().saturating_sub(before.since.get());
                let semitones = if age < SETTLING.get() {
                    heard.semitones
                } else {
                    before.semitones
                };
                HeardChord {
                    semitones,
                    ..before
                }
            }
            None => heard,
        };
        self.heard = Some(heard);
        heard.semitones
    }

    /// The bars of a pass and its key, moved by so many semitones; `None` in a count-in.
    fn score(&mut self, region: Region, semitones: i8) -> Option<&PassScore> {
        let (region, _) = first_of(region)?;
        let same = |known: &Known| known.region == region && known.semitones == semitones;
        if !self.known.iter().any(same) {
            let score = self.arrangement.score_of(region)?;
            if self.known.len() == KNOWN {
                self.known.pop_front();
            }
            self.known.push_back(Known {
                region,
                semitones,
                score: transposed(score, semitones),
            });
        }
        let known = self.known.iter().find(|known| same(known));
        known.map(|known| &known.score)
    }

    /// What is played in a bar; in a count-in what comes after it.
    fn score_ahead(&mut self, bar: &Bar, semitones: i8) -> Option<&PassScore> {
        let region = match bar.region {
            Region::CountIn { .. } => {
                let journey = self.arrangement.journey();
                journey.bar(bar.number.max(journey.first_bar()))?.region
            }
            region => region,
        };
        self.score(region, semitones)
    }

    /// A bar, moved by so many semitones; `None` in a count-in.
    fn bar_of(&mut self, bar: &Bar, semitones: i8) -> Option<&FormBar> {
        let (_, at) = first_of(bar.region)?;
        let score = self.score(bar.region, semitones)?;
        score.bars.get(usize::try_from(at).ok()?)
    }

    /// The chord now, moved by so many semitones, and the next two others, moved as it was asked for.
    fn chords(
        &mut self,
        moment: &Moment,
        semitones: i8,
    ) -> (Option<(Harmony, StageChord)>, Vec<StageChord>) {
        let mut found: Vec<Coming> = Vec::new();
        let mut now = None;
        // From the moment to just before the bar line that is looked at.
        let mut bar_at = Ahead::default();
        let mut bar = Some(moment.bar);
        for looked in 0..LOOK_AHEAD {
            let Some(here) = bar else { break };
            let gone = (looked == 0).then_some(moment.ticks);
            let written = self.bar_of(&here, 0).map(|bar| bar.chords.clone());
            let moved = self.bar_of(&here, moment.semitones);
            let moved = moved.map(|bar| bar.chords.clone());
            let chords = written
                .into_iter()
                .flatten()
                .zip(moved.into_iter().flatten());
            for (at, (written, moved)) in chords.enumerate() {
                let end = written.offset_ticks + written.length_ticks;
                if end <= gone.unwrap_or(0) {
                    continue;
                }
                let ends = bar_at.within(&here, gone, end);
                match found.last_mut() {
                    Some(last) if last.written == written.harmony => last.ends = ends,
                    _ => {
                        if looked == 0 && found.is_empty() {
                            let bar = self.bar_of(&here, semitones);
                            now = bar.and_then(|bar| Some(bar.chords.get(at)?.harmony));
                        }
                        found.push(Coming {
                            written: written.harmony,
                            moved: moved.harmony,
                            begins: bar_at.within(&here, gone, written.offset_ticks),
                            ends,
                        });
                    }
                }
            }
            if found.len() > 3 {
                break;
            }
            bar_at = bar_at.past(&here, gone);
            bar = self.after(&here, looked, moment);
        }
        let mut found = found.into_iter();
        let now = now.zip(now.and_then(|_| found.next()));
        let chord = |harmony: Harmony, ahead: Ahead| StageChord {
            name: harmony.to_string(),
            ticks: ahead.ticks,
            beats: ahead.beats,
            bars: ahead.bars,
        };
        (
            now.map(|(harmony, here)| (harmony, chord(harmony, here.ends))),
            found
                .take(2)
                .map(|one| chord(one.moved, one.begins))
                .collect(),
        )
    }

    /// The bar after one, which lies so many bars after the moment.
    fn after(&self, bar: &Bar, looked: usize, moment: &Moment) -> Option<Bar> {
        if let Some(next) = moment.next.get(looked).copied().flatten() {
            return Some(next);
        }
        let journey = self.arrangement.journey();
        let number = match moment.looped {
            Some((first, last)) if bar.number == last => first,
            _ => journey.following(bar.number)?,
        };
        journey.bar(number)
    }

    fn plan(&self, moment: &Moment) -> Option<StagePlan> {
        let journey = self.arrangement.journey();
        let first = journey.bar(journey.first_bar())?.start;
        let end = journey.end()?;
        if self.points_milli.is_empty() || moment.bar.start < first {
            return None;
        }
        let at = (moment.bar.start + moment.ticks).min(end);
        let length = end.saturating_since(first).max(1);
        Some(StagePlan {
            points_milli: self.points_milli.clone(),
            passed: at.saturating_since(first) * 1000 / length,
        })
    }
}

/// The region of the first bar of the same run, and the place of the bar in it.
fn first_of(region: Region) -> Option<(Region, u64)> {
    Some(match region {
        Region::CountIn { .. } => return None,
        Region::Intro { bar } => (Region::Intro { bar: 0 }, bar),
        Region::Pass { pass, bar } => (Region::Pass { pass, bar: 0 }, bar),
        Region::Ending { bar } => (Region::Ending { bar: 0 }, bar),
    })
}

/// Whether a bar has a chord that sounds.
fn has_chord(bar: &FormBar) -> bool {
    let mut chords = bar.chords.iter();
    chords.any(|placed| placed.harmony.chord().is_some())
}

/// The score as the listener has moved it.
fn transposed(score: PassScore, semitones: i8) -> PassScore {
    let semitones = i32::from(semitones);
    if semitones == 0 {
        return score;
    }
    if let Some(key) = score.key {
        return score.moved_to(key.transposed(semitones));
    }
    let Some(by) = plainest_interval(score.bars.iter(), semitones) else {
        return score;
    };
    let mut bars = score.bars.to_vec();
    bars.iter_mut().for_each(|bar| bar.transpose(by));
    PassScore {
        bars: Arc::new(bars),
        set: score.set.map(|set| set.moved(by)),
        ..score
    }
}

/// The tempo plan as points; none where it does not change, or has no end.
fn plan_points(arrangement: &Arrangement, unit_ticks: u64) -> Vec<u64> {
    let journey = arrangement.journey();
    let first = journey.bar(journey.first_bar()).map(|bar| bar.start);
    let (Some(first), Some(end)) = (first, journey.end()) else {
        return Vec::new();
    };
    // The map counts ticks of the whole piece.
    let Some(written) = journey.grid().bar(journey.first_bar()) else {
        return Vec::new();
    };
    let length = end.saturating_since(first);
    let mut cursor = TempoCursor::new(journey.map());
    let points: Vec<u64> = (0..PLAN_POINTS)
        .map(|point| {
            let tick: Tick = written.start + length * point / PLAN_POINTS;
            cursor.tempo_at(tick).milli_a_minute(unit_ticks)
        })
        .collect();
    if points.iter().all(|point| *point == points[0]) {
        return Vec::new();
    }
    points
}

/// The shortest time from one lighting up to the next: three in a second (WCAG 2.2, success criterion 2.3.1).
const FLASH: Nanos = Nanos::new(333_333_334);

/// Whether the mark of a beat, which lights up once a bar, would do so more than three times a second.
fn flashes(moment: &Moment) -> bool {
    let us = u128::from(moment.tempo.us_per_quarter());
    let bar_ns =
        us * 1000 * u128::from(moment.bar.meter.bar_ticks()) / u128::from(TICKS_PER_QUARTER);
    moment.bar.meter.beat_count() > 1 && bar_ns < u128::from(FLASH.get())
}

/// Which pass a region is in, from 1.
fn pass_of(region: Region) -> Option<u64> {
    match region {
        Region::Pass { pass, .. } => Some(pass + 1),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Meter;

    #[test]
    fn beats_and_bars_until_a_chord() {
        let meter = Meter::grouped(7, 8, &[3, 2, 2]).unwrap();
        let bar = Bar {
            number: 1,
            region: Region::Pass { pass: 0, bar: 0 },
            start: Tick::ZERO,
            meter,
        };
        let told = |ahead: Ahead| (ahead.ticks, ahead.beats, ahead.bars);
        // Just after the second of three beats, at 1440.
        let moment = Ahead::default();
        let gone = Some(1500);
        assert_eq!(told(moment.within(&bar, gone, 2400)), (900, 1, 0));
        assert_eq!(told(moment.within(&bar, gone, 3360)), (1860, 2, 1));
        let next = moment.past(&bar, gone);
        assert_eq!(told(next.within(&bar, None, 0)), (1860, 2, 1));
        // An eighth after the second beat of the next bar.
        assert_eq!(told(next.within(&bar, None, 1920)), (3780, 3, 1));
        let third = next.past(&bar, None);
        assert_eq!(told(third.within(&bar, None, 0)), (5220, 5, 2));
        // At the moment of a beat that beat has begun.
        assert_eq!(told(moment.within(&bar, Some(0), 3360)), (3360, 3, 1));
    }
}
