//! A port that records, for tests.

use std::sync::{Arc, Mutex};

use super::{Clock, VirtualClock};
use crate::midi::{OutputPort, PortError};
use crate::time::Nanos;

/// What a [`RecordingPort`] was given, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// When, by the virtual clock.
    pub at: Nanos,
    /// Bytes of the message.
    pub bytes: Vec<u8>,
}

/// A port that keeps what it is given with the time of a virtual clock; it can be told to fail or to panic.
#[derive(Clone, Debug, Default)]
pub struct RecordingPort {
    clock: VirtualClock,
    sent: Arc<Mutex<Vec<Recorded>>>,
    fault: Option<(usize, Fault)>,
}

/// What a [`RecordingPort`] does instead of taking a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Refuses this and every later message.
    Gone,
    /// Panics once, and takes messages again.
    Panic,
}

impl RecordingPort {
    /// A port that reads the time off `clock`.
    pub fn new(clock: &VirtualClock) -> Self {
        RecordingPort {
            clock: clock.clone(),
            ..RecordingPort::default()
        }
    }

    /// The same, failing after `count` messages.
    #[must_use]
    pub fn failing(mut self, count: usize, fault: Fault) -> Self {
        self.fault = Some((count, fault));
        self
    }

    /// What it was given so far.
    pub fn sent(&self) -> Vec<Recorded> {
        self.sent
            .lock()
            .map(|sent| sent.clone())
            .unwrap_or_default()
    }
}

impl OutputPort for RecordingPort {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        let count = self.sent.lock().map_or(0, |sent| sent.len());
        match self.fault {
            Some((most, Fault::Gone)) if count >= most => {
                return Err(PortError::Send("the device is gone".to_owned()));
            }
            Some((most, Fault::Panic)) if count >= most => {
                self.fault = None;
                panic!("asked to");
            }
            _ => {}
        }
        if let Ok(mut sent) = self.sent.lock() {
            sent.push(Recorded {
                at: self.clock.now(),
                bytes: bytes.to_vec(),
            });
        }
        Ok(())
    }
}
