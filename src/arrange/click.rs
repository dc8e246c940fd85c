//! The click part: which beats sound, how they are accented and divided, and which bars are silent.

use super::Note;
use crate::chart::{ClickBeats, ClickSettings, Silence};
use crate::event::{KeyNumber, Velocity};
use crate::generate::Chance;
use crate::time::{BarSpan, Region};

/// High wood block, low wood block and side stick of the General MIDI percussion map. The metronome click and bell (33,
/// 34) are General MIDI 2 only, and silent on a device without it.
const ACCENT_KEY: i32 = 76;
const BEAT_KEY: i32 = 77;
const SUBDIVISION_KEY: i32 = 37;

/// Longest click in ticks.
const LONGEST: u64 = 60;

/// The weight of a click.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Weight {
    Bar,
    Group,
    Beat,
    Subdivision,
}

/// The clicks of a bar; `chance` decides on silent bars, if any are left to it.
pub(super) fn click(settings: &ClickSettings, bar: &BarSpan, chance: Chance) -> Vec<Note> {
    let count_in = matches!(bar.region, Region::CountIn { .. });
    if !count_in && is_silent(settings, bar.number, chance) {
        return Vec::new();
    }
    let mut notes = Vec::new();
    for (number, offset, length, weight) in pulses(bar) {
        let wanted = match &settings.beats {
            ClickBeats::Only(beats) if !count_in => beats.contains(&number),
            _ => true,
        };
        if !wanted {
            continue;
        }
        let count = u64::from(settings.subdivide.max(1));
        for i in 0..count {
            // Exact in every case but subdivisions by 7 (and by 5 of short notes), which round.
            let at = length * i / count;
            let weight = if i > 0 { Weight::Subdivision } else { weight };
            notes.push(note(settings, offset + at, length / count, weight));
        }
    }
    notes
}

fn is_silent(settings: &ClickSettings, number: i64, mut chance: Chance) -> bool {
    match settings.silent {
        None => false,
        Some(Silence::Turns { on_bars, off_bars }) => {
            let round = i64::from(on_bars) + i64::from(off_bars);
            (number - 1).rem_euclid(round) >= i64::from(on_bars)
        }
        // The pulse must be heard before it may fall silent.
        Some(Silence::OneIn(bars)) => number > 1 && chance.below(u64::from(bars)) == 0,
    }
}

/// The pulses of a bar: beat number counted from 1, ticks from the bar line, length, weight. In a grouped meter
/// every denominator note is one, accented where a group begins.
fn pulses(bar: &BarSpan) -> Vec<(u32, u64, u64, Weight)> {
    let meter = bar.meter;
    let mut found = Vec::new();
    for (number, beat) in (1u32..).zip(meter.beats()) {
        let first = if number == 1 {
            Weight::Bar
        } else {
            Weight::Beat
        };
        if meter.groups().is_empty() {
            found.push((number, beat.offset_ticks, beat.length_ticks, first));
            continue;
        }
        let unit = meter.unit_ticks();
        for i in 0..beat.length_ticks / unit {
            let weight = match (i, first) {
                (0, Weight::Bar) => Weight::Bar,
                (0, _) => Weight::Group,
                _ => Weight::Beat,
            };
            found.push((number, beat.offset_ticks + i * unit, unit, weight));
        }
    }
    found
}

fn note(settings: &ClickSettings, offset_ticks: u64, room_ticks: u64, weight: Weight) -> Note {
    let (key, velocity) = match weight {
        Weight::Bar if settings.accents => (ACCENT_KEY, 100),
        Weight::Group if settings.accents => (ACCENT_KEY, 88),
        Weight::Subdivision => (SUBDIVISION_KEY, 56),
        _ => (BEAT_KEY, 80),
    };
    Note {
        offset_ticks,
        length_ticks: (room_ticks / 2).clamp(1, LONGEST),
        key: KeyNumber::clamped(key),
        velocity: Velocity::clamped(velocity),
        degree: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Parts;
    use crate::time::{Meter, Tick};

    fn bar(meter: &str, number: i64) -> BarSpan {
        let region = if number > 0 {
            Region::Pass { pass: 0, bar: 0 }
        } else {
            Region::CountIn { bar: 0 }
        };
        BarSpan {
            number,
            start: Tick::ZERO,
            meter: Meter::read(meter).unwrap(),
            region,
        }
    }

    fn shown(settings: &ClickSettings, meter: &str, number: i64) -> String {
        let sign = |n: &Note| match (n.key.get(), n.velocity.get()) {
            (76, 100) => "A",
            (76, _) => "a",
            (77, _) => "b",
            _ => "s",
        };
        let bar = bar(meter, number);
        let notes = click(settings, &bar, Chance::new(1, "silent", "click", 0, 0));
        notes
            .iter()
            .map(|n| format!("{}{}", sign(n), n.offset_ticks))
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn accents_by_beat_group() {
        let s = Parts::default().click;
        assert_eq!(shown(&s, "4/4", 1), "A0 b960 b1920 b2880");
        assert_eq!(shown(&s, "6/8", 1), "A0 b1440");
        assert_eq!(
            shown(&s, "7/8 = 2+2+3", 1),
            "A0 b480 a960 b1440 a1920 b2400 b2880"
        );
        let s = ClickSettings {
            accents: false,
            ..s
        };
        assert_eq!(shown(&s, "3/4", 1), "b0 b960 b1920");
    }

    #[test]
    fn subdivisions_and_chosen_beats() {
        let s = ClickSettings {
            subdivide: 2,
            ..Parts::default().click
        };
        assert_eq!(shown(&s, "2/4", 1), "A0 s480 b960 s1440");
        let s = ClickSettings {
            subdivide: 3,
            ..Parts::default().click
        };
        assert_eq!(shown(&s, "6/8", 1), "A0 s480 s960 b1440 s1920 s2400");
        let s = ClickSettings {
            beats: ClickBeats::Only(vec![2, 4]),
            ..Parts::default().click
        };
        assert_eq!(shown(&s, "4/4", 1), "b960 b2880");
        // The count-in keeps every beat.
        assert_eq!(shown(&s, "4/4", 0), "A0 b960 b1920 b2880");
    }

    #[test]
    fn silent_bars_come_in_turn() {
        let silent = Some(Silence::Turns {
            on_bars: 2,
            off_bars: 1,
        });
        let s = ClickSettings {
            silent,
            ..Parts::default().click
        };
        let heard: Vec<bool> = (-1..=7)
            .map(|n| !click(&s, &bar("4/4", n), Chance::new(1, "silent", "click", 0, 0)).is_empty())
            .collect();
        assert_eq!(
            heard,
            [true, true, true, true, false, true, true, false, true]
        );
    }

    #[test]
    fn silent_bars_come_by_chance_but_never_first() {
        let s = ClickSettings {
            silent: Some(Silence::OneIn(4)),
            ..Parts::default().click
        };
        let heard = |n: i64, seed| {
            !click(
                &s,
                &bar("4/4", n),
                Chance::new(seed, "silent", "click", 0, 3),
            )
            .is_empty()
        };
        let silent = (0..4000).filter(|seed| !heard(7, *seed)).count();
        // A quarter of 4000, give or take four standard deviations (27.4 each).
        assert!((890..=1110).contains(&silent), "{silent}");
        assert!((0..4000).all(|seed| heard(1, seed) && heard(0, seed)));
    }
}
