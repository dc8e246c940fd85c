//! What a document may say about each part.

mod part;
mod run;
mod settings;

use std::collections::BTreeMap;
use std::fmt;

pub use self::part::Part;
pub use self::run::Run;
pub(super) use self::settings::Kind;
pub use self::settings::Setting;
use crate::event::{Channel, KeyNumber};
use crate::groove::Pattern;

/// The settings that every part has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartCommon {
    /// Whether it plays.
    pub on: bool,
    /// Volume, 0 to 127.
    pub level: u8,
    /// Place between left (-100) and right (100).
    pub pan: i8,
    /// General MIDI program counted from 0 (a document prints it from 1); `None` for percussion.
    pub program: Option<u8>,
    /// The MIDI channel the part plays on.
    pub channel: Channel,
}

/// Which beats are clicked.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum ClickBeats {
    /// Every beat; in a grouped meter every denominator note.
    #[default]
    All,
    /// Only these beats of each bar, counted from 1. The count-in keeps every beat.
    Only(Vec<u32>),
}

/// Bars without click.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Silence {
    /// Bars with click and bars without, in turn, counted from bar 1.
    Turns {
        /// Bars with click, 1 to 64.
        on_bars: u32,
        /// Bars without, 1 to 64.
        off_bars: u32,
    },
    /// Each bar but the first is silent with a chance of one in so many, by the seed; 2 to 64.
    OneIn(u32),
}

impl Silence {
    /// Reads `3 on 1 off` (both 1 to 64), `1 in 4` (2 to 64), or `none`. The outer `None` means a text that is none of
    /// these.
    #[allow(clippy::option_option)]
    pub fn read(text: &str) -> Option<Option<Silence>> {
        let words: Vec<&str> = text.split_whitespace().collect();
        match words.as_slice() {
            ["none"] => Some(None),
            [on, "on", off, "off"] => {
                let bars = |t: &str| t.parse::<u32>().ok().filter(|n| (1..=64).contains(n));
                Some(Some(Silence::Turns {
                    on_bars: bars(on)?,
                    off_bars: bars(off)?,
                }))
            }
            ["1", "in", bars] => {
                let bars = bars.parse::<u32>().ok().filter(|n| (2..=64).contains(n))?;
                Some(Some(Silence::OneIn(bars)))
            }
            _ => None,
        }
    }
}

impl fmt::Display for Silence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Silence::Turns { on_bars, off_bars } => write!(f, "{on_bars} on {off_bars} off"),
            Silence::OneIn(bars) => write!(f, "1 in {bars}"),
        }
    }
}

/// Settings of the click.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClickSettings {
    /// The settings that every part has.
    pub common: PartCommon,
    /// Bars of count-in, 0 to 8.
    pub count_in: u32,
    /// Whether first beats and first notes of groups are accented.
    pub accents: bool,
    /// Clicks to the beat, 1 to 8.
    pub subdivide: u32,
    /// Which beats click.
    pub beats: ClickBeats,
    /// Silent bars, if any.
    pub silent: Option<Silence>,
}

/// When a pad chord is struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum PadStrike {
    /// At every chord as written, so at least once a bar; a held chord is not struck again.
    #[default]
    Bar,
    /// Only where the chord changes.
    Change,
}

/// The chord pads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PadSettings {
    /// The settings that every part has.
    pub common: PartCommon,
    /// Voices to a chord, 2 to 6; chords of fewer tones have fewer.
    pub voices: u32,
    /// Lowest key of the register.
    pub low: KeyNumber,
    /// Highest key of the register, at least 16 semitones above `low`.
    pub high: KeyNumber,
    /// When a chord is struck.
    pub strike: PadStrike,
    /// A rhythm to strike in instead, spread evenly over each bar; by default that of the groove.
    pub rhythm: Option<Pattern>,
}

/// What the bass plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum BassLine {
    /// What the groove has.
    #[default]
    Groove,
    /// The root of each chord (its bass, where one is written), on the strong beats.
    Roots,
    /// Root and fifth in turn.
    RootFifth,
    /// A note a beat that walks from root to root, with seeded choices.
    Walking,
}

/// Settings of the bass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BassSettings {
    /// The settings that every part has.
    pub common: PartCommon,
    /// What it plays.
    pub line: BassLine,
}

/// Settings of the drone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DroneSettings {
    /// The settings that every part has.
    pub common: PartCommon,
    /// Whether the fifth sounds above the tonic.
    pub fifth: bool,
}

/// The percussion groove.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KitSettings {
    /// The settings that every part has.
    pub common: PartCommon,
}

/// The guide: a line that runs through a shape of the set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GuideSettings {
    /// The settings that every part has.
    pub common: PartCommon,
    /// The string the shape's root lies on, counted from the highest.
    pub string: u8,
    /// How it runs.
    pub run: Run,
    /// Notes to the beat, 1 to 8; by default two, three in a compound meter, and every denominator note of a group.
    pub notes: Option<u32>,
    /// Whether it turns where it must so that chords begin on their tones; else it is the run alone.
    pub meets_chords: bool,
}

/// The strummed guitar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StrumSettings {
    /// The settings that every part has.
    pub common: PartCommon,
    /// The strokes of a bar; by default those of the groove.
    pub pattern: Option<Pattern>,
    /// The strokes of a bar in these sections, by name, instead.
    pub in_sections: BTreeMap<String, Pattern>,
    /// Which shape a chord has.
    pub shape: StrumShape,
    /// Milliseconds from string to string, 0 to 40.
    pub spread_ms: u32,
    /// One string at a time, from the lowest up, a string a stroke: to hear whether each rings.
    pub strings: bool,
}

/// Which of the shapes of a chord is strummed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StrumShape {
    /// Of a few easy ones that with the shortest way from the chord before.
    Near,
    /// The easiest one, wherever the hand comes from: a chord has the same shape each time.
    Easiest,
}

/// All parts of a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parts {
    /// Settings of the click.
    pub click: ClickSettings,
    /// Settings of the chord pads.
    pub pads: PadSettings,
    /// Settings of the bass.
    pub bass: BassSettings,
    /// Settings of the percussion groove.
    pub kit: KitSettings,
    /// Settings of the drone.
    pub drone: DroneSettings,
    /// Settings of the strummed guitar.
    pub strum: StrumSettings,
    /// Settings of the guide line.
    pub guide: GuideSettings,
}

impl Default for Parts {
    /// Click, pads and bass on, kit and drone off.
    fn default() -> Self {
        let channel = |nibble: u8| Channel::new(nibble).unwrap_or(Channel::PERCUSSION);
        let part = |on, level, program: Option<u8>, number| PartCommon {
            on,
            level,
            pan: 0,
            program,
            channel: channel(number),
        };
        Parts {
            click: ClickSettings {
                common: part(true, 100, None, 10),
                count_in: 1,
                accents: true,
                subdivide: 1,
                beats: ClickBeats::All,
                silent: None,
            },
            pads: PadSettings {
                // Warm pad.
                common: part(true, 95, Some(89), 1),
                voices: 4,
                // G2 to E5: above the bass, below a lead guitar's upper frets.
                low: KeyNumber::clamped(43),
                high: KeyNumber::clamped(76),
                strike: PadStrike::Bar,
                rhythm: None,
            },
            // Fingered bass.
            bass: BassSettings {
                common: part(true, 95, Some(33), 2),
                line: BassLine::Groove,
            },
            kit: KitSettings {
                common: part(false, 85, None, 10),
            },
            // Strings.
            drone: DroneSettings {
                common: part(false, 60, Some(48), 3),
                fifth: true,
            },
            // Steel-string guitar.
            strum: StrumSettings {
                common: part(false, 90, Some(25), 4),
                pattern: None,
                in_sections: BTreeMap::new(),
                shape: StrumShape::Near,
                spread_ms: 12,
                strings: false,
            },
            // Jazz guitar.
            guide: GuideSettings {
                common: part(false, 90, Some(26), 5),
                string: 6,
                run: Run::Both,
                notes: None,
                meets_chords: true,
            },
        }
    }
}

impl Parts {
    /// The settings that every part has, of one part.
    pub fn common(&self, part: Part) -> &PartCommon {
        match part {
            Part::Click => &self.click.common,
            Part::Pads => &self.pads.common,
            Part::Bass => &self.bass.common,
            Part::Kit => &self.kit.common,
            Part::Drone => &self.drone.common,
            Part::Strum => &self.strum.common,
            Part::Guide => &self.guide.common,
        }
    }

    /// The same, to change it.
    pub fn common_mut(&mut self, part: Part) -> &mut PartCommon {
        match part {
            Part::Click => &mut self.click.common,
            Part::Pads => &mut self.pads.common,
            Part::Bass => &mut self.bass.common,
            Part::Kit => &mut self.kit.common,
            Part::Drone => &mut self.drone.common,
            Part::Strum => &mut self.strum.common,
            Part::Guide => &mut self.guide.common,
        }
    }
}
