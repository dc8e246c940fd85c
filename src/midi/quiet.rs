//! Silencing the system library.

/// Keeps the system library's own messages off the terminal, on the thread that made it and from then on.
pub(crate) struct Quiet {
    #[cfg(target_os = "linux")]
    _errors: Option<std::rc::Rc<std::cell::RefCell<alsa::Output>>>,
}

impl Quiet {
    /// Silences this thread.
    ///
    /// # Real time
    /// Allocates: on a thread of the audio driver only before the first sound.
    pub(crate) fn new() -> Self {
        Quiet {
            #[cfg(target_os = "linux")]
            _errors: alsa::Output::local_error_handler().ok(),
        }
    }
}
