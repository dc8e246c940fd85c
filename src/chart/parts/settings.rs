//! The settings of each part: one table, used to read and write documents, to read settings from the command line, and
//! to list them.

use std::collections::BTreeMap;

use super::{BassLine, ClickBeats, PadStrike, Part, Parts, Pattern, Run, Silence, StrumShape};
use crate::event::{Channel, KeyNumber};
use crate::theory::Pitch;

/// A setting of a part.
#[derive(Clone, Copy, Debug)]
pub struct Setting {
    /// Its key in the part's table of a document.
    pub key: &'static str,
    /// What it does, in half a line.
    pub about: &'static str,
    pub(in crate::chart) kind: Kind,
}

/// Access to a value in the parts of a piece, to read or change it.
type Lens<T> = fn(&mut Parts, Part) -> &mut T;

/// The type of a setting, and where it is stored in the parts of a piece.
#[derive(Clone, Copy, Debug)]
pub(in crate::chart) enum Kind {
    /// `true` or `false`.
    YesNo(Lens<bool>),
    /// A whole number.
    Whole {
        least: i64,
        most: i64,
        /// `None` by default.
        get: fn(&Parts, Part) -> Option<i64>,
        /// Takes what lies between least and most.
        set: fn(&mut Parts, Part, i64),
    },
    /// One of these words, each by its place.
    Choice {
        words: &'static [&'static str],
        get: fn(&Parts) -> usize,
        set: fn(&mut Parts, usize),
    },
    /// A note with its octave.
    Note {
        /// The default, as it is written.
        usual: &'static str,
        lens: Lens<KeyNumber>,
    },
    /// A rhythm over a bar.
    Rhythm(Lens<Option<Pattern>>),
    /// Rhythms over a bar by the section they are played in.
    Rhythms(Lens<BTreeMap<String, Pattern>>),
    /// Beats of a bar, or all.
    Beats(Lens<ClickBeats>),
    /// Bars without click, or none.
    Silent(Lens<Option<Silence>>),
}

/// Converts to a smaller type a value that is known to fit.
fn small<T: TryFrom<i64> + Default>(n: i64) -> T {
    T::try_from(n).unwrap_or_default()
}

const ON: Setting = Setting {
    key: "on",
    about: "whether it plays; a part that is named does",
    kind: Kind::YesNo(|parts, part| &mut parts.common_mut(part).on),
};
const LEVEL: Setting = Setting {
    key: "level",
    about: "how loud",
    kind: Kind::Whole {
        least: 0,
        most: 127,
        get: |parts, part| Some(parts.common(part).level.into()),
        set: |parts, part, level| parts.common_mut(part).level = small(level),
    },
};
const PAN: Setting = Setting {
    key: "pan",
    about: "from left (-100) to right (100)",
    kind: Kind::Whole {
        least: -100,
        most: 100,
        get: |parts, part| Some(parts.common(part).pan.into()),
        set: |parts, part, pan| parts.common_mut(part).pan = small(pan),
    },
};
const CHANNEL: Setting = Setting {
    key: "channel",
    about: "its MIDI channel",
    kind: Kind::Whole {
        least: 1,
        most: 16,
        get: |parts, part| Some(parts.common(part).channel.number().into()),
        set: |parts, part, channel| {
            if let Ok(channel) = Channel::new(small(channel)) {
                parts.common_mut(part).channel = channel;
            }
        },
    },
};
const PROGRAM: Setting = Setting {
    key: "program",
    about: "its General MIDI sound",
    kind: Kind::Whole {
        least: 1,
        most: 128,
        get: |parts, part| {
            parts
                .common(part)
                .program
                .map(|from_0| i64::from(from_0) + 1)
        },
        set: |parts, part, program| parts.common_mut(part).program = Some(small(program - 1)),
    },
};

/// What the parts that play on the percussion channel have.
const OF_ALL: [Setting; 4] = [ON, LEVEL, PAN, CHANNEL];

const OF_CLICK: [Setting; 5] = [
    Setting {
        key: "count_in",
        about: "bars before bar 1",
        kind: Kind::Whole {
            least: 0,
            most: 8,
            get: |parts, _| Some(parts.click.count_in.into()),
            set: |parts, _, bars| parts.click.count_in = small(bars),
        },
    },
    Setting {
        key: "accents",
        about: "whether first beats, and the first notes of groups, are louder",
        kind: Kind::YesNo(|parts, _| &mut parts.click.accents),
    },
    Setting {
        key: "subdivide",
        about: "clicks to the beat",
        kind: Kind::Whole {
            least: 1,
            most: 8,
            get: |parts, _| Some(parts.click.subdivide.into()),
            set: |parts, _, clicks| parts.click.subdivide = small(clicks),
        },
    },
    Setting {
        key: "beats",
        about: "which beats click; the count-in keeps all",
        kind: Kind::Beats(|parts, _| &mut parts.click.beats),
    },
    Setting {
        key: "silent",
        about: "bars without click: in turn, or by chance",
        kind: Kind::Silent(|parts, _| &mut parts.click.silent),
    },
];

const OF_PADS: [Setting; 5] = [
    Setting {
        key: "voices",
        about: "notes to a chord at most",
        kind: Kind::Whole {
            least: 2,
            most: 6,
            get: |parts, _| Some(parts.pads.voices.into()),
            set: |parts, _, voices| parts.pads.voices = small(voices),
        },
    },
    Setting {
        key: "strike",
        about: "struck in every bar, or where the chord changes",
        kind: Kind::Choice {
            words: &["bar", "change"],
            get: |parts| match parts.pads.strike {
                PadStrike::Bar => 0,
                PadStrike::Change => 1,
            },
            set: |parts, at| parts.pads.strike = [PadStrike::Bar, PadStrike::Change][at],
        },
    },
    Setting {
        key: "rhythm",
        about: "a rhythm to strike in instead, spread over each bar",
        kind: Kind::Rhythm(|parts, _| &mut parts.pads.rhythm),
    },
    Setting {
        key: "low",
        about: "the lowest note",
        kind: Kind::Note {
            usual: "G2",
            lens: |parts, _| &mut parts.pads.low,
        },
    },
    Setting {
        key: "high",
        about: "the highest note, at least 16 semitones above `low`",
        kind: Kind::Note {
            usual: "E5",
            lens: |parts, _| &mut parts.pads.high,
        },
    },
];

const OF_BASS: [Setting; 1] = [Setting {
    key: "line",
    about: "what it plays",
    kind: Kind::Choice {
        words: &["groove", "roots", "root and fifth", "walking"],
        get: |parts| match parts.bass.line {
            BassLine::Groove => 0,
            BassLine::Roots => 1,
            BassLine::RootFifth => 2,
            BassLine::Walking => 3,
        },
        set: |parts, at| {
            parts.bass.line = [
                BassLine::Groove,
                BassLine::Roots,
                BassLine::RootFifth,
                BassLine::Walking,
            ][at];
        },
    },
}];

const OF_DRONE: [Setting; 1] = [Setting {
    key: "notes",
    about: "what it holds",
    kind: Kind::Choice {
        words: &["tonic", "tonic and fifth"],
        get: |parts| usize::from(parts.drone.fifth),
        set: |parts, at| parts.drone.fifth = at == 1,
    },
}];

const OF_STRUM: [Setting; 5] = [
    Setting {
        key: "strokes",
        about: "the strokes of a bar; by the groove unless said",
        kind: Kind::Rhythm(|parts, _| &mut parts.strum.pattern),
    },
    Setting {
        key: "section_strokes",
        about: "other strokes in sections, by their names",
        kind: Kind::Rhythms(|parts, _| &mut parts.strum.in_sections),
    },
    Setting {
        key: "shape",
        about: "the shape nearest to the chord before, or always the easiest",
        kind: Kind::Choice {
            words: &["near", "easiest"],
            get: |parts| match parts.strum.shape {
                StrumShape::Near => 0,
                StrumShape::Easiest => 1,
            },
            set: |parts, at| parts.strum.shape = [StrumShape::Near, StrumShape::Easiest][at],
        },
    },
    Setting {
        key: "spread_ms",
        about: "milliseconds from string to string",
        kind: Kind::Whole {
            least: 0,
            most: 40,
            get: |parts, _| Some(parts.strum.spread_ms.into()),
            set: |parts, _, ms| parts.strum.spread_ms = small(ms),
        },
    },
    Setting {
        key: "one_string",
        about: "a string a stroke, from the lowest up, to hear whether each rings",
        kind: Kind::YesNo(|parts, _| &mut parts.strum.strings),
    },
];

const OF_GUIDE: [Setting; 4] = [
    Setting {
        key: "string",
        about: "the string its root lies on",
        kind: Kind::Whole {
            least: 5,
            most: 6,
            get: |parts, _| Some(parts.guide.string.into()),
            set: |parts, _, string| parts.guide.string = small(string),
        },
    },
    Setting {
        key: "run",
        about: "how it runs through the shape",
        kind: Kind::Choice {
            words: &Run::WORDS,
            get: |parts| {
                Run::ALL
                    .iter()
                    .position(|run| *run == parts.guide.run)
                    .unwrap_or(0)
            },
            set: |parts, at| parts.guide.run = Run::ALL[at],
        },
    },
    Setting {
        key: "notes",
        about: "notes to the beat; by the meter unless said",
        kind: Kind::Whole {
            least: 1,
            most: 8,
            get: |parts, _| parts.guide.notes.map(i64::from),
            set: |parts, _, notes| parts.guide.notes = Some(small(notes)),
        },
    },
    Setting {
        key: "meets_chords",
        about: "whether chords begin on their tones; else the run goes on",
        kind: Kind::YesNo(|parts, _| &mut parts.guide.meets_chords),
    },
];

impl Part {
    /// Its settings: those that every part has, then its own.
    pub fn settings(self) -> impl Iterator<Item = &'static Setting> {
        let program: &[Setting] = if self.is_pitched() { &[PROGRAM] } else { &[] };
        let own: &[Setting] = match self {
            Part::Click => &OF_CLICK,
            Part::Pads => &OF_PADS,
            Part::Bass => &OF_BASS,
            Part::Kit => &[],
            Part::Drone => &OF_DRONE,
            Part::Strum => &OF_STRUM,
            Part::Guide => &OF_GUIDE,
        };
        OF_ALL.iter().chain(program).chain(own)
    }
}

impl Setting {
    /// Whether every part has it, or every part with pitches.
    pub fn is_common(&self) -> bool {
        let mut common = OF_ALL.iter().chain([&PROGRAM]);
        common.any(|common| common.key == self.key)
    }

    /// What may be written, as a list or a piece of advice says it: `0 to 127`, `roots, root and fifth, walking`.
    pub fn range(&self) -> String {
        match self.kind {
            Kind::YesNo(_) => "true or false".to_owned(),
            Kind::Whole { least, most, .. } => format!("{least} to {most}"),
            Kind::Choice { words, .. } => words.join(", "),
            Kind::Note { .. } => "a note with its octave".to_owned(),
            Kind::Rhythm(_) => "places such as D . D U, 1 to 32".to_owned(),
            Kind::Rhythms(_) => "a table such as { A = \"s s s s\" }".to_owned(),
            Kind::Beats(_) => "all, or a list such as [2, 4]".to_owned(),
            Kind::Silent(_) => "none, 3 on 1 off, or 1 in 4".to_owned(),
        }
    }

    /// Its value in these parts, as a document has it; `None` if it is not set and the meter decides.
    pub fn value(&self, part: Part, parts: &Parts) -> Option<toml::Value> {
        let parts = &mut parts.clone();
        let text = |text: String| Some(toml::Value::String(text));
        match self.kind {
            Kind::YesNo(lens) => Some((*lens(parts, part)).into()),
            Kind::Whole { get, .. } => get(parts, part).map(toml::Value::Integer),
            Kind::Choice { words, get, .. } => text(words[get(parts)].to_owned()),
            Kind::Note { lens, .. } => {
                let key = i32::from(lens(parts, part).get());
                text(Pitch::of_key(key).to_string())
            }
            Kind::Rhythm(lens) => text(lens(parts, part).as_ref()?.to_string()),
            Kind::Rhythms(lens) => {
                let rhythms = lens(parts, part).iter();
                let table: toml::Table = rhythms
                    .map(|(name, rhythm)| (name.clone(), rhythm.to_string().into()))
                    .collect();
                Some(table.into())
            }
            Kind::Beats(lens) => match lens(parts, part) {
                ClickBeats::All => text("all".to_owned()),
                ClickBeats::Only(beats) => Some(
                    beats
                        .iter()
                        .map(|b| i64::from(*b))
                        .collect::<Vec<i64>>()
                        .into(),
                ),
            },
            Kind::Silent(lens) => {
                text(lens(parts, part).map_or("none".to_owned(), |silent| silent.to_string()))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_setting_has_one_key_and_takes_all_its_values() {
        for part in Part::ALL {
            let mut keys: Vec<&str> = part.settings().map(|s| s.key).collect();
            let count = keys.len();
            keys.sort_unstable();
            keys.dedup();
            assert_eq!(keys.len(), count, "{part:?}");
            for setting in part.settings() {
                let mut parts = Parts::default();
                match setting.kind {
                    Kind::Whole {
                        least,
                        most,
                        get,
                        set,
                    } => {
                        for n in least..=most {
                            set(&mut parts, part, n);
                            assert_eq!(get(&parts, part), Some(n), "{part:?} {}", setting.key);
                        }
                    }
                    Kind::Choice { words, get, set } => {
                        for at in 0..words.len() {
                            set(&mut parts, at);
                            assert_eq!(get(&parts), at, "{part:?} {}", setting.key);
                        }
                    }
                    Kind::Note { usual, .. } => {
                        let value = setting.value(part, &parts).unwrap();
                        assert_eq!(value.as_str(), Some(usual));
                    }
                    _ => {}
                }
                assert!(!setting.about.is_empty() && !setting.range().is_empty());
            }
        }
    }

    #[test]
    fn the_percussion_has_no_program() {
        let without: Vec<Part> = Part::ALL
            .into_iter()
            .filter(|part| part.settings().all(|s| s.key != "program"))
            .collect();
        assert_eq!(without, [Part::Click, Part::Kit]);
        let parts = Parts::default();
        for part in Part::ALL {
            assert_eq!(part.is_pitched(), parts.common(part).program.is_some());
        }
    }
}
