//! What pads and bass play over a run of bars: intro, a pass, or ending, planned at once.

use super::bass::{BassKeys, bass_keys};
use super::voicing::{Ends, Register, Row, Voicing, voicings};
use crate::chart::{FormBar, PadStrike};
use crate::theory::{Chord, Harmony};

/// A chord that is struck.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Strike {
    /// Ticks from the bar line.
    pub(super) offset_ticks: u64,
    /// Length in ticks; may reach past the bar.
    pub(super) length_ticks: u64,
    /// Which voicing of [`Run::voicings`].
    pub(super) voicing: usize,
    /// Whether the chord has been sounding since before; struck only where one begins in the middle.
    pub(super) goes_on: bool,
}

/// The plan of a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Run {
    pub(super) voicings: Vec<Voicing>,
    /// The pads, by bar.
    pub(super) strikes: Vec<Vec<Strike>>,
    /// The keys of the bass, by bar and chord; `None` where no chord sounds.
    pub(super) bass: Vec<Vec<Option<BassKeys>>>,
}

impl Run {
    pub(super) fn first(&self) -> Option<&Voicing> {
        self.voicings.first()
    }

    pub(super) fn last(&self) -> Option<&Voicing> {
        self.voicings.last()
    }

    pub(super) fn last_bass(&self) -> Option<i32> {
        self.bass.iter().flatten().flatten().last().map(|k| k.root)
    }
}

fn chord_of(harmony: &Harmony) -> Option<&Chord> {
    harmony.chord()
}

pub(super) fn plan(
    bars: &[FormBar],
    register: &Register,
    strike: PadStrike,
    ends: &Ends,
    bass_before: Option<i32>,
) -> Run {
    // Distinct chords, and the row of chords that are struck.
    let mut distinct: Vec<&Chord> = Vec::new();
    let mut row: Vec<usize> = Vec::new();
    let mut strikes: Vec<Vec<Strike>> = Vec::with_capacity(bars.len());
    let mut sounding: Option<&Harmony> = None;
    for bar in bars {
        let mut here: Vec<Strike> = Vec::with_capacity(bar.chords.len());
        for placed in &bar.chords {
            let harmony: &Harmony = &placed.harmony;
            let Some(chord) = chord_of(harmony) else {
                sounding = None;
                continue;
            };
            let held = placed.held || strike == PadStrike::Change;
            let goes_on = held && sounding == Some(harmony);
            sounding = Some(harmony);
            if goes_on && let Some(last) = here.last_mut() {
                last.length_ticks += placed.length_ticks;
                continue;
            }
            if !goes_on {
                let known = distinct.iter().rposition(|c| *c == chord);
                row.push(known.unwrap_or_else(|| {
                    distinct.push(chord);
                    distinct.len() - 1
                }));
            }
            here.push(Strike {
                offset_ticks: placed.offset_ticks,
                length_ticks: placed.length_ticks,
                voicing: row.len() - 1,
                goes_on,
            });
        }
        strikes.push(here);
    }
    // A chord that goes on in the next bar is as much longer.
    for bar in (1..strikes.len()).rev() {
        let more = strikes[bar]
            .first()
            .filter(|s| s.goes_on)
            .map_or(0, |s| s.length_ticks);
        if let Some(last) = strikes[bar - 1].last_mut() {
            last.length_ticks += more;
        }
    }
    let candidates: Vec<Vec<Voicing>> = distinct
        .iter()
        .map(|chord| voicings(chord, register))
        .collect();
    let taken = Row::new(&distinct, &candidates, &row, register).solve(ends);
    let held: Vec<Voicing> = row
        .iter()
        .zip(&taken)
        .map(|(chord, i)| candidates[*chord][*i])
        .collect();
    let chords = bars
        .iter()
        .flat_map(|bar| &bar.chords)
        .filter_map(|c| chord_of(&c.harmony));
    let mut keys = bass_keys(chords, bass_before).into_iter();
    let bass = bars
        .iter()
        .map(|bar| {
            bar.chords
                .iter()
                .map(|c| chord_of(&c.harmony).and_then(|_| keys.next()))
                .collect()
        })
        .collect();
    Run {
        voicings: held,
        strikes,
        bass,
    }
}
