//! Faults and suspension of the process while it plays.

use std::panic;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use crate::cli::{keys, signals};

/// Time for the silencing messages to leave before the process is stopped: some systems hand messages on in a thread of
/// the process, once a period, and a MIDI cable takes 320 us a byte (IEC 63035).
const LEAVING: Duration = Duration::from_millis(60);

/// Suspends the process as the terminal asked, with the terminal restored; returns when it goes on.
pub(super) fn suspend() {
    std::thread::sleep(LEAVING);
    signals::suspend();
}

/// What a panic sets.
type Hook = Box<dyn Fn(&panic::PanicHookInfo<'_>) + Send + Sync>;

/// As long as this is kept, a panic on any thread stops the piece cleanly, so that nothing is left sounding.
pub(super) struct StopOnPanic {
    before: Arc<Hook>,
}

impl StopOnPanic {
    pub(super) fn new(stop: &Arc<AtomicBool>) -> Self {
        let before: Arc<Hook> = Arc::new(panic::take_hook());
        let (stop, says) = (Arc::clone(stop), Arc::clone(&before));
        panic::set_hook(Box::new(move |info| {
            stop.store(true, Ordering::Release);
            keys::leave();
            says(info);
        }));
        StopOnPanic { before }
    }
}

impl Drop for StopOnPanic {
    fn drop(&mut self) {
        // While a panic is under way the hook cannot be changed.
        if !std::thread::panicking() {
            let before = Arc::clone(&self.before);
            panic::set_hook(Box::new(move |info| before(info)));
        }
    }
}
