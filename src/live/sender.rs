//! The sending thread: takes timed messages from a bounded channel and sends each at its deadline.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crossbeam_channel::{Receiver, TryRecvError};

use super::{Clock, Granted, Receipt, Recorder, stolen_ns};
use crate::event::{Channel, KeyNumber, Message};
use crate::midi::{OutputPort, PortError, wire_bytes};
use crate::time::Nanos;

/// A message and when it is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Queued {
    /// When, from the start of playing.
    pub at: Nanos,
    /// On which channel.
    pub channel: Channel,
    /// What.
    pub message: Message,
}

/// Why the sender stopped.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stopped {
    /// Everything was sent.
    End,
    /// It was asked to.
    Asked,
    /// The port failed.
    Failed(PortError),
}

/// What the sender did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// Messages sent on time or late, silencing not counted.
    pub sent: u64,
    /// How late the latest was, in nanoseconds, by the clock just before it was sent.
    pub worst_late_ns: u64,
    /// Messages more than a millisecond late.
    pub late_beyond_1_ms: u64,
    /// Why it ended.
    pub stopped: Stopped,
    /// The whole account.
    pub receipt: Receipt,
}

/// Sends timed messages, and silences what sounds however it ends.
pub struct Sender<P: OutputPort, C: Clock> {
    port: Silencer<P>,
    clock: C,
    stop: Arc<AtomicBool>,
    granted: Option<Granted>,
    recorder: Recorder,
}

impl<P: OutputPort, C: Clock> Sender<P, C> {
    /// A sender that stops early when `stop` is set.
    pub fn new(port: P, clock: C, stop: Arc<AtomicBool>) -> Self {
        Sender {
            port: Silencer::new(port),
            clock,
            stop,
            granted: None,
            recorder: Recorder::default(),
        }
    }

    /// Notes for the receipt what [`super::prepare_timing_thread`] gave the thread on which it will run.
    #[must_use]
    pub fn granted(mut self, granted: Granted) -> Self {
        self.granted = Some(granted);
        self
    }

    /// Sends what comes through `queue`, in order, until the other end is dropped, a stop is asked for, or the port
    /// fails. Then everything that sounds is silenced.
    ///
    /// # Real time
    /// The loop does not allocate, lock, print or touch files; it waits only on the clock. Before and after it, the time
    /// that a host took is looked up.
    pub fn run(self, queue: &Receiver<Queued>) -> Report {
        let stop = Arc::clone(&self.stop);
        self.play(&mut Plain { queue, next: None }, &stop)
    }

    /// Sends what `stream` gives, as [`Sender::run`] does. `news` is set by whoever has news for the stream: a wait is
    /// broken off, and the stream asked again.
    ///
    /// # Real time
    /// As [`Sender::run`], as long as the stream keeps to it.
    pub fn play<S: Stream>(mut self, stream: &mut S, news: &AtomicBool) -> Report {
        let before = stolen_ns();
        let stopped = self.send_all(stream, news);
        self.port.silence();
        let stolen = stolen_ns().zip(before);
        let stolen = stolen.map(|(after, before)| after.saturating_sub(before));
        let receipt = self.recorder.receipt(self.granted, stolen);
        Report {
            sent: receipt.sent,
            worst_late_ns: receipt.at_call.worst_ns,
            late_beyond_1_ms: receipt.at_call.beyond_1_ms,
            stopped,
            receipt,
        }
    }

    fn send_all<S: Stream>(&mut self, stream: &mut S, news: &AtomicBool) -> Stopped {
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return Stopped::Asked;
            }
            let at = match stream.due(&|| self.clock.now()) {
                Due::At(at) => at,
                Due::Nothing => {
                    self.clock.idle();
                    continue;
                }
                Due::Over => return Stopped::End,
            };
            if !self.clock.wait_until(at, news) {
                continue;
            }
            if let Some(late) = self.clock.woke_late_ns() {
                self.recorder.woke(late);
            }
            let Some(next) = stream.step() else { continue };
            let called = self.clock.now();
            if let Err(e) = self.port.send(next.channel, next.message) {
                self.recorder.refused();
                // What waits behind it will not be sent either.
                self.recorder.dropped(stream.waiting());
                return Stopped::Failed(e);
            }
            self.recorder.sent(next.at, called, self.clock.now());
        }
    }
}

/// When a stream has something to send.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    /// At this time.
    At(Nanos),
    /// Nothing is known yet.
    Nothing,
    /// Never again.
    Over,
}

/// Where messages to be sent come from.
pub trait Stream {
    /// When the next thing is due; `now` tells the time. News are taken in here.
    ///
    /// # Real time
    /// Must not allocate, lock or wait.
    fn due(&mut self, now: &dyn Fn() -> Nanos) -> Due;

    /// Does what was due, and gives the message that comes of it, if one does.
    ///
    /// # Real time
    /// Must not allocate, lock or wait.
    fn step(&mut self) -> Option<Queued>;

    /// Messages that wait behind.
    fn waiting(&self) -> u64;
}

/// A queue of messages with their times.
struct Plain<'a> {
    queue: &'a Receiver<Queued>,
    next: Option<Queued>,
}

impl Stream for Plain<'_> {
    fn due(&mut self, _: &dyn Fn() -> Nanos) -> Due {
        if self.next.is_none() {
            match self.queue.try_recv() {
                Ok(next) => self.next = Some(next),
                Err(TryRecvError::Empty) => return Due::Nothing,
                Err(TryRecvError::Disconnected) => return Due::Over,
            }
        }
        self.next.map_or(Due::Nothing, |next| Due::At(next.at))
    }

    fn step(&mut self) -> Option<Queued> {
        self.next.take()
    }

    fn waiting(&self) -> u64 {
        u64::try_from(self.queue.len()).unwrap_or(u64::MAX)
    }
}

/// Controllers of the MIDI 1.0 table that end sound: sustain pedal off, all notes off, all sound off.
const SILENCE: [u8; 3] = [64, 123, 120];

/// A port that knows what sounds. Dropping it, in a panic too, silences.
struct Silencer<P: OutputPort> {
    port: P,
    sounding: Box<[[u8; 128]; 16]>,
    used: [bool; 16],
}

impl<P: OutputPort> Silencer<P> {
    fn new(port: P) -> Self {
        Silencer {
            port,
            sounding: Box::new([[0; 128]; 16]),
            used: [false; 16],
        }
    }

    fn send(&mut self, channel: Channel, message: Message) -> Result<(), PortError> {
        let at = usize::from(channel.nibble());
        // Noted before it is sent: a note-on whose sending failed halfway may sound.
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
            _ => {}
        }
        self.port.send(wire_bytes(channel, message).as_slice())
    }

    /// Ends what sounds: the note-offs that are owed first, then the controllers on every channel used. A port that
    /// refuses is asked all the same for the rest.
    fn silence(&mut self) {
        for nibble in 0u8..16 {
            let at = usize::from(nibble);
            let Ok(channel) = Channel::new(nibble + 1) else {
                continue;
            };
            for key in 0u8..128 {
                let count = std::mem::take(&mut self.sounding[at][usize::from(key)]);
                let message = Message::NoteOff {
                    key: KeyNumber::clamped(i32::from(key)),
                };
                for _ in 0..count {
                    let _ = self.port.send(wire_bytes(channel, message).as_slice());
                }
            }
        }
        let mut said = false;
        for nibble in 0u8..16 {
            if !std::mem::take(&mut self.used[usize::from(nibble)]) {
                continue;
            }
            let Ok(channel) = Channel::new(nibble + 1) else {
                continue;
            };
            for controller in SILENCE {
                let message = Message::Control {
                    controller,
                    value: 0,
                };
                let _ = self.port.send(wire_bytes(channel, message).as_slice());
                said = true;
            }
        }
        if said {
            self.port.drain();
        }
    }
}

impl<P: OutputPort> Drop for Silencer<P> {
    fn drop(&mut self) {
        self.silence();
    }
}

#[cfg(test)]
mod tests;
