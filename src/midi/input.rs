//! MIDI input ports.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use crossbeam_channel::Sender;
use midir::{Ignore, MidiInput, MidiInputConnection};

use super::heard::Heard;
use super::port::{Direction, ListedPort, PortError, choose};
use super::quiet::Quiet;
use super::system::{CLIENT, OWN, listed, pick};
use super::wire::Bytes;

/// An input of the system, open as long as this is kept.
pub struct SystemInput {
    _connection: MidiInputConnection<()>,
    name: String,
    dropped: Arc<AtomicU64>,
}

impl SystemInput {
    /// The name of the input.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How many messages were dropped because the channel was full.
    pub fn dropped(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
    }
}

fn inputs() -> Result<MidiInput, PortError> {
    let mut midi = MidiInput::new(CLIENT).map_err(|e| PortError::NoSystem {
        direction: Direction::Input,
        cause: e.to_string(),
    })?;
    // Not the messages of the clock: midir counts them among those of time, and they are wanted.
    midi.ignore(Ignore::SysexAndActiveSense);
    Ok(midi)
}

/// The input ports there are.
///
/// # Errors
/// When the system has no MIDI.
pub fn list_inputs() -> Result<Vec<ListedPort>, PortError> {
    let _quiet = Quiet::new();
    let midi = inputs()?;
    Ok(listed(&midi).into_iter().map(|(port, _)| port).collect())
}

/// Whether an input can be opened by this number, name, or part of a name, as far as the list of the system tells. `own`
/// always can.
///
/// # Errors
/// When there is no MIDI, no such port, or several such ports.
pub fn find_input(wanted: &str) -> Result<(), PortError> {
    if wanted == OWN {
        return Ok(());
    }
    choose(Direction::Input, &list_inputs()?, wanted).map(|_| ())
}

/// Opens an input: by number, name, or part of a name; what it hears goes to `heard`, a bounded channel.
///
/// System exclusive messages and active sensing are left out. What finds the channel full is dropped and counted. `own`
/// makes an input of our own, called fivefold, that other programs connect to.
///
/// # Errors
/// When there is no MIDI, no such port, several such ports, or the port cannot be opened or made.
///
/// # Real time
/// On the driver's thread nothing is allocated and nothing waits, so long as the channel is bounded.
pub fn open_input(wanted: &str, heard: Sender<Heard>) -> Result<SystemInput, PortError> {
    let _quiet = Quiet::new();
    let midi = inputs()?;
    let dropped = Arc::new(AtomicU64::new(0));
    let count = Arc::clone(&dropped);
    let callback = move |_: u64, bytes: &[u8], _: &mut ()| hear(bytes, &heard, &count);
    let (name, opened) = if wanted == OWN {
        (CLIENT.to_owned(), make_own(midi, callback)?)
    } else {
        let (name, port) = pick(Direction::Input, &listed(&midi), wanted)?;
        let opened = midi.connect(&port, "in", callback, ());
        (name, opened.map_err(|e| e.kind().to_string()))
    };
    match opened {
        Ok(connection) => Ok(SystemInput {
            _connection: connection,
            name,
            dropped,
        }),
        Err(cause) => Err(PortError::Open {
            direction: Direction::Input,
            name,
            cause,
        }),
    }
}

#[cfg(unix)]
fn make_own(
    midi: MidiInput,
    callback: impl FnMut(u64, &[u8], &mut ()) + Send + 'static,
) -> Result<Result<MidiInputConnection<()>, String>, PortError> {
    use midir::os::unix::VirtualInput;
    let made = midi.create_virtual(CLIENT, callback, ());
    Ok(made.map_err(|e| e.kind().to_string()))
}

#[cfg(not(unix))]
fn make_own(
    _: MidiInput,
    _: impl FnMut(u64, &[u8], &mut ()) + Send + 'static,
) -> Result<Result<MidiInputConnection<()>, String>, PortError> {
    Err(PortError::NoOwn(Direction::Input))
}

/// Passes a message on, from the driver's thread.
fn hear(bytes: &[u8], heard: &Sender<Heard>, dropped: &AtomicU64) {
    let at = Instant::now();
    // Some systems pass on messages they were told to ignore: system exclusive (and the end of one), active sensing.
    if matches!(bytes.first(), None | Some(0xF0 | 0xF7 | 0xFE)) {
        return;
    }
    let Some(bytes) = Bytes::short(bytes) else {
        return;
    };
    if heard.try_send(Heard { at, bytes }).is_err() {
        dropped.fetch_add(1, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crossbeam_channel::bounded;

    #[test]
    fn what_is_short_and_wanted_is_passed_on() {
        let (sender, heard) = bounded(64);
        let dropped = AtomicU64::new(0);
        let wanted: [&[u8]; 11] = [
            &[0x90, 60, 1],
            &[0x80, 60, 64],
            &[0xB3, 64, 127],
            &[0xC0, 4],
            &[0xD0, 90],
            &[0xE0, 0, 96],
            &[0xF2, 16, 0],
            &[0xF8],
            &[0xFA],
            &[0xFB],
            &[0xFC],
        ];
        let others: [&[u8]; 6] = [
            &[],
            &[0xF0, 0x7E, 0xF7],
            &[0xF0, 1, 2, 3, 4, 0xF7],
            &[0xF7],
            &[0xFE],
            &[60, 1],
        ];
        assert_no_alloc::assert_no_alloc(|| {
            for bytes in wanted.iter().chain(&others) {
                hear(bytes, &sender, &dropped);
            }
        });
        let found: Vec<Vec<u8>> = heard
            .try_iter()
            .map(|h| h.bytes.as_slice().to_vec())
            .collect();
        assert_eq!(found, wanted);
        assert_eq!(dropped.into_inner(), 0);
    }

    #[test]
    fn what_finds_no_room_is_counted_and_nothing_waits() {
        let (sender, heard) = bounded(2);
        let dropped = AtomicU64::new(0);
        for key in 0..5 {
            hear(&[0x90, key, 100], &sender, &dropped);
        }
        assert_eq!(dropped.load(Ordering::Relaxed), 3);
        let keys: Vec<u8> = heard.try_iter().map(|h| h.bytes.as_slice()[1]).collect();
        assert_eq!(keys, [0, 1]);
        drop(heard);
        hear(&[0x90, 9, 100], &sender, &dropped);
        assert_eq!(dropped.into_inner(), 4);
    }
}
