//! The `fivefold` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    fivefold::cli::main()
}
