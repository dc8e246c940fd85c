//! The guide: a line that runs through a shape of the set.

use super::Note;
use crate::chart::{FormBar, GuideSettings};
use crate::event::{KeyNumber, Velocity};
use crate::neck::{Neck, NeckError, Position, StringNumber, root_shape};
use crate::theory::{Chord, Scale};
use crate::time::Beat;

/// The line of a run of bars.
#[derive(Clone, Debug)]
pub(super) struct GuideLine {
    /// The positions in the order they are played, again and again.
    cycle: Vec<Position>,
    /// How many notes come before each bar.
    before: Vec<usize>,
    /// How many notes all bars have.
    count: usize,
    notes: Option<u32>,
}

impl GuideLine {
    /// The line through the shape that begins at the root on the string asked for.
    pub(super) fn new(
        set: &Scale,
        neck: &Neck,
        settings: &GuideSettings,
        bars: &[FormBar],
    ) -> Result<GuideLine, NeckError> {
        let shape = root_shape(set, neck, StringNumber::new(settings.string)?, false)?;
        let order = settings.run.order(shape.positions().len());
        let cycle = order
            .into_iter()
            .filter_map(|i| shape.positions().get(i).copied())
            .collect();
        let mut count = 0;
        let before = bars
            .iter()
            .map(|bar| {
                let here = count;
                count += beats(bar, settings.notes)
                    .map(|(_, notes)| usize::try_from(notes).unwrap_or(0))
                    .sum::<usize>();
                here
            })
            .collect::<Vec<usize>>();
        Ok(GuideLine {
            cycle,
            before,
            count,
            notes: settings.notes,
        })
    }

    /// The last key of the line, where it has one.
    pub(super) fn last(&self) -> Option<u8> {
        let count = self.count.checked_sub(1)?;
        let at = count.checked_rem(self.cycle.len())?;
        self.cycle.get(at).map(|position| position.midi)
    }

    /// A note to end on, near the key `before` it: the root of `chord` where the shape has it, else another of its tones.
    pub(super) fn last_note(
        &self,
        chord: &Chord,
        before: Option<u8>,
        offset_ticks: u64,
        length_ticks: u64,
    ) -> Option<Note> {
        let from = before.or_else(|| self.cycle.first().map(|position| position.midi))?;
        let near = |wanted: &[u8]| {
            let found = self
                .cycle
                .iter()
                .filter(|p| wanted.contains(&(p.midi % 12)));
            found.min_by_key(|p| (p.midi.abs_diff(from), p.midi))
        };
        let root = chord.root().pitch_class().value();
        let tones: Vec<u8> = chord.pitch_classes().iter().map(|c| c.value()).collect();
        let position = near(&[root]).or_else(|| near(&tones))?;
        Some(Note {
            offset_ticks,
            length_ticks: super::shortened(length_ticks),
            key: KeyNumber::clamped(i32::from(position.midi)),
            velocity: Velocity::clamped(84),
            degree: Some(position.degree),
        })
    }

    /// The notes of the `index`th bar of the run.
    pub(super) fn notes(&self, bar: &FormBar, index: usize) -> Vec<Note> {
        let Some(before) = self.before.get(index).filter(|_| !self.cycle.is_empty()) else {
            return Vec::new();
        };
        let mut found = Vec::new();
        for (beat, count) in beats(bar, self.notes) {
            for i in 0..count {
                let (from, to) = (
                    beat.length_ticks * i / count,
                    beat.length_ticks * (i + 1) / count,
                );
                let position = self.cycle[(before + found.len()) % self.cycle.len()];
                found.push(Note {
                    offset_ticks: beat.offset_ticks + from,
                    length_ticks: super::shortened(to - from),
                    key: KeyNumber::clamped(i32::from(position.midi)),
                    velocity: Velocity::clamped(if i == 0 { 84 } else { 74 }),
                    degree: Some(position.degree),
                });
            }
        }
        found
    }
}

/// The beats of a bar, each with how many notes it has.
fn beats(bar: &FormBar, notes: Option<u32>) -> impl Iterator<Item = (Beat, u64)> + use<> {
    let meter = bar.meter;
    meter.beats().map(move |beat| {
        let usual = if !meter.groups().is_empty() {
            beat.length_ticks / meter.unit_ticks()
        } else if meter.is_compound() {
            3
        } else {
            2
        };
        (beat, notes.map_or(usual, |n| u64::from(n.max(1))))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::{Parts, Piece, Run};

    fn line(chart: &str, settings: &GuideSettings) -> Vec<Vec<(u64, u8, String)>> {
        let set = Scale::read("A minor pentatonic").unwrap();
        let bars = Piece::read_inline(chart).unwrap().0.unfold().unwrap().pass;
        let line = GuideLine::new(&set, &Neck::standard(), settings, &bars).unwrap();
        let shown = |(i, bar): (usize, &FormBar)| {
            let notes = line.notes(bar, i);
            notes
                .iter()
                .map(|n| (n.offset_ticks, n.key.get(), n.degree.unwrap().to_string()))
                .collect()
        };
        bars.iter().enumerate().map(shown).collect()
    }

    #[test]
    fn the_line_runs_on_over_bar_lines_and_names_its_degrees() {
        let settings = GuideSettings {
            run: Run::Up,
            notes: Some(2),
            ..Parts::default().guide
        };
        let bars = line("| Am | (3/4) Dm |", &settings);
        // From A2 on the sixth string, fret 5: A C D E G A C D ...
        let keys: Vec<u8> = bars.concat().iter().map(|n| n.1).collect();
        assert_eq!(
            keys,
            [45, 48, 50, 52, 55, 57, 60, 62, 64, 67, 69, 72, 45, 48]
        );
        let degrees: Vec<String> = bars[0].iter().map(|n| n.2.clone()).collect();
        assert_eq!(degrees, ["1", "b3", "4", "5", "b7", "1", "b3", "4"]);
        assert_eq!(bars[0][1].0, 480);
    }

    #[test]
    fn a_compound_beat_is_shared_evenly() {
        let settings = GuideSettings {
            run: Run::Up,
            notes: None,
            string: 5,
            ..Parts::default().guide
        };
        let bars = line("| (6/8) Am |", &settings);
        let at: Vec<u64> = bars[0].iter().map(|n| n.0).collect();
        assert_eq!(at, [0, 480, 960, 1440, 1920, 2400]);
        // The fifth-string root shape begins at fret 12.
        assert_eq!(bars[0][0].1, 57);
    }
}
