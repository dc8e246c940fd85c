//! Panics of the SoundFont library, caught and kept off the terminal.

use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;

thread_local! {
    /// How many guarded calls this thread is in.
    static GUARDED: Cell<u32> = const { Cell::new(0) };
}

/// Put around the panic hook there is, once for the process.
static HOOK: Once = Once::new();

/// Counts a guarded call for as long as it lives.
struct Guarded;

impl Guarded {
    fn enter() -> Self {
        GUARDED.with(|count| count.set(count.get() + 1));
        Guarded
    }
}

impl Drop for Guarded {
    fn drop(&mut self) {
        GUARDED.with(|count| count.set(count.get() - 1));
    }
}

/// Calls `f`; a panic in it ends the call with its message and prints nothing. Panics elsewhere, in this thread or in
/// others, are reported as before.
///
/// What `f` changed may be half changed after a panic: the caller must drop it or reset it.
///
/// # Real time
/// Does not allocate, lock or block, except in the first call of the process and after a panic.
pub(super) fn guarded<T>(f: impl FnOnce() -> T) -> Result<T, String> {
    HOOK.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            // A thread that is shutting down has no count; it is not in a guarded call.
            if GUARDED.try_with(Cell::get).unwrap_or(0) == 0 {
                before(info);
            }
        }));
    });
    let _inside = Guarded::enter();
    panic::catch_unwind(AssertUnwindSafe(f)).map_err(|payload| {
        payload
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| payload.downcast_ref::<&str>().copied())
            .unwrap_or("no message")
            .to_owned()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_ends_the_call_only() {
        let empty: Vec<u8> = Vec::new();
        let at = std::hint::black_box(3);
        let message = guarded(|| empty[at]).unwrap_err();
        assert!(message.contains("index is 3"), "{message}");
        assert_eq!(GUARDED.with(Cell::get), 0);
        assert_eq!(guarded(|| 7), Ok(7));
        assert_eq!(GUARDED.with(Cell::get), 0);
    }
}
