//! When the process is told to end: what it knows of that, and cleaning up while it writes.

use std::sync::atomic::{AtomicBool, Ordering};

pub(super) use self::system::leave_nothing;

/// Set by the first signal to end, and never taken back.
static ASKED: AtomicBool = AtomicBool::new(false);

/// A signal has asked the program to end.
pub(super) fn ending_asked() {
    ASKED.store(true, Ordering::Release);
}

/// Whether a signal has asked the program to end.
pub(super) fn is_ending_asked() -> bool {
    ASKED.load(Ordering::Acquire)
}

#[cfg(unix)]
mod system {
    use std::io;

    use crate::cli::progress;
    use crate::midi::abandon_files;

    /// From now on a signal to end takes unfinished files and the bar of progress away first, and then ends the process
    /// as it always does.
    ///
    /// # Errors
    /// When the signals cannot be listened to.
    pub(in crate::cli) fn leave_nothing() -> io::Result<()> {
        use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
        use signal_hook::iterator::Signals;
        use signal_hook::low_level::emulate_default_handler;
        use std::sync::Mutex;

        static LISTENS: Mutex<bool> = Mutex::new(false);
        let mut listens = LISTENS
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        if *listens {
            return Ok(());
        }
        let ignored = ignored();
        let heard = [SIGINT, SIGTERM, SIGHUP];
        let heard = heard.into_iter().filter(|s| ignored >> (s - 1) & 1 == 0);
        let mut signals = Signals::new(heard)?;
        std::thread::Builder::new()
            .name("ending".to_owned())
            .spawn(move || {
                for signal in signals.forever() {
                    let _abandoned = abandon_files();
                    let _cleared = progress::clear();
                    let _ = emulate_default_handler(signal);
                }
            })?;
        *listens = true;
        Ok(())
    }

    /// The signals that the parent process wants ignored, as `nohup` does: a bit each, the lowest for signal 1. Only
    /// Linux tells.
    fn ignored() -> u64 {
        ignored_in(&std::fs::read_to_string("/proc/self/status").unwrap_or_default())
    }

    /// The same as proc_pid_status(5) has it.
    fn ignored_in(status: &str) -> u64 {
        let mask = status.lines().find_map(|l| l.strip_prefix("SigIgn:"));
        mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok())
            .unwrap_or(0)
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        #[test]
        fn ignored_signals_are_read() {
            let status = "Name:\tx\nSigBlk:\tffffffffffffffff\nSigIgn:\t0000000000001001\n";
            assert_eq!(ignored_in(status), 0x1001);
            assert_eq!(ignored_in(""), 0);
            assert_eq!(ignored_in("SigIgn:\tmany"), 0);
        }
    }
}

#[cfg(not(unix))]
mod system {
    use std::io;

    /// Elsewhere a console ends a program without asking it.
    pub(in crate::cli) fn leave_nothing() -> io::Result<()> {
        Ok(())
    }
}
