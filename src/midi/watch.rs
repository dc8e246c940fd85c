//! Output ports that go and come back.

use midir::MidiOutput;

use super::quiet::Quiet;
use super::sighting::Sighting;
use super::system::{PortId, SystemPort, connect, identities, listed, outputs};

/// The port that was opened, and what was listed beside it.
#[derive(Clone, Debug)]
pub(crate) struct Watched {
    port: PortId,
    /// What was listed beside it when it was last there.
    beside: Vec<PortId>,
}

impl Watched {
    pub(crate) fn new(port: PortId) -> Self {
        Watched {
            port,
            beside: Vec::new(),
        }
    }

    /// What a list shows.
    pub(crate) fn look(&mut self, list: &[PortId]) -> Sighting {
        if list.contains(&self.port) {
            let others = list.iter().filter(|other| **other != self.port);
            self.beside = others.cloned().collect();
            Sighting::There
        } else if self.find(list).is_some() {
            Sighting::Replaced
        } else {
            Sighting::Missing
        }
    }

    /// Which of a list is the port: the same, else one of its name by another id, unless that was listed beside it before
    /// and so is another of its kind.
    ///
    /// Names of ALSA's sequencer end in the numbers of client and port, `Desk synth 20:0`, and a device that was unplugged
    /// may come back with other numbers.
    pub(crate) fn find(&self, list: &[PortId]) -> Option<usize> {
        let other = |listed: &PortId| !self.beside.contains(listed);
        let same = list.iter().position(|listed| *listed == self.port);
        let named = || {
            list.iter()
                .position(|listed| listed.name == self.port.name && other(listed))
        };
        let numbered = || {
            let plain = numberless(&self.port.name)?;
            list.iter()
                .position(|listed| numberless(&listed.name) == Some(plain) && other(listed))
        };
        same.or_else(named).or_else(numbered)
    }

    /// It was opened again, as `port`.
    pub(crate) fn opened(&mut self, port: PortId) {
        self.port = port;
    }
}

/// Watches over an output port: whether it is still the one that is listed, and opens it again when it has come back.
///
/// Asks the system, which may take a moment: for a thread of its own.
pub struct PortWatch {
    /// `None` for a port of our own, which is always there.
    watched: Option<Watched>,
    /// What lists the ports; made anew when the port is not there, since the server it belongs to may be gone too.
    lister: Option<MidiOutput>,
}

impl PortWatch {
    /// Watches over `port`.
    pub fn new(port: &SystemPort) -> Self {
        PortWatch {
            watched: port.identity().cloned().map(Watched::new),
            lister: None,
        }
    }

    /// Looks whether it is listed.
    pub fn look(&mut self) -> Sighting {
        let Some(watched) = &mut self.watched else {
            return Sighting::There;
        };
        let _quiet = Quiet::new();
        if self.lister.is_none() {
            self.lister = outputs().ok();
        }
        let seen = match &self.lister {
            Some(lister) => watched.look(&identities(lister)),
            None => Sighting::Missing,
        };
        if seen == Sighting::Missing {
            self.lister = None;
        }
        seen
    }

    /// Opens it again; `None` while that fails.
    pub fn open(&mut self) -> Option<SystemPort> {
        let watched = self.watched.as_mut()?;
        let _quiet = Quiet::new();
        let midi = outputs().ok()?;
        let list = identities(&midi);
        let wanted = list.get(watched.find(&list)?)?;
        // The list may have changed meanwhile.
        let ports = listed(&midi);
        let (listed, port) = ports.iter().find(|(_, port)| port.id() == wanted.id)?;
        let opened = connect(midi, port, listed.name.clone()).ok()?;
        watched.opened(opened.identity()?.clone());
        Some(opened)
    }
}

/// A name without ` CLIENT:PORT` at its end; `None` for one without.
fn numberless(name: &str) -> Option<&str> {
    let (plain, numbers) = name.rsplit_once(' ')?;
    let (client, port) = numbers.split_once(':')?;
    let number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    (number(client) && number(port)).then_some(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ports of ALSA's sequencer, whose names end in their ids.
    fn numbered(names: &[&str]) -> Vec<PortId> {
        let id = |name: &str| name.rsplit(' ').next().unwrap_or("").to_owned();
        let port = |&name: &&str| PortId {
            id: id(name),
            name: name.to_owned(),
        };
        names.iter().map(port).collect()
    }

    fn watched(name: &str, beside: &[&str]) -> Watched {
        Watched {
            port: numbered(&[name]).remove(0),
            beside: numbered(beside),
        }
    }

    #[test]
    fn names_without_the_numbers_of_client_and_port() {
        assert_eq!(
            numberless("Desk synth:Desk synth MIDI 1 20:0"),
            Some("Desk synth:Desk synth MIDI 1")
        );
        assert_eq!(numberless("Through 14:0"), Some("Through"));
        for name in [
            "instrument:in",
            "20:0",
            "a b",
            "a 20:",
            "a :0",
            "a 20:x",
            "a 20-0",
            "",
        ] {
            assert_eq!(numberless(name), None, "{name}");
        }
    }

    #[test]
    fn a_port_is_found_by_its_name_and_else_without_its_numbers() {
        let list = numbered(&["Through 14:0", "Desk 24:0", "Desk 20:0", "instrument:in"]);
        let find = |name: &str, beside: &[&str]| watched(name, beside).find(&list);
        assert_eq!(find("Desk 20:0", &[]), Some(2));
        assert_eq!(find("Desk 28:0", &[]), Some(1));
        // Another of its kind that was there before is not the one that comes back.
        assert_eq!(find("Desk 28:0", &["Desk 24:0"]), Some(2));
        assert_eq!(find("Desk 28:0", &["Desk 24:0", "Desk 20:0"]), None);
        assert_eq!(find("instrument:in", &[]), Some(3));
        assert_eq!(find("instrument:out", &[]), None);
        assert_eq!(find("Desk", &[]), None);
    }

    #[test]
    fn a_port_that_comes_back_by_another_number_is_another() {
        let mut watched = watched("Desk 20:0", &[]);
        let mut look = |names: &[&str]| watched.look(&numbered(names));
        assert_eq!(look(&["Desk 20:0", "Desk 24:0"]), Sighting::There);
        // Only its twin is left.
        assert_eq!(look(&["Desk 24:0"]), Sighting::Missing);
        assert_eq!(look(&["Desk 24:0", "Desk 28:0"]), Sighting::Replaced);
        assert_eq!(look(&["Desk 20:0", "Desk 24:0"]), Sighting::There);
        // Another program was given its number.
        assert_eq!(look(&["Drums 20:0", "Desk 24:0"]), Sighting::Missing);
        assert_eq!(look(&[]), Sighting::Missing);
    }

    /// Told apart only by order in the list, the second took the name of the first when that went.
    #[test]
    fn two_ports_of_one_name_are_told_apart_by_their_ids() {
        let desk = |id: &str| PortId {
            id: id.to_owned(),
            name: "Desk".to_owned(),
        };
        let mut watched = Watched::new(desk("7"));
        assert_eq!(watched.look(&[desk("7"), desk("8")]), Sighting::There);
        assert_eq!(watched.look(&[desk("8")]), Sighting::Missing);
        assert_eq!(watched.find(&[desk("8")]), None);
        assert_eq!(watched.look(&[desk("8"), desk("7")]), Sighting::There);
        assert_eq!(watched.look(&[desk("8"), desk("9")]), Sighting::Replaced);
        assert_eq!(watched.find(&[desk("8"), desk("9")]), Some(1));
        watched.opened(desk("9"));
        assert_eq!(watched.look(&[desk("8"), desk("9")]), Sighting::There);
    }

    #[test]
    fn a_port_of_our_own_is_always_there() {
        let mut watch = PortWatch {
            watched: None,
            lister: None,
        };
        assert_eq!(watch.look(), Sighting::There);
    }
}
