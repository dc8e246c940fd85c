//! The plain groove, which suits every meter.

use super::KitVoice;
use super::figure::Hit;
use crate::time::Meter;

/// The name people type.
pub(super) const PLAIN: &str = "plain";

/// Kick and snare in turn on the beats, two snares at the end of an odd bar (so a waltz is kick, snare, snare), and the hat on
/// halves of a simple beat, thirds of a compound one, and every note of a group.
pub(super) fn kit(meter: &Meter) -> Vec<Hit> {
    let mut hits = Vec::new();
    let beats = meter.beat_count();
    let mut put = |offset_ticks: u64, voice: KitVoice, velocity: u8| {
        hits.push(Hit::stroke(offset_ticks, voice, velocity));
    };
    for (i, beat) in (0u32..).zip(meter.beats()) {
        let last_of_odd = beats % 2 == 1 && beats > 1 && i + 1 == beats;
        if i % 2 == 1 || last_of_odd {
            put(
                beat.offset_ticks,
                KitVoice::Snare,
                if last_of_odd { 78 } else { 92 },
            );
        } else {
            put(
                beat.offset_ticks,
                KitVoice::Kick,
                if i == 0 { 100 } else { 92 },
            );
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
            put(
                beat.offset_ticks + beat.length_ticks * hat / hats,
                KitVoice::Hat,
                if hat == 0 { 74 } else { 58 },
            );
        }
    }
    hits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_groove_suits_the_meter() {
        let shown = |meter: &str| {
            let mut hits = kit(&Meter::read(meter).unwrap());
            hits.sort_by_key(|hit| hit.offset_ticks);
            let sign = |hit: &Hit| match hit.voice {
                KitVoice::Kick => "K",
                KitVoice::Snare => "S",
                _ => "h",
            };
            hits.iter()
                .map(|hit| format!("{}{}", sign(hit), hit.offset_ticks))
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
