//! The stage: everything that is worth showing at one instant of playing, as one plain value, and a line for each bar.

use std::collections::VecDeque;
use std::fmt;
use std::sync::Arc;

use serde::Serialize;

use super::time::clock_time;
use crate::arrange::{Arrangement, PassScore};
use crate::chart::{Form, FormBar, Piece, plainest_interval};
use crate::diagnostic::counted;
use crate::event::{Bar, PartId, Source};
use crate::live::Moment;
use crate::theory::Harmony;
use crate::time::{Nanos, Region, TempoCursor, Tick};

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
    /// The chord now; `None` in a count-in.
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
    /// Whether it is paused.
    pub paused: bool,
}

/// Where in a piece.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StagePlace {
    /// The bar of the piece, from 1; 0 and below in a count-in.
    pub bar: i64,
    /// How many bars the piece has; `None` without end.
    pub of: Option<u64>,
    /// The section.
    pub section: Option<String>,
    /// Which pass of the form, from 1; `None` outside of passes.
    pub pass: Option<u64>,
    /// The key it sounds in.
    pub key: Option<String>,
}

/// A chord and when.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageChord {
    /// Its symbol.
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
    /// Whether there is more than one section, and more than one pass.
    has_sections: bool,
    has_passes: bool,
    /// The passes that were looked up last.
    known: VecDeque<Known>,
    /// The chord that was heard last.
    heard: Option<HeardChord>,
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
}

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
            has_sections: sections.len() > 1,
            has_passes: form.pass.len() > 1 && passes.is_none_or(|passes| passes > 1),
            arrangement,
            unit_ticks,
            known: VecDeque::with_capacity(KNOWN),
            heard: None,
        }
    }

    /// The stage at a moment. Moments come in order.
    pub fn stage(&mut self, moment: &Moment) -> Stage {
        let bar = &moment.bar;
        let now = self.hear(moment);
        let beats = bar.meter.beat_count();
        let passed = bar.meter.beats().filter(|b| b.offset_ticks <= moment.ticks);
        let section = self.bar_of(bar, now).map(|bar| bar.section.to_string());
        let key = self.score(bar.region, now).and_then(|score| score.key);
        let (chord, next) = self.chords(moment, now);
        let header = self.arrangement.header().parts.iter().zip(0..);
        Stage {
            title: self.title.clone(),
            place: StagePlace {
                bar: bar.number,
                of: self.arrangement.journey().last_bar(),
                section,
                pass: pass_of(bar.region),
                key: key.map(|key| key.to_string()),
            },
            beat: u32::try_from(passed.count()).unwrap_or(1).clamp(1, beats),
            beats,
            chord,
            next,
            tempo_milli: moment.tempo.milli_a_minute(self.unit_ticks),
            plan: self.plan(moment),
            looped: moment.looped,
            parts: header
                .map(|(part, id)| (part.name, !moment.is_muted(PartId(id))))
                .collect(),
            paused: moment.paused,
        }
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
        };
        let same = |before: &HeardChord| {
            before.written == heard.written && before.section == heard.section
        };
        let semitones = before.filter(same).map_or(heard.semitones, |b| b.semitones);
        self.heard = Some(HeardChord { semitones, ..heard });
        semitones
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

    /// A bar, moved by so many semitones; `None` in a count-in.
    fn bar_of(&mut self, bar: &Bar, semitones: i8) -> Option<&FormBar> {
        let (_, at) = first_of(bar.region)?;
        let score = self.score(bar.region, semitones)?;
        score.bars.get(usize::try_from(at).ok()?)
    }

    /// The chord now, moved by so many semitones, and the next two others, moved as it was asked for.
    fn chords(&mut self, moment: &Moment, semitones: i8) -> (Option<StageChord>, Vec<StageChord>) {
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
            now.map(|(harmony, here)| chord(harmony, here.ends)),
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

/// Which pass a region is in, from 1.
fn pass_of(region: Region) -> Option<u64> {
    match region {
        Region::Pass { pass, .. } => Some(pass + 1),
        _ => None,
    }
}

/// A bar that begins, in one line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BarLine {
    /// The bar, from 1.
    pub bar: i64,
    /// How many there are; `None` without end.
    pub of: Option<u64>,
    /// The section, where one of several begins.
    pub section: Option<String>,
    /// The pass of the form, from 1, where one of several begins.
    pub pass: Option<u64>,
    /// The chords of the bar, in order; where none is played, it has none.
    pub chords: Vec<String>,
    /// The tempo, in thousandths of what it counts a minute.
    pub tempo_milli: u64,
    /// The key.
    pub key: Option<String>,
}

impl fmt::Display for BarLine {
    /// `bar 5 of 32, verse, pass 2: Am, F; 72, A minor`, the tempo rounded.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "bar {}", self.bar)?;
        if let Some(of) = self.of {
            write!(f, " of {of}")?;
        }
        if let Some(section) = &self.section {
            write!(f, ", {section}")?;
        }
        if let Some(pass) = self.pass {
            write!(f, ", pass {pass}")?;
        }
        if !self.chords.is_empty() {
            write!(f, ": {}", self.chords.join(", "))?;
        }
        write!(f, "; {}", whole(self.tempo_milli))?;
        if let Some(key) = &self.key {
            write!(f, ", {key}")?;
        }
        Ok(())
    }
}

/// Thousandths, rounded to a whole number.
pub(super) fn whole(milli: u64) -> u64 {
    milli.saturating_add(500) / 1000
}

/// What was heard of a piece, for the account at its end.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BarTally {
    /// Bars that began, those of count-ins left out.
    pub bars: u64,
    /// The highest tempo at a bar line, in thousandths of what it counts a minute.
    pub fastest_milli: u64,
    /// The keys in the order in which they were first heard.
    pub keys: Vec<String>,
}

impl BarTally {
    /// Takes in a bar that begins.
    pub fn note(&mut self, line: &BarLine) {
        self.bars += 1;
        self.fastest_milli = self.fastest_milli.max(line.tempo_milli);
        if let Some(key) = &line.key
            && !self.keys.contains(key)
        {
            self.keys.push(key.clone());
        }
    }

    /// `12 bars in 0:48.0, up to 72, in A minor`, without a line feed; `None` where no bar was heard.
    #[must_use]
    pub fn text(&self, took: Nanos) -> Option<String> {
        if self.bars == 0 {
            return None;
        }
        let mut text = format!(
            "{} in {}, up to {}",
            counted(self.bars, "bar"),
            clock_time(took),
            whole(self.fastest_milli)
        );
        if !self.keys.is_empty() {
            text += &format!(", in {}", self.keys.join(", "));
        }
        Some(text)
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
