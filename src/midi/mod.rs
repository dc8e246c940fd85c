//! MIDI: files and ports.
//!
//! Nothing here knows of chords or charts; it reads events.

mod ascii;
mod click_map;
mod error;
#[cfg(feature = "audio")]
mod file;
mod heard;
#[cfg(feature = "ports")]
mod input;
mod port;
mod programs;
#[cfg(feature = "live")]
mod quiet;
mod sighting;
mod smf;
#[cfg(feature = "ports")]
mod system;
#[cfg(feature = "ports")]
mod watch;
mod wire;

pub use ascii::ascii;
pub use click_map::{ClickMap, MOST_MAP_BYTES, MapBar, MapError, read_click_map};
pub use error::SmfError;
#[cfg(feature = "audio")]
pub(crate) use file::replace_file;
#[cfg(feature = "audio")]
pub(crate) use file::spool;
#[cfg(feature = "cli")]
pub(crate) use file::{abandon_files, target};
pub use heard::Heard;
#[cfg(feature = "ports")]
pub use input::{SystemInput, find_input, list_inputs, open_input};
pub use port::{Direction, ListedPort, OutputPort, PortError};
pub use programs::{FAMILIES, PROGRAMS};
#[cfg(feature = "live")]
pub(crate) use quiet::Quiet;
pub use sighting::Sighting;
#[cfg(feature = "audio")]
pub use smf::write_smf_file;
pub use smf::{SmfFormat, Written, write_smf};
#[cfg(all(test, feature = "ports"))]
pub(crate) use system::PortId;
#[cfg(feature = "ports")]
pub use system::{SystemPort, list_outputs, open_output};
#[cfg(feature = "ports")]
pub use watch::PortWatch;
#[cfg(all(test, feature = "ports"))]
pub(crate) use watch::Watched;
pub use wire::{Bytes, RELEASE, System, wire_bytes};
