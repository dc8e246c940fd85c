//! Whether an output port is still there.

/// What a look at the list of ports shows of the one that was opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sighting {
    /// It is there.
    There,
    /// It went and came back as another: what was opened is dead.
    Replaced,
    /// It is not there, or the list could not be read.
    Missing,
}
