//! What is said while it plays, above a line that may just be typed.

use std::io::Write;
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::view::shown;

/// The line that is open, as it is shown.
static LINE: Mutex<Option<String>> = Mutex::new(None);

/// Back to the beginning of the row, and nothing behind it (ECMA-48, 8.3.41).
const WIPE: &str = "\r\x1B[K";

fn line() -> MutexGuard<'static, Option<String>> {
    LINE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Writes all at once. What nobody can see is no reason to stop.
fn write(text: &str) {
    let mut err = std::io::stderr().lock();
    let _ = err.write_all(text.as_bytes()).and_then(|()| err.flush());
}

/// Says something on the standard error stream, above the line that may be open.
pub(super) fn say(text: &str) {
    let line = line();
    let text = shown(text);
    let text = match line.as_deref() {
        Some(line) => format!("{WIPE}{text}\n> {line}"),
        None => format!("{text}\n"),
    };
    write(&text);
}

/// Shows the line that is being typed.
pub(super) fn show_line(text: String) {
    let mut line = line();
    write(&format!("{WIPE}> {text}"));
    *line = Some(text);
}

/// Shows the line again that is open, after the terminal was somebody else's.
#[cfg_attr(not(unix), allow(dead_code))] // for single keys
pub(super) fn show_again() {
    if let Some(line) = line().as_deref() {
        write(&format!("> {line}"));
    }
}

/// Takes the line away, if one is open.
pub(super) fn close_line() {
    if line().take().is_some() {
        write(WIPE);
    }
}
