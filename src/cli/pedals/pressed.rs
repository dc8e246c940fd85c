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
    /// A song position, whichever.
    SongPosition,
    /// A song, 0 to 127; written 1 to 128.
    Song(u8),
    /// A request to tune.
    TuneRequest,
    /// A reset.
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

/// Why words are no message: what is wrong, and what to write.
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

/// What a control that never spoke is taken to have said: that it is up.
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
/// The pulses of the clock and time code press nothing: they come by themselves.
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
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_pedal() -> impl Strategy<Value = Pedal> {
        let (channel, seven) = (0u8..16, 0u8..128);
        prop_oneof![
            (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::Note(c, n)),
            (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::Control(c, n)),
            (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::Program(c, n)),
            (channel.clone(), seven.clone()).prop_map(|(c, n)| Pedal::KeyPressure(c, n)),
            channel.clone().prop_map(Pedal::PitchWheel),
            channel.prop_map(Pedal::Pressure),
            seven.prop_map(Pedal::Song),
            prop_oneof![
                Just(Pedal::Start),
                Just(Pedal::Continue),
                Just(Pedal::Stop),
                Just(Pedal::SongPosition),
                Just(Pedal::TuneRequest),
                Just(Pedal::Reset),
            ],
        ]
    }

    proptest! {
        #[test]
        fn a_message_in_words_is_read_as_it_is_written(pedal in any_pedal()) {
            let words = pedal.to_string();
            prop_assert_eq!(Pedal::read(&words), Ok(pedal));
            prop_assert_eq!(Pedal::read(&format!("  {} ", words.to_uppercase().replace(' ', "  "))), Ok(pedal));
        }

        #[test]
        fn any_words_are_survived(text in ".{0,40}", word in "(note|control|program|song) .{0,12}") {
            let _ = (Pedal::read(&text), Pedal::read(&word));
        }

        #[test]
        fn any_bytes_are_survived(messages in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..5), 0..40)) {
            let mut presses = Presses::default();
            for bytes in messages {
                presses.hear(&bytes);
            }
        }
    }

    #[test]
    fn numbers_are_those_that_people_count() {
        assert_eq!(Pedal::Note(9, 60).to_string(), "note 60 on channel 10");
        assert_eq!(Pedal::Control(0, 64).to_string(), "control 64 on channel 1");
        assert_eq!(Pedal::Program(0, 4).to_string(), "program 5 on channel 1");
        assert_eq!(
            Pedal::Program(15, 127).to_string(),
            "program 128 on channel 16"
        );
        assert_eq!(Pedal::Song(0).to_string(), "song 1");
    }

    #[test]
    fn words_that_are_no_message_say_what_to_write() {
        let said: Vec<String> = [
            "",
            "nope",
            "contrl 64 on channel 1",
            "note C4 on channel 1",
            "note 128 on channel 1",
            "note +6 on channel 1",
            "note 60 on channel 17",
            "note 60 on channel 0",
            "program 0 on channel 1",
            "program 129 on channel 1",
            "control 64",
            "song 0",
        ]
        .into_iter()
        .map(|text| {
            let wrong = Pedal::read(text).unwrap_err();
            format!(
                "{}: {}",
                wrong.message,
                wrong.help.replace(SHAPES, "SHAPES")
            )
        })
        .collect();
        insta::assert_snapshot!(said.join("\n"), @"
        `` is no MIDI message: write SHAPES
        `nope` is no MIDI message: the first word may be `note`: write SHAPES
        `contrl 64 on channel 1` is no MIDI message: the first word may be `control`: write SHAPES
        a note is 0 to 127, found `c4`: write a number from 0 to 127
        a note is 0 to 127, found `128`: write a number from 0 to 127
        a note is 0 to 127, found `+6`: write a number from 0 to 127
        a channel is 1 to 16, found `17`: write a number from 1 to 16
        a channel is 1 to 16, found `0`: write a number from 1 to 16
        a program is 1 to 128, found `0`: write a number from 1 to 128
        a program is 1 to 128, found `129`: write a number from 1 to 128
        `control 64` is no MIDI message: write SHAPES
        a song is 1 to 128, found `0`: write a number from 1 to 128
        ");
    }

    /// Which of the values of one controller press it.
    fn of_a_control(values: &[u8]) -> Vec<usize> {
        let mut presses = Presses::default();
        let heard = values.iter().map(|value| presses.hear(&[0xB0, 64, *value]));
        heard
            .enumerate()
            .filter_map(|(at, pedal)| {
                let pedal = pedal?;
                assert_eq!(pedal, Pedal::Control(0, 64));
                Some(at)
            })
            .collect()
    }

    #[test]
    fn a_control_is_pressed_once_each_time_it_comes_down() {
        assert_eq!(of_a_control(&[127, 0, 127, 0]), [0, 2]);
        assert_eq!(of_a_control(&[64, 63, 64]), [0, 2]);
        assert_eq!(of_a_control(&[0, 63, 0]), [0usize; 0]);
        // A switch that never says that it is up again.
        assert_eq!(of_a_control(&[127, 127, 127]), [0, 1, 2]);
        // Swept down and up again.
        let sweep: Vec<u8> = (0..=127).chain((0..127).rev()).collect();
        assert_eq!(of_a_control(&sweep), [64]);
        // Trembling below the end.
        assert_eq!(of_a_control(&[100, 120, 100, 100, 127, 126]), [0]);
    }

    #[test]
    fn controls_of_other_channels_and_numbers_are_others() {
        let mut presses = Presses::default();
        assert!(presses.hear(&[0xB0, 64, 100]).is_some());
        assert!(presses.hear(&[0xB1, 64, 100]).is_some());
        assert!(presses.hear(&[0xB0, 65, 100]).is_some());
        assert!(presses.hear(&[0xB0, 64, 101]).is_none());
    }

    #[test]
    fn notes_and_programs_and_what_has_no_channel() {
        let mut presses = Presses::default();
        let mut hear = |bytes: &[u8]| presses.hear(bytes);
        assert_eq!(hear(&[0x99, 60, 1]), Some(Pedal::Note(9, 60)));
        assert_eq!(hear(&[0x99, 60, 0]), None);
        assert_eq!(hear(&[0x89, 60, 64]), None);
        assert_eq!(hear(&[0xC0, 4]), Some(Pedal::Program(0, 4)));
        assert_eq!(hear(&[0xC0, 4]), Some(Pedal::Program(0, 4)));
        assert_eq!(hear(&[0xFA]), Some(Pedal::Start));
        assert_eq!(hear(&[0xFB]), Some(Pedal::Continue));
        assert_eq!(hear(&[0xFC]), Some(Pedal::Stop));
        assert_eq!(hear(&[0xFF]), Some(Pedal::Reset));
        assert_eq!(hear(&[0xF6]), Some(Pedal::TuneRequest));
        assert_eq!(hear(&[0xF3, 2]), Some(Pedal::Song(2)));
        assert_eq!(hear(&[0xF2, 0, 0]), Some(Pedal::SongPosition));
        for silent in [
            &[][..],
            &[0xF8],
            &[0xF1, 3],
            &[0xFE],
            &[0x90, 60],
            &[0xB0, 64, 200],
        ] {
            assert_eq!(hear(silent), None);
        }
    }

    #[test]
    fn wheel_and_pressure_must_come_back_before_they_count_again() {
        let mut presses = Presses::default();
        let mut wheel = |value: u16| {
            let [high, low] = (value << 1).to_be_bytes();
            presses.hear(&[0xE2, low >> 1, high]) == Some(Pedal::PitchWheel(2))
        };
        let found: Vec<u16> = [
            8192, 12_287, 12_288, 12_000, 13_000, 10_239, 12_288, 16_383, 0,
        ]
        .into_iter()
        .filter(|value| wheel(*value))
        .collect();
        assert_eq!(found, [12_288, 12_288]);
        for status in [&[0xD0][..], &[0xA0, 60]] {
            let mut presses = Presses::default();
            let found: Vec<u8> = [10, 63, 64, 50, 70, 127, 47, 63, 65]
                .into_iter()
                .filter(|value| presses.hear(&[status, &[*value]].concat()).is_some())
                .collect();
            assert_eq!(found, [64, 65]);
        }
    }
}
