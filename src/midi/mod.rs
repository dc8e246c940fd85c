//! MIDI: files and ports.
//!
//! Nothing here knows of chords or charts; it reads events.

mod ascii;
mod port;
mod smf;
mod wire;

pub use ascii::ascii;
pub(crate) use port::Quiet;
pub use port::{ListedPort, OutputPort, PortError, SystemPort, list_outputs, open_output};
pub(crate) use smf::replace_file;
pub use smf::{SmfError, SmfFormat, Written, write_smf, write_smf_file};
pub use wire::{Bytes, RELEASE, System, wire_bytes};
