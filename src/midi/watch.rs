//! Output ports that go and come back.

use midir::MidiOutput;

use super::port::{Quiet, SystemPort, connect, listed, outputs};

/// Looks without the port after which one that is listed under another number is taken for it. Whoever watches takes a
/// port for gone after fewer: what was opened by its old number is dead by then.
const MISSES: u32 = 2;

/// Watches over an output port: whether it is still listed, and opens it again when it has come back.
///
/// Asks the system, which may take a moment: for a thread of its own.
pub struct PortWatch {
    name: String,
    own: bool,
    /// Names that were listed beside it when it was last there.
    beside: Vec<String>,
    /// How many looks in a row it was not there.
    misses: u32,
    /// What lists the ports; made anew when the port is not there, since the server it belongs to may be gone too.
    lister: Option<MidiOutput>,
}

impl PortWatch {
    /// Watches over `port`.
    pub fn new(port: &SystemPort) -> Self {
        PortWatch {
            name: port.name().to_owned(),
            own: port.is_own(),
            beside: Vec::new(),
            misses: 0,
            lister: None,
        }
    }

    /// Whether its name is listed. A list that cannot be read counts as one without it; a port of our own is always there.
    pub fn is_there(&mut self) -> bool {
        if self.own {
            return true;
        }
        let _quiet = Quiet::new();
        if self.lister.is_none() {
            self.lister = outputs().ok();
        }
        let names: Vec<String> = self
            .lister
            .iter()
            .flat_map(listed)
            .map(|(port, _)| port.name)
            .collect();
        self.seen(names)
    }

    /// What a list of names tells.
    fn seen(&mut self, mut names: Vec<String>) -> bool {
        if let Some(at) = names.iter().position(|name| *name == self.name) {
            names.swap_remove(at);
            self.beside = names;
            self.misses = 0;
            return true;
        }
        self.lister = None;
        self.misses = self.misses.saturating_add(1);
        self.misses > MISSES && find(&names, &self.name, &self.beside).is_some()
    }

    /// Opens it again, by its whole name; `None` while that does not work.
    pub fn open(&mut self) -> Option<SystemPort> {
        let _quiet = Quiet::new();
        let midi = outputs().ok()?;
        let ports = listed(&midi);
        let names: Vec<String> = ports.iter().map(|(port, _)| port.name.clone()).collect();
        let at = find(&names, &self.name, &self.beside)?;
        let (listed, port) = ports.get(at)?;
        let opened = connect(midi, port, listed.name.clone()).ok()?;
        self.name.clone_from(&listed.name);
        self.misses = 0;
        Some(opened)
    }
}

/// Which of `names` is the port that was called `name`: the same name, else the same without the numbers behind it, unless
/// that one was listed `beside` it before and so is another of its kind.
///
/// Names of ALSA's sequencer end in the numbers of client and port, `Desk synth 20:0`, and a device that was unplugged may
/// come back with another number.
fn find(names: &[String], name: &str, beside: &[String]) -> Option<usize> {
    let same = |listed: &String| listed == name;
    names.iter().position(same).or_else(|| {
        let plain = numberless(name)?;
        names
            .iter()
            .position(|listed| numberless(listed) == Some(plain) && !beside.contains(listed))
    })
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

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|&name| name.to_owned()).collect()
    }

    fn watch(name: &str) -> PortWatch {
        PortWatch {
            name: name.to_owned(),
            own: false,
            beside: Vec::new(),
            misses: 0,
            lister: None,
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
        let list = names(&["Through 14:0", "Desk 24:0", "Desk 20:0", "instrument:in"]);
        let find = |name: &str, beside: &[&str]| find(&list, name, &self::names(beside));
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
    fn a_port_that_came_back_by_another_number_is_taken_for_gone_first() {
        let mut watch = watch("Desk 20:0");
        assert!(watch.seen(names(&["Desk 20:0", "Desk 24:0"])));
        // Only its twin is left.
        for _ in 0..5 {
            assert!(!watch.seen(names(&["Desk 24:0"])));
        }
        assert!(watch.seen(names(&["Desk 24:0", "Desk 28:0"])));
        assert!(watch.seen(names(&["Desk 20:0", "Desk 24:0"])));
        // Pulled out and put back between two looks: what was opened is dead all the same.
        assert!(!watch.seen(names(&["Desk 24:0", "Desk 28:0"])));
        assert!(!watch.seen(names(&["Desk 24:0", "Desk 28:0"])));
        assert!(watch.seen(names(&["Desk 24:0", "Desk 28:0"])));
        assert!(!watch.seen(Vec::new()));
    }

    #[test]
    fn a_port_of_our_own_is_always_there() {
        let mut watch = PortWatch {
            own: true,
            ..watch("fivefold")
        };
        assert!(watch.is_there());
    }
}
