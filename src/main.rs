//! The `fivefold` program.

use std::process::ExitCode;

/// Says so where memory is taken on a thread that keeps time. In a release build it is the system's allocator and no more.
#[cfg(debug_assertions)]
#[global_allocator]
static GUARD: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;

fn main() -> ExitCode {
    fivefold::cli::main()
}
