//! MIDI: files and ports.
//!
//! Nothing here knows of chords or charts; it reads events.

mod ascii;
mod error;
mod file;
mod input;
mod port;
mod programs;
mod smf;
mod watch;
mod wire;

pub use ascii::ascii;
pub use error::SmfError;
pub(crate) use file::{abandon_files, replace_file, spool, target};
pub use input::{Heard, SystemInput, list_inputs, open_input};
#[cfg(test)]
pub(crate) use port::PortId;
pub(crate) use port::Quiet;
pub use port::{
    Direction, ListedPort, OutputPort, PortError, SystemPort, list_outputs, open_output,
};
pub use programs::{FAMILIES, PROGRAMS};
pub use smf::{SmfFormat, Written, write_smf, write_smf_file};
#[cfg(test)]
pub(crate) use watch::Watched;
pub use watch::{PortWatch, Sighting};
pub use wire::{Bytes, RELEASE, System, wire_bytes};
