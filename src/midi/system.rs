//! Ports of the system, listed and opened.

use super::port::{Direction, ListedPort, OutputPort, PortError, choose, told_apart};
use super::quiet::Quiet;

/// What this program and the ports of its own are called on the system.
pub(super) const CLIENT: &str = "fivefold";

/// The word for a port of our own, which other programs connect to. A system port of that name can be reached by its
/// number.
pub(super) const OWN: &str = "own";

pub(super) fn outputs() -> Result<midir::MidiOutput, PortError> {
    midir::MidiOutput::new(CLIENT).map_err(|e| PortError::NoSystem {
        direction: Direction::Output,
        cause: e.to_string(),
    })
}

/// The ports of a client of either direction, with what the system needs to open them.
pub(super) fn listed<M: midir::MidiIO>(midi: &M) -> Vec<(ListedPort, M::Port)> {
    // A port may vanish between listing it and asking its name.
    let found = midi.ports().into_iter().enumerate();
    let found: Vec<_> = found
        .filter_map(|(i, port)| Some((i + 1, midi.port_name(&port).ok()?, port)))
        .collect();
    let names = told_apart(found.iter().map(|(_, name, _)| name.as_str()));
    let named = found.into_iter().zip(names);
    named
        .map(|((number, _, port), name)| (ListedPort { number, name }, port))
        .collect()
}

/// How the system identifies a port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct PortId {
    /// The system's id: numbers of client and port (ALSA), the name (JACK), a number of its own (macOS), a device path
    /// (Windows). It lasts no longer than the session.
    pub(crate) id: String,
    /// The system's name, which several ports may share.
    pub(crate) name: String,
}

/// How the system identifies the outputs, in the order of its list.
pub(super) fn identities(midi: &midir::MidiOutput) -> Vec<PortId> {
    midi.ports()
        .iter()
        .filter_map(|port| identity(midi, port))
        .collect()
}

fn identity(midi: &midir::MidiOutput, port: &midir::MidiOutputPort) -> Option<PortId> {
    let name = midi.port_name(port).ok()?;
    Some(PortId {
        id: port.id(),
        name,
    })
}

/// The output ports there are.
///
/// # Errors
/// When the system has no MIDI.
pub fn list_outputs() -> Result<Vec<ListedPort>, PortError> {
    let _quiet = Quiet::new();
    let midi = outputs()?;
    Ok(listed(&midi).into_iter().map(|(port, _)| port).collect())
}

/// The one of `ports` that is meant, with what the system needs to open it.
pub(super) fn pick<P: Clone>(
    direction: Direction,
    ports: &[(ListedPort, P)],
    wanted: &str,
) -> Result<(String, P), PortError> {
    let names: Vec<ListedPort> = ports.iter().map(|(p, _)| p.clone()).collect();
    let chosen = choose(direction, &names, wanted)?;
    ports
        .iter()
        .find(|(p, _)| p == chosen)
        .map(|(p, port)| (p.name.clone(), port.clone()))
        .ok_or_else(|| PortError::Unknown {
            direction,
            wanted: wanted.to_owned(),
        })
}

/// Opens a port: by number, name, or part of a name; the first there is where `wanted` is `None`.
///
/// `own` makes a port of our own, called fivefold, that other programs connect to.
///
/// # Errors
/// When there is no MIDI, no such port, several such ports, or the port cannot be opened or made.
pub fn open_output(wanted: Option<&str>) -> Result<SystemPort, PortError> {
    let _quiet = Quiet::new();
    let midi = outputs()?;
    if wanted == Some(OWN) {
        return make_own(midi);
    }
    let ports = listed(&midi);
    let (name, port) = match wanted {
        Some(wanted) => pick(Direction::Output, &ports, wanted)?,
        None => {
            let first = ports.into_iter().next();
            let (listed, port) = first.ok_or(PortError::NoPorts(Direction::Output))?;
            (listed.name, port)
        }
    };
    connect(midi, &port, name)
}

/// Opens a port that is listed.
pub(super) fn connect(
    midi: midir::MidiOutput,
    port: &midir::MidiOutputPort,
    name: String,
) -> Result<SystemPort, PortError> {
    // A port without a name is gone; connecting reports that.
    let identity = identity(&midi, port);
    match midi.connect(port, "out") {
        Ok(connection) => Ok(SystemPort {
            connection,
            name,
            identity,
        }),
        Err(e) => Err(PortError::Open {
            direction: Direction::Output,
            name,
            cause: e.kind().to_string(),
        }),
    }
}

#[cfg(unix)]
fn make_own(midi: midir::MidiOutput) -> Result<SystemPort, PortError> {
    use midir::os::unix::VirtualOutput;
    match midi.create_virtual(CLIENT) {
        Ok(connection) => Ok(SystemPort {
            connection,
            name: CLIENT.to_owned(),
            identity: None,
        }),
        Err(e) => Err(PortError::Open {
            direction: Direction::Output,
            name: CLIENT.to_owned(),
            cause: e.kind().to_string(),
        }),
    }
}

#[cfg(not(unix))]
fn make_own(_: midir::MidiOutput) -> Result<SystemPort, PortError> {
    Err(PortError::NoOwn(Direction::Output))
}

/// Time for the last messages to leave: three controllers on each of four channels take 12 ms on a MIDI cable
/// (320 us a byte, IEC 63035), and some systems hand messages on only once a period.
const DRAIN: std::time::Duration = std::time::Duration::from_millis(60);

/// A port of the system, opened.
pub struct SystemPort {
    connection: midir::MidiOutputConnection,
    name: String,
    /// `None` for a port of our own.
    identity: Option<PortId>,
}

impl SystemPort {
    /// The name of the port.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is a port of our own, which is there as long as the program is.
    pub fn is_own(&self) -> bool {
        self.identity.is_none()
    }

    /// How the system identifies it; `None` for a port of our own.
    pub(super) fn identity(&self) -> Option<&PortId> {
        self.identity.as_ref()
    }
}

impl OutputPort for SystemPort {
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.connection
            .send(bytes)
            .map_err(|e| PortError::Send(e.to_string()))
    }

    fn drain(&mut self) {
        std::thread::sleep(DRAIN);
    }
}
