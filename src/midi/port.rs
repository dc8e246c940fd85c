//! MIDI output ports.

use std::fmt;

/// Somewhere MIDI messages can be sent.
pub trait OutputPort: Send {
    /// Sends one message now.
    ///
    /// # Errors
    /// When the port refuses, for instance since its device is gone.
    ///
    /// # Real time
    /// May block for as long as the driver does; called from the sending thread.
    fn send(&mut self, bytes: &[u8]) -> Result<(), PortError>;

    /// Waits until what was sent has had time to leave, before the port is closed.
    ///
    /// # Real time
    /// Blocks for a moment; called when playing is over.
    fn drain(&mut self) {}
}

/// What is wrong with a port.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PortError {
    /// The system has no MIDI.
    #[error("this system has no MIDI to play to ({0})")]
    NoSystem(String),
    /// There is no port at all.
    #[error("there is no MIDI output port")]
    NoPorts,
    /// No port is called so.
    #[error("no MIDI output port is called `{0}`")]
    Unknown(String),
    /// Several ports are called so.
    #[error("several MIDI output ports match `{wanted}`: {}", list(found))]
    Several {
        /// What was asked for.
        wanted: String,
        /// What matches.
        found: Vec<ListedPort>,
    },
    /// The port cannot be opened.
    #[error("the MIDI output port `{name}` cannot be opened ({cause})")]
    Open {
        /// Its name.
        name: String,
        /// What the system said.
        cause: String,
    },
    /// The port refused a message.
    #[error("the MIDI output port refused a message ({0})")]
    Send(String),
}

impl PortError {
    /// A stable name for programs.
    pub fn code(&self) -> &'static str {
        match self {
            PortError::NoSystem(_) => "port-no-system",
            PortError::NoPorts => "port-none",
            PortError::Unknown(_) => "port-unknown",
            PortError::Several { .. } => "port-several",
            PortError::Open { .. } => "port-open",
            PortError::Send(_) => "port-send",
        }
    }

    /// What can be done about it.
    pub fn help(&self) -> String {
        match self {
            PortError::NoSystem(_) | PortError::NoPorts => {
                "write a file instead: `-o piece.mid`; or connect a MIDI device or start a synthesizer".to_owned()
            }
            PortError::Unknown(_) | PortError::Several { .. } => {
                "give a name, a part of one, or a number from `fivefold ports`; or write a file: `-o piece.mid`"
                    .to_owned()
            }
            PortError::Open { .. } => {
                "close the program that uses it, or choose another; or write a file: `-o piece.mid`".to_owned()
            }
            PortError::Send(_) => "check the device and its cable, then start again".to_owned(),
        }
    }
}

fn list(ports: &[ListedPort]) -> String {
    ports
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}

/// A port the system lists.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListedPort {
    /// Number, counted from 1 in the order of the system's list.
    pub number: usize,
    /// Name.
    pub name: String,
}

impl fmt::Display for ListedPort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.number, self.name)
    }
}

/// Keeps the system library's own messages off the terminal, on the thread that made it and from then on.
pub(crate) struct Quiet {
    #[cfg(target_os = "linux")]
    _errors: Option<std::rc::Rc<std::cell::RefCell<alsa::Output>>>,
}

impl Quiet {
    /// Silences this thread.
    ///
    /// # Real time
    /// Allocates: on a thread of the audio driver only before the first sound.
    pub(crate) fn new() -> Self {
        Quiet {
            #[cfg(target_os = "linux")]
            _errors: alsa::Output::local_error_handler().ok(),
        }
    }
}

const CLIENT: &str = "fivefold";

fn system() -> Result<midir::MidiOutput, PortError> {
    midir::MidiOutput::new(CLIENT).map_err(|e| PortError::NoSystem(e.to_string()))
}

fn listed(midi: &midir::MidiOutput) -> Vec<(ListedPort, midir::MidiOutputPort)> {
    midi.ports()
        .into_iter()
        .enumerate()
        .filter_map(|(i, port)| {
            // A port may go between the list and the question for its name.
            let name = midi.port_name(&port).ok()?;
            Some((
                ListedPort {
                    number: i + 1,
                    name,
                },
                port,
            ))
        })
        .collect()
}

/// The output ports there are.
///
/// # Errors
/// When the system has no MIDI.
pub fn list_outputs() -> Result<Vec<ListedPort>, PortError> {
    let _quiet = Quiet::new();
    let midi = system()?;
    Ok(listed(&midi).into_iter().map(|(port, _)| port).collect())
}

/// Which port of a list is meant by a number, a name, or a part of a name (in any case).
///
/// A whole name wins over parts of others.
///
/// # Errors
/// When none or several match.
pub(crate) fn choose<'a>(
    ports: &'a [ListedPort],
    wanted: &str,
) -> Result<&'a ListedPort, PortError> {
    if ports.is_empty() {
        return Err(PortError::NoPorts);
    }
    if let Some(port) = ports.iter().find(|p| p.name == wanted) {
        return Ok(port);
    }
    if let Ok(number) = wanted.parse::<usize>() {
        return ports
            .iter()
            .find(|p| p.number == number)
            .ok_or_else(|| PortError::Unknown(wanted.to_owned()));
    }
    let lower = wanted.to_lowercase();
    let found: Vec<&ListedPort> = ports
        .iter()
        .filter(|p| p.name.to_lowercase().contains(&lower))
        .collect();
    match found.as_slice() {
        [one] if !wanted.is_empty() => Ok(one),
        [] => Err(PortError::Unknown(wanted.to_owned())),
        several => Err(PortError::Several {
            wanted: wanted.to_owned(),
            found: several.iter().map(|p| (*p).clone()).collect(),
        }),
    }
}

/// Opens a port: by number, name, or part of a name; the first there is where `wanted` is `None`.
///
/// # Errors
/// When there is no MIDI, no such port, several such ports, or the port cannot be opened.
pub fn open_output(wanted: Option<&str>) -> Result<SystemPort, PortError> {
    let _quiet = Quiet::new();
    let midi = system()?;
    let ports = listed(&midi);
    let names: Vec<ListedPort> = ports.iter().map(|(p, _)| p.clone()).collect();
    let chosen = match wanted {
        Some(wanted) => choose(&names, wanted)?,
        None => names.first().ok_or(PortError::NoPorts)?,
    };
    let name = chosen.name.clone();
    let port = ports
        .iter()
        .find(|(p, _)| p == chosen)
        .map(|(_, port)| port.clone());
    let port = port.ok_or_else(|| PortError::Unknown(name.clone()))?;
    match midi.connect(&port, "out") {
        Ok(connection) => Ok(SystemPort { connection, name }),
        Err(e) => Err(PortError::Open {
            name,
            cause: e.kind().to_string(),
        }),
    }
}

/// Time for the last messages to leave: three controllers on each of four channels take 12 ms on a MIDI cable
/// (320 us a byte, IEC 63035), and some systems hand messages on only once a period.
const DRAIN: std::time::Duration = std::time::Duration::from_millis(60);

/// A port of the system, opened.
pub struct SystemPort {
    connection: midir::MidiOutputConnection,
    name: String,
}

impl SystemPort {
    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
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

#[cfg(test)]
mod tests {
    use super::*;

    fn ports() -> Vec<ListedPort> {
        [
            "Through 14:0",
            "Desk synth 20:0",
            "Desk synth 20:1",
            "7 keys",
        ]
        .iter()
        .zip(1..)
        .map(|(name, number)| ListedPort {
            number,
            name: (*name).to_owned(),
        })
        .collect()
    }

    #[test]
    fn a_port_by_number_name_or_part_of_a_name() {
        let ports = ports();
        let name = |wanted: &str| choose(&ports, wanted).map(|p| p.name.clone());
        assert_eq!(name("2").unwrap(), "Desk synth 20:0");
        assert_eq!(name("Desk synth 20:1").unwrap(), "Desk synth 20:1");
        assert_eq!(name("through").unwrap(), "Through 14:0");
        assert_eq!(name("7 K").unwrap(), "7 keys");
    }

    #[test]
    fn a_port_that_is_none_says_so() {
        let ports = ports();
        let wrong = |wanted: &str| choose(&ports, wanted).unwrap_err();
        assert_eq!(wrong("9").to_string(), "no MIDI output port is called `9`");
        assert_eq!(wrong("0").to_string(), "no MIDI output port is called `0`");
        assert_eq!(
            wrong("piano").to_string(),
            "no MIDI output port is called `piano`"
        );
        assert_eq!(
            wrong("desk").to_string(),
            "several MIDI output ports match `desk`: 2 Desk synth 20:0, 3 Desk synth 20:1"
        );
        assert_eq!(
            choose(&[], "x").unwrap_err().to_string(),
            "there is no MIDI output port"
        );
        assert!(wrong("").help().contains("-o piece.mid"));
    }
}
