//! What a document may say about each part.

use crate::event::{Channel, KeyNumber};

/// What every part has.
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
    /// MIDI channel.
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

/// Bars with click and bars without, in turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Silence {
    /// Bars with click, at least 1.
    pub on_bars: u32,
    /// Bars without, at least 1.
    pub off_bars: u32,
}

impl Silence {
    /// Reads `3 on 1 off`, or `none`; both counts are 1 to 64. The outer `None` is a text that is neither.
    #[allow(clippy::option_option)]
    pub fn read(text: &str) -> Option<Option<Silence>> {
        let words: Vec<&str> = text.split_whitespace().collect();
        match words.as_slice() {
            ["none"] => Some(None),
            [on, "on", off, "off"] => {
                let bars = |t: &str| t.parse::<u32>().ok().filter(|n| (1..=64).contains(n));
                Some(Some(Silence {
                    on_bars: bars(on)?,
                    off_bars: bars(off)?,
                }))
            }
            _ => None,
        }
    }
}

/// The click.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClickSettings {
    /// What every part has.
    pub common: PartCommon,
    /// Bars of count-in, 0 to 8.
    pub count_in: u32,
    /// Whether first beats and first notes of groups are accented.
    pub accents: bool,
    /// Clicks to the beat, 1 to 8.
    pub subdivide: u32,
    /// Which beats.
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
    /// What every part has.
    pub common: PartCommon,
    /// Voices to a chord, 2 to 6; chords of fewer tones have fewer.
    pub voices: u32,
    /// Lowest key of the register.
    pub low: KeyNumber,
    /// Highest key of the register, at least 16 semitones above `low`.
    pub high: KeyNumber,
    /// When a chord is struck.
    pub strike: PadStrike,
}

/// What the bass plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum BassLine {
    /// The root of each chord (its bass, where one is written).
    #[default]
    Roots,
    /// Root and fifth in turn.
    RootFifth,
}

/// The bass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BassSettings {
    /// What every part has.
    pub common: PartCommon,
    /// What it plays.
    pub line: BassLine,
}

/// The drone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DroneSettings {
    /// What every part has.
    pub common: PartCommon,
    /// Whether the fifth sounds above the tonic.
    pub fifth: bool,
}

/// The percussion groove.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KitSettings {
    /// What every part has.
    pub common: PartCommon,
}

/// All parts of a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parts {
    /// The click.
    pub click: ClickSettings,
    /// The chord pads.
    pub pads: PadSettings,
    /// The bass.
    pub bass: BassSettings,
    /// The percussion groove.
    pub kit: KitSettings,
    /// The drone.
    pub drone: DroneSettings,
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
                common: part(true, 80, Some(89), 1),
                voices: 4,
                // E3 to E5: above the bass, below a lead guitar's upper frets.
                low: KeyNumber::clamped(52),
                high: KeyNumber::clamped(76),
                strike: PadStrike::Bar,
            },
            // Fingered bass.
            bass: BassSettings {
                common: part(true, 95, Some(33), 2),
                line: BassLine::Roots,
            },
            kit: KitSettings {
                common: part(false, 85, None, 10),
            },
            // Strings.
            drone: DroneSettings {
                common: part(false, 60, Some(48), 3),
                fifth: true,
            },
        }
    }
}

impl Parts {
    /// Names of all parts, in the order they are listed to people.
    pub const NAMES: [&'static str; 5] = ["click", "pads", "bass", "kit", "drone"];

    /// What every part has, of the part of this name.
    pub fn common(&self, name: &str) -> Option<&PartCommon> {
        Some(match name {
            "click" => &self.click.common,
            "pads" => &self.pads.common,
            "bass" => &self.bass.common,
            "kit" => &self.kit.common,
            "drone" => &self.drone.common,
            _ => return None,
        })
    }

    /// The same, to change it.
    pub fn common_mut(&mut self, name: &str) -> Option<&mut PartCommon> {
        Some(match name {
            "click" => &mut self.click.common,
            "pads" => &mut self.pads.common,
            "bass" => &mut self.bass.common,
            "kit" => &mut self.kit.common,
            "drone" => &mut self.drone.common,
            _ => return None,
        })
    }
}
