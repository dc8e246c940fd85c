//! Fills of the kit: what leads on where a phrase ends.
//!
//! Where a fill begins, how dense and how loud it is step by step, and what it ends on follow 647 fills in 4/4 of the Groove MIDI
//! Dataset 1.0.0 (CC BY 4.0, Google LLC; changed: aggregated into statistics).

use super::phrase::Role;
use crate::generate::Chance;
use crate::groove::{Hit, KitVoice};
use crate::time::{Beat, Meter};

/// How many fills in a hundred begin on each beat of four.
const STARTS: [u128; 4] = [78, 9, 8, 4];

/// How many fills in a hundred have a hit on each sixteenth of the bar.
const DENSITY: [u64; 16] = [
    73, 45, 67, 56, 83, 54, 72, 58, 92, 65, 77, 71, 90, 67, 61, 27,
];

/// Mean velocity on each sixteenth of the bar.
const LOUDNESS: [i32; 16] = [
    77, 60, 64, 60, 73, 65, 73, 63, 79, 71, 79, 74, 93, 90, 98, 89,
];

/// What a fill ends on, and how many in a hundred do.
const LAST: [(KitVoice, u128); 5] = [
    (KitVoice::FloorTom, 30),
    (KitVoice::Snare, 29),
    (KitVoice::Kick, 14),
    (KitVoice::HighTom, 10),
    (KitVoice::OpenHat, 9),
];

/// On which sixteenth of the last beat a fill ends, and how many in a hundred do.
const LAST_STEP: [u128; 4] = [15, 11, 33, 25];

/// How many fills in a hundred run over the toms: with bars without a fill counted in, tom runs then lie between the rarest and the
/// commonest style of the data.
const OVER_TOMS: u64 = 30;

/// The main voices of the quarters of the bar, in fills over the toms and in others.
const TOM_WAYS: [[KitVoice; 4]; 4] = {
    use KitVoice::{FloorTom, HighTom, MidTom, Snare};
    [
        [Snare, Snare, HighTom, FloorTom],
        [Snare, HighTom, MidTom, FloorTom],
        [Snare, HighTom, HighTom, FloorTom],
        [HighTom, Snare, FloorTom, Snare],
    ]
};
const OTHER_WAYS: [[KitVoice; 4]; 4] = {
    use KitVoice::{Hat, Kick, Snare};
    [
        [Snare, Snare, Snare, Snare],
        [Hat, Hat, Snare, Snare],
        [Hat, Snare, Kick, Snare],
        [Snare, Kick, Snare, Snare],
    ]
};

/// A fill: from its beginning on it takes the place of the groove.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fill {
    /// Ticks from the bar line at which it begins, as written.
    pub(super) from_ticks: u64,
    pub(super) hits: Vec<Hit>,
}

/// The steps of a beat: its thirds where the groove goes in threes, else its sixteenths, as written before swing.
fn steps(beat: &Beat, meter: &Meter, in_threes: bool) -> Vec<u64> {
    let count = if in_threes || meter.is_compound() {
        3
    } else {
        (beat.length_ticks / 240).clamp(1, 6)
    };
    (0..count)
        .map(|i| beat.offset_ticks + beat.length_ticks * i / count)
        .collect()
}

/// The place of an offset among the sixteenths of a bar of four.
fn sixteenth(offset: u64, meter: &Meter) -> usize {
    usize::try_from(offset * 16 / meter.bar_ticks().max(1))
        .unwrap_or(0)
        .min(15)
}

/// The fill of a bar: a long one at the end of a phrase, a short one in its fourth bar.
pub(super) fn fill(
    meter: &Meter,
    role: Role,
    in_threes: bool,
    chance: &mut Chance,
) -> Option<Fill> {
    let beats: Vec<Beat> = meter.beats().collect();
    let first = match role {
        Role::Inner => return None,
        Role::Fourth => beats
            .len()
            .saturating_sub(1 + usize::from(chance.below(5) < 2)),
        Role::Last => {
            let at = chance.weighted(STARTS.into_iter()).unwrap_or(0);
            // In a bar of other than four beats, as far along.
            at * beats.len() / STARTS.len()
        }
    };
    let from_ticks = beats.get(first)?.offset_ticks;
    let offsets: Vec<u64> = beats[first..]
        .iter()
        .flat_map(|beat| steps(beat, meter, in_threes))
        .collect();
    let over_toms = chance.below(100) < OVER_TOMS;
    let ways = if over_toms { TOM_WAYS } else { OTHER_WAYS };
    let way = ways[usize::try_from(chance.below(ways.len() as u64)).unwrap_or(0)];
    let end = last_step(&beats, meter, in_threes, chance)?;
    let mut hits = Vec::new();
    for offset in offsets.into_iter().filter(|offset| *offset < end) {
        let step = sixteenth(offset, meter);
        let on_beat = beats.iter().any(|beat| beat.offset_ticks == offset);
        // The first stroke and the beats carry it.
        let density = DENSITY[step] + if offset == from_ticks { 100 } else { 0 };
        if chance.below(100) >= density {
            continue;
        }
        let voice = way[step / 4];
        let ghost = !on_beat && voice == KitVoice::Snare && chance.below(100) < 45;
        let velocity = if ghost { 40 } else { LOUDNESS[step] };
        hits.push(hit(offset, voice, velocity + chance.around(6), ghost));
        if on_beat && voice != KitVoice::Kick && chance.below(100) < 35 {
            hits.push(hit(offset, KitVoice::Kick, 70 + chance.around(6), false));
        }
    }
    let voice = LAST[chance.weighted(LAST.iter().map(|l| l.1)).unwrap_or(0)].0;
    let velocity = LOUDNESS[sixteenth(end, meter)].max(85);
    hits.push(hit(end, voice, velocity + chance.around(6), false));
    Some(Fill { from_ticks, hits })
}

fn last_step(beats: &[Beat], meter: &Meter, in_threes: bool, chance: &mut Chance) -> Option<u64> {
    let steps = steps(beats.last()?, meter, in_threes);
    let weights = LAST_STEP.iter().copied().skip(4 - steps.len().min(4));
    let at = chance.weighted(weights.collect::<Vec<_>>().into_iter())?;
    steps.get(at).copied()
}

fn hit(offset_ticks: u64, voice: KitVoice, velocity: i32, ghost: bool) -> Hit {
    let velocity = u8::try_from(velocity.clamp(1, 127)).unwrap_or(1);
    Hit {
        ghost,
        ..Hit::stroke(offset_ticks, voice, velocity)
    }
}
