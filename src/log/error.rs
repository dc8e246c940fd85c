//! Why the log could not be read or written.

use std::io;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use crate::diagnostic::Diagnostic;

/// Why the log could not be read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LogError {
    /// The system names no folder for the data of a program.
    #[error("the system names no folder for the data of a program")]
    NoPlace,
    /// Its folder cannot be made, or its file.
    #[error("the log {path} cannot be made: {source}")]
    Make {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The file is not a log.
    #[error("{path} is not a log of this program")]
    Foreign {
        /// The file, which is left as it is.
        path: PathBuf,
    },
    /// A newer program has written it.
    #[error(
        "the log {path} was written by a newer version: its layout is {found}, known are 1 to {known}"
    )]
    Newer {
        /// The file, which is left as it is.
        path: PathBuf,
        /// The number of its layout.
        found: i64,
        /// The newest layout that is known here.
        known: i64,
    },
    /// The file is damaged.
    #[error("the log {path} is damaged")]
    Damaged {
        /// The file, which is left as it is.
        path: PathBuf,
    },
    /// It cannot be written.
    #[error("the log {path} cannot be written: it is read-only")]
    ReadOnly {
        /// The file of the log.
        path: PathBuf,
    },
    /// There is no room for more.
    #[error("the log {path} cannot be written: the disk is full")]
    Full {
        /// The file of the log.
        path: PathBuf,
    },
    /// Another program has held it for too long.
    #[error("the log {path} is in use by another program")]
    Busy {
        /// The file of the log.
        path: PathBuf,
    },
    /// A file to copy it to exists.
    #[error("{path} exists")]
    Exists {
        /// The file that is there, which is left as it is.
        path: PathBuf,
    },
    /// There is no such take.
    #[error("there is no take {id}")]
    NoTake {
        /// The number that was asked for; takes are counted from 1.
        id: i64,
    },
    /// There is no such player.
    #[error("there is no player {name}")]
    NoPlayer {
        /// The name that was asked for.
        name: String,
    },
    /// Something else that the database reports.
    #[error("the log {path} cannot be used: {source}")]
    Other {
        /// The file of the log.
        path: PathBuf,
        /// What the database said.
        source: rusqlite::Error,
    },
}

impl LogError {
    /// What a failure of the database means.
    pub(super) fn of(source: rusqlite::Error, path: &Path) -> Self {
        let path = path.to_owned();
        match source.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => LogError::Foreign { path },
            Some(ErrorCode::DatabaseCorrupt) => LogError::Damaged { path },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => LogError::ReadOnly { path },
            // A file-size limit is reported as a failed write.
            Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure) => LogError::Full { path },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => LogError::Busy { path },
            Some(ErrorCode::CannotOpen) => LogError::Make {
                path,
                source: io::Error::other("it cannot be opened"),
            },
            _ => LogError::Other { path, source },
        }
    }
}

impl Diagnostic for LogError {
    fn code(&self) -> &'static str {
        match self {
            LogError::NoPlace => "log-place",
            LogError::Make { .. } => "log-make",
            LogError::Foreign { .. } => "log-foreign",
            LogError::Newer { .. } => "log-newer",
            LogError::Damaged { .. } => "log-damaged",
            LogError::ReadOnly { .. } => "log-read-only",
            LogError::Full { .. } => "log-full",
            LogError::Busy { .. } => "log-busy",
            LogError::Exists { .. } => "log-exists",
            LogError::NoTake { .. } => "log-take",
            LogError::NoPlayer { .. } => "log-player",
            LogError::Other { .. } => "log-other",
        }
    }

    fn help(&self) -> String {
        match self {
            LogError::NoPlace => "name a file for it",
            LogError::Make { .. } => "make the folder first, or name another file",
            LogError::Foreign { .. } => "name another file; this one was left as it is",
            LogError::Newer { .. } => "use the newer program; the file was left as it is",
            LogError::Damaged { .. } => {
                "put a copy in its place, or name another file; this one was left as it is"
            }
            LogError::ReadOnly { .. } => "make it writable, or name another file",
            LogError::Full { .. } => "make room on the disk, or name a file on another",
            LogError::Busy { .. } => "close the other program and try again",
            LogError::Exists { .. } => "choose another name",
            LogError::NoTake { .. } => "choose one that is listed",
            LogError::NoPlayer { .. } => "choose one who is listed",
            LogError::Other { .. } => "name another file",
        }
        .to_owned()
    }
}
