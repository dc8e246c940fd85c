//! Where the log lies, and what time it is.

use std::path::PathBuf;

use etcetera::base_strategy::{BaseStrategy, choose_base_strategy};

use super::Moment;
use super::error::LogError;

/// The log where no other is named: `fivefold/log.sqlite` in the platform's folder for the data of programs.
///
/// # Errors
/// When the system names no such folder.
pub fn usual_place() -> Result<PathBuf, LogError> {
    let folders = choose_base_strategy().map_err(|_| LogError::NoPlace)?;
    Ok(folders.data_dir().join("fivefold").join("log.sqlite"))
}

/// The present moment by the clock and the time zone of the system.
#[must_use]
pub fn now() -> Moment {
    let now = jiff::Zoned::now();
    Moment {
        unix_seconds: now.timestamp().as_second(),
        offset_seconds: now.offset().seconds(),
    }
}
