//! Signals to end and to suspend, and those of the terminal, while it plays or waits for the player.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use super::failure::Failure;
use super::keys;

/// The flags that signals set and read.
#[derive(Clone, Debug, Default)]
pub(super) struct Ending {
    /// The piece is to stop.
    pub(super) stop: Arc<AtomicBool>,
    /// The terminal wants the program suspended.
    pub(super) suspended: Arc<AtomicBool>,
    /// All that sounded has ended.
    pub(super) silenced: Arc<AtomicBool>,
}

/// Set by signals, which come to the process: of several pieces in a row each is ended by it.
static ENDING: OnceLock<Ending> = OnceLock::new();

/// What signals set.
pub(super) fn flags() -> Ending {
    ENDING.get_or_init(Ending::default).clone()
}

/// What signals set, before a piece begins: nothing yet.
pub(super) fn ending() -> Ending {
    let ending = flags();
    for flag in [&ending.stop, &ending.suspended, &ending.silenced] {
        flag.store(false, Ordering::Release);
    }
    ending
}

/// Suspends the process as the terminal asked, with the terminal restored; returns when it goes on.
pub(super) fn suspend() {
    keys::leave();
    #[cfg(unix)]
    let _ = signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP);
    keys::enter();
}

/// Listens to signals from now on.
pub(super) fn listen(ending: &Ending) -> Result<(), Failure> {
    static LISTENING: AtomicBool = AtomicBool::new(false);
    if LISTENING.swap(true, Ordering::AcqRel) {
        return Ok(());
    }
    system::listen(ending)
}

#[cfg(unix)]
mod system {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::time::{Duration, Instant};

    use super::Ending;
    use crate::cli::ending::ending_asked;
    use crate::cli::failure::Failure;
    use crate::cli::{keys, screen};
    use crate::midi::abandon_files;

    /// A second signal within this time belongs to the first: a shell whose terminal is closed sends it twice. After it, and
    /// once all is silenced, a second signal ends the program at once.
    const TOGETHER: Duration = Duration::from_millis(300);

    /// How long after silencing the program may take to report: its output may be blocked.
    const LAST_WORDS: Duration = Duration::from_secs(1);

    /// The exit status of a program that a signal ended by force, as after Ctrl-C.
    const FORCED: i32 = 130;

    /// What a signal to end leads to.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    enum Answer {
        /// Silence what sounds, then end.
        Stop,
        /// It belongs to the one before.
        Nothing,
        /// End at once.
        Force,
    }

    /// What can still be heard.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    enum Heard {
        /// The piece, or its last notes.
        Sound,
        /// Nothing sounds any more.
        Silence,
    }

    /// What a signal leads to: how long ago the first one came, and what is heard.
    fn answer(first: Option<Duration>, heard: Heard) -> Answer {
        match first {
            None => Answer::Stop,
            Some(ago) if heard == Heard::Silence || ago >= TOGETHER => Answer::Force,
            Some(_) => Answer::Nothing,
        }
    }

    fn force() -> ! {
        keys::leave();
        let _abandoned = abandon_files();
        signal_hook::low_level::exit(FORCED)
    }

    /// Ends the program by force once it has been silent for a while and cannot write its report.
    fn watch_the_end(silenced: &AtomicBool) -> ! {
        while !silenced.load(Ordering::Acquire) {
            std::thread::sleep(Duration::from_millis(20));
        }
        std::thread::sleep(LAST_WORDS);
        force()
    }

    /// Sets `stop` on Ctrl-C and on the signals by which a system ends a program, and `suspended` when the terminal wants it
    /// suspended; a second signal to end does so at once, see [`TOGETHER`]. What the terminal shows follows its size, and is
    /// shown again after a stop that no process hears of.
    pub(in crate::cli) fn listen(ending: &Ending) -> Result<(), Failure> {
        use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM, SIGTSTP, SIGWINCH};
        use signal_hook::iterator::Signals;
        let all = [SIGINT, SIGTERM, SIGHUP, SIGTSTP, SIGCONT, SIGWINCH];
        let mut signals = Signals::new(all)?;
        let ending = ending.clone();
        let watch = move || {
            let mut first: Option<Instant> = None;
            for signal in signals.forever() {
                match signal {
                    SIGTSTP => ending.suspended.store(true, Ordering::Release),
                    SIGCONT => keys::again(),
                    SIGWINCH => screen::resized(),
                    _ => {}
                }
                if [SIGTSTP, SIGCONT, SIGWINCH].contains(&signal) {
                    continue;
                }
                let ago = first.map(|first| first.elapsed());
                let heard = match ending.silenced.load(Ordering::Acquire) {
                    true => Heard::Silence,
                    false => Heard::Sound,
                };
                match answer(ago, heard) {
                    Answer::Stop => {
                        first = Some(Instant::now());
                        ending_asked();
                        ending.stop.store(true, Ordering::Release);
                        let silenced = Arc::clone(&ending.silenced);
                        let _ = std::thread::Builder::new()
                            .name("end".to_owned())
                            .spawn(move || watch_the_end(&silenced));
                    }
                    Answer::Nothing => {}
                    Answer::Force => force(),
                }
            }
        };
        std::thread::Builder::new()
            .name("signals".to_owned())
            .spawn(watch)?;
        Ok(())
    }

    #[cfg(test)]
    mod tests {
        use super::*;

        #[test]
        fn a_second_signal_is_part_of_the_first_until_all_is_silent_or_time_is_up() {
            let ms = Duration::from_millis;
            assert_eq!(answer(None, Heard::Sound), Answer::Stop);
            // The piece had ended by itself: the program may hang writing its report.
            assert_eq!(answer(None, Heard::Silence), Answer::Stop);
            assert_eq!(answer(Some(ms(0)), Heard::Sound), Answer::Nothing);
            assert_eq!(answer(Some(ms(299)), Heard::Sound), Answer::Nothing);
            assert_eq!(answer(Some(ms(300)), Heard::Sound), Answer::Force);
            assert_eq!(answer(Some(ms(0)), Heard::Silence), Answer::Force);
        }
    }
}

#[cfg(not(unix))]
mod system {
    use std::sync::Arc;

    use super::Ending;
    use crate::cli::failure::Failure;

    /// Sets `stop` on Ctrl-C and when the system ends the program; a second one ends at once.
    pub(in crate::cli) fn listen(ending: &Ending) -> Result<(), Failure> {
        let stop = &ending.stop;
        use signal_hook::consts::{SIGINT, SIGTERM};
        for signal in [SIGINT, SIGTERM] {
            signal_hook::flag::register_conditional_shutdown(signal, 130, Arc::clone(stop))?;
            signal_hook::flag::register(signal, Arc::clone(stop))?;
        }
        Ok(())
    }
}
