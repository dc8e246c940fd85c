//! Why a file could not be written.

use std::io;
use std::path::PathBuf;

use crate::diagnostic::Diagnostic;

/// Why a file could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SmfError {
    /// The system reported an error.
    #[error("cannot {action} {path}: {cause}", path = path.display(), cause = said(source))]
    Io {
        /// The operation that failed.
        action: &'static str,
        /// On which file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The piece has no end.
    #[error("an endless piece cannot be written to a file")]
    Endless,
    /// A track is larger than its length field can say.
    #[error("a track of a MIDI file has at most 4294967295 bytes, found {0}")]
    TrackSize(u64),
    /// The system reported an error while writing to something other than a file.
    #[error("cannot write: {0}")]
    Write(#[from] io::Error),
}

/// What the system said, without the number it adds and without the name of a file of ours.
fn said(e: &io::Error) -> String {
    match (e.raw_os_error(), e.kind()) {
        (None, io::ErrorKind::Other) => e.to_string(),
        (None, kind) => kind.to_string(),
        (Some(_), _) => {
            let text = e.to_string();
            text.split(" (os error").next().unwrap_or(&text).to_owned()
        }
    }
}

impl Diagnostic for SmfError {
    fn code(&self) -> &'static str {
        "file"
    }

    fn help(&self) -> String {
        match self {
            SmfError::Endless => "say how many bars of it, or how long".to_owned(),
            SmfError::TrackSize(_) => "write a shorter piece".to_owned(),
            _ => "check that the folder exists and may be written to".to_owned(),
        }
    }
}
