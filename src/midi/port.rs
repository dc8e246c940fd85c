//! MIDI ports: sending to one, choosing one, and errors.

use std::fmt;

use crate::diagnostic::Diagnostic;

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

/// Which way the messages of a port go, seen from this program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Direction {
    /// To this program.
    Input,
    /// From this program.
    Output,
}

impl fmt::Display for Direction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Direction::Input => "input",
            Direction::Output => "output",
        })
    }
}

/// What is wrong with a port.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PortError {
    /// The system has no MIDI.
    #[error("this system has no MIDI {direction} ({cause})")]
    NoSystem {
        /// What was to be opened.
        direction: Direction,
        /// What the system said.
        cause: String,
    },
    /// There is no port at all.
    #[error("there is no MIDI {0} port")]
    NoPorts(Direction),
    /// No port has this name.
    #[error("no MIDI {direction} port is called `{wanted}`")]
    Unknown {
        /// Among which ports.
        direction: Direction,
        /// What was asked for.
        wanted: String,
    },
    /// Several ports have this name.
    #[error("several MIDI {direction} ports match `{wanted}`: {}", list(found))]
    Several {
        /// Among which ports.
        direction: Direction,
        /// What was asked for.
        wanted: String,
        /// The ports that match, in the order of the list.
        found: Vec<ListedPort>,
    },
    /// The port cannot be opened.
    #[error("the MIDI {direction} port `{name}` cannot be opened ({cause})")]
    Open {
        /// Which way it goes.
        direction: Direction,
        /// The name of the port.
        name: String,
        /// What the system said.
        cause: String,
    },
    /// The system has no ports that a program makes itself.
    #[error("this system lets no program make a MIDI {0} port of its own")]
    NoOwn(Direction),
    /// The port refused a message.
    #[error("the MIDI output port refused a message ({0})")]
    Send(String),
}

impl Diagnostic for PortError {
    fn code(&self) -> &'static str {
        match self {
            PortError::NoSystem { .. } => "port-no-system",
            PortError::NoPorts(_) => "port-none",
            PortError::Unknown { .. } => "port-unknown",
            PortError::Several { .. } => "port-several",
            PortError::Open { .. } => "port-open",
            PortError::NoOwn(_) => "port-own",
            PortError::Send(_) => "port-send",
        }
    }

    fn help(&self) -> String {
        let (help, direction) = match self {
            PortError::NoSystem { direction, .. } | PortError::NoPorts(direction) => (
                match direction {
                    Direction::Input => "connect a MIDI device, or do without the option",
                    Direction::Output => {
                        return "write a file instead: `-o piece.mid`; or connect a MIDI device or start a synthesizer"
                            .to_owned();
                    }
                },
                direction,
            ),
            PortError::Unknown { direction, .. } | PortError::Several { direction, .. } => (
                "give a name, a part of one, or a number from `fivefold ports`",
                direction,
            ),
            PortError::Open { direction, .. } => (
                "close the program that uses it, or choose another",
                direction,
            ),
            PortError::NoOwn(direction) => (
                "name a port from `fivefold ports`; a loopback driver can give one that other programs see",
                direction,
            ),
            PortError::Send(_) => (
                "check the device and its cable, then start again",
                &Direction::Input,
            ),
        };
        match direction {
            Direction::Input => help.to_owned(),
            Direction::Output => format!("{help}; or write a file: `-o piece.mid`"),
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
    /// The name as shown; a second port of the same name is numbered.
    pub name: String,
}

impl fmt::Display for ListedPort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.number, self.name)
    }
}

/// Names in the order of the system's list, the second and later ones of a name with their number behind it: `Desk (2)`.
#[cfg(any(feature = "ports", test))]
pub(super) fn told_apart<'a>(names: impl Iterator<Item = &'a str> + Clone) -> Vec<String> {
    let mut given: Vec<String> = Vec::new();
    for name in names.clone() {
        let taken = |new: &str, given: &[String]| {
            // Skip a number that would give the name of another port.
            given.iter().any(|g| g == new) || (new != name && names.clone().any(|n| n == new))
        };
        let mut new = name.to_owned();
        let mut number = 2;
        while taken(&new, &given) {
            new = format!("{name} ({number})");
            number += 1;
        }
        given.push(new);
    }
    given
}

/// Which port of a list is meant by a number, a name, or a part of a name (in any case).
///
/// A whole name wins over parts of others.
///
/// # Errors
/// When none or several match.
#[cfg(any(feature = "ports", test))]
pub(crate) fn choose<'a>(
    direction: Direction,
    ports: &'a [ListedPort],
    wanted: &str,
) -> Result<&'a ListedPort, PortError> {
    let unknown = || PortError::Unknown {
        direction,
        wanted: wanted.to_owned(),
    };
    if ports.is_empty() {
        return Err(PortError::NoPorts(direction));
    }
    if let Some(port) = ports.iter().find(|p| p.name == wanted) {
        return Ok(port);
    }
    if let Ok(number) = wanted.parse::<usize>() {
        return ports
            .iter()
            .find(|p| p.number == number)
            .ok_or_else(unknown);
    }
    let lower = wanted.to_lowercase();
    let found: Vec<&ListedPort> = ports
        .iter()
        .filter(|p| p.name.to_lowercase().contains(&lower))
        .collect();
    match found.as_slice() {
        [one] if !wanted.is_empty() => Ok(one),
        [] => Err(unknown()),
        several => Err(PortError::Several {
            direction,
            wanted: wanted.to_owned(),
            found: several.iter().map(|p| (*p).clone()).collect(),
        }),
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
        let name = |wanted: &str| choose(Direction::Output, &ports, wanted).map(|p| p.name.clone());
        assert_eq!(name("2").unwrap(), "Desk synth 20:0");
        assert_eq!(name("Desk synth 20:1").unwrap(), "Desk synth 20:1");
        assert_eq!(name("through").unwrap(), "Through 14:0");
        assert_eq!(name("7 K").unwrap(), "7 keys");
    }

    #[test]
    fn ports_of_one_name_are_told_apart() {
        let told = |names: &[&str]| told_apart(names.iter().copied());
        assert_eq!(
            told(&["Desk", "keys", "Desk", "Desk"]),
            ["Desk", "keys", "Desk (2)", "Desk (3)"]
        );
        assert_eq!(
            told(&["Desk", "Desk", "Desk (2)"]),
            ["Desk", "Desk (3)", "Desk (2)"]
        );
        assert_eq!(
            told(&["Desk 20:0", "Desk 20:1"]),
            ["Desk 20:0", "Desk 20:1"]
        );
        let ports: Vec<ListedPort> = told(&["Desk", "Desk"])
            .into_iter()
            .zip(1..)
            .map(|(name, number)| ListedPort { number, name })
            .collect();
        let number = |wanted: &str| choose(Direction::Output, &ports, wanted).map(|p| p.number);
        assert_eq!(
            (number("Desk"), number("Desk (2)"), number("2")),
            (Ok(1), Ok(2), Ok(2))
        );
    }

    #[test]
    fn a_port_that_is_none_says_so() {
        let ports = ports();
        let wrong = |wanted: &str| choose(Direction::Output, &ports, wanted).unwrap_err();
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
            choose(Direction::Output, &[], "x").unwrap_err().to_string(),
            "there is no MIDI output port"
        );
        assert!(wrong("").help().contains("-o piece.mid"));
    }
    #[test]
    fn an_input_that_is_none_is_called_an_input() {
        let ports = ports();
        let wrong = |ports: &[ListedPort], wanted: &str| {
            let e = choose(Direction::Input, ports, wanted).unwrap_err();
            format!("{e} [{}] {}", e.code(), e.help())
        };
        let direction = Direction::Input;
        let said = |e: PortError| format!("{e} [{}] {}", e.code(), e.help());
        let found = [
            wrong(&[], "x"),
            wrong(&ports, "piano"),
            wrong(&ports, "desk"),
            said(PortError::NoSystem {
                direction,
                cause: "no server".to_owned(),
            }),
            said(PortError::Open {
                direction,
                name: "7 keys".to_owned(),
                cause: "busy".to_owned(),
            }),
            said(PortError::NoOwn(direction)),
            said(PortError::NoOwn(Direction::Output)),
        ];
        insta::assert_snapshot!(found.join("\n"), @"
        there is no MIDI input port [port-none] connect a MIDI device, or do without the option
        no MIDI input port is called `piano` [port-unknown] give a name, a part of one, or a number from `fivefold ports`
        several MIDI input ports match `desk`: 2 Desk synth 20:0, 3 Desk synth 20:1 [port-several] give a name, a part of one, or a number from `fivefold ports`
        this system has no MIDI input (no server) [port-no-system] connect a MIDI device, or do without the option
        the MIDI input port `7 keys` cannot be opened (busy) [port-open] close the program that uses it, or choose another
        this system lets no program make a MIDI input port of its own [port-own] name a port from `fivefold ports`; a loopback driver can give one that other programs see
        this system lets no program make a MIDI output port of its own [port-own] name a port from `fivefold ports`; a loopback driver can give one that other programs see; or write a file: `-o piece.mid`
        ");
    }

    #[test]
    fn a_port_called_own_is_reached_by_its_number() {
        let mut ports = ports();
        ports.push(ListedPort {
            number: 5,
            name: "own".to_owned(),
        });
        let chosen = choose(Direction::Output, &ports, "5").unwrap();
        assert_eq!(chosen.name, "own");
    }
}
