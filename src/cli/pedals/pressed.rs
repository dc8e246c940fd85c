//! What can be pressed: MIDI messages in words, and when one counts as pressed.

use std::fmt;

use crate::theory::nearest;

/// A pedal, a pad or a button, told by the message it sends.
///
/// Channels and programs count from 1 where they are written, and from 0 here, as on the wire. Notes and controls count
/// from 0 in both.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(in crate::cli) enum Pedal {
    /// A note, by channel and key.
    Note(u8, u8),
    /// A control, by channel and controller.
    Control(u8, u8),
    /// A program, by channel and program.
    Program(u8, u8),
    /// The pitch wheel of a channel.
    PitchWheel(u8),
    /// The pressure on all keys of a channel.
    Pressure(u8),
    /// The pressure on one key, by channel and key.
    KeyPressure(u8, u8),
    /// A sequencer's start.
    Start,
    /// A sequencer's continue.
    Continue,
    /// A sequencer's stop.
    Stop,
    /// Any song position.
    SongPosition,
    /// A song, 0 to 127; written 1 to 128.
    Song(u8),
    /// A request to tune.
    TuneRequest,
    /// A system reset (0xFF).
    Reset,
}

/// How a message is written.
const SHAPES: &str = "`note 60 on channel 10`, `control 64 on channel 1`, `program 5 on channel 1`, `pitch wheel on channel 1`, \
     `pressure on channel 1`, `pressure of note 60 on channel 1`, `song 3`, `song position`, `start`, `continue`, `stop`, \
     `tune request` or `reset`";

/// First words of messages, for what is nearly one.
const FIRST: [&str; 11] = [
    "note", "control", "program", "pitch", "pressure", "song", "start", "continue", "stop", "tune",
    "reset",
];

/// Why words are not a message: what is wrong, and what to write.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::cli) struct NoPedal {
    pub(in crate::cli) message: String,
    pub(in crate::cli) help: String,
}

impl fmt::Display for Pedal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let one = |n: u8| u16::from(n) + 1;
        match *self {
            Pedal::Note(channel, key) => write!(f, "note {key} on channel {}", one(channel)),
            Pedal::Control(channel, controller) => {
                write!(f, "control {controller} on channel {}", one(channel))
            }
            Pedal::Program(channel, program) => {
                write!(f, "program {} on channel {}", one(program), one(channel))
            }
            Pedal::PitchWheel(channel) => write!(f, "pitch wheel on channel {}", one(channel)),
            Pedal::Pressure(channel) => write!(f, "pressure on channel {}", one(channel)),
            Pedal::KeyPressure(channel, key) => {
                write!(f, "pressure of note {key} on channel {}", one(channel))
            }
            Pedal::Start => f.write_str("start"),
            Pedal::Continue => f.write_str("continue"),
            Pedal::Stop => f.write_str("stop"),
            Pedal::SongPosition => f.write_str("song position"),
            Pedal::Song(song) => write!(f, "song {}", one(song)),
            Pedal::TuneRequest => f.write_str("tune request"),
            Pedal::Reset => f.write_str("reset"),
        }
    }
}

impl Pedal {
    /// Reads the words that [`Pedal`]'s `Display` prints, in any case and with any white space.
    pub(in crate::cli) fn read(text: &str) -> Result<Pedal, NoPedal> {
        let lower = text.to_lowercase();
        let words: Vec<&str> = lower.split_whitespace().collect();
        let pedal = match words.as_slice() {
            ["note", key, "on", "channel", channel] => {
                Pedal::Note(read_channel(channel)?, number("a note", key, 0, 127)?)
            }
            ["control", controller, "on", "channel", channel] => Pedal::Control(
                read_channel(channel)?,
                number("a control", controller, 0, 127)?,
            ),
            ["program", program, "on", "channel", channel] => Pedal::Program(
                read_channel(channel)?,
                number("a program", program, 1, 128)? - 1,
            ),
            ["pitch", "wheel", "on", "channel", channel] => {
                Pedal::PitchWheel(read_channel(channel)?)
            }
            ["pressure", "on", "channel", channel] => Pedal::Pressure(read_channel(channel)?),
            ["pressure", "of", "note", key, "on", "channel", channel] => {
                Pedal::KeyPressure(read_channel(channel)?, number("a note", key, 0, 127)?)
            }
            ["start"] => Pedal::Start,
            ["continue"] => Pedal::Continue,
            ["stop"] => Pedal::Stop,
            ["song", "position"] => Pedal::SongPosition,
            ["song", song] => Pedal::Song(number("a song", song, 1, 128)? - 1),
            ["tune", "request"] => Pedal::TuneRequest,
            ["reset"] => Pedal::Reset,
            other => return Err(no_pedal(text, other)),
        };
        Ok(pedal)
    }
}

fn read_channel(text: &str) -> Result<u8, NoPedal> {
    Ok(number("a channel", text, 1, 16)? - 1)
}

fn number(what: &str, text: &str, low: u8, high: u8) -> Result<u8, NoPedal> {
    let digits = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let found = digits.then(|| text.parse::<u8>().ok()).flatten();
    found
        .filter(|n| (low..=high).contains(n))
        .ok_or_else(|| NoPedal {
            message: format!("{what} is {low} to {high}, found `{text}`"),
            help: format!("write a number from {low} to {high}"),
        })
}

fn no_pedal(text: &str, words: &[&str]) -> NoPedal {
    let first = words.first().copied().unwrap_or("");
    let help = match nearest(first, FIRST) {
        Some(near) if near != first => format!("the first word may be `{near}`: write {SHAPES}"),
        _ => format!("write {SHAPES}"),
    };
    NoPedal {
        message: format!("`{}` is no MIDI message", text.trim()),
        help,
    }
}

/// From this value on a control or a pressure is down.
const DOWN: u8 = 64;

/// Below this a pressure that was down is up again.
const PRESSURE_UP: u8 = 48;

/// From here on the pitch wheel is down: half of the way up, in fourteen bits, from the 8192 at which it rests.
const WHEEL_DOWN: u16 = 12_288;

/// Below this a wheel that was down is back.
const WHEEL_UP: u16 = 10_240;

/// The assumed value of a control that has sent nothing yet: up.
const UP: u8 = 0;

/// Hears messages and tells which of them press something.
///
/// - A note is pressed when it is struck: its velocity is above 0.
/// - A control is pressed by a value of 64 or more after one below 64 or none, and by 127 after 127: so a switch counts that
///   says 127 each time and never 0, and a pedal that is swept through its upper half counts once.
/// - Pressure is pressed when it comes to 64 or more, and again only after it was below 48.
/// - The pitch wheel is pressed when it is pushed up beyond half of its way, and again only after it was back below a
///   quarter.
/// - A program, and what belongs to no channel, is pressed by the message itself.
///
/// Clock pulses and time code press nothing: they come by themselves.
pub(in crate::cli) struct Presses {
    controls: Box<[[u8; 128]; 16]>,
    keys: Box<[[bool; 128]; 16]>,
    pressures: [bool; 16],
    wheels: [bool; 16],
}

impl Default for Presses {
    fn default() -> Self {
        Presses {
            controls: Box::new([[UP; 128]; 16]),
            keys: Box::new([[false; 128]; 16]),
            pressures: [false; 16],
            wheels: [false; 16],
        }
    }
}

impl Presses {
    /// What a message presses, if anything.
    pub(in crate::cli) fn hear(&mut self, bytes: &[u8]) -> Option<Pedal> {
        let (status, data) = bytes.split_first()?;
        if data.iter().any(|b| *b >= 0x80) {
            return None;
        }
        let channel = status & 0x0F;
        let at = usize::from(channel);
        match (status >> 4, data) {
            (0x9, [key, velocity]) => (*velocity > 0).then_some(Pedal::Note(channel, *key)),
            (0xA, [key, value]) => {
                let down = &mut self.keys[at][usize::from(*key)];
                pressed(down, *value).then_some(Pedal::KeyPressure(channel, *key))
            }
            (0xB, [controller, value]) => {
                let before = &mut self.controls[at][usize::from(*controller)];
                let before = std::mem::replace(before, *value);
                let comes_down = before < DOWN && *value >= DOWN;
                let says_so_again = before == 127 && *value == 127;
                (comes_down || says_so_again).then_some(Pedal::Control(channel, *controller))
            }
            (0xC, [program]) => Some(Pedal::Program(channel, *program)),
            (0xD, [value]) => {
                pressed(&mut self.pressures[at], *value).then_some(Pedal::Pressure(channel))
            }
            (0xE, [low, high]) => {
                let value = u16::from(*high) << 7 | u16::from(*low);
                let down = &mut self.wheels[at];
                let limit = if *down { WHEEL_UP } else { WHEEL_DOWN };
                let was = std::mem::replace(down, value >= limit);
                (!was && *down).then_some(Pedal::PitchWheel(channel))
            }
            (0xF, data) => match (channel, data) {
                (0x2, [_, _]) => Some(Pedal::SongPosition),
                (0x3, [song]) => Some(Pedal::Song(*song)),
                (0x6, []) => Some(Pedal::TuneRequest),
                (0xA, []) => Some(Pedal::Start),
                (0xB, []) => Some(Pedal::Continue),
                (0xC, []) => Some(Pedal::Stop),
                (0xF, []) => Some(Pedal::Reset),
                _ => None,
            },
            _ => None,
        }
    }
}

/// Whether a pressure comes down with this value.
fn pressed(down: &mut bool, value: u8) -> bool {
    let was = *down;
    *down = value >= if was { PRESSURE_UP } else { DOWN };
    !was && *down
}

#[cfg(test)]
mod tests;
