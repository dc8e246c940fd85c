//! A drawn progression as bars of a chart.

use std::fmt::Write;
use std::sync::Arc;

use super::progression::{Generator, Progression};
use super::request::Rhythm;
use crate::chart::{FormBar, PlacedChord};
use crate::theory::{Chord, Harmony, Key, Mode, Scale, ScaleKind};
use crate::time::Meter;

/// The key a set is heard in: its root, in the mode of its home scale.
pub fn key_of(set: &Scale, home: &Scale) -> Option<Key> {
    let mode = home.kind().and_then(ScaleKind::mode);
    // A home without a mode of its own is major or minor by its third.
    let by_third = || {
        let minor = home.degrees().iter().any(|d| d.semitones() == 3);
        if minor { Mode::Minor } else { Mode::Major }
    };
    let mode = mode.unwrap_or_else(by_third);
    Key::new(set.root(), mode).ok()
}

/// The chords bar by bar.
pub fn bars_of(chords: &[Chord], rhythm: Rhythm) -> Vec<Vec<Chord>> {
    match rhythm {
        Rhythm::TwoBars => chords.iter().flat_map(|c| [vec![*c], vec![*c]]).collect(),
        Rhythm::Bar => chords.iter().map(|c| vec![*c]).collect(),
        Rhythm::HalfBar => chords.chunks(2).map(<[Chord]>::to_vec).collect(),
    }
}

/// The progression in the chart notation, four bars to a line.
pub fn chart_text(chords: &[Chord], rhythm: Rhythm) -> String {
    let bars = bars_of(chords, rhythm);
    let mut text = String::new();
    for (i, bar) in bars.iter().enumerate() {
        if i % 4 == 0 {
            text.push_str(if i == 0 { "|" } else { "\n|" });
        }
        let names: Vec<String> = bar.iter().map(ToString::to_string).collect();
        let _ = write!(text, " {} |", names.join(" "));
    }
    text
}

impl Generator {
    /// The chords of a progression, slot by slot.
    pub fn chords(&self, progression: &Progression) -> Vec<Chord> {
        self.plans()
            .get(progression.plan)
            .map(|plan| progression.chords(plan))
            .unwrap_or_default()
    }

    /// The bars of a progression in a meter, as a chart has them.
    pub fn form_bars(
        &self,
        progression: &Progression,
        meter: Meter,
        section: &str,
    ) -> Vec<FormBar> {
        let section: Arc<str> = section.into();
        let beats = meter.beat_count();
        bars_of(&self.chords(progression), self.rhythm())
            .iter()
            .enumerate()
            .map(|(i, chords)| {
                let share = beats / u32::try_from(chords.len()).unwrap_or(1).max(1);
                let placed = (0u32..).zip(chords).map(|(at, chord)| {
                    let offset_ticks = meter.beat_offset_ticks(at * share);
                    PlacedChord {
                        harmony: Harmony::Chord(*chord),
                        beat: at * share,
                        offset_ticks,
                        length_ticks: meter.beat_offset_ticks((at + 1) * share) - offset_ticks,
                        held: false,
                    }
                });
                FormBar {
                    section: Arc::clone(&section),
                    opens_section: i == 0,
                    meter,
                    chords: placed.collect(),
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_are_heard_in_the_mode_of_their_home() {
        let key = |text: &str| {
            let set = Scale::read(text).unwrap();
            key_of(&set, &set.home().unwrap()).unwrap().to_string()
        };
        assert_eq!(key("A minor pentatonic"), "A minor");
        assert_eq!(key("C major pentatonic"), "C major");
        assert_eq!(key("D kumoi"), "D dorian");
        assert_eq!(key("E in-sen"), "E phrygian");
        assert_eq!(key("G dominant pentatonic"), "G mixolydian");
        assert_eq!(key("B iwato"), "B locrian");
        assert_eq!(key("A minor blues"), "A minor");
        assert_eq!(key("C major blues"), "C mixolydian");
    }
}
