//! The percussion groove: kick, snare and hat that suit the meter.

use super::Note;
use crate::event::{KeyNumber, Velocity};
use crate::generate::Chance;
use crate::time::Meter;

/// Bass drum 1, acoustic snare, closed hi-hat of the General MIDI percussion map.
const KICK: i32 = 36;
const SNARE: i32 = 38;
const HAT: i32 = 42;

/// Length of a stroke in ticks; percussion rings by itself.
const STROKE: u64 = 60;

/// The groove of a bar: kick and snare in turn on the beats, two snares at the end of an odd bar (so a waltz is kick,
/// snare, snare), and the hat on halves of a simple beat, thirds of a compound one, and every note of a group.
pub(super) fn kit(meter: &Meter, mut chance: Chance) -> Vec<Note> {
    let mut notes = Vec::new();
    let beats = meter.beat_count();
    let mut stroke = |offset_ticks: u64, key: i32, velocity: i32| {
        let velocity = Velocity::clamped(velocity + chance.around(5));
        notes.push(Note {
            offset_ticks,
            length_ticks: STROKE,
            key: KeyNumber::clamped(key),
            velocity,
        });
    };
    for (i, beat) in (0u32..).zip(meter.beats()) {
        let last_of_odd = beats % 2 == 1 && beats > 1 && i + 1 == beats;
        if i % 2 == 1 || last_of_odd {
            stroke(beat.offset_ticks, SNARE, if last_of_odd { 78 } else { 92 });
        } else {
            stroke(beat.offset_ticks, KICK, if i == 0 { 100 } else { 92 });
        }
        let hats = if !meter.groups().is_empty() {
            beat.length_ticks / meter.unit_ticks()
        } else if meter.is_compound() {
            3
        } else if beat.length_ticks < 480 {
            1
        } else {
            2
        };
        for hat in 0..hats {
            stroke(
                beat.offset_ticks + beat.length_ticks * hat / hats,
                HAT,
                if hat == 0 { 74 } else { 58 },
            );
        }
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_groove_suits_the_meter() {
        let shown = |meter: &str| {
            let meter = Meter::read(meter).unwrap();
            let mut notes = kit(&meter, Chance::new(1, "velocity", "kit", 0, 0));
            notes.sort_by_key(|n| n.offset_ticks);
            let sign = |n: &Note| match i32::from(n.key.get()) {
                KICK => "K",
                SNARE => "S",
                _ => "h",
            };
            notes
                .iter()
                .map(|n| format!("{}{}", sign(n), n.offset_ticks))
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert_eq!(
            shown("4/4"),
            "K0 h0 h480 S960 h960 h1440 K1920 h1920 h2400 S2880 h2880 h3360"
        );
        assert_eq!(shown("3/4"), "K0 h0 h480 S960 h960 h1440 S1920 h1920 h2400");
        assert_eq!(shown("6/8"), "K0 h0 h480 h960 S1440 h1440 h1920 h2400");
        assert_eq!(
            shown("7/8 = 2+2+3"),
            "K0 h0 h480 S960 h960 h1440 S1920 h1920 h2400 h2880"
        );
    }
}
