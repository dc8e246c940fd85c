//! Asks and answers at their places among the bars.

use std::collections::BTreeMap;

use super::error::ArrangeError;
use super::journey::BarRange;
use super::{Note, shortened};
use crate::chart::{Answer, Ask, Piece};
use crate::event::{Body, Cue, Event, KeyNumber, Velocity};
use crate::neck::Neck;
use crate::time::{BarBeat, BarSpan, Grid, Tick};

/// How hard the notes of asks and answers are struck.
const TOUCH: i32 = 84;

/// An ask or an answer, and the note that sounds with it.
#[derive(Clone, Debug)]
struct Placed {
    offset_ticks: u64,
    body: Body,
    note: Option<Note>,
}

/// What is asked and answered in each bar, by its number.
#[derive(Clone, Debug, Default)]
pub(super) struct Asks {
    bars: BTreeMap<i64, Vec<Placed>>,
}

/// A note from here to the end of the bar, or to `until` if that comes first.
fn note(key: i32, from: &BarBeat, until: Option<Tick>) -> Note {
    let end = until.map_or(from.bar.end(), |until| until.min(from.bar.end()));
    Note {
        offset_ticks: from.offset_ticks,
        length_ticks: shortened(end.saturating_since(from.tick())),
        key: KeyNumber::clamped(key),
        velocity: Velocity::clamped(TOUCH),
        degree: None,
    }
}

impl Asks {
    /// The asks of a piece on the neck it is played on.
    ///
    /// # Errors
    /// When an ask is in no bar or on no beat of it, when a place is not on the neck, and when an ask comes before the
    /// one before it is answered.
    pub(super) fn new(piece: &Piece, grid: &Grid, neck: &Neck) -> Result<Self, ArrangeError> {
        let mut asks = Asks::default();
        let mut spans = Vec::with_capacity(piece.asks.len());
        for (id, ask) in (1u32..).zip(&piece.asks) {
            let (from, until) = asks.place(id, ask, grid, neck)?;
            spans.push((from, until, id));
        }
        spans.sort_unstable();
        for pair in spans.windows(2) {
            if pair[1].0 < pair[0].1 {
                return Err(ArrangeError::AskEarly {
                    ask: pair[1].2,
                    before: pair[0].2,
                });
            }
        }
        Ok(asks)
    }

    /// Places an ask and its answer; returns from when until when the answer is waited for.
    fn place(
        &mut self,
        id: u32,
        ask: &Ask,
        grid: &Grid,
        neck: &Neck,
    ) -> Result<(Tick, Tick), ArrangeError> {
        let no_bar = |bar| ArrangeError::AskBar {
            ask: id,
            bar,
            bars: BarRange::of(grid),
        };
        let bar = grid.bar(i64::from(ask.bar)).ok_or(no_bar(ask.bar))?;
        if ask.beat == 0 || ask.beat > bar.meter.beat_count() {
            return Err(ArrangeError::AskBeat {
                ask: id,
                beat: ask.beat,
                beats: bar.meter.beat_count(),
            });
        }
        let asked = grid
            .beat_after(bar.number, ask.beat - 1)
            .ok_or(no_bar(ask.bar))?;
        let answered = grid
            .beat_after(bar.number, ask.beat - 1 + ask.beats)
            .ok_or(ArrangeError::AskUnanswered {
                ask: id,
                beats: ask.beats,
            })?;
        let cue = |text: String| Cue {
            id,
            text: text.into(),
        };
        let sound = match ask.answer {
            Answer::Place { string, fret } => {
                let key = i32::from(neck.midi(string, fret)?);
                Some(note(key, &answered, None))
            }
            Answer::Word(_) => None,
        };
        let heard = ask.note.map(|pitch| {
            let until = answered.tick();
            note(pitch.midi(), &asked, Some(until))
        });
        let span = (asked.tick(), answered.tick());
        self.put(&asked, Body::Ask(cue(ask.text.clone())), heard);
        self.put(&answered, Body::Answer(cue(ask.answer.to_string())), sound);
        Ok(span)
    }

    fn put(&mut self, at: &BarBeat, body: Body, note: Option<Note>) {
        self.bars.entry(at.bar.number).or_default().push(Placed {
            offset_ticks: at.offset_ticks,
            body,
            note,
        });
    }

    /// Whether anything is asked.
    pub(super) fn is_empty(&self) -> bool {
        self.bars.is_empty()
    }

    /// Adds the asks and answers of a bar.
    pub(super) fn events(&self, bar: &BarSpan, events: &mut Vec<Event>) {
        events.extend(self.of(bar).map(|placed| Event {
            tick: bar.start + placed.offset_ticks,
            body: placed.body.clone(),
        }));
    }

    /// The notes that sound with them.
    pub(super) fn notes(&self, bar: &BarSpan) -> Vec<Note> {
        self.of(bar).filter_map(|placed| placed.note).collect()
    }

    fn of(&self, bar: &BarSpan) -> impl Iterator<Item = &Placed> {
        self.bars.get(&bar.number).into_iter().flatten()
    }
}
