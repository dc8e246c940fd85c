//! The `fivefold` program.

use std::process::ExitCode;

/// Reports allocations on timing threads in debug builds. In a release build it is just the system's allocator.
#[cfg(debug_assertions)]
#[global_allocator]
static GUARD: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;

fn main() -> ExitCode {
    fivefold::cli::main()
}
