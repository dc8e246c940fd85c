//! The arrangement: all parts merged, a bar at a time.

mod conduct;
mod notes;

use std::cmp::Reverse;
use std::sync::Arc;

use self::notes::Here;
use super::asks::Asks;
use super::band::Stage;
use super::bass::first_bass;
use super::click::click;
use super::cursor::Cursor;
use super::error::ArrangeError;
use super::guide::GuideEnds;
use super::journey::{Excerpt, Journey};
use super::score::{PassMaker, PassScore, Passes, Planned, Planner, Score};
use super::voicing::Ends;
use crate::chart::{Form, FormBar, Part, Piece, Times};
use crate::event::{
    Bar, Body, Channel, Event, Header, Landmarks, Message, PartId, PartInfo, Signature, Source,
    sort,
};
use crate::generate::Chance;
use crate::theory::Key;
use crate::time::{
    Grid, Length, PlanRepeat, Region, Tempo, TempoCursor, TempoMap, TempoPlan, Tick,
};

/// A piece arranged for its parts.
///
/// It takes the memory of one pass of the form, however long the piece is. A copy shares what was planned.
#[derive(Clone)]
pub struct Arrangement {
    header: Header,
    /// The parts of the header, in its order.
    playing: Vec<Part>,
    journey: Journey,
    planner: Planner,
    score: Score,
    intro: Arc<Planned>,
    /// The pass that is playing, or played last; if all are the same, it stands for all.
    pass: (u64, Arc<Planned>),
    ending: Option<Arc<Planned>>,
    asks: Arc<Asks>,
    cursor: Cursor,
}

/// One of the parts that plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Playing {
    id: PartId,
    channel: Channel,
    level: u8,
}

impl Arrangement {
    /// Arranges `form`, the unfolded chart of `piece`.
    ///
    /// # Errors
    /// When the piece has not the bars the excerpt asks for, or a part has not what it needs.
    pub fn new(piece: &Piece, form: Form, excerpt: Excerpt) -> Result<Self, ArrangeError> {
        let shape = form.clone();
        Self::with_score(piece, &shape, Score::new(piece, form)?, excerpt)
    }

    /// Arranges passes that `maker` makes one by one. `form` shows their meters and holds intro and ending.
    ///
    /// # Errors
    /// As [`Arrangement::new`].
    pub fn made(
        piece: &Piece,
        form: Form,
        maker: Box<dyn PassMaker>,
        excerpt: Excerpt,
    ) -> Result<Self, ArrangeError> {
        let shape = form.clone();
        let plain = Piece {
            keys: None,
            ..piece.clone()
        };
        let score = Score {
            passes: Passes::Made(Arc::from(maker)),
            ..Score::new(&plain, form)?
        };
        // The maker decides on keys.
        Self::with_score(&plain, &shape, score, excerpt)
    }

    fn with_score(
        piece: &Piece,
        form: &Form,
        score: Score,
        excerpt: Excerpt,
    ) -> Result<Self, ArrangeError> {
        let passes = match piece.times {
            Times::Count(count) => Some(u64::from(count) * score.turn()),
            Times::Endless => None,
        };
        let grid = Arc::new(piece.grid(form, passes));
        let plan = plan_over(piece, &grid, excerpt)?;
        let map = TempoMap::new(&plan, piece.plan, &grid);
        let map = Arc::new(match piece.ritardando {
            Some(ritardando) => map.slowing(ritardando, &grid),
            None => map,
        });
        let planner = Planner::new(piece, form)?;
        let asks = Asks::new(piece, &grid, &planner.neck)?;
        let journey = Journey::new(grid, map, excerpt)?;
        let open = |before, after| Ends::Open { before, after };
        // The pass first: it is heard most. Intro and ending lead to it and away from it. Where the pass is played again
        // unchanged, its end leads to its beginning.
        let around = if score.is_same() && passes != Some(1) {
            Ends::Loop
        } else {
            open(None, None)
        };
        let pass = planner.plan(score.pass(0), &around, None, GuideEnds::default())?;
        let after = pass.run.first().cloned();
        let to_pass = GuideEnds {
            after: pass.first_of_guide(),
            ..GuideEnds::default()
        };
        let intro = planner.plan(score.intro.clone(), &open(None, after), None, to_pass)?;
        if let Passes::Turns(turns) = &score.passes {
            // Every key is tried now, so that none can fail while playing.
            for turn in turns {
                let first = PassScore {
                    bars: Arc::new(turn.bars.iter().take(1).cloned().collect()),
                    ..turn.clone()
                };
                planner.plan(first, &open(None, None), None, GuideEnds::default())?;
            }
        }
        let playing: Vec<Part> = Part::ALL
            .into_iter()
            .filter(|part| piece.parts.common(*part).on)
            .collect();
        let info = |part: &Part| {
            let common = piece.parts.common(*part);
            PartInfo {
                name: part.name(),
                channel: common.channel,
                program: common.program,
                rank: rank(*part),
                pulse: *part == Part::Click,
                level: common.level,
                pan: common.pan,
            }
        };
        let parts = playing.iter().map(info).collect();
        let cursor = Cursor::new(&journey, journey.begin());
        Ok(Arrangement {
            header: Header {
                title: piece.title.clone(),
                seed: piece.seed,
                parts,
            },
            playing,
            pass: (0, Arc::new(pass)),
            ending: None,
            asks: Arc::new(asks),
            cursor,
            journey,
            planner,
            score,
            intro: Arc::new(intro),
        })
    }

    /// The bars that are played, with their ticks.
    pub fn journey(&self) -> &Journey {
        &self.journey
    }

    /// The bars of a region, with their key and set; `None` for the count-in.
    pub fn score_of(&self, region: Region) -> Option<PassScore> {
        match region {
            Region::CountIn { .. } => None,
            Region::Intro { .. } => Some(self.score.intro.clone()),
            Region::Pass { pass, .. } => Some(self.score.pass(pass)),
            Region::Ending { .. } => Some(self.score.ending.clone()),
        }
    }

    /// Plans what a region needs. A pass begins from the last voicing of the one before it; after a jump, from the
    /// voicing last planned.
    fn prepare(&mut self, region: Region) {
        let open = |before| Ends::Open {
            before,
            after: None,
        };
        match region {
            Region::Pass { pass, .. } if !self.score.is_same() && self.pass.0 != pass => {
                let last = &self.pass.1;
                let (before, bass) = (last.last(), last.last_bass());
                // Everything that can fail was tried when the arrangement was made; a pass that fails anyway is left
                // out.
                if let Ok(planned) = self.planner.plan(
                    self.score.pass(pass),
                    &open(before),
                    bass,
                    GuideEnds::default(),
                ) {
                    self.pass = (pass, Arc::new(planned));
                }
            }
            Region::Ending { .. } if self.ending.is_none() => {
                let last = &self.pass.1;
                let planned = self.planner.plan(
                    self.score.ending.clone(),
                    &open(last.last()),
                    last.last_bass(),
                    GuideEnds {
                        before: last.last_of_guide(),
                        ..GuideEnds::default()
                    },
                );
                self.ending = planned.ok().map(Arc::new);
            }
            _ => {}
        }
    }

    /// The bar of the chart that is played there, its plan and its place in it.
    fn here(&self, region: Region) -> Option<Here<'_>> {
        let (planned, bar) = match region {
            Region::CountIn { .. } => return None,
            Region::Intro { bar } => (&self.intro, bar),
            Region::Pass { bar, .. } => (&self.pass.1, bar),
            Region::Ending { bar } => (self.ending.as_ref()?, bar),
        };
        let at = usize::try_from(bar).ok()?;
        let last = at + 1 == planned.score.bars.len();
        let stage = match region {
            Region::Intro { .. } => Stage::Intro { last },
            Region::Ending { .. } if last => Stage::Final,
            _ => Stage::Pass,
        };
        let (pass, once) = match region {
            Region::Pass { pass, .. } => (pass, false),
            _ => (0, true),
        };
        Some(Here {
            chart: planned.score.bars.get(at)?,
            place: planned.phrases.place(pass, at, once)?,
            stage,
            planned,
            at,
        })
    }

    /// The root of the bass that follows a run: that of the first pass after the intro, of the next pass, or of the ending.
    ///
    /// It may take the drawing of a pass, so it is asked for the last chord of a run alone.
    fn follows(&self, region: Region, planned: &Planned) -> Option<i32> {
        let last = planned.last_bass();
        let beginning = |bars: &[FormBar]| first_bass(bars, last);
        match region {
            Region::CountIn { .. } | Region::Ending { .. } => None,
            Region::Intro { .. } => self.pass.1.first_bass(),
            Region::Pass { pass, .. } if self.journey.grid().passes() == Some(pass + 1) => {
                beginning(&self.score.ending.bars)
            }
            Region::Pass { pass, .. } if !self.score.is_same() => {
                beginning(&self.score.pass(pass + 1).bars)
            }
            Region::Pass { .. } => None,
        }
    }

    /// The key a region sounds in; the count-in is in that of the bar it leads to.
    fn key_of(&self, region: Region) -> Option<Key> {
        match region {
            Region::CountIn { .. } => {
                let first = self.journey.bar(self.journey.first_bar())?;
                self.score_of(first.region)?.key
            }
            other => self.here(other)?.planned.score.key,
        }
    }

    fn playing(&self, part: Part) -> Option<Playing> {
        let at = self.playing.iter().position(|p| *p == part)?;
        let info = &self.header.parts[at];
        Some(Playing {
            id: PartId(u8::try_from(at).ok()?),
            channel: info.channel,
            level: info.level,
        })
    }

    /// Adds what all parts play in a bar, and keeps when it ends.
    fn put_notes(&mut self, bar: &Bar, tempo: Tempo, fresh: bool, events: &mut Vec<Event>) {
        let piece_end = self.journey.end();
        for (part, notes) in self.notes(bar, tempo, fresh) {
            for note in notes {
                let (on, end) = self.place(&part, bar, tempo, &note);
                if piece_end.is_some_and(|end| on.tick >= end) {
                    continue;
                }
                if let Some(degree) = note.degree {
                    let text = degree.to_string().into();
                    events.push(Event {
                        tick: on.tick,
                        body: Body::Lyric {
                            part: part.id,
                            text,
                        },
                    });
                }
                events.push(on);
                self.cursor
                    .open
                    .push(Reverse((end, part.id, part.channel, note.key)));
            }
        }
    }

    /// Cuts the last bar where a journey of an exact length ends, and sets the tempo of its last tick.
    fn cut_off(&mut self, first_new: usize, events: &mut Vec<Event>) {
        let Some(end) = self.journey.end() else {
            return;
        };
        let last_tick = self.journey.last_tick();
        let beyond = |event: &Event| {
            let own_tempo = last_tick.is_some_and(|(tick, _)| event.tick >= tick);
            event.tick >= end || (own_tempo && matches!(event.body, Body::Tempo(_)))
        };
        let mut at = 0;
        events.retain(|event| {
            at += 1;
            at <= first_new || !beyond(event)
        });
        if let Some((tick, tempo)) = last_tick {
            let body = Body::Tempo(tempo);
            events.push(Event { tick, body });
        }
    }

    /// The number of passes in one turn through the keys of the piece; 1 where it has one key.
    pub fn passes_in_turn(&self) -> u64 {
        self.score.turn()
    }

    /// Adds the note-offs that fall before `until`.
    fn close(&mut self, until: Tick, events: &mut Vec<Event>) {
        while let Some(Reverse((tick, part, channel, key))) = self.cursor.open.peek().copied() {
            if tick >= until {
                break;
            }
            self.cursor.open.pop();
            events.push(Event::of_part(
                tick,
                part,
                channel,
                Message::NoteOff { key },
            ));
        }
    }
}

impl Source for Arrangement {
    fn header(&self) -> &Header {
        &self.header
    }

    fn end(&self) -> Option<Tick> {
        self.journey.end()
    }

    fn next_bar(&mut self, events: &mut Vec<Event>) -> Option<Bar> {
        let number = self.cursor.next?;
        let bar = self.journey.bar(number)?;
        let first_new = events.len();
        self.prepare(bar.region);
        if !self.cursor.set_up {
            self.set_up(bar.start, events);
            self.cursor.set_up = true;
        }
        if let Some(key) = self.key_of(bar.region)
            && self.cursor.key.replace(key) != Some(key)
        {
            let (fifths, minor) = key.signature();
            events.push(Event {
                tick: bar.start,
                body: Body::Key(Signature { fifths, minor }),
            });
        }
        let tempo = self.tempo(&bar, events);
        if self.cursor.meter.replace(bar.meter) != Some(bar.meter) {
            events.push(Event {
                tick: bar.start,
                body: Body::Meter(bar.meter),
            });
        }
        self.marks(&bar, events);
        if !matches!(bar.region, Region::CountIn { .. }) {
            self.asks.events(&bar, events);
        }
        // The first bar of the chart starts fresh, with or without a count-in before it.
        let fresh = self.cursor.fresh;
        self.put_notes(&bar, tempo, fresh, events);
        self.cursor.fresh = matches!(bar.region, Region::CountIn { .. });
        self.cursor.next = self.journey.following(number);
        let until = if self.cursor.next.is_none() {
            self.cut_off(first_new, events);
            Tick::new(u64::MAX)
        } else {
            bar.end()
        };
        self.close(until, events);
        sort(&mut events[first_new..], &self.header);
        Some(bar)
    }

    fn seek(&mut self, number: i64) -> bool {
        let begin = self.journey.first_bar();
        let within = number >= begin
            && self
                .journey
                .last_bar()
                .and_then(|l| i64::try_from(l).ok())
                .is_none_or(|last| number <= last);
        if !within || self.journey.bar(number).is_none() {
            return false;
        }
        let mut cursor = Cursor::new(&self.journey, number);
        cursor.set_up = self.cursor.set_up;
        cursor.meter = self.cursor.meter;
        cursor.key = self.cursor.key;
        // The last events may have been dropped unplayed, so the tempo is sent anew. What still sounds ends where the
        // next bar begins.
        if let Some(bar) = self.journey.bar(number) {
            let open = std::mem::take(&mut self.cursor.open);
            cursor.open = open
                .into_iter()
                .map(|Reverse((_, p, c, k))| Reverse((bar.start, p, c, k)))
                .collect();
        }
        self.cursor = cursor;
        true
    }

    fn landmarks(&self, number: i64) -> Option<Landmarks> {
        let bar = self.journey.bar(number)?;
        let grid = self.journey.grid();
        let after = |bars: u64| i64::try_from(bars).ok().map(|bars| bars + 1);
        let intro = grid.intro_bars();
        let (pass, next) = match bar.region {
            Region::CountIn { .. } => (number, Some(self.journey.first_bar())),
            Region::Intro { .. } => (1, after(intro)),
            Region::Pass { pass, .. } => (
                after(intro + pass * grid.pass_bars())?,
                // What follows the last one is the ending.
                Some(pass + 1)
                    .filter(|next| grid.passes().is_none_or(|passes| *next < passes))
                    .and_then(|next| after(intro + next * grid.pass_bars())),
            ),
            Region::Ending { bar } => (number - i64::try_from(bar).ok()?, None),
        };
        let last = self.journey.last_bar().and_then(|l| i64::try_from(l).ok());
        let song_ticks = (number > 0)
            .then(|| grid.bar(number))
            .flatten()
            .map(|bar| bar.start.saturating_since(grid.bar_one()));
        Some(Landmarks {
            song_ticks,
            pass: pass.max(self.journey.first_bar()),
            next_pass: next.filter(|next| last.is_none_or(|last| *next <= last)),
        })
    }

    fn bar_at(&self, song_ticks: u64) -> Option<i64> {
        let grid = self.journey.grid();
        let number = grid.bar_at(grid.bar_one() + song_ticks)?.number;
        let last = self.journey.last_bar().and_then(|l| i64::try_from(l).ok());
        (number >= self.journey.first_bar() && last.is_none_or(|last| number <= last))
            .then_some(number)
    }

    fn count_in(&mut self, number: i64, events: &mut Vec<Event>) -> Option<Bar> {
        let part = self.playing(Part::Click)?;
        let grid_bar = self.journey.grid().bar(number.max(1))?;
        let bar = self.journey.bar(number.max(self.journey.first_bar()))?;
        let counted = Bar {
            region: Region::CountIn { bar: 0 },
            ..bar
        };
        let first_new = events.len();
        let tempo = TempoCursor::new(self.journey.map()).tempo_at(grid_bar.start);
        events.push(Event {
            tick: bar.start,
            body: Body::Tempo(tempo),
        });
        let chance = Chance::new(self.header.seed, "silent", Part::Click.name(), u64::MAX, 0);
        let notes = click(&self.planner.settings.click, &counted, chance);
        for note in notes {
            let (on, end) = self.place(&part, &counted, tempo, &note);
            events.push(on);
            let off = Message::NoteOff { key: note.key };
            events.push(Event::of_part(
                end.min(bar.end()),
                part.id,
                part.channel,
                off,
            ));
        }
        sort(&mut events[first_new..], &self.header);
        Some(counted)
    }
}

/// The tempo plan, with a length for one that is over the whole piece: what is played of it, or a pass.
fn plan_over(piece: &Piece, grid: &Grid, excerpt: Excerpt) -> Result<TempoPlan, ArrangeError> {
    if !piece.tempo.is_over_all() {
        return Ok(piece.tempo.clone());
    }
    let whole = match piece.plan {
        PlanRepeat::EachPass => Some(grid.pass_bars()),
        PlanRepeat::Once => grid.last_of_passes(),
    };
    let length = excerpt.length.or(whole.map(Length::bars));
    let length = length.ok_or_else(|| ArrangeError::PlanNeedsLength {
        plan: piece.tempo.to_string(),
    })?;
    Ok(piece.tempo.over(length))
}

/// The click goes first, then the bass, then the chords.
fn rank(part: Part) -> u8 {
    match part {
        Part::Click => 0,
        Part::Kit => 1,
        Part::Bass => 2,
        Part::Drone => 3,
        Part::Pads | Part::Strum => 4,
        Part::Guide => 5,
    }
}

#[cfg(test)]
mod tests;
