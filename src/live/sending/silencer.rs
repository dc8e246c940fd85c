//! A port that knows what sounds on it, so that it can always be silenced.

use std::thread;
use std::time::{Duration, Instant};

use crate::event::{Channel, KeyNumber, Message, PartMessage};
use crate::live::dispatch::Outgoing;
use crate::midi::{Bytes, OutputPort, PortError, System, wire_bytes};

/// Controllers of the MIDI 1.0 table that end sound: sustain pedal off, all notes off, all sound off.
const SILENCE: [u8; 3] = [64, 123, 120];

/// How long refused messages are retried while silencing: within the two seconds that a lane may take to end.
pub(super) const SILENCING: Duration = Duration::from_millis(1700);

/// What was set on a channel, to be set again where the port comes back.
#[derive(Clone, Copy)]
struct Setting {
    program: Option<u8>,
    controls: [Option<u8>; 128],
}

/// A port that knows what sounds. Dropping it, in a panic too, silences.
pub(super) struct Silencer<P: OutputPort> {
    /// `None` while it is gone.
    port: Option<P>,
    sounding: Box<[[u8; 128]; 16]>,
    used: [bool; 16],
    settings: Box<[Setting; 16]>,
    /// Whether a follower of the clock was told to move.
    moving: bool,
}

fn bytes(what: Outgoing) -> Bytes {
    match what {
        Outgoing::Part(sent) => wire_bytes(sent.channel, sent.message),
        Outgoing::System(message) => message.bytes(),
    }
}

/// Whether a message ends a note, or stops a follower of the clock.
fn ends(what: Outgoing) -> bool {
    matches!(
        what,
        Outgoing::Part(PartMessage {
            message: Message::NoteOff { .. },
            ..
        }) | Outgoing::System(System::Stop)
    )
}

/// What to do with the other note-offs when one was refused for good.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Refused {
    /// Offer the next: it may be taken.
    Next,
    /// Give up: the port is gone.
    Enough,
}

/// Called after each refusal while silencing: waits a little, and returns whether to retry.
pub(super) type Patience<'a> = &'a mut dyn FnMut() -> bool;

/// Patience for a single try, without retries.
pub(super) fn none() -> bool {
    false
}

impl<P: OutputPort> Silencer<P> {
    pub(super) fn new(port: P) -> Self {
        let nothing = Setting {
            program: None,
            controls: [None; 128],
        };
        Silencer {
            port: Some(port),
            sounding: Box::new([[0; 128]; 16]),
            used: [false; 16],
            settings: Box::new([nothing; 16]),
            moving: false,
        }
    }

    /// Whether the port is gone.
    pub(super) fn is_away(&self) -> bool {
        self.port.is_none()
    }

    /// Offers a message for the first time and notes the result.
    pub(super) fn send(&mut self, what: Outgoing) -> Result<(), PortError> {
        // A note-on whose sending failed halfway may sound, so it is noted before it is sent.
        if !ends(what) {
            self.note(what);
        }
        self.resend(what)
    }

    /// Offers a refused message once more.
    pub(super) fn resend(&mut self, what: Outgoing) -> Result<(), PortError> {
        self.raw(bytes(what).as_slice())?;
        // A message that ends something is owed until it is taken.
        if ends(what) {
            self.note(what);
        }
        Ok(())
    }

    fn raw(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.port.as_mut().map_or(Ok(()), |port| port.send(bytes))
    }

    fn note(&mut self, what: Outgoing) {
        let (channel, message) = match what {
            Outgoing::Part(PartMessage {
                channel, message, ..
            }) => (channel, message),
            Outgoing::System(System::Start | System::Continue) => {
                self.moving = true;
                return;
            }
            Outgoing::System(System::Stop) => {
                self.moving = false;
                return;
            }
            Outgoing::System(_) => return,
        };
        let at = usize::from(channel.nibble());
        self.used[at] = true;
        match message {
            Message::NoteOn { key, .. } => {
                let count = &mut self.sounding[at][usize::from(key.get())];
                *count = count.saturating_add(1);
            }
            Message::NoteOff { key } => {
                let count = &mut self.sounding[at][usize::from(key.get())];
                *count = count.saturating_sub(1);
            }
            Message::Program(program) => self.settings[at].program = Some(program),
            Message::Control { controller, value } => {
                self.settings[at].controls[usize::from(controller & 0x7F)] = Some(value);
            }
        }
    }

    /// Ends what sounds: a follower of the clock is stopped, the note-offs that are owed come next, then the
    /// controllers on every channel used. Refused messages are retried as long as there is `patience`; then the rest is
    /// tried once.
    pub(super) fn silence(&mut self, patience: Patience<'_>) {
        let moved = self.moving;
        let _ = self.end_notes(patience, Refused::Next);
        let said = self.end_channels(patience) || moved;
        self.used = [false; 16];
        if said && let Some(port) = &mut self.port {
            port.drain();
        }
    }

    fn insist(&mut self, bytes: &[u8], patience: Patience<'_>) -> Result<(), PortError> {
        loop {
            let answer = self.raw(bytes);
            if answer.is_ok() || !patience() {
                return answer;
            }
        }
    }

    /// Stops a follower of the clock and sends the note-offs that are owed.
    fn end_notes(&mut self, patience: Patience<'_>, refused: Refused) -> Result<(), PortError> {
        let mut answer = Ok(());
        if std::mem::take(&mut self.moving) {
            answer = self.insist(System::Stop.bytes().as_slice(), patience);
        }
        for channel in (1..=16).filter_map(|number| Channel::new(number).ok()) {
            for key in 0u8..128 {
                let at = (usize::from(channel.nibble()), usize::from(key));
                let message = Message::NoteOff {
                    key: KeyNumber::clamped(i32::from(key)),
                };
                for _ in 0..std::mem::take(&mut self.sounding[at.0][at.1]) {
                    if refused == Refused::Next || answer.is_ok() {
                        answer = self.insist(wire_bytes(channel, message).as_slice(), patience);
                    }
                }
            }
        }
        answer
    }

    /// Ends all sound on the channels used; returns whether there are any.
    fn end_channels(&mut self, patience: Patience<'_>) -> bool {
        let mut any = false;
        for channel in (1..=16).filter_map(|number| Channel::new(number).ok()) {
            if !self.used[usize::from(channel.nibble())] {
                continue;
            }
            any = true;
            for controller in SILENCE {
                let message = Message::Control {
                    controller,
                    value: 0,
                };
                let _ = self.insist(wire_bytes(channel, message).as_slice(), patience);
            }
        }
        any
    }

    /// Gives the port away, since it is gone. It is silenced as far as it still responds at once.
    pub(super) fn put_away(&mut self) -> Option<P> {
        if self.end_notes(&mut none, Refused::Enough).is_ok() {
            self.end_channels(&mut none);
        }
        self.port.take()
    }

    /// Goes on with another port: ends whatever may still sound on it, and sets up its channels as before.
    pub(super) fn install(&mut self, port: P) {
        self.port = Some(port);
        self.end_channels(&mut none);
        for channel in (1..=16).filter_map(|number| Channel::new(number).ok()) {
            let setting = self.settings[usize::from(channel.nibble())];
            let mut say = |message| {
                let _ = self.raw(wire_bytes(channel, message).as_slice());
            };
            for (controller, value) in (0u8..).zip(setting.controls) {
                if let Some(value) = value {
                    say(Message::Control { controller, value });
                }
            }
            if let Some(program) = setting.program {
                say(Message::Program(program));
            }
        }
    }
}

impl<P: OutputPort> Drop for Silencer<P> {
    fn drop(&mut self) {
        // Only a panic leaves anything to do here.
        let began = Instant::now();
        self.silence(&mut || {
            thread::sleep(Duration::from_millis(1));
            began.elapsed() < SILENCING
        });
    }
}
